package bus

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The T-states in these tests are added up by hand from the manual's
// instruction pages.

func profiled(t *testing.T, prog []byte, clocks int64, setup func(*CPU)) (*CPU, *Profile) {
	t.Helper()
	m := New()
	require.NoError(t, m.LoadROM(0, prog, func(int) bool { return true }))
	require.NoError(t, m.FitRAM(RAM{0x8000, 0x8000}))
	if setup != nil {
		setup(m)
	}
	p := NewProfile(m)
	m.Run(Limits{Clocks: clocks, Until: -1}, p)
	return m, p
}

// IN A,(20H) 11, OR A 4, JR Z,+2 12/7, OUT (21H),A 11, JP 0 10: a lap is
// 11+4+12+10 = 37 T-states while the port reads 0, 11+4+7+11+10 = 43 else.
var poll = []byte{0xDB, 0x20, 0xB7, 0x28, 0x02, 0xD3, 0x21, 0xC3, 0x00, 0x00}

func TestReportOfAPollingLoop(t *testing.T) {
	// ten laps of 37, then laps of 43
	_, p := profiled(t, poll, 370+430, func(m *CPU) {
		m.SetPorts([]Stimulus{{0, LowPort, 0x20, 0}, {371, LowPort, 0x20, 1}})
	})
	r := p.Report(ReportOptions{Freq: 500e3 * Hz, Press: 50 * time.Millisecond})
	assert.Equal(t, int64(800), r.TStates)
	assert.Equal(t, int64(10*4+10*5), r.Instructions)
	require.Len(t, r.Ports, 2)
	in, out := r.Ports[0], r.Ports[1]
	assert.Equal(t, uint8(0x20), in.Port)
	assert.False(t, in.Write)
	assert.Equal(t, int64(20), in.Count)
	assert.Equal(t, 37.0, in.Shortest.TStates)
	assert.Equal(t, 43.0, in.Longest.TStates)
	assert.Equal(t, 86000.0, *in.Longest.Ns, "43 T-states of 2 µs")
	assert.InDelta(t, (10*37+9*43)/19.0, in.Mean.TStates, 1e-9)
	assert.Equal(t, int64(4+3+4), in.FirstClock, "T3 of the I/O read is the 11th T-state")
	assert.Equal(t, int64(10), out.Count)
	assert.True(t, out.Write)
	assert.Equal(t, 43.0, out.Shortest.TStates)
	require.Len(t, r.Loops, 1)
	assert.Equal(t, LoopUse{Head: 0, Jump: 7, Laps: 20, Shortest: Span{37, ns(74000)}, Mean: Span{40, ns(80000)}, Longest: Span{43, ns(86000)}}, r.Loops[0])
	require.Len(t, r.Routines, 1)
	assert.Equal(t, 1.0, r.Routines[0].Share)
	require.Len(t, r.Presses, 1)
	assert.True(t, *r.Presses[0].Seen)
	assert.Equal(t, 860.0, r.Presses[0].SlowestHz, "43 T-states in 50 ms")
}

func ns(v float64) *float64 { return &v }

// A delay routine: LD B,5 7, then 4 times DJNZ 13 and once 8, RET 10; called
// by CALL 17 from a loop closed by JR 12. Before: LD SP,9000H 10.
func TestReportOfNestedLoops(t *testing.T) {
	prog := []byte{
		0x31, 0x00, 0x90, // 0000 LD SP,9000H
		0xCD, 0x08, 0x00, // 0003 CALL 0008H
		0x18, 0xFB, //       0006 JR 0003H
		0x06, 0x05, //       0008 LD B,5
		0x10, 0xFE, //       000A DJNZ 000AH
		0xC9, //             000C RET
	}
	const lap = 17 + 7 + 4*13 + 8 + 10 + 12
	_, p := profiled(t, prog, 10+100*lap, nil)
	r := p.Report(ReportOptions{})
	require.Len(t, r.Loops, 2)
	assert.Equal(t, LoopUse{Head: 3, Jump: 6, Laps: 100, Shortest: Span{lap, nil}, Mean: Span{lap, nil}, Longest: Span{lap, nil}}, r.Loops[0])
	assert.Equal(t, LoopUse{Head: 0xA, Jump: 0xA, Laps: 400, Shortest: Span{13, nil}, Mean: Span{13, nil}, Longest: Span{13, nil}}, r.Loops[1])
	require.Len(t, r.Routines, 2)
	assert.Equal(t, uint16(8), r.Routines[0].Addr)
	assert.Equal(t, int64(100), r.Routines[0].Calls)
	assert.Equal(t, int64(100*(7+4*13+8+10)), r.Routines[0].TStates)
	assert.Equal(t, int64(10+100*(17+12)), r.Routines[1].TStates)
	assert.Empty(t, r.Ports)
}

