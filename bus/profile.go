package bus

import (
	"math/big"
	"slices"
	"time"
)

// Profile watches a run for the timing report: gaps between port accesses,
// laps of loops, time in routines. Its size does not depend on the run.
type Profile struct {
	start int64 // clocks that had passed when watching began
	clock int64 // at the end of the last step
	insts int64

	ports map[portKey]*portUse

	visit [65536]int64 // clock at which the instruction there last began, +1; 0: never
	loops map[[2]uint16]*loopUse
	lost  bool // more loops than are kept

	self   [65536]int64 // T-states in the routine that begins there
	calls  [65536]int64
	entry  uint16 // where the run began
	frames []frame
	sp     uint16
	halted int64
}

type portKey struct {
	port  uint8
	write bool
}

type portUse struct {
	count             int64
	first, last       int64
	shortest, longest int64
	longestAt         int64
}

type loopUse struct {
	laps              int64
	shortest, longest int64
	sum               int64
}

// frame is a routine that was called and has not returned.
type frame struct {
	routine uint16
	sp      uint16 // where its return address lies
}

// maxLoops bounds the loops kept apart, maxFrames the depth of calls.
const (
	maxLoops  = 10_000
	maxFrames = 32_768
)

// NewProfile watches m from now on; hand it to CPU.Run.
func NewProfile(m *CPU) *Profile {
	p := &Profile{
		start: m.clock, clock: m.clock, entry: m.pc, sp: m.sp(),
		ports: map[portKey]*portUse{}, loops: map[[2]uint16]*loopUse{},
	}
	p.calls[m.pc] = 1
	m.portFn = func(port uint16, _ byte, write bool, clock int64) {
		if !m.stopped {
			p.port(portKey{uint8(port), write}, clock)
		}
	}
	return p
}

func (p *Profile) port(k portKey, clock int64) {
	u := p.ports[k]
	if u == nil {
		u = &portUse{first: clock}
		p.ports[k] = u
	} else {
		gap := clock - u.last
		if u.count == 1 || gap < u.shortest {
			u.shortest = gap
		}
		if gap > u.longest {
			u.longest, u.longestAt = gap, u.last
		}
	}
	u.count++
	u.last = clock
}

// step takes note of what CPU.Step just did.
func (p *Profile) step(m *CPU, accepted bool) {
	t := m.clock - p.clock
	if !accepted && m.op.flow == flowHalt && m.halted && m.op == &haltOp {
		p.halted += t
		p.clock = m.clock
		p.insts++
		return
	}
	if !accepted {
		p.visit[m.inst] = p.clock + 1
		if m.after&afterPrefix == 0 {
			p.insts++
		}
	}
	sp := m.sp()
	called := m.op.flow == flowCall && sp != p.sp
	if !accepted || !called { // an interrupt's acceptance counts for its routine
		p.self[p.routine()] += t
	}
	if called && len(p.frames) < maxFrames {
		p.frames = append(p.frames, frame{m.pc, sp})
		p.calls[m.pc]++
	} else if sp != p.sp {
		for n := len(p.frames); n > 0 && int16(sp-p.frames[n-1].sp) > 0; n-- {
			p.frames = p.frames[:n-1]
		}
	}
	if accepted && called {
		p.self[p.routine()] += t
	}
	p.sp = sp
	p.clock = m.clock
	if !accepted && m.op.flow == flowJump && m.pc <= m.inst && p.visit[m.pc] != 0 {
		p.lap(m.pc, m.inst, m.clock+1-p.visit[m.pc])
	}
}

func (p *Profile) routine() uint16 {
	if n := len(p.frames); n > 0 {
		return p.frames[n-1].routine
	}
	return p.entry
}

func (p *Profile) lap(head, jump uint16, t int64) {
	k := [2]uint16{head, jump}
	u := p.loops[k]
	if u == nil {
		if len(p.loops) == maxLoops {
			p.lost = true
			return
		}
		u = &loopUse{shortest: t}
		p.loops[k] = u
	}
	u.laps++
	u.sum += t
	u.shortest = min(u.shortest, t)
	u.longest = max(u.longest, t)
}

