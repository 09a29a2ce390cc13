// Package romwright_test holds the tests of the project as a whole.
package romwright_test

import (
	"bytes"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"romwright/assembler"
	"romwright/cmd"
	"romwright/diag"
	"romwright/directives"
	"romwright/encoder"
)

var update = flag.Bool("update", false, "write the output of commands and the tables in the documents anew")

func TestMain(m *testing.M) {
	// puts romwright into the PATH of the examples
	testscript.Main(m, map[string]func(){"romwright": func() { os.Exit(cmd.Main()) }})
}

var documents = []string{"README.md", "DEVELOPERS.md"}

// block is a fenced block of a document.
type block struct {
	line  int    // of its first line, 1-based
	info  string // what stands behind the opening fence
	first int    // index of its first line in the document's lines
	lines []string
}

func readDocument(t *testing.T, name string) (lines []string, blocks []block) {
	t.Helper()
	text, err := os.ReadFile(name)
	require.NoError(t, err)
	lines = strings.Split(string(text), "\n")
	open := -1
	for i, l := range lines {
		switch {
		case !strings.HasPrefix(l, "```"):
		case open < 0:
			open = i
		default:
			info := strings.TrimPrefix(lines[open], "```")
			blocks = append(blocks, block{open + 2, info, open + 1, lines[open+1 : i]})
			open = -1
		}
	}
	require.Negative(t, open, "%s: a block is not closed", name)
	return lines, blocks
}

// TestCommands runs the console blocks of the documents: lines that begin with
// "$ " are commands, what stands below each is what it must print. The blocks
// of a document run one after the other in one directory.
func TestCommands(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("the examples are written for a POSIX shell")
	}
	for _, name := range documents {
		t.Run(name, func(t *testing.T) {
			lines, blocks := readDocument(t, name)
			dir := t.TempDir()
			type edit struct {
				block
				got []string
			}
			var edits []edit
			for _, b := range blocks {
				if b.info != "console" {
					continue
				}
				got := runConsole(t, dir, b)
				if !*update {
					assert.Equal(t, strings.Join(b.lines, "\n"), strings.Join(got, "\n"), "%s:%d", name, b.line)
				}
				edits = append(edits, edit{b, got})
			}
			if !*update {
				return
			}
			for _, e := range slices.Backward(edits) {
				lines = slices.Replace(lines, e.first, e.first+len(e.lines), e.got...)
			}
			require.NoError(t, os.WriteFile(name, []byte(strings.Join(lines, "\n")), 0o666))
		})
	}
}

// runConsole runs the commands of a block and gives the block as it must be.
func runConsole(t *testing.T, dir string, b block) []string {
	t.Helper()
	const mark = "-- end of a command --"
	var commands []string
	var script strings.Builder
	for _, l := range b.lines {
		if command, ok := strings.CutPrefix(l, "$ "); ok {
			commands = append(commands, l)
			// The README's readers have no romwright yet when they begin.
			command = strings.ReplaceAll(command, "go run ./cmd/romwright", "romwright")
			fmt.Fprintf(&script, "%s\nstatus=$?; echo; echo '%s'; (exit $status)\n", command, mark)
		}
	}
	require.NotEmpty(t, commands, "line %d: a console block without a command", b.line)
	c := exec.Command("sh", "-c", script.String())
	c.Dir = dir
	c.Env = append(os.Environ(), "NO_COLOR=1", "LC_ALL=C.UTF-8")
	out, err := c.CombinedOutput()
	if exit := new(exec.ExitError); err != nil {
		require.ErrorAs(t, err, &exit, "line %d", b.line) // the last command's status
	}
	outputs := strings.Split(string(out), mark+"\n")
	require.Len(t, outputs, len(commands)+1, "line %d:\n%s", b.line, out)
	var got []string
	for i, command := range commands {
		got = append(got, command)
		text := strings.TrimSuffix(strings.TrimSuffix(outputs[i], "\n"), "\n")
		if text != "" {
			for _, l := range strings.Split(text, "\n") {
				got = append(got, strings.TrimRight(l, " "))
			}
		}
	}
	return got
}

// exampleFiles are the files that examples name.
type exampleFiles struct{}

func (exampleFiles) ReadFile(path string) (string, error) {
	switch filepath.Base(path) {
	case "ports.inc":
		return "sensor EQU 20H\n", nil
	case "tune.dat":
		return "\x10\x20\x30\x40\x50\x60", nil
	}
	return "", fs.ErrNotExist
}

