package bus

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A recording says half for half what the CSV sheet of the same run says, and
// clock 1 of each instruction is where a cycle with First begins.
func TestRecordingEqualsSheet(t *testing.T) {
	m := sheetCPU(t)
	rec := NewRecorder(m, 300, locate)
	m.Trace(rec.Cycle)
	m.ResetPulses()
	m.Run(Limits{Clocks: 300, Until: -1}, nil)
	r := rec.Recording()
	var b bytes.Buffer
	sheet(t, sheetCPU(t), SheetOptions{Every: EveryHalf, Clocks: 300, Locate: locate}, NewCSV(&b), true)
	rows, err := csv.NewReader(&b).ReadAll()
	require.NoError(t, err)
	rows = rows[1:]
	require.Len(t, r.Halves, HalfWords*len(rows))
	assert.Equal(t, int64(300), r.Clocks)
	cycle, inst := -1, -1
	for i, row := range rows {
		w0, w1 := r.Halves[HalfWords*i], r.Halves[HalfWords*i+1]
		for cycle+1 < len(r.Cycles)/CycleWords && r.Cycles[CycleWords*(cycle+1)] == uint32(i) {
			cycle++
		}
		for inst+1 < len(r.Insts)/InstWords && r.Insts[InstWords*(inst+1)] == uint32(i) {
			inst++
		}
		addr, data := "", ""
		if w1>>28&1 == 1 {
			addr = fmt.Sprintf("%04X", w0&0xFFFF)
		}
		if w0>>31 == 1 {
			data = fmt.Sprintf("%02X", w0>>16&0xFF)
		}
		tstate := "T" + strconv.Itoa(int(w1>>24&7))
		if tstate == "T7" {
			tstate = "TW"
		}
		place := r.Places[r.Insts[InstWords*inst+1]>>16]
		got := []string{strconv.Itoa(i/2 + 1), string("HL"[i%2]), strconv.Itoa(cycle + 1), tstate, "", "",
			Kind(r.Cycles[CycleWords*cycle+1] & 0xFF).String(), addr, data}
		for bit := range LampNames {
			got = append(got, strconv.Itoa(int(w0>>(24+bit)&1)))
		}
		got = append(got, place.String(), r.Texts[w1&0xFFFFFF])
		require.Equal(t, row, got)
		require.Equal(t, uint32(inst), r.Cycles[CycleWords*cycle+2])
	}
}

// Registers of a recording are those before the instruction, with what the
// program has set.
func TestRecordingRegisters(t *testing.T) {
	m := New()
	require.NoError(t, m.LoadROM(0, []byte{0x01, 0x34, 0x12, 0x08, 0xD9, 0xED, 0x56}, nil)) // LD BC,1234H; EX AF,AF'; EXX; IM 1
	rec := NewRecorder(m, 0, nil)
	m.Trace(rec.Cycle)
	m.Run(Limits{Instructions: 4, Until: -1}, nil)
	r := rec.Recording()
	require.Len(t, r.Insts, 4*InstWords)
	at := func(inst, word int) uint32 { return r.Insts[inst*InstWords+word] }
	assert.Equal(t, uint32(0xFFFFFFFF), at(0, 2))
	assert.Zero(t, at(0, 9), "nothing is known at the start")
	assert.Equal(t, uint32(0x1234), at(1, 2)&0xFFFF)
	assert.Equal(t, uint32(maskBC), at(1, 9))
	assert.Equal(t, uint32(0x1234), at(3, 6)&0xFFFF, "in the alternate set after EXX")
	assert.Equal(t, uint32(maskBC)<<16, at(3, 9))
	assert.Equal(t, uint32(5)<<16, at(3, 5)&0xFFFF0000, "PC")
	assert.Equal(t, "AQAAAP////8=", Base64([]uint32{1, 0xFFFFFFFF}))
}

// A recording is cut at its clock, however long the run.
func TestRecordingIsBounded(t *testing.T) {
	m := New()
	require.NoError(t, m.LoadROM(0, []byte{0xC3, 0, 0}, func(int) bool { return true }))
	rec := NewRecorder(m, 1e12, nil)
	m.Trace(rec.Cycle)
	m.Run(Limits{Clocks: 1e12, Until: -1}, nil)
	assert.Equal(t, int64(MaxRecordClocks), rec.Recording().Clocks)
	assert.Len(t, rec.Recording().Halves, 2*HalfWords*MaxRecordClocks)
}
