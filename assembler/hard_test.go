package assembler

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"romwright/diag"
)

const chip1K = "\tCAPACITY 1K\n"

// within assembles and fails the test where that takes too long: a run that
// does not end, or whose time grows with the square of its input.
func within(t *testing.T, limit time.Duration, text string, opt Options) *Program {
	t.Helper()
	start := time.Now()
	done := make(chan *Program, 1)
	go func() { done <- Assemble("x.asm", text, opt) }()
	select {
	case p := <-done:
		t.Logf("%d bytes of source in %v", len(text), time.Since(start).Round(time.Millisecond))
		return p
	case <-time.After(limit):
		require.FailNow(t, "too slow", "more than %v", limit)
		return nil
	}
}

// reported gives what was reported as "line:column code".
func reported(p *Program) []string {
	var out []string
	for _, d := range p.Diags.All() {
		out = append(out, fmt.Sprintf("%d:%d %s", d.Range.Line, d.Range.Column(), d.Code))
	}
	return out
}

func bytesOf(p *Program) string {
	if p.Image == nil {
		return "no image"
	}
	var out []string
	for _, r := range p.Image.UsedRanges() {
		out = append(out, fmt.Sprintf("% X", p.Image.Data[r.First-p.Image.At:r.Last+1-p.Image.At]))
	}
	return strings.Join(out, " | ")
}

// Sources on which the two passes could disagree or a name could be looked for
// in the wrong scope. Expected bytes by hand, from the language reference.
func TestHardSources(t *testing.T) {
	for name, c := range map[string]struct {
		source string
		opt    Options
		bytes  string
	}{
		"a local redefinable constant follows the lines": {
			source: "start:\n.n\tDEFL 1\n\tDEFB .n\n.n\tDEFL 2\n\tDEFB .n\n", bytes: "01 02"},
		"a constant keeps what a redefinable one was": {
			source: "v\tDEFL 1\nk\tEQU v\nv\tDEFL 2\n\tDEFB k,v\n", bytes: "01 02"},
		"a constant that is worked out later keeps what a redefinable one was": {
			source: "v\tDEFL 1\nk\tEQU v+later\nv\tDEFL 2\n\tDEFB k,v\nlater\tEQU 10\n", bytes: "0B 02"},
		"DEFINE keeps it, too": {
			source: "v\tDEFL 1\n\tDEFINE k v+later\nv\tDEFL 2\n\tDEFB k,v\nlater\tEQU 10\n", bytes: "0B 02"},
		"a constant of an expansion depends on a local one outside that is worked out later": {
			source: "m\tMACRO v\nk\tEQU v+1\n\tLD A,k\n\tENDM\nstart:\n\tm .y\n.y\tEQU later\nlater\tEQU 5\n", bytes: "3E 06"},
		"a local label as an argument under any-case": {
			source: "\tACCEPT any-case\njump\tMACRO t\n\tJP t\n\tENDM\nStart:\n.x:\tjump .X\n", bytes: "C3 00 00"},
		"a name of --define under any-case": {
			source: "\tACCEPT any-case\n\tIFDEF FOO\n\tDEFB Foo\n\tENDIF\n", opt: Options{Defines: []string{"foo=7"}}, bytes: "07"},
		"half an index register is a user's name from its definition on": {
			source: "\tACCEPT undocumented\n\tLD A,IXH\nIXH\tEQU 5\n\tLD A,IXH\n", bytes: "DD 7C 3E 05"},
		"the line that defines such a name still means the register": {
			source: "\tACCEPT undocumented\nIXH:\tLD A,IXH\n", bytes: "DD 7C"},
		"a count that a constant further up gives through one further down is known": {
			source: "k\tEQU n\nn\tEQU 3\n\tDEFB k DUP(0AAH)\n", bytes: "AA AA AA"},
		"LAP in a constant that the loop's own code uses": {
			source: "k\tEQU LAP(p,q)\np:\tLD A,k\n\tJP p\nq:\n", bytes: "3E 11 C3 00 00"}, // 7 + 10 T-states
		"a quote in an argument under escapes": {
			source: "\tACCEPT escapes\nm\tMACRO s\n\tDEFB s\n\tENDM\n\tm \"a\\\"b\"\n", bytes: "61 22 62"},
		"a parameter behind an escaped quote": {
			source: "\tACCEPT escapes\nm\tMACRO n\n\tDEFB \"a\\\"\",n\n\tENDM\n\tm 5\n", bytes: "61 22 05"},
		"the same name in two expansions, each the scope of the other": {
			source: "m\tMACRO\nfoo:\n\tm2\n\tENDM\nm2\tMACRO\nbar:\n\tDEFW .x\n\tENDM\nbar:\n.x:\nfoo:\tm\n", bytes: "00 00"},
	} {
		t.Run(name, func(t *testing.T) {
			p := within(t, patience, chip1K+c.source, c.opt)
			require.Empty(t, reported(p), "%v", p.Diags.Err())
			assert.Equal(t, c.bytes, bytesOf(p))
		})
	}
}

