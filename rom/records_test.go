package rom

import (
	"bytes"
	"encoding/hex"
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// The example of appendix C of Motorola's M68000 Family Programmer's
// Reference Manual, from memory; each line carries its own checksum.
const motorolaExample = `S00600004844521B
S1130000285F245F2212226A000424290008237C2A
S11300100002000800082629001853812341001813
S113002041E900084E42234300182342000824A952
S107003000144ED492
S9030000FC
`

// The example that descriptions of Intel HEX print most often, from memory;
// each line carries its own checksum. Intel's own text (1988) prints only the
// end record.
const intelExample = `:10010000214601360121470136007EFE09D2190140
:100110002146017E17C20001FF5F16002148011928
:10012000194E79234623965778239EDA3F01B2CAA7
:100130003F0156702B5E712B722B732146013421C7
:00000001FF
`

func mustHex(t require.TestingT, s string) []byte {
	b, err := hex.DecodeString(strings.ReplaceAll(s, " ", ""))
	require.NoError(t, err)
	return b
}

func TestPublishedExamples(t *testing.T) {
	c, err := ReadSRecords("m.s19", []byte(motorolaExample))
	require.NoError(t, err)
	require.Len(t, c.Pieces, 1)
	assert.Equal(t, Range{0, 0x33}, c.Pieces[0].Range())
	assert.Equal(t, mustHex(t, "28 5F 24 5F 22 12"), c.Pieces[0].Data[:6])
	assert.Equal(t, mustHex(t, "00 14 4E D4"), c.Pieces[0].Data[0x30:])
	assert.Equal(t, -1, c.Entry)

	im, err := c.Image(0x40, 0, 0xFF)
	require.NoError(t, err)
	var out bytes.Buffer
	require.NoError(t, WriteSRecords(&out, im, CPUAddresses))
	// Ours has an empty header and counts the records: 05H+00H+04H+03H... by
	// hand: S5 03 0004, FFH-(03H+00H+04H) = F8H.
	want := strings.Replace(motorolaExample, "S00600004844521B", "S0030000FC", 1)
	want = strings.Replace(want, "S9030000FC", "S5030004F8\nS9030000FC", 1)
	assert.Equal(t, want, out.String())

	c, err = ReadHex("i.hex", []byte(intelExample))
	require.NoError(t, err)
	require.Len(t, c.Pieces, 1)
	assert.Equal(t, Range{0x100, 0x13F}, c.Pieces[0].Range())
	assert.Equal(t, mustHex(t, "21 46 01 36 01 21"), c.Pieces[0].Data[:6])
	im, err = c.Image(0x100, 0x100, 0xFF)
	require.NoError(t, err)
	out.Reset()
	require.NoError(t, WriteHex(&out, im, CPUAddresses))
	assert.Equal(t, intelExample, out.String())
}

// Record types 02 to 05, as descriptions of Intel HEX print them (from
// memory); each line carries its own checksum.
func TestHexExtendedRecords(t *testing.T) {
	for _, c := range []struct {
		text  string
		addr  int
		entry int
	}{
		{":020000021200EA\n:0100000055AA\n:00000001FF\n", 0x12000, -1},
		{":020000040012E8\n:0100000055AA\n:00000001FF\n", 0x120000, -1},
		{":0100100055 9A\n:0400000300003800C1\n:00000001FF\n", 0x10, 0x3800},
		{":01001000559A\n:04000005000000CD2A\n:00000001FF\n", 0x10, 0xCD},
		{":01001000559A\n:00123401B9\n", 0x10, 0x1234},
		{"\n:01001000559A\r\n\r\n:00000001FF\r\n\x1A garbage", 0x10, -1},
		{":01001000559a\n:00000001ff", 0x10, -1},
	} {
		got, err := ReadHex("x.hex", []byte(strings.ReplaceAll(c.text, " ", "")))
		require.NoError(t, err, c.text)
		require.Len(t, got.Pieces, 1, c.text)
		assert.Equal(t, Piece{c.addr, []byte{0x55}}, got.Pieces[0], c.text)
		assert.Equal(t, c.entry, got.Entry, c.text)
	}
}

// Each line: the file (records parted by blanks), line, column, what the
// message must say.
func TestBrokenRecords(t *testing.T) {
	hexCases := []struct {
		text         string
		line, column int
		say          string
	}{
		{"", 1, 1, "end record is missing"},
		{":0100100055 9A", 1, 1, ""}, // a blank splits it: both halves fail
		{":01001000559A", 2, 1, "end record is missing"},
		{":01001000559B :00000001FF", 1, 12, "expected 9AH, found 9BH"},
		{":0100100056 :00000001FF", 1, 2, "says 1 data bytes and has 0"},
		{":02001000559A :00000001FF", 1, 2, "says 2 data bytes and has 1"},
		{":0100100055G9 :00000001FF", 1, 12, "'G'"},
		{":01001000559 :00000001FF", 1, 12, "odd number"},
		{"01001000559A :00000001FF", 1, 1, "begins with ':'"},
		{"; :00000001FF", 1, 1, "begins with ':'"},
		{":000000 :00000001FF", 1, 1, "cut off"},
		{":00000001FF :00000001FF", 2, 1, "after the end record"},
		{":00000006FA :00000001FF", 1, 8, "type 06H is unknown"},
		{":0100000155A9", 1, 2, "has 0 data bytes, not 1"},
		{":0100000200FD :00000001FF", 1, 2, "has 2 data bytes, not 1"},
		{":020001020000FB :00000001FF", 1, 4, "has address 0000, not 0001"},
		{":02FFFF000102FD :00000001FF", 1, 4, "past the end"},
		{":020000021000EC :02FFFF000102FD :00000001FF", 2, 4, "past the end"},
		{":0200000402 00F8 :00000001FF", 1, 2, ""},
		{":020000040200F8 :0100000055AA :00000001FF", 2, 2, "too high"},
		{":01001000559A :010010005699 :00000001FF", 2, 10, "address 0010H was given before"},
	}
	for _, c := range hexCases {
		_, err := ReadHex("x.hex", []byte(strings.ReplaceAll(c.text, " ", "\n")))
		checkBroken(t, err, "x.hex", c.text, c.line, c.column, c.say)
	}
	sCases := []struct {
		text         string
		line, column int
		say          string
	}{
		{"", 1, 1, "end record is missing"},
		{"S107003000144ED492", 2, 1, "end record is missing"},
		{"S107003000144ED493 S9030000FC", 1, 17, "expected 92H, found 93H"},
		{"S108003000144ED492 S9030000FC", 1, 3, "says 8 bytes and has 7"},
		{"S10700300014 S9030000FC", 1, 3, "says 7 bytes and has 4"},
		{"S4030000FC S9030000FC", 1, 2, "type S4 is unknown"},
		{"T1030000FC", 1, 1, "begins with 'S'"},
		{"S", 1, 1, "begins with 'S'"},
		{"S1", 1, 1, "cut off"},
		{"S10300x0FC", 1, 7, "'x'"},
		{"S104000055A6 S5030002FA S9030000FC", 2, 5, "counts 2 data records and has 1"},
		{"S904000000FB", 1, 3, "has no data"},
		{"S9030000FC S9030000FC", 2, 1, "after the end record"},
		{"S306020000005 5A2 S9030000FC", 1, 1, ""},
		{"S3060200000055A2 S9030000FC", 1, 3, "too high"},
		{"S104000055A6 S104000056A5 S9030000FC", 2, 9, "given before"},
	}
	for _, c := range sCases {
		_, err := ReadSRecords("x.s19", []byte(strings.ReplaceAll(c.text, " ", "\n")))
		checkBroken(t, err, "x.s19", c.text, c.line, c.column, c.say)
	}
	long := ":" + strings.Repeat("00", 1000000)
	_, err := ReadHex("x.hex", []byte(long))
	require.ErrorContains(t, err, "too long")
}

func checkBroken(t *testing.T, err error, file, text string, line, column int, say string) {
	t.Helper()
	require.Error(t, err, text)
	var e *Error
	require.True(t, errors.As(err, &e), text)
	if say == "" {
		return
	}
	assert.Contains(t, err.Error(), say, text)
	assert.Equal(t, fmt.Sprintf("%s:%d:%d", file, line, column), e.Diag.Range.String(), text)
}

// The start address stands in the end record.
func TestEntryInEndRecord(t *testing.T) {
	im, err := NewImage(0x2000, 0x4000, 0xFF, 1)
	require.NoError(t, err)
	im.PutBytes(0x4100, []byte{0xC3, 0x00, 0x41})
	im.Entry = 0x4100
	var out bytes.Buffer
	require.NoError(t, WriteHex(&out, im, CPUAddresses))
	// Sums by hand: 03+41+00+00+C3+00+41 = 148H; 41+00+01 = 42H.
	assert.Equal(t, ":03410000C30041B8\n:00410001BE\n", out.String())
	out.Reset()
	require.NoError(t, WriteHex(&out, im, ChipAddresses))
	// 03+01+00+00+C3+00+41 = 108H; 01+00+01 = 02H.
	assert.Equal(t, ":03010000C30041F8\n:00010001FE\n", out.String())
	out.Reset()
	require.NoError(t, WriteSRecords(&out, im, CPUAddresses))
	// 06+41+00+C3+00+41 = 14BH; 03+00+01 = 04H; 03+41+00 = 44H.
	assert.Equal(t, "S0030000FC\nS1064100C30041B4\nS5030001FB\nS9034100BB\n", out.String())
}

// What is written is read back, whatever the addresses need.
func TestRecordsRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := rapid.SampledFrom([]int{0, 1, 0x8000, 0xFFF0, 0xFFFFF0, MaxCapacity}).Draw(t, "at")
		capacity := rapid.SampledFrom([]int{1, 40, 0x20000, 0x110000}).Draw(t, "capacity")
		im, err := NewImage(capacity, at, 0xFF, 1)
		require.NoError(t, err)
		for range rapid.IntRange(0, 4).Draw(t, "runs") {
			first := rapid.IntRange(0, capacity-1).Draw(t, "first")
			im.PutBytes(at+first, rapid.SliceOfN(rapid.Byte(), 0, min(100, capacity-first)).Draw(t, "run"))
		}
		if rapid.Bool().Draw(t, "entry") {
			im.Entry = at + rapid.IntRange(0, capacity-1).Draw(t, "entry address")
		}
		addressing := rapid.SampledFrom([]Addressing{CPUAddresses, ChipAddresses}).Draw(t, "addressing")
		base := 0
		if addressing == ChipAddresses {
			base = at
		}
		for _, f := range []struct {
			write func(*bytes.Buffer) error
			read  func(string, []byte) (*Contents, error)
		}{
			{func(b *bytes.Buffer) error { return WriteHex(b, im, addressing) }, ReadHex},
			{func(b *bytes.Buffer) error { return WriteSRecords(b, im, addressing) }, ReadSRecords},
		} {
			var out bytes.Buffer
			require.NoError(t, f.write(&out))
			got, err := f.read("x", out.Bytes())
			require.NoError(t, err)
			back, err := got.Image(capacity, at-base, 0xFF)
			require.NoError(t, err)
			require.Equal(t, im.Data, back.Data)
			require.Equal(t, im.Used(), back.Used())
			entry := im.Entry - base
			if im.Entry < 0 || entry == 0 { // 0 also stands for none
				entry = -1
			}
			require.Equal(t, entry, got.Entry)
			// Any one wrong character is found: each checksum covers its whole
			// line, but for the digit that tells an S-record's type.
			if out.Len() < 4000 {
				i := rapid.IntRange(0, out.Len()-1).Draw(t, "spoilt")
				spoilt := bytes.Clone(out.Bytes())
				if spoilt[i] != '\n' && (i == 0 || spoilt[i-1] != 'S') {
					spoilt[i] ^= 1
					_, err = f.read("x", spoilt)
					require.Error(t, err, "%s", spoilt)
				}
			}
		}
	})
}

