package assembler

import (
	"fmt"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"romwright/diag"
)

// Sources that are legal in every line and meant to cost too much. Each has to
// end in the time of an honest source of its size, give or take the machine;
// what grows with the square would need minutes.

const patience = 2 * time.Minute

func many(n int, format string) string {
	var b strings.Builder
	for i := range n {
		if strings.Contains(format, "%") {
			fmt.Fprintf(&b, format, i)
		} else {
			b.WriteString(format)
		}
	}
	return b.String()
}

func codes(p *Program) map[diag.Code]int {
	m := map[diag.Code]int{}
	for _, d := range p.Diags.All() {
		m[d.Code]++
	}
	return m
}

// Every limit of the language is an error with the place that leads there.
func TestLimits(t *testing.T) {
	for name, c := range map[string]struct {
		source string
		files  memory
		want   []string // the first errors
	}{
		"a macro that calls itself": {
			source: "bomb\tMACRO\n\tbomb\n\tENDM\n\tbomb\n", want: []string{"3:2 macro-misuse"}},
		"two macros that call each other": {
			source: "m1\tMACRO\n\tm2\n\tENDM\nm2\tMACRO\n\tm1\n\tENDM\n\tm1\n", want: []string{"6:2 macro-misuse"}},
		"a macro that doubles itself": {
			source: "m0\tMACRO\nv\tDEFL 1\n\tENDM\n" + doublings(30) + "\tm30\n", want: []string{"125:2 too-many-lines"}},
		"repetitions in repetitions": {
			source: many(10, "\tREPT 100\n") + "\tNOP\n" + many(10, "\tENDM\n"), want: []string{"2:2 too-many-lines"}},
		"text that doubles itself": {
			source: "d\tMACRO x\n\td x&x&x&x&x&x&x&x\n\tENDM\n\td abcdefgh\n", want: []string{"3:4097 line-too-long"}},
		"a file that includes itself": {
			source: "\tINCLUDE \"a\"\n", files: memory{"a": "\tINCLUDE \"a\"\n"}, want: []string{"1:11 include-failed"}},
		"files that include each other": {
			source: "\tINCLUDE \"a\"\n", files: memory{"a": "\tINCLUDE \"b\"\n", "b": "\tINCLUDE \"./a\"\n"}, want: []string{"1:11 include-failed"}},
		"files one in the other without an end": {
			source: "\tINCLUDE \"f0\"\n", files: chainOfFiles(100), want: []string{"1:11 include-failed"}},
		"a repetition without an end of its file": {
			source: "\tREPT 5\n\tNOP\n", want: []string{"2:2 unclosed"}},
		"a conditional in an expansion that is not closed there": {
			source: "m\tMACRO\n\tIF 1\n\tENDM\n\tm\n\tENDIF\n", want: []string{"3:2 unclosed", "6:2 unopened"}},
		"more bytes than the CPU sees": {
			source: "\tORG 0FFFFH\n\tDEFS 65536\n", want: []string{"3:2 outside-chip"}},
		"a list longer than the CPU sees": {
			source: "\tDEFB 40000 DUP(1),40000 DUP(2)\n", want: []string{"2:20 value-out-of-range"}},
		"a line of 10,000 characters": {
			source: "\tDEFB " + strings.Repeat("1,", 5000) + "1\n", want: []string{"2:4097 line-too-long"}},
		"4,000 opening parentheses": {
			source: "\tLD A," + strings.Repeat("(", 4000) + "\n", want: []string{"2:72 syntax"}},
		"4,000 unary operators": {
			source: "\tLD A," + strings.Repeat("-", 4000) + "1\n", want: []string{"2:72 syntax"}},
	} {
		t.Run(name, func(t *testing.T) {
			p := within(t, patience, chip1K+c.source, Options{Files: c.files})
			got := reported(p)
			require.GreaterOrEqual(t, len(got), len(c.want))
			assert.Equal(t, c.want, got[:len(c.want)], "%v", p.Diags.Err())
			assert.True(t, p.Image == nil)
		})
	}
}

// doublings defines macros, each of which calls the one before twice.
func doublings(n int) string {
	var b strings.Builder
	for i := 1; i <= n; i++ {
		fmt.Fprintf(&b, "m%d\tMACRO\n\tm%d\n\tm%d\n\tENDM\n", i, i-1, i-1)
	}
	return b.String()
}

func chainOfFiles(n int) memory {
	m := memory{}
	for i := range n {
		m[fmt.Sprintf("f%d", i)] = fmt.Sprintf("\tINCLUDE \"f%d\"\n", i+1)
	}
	m[fmt.Sprintf("f%d", n)] = "\tNOP\n"
	return m
}

