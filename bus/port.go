package bus

import "sort"

// PortMatch says which bits of the port address a stimulus looks at.
type PortMatch uint8

// The ways to match a port.
const (
	AnyPort   PortMatch = iota
	LowPort             // A7-A0
	WholePort           // A15-A0
)

// Stimulus is a value that a port reads as from a clock on. Where several
// apply the one with the latest clock wins; of the same clock the more
// specific one; of those the one given last.
type Stimulus struct {
	Clock int64 // the value is seen by reads that sample in this clock or later; 0 or 1 from the start
	Match PortMatch
	Port  uint16
	Value byte
}

// ports answers I/O reads.
type ports struct {
	list  []Stimulus // sorted; not yet in force
	n     int        // counts what came into force, for "the latest wins"
	any   portValue
	low   [256]portValue
	whole map[uint16]portValue
}

type portValue struct {
	since int // 0: none
	value byte
}

// SetPorts sets what the ports read as.
func (m *CPU) SetPorts(list []Stimulus) {
	l := append([]Stimulus(nil), list...)
	sort.SliceStable(l, func(i, j int) bool {
		a, b := max(l[i].Clock, 1), max(l[j].Clock, 1)
		return a < b || a == b && l[i].Match < l[j].Match
	})
	m.ports = ports{list: l}
}

// read gives the value of a port sampled in a clock and whether a stimulus
// covers it; clocks never go back.
func (p *ports) read(port uint16, clock int64) (byte, bool) {
	for len(p.list) > 0 && p.list[0].Clock <= clock {
		s := &p.list[0]
		p.n++
		v := portValue{p.n, s.Value}
		switch s.Match {
		case AnyPort:
			p.any = v
		case LowPort:
			p.low[s.Port&0xFF] = v
		default:
			if p.whole == nil {
				p.whole = map[uint16]portValue{}
			}
			p.whole[s.Port] = v
		}
		p.list = p.list[1:]
	}
	best := p.any
	if v := p.low[port&0xFF]; v.since > best.since {
		best = v
	}
	if p.whole != nil {
		if v := p.whole[port]; v.since > best.since {
			best = v
		}
	}
	if best.since == 0 {
		return 0xFF, false
	}
	return best.value, true
}
