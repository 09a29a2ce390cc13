package encoder

import (
	"fmt"
	"strconv"
	"strings"
)

// Filled gives Syntax and Bits with ops, the form's first operands, put in as
// far as they are part of the opcode: registers, conditions, bit numbers,
// modes and restart addresses. Bytes without letters left are in hex. Operand
// bytes stay letters, and so does an operand whose Kind is KNone or whose number
// is out of its range. The form must take ops.
func (f *Form) Filled(ops []Operand) (syntax, bits string) {
	words := strings.Split(f.row.operands, ",")
	code := strings.Split(f.row.bits, " ")
	for i := range ops {
		s := &f.operands[i]
		if s.letter == 0 || ops[i].Kind == KNone {
			continue
		}
		v := s.fieldOf(&ops[i])
		if v < 0 {
			continue
		}
		words[i] = s.valueText(v)
		code[s.at] = fillField(code[s.at], s.letter, v)
	}
	for i, tok := range code {
		if len(tok) == 8 {
			code[i] = inHex(tok)
		}
	}
	syntax = f.row.mnemonic
	if f.row.operands != "" {
		syntax += " " + strings.Join(words, ",")
	}
	return syntax, strings.Join(code, " ")
}

// fieldOf is the code that an operand has in its field, -1 if none.
func (s *slot) fieldOf(op *Operand) int {
	switch s.value {
	case vNone, vDisplacement:
		return s.code(op)
	case vBit:
		if op.Value >= 0 && op.Value <= 7 {
			return int(op.Value)
		}
	case vMode:
		if op.Value >= 0 && op.Value <= 2 {
			return int(modeCode(op.Value))
		}
	case vRestart:
		if op.Value >= 0 && op.Value <= 0x38 && op.Value%8 == 0 {
			return int(op.Value) >> 3
		}
	}
	return -1
}

// valueText is what a code of the operand's field stands for, "" if nothing.
func (s *slot) valueText(code int) string {
	switch {
	case s.regs != nil:
		if code < len(s.regs) {
			return s.regs[code].String()
		}
	case s.conds != nil:
		return s.conds[code%len(s.conds)].String()
	case s.value == vMode:
		for mode := range int64(3) {
			if int(modeCode(mode)) == code {
				return fmt.Sprint(mode)
			}
		}
	case s.value == vBit:
		return fmt.Sprint(code)
	case s.value == vRestart:
		return fmt.Sprintf("%02XH", code<<3)
	}
	return ""
}

// fillField puts a code in the place of a letter.
func fillField(token string, letter byte, code int) string {
	out := []byte(token)
	for i := len(out) - 1; i >= 0; i-- {
		if out[i] == letter {
			out[i] = '0' + byte(code&1)
			code >>= 1
		}
	}
	return string(out)
}

// inHex turns eight binary digits into two hex digits; what has letters stays.
func inHex(token string) string {
	v, err := strconv.ParseUint(token, 2, 8)
	if err != nil {
		return token
	}
	return fmt.Sprintf("%02X", v)
}

// Field is an operand's field in the opcode.
type Field struct {
	Operand string // as in Syntax
	Letter  byte   // as in Bits
	Codes   []FieldCode
}

// FieldCode is one code of a field.
type FieldCode struct {
	Bits, Text string // such as "111" and "A"
}

// Fields lists the operands that have a field in the opcode, with what each
// code stands for.
func (f *Form) Fields() []Field {
	var list []Field
	for i := range f.operands {
		s := &f.operands[i]
		if s.letter == 0 {
			continue
		}
		width := strings.Count(strings.Split(f.row.bits, " ")[s.at], string(s.letter))
		field := Field{Operand: s.notation.text, Letter: s.letter}
		for code := range 1 << width {
			if t := s.valueText(code); t != "" {
				field.Codes = append(field.Codes, FieldCode{fmt.Sprintf("%0*b", width, code), t})
			}
		}
		list = append(list, field)
	}
	return list
}

// DecodeOnly reports whether the assembler never chooses the form, because it
// acts as another one.
func (f *Form) DecodeOnly() bool { return f.never }
