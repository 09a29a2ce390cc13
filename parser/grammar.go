// Package parser turns one line of source into a statement.
//
// The syntax is a participle grammar, LL(1), over the project's own lexer. The
// grammar knows "a label, an operation, operands"; whether the operation exists
// and takes those operands is looked up by the caller. Before the grammar sees
// a line, the parser decides which of the first words is the label and which
// the operation, with a predicate that the caller hands in.
//
// What the grammar makes of a line depends on the kinds of its tokens only, not
// on the names and numbers in it. So a parsed line is a Shape plus the line's
// tokens, and a line of a known shape need not go through the grammar again.
package parser

import (
	"fmt"

	"github.com/alecthomas/participle/v2"
	plex "github.com/alecthomas/participle/v2/lexer"

	"romwright/lexer"
)

// The grammar. No alternative may match nothing, and the end of the line is
// part of the alternatives, or participle would throw errors away.
type statement struct {
	Labelled *labelled  `parser:"  @@"`
	Bare     *operation `parser:"| @@ | EOL"`
}

type labelled struct {
	Name plex.Token `parser:"@Label Colon?"`
	Then *operation `parser:"( EOL | @@ )"`
}

type operation struct {
	Name  plex.Token `parser:"@Operation"`
	First *operand   `parser:"( EOL | Raw | @@"`
	More  []*more    `parser:"  @@* EOL )"`
}

// A comma may be missing before an operand or left over behind the last one;
// the caller refuses that where it is not allowed.
type more struct {
	Comma plex.Token `parser:"( @Comma"`
	After *operand   `parser:"  @@? )"`
	Joint *operand   `parser:"| @@"`
}

type operand struct {
	Clause plex.Token  `parser:"@Clause?"`
	Value  expression  `parser:"@@"`
	Dup    *expression `parser:"( Dup LParen @@ RParen )?"`
}

var grammar = participle.MustBuild[statement](participle.Lexer(lexer.Definition{}), participle.UseLookahead(0))

// EBNF is the grammar as participle reads it, for the golden file that shows a
// change of syntax in review.
func EBNF() string { return grammar.String() }

// maxDepth bounds how deep parentheses and prefix operators may nest: the
// expression parser calls itself, and a stack overflow cannot be caught.
const maxDepth = 64

// expression is an operand's value, in postfix order.
type expression struct {
	code        []Instr
	paren       bool // wholly in parentheses
	parenPrefix bool // begins with a parenthesis around a single name or number, and goes on
}

// Parse reads an expression by precedence climbing. It is participle's
// Parseable.
func (e *expression) Parse(lex *plex.PeekingLexer) error {
	if !startsValue(lexer.KindOf(lex.Peek())) {
		return participle.NextMatch
	}
	p := exprParser{lex: lex, expr: e, first: lex.RawCursor(), closing: -1}
	if err := p.binary(1, 0); err != nil {
		return err
	}
	if p.closing >= 0 {
		if p.closing == lex.RawCursor() {
			e.paren = true
		} else {
			e.parenPrefix = p.closing == p.first+3
		}
	}
	return nil
}

func startsValue(k lexer.Kind) bool {
	switch k {
	case lexer.Word, lexer.Number, lexer.String, lexer.Dollar, lexer.LParen, lexer.Function:
		return true
	}
	return k.IsUnary()
}

type exprParser struct {
	lex     *plex.PeekingLexer
	expr    *expression
	first   plex.RawCursor
	closing plex.RawCursor // behind the parenthesis that closes the first token's
}

func (p *exprParser) emit(op lexer.Kind, unary bool, tok plex.RawCursor) {
	p.expr.code = append(p.expr.code, Instr{Op: op, Unary: unary, Tok: uint16(tok)})
}

func (p *exprParser) kind() lexer.Kind { return lexer.KindOf(p.lex.Peek()) }

// errorAt reports the next token. The message begins with a key that
// describe turns into a code.
func (p *exprParser) errorAt(format string, args ...any) error {
	return participle.Errorf(p.lex.Peek().Pos, format, args...)
}

func (p *exprParser) binary(min, depth int) error {
	if err := p.unary(depth); err != nil {
		return err
	}
	for {
		op := p.kind()
		prec := op.Precedence()
		if prec < min || prec == 0 {
			return nil
		}
		at := p.lex.RawCursor()
		p.lex.Next()
		if err := p.binary(prec+1, depth+1); err != nil {
			return err
		}
		p.emit(op, false, at)
		if prec == lexer.PrecComparison && p.kind().Precedence() == prec {
			return p.errorAt("a comparison of a comparison needs parentheses")
		}
	}
}

func (p *exprParser) unary(depth int) error {
	if depth > maxDepth {
		return p.errorAt("parentheses and operators are nested more than %d deep", maxDepth)
	}
	op := p.kind()
	if !op.IsUnary() {
		return p.primary(depth)
	}
	at := p.lex.RawCursor()
	p.lex.Next()
	var err error
	if op == lexer.Not {
		err = p.binary(lexer.PrecNot, depth+1)
	} else {
		err = p.unary(depth + 1)
	}
	p.emit(op, true, at)
	return err
}

func (p *exprParser) primary(depth int) error {
	at := p.lex.RawCursor()
	switch k := p.kind(); k {
	case lexer.Word, lexer.Number, lexer.String, lexer.Dollar:
		p.lex.Next()
		p.emit(k, false, at)
		return nil
	case lexer.Function:
		p.lex.Next()
		for _, want := range []lexer.Kind{lexer.LParen, lexer.Word, lexer.Comma, lexer.Word, lexer.RParen} {
			if p.kind() != want {
				return p.errorAt("expected %s: two labels in parentheses", describeKind(want))
			}
			p.lex.Next()
		}
		p.emit(k, false, at)
		return nil
	case lexer.LParen:
		p.lex.Next()
		if err := p.binary(1, depth+1); err != nil {
			return err
		}
		if p.kind() != lexer.RParen {
			return p.errorAt("expected )")
		}
		p.lex.Next()
		if at == p.first {
			p.closing = p.lex.RawCursor()
		}
		return nil
	}
	return p.errorAt("expected a value")
}

func describeKind(k lexer.Kind) string {
	switch k {
	case lexer.LParen:
		return "("
	case lexer.RParen:
		return ")"
	case lexer.Comma:
		return "a comma"
	case lexer.Word:
		return "a label"
	}
	return fmt.Sprint(k)
}
