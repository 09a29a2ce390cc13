package listing

import (
	"bytes"
	"fmt"
	"io/fs"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"romwright/assembler"
)

// memory is a file system that holds one file.
type memory struct{ name, text string }

func (m memory) ReadFile(path string) (string, error) {
	if path != m.name {
		return "", fs.ErrNotExist
	}
	return m.text, nil
}

func assemble(t *testing.T, text string, opt ProgramOptions) Side {
	t.Helper()
	p := assembler.Assemble("x.asm", text, assembler.Options{})
	require.NoError(t, p.Diags.Err())
	return Side{Name: "x.asm", Doc: FromProgram(p, opt), Image: p.Image}
}

const program = `	CAPACITY 1K
	RAM 100H, AT 8000H
wait	MACRO n
	LOCAL again
	LD B,n
again:	DJNZ again
	JP again
	ENDM
poll	MACRO
.l:	JP .l
	ENDM
start:	LD SP,8100H
.x:	LD A,(state)
	wait 5
	poll
	JR .x
	REPT 2
	wait 7
	ENDM
	ALIGN 16,0
	RUNAT 8010H
there:	JP there
	DEFW $,start
	ENDRUNAT
	DEFB "text",0DH,0AH,0
	DEFB 40 DUP(0FFH),1
	IF 0
	DEFB ; left out, so it need not make sense
	ENDIF
SIZE	EQU $-start
	LD HL,SIZE
	ORG 8000H
state:	DEFS 1
`

// The listing of a program restores its image, and reads back as what was in
// memory, with and without the lines of expansions.
func TestProgramRestores(t *testing.T) {
	for _, opt := range []ProgramOptions{{}, {HideExpansions: true}} {
		p := assembler.Assemble("x.asm", program, assembler.Options{})
		require.NoError(t, p.Diags.Err())
		var b bytes.Buffer
		require.NoError(t, WriteProgram(&b, p, opt))
		doc, im, list := Parse(b.String(), "x.lst")
		require.NoError(t, list.Err())
		assert.Equal(t, p.Image.Data, im.Data)
		assert.Equal(t, p.Image.UsedRanges(), im.UsedRanges())
		assert.Equal(t, FromProgram(p, opt), doc)
		if !opt.HideExpansions {
			golden(t, "program.lst", b.Bytes())
		}
		// a listing and its own source are the same program
		r := Compare(Side{Name: "x.lst", Doc: doc, Image: im}, assemble(t, program, opt), CompareOptions{PageSize: 64})
		assert.True(t, r.Same)
		assert.Empty(t, r.Changes)
	}
}

// A call of a macro inserted at the top gives new numbers to the labels of all
// expansions below, which must not count as edits.
func TestCompareExpansions(t *testing.T) {
	for _, opt := range []ProgramOptions{{}, {HideExpansions: true}} {
		before := assemble(t, program, opt)
		after := assemble(t, strings.Replace(program, "start:\t", "\twait 3\nstart:\t", 1), opt)
		r := Compare(before, after, CompareOptions{PageSize: 64})
		out := text(t, r, true)
		assert.Zero(t, r.Lines.Changed+r.Lines.Removed+r.Lines.Layout, out)
		assert.Empty(t, r.AddedSymbols)
		assert.Empty(t, r.RemovedSymbols)
		want := 5 // the call, LOCAL and three instructions
		if opt.HideExpansions {
			want = 1
		}
		assert.Equal(t, want, r.Lines.Added, out)
	}
}

