package parser

import (
	"errors"
	"fmt"

	"github.com/alecthomas/participle/v2"
	plex "github.com/alecthomas/participle/v2/lexer"

	"romwright/diag"
	"romwright/lexer"
)

// Class is what the caller knows about a word that may be an operation.
type Class uint8

// The classes are bits; 0 is a word that is no operation.
const (
	Operation  Class = 1 << iota // a mnemonic, a directive, a macro known so far
	ReadsRest                    // it reads the rest of the line itself
	NamesWord                    // the word before it is its name, with or without a colon (EQU)
	StandAlone                   // a mnemonic or macro that may have no operands: in column 1, the word before it is a label
	HasClauses                   // its operands may begin with AT, BLANK or COPIES
	PassedOver                   // an operation to skip: the rest of the line is not read
)

// Classify is the caller's predicate for first words.
type Classify func(lexer.Name) Class

// Statement is one parsed line: its shape and its tokens. It is valid until
// the next call of Parse.
type Statement struct {
	*Shape
	Tokens []lexer.Token // label, colon, operation, operands, EOL
	Class  Class         // of the operation
	Rest   int           // byte offset behind the operation
}

// Error says what is wrong with a line; offsets are bytes in the line.
type Error struct {
	Code       diag.Code
	Start, End int
	Message    string
	Hint       string
	// Unknown is set where a word was taken for an operation and is none: the
	// caller knows which words are near.
	Unknown lexer.Name
	Alone   bool // the unknown word stands alone, indented: a label without its colon?
}

func (e *Error) Error() string { return e.Message }

// Parser parses line by line. Set the fields once before the first line.
type Parser struct {
	Names    *lexer.Names
	Classify Classify
	NoMemo   bool // send every line through the grammar

	scanner lexer.Scanner
	tokens  []lexer.Token
	memo    memo
	shapes  []*Shape
	st      Statement

	headOnly bool // stop behind the operation
}

// Escapes switches the reading of backslashes in strings (ACCEPT escapes).
func (p *Parser) Escapes(on bool) { p.scanner.Escapes = on }

// Shape gives a shape by its Index.
func (p *Parser) Shape(i uint32) *Shape { return p.shapes[i] }

// Shapes is the number of shapes made so far.
func (p *Parser) Shapes() int { return len(p.shapes) }

// Parse parses one line, which has no line end. The first error is returned;
// it costs this line only.
func (p *Parser) Parse(line string) (*Statement, *Error) {
	st := &p.st
	*st = Statement{Rest: len(line)}
	if len(line) > lexer.MaxLine {
		return st, &Error{Code: diag.LineTooLong, Start: lexer.MaxLine, End: lexer.MaxLine + 1,
			Message: fmt.Sprintf("the line has %d bytes, more than the %d a line may hold", len(line), lexer.MaxLine)}
	}
	p.scanner.Names = p.Names
	p.tokens = p.tokens[:0]
	if err := p.head(line); err != nil {
		st.Tokens = p.tokens
		return st, err
	}
	return p.finish(line)
}

// Again scans a line anew whose shape is known, for the places of its tokens.
// from is the byte offset that ParseRest was given for it, else 0.
func (p *Parser) Again(line string, sh *Shape, from int, escapes bool) []lexer.Token {
	was := p.scanner.Escapes
	defer func() { p.scanner.Escapes = was }()
	p.scanner.Escapes = escapes
	p.scanner.Names = p.Names
	p.scanner.Begin(line)
	var toks []lexer.Token
	for {
		if len(toks) == sh.Op {
			t, _ := p.operationToken()
			p.scanner.SetPos(max(int(t.End), from))
			toks = append(toks, t)
			continue
		}
		t := p.scanner.Next()
		toks = append(toks, t)
		if t.Kind == lexer.EOL {
			break
		}
	}
	return toks
}

// operationToken scans the operation: a word, perhaps behind '#', or '='. A
// value may start where the scanner stands. plain tells that the token is what
// the scanner gives for an operand there, too.
func (p *Parser) operationToken() (t lexer.Token, plain bool) {
	t = p.scanner.Next()
	switch {
	case t.Kind == lexer.Illegal && p.scanner.Line()[t.Start] == '#':
		// '#' may stand before a directive as a dot may
		p.scanner.SetPos(int(t.Start) + 1)
		w := p.scanner.Next()
		if w.Kind == lexer.Word && !w.Blank {
			w.Start, w.Blank = t.Start, t.Blank
			w.Val = int64(p.Names.Of(p.scanner.Text(w)))
			return w, false
		}
		p.scanner.SetPos(int(t.End))
		return t, false
	case t.Kind == lexer.Equal && t.End-t.Start == 1:
		t.Val = int64(p.Names.Of("="))
		t.Kind = lexer.Word
		return t, false
	}
	return t, true
}

