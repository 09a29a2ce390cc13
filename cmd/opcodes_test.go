package cmd

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"romwright/encoder"
)

// run runs one command line without a terminal.
func run(args ...string) (status int, out, errs string) {
	var o, e bytes.Buffer
	status = Execute(args, strings.NewReader(""), &o, &e)
	return status, o.String(), e.String()
}

// The JSON has an object for each row of the table, in its order, with the keys
// that were agreed and no other; the cycles add up to the T-states.
func TestOpcodesJSON(t *testing.T) {
	status, out, errs := run("opcodes", "--format", "json")
	require.Equal(t, ExitDone, status, errs)
	var rows []map[string]any
	require.NoError(t, json.Unmarshal([]byte(out), &rows))
	forms := encoder.Forms()
	require.Len(t, rows, len(forms))
	for i, row := range rows {
		keys := make([]string, 0, len(row))
		for k := range row {
			keys = append(keys, k)
		}
		assert.ElementsMatch(t, []string{"syntax", "bytes", "tstates", "tstates_taken", "cycles", "documented", "summary"}, keys)
		assert.Equal(t, forms[i].Syntax(), row["syntax"])
		sum := 0.0
		for _, c := range row["cycles"].([]any) {
			sum += c.(float64)
		}
		assert.Equal(t, row["tstates"], sum, row["syntax"])
		if taken, ok := row["tstates_taken"].(float64); ok {
			assert.Greater(t, taken, sum, row["syntax"])
		}
		assert.NotEmpty(t, row["summary"])
	}
}

// Each row of the table is found by its own words, whatever they are.
func TestOpcodesFindEveryRow(t *testing.T) {
	for _, f := range encoder.Forms() {
		if f.DecodeOnly() {
			continue
		}
		found, err := opcodesOfWords([]string{f.Syntax()})
		if !assert.NoError(t, err, f.Syntax()) {
			continue
		}
		ok := false
		for _, o := range found {
			ok = ok || o.form == f
		}
		assert.True(t, ok, "%s is not among what it finds", f.Syntax())
	}
}

func FuzzOpcodes(f *testing.F) {
	for _, form := range encoder.Forms() {
		f.Add(form.Syntax())
	}
	f.Add("ld a,(")
	f.Add("DD CB 05")
	f.Fuzz(func(t *testing.T, text string) {
		run("opcodes", "--", text)
		run("opcodes", "--format", "json", "--bytes", text)
	})
}
