package assembler

import (
	"romwright/diag"
	"romwright/directives"
	"romwright/lexer"
	"romwright/parser"
)

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
	a.defineAs(&w, id, flag, &rest.Operands[0].Expr)
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
