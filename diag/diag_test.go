package diag

import (
	"bytes"
	"flag"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// The codes are a stable interface: each has one row, a severity and a
// sentence, and is used by the program somewhere.
func TestCodes(t *testing.T) {
	kebab := regexp.MustCompile(`^[a-z]+(-[a-z]+)*$`)
	constants := constantsOf(t)
	used := usedSelectors(t)
	seen := map[Code]bool{}
	for _, c := range Codes() {
		assert.Regexp(t, kebab, string(c.Code))
		assert.False(t, seen[c.Code], "%s has two rows", c.Code)
		seen[c.Code] = true
		assert.Contains(t, []Severity{Error, Warning}, c.Severity, c.Code)
		assert.NotEmpty(t, c.Summary, c.Code)
		assert.False(t, strings.HasSuffix(c.Summary, "."), c.Summary)
		name, ok := constants[c.Code]
		require.True(t, ok, "%s is no constant", c.Code)
		assert.True(t, used[name], "nothing reports %s", name)
	}
	for code := range constants {
		assert.True(t, seen[code], "%s has no row", code)
	}
}

// constantsOf reads the constants of codes.go: code -> name.
func constantsOf(t *testing.T) map[Code]string {
	f, err := parser.ParseFile(token.NewFileSet(), "codes.go", nil, 0)
	require.NoError(t, err)
	out := map[Code]string{}
	ast.Inspect(f, func(n ast.Node) bool {
		v, ok := n.(*ast.ValueSpec)
		if !ok || len(v.Values) != 1 {
			return true
		}
		if lit, ok := v.Values[0].(*ast.BasicLit); ok && lit.Kind == token.STRING {
			code := Code(strings.Trim(lit.Value, `"`))
			assert.Empty(t, out[code], "%s is the value of two constants", code)
			out[code] = v.Names[0].Name
		}
		return true
	})
	return out
}

// usedSelectors gives every X of a diag.X in the program, tests left out.
func usedSelectors(t *testing.T) map[string]bool {
	used := map[string]bool{}
	files, err := filepath.Glob("../*/*.go")
	require.NoError(t, err)
	for _, path := range files {
		if strings.HasSuffix(path, "_test.go") || filepath.Base(filepath.Dir(path)) == "diag" {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
		require.NoError(t, err)
		ast.Inspect(f, func(n ast.Node) bool {
			if s, ok := n.(*ast.SelectorExpr); ok {
				if x, ok := s.X.(*ast.Ident); ok && x.Name == "diag" {
					used[s.Sel.Name] = true
				}
			}
			return true
		})
	}
	return used
}

func at(file string, line, start, end int, text string) Range {
	return Range{File: file, Line: line, Start: start, End: end, Text: text}
}

func messages(l *List) []string {
	var out []string
	for _, d := range l.All() {
		out = append(out, d.Message)
	}
	return out
}

func TestListKeepsOneErrorALine(t *testing.T) {
	var l List
	l.Add(Diagnostic{Severity: Error, Code: Syntax, Range: at("a", 3, 5, 6, "x"), Message: "first"})
	l.Add(Diagnostic{Severity: Error, Code: Syntax, Range: at("a", 3, 1, 2, "x"), Message: "a consequence"})
	l.Add(Diagnostic{Severity: Warning, Code: Comma, Range: at("a", 3, 0, 1, "x"), Message: "a warning is none"})
	l.Add(Diagnostic{Severity: Error, Code: Syntax, Range: at("b", 3, 5, 6, "x"), Message: "another file"})
	l.Add(Diagnostic{Severity: Error, Code: Syntax, Range: at("a", 3, 5, 6, "y"), Message: "the line expanded with other arguments"})
	assert.Equal(t, []string{"a warning is none", "first", "the line expanded with other arguments", "another file"}, messages(&l))
	assert.Equal(t, 3, l.Errors())
	assert.Equal(t, 1, l.Warnings())
}

// An error of a whole file or of an option has no line to share.
func TestListKeepsErrorsWithoutALine(t *testing.T) {
	var l List
	l.Add(Diagnostic{Severity: Error, Range: Range{File: "a"}, Message: "one"})
	l.Add(Diagnostic{Severity: Error, Range: Range{File: "a"}, Message: "two"})
	l.Add(Diagnostic{Severity: Error, Range: Range{File: "a"}, Message: "two"})
	assert.Equal(t, []string{"one", "two"}, messages(&l))
}

func TestListDropsRepeats(t *testing.T) {
	var l List
	w := Diagnostic{Severity: Warning, Code: Narrowed, Range: at("a", 1, 2, 3, "x"), Message: "lost"}
	l.Add(w)
	l.Add(w)
	other := w
	other.Range.Start = 4
	l.Add(other)
	assert.Len(t, l.All(), 2)
	assert.NoError(t, l.Err())
}

func TestListOrder(t *testing.T) {
	var l List
	for _, r := range []Range{at("main", 9, 0, 0, ""), at("sub", 2, 0, 0, ""), at("main", 2, 7, 8, ""), at("main", 2, 3, 4, ""), at("sub", 1, 0, 0, "")} {
		l.Add(Diagnostic{Severity: Warning, Range: r, Message: r.String()})
	}
	assert.Equal(t, []string{"main:2:4", "main:2:8", "main:9:1", "sub:1:1", "sub:2:1"}, messages(&l), "files in the order of their first mention")
}

// A forgotten severity must not let a build pass.
func TestInvalidSeverityIsAnError(t *testing.T) {
	var l List
	l.Add(Diagnostic{Range: at("a", 1, 0, 1, "x"), Message: "who forgot?"})
	assert.Equal(t, 1, l.Errors())
	assert.EqualError(t, l.Err(), "a:1:1: who forgot?")
}

func TestListAsError(t *testing.T) {
	var l List
	assert.NoError(t, l.Err())
	l.Add(Diagnostic{Severity: Warning, Range: at("a", 1, 0, 1, "x"), Message: "a warning"})
	assert.NoError(t, l.Err())
	l.Add(Diagnostic{Severity: Error, Range: at("a", 7, 0, 1, "x"), Message: "late"})
	l.Add(Diagnostic{Severity: Error, Range: at("a", 5, 2, 3, "x y"), Message: "early"})
	assert.EqualError(t, l.Err(), "a:5:3: early (and 1 more)")
}

// The list is bounded for errors and for warnings, each on its own.
func TestListLimit(t *testing.T) {
	var l List
	for i := range Limit + 10 {
		l.Add(Diagnostic{Severity: Warning, Range: at("a", i+1, 0, 1, "x"), Message: "w"})
		assert.Equal(t, false, l.Full())
	}
	for i := range Limit + 10 {
		l.Add(Diagnostic{Severity: Error, Range: at("a", i+1, 0, 1, "x"), Message: "e"})
	}
	assert.True(t, l.Full())
	assert.Equal(t, Limit, l.Errors())
	assert.Equal(t, Limit, l.Warnings())
}

// Columns count characters, not bytes; a byte that is no UTF-8 counts as one.
func TestColumn(t *testing.T) {
	for _, c := range []struct {
		text  string
		start int
		want  int
	}{
		{"abc", 0, 1}, {"abc", 2, 3}, {"\tabc", 1, 2},
		{"äöx", 4, 3},       // two bytes each
		{"\xE4\xF6x", 2, 3}, // Latin-1
		{"€x", 3, 2},        // three bytes
		{"abc", 5, 6},       // behind the end
		{"abc", -1, 1},
	} {
		assert.Equal(t, c.want, Range{Line: 1, Start: c.start, Text: c.text}.Column(), "%q %d", c.text, c.start)
	}
}

func TestRangeString(t *testing.T) {
	assert.Equal(t, "dir/x.asm:12:3", at("dir/x.asm", 12, 2, 3, "ab c").String())
	assert.Equal(t, "/dev/ttyS0", Range{File: "/dev/ttyS0"}.String())
	assert.Equal(t, `bad\x1B[2Jname:1:1`, at("bad\x1b[2Jname", 1, 0, 1, "").String())
}

func TestPrintable(t *testing.T) {
	for in, want := range map[string]string{
		"plain text": "plain text", "tab\tstays": "tab\tstays", "": "",
		"\x00\x1b\x7f": `\x00\x1B\x7F`, "Zürich €": "Zürich €",
		"\xE4b":        `\xE4b`,          // Latin-1
		"\u009b31m":    `\xC2\x9B31m`,    // a control of eight bits that some terminals obey
		"a\u202eb":     `a\xE2\x80\xAEb`, // turns the direction of what follows
		"a\u2028b":     `a\xE2\x80\xA8b`, // a line separator
		"\uFFFD":       "\uFFFD",         // the replacement character itself is UTF-8
		"cut \xE2\x82": `cut \xE2\x82`,   // half a character
		"\r\n":         `\x0D\x0A`,
	} {
		assert.Equal(t, want, Printable(in), "%q", in)
	}
}

// Whatever comes in, nothing goes out that a terminal obeys.
func TestPrintableProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := string(rapid.SliceOf(rapid.Byte()).Draw(t, "bytes"))
		for _, r := range Printable(s) {
			if r < ' ' && r != '\t' || r == 0x7F || r >= 0x80 && r < 0xA0 {
				t.Fatalf("%q gives %q", s, Printable(s))
			}
		}
	})
}

