package encoder

import "sync"

// Reg is a register or register pair. The zero value is none.
type Reg uint8

// The registers. F is an operand of the undocumented IN F,(C) only; IXH to IYL
// are the undocumented halves of the index registers.
const (
	NoReg Reg = iota
	A
	B
	C
	D
	E
	H
	L
	I
	R
	F
	AF
	AFAlt // AF', the alternate pair
	BC
	DE
	HL
	SP
	IX
	IY
	IXH
	IXL
	IYH
	IYL
)

var regNames = [...]string{"", "A", "B", "C", "D", "E", "H", "L", "I", "R", "F",
	"AF", "AF'", "BC", "DE", "HL", "SP", "IX", "IY", "IXH", "IXL", "IYH", "IYL"}

var regIndex = sync.OnceValue(func() *wordIndex { return newWordIndex(regNames[:]) })

// ParseRegister finds the register that a word names, in any letter case. F
// and the undocumented halves are found too; AF' is written with its
// apostrophe. It does not allocate.
func ParseRegister(word string) (Reg, bool) {
	r := regIndex().find(word)
	return Reg(r), r != 0
}

// String gives the register's name in capitals, "" for NoReg.
func (r Reg) String() string { return regNames[r] }

// Undocumented reports whether r is half an index register, which the CPU
// maker's manual does not name.
func (r Reg) Undocumented() bool { return r >= IXH && r <= IYL }

// Cond is a condition of a jump, call or return. The zero value is none; the
// others stand in the order of their 3-bit code, CondNZ (code 0) first.
type Cond uint8

// The conditions.
const (
	NoCond Cond = iota
	CondNZ
	CondZ
	CondNC
	CondC
	CondPO
	CondPE
	CondP
	CondM
)

var condNames = [...]string{"", "NZ", "Z", "NC", "C", "PO", "PE", "P", "M"}

var condIndex = sync.OnceValue(func() *wordIndex { return newWordIndex(condNames[:]) })

// ParseCondition finds the condition that a word names, in any letter case. It
// does not allocate.
func ParseCondition(word string) (Cond, bool) {
	c := condIndex().find(word)
	return Cond(c), c != 0
}

// String gives the condition's name in capitals, "" for NoCond.
func (c Cond) String() string { return condNames[c] }

// Kind says what sort of operand an Operand is.
type Kind uint8

// The kinds of operand.
const (
	KNone Kind = iota
	KReg       // a register by name; C as a condition may be handed in so too
	KInd       // a register in parentheses: (HL), (C), (IX), (IX+d)
	KImm       // a value
	KMem       // a value in parentheses: a memory or port address
	KCond      // a condition
)

// Operand is one operand of an instruction.
//
// Reg is set for KReg and KInd, Cond for KCond. HasDisp marks a written
// displacement, which is then Value; (IX) without one has the displacement 0.
// Value is the number of KImm and KMem. For a relative jump it is the address
// jumped to.
type Operand struct {
	Kind    Kind
	Reg     Reg
	Cond    Cond
	HasDisp bool
	Value   int64
}

// wordIndex finds a word of at most four letters in a list of names: a hash
// table with room to spare, so that a look-up is one or two steps.
type wordIndex struct {
	keys [256]uint32
	pos  [256]uint8
}

// newWordIndex indexes names; names[0] stands for "none" and is not found.
func newWordIndex(names []string) *wordIndex {
	w := new(wordIndex)
	for i, name := range names[1:] {
		key := fold(name)
		slot := hash(key)
		for w.keys[slot] != 0 {
			slot++
		}
		w.keys[slot], w.pos[slot] = key, uint8(i+1)
	}
	return w
}

// find gives the word's position in the list, 0 if it is not there.
func (w *wordIndex) find(word string) uint8 {
	key := fold(word)
	if key == 0 {
		return 0
	}
	for slot := hash(key); w.keys[slot] != 0; slot++ {
		if w.keys[slot] == key {
			return w.pos[slot]
		}
	}
	return 0
}

// fold packs a word of one to four bytes into a number, letters in capitals;
// 0 for any other word.
func fold(word string) uint32 {
	if len(word) > 4 {
		return 0
	}
	var key uint32
	for i := 0; i < len(word); i++ {
		c := word[i]
		if 'a' <= c && c <= 'z' {
			c -= 'a' - 'A'
		}
		if c == 0 {
			return 0
		}
		key = key<<8 | uint32(c)
	}
	return key
}

// hash spreads a key over the 256 slots (multiplicative hashing).
func hash(key uint32) uint8 { return uint8(key * 2654435761 >> 24) }
