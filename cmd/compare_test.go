package cmd

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// compareFiles writes files into a new folder and gives a function that runs
// romwright there: its arguments name the files without the folder.
func compareFiles(t *testing.T, files map[string]string) func(stdin string, args ...string) (status int, out, errs string) {
	t.Helper()
	dir := t.TempDir()
	for name, text := range files {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o666))
	}
	return func(stdin string, args ...string) (int, string, string) {
		t.Helper()
		for i, a := range args {
			if i > 0 && !strings.HasPrefix(a, "-") && strings.Contains(a, ".") {
				args[i] = filepath.Join(dir, a)
			}
		}
		var out, errs bytes.Buffer
		status := Execute(args, strings.NewReader(stdin), &out, &errs)
		return status, strings.ReplaceAll(out.String(), dir+string(filepath.Separator), ""), strings.ReplaceAll(errs.String(), dir+string(filepath.Separator), "")
	}
}

const compareSource = `	CAPACITY 256, AT 100H, BLANK 0
start:	LD A,5
	CALL lamp
	JR start
lamp:	OUT (21H),A
	RET
	END start
`

var compareEdited = strings.Replace(compareSource, "LD A,5\n", "LD A,6\t; brighter\n\tNOP\n", 1)

func TestCompareCommand(t *testing.T) {
	// LD A,5; CALL 0107H; JR 0100H; OUT (21H),A; RET, by hand from the CPU
	// manual's pages
	image := make([]byte, 256)
	copy(image, "\x3E\x05\xCD\x07\x01\x18\xF9\xD3\x21\xC9")
	run := compareFiles(t, map[string]string{
		"old.asm": compareSource, "new.asm": compareEdited, "chip.bin": string(image), "twice.bin": string(image) + string(image),
		"copies.asm": strings.Replace(compareSource, "BLANK 0", "BLANK 0, COPIES 2", 1),
		"remark.asm": strings.Replace(compareSource, "RET", "RET ; back", 1),
		"bad.asm":    strings.Replace(compareSource, "RET", "RETURN", 1),
		"other.bin":  strings.Replace(string(image), "\xC9", "\xC8", 1),
	})
	status, _, errs := run("", "build", "old.asm", "-o", "old.hex")
	require.Zero(t, status, errs)

	for _, c := range []struct {
		name   string
		args   []string
		status int
		out    string // a piece of what is written
	}{
		{"the same source", []string{"old.asm", "old.asm"}, 0, "the images are the same; every line is the same"},
		{"its listing", []string{"old.lst", "old.asm"}, 0, "every line is the same"},
		{"a remark", []string{"old.lst", "remark.asm"}, 0, "lines: 1 layout"},
		{"an edit", []string{"old.lst", "new.asm"}, 1, "lines: 1 changed, 1 added, 2 moved, 2 retargeted"},
		// the file says neither the address nor the blank value of its chip: the
		// listing does
		{"a bare image", []string{"chip.bin", "old.lst"}, 0, "no lines to compare in an image"},
		{"the other way", []string{"old.lst", "chip.bin"}, 0, "the images are the same"},
		{"a byte of an image", []string{"old.asm", "other.bin"}, 1, "1 byte in 1 range: 0109"},
		{"two images", []string{"chip.bin", "other.bin"}, 1, "1 byte in 1 range: 0009"},
		{"two images at an address", []string{"--at", "8000H", "chip.bin", "other.bin"}, 1, "1 byte in 1 range: 8009"},
		{"hex", []string{"old.hex", "old.asm"}, 0, "the images are the same"},
		{"hex and image", []string{"old.hex", "chip.bin"}, 1, ""},
		{"copies", []string{"twice.bin", "copies.asm"}, 0, "the images are the same"},
		{"one copy", []string{"chip.bin", "copies.asm"}, 1, "the images hold the same bytes, but not in the same chip"},
		{"pages", []string{"--page", "4K", "old.asm", "new.asm"}, 1, "1 page to write again (4,096 bytes each)"},
		{"read as an image", []string{"--read-as", "image", "old.asm", "old.asm"}, 0, "no lines to compare in an image"},
		{"read as each", []string{"--read-as", "source,image", "old.asm", "chip.bin"}, 0, "no lines to compare in an image"},
	} {
		t.Run(c.name, func(t *testing.T) {
			status, out, errs := run("", append([]string{"compare"}, c.args...)...)
			assert.Equal(t, c.status, status, out+errs)
			assert.Contains(t, out, c.out)
			assert.Empty(t, errs)
		})
	}

	for _, c := range []struct {
		name string
		args []string
		errs string
	}{
		{"one file", []string{"old.asm"}, "compare takes OLD NEW"},
		{"missing file", []string{"old.asm", "gone.asm"}, "gone.asm cannot be read"},
		{"a source with an error", []string{"old.asm", "bad.asm"}, "bad.asm does not assemble, so there is nothing to compare"},
		{"both from standard input", []string{"-", "-"}, "only one of the two"},
		{"format", []string{"--format", "xml", "old.asm", "new.asm"}, "--format"},
		{"page 0", []string{"--page", "0", "old.asm", "new.asm"}, "--page must be 1 to"},
		{"kind", []string{"--read-as", "tape", "old.asm", "new.asm"}, "--read-as"},
		{"three kinds", []string{"--read-as", "source,source,source", "old.asm", "new.asm"}, "--read-as"},
		{"onto its own source", []string{"-o", "old.asm", "old.asm", "new.asm"}, "is not overwritten"},
		{"a broken listing", []string{"--read-as", "listing", "old.asm", "old.asm"}, "the first line of a listing"},
	} {
		t.Run(c.name, func(t *testing.T) {
			status, out, errs := run("", append([]string{"compare"}, c.args...)...)
			assert.Equal(t, 2, status)
			assert.Empty(t, out)
			assert.Contains(t, errs, c.errs)
		})
	}

	status, out, _ := run(string(image), "compare", "-", "old.asm")
	assert.Zero(t, status, out)
	assert.Contains(t, out, "standard input")
	status, out, _ = run(compareEdited, "compare", "old.lst", "-")
	assert.Equal(t, 1, status, out)
}

