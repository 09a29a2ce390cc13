// Package bus runs a memory image on a model of the CPU and yields every
// machine cycle, T-state and half clock of its bus.
//
// Instructions are decoded by the encoder's table, which also gives lengths
// and T-states; what an instruction does stands here (op.go binds a decoded
// form to its function, exec.go and alu.go hold the functions). Each function
// makes its bus accesses in the order of the real machine cycles, so the trace
// falls out of running and is never worked out a second time.
//
// A run is a stream: a Sink sees each Cycle as it happens and nothing is
// stored, so an endless loop costs no memory. Cycle.Half gives the pins for
// each half clock. Sheet turns cycles into rows for the writers (text, CSV,
// JSON); WriteVCD makes a waveform; Profile makes the timing report.
package bus

import (
	"math"
	"sort"
)

// Registers in the register file; the high half of a pair is the even one.
const (
	rB = iota
	rC
	rD
	rE
	rH
	rL
	rA
	rF
	rIXH
	rIXL
	rIYH
	rIYL
	rSPH
	rSPL
	bitCY = 14 // no register: carry has its own bit in the masks of what is known
)

// Cells of the memory.
const (
	fitted   = 1 << iota // a chip answers here
	writable             // RAM
	filled               // something was put here
)

// What the instruction just run means for an interrupt right after it.
const (
	afterEI     = 1 << iota // maskable interrupts wait for one more instruction
	afterPrefix             // no interrupt between a prefix and its opcode
	afterLDAI               // an interrupt spoils P/V of LD A,I and LD A,R
)

// Waits are the wait states a board adds to each kind of machine cycle, on top
// of those the CPU puts into I/O and acknowledge cycles by itself.
type Waits struct{ Fetch, Read, Write, IO int }

// MaxWaits bounds each number of Waits.
const MaxWaits = 1000

// Sink takes the machine cycles of a run as they happen. The Cycle is reused
// for the next one. Returning false ends the run.
type Sink func(*Cycle) bool

// CPU is a Z80 with its memory and ports. Make one with New.
//
// It models the NMOS part (OUT (C),0 writes 00H).
type CPU struct {
	r          [16]byte // register file, see rB
	pc, wz     uint16
	i, rr      byte // interrupt vector and refresh registers
	iff1, iff2 bool
	im         uint8
	halted     bool
	after      uint8
	q          byte // flags if the last instruction wrote them, else 0
	step       uint16
	alt        [8]byte // BC' DE' HL' AF' in the order of r

	clock int64 // clocks that have passed
	irqAt int64 // clock from which an interrupt may be waiting

	t    *[8]uint8 // T-states of the running instruction's machine cycles
	ci   int       // which of them comes next
	disp uint8     // displacement of a DD CB or FD CB instruction
	inst uint16    // address of the running instruction
	at   int64     // clocks that had passed when it began
	op   *op       // the running instruction

	mem   [65536]byte
	cells [65536]uint8
	pages [7][256]*op

	waits Waits
	known uint16 // registers the program has set; bits as in r, and bitCY
	altK  uint16 // the same for the alternate set

	ints  []Request
	nmis  []int64
	ports ports

	sink    Sink
	stopped bool
	cyc     Cycle
	cycNo   int64
	last    uint16 // last address on the bus
	first   bool
	nbyte   uint8

	warn   func(Warning)
	warned warned
	portFn func(port uint16, data byte, write bool, clock int64)
}

// Request is a maskable interrupt: the INT line goes active at Clock and stays
// so until it is acknowledged; Data is what the device then puts on the bus.
type Request struct {
	Clock int64
	Data  byte
}

// New gives a CPU after reset on an empty board: nothing fitted, PC, I and R
// 0, interrupts off, IM 0. The other registers hold FFFFH and count as unknown
// until the program sets them.
func New() *CPU {
	m := &CPU{step: 1, irqAt: math.MaxInt64, wz: 0xFFFF}
	for i := range m.r {
		m.r[i] = 0xFF
	}
	for i := range m.alt {
		m.alt[i] = 0xFF
	}
	for i := range m.mem {
		m.mem[i] = 0xFF // what a bus that nobody drives reads as
	}
	return m
}

