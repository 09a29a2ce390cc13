package assembler

import (
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"strconv"
	"strings"

	"romwright/diag"
	"romwright/directives"
	"romwright/encoder"
	"romwright/lexer"
	"romwright/parser"
	"romwright/rom"
)

// passOne reads the program and places every statement.
func (a *run) passOne() {
	for !a.diags.Full() && a.lines.next() {
		p, index := a.placed.add()
		l := &a.lines
		p.src, p.off, p.num = l.src, l.off, l.num
		p.addr = uint32(a.addr)
		p.flags = placedFlags(a.relocated)
		if l.inExpansion() {
			p.flags |= flagExpanded
		}
		switch {
		case a.collect.open:
			a.collectLine(index, l.text)
		case l.skipping():
			p.flags |= flagSkipped
			a.skippedLine(index, l.text)
		default:
			a.line(p, index, l.text)
		}
	}
	if a.openRunAt != 0 {
		i := a.openRunAt - 1
		a.fail(i, a.opToken(i), diag.Unclosed, "", "no ENDRUNAT closes this")
	}
	if !a.chip.declared && !a.opt.Unpadded && !a.blind {
		main := a.lines.sources[0]
		end, _ := lexer.LineEnd(main.text, 0)
		a.diags.Add(diag.Diagnostic{Severity: diag.Error, Code: diag.NoCapacity,
			Range:   diag.Range{File: main.path, Line: 1, Start: 0, End: min(1, end), Text: main.text[:end]},
			Message: "no CAPACITY says how large the chip is",
			Hint:    "declare it, e.g. CAPACITY 8K, or give --capacity 8K; --unpadded writes no more than what is emitted"})
	}
}

// line assembles one line.
func (a *run) line(p *placed, index uint32, text string) {
	st, bad := a.parser.Parse(text)
	if bad != nil {
		a.badLine(p, index, text, st, bad)
		return
	}
	p.shape = st.Shape.Index
	p.flags |= flagHasShape
	if st.Op < 0 {
		if st.Label {
			a.labelHere(p, index, st)
			a.looksLikeOperation(index, st)
		}
		return
	}
	w := a.word(lexer.Name(st.Tokens[st.Op].Val))
	class, macro, mnemonic, directive := w.class, w.macro, w.mnemonic, w.directive
	switch {
	case class&parser.PassedOver != 0:
		a.labelHere(p, index, st)
	case macro != 0:
		p.op = opMacro
		a.labelHere(p, index, st)
		a.callMacro(index, &a.macros[macro-1], st, text)
	case mnemonic != encoder.NoMnemonic:
		a.labelHere(p, index, st)
		a.bind(p, st, text)
		a.instruction(p, index, st, mnemonic)
	default:
		a.directive(p, index, st, text, directives.Get(directive))
	}
}

// badLine reports a line that is no statement. Its label is defined all the
// same, so that what refers to it is not reported too.
func (a *run) badLine(p *placed, index uint32, text string, st *parser.Statement, bad *parser.Error) {
	if len(st.Tokens) > 0 && st.Tokens[0].Kind == lexer.Label {
		if st.Class&parser.NamesWord != 0 {
			a.nameIsBad(st)
		} else {
			a.defineLabel(p, index, lexer.Name(st.Tokens[0].Val))
		}
	}
	a.sizeUnknown = true
	d := diag.Diagnostic{Severity: diag.Error, Code: bad.Code, Message: bad.Message, Hint: bad.Hint,
		Range: a.lineRange(index), Related: a.chain(index)}
	d.Range.Start, d.Range.End = bad.Start, bad.End
	if bad.Unknown != 0 {
		a.unknownOperation(&d, text, bad)
	}
	a.diags.Add(d)
	for i := range st.Tokens {
		if t := &st.Tokens[i]; t.Kind == lexer.Operation {
			if w := a.word(lexer.Name(t.Val)); w.macro == 0 && w.directive != directives.None {
				a.broken(directives.Get(w.directive))
			}
			break
		}
	}
}

// nameIsBad keeps uses of the name before a refused EQU quiet.
func (a *run) nameIsBad(st *parser.Statement) {
	if s := a.symbol(a.canonical(lexer.Name(st.Tokens[0].Val))); s.state == undefined {
		s.state = bad
	}
}

// unknownOperation points at the word that is no operation and names a near
// one. It may be a macro whose definition was not read.
func (a *run) unknownOperation(d *diag.Diagnostic, text string, bad *parser.Error) {
	word := a.names.Text(bad.Unknown)
	near := a.nearOperation(word)
	if rest := text[bad.Start:bad.End]; len(rest) > len(word) && strings.HasPrefix(rest, word) {
		// two words in a row from column 1: a label and an operation, or an
		// operation and its operand
		second := strings.TrimLeft(rest[len(word):], " \t\f\v")
		if n2 := a.nearOperation(second); near == "" {
			d.Range.Start = bad.End - len(second)
			word, near = second, n2
		} else {
			d.Range.End = bad.Start + len(word)
		}
		d.Message = "unknown operation " + diag.Printable(word)
	}
	switch {
	case bad.Alone:
		d.Hint = "a label needs a colon, or stands in column 1"
		if near != "" {
			d.Hint = "did you mean " + near + "? A label needs a colon, or stands in column 1"
		}
	case near != "":
		d.Hint = "did you mean " + near + "?"
	default:
		d.Hint = "if a foreign source may do without it: --skip " + diag.Printable(strings.TrimLeft(word, ".#"))
	}
}

