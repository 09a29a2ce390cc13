package assembler

import (
	"errors"
	"fmt"
	"strings"

	"romwright/diag"
	"romwright/directives"
	"romwright/encoder"
	"romwright/lexer"
	"romwright/parser"
)

// plainList checks that operands are parted by commas; instructions take
// nothing else.
func (a *run) plainList(index uint32, st *parser.Statement) bool {
	for i := range st.Operands {
		if o := &st.Operands[i]; o.NoComma {
			a.fail(index, int(o.First), diag.Syntax, "", "expected a comma before this")
			return false
		}
	}
	if st.Trailing >= 0 {
		a.fail(index, st.Trailing, diag.Syntax, "", "expected an operand behind the comma")
		return false
	}
	return true
}

// instruction chooses the form, and so the size.
func (a *run) instruction(p *placed, index uint32, st *parser.Statement, m encoder.Mnemonic) {
	if !a.plainList(index, st) {
		a.sizeUnknown = true
		return
	}
	if len(st.Operands) > len(a.ops) {
		o := &st.Operands[len(a.ops)]
		a.fail(index, int(o.First), diag.BadOperands, "", "%s takes no operand here", m)
		a.sizeUnknown = true
		return
	}
	for i := range st.Operands {
		if o := &st.Operands[i]; o.Dup != nil {
			a.fail(index, int(o.Dup.First)-2, diag.Syntax, "", "DUP belongs to DEFB and DEFW")
			a.sizeUnknown = true
			return
		}
	}
	slots := a.slots.get(p.slots, len(st.Slots))
	ops := a.operandKinds(st.Shape, slots, m, index)
	undocumented := a.accept&acceptUndocumented != 0
	key := selectKey(m, ops, undocumented)
	op, ok := a.forms.memo[key]
	if !ok {
		f, err := encoder.Select(m, ops, undocumented)
		if err != nil {
			a.noForm(p, index, st, m, ops, err)
			return
		}
		op = a.forms.number(f)
		if a.forms.memo == nil {
			a.forms.memo = map[uint64]opcode{}
		}
		a.forms.memo[key] = op
	}
	p.op = op
	a.advance(p, index, int64(a.forms.get(op).Size()))
	for i := range st.Operands {
		if st.Operands[i].ParenPrefix && ops[i].Kind == encoder.KImm {
			d := a.errorAt(index, int(st.Operands[i].First), diag.Parentheses,
				"the operand goes on behind its parentheses: it is a value, not memory")
			d.Severity = diag.Warning
			d.Hint = "for memory put all of it in parentheses; for a value leave them out"
			a.diags.Add(d)
		}
	}
}

// operandKinds says of each operand what it is; values are not looked at.
func (a *run) operandKinds(sh *parser.Shape, slots []uint32, m encoder.Mnemonic, index uint32) []encoder.Operand {
	n := len(sh.Operands)
	for i := range sh.Operands {
		a.operandKind(&a.ops[i], &sh.Operands[i], slots, m, i, n, index)
	}
	return a.ops[:n]
}

func (a *run) operandKind(out *encoder.Operand, o *parser.Operand, slots []uint32, m encoder.Mnemonic, i, n int, index uint32) {
	*out = encoder.Operand{Kind: encoder.KImm}
	if o.Paren {
		out.Kind = encoder.KMem
	}
	first := &o.Code[0]
	if first.Op != lexer.Word {
		return
	}
	id := lexer.Name(slots[first.Slot])
	w := a.word(id)
	if len(o.Code) == 1 {
		if w.cond != encoder.NoCond && i == 0 && !o.Paren && encoder.TakesCondition(m, n) {
			if w.cond == encoder.CondC {
				out.Kind, out.Reg = encoder.KReg, encoder.C
			} else {
				out.Kind, out.Cond = encoder.KCond, w.cond
			}
			return
		}
		if w.reg == encoder.NoReg || !a.isRegister(id, w.reg, m, i, n, index) {
			return
		}
		out.Reg = w.reg
		out.Kind = encoder.KReg
		if o.Paren {
			out.Kind = encoder.KInd
		}
		return
	}
	if o.Paren && (w.reg == encoder.IX || w.reg == encoder.IY) && isDisplaced(o.Code) {
		out.Kind, out.Reg, out.HasDisp = encoder.KInd, w.reg, true
	}
}

// isRegister: documented names are reserved. F is a register of IN F,(C) only,
// and a user's name wins over half an index register; both are registers only
// where no symbol of that name stands above.
func (a *run) isRegister(id lexer.Name, r encoder.Reg, m encoder.Mnemonic, i, n int, index uint32) bool {
	if r == encoder.F {
		if m != encoder.IN || i != 0 || n != 2 {
			return false
		}
	} else if !r.Undocumented() {
		return true
	} else if a.acceptOf(index)&acceptUndocumented == 0 {
		return false
	}
	s := a.symbol(id)
	return s.state == undefined || s.def > index
}

