package bus

// WarnKind says what is doubtful.
type WarnKind uint8

// The warnings.
const (
	ROMWrite        WarnKind = iota // a write to ROM; nothing happens there
	UnfittedWrite                   // a write where nothing is fitted
	UnfittedRead                    // a read where nothing is fitted; FFH is read
	UnfittedFetch                   // part of an instruction is fetched where nothing is fitted
	BlankFetch                      // part of an instruction is fetched from a cell nothing was put into
	StackOutsideRAM                 // a push to an address without RAM, or a pop where nothing is fitted
	UncoveredPort                   // a port is read that no stimulus covers; FFH is read
	UnsetRegister                   // a register is used that the program never set
	warnKinds
)

// Warning is one doubtful access. Each kind is told once for an instruction's
// address, UncoveredPort once for A7-A0 of the port, UnsetRegister once for a
// register.
type Warning struct {
	Kind     WarnKind
	Addr     uint16 // memory address, or port
	Data     byte   // the byte of a write
	Inst     uint16 // address of the instruction
	Clock    int64  // first clock of the machine cycle, of the instruction for UnsetRegister; 1-based
	Register string // "B", "HL", "IX", "carry flag"
}

// warned remembers what was told; its size does not depend on the run.
type warned struct {
	at    [warnKinds]*[65536 / 64]uint64
	regs  uint16
	blank uint16 // address after the last blank cell told, so a run of them is told once
}

func (m *CPU) warning(w Warning) {
	if m.warn == nil || m.stopped {
		return
	}
	key := m.inst
	if w.Kind == UncoveredPort {
		key = w.Addr & 0xFF
	}
	set := m.warned.at[w.Kind]
	if set == nil {
		set = new([65536 / 64]uint64)
		m.warned.at[w.Kind] = set
	}
	if set[key/64]&(1<<(key%64)) != 0 {
		return
	}
	set[key/64] |= 1 << (key % 64)
	w.Inst, w.Clock = m.inst, m.clock+1
	m.warn(w)
}

func (m *CPU) badWrite(a uint16, b byte) {
	k := UnfittedWrite
	if m.cells[a]&fitted != 0 {
		k = ROMWrite
	}
	m.warning(Warning{Kind: k, Addr: a, Data: b})
}

func (m *CPU) badFetch(a uint16) {
	k := BlankFetch
	if m.cells[a]&fitted == 0 {
		k = UnfittedFetch
	}
	run := a == m.warned.blank
	m.warned.blank = a + 1
	if run && a != 0 {
		return
	}
	m.warning(Warning{Kind: k, Addr: a})
}

// needs warns if a register in mask was never set.
func (m *CPU) needs(mask uint16) {
	if mask&^m.known != 0 {
		m.unset(mask)
	}
}

func (m *CPU) unset(mask uint16) {
	mask &^= m.known | m.warned.regs
	m.warned.regs |= mask
	if m.warn == nil || m.stopped {
		return
	}
	for i := 0; i < len(registerNames) && mask != 0; i++ {
		n := &registerNames[i]
		if mask&n.mask == n.mask {
			mask &^= n.mask
			m.warn(Warning{Kind: UnsetRegister, Register: n.name, Inst: m.inst, Clock: m.at + 1})
		}
	}
}

// pairs stand before their halves, so that HL is told as HL
var registerNames = [...]struct {
	mask uint16
	name string
}{
	{maskBC, "BC"}, {maskDE, "DE"}, {maskHL, "HL"}, {3 << rIXH, "IX"}, {3 << rIYH, "IY"}, {maskSP, "SP"},
	{1 << rB, "B"}, {1 << rC, "C"}, {1 << rD, "D"}, {1 << rE, "E"}, {1 << rH, "H"}, {1 << rL, "L"},
	{maskA, "A"}, {1 << rIXH, "IXH"}, {1 << rIXL, "IXL"}, {1 << rIYH, "IYH"}, {1 << rIYL, "IYL"},
	{maskF, "flags"}, {maskCY, "carry flag"}, {1 << rSPH, "SP"}, {1 << rSPL, "SP"},
}
