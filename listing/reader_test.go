package listing

import (
	"bytes"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"romwright/rom"
)

// small is a listing of every kind of row, written by hand after the layout
// in the package comment.
func small() *Doc {
	return &Doc{
		Header: Header{Source: "crossing.asm", Capacity: 1024, At: 0x100, Blank: 0xFF, Copies: 1, Entry: 0x100},
		Rows: []Row{
			{Addr: -1, RunAddr: -1, File: "crossing.asm", Line: "1", Text: "\tCAPACITY 1K, AT 100H\t; the chip"},
			{Addr: -1, RunAddr: -1, HasValue: true, Value: 5, File: "crossing.asm", Line: "2", Text: "COUNT\tEQU 5"},
			{Addr: -1, RunAddr: -1, HasValue: true, Value: -2, File: "crossing.asm", Line: "3", Text: "below\tEQU -2"},
			{Addr: 0x100, RunAddr: -1, Bytes: []byte{0x3E, 5}, T: "7", File: "crossing.asm", Line: "4", Text: "start:\tLD A,COUNT"},
			{Addr: 0x102, RunAddr: -1, File: "crossing.asm", Line: "5"},
			{Addr: 0x102, RunAddr: 0x8000, Bytes: []byte{0x20, 0xFE}, T: "12/7", File: "lamps one.asm", Line: "1", Text: "here:\tJR NZ,here"},
			{Addr: 0x104, RunAddr: -1, Bytes: []byte("a long text, too long for one row"), File: "lamps one.asm", Line: "1234567.12345", Text: "\tDEFB 'a long text, too long for one row'"},
			{Addr: 0x200, RunAddr: -1, Reserved: 16, File: "crossing.asm", Line: "6", Text: "keep:\tDEFS 16"},
			{Addr: 0x210, RunAddr: 0x9000, Bytes: append(append([]byte{1, 2, 3}, make([]byte, 300)...), 4), File: "crossing.asm", Line: "7", Text: "\tDEFB 1,2,3,300 DUP(0),4 ; caf\xe9 \\x41 \x1b[2J \\n"},
		},
		Symbols: []Symbol{
			{Name: "COUNT", Value: 5, Kind: KindConstant, Defined: Place{"crossing.asm", "2"}, Uses: []Place{{"crossing.asm", "4"}, {"lamps one.asm", "12.3"}}},
			{Name: "below", Value: -2, Kind: KindConstant, Defined: Place{"crossing.asm", "3"}},
			{Name: "BOARD-2", Value: 1, Kind: KindFlag},
			{Name: "a_name_that_is_longer_than_the_column_is_wide", Value: 1 << 40, Kind: KindVariable, Defined: Place{"lamps one.asm", "9"}},
		},
		Map: []Area{{0x100, 0x124, AreaBytes}, {0x125, 0x1FF, AreaBlank}, {0x8000, 0x8010, AreaReserved}},
	}
}

func write(t require.TestingT, d *Doc) ([]byte, *rom.Image) {
	im, err := d.Image()
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, Write(&b, d, im.CRC32()))
	return b.Bytes(), im
}

func TestLayout(t *testing.T) {
	got, _ := write(t, small())
	golden(t, "layout.lst", got)
}

func TestRoundTrip(t *testing.T) {
	d := small()
	text, im := write(t, d)
	for _, ends := range []string{"\n", "\r\n"} {
		got, image, list := Parse(strings.ReplaceAll(string(text), "\n", ends), "x.lst")
		require.NoError(t, list.Err())
		assert.Equal(t, d, got)
		assert.Equal(t, im.Data, image.Data)
		assert.Equal(t, im.UsedRanges(), image.UsedRanges())
		assert.Equal(t, 0x100, image.Entry)
	}
	src, ok := d.SourceMap().Lookup(0x103)
	require.True(t, ok)
	assert.Equal(t, "lamps one.asm", src.File)
	assert.True(t, IsListing(string(text)))
	assert.False(t, IsListing("Romwright listing 10\n"))
}

