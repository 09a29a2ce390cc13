package encoder

import (
	"errors"
	"strconv"
)

// ErrShort says that the bytes are the beginning of an instruction.
var ErrShort = errors.New("more bytes needed")

// Inst is a decoded instruction.
//
// The operands are in the order written and are such that Form.Encode with
// at = 0 gives the bytes again. So a relative jump's Value is its distance
// from the instruction's first byte, -126 to 129: the target is that plus the
// instruction's address. A displacement has HasDisp set, also if it is 0. C as
// a condition is a KCond. Operands that the form itself names are filled in too,
// such as A in LD A,(nn).
type Inst struct {
	Form      *Form
	Len       int     // bytes, 1 to 4
	Bytes     [4]byte // the first Len are the instruction
	Operands  [3]Operand
	NOperands int
}

// Decode finds the instruction that b begins with. Every sequence of bytes is
// one: a code that is not defined after ED is a two-byte form that does
// nothing, and a DD or FD before an opcode that does not heed it is a one-byte
// form of its own (mnemonic DEFB for both).
//
// The only error is ErrShort. Inst.Len is then how many bytes are needed, as
// far as can be told, and Form is set if the form is already settled.
func Decode(b []byte) (Inst, error) {
	var in Inst
	f, need := instructions().find(b)
	in.Form, in.Len = f, need
	if len(b) < need {
		return in, ErrShort
	}
	copy(in.Bytes[:], b[:need])
	in.NOperands = len(f.operands)
	for i := range f.operands {
		f.operands[i].decode(&in.Operands[i], &in.Bytes)
	}
	return in, nil
}

// find gives the form that b begins with and its size; nil and the number of
// bytes that settle more if b is too short to tell.
func (s *set) find(b []byte) (*Form, int) {
	if len(b) == 0 {
		return nil, 1
	}
	p := pageMain
	switch b[0] {
	case 0xCB:
		p = pageCB
	case 0xED:
		p = pageED
	case 0xDD:
		p = pageDD
	case 0xFD:
		p = pageFD
	default:
		f := s.pages[pageMain][b[0]]
		return f, f.Size()
	}
	if len(b) < 2 {
		return nil, 2
	}
	if b[1] == 0xCB && p >= pageDD {
		if len(b) < 4 {
			return nil, 4
		}
		return s.pages[p-pageDD+pageDDCB][b[3]], 4
	}
	f := s.pages[p][b[1]]
	if f == nil {
		f = s.prefix[p-pageDD]
	}
	return f, f.Size()
}

// decode fills in an operand from the code.
func (s *slot) decode(op *Operand, code *[4]byte) {
	op.Kind = s.kind
	b := code[s.at]
	switch field := int(b >> s.shift); {
	case s.regs != nil:
		op.Reg = s.regs[0]
		if s.letter != 0 {
			op.Reg = s.regs[field%len(s.regs)]
		}
	case s.conds != nil:
		op.Cond = s.conds[0]
		if s.letter != 0 {
			op.Cond = s.conds[field%len(s.conds)]
		}
	}
	switch s.value {
	case vByte:
		op.Value = int64(b)
	case vWord:
		op.Value = int64(b) | int64(code[s.at+1])<<8
	case vDisplacement:
		op.Value, op.HasDisp = int64(int8(b)), true
	case vRelative:
		op.Value = int64(int8(b)) + 2
	case vBit:
		op.Value = int64(b >> s.shift & 7)
	case vMode:
		op.Value = int64([8]byte{0, 0, 1, 2}[b>>s.shift&7])
	case vRestart:
		op.Value = int64(b & 0x38)
	case vFixed:
		op.Value = s.fixed
	}
}

// Text writes the instruction in the maker's syntax with numbers in hex: a
// byte 14H, a word or address 0123H, a displacement (IX+05H) or (IX-03H); bit
// numbers and interrupt modes are decimal. at is the instruction's address,
// from which a relative jump's target is counted.
func (i Inst) Text(at uint16) string {
	out := make([]byte, 0, 20)
	out = append(out, i.Form.row.mnemonic...)
	for n := range i.NOperands {
		sep := byte(',')
		if n == 0 {
			sep = ' '
		}
		out = append(out, sep)
		out = i.Form.operands[n].text(out, &i.Operands[n], at)
	}
	return string(out)
}

// text appends an operand as written.
func (s *slot) text(out []byte, op *Operand, at uint16) []byte {
	switch op.Kind {
	case KReg:
		return append(out, op.Reg.String()...)
	case KCond:
		return append(out, op.Cond.String()...)
	case KMem, KInd:
		out = append(out, '(')
	}
	if op.Kind == KInd {
		out = append(out, op.Reg.String()...)
	}
	switch v := op.Value; s.value {
	case vByte, vRestart:
		out = appendHex(out, uint64(uint8(v)), 2)
	case vWord:
		out = appendHex(out, uint64(uint16(v)), 4)
	case vRelative:
		out = appendHex(out, uint64(at+uint16(v)), 4)
	case vDisplacement:
		sign := byte('+')
		if v < 0 {
			sign, v = '-', -v
		}
		out = appendHex(append(out, sign), uint64(v), 2)
	case vFixed:
		if v > 9 {
			out = appendHex(out, uint64(v), 2)
			break
		}
		fallthrough
	case vBit, vMode:
		out = strconv.AppendInt(out, v, 10)
	}
	if op.Kind == KMem || op.Kind == KInd {
		out = append(out, ')')
	}
	return out
}

// appendHex writes v in at least so many capital hex digits and an H, after a
// 0 where the first digit is a letter.
func appendHex(out []byte, v uint64, digits int) []byte {
	const hex = "0123456789ABCDEF"
	if v>>(4*(digits-1)) > 9 {
		out = append(out, '0')
	}
	for digits--; digits >= 0; digits-- {
		out = append(out, hex[v>>(4*digits)&15])
	}
	return append(out, 'H')
}
