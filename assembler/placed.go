package assembler

import (
	"romwright/directives"
	"romwright/encoder"
)

// placed is one line of the program with its place: a statement, or a line
// that emits nothing and is kept for the listing.
type placed struct {
	src   uint32 // index of its text's source, see lineSource
	off   uint32 // where its text is in that source
	num   uint32 // line number in the file; in an expansion the count of the line
	shape uint32 // parser.Shape.Index
	slots uint32 // see slotList
	addr  uint32 // what $ is, 0..10000H
	size  uint32 // bytes
	op    opcode
	flags placedFlags
}

// opcode says what a placed line does: nothing, a directive, or a form.
type opcode uint16

const (
	opNone  opcode = 0    // no operation, or one that did its work in pass one
	opForm  opcode = 256  // + index in formTable
	opPairs opcode = 255  // LD of a register pair from another, as two loads
	opMacro opcode = 254  // a macro call
	maxForm        = 8192 // bounds formTable
)

func directiveOp(id directives.ID) opcode { return opcode(id) }

type placedFlags uint16

const (
	flagRelocated  placedFlags = 1 << iota // under RUNAT
	flagHasShape                           // shape and slots are valid
	flagExpanded                           // its source is an expansion
	flagSkipped                            // in a part that a conditional left out
	flagReserves                           // its size is reserved, not emitted
	flagDefines                            // it defines a constant, whose value the listing shows
	flagAddress                            // its address means something
	flagNoEmission                         // it found no place
)

const chunkBits = 12

// placedList grows without copying: at a million lines a copy would double
// the peak of memory.
type placedList struct {
	chunks [][]placed
	n      uint32
}

func (l *placedList) add() (*placed, uint32) {
	if l.n&(1<<chunkBits-1) == 0 {
		l.chunks = append(l.chunks, make([]placed, 1<<chunkBits))
	}
	i := l.n
	l.n++
	return l.at(i), i
}

func (l *placedList) at(i uint32) *placed { return &l.chunks[i>>chunkBits][i&(1<<chunkBits-1)] }

// slotList keeps what the slots of each statement stand for: of a word the
// Name (local names resolved), of a number its value, of a string where it
// stands in the line.
type slotList struct {
	chunks [][]uint32
	used   int // of the last chunk
}

const slotBits = 14

// room gives n slots in a row and their index.
func (l *slotList) room(n int) ([]uint32, uint32) {
	if len(l.chunks) == 0 || l.used+n > 1<<slotBits {
		l.chunks = append(l.chunks, make([]uint32, 1<<slotBits))
		l.used = 0
	}
	c := len(l.chunks) - 1
	at := uint32(c<<slotBits | l.used)
	s := l.chunks[c][l.used : l.used+n : l.used+n]
	l.used += n
	return s, at
}

func (l *slotList) get(at uint32, n int) []uint32 {
	if n == 0 {
		return nil
	}
	c, i := at>>slotBits, int(at&(1<<slotBits-1))
	return l.chunks[c][i : i+n]
}

const bigNumber = 1 << 31 // in a slot: the rest is an index into run.big

// formTable remembers which form takes which kinds of operands, and numbers
// the forms met.
type formTable struct {
	list  []*encoder.Form
	index map[*encoder.Form]opcode
	memo  map[uint64]opcode
}

func (t *formTable) get(op opcode) *encoder.Form { return t.list[op-opForm] }

func (t *formTable) number(f *encoder.Form) opcode {
	if op, ok := t.index[f]; ok {
		return op
	}
	if t.index == nil {
		t.index = map[*encoder.Form]opcode{}
	}
	if len(t.list) >= maxForm {
		panic("BUG: more forms than the table can hold")
	}
	op := opForm + opcode(len(t.list))
	t.list = append(t.list, f)
	t.index[f] = op
	return op
}

// operandKey packs what Select looks at into 8 bits.
func operandKey(o *encoder.Operand) uint64 {
	switch o.Kind {
	case encoder.KReg:
		return uint64(o.Reg) // at most 24
	case encoder.KInd:
		k := 32 + uint64(o.Reg)
		if o.HasDisp {
			k += 32
		}
		return k
	case encoder.KCond:
		return 128 + uint64(o.Cond)
	case encoder.KImm:
		return 192
	case encoder.KMem:
		return 193
	}
	return 255
}

func selectKey(m encoder.Mnemonic, ops []encoder.Operand, undocumented bool) uint64 {
	key := uint64(m)<<4 | uint64(len(ops))
	for i := range ops {
		key = key<<8 | operandKey(&ops[i])
	}
	if undocumented {
		key |= 1 << 63
	}
	return key
}