func (a *run) looksLikeOperation(index uint32, st *parser.Statement) {
	if st.Colon || st.Tokens[0].Start != 0 {
		return
	}
	text := a.names.Text(lexer.Name(st.Tokens[0].Val))
	if near := nearMnemonic(text); near != "" {
		d := a.errorAt(index, 0, diag.LooksLikeOperation, "%s is taken for a label", diag.Printable(text))
		d.Severity = diag.Warning
		d.Hint = "did you mean " + near + "? A colon behind the label makes it clear"
		a.diags.Add(d)
	}
}

// labelHere gives the statement's label the current address.
func (a *run) labelHere(p *placed, index uint32, st *parser.Statement) {
	if st.Label {
		a.defineLabel(p, index, lexer.Name(st.Tokens[0].Val))
	}
}

func (a *run) defineLabel(p *placed, index uint32, id lexer.Name) {
	p.flags |= flagAddress
	a.addrUsed = true
	full := a.canonical(id)
	a.define(full, label, a.addr, known, index)
	if a.names.Text(id)[0] != '.' && !a.locals[id] && strings.IndexByte(a.names.Text(id), '.') < 0 {
		a.openScope(id)
	}
}

// bind keeps what the statement's slots stand for.
func (a *run) bind(p *placed, st *parser.Statement, text string) {
	if n := len(st.Slots); n > 0 {
		slots, at := a.slots.room(n)
		p.slots = at
		a.fillSlots(slots, st, text)
	}
}

// bindName does so for a statement that gives a value to a name, and keeps the
// name in a slot of its own behind the others.
func (a *run) bindName(p *placed, st *parser.Statement, text string, id lexer.Name) {
	n := len(st.Slots)
	slots, at := a.slots.room(n + 1)
	p.slots = at
	p.flags |= flagDefines
	a.fillSlots(slots[:n], st, text)
	slots[n] = uint32(id)
}

// definedName is the symbol to which a placed statement gives a value.
func (a *run) definedName(p *placed) lexer.Name {
	n := len(a.parser.Shape(p.shape).Slots)
	return lexer.Name(a.slots.get(p.slots, n+1)[n])
}

func (a *run) fillSlots(slots []uint32, st *parser.Statement, text string) {
	for i, tok := range st.Slots {
		t := &st.Tokens[tok]
		switch t.Kind {
		case lexer.Word:
			id := lexer.Name(t.Val)
			if a.anyCase || text[t.Start] == '.' {
				id = a.canonical(id)
			}
			slots[i] = uint32(id)
		case lexer.Number:
			if t.Val < bigNumber {
				slots[i] = uint32(t.Val)
			} else {
				a.big = append(a.big, t.Val)
				slots[i] = bigNumber | uint32(len(a.big)-1)
			}
		case lexer.String:
			slots[i] = uint32(t.Start)<<16 | uint32(t.End)
		default:
			slots[i] = uint32(t.Val)
		}
	}
}

func (a *run) whereOf(p *placed, index uint32, st *parser.Statement, text string) where {
	return where{index: index, shape: st.Shape, slots: a.slots.get(p.slots, len(st.Slots)), here: a.addr, text: text}
}

// advance counts the statement's bytes.
func (a *run) advance(p *placed, index uint32, n int64) {
	if n == 0 {
		return
	}
	p.flags |= flagAddress
	a.addrUsed = true
	end := a.addr + n
	if end > directives.Space || end+a.romDelta > directives.Space {
		p.flags |= flagNoEmission
		if !a.beyond && !a.sizeUnknown {
			a.fail(index, a.opToken(index), diag.OutsideChip, "the CPU sees 64K",
				"the statement needs %s from %s on and leaves the address space", plural(int(n), "%d byte", "%d bytes"), directives.Hex(a.addr))
		}
		a.beyond = true
		a.addr = min(directives.Space, end)
		if a.addr+a.romDelta > directives.Space {
			a.addr = directives.Space - a.romDelta
		}
		return
	}
	p.size = uint32(n)
	a.addr = end
}

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

// skippedLine follows the conditionals in a part that is left out.
func (a *run) skippedLine(index uint32, text string) {
	switch d := a.headDirective(text); d {
	case directives.If, directives.IfDef, directives.IfNDef:
		a.lines.conds = append(a.lines.conds, condition{index: index, done: true})
	case directives.ElseIf, directives.Else, directives.EndIf:
		p := a.placed.at(index)
		if c := a.lines.innermost(); c != nil && (d != directives.ElseIf || c.done && !c.last) {
			// operands and what follows them need make no sense
			p.flags &^= flagSkipped
			a.conditional(index, 0, d, false, valueKnown)
			return
		}
		p.flags &^= flagSkipped
		a.line(p, index, text)
	}
}

