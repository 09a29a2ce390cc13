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
	PC, SP, WZ, IX, IY           uint16
	AF2                          uint16 `json:"af_"`
	BC2                          uint16 `json:"bc_"`
	DE2                          uint16 `json:"de_"`
	HL2                          uint16 `json:"hl_"`
	A, B, C, D, E, F, H, L, I, R byte
	IFF1, IFF2, IM, EI, P, Q     int
	RAM                          [][2]int
}

func (s *vecState) state() State {
	return State{
		A: s.A, F: s.F, B: s.B, C: s.C, D: s.D, E: s.E, H: s.H, L: s.L, I: s.I, R: s.R,
		IX: s.IX, IY: s.IY, SP: s.SP, PC: s.PC, AF2: s.AF2, BC2: s.BC2, DE2: s.DE2, HL2: s.HL2, WZ: s.WZ,
		IFF1: s.IFF1 != 0, IFF2: s.IFF2 != 0, IM: uint8(s.IM), Q: byte(s.Q), AfterEI: s.EI != 0, AfterLDAI: s.P != 0,
	}
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

// run runs one vector on a CPU with 64K of RAM and gives what differs, "" for
// nothing. It uses nothing but what the package exports.
func (v *vector) run(m *CPU) string {
	m.SetState(v.Initial.state())
	for _, c := range v.Initial.RAM {
		m.Poke(uint16(c[0]), byte(c[1]))
	}
	var want []access // of ports
	var in []Stimulus
	for _, p := range v.Ports {
		port, data := uint16(p[0].(float64)), int(p[1].(float64))
		if p[2] == "r" {
			in = append(in, Stimulus{Match: WholePort, Port: port, Value: byte(data)})
			want = append(want, access{"in", port, data})
		} else {
			want = append(want, access{"out", port, data})
		}
	}
	m.SetPorts(in)
	var all, ports []access
	wrong, t := 0, 0
	m.Trace(func(c *Cycle) bool {
		kind := map[Kind]string{Fetch: "r", Read: "r", Write: "w", In: "in", Out: "out"}[c.Kind]
		if kind != "" {
			all = append(all, access{kind, c.Addr, int(c.Data)})
		}
		if kind == "in" || kind == "out" {
			ports = append(ports, access{kind, c.Addr, int(c.Data)})
		}
		// the address bus: the access's in T1, I:R in T3 of a fetch
		if t+2 < len(v.Cycles) {
			at, addr := t, c.Addr
			if c.Kind == Fetch {
				at, addr = t+2, c.Refresh
			}
			if uint16(v.Cycles[at][0].(float64)) != addr {
				wrong++
			}
		}
		t += c.T
		return true
	})
	for start := m.Clock(); m.Clock()-start < int64(len(v.Cycles)); {
		m.Step() // twice for DD and FD before an opcode they do not change
	}
	if got, want := m.State(), v.Final.state(); got != want {
		got.Halted = want.Halted // the set has no such state
		if got != want {
			return fmt.Sprintf("state\n got %+v\nwant %+v", got, want)
		}
	}
	for _, c := range v.Final.RAM {
		if m.Peek(uint16(c[0])) != byte(c[1]) {
			return fmt.Sprintf("memory %04XH: %02XH, want %02XH", c[0], m.Peek(uint16(c[0])), c[1])
		}
	}
	switch {
	case t != len(v.Cycles):
		return fmt.Sprintf("%d T-states, want %d", t, len(v.Cycles))
	case fmt.Sprint(ports) != fmt.Sprint(want):
		return fmt.Sprintf("ports\n got %v\nwant %v", ports, want)
	case fmt.Sprint(all) != fmt.Sprint(v.accesses()):
		return fmt.Sprintf("accesses\n got %v\nwant %v", all, v.accesses())
	case wrong > 0:
		return fmt.Sprintf("%d machine cycles with another address than the set has", wrong)
	}
	return ""
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
	m := New()
	require.NoError(t, m.FitRAM(RAM{0, 65536}))
	count, failed := 0, 0
	for _, file := range files {
		eachVector(t, file, func(v *vector) {
			count++
			if diff := v.run(m); diff != "" {
				if failed++; failed <= 20 {
					t.Errorf("%s: %s", v.Name, diff)
				}
			}
		})
	}
	require.GreaterOrEqual(t, count, 3208)
	t.Logf("%d vectors, %d failed", count, failed)
}
