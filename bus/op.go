package bus

import "romwright/encoder"

// op is a decoded opcode bound to the function that carries it out. The CPU
// makes one for each opcode of a page when it first meets it.
type op struct {
	run     func(*CPU, *op)
	t       [8]uint8 // T-states of its machine cycles, taken or repeating
	untaken [8]uint8 // of a conditional call that is not taken

	reads, writes uint16 // registers used and set, bits as in CPU.r and bitCY
	q             byte   // FFH if it writes the flags
	page          uint8  // page of the opcode that follows; pageMain: none does
	lone          bool   // a prefix that the next opcode does not heed
	rep           bool   // a repeating block instruction
	flow          flow

	at         uint8  // where the 8-bit operand is
	reg, dst   uint8  // source and target register
	ix, pair   uint8  // index register, other pair
	k          uint8  // operation, bit, mask, mode or restart address
	mask, want uint8  // condition: F & mask == want
	n          uint16 // step of block instructions; 1 for SET, 0 for RES
}

// flow is what an instruction does to the run, for the timing report.
type flow uint8

const (
	flowOn flow = iota
	flowJump
	flowCall
	flowHalt
)

const noReg = 0xFF

// The opcode pages.
const (
	pageMain = iota
	pageCB
	pageED
	pageDD
	pageFD
	pageDDCB
	pageFDCB
)

var pageBytes = [...][]byte{{}, {0xCB}, {0xED}, {0xDD}, {0xFD}, {0xDD, 0xCB, 0}, {0xFD, 0xCB, 0}}

// follows gives the page that opcode b of a page leads to, pageMain for none.
func follows(page uint8, b byte) uint8 {
	switch {
	case page == pageMain && b == 0xCB:
		return pageCB
	case page == pageMain && b == 0xED:
		return pageED
	case page == pageMain && b == 0xDD:
		return pageDD
	case page == pageMain && b == 0xFD:
		return pageFD
	case page == pageDD && b == 0xCB:
		return pageDDCB
	case page == pageFD && b == 0xCB:
		return pageFDCB
	}
	return pageMain
}

// compile decodes opcode b of a page by the encoder's table.
func (m *CPU) compile(page uint8, b byte) *op {
	o := &op{reg: noReg, dst: noReg, page: follows(page, b)}
	code := append(append([]byte(nil), pageBytes[page]...), b, 0, 0, 0)
	in, err := encoder.Decode(code)
	if err != nil {
		panic("BUG: opcode page not covered by the table: " + err.Error())
	}
	timings := in.Form.Timings()
	cycles(&o.t, timings[0].Cycles)
	if len(timings) > 1 {
		cycles(&o.untaken, timings[1].Cycles)
	}
	if page != pageMain && in.Len == 1 {
		o.lone = true
		o.run = xNOP
	} else if o.page == pageMain {
		o.bind(&in)
	}
	m.pages[page][b] = o
	return o
}

func cycles(dst *[8]uint8, src []int) {
	for i, t := range src {
		dst[i] = uint8(t)
	}
}

// reg8 places the 8-bit registers in the register file.
func reg8(r encoder.Reg) uint8 {
	switch r {
	case encoder.B:
		return rB
	case encoder.C:
		return rC
	case encoder.D:
		return rD
	case encoder.E:
		return rE
	case encoder.H:
		return rH
	case encoder.L:
		return rL
	case encoder.A:
		return rA
	case encoder.IXH:
		return rIXH
	case encoder.IXL:
		return rIXL
	case encoder.IYH:
		return rIYH
	case encoder.IYL:
		return rIYL
	}
	return noReg
}

// reg16 places the pairs in the register file.
func reg16(r encoder.Reg) uint8 {
	switch r {
	case encoder.BC:
		return rB
	case encoder.DE:
		return rD
	case encoder.HL:
		return rH
	case encoder.IX:
		return rIXH
	case encoder.IY:
		return rIYH
	case encoder.SP:
		return rSPH
	}
	return noReg
}

// conditions by encoder.Cond: mask and wanted value of F.
var condMask = [...][2]uint8{{0, 0}, {flagZ, 0}, {flagZ, flagZ}, {flagC, 0}, {flagC, flagC},
	{flagPV, 0}, {flagPV, flagPV}, {flagS, 0}, {flagS, flagS}}

const (
	maskA  = 1 << rA
	maskF  = 1 << rF // the flags but carry
	maskCY = 1 << bitCY
	maskBC = 3 << rB
	maskDE = 3 << rD
	maskHL = 3 << rH
	maskSP = 3 << rSPH
)

func pairMask(p uint8) uint16 { return 3 << p }

// flags notes that the instruction writes the flags in mask.
func (o *op) flags(mask uint16) {
	o.writes |= mask
	o.q = 0xFF
}

