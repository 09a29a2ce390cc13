package rom

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// program is 48 bytes that the captures below show, from 0000H on.
const program = "3E 90 D3 23 31 00 40 CD 10 00 C3 07 00 FF FF FF " +
	"21 18 00 7E B7 C8 D3 20 48 45 4C 4C 4F 20 41 42 " +
	"23 18 F6 00 DE AD BE EF CA FE 12 34 56 78 9A BC"

// A capture is what a terminal logged. The want column is address and bytes
// of each piece, "@" being the program's bytes from the piece's address to
// the end address behind the comma.
type capture struct {
	name     string
	text     string
	want     string
	ignored  []int // lines that must be named as not understood
	conflict int
	repeated int
}

// Captures written by hand: common practice, no source.
var captures = []capture{
	{name: "prompt, echo, sixteen with a middle gap and text",
		text: "READY\r\n> dump 0 2f\r\n" +
			"0000: 3E 90 D3 23 31 00 40 CD  10 00 C3 07 00 FF FF FF  |>..#1.@.........|\r\n" +
			"0010: 21 18 00 7E B7 C8 D3 20  48 45 4C 4C 4F 20 41 42  |!..~... HELLO AB|\r\n" +
			"0020: 23 18 F6 00 DE AD BE EF  CA FE 12 34 56 78 9A BC  |#..........4Vx..|\r\n" +
			"> ",
		want: "0000@0030", ignored: []int{1, 2, 6}},
	{name: "eight a line, no colon, no text, LF",
		text: "0000  3E 90 D3 23 31 00 40 CD\n0008  10 00 C3 07 00 FF FF FF\n0010  21 18 00 7E B7 C8 D3 20\n" +
			"0018  48 45 4C 4C 4F 20 41 42\n0020  23 18 F6 00 DE AD BE EF\n0028  CA FE 12 34 56 78 9A BC\n",
		want: "0000@0030"},
	{name: "thirty-two a line in lower case, eight-digit addresses",
		text: "00000000: 3e 90 d3 23 31 00 40 cd 10 00 c3 07 00 ff ff ff 21 18 00 7e b7 c8 d3 20 48 45 4c 4c 4f 20 41 42\n" +
			"00000020: 23 18 f6 00 de ad be ef ca fe 12 34 56 78 9a bc\n",
		want: "0000@0030"},
	{name: "grouped pairs and text that looks like bytes",
		text: "0000: 3E90 D323 3100 40CD 1000 C307 00FF FFFF  ABCD EF01\n" +
			"0010: 2118 007E B7C8 D320 4845 4C4C 4F20 4142  12 34 56 78\n" +
			"0020: 2318 F600 DEAD BEEF CAFE 1234 5678 9ABC  DEADBEEFCAFE\n",
		want: "0000@0030"},
	{name: "0x addresses and bytes, commas",
		text: "0x0000: 0x3E, 0x90, 0xD3, 0x23, 0x31, 0x00, 0x40, 0xCD,\n" +
			"0x0008: 0x10, 0x00, 0xC3, 0x07, 0x00, 0xFF, 0xFF, 0xFF,\n",
		want: "0000@0010"},
	{name: "addresses with H, hyphen in the middle",
		text: "MON>D 0,1F\r\n0000H 3E 90 D3 23 31 00 40 CD-10 00 C3 07 00 FF FF FF >..#1.@.........\r\n" +
			"0010H 21 18 00 7E B7 C8 D3 20-48 45 4C 4C 4F 20 41 42 !..~... HELLO AB\r\nMON>\r\n",
		want: "0000@0020", ignored: []int{1, 4}},
	{name: "escape sequences and colours",
		text: "\x1b[2J\x1b[1;1H\x1b]0;monitor\x07\x1b[32m0000\x1b[0m: \x1b[1m3E 90 D3 23\x1b[0m 31 00 40 CD\r\n" +
			"\x1b[32m0008\x1b[0m:\x1b[C10 00 C3 07\x1b[0m 00 FF FF FF\x1b[K\r\n\x1b(Bready\x1b[?25h\r\n",
		want: "0000@0010", ignored: []int{3}},
	{name: "backspaces: a typing mistake and a turning bar",
		text: "> dupm\b\bmp 0\r\n-\b\\\b|\b/\b0000: 3E 90 D3 23 31 00 41\b0 CD\r\n0008: 10 00 C3 07 00 FF FF FF\r\n",
		want: "0000@0010", ignored: []int{1}},
	{name: "a star for repeated lines, ended by an address",
		text: "000000 ff ff ff ff ff ff ff ff  ff ff ff ff ff ff ff ff\n*\n000040 3e 90 d3 23 31 00 40 cd  10 00 c3 07 00 ff ff ff\n" +
			"000050 00 00 00 00 00 00 00 00  00 00 00 00 00 00 00 00\n*\n000080\n",
		want: "0000=" + strings.Repeat("FF", 64) + "3E90D323310040CD1000C30700FFFFFF" + strings.Repeat("00", 48)},
	{name: "a star that nothing ends",
		text: "0000: FF FF FF FF FF FF FF FF\n*\n> ", want: "0000=FFFFFFFFFFFFFFFF", ignored: []int{2, 3}},
	{name: "missing lines, a repeated line, a line cut off",
		text: "0000: 3E 90 D3 23 31 00 40 CD\n0008: 10 00 C3 07 00 FF FF FF\n0008: 10 00 C3 07 00 FF FF FF\n" +
			"0018: 48 45 4C 4C 4F 20 41 42\n0020: 23 18 F6 00 DE AD BE EF\n0028: CA FE 1",
		want: "0000@0010 0018@002A", repeated: 1},
	{name: "the second pass differs",
		text: "0000: 3E 90 D3 23 31 00 40 CD\n0008: 10 00 C3 07 00 FF FF FF\n" +
			"0000: 3E 91 D3 23 31 00 40 CD\n0008: 10 00 C3 07 00 FF FF FF\n",
		want: "0000=3E91D323310040CD1000C30700FFFFFF", conflict: 1, repeated: 1},
	{name: "noise: a byte, an address and a line were hit",
		text: "0000: 3E 90 D3 23 31 00 40 CD  >..#1.@.\n0008: 10 00 C3 0\xf7 00 FF FF FF  ........\n0510: 21 18 00 7E B7 C8 D3 20  !..~... \n" +
			"0018: 48 45 4C 4C 4F 20 41 42  HELLO AB\n0020: 23 18 F6 00 00 DE AD BE EF  #.......\n0028: CA FE 34 56 78 9A BC  ...4Vx..\n0030: 00 00 00 00 00 00 00 00  ........\n",
		want: "0000@000B 000C@0010 0018@0020 0030=0000000000000000", ignored: []int{3, 5, 6}},
	{name: "first line begins in the middle, prompt before it",
		text: "]0005: 00 40 CD\n0008: 10 00 C3 07 00 FF FF FF\n0010: 21 18 00 7E B7 C8 D3 20\n",
		want: "0008@0018", ignored: []int{1}},
	{name: "blanks that do not fit the columns",
		text: "0000:                31 00 40 CD\n0008: 10 00 C3 07 00 FF FF FF\n",
		want: "0008@0010", ignored: []int{1}}, // one column too far: a byte would lie beyond the line
	{name: "blanks for what lies before the first byte wanted",
		text: "0000:             31 00 40 CD  1.@.\n0008: 10 00 C3 07 00 FF FF FF  ........\n0010: 21 18 00 7E B7 C8 D3 20  !..~... \n",
		want: "0004@0018"},
	{name: "bytes not read",
		text: "0000: 3E 90 ?? 23 31 00 40 CD\n0008: 10 00 C3 07 00 -- -- FF\n", want: "0000@0002 0003@000D 000F@0010"},
	{name: "a time before each line",
		text: "[09:12:44.120] 0000: 3E 90 D3 23 31 00 40 CD\n[09:12:44.131] 0008: 10 00 C3 07 00 FF FF FF\n[09:12:44.140] done\n",
		want: "0000@0010", ignored: []int{3}},
	{name: "prompt in the first line, addresses that grow",
		text: "* FFE0: 3E 90 D3 23 31 00 40 CD\nFFE8: 10 00 C3 07 00 FF FF FF\nFFF0: 21 18 00 7E B7 C8 D3 20\nFFF8: 48 45 4C 4C 4F 20 41 42\n" +
			"10000: 23 18 F6 00 DE AD BE EF\n10008: CA FE 12 34 56 78 9A BC\n",
		want: "FFE0=" + strings.ReplaceAll(program, " ", "")},
	{name: "the echoed command and the first line run together",
		text: "mon> d 0000 0000: 3E 90 D3 23 31 00 40 CD\r\n0008: 10 00 C3 07 00 FF FF FF\r\n0010: 21 18 00 7E B7 C8 D3 20\r\nmon> d 0000 00FF\r\n",
		want: "0000@0018", ignored: []int{4}},
	{name: "one unbroken row of digits, CR only",
		text: "0000:3E90D323310040CD1000C30700FFFFFF\r0010:2118007EB7C8D32048454C4C4F204142\r0020:2318F600DEADBEEFCAFE123456789ABC\r",
		want: "0000@0030"},
	{name: "LF CR, tabs, an echoed range that looks like a line",
		text: "0000 002F\n\r0000\t3E 90 D3 23 31 00 40 CD\n\r0008\t10 00 C3 07 00 FF FF FF\n\r0010\t21 18 00 7E B7 C8 D3 20\n\r",
		want: "0000@0018", ignored: []int{1}},
	{name: "a part of the chip",
		text: "1F00: 3E 90 D3 23 31 00 40 CD\n1F08: 10 00 C3 07 00 FF FF FF\n", want: "1F00=3E90D323310040CD1000C30700FFFFFF"},
}