// conditional carries out ELSEIF, ELSE and ENDIF.
func (a *run) conditional(index uint32, tok int, d directives.ID, truth bool, st valueState) {
	c := a.lines.innermost()
	name := directives.Get(d).Name
	if c == nil {
		a.fail(index, tok, diag.Unopened, "", "%s without an IF in this file or expansion", name)
		return
	}
	if d == directives.EndIf {
		a.lines.conds = a.lines.conds[:len(a.lines.conds)-1]
		return
	}
	if c.last {
		d := a.errorAt(index, tok, diag.Unopened, "%s behind the ELSE", name)
		d.Related = append([]diag.Related{{Range: a.tokenRange(c.index, a.opToken(c.index)), Message: "the IF stands here"}}, d.Related...)
		a.diags.Add(d)
		return
	}
	if d == directives.Else {
		c.last = true
		truth = true
	}
	c.active = !c.done && truth
	if c.active || st != valueKnown {
		c.done = true
	}
}

// openCondition carries out IF and its kin. With a condition that cannot be
// told, no part is assembled.
func (a *run) openCondition(index uint32, truth bool, st valueState) {
	c := condition{index: index, active: truth && st == valueKnown, done: truth || st != valueKnown}
	if st != valueKnown {
		a.blind, a.sizeUnknown = true, true
	}
	a.lines.conds = append(a.lines.conds, c)
}

// directive carries out a directive as far as pass one goes.
func (a *run) directive(p *placed, index uint32, st *parser.Statement, text string, d *directives.Directive) {
	p.op = directiveOp(d.ID)
	if d.Class&parser.ReadsRest == 0 && !a.countOperands(index, st, d) {
		a.labelUnlessName(p, index, st, d)
		a.broken(d)
		return
	}
	switch d.ID {
	case directives.Macro, directives.Irp, directives.IrpC:
		if d.ID != directives.Macro {
			a.labelHere(p, index, st)
		}
		a.macroDirective(index, d, st, text)
		return
	case directives.Equ, directives.Defl:
		a.nameValue(p, index, st, text, d)
		return
	}
	a.labelHere(p, index, st)
	a.bind(p, st, text)
	switch d.ID {
	case directives.Local:
		a.localNames(index, st, text)
	case directives.ExitM:
		if !a.lines.exitExpansion() {
			a.fail(index, st.Op, diag.Unopened, "", "EXITM outside a macro or a repetition")
		}
	case directives.EndM:
		a.fail(index, st.Op, diag.Unopened, "", "ENDM without a MACRO or a repetition in this file or expansion")
	case directives.If, directives.ElseIf:
		w := a.whereOf(p, index, st, text)
		w.need, w.cond = true, true
		if d.ID == directives.ElseIf {
			// the condition of a part that cannot be assembled is not looked at
			if c := a.lines.innermost(); c == nil || c.done || c.last {
				a.conditional(index, st.Op, d.ID, false, valueKnown)
				return
			}
		}
		v, state := a.eval(&w, &st.Operands[0].Expr)
		if d.ID == directives.If {
			a.openCondition(index, v != 0, state)
		} else {
			if state != valueKnown {
				a.blind, a.sizeUnknown = true, true
			}
			a.conditional(index, st.Op, d.ID, v != 0, state)
		}
	case directives.Else, directives.EndIf:
		a.conditional(index, st.Op, d.ID, false, valueKnown)
	case directives.IfDef, directives.IfNDef:
		name, _, ok := a.flagName(index, st, text, d)
		state := valueKnown
		if !ok {
			state = valueBad
		}
		a.openCondition(index, a.isDefined(name) == (d.ID == directives.IfDef), state)
	case directives.Define:
		a.defineFlag(p, index, st, text, d)
	case directives.Include:
		if name, start, end, _, ok := a.fileName(index, st, text, false); ok {
			a.include(index, name, start, end)
		} else {
			a.blind, a.sizeUnknown = true, true
		}
	case directives.Embed:
		a.embed(p, index, st, text)
	case directives.Accept:
		a.acceptWords(index, st, text)
	case directives.EndRunAt:
		a.endRunAt(index, st)
	default:
		a.placing(p, index, st, text, d)
	}
}

// broken notes what cannot be known behind a directive that was refused.
func (a *run) broken(d *directives.Directive) {
	a.sizeUnknown = true
	switch d.ID {
	case directives.If, directives.ElseIf, directives.Rept:
		a.blind = true
	case directives.Capacity:
		a.chip.declared, a.chip.bySource = true, true
		a.chip.index = a.placed.n - 1
		a.blindChip()
	case directives.RunAt:
		if a.openRunAt == 0 {
			a.openRunAt = a.placed.n
		}
	}
	if d.ID == directives.If {
		a.lines.conds = append(a.lines.conds, condition{index: a.placed.n - 1, done: true})
	}
	if d.ID == directives.Rept {
		a.beginCollection(collection{id: d.ID, index: a.placed.n - 1, broken: true})
	}
}

