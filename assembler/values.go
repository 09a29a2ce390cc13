package assembler

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"math/bits"
	"slices"

	"romwright/diag"
	"romwright/encoder"
	"romwright/lexer"
	"romwright/parser"
)

// where is a statement whose operands are being worked out.
type where struct {
	index uint32
	shape *parser.Shape
	slots []uint32
	here  int64 // what $ is
	text  string
	need  bool // the values must be known now (pass one)
	cond  bool // it is a condition: a NOT of neither true nor false is warned of
	quiet bool // report nothing
}

// at gives a placed statement for working out its operands.
func (a *run) at(index uint32) where {
	p := a.placed.at(index)
	sh := a.parser.Shape(p.shape)
	return where{index: index, shape: sh, slots: a.slots.get(p.slots, len(sh.Slots)), here: int64(p.addr), text: a.textOf(p)}
}

type valueState uint8

const (
	valueKnown valueState = iota
	valueLater            // it depends on a symbol that is not known yet
	valueBad              // an error was reported
)

// number is the value of a Number slot.
func (a *run) number(slot uint32) int64 {
	if slot&bigNumber != 0 {
		return a.big[slot&^bigNumber]
	}
	return int64(slot)
}

// eval works out an expression. All arithmetic is on 64-bit signed values.
func (a *run) eval(w *where, e *parser.Expr) (int64, valueState) {
	if len(e.Code) == 1 {
		return a.push(w, &e.Code[0])
	}
	base := len(a.stack)
	defer func() { a.stack = a.stack[:base] }()
	return a.evalCode(w, e.Code)
}

func (a *run) evalCode(w *where, code []parser.Instr) (int64, valueState) {
	return a.evalFrom(w, code, false)
}

// evalFrom works out an expression; with zero its first value is 0, whatever
// it is.
func (a *run) evalFrom(w *where, code []parser.Instr, zero bool) (int64, valueState) {
	base := len(a.stack)
	state := valueKnown
	for i := range code {
		in := &code[i]
		if zero && i == 0 {
			a.stack = append(a.stack, 0)
			continue
		}
		if in.Unary {
			if state != valueKnown {
				continue
			}
			top := &a.stack[len(a.stack)-1]
			v, err := unary(in.Op, *top)
			if err != "" {
				a.valueError(w, int(in.Tok), diag.Overflow, err)
				state = valueBad
				continue
			}
			if in.Op == lexer.Not && w.cond && *top != 0 && *top != -1 {
				a.warn(w.index, int(in.Tok), diag.NotNegated, "NOT is bitwise: NOT %d is %d, which is true as well", *top, v)
			}
			*top = v
			continue
		}
		if in.Op.Precedence() == 0 {
			v, st := a.push(w, in)
			// values that cannot be worked out are passed over; a later error
			// in the same expression is still found
			if st > state {
				state = st
			}
			a.stack = append(a.stack, v)
			continue
		}
		n := len(a.stack)
		x, y := a.stack[n-2], a.stack[n-1]
		a.stack = a.stack[:n-1]
		if state != valueKnown {
			continue
		}
		v, code, msg := binary(in.Op, x, y)
		if msg != "" {
			a.valueError(w, int(in.Tok), code, msg)
			state = valueBad
			continue
		}
		a.stack[n-2] = v
	}
	v := a.stack[base]
	a.stack = a.stack[:base]
	return v, state
}

func (a *run) valueError(w *where, tok int, code diag.Code, msg string) {
	if !w.quiet {
		a.diags.Add(a.errorAt(w.index, tok, code, "%s", msg))
	}
}

// push gives the value of one token.
func (a *run) push(w *where, in *parser.Instr) (int64, valueState) {
	switch in.Op {
	case lexer.Number:
		return a.number(w.slots[in.Slot]), valueKnown
	case lexer.Dollar:
		return w.here, valueKnown
	case lexer.String:
		return a.stringValue(w, in)
	case lexer.Word:
		return a.symbolValue(w, in)
	case lexer.Function:
		return a.timing(w, in)
	}
	panic("BUG: an expression holds " + in.Op.String())
}