// anyDoc draws documents with overlapping rows, odd text and long runs.
func anyDoc(t *rapid.T) *Doc {
	capacity := rapid.SampledFrom([]int{1, 7, 256, 5000, 70000}).Draw(t, "capacity")
	d := &Doc{Header: Header{
		Source: rapid.String().Draw(t, "source"), Capacity: capacity,
		At: rapid.IntRange(0, 0x9000).Draw(t, "at"), Blank: rapid.Byte().Draw(t, "blank"),
		Copies: rapid.IntRange(1, 3).Draw(t, "copies"), Entry: rapid.IntRange(-1, 0xFFFF).Draw(t, "entry"),
	}}
	for range rapid.IntRange(0, 2).Draw(t, "ram") {
		first := rapid.IntRange(0, 0xFFFF).Draw(t, "first")
		d.RAM = append(d.RAM, rom.Range{First: first, Last: rapid.IntRange(first, 0xFFFF).Draw(t, "last")})
	}
	name := rapid.SampledFrom([]string{d.Source, "b.asm", "c d\t.asm", "-", "e:7", "\xff"})
	line := rapid.StringMatching(`[1-9][0-9]{0,7}(\.[1-9][0-9]{0,5})?`)
	text := rapid.OneOf(
		rapid.StringMatching(`[ -~\t]{0,30}`),
		rapid.Map(rapid.SliceOfN(rapid.Byte(), 0, 30), func(b []byte) string { return string(b) }),
		rapid.SampledFrom([]string{`\x41`, `\\x41`, `\x5C`, `\`, "\u2028\u202e\u0085é", ""}))
	place := func() Place { return Place{name.Draw(t, "file"), line.Draw(t, "line")} }
	for range rapid.IntRange(0, 12).Draw(t, "rows") {
		r := Row{Addr: -1, RunAddr: -1, File: name.Draw(t, "file"), Line: line.Draw(t, "line"), Text: text.Draw(t, "text")}
		switch rapid.IntRange(0, 4).Draw(t, "kind") {
		case 0:
			r.HasValue, r.Value = true, rapid.Int64().Draw(t, "value")
		case 1:
			r.Addr, r.Reserved = rapid.IntRange(0, 0x10000).Draw(t, "addr"), rapid.IntRange(0, 70000).Draw(t, "n")
			if rapid.Bool().Draw(t, "run") {
				r.RunAddr = rapid.IntRange(0, 0x10000).Draw(t, "runaddr")
			}
		case 2, 3:
			cell := rapid.IntRange(0, capacity-1).Draw(t, "cell")
			r.Addr = d.At + cell
			n := rapid.IntRange(1, min(capacity-cell, 400)).Draw(t, "n")
			for len(r.Bytes) < n {
				run := rapid.SampledFrom([]int{1, 2, 15, 16, 17, 18, 200}).Draw(t, "run")
				b := rapid.SampledFrom([]byte{0, 0xFF, 0x3E}).Draw(t, "byte")
				for range min(run, n-len(r.Bytes)) {
					r.Bytes = append(r.Bytes, b)
				}
			}
			r.T = rapid.SampledFrom([]string{"", "7", "12/7", "21/16", "1234/1229"}).Draw(t, "t")
			if rapid.Bool().Draw(t, "run") {
				r.RunAddr = rapid.IntRange(0, 0xFFFF).Draw(t, "runaddr")
			}
		}
		d.Rows = append(d.Rows, r)
	}
	for range rapid.IntRange(0, 4).Draw(t, "symbols") {
		s := Symbol{
			Name:  rapid.StringMatching(`[A-Za-z_?@.][A-Za-z0-9_?@.$-]{0,40}`).Draw(t, "name"),
			Value: rapid.Int64().Draw(t, "value"),
			Kind:  rapid.SampledFrom([]string{KindLabel, KindConstant, KindVariable, KindFlag}).Draw(t, "kind"),
		}
		if rapid.Bool().Draw(t, "defined") {
			s.Defined = place()
		}
		for range rapid.IntRange(0, 30).Draw(t, "uses") {
			s.Uses = append(s.Uses, place())
		}
		d.Symbols = append(d.Symbols, s)
	}
	for range rapid.IntRange(0, 3).Draw(t, "areas") {
		first := rapid.IntRange(0, 0x10000).Draw(t, "first")
		d.Map = append(d.Map, Area{first, first + rapid.IntRange(0, 0x10000).Draw(t, "len"), AreaBlank})
	}
	return d
}

// What was written can be read back, and gives the same image.
func TestRoundTripAny(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := anyDoc(t)
		text, im := write(t, d)
		got, image, list := Parse(string(text), "x.lst")
		require.NoError(t, list.Err(), "%s", text)
		if len(got.Rows) == 0 {
			got.Rows = nil
		}
		require.Equal(t, d, got, "%s", text)
		require.Equal(t, im.Data, image.Data)
		require.Equal(t, im.UsedRanges(), image.UsedRanges())
	})
}

// Each case changes the small listing; the error must stand at line:column.
func TestRefused(t *testing.T) {
	text, _ := write(t, small())
	for _, c := range []struct{ name, old, new, want string }{
		{"not a listing", "Romwright", "Rumwright", "1:1: the first line"},
		{"header cut", "Copies    1\n", "", "6:1: expected the header line \"Copies\""},
		{"capacity 0", "Capacity  1024", "Capacity  0", "3:1: no such chip"},
		{"capacity 17M", "Capacity  1024", "Capacity  17825792", "no such chip"},
		{"capacity no number", "Capacity  1024", "Capacity  1K", "3:11: expected a number"},
		{"huge number", "Capacity  1024", "Capacity  99999999999999999999", "3:11: expected a number"},
		{"byte lower case", "3E 05", "3e 05", "13:11: expected bytes"},
		{"byte cut", "3E 05", "3E 0 ", "13:14: expected bytes"},
		{"byte outside", "0100      3E 05", "0500      3E 05", "13:11: these bytes lie outside"},
		{"byte before", "0100      3E 05", "00FF      3E 05", "13:11: these bytes lie outside"},
		{"no address", "0100      3E 05", "          3E 05", "13:11: bytes need an address"},
		{"huge run", "00 times 300", "00 times 99999999", "outside the chip"},
		{"run of nothing", "00 times 300", "00 times 0  ", "expected a run"},
		{"byte patched", "3E 05", "3E 06", "CRC-32"},
		{"column moved", "3E 05      ", " 3E 05     ", "13:12: the columns"},
		{"line number", "7     4  ", "7     x  ", "13:41: expected a line number"},
		{"control byte", "LD A,COUNT", "LD A,\x1bCOUNT", "13:61: control bytes"},
		{"not UTF-8", "LD A,COUNT", "LD A,\xffCOUNT", "13:61: control bytes"},
		{"map", "0125-01FF  blank", "0125-01FE  blank", "this range holds 218 bytes"},
		{"kind", "constant  2", "konstant  2", "expected the symbol's kind"},
		{"value", "0005   constant", "05     constant", "expected the symbol's value"},
		{"value too large", "10000000000  variable", "10000000000000000  variable", "expected the symbol's value"},
		{"cut", "\nEND\n", "\n", `ends before its line "END"`},
		{"text behind", "\nEND\n", "\nEND\nmore\n", `nothing may follow "END"`},
	} {
		t.Run(c.name, func(t *testing.T) {
			changed := strings.Replace(string(text), c.old, c.new, 1)
			require.NotEqual(t, string(text), changed)
			doc, im, list := Parse(changed, "x.lst")
			require.Error(t, list.Err())
			assert.Contains(t, list.Err().Error(), c.want)
			assert.Nil(t, doc)
			assert.Nil(t, im)
		})
	}
	for i := range text { // cut anywhere: an error, never a panic
		if _, _, list := Parse(string(text[:i]), "x.lst"); i < len(text)-1 {
			require.Error(t, list.Err(), "cut at %d", i)
		}
	}
}

// A run of 16M on each of many lines must not fill the memory.
func TestBombIsRefused(t *testing.T) {
	var b bytes.Buffer
	w := NewWriter(&b, Header{Source: "a", Capacity: 16 << 20, Copies: 1, Entry: -1})
	r := Row{Addr: 0, RunAddr: -1, Bytes: make([]byte, 16<<20), File: "a", Line: "1"}
	for range 20 {
		w.Row(&r)
	}
	require.NoError(t, w.Close(0))
	_, _, list := Parse(b.String(), "x.lst")
	require.Error(t, list.Err())
	assert.Contains(t, list.Err().Error(), "hold more than")
}

func FuzzParse(f *testing.F) {
	text, _ := write(f, small())
	f.Add(text)
	f.Add([]byte(magic + "\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		doc, im, list := Parse(string(data), "x.lst")
		if list.Err() != nil {
			return
		}
		var b bytes.Buffer
		require.NoError(t, Write(&b, doc, im.CRC32()))
		again, im2, list := Parse(b.String(), "x.lst")
		require.NoError(t, list.Err())
		require.Equal(t, doc, again)
		require.True(t, bytes.Equal(im.Data, im2.Data))
	})
}

func BenchmarkParse(b *testing.B) {
	for _, n := range []int{16_000, 100_000} {
		d := &Doc{Header: Header{Source: "a.asm", Capacity: 65536, Copies: 1, Entry: -1}, Rows: sampleRows(n)}
		written, _ := write(b, d)
		text := string(written)
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			b.SetBytes(int64(len(text)))
			b.ReportAllocs()
			for b.Loop() {
				_, _, list := Parse(text, "x.lst")
				require.NoError(b, list.Err())
			}
		})
	}
}

// golden compares got with testdata/name, or writes it with -update.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := "testdata/" + name
	if *update {
		require.NoError(t, os.MkdirAll("testdata", 0o777))
		require.NoError(t, os.WriteFile(path, got, 0o666))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, string(want), string(got))
}