// SetPC sets the address of the next instruction.
func (m *CPU) SetPC(pc uint16) { m.pc = pc }

// SetWaits sets the board's wait states.
func (m *CPU) SetWaits(w Waits) { m.waits = w }

// SetInterrupts sets the maskable interrupts and the clocks (1-based) at which
// NMI falls.
func (m *CPU) SetInterrupts(ints []Request, nmis []int64) {
	m.ints = append([]Request(nil), ints...)
	m.nmis = append([]int64(nil), nmis...)
	for i := range m.ints {
		m.ints[i].Clock = max(m.ints[i].Clock, 1)
	}
	for i := range m.nmis {
		m.nmis[i] = max(m.nmis[i], 1)
	}
	sort.SliceStable(m.ints, func(i, j int) bool { return m.ints[i].Clock < m.ints[j].Clock })
	sort.Slice(m.nmis, func(i, j int) bool { return m.nmis[i] < m.nmis[j] })
	m.nextIRQ()
}

// Trace sets the sink for machine cycles, nil for none.
func (m *CPU) Trace(s Sink) { m.sink = s }

// OnWarning sets who is told of doubtful accesses, nil for nobody.
func (m *CPU) OnWarning(f func(Warning)) { m.warn = f }

// Clock is the number of clocks that have passed.
func (m *CPU) Clock() int64 { return m.clock }

// PC is the address of the next instruction.
func (m *CPU) PC() uint16 { return m.pc }

// Halted tells whether the CPU stands in HALT.
func (m *CPU) Halted() bool { return m.halted }

// Peek gives the byte at an address without a bus access.
func (m *CPU) Peek(a uint16) byte { return m.mem[a] }

// RunClocks runs until at least n clocks have passed in all or the sink ends
// the run. It stops after whole instructions.
func (m *CPU) RunClocks(n int64) {
	for m.clock < n && !m.stopped {
		m.Step()
	}
}

// Step runs one instruction, one idle fetch of HALT, one prefix without effect
// or the acceptance of one interrupt. It reports whether an interrupt was
// accepted instead of an instruction.
func (m *CPU) Step() bool {
	m.first, m.nbyte = true, 0
	m.inst, m.at = m.pc, m.clock
	if m.clock >= m.irqAt && m.interrupt() {
		return true
	}
	m.after = 0
	if m.halted {
		m.idle()
		return false
	}
	m.ci = 1
	b := m.mem[m.pc]
	o := m.pages[pageMain][b]
	if o == nil {
		o = m.compile(pageMain, b)
	}
	if o.page == pageMain {
		m.t = &o.t
		m.m1(int64(o.t[0]))
		m.exec(o)
		return false
	}
	m.prefixed(o.page)
	return false
}

// exec runs the instruction whose opcode has been fetched.
func (m *CPU) exec(o *op) {
	if o.reads&^m.known != 0 {
		m.unset(o.reads)
	}
	m.op = o
	o.run(m, o)
	m.known |= o.writes
	m.q = m.r[rF] & o.q
}

// prefixed goes on after a first byte CB, DD, ED or FD, which has not been
// fetched yet.
func (m *CPU) prefixed(page uint8) {
	b := m.mem[m.pc+m.step]
	o := m.pages[page][b]
	if o == nil {
		o = m.compile(page, b)
	}
	m.t = &o.t
	m.m1(int64(o.t[0]))
	if o.lone {
		// the byte after it begins an instruction of its own; flags "just
		// written" stay so
		m.after = afterPrefix
		m.op = o
		return
	}
	m.second(o)
}

// second fetches and runs what follows a prefix.
func (m *CPU) second(o *op) {
	m.m1(int64(m.t[1]))
	m.ci = 2
	if o.page != pageMain { // DD CB, FD CB: the displacement stands before the opcode
		m.disp = m.imm()
		b := m.mem[m.pc]
		p := m.pages[o.page][b]
		if p == nil {
			p = m.compile(o.page, b)
		}
		o = p
		m.t = &o.t
		m.lastOpcode()
	}
	m.exec(o)
}

