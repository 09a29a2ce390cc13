package assembler

import (
	"strings"

	"romwright/diag"
	"romwright/directives"
	"romwright/encoder"
	"romwright/lexer"
	"romwright/parser"
)

// maxLines bounds the lines of a program; each costs some 40 bytes, however
// short it is.
const maxLines = 10_000_000

// passOne reads the program and places every statement.
func (a *run) passOne() {
	for !a.diags.Full() && a.lines.next() {
		if a.placed.n == maxLines {
			a.fail(maxLines-1, 0, diag.TooManyLines, "", "the program has more than %d lines", maxLines)
			a.blind, a.sizeUnknown = true, true
			break
		}
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

// acceptOf is what is accepted at a statement.
func (a *run) acceptOf(index uint32) acceptSet {
	if len(a.accepts) == 1 {
		return a.accepts[0].set
	}
	return a.acceptAt(index)
}