func (a *run) labelUnlessName(p *placed, index uint32, st *parser.Statement, d *directives.Directive) {
	if d.Class&parser.NamesWord == 0 {
		a.labelHere(p, index, st)
	} else if st.Label {
		a.nameIsBad(st)
	}
}

// countOperands checks how many operands there are and how they are parted.
func (a *run) countOperands(index uint32, st *parser.Statement, d *directives.Directive) bool {
	list := d.ID == directives.Defb || d.ID == directives.Defw
	for i := range st.Operands {
		o := &st.Operands[i]
		if o.NoComma {
			before := st.Operands[i-1]
			if !list || before.Dup != nil || len(before.Code) == 0 || before.Code[len(before.Code)-1].Op != lexer.String {
				a.fail(index, int(o.First), diag.Syntax, "", "expected a comma before this")
				return false
			}
			if a.accept&acceptCommas == 0 {
				a.fail(index, int(o.First), diag.Syntax, "ACCEPT commas reads it as it stands", "expected a comma before this")
				return false
			}
			a.warn(index, int(o.First), diag.Comma, "the comma before this is missing")
		}
		if o.Dup != nil && !list {
			a.fail(index, int(o.Dup.First)-2, diag.Syntax, "", "DUP belongs to DEFB and DEFW")
			return false
		}
	}
	if st.Trailing >= 0 {
		if !list || a.accept&acceptCommas == 0 {
			hint := ""
			if list {
				hint = "ACCEPT commas leaves it out"
			}
			a.fail(index, st.Trailing, diag.Syntax, hint, "expected an operand behind the comma")
			return false
		}
		a.warn(index, st.Trailing, diag.Comma, "the comma at the end is left over")
	}
	n := len(st.Operands)
	if n >= d.Min && (n <= d.Max || d.Max < 0) {
		return true
	}
	tok := len(st.Tokens) - 1
	if n > d.Max && d.Max >= 0 {
		tok = int(st.Operands[d.Max].First)
	}
	a.fail(index, tok, diag.Syntax, "write it as "+d.Syntax, "%s takes %s", d.Name, operandCount(d.Min, d.Max))
	return false
}

func operandCount(low, high int) string {
	switch {
	case high == 0:
		return "no operand"
	case high < 0:
		return plural(low, "at least %d operand", "at least %d operands")
	case low == high:
		return plural(low, "%d operand", "%d operands")
	case low == 0:
		return plural(high, "at most %d operand", "at most %d operands")
	}
	return fmt.Sprintf("%d to %d operands", low, high)
}

// plural fills in n and chooses between one and many.
func plural(n int, one, many string, args ...any) string {
	if n == 1 {
		return fmt.Sprintf(one, append(args, n)...)
	}
	return fmt.Sprintf(many, append(args, n)...)
}

// nameValue carries out EQU and DEFL.
func (a *run) nameValue(p *placed, index uint32, st *parser.Statement, text string, d *directives.Directive) {
	if !st.Label {
		a.fail(index, st.Op, diag.Syntax, "write it as "+d.Syntax, "%s has no name before it", d.Name)
		return
	}
	id := a.canonical(lexer.Name(st.Tokens[0].Val))
	a.bindName(p, st, text, id)
	w := a.whereOf(p, index, st, text)
	w.need = d.ID == directives.Defl
	v, state := a.eval(&w, &st.Operands[0].Expr)
	kind, as := constant, known
	if d.ID == directives.Defl {
		kind = variable
	}
	switch state {
	case valueLater:
		as = deferred
		a.freeze(&w, &st.Operands[0].Expr)
	case valueBad:
		as = bad
	}
	a.define(id, kind, v, as, index)
}

// freeze keeps the values that redefinable names have now, for an expression
// that is worked out later. Each gets a name of its own that no source can
// write; it is no symbol of the program.
func (a *run) freeze(w *where, e *parser.Expr) {
	for _, in := range e.Code {
		if in.Op != lexer.Word {
			continue
		}
		id := a.visible(lexer.Name(w.slots[in.Slot]))
		s := *a.symbol(id)
		if s.kind != variable || s.state != known {
			continue
		}
		a.used(a.symbol(id), w.index)
		frozen := a.names.Of(a.names.Text(id) + " " + strconv.FormatInt(s.value, 10))
		*a.symbol(frozen) = symbol{value: s.value, state: known, kind: frozenValue}
		w.slots[in.Slot] = uint32(frozen)
	}
}

