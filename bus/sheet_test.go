package bus

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"flag"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// Golden files hold wording and layout, which no outside source fixes; the
// facts in them are checked elsewhere.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	file := filepath.Join("testdata", name)
	if *update {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(file, got, 0o644))
	}
	want, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.Equal(t, string(want), string(got), name)
}

// sheetProgram meets every kind of machine cycle and every odd case of words.
var sheetProgram = []byte{
	0x31, 0x00, 0x90, // 0000 LD SP,9000H
	0x06, 0x14, //       0003 LD B,14H
	0xCD, 0x10, 0x00, // 0005 CALL 0010H
	0xED, 0x5E, //       0008 IM 2
	0xFB,       //       000A EI
	0x76,       //       000B HALT
	0xC3, 0, 0, //       000C JP 0000H
	0xFF,
	0xDB, 0x20, //       0010 IN A,(20H)
	0xD3, 0x21, //       0012 OUT (21H),A
	0x32, 0x05, 0x00, // 0014 LD (0005H),A: ROM
	0x3A, 0x00, 0x40, // 0017 LD A,(4000H): nothing fitted
	0xDD, 0x00, //       001A a prefix without effect, NOP
	0xDD, 0xCB, 0x05, 0xDE, // 001C SET 3,(IX+05H)
	0x10, 0x00, //       0020 DJNZ 0022H
	0xC9, //             0022 RET
}

func sheetCPU(t testing.TB) *CPU {
	m := New()
	require.NoError(t, m.LoadROM(0, sheetProgram, nil))
	require.NoError(t, m.FitRAM(RAM{0x8000, 0x8000}))
	m.SetPorts([]Stimulus{{0, LowPort, 0x20, 0xFE}})
	m.SetInterrupts([]Request{{Clock: 200, Data: 0x40}}, []int64{250})
	return m
}

func sheet(t testing.TB, m *CPU, opt SheetOptions, w RowWriter, reset bool) {
	s := NewSheet(m, opt, w)
	m.Trace(s.Cycle)
	if reset {
		m.ResetPulses()
	}
	m.Run(Limits{Clocks: opt.Clocks, Until: -1}, nil)
	require.NoError(t, s.Close())
}

func locate(a uint16) Place {
	switch {
	case a < 3:
		return Place{File: "demo.asm", Line: "7", Text: "START:\tLD SP,9000H ; \x1b top"}
	case a < 0x10:
		return Place{Label: "START", Offset: int(a)}
	}
	return Place{}
}

func TestSheets(t *testing.T) {
	for name, c := range map[string]struct {
		opt  SheetOptions
		text TextOptions
	}{
		"cycle":       {SheetOptions{Every: EveryCycle, Clocks: 300}, TextOptions{Places: true, Notes: []string{ClockOne(true, 0)}}},
		"instruction": {SheetOptions{Every: EveryInstruction, Clocks: 300, Freq: 3579545 * Hz}, TextOptions{Time: true, ASCII: true}},
		"clock":       {SheetOptions{Every: EveryClock, Clocks: 100}, TextOptions{Levels: true, Places: true}},
		"clock-high":  {SheetOptions{Every: EveryClock, Clocks: 40, RestHigh: true}, TextOptions{}},
		"half":        {SheetOptions{Every: EveryHalf, Clocks: 40}, TextOptions{ASCII: true}},
	} {
		t.Run(name, func(t *testing.T) {
			c.opt.Locate = locate
			var text, csv, js bytes.Buffer
			sheet(t, sheetCPU(t), c.opt, NewText(&text, c.text), name == "cycle")
			sheet(t, sheetCPU(t), c.opt, NewCSV(&csv), name == "cycle")
			sheet(t, sheetCPU(t), c.opt, NewJSON(&js), name == "cycle")
			golden(t, "sheet-"+name+".txt", text.Bytes())
			golden(t, "sheet-"+name+".csv", csv.Bytes())
			sameRows(t, csv.Bytes(), js.Bytes())
		})
	}
}

// sameRows reads CSV and JSON with the standard library's readers (RFC 4180,
// RFC 8259) and compares them.
func sameRows(t *testing.T, csvText, jsonText []byte) {
	rows, err := csv.NewReader(bytes.NewReader(csvText)).ReadAll()
	require.NoError(t, err)
	require.Equal(t, "clock,half,cycle_no,t,tstates,time_ns,cycle,address,data,m1,mreq,iorq,rd,wr,rfsh,halt,location,text",
		strings.Join(rows[0], ","))
	var objects []map[string]any
	require.NoError(t, json.Unmarshal(jsonText, &objects))
	require.Len(t, objects, len(rows)-1)
	for i, o := range objects {
		require.Len(t, o, len(rows[0]))
		for j, name := range rows[0] {
			got := ""
			switch v := o[name].(type) {
			case float64:
				got = strconv.FormatFloat(v, 'f', -1, 64)
			case string:
				got = v
			}
			require.Equal(t, rows[i+1][j], got, "row %d %s", i+1, name)
		}
	}
}

