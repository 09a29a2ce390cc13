package listing

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"romwright/rom"
)

// toy assembles a few forms with lengths and addresses, so that tests can
// edit a source and see what the comparison makes of it:
//
//	name:            a label
//	name = n         a constant
//	op, op 5         one byte, two bytes
//	op name          three bytes: op and the symbol's value, low byte first
//	jr name          two bytes: how far it is from behind the line to the symbol
//	here             two bytes: the line's own address
//	keep 5           reserves
//	; remark
func toy(t require.TestingT, source string) Side { return toySized(t, source, 65536) }

func toySized(t require.TestingT, source string, capacity int) Side {
	d := &Doc{Header: Header{Source: "toy.asm", Capacity: capacity, Blank: 0xFF, Copies: 1, Entry: -1}}
	lines := strings.Split(strings.TrimSuffix(source, "\n"), "\n")
	values := map[string]int{}
	for pass := range 2 {
		d.Rows, d.Symbols = nil, nil
		addr := 0
		for i, text := range lines {
			r := Row{Addr: -1, RunAddr: -1, File: "toy.asm", Line: fmt.Sprint(i + 1), Text: text}
			code := text
			if k := strings.IndexByte(code, ';'); k >= 0 {
				code = code[:k]
			}
			define := func(name, kind string, v int) {
				values[name] = v
				d.Symbols = append(d.Symbols, Symbol{Name: name, Value: int64(v), Kind: kind, Defined: Place{"toy.asm", r.Line}})
			}
			if name, rest, ok := strings.Cut(code, ":"); ok {
				r.Addr = addr
				define(strings.TrimSpace(name), KindLabel, addr)
				code = rest
			}
			f := strings.Fields(code)
			switch {
			case len(f) == 0:
			case len(f) == 3 && f[1] == "=":
				var v int
				fmt.Sscan(f[2], &v)
				r.HasValue, r.Value = true, int64(v)
				define(f[0], KindConstant, v)
			case f[0] == "here":
				r.Addr, r.Text = addr, text+" $"
				r.Bytes = []byte{byte(addr), byte(addr >> 8)}
			case f[0] == "keep":
				r.Addr = addr
				fmt.Sscan(f[1], &r.Reserved)
			case len(f) == 1:
				r.Addr, r.T, r.Bytes = addr, "4", []byte{f[0][0]}
			default:
				var v int
				if _, err := fmt.Sscan(f[1], &v); err == nil {
					r.Addr, r.T, r.Bytes = addr, "7", []byte{f[0][0], byte(v)}
				} else {
					v, ok := values[f[1]]
					require.True(t, ok || pass == 0, f[1])
					if f[0] == "jr" {
						r.Addr, r.T, r.Bytes = addr, "12", []byte{f[0][0], byte(v - addr - 2)}
						break
					}
					r.Addr, r.T, r.Bytes = addr, "10", []byte{f[0][0], byte(v), byte(v >> 8)}
				}
			}
			addr += len(r.Bytes) + r.Reserved
			d.Rows = append(d.Rows, r)
		}
	}
	im, err := d.Image()
	require.NoError(t, err)
	return Side{Name: "toy.lst", Doc: d, Image: im}
}

func text(t require.TestingT, r *Report, all bool) string {
	var b bytes.Buffer
	require.NoError(t, r.WriteText(&b, all))
	return b.String()
}

const before = `; a lamp
count = 5
start:
  load 1
  load count
loop: test
  jump loop
  call lamp
  here
  keep 4
lamp:
  out 7
  ret
table: x
  y
  z ; last
`