// operand8 notes where an 8-bit operand is and what reading it uses.
func (o *op) operand8(a encoder.Operand) {
	switch a.Kind {
	case encoder.KReg:
		o.at, o.reg = atReg, reg8(a.Reg)
		o.reads |= 1 << o.reg
	case encoder.KImm:
		o.at = atImm
	default:
		o.memory(a)
	}
}

// memory notes a (HL), (IX+d) or (IY+d) operand.
func (o *op) memory(a encoder.Operand) {
	if a.Reg == encoder.HL {
		o.at = atHL
		o.reads |= maskHL
		return
	}
	o.at, o.ix = atIndex, reg16(a.Reg)
	o.reads |= pairMask(o.ix)
}

// target notes an 8-bit register that is set.
func (o *op) target(r encoder.Reg) {
	if o.dst = reg8(r); o.dst != noReg {
		o.writes |= 1 << o.dst
	}
}

func (o *op) condition(c encoder.Cond) {
	o.mask, o.want = condMask[c][0], condMask[c][1]
	if o.mask == flagC {
		o.reads |= maskCY
	} else {
		o.reads |= maskF
	}
}

// bind finds the function of a decoded instruction and fills in its operands.
func (o *op) bind(in *encoder.Inst) {
	ops := in.Operands[:in.NOperands]
	var first, last encoder.Operand
	if len(ops) > 0 {
		first, last = ops[0], ops[len(ops)-1]
	}
	switch mn := in.Form.Mnemonic(); mn {
	case encoder.NOP, encoder.DEFB:
		o.run = xNOP
	case encoder.LD:
		o.bindLD(first, last)
	case encoder.PUSH:
		o.run, o.pair = xPUSH, reg16(first.Reg)
		if first.Reg == encoder.AF {
			o.run = xPUSHAF
		}
		o.reads = maskSP // saving a register that was never set is no use of it
	case encoder.POP:
		o.run, o.pair = xPOP, reg16(first.Reg)
		if first.Reg == encoder.AF {
			o.pair = rA // A and F lie in the register file as a pair
			o.writes = maskCY
		}
		o.reads = maskSP
		o.writes |= pairMask(o.pair)
	case encoder.EX:
		switch {
		case first.Reg == encoder.AF:
			o.run = xEXAF
		case first.Kind == encoder.KInd:
			o.run, o.pair = xEXSP, reg16(last.Reg)
			o.reads = maskSP
			o.writes = pairMask(o.pair)
		default:
			o.run = xEXDEHL
		}
	case encoder.EXX:
		o.run = xEXX
	case encoder.LDI, encoder.LDD, encoder.LDIR, encoder.LDDR:
		o.block(xLDI, mn == encoder.LDI || mn == encoder.LDIR, mn == encoder.LDIR || mn == encoder.LDDR)
		o.reads = maskHL | maskDE | maskBC
		o.flags(maskF)
	case encoder.CPI, encoder.CPD, encoder.CPIR, encoder.CPDR:
		o.block(xCPI, mn == encoder.CPI || mn == encoder.CPIR, mn == encoder.CPIR || mn == encoder.CPDR)
		o.reads = maskHL | maskBC | maskA
		o.flags(maskF)
	case encoder.INI, encoder.IND, encoder.INIR, encoder.INDR:
		o.block(xINI, mn == encoder.INI || mn == encoder.INIR, mn == encoder.INIR || mn == encoder.INDR)
		o.reads = maskHL | maskBC
		o.flags(maskF | maskCY)
	case encoder.OUTI, encoder.OUTD, encoder.OTIR, encoder.OTDR:
		o.block(xOUTI, mn == encoder.OUTI || mn == encoder.OTIR, mn == encoder.OTIR || mn == encoder.OTDR)
		o.reads = maskHL | maskBC
		o.flags(maskF | maskCY)
	case encoder.ADD, encoder.ADC, encoder.SUB, encoder.SBC, encoder.AND, encoder.XOR, encoder.OR, encoder.CP:
		o.arith(mn, first, last)
	case encoder.INC, encoder.DEC:
		o.count(mn, first)
	case encoder.DAA:
		o.run = xDAA
		o.reads = maskA | maskF | maskCY
		o.flags(maskA | maskF | maskCY)
	case encoder.CPL:
		o.run = xCPL
		o.reads = maskA
		o.flags(maskA)
	case encoder.NEG:
		o.run = xNEG
		o.reads = maskA
		o.flags(maskA | maskF | maskCY)
	case encoder.SCF:
		o.run = xSCF
		o.flags(maskCY)
	case encoder.CCF:
		o.run = xCCF
		o.reads = maskCY
		o.flags(maskCY)
	case encoder.HALT:
		o.run, o.flow = xHALT, flowHalt
	case encoder.DI:
		o.run = xDI
	case encoder.EI:
		o.run = xEI
	case encoder.IM:
		o.run, o.k = xIM, uint8(first.Value)
	case encoder.RLCA, encoder.RRCA, encoder.RLA, encoder.RRA:
		o.run, o.k = xRotA, shifts(mn)
		o.reads = maskA
		if mn == encoder.RLA || mn == encoder.RRA {
			o.reads |= maskCY
		}
		o.flags(maskA | maskCY)
	case encoder.RLC, encoder.RRC, encoder.RL, encoder.RR, encoder.SLA, encoder.SRA, encoder.SLL, encoder.SRL:
		o.k = shifts(mn)
		o.bits(xSHr, xSHHL, xSHIX, first, last, len(ops) == 2)
		if mn == encoder.RL || mn == encoder.RR {
			o.reads |= maskCY
		}
		o.flags(maskF | maskCY)
	case encoder.BIT:
		o.k = uint8(first.Value)
		o.bits(xBITr, xBITHL, xBITIX, last, last, false)
		o.writes = 0 // it only looks
		o.flags(maskF)
	case encoder.SET, encoder.RES:
		o.k = 1 << uint8(first.Value)
		if mn == encoder.SET {
			o.n = 1
		}
		o.bits(xSETr, xSETHL, xSETIX, ops[1], last, len(ops) == 3)
	case encoder.RLD, encoder.RRD:
		o.run = xRLD
		if mn == encoder.RRD {
			o.run = xRRD
		}
		o.reads = maskHL | maskA
		o.flags(maskF)
	case encoder.JP, encoder.JR, encoder.DJNZ:
		o.jump(mn, first)
	case encoder.CALL:
		o.run, o.flow = xCALL, flowCall
		if first.Kind == encoder.KCond {
			o.condition(first.Cond)
		} else {
			o.reads = maskSP
		}
	case encoder.RET:
		o.run = xRET
		if first.Kind == encoder.KCond {
			o.condition(first.Cond)
		} else {
			o.reads = maskSP
		}
	case encoder.RETI, encoder.RETN:
		o.run = xRETN
		o.reads = maskSP
	case encoder.RST:
		o.run, o.flow, o.k = xRST, flowCall, uint8(first.Value)
		o.reads = maskSP
	case encoder.IN:
		o.input(first, last)
	case encoder.OUT:
		o.output(first, last)
	default:
		panic("BUG: no function for " + mn.String())
	}
}