// Rows of every kind come from one run: a cycle's lamps are the halves' lamps
// taken together, T-states add up, and clock rows are every second half row.
func TestRowsAgree(t *testing.T) {
	read := func(every Every, high bool) [][]string {
		var b bytes.Buffer
		sheet(t, sheetCPU(t), SheetOptions{Every: every, RestHigh: high, Clocks: 300, Freq: 2 * Hz}, NewCSV(&b), false)
		rows, err := csv.NewReader(&b).ReadAll()
		require.NoError(t, err)
		return rows[1:]
	}
	halves, cycles, insts := read(EveryHalf, false), read(EveryCycle, false), read(EveryInstruction, false)
	require.Len(t, halves, 600)
	for i, h := range halves {
		assert.Equal(t, strconv.Itoa(i/2+1), h[0])
		assert.Equal(t, strconv.Itoa(250*i), strconv.Itoa(must(t, h[5])/1e6), "half a clock of 2 Hz is 250 ms")
	}
	for _, high := range []bool{false, true} {
		clocks := read(EveryClock, high)
		require.Len(t, clocks, 300)
		for i, c := range clocks {
			h := halves[2*i+1]
			if high {
				h = halves[2*i]
			}
			assert.Equal(t, "1", c[4])
			assert.Equal(t, h[6:16], c[6:16])
			assert.Equal(t, h[:4], c[:4])
			assert.Equal(t, halves[2*i][5], c[5], "the time is the clock's beginning")
		}
	}
	sums := func(rows [][]string, by int) (n int) {
		at := 1
		for _, r := range rows {
			assert.Equal(t, strconv.Itoa(at), r[0])
			at += must(t, r[4])
			n++
		}
		return at - 1
	}
	assert.GreaterOrEqual(t, sums(cycles, 4), 300)
	assert.GreaterOrEqual(t, sums(insts, 4), 300)
	for _, c := range cycles[:len(cycles)-1] {
		for col := 9; col < 16; col++ {
			lit := "0"
			for _, h := range halves {
				if h[2] == c[2] && h[col] == "1" {
					lit = "1"
				}
			}
			assert.Equal(t, lit, c[col], "cycle %s column %d", c[2], col)
		}
	}
}

func must(t *testing.T, s string) int {
	t.Helper()
	n, err := strconv.Atoi(s)
	require.NoError(t, err)
	return n
}

type full struct{ room int }

var errFull = errors.New("no space left")

func (f *full) Write(b []byte) (int, error) {
	if f.room -= len(b); f.room < 0 {
		return 0, errFull
	}
	return len(b), nil
}

// An output that cannot be written ends a run of a million million clocks at
// once, and says why.
func TestWriteErrorEndsTheRun(t *testing.T) {
	for name, mk := range map[string]func(*full) RowWriter{
		"text": func(f *full) RowWriter { return NewText(f, TextOptions{}) },
		"csv":  func(f *full) RowWriter { return NewCSV(f) },
		"json": func(f *full) RowWriter { return NewJSON(f) },
	} {
		t.Run(name, func(t *testing.T) {
			m := sheetCPU(t)
			s := NewSheet(m, SheetOptions{}, mk(&full{100_000}))
			m.Trace(s.Cycle)
			assert.Equal(t, EndSink, m.Run(Limits{Clocks: 1e12, Until: -1}, nil).End)
			assert.ErrorIs(t, s.Close(), errFull)
		})
	}
	m := sheetCPU(t)
	v := NewVCD(&full{100_000}, 0, 0, nil)
	m.Trace(v.Cycle)
	assert.Equal(t, EndSink, m.Run(Limits{Clocks: 1e12, Until: -1}, nil).End)
	assert.ErrorIs(t, v.Close(), errFull)
}