// Inserting instructions anywhere into a real program yields only lines that
// were added, moved or retargeted, whatever way a line depends on addresses.
func TestCompareProgramInsertion(t *testing.T) {
	forms := []string{
		"\tLD A,%d", "\tCALL l%d", "\tJP NZ,l%d", "\tJR l%d", "\tDJNZ l%d", "\tDEFW l%d,$", "\tLD HL,$+%d", "\tLD A,HIGH l%d",
		"\tDEFS %d,0", "\tDEFS %d", "\tRET", "\tINC HL", "", "; remark %d", "\tALIGN 4,0FFH", "\tDEFW size%d",
		"\tpause %d", ".x%[2]d:\tLD (l%[1]d),A", "\tIF l%d\n\tNOP\n\tENDIF", "\tREPT 2\n\tINC A\n\tENDM", "\tDEFB 'text', %d",
	}
	rapid.Check(t, func(rt *rapid.T) {
		var lines []string
		for i := range rapid.IntRange(1, 4).Draw(rt, "labels") {
			lines = append(lines, fmt.Sprintf("l%d:", i), fmt.Sprintf("size%d\tEQU $-l%d", i, i))
			for k := range rapid.IntRange(0, 8).Draw(rt, "lines") {
				form := rapid.SampledFrom(forms).Draw(rt, "form")
				if strings.Contains(form, "%") {
					form, _, _ = strings.Cut(fmt.Sprintf(form, rapid.IntRange(0, i).Draw(rt, "n"), k), "%!(EXTRA")
				}
				lines = append(lines, strings.Split(form, "\n")...)
			}
		}
		head := []string{"\tCAPACITY 2K, AT 100H", "\tRAM 1K, AT 8000H", "pause\tMACRO n", "\tLOCAL back", "\tLD B,n", "back:\tDJNZ back", "\tCALL back", "\tENDM"}
		i := rapid.IntRange(0, len(lines)).Draw(rt, "at")
		for i < len(lines) && rapid.Bool().Draw(rt, "later") {
			i++
		}
		var added []string
		for range rapid.IntRange(1, 5).Draw(rt, "added") {
			added = append(added, rapid.SampledFrom([]string{"\tNOP", "\tLD A,77", "\tCALL l0", "\tRET", "\tINC HL"}).Draw(rt, "new"))
		}
		// not into a REPT, whose lines stand there several times over
		for k, depth := 0, 0; k < len(lines); k++ {
			if strings.Contains(lines[k], "REPT") {
				depth++
			} else if strings.Contains(lines[k], "ENDM") {
				depth--
			}
			if k+1 == i && depth > 0 {
				i++
			}
		}
		program := func(parts ...[]string) string { return strings.Join(slices.Concat(parts...), "\n") + "\n" }
		assemble := func(text string) Side {
			p := assembler.Assemble("x.asm", text, assembler.Options{})
			require.NoError(rt, p.Diags.Err(), "%s", text)
			return Side{Name: "x.asm", Doc: FromProgram(p, ProgramOptions{}), Image: p.Image}
		}
		before, after := program(head, lines), program(head, lines[:i], added, lines[i:])
		r := Compare(assemble(before), assemble(after), CompareOptions{PageSize: 64})
		out := text(rt, r, true)
		require.Equal(rt, len(added), r.Lines.Added, "%s\n%s", after, out)
		require.Zero(rt, r.Lines.Changed+r.Lines.Removed+r.Lines.Layout, "%s\n%s", after, out)
	})
}

// The same source can give other bytes because an embedded file changed: that
// is a change, since no symbol explains it.
func TestCompareEmbedded(t *testing.T) {
	side := func(text string) Side {
		p := assembler.Assemble("x.asm", "\tCAPACITY 1K\n\tEMBED \"bell\"\n", assembler.Options{Files: memory{"bell", text}})
		require.NoError(t, p.Diags.Err())
		return Side{Name: "x", Doc: FromProgram(p, ProgramOptions{}), Image: p.Image}
	}
	r := Compare(side("ding"), side("dong"), CompareOptions{PageSize: 64})
	assert.Equal(t, Counts{Changed: 1}, r.Lines)
}

// A long listing is made in blocks; it must be what the rows one by one give,
// with the file named where it changes, also between two blocks.
func TestLongListingInBlocks(t *testing.T) {
	var b strings.Builder
	b.WriteString(" CAPACITY 32K\n")
	for i := range 4000 {
		fmt.Fprintf(&b, "l%d: LD A,%d\nc%d EQU %d*2 ; a remark\n\tDEFB 'x',%[1]d&255\n IF 0\n skipped\n ENDIF\n", i, i&255, i, i)
		if i%100 == 7 {
			b.WriteString(" INCLUDE \"part.inc\"\n")
		}
	}
	p := assembler.Assemble("long.asm", b.String(), assembler.Options{Files: memory{"part.inc", "; of another file\n NOP\n"}})
	require.NoError(t, p.Diags.Err())
	require.Greater(t, p.NumLines(), longListing)
	var blocks, single bytes.Buffer
	require.NoError(t, WriteProgram(&blocks, p, ProgramOptions{}))
	d := FromProgram(p, ProgramOptions{})
	require.NoError(t, Write(&single, d, p.Image.CRC32()))
	require.True(t, single.String() == blocks.String())
	require.Greater(t, strings.Count(blocks.String(), "\nfile part.inc\n"), 10)
}
