package bus

import "fmt"

// Limits say how far a run goes. Zero values (for Until: -1) are no limit.
type Limits struct {
	Clocks       int64 // the run ends with the instruction in which this clock lies
	Instructions int64 // an idle fetch of HALT counts as one, an interrupt's acceptance as none
	Until        int   // the run ends before the instruction at this address; the first one does not count
}

// DefaultClocks is how far a sheet goes without limits.
const DefaultClocks = 64

// ReportClocks is how far a timing report alone goes without limits.
const ReportClocks = 1_000_000

// MaxUntilClocks bounds a run that has no other limit than an address.
const MaxUntilClocks = 10_000_000

// End says why a run ended.
type End uint8

// The ends.
const (
	EndClocks       End = iota
	EndInstructions     // so many were run
	EndUntil            // the address was reached
	EndHalted           // HALT, and nothing is left that could end it, so the address is never reached
	EndUnreached        // MaxUntilClocks passed without reaching the address
	EndSink             // the sink had enough
)

// Outcome is what a run came to.
type Outcome struct {
	End          End
	Clocks       int64
	Instructions int64
}

// Run runs the CPU within limits; p, if not nil, watches for the timing
// report. Nothing is stored, so a run may be as long as it likes.
func (m *CPU) Run(lim Limits, p *Profile) Outcome {
	clocks := lim.Clocks
	end := EndClocks
	if lim.Until >= 0 && clocks == 0 && lim.Instructions == 0 {
		clocks, end = MaxUntilClocks, EndUnreached
	}
	var n int64
	for {
		switch {
		case m.stopped:
			return Outcome{EndSink, m.clock, n}
		case clocks > 0 && m.clock >= clocks:
			return Outcome{end, m.clock, n}
		case lim.Instructions > 0 && n >= lim.Instructions:
			return Outcome{EndInstructions, m.clock, n}
		case lim.Until >= 0 && n > 0 && int(m.pc) == lim.Until && m.after&afterPrefix == 0 && !m.halted:
			return Outcome{EndUntil, m.clock, n}
		case end == EndUnreached && m.halted && len(m.nmis) == 0 && (len(m.ints) == 0 || !m.iff1):
			return Outcome{EndHalted, m.clock, n}
		}
		accepted := m.Step()
		if !accepted && m.after&afterPrefix == 0 {
			n++
		}
		if p != nil {
			p.step(m, accepted)
		}
	}
}

// ClockOne says in words which pulse of the board clock 1 of a run is.
func ClockOne(reset bool, start uint16) string {
	if reset {
		return fmt.Sprintf("Clock 1 is the first of the %d pulses in which RESET is held; RESET is released after pulse %d, and the first T1 (fetch at %s) is clock %d.",
			ResetHeld, ResetHeld, hex4(start), ResetHeld+ResetAfter+1)
	}
	if start != 0 {
		return fmt.Sprintf("Clock 1 is the T1 of the fetch at %s, where this run begins.", hex4(start))
	}
	return fmt.Sprintf("Clock 1 is the first T1 (fetch at 0000H): pulse %d after the release of RESET, since %d T-states pass first.",
		ResetAfter+1, ResetAfter)
}

// SlowClock is the rate under which SlowClockCaution is worth saying.
const SlowClock = 1000 * Hz

// SlowClockCaution goes with a single-stepped or slow clock.
const SlowClockCaution = "a clock this slow, or stepped by hand, suits only fully static (CMOS) CPUs: " +
	"NMOS parts lose their registers if the clock rests too long; see the limits in the maker's data sheet of your part"