// Report is what a Profile found. Times are T-states; the members in ns are
// set where the clock rate is known.
type Report struct {
	TStates      int64        `json:"tstates"`
	Instructions int64        `json:"instructions"`
	Clock        string       `json:"clock,omitempty"`
	Ports        []PortUse    `json:"ports"`
	Loops        []LoopUse    `json:"loops"`
	MoreLoops    bool         `json:"more_loops,omitempty"` // there were more than are kept apart
	Routines     []RoutineUse `json:"routines"`
	Halted       int64        `json:"halted_tstates"`
	Presses      []Press      `json:"presses,omitempty"`

	freq  Frequency
	press time.Duration
}

// Span is a length in T-states, and in ns where the clock rate is known.
type Span struct {
	TStates float64  `json:"tstates"`
	Ns      *float64 `json:"ns,omitempty"`
}

// PortUse is how often a port (A7-A0) was read or written. The gaps are
// between neighbouring accesses, from T3 to T3; nil for fewer than two.
type PortUse struct {
	Port       uint8  `json:"port"`
	Name       string `json:"name,omitempty"`
	Write      bool   `json:"write"`
	Count      int64  `json:"count"`
	FirstClock int64  `json:"first_clock"` // clock of the first access, 1-based
	Shortest   *Span  `json:"shortest,omitempty"`
	Mean       *Span  `json:"mean,omitempty"`
	Longest    *Span  `json:"longest,omitempty"`
	LongestAt  int64  `json:"longest_after_clock,omitempty"` // clock of the access before the longest gap
	Open       Span   `json:"open"`                          // from the last access to the end of the run
}

// LoopUse is a loop: a jump back from Jump to Head, taken Laps times. A lap is
// the time from one beginning of Head to the next by way of that jump,
// subroutines, inner loops and interrupts included.
type LoopUse struct {
	Head     uint16 `json:"head"`
	Jump     uint16 `json:"jump"`
	Name     string `json:"name,omitempty"`
	Laps     int64  `json:"laps"`
	Shortest Span   `json:"shortest"`
	Mean     Span   `json:"mean"`
	Longest  Span   `json:"longest"`
}

// RoutineUse is the time in a routine without what it calls. A routine begins
// where a CALL, an RST or an interrupt leads, or where the run began.
type RoutineUse struct {
	Addr    uint16  `json:"address"`
	Name    string  `json:"name,omitempty"`
	Calls   int64   `json:"calls"`
	TStates int64   `json:"tstates"`
	Share   float64 `json:"share"` // of the whole run, 0 to 1
}

// Press is whether an input is seen that is pressed for some time at any
// moment after the port's first read.
type Press struct {
	Port    uint8  `json:"port"`
	Name    string `json:"name,omitempty"`
	PressNs int64  `json:"press_ns"`
	Gap     Span   `json:"longest_gap"` // between reads, or still open when the run ended
	Open    bool   `json:"open"`        // the gap was still open: it may be longer
	// Seen tells whether a press is seen however it falls; nil without a clock
	// rate.
	Seen *bool `json:"seen,omitempty"`
	// SlowestHz is the slowest clock at which every press would be seen,
	// rounded up to a millionth of a hertz.
	SlowestHz float64   `json:"slowest_hz"`
	Slowest   Frequency `json:"-"`
}

// ReportOptions say what a report adds to the counts.
type ReportOptions struct {
	Freq     Frequency
	Press    time.Duration            // 0: no press analysis
	Name     func(addr uint16) string // names a routine or loop; nil: none
	PortName func(port uint8) string  // names a port; nil: none
}

