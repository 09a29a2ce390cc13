package bus

// The functions below are what the instructions do. Each makes its machine
// cycles in order; their T-states come from the encoder's table by way of
// CPU.access. WZ is the hidden address register of which BIT shows a part.

// Where an 8-bit operand is.
const (
	atReg   = iota // op.reg
	atImm          // next byte
	atHL           // (HL)
	atIndex        // (IX+d) or (IY+d), op.ix
)

// index works out IX+d or IY+d with d the next byte.
func (m *CPU) index(o *op) uint16 {
	d := m.imm()
	m.internal()
	return m.indexBy(o, d)
}

func (m *CPU) indexBy(o *op, d byte) uint16 {
	m.wz = m.pair(o.ix) + uint16(int8(d))
	return m.wz
}

func (m *CPU) get8(o *op) byte {
	switch o.at {
	case atReg:
		return m.r[o.reg&15]
	case atImm:
		return m.imm()
	case atHL:
		return m.read(m.pair(rH))
	}
	return m.read(m.index(o))
}

func xNOP(*CPU, *op) {}

// --- loads ---

func xLDrr(m *CPU, o *op) { m.r[o.dst&15] = m.r[o.reg&15] }
func xLDr(m *CPU, o *op)  { m.r[o.dst&15] = m.get8(o) }

func xLDHLr(m *CPU, o *op) { m.write(m.pair(rH), m.r[o.reg&15]) }
func xLDHLn(m *CPU, o *op) {
	n := m.imm()
	m.write(m.pair(rH), n)
}
func xLDIXr(m *CPU, o *op) { m.write(m.index(o), m.r[o.reg&15]) }

// the byte n is read while the address is worked out: no internal cycle
func xLDIXn(m *CPU, o *op) {
	d := m.imm()
	n := m.imm()
	m.write(m.indexBy(o, d), n)
}

func xLDAind(m *CPU, o *op) {
	a := m.pair(o.pair)
	m.wz = a + 1
	m.r[rA] = m.read(a)
}

func xLDindA(m *CPU, o *op) {
	a := m.pair(o.pair)
	m.wz = uint16(m.r[rA])<<8 | (a+1)&0xFF
	m.write(a, m.r[rA])
}

func xLDAnn(m *CPU, o *op) {
	a := m.imm16()
	m.wz = a + 1
	m.r[rA] = m.read(a)
}

func xLDnnA(m *CPU, o *op) {
	a := m.imm16()
	m.wz = uint16(m.r[rA])<<8 | (a+1)&0xFF
	m.write(a, m.r[rA])
}

func xLDAI(m *CPU, o *op) { m.ldAIR(m.i) }
func xLDAR(m *CPU, o *op) { m.ldAIR(m.rr) }
func (m *CPU) ldAIR(v byte) {
	m.r[rA] = v
	m.r[rF] = m.r[rF]&flagC | sz(v) | bit(m.iff2, flagPV)
	m.after = afterLDAI
}
func xLDIA(m *CPU, o *op) { m.i = m.r[rA] }
func xLDRA(m *CPU, o *op) { m.rr = m.r[rA] }

func xLDdd(m *CPU, o *op)   { m.setPair(o.pair, m.imm16()) }
func xLDSP(m *CPU, o *op)   { m.setSP(m.pair(o.pair)) }
func xPUSH(m *CPU, o *op)   { m.push(m.pair(o.pair)) }
func xPUSHAF(m *CPU, o *op) { m.push(uint16(m.r[rA])<<8 | uint16(m.r[rF])) }
func xPOP(m *CPU, o *op)    { m.setPair(o.pair, m.pop()) }

func xLDddnn(m *CPU, o *op) {
	a := m.imm16()
	m.wz = a + 1
	lo := m.read(a)
	hi := m.read(a + 1)
	m.setPair(o.pair, uint16(hi)<<8|uint16(lo))
}

func xLDnndd(m *CPU, o *op) {
	a := m.imm16()
	m.wz = a + 1
	v := m.pair(o.pair)
	m.write(a, byte(v))
	m.write(a+1, byte(v>>8))
}

// --- exchange ---

// An exchange sets no register: what is unknown goes along.

func xEXDEHL(m *CPU, o *op) {
	d, h := m.pair(rD), m.pair(rH)
	m.setPair(rD, h)
	m.setPair(rH, d)
	kd, kh := m.known>>rD&3, m.known>>rH&3
	m.known = m.known&^(3<<rD|3<<rH) | kh<<rD | kd<<rH
}