func TestCompareFormats(t *testing.T) {
	run := compareFiles(t, map[string]string{"old.asm": compareSource, "new.asm": compareEdited})
	status, out, _ := run("", "compare", "--format", "json", "old.asm", "new.asm")
	assert.Equal(t, 1, status)
	var report struct {
		Same  bool
		Lines map[string]int
		Image struct {
			Differing int         `json:"bytes_differing"`
			Ranges    [][2]string `json:"ranges"`
			Pages     int         `json:"pages"`
			PageSize  int         `json:"page_size"`
		}
		Changes []struct{ Class string }
	}
	require.NoError(t, json.Unmarshal([]byte(out), &report))
	assert.False(t, report.Same)
	assert.Equal(t, map[string]int{"changed": 1, "added": 1, "removed": 0, "moved": 2, "retargeted": 2, "layout": 0}, report.Lines)
	// old: 3E 05 CD 07 01 18 F9 D3 21 C9; new: 3E 06 00 CD 08 01 18 F8 D3 21 C9
	assert.Equal(t, [][2]string{{"0101", "010A"}}, report.Image.Ranges)
	assert.Equal(t, 10, report.Image.Differing)
	assert.Equal(t, 1, report.Image.Pages)
	assert.Equal(t, 64, report.Image.PageSize)
	assert.Len(t, report.Changes, 2)
	_, out, _ = run("", "compare", "--all", "--format", "json", "old.asm", "new.asm")
	require.NoError(t, json.Unmarshal([]byte(out), &report))
	assert.Len(t, report.Changes, 6)

	status, out, errs := run("", "compare", "--format", "html", "-o", "page.html", "old.asm", "new.asm")
	assert.Equal(t, 1, status)
	assert.Empty(t, out+errs)
}

// One instruction inserted at the top of a program of 5,000 lines: a report
// of a few lines.
func TestCompareCommandIsShort(t *testing.T) {
	var b strings.Builder
	b.WriteString("\tCAPACITY 32K\n")
	for i := range 1250 {
		fmt.Fprintf(&b, "l%d:\tLD A,%d\n\tJP l%d\n\tINC A\n\tDEFW l%d\n", i, i%256, 1249-i, i)
	}
	run := compareFiles(t, map[string]string{"old.asm": b.String(), "new.asm": strings.Replace(b.String(), "l0:", "\tNOP\nl0:", 1)})
	status, out, errs := run("", "compare", "old.asm", "new.asm")
	assert.Equal(t, 1, status, errs)
	assert.Less(t, strings.Count(out, "\n"), 20, out)
	assert.Contains(t, out, "1 added, 2,500 moved, 2,500 retargeted")
	assert.Contains(t, out, "2,500 lines, 1,250 symbols by +1: l0 … l1249")
}