// flagName reads the name of DEFINE, IFDEF and IFNDEF: it runs to the next
// blank, comma or semicolon. after is the offset behind it.
func (a *run) flagName(index uint32, st *parser.Statement, text string, d *directives.Directive) (name string, after int, ok bool) {
	i := st.Rest
	for i < len(text) && lexer.IsBlank(text[i]) {
		i++
	}
	j := i
	for j < len(text) && !lexer.IsBlank(text[j]) && text[j] != ',' && text[j] != ';' {
		if text[j] < ' ' || text[j] >= 0x7F {
			a.failAt(index, j, j+1, diag.BadCharacter, "", "unexpected character %s", diag.Printable(text[j:j+1]))
			return "", 0, false
		}
		j++
	}
	if i == j {
		a.failAt(index, min(i, len(text)), min(i+1, len(text)), diag.Syntax, "write it as "+d.Syntax, "%s needs a name", d.Name)
		return "", 0, false
	}
	if d.ID != directives.Define {
		k := j
		for k < len(text) && lexer.IsBlank(text[k]) {
			k++
		}
		if k < len(text) && text[k] != ';' {
			a.failAt(index, k, len(text), diag.Syntax, "", "%s takes one name", d.Name)
			return "", 0, false
		}
	}
	return text[i:j], j, true
}

func (a *run) isDefined(name string) bool {
	if a.flags[name] {
		return true
	}
	if !lexer.IsName(name) {
		return false
	}
	s := a.symbol(a.canonical(a.names.Of(name)))
	return s.state != undefined
}

// defineFlag carries out DEFINE.
func (a *run) defineFlag(p *placed, index uint32, st *parser.Statement, text string, d *directives.Directive) {
	name, after, ok := a.flagName(index, st, text, d)
	if !ok {
		return
	}
	i := after
	for i < len(text) && (lexer.IsBlank(text[i]) || text[i] == ',' && i == after) {
		i++
	}
	bare := i >= len(text) || text[i] == ';'
	if !lexer.IsName(name) {
		if !bare {
			a.failAt(index, i, len(text), diag.BadName, "", "%s is no symbol name, so it can have no value", diag.Printable(name))
			return
		}
		a.setFlag(name)
		return
	}
	id := a.canonical(a.names.Of(name))
	if bare {
		a.define(id, flag, 1, known, index)
		return
	}
	rest, wrong := a.parser.ParseRest(text, i)
	if wrong != nil {
		a.failAt(index, wrong.Start, wrong.End, wrong.Code, wrong.Hint, "%s", wrong.Message)
		return
	}
	a.behindText(p, index, rest, i)
	if len(rest.Operands) != 1 || rest.Trailing >= 0 || rest.Operands[0].Dup != nil {
		a.fail(index, len(rest.Tokens)-1, diag.Syntax, "write it as "+d.Syntax, "DEFINE takes one value")
		return
	}
	a.bindName(p, rest, text, id)
	w := a.whereOf(p, index, rest, text)
	v, state := a.eval(&w, &rest.Operands[0].Expr)
	as := known
	switch state {
	case valueLater:
		as = deferred
		a.freeze(&w, &rest.Operands[0].Expr)
	case valueBad:
		as = bad
	}
	a.define(id, flag, v, as, index)
}

// behindText notes that the statement's operands begin at a byte offset, behind
// a name that was read as text.
func (a *run) behindText(p *placed, index uint32, rest *parser.Statement, at int) {
	if a.restAt == nil {
		a.restAt = map[uint32]int{}
	}
	a.restAt[index] = at
	p.shape = rest.Shape.Index
}

// fileName reads the file that INCLUDE or EMBED names: in quotes, or bare. With
// list, operands may follow behind a comma; after is then the offset behind it.
func (a *run) fileName(index uint32, st *parser.Statement, text string, list bool) (name string, start, end, after int, ok bool) {
	i := st.Rest
	for i < len(text) && lexer.IsBlank(text[i]) {
		i++
	}
	d := directives.Include
	if list {
		d = directives.Embed
	}
	if i < len(text) && (text[i] == '"' || text[i] == '\'') {
		j := strings.IndexByte(text[i+1:], text[i])
		if j < 0 {
			a.failAt(index, i, len(text), diag.OpenString, "", "the name has no closing %c", text[i])
			return "", 0, 0, 0, false
		}
		start, end, after = i+1, i+1+j, i+j+2
	} else {
		j := i
		for j < len(text) && text[j] != ';' && !lexer.IsBlank(text[j]) && (!list || text[j] != ',') {
			j++
		}
		start, end, after = i, j, j
	}
	for after < len(text) && lexer.IsBlank(text[after]) {
		after++
	}
	more := list && after < len(text) && text[after] == ','
	if start == end || after < len(text) && text[after] != ';' && !more {
		a.failAt(index, min(i, len(text)), len(text), diag.Syntax, "write it as "+directives.Get(d).Syntax, "%s needs one file name", directives.Get(d).Name)
		return "", 0, 0, 0, false
	}
	if !more {
		after = -1
	} else {
		after++
	}
	return text[start:end], start, end, after, true
}