func TestContentsImageOutside(t *testing.T) {
	c := &Contents{Pieces: []Piece{{0x0FE, []byte{1, 2, 3}}}}
	for _, x := range []struct {
		capacity, at int
		say          string
	}{{256, 0, "0100H"}, {256, 0x100, "00FEH"}, {10, 0, "00FEH"}} {
		_, err := c.Image(x.capacity, x.at, 0xFF)
		assert.ErrorContains(t, err, "address "+x.say+" lies outside")
	}
	_, err := c.Image(257, 0, 0xFF)
	assert.NoError(t, err)
}

func FuzzReadHex(f *testing.F) {
	f.Add([]byte(intelExample))
	f.Add([]byte(":020000021200EA\n:0100000055AA\n:00000001FF\n"))
	f.Add([]byte(":020000040012E8\n:0100000055AA\n:04000005000000CD2A\n:00000001FF\n"))
	f.Fuzz(func(t *testing.T, data []byte) { fuzzRecords(t, ReadHex, writeHexTo, data) })
}

func FuzzReadSRecords(f *testing.F) {
	f.Add([]byte(motorolaExample))
	f.Add([]byte("S3060200000055A2\nS9030000FC"))
	f.Fuzz(func(t *testing.T, data []byte) { fuzzRecords(t, ReadSRecords, writeSRecordsTo, data) })
}