func assembleExample(text string) *assembler.Program {
	opt := assembler.Options{Files: exampleFiles{}}
	if !strings.Contains(strings.ToUpper(text), "CAPACITY") {
		opt.Capacity = 32 << 10
	}
	return assembler.Assemble("example.asm", text, opt)
}

var hexRemark = regexp.MustCompile(`; ((?:[0-9A-F]{2} ?)+)$`)

// TestSourceExamples assembles the asm blocks of the documents. A remark that
// is hex pairs and nothing else says which bytes the line gives; in a block
// with such a remark every line that gives bytes needs one. Where the opening
// fence names codes ("asm value-out-of-range"), exactly those must be reported.
func TestSourceExamples(t *testing.T) {
	for _, name := range documents {
		_, blocks := readDocument(t, name)
		for _, b := range blocks {
			info := strings.Fields(b.info)
			if len(info) == 0 || info[0] != "asm" {
				continue
			}
			t.Run(fmt.Sprintf("%s:%d", name, b.line), func(t *testing.T) {
				p := assembleExample(strings.Join(b.lines, "\n") + "\n")
				var codes []string
				for _, d := range p.Diags.All() {
					codes = append(codes, string(d.Code))
				}
				var messages bytes.Buffer
				(&diag.Renderer{W: &messages}).List(p.Diags)
				require.ElementsMatch(t, info[1:], codes, messages.String())
				if p.Image == nil {
					return
				}
				want, got := map[string]string{}, map[string]string{}
				for i, l := range b.lines {
					if m := hexRemark.FindStringSubmatch(l); m != nil {
						want[fmt.Sprint(i+1)] = m[1]
					}
				}
				if len(want) == 0 {
					return
				}
				sources := p.SourceMap()
				for at := p.Image.At; at < p.Image.At+p.Image.Capacity; at++ {
					if p.Image.UsedAt(at) {
						s, _ := sources.Lookup(at)
						line, _, _ := strings.Cut(s.Line, ".")
						got[line] = strings.TrimSpace(fmt.Sprintf("%s %02X", got[line], p.Image.Data[at-p.Image.At]))
					}
				}
				assert.Equal(t, want, got, "bytes by line of the block")
			})
		}
	}
}

// TestDirectiveExamples assembles the example of each directive.
func TestDirectiveExamples(t *testing.T) {
	for _, d := range directives.All() {
		t.Run(d.Name, func(t *testing.T) {
			require.NotEmpty(t, d.Example)
			assert.Contains(t, d.Example, d.Name)
			p := assembleExample(d.Example + "\n")
			var messages bytes.Buffer
			(&diag.Renderer{W: &messages}).List(p.Diags)
			assert.Empty(t, messages.String(), d.Example)
		})
	}
}

// tables are the parts of the documents that are written from the tables of
// the program, by the name that marks them.
var tables = map[string]func() string{
	"directives":   directivesTable,
	"accept":       acceptTable,
	"instructions": instructionsTable,
	"diagnostics":  diagnosticsTable,
	"options":      optionsText,
}

var marked = regexp.MustCompile(`(?s)<!-- begin (\w+) -->\n(.*?)<!-- end (\w+) -->`)

// TestTables compares the marked parts of the documents with the tables.
func TestTables(t *testing.T) {
	seen := map[string]bool{}
	for _, name := range documents {
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		out := marked.ReplaceAllStringFunc(string(text), func(part string) string {
			m := marked.FindStringSubmatch(part)
			require.Equal(t, m[1], m[3], "%s: marks must pair", name)
			table := tables[m[1]]
			if table == nil {
				return part // a script writes it
			}
			seen[m[1]] = true
			return fmt.Sprintf("<!-- begin %s -->\n%s<!-- end %s -->", m[1], table(), m[1])
		})
		if *update {
			require.NoError(t, os.WriteFile(name, []byte(out), 0o666))
		} else {
			assert.Equal(t, string(text), out, "go test -run TestTables . -update writes the tables of %s anew", name)
		}
	}
	for name := range tables {
		assert.True(t, seen[name], "no document has the table %s", name)
	}
}

// cell makes text safe in a cell of a table.
func cell(s string) string { return strings.ReplaceAll(s, "|", `\|`) }