func TestCompareClasses(t *testing.T) {
	for _, c := range []struct {
		name     string
		old, new string // what the edit replaces
		want     Counts
		same     bool
		text     string // a piece of the report
	}{
		{"nothing", "", "", Counts{}, true, "every line is the same"},
		{"remark", "; last", "; the last one", Counts{Layout: 1}, true, "1 layout"},
		{"remark alone", "; a lamp", "; two lamps\n; of four", Counts{Layout: 2}, true, "2 layout"},
		{"empty line", "lamp:\n", "\nlamp:\n", Counts{Layout: 1}, true, "1 layout"},
		{"spacing", "  load 1", "\tload   1", Counts{Layout: 1}, true, "1 layout"},
		{"operand", "out 7", "out 8", Counts{Changed: 1}, false, "1 byte in 1 range"},
		{"letter case", "  load 1", "  LOAD 1", Counts{Changed: 1}, false, ""},
		// start: and load 1 stay, eleven lines follow: 3 refer to labels or to
		// themselves (jump, call, here), the others move: load count, test, keep,
		// lamp:, out, ret, x, y, z
		{"insertion", "  load 1\n", "  load 1\n  nop\n", Counts{Added: 1, Moved: 9, Retargeted: 3}, false, "9 lines by +1: 0002-0017, now 0003-0018"},
		{"removal", "  load 1\n", "", Counts{Removed: 1, Moved: 9, Retargeted: 3}, false, "9 lines by -2"},
		{"constant", "count = 5", "count = 6", Counts{Changed: 1, Retargeted: 1}, false, "count  0005, now 0006 (constant, +1)"},
		// x, y, z stand before lamp: now; by definition they moved
		{"block carried", "lamp:\n  out 7\n  ret\ntable: x\n  y\n  z ; last\n", "table: x\n  y\n  z ; last\nlamp:\n  out 7\n  ret\n",
			Counts{Moved: 6, Retargeted: 1}, false, "lines by"},
	} {
		t.Run(c.name, func(t *testing.T) {
			after := strings.Replace(before, c.old, c.new, 1)
			r := Compare(toy(t, before), toy(t, after), CompareOptions{PageSize: 64})
			out := text(t, r, true)
			assert.Equal(t, c.want, r.Lines, out)
			if c.name != "letter case" { // the toy's operation codes depend on it
				assert.Equal(t, c.same, r.Same, out)
			}
			assert.Contains(t, out, c.text)
			golden(t, "compare-"+strings.ReplaceAll(c.name, " ", "-")+".txt", []byte(text(t, r, false)))
			var b bytes.Buffer
			require.NoError(t, r.WriteJSON(&b, true))
			golden(t, "compare-"+strings.ReplaceAll(c.name, " ", "-")+".json", b.Bytes())
		})
	}
}

// Bare images compare as images alone. 003F and 0040 lie in two pages of 64
// bytes, 0041 in the second one too, 0200 in a third: worked by hand.
func TestCompareImages(t *testing.T) {
	image := func(capacity int, put map[int]byte) Side {
		im, err := rom.NewImage(capacity, 0, 0xFF, 1)
		require.NoError(t, err)
		for a, b := range put {
			im.Put(a, b)
		}
		return Side{Name: "x.bin", Image: im}
	}
	a := image(1024, map[int]byte{0x3F: 1, 0x100: 2})
	b := image(1024, map[int]byte{0x3F: 3, 0x40: 4, 0x41: 5, 0x100: 2, 0x200: 6})
	r := Compare(a, b, CompareOptions{PageSize: 64})
	assert.False(t, r.Same)
	assert.False(t, r.HasLines)
	assert.Equal(t, 4, r.Image.Bytes)
	assert.Equal(t, 3, r.Image.Pages)
	assert.Equal(t, []rom.Range{{First: 0x3F, Last: 0x41}, {First: 0x200, Last: 0x200}}, r.Image.Ranges)
	assert.Equal(t, 3, r.Image.Growth)
	golden(t, "compare-images.txt", []byte(text(t, r, false)))

	r = Compare(image(1024, nil), image(2048, nil), CompareOptions{PageSize: 64})
	assert.False(t, r.Same)
	golden(t, "compare-chips.txt", []byte(text(t, r, false)))
	r = Compare(a, a, CompareOptions{PageSize: 64})
	assert.True(t, r.Same)
	assert.Contains(t, text(t, r, false), "no lines to compare in an image")
}

// One instruction inserted at the top of a program of 5,000 lines gives a
// report of a few lines.
func TestCompareIsShort(t *testing.T) {
	var b strings.Builder
	for i := range 1500 {
		fmt.Fprintf(&b, "l%d:\n load %d\n jump l%d\n", i, i%256, 1499-i)
	}
	b.WriteString(strings.Repeat(" nop\n", 500))
	r := Compare(toy(t, b.String()), toy(t, " nop\n"+b.String()), CompareOptions{PageSize: 64})
	assert.Equal(t, Counts{Added: 1, Moved: 3500, Retargeted: 1500}, r.Lines)
	out := text(t, r, false)
	assert.Contains(t, out, "1,500 lines, 1,500 symbols by +1: l0 … l1499")
	assert.Contains(t, out, "3,500 lines by +1")
	assert.Less(t, strings.Count(out, "\n"), 40)
	golden(t, "compare-short.txt", []byte(out))
	assert.Greater(t, strings.Count(text(t, r, true), "\n"), 5000)
}

// anySource draws a program for toy.
func anySource(t *rapid.T, name string) []string {
	n := rapid.IntRange(1, 60).Draw(t, name+" lines")
	labels := rapid.IntRange(1, 5).Draw(t, name+" labels")
	var lines []string
	for i := range labels {
		lines = append(lines, fmt.Sprintf("l%d:", i))
	}
	for range n {
		i := rapid.IntRange(0, len(lines)).Draw(t, "at")
		lines = append(lines[:i:i], append([]string{anyLine(t, labels)}, lines[i:]...)...)
	}
	return lines
}