// isDisplaced: the expression is its first value with something added to it or
// taken from it.
func isDisplaced(code []parser.Instr) bool {
	depth := 0
	for i := range code {
		switch in := &code[i]; {
		case in.Unary:
			if depth == 1 {
				return false
			}
		case in.Op.Precedence() > 0:
			depth--
			if depth == 1 && in.Op != lexer.Plus && in.Op != lexer.Minus {
				return false
			}
		default:
			depth++
		}
	}
	return true
}

// maxFormsShown bounds the forms that a hint lists.
const maxFormsShown = 6

// noForm reports operands that no form takes, or loads a pair as two loads.
func (a *run) noForm(p *placed, index uint32, st *parser.Statement, m encoder.Mnemonic, ops []encoder.Operand, err error) {
	if m == encoder.LD && len(ops) == 2 && isPair(&ops[0]) && isPair(&ops[1]) && a.accept&acceptPairs != 0 {
		p.op = opPairs
		a.warn(index, st.Op, diag.PairLoad, "assembled as LD %s,%s and LD %s,%s",
			high(ops[0].Reg), high(ops[1].Reg), low(ops[0].Reg), low(ops[1].Reg))
		a.advance(p, index, 2)
		return
	}
	a.sizeUnknown = true
	var se *encoder.SelectError
	if !errors.As(err, &se) {
		panic("BUG: Select gives another error")
	}
	tok := st.Op
	if se.Operand >= 0 && se.Operand < len(st.Operands) {
		tok = int(st.Operands[se.Operand].First)
	}
	if se.NeedsUndocumented {
		a.fail(index, tok, diag.NeedsUndocumented, "the CPU maker does not document it; ACCEPT undocumented reads it",
			"%s is an undocumented instruction", se.Forms[0])
		return
	}
	if takesNothing(m) && len(se.Forms) == 1 {
		a.fail(index, int(st.Operands[0].First), diag.BadOperands, "", "%s takes no operands", m)
		return
	}
	d := a.errorAt(index, tok, diag.BadOperands, "%s does not take %s", m, a.describeOperands(index, st))
	forms := se.Forms
	more := ""
	if len(forms) > maxFormsShown {
		more = fmt.Sprintf(" and %d more; romwright opcodes %s", len(forms)-maxFormsShown, strings.ToLower(m.String()))
		forms = forms[:maxFormsShown]
	}
	d.Hint = "forms: " + strings.Join(forms, "; ") + more
	if m == encoder.JR && len(ops) == 2 {
		d.Hint += "; for other conditions use JP"
	}
	if w := a.undocumentedWord(st); w != "" {
		d.Hint = "for " + w + ": ACCEPT undocumented"
	}
	if m == encoder.LD && len(ops) == 2 && isPair(&ops[0]) && isPair(&ops[1]) {
		d.Hint = "use two loads, or ACCEPT pairs"
	}
	a.diags.Add(d)
}

// undocumentedWord is an operand that names half an index register and is
// taken for a symbol, or "".
func (a *run) undocumentedWord(st *parser.Statement) string {
	if a.accept&acceptUndocumented != 0 {
		return ""
	}
	for i := range st.Operands {
		if c := st.Operands[i].Code; len(c) == 1 && c[0].Op == lexer.Word {
			if id := lexer.Name(st.Tokens[c[0].Tok].Val); a.word(id).reg.Undocumented() && a.symbol(id).state == undefined {
				return a.show(id)
			}
		}
	}
	return ""
}

// describeOperands is the operands as written.
func (a *run) describeOperands(index uint32, st *parser.Statement) string {
	if len(st.Operands) == 0 {
		return "no operands"
	}
	text := a.lineRange(index).Text
	last := st.Operands[len(st.Operands)-1]
	s := text[st.Tokens[st.Operands[0].First].Start:st.Tokens[last.End-1].End]
	if len(s) > 40 {
		return "these operands"
	}
	return diag.Printable(s)
}

func isPair(o *encoder.Operand) bool {
	return o.Kind == encoder.KReg && (o.Reg == encoder.BC || o.Reg == encoder.DE || o.Reg == encoder.HL)
}

func high(pair encoder.Reg) encoder.Reg {
	return map[encoder.Reg]encoder.Reg{encoder.BC: encoder.B, encoder.DE: encoder.D, encoder.HL: encoder.H}[pair]
}

func low(pair encoder.Reg) encoder.Reg {
	return map[encoder.Reg]encoder.Reg{encoder.BC: encoder.C, encoder.DE: encoder.E, encoder.HL: encoder.L}[pair]
}

