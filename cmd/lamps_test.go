package cmd

import (
	"bytes"
	"encoding/csv"
	"errors"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"romwright/bus"
	"romwright/listing"
	"romwright/page"
)

// lampsRows runs lamps on a source and gives the rows of its CSV sheet, by
// column name.
func lampsRows(t *testing.T, source string, args ...string) ([]map[string]string, string) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "x.asm")
	require.NoError(t, os.WriteFile(file, []byte(source), 0o600))
	var out, errs bytes.Buffer
	status := Execute(append([]string{"lamps", file, "--format", "csv"}, args...), strings.NewReader(""), &out, &errs)
	require.Equal(t, ExitDone, status, errs.String())
	recs, err := csv.NewReader(&out).ReadAll()
	require.NoError(t, err)
	var rows []map[string]string
	for _, r := range recs[1:] {
		row := map[string]string{}
		for i, name := range recs[0] {
			row[name] = r[i]
		}
		rows = append(rows, row)
	}
	return rows, errs.String()
}

// Code that was copied to RAM and runs there still names its source lines.
func TestLampsLocateCodeUnderRunAt(t *testing.T) {
	rows, errs := lampsRows(t, `	CAPACITY 2K
	RAM 1K, AT 8000H
	LD HL,image
	LD DE,8000H
	LD BC,code_end-code
	LDIR
	JP code
image:
	RUNAT 8000H
code:	INC A
	JP code
code_end:
	ENDRUNAT
`, "--every", "instruction", "--until", "8001H", "--ram", "1K@8000H")
	last := rows[len(rows)-1]
	assert.Equal(t, "8000", last["address"])
	assert.Equal(t, "x.asm:10", last["location"])
	assert.Contains(t, errs, "uses A, which the program has not set")
	assert.Equal(t, 1, strings.Count(errs, "warning:"), errs)
}

type closedPipe struct{ room int }

func (c *closedPipe) Write(b []byte) (int, error) {
	if c.room -= len(b); c.room < 0 {
		return 0, errors.New("the disk is full")
	}
	return len(b), nil
}

// A million million clocks are streamed: they end with the output, not with
// the memory.
func TestLampsStreams(t *testing.T) {
	file := filepath.Join(t.TempDir(), "x.asm")
	require.NoError(t, os.WriteFile(file, []byte("	CAPACITY 2K\nx:	JP x\n"), 0o600))
	for _, format := range []string{"text", "csv", "json", "vcd"} {
		var errs bytes.Buffer
		status := Execute([]string{"lamps", file, "--format", format, "--clocks", "1000000000000"},
			strings.NewReader(""), &closedPipe{1 << 20}, &errs)
		assert.Equal(t, ExitTrouble, status)
		assert.Contains(t, errs.String(), "standard output cannot be written: the disk is full", format)
	}
}

// Ports go by the name that the program's IN and OUT use.
func TestLampsPortNames(t *testing.T) {
	file := filepath.Join(t.TempDir(), "x.asm")
	require.NoError(t, os.WriteFile(file, []byte("	CAPACITY 2K\nother EQU 20H\nkeys EQU 20H\nx:	in a,( keys ) ; (other)\n	OUT (21H),A\n	JR x\n"), 0o600))
	var out, errs bytes.Buffer
	require.Equal(t, ExitDone, Execute([]string{"lamps", file, "--in", "keys=0", "--report"}, strings.NewReader(""), &out, &errs))
	assert.Regexp(t, `(?m)^  20H \(keys\)  read `, out.String())
	assert.Regexp(t, `(?m)^  21H +written `, out.String())
	assert.Empty(t, errs.String())
}

// Of a source that is too long for a page the lines around those that ran are
// shown, and which lines are left out.
func TestLampsPageOfLongSource(t *testing.T) {
	p := &program{}
	for i := range maxPageLines + 1 {
		p.rows = append(p.rows, listing.Row{Addr: -1, RunAddr: -1, File: "x.asm", Line: strconv.Itoa(i + 1), Text: "; " + strconv.Itoa(i+1)})
	}
	places := []bus.Place{{File: "x.asm", Line: "10000"}, {File: "x.asm", Line: "1"}, {File: "other.asm", Line: "1"}, {}}
	out := make([]page.LampsPlace, len(places))
	for i := range out {
		out[i].Line = -1
	}
	lines := p.lines(places, out)
	require.Len(t, lines, 1+pageLinesAround+1+2*pageLinesAround+1+1)
	assert.Equal(t, page.LampsLine{Line: "10000", Text: "; 10000"}, lines[out[0].Line])
	assert.Equal(t, page.LampsLine{Line: "1", Text: "; 1"}, lines[out[1].Line])
	assert.Equal(t, []int{-1, -1}, []int{out[2].Line, out[3].Line})
	assert.Zero(t, lines[pageLinesAround+1])
	assert.Zero(t, lines[len(lines)-1])

	// all of it, where there are no more lines than that; bytes go with their line
	p.rows = p.rows[:100]
	p.rows[50] = listing.Row{Addr: 3, RunAddr: 0x8003, Bytes: []byte{0x3E, 5}, File: "x.asm", Line: "51", Text: "a\x1bb"}
	p.rows[51] = listing.Row{Addr: 5, RunAddr: -1, Bytes: []byte{1}}
	out[0].Line = -1
	lines = p.lines([]bus.Place{{File: "x.asm", Line: "51"}}, out)
	require.Len(t, lines, 99)
	assert.Equal(t, page.LampsLine{Address: "8003", Bytes: "3E 05", Line: "51", Text: `a\x1Bb`}, lines[out[0].Line])
}
