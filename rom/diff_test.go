package rom

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Worked by hand: pages of 64 bytes from 1000H on, so 103FH and 1040H lie in
// the first and second page, 1100H in the fifth, and the run 11BEH-1202H in
// the seventh (to 11BFH), the eighth (11C0H-11FFH) and the ninth.
func TestDiffByHand(t *testing.T) {
	a, err := NewImage(0x400, 0x1000, 0xFF, 1)
	require.NoError(t, err)
	b, err := NewImage(0x400, 0x1000, 0xFF, 1)
	require.NoError(t, err)
	for _, addr := range []int{0x103F, 0x1040, 0x1100} {
		b.Put(addr, 0)
	}
	for addr := 0x11BE; addr <= 0x1202; addr++ {
		b.Put(addr, 1)
	}
	c := Diff(a, b, 64)
	assert.Equal(t, Change{
		Ranges: []Range{{0x103F, 0x1040}, {0x1100, 0x1100}, {0x11BE, 0x1202}},
		Bytes:  2 + 1 + 0x45, Pages: 2 + 1 + 3, PageSize: 64, Growth: 3 + 0x45,
	}, c)
	assert.Equal(t, [2]string{"103F", "1040"}, c.Ranges[0].Hex())
	assert.Equal(t, 1, Diff(a, b, 4096).Pages)
	assert.Equal(t, c.Bytes, Diff(a, b, 1).Pages)
	assert.True(t, Diff(a, a, 64).Same)
}

// Against a model that looks at each address by itself; what is reported,
// applied to the old image, gives the new one.
func TestDiffAgainstModel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := func(name string) *Image {
			capacity := rapid.SampledFrom([]int{1, 64, 700, 1024}).Draw(t, name+" capacity")
			at := rapid.SampledFrom([]int{0, 10, 0x200, 0x1000}).Draw(t, name+" at")
			im, err := NewImage(capacity, at, rapid.SampledFrom([]byte{0xFF, 0}).Draw(t, name+" blank"), 1)
			require.NoError(t, err)
			for range rapid.IntRange(0, 3).Draw(t, name+" runs") {
				first := rapid.IntRange(0, capacity-1).Draw(t, "first")
				im.PutBytes(at+first, rapid.SliceOfN(rapid.SampledFrom([]byte{0, 1, 0xFF}), 0, min(300, capacity-first)).Draw(t, "run"))
			}
			return im
		}
		a, b := draw("old"), draw("new")
		page := rapid.SampledFrom([]int{1, 7, 64, 4096}).Draw(t, "page")
		c := Diff(a, b, page)
		cell := func(im *Image, addr int) byte {
			if im.Contains(addr) {
				return im.Data[addr-im.At]
			}
			return im.Blank
		}
		in := map[int]bool{}
		last := -2
		for _, r := range c.Ranges {
			require.Greater(t, r.First, last+1, "runs are rising and apart")
			for addr := r.First; addr <= r.Last; addr++ {
				in[addr] = true
			}
			last = r.Last
		}
		bytes, pages := 0, map[int]bool{}
		for addr := range 0x1500 {
			if !a.Contains(addr) && !b.Contains(addr) {
				require.False(t, in[addr])
				continue
			}
			differ := cell(a, addr) != cell(b, addr)
			require.Equal(t, differ, in[addr], "%X", addr)
			if differ {
				bytes++
				if b.Contains(addr) {
					pages[(addr-b.At)/page] = true
				}
			}
		}
		require.Equal(t, bytes, c.Bytes)
		require.Equal(t, len(pages), c.Pages)
	})
}