func xEXAF(m *CPU, o *op) {
	m.r[rA], m.alt[rA] = m.alt[rA], m.r[rA]
	m.r[rF], m.alt[rF] = m.alt[rF], m.r[rF]
	m.swapKnown(3<<rA | 1<<bitCY)
}

func xEXX(m *CPU, o *op) {
	for i := rB; i <= rL; i++ {
		m.r[i], m.alt[i] = m.alt[i], m.r[i]
	}
	m.swapKnown(0x3F)
}

func (m *CPU) swapKnown(mask uint16) {
	d := (m.known ^ m.altK) & mask
	m.known ^= d
	m.altK ^= d
}

func xEXSP(m *CPU, o *op) {
	sp := m.sp()
	lo := m.stackRead(sp)
	hi := m.stackRead(sp + 1)
	v := m.pair(o.pair)
	m.stackWrite(sp+1, byte(v>>8))
	m.stackWrite(sp, byte(v))
	m.wz = uint16(hi)<<8 | uint16(lo)
	m.setPair(o.pair, m.wz)
}

// --- block instructions ---

// o.n is +1 or -1 for counting up or down; o.rep marks the repeating ones.

func xLDI(m *CPU, o *op) {
	hl, de, bc := m.pair(rH), m.pair(rD), m.pair(rB)-1
	b := m.read(hl)
	m.write(de, b)
	m.setPair(rH, hl+o.n)
	m.setPair(rD, de+o.n)
	m.setPair(rB, bc)
	n := m.r[rA] + b
	f := m.r[rF]&(flagS|flagZ|flagC) | n&flagX | n<<4&flagY | bit(bc != 0, flagPV)
	if o.rep && bc != 0 {
		f = f&^flagXY | m.again()
	}
	m.r[rF] = f
}

func xCPI(m *CPU, o *op) {
	hl, bc := m.pair(rH), m.pair(rB)-1
	a := m.r[rA]
	b := m.read(hl)
	m.internal()
	m.setPair(rH, hl+o.n)
	m.setPair(rB, bc)
	m.wz += o.n
	r := a - b
	h := (a ^ b ^ r) & flagH
	n := r - h>>4
	f := m.r[rF]&flagC | r&flagS | bit(r == 0, flagZ) | h | n&flagX | n<<4&flagY | bit(bc != 0, flagPV) | flagN
	if o.rep && bc != 0 && r != 0 {
		f = f&^flagXY | m.again()
	}
	m.r[rF] = f
}

// again repeats a block instruction: five more T-states, PC back on its first
// byte. It gives X and Y, which then come from PC's high byte.
func (m *CPU) again() byte {
	m.internal()
	m.pc -= 2
	m.wz = m.pc + 1
	return byte(m.pc>>8) & flagXY
}

func xINI(m *CPU, o *op) {
	bc, hl := m.pair(rB), m.pair(rH)
	m.wz = bc + o.n
	b := m.in(bc)
	m.write(hl, b)
	m.r[rB]--
	m.setPair(rH, hl+o.n)
	m.blockIO(o, b, m.r[rC]+byte(o.n))
}

func xOUTI(m *CPU, o *op) {
	hl := m.pair(rH)
	b := m.read(hl)
	m.r[rB]--
	bc := m.pair(rB)
	m.wz = bc + o.n
	m.out(bc, b)
	m.setPair(rH, hl+o.n)
	m.blockIO(o, b, m.r[rL])
}

// blockIO sets the flags of block I/O for the byte b that went over the bus; k
// is the other addend of the sum that decides H and C.
func (m *CPU) blockIO(o *op, b, k byte) {
	count := m.r[rB]
	sum := uint(b) + uint(k)
	f := sz(count) | b>>6&flagN | parity(byte(sum)&7^count)
	if sum > 0xFF {
		f |= flagH | flagC
	}
	if o.rep && count != 0 {
		f = f&^flagXY | m.again()
		// repeating, the CPU works on the count once more and P/V and H show it
		switch {
		case f&flagC == 0:
			f ^= parity(count&7) ^ flagPV
		case b&0x80 != 0:
			f ^= parity((count-1)&7) ^ flagPV
			f = f&^flagH | bit(count&0x0F == 0, flagH)
		default:
			f ^= parity((count+1)&7) ^ flagPV
			f = f&^flagH | bit(count&0x0F == 0x0F, flagH)
		}
	}
	m.r[rF] = f
}

