package encoder

// value says what a number in an operand stands for, and so its range.
type value uint8

const (
	vNone value = iota
	vByte
	vWord
	vDisplacement
	vRelative
	vBit
	vMode
	vRestart
	vFixed // the notation's own number, written out
)

// limit is the range of a value and its name in a ValueError.
type limit struct {
	what     string
	min, max int64
}

var limits = [...]limit{
	vByte:         {"byte", -256, 255},
	vWord:         {"word", -65536, 65535},
	vDisplacement: {"displacement", -128, 127},
	vRelative:     {"relative jump", -126, 129},
	vBit:          {"bit number", 0, 7},
	vMode:         {"interrupt mode", 0, 2},
	vRestart:      {"restart address", 0, 0x38},
	vFixed:        {"number", 0, 0},
}

// notation is one way of writing an operand in the table.
//
// Where letter is set, the operand's code is in the field of that letter; the
// codes count through regs or conds (NoReg: not a code of this operand) or are
// worked out from the value. A displacement is in the operand byte d, other
// values without a letter in n, nn or e.
type notation struct {
	text   string
	kind   Kind
	letter byte
	regs   []Reg
	conds  []Cond
	value  value
	fixed  int64
}

var (
	reg8   = []Reg{B, C, D, E, H, L, NoReg, A}
	allCCs = []Cond{CondNZ, CondZ, CondNC, CondC, CondPO, CondPE, CondP, CondM}
)

var notations = [...]notation{
	{text: "r", kind: KReg, letter: 'r', regs: reg8},
	{text: "r'", kind: KReg, letter: 's', regs: reg8},
	{text: "r*", kind: KReg, letter: 'r', regs: []Reg{B, C, D, E, NoReg, NoReg, NoReg, A}},
	{text: "IXH/L", kind: KReg, letter: 'x', regs: []Reg{IXH, IXL}},
	{text: "IXH/L'", kind: KReg, letter: 'y', regs: []Reg{IXH, IXL}},
	{text: "IYH/L", kind: KReg, letter: 'x', regs: []Reg{IYH, IYL}},
	{text: "IYH/L'", kind: KReg, letter: 'y', regs: []Reg{IYH, IYL}},
	{text: "dd", kind: KReg, letter: 'd', regs: []Reg{BC, DE, HL, SP}},
	{text: "ss", kind: KReg, letter: 's', regs: []Reg{BC, DE, HL, SP}},
	{text: "qq", kind: KReg, letter: 'q', regs: []Reg{BC, DE, HL, AF}},
	{text: "pp", kind: KReg, letter: 'p', regs: []Reg{BC, DE, IX, SP}},
	{text: "rr", kind: KReg, letter: 'r', regs: []Reg{BC, DE, IY, SP}},
	{text: "A", kind: KReg, regs: []Reg{A}},
	{text: "I", kind: KReg, regs: []Reg{I}},
	{text: "R", kind: KReg, regs: []Reg{R}},
	{text: "F", kind: KReg, regs: []Reg{F}},
	{text: "AF", kind: KReg, regs: []Reg{AF}},
	{text: "AF'", kind: KReg, regs: []Reg{AFAlt}},
	{text: "DE", kind: KReg, regs: []Reg{DE}},
	{text: "HL", kind: KReg, regs: []Reg{HL}},
	{text: "SP", kind: KReg, regs: []Reg{SP}},
	{text: "IX", kind: KReg, regs: []Reg{IX}},
	{text: "IY", kind: KReg, regs: []Reg{IY}},

	{text: "(BC)", kind: KInd, regs: []Reg{BC}},
	{text: "(DE)", kind: KInd, regs: []Reg{DE}},
	{text: "(HL)", kind: KInd, regs: []Reg{HL}},
	{text: "(SP)", kind: KInd, regs: []Reg{SP}},
	{text: "(C)", kind: KInd, regs: []Reg{C}},
	{text: "(IX)", kind: KInd, regs: []Reg{IX}},
	{text: "(IY)", kind: KInd, regs: []Reg{IY}},
	{text: "(IX+d)", kind: KInd, regs: []Reg{IX}, value: vDisplacement},
	{text: "(IY+d)", kind: KInd, regs: []Reg{IY}, value: vDisplacement},

	{text: "cc", kind: KCond, letter: 'c', conds: allCCs},
	{text: "NZ", kind: KCond, conds: []Cond{CondNZ}},
	{text: "Z", kind: KCond, conds: []Cond{CondZ}},
	{text: "NC", kind: KCond, conds: []Cond{CondNC}},
	{text: "C", kind: KCond, conds: []Cond{CondC}},

	{text: "n", kind: KImm, value: vByte},
	{text: "nn", kind: KImm, value: vWord},
	{text: "(n)", kind: KMem, value: vByte},
	{text: "(nn)", kind: KMem, value: vWord},
	{text: "e", kind: KImm, value: vRelative},
	{text: "b", kind: KImm, letter: 'b', value: vBit},
	{text: "i", kind: KImm, letter: 'i', value: vMode},
	{text: "p", kind: KImm, letter: 't', value: vRestart},
	{text: "0", kind: KImm, value: vFixed},
	{text: "1", kind: KImm, value: vFixed, fixed: 1},
	{text: "2", kind: KImm, value: vFixed, fixed: 2},
	{text: "0DDH", kind: KImm, value: vFixed, fixed: 0xDD},
	{text: "0EDH", kind: KImm, value: vFixed, fixed: 0xED},
	{text: "0FDH", kind: KImm, value: vFixed, fixed: 0xFD},
}

// condition gives the condition that an operand is, NoCond if none: register C
// may stand for the condition of that name.
func (op *Operand) condition() Cond {
	switch {
	case op.Kind == KCond:
		return op.Cond
	case op.Kind == KReg && op.Reg == C:
		return CondC
	}
	return NoCond
}

// code gives the position of the operand's register or condition among those
// of the notation, -1 if the notation does not take the operand. It looks at
// no value.
func (n *notation) code(op *Operand) int {
	if n.kind == KCond {
		if cc := op.condition(); cc != NoCond {
			for i, c := range n.conds {
				if c == cc {
					return i
				}
			}
		}
		return -1
	}
	if n.kind != op.Kind {
		return -1
	}
	if n.kind == KImm || n.kind == KMem {
		return 0
	}
	if op.HasDisp && n.value != vDisplacement || op.Reg == NoReg {
		return -1
	}
	for i, r := range n.regs {
		if r == op.Reg {
			return i
		}
	}
	return -1
}
