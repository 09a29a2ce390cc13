package bus

import (
	"bufio"
	"compress/gzip"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// Source of the expectations here: the open data set SingleStepTests/z80 (see
// testdata/bus-vectors.README.md for origin and licence).

type vecState struct {
	PC, SP, WZ, IX, IY, AF_, BC_, DE_, HL_ uint16
	A, B, C, D, E, F, H, L, I, R           byte
	IFF1, IFF2, IM, EI, P, Q               int
	RAM                                    [][2]int
}

func (s *vecState) UnmarshalJSON(b []byte) error {
	var raw struct {
		PC, SP, WZ, IX, IY           uint16
		AF                           uint16 `json:"af_"`
		BC                           uint16 `json:"bc_"`
		DE                           uint16 `json:"de_"`
		HL                           uint16 `json:"hl_"`
		A, B, C, D, E, F, H, L, I, R byte
		IFF1, IFF2, IM, EI, P, Q     int
		RAM                          [][2]int
	}
	if err := json.Unmarshal(b, &raw); err != nil {
		return err
	}
	*s = vecState{raw.PC, raw.SP, raw.WZ, raw.IX, raw.IY, raw.AF, raw.BC, raw.DE, raw.HL,
		raw.A, raw.B, raw.C, raw.D, raw.E, raw.F, raw.H, raw.L, raw.I, raw.R,
		raw.IFF1, raw.IFF2, raw.IM, raw.EI, raw.P, raw.Q, raw.RAM}
	return nil
}

type vector struct {
	Name           string
	Initial, Final vecState
	Cycles         [][3]any
	Ports          [][3]any
}

// eachVector reads a file of one JSON object a line, or one JSON array of
// them (the form of the data set itself), gzipped or not.
func eachVector(t *testing.T, file string, f func(*vector)) {
	t.Helper()
	fh, err := os.Open(file)
	require.NoError(t, err)
	defer fh.Close()
	br := bufio.NewReader(fh)
	if magic, _ := br.Peek(2); len(magic) == 2 && magic[0] == 0x1F && magic[1] == 0x8B {
		zr, err := gzip.NewReader(br)
		require.NoError(t, err)
		br = bufio.NewReader(zr)
	}
	dec := json.NewDecoder(br)
	if c, _ := br.Peek(1); len(c) == 1 && c[0] == '[' {
		_, err := dec.Token()
		require.NoError(t, err)
	}
	for dec.More() {
		var v vector
		require.NoError(t, dec.Decode(&v), file)
		f(&v)
	}
}

func (m *CPU) load(s *vecState) {
	m.pc, m.wz, m.i, m.rr = s.PC, s.WZ, s.I, s.R
	m.r = [16]byte{s.B, s.C, s.D, s.E, s.H, s.L, s.A, s.F}
	m.setPair(rIXH, s.IX)
	m.setPair(rIYH, s.IY)
	m.setSP(s.SP)
	for i, v := range []uint16{s.BC_, s.DE_, s.HL_, s.AF_} {
		m.alt[2*i], m.alt[2*i+1] = byte(v>>8), byte(v)
	}
	m.iff1, m.iff2, m.im, m.q = s.IFF1 != 0, s.IFF2 != 0, uint8(s.IM), byte(s.Q)
	m.after = 0
	if s.EI != 0 {
		m.after |= afterEI
	}
	if s.P != 0 {
		m.after |= afterLDAI
	}
	for _, c := range s.RAM {
		m.mem[c[0]] = byte(c[1])
	}
}

func (m *CPU) state() vecState {
	one := func(b bool) int {
		if b {
			return 1
		}
		return 0
	}
	alt := func(i int) uint16 { return uint16(m.alt[i])<<8 | uint16(m.alt[i+1]) }
	return vecState{
		PC: m.pc, SP: m.sp(), WZ: m.wz, IX: m.pair(rIXH), IY: m.pair(rIYH),
		AF_: alt(rA), BC_: alt(rB), DE_: alt(rD), HL_: alt(rH),
		A: m.r[rA], B: m.r[rB], C: m.r[rC], D: m.r[rD], E: m.r[rE], F: m.r[rF], H: m.r[rH], L: m.r[rL],
		I: m.i, R: m.rr, IFF1: one(m.iff1), IFF2: one(m.iff2), IM: int(m.im),
		EI: one(m.after&afterEI != 0), P: one(m.after&afterLDAI != 0), Q: int(m.q),
	}
}

// access is a bus access: 'r' or 'w', memory or I/O, address, data.
type access struct {
	kind string
	addr uint16
	data int
}

// accesses reads them out of a vector's T-states. The set shows a read's
// strobes one T-state before its data, which stands where the address has
// changed to I:R after a fetch.
func (v *vector) accesses() []access {
	var list []access
	for i, c := range v.Cycles {
		pins := c[2].(string)
		kind := map[string]string{"r-m-": "r", "-wm-": "w", "r--i": "in", "-w-i": "out"}[pins]
		if kind == "" {
			continue
		}
		data := c[1]
		if pins[0] == 'r' && i+1 < len(v.Cycles) {
			data = v.Cycles[i+1][1]
		}
		list = append(list, access{kind, uint16(c[0].(float64)), int(data.(float64))})
	}
	return list
}

// vectorMachine is one CPU used again for all vectors: 64K of RAM.
type vectorMachine struct {
	*CPU
	accesses []access
	refresh  []uint16
	ports    [][3]any
	bad      string
}

func newVectorMachine(t *testing.T) *vectorMachine {
	v := &vectorMachine{CPU: New()}
	require.NoError(t, v.FitRAM(RAM{0, 65536}))
	v.CPU.ports.custom = func(port uint16) (byte, bool) {
		if len(v.ports) == 0 || v.ports[0][2] != "r" || uint16(v.ports[0][0].(float64)) != port {
			v.bad = fmt.Sprintf("reads port %04XH", port)
			return 0, true
		}
		b := byte(v.ports[0][1].(float64))
		v.ports = v.ports[1:]
		return b, true
	}
	v.portFn = func(port uint16, data byte, write bool, _ int64) {
		if !write {
			return
		}
		if len(v.ports) == 0 || v.ports[0][2] != "w" || uint16(v.ports[0][0].(float64)) != port || byte(v.ports[0][1].(float64)) != data {
			v.bad = fmt.Sprintf("writes %02XH to port %04XH", data, port)
			return
		}
		v.ports = v.ports[1:]
	}
	v.Trace(func(c *Cycle) bool {
		kind := map[Kind]string{Fetch: "r", Read: "r", Write: "w", In: "in", Out: "out"}[c.Kind]
		if kind != "" {
			v.accesses = append(v.accesses, access{kind, c.Addr, int(c.Data)})
		}
		if c.Kind == Fetch {
			v.refresh = append(v.refresh, c.Refresh)
		}
		return true
	})
	return v
}

// run checks one vector and gives what differs, "" for nothing.
func (v *vectorMachine) run(vec *vector) string {
	v.load(&vec.Initial)
	v.accesses, v.refresh, v.ports, v.bad = v.accesses[:0], v.refresh[:0], vec.Ports, ""
	v.halted = false
	start := v.clock
	v.Step()
	for v.op.lone { // DD and FD before an opcode they do not change
		v.Step()
	}
	want := vec.Final
	want.RAM = nil
	got := v.state()
	if fmt.Sprint(got) != fmt.Sprint(want) {
		return fmt.Sprintf("state\n got %+v\nwant %+v", got, want)
	}
	for _, c := range vec.Final.RAM {
		if v.mem[c[0]] != byte(c[1]) {
			return fmt.Sprintf("memory %04XH: %02XH, want %02XH", c[0], v.mem[c[0]], c[1])
		}
	}
	if t := v.clock - start; t != int64(len(vec.Cycles)) {
		return fmt.Sprintf("%d T-states, want %d", t, len(vec.Cycles))
	}
	if v.bad != "" || len(v.ports) > 0 {
		return fmt.Sprintf("ports: %s, left %v", v.bad, v.ports)
	}
	if want := vec.accesses(); fmt.Sprint(v.accesses) != fmt.Sprint(want) {
		return fmt.Sprintf("accesses\n got %v\nwant %v", v.accesses, want)
	}
	if r := v.wrongRefresh(vec); r != "" {
		return r
	}
	return ""
}

// wrongRefresh compares the refresh addresses with those of the set: I:R is on
// the address bus in T3 of each fetch.
func (v *vectorMachine) wrongRefresh(vec *vector) string {
	t, n := 0, 0
	v.load(&vec.Initial)
	v.sinkCycles(vec, func(c *Cycle) {
		if c.Kind == Fetch {
			if a := uint16(vec.Cycles[t+2][0].(float64)); a != c.Refresh {
				n++
			}
		} else if a := uint16(vec.Cycles[t][0].(float64)); a != c.Addr {
			n++
		}
		t += c.T
	})
	if n > 0 {
		return fmt.Sprintf("%d machine cycles with another address than the set has", n)
	}
	return ""
}

// sinkCycles runs the vector once more with another sink.
func (v *vectorMachine) sinkCycles(vec *vector, f func(*Cycle)) {
	old := v.sink
	v.ports, v.halted = vec.Ports, false
	v.Trace(func(c *Cycle) bool { f(c); return true })
	v.Step()
	for v.op.lone {
		v.Step()
	}
	v.sink = old
}

// ROMWRIGHT_VECTORS may name more files of the set (a glob), such as the 1,000
// vectors an opcode that are not kept here.
func TestVectors(t *testing.T) {
	files := []string{filepath.Join("..", "testdata", "bus-vectors.jsonl.gz")}
	if glob := os.Getenv("ROMWRIGHT_VECTORS"); glob != "" {
		more, err := filepath.Glob(glob)
		require.NoError(t, err)
		files = append(files, more...)
	}
	m := newVectorMachine(t)
	count, failed := 0, 0
	for _, file := range files {
		eachVector(t, file, func(v *vector) {
			count++
			if diff := m.run(v); diff != "" {
				if failed++; failed <= 20 {
					t.Errorf("%s: %s", v.Name, diff)
				}
			}
		})
	}
	require.GreaterOrEqual(t, count, 3208)
	t.Logf("%d vectors, %d failed", count, failed)
}
