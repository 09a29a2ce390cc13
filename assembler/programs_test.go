package assembler

import (
	"bytes"
	"encoding/hex"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"romwright/directives"
)

const programs = "../testdata/programs"

// expectation is what a second assembler made of a program; see the README of
// testdata/programs.
type expectation struct {
	length int
	crc    uint32
	cells  map[int]byte // by CPU address
}

func readExpectation(t *testing.T, path string) expectation {
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	e := expectation{cells: map[int]byte{}}
	for _, line := range strings.Split(string(text), "\n") {
		key, value, _ := strings.Cut(line, " ")
		switch {
		case line == "" || line[0] == '#':
		case key == "length":
			e.length, err = strconv.Atoi(value)
			require.NoError(t, err)
		case key == "crc32":
			v, err := strconv.ParseUint(value, 16, 32)
			require.NoError(t, err)
			e.crc = uint32(v)
		default:
			at, err := strconv.ParseInt(strings.TrimSuffix(key, ":"), 16, 32)
			require.NoError(t, err, line)
			b, err := hex.DecodeString(strings.ReplaceAll(value, " ", ""))
			require.NoError(t, err, line)
			for i, c := range b {
				e.cells[int(at)+i] = c
			}
		}
	}
	return e
}

func assembleFile(t *testing.T, path string) *Program {
	t.Helper()
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	p := Assemble(path, string(text), optionsOf(t, string(text)))
	require.NoError(t, p.Diags.Err())
	return p
}

// Whole programs give the bytes that a second assembler, written for this
// purpose alone from the language description, gave.
func TestPrograms(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(programs, "*.expect"))
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, f := range files {
		name := strings.TrimSuffix(filepath.Base(f), ".expect")
		t.Run(name, func(t *testing.T) {
			want := readExpectation(t, f)
			p := assembleFile(t, strings.TrimSuffix(f, ".expect")+".asm")
			var file bytes.Buffer
			_, err := p.Image.WriteTo(&file)
			require.NoError(t, err)
			assert.Equal(t, want.length, file.Len())
			assert.Equal(t, want.crc, p.Image.CRC32())
			for i, c := range p.Image.Data {
				addr := p.Image.At + i
				b, used := want.cells[addr]
				if !used {
					b = p.Image.Blank
				}
				if used != p.Image.UsedAt(addr) || b != c {
					assert.Fail(t, "another byte", "at %04X %02X, used %v; want %02X, used %v", addr, c, p.Image.UsedAt(addr), b, used)
					break
				}
			}
		})
	}
}

// A program written with macros, includes, conditionals and RUNAT, and the
// same one written flat.
func TestFlatPrograms(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(programs, "*-flat.asm"))
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, f := range files {
		t.Run(filepath.Base(f), func(t *testing.T) {
			flat, full := assembleFile(t, f), assembleFile(t, strings.TrimSuffix(f, "-flat.asm")+".asm")
			assert.Equal(t, flat.Image.CRC32(), full.Image.CRC32())
			assert.Equal(t, flat.Image.Data, full.Image.Data)
			assert.Equal(t, flat.Image.UsedRanges(), full.Image.UsedRanges())
		})
	}
}

// The example of every directive assembles as it is shown.
func TestExamples(t *testing.T) {
	files := memory{"ports.inc": "lamp EQU 20H\n", "tune.dat": "abcdef"}
	for _, d := range directives.All() {
		text := d.Example + "\n"
		if d.ID != directives.Capacity {
			text = "\tCAPACITY 64K\n" + text
		}
		p := Assemble("x.asm", text, Options{Files: files})
		assert.Empty(t, reported(p), "%s: %v", d.Name, p.Diags.Err())
		// and indented, which is how most people write
		p = Assemble("x.asm", strings.ReplaceAll("\n"+text, "\n", "\n\t"), Options{Files: files})
		assert.Empty(t, reported(p), "%s, indented: %v", d.Name, p.Diags.Err())
		for _, o := range d.Others {
			if o == "=" {
				continue
			}
			p = Assemble("x.asm", strings.ReplaceAll(text, d.Name+" ", "."+strings.ToLower(o)+" "), Options{Files: files})
			assert.Empty(t, reported(p), "%s: %v", o, p.Diags.Err())
		}
	}
}