// Report sums up what was seen so far. Ports are in rising order, loops by
// address of head and jump, routines by falling share.
func (p *Profile) Report(opt ReportOptions) *Report {
	total := p.clock - p.start
	r := &Report{TStates: total, Instructions: p.insts, Halted: p.halted, MoreLoops: p.lost,
		Ports: []PortUse{}, Loops: []LoopUse{}, Routines: []RoutineUse{}, freq: opt.Freq, press: opt.Press}
	if opt.Freq != 0 {
		r.Clock = opt.Freq.String()
	}
	name := func(a uint16) string {
		if opt.Name == nil {
			return ""
		}
		return opt.Name(a)
	}
	portName := func(port uint8) string {
		if opt.PortName == nil {
			return ""
		}
		return opt.PortName(port)
	}
	for k, u := range p.ports {
		pu := PortUse{Port: k.port, Name: portName(k.port), Write: k.write, Count: u.count, FirstClock: u.first,
			Open: opt.Freq.span(float64(p.clock - u.last + 1))}
		if u.count > 1 {
			s, m, l := opt.Freq.span(float64(u.shortest)), opt.Freq.span(float64(u.last-u.first)/float64(u.count-1)), opt.Freq.span(float64(u.longest))
			pu.Shortest, pu.Mean, pu.Longest, pu.LongestAt = &s, &m, &l, u.longestAt
		}
		r.Ports = append(r.Ports, pu)
	}
	slices.SortFunc(r.Ports, func(a, b PortUse) int {
		if a.Port != b.Port {
			return int(a.Port) - int(b.Port)
		}
		if a.Write {
			return 1
		}
		return -1
	})
	for k, u := range p.loops {
		r.Loops = append(r.Loops, LoopUse{Head: k[0], Jump: k[1], Name: name(k[0]), Laps: u.laps,
			Shortest: opt.Freq.span(float64(u.shortest)), Mean: opt.Freq.span(float64(u.sum) / float64(u.laps)),
			Longest: opt.Freq.span(float64(u.longest))})
	}
	slices.SortFunc(r.Loops, func(a, b LoopUse) int {
		if a.Head != b.Head {
			return int(a.Head) - int(b.Head)
		}
		return int(a.Jump) - int(b.Jump)
	})
	for a := range p.self {
		if p.calls[a] == 0 || p.self[a] == 0 {
			continue
		}
		r.Routines = append(r.Routines, RoutineUse{Addr: uint16(a), Name: name(uint16(a)), Calls: p.calls[a],
			TStates: p.self[a], Share: float64(p.self[a]) / float64(total)})
	}
	slices.SortStableFunc(r.Routines, func(a, b RoutineUse) int {
		switch {
		case a.TStates > b.TStates:
			return -1
		case a.TStates < b.TStates:
			return 1
		}
		return 0
	})
	if opt.Press > 0 {
		for _, u := range r.Ports {
			if !u.Write {
				r.Presses = append(r.Presses, pressOf(&u, opt.Press, opt.Freq))
			}
		}
	}
	return r
}

func (f Frequency) span(t float64) Span {
	s := Span{TStates: t}
	if f != 0 {
		ns := t * 1e15 / float64(f)
		s.Ns = &ns
	}
	return s
}

// pressOf works out the answer for one port. A press that begins right after
// one read and ends right before the next is missed, so every press is seen if
// and only if it lasts at least as long as the longest gap.
func pressOf(u *PortUse, press time.Duration, f Frequency) Press {
	p := Press{Port: u.Port, Name: u.Name, PressNs: press.Nanoseconds(), Gap: u.Open, Open: true}
	if u.Longest != nil && u.Longest.TStates >= u.Open.TStates {
		p.Gap, p.Open = *u.Longest, false
	}
	// gap/press in millionths of a hertz, rounded up: gap * 1e15 / press in ns
	v := new(big.Int).Mul(big.NewInt(int64(p.Gap.TStates)), big.NewInt(1e15))
	ns := big.NewInt(press.Nanoseconds())
	v.Add(v, ns).Sub(v, big.NewInt(1)).Quo(v, ns)
	if v.IsUint64() {
		p.Slowest = Frequency(v.Uint64())
	} else {
		p.Slowest = ^Frequency(0)
	}
	p.SlowestHz = float64(p.Slowest) / float64(Hz)
	if f != 0 {
		seen := f >= p.Slowest
		p.Seen = &seen
	}
	return p
}