// include opens the file that INCLUDE names.
func (a *run) include(index uint32, name string, start, end int) {
	fail := func(format string, args ...any) {
		a.blind, a.sizeUnknown = true, true
		a.failAt(index, start, end, diag.IncludeFailed, "", format, args...)
	}
	if a.lines.files() > MaxIncludes {
		fail("files are included more than %d deep", MaxIncludes)
		return
	}
	besides := a.lines.sources[a.lines.fileFrame().src]
	path, content, err := a.find(name, besides.path)
	if err != nil {
		fail("%s cannot be included: %s", diag.Printable(name), err)
		return
	}
	for i := range a.lines.frames {
		if f := &a.lines.frames[i]; !f.expansion && filepath.Clean(a.lines.sources[f.src].path) == filepath.Clean(path) {
			fail("%s includes itself", diag.Printable(name))
			return
		}
	}
	a.lines.include(path, a.listedName(path, name), content, index)
}

// listedName is the name of an included file in the listing: relative to the
// main source where that is possible without going up, else as written.
func (a *run) listedName(path, name string) string {
	rel, err := filepath.Rel(filepath.Dir(a.lines.sources[0].path), path)
	if err != nil || strings.HasPrefix(rel, "..") {
		if filepath.IsAbs(name) {
			return filepath.Base(name)
		}
		return filepath.ToSlash(name)
	}
	return filepath.ToSlash(rel)
}

// acceptWords carries out ACCEPT.
func (a *run) acceptWords(index uint32, st *parser.Statement, text string) {
	any := false
	i := st.Rest
	for i < len(text) && text[i] != ';' {
		if lexer.IsBlank(text[i]) || text[i] == ',' {
			i++
			continue
		}
		j := i
		for j < len(text) && !lexer.IsBlank(text[j]) && text[j] != ',' && text[j] != ';' {
			j++
		}
		any = true
		set, ok := acceptWord(text[i:j])
		switch {
		case !ok:
			words := make([]string, 0, 8)
			for _, k := range directives.AcceptWords() {
				words = append(words, k.Word)
			}
			a.failAt(index, i, j, diag.BadAccept, "words: "+strings.Join(words, ", "), "ACCEPT does not know %s", diag.Printable(text[i:j]))
			return
		case set == acceptAnyCase && a.anySymbol && !a.anyCase:
			a.failAt(index, i, j, diag.BadAccept, "put it at the top", "ACCEPT any-case must stand before the first label")
			return
		}
		a.accept |= set
		i = j
	}
	if !any {
		a.fail(index, st.Op, diag.Syntax, "write it as "+directives.Get(directives.Accept).Syntax, "ACCEPT needs a word")
		return
	}
	a.setAccept(index)
}

func (a *run) endRunAt(index uint32, st *parser.Statement) {
	if a.openRunAt == 0 {
		a.fail(index, st.Op, diag.Unopened, "", "ENDRUNAT without RUNAT")
		return
	}
	a.openRunAt = 0
	a.relocated = 0
	a.addr += a.romDelta
	a.romDelta = 0
	a.placed.at(index).flags &^= flagRelocated
	a.placed.at(index).addr = uint32(a.addr)
}

// placing carries out the directives that change the address, emit or declare.
func (a *run) placing(p *placed, index uint32, st *parser.Statement, text string, d *directives.Directive) {
	w := a.whereOf(p, index, st, text)
	if d.ID == directives.Defb || d.ID == directives.Defw {
		n, ok := a.listSize(&w, d.ID == directives.Defw)
		if !ok {
			a.sizeUnknown = true
			return
		}
		a.advance(p, index, n)
		return
	}
	a.vals = a.vals[:0]
	for i := range st.Operands {
		o := &st.Operands[i]
		v := directives.Value{}
		if o.Clause >= 0 {
			v.Clause = strings.ToUpper(a.names.Text(lexer.Name(st.Tokens[o.Clause].Val)))
		}
		// what no size depends on is worked out in pass two
		later := d.ID == directives.Require || d.ID == directives.End ||
			i == 1 && (d.ID == directives.Defs || d.ID == directives.Align)
		if !later {
			w.need = true
			value, state := a.eval(&w, &o.Expr)
			if state != valueKnown {
				a.broken(d)
				return
			}
			v.V, v.Known = value, true
		}
		a.vals = append(a.vals, v)
	}
	if d.ID == directives.Rept {
		c := collection{id: d.ID, index: index, rounds: int(min(max(a.vals[0].V, 0), MaxExpanded+1))}
		if v := a.vals[0].V; v < 0 {
			a.fail(index, int(st.Operands[0].First), diag.ValueOutOfRange, "", "REPT cannot repeat %d times", v)
			c.broken = true
		}
		a.beginCollection(c)
		return
	}
	e, problem := d.Effect(a.addr, a.vals)
	if problem != nil {
		tok := st.Op
		if problem.Operand < len(st.Operands) {
			o := st.Operands[problem.Operand]
			tok = int(o.First)
			if o.Clause >= 0 && problem.Code == diag.Syntax {
				tok = o.Clause
			}
		}
		a.fail(index, tok, problem.Code, problem.Hint, "%s", problem.Message)
		a.broken(d)
		return
	}
	a.carryOut(p, index, st, e)
}