// wanted turns a want column into pieces.
func (c capture) wanted(t *testing.T) []Piece {
	all := mustHex(t, program)
	var out []Piece
	for _, f := range strings.Fields(c.want) {
		var a, b int
		if n, _ := fmt.Sscanf(f, "%X@%X", &a, &b); n == 2 {
			out = append(out, Piece{a, all[a:b]})
			continue
		}
		addr, digits, _ := strings.Cut(f, "=")
		_, err := fmt.Sscanf(addr, "%X", &a)
		require.NoError(t, err)
		out = append(out, Piece{a, mustHex(t, digits)})
	}
	return out
}

func TestCaptures(t *testing.T) {
	for _, c := range captures {
		t.Run(c.name, func(t *testing.T) {
			got, err := ReadBack("capture.txt", []byte(c.text), 0)
			require.NoError(t, err)
			assert.Equal(t, Dump, got.Format)
			assert.Equal(t, c.wanted(t), got.Pieces)
			var ignored []int
			for _, l := range got.Ignored {
				ignored = append(ignored, l.Line)
			}
			assert.Equal(t, c.ignored, ignored)
			assert.Equal(t, c.conflict, got.ConflictCount)
			assert.Equal(t, c.repeated, got.Repeated)
		})
	}
}

func TestNothingLikeADump(t *testing.T) {
	for _, text := range []string{
		"", "hello", "hello world\nthis is no dump\n", "0000", "0000 00FF\n", "D 0000 1FFF\n", "*\n*\n", "dead beef\n", "\x1b[2J\x1b[", "\x1b]", "0000: ?? ?? ?? ??\n", ":00000001FF\n", "S9030000FC\n",
		strings.Repeat("\b", 100), "2026-01-01 12:00:00 started\n",
	} {
		_, err := ReadBack("x.txt", []byte(text), 0)
		var e *Error
		require.True(t, errors.As(err, &e), "%q", text)
		assert.Equal(t, "x.txt", e.Diag.Range.String(), "%q", text)
	}
}