func (o *op) bindLD(first, last encoder.Operand) {
	switch {
	case first.Kind == encoder.KReg && reg16(first.Reg) != noReg:
		o.pair = reg16(first.Reg)
		o.writes = pairMask(o.pair)
		switch last.Kind {
		case encoder.KImm:
			o.run = xLDdd
		case encoder.KMem:
			o.run = xLDddnn
		default: // LD SP,HL and its kin
			o.run, o.pair = xLDSP, reg16(last.Reg)
			o.reads = pairMask(o.pair)
		}
	case first.Kind == encoder.KMem && last.Reg == encoder.A:
		o.run = xLDnnA
		o.reads = maskA
	case first.Kind == encoder.KMem:
		o.run, o.pair = xLDnndd, reg16(last.Reg)
		o.reads = pairMask(o.pair)
	case first.Kind == encoder.KInd && reg16(first.Reg) != rH && reg16(first.Reg) < rH: // (BC) (DE)
		o.run, o.pair = xLDindA, reg16(first.Reg)
		o.reads = pairMask(o.pair) | maskA
	case first.Kind == encoder.KInd:
		o.memory(first)
		if last.Kind == encoder.KReg {
			o.reg = reg8(last.Reg)
			o.reads |= 1 << o.reg
		}
		switch {
		case o.at == atHL && last.Kind == encoder.KReg:
			o.run = xLDHLr
		case o.at == atHL:
			o.run = xLDHLn
		case last.Kind == encoder.KReg:
			o.run = xLDIXr
		default:
			o.run = xLDIXn
		}
	case first.Reg == encoder.I:
		o.run, o.reads = xLDIA, maskA
	case first.Reg == encoder.R:
		o.run, o.reads = xLDRA, maskA
	case last.Reg == encoder.I || last.Reg == encoder.R:
		o.run = xLDAI
		if last.Reg == encoder.R {
			o.run = xLDAR
		}
		o.flags(maskA | maskF)
	case last.Kind == encoder.KMem:
		o.run, o.writes = xLDAnn, maskA
	case last.Kind == encoder.KInd && reg16(last.Reg) < rH:
		o.run, o.pair = xLDAind, reg16(last.Reg)
		o.reads, o.writes = pairMask(o.pair), maskA
	default:
		o.target(first.Reg)
		o.operand8(last)
		o.run = xLDr
		if o.at == atReg {
			o.run = xLDrr
		}
	}
}