// What may be long may be long.
func TestLongButLegal(t *testing.T) {
	for name, c := range map[string]struct {
		source string
		bytes  string
	}{
		"100,000 constants, each the next one": {
			source: many(100_000, "c%d") + "", bytes: ""},
		"10,000 conditions in each other": {
			source: many(10_000, "\tIF 1\n") + "\tDEFB 7\n" + many(10_000, "\tENDIF\n"), bytes: "07"},
		"10,000 conditions in each other, left out": {
			source: "\tIF 0\n" + many(10_000, "\tIF 1\n") + "\tDEFB 7\n" + many(10_000, "\tENDIF\n") + "\tENDIF\n\tDEFB 8\n", bytes: "08"},
		"256 expansions in each other": {
			source: "m\tMACRO n\n\tIF n\n\tm n-1\n\tENDIF\n\tENDM\n\tm 60\n\tDEFB 9\n", bytes: "09"},
		"a macro of 600 parameters": {
			source: "m\tMACRO " + strings.TrimSuffix(many(600, "p%d,"), ",") + "\n\tDEFW p0,p599\n\tENDM\n\tm " +
				strings.TrimSuffix(many(600, "%d,"), ",") + "\n", bytes: "00 00 57 02"},
	} {
		if c.bytes == "" {
			var b strings.Builder
			for i := range 100_000 {
				fmt.Fprintf(&b, "c%d EQU c%d\n", i, i+1)
			}
			c.source, c.bytes = b.String()+"c100000 EQU 5\n\tDEFB c0\n", "05"
		}
		t.Run(name, func(t *testing.T) {
			p := within(t, patience, chip1K+c.source, Options{})
			assert.Equal(t, c.bytes, bytesOf(p), "%v", p.Diags.Err())
		})
	}
}

// A circle of 100,000 constants is one error, which names both of its ends.
func TestLongCircle(t *testing.T) {
	var b strings.Builder
	for i := range 100_000 {
		fmt.Fprintf(&b, "c%d EQU c%d\n", i, (i+1)%100_000)
	}
	p := within(t, patience, chip1K+b.String()+"\tDEFB c0,c5000\n", Options{})
	require.Equal(t, map[diag.Code]int{diag.CircularSymbol: 1}, codes(p))
	d := p.Diags.All()[0]
	assert.Contains(t, d.Message, "circular")
	assert.Contains(t, d.Message, "c0 -> c1 -> ")
	assert.True(t, strings.HasSuffix(d.Message, "-> c0"), d.Message)
	assert.Less(t, len(d.Message), 200)
}

// Work that would grow with the square of the source.
func TestNoSquares(t *testing.T) {
	const n = 20_000
	for name, c := range map[string]struct {
		source string
		opt    Options
		want   map[diag.Code]int
	}{
		"overlaps far behind what they overlap": {
			source: "\tNOP\n" + many(20*n, "\n") + many(n, "\tORG 0\n\tNOP\n\tORG 100H\n"), want: map[diag.Code]int{diag.Overlap: n}},
		"accepted overlaps": {
			source: "\tACCEPT overlap\n" + many(n, "\tORG 0\n\tDEFS 1024,0\n"), want: map[diag.Code]int{diag.Overwritten: n - 1}},
		"accepted overlaps one after another": {
			source: "\tACCEPT overlap\n" + many(n, "\tNOP\n\tORG $&3FFH\n"), want: map[diag.Code]int{diag.Overwritten: n - 1024}},
		"symbols that nothing defines": {
			source: many(n, "\tLD A,(nowhere%d)\n\tORG 0\n"), want: map[diag.Code]int{diag.UndefinedSymbol: n}},
		"more of them than are kept": {
			source: many(4*n, "\tLD A,(nowhere%d)\n\tORG 0\n"), want: map[diag.Code]int{diag.UndefinedSymbol: diag.Limit}},
		"operations that do not exist, with many macros": {
			source: many(n, "macro%d\tMACRO\n\tENDM\n") + many(n, "\tmakro%d\n"), want: map[diag.Code]int{diag.UnknownOperation: n}},
		"more warnings than are kept": {
			source: "\tACCEPT narrowing\n" + many(4*n, "\tORG 0\n\tLD A,1000\n") + many(10, "\tLD A\n"), want: map[diag.Code]int{diag.Narrowed: diag.Limit, diag.BadOperands: 10, diag.Overlap: 0}},
		"conditions that nothing closes": {
			source: many(4*n, "\tIF 1\n"), want: map[diag.Code]int{diag.Unclosed: diag.Limit}},
		"names defined again and again": {
			source: many(4*n, "same\tEQU %d\n"), want: map[diag.Code]int{diag.DuplicateSymbol: diag.Limit}},
		"ACCEPT again and again": {
			source: many(10*n, "\tACCEPT escapes\n") + many(10*n, "\tORG 0\n\tDEFS 'a'-'a'\n"), want: map[diag.Code]int{}},
		"RAM in small pieces": {
			source: many(n, "\tRAM 1, AT 8000H+%d\n") + many(n, "\tORG 8000H\n\tDEFS 20000\n"), want: map[diag.Code]int{}},
		"sums of T-states": {
			source: "p:\n" + many(10*n, "\n") + many(10, "\tNOP\n") + "q:\n" + many(10*n, "\tREQUIRE TSTATES(p,q)=40\n"), want: map[diag.Code]int{}},
		"sums of T-states that do not work": {
			source: "p:\n\tDEFB 0\n" + many(10*n, "\n") + "q:\n" + many(n, "\tREQUIRE TSTATES(p,q)=40\n"), want: map[diag.Code]int{diag.BadTiming: n}},
		"a size that waits for a long chain, again and again": {
			source: chainOfConstants(n) + many(n, "\tDEFS c%d\n"), want: map[diag.Code]int{diag.NotKnownYet: 2, diag.UndefinedSymbol: 1}},
		"LOCAL again and again": {
			source: "m\tMACRO\n" + many(n, "\tLOCAL l%d\n") + many(n, "l%d:\n") + "\tENDM\n\tm\n", want: map[diag.Code]int{}},
		"a list that is repeated": {
			source: many(n, "\tORG 0\n\tACCEPT overlap\n\tDEFB 1024 DUP(%d&0FFH)\n"), want: map[diag.Code]int{diag.Overwritten: n - 1}},
		"arguments": {
			source: "m\tMACRO " + strings.TrimSuffix(many(500, "p%d,"), ",") + "\n" + many(n, "\tREQUIRE p1=p1 ; %d\n") + "\tENDM\n" + many(10, "\tm 1,2,3\n"), want: map[diag.Code]int{}},
	} {
		t.Run(name, func(t *testing.T) {
			p := within(t, patience, chip1K+c.source, c.opt)
			got := codes(p)
			for code, want := range c.want {
				assert.Equal(t, want, got[code], code)
				delete(got, code)
			}
			assert.Empty(t, got, "%v", p.Diags.Err())
		})
	}
}