// snapshot is everything that an assembly gives, in a form that can be
// compared.
func snapshot(p *Program) string {
	var b strings.Builder
	for _, d := range p.Diags.All() {
		fmt.Fprintf(&b, "%+v\n", d)
	}
	p.Lines(func(l *Line) bool {
		form := ""
		if l.Form != nil {
			form = l.Form.Syntax()
		}
		fmt.Fprintf(&b, "%s:%s %q %d %d %d %v %s %v %d %v %v %v\n", l.File, l.Place, l.Text, l.Addr, l.RunAddr, l.Size, l.Reserved, form, l.Pair, l.Value, l.HasValue, l.Call, l.Skipped)
		return true
	})
	p.Symbols(func(s *Symbol) bool {
		fmt.Fprintf(&b, "%+v\n", *s)
		return true
	})
	fmt.Fprintf(&b, "%v %v %v %d\n", p.RAM, p.Reserved(), p.Paths(), p.Entry)
	if p.Image != nil {
		im := p.Image
		fmt.Fprintf(&b, "%d %d %d %d %v\n", im.Capacity, im.At, im.Blank, im.Copies, im.UsedRanges())
		for _, r := range im.UsedRanges() {
			fmt.Fprintf(&b, "%x\n", im.Data[r.First-im.At:r.Last+1-im.At])
		}
	}
	return b.String()
}

// checkSound looks for what must hold of every assembly.
func checkSound(t require.TestingT, p *Program) {
	for _, d := range p.Diags.All() {
		require.NotEqual(t, "internal", string(d.Code), "%s: %s", d.Range, d.Message)
		require.NotEmpty(t, d.Message)
		require.NotContains(t, d.Message, "\n")
		r := d.Range
		require.True(t, r.Start >= 0 && r.Start <= r.End, "%+v", d)
		if r.Line > 0 && len(r.Text) <= 4096 {
			require.LessOrEqual(t, r.End, len(r.Text), "%+v", d)
		}
	}
	require.Equal(t, p.Diags.Errors() == 0, p.Image != nil)
	if p.Image == nil {
		p.Lines(func(*Line) bool { return true }) // nothing to say, but no panic
		p.Symbols(func(*Symbol) bool { return true })
		p.SourceMap()
		return
	}
	require.Len(t, p.Image.Data, p.Image.Capacity)
	emitted := 0
	p.Lines(func(l *Line) bool {
		if l.Form != nil {
			require.Equal(t, l.Form.Size(), l.Size, "%q", l.Text)
		}
		if l.Size > 0 && !l.Reserved {
			for a := l.Addr; a < l.Addr+l.Size; a++ {
				if !p.Image.UsedAt(a) {
					require.Fail(t, "a line without its bytes", "%q at %04X", l.Text, a)
				}
			}
			emitted += l.Size
		}
		return true
	})
	require.GreaterOrEqual(t, emitted, p.Image.Used(), "bytes of no line")
	for i, c := range p.Image.Data {
		if !p.Image.UsedAt(p.Image.At + i) {
			if c != p.Image.Blank {
				require.Fail(t, "a cell that is not blank", "%04X", p.Image.At+i)
			}
		}
	}
	sources := p.SourceMap()
	for _, r := range p.Image.UsedRanges() {
		for a := r.First; a <= r.Last; a++ {
			if _, ok := sources.Lookup(a); !ok {
				require.Fail(t, "a byte from nowhere", "%04X", a)
			}
		}
	}
}

// sourceFiles gives every source of the project: path -> texts.
func sourceFiles(t testing.TB) map[string][]string {
	out := map[string][]string{}
	for _, dir := range []string{"testdata", programs} {
		require.NoError(t, filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			text, err := os.ReadFile(path)
			switch filepath.Ext(path) {
			case ".asm":
				out[path] = []string{string(text)}
			case ".err":
				out[path] = strings.Split(string(text), "\n---\n")
			}
			return err
		}))
	}
	require.NotEmpty(t, out)
	return out
}

// Every source of the project, with and without the memo of shapes, and twice:
// the same image, messages, lines and symbols.
func TestShortcutsChangeNothing(t *testing.T) {
	for path, texts := range sourceFiles(t) {
		for _, text := range texts {
			tt := &testing.T{}
			opt := optionsOf(tt, text)
			for i, d := range opt.IncludeDirs {
				opt.IncludeDirs[i] = filepath.Join(filepath.Dir(path), d)
			}
			p := Assemble(path, text, opt)
			checkSound(t, p)
			if p.NumLines() > 100_000 {
				continue // the limits are reached; the plain way takes long to get there
			}
			want := snapshot(p)
			assert.Equal(t, want, snapshot(Assemble(path, text, opt)), "%s is not the same twice", path)
			opt.NoShapeMemo = true
			assert.Equal(t, want, snapshot(Assemble(path, text, opt)), "%s differs without the memo", path)
		}
	}
}