// vcdChanges reads a value change dump as IEEE 1364-2005 clause 18 describes
// it: declarations, then #time and value changes.
func vcdChanges(t *testing.T, text string) (timescale string, times []string, values []map[string]string) {
	fields := strings.Fields(text)
	names := map[string]string{}
	now := map[string]string{}
	width := map[string]int{}
	for i := 0; i < len(fields); i++ {
		f := fields[i]
		switch {
		case f == "$comment":
			for fields[i] != "$end" {
				i++
			}
		case f == "$timescale":
			timescale = fields[i+1] + " " + fields[i+2]
			i += 3
		case f == "$var":
			require.Equal(t, "wire", fields[i+1])
			names[fields[i+3]] = fields[i+4]
			width[fields[i+3]] = must(t, fields[i+2])
			for fields[i] != "$end" {
				i++
			}
		case f == "$scope" || f == "$upscope" || f == "$enddefinitions":
			for fields[i] != "$end" {
				i++
			}
		case f == "$dumpvars" || f == "$end":
		case f[0] == '#':
			if len(times) > 0 {
				snapshot := map[string]string{}
				for k, v := range now {
					snapshot[k] = v
				}
				values = append(values, snapshot)
			}
			times = append(times, f[1:])
		case f[0] == 'b':
			i++
			v := f[1:]
			for len(v) < width[fields[i]] { // left-extended: 0 for 0 and 1, z for z
				if v[0] == 'z' {
					v = "z" + v
				} else {
					v = "0" + v
				}
			}
			require.Contains(t, names, fields[i])
			now[names[fields[i]]] = v
		default:
			require.Contains(t, names, f[1:])
			now[names[f[1:]]] = f[:1]
		}
	}
	return
}

// The dump shows the same pins as the half rows of the CSV sheet, active low.
func TestVCDShowsTheHalfClocks(t *testing.T) {
	var dump, rows bytes.Buffer
	m := sheetCPU(t)
	v := NewVCD(&dump, 3579545*Hz, 260, []string{"note"})
	m.Trace(v.Cycle)
	m.ResetPulses()
	m.Run(Limits{Clocks: 260, Until: -1}, nil)
	require.NoError(t, v.Close())
	sheet(t, sheetCPU(t), SheetOptions{Every: EveryHalf, Clocks: 260}, NewCSV(&rows), true)
	recs, err := csv.NewReader(&rows).ReadAll()
	require.NoError(t, err)
	scale, times, values := vcdChanges(t, dump.String())
	assert.Equal(t, "1 ps", scale)
	require.Len(t, values, 520)
	require.Len(t, times, 521)
	// half a clock of 3.579545 MHz is 139682.55...ps: edges are k/(2f) rounded,
	// worked out here in 10^12/(2*3579545) as integers
	for k, s := range times {
		want := (2*int64(k)*1e12/2 + 3579545) / (2 * 3579545)
		assert.Equal(t, strconv.FormatInt(want, 10), s)
	}
	for i, r := range recs[1:] {
		v := values[i]
		clk := "0"
		if r[1] == "H" {
			clk = "1"
		}
		assert.Equal(t, clk, v["CLK"])
		if r[7] == "" {
			assert.Equal(t, strings.Repeat("z", 16), v["A"])
		} else {
			n, _ := strconv.ParseUint(r[7], 16, 16)
			assert.Equal(t, n, bin(t, v["A"]))
		}
		if r[8] == "" {
			assert.Equal(t, "zzzzzzzz", v["D"])
		} else {
			n, _ := strconv.ParseUint(r[8], 16, 8)
			assert.Equal(t, n, bin(t, v["D"]))
		}
		for j, name := range LampNames {
			assert.NotEqual(t, r[9+j], v[name+"_n"], "%s in half %d", name, i)
		}
		assert.Equal(t, i >= 6, v["RESET_n"] == "1")
	}
	dump.Reset()
	m = sheetCPU(t)
	v = NewVCD(&dump, 0, 3, nil)
	m.Trace(v.Cycle)
	m.Run(Limits{Clocks: 3, Until: -1}, nil)
	require.NoError(t, v.Close())
	_, times, _ = vcdChanges(t, dump.String())
	assert.Equal(t, []string{"0", "1", "2", "3", "4", "5", "6"}, times)
}

func bin(t *testing.T, s string) uint64 {
	t.Helper()
	n, err := strconv.ParseUint(s, 2, 16)
	require.NoError(t, err)
	return n
}

// Limits end a run where they say.
func TestLimits(t *testing.T) {
	run := func(lim Limits, setup func(*CPU)) (Outcome, *CPU) {
		m := sheetCPU(t)
		if setup != nil {
			setup(m)
		}
		return m.Run(lim, nil), m
	}
	o, _ := run(Limits{Clocks: 11, Until: -1}, nil)
	assert.Equal(t, Outcome{EndClocks, 17, 2}, o, "10 for LD SP,nn and 7 for LD B,n")
	o, _ = run(Limits{Instructions: 3, Until: -1}, nil)
	assert.Equal(t, Outcome{EndInstructions, 34, 3}, o)
	o, m := run(Limits{Until: 0x10}, nil)
	assert.Equal(t, Outcome{EndUntil, 34, 3}, o)
	assert.Equal(t, uint16(0x10), m.PC())
	o, _ = run(Limits{Until: 0x7FFF}, func(m *CPU) { m.SetInterrupts(nil, nil) })
	assert.Equal(t, EndHalted, o.End)
	m = New()
	require.NoError(t, m.LoadROM(0, []byte{0xC3, 0, 0}, func(int) bool { return true }))
	o = m.Run(Limits{Until: 0x7FFF}, nil)
	assert.Equal(t, EndUnreached, o.End)
	o = m.Run(Limits{Until: 0, Clocks: o.Clocks + 100}, nil)
	assert.Equal(t, EndUntil, o.End)
	assert.Equal(t, int64(1), o.Instructions, "the first instruction does not count")
	// a prefix is no instruction of its own
	m = New()
	require.NoError(t, m.LoadROM(0, []byte{0xDD, 0xDD, 0x00, 0x00}, func(int) bool { return true }))
	assert.Equal(t, int64(12), m.Run(Limits{Instructions: 1, Until: 1}, nil).Clocks)
}