func chainOfConstants(n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, "c%d EQU c%d\n", i, i+1)
	}
	return b.String()
}

// The memory of a run is bounded by its source, not by what its lines ask for.
func TestMemory(t *testing.T) {
	large := strings.Repeat("x", 32<<20)
	for name, c := range map[string]struct {
		source string
		files  Files
		mbytes uint64
	}{
		"DUP on many lines":       {many(20_000, "\tDEFB 1024 DUP(1)\n\tORG 0\n"), nil, 64},
		"DEFS on many lines":      {many(20_000, "\tDEFS 1024,1\n\tORG 0\n"), nil, 64},
		"a large file many times": {many(100, "\tEMBED \"f\",1,1\n"), copies{"f", large}, 64},
		"a file many times":       {many(20_000, "\tEMBED \"f\",1,1024\n\tORG 0\n"), copies{"f", large[:65536]}, 64},
		"a macro bomb":            {"m0\tMACRO\n\tNOP\n\tENDM\n" + doublings(30) + "\tm30\n", nil, 300},
	} {
		t.Run(name, func(t *testing.T) {
			var before, after runtime.MemStats
			runtime.GC()
			runtime.ReadMemStats(&before)
			p := within(t, patience, chip1K+"\tACCEPT overlap\n"+c.source, Options{Files: c.files})
			runtime.GC()
			runtime.ReadMemStats(&after)
			grown := (max(after.HeapAlloc, before.HeapAlloc) - before.HeapAlloc) >> 20
			t.Logf("%d MiB are kept, %d MiB were asked for in all", grown, (after.TotalAlloc-before.TotalAlloc)>>20)
			assert.Less(t, grown, c.mbytes)
			assert.Less(t, (after.TotalAlloc-before.TotalAlloc)>>20, 4*c.mbytes)
			runtime.KeepAlive(p)
		})
	}
}

// copies is a file of which each reading is a copy of its own, as on a disk.
type copies struct{ name, text string }

func (c copies) ReadFile(path string) (string, error) {
	if path != c.name {
		return memory{}.ReadFile(path)
	}
	return strings.Clone(c.text), nil
}

// What overlaps may be emitted again and again, but not without an end.
func TestTotalIsBounded(t *testing.T) {
	text := "\tCAPACITY 64K\n\tACCEPT overlap\n\tREPT 9000\n\tORG 0\n\tDEFS 65535,0\n\tENDM\n"
	p := within(t, patience, text, Options{})
	require.Error(t, p.Diags.Err())
	require.Contains(t, p.Diags.Err().Error(), "in all")
	lines := within(t, patience, strings.Repeat("\n", maxLines+5), Options{})
	require.Contains(t, lines.Diags.Err().Error(), "more than 10000000 lines")
}
