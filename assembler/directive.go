package assembler

import (
	"fmt"
	"strconv"
	"strings"

	"romwright/diag"
	"romwright/directives"
	"romwright/lexer"
	"romwright/parser"
	"romwright/rom"
)

// directive carries out a directive as far as pass one goes.
func (a *run) directive(p *placed, index uint32, st *parser.Statement, text string, d *directives.Directive) {
	p.op = directiveOp(d.ID)
	if d.Class&parser.ReadsRest == 0 && !a.countOperands(index, st, d) {
		p.op = opNone // its slots hold nothing that pass two could look at
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
	kind := constant
	if d.ID == directives.Defl {
		kind = variable
	}
	a.defineAs(&w, id, kind, &st.Operands[0].Expr)
}

// defineAs gives a name the value of an expression, now or, where that cannot
// be told yet, later.
func (a *run) defineAs(w *where, id lexer.Name, kind symbolKind, e *parser.Expr) {
	v, state := a.eval(w, e)
	as := known
	switch state {
	case valueLater:
		as = deferred
		a.freeze(w, e)
	case valueBad:
		as = bad
	}
	a.define(id, kind, v, as, w.index)
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
	conflict := func(what, option, source, given string) {
		a.fail(index, st.Op, diag.CapacityConflict, "leave one of them out",
			"the source says %s %s and the option --%s %s", what, source, option, given)
		a.sizeUnknown = true // which chip is meant decides what lies outside
	}
	o := &a.opt
	at := e.At
	switch {
	case o.Capacity != 0 && o.Capacity != e.N:
		conflict("CAPACITY", "capacity", fmt.Sprint(e.N), fmt.Sprint(o.Capacity))
		return
	case o.HasAt && e.HasAt && o.At != e.At:
		conflict("AT", "at", directives.Hex(e.At), directives.Hex(o.At))
		return
	case o.HasBlank && e.HasBlank && int64(o.Blank) != e.Blank:
		conflict("BLANK", "blank", fmt.Sprint(e.Blank), fmt.Sprint(o.Blank))
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

// setVariable gives a DEFL name its value from here on.
func (a *run) setVariable(p *placed, index uint32) {
	if p.flags&flagDefines == 0 {
		return
	}
	w := a.at(index)
	name := a.definedName(p)
	v, state := a.eval(&w, &w.shape.Operands[0].Expr)
	s := a.symbol(name)
	if s.kind != variable || s.state == bad {
		return
	}
	if state == valueKnown {
		s.value, s.state = v, known
		if a.variables == nil {
			a.variables = map[uint32]int64{}
		}
		a.variables[index] = v
	}
}

// require checks a REQUIRE; where it does not hold, both sides are shown.
func (a *run) require(index uint32) {
	w := a.at(index)
	if len(w.shape.Operands) == 0 {
		return
	}
	w.cond = true
	o := &w.shape.Operands[0]
	message := ""
	if len(w.shape.Operands) == 2 {
		text := &w.shape.Operands[1]
		tok, slot, ok := loneString(&text.Expr)
		if !ok {
			a.fail(index, int(text.First), diag.Syntax, "write it as "+directives.Get(directives.Require).Syntax, "the text must be a string")
			return
		}
		b, ok := a.bytesOf(&w, tok, w.slots[slot])
		if !ok {
			return
		}
		message = ": " + diag.Printable(string(b))
	}
	v, state := a.eval(&w, &o.Expr)
	if state != valueKnown || v != 0 || a.sizeUnknown {
		return
	}
	values := ""
	code := o.Code
	if last := code[len(code)-1]; last.Op.Precedence() == lexer.PrecComparison {
		split := rightOperand(code[:len(code)-1])
		w.quiet = true
		left, s1 := a.evalCode(&w, code[:split])
		right, s2 := a.evalCode(&w, code[split:len(code)-1])
		if s1 == valueKnown && s2 == valueKnown {
			values = fmt.Sprintf(": the left side is %d (%s), the right side %d (%s)", left, directives.Hex(left), right, directives.Hex(right))
		}
	}
	a.fail(index, int(o.First), diag.RequirementFailed, "", "REQUIRE does not hold%s%s", message, values)
}

// rightOperand is where the code of the last whole value in code begins.
func rightOperand(code []parser.Instr) int {
	need := 1
	for i := len(code) - 1; i >= 0; i-- {
		switch in := &code[i]; {
		case in.Unary:
		case in.Op.Precedence() > 0:
			need++
		default:
			need--
		}
		if need == 0 {
			// the unary operators in front of a value stand behind it
			return i
		}
	}
	return 0
}

// setEntry notes the address of END. An included file's END counts too, if no
// other has been.
func (a *run) setEntry(index uint32) {
	w := a.at(index)
	if len(w.shape.Operands) == 0 {
		return
	}
	v, state := a.eval(&w, &w.shape.Operands[0].Expr)
	if state != valueKnown {
		return
	}
	if v < 0 || v >= directives.Space {
		a.fail(index, int(w.shape.Operands[0].First), diag.ValueOutOfRange, "the CPU sees 64K", "%d (%s) is no address", v, directives.Hex(v))
		return
	}
	a.entry = int(v)
}
