package bus

// State is what the CPU holds between two instructions.
type State struct {
	A, F, B, C, D, E, H, L byte
	I, R                   byte
	IX, IY, SP, PC         uint16
	AF2, BC2, DE2, HL2     uint16 // the alternate set
	WZ                     uint16 // hidden address register
	IFF1, IFF2             bool
	IM                     uint8
	Halted                 bool
	Q                      byte // F if the last instruction wrote the flags, else 0
	AfterEI                bool // the last instruction was EI: interrupts wait
	AfterLDAI              bool // it was LD A,I or LD A,R: an interrupt spoils P/V
}

// State gives the CPU's state.
func (m *CPU) State() State {
	alt := func(p int) uint16 { return uint16(m.alt[p])<<8 | uint16(m.alt[p+1]) }
	return State{
		A: m.r[rA], F: m.r[rF], B: m.r[rB], C: m.r[rC], D: m.r[rD], E: m.r[rE], H: m.r[rH], L: m.r[rL],
		I: m.i, R: m.rr, IX: m.pair(rIXH), IY: m.pair(rIYH), SP: m.sp(), PC: m.pc,
		AF2: alt(rA), BC2: alt(rB), DE2: alt(rD), HL2: alt(rH), WZ: m.wz,
		IFF1: m.iff1, IFF2: m.iff2, IM: m.im, Halted: m.halted, Q: m.q,
		AfterEI: m.after&afterEI != 0, AfterLDAI: m.after&afterLDAI != 0,
	}
}

// SetState puts the CPU into a state. Every register then counts as set by the
// program.
func (m *CPU) SetState(s State) {
	m.r = [16]byte{s.B, s.C, s.D, s.E, s.H, s.L, s.A, s.F}
	m.setPair(rIXH, s.IX)
	m.setPair(rIYH, s.IY)
	m.setSP(s.SP)
	for i, v := range [...]uint16{s.BC2, s.DE2, s.HL2, s.AF2} {
		m.alt[2*i], m.alt[2*i+1] = byte(v>>8), byte(v)
	}
	m.pc, m.wz, m.i, m.rr = s.PC, s.WZ, s.I, s.R
	m.iff1, m.iff2, m.im, m.halted, m.q = s.IFF1, s.IFF2, s.IM, s.Halted, s.Q
	m.after = 0
	if s.AfterEI {
		m.after |= afterEI
	}
	if s.AfterLDAI {
		m.after |= afterLDAI
	}
	m.known, m.altK = 1<<(bitCY+1)-1, 1<<(bitCY+1)-1
}

// Poke puts a byte into memory, whatever is fitted there, without a bus access.
func (m *CPU) Poke(a uint16, b byte) { m.mem[a] = b }