// An interrupt's routine and HALT: EI 4, HALT 4, idle fetches of 4 until the
// interrupt; acceptance 13 in IM 1, RETI 14 count for the routine at 0038H.
func TestReportOfInterruptAndHalt(t *testing.T) {
	prog := make([]byte, 0x40)
	copy(prog, []byte{0x31, 0x00, 0x90, 0xED, 0x56, 0xFB, 0x76, 0x18, 0xFC}) // LD SP; IM 1; EI; HALT; JR EI
	copy(prog[0x38:], []byte{0xED, 0x4D})                                    // RETI
	_, p := profiled(t, prog, 10+8+4+4+10*4+13+14+12, func(m *CPU) {
		m.SetInterrupts([]Request{{Clock: 10 + 8 + 4 + 4 + 10*4, Data: 0xFF}}, nil)
	})
	r := p.Report(ReportOptions{})
	assert.Equal(t, int64(40), r.Halted)
	byAddr := map[uint16]int64{}
	for _, u := range r.Routines {
		byAddr[u.Addr] = u.TStates
	}
	assert.Equal(t, map[uint16]int64{0: 10 + 8 + 4 + 4 + 12, 0x38: 13 + 14}, byAddr)
}

// Calls that never return, or a stack pointer that wanders, must cost no
// memory: CALL 0000H for ever.
func TestProfileOfEndlessCalls(t *testing.T) {
	_, p := profiled(t, []byte{0xCD, 0x00, 0x00}, 17*200_000, nil)
	assert.LessOrEqual(t, len(p.frames), maxFrames)
	assert.Equal(t, int64(17*200_000), p.Report(ReportOptions{}).TStates)
}

// Presses at every moment of a run, counted by brute force, against the
// answer. Programs are random mixes of reads and delays in a loop.
func TestPressesAgainstBruteForce(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for trial := range 40 {
		var prog []byte
		reads := 1 + rng.IntN(3)
		for range reads {
			prog = append(prog, 0xDB, 0x20)
			for range rng.IntN(8) {
				prog = append(prog, []byte{0x00, 0x23, 0xE3, 0xB7}[rng.IntN(4)])
			}
		}
		prog = append(prog, 0xC3, 0, 0)
		m := New()
		require.NoError(t, m.LoadROM(0, prog, nil))
		p := NewProfile(m)
		var samples []int64
		watch := m.portFn
		m.portFn = func(port uint16, b byte, w bool, clock int64) {
			samples = append(samples, clock)
			watch(port, b, w, clock)
		}
		m.Run(Limits{Clocks: 2000, Until: -1}, p)
		const f = 250e3 * Hz // 4 µs a T-state
		for press := int64(1); press < 120; press += 7 {
			r := p.Report(ReportOptions{Freq: f, Press: time.Duration(press) * 4 * time.Microsecond})
			require.Len(t, r.Presses, 1)
			// pressed right after each half clock, between first and last read
			seenAll := true
			for s := 2 * samples[0]; s+2*press < 2*samples[len(samples)-1]; s++ {
				seen := false
				for _, c := range samples {
					// a press over (s, s+2*press] in half clocks, half a
					// half clock later than s: never on an edge itself
					if 2*c > s && 2*c <= s+2*press {
						seen = true
						break
					}
				}
				seenAll = seenAll && seen
			}
			assert.Equal(t, seenAll, *r.Presses[0].Seen, "trial %d, press %d T: %v", trial, press, samples[:5])
			// and at the slowest clock itself, and just under it
			gap := r.Presses[0].Gap.TStates
			assert.Equal(t, fmt.Sprintf("%.3f", gap/(float64(press)*4e-6)), fmt.Sprintf("%.3f", r.Presses[0].SlowestHz))
		}
	}
}

func TestReportText(t *testing.T) {
	_, p := profiled(t, poll, 740, func(m *CPU) { m.SetPorts([]Stimulus{{0, AnyPort, 0, 0}}) })
	var b strings.Builder
	require.NoError(t, p.Report(ReportOptions{Freq: 1 * Hz, Press: 50 * time.Millisecond,
		Name: func(uint16) string { return "POLL" }, PortName: func(uint8) string { return "TRACK" }}).WriteText(&b))
	assert.Equal(t, `Timing of 740 T-states = 740 s, 80 instructions at 1 Hz

Ports: gaps from one access to the next
  port               times  shortest     mean         longest
  20H (TRACK)  read  20     37 T = 37 s  37 T = 37 s  37 T = 37 s
  at 1 Hz port 20H (TRACK) is read every 37 T-states = 37 s; an input must last 37 s to be seen for certain

Loops: laps from head to head, by the jump back
  head        jump   laps  shortest     mean         longest
  0000H POLL  0007H  20    37 T = 37 s  37 T = 37 s  37 T = 37 s

Share of time in each routine, without what it calls
  routine     calls  T-states  share
  0000H POLL  1      740       100.0 %

An input pressed for 50 ms, at any moment after the port's first read
  port 20H (TRACK): at most 37 T = 37 s from one read to the next. Some presses are missed: it must last 37 s to be seen for certain. Slowest clock at which every press is seen: 740 Hz.
`, b.String())
	b.Reset()
	require.NoError(t, p.Report(ReportOptions{}).WriteJSON(&b))
	assert.JSONEq(t, `{"tstates":740,"instructions":80,"halted_tstates":0,
		"ports":[{"port":32,"write":false,"count":20,"first_clock":11,"shortest":{"tstates":37},"mean":{"tstates":37},
			"longest":{"tstates":37},"longest_after_clock":11,"open":{"tstates":27}}],
		"loops":[{"head":0,"jump":7,"laps":20,"shortest":{"tstates":37},"mean":{"tstates":37},"longest":{"tstates":37}}],
		"routines":[{"address":0,"calls":1,"tstates":740,"share":1}]}`, b.String())
}