// asWord makes a word of a token that the scanner took for an operator word;
// ok is false where it is none.
func (p *Parser) asWord(t *lexer.Token) bool {
	if t.Kind == lexer.Word {
		return true
	}
	if t.Val != 0 && (t.Kind.Precedence() > 0 || t.Kind.IsUnary() || t.Kind == lexer.Function || t.Kind == lexer.Dup) {
		t.Kind = lexer.Word
		return true
	}
	return false
}

func (p *Parser) class(t lexer.Token) Class { return p.Classify(lexer.Name(t.Val)) }

// head reads the label and the operation. Their tokens get the kinds Label and
// Operation.
func (p *Parser) head(line string) *Error {
	s := &p.scanner
	s.Begin(line)
	w1, _ := p.operationToken()
	if w1.Kind == lexer.EOL {
		p.tokens = append(p.tokens, w1)
		return nil
	}
	if !p.asWord(&w1) {
		return p.illegal(w1, "expected a label or an operation")
	}
	if c := line[w1.Start]; c == '=' || c == '#' {
		return p.operation(w1, line, false) // and no name
	}
	if c := s.Peek(); c == ':' {
		p.label(w1)
		p.tokens = append(p.tokens, s.Next())
		w2, _ := p.operationToken()
		if w2.Kind == lexer.EOL {
			p.tokens = append(p.tokens, w2)
			return nil
		}
		if !p.asWord(&w2) {
			return p.illegal(w2, "expected an operation behind the label")
		}
		return p.operation(w2, line, false)
	}
	column1 := w1.Start == 0
	c1 := p.class(w1)
	mark := s.Pos()
	s.SetPos(mark)
	w2, plain := p.operationToken()
	first := w2 // of the operands, if w1 is the operation
	if c1 == 0 && w2.Kind == lexer.Illegal && !w2.Blank {
		return p.illegal(w2, "unexpected character")
	}
	isWord := p.asWord(&w2)
	var c2 Class
	if isWord {
		c2 = p.class(w2)
	}
	if isWord && c2&NamesWord != 0 && c1&ReadsRest == 0 {
		p.label(w1)
		return p.operation(w2, line, false)
	}
	if c1 != 0 {
		if !isWord || c2 == 0 || c1&PassedOver != 0 || c1&ReadsRest != 0 && !column1 || !p.isLabelBefore(c2, column1) {
			if !plain || c1&(ReadsRest|PassedOver) != 0 || p.headOnly {
				return p.operation(w1, line, false)
			}
			p.begin(w1, c1)
			return p.operands(c1, &first)
		}
		p.label(w1)
		return p.operation(w2, line, false)
	}
	switch {
	case isWord && c2 != 0 && column1:
		p.label(w1)
		return p.operation(w2, line, false)
	case w2.Kind == lexer.EOL && column1:
		p.label(w1)
		p.tokens = append(p.tokens, w2)
		return nil
	case w2.Kind == lexer.EOL:
		return p.operation(w1, line, true)
	case isWord && column1:
		// "FOO BAR 1": BAR is where an operation is due, unless FOO alone looks like one
		return &Error{Code: diag.UnknownOperation, Start: int(w1.Start), End: int(w2.End), Unknown: lexer.Name(w1.Val),
			Message: fmt.Sprintf("neither %s nor %s is an operation", diag.Printable(s.Text(w1)), diag.Printable(s.Text(w2)))}
	}
	return p.operation(w1, line, false)
}

// isLabelBefore decides, where two operation words stand in a row without a
// colon, whether the first is a label. It is one where what follows the second
// word reads as the second's operands and could not go on an expression that
// began with it: TEXT DB 5, but not CALL INC, JP END or DEFW IN,OUT.
func (p *Parser) isLabelBefore(c2 Class, column1 bool) bool {
	s := &p.scanner
	i := s.Pos()
	text := s.Line()
	blank := false
	for i < len(text) && lexer.IsBlank(text[i]) {
		i++
		blank = true
	}
	if i >= len(text) || text[i] == ';' {
		return column1 && c2&StandAlone != 0
	}
	switch c := text[i]; c {
	case '\'', '"', '(', '$', '#', '~':
		return true
	case '+', '-':
		return blank && i+1 < len(text) && !lexer.IsBlank(text[i+1])
	case '%':
		return i+1 < len(text) && (text[i+1] == '0' || text[i+1] == '1')
	default:
		if !lexer.IsNameByte(c) {
			return false
		}
	}
	// a word: an operator would go on the expression
	at := s.Pos()
	s.SetPos(at)
	s.BehindValue()
	t := s.Next()
	s.SetPos(at)
	s.BehindValue()
	return t.Kind.Precedence() == 0 && t.Kind != lexer.Dup
}