// --- arithmetic ---

func xALUr(m *CPU, o *op) { m.alu(o.k, m.r[o.reg&15]) }
func xALU(m *CPU, o *op)  { m.alu(o.k, m.get8(o)) }

func xINCr(m *CPU, o *op) { m.r[o.reg&15] = m.inc(m.r[o.reg&15]) }
func xDECr(m *CPU, o *op) { m.r[o.reg&15] = m.dec(m.r[o.reg&15]) }

func xINCmem(m *CPU, o *op) {
	a := m.memOperand(o)
	m.write(a, m.inc(m.read(a)))
}

func xDECmem(m *CPU, o *op) {
	a := m.memOperand(o)
	m.write(a, m.dec(m.read(a)))
}

func (m *CPU) memOperand(o *op) uint16 {
	if o.at == atHL {
		return m.pair(rH)
	}
	return m.index(o)
}

func xDAA(m *CPU, o *op) { m.daa() }

func xCPL(m *CPU, o *op) {
	m.r[rA] = ^m.r[rA]
	m.r[rF] = m.r[rF]&(flagS|flagZ|flagPV|flagC) | m.r[rA]&flagXY | flagH | flagN
}

func xNEG(m *CPU, o *op) {
	v := m.r[rA]
	m.r[rA] = 0
	m.r[rA] = m.sub(v, 0)
}

// X and Y of SCF and CCF: from A if the instruction before wrote the flags,
// else from A OR F.
func (m *CPU) carryXY() byte { return (m.q ^ m.r[rF] | m.r[rA]) & flagXY }

func xSCF(m *CPU, o *op) {
	m.r[rF] = m.r[rF]&(flagS|flagZ|flagPV) | m.carryXY() | flagC
}

func xCCF(m *CPU, o *op) {
	c := m.r[rF] & flagC
	m.r[rF] = m.r[rF]&(flagS|flagZ|flagPV) | m.carryXY() | c<<4 | c ^ flagC
}

func xADD16(m *CPU, o *op) {
	m.internal()
	m.internal()
	m.add16(o.dst, o.pair)
}

func xADC16(m *CPU, o *op) {
	m.internal()
	m.internal()
	m.adc16(o.pair)
}

func xSBC16(m *CPU, o *op) {
	m.internal()
	m.internal()
	m.sbc16(o.pair)
}

func xINC16(m *CPU, o *op) { m.setPair(o.pair, m.pair(o.pair)+1) }
func xDEC16(m *CPU, o *op) { m.setPair(o.pair, m.pair(o.pair)-1) }

// --- control ---

func xHALT(m *CPU, o *op) { m.halted = true }
func xDI(m *CPU, o *op)   { m.iff1, m.iff2 = false, false }
func xEI(m *CPU, o *op) {
	m.iff1, m.iff2 = true, true
	m.after = afterEI
}
func xIM(m *CPU, o *op) { m.im = o.k }

// --- rotate, shift, bits ---

// RLCA RRCA RLA RRA: S, Z and P/V stay.
func xRotA(m *CPU, o *op) {
	keep := m.r[rF] & (flagS | flagZ | flagPV)
	a := m.shift(o.k, m.r[rA])
	m.r[rA] = a
	m.r[rF] = keep | a&flagXY | m.r[rF]&flagC
}

func xSHr(m *CPU, o *op) { m.r[o.reg&15] = m.shift(o.k, m.r[o.reg&15]) }
func xSHHL(m *CPU, o *op) {
	a := m.pair(rH)
	m.write(a, m.shift(o.k, m.read(a)))
}
func xSHIX(m *CPU, o *op) {
	a := m.indexBy(o, m.disp)
	m.copyTo(o, a, m.shift(o.k, m.read(a)))
}

// copyTo writes the result of a DD CB or FD CB instruction, and to a register
// too where the undocumented form says so.
func (m *CPU) copyTo(o *op, a uint16, v byte) {
	m.write(a, v)
	if o.dst != noReg {
		m.r[o.dst&15] = v
	}
}

