package parser

import (
	"romwright/diag"
	"romwright/lexer"
)

// shapeOf turns the grammar's tree into a shape.
func (p *Parser) shapeOf(tree *statement) (*Shape, *Error) {
	sh := &Shape{Op: -1, Trailing: -1, Tokens: len(p.tokens)}
	op := tree.Bare
	if tree.Labelled != nil {
		sh.Label = true
		sh.Colon = p.tokens[1].Kind == lexer.Colon
		op = tree.Labelled.Then
	}
	if op == nil {
		return sh, nil
	}
	for i := range p.tokens {
		switch k := p.tokens[i].Kind; {
		case k == lexer.Operation:
			sh.Op = i
		case k == lexer.Raw:
			sh.Raw = true
		case sh.Op >= 0 && k.Slot():
			sh.Slots = append(sh.Slots, uint16(i))
		}
	}
	b := builder{p: p, shape: sh}
	if op.First != nil {
		b.next = sh.Op + 1
		b.operand(op.First, false)
	}
	for i, m := range op.More {
		switch {
		case m.Joint != nil:
			b.operand(m.Joint, true)
		case m.After != nil:
			b.next++
			b.operand(m.After, false)
		case i == len(op.More)-1:
			sh.Trailing = b.next
			b.next++
		default:
			return nil, &Error{Code: diag.Syntax, Start: int(p.tokens[b.next+1].Start), End: int(p.tokens[b.next+1].End),
				Message: "expected an operand between the commas"}
		}
	}
	return sh, nil
}

// builder walks the operands in the order of their tokens.
type builder struct {
	p     *Parser
	shape *Shape
	next  int // index of the next token
	slot  int // index of the next slot
}

func (b *builder) operand(o *operand, noComma bool) {
	out := Operand{Clause: -1, ClauseSlot: -1, Paren: o.Value.paren, ParenPrefix: o.Value.parenPrefix, NoComma: noComma}
	if b.p.tokens[b.next].Kind == lexer.Clause {
		out.Clause, out.ClauseSlot = b.next, b.slotOf(b.next)
		b.next++
	}
	out.Expr = b.expr(&o.Value)
	if o.Dup != nil {
		b.next += 2 // DUP (
		dup := b.expr(o.Dup)
		out.Dup = &dup
		b.next++ // )
	}
	b.shape.Operands = append(b.shape.Operands, out)
}

func (b *builder) expr(e *expression) Expr {
	out := Expr{Code: e.code, First: uint16(b.next)}
	depth, deepest, last := 0, 0, b.next
	for i := range out.Code {
		in := &out.Code[i]
		switch {
		case in.Op.Precedence() > 0 && !in.Unary:
			depth--
		case !in.Unary:
			depth++
			if in.Op.Slot() {
				in.Slot = uint16(b.slotOf(int(in.Tok)))
			}
		}
		deepest = max(deepest, depth)
		end := int(in.Tok)
		if in.Op == lexer.Function {
			end += 5
		}
		last = max(last, end)
	}
	// closing parentheses behind the last value belong to the expression
	open := 0
	for i := b.next; i <= last; i++ {
		open += paren(b.p.tokens[i].Kind)
	}
	for ; open > 0; open-- {
		last++
	}
	b.next = last + 1
	out.End = uint16(b.next)
	b.shape.MaxValues = max(b.shape.MaxValues, deepest)
	return out
}

func paren(k lexer.Kind) int {
	switch k {
	case lexer.LParen:
		return 1
	case lexer.RParen:
		return -1
	}
	return 0
}

// slotOf is the index of a token among the slots. Tokens are asked for in
// rising order but for operators, so the search starts where it stopped.
func (b *builder) slotOf(tok int) int {
	for i := b.slot; i < len(b.shape.Slots); i++ {
		if int(b.shape.Slots[i]) == tok {
			b.slot = i
			return i
		}
	}
	panic("BUG: a token that is no slot")
}