// idle is one fetch of HALT: the byte after the instruction is fetched and
// ignored.
func (m *CPU) idle() {
	m.op = &haltOp
	m.inst = m.pc - 1
	t := int64(4 + m.waits.Fetch)
	if m.sink != nil {
		m.emit(Fetch, RoleIgnored, m.pc, m.mem[m.pc], int(t), m.waits.Fetch)
	}
	m.rr = m.rr&0x80 | (m.rr+1)&0x7F
	m.clock += t
	m.q = 0
}

var haltOp = op{flow: flowHalt}

// m1 is an opcode fetch of t T-states from PC.
func (m *CPU) m1(t int64) {
	a := m.pc
	if m.cells[a]&(fitted|filled) != fitted|filled {
		m.badFetch(a)
	}
	if m.waits.Fetch != 0 {
		t += int64(m.waits.Fetch)
	}
	if m.sink != nil {
		m.emit(Fetch, RoleOpcode, a, m.mem[a], int(t), m.waits.Fetch)
	}
	m.clock += t
	m.pc = a + m.step
	m.rr = m.rr&0x80 | (m.rr+1)&0x7F
}

// imm reads the next byte of the instruction.
func (m *CPU) imm() byte {
	a := m.pc
	if m.cells[a]&(fitted|filled) != fitted|filled {
		m.badFetch(a)
	}
	b := m.mem[a]
	m.access(Read, RoleOperand, a, b, m.waits.Read)
	m.pc = a + m.step
	return b
}

// lastOpcode reads the last byte of a DD CB d or FD CB d instruction, which is
// no M1 cycle.
func (m *CPU) lastOpcode() {
	a := m.pc
	if m.cells[a]&(fitted|filled) != fitted|filled {
		m.badFetch(a)
	}
	m.access(Read, RoleOpcode, a, m.mem[a], m.waits.Read)
	m.pc = a + m.step
}

// imm16 reads the next two bytes of the instruction, low byte first.
func (m *CPU) imm16() uint16 {
	lo := m.imm()
	return uint16(m.imm())<<8 | uint16(lo)
}

// access lets the time of the instruction's next machine cycle pass and shows
// the cycle to the sink.
func (m *CPU) access(k Kind, role Role, a uint16, b byte, waits int) {
	t := int64(m.t[m.ci&7]) + int64(waits)
	m.ci++
	if m.sink != nil {
		m.emit(k, role, a, b, int(t), waits)
	}
	m.clock += t
}

func (m *CPU) read(a uint16) byte {
	if m.cells[a]&fitted == 0 {
		m.warning(Warning{Kind: UnfittedRead, Addr: a})
	}
	b := m.mem[a]
	m.access(Read, RolePlain, a, b, m.waits.Read)
	return b
}

func (m *CPU) write(a uint16, b byte) {
	if m.cells[a]&writable != 0 {
		m.mem[a] = b
		m.cells[a] |= filled
	} else {
		m.badWrite(a, b)
	}
	m.access(Write, RolePlain, a, b, m.waits.Write)
}

// internal lets the next machine cycle pass without a bus access.
func (m *CPU) internal() { m.access(Internal, RolePlain, m.last, 0, 0) }

func (m *CPU) in(port uint16) byte {
	t3 := m.clock + int64(4+m.waits.IO) // the clock that samples: after T1 T2 TW
	b, covered := m.ports.read(port, t3)
	if !covered {
		m.warning(Warning{Kind: UncoveredPort, Addr: port})
	}
	if m.portFn != nil {
		m.portFn(port, b, false, t3)
	}
	m.io(In, port, b, 1+m.waits.IO)
	return b
}

func (m *CPU) out(port uint16, b byte) {
	if m.portFn != nil {
		m.portFn(port, b, true, m.clock+int64(4+m.waits.IO))
	}
	m.io(Out, port, b, 1+m.waits.IO)
}

// io is access for I/O: one wait state is in the table's T-states already.
func (m *CPU) io(k Kind, port uint16, b byte, waits int) {
	t := int64(m.t[m.ci&7]) + int64(waits-1)
	m.ci++
	if m.sink != nil {
		m.emit(k, RolePlain, port, b, int(t), waits)
	}
	m.clock += t
}