// blindChip keeps a chip that was declared badly from causing more errors.
func (a *run) blindChip() {
	if a.chip.size == 0 {
		a.chip.size = directives.MaxCapacity
	}
	a.sizeUnknown = true
}

// carryOut does in pass one what a directive asks for.
func (a *run) carryOut(p *placed, index uint32, st *parser.Statement, e directives.Effect) {
	switch e.Kind {
	case directives.SetOrigin:
		if a.openRunAt != 0 {
			a.fail(index, st.Op, diag.MacroMisuse, "end the part with ENDRUNAT first", "ORG inside RUNAT")
			return
		}
		a.addr = e.Value
		a.originSet = true
		a.beyond = false
		p.flags |= flagAddress
		p.addr = uint32(e.Value) // the listing shows where it goes on
		if st.Label {
			// a label before ORG is the address before it
			p.addr = uint32(a.symbol(a.canonical(lexer.Name(st.Tokens[0].Val))).value)
		}
	case directives.Reserve, directives.Fill:
		if e.Kind == directives.Reserve {
			if p.op == directiveOp(directives.Align) {
				// nothing is reserved, only passed over
				a.moveOn(p, index, e.N)
				return
			}
			p.flags |= flagReserves
		}
		p.flags |= flagAddress
		a.advance(p, index, e.N)
	case directives.DeclareChip:
		a.declareChip(p, index, st, e)
	case directives.DeclareRAM:
		a.ram = append(a.ram, rom.Range{First: int(e.Value), Last: int(e.Value + e.N - 1)})
	case directives.Entry:
		a.placed.at(index).op = directiveOp(directives.End)
		a.lines.endFile()
	case directives.Relocate:
		if a.openRunAt != 0 {
			d := a.errorAt(index, st.Op, diag.MacroMisuse, "RUNAT inside RUNAT")
			d.Related = append([]diag.Related{{Range: a.tokenRange(a.openRunAt-1, a.opToken(a.openRunAt-1)), Message: "opened here"}}, d.Related...)
			a.diags.Add(d)
			return
		}
		a.openRunAt = index + 1
		a.relocated = uint32(flagRelocated)
		a.romDelta = a.addr - e.Value
		a.deltas = append(a.deltas, relocation{index + 1, a.romDelta})
		a.addr = e.Value
	}
}

// moveOn passes over n addresses without reserving them.
func (a *run) moveOn(p *placed, index uint32, n int64) {
	p.flags |= flagAddress
	if a.addr+n > directives.Space {
		a.advance(p, index, n)
		return
	}
	a.addr += n
}

// declareChip carries out CAPACITY.
func (a *run) declareChip(p *placed, index uint32, st *parser.Statement, e directives.Effect) {
	c := &a.chip
	if c.bySource {
		d := a.errorAt(index, st.Op, diag.CapacityConflict, "the chip is declared already")
		d.Related = append([]diag.Related{{Range: a.tokenRange(c.index, a.opToken(c.index)), Message: "first declared here"}}, d.Related...)
		a.diags.Add(d)
		return
	}
	conflict := func(what, option string, source, given int64) {
		a.fail(index, st.Op, diag.CapacityConflict, "leave one of them out",
			"the source says %s %d and the option --%s %d", what, source, option, given)
	}
	o := &a.opt
	at := e.At
	switch {
	case o.Capacity != 0 && o.Capacity != e.N:
		conflict("CAPACITY", "capacity", e.N, o.Capacity)
		return
	case o.HasAt && e.HasAt && o.At != e.At:
		conflict("AT", "at", e.At, o.At)
		return
	case o.HasBlank && e.HasBlank && int64(o.Blank) != e.Blank:
		conflict("BLANK", "blank", e.Blank, int64(o.Blank))
		return
	}
	if o.HasAt {
		at = o.At
	}
	blank := e.Blank
	if o.HasBlank {
		blank = int64(o.Blank)
	}
	if bad := directives.CheckChip(e.N, at); bad != "" {
		a.fail(index, st.Op, diag.ValueOutOfRange, "the CPU sees 64K", "%s", bad)
		a.blindChip()
	}
	if !a.originSet && at != a.chip.at {
		if a.addrUsed {
			a.sizeUnknown = true // what was placed above may lie outside the chip
			a.fail(index, st.Op, diag.CapacityConflict, "put CAPACITY, or an ORG, before the first label and instruction",
				"statements above were placed from %s on, the chip begins at %s", directives.Hex(a.chip.at), directives.Hex(at))
		} else {
			a.addr = at
		}
	}
	*c = chip{size: e.N, at: at, blank: blank, copies: e.Copies, declared: true, bySource: true, index: index}
}

