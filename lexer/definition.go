package lexer

import (
	"io"
	"strings"

	"github.com/alecthomas/participle/v2/lexer"
)

// Definition is the scanner as participle knows a lexer. It serves the grammar
// (token names) and whoever wants the tokens of a text without a parser; the
// parser itself hands its classified tokens over with Replay.
type Definition struct{}

var _ lexer.StringDefinition = Definition{}

// Symbols names the kinds for the grammar.
func (Definition) Symbols() map[string]lexer.TokenType {
	m := map[string]lexer.TokenType{"EOF": lexer.EOF}
	for k := Kind(0); k < kinds; k++ {
		m[k.String()] = TokenType(k)
	}
	return m
}

// TokenType is participle's number of a kind.
func TokenType(k Kind) lexer.TokenType { return lexer.TokenType(k) + 1 }

// KindOf is the kind of a participle token; its end of file is an EOL.
func KindOf(t *lexer.Token) Kind {
	if t.EOF() {
		return EOL
	}
	return Kind(t.Type - 1)
}

// Lex reads everything and scans it line by line.
func (d Definition) Lex(filename string, r io.Reader) (lexer.Lexer, error) {
	text, err := io.ReadAll(r)
	if err != nil {
		return nil, err
	}
	return d.LexString(filename, string(text))
}

// LexString scans a text line by line.
func (Definition) LexString(filename, text string) (lexer.Lexer, error) {
	l := &textLexer{filename: filename, rest: text}
	l.scanner.Names = &Names{}
	return l, nil
}

type textLexer struct {
	filename string
	rest     string
	offset   int
	line     int
	open     bool
	current  string
	scanner  Scanner
}

func (l *textLexer) Next() (lexer.Token, error) {
	if !l.open {
		if l.rest == "" {
			return lexer.EOFToken(lexer.Position{Filename: l.filename, Offset: l.offset, Line: l.line, Column: 1}), nil
		}
		l.offset += len(l.current)
		l.line++
		end, next := LineEnd(l.rest, 0)
		l.current, l.rest = l.rest[:next], l.rest[next:]
		l.scanner.Begin(l.current[:end])
		l.open = true
	}
	t := l.scanner.Next()
	l.open = t.Kind != EOL
	return participleToken(t, l.current, l.filename, l.line, l.offset), nil
}

func participleToken(t Token, line, filename string, number, offset int) lexer.Token {
	return lexer.Token{
		Type:  TokenType(t.Kind),
		Value: line[t.Start:t.End],
		Pos:   lexer.Position{Filename: filename, Offset: offset + int(t.Start), Line: number, Column: int(t.Start) + 1},
	}
}

// Replay gives the tokens of one line, already scanned, to participle.
func Replay(tokens []Token, line string) lexer.Lexer {
	return &replay{tokens: tokens, line: line}
}

type replay struct {
	tokens []Token
	line   string
	next   int
}

func (r *replay) Next() (lexer.Token, error) {
	if r.next >= len(r.tokens) {
		return lexer.EOFToken(lexer.Position{Offset: len(r.line), Line: 1, Column: len(r.line) + 1}), nil
	}
	t := r.tokens[r.next]
	r.next++
	return participleToken(t, r.line, "", 1, 0), nil
}

// LineEnd finds the end of the line that begins at from: end is the offset of
// its line end (LF or CR LF) or of the text's end, next that of the line after.
func LineEnd(text string, from int) (end, next int) {
	end, next = len(text), len(text)
	if i := strings.IndexByte(text[from:], '\n'); i >= 0 {
		end, next = from+i, from+i+1
	}
	if end > from && text[end-1] == '\r' {
		end--
	}
	return end, next
}
