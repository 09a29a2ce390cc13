package encoder

import "fmt"

// ValueError says that an operand's value is out of range.
//
// For a relative jump Value is the distance from the instruction's first byte
// to its target, in bytes.
type ValueError struct {
	Operand         int   // 0-based
	Value, Min, Max int64 // both ends are allowed values
	What            string
}

// Error gives the message without the place.
func (e *ValueError) Error() string {
	if e.Min == e.Max {
		return fmt.Sprintf("%s %d must be %d here", e.What, e.Value, e.Min)
	}
	return fmt.Sprintf("%s %d is outside %d to %d", e.What, e.Value, e.Min, e.Max)
}

// Encode appends the form's bytes to dst. The operands are those the form was
// selected for, now with their values; at is the address of the first byte,
// from which relative jumps are counted. The error is a *ValueError, and dst
// is then returned as it was. Nothing is allocated if dst has room.
//
// Ranges: byte -256 to 255, word -65536 to 65535, displacement -128 to 127,
// relative jump -126 to 129 from at, bit number 0 to 7, interrupt mode 0 to 2,
// restart address 00H, 08H ... 38H.
func (f *Form) Encode(dst []byte, ops []Operand, at int64) ([]byte, error) {
	return f.encode(dst, ops, at, false)
}

// EncodeNarrow is Encode, but of a byte or word that is too large it keeps the
// low bits.
func (f *Form) EncodeNarrow(dst []byte, ops []Operand, at int64) ([]byte, error) {
	return f.encode(dst, ops, at, true)
}

func (f *Form) encode(dst []byte, ops []Operand, at int64, narrow bool) ([]byte, error) {
	code := f.base
	for i := range f.operands {
		s, op := &f.operands[i], &ops[i]
		if s.value == vNone {
			if s.letter != 0 {
				code[s.at] |= byte(s.code(op)) << s.shift
			}
			continue
		}
		v, lim := op.Value, limits[s.value]
		switch s.value {
		case vDisplacement:
			if !op.HasDisp {
				v = 0
			}
		case vRelative:
			v -= at
		case vFixed:
			lim.min, lim.max = s.fixed, s.fixed
		}
		if v < lim.min || v > lim.max || s.value == vRestart && v&7 != 0 {
			if !narrow || s.value != vByte && s.value != vWord {
				return dst, &ValueError{Operand: i, Value: v, Min: lim.min, Max: lim.max, What: lim.what}
			}
		}
		switch s.value {
		case vByte, vDisplacement:
			code[s.at] = byte(v)
		case vWord:
			code[s.at], code[s.at+1] = byte(v), byte(v>>8)
		case vRelative:
			code[s.at] = byte(v - 2)
		case vBit:
			code[s.at] |= byte(v) << s.shift
		case vMode:
			code[s.at] |= modeCode(v) << s.shift
		case vRestart:
			code[s.at] |= byte(v) // bits 5 to 3 are the address's own
		}
	}
	return append(dst, code[:f.size]...), nil
}