// code sets text as code in a cell, each line for itself.
func code(s string) string {
	lines := strings.Split(s, "\n")
	for i, l := range lines {
		lines[i] = "`" + cell(l) + "`"
	}
	return strings.Join(lines, "<br>")
}

func directivesTable() string {
	var b strings.Builder
	b.WriteString("| directive | also read | does | example |\n| --- | --- | --- | --- |\n")
	for _, d := range directives.All() {
		fmt.Fprintf(&b, "| %s | %s | %s | %s |\n", code(d.Syntax), strings.Join(d.Others, " "), cell(d.Summary), code(d.Example))
	}
	return b.String()
}

func acceptTable() string {
	var b strings.Builder
	b.WriteString("| word | permits |\n| --- | --- |\n")
	for _, w := range directives.AcceptWords() {
		fmt.Fprintf(&b, "| `%s` | %s |\n", w.Word, cell(w.Summary))
	}
	return b.String()
}

func diagnosticsTable() string {
	var b strings.Builder
	b.WriteString("| code | is | tells of |\n| --- | --- | --- |\n")
	for _, c := range diag.Codes() {
		fmt.Fprintf(&b, "| `%s` | %s | %s |\n", c.Code, c.Severity, cell(c.Summary))
	}
	return b.String()
}

// instructionsTable lists the forms by mnemonic, in the order in which the
// table of the encoder first has it.
func instructionsTable() string {
	var order []string
	forms := map[string][2][]string{} // documented and not
	for _, f := range encoder.Forms() {
		name := f.Mnemonic().String()
		if strings.Contains(f.Note(), "never chosen") || name == "DEFB" {
			continue // for decoding alone
		}
		list, ok := forms[name]
		if !ok {
			order = append(order, name)
		}
		kind := 1
		if f.Documented() {
			kind = 0
		}
		operands := "alone"
		if _, rest, ok := strings.Cut(f.Syntax(), " "); ok {
			operands = code(rest)
		}
		if !slices.Contains(list[kind], operands) {
			list[kind] = append(list[kind], operands)
		}
		forms[name] = list
	}
	var b strings.Builder
	b.WriteString("| mnemonic | operands | undocumented |\n| --- | --- | --- |\n")
	for _, name := range order {
		list := forms[name]
		fmt.Fprintf(&b, "| %s | %s | %s |\n", name, strings.Join(list[0], " "), strings.Join(list[1], " "))
	}
	return b.String()
}

var helpCommand = regexp.MustCompile(`(?m)^  (\w+)  `)

// optionsText is the help of every command.
func optionsText() string {
	help := func(args ...string) string {
		var out bytes.Buffer
		cmd.Execute(append(args, "--help"), strings.NewReader(""), &out, &out)
		return out.String()
	}
	var b strings.Builder
	section, _, _ := strings.Cut(help(), "\nFor example")
	_, section, _ = strings.Cut(section, "\nCommands\n")
	for _, m := range helpCommand.FindAllStringSubmatch(section, -1) {
		fmt.Fprintf(&b, "<details><summary><code>romwright %s</code></summary>\n\n```text\n%s```\n\n</details>\n\n", m[1], help(m[1]))
	}
	return b.String()
}

var (
	link    = regexp.MustCompile(`\]\(([^)\s]+)\)`)
	heading = regexp.MustCompile(`^#+ (.*)$`)
)

// anchors are the anchors that a document's headings get: lower case, blanks
// as hyphens, other punctuation left out (common practice, no source).
func anchors(t *testing.T, name string) map[string]bool {
	lines, blocks := readDocument(t, name)
	for _, b := range blocks {
		for i := range b.lines {
			lines[b.first+i] = ""
		}
	}
	out := map[string]bool{}
	for _, l := range lines {
		if m := heading.FindStringSubmatch(l); m != nil {
			a := strings.ToLower(m[1])
			a = regexp.MustCompile(`[^\p{L}\p{N} _-]`).ReplaceAllString(a, "")
			a = strings.ReplaceAll(a, " ", "-")
			assert.False(t, out[a], "%s: two headings have the anchor %s", name, a)
			out[a] = true
		}
	}
	return out
}

// TestLinks looks up every link of the documents: a file or folder of the
// project, or a heading.
func TestLinks(t *testing.T) {
	for _, name := range documents {
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		for _, m := range link.FindAllStringSubmatch(string(text), -1) {
			file, anchor, _ := strings.Cut(m[1], "#")
			if file == "" {
				file = name
			}
			_, err := os.Stat(file)
			if !assert.NoError(t, err, "%s: link %s", name, m[1]) || anchor == "" {
				continue
			}
			assert.True(t, anchors(t, file)[anchor], "%s: link %s: no such heading", name, m[1])
		}
	}
}