func TestToldApartByContent(t *testing.T) {
	binary := mustHex(t, program)
	for _, c := range []struct {
		name, text string
		size       int
		format     Format
		length     int
	}{
		{"binary", string(binary), 0, Binary, 48},
		{"all ones", strings.Repeat("\xff", 2048), 0, Binary, 2048},
		{"all zeros", strings.Repeat("\x00", 2048), 0, Binary, 2048},
		{"a chip full of text", strings.Repeat("HELLO WORLD ... ", 128), 2048, Binary, 2048},
		{"one letter", strings.Repeat("U", 2048), 8192, Binary, 2048},
		{"hex", intelExample, 0, IntelHex, 64},
		{"hex after an empty line", "\r\n" + intelExample, 0, IntelHex, 64},
		{"srecords", motorolaExample, 0, SRecords, 52},
		{"hex in a capture", "> read hex\r\n" + intelExample + "> ", 0, IntelHex, 64},
		{"hex in a capture that stops early", "> read hex\n" + intelExample[:100], 0, IntelHex, 32},
		{"srecords in a capture", "mon> p\n" + motorolaExample + "mon> ", 0, SRecords, 52},
	} {
		got, err := ReadBack("x", []byte(c.text), c.size)
		require.NoError(t, err, c.name)
		assert.Equal(t, c.format, got.Format, c.name)
		assert.Equal(t, c.length, got.Len(), c.name)
	}
	_, err := ReadBack("x", []byte(strings.Replace(intelExample, "40\n", "41\n", 1)), 0)
	assert.ErrorContains(t, err, "x:1:42: checksum: expected 40H, found 41H")
	got, err := ReadBack("x", []byte("> read\n"+intelExample+"> "), 0)
	require.NoError(t, err)
	assert.Equal(t, []Ignored{{1, "> read"}, {7, ">"}}, got.Ignored)
}