// The value that the listing shows beside a constant is the constant's.
func TestListedValues(t *testing.T) {
	p := Assemble("x.asm", chip1K+"v\tDEFL 1\nk\tEQU v\nv\tDEFL 2\n.l\tDEFL 9\n\tDEFINE d v+k\nf\tEQU g+v\ng\tEQU 7\nv\tDEFL 3\n", Options{})
	require.NoError(t, p.Diags.Err())
	got := map[string]int64{}
	p.Lines(func(l *Line) bool {
		if l.HasValue {
			got[strings.TrimSpace(l.Text)] = l.Value
		}
		return true
	})
	assert.Equal(t, map[string]int64{"v\tDEFL 1": 1, "k\tEQU v": 1, "v\tDEFL 2": 2, ".l\tDEFL 9": 9, "DEFINE d v+k": 3,
		"f\tEQU g+v": 9, "g\tEQU 7": 7, "v\tDEFL 3": 3}, got)
	var names []string
	p.Symbols(func(s *Symbol) bool {
		names = append(names, fmt.Sprintf("%s=%d", s.Name, s.Value))
		return true
	})
	assert.Equal(t, []string{".l=9", "d=3", "f=9", "g=7", "k=1", "v=3"}, names)
}

// Errors with their place. Each source has one mistake.
func TestHardErrors(t *testing.T) {
	for name, c := range map[string]struct {
		source string
		opt    Options
		want   []string
	}{
		"a size that needs a symbol further down, through a constant": {
			source: "k\tEQU n\n\tDEFS k\nn\tEQU 5\n", want: []string{"3:7 not-known-yet"}},
		"a condition that needs one, through a constant": {
			source: "k\tEQU n\n\tIF k\n\tENDIF\nn\tEQU 5\n", want: []string{"3:5 not-known-yet"}},
		"two such constants are two mistakes, one of them twice": {
			source: "j\tEQU n\nk\tEQU n\n\tDEFS k\n\tDEFS k\n\tDEFS j\nn\tEQU 5\n", want: []string{"4:7 not-known-yet", "6:7 not-known-yet"}},
		"a circle through LAP": {
			source: "k\tEQU LAP(p,q)\nk2\tEQU k\np:\tNOP\n\tJP k2\nq:\n", want: []string{"2:1 circular-symbol"}},
		"a circle through LAP alone": {
			source: "k\tEQU LAP(p,q)\np:\tNOP\n\tJP k\nq:\n", want: []string{"2:1 circular-symbol"}},
		"a local name that no scope around has": {
			source: "m\tMACRO\nfoo:\n\tm2\n\tENDM\nm2\tMACRO\nbar:\n\tJP .nothere\n\tENDM\nfoo:\nbar:\tm\n", want: []string{"8:5 undefined-symbol"}},
		"two symbols that nothing defines in one line": {
			source: "\tDEFW first,second,third\n", want: []string{"2:7 undefined-symbol"}},
		"the equals sign is no name":    {source: "= = 5\n", want: []string{"2:3 syntax"}},
		"the equals sign is no label":   {source: "=: NOP\n", want: []string{"2:2 syntax"}},
		"behind a value of DEFINE":      {source: "\tDEFINE x %101+nope\n", want: []string{"2:16 undefined-symbol"}},
		"behind a bare file name":       {source: "\tEMBED f'g,%101+nope\n", opt: Options{Files: memory{"f'g": "abc"}}, want: []string{"2:17 not-known-yet"}},
		"behind a quoted file name":     {source: "\tEMBED 'f g',%101,nope\n", opt: Options{Files: memory{"f g": "abcdef"}}, want: []string{"2:19 not-known-yet"}},
		"a capacity from outside < 1":   {source: "", opt: Options{Capacity: -5}, want: []string{"0:1 value-out-of-range"}},
		"a capacity from outside > 16M": {source: "", opt: Options{Capacity: 17 << 20}, want: []string{"0:1 value-out-of-range"}},
		"an address from outside < 0":   {source: "", opt: Options{Capacity: 1024, HasAt: true, At: -7}, want: []string{"0:1 value-out-of-range"}},
		"an address from outside > 64K": {source: "", opt: Options{Capacity: 1024, HasAt: true, At: 70000}, want: []string{"0:1 value-out-of-range"}},
		"a blank value from outside":    {source: "", opt: Options{Capacity: 1024, HasBlank: true, Blank: 256}, want: []string{"0:1 value-out-of-range"}},
	} {
		t.Run(name, func(t *testing.T) {
			text := chip1K + c.source
			if c.source == "" {
				text = "\tNOP\n"
			}
			p := within(t, patience, text, c.opt)
			assert.Equal(t, c.want, reported(p))
			assert.True(t, p.Image == nil)
			for _, d := range p.Diags.All() {
				assert.NotEqual(t, diag.Internal, d.Code, d.Message)
			}
		})
	}
}