// The warnings of a run that does everything wrong.
func TestWarnings(t *testing.T) {
	var got []Warning
	m := New()
	require.NoError(t, m.LoadROM(0, []byte{
		0x31, 0x02, 0x00, // 0000 LD SP,0002H
		0xC5,             // 0003 PUSH BC
		0x3A, 0x00, 0x40, // 0004 LD A,(4000H)
		0x32, 0x00, 0x00, // 0007 LD (0000H),A
		0x32, 0x00, 0x40, // 000A LD (4000H),A
		0xDB, 0x20, //       000D IN A,(20H)
		0xDB, 0x21, //       000F IN A,(21H)
		0xDB, 0x20, //       0011 IN A,(20H)
		0x18, 0x01, 0xFF, // 0013 JR 0016H
		0xFF, // 0016 blank: RST 38H
	}, nil))
	m.OnWarning(func(w Warning) { got = append(got, w) })
	m.Run(Limits{Instructions: 40, Until: -1}, nil)
	want := []Warning{
		{Kind: StackOutsideRAM, Addr: 1, Data: 0xFF, Inst: 3, Clock: 16},
		{Kind: UnfittedRead, Addr: 0x4000, Inst: 4, Clock: 32},
		{Kind: ROMWrite, Addr: 0, Data: 0xFF, Inst: 7, Clock: 45},
		{Kind: UnfittedWrite, Addr: 0x4000, Data: 0xFF, Inst: 0xA, Clock: 58},
		{Kind: UncoveredPort, Addr: 0xFF20, Inst: 0xD, Clock: 68},
		{Kind: UncoveredPort, Addr: 0xFF21, Inst: 0xF, Clock: 79},
		{Kind: BlankFetch, Addr: 0x16, Inst: 0x16, Clock: 106},
		{Kind: StackOutsideRAM, Addr: 0xFFFF, Inst: 0x16, Clock: 111},
		{Kind: UnfittedFetch, Addr: 0x38, Inst: 0x38, Clock: 117},
		{Kind: StackOutsideRAM, Addr: 0xFFFD, Inst: 0x38, Clock: 122},
	}
	assert.Equal(t, want, got, "each is told once for an instruction's address, a port once")
}

// Random bytes as a program, random ports and interrupts: nothing may panic or
// hang, clocks go up by each cycle's T-states, every address bus value is
// accounted for.
func TestAnyProgramRuns(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		m := New()
		prog := rapid.SliceOfN(rapid.Byte(), 1, 200).Draw(r, "program")
		require.NoError(t, m.LoadROM(0, prog, nil))
		require.NoError(t, m.FitRAM(RAM{0x8000, 0x100}))
		m.im = uint8(rapid.IntRange(0, 2).Draw(r, "mode"))
		m.iff1 = true
		m.SetInterrupts([]Request{{int64(rapid.IntRange(0, 300).Draw(r, "int")), rapid.Byte().Draw(r, "data")}},
			[]int64{int64(rapid.IntRange(0, 300).Draw(r, "nmi"))})
		m.OnWarning(func(Warning) {})
		var clock, no int64
		s := NewSheet(m, SheetOptions{Every: Every(rapid.IntRange(0, 3).Draw(r, "every"))}, NewCSV(&bytes.Buffer{}))
		m.Trace(func(c *Cycle) bool {
			no++
			if c.Clock != clock+1 || c.No != no || c.T < 3 || c.T > 8 {
				r.Fatalf("cycle %+v after clock %d", c, clock)
			}
			clock += int64(c.T)
			return s.Cycle(c)
		})
		m.Run(Limits{Clocks: 600, Until: -1}, NewProfile(m))
		require.NoError(t, s.Close())
		if clock != m.Clock() {
			r.Fatalf("cycles come to %d clocks, the CPU to %d", clock, m.Clock())
		}
	})
}