// dumpStyle is one way to print a dump.
type dumpStyle struct {
	before  string // each line
	addr    string // format of the address
	perLine int
	group   int // bytes a group
	middle  string
	text    bool
	end     string
	upper   bool
}

func (d dumpStyle) print(data []byte, at int) string {
	var b strings.Builder
	pair := "%02x"
	if d.upper {
		pair = "%02X"
	}
	for i := 0; i < len(data); i += d.perLine {
		b.WriteString(d.before)
		fmt.Fprintf(&b, d.addr, at+i)
		n := min(d.perLine, len(data)-i)
		for k := range d.perLine {
			if k%d.group == 0 {
				b.WriteByte(' ')
			}
			if k == d.perLine/2 {
				b.WriteString(d.middle)
			}
			if k < n {
				fmt.Fprintf(&b, pair, data[i+k])
			} else {
				b.WriteString("  ")
			}
		}
		if d.text {
			b.WriteString("  ")
			for _, c := range data[i : i+n] {
				if c < ' ' || c > '~' {
					c = '.'
				}
				b.WriteByte(c)
			}
		}
		b.WriteString(d.end)
	}
	return b.String()
}

func drawStyle(t *rapid.T) dumpStyle {
	n := rapid.SampledFrom([]int{8, 16, 32}).Draw(t, "bytes a line")
	return dumpStyle{
		before:  rapid.SampledFrom([]string{"", "", "| ", "[12:30:01] ", "2026-01-31 12:30:01.250 "}).Draw(t, "before"),
		addr:    rapid.SampledFrom([]string{"%04X:", "%04x", "%08X ", "0x%04X:", "%05XH", "%06X -", "  %04X:", "[%04X]"}).Draw(t, "address"),
		perLine: n,
		group:   rapid.SampledFrom([]int{1, 2, 4, n}).Draw(t, "group"),
		middle:  rapid.SampledFrom([]string{"", " ", "- "}).Draw(t, "middle"),
		text:    rapid.Bool().Draw(t, "text"),
		end:     rapid.SampledFrom([]string{"\n", "\r\n", "\n\r", "\r\r\n", "  \n"}).Draw(t, "end"),
		upper:   rapid.Bool().Draw(t, "upper case"),
	}
}