func xBITr(m *CPU, o *op) {
	v := m.r[o.reg&15]
	m.testBit(o.k, v, v)
}
func xBITHL(m *CPU, o *op) { m.testBit(o.k, m.read(m.pair(rH)), byte(m.wz>>8)) }
func xBITIX(m *CPU, o *op) {
	a := m.indexBy(o, m.disp)
	m.testBit(o.k, m.read(a), byte(a>>8))
}

// SET and RES: o.k is the bit's mask, o.n is 1 for SET.
func setRes(o *op, v byte) byte {
	if o.n != 0 {
		return v | o.k
	}
	return v &^ o.k
}
func xSETr(m *CPU, o *op) { m.r[o.reg&15] = setRes(o, m.r[o.reg&15]) }
func xSETHL(m *CPU, o *op) {
	a := m.pair(rH)
	m.write(a, setRes(o, m.read(a)))
}
func xSETIX(m *CPU, o *op) {
	a := m.indexBy(o, m.disp)
	m.copyTo(o, a, setRes(o, m.read(a)))
}

func xRLD(m *CPU, o *op) {
	hl, a := m.pair(rH), m.r[rA]
	b := m.read(hl)
	m.internal()
	m.write(hl, b<<4|a&0x0F)
	m.digit(a&0xF0 | b>>4)
}
func xRRD(m *CPU, o *op) {
	hl, a := m.pair(rH), m.r[rA]
	b := m.read(hl)
	m.internal()
	m.write(hl, a<<4|b>>4)
	m.digit(a&0xF0 | b&0x0F)
}
func (m *CPU) digit(a byte) {
	m.wz = m.pair(rH) + 1
	m.r[rA] = a
	m.r[rF] = m.r[rF]&flagC | szp(a)
}

// --- jumps, calls ---

// holds tells whether the instruction's condition does; an unconditional one
// has an empty mask.
func (m *CPU) holds(o *op) bool { return m.r[rF]&o.mask == o.want }

func xJP(m *CPU, o *op) {
	m.wz = m.imm16()
	if m.holds(o) {
		m.pc = m.wz
	}
}

func xJPind(m *CPU, o *op) { m.pc = m.pair(o.pair) }

func xJR(m *CPU, o *op) {
	e := m.imm()
	if m.holds(o) {
		m.jump(e)
	}
}

func (m *CPU) jump(e byte) {
	m.internal()
	m.pc += uint16(int8(e))
	m.wz = m.pc
}

func xDJNZ(m *CPU, o *op) {
	m.r[rB]--
	e := m.imm()
	if m.r[rB] != 0 {
		m.jump(e)
	}
}

func xCALL(m *CPU, o *op) {
	if !m.holds(o) {
		m.t = &o.untaken
		m.wz = m.imm16()
		return
	}
	m.wz = m.imm16()
	if o.mask != 0 {
		m.needs(1<<rSPH | 1<<rSPL)
	}
	m.push(m.pc)
	m.pc = m.wz
}

func xRET(m *CPU, o *op) {
	if !m.holds(o) {
		return
	}
	if o.mask != 0 {
		m.needs(1<<rSPH | 1<<rSPL)
	}
	m.pc = m.pop()
	m.wz = m.pc
}

// RETI copies IFF2 as RETN does (data set; the manual says it of RETN only).
func xRETN(m *CPU, o *op) {
	m.pc = m.pop()
	m.wz = m.pc
	m.iff1 = m.iff2
}

func xRST(m *CPU, o *op) {
	m.push(m.pc)
	m.pc = uint16(o.k)
	m.wz = m.pc
}

// --- input and output ---

func xINAn(m *CPU, o *op) {
	port := uint16(m.r[rA])<<8 | uint16(m.imm())
	m.wz = port + 1
	m.r[rA] = m.in(port)
}

func xOUTnA(m *CPU, o *op) {
	a := m.r[rA]
	n := m.imm()
	m.wz = uint16(a)<<8 | uint16(n+1)
	m.out(uint16(a)<<8|uint16(n), a)
}

func xINC(m *CPU, o *op) {
	bc := m.pair(rB)
	m.wz = bc + 1
	v := m.in(bc)
	m.r[rF] = m.r[rF]&flagC | szp(v)
	if o.dst != noReg {
		m.r[o.dst&15] = v
	}
}

func xOUTC(m *CPU, o *op) {
	bc := m.pair(rB)
	m.wz = bc + 1
	var v byte
	if o.reg != noReg {
		v = m.r[o.reg&15]
	}
	m.out(bc, v)
}