// bytesOf gives the bytes of a String slot.
func (a *run) bytesOf(w *where, tok int, slot uint32) ([]byte, bool) {
	s := w.text[slot>>16 : slot&0xFFFF]
	escapes := a.acceptOf(w.index)&acceptEscapes != 0
	out, at := lexer.Unquote(a.chars[:0], s, escapes)
	a.chars = out[:0]
	if at >= 0 {
		if !w.quiet {
			d := a.errorAt(w.index, tok, diag.BadString, "%s begins no escape", diag.Printable(s[at:min(at+2, len(s))]))
			d.Range.Start += at
			d.Range.End = d.Range.Start + 2
			d.Hint = `escapes: \n \r \t \0 \a \b \e \\ \' \" \xNN`
			a.diags.Add(d)
		}
		return nil, false
	}
	return out, true
}

// stringValue: one character is its code; of two the first is the high byte.
func (a *run) stringValue(w *where, in *parser.Instr) (int64, valueState) {
	b, ok := a.bytesOf(w, int(in.Tok), w.slots[in.Slot])
	if !ok {
		return 0, valueBad
	}
	switch len(b) {
	case 1:
		return int64(b[0]), valueKnown
	case 2:
		return int64(b[0])<<8 | int64(b[1]), valueKnown
	}
	a.valueError(w, int(in.Tok), diag.BadString, fmt.Sprintf("a string of %d characters is no value; one or two are", len(b)))
	return 0, valueBad
}

func (a *run) symbolValue(w *where, in *parser.Instr) (int64, valueState) {
	id := lexer.Name(w.slots[in.Slot])
	if reg := a.register(id); reg != encoder.NoReg {
		a.valueError(w, int(in.Tok), diag.RegisterInExpression, "register "+reg.String()+" where a value is due")
		return 0, valueBad
	}
	id = a.visible(id)
	s := a.symbol(id)
	switch s.state {
	case known:
		a.used(s, w.index)
		return s.value, valueKnown
	case bad:
		return 0, valueBad
	case deferred, working:
		a.used(s, w.index)
		if !w.need && !a.resolved {
			return 0, valueLater
		}
		if a.resolve(id) {
			return a.symbol(id).value, valueKnown
		}
		switch a.symbol(id).state {
		case working: // it needs itself, through LAP
			a.circular(id)
			a.symbol(id).state = bad
		case deferred:
			a.notKnownYet(w, in, id, "it depends on what stands below")
		}
		return 0, valueBad
	}
	if !a.resolved {
		if w.need && !w.quiet {
			a.notKnownYet(w, in, id, "nothing above defines it")
			return 0, valueBad
		}
		return 0, valueLater
	}
	if !w.quiet {
		a.missingSymbol(w.index, in.Tok, id)
	}
	return 0, valueBad
}

// register is the documented register that a word names in every expression;
// names of undocumented halves and F are left to symbols.
func (a *run) register(id lexer.Name) encoder.Reg {
	r := a.word(id).reg
	if r == encoder.F || r.Undocumented() {
		return encoder.NoReg
	}
	return r
}

func (a *run) notKnownYet(w *where, in *parser.Instr, id lexer.Name, why string) {
	if a.blind || w.quiet || a.late[id] {
		return
	}
	if a.late == nil {
		a.late = map[lexer.Name]bool{}
	}
	a.late[id] = true
	d := a.errorAt(w.index, int(in.Tok), diag.NotKnownYet, "%s must be known here, and %s", a.show(id), why)
	if a.symbol(id).state == undefined {
		d.Hint = a.nearSymbol(id)
	}
	if d.Hint == "" {
		d.Hint = "a size, an origin or a condition cannot depend on what follows"
	}
	a.diags.Add(d)
}

// missingUse is the first use of a symbol that is defined nowhere.
type missingUse struct {
	index uint32
	tok   uint16
}

