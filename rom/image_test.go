package rom

import (
	"bytes"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// The check value of CRC-32/ISO-HDLC stands in the catalogue of parametrised
// CRC algorithms: the CRC of the nine characters 123456789 is CBF43926H.
func TestCRC32CheckValue(t *testing.T) {
	im, err := NewImage(9, 0, 0xFF, 1)
	require.NoError(t, err)
	im.PutBytes(0, []byte("123456789"))
	assert.Equal(t, uint32(0xCBF43926), im.CRC32())
	assert.Equal(t, uint16(0x01DD), im.Sum16()) // 31H+32H+…+39H, by hand
	three, err := NewImage(3, 0, 0xFF, 3)
	require.NoError(t, err)
	three.PutBytes(0, []byte("123"))
	whole, err := FromBytes([]byte("123123123"), 0, 0xFF)
	require.NoError(t, err)
	assert.Equal(t, whole.CRC32(), three.CRC32())
	assert.Equal(t, whole.Sum16(), three.Sum16())
	var b bytes.Buffer
	n, err := three.WriteTo(&b)
	require.NoError(t, err)
	assert.Equal(t, int64(9), n)
	assert.Equal(t, "123123123", b.String())
	assert.Equal(t, 9, three.FileSize())
}

func TestNewImageLimits(t *testing.T) {
	for _, c := range []struct{ capacity, at, copies int }{
		{0, 0, 1}, {-1, 0, 1}, {MaxCapacity + 1, 0, 1}, {1, -1, 1}, {1, MaxCapacity + 1, 1}, {1, 0, 0}, {MaxCapacity, 0, 2},
	} {
		_, err := NewImage(c.capacity, c.at, 0xFF, c.copies)
		assert.Error(t, err, "%+v", c)
	}
	_, err := FromBytes(nil, 0, 0xFF)
	assert.Error(t, err)
	im, err := NewImage(MaxCapacity, 0, 0xE5, 1)
	require.NoError(t, err)
	assert.Equal(t, bytes.Repeat([]byte{0xE5}, MaxCapacity), im.Data)
	assert.Equal(t, 0, im.Used())
	assert.Empty(t, im.UsedRanges())
	assert.Equal(t, -1, im.Entry)
}

// What was put is what is marked, whichever way it was put: a map is the
// model.
func TestImageAgainstModel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		capacity := rapid.IntRange(1, 400).Draw(t, "capacity")
		at := rapid.IntRange(0, 70000).Draw(t, "at")
		im, err := NewImage(capacity, at, 0xFF, 1)
		require.NoError(t, err)
		model := map[int]byte{}
		for range rapid.IntRange(0, 8).Draw(t, "runs") {
			first := rapid.IntRange(0, capacity-1).Draw(t, "first")
			run := rapid.SliceOfN(rapid.Byte(), 0, capacity-first).Draw(t, "run")
			if rapid.Bool().Draw(t, "single") {
				for i, b := range run {
					im.Put(at+first+i, b)
				}
			} else {
				im.PutBytes(at+first, run)
			}
			for i, b := range run {
				model[at+first+i] = b
			}
		}
		var ranges []Range
		for a := at - 1; a <= at+capacity; a++ {
			b, ok := model[a]
			require.Equal(t, ok, im.UsedAt(a), "address %d", a)
			if a >= at && a < at+capacity {
				if !ok {
					b = 0xFF
				}
				require.Equal(t, b, im.Data[a-at])
			}
			if ok {
				if n := len(ranges); n > 0 && ranges[n-1].Last == a-1 {
					ranges[n-1].Last = a
				} else {
					ranges = append(ranges, Range{a, a})
				}
			}
		}
		require.Equal(t, ranges, im.UsedRanges())
		require.Equal(t, len(model), im.Used())
	})
}

func TestFromBytesMarksWhatIsNotBlank(t *testing.T) {
	im, err := FromBytes([]byte{0xFF, 1, 2, 0xFF, 0xFF, 3}, 0x100, 0xFF)
	require.NoError(t, err)
	assert.Equal(t, []Range{{0x101, 0x102}, {0x105, 0x105}}, im.UsedRanges())
	assert.Equal(t, 3, im.Used())
}

func TestSourceMap(t *testing.T) {
	var m SourceMap
	_, ok := m.Lookup(0)
	assert.False(t, ok)
	a := Source{File: "a.asm", Line: "1", Text: " LD A,1"}
	b := Source{File: "a.asm", Line: "2", Text: " RET", Label: "back"}
	c := Source{File: "b.asm", Line: "7.2", Text: " DEFB 1,2,3"}
	m.Add(0x100, 0x101, a)
	m.Add(0x102, 0x102, b)
	m.Add(0x10, 0x11, c) // ORG down
	m.Add(0x12, 0x12, c) // grows the entry
	m.Add(0x20, 0x1F, c) // empty
	for addr, want := range map[int]Source{0x100: a, 0x101: a, 0x102: b, 0x10: c, 0x12: c} {
		got, ok := m.Lookup(addr)
		assert.True(t, ok, "%X", addr)
		assert.Equal(t, want, got, "%X", addr)
	}
	for _, addr := range []int{-1, 0, 0x0F, 0x13, 0xFF, 0x103} {
		_, ok := m.Lookup(addr)
		assert.False(t, ok, "%X", addr)
	}
	assert.Equal(t, 3, m.Len())
	var seen []string
	m.Each(func(r Range, s Source) { seen = append(seen, r.String()+" "+s.Line) })
	assert.Equal(t, []string{"0010H-0012H 7.2", "0100H-0101H 1", "0102H 2"}, seen)
}

func BenchmarkPut(b *testing.B) {
	im, err := NewImage(65536, 0, 0xFF, 1)
	require.NoError(b, err)
	for i := range b.N {
		im.Put(i&0xFFFF, byte(i))
	}
}

func BenchmarkNewImage(b *testing.B) {
	for _, n := range []int{8192, 65536, MaxCapacity} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			for range b.N {
				if _, err := NewImage(n, 0, 0xFF, 1); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