func (p *Parser) label(t lexer.Token) {
	t.Kind = lexer.Label
	p.tokens = append(p.tokens, t)
}

func (p *Parser) operation(t lexer.Token, line string, alone bool) *Error {
	c := p.class(t)
	if c == 0 {
		return &Error{Code: diag.UnknownOperation, Start: int(t.Start), End: int(t.End), Unknown: lexer.Name(t.Val), Alone: alone,
			Message: fmt.Sprintf("unknown operation %s", diag.Printable(line[t.Start:t.End]))}
	}
	p.begin(t, c)
	p.scanner.SetPos(int(t.End))
	if p.headOnly {
		return nil
	}
	if c&(ReadsRest|PassedOver) != 0 {
		p.tokens = append(p.tokens, lexer.Token{Kind: lexer.Raw, Start: t.End, End: t.End})
		return nil
	}
	return p.operands(c, nil)
}

// begin notes the operation.
func (p *Parser) begin(t lexer.Token, c Class) {
	t.Kind = lexer.Operation
	p.tokens = append(p.tokens, t)
	p.st.Class = c
	p.st.Rest = int(t.End)
}

// operands scans the operands down to the end of the line; first, where it is
// given, is the first token, which was scanned already.
func (p *Parser) operands(c Class, first *lexer.Token) *Error {
	start := true // of an operand
	for {
		var n lexer.Token
		if first != nil {
			n, first = *first, nil
		} else {
			n = p.scanner.Next()
		}
		switch {
		case n.Kind == lexer.Illegal:
			return p.illegal(n, "unexpected character")
		case start && n.Kind == lexer.Word && c&HasClauses != 0 && p.isClause(n):
			n.Kind = lexer.Clause
			p.scanner.SetPos(int(n.End))
			p.tokens = append(p.tokens, n)
			start = false
			continue
		}
		p.tokens = append(p.tokens, n)
		if n.Kind == lexer.EOL {
			return nil
		}
		start = n.Kind == lexer.Comma
	}
}

// isClause: the word introduces the value behind it, it is no value itself.
func (p *Parser) isClause(t lexer.Token) bool {
	switch p.Names.Text(p.Names.Folded(lexer.Name(t.Val))) {
	case "AT", "BLANK", "COPIES":
		return true
	}
	return false
}

// finish gives the line its shape, from the memo or from the grammar.
func (p *Parser) finish(line string) (*Statement, *Error) {
	st := &p.st
	st.Tokens = p.tokens
	hash := hashKinds(p.tokens)
	if !p.NoMemo {
		if sh := p.memo.find(hash, p.tokens); sh != nil {
			st.Shape = sh
			return st, nil
		}
	}
	sh, err := p.parseShape(line)
	if err != nil {
		return st, err
	}
	sh.Index = uint32(len(p.shapes))
	p.shapes = append(p.shapes, sh)
	st.Shape = sh
	if !p.NoMemo {
		p.memo.add(sh, hash, p.tokens)
	}
	return st, nil
}

// parseShape sends the tokens through the grammar.
func (p *Parser) parseShape(line string) (sh *Shape, bad *Error) {
	// participle panics where an alternative matches nothing (its issue 284);
	// the grammar has none, but input must never be able to stop the run.
	defer func() {
		if r := recover(); r != nil {
			if e, ok := r.(error); ok {
				var rt interface{ RuntimeError() }
				if errors.As(e, &rt) {
					panic(r)
				}
			}
			bad = p.errorAt(0, fmt.Sprintf("the line cannot be parsed (%v)", r))
		}
	}()
	lex, err := plex.Upgrade(lexer.Replay(p.tokens, line))
	if err != nil {
		return nil, p.errorAt(0, err.Error())
	}
	tree, err := grammar.ParseFromLexer(lex)
	if err != nil {
		return nil, p.describe(err)
	}
	return p.shapeOf(tree)
}