// missingSymbol notes a use of a symbol that is defined nowhere; each is
// reported once, where it is used first.
func (a *run) missingSymbol(index uint32, tok uint16, id lexer.Name) {
	if a.missing == nil {
		a.missing = map[lexer.Name]missingUse{}
	}
	if m, ok := a.missing[id]; !ok || index < m.index {
		a.missing[id] = missingUse{index, tok}
	}
}

func (a *run) reportMissing() {
	if a.blind {
		return
	}
	ids := slices.SortedFunc(maps.Keys(a.missing), func(x, y lexer.Name) int {
		// one line may use several; the first of them is reported, always the same
		return cmp.Or(cmp.Compare(a.missing[x].index, a.missing[y].index), cmp.Compare(a.missing[x].tok, a.missing[y].tok))
	})
	for _, id := range ids {
		if a.diags.Full() {
			return
		}
		m := a.missing[id]
		d := a.errorAt(m.index, int(m.tok), diag.UndefinedSymbol, "undefined symbol %s", a.show(id))
		d.Hint = a.nearSymbol(id)
		a.diags.Add(d)
	}
}

func unary(op lexer.Kind, v int64) (int64, string) {
	switch op {
	case lexer.Minus:
		if v == math.MinInt64 {
			return 0, "the value does not fit 64 bits"
		}
		return -v, ""
	case lexer.Tilde, lexer.Not:
		return ^v, ""
	case lexer.High:
		return v >> 8 & 0xFF, ""
	case lexer.Low:
		return v & 0xFF, ""
	}
	return v, ""
}

const tooLarge = "the value does not fit 64 bits"

// binary applies an operator; msg is empty where that works.
func binary(op lexer.Kind, x, y int64) (v int64, code diag.Code, msg string) {
	switch op {
	case lexer.Plus:
		v = x + y
		if (v > x) != (y > 0) && y != 0 {
			return 0, diag.Overflow, tooLarge
		}
	case lexer.Minus:
		v = x - y
		if (v < x) != (y > 0) && y != 0 {
			return 0, diag.Overflow, tooLarge
		}
	case lexer.Star:
		hi, lo := bits.Mul64(magnitude(x), magnitude(y))
		negative := (x < 0) != (y < 0)
		if hi != 0 || lo > 1<<63 || lo == 1<<63 && !negative {
			return 0, diag.Overflow, tooLarge
		}
		v = x * y
	case lexer.Slash, lexer.Mod:
		switch {
		case y == 0:
			return 0, diag.DivisionByZero, "division by zero"
		case y == -1 && op == lexer.Mod:
			return 0, "", ""
		case y == -1 && x == math.MinInt64:
			return 0, diag.Overflow, tooLarge
		case op == lexer.Slash:
			v = x / y
		default:
			v = x % y
		}
	case lexer.ShiftLeft, lexer.ShiftRight:
		if y < 0 || y > 63 {
			return 0, diag.BadShift, fmt.Sprintf("a shift by %d; 0 to 63 are possible", y)
		}
		if op == lexer.ShiftRight {
			return x >> y, "", ""
		}
		v = x << y
		if v>>y != x {
			return 0, diag.Overflow, tooLarge
		}
	case lexer.Ampersand, lexer.And:
		v = x & y
	case lexer.Caret, lexer.Xor:
		v = x ^ y
	case lexer.Bar, lexer.Or:
		v = x | y
	default:
		v = truth(compare(op, x, y))
	}
	return v, "", ""
}

func magnitude(v int64) uint64 {
	if v < 0 {
		return -uint64(v)
	}
	return uint64(v)
}

func compare(op lexer.Kind, x, y int64) bool {
	switch op {
	case lexer.Equal:
		return x == y
	case lexer.NotEqual:
		return x != y
	case lexer.Less:
		return x < y
	case lexer.LessEqual:
		return x <= y
	case lexer.Greater:
		return x > y
	case lexer.GreaterEqual:
		return x >= y
	}
	panic("BUG: no comparison: " + op.String())
}

func truth(b bool) int64 {
	if b {
		return -1
	}
	return 0
}