func (m *CPU) push(v uint16) {
	sp := m.sp()
	m.stackWrite(sp-1, byte(v>>8))
	m.stackWrite(sp-2, byte(v))
	m.setSP(sp - 2)
}

func (m *CPU) pop() uint16 {
	sp := m.sp()
	lo := m.stackRead(sp)
	hi := m.stackRead(sp + 1)
	m.setSP(sp + 2)
	return uint16(hi)<<8 | uint16(lo)
}

func (m *CPU) stackWrite(a uint16, b byte) {
	if m.cells[a]&writable != 0 {
		m.mem[a] = b
		m.cells[a] |= filled
	} else {
		m.warning(Warning{Kind: StackOutsideRAM, Addr: a, Data: b})
	}
	m.access(Write, RoleStack, a, b, m.waits.Write)
}

func (m *CPU) stackRead(a uint16) byte {
	if m.cells[a]&fitted == 0 {
		m.warning(Warning{Kind: StackOutsideRAM, Addr: a})
	}
	b := m.mem[a]
	m.access(Read, RoleStack, a, b, m.waits.Read)
	return b
}

const opcodeHALT = 0x76

// emit shows a machine cycle that begins now to the sink.
func (m *CPU) emit(k Kind, role Role, a uint16, b byte, t, waits int) {
	c := &m.cyc
	m.cycNo++
	c.Kind, c.Role, c.First = k, role, m.first
	c.Addr, c.Data = a, b
	c.No, c.Clock, c.T, c.Waits = m.cycNo, m.clock+1, t, waits
	c.Inst = m.inst
	c.halt = haltOff
	if m.halted {
		c.halt = haltOn
	} else if b == opcodeHALT && m.first && role == RoleOpcode {
		c.halt = haltBegins
	}
	m.first = false
	c.Byte = m.nbyte
	if role == RoleOpcode || role == RoleOperand {
		m.nbyte++
	}
	m.last = a
	if k == Fetch || k == Ack {
		c.Refresh = uint16(m.i)<<8 | uint16(m.rr)
		m.last = c.Refresh
	}
	if !m.stopped && !m.sink(c) {
		m.stopped = true
	}
}

// ResetPulses lets the clocks of a reset pass: three with RESET held and two
// more before the first T1 (CPU manual, power-on reset; the two from memory).
func (m *CPU) ResetPulses() {
	for _, t := range [...]int{ResetHeld, ResetAfter} {
		if m.sink != nil {
			m.first = true
			m.inst = m.pc
			m.emit(Reset, RolePlain, 0, 0, t, 0)
		}
		m.clock += int64(t)
	}
	for len(m.nmis) > 0 && m.nmis[0] <= m.clock { // RESET clears the NMI flip-flop
		m.nmis = m.nmis[1:]
	}
	m.nextIRQ()
}

// The clocks of a reset.
const (
	ResetHeld  = 3 // with RESET active, at least
	ResetAfter = 2 // after its release, before the first T1
)

// nextIRQ works out when to look for an interrupt again.
func (m *CPU) nextIRQ() {
	m.irqAt = math.MaxInt64
	if len(m.ints) > 0 {
		m.irqAt = m.ints[0].Clock
	}
	if len(m.nmis) > 0 {
		m.irqAt = min(m.irqAt, m.nmis[0])
	}
}

// interrupt accepts a waiting interrupt if one may be accepted now. The lines
// are looked at with the rising edge of an instruction's last T-state.
func (m *CPU) interrupt() bool {
	if m.after&afterPrefix != 0 {
		return false
	}
	if len(m.nmis) > 0 && m.nmis[0] <= m.clock {
		// NMI is remembered by its edge: several before this moment are one
		for len(m.nmis) > 0 && m.nmis[0] <= m.clock {
			m.nmis = m.nmis[1:]
		}
		m.nextIRQ()
		m.acceptNMI()
		return true
	}
	if len(m.ints) == 0 || m.ints[0].Clock > m.clock || !m.iff1 || m.after&afterEI != 0 {
		return false
	}
	data := m.ints[0].Data
	m.ints = m.ints[1:]
	m.nextIRQ()
	m.acceptINT(data)
	return true
}

