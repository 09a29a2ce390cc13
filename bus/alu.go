package bus

import "math/bits"

// The flag bits of F. X and Y are undocumented: mostly copies of bits 3 and 5
// of the result. The rules for flags follow the CPU manual; those for X, Y and
// the block instructions follow the open data set (testdata/bus-vectors).
const (
	flagC  = 0x01
	flagN  = 0x02
	flagPV = 0x04
	flagX  = 0x08
	flagH  = 0x10
	flagY  = 0x20
	flagZ  = 0x40
	flagS  = 0x80
	flagXY = flagX | flagY
)

// sz gives S, Z, X and Y of a result.
func sz(v byte) byte {
	f := v & (flagS | flagXY)
	if v == 0 {
		f |= flagZ
	}
	return f
}

// parity gives P/V as parity: set for an even number of ones.
func parity(v byte) byte { return byte(bits.OnesCount8(v)&1^1) << 2 }

func szp(v byte) byte { return sz(v) | parity(v) }

func bit(b bool, f byte) byte {
	if b {
		return f
	}
	return 0
}

func (m *CPU) add(v, carry byte) {
	a := m.r[rA]
	sum := uint(a) + uint(v) + uint(carry)
	r := byte(sum)
	m.r[rF] = sz(r) | (a^v^r)&flagH | (a^r)&(v^r)&0x80>>5 | byte(sum>>8)
	m.r[rA] = r
}

// sub gives A - v - carry and the flags of it; X and Y from the result.
func (m *CPU) sub(v, carry byte) byte {
	a := m.r[rA]
	diff := uint(a) - uint(v) - uint(carry)
	r := byte(diff)
	m.r[rF] = sz(r) | (a^v^r)&flagH | (a^v)&(a^r)&0x80>>5 | flagN | byte(diff>>8)&flagC
	return r
}

// alu does operation k (as in bits 5-3 of the opcode) with A and v.
func (m *CPU) alu(k uint8, v byte) {
	switch k {
	case aluADD:
		m.add(v, 0)
	case aluADC:
		m.add(v, m.r[rF]&flagC)
	case aluSUB:
		m.r[rA] = m.sub(v, 0)
	case aluSBC:
		m.r[rA] = m.sub(v, m.r[rF]&flagC)
	case aluAND:
		m.r[rA] &= v
		m.r[rF] = szp(m.r[rA]) | flagH
	case aluXOR:
		m.r[rA] ^= v
		m.r[rF] = szp(m.r[rA])
	case aluOR:
		m.r[rA] |= v
		m.r[rF] = szp(m.r[rA])
	default:
		m.sub(v, 0)
		m.r[rF] = m.r[rF]&^flagXY | v&flagXY // X and Y of the operand
	}
}

// The operations of alu.
const (
	aluADD = iota
	aluADC
	aluSUB
	aluSBC
	aluAND
	aluXOR
	aluOR
	aluCP
)

func (m *CPU) inc(v byte) byte {
	r := v + 1
	m.r[rF] = m.r[rF]&flagC | sz(r) | bit(r == 0x80, flagPV) | bit(r&0x0F == 0, flagH)
	return r
}

func (m *CPU) dec(v byte) byte {
	r := v - 1
	m.r[rF] = m.r[rF]&flagC | sz(r) | bit(r == 0x7F, flagPV) | bit(r&0x0F == 0x0F, flagH) | flagN
	return r
}

// shift does rotate or shift k (as in bits 5-3 of the opcode after CB).
func (m *CPU) shift(k uint8, v byte) byte {
	var r, c byte
	switch k {
	case shRLC:
		r, c = v<<1|v>>7, v>>7
	case shRRC:
		r, c = v>>1|v<<7, v&1
	case shRL:
		r, c = v<<1|m.r[rF]&flagC, v>>7
	case shRR:
		r, c = v>>1|m.r[rF]<<7, v&1
	case shSLA:
		r, c = v<<1, v>>7
	case shSRA:
		r, c = v>>1|v&0x80, v&1
	case shSLL:
		r, c = v<<1|1, v>>7
	default:
		r, c = v>>1, v&1
	}
	m.r[rF] = szp(r) | c
	return r
}

// The operations of shift.
const (
	shRLC = iota
	shRRC
	shRL
	shRR
	shSLA
	shSRA
	shSLL
	shSRL
)

// testBit does BIT n on v; xy is where X and Y come from.
func (m *CPU) testBit(n uint8, v, xy byte) {
	f := m.r[rF]&flagC | flagH | xy&flagXY
	if v&(1<<n) == 0 {
		f |= flagZ | flagPV
	} else if n == 7 {
		f |= flagS
	}
	m.r[rF] = f
}

func (m *CPU) add16(p, q uint8) {
	a, b := m.pair(p), m.pair(q)
	m.wz = a + 1
	sum := uint32(a) + uint32(b)
	r := uint16(sum)
	h := byte(r >> 8)
	m.r[rF] = m.r[rF]&(flagS|flagZ|flagPV) | h&flagXY | byte((a^b^r)>>8)&flagH | byte(sum>>16)
	m.setPair(p, r)
}

func (m *CPU) adc16(q uint8) {
	a, b := m.pair(rH), m.pair(q)
	m.wz = a + 1
	sum := uint32(a) + uint32(b) + uint32(m.r[rF]&flagC)
	r := uint16(sum)
	m.r[rF] = sz16(r) | byte((a^b^r)>>8)&flagH | byte((a^r)&(b^r)>>13)&flagPV | byte(sum>>16)
	m.setPair(rH, r)
}

func (m *CPU) sbc16(q uint8) {
	a, b := m.pair(rH), m.pair(q)
	m.wz = a + 1
	diff := uint32(a) - uint32(b) - uint32(m.r[rF]&flagC)
	r := uint16(diff)
	m.r[rF] = sz16(r) | byte((a^b^r)>>8)&flagH | byte((a^b)&(a^r)>>13)&flagPV | flagN | byte(diff>>16)&flagC
	m.setPair(rH, r)
}

func sz16(v uint16) byte { return byte(v>>8)&(flagS|flagXY) | bit(v == 0, flagZ) }

func (m *CPU) daa() {
	a, f := m.r[rA], m.r[rF]
	var adj, c byte
	if f&flagH != 0 || a&0x0F > 9 {
		adj = 0x06
	}
	if f&flagC != 0 || a > 0x99 {
		adj |= 0x60
		c = flagC
	}
	r := a + adj
	if f&flagN != 0 {
		r = a - adj
	}
	m.r[rA] = r
	m.r[rF] = szp(r) | f&flagN | (a^r)&flagH | c
}