// describe turns participle's error, whose wording is no interface, into ours.
func (p *Parser) describe(err error) *Error {
	var unexpected *participle.UnexpectedTokenError
	var perr participle.Error
	tok := len(p.tokens) - 1
	if errors.As(err, &perr) {
		for i := range p.tokens {
			if int(p.tokens[i].Start) == perr.Position().Offset && p.tokens[i].Kind != lexer.Raw {
				tok = i
				break
			}
		}
	}
	t := p.tokens[tok]
	if errors.As(err, &unexpected) || perr == nil {
		switch {
		case t.Kind == lexer.EOL:
			return p.errorAt(tok, "expected an operand, found the end of the line")
		case t.Kind == lexer.Comma:
			return p.errorAt(tok, "expected an operand before the comma")
		case tok > 0 && p.tokens[tok-1].Kind == lexer.Operation:
			return p.errorAt(tok, fmt.Sprintf("expected an operand, found %s", p.text(t)))
		}
		return p.errorAt(tok, fmt.Sprintf("unexpected %s", p.text(t)))
	}
	msg := perr.Message()
	switch t.Kind {
	case lexer.EOL:
		msg += ", found the end of the line"
	default:
		if msg == "expected a value" || msg == "expected )" {
			msg += ", found " + p.text(t)
		}
	}
	return p.errorAt(tok, msg)
}

func (p *Parser) text(t lexer.Token) string { return diag.Printable(p.scanner.Text(t)) }

func (p *Parser) errorAt(tok int, msg string) *Error {
	t := p.tokens[tok]
	return &Error{Code: diag.Syntax, Start: int(t.Start), End: int(t.End), Message: msg}
}

// illegal explains an Illegal token, or says what was expected in place of
// another one.
func (p *Parser) illegal(t lexer.Token, expected string) *Error {
	text := p.text(t)
	e := &Error{Code: diag.Syntax, Start: int(t.Start), End: int(t.End)}
	switch t.Problem {
	case lexer.NotASCII:
		e.Code, e.Message = diag.BadCharacter, "only ASCII may stand outside a remark, found "+text
		e.Hint = "write the bytes as numbers, e.g. DEFB 0E4H"
	case lexer.ControlByte:
		e.Code, e.Message = diag.BadCharacter, "control byte "+text+" outside a remark"
	case lexer.StrayCharacter:
		e.Code, e.Message = diag.BadCharacter, "unexpected character "+text
	case lexer.BadNumber:
		e.Code, e.Message = diag.BadNumber, text+" is not a number"
		e.Hint = "number forms: 255 0FFH 0xFF $FF 1010B %1010 17O 32K"
	case lexer.NumberTooLarge:
		e.Code, e.Message = diag.BadNumber, text+" does not fit 64 bits"
	case lexer.OpenString:
		e.Code, e.Message = diag.OpenString, "the string has no closing "+text[:1]
	case lexer.OpenTripleQuote:
		e.Code, e.Message = diag.OpenString, "the string has no closing "+text[:1]
		e.Hint = "a quote in quotes is doubled: " + text[:1] + text[:1] + text[:1] + text[:1]
	case lexer.NameTooLong:
		e.Code, e.Message = diag.BadName, fmt.Sprintf("the name has %d characters, more than %d", t.End-t.Start, lexer.MaxName)
	case lexer.NameWithoutLetter:
		e.Code, e.Message = diag.BadName, text+" is no name: a letter, _, ? or @ must be in it"
	default:
		e.Message = expected + ", found " + text
	}
	return e
}

// Head reads a line that is not to be assembled as far as its operation, which
// may be 0; nothing in the line is an error.
func (p *Parser) Head(line string) lexer.Name {
	if len(line) > lexer.MaxLine {
		return 0
	}
	p.scanner.Names = p.Names
	p.tokens = p.tokens[:0]
	p.headOnly = true
	err := p.head(line)
	p.headOnly = false
	if err != nil || len(p.tokens) == 0 {
		return 0
	}
	if t := p.tokens[len(p.tokens)-1]; t.Kind == lexer.Operation {
		return lexer.Name(t.Val)
	}
	return 0
}

// ParseRest parses what stands from a byte offset on as the operands of the
// statement whose Parse left them to the caller.
func (p *Parser) ParseRest(line string, from int) (*Statement, *Error) {
	p.tokens = p.tokens[:len(p.tokens)-1] // the Raw
	p.scanner.BeginAt(line, from)
	if err := p.operands(0, nil); err != nil {
		return &p.st, err
	}
	return p.finish(line)
}