// The screens, for a reader to look at in review.
func TestRenderer(t *testing.T) {
	long := "\tDEFB " + strings.Repeat("1, ", 100) + "nowhere" + strings.Repeat(", 2", 100)
	cases := []struct {
		name string
		d    Diagnostic
	}{
		{"the token is marked", Diagnostic{Severity: Error, Code: UndefinedSymbol, Range: at("crossing.asm", 12, 7, 13, "\tLD A,(sensro)"),
			Message: "undefined symbol sensro", Hint: "did you mean sensor?"}},
		{"tabs stand above tabs", Diagnostic{Severity: Error, Code: Syntax, Range: at("x.asm", 1, 8, 9, "a\tLD\tA\t,,"), Message: "m"}},
		{"UTF-8 before the token", Diagnostic{Severity: Error, Code: BadCharacter, Range: at("x.asm", 1, 9, 11, "größe: ä"), Message: "m"}},
		{"Latin-1 before the token", Diagnostic{Severity: Error, Code: Syntax, Range: at("x.asm", 1, 5, 6, "gr\xF6\xDFe x"), Message: "m"}},
		{"control bytes are escaped", Diagnostic{Severity: Error, Code: BadCharacter, Range: at("x.asm", 1, 3, 4, "\x1b[2\x07]"), Message: "m"}},
		{"a warning", Diagnostic{Severity: Warning, Code: Narrowed, Range: at("x.asm", 3, 6, 10, " LD A, 1000"), Message: "lost bits"}},
		{"behind the end of the line", Diagnostic{Severity: Error, Code: Syntax, Range: at("x.asm", 1, 6, 6, "\tLD A,"), Message: "expected an operand"}},
		{"an empty line", Diagnostic{Severity: Error, Code: Unclosed, Range: at("x.asm", 1, 0, 0, ""), Message: "m"}},
		{"without a line", Diagnostic{Severity: Error, Code: NoDump, Range: Range{File: "gone.asm"}, Message: "there is no such file"}},
		{"a long line, the token in the middle", Diagnostic{Severity: Error, Code: UndefinedSymbol, Range: at("x.asm", 1, 306, 313, long), Message: "m"}},
		{"a long line, the token at its start", Diagnostic{Severity: Error, Code: Syntax, Range: at("x.asm", 1, 1, 5, long), Message: "m"}},
		{"a long line, the token at its end", Diagnostic{Severity: Error, Code: Syntax, Range: at("x.asm", 1, len(long)-1, len(long), long), Message: "m"}},
		{"a long token", Diagnostic{Severity: Error, Code: Syntax, Range: at("x.asm", 1, 0, len(long), long), Message: "m"}},
		{"other places", Diagnostic{Severity: Error, Code: DuplicateSymbol, Range: at("x.asm", 9, 0, 5, "start:"), Message: "start is defined already",
			Related: []Related{{Range: at("x.asm", 2, 0, 5, "start:"), Message: "first defined here"}, {Range: at("y.inc", 5, 1, 5, "\twait"), Message: "expanded from here"}}}},
	}
	for _, colour := range []bool{false, true} {
		var b bytes.Buffer
		for _, c := range cases {
			b.WriteString("--- " + c.name + "\n")
			r := Renderer{W: &b, Colour: colour}
			r.One(c.d)
		}
		name := "screen.txt"
		if colour {
			name = "screen-colour.txt"
		} else {
			assert.NotContains(t, b.String(), "\x1b")
		}
		golden(t, name, b.Bytes())
	}
}