// writeHexTo and writeSRecordsTo have one type for the fuzz targets.
func writeHexTo(b *bytes.Buffer, im *Image) error      { return WriteHex(b, im, CPUAddresses) }
func writeSRecordsTo(b *bytes.Buffer, im *Image) error { return WriteSRecords(b, im, CPUAddresses) }

func fuzzRecords(t *testing.T, read func(string, []byte) (*Contents, error), write func(*bytes.Buffer, *Image) error, data []byte) {
	c, err := read("fuzz", data)
	if err != nil {
		var e *Error
		require.True(t, errors.As(err, &e))
		require.GreaterOrEqual(t, e.Diag.Range.Line, 1)
		return
	}
	require.LessOrEqual(t, c.Len(), len(data))
	r, ok := c.Span()
	if !ok || r.Len() > MaxCapacity || r.First > MaxCapacity {
		return
	}
	im, err := c.Image(r.Len(), r.First, 0xFF)
	require.NoError(t, err)
	require.Equal(t, c.Len(), im.Used())
	im.Entry = -1
	var out bytes.Buffer
	require.NoError(t, write(&out, im))
	again, err := read("again", out.Bytes())
	require.NoError(t, err)
	require.Equal(t, c.Pieces, again.Pieces)
}

func BenchmarkReadHex64K(b *testing.B) {
	im, err := NewImage(65536, 0, 0xFF, 1)
	require.NoError(b, err)
	for i := range 65536 {
		im.Put(i, byte(i*7))
	}
	var out bytes.Buffer
	require.NoError(b, WriteHex(&out, im, CPUAddresses))
	b.SetBytes(int64(out.Len()))
	b.ReportAllocs()
	for range b.N {
		if _, err := ReadHex("x", out.Bytes()); err != nil {
			b.Fatal(err)
		}
	}
}