func (o *op) block(run func(*CPU, *op), up, rep bool) {
	o.run, o.rep, o.n = run, rep, 1
	if !up {
		o.n = 0xFFFF
	}
}

func (o *op) arith(mn encoder.Mnemonic, first, last encoder.Operand) {
	if p := reg16(first.Reg); first.Kind == encoder.KReg && p != noReg {
		o.dst, o.pair = p, reg16(last.Reg)
		o.reads = pairMask(o.dst) | pairMask(o.pair)
		switch mn {
		case encoder.ADD:
			o.run = xADD16
			o.flags(maskCY | pairMask(o.dst))
			return
		case encoder.ADC:
			o.run = xADC16
		default:
			o.run = xSBC16
			if o.dst == o.pair {
				o.reads = 0 // HL - HL needs no HL
			}
		}
		o.reads |= maskCY
		o.flags(maskF | maskCY | pairMask(o.dst))
		return
	}
	switch mn {
	case encoder.ADD:
		o.k = aluADD
	case encoder.ADC:
		o.k = aluADC
	case encoder.SUB:
		o.k = aluSUB
	case encoder.SBC:
		o.k = aluSBC
	case encoder.AND:
		o.k = aluAND
	case encoder.XOR:
		o.k = aluXOR
	case encoder.OR:
		o.k = aluOR
	default:
		o.k = aluCP
	}
	o.operand8(last)
	o.run = xALU
	if o.at == atReg {
		o.run = xALUr
	}
	o.reads |= maskA
	if o.at == atReg && o.reg == rA && (o.k == aluXOR || o.k == aluSUB || o.k == aluSBC || o.k == aluCP) {
		o.reads = 0 // XOR A and its kin clear A whatever it held
	}
	if o.k == aluADC || o.k == aluSBC {
		o.reads |= maskCY
	}
	if o.k != aluCP {
		o.writes = maskA
	}
	o.flags(maskF | maskCY)
}

// count binds INC and DEC.
func (o *op) count(mn encoder.Mnemonic, a encoder.Operand) {
	up := mn == encoder.INC
	if p := reg16(a.Reg); a.Kind == encoder.KReg && p != noReg {
		o.run, o.pair = xDEC16, p
		if up {
			o.run = xINC16
		}
		o.reads = pairMask(p)
		return
	}
	o.operand8(a)
	switch {
	case o.at == atReg && up:
		o.run = xINCr
	case o.at == atReg:
		o.run = xDECr
	case up:
		o.run = xINCmem
	default:
		o.run = xDECmem
	}
	o.flags(maskF)
}

// bits binds the instructions behind the CB prefix: reg, hl and ix are their
// functions for a register, (HL) and (IX+d); copied tells that last is a
// register which gets the result too.
func (o *op) bits(reg, hl, ix func(*CPU, *op), a, last encoder.Operand, copied bool) {
	o.operand8(a)
	switch o.at {
	case atReg:
		o.run = reg
		o.writes = 1 << o.reg
	case atHL:
		o.run = hl
	default:
		o.run = ix
		if copied {
			o.target(last.Reg)
		}
	}
}

func (o *op) jump(mn encoder.Mnemonic, first encoder.Operand) {
	o.flow = flowJump
	switch {
	case mn == encoder.DJNZ:
		o.run = xDJNZ
		o.reads = 1 << rB
	case first.Kind == encoder.KInd:
		o.run, o.pair = xJPind, reg16(first.Reg)
		o.reads = pairMask(o.pair)
	default:
		o.run = xJP
		if mn == encoder.JR {
			o.run = xJR
		}
		if first.Kind == encoder.KCond {
			o.condition(first.Cond)
		}
	}
}

// The high half of the port address is no use of a register: most boards leave
// it open.

func (o *op) input(first, last encoder.Operand) {
	if last.Kind == encoder.KMem {
		o.run, o.writes = xINAn, maskA
		return
	}
	o.run = xINC
	o.reads = 1 << rC
	o.target(first.Reg) // F: none
	o.flags(maskF)
}

func (o *op) output(first, last encoder.Operand) {
	if first.Kind == encoder.KMem {
		o.run, o.reads = xOUTnA, maskA
		return
	}
	o.run = xOUTC
	o.reads = 1 << rC
	if last.Kind == encoder.KReg {
		o.reg = reg8(last.Reg)
		o.reads |= 1 << o.reg
	}
}

func shifts(mn encoder.Mnemonic) uint8 {
	switch mn {
	case encoder.RLC, encoder.RLCA:
		return shRLC
	case encoder.RRC, encoder.RRCA:
		return shRRC
	case encoder.RL, encoder.RLA:
		return shRL
	case encoder.RR, encoder.RRA:
		return shRR
	case encoder.SLA:
		return shSLA
	case encoder.SRA:
		return shSRA
	case encoder.SLL:
		return shSLL
	}
	return shSRL
}