// The caret stands below the token: the text above it, cut at the carets, is
// the token as it is shown.
func TestCaretStandsBelowTheToken(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		piece := rapid.StringMatching(`[ -~äöü€\x00-\x08\x80-\xFF]{0,200}`)
		before, token, behind := piece.Draw(t, "before"), rapid.StringMatching(`[!-~ä]{1,30}`).Draw(t, "token"), piece.Draw(t, "behind")
		var b bytes.Buffer
		r := Renderer{W: &b}
		r.One(Diagnostic{Severity: Error, Code: Syntax, Message: "m", Range: at("f", 1, len(before), len(before)+len(token), before+token+behind)})
		lines := strings.Split(b.String(), "\n")
		if len(lines) < 3 {
			t.Fatalf("%q", b.String())
		}
		shown, caret := []rune(lines[1]), lines[2]
		from, to := strings.IndexByte(caret, '^'), strings.LastIndexByte(caret, '^')+1
		if got := string(shown[from:to]); got != token {
			t.Fatalf("marks %q, not %q\n%s", got, token, b.String())
		}
	})
}

func TestRendererStopsAtMax(t *testing.T) {
	var l List
	for i := range 5 {
		l.Add(Diagnostic{Severity: Error, Code: Syntax, Range: at("a", 2*i+1, 0, 1, "x"), Message: "error"})
		l.Add(Diagnostic{Severity: Warning, Code: Comma, Range: at("a", 2*i+2, 0, 1, "x"), Message: "warning"})
	}
	render := func(limit int) string {
		var b bytes.Buffer
		(&Renderer{W: &b, Max: limit}).List(&l)
		return b.String()
	}
	all := render(0)
	assert.Equal(t, 5, strings.Count(all, "error: error"))
	assert.Equal(t, 5, strings.Count(all, "warning: warning"))
	assert.NotContains(t, all, "more errors")
	three := render(3)
	assert.Equal(t, 3, strings.Count(three, "error: error"))
	assert.Contains(t, three, "2 more errors")
}

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(path, got, 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, string(want), string(got), "rewrite it with: go test ./diag -update")
}