// encode evaluates an instruction's operands and emits its bytes.
func (a *run) encode(p *placed, index uint32) {
	f := a.forms.get(p.op)
	sh := a.parser.Shape(p.shape)
	m := f.Mnemonic()
	ok := true
	var ops []encoder.Operand
	if n := len(sh.Operands); n > 0 {
		w := where{index: index, shape: sh, slots: a.slots.get(p.slots, len(sh.Slots)), here: int64(p.addr)}
		ops = a.operandKinds(sh, w.slots, m, index)
		for i := range ops {
			op := &ops[i]
			switch {
			case op.Kind == encoder.KImm || op.Kind == encoder.KMem:
				if w.text == "" {
					w.text = a.textOf(p)
				}
				v, state := a.eval(&w, &sh.Operands[i].Expr)
				op.Value = v
				ok = ok && state == valueKnown
			case op.HasDisp:
				if w.text == "" {
					w.text = a.textOf(p)
				}
				v, state := a.displacement(&w, &sh.Operands[i].Expr)
				op.Value = v
				ok = ok && state == valueKnown
			}
			ops = a.ops[:n] // eval leaves them alone, but keep the slice's home clear
		}
	}
	if !ok {
		return
	}
	code, err := f.Encode(a.buf[:0], ops, int64(p.addr))
	if err != nil {
		code, ok = a.refused(p, index, f, ops, err)
		if !ok {
			return
		}
	}
	a.buf = code[:0]
	a.emit(p, index, code)
}

// displacement is the value of an index operand without its register, which
// stands first and counts 0.
func (a *run) displacement(w *where, e *parser.Expr) (int64, valueState) {
	base := len(a.stack)
	defer func() { a.stack = a.stack[:base] }()
	return a.evalFrom(w, e.Code, true)
}

// refused explains a value that does not fit, or narrows it where that is
// accepted.
func (a *run) refused(p *placed, index uint32, f *encoder.Form, ops []encoder.Operand, err error) ([]byte, bool) {
	var ve *encoder.ValueError
	if !errors.As(err, &ve) {
		panic("BUG: Encode gives another error")
	}
	o := a.parser.Shape(p.shape).Operands[min(ve.Operand, len(a.parser.Shape(p.shape).Operands)-1)]
	tok := int(o.First)
	relative := ve.What == "relative jump"
	if relative && a.sizeUnknown && ve.Value > ve.Min-64 && ve.Value < ve.Max+64 {
		return nil, false // the distance is off by statements whose size is unknown
	}
	if (ve.What == "byte" || ve.What == "word") && a.acceptOf(index)&acceptNarrowing != 0 {
		code, err := f.EncodeNarrow(a.buf[:0], ops, int64(p.addr))
		if err == nil {
			a.warnNarrowed(index, tok, ve.What, ve.Value)
			return code, true
		}
	}
	switch {
	case relative:
		hint := "use JP"
		if f.Mnemonic() == encoder.DJNZ {
			hint = "use DEC B and JP NZ, which changes the flags"
		}
		a.fail(index, tok, diag.ValueOutOfRange, hint, "the target is %d bytes away; %s reaches %d to %d",
			ve.Value, f.Mnemonic(), ve.Min, ve.Max)
	case ve.What == "restart address":
		a.fail(index, tok, diag.ValueOutOfRange, "one of 0, 8, 10H, 18H, 20H, 28H, 30H, 38H", "%d (%s) is no restart address",
			ve.Value, directives.Hex(ve.Value))
	default:
		a.rangeError(index, tok, ve.What, ve.Value, ve.Min, ve.Max)
	}
	return nil, false
}

func (a *run) rangeError(index uint32, tok int, what string, v, low, high int64) {
	hint := ""
	if what == "byte" {
		hint = "LOW or HIGH takes one byte of a value"
	}
	a.fail(index, tok, diag.ValueOutOfRange, hint, "%d (%s) is no %s: %d to %d", v, directives.Hex(v), what, low, high)
}

func (a *run) warnNarrowed(index uint32, tok int, what string, v int64) {
	a.warn(index, tok, diag.Narrowed, "%d (%s) does not fit a %s: its high bits are lost", v, directives.Hex(v), what)
}

// encodePairs emits the two loads that a load of a pair stands for.
func (a *run) encodePairs(p *placed, index uint32) {
	sh := a.parser.Shape(p.shape)
	ops := a.operandKinds(sh, a.slots.get(p.slots, len(sh.Slots)), encoder.LD, index)
	to, from := ops[0].Reg, ops[1].Reg
	code := a.buf[:0]
	for _, half := range []func(encoder.Reg) encoder.Reg{high, low} {
		pair := []encoder.Operand{{Kind: encoder.KReg, Reg: half(to)}, {Kind: encoder.KReg, Reg: half(from)}}
		f, err := encoder.Select(encoder.LD, pair, false)
		if err == nil {
			code, err = f.Encode(code, pair, 0)
		}
		if err != nil {
			panic("BUG: " + err.Error())
		}
	}
	a.buf = code[:0]
	a.emit(p, index, code)
}