// TestNamedFiles: every file and folder of ours that DEVELOPERS.md names is there.
func TestNamedFiles(t *testing.T) {
	text, err := os.ReadFile("DEVELOPERS.md")
	require.NoError(t, err)
	names := regexp.MustCompile("`((?:[a-z]+|\\.ci)/[\\w./-]+|\\w+\\.(?:go|md|mod))`").FindAllStringSubmatch(string(text), -1)
	require.NotEmpty(t, names)
	for _, m := range names {
		_, err := os.Stat(m[1])
		assert.NoError(t, err)
	}
}

// TestNoAbsolutePaths: the documents must hold nothing of the machine that
// they were written on.
func TestNoAbsolutePaths(t *testing.T) {
	machine := regexp.MustCompile(`(?:^|[\s"'(` + "`" + `])(/(?:home|root|tmp|usr|var|opt|mnt|work)/|[A-Z]:\\)`)
	for _, name := range documents {
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		for i, l := range strings.Split(string(text), "\n") {
			assert.NotRegexp(t, machine, l, "%s:%d", name, i+1)
		}
	}
}

// tableRows gives the rows of the first table below a heading, without its head.
func tableRows(t *testing.T, document, title string) [][]string {
	t.Helper()
	text, err := os.ReadFile(document)
	require.NoError(t, err)
	_, below, ok := strings.Cut(string(text), "\n"+title+"\n")
	require.True(t, ok, "%s has no heading %q", document, title)
	var rows [][]string
	for _, l := range strings.Split(below, "\n") {
		if !strings.HasPrefix(l, "|") {
			if rows != nil {
				break
			}
			continue
		}
		cells := strings.Split(strings.Trim(l, "| "), "|")
		for i := range cells {
			cells[i] = strings.TrimSpace(cells[i])
		}
		rows = append(rows, cells)
	}
	require.Greater(t, len(rows), 2, "%s: no table below %q", document, title)
	return rows[2:]
}

// TestModulesAreListed: each module that go.mod requires has a row with its
// licence, and no row is left over.
func TestModulesAreListed(t *testing.T) {
	text, err := os.ReadFile("go.mod")
	require.NoError(t, err)
	var want []string
	for _, m := range regexp.MustCompile(`(?m)^(?:require )?\s*([\w.-]+\.[\w.-]+/\S+) v`).FindAllStringSubmatch(string(text), -1) {
		want = append(want, m[1])
	}
	require.NotEmpty(t, want)
	var got []string
	for _, r := range tableRows(t, "DEVELOPERS.md", "## Modules and their licences") {
		require.Len(t, r, 3, "%v", r)
		assert.Regexp(t, `^(MIT|BSD-3-Clause|BSD-2-Clause|Apache-2.0|MPL-2.0|ISC)( and (MIT|Apache-2.0))?$`, r[1], r[0])
		got = append(got, strings.Trim(r[0], "`"))
	}
	assert.ElementsMatch(t, want, got)
}

// TestPackagesAreListed: the table in DEVELOPERS.md says what mayImport says.
func TestPackagesAreListed(t *testing.T) {
	listed := map[string][]string{}
	for _, r := range tableRows(t, "DEVELOPERS.md", "## Packages") {
		require.Len(t, r, 3, "%v", r)
		may := []string{}
		if r[2] != "-" {
			may = strings.Split(r[2], ", ")
		}
		listed[strings.Trim(r[0], "`")] = may
	}
	assert.Equal(t, mayImport, listed)
}

// TestCommandLines: the romwright commands in sh blocks, which are not run, name
// commands and options that exist.
func TestCommandLines(t *testing.T) {
	for _, name := range documents {
		_, blocks := readDocument(t, name)
		for _, b := range blocks {
			if b.info != "sh" {
				continue
			}
			for _, l := range b.lines {
				if args, ok := strings.CutPrefix(l, "romwright "); ok {
					var out bytes.Buffer
					status := cmd.Execute(append(strings.Fields(args), "--help"), strings.NewReader(""), &out, &out)
					assert.Equal(t, cmd.ExitDone, status, "%s: %s\n%s", name, l, out.String())
				}
			}
		}
	}
}