// Whatever the style, the bytes come back: at least two lines, among them
// text columns made of digits only.
func TestDumpRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawStyle(t)
		lines := rapid.IntRange(3, 20).Draw(t, "lines")
		byteOf := rapid.Byte()
		if rapid.Bool().Draw(t, "digits only") {
			byteOf = rapid.SampledFrom([]byte("0123456789ABCDEF"))
		}
		size := d.perLine*lines - rapid.IntRange(0, d.perLine-1).Draw(t, "left out")
		data := rapid.SliceOfN(byteOf, size, size).Draw(t, "data")
		at := d.perLine * rapid.IntRange(0, 0x700).Draw(t, "address")
		text := d.print(data, at)
		if rapid.Bool().Draw(t, "prompt") {
			text = "> dump\r\n" + text + "> "
		}
		got, err := ReadBack("x", []byte(text), 0)
		require.NoError(t, err, text)
		require.Equal(t, []Piece{{at, data}}, got.Pieces, text)
		require.Zero(t, got.ConflictCount)
	})
}

// Lost lines lose only themselves.
func TestDumpLosesOnlyWhatIsMissing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawStyle(t)
		data := rapid.SliceOfN(rapid.Byte(), 16*d.perLine, 16*d.perLine).Draw(t, "data")
		var text bytes.Buffer
		kept := 0
		for i := range 16 {
			one := d.print(data[i*d.perLine:(i+1)*d.perLine], i*d.perLine)
			switch {
			case i < 3 || rapid.IntRange(0, 3).Draw(t, "fate") > 0:
				text.WriteString(one)
				kept += d.perLine
			case rapid.Bool().Draw(t, "noise"):
				text.WriteString("*** overrun ***\n")
			}
		}
		got, err := ReadBack("x", text.Bytes(), 0)
		require.NoError(t, err)
		for _, p := range got.Pieces {
			require.Equal(t, data[p.Addr:p.Addr+len(p.Data)], p.Data)
		}
		require.Equal(t, kept, got.Len())
	})
}

func FuzzReadBack(f *testing.F) {
	for _, c := range captures {
		f.Add([]byte(c.text))
	}
	f.Add([]byte("> read\n" + intelExample))
	f.Add([]byte("0000: 00 00 00 00\n*\n1FFFFF0: 00 00 00 00\n0000: 00 00 00 00\n*\n1FFFFF0: 00 00 00 00\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := ReadBack("fuzz", data, 64)
		if err != nil {
			var e *Error
			require.True(t, errors.As(err, &e))
			return
		}
		end := -2
		for _, p := range c.Pieces {
			require.NotEmpty(t, p.Data)
			require.Greater(t, p.Addr, end+1)
			end = p.Range().Last
			require.Less(t, end, MaxAddress)
		}
		require.NotZero(t, c.Len())
	})
}

func BenchmarkReadDump64K(b *testing.B) {
	data := make([]byte, 65536)
	for i := range data {
		data[i] = byte(i * 7)
	}
	text := []byte(dumpStyle{addr: "%04X:", perLine: 16, group: 1, middle: " ", text: true, end: "\r\n"}.print(data, 0))
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for range b.N {
		if _, err := ReadDump("x", text); err != nil {
			b.Fatal(err)
		}
	}
}

// Some dumps end with a line that holds the address behind the last byte
// (common practice, no source). It gives nothing and is understood; any other
// address alone is not.
func TestDumpEndAddress(t *testing.T) {
	rows := "0000 00 01 02 03 04 05 06 07\n0008 08 09 0A 0B 0C 0D 0E 0F\n"
	for end, ignored := range map[string]int{"0010\n": 0, "0011\n": 1, "": 0} {
		c, err := ReadDump("x", []byte(rows+end))
		require.NoError(t, err)
		assert.Equal(t, 16, c.Len())
		assert.Equal(t, ignored, c.IgnoredCount, "%q", end)
	}
}