func anyLine(t *rapid.T, labels int) string {
	switch rapid.IntRange(0, 6).Draw(t, "form") {
	case 0:
		return fmt.Sprintf(" %s l%d", rapid.SampledFrom([]string{"jump", "call", "jr"}).Draw(t, "op"), rapid.IntRange(0, labels-1).Draw(t, "label"))
	case 1:
		return fmt.Sprintf(" load %d", rapid.IntRange(0, 9).Draw(t, "n"))
	case 2:
		return " here"
	case 3:
		return fmt.Sprintf(" keep %d", rapid.IntRange(1, 9).Draw(t, "n"))
	case 4:
		return rapid.SampledFrom([]string{"; remark", "", "; other"}).Draw(t, "remark")
	}
	return rapid.SampledFrom([]string{" nop", " ret", " halt"}).Draw(t, "op")
}

func join(lines []string) string { return strings.Join(lines, "\n") + "\n" }

func TestCompareWithItself(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := join(anySource(t, "x"))
		r := Compare(toy(t, s), toy(t, s), CompareOptions{PageSize: 64})
		assert.Zero(t, r.Lines)
		assert.True(t, r.Same)
		assert.Empty(t, r.Changes)
		assert.Empty(t, r.Groups)
		assert.Empty(t, r.Runs)
		assert.Empty(t, r.Image.Ranges)
		assert.Zero(t, r.Image.Pages)
	})
}

// A pure insertion yields only lines that were added, moved or retargeted,
// and exactly the lines that were inserted count as added.
func TestCompareInsertion(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lines := anySource(t, "x")
		i := rapid.IntRange(0, len(lines)).Draw(t, "i")
		n := rapid.IntRange(1, 30).Draw(t, "n")
		after := append([]string(nil), lines[:i]...)
		for range n {
			after = append(after, " "+rapid.SampledFrom([]string{"nop", "ret", "load 3", "jump l0", "jr l0", "new"}).Draw(t, "new"))
		}
		after = append(after, lines[i:]...)
		r := Compare(toy(t, join(lines)), toy(t, join(after)), CompareOptions{PageSize: 64})
		out := text(t, r, true)
		assert.Equal(t, n, r.Lines.Added, out)
		assert.Zero(t, r.Lines.Changed+r.Lines.Removed+r.Lines.Layout, out)
	})
}

// Whatever was edited: the reported byte changes turn the old image into the
// new one, each line is in one class, and the lines that the report leaves out
// are the same.
func TestCompareAny(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lines := anySource(t, "x")
		after := append([]string(nil), lines...)
		for range rapid.IntRange(1, 8).Draw(t, "edits") {
			i := rapid.IntRange(0, len(after)-1).Draw(t, "i")
			if strings.HasSuffix(after[i], ":") {
				continue // labels stay
			}
			switch rapid.IntRange(0, 3).Draw(t, "edit") {
			case 0:
				after = append(after[:i:i], after[i+1:]...)
			case 1:
				after[i] = anyLine(t, 1)
			case 2:
				after[i] += " ; edited"
			default:
				j := rapid.IntRange(i, len(after)).Draw(t, "j")
				block := append([]string(nil), after[i:j]...)
				after = append(after[:i:i], after[j:]...)
				k := rapid.IntRange(0, len(after)).Draw(t, "k")
				after = append(after[:k:k], append(block, after[k:]...)...)
			}
			if len(after) == 0 {
				return
			}
		}
		a, b := toy(t, join(lines)), toy(t, join(after))
		r := Compare(a, b, CompareOptions{PageSize: 64})

		patched := append([]byte(nil), a.Image.Data...)
		differing := 0
		for _, g := range r.Image.Ranges {
			copy(patched[g.First:g.Last+1], b.Image.Data[g.First:g.Last+1])
			differing += g.Last - g.First + 1
		}
		assert.True(t, bytes.Equal(patched, b.Image.Data))
		assert.Equal(t, differing, r.Image.Bytes)
		assert.Equal(t, bytes.Equal(a.Image.Data, b.Image.Data), r.Same)

		seenOld, seenNew := map[string]bool{}, map[string]bool{}
		n := Counts{}
		for _, c := range r.Changes {
			for _, s := range []struct {
				l    Line
				seen map[string]bool
			}{{c.Old, seenOld}, {c.New, seenNew}} {
				if s.l.Exists() {
					require.False(t, s.seen[s.l[0].Line], "line %s twice", s.l[0].Line)
					s.seen[s.l[0].Line] = true
				}
			}
			both := c.Old.Exists() && c.New.Exists()
			switch c.Class {
			case Changed:
				n.Changed++
				require.True(t, both)
			case Added:
				n.Added++
				require.True(t, c.New.Exists() && !both)
			case Removed:
				n.Removed++
				require.True(t, c.Old.Exists() && !both)
			case Moved:
				n.Moved++
				require.Equal(t, c.Old.Bytes(), c.New.Bytes())
				require.Equal(t, int(c.By), c.New[0].Addr-c.Old[0].Addr)
			case Retargeted:
				n.Retargeted++
				require.True(t, both)
			case Layout:
				n.Layout++
			default:
				require.Fail(t, "no class")
			}
		}
		assert.Equal(t, n, r.Lines)
		left := func(d *Doc, seen map[string]bool) (s []string) {
			for _, row := range d.Rows {
				if !seen[row.Line] {
					s = append(s, fmt.Sprint(row.Addr, row.Bytes, row.Text))
				}
			}
			return s
		}
		assert.Equal(t, left(a.Doc, seenOld), left(b.Doc, seenNew), text(t, r, true))
		moved := 0
		for _, run := range r.Runs {
			moved += run.Lines
		}
		assert.Equal(t, r.Lines.Moved, moved)

		// with the lines that do not differ: every line of both listings once,
		// those of the new one in order, and nothing else differs
		whole := Compare(a, b, CompareOptions{PageSize: 64, KeepSame: true})
		var old, new []string
		for _, c := range whole.Changes {
			if c.Old.Exists() {
				old = append(old, c.Old[0].Line)
			}
			if c.New.Exists() {
				new = append(new, c.New[0].Line)
			}
		}
		assert.Len(t, old, len(a.Doc.Rows))
		assert.Len(t, new, len(b.Doc.Rows))
		assert.Equal(t, r.Lines, whole.Lines)
		assert.Equal(t, r.Runs, whole.Runs)
		assert.Equal(t, r.Groups, whole.Groups)
	})
}