// listSize is the number of bytes of a DEFB or DEFW list.
func (a *run) listSize(w *where, words bool) (int64, bool) {
	width := int64(1)
	if words {
		width = 2
	}
	total := int64(0)
	for i := range w.shape.Operands {
		o := &w.shape.Operands[i]
		item := o.Expr
		count := int64(1)
		if o.Dup != nil {
			item = *o.Dup
			n, ok := a.dupCount(w, o)
			if !ok {
				return 0, false
			}
			count = n
		}
		one := width
		if tok, slot, ok := loneString(&item); ok && !words {
			b, ok := a.bytesOf(w, tok, w.slots[slot])
			if !ok {
				return 0, false
			}
			one = int64(len(b))
		}
		total += count * one
		if total > directives.Space {
			a.fail(w.index, int(o.First), diag.ValueOutOfRange, "the CPU sees 64K", "the list has more than %d bytes", directives.Space)
			return 0, false
		}
	}
	return total, true
}

// loneString: the item is one string and nothing else.
func loneString(e *parser.Expr) (tok int, slot uint16, ok bool) {
	if len(e.Code) == 1 && e.Code[0].Op == lexer.String && e.End == e.First+1 {
		return int(e.Code[0].Tok), e.Code[0].Slot, true
	}
	return 0, 0, false
}

func (a *run) dupCount(w *where, o *parser.Operand) (int64, bool) {
	was := w.need
	w.need = true
	n, state := a.eval(w, &o.Expr)
	w.need = was
	if state != valueKnown {
		return 0, false
	}
	if n < 0 || n > directives.Space {
		a.fail(w.index, int(o.First), diag.ValueOutOfRange, "", "DUP cannot repeat %d times", n)
		return 0, false
	}
	return n, true
}

// embed reads the file that EMBED names.
func (a *run) embed(p *placed, index uint32, st *parser.Statement, text string) {
	a.sizeUnknown = !a.embedFile(p, index, st, text) || a.sizeUnknown
}

func (a *run) embedFile(p *placed, index uint32, st *parser.Statement, text string) bool {
	name, start, end, after, ok := a.fileName(index, st, text, true)
	if !ok {
		return false
	}
	d := directives.Get(directives.Embed)
	content, err := a.embeddedFile(name)
	if err != nil {
		a.failAt(index, start, end, diag.IncludeFailed, "", "%s cannot be embedded: %s", diag.Printable(name), err)
		return false
	}
	limits := [2]int64{0, math.MaxInt64}
	var operands []parser.Operand
	if after >= 0 {
		rest, wrong := a.parser.ParseRest(text, after)
		if wrong != nil {
			a.failAt(index, wrong.Start, wrong.End, wrong.Code, wrong.Hint, "%s", wrong.Message)
			return false
		}
		a.behindText(p, index, rest, after)
		operands = rest.Operands
		if len(operands) > len(limits) {
			a.fail(index, int(operands[2].First), diag.Syntax, "write it as "+d.Syntax, "EMBED takes 1 to 3 operands")
			return false
		}
		if !a.countOperands(index, rest, d) {
			return false
		}
		a.bind(p, rest, text)
		w := a.whereOf(p, index, rest, text)
		w.need = true
		for i := range operands {
			v, state := a.eval(&w, &operands[i].Expr)
			if state != valueKnown {
				return false
			}
			limits[i] = v
		}
	}
	if limits[0] < 0 || limits[0] > int64(len(content)) {
		a.fail(index, int(operands[0].First), diag.ValueOutOfRange, "", "offset %d is outside the file, which has %d bytes", limits[0], len(content))
		return false
	}
	content = content[limits[0]:]
	if len(operands) > 1 {
		if limits[1] < 0 || limits[1] > int64(len(content)) {
			a.fail(index, int(operands[1].First), diag.ValueOutOfRange, "", "%d bytes are asked for and the file has %d there", limits[1], len(content))
			return false
		}
		content = content[:limits[1]]
	}
	if a.data == nil {
		a.data = map[uint32]string{}
	}
	a.data[index] = content
	a.advance(p, index, int64(len(content)))
	return true
}

// embeddedFile reads a file once, however often it is embedded. What a name
// means depends on the file that names it.
func (a *run) embeddedFile(name string) (string, error) {
	besides := a.lines.sources[a.lines.fileFrame().src].path
	key := filepath.Dir(besides) + "\x00" + name
	if content, ok := a.embedded[key]; ok {
		return content, nil
	}
	_, content, err := a.find(name, besides)
	if err == nil {
		if a.embedded == nil {
			a.embedded = map[string]string{}
		}
		a.embedded[key] = content
	}
	return content, err
}

// acceptOf is what is accepted at a statement.
func (a *run) acceptOf(index uint32) acceptSet {
	if len(a.accepts) == 1 {
		return a.accepts[0].set
	}
	return a.acceptAt(index)
}