var nmiT, intT = [8]uint8{5, 3, 3}, [8]uint8{7, 3, 3, 3, 3}

func (m *CPU) acceptNMI() {
	m.after = 0
	m.op = &intOp
	m.halted, m.iff1 = false, false
	m.q = 0
	t := int64(nmiT[0]) + int64(m.waits.Fetch)
	if m.sink != nil {
		m.emit(Fetch, RoleIgnored, m.pc, m.mem[m.pc], int(t), m.waits.Fetch)
	}
	m.clock += t
	m.rr = m.rr&0x80 | (m.rr+1)&0x7F
	m.t, m.ci = &nmiT, 1
	m.needs(1<<rSPH | 1<<rSPL)
	m.push(m.pc)
	m.pc, m.wz = 0x66, 0x66
}

var intOp = op{flow: flowCall}

func (m *CPU) acceptINT(data byte) {
	if m.after&afterLDAI != 0 {
		m.r[rF] &^= flagPV // NMOS parts only; follows the data set's helper state p
	}
	m.after = 0
	m.op = &intOp
	m.halted, m.iff1, m.iff2 = false, false, false
	m.q = 0
	switch m.im {
	case 0:
		m.supplied(data)
	case 1:
		m.ack(data, int64(intT[0]))
		m.t, m.ci = &intT, 1
		m.needs(1<<rSPH | 1<<rSPL)
		m.push(m.pc)
		m.pc, m.wz = 0x38, 0x38
	default:
		m.ack(data, int64(intT[0]))
		m.t, m.ci = &intT, 1
		m.needs(1<<rSPH | 1<<rSPL)
		m.push(m.pc)
		a := uint16(m.i)<<8 | uint16(data)
		lo := m.vectorRead(a)
		hi := m.vectorRead(a + 1)
		m.pc = uint16(hi)<<8 | uint16(lo)
		m.wz = m.pc
	}
}

func (m *CPU) vectorRead(a uint16) byte {
	if m.cells[a]&fitted == 0 {
		m.warning(Warning{Kind: UnfittedRead, Addr: a})
	}
	b := m.mem[a]
	m.access(Read, RoleVector, a, b, m.waits.Read)
	return b
}

// supplied runs the instruction that a device hands over in IM 0. Further
// bytes of it are read from where PC stands, and PC does not move on (CPU
// manual, interrupt mode 0: the device must supply them there).
func (m *CPU) supplied(data byte) {
	m.step = 0
	m.ci = 1
	o := m.pages[pageMain][data]
	if o == nil {
		o = m.compile(pageMain, data)
	}
	if o.page == pageMain {
		m.t = &o.t
		m.ack(data, int64(o.t[0])+ackWaits)
		m.exec(o)
	} else {
		b := m.mem[m.pc]
		p := m.pages[o.page][b]
		if p == nil {
			p = m.compile(o.page, b)
		}
		m.t = &p.t
		m.ack(data, int64(p.t[0])+ackWaits)
		if p.lone {
			m.after = afterPrefix
		} else {
			m.second(p)
		}
	}
	if m.op.flow != flowCall {
		m.op = &intOp
	}
	m.step = 1
}

const ackWaits = 2 // the CPU itself puts two wait states into an acknowledge

// ack is the acknowledge cycle of a maskable interrupt.
func (m *CPU) ack(data byte, t int64) {
	if m.sink != nil {
		m.emit(Ack, RoleOpcode, m.pc, data, int(t), ackWaits)
	}
	m.clock += t
	m.rr = m.rr&0x80 | (m.rr+1)&0x7F
}

func (m *CPU) pair(p uint8) uint16 {
	return uint16(m.r[p&14])<<8 | uint16(m.r[p&14|1])
}

func (m *CPU) setPair(p uint8, v uint16) {
	m.r[p&14] = byte(v >> 8)
	m.r[p&14|1] = byte(v)
}

func (m *CPU) sp() uint16     { return m.pair(rSPH) }
func (m *CPU) setSP(v uint16) { m.setPair(rSPH, v) }