// bench gives two listings of n lines with 100 edits between them.
func bench(t require.TestingT, n int) (Side, Side) {
	rows := func(edits bool) Side {
		var b strings.Builder
		for i := 0; i < n; i++ {
			switch i % 4 {
			case 0:
				fmt.Fprintf(&b, "l%d: ; label\n", i)
			case 1:
				fmt.Fprintf(&b, "\tload %d\t; a remark\n", i%200)
			case 2:
				fmt.Fprintf(&b, "\tjump l%d\n", i-2)
			default:
				b.WriteString("\tret\n")
			}
			if edits && i%(n/100) == 7 {
				b.WriteString("\tnew 5\n")
			}
		}
		return toySized(t, b.String(), 1<<18)
	}
	return rows(false), rows(true)
}

func BenchmarkCompare(b *testing.B) {
	for _, n := range []int{16_000, 100_000} {
		x, y := bench(b, n)
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				r := Compare(x, y, CompareOptions{PageSize: 64})
				require.Equal(b, 100, r.Lines.Added)
			}
		})
	}
}

// Any texts, with bytes that follow from nothing: no panic, and both reports
// can be written.
func FuzzCompare(f *testing.F) {
	f.Add(before, strings.Replace(before, "load", "lode", 1))
	f.Add("a\nb\n", "'\n\";AF'x\nAF'\n")
	f.Add("x: .y $\n", "\xff\x00: align\nx: .y $\n")
	side := func(t *testing.T, s string) Side {
		d := &Doc{Header: Header{Source: "f", Capacity: 4096, Copies: 1, Entry: -1}}
		addr := 0
		for i, text := range strings.Split(s, "\n") {
			r := Row{Addr: -1, RunAddr: -1, File: "f", Line: fmt.Sprint(i + 1), Text: text}
			if n := len(text) % 5; text != "" && n > 0 && addr+n <= d.Capacity {
				r.Addr, r.Bytes = addr, []byte(text[:n])
				addr += n
				d.Symbols = append(d.Symbols, Symbol{Name: text[:n], Value: int64(addr), Kind: KindLabel})
			}
			d.Rows = append(d.Rows, r)
		}
		im, err := d.Image()
		require.NoError(t, err)
		return Side{Name: "f", Doc: d, Image: im}
	}
	f.Fuzz(func(t *testing.T, a, b string) {
		r := Compare(side(t, a), side(t, b), CompareOptions{PageSize: 64})
		require.NoError(t, r.WriteText(&bytes.Buffer{}, true))
		require.NoError(t, r.WriteJSON(&bytes.Buffer{}, true))
		if a == b {
			require.True(t, r.Same)
			require.Empty(t, r.Changes)
		}
	})
}
