package lexer

import "math"

// Scanner cuts one line after another. Set Names once, then call Begin with
// each line and Next for its tokens; after the last one Next goes on giving
// EOL.
type Scanner struct {
	Names   *Names
	Escapes bool // a backslash in a string begins an escape (ACCEPT escapes)

	text  string
	pos   int
	value bool // a value may start here: after an operator, a comma, the operation
}

// Begin starts a line, which has no line end. The first word is expected at
// its start.
func (s *Scanner) Begin(line string) {
	s.text, s.pos, s.value = line, 0, true
}

// BeginAt starts a line at a byte offset, where a value may start.
func (s *Scanner) BeginAt(line string, at int) {
	s.text, s.pos, s.value = line, at, true
}

// Pos is the byte offset behind the last token.
func (s *Scanner) Pos() int { return s.pos }

// SetPos goes back or forward to a byte offset; a value may start there.
func (s *Scanner) SetPos(at int) { s.pos, s.value = at, true }

// character classes
const (
	cLetter  = 1 << iota // letters, _ ? @
	cDigit               // 0-9
	cNameMid             // $ and . (a dot may begin a name too)
	cHex
	cBlank
)

var class = func() (t [256]uint8) {
	for c := 'a'; c <= 'z'; c++ {
		t[c] |= cLetter
		t[c-'a'+'A'] |= cLetter
	}
	t['_'] |= cLetter
	t['?'] |= cLetter
	t['@'] |= cLetter
	for c := '0'; c <= '9'; c++ {
		t[c] |= cDigit | cHex
	}
	for c := 'A'; c <= 'F'; c++ {
		t[c] |= cHex
		t[c-'A'+'a'] |= cHex
	}
	t['$'] |= cNameMid
	t['.'] |= cNameMid
	t[' '] |= cBlank
	t['\t'] |= cBlank
	t['\f'] |= cBlank
	t['\v'] |= cBlank
	return t
}()

const nameChars = cLetter | cDigit | cNameMid

// IsNameByte tells whether a byte may stand inside a name.
func IsNameByte(c byte) bool { return class[c]&nameChars != 0 }

// IsBlank tells whether a byte separates tokens.
func IsBlank(c byte) bool { return class[c]&cBlank != 0 }

// IsName tells whether the text is a whole name of the language.
func IsName(s string) bool {
	if s == "" || len(s) > MaxName || class[s[0]]&cDigit != 0 || s[0] == '$' {
		return false
	}
	letter := false
	for i := 0; i < len(s); i++ {
		if class[s[i]]&nameChars == 0 {
			return false
		}
		letter = letter || class[s[i]]&cLetter != 0
	}
	return letter
}

// Next gives the next token of the line.
func (s *Scanner) Next() Token {
	text, i := s.text, s.pos
	for i < len(text) && class[text[i]]&cBlank != 0 {
		i++
	}
	blank := i > s.pos || i == 0
	if i >= len(text) || text[i] == ';' {
		s.pos = i
		return Token{Kind: EOL, Start: uint16(i), End: uint16(i), Blank: blank}
	}
	c := text[i]
	t := Token{Start: uint16(i), Blank: blank}
	switch cl := class[c]; {
	case cl&cLetter != 0 || c == '.':
		s.word(&t, i)
	case cl&cDigit != 0:
		s.number(&t, i)
	default:
		s.other(&t, i, c)
	}
	t.End = uint16(s.pos)
	switch t.Kind {
	case Word, Number, String, Dollar, RParen, Illegal:
		s.value = false
	default:
		s.value = true
	}
	return t
}

func (s *Scanner) word(t *Token, i int) {
	text := s.text
	start := i
	h := uint32(hashSeed)
	seen := uint8(0)
	for ; i < len(text); i++ {
		c := text[i]
		cl := class[c]
		if cl&nameChars == 0 {
			break
		}
		seen |= cl
		h = (h ^ uint32(c)) * hashPrime
	}
	// the apostrophe of AF' belongs to the register
	if i-start == 2 && i < len(text) && text[i] == '\'' && text[start]|0x20 == 'a' && text[start+1]|0x20 == 'f' {
		h = (h ^ '\'') * hashPrime
		i++
	}
	s.pos = i
	if seen&cLetter == 0 {
		t.Kind, t.Problem = Illegal, NameWithoutLetter
		return
	}
	if i-start > MaxName {
		t.Kind, t.Problem = Illegal, NameTooLong
		return
	}
	id := s.Names.of(text[start:i], h)
	t.Val = int64(id)
	t.Kind = Word
	if op := s.Names.entries[id].op; op != Word {
		t.Kind = s.operator(op, i)
	}
}

// operator decides whether an operator word is one here. Where a value may
// start, HIGH, LOW and NOT are operators if an operand follows, the others are
// names; behind a value the others are operators.
func (s *Scanner) operator(op Kind, after int) Kind {
	switch op {
	case High, Low, Not:
		if s.value && s.operandFollows(after, true) {
			return op
		}
	case Function:
		if s.value && s.nextByte(after) == '(' {
			return op
		}
	case Dup:
		if !s.value && s.nextByte(after) == '(' {
			return op
		}
	default:
		if !s.value {
			return op
		}
	}
	return Word
}

func (s *Scanner) nextByte(i int) byte {
	for i < len(s.text) && class[s.text[i]]&cBlank != 0 {
		i++
	}
	if i < len(s.text) {
		return s.text[i]
	}
	return 0
}

// operandFollows tells whether what stands at i can begin a value. A word that
// is itself a binary operator begins one only if nothing follows it
// ("HIGH AND" is the high byte of the symbol AND).
func (s *Scanner) operandFollows(i int, deep bool) bool {
	text := s.text
	for i < len(text) && class[text[i]]&cBlank != 0 {
		i++
	}
	if i >= len(text) {
		return false
	}
	c := text[i]
	switch {
	case class[c]&cDigit != 0:
		return true
	case class[c]&cLetter != 0 || c == '.':
		if !deep {
			return true
		}
		j := i
		for j < len(text) && class[text[j]]&nameChars != 0 {
			j++
		}
		op := operatorWord(text[i:j])
		if op.Precedence() > 0 && op != High && op != Low {
			return !s.operandFollows(j, false)
		}
		return true
	}
	switch c {
	case '(', '\'', '"', '$', '#', '+', '-', '~':
		return true
	case '%':
		return i+1 < len(text) && (text[i+1] == '0' || text[i+1] == '1')
	}
	return false
}

// number reads a run of letters and digits that begins with a digit. A final H
// decides first, then 0x and 0b, then the other final letters.
func (s *Scanner) number(t *Token, i int) {
	text := s.text
	start := i
	for i < len(text) && class[text[i]]&(cLetter|cDigit) != 0 && text[i] != '?' && text[i] != '@' {
		i++
	}
	s.pos = i
	// the common case, a short decimal number, needs no second look
	if i-start <= 9 {
		v := int64(0)
		j := start
		for ; j < i && class[text[j]]&cDigit != 0; j++ {
			v = v*10 + int64(text[j]-'0')
		}
		if j == i {
			t.Kind, t.Val = Number, v
			return
		}
	}
	v, p := ParseNumber(text[start:i])
	t.Kind, t.Val, t.Problem = Number, v, p
	if p != NoProblem {
		t.Kind = Illegal
	}
}

// ParseNumber reads a number that begins with a digit, in every form of the
// language: 123 123D 0FFH 0xFF 1010B 0b1010 17O 17Q 32K, with _ between digits.
func ParseNumber(s string) (int64, Problem) {
	if s == "" {
		return 0, BadNumber
	}
	last := s[len(s)-1] | 0x20
	if last == 'h' {
		return digits(s[:len(s)-1], 16)
	}
	if len(s) > 2 && s[0] == '0' {
		switch s[1] | 0x20 {
		case 'x':
			return digits(s[2:], 16)
		case 'b':
			if v, p := digits(s[2:], 2); p != BadNumber {
				return v, p
			}
		}
	}
	switch body := s[:len(s)-1]; last {
	case 'b':
		return digits(body, 2)
	case 'o', 'q':
		return digits(body, 8)
	case 'd':
		return digits(body, 10)
	case 'k':
		v, p := digits(body, 10)
		if p == NoProblem && v > math.MaxInt64/1024 {
			return 0, NumberTooLarge
		}
		return v * 1024, p
	}
	return digits(s, 10)
}

func digits(s string, base int64) (int64, Problem) {
	if s == "" {
		return 0, BadNumber
	}
	v := int64(0)
	large := false
	for i := 0; i < len(s); i++ {
		c := s[i]
		var d int64
		switch {
		case '0' <= c && c <= '9':
			d = int64(c - '0')
		case 'a' <= c|0x20 && c|0x20 <= 'f':
			d = int64(c|0x20-'a') + 10
		case c == '_' && i > 0 && i+1 < len(s) && s[i-1] != '_':
			continue
		default:
			return 0, BadNumber
		}
		if d >= base {
			return 0, BadNumber
		}
		if large || v > (math.MaxInt64-d)/base {
			large = true // the digits behind are still checked
			continue
		}
		v = v*base + d
	}
	if large {
		return 0, NumberTooLarge
	}
	return v, NoProblem
}

func (s *Scanner) other(t *Token, i int, c byte) {
	text := s.text
	next := byte(0)
	if i+1 < len(text) {
		next = text[i+1]
	}
	one := func(k Kind) { t.Kind = k; s.pos = i + 1 }
	two := func(k Kind) { t.Kind = k; s.pos = i + 2 }
	switch c {
	case ',':
		one(Comma)
	case ':':
		one(Colon)
	case '(':
		one(LParen)
	case ')':
		one(RParen)
	case '+':
		one(Plus)
	case '-':
		one(Minus)
	case '~':
		one(Tilde)
	case '*':
		one(Star)
	case '/':
		one(Slash)
	case '&':
		one(Ampersand)
	case '^':
		one(Caret)
	case '|':
		one(Bar)
	case '=':
		if next == '=' {
			two(Equal)
		} else {
			one(Equal)
		}
	case '!':
		if next == '=' {
			two(NotEqual)
		} else {
			one(Illegal)
			t.Problem = StrayCharacter
		}
	case '<':
		switch next {
		case '<':
			two(ShiftLeft)
		case '=':
			two(LessEqual)
		case '>':
			two(NotEqual)
		default:
			one(Less)
		}
	case '>':
		switch next {
		case '>':
			two(ShiftRight)
		case '=':
			two(GreaterEqual)
		default:
			one(Greater)
		}
	case '\'', '"':
		s.str(t, i, c)
	case '%':
		if s.value {
			s.prefixed(t, i, 2)
		} else {
			one(Mod)
		}
	case '#':
		if s.value {
			s.prefixed(t, i, 16)
		} else {
			one(Illegal)
			t.Problem = StrayCharacter
		}
	case '$':
		if class[next]&cHex != 0 {
			s.prefixed(t, i, 16)
		} else {
			one(Dollar)
		}
	default:
		s.illegal(t, i, c)
	}
}

// prefixed reads the digits behind % # or $.
func (s *Scanner) prefixed(t *Token, i int, base int64) {
	text := s.text
	j := i + 1
	for j < len(text) && class[text[j]]&(cLetter|cDigit) != 0 && text[j] != '?' && text[j] != '@' {
		j++
	}
	s.pos = j
	v, p := digits(text[i+1:j], base)
	t.Kind, t.Val, t.Problem = Number, v, p
	if p != NoProblem {
		t.Kind = Illegal
	}
}

// illegal takes the whole run of bytes of the same sort as one token.
func (s *Scanner) illegal(t *Token, i int, c byte) {
	t.Kind = Illegal
	j := i + 1
	switch {
	case c >= 0x7F:
		t.Problem = NotASCII
		for j < len(s.text) && s.text[j] >= 0x7F {
			j++
		}
	case c < ' ':
		t.Problem = ControlByte
		for j < len(s.text) && s.text[j] < ' ' && class[s.text[j]]&cBlank == 0 {
			j++
		}
	default:
		t.Problem = StrayCharacter
	}
	s.pos = j
}

// str reads characters in quotes. The quote doubled stands for itself.
func (s *Scanner) str(t *Token, i int, quote byte) {
	text := s.text
	bad := NoProblem
	for j := i + 1; j < len(text); j++ {
		switch c := text[j]; {
		case c == quote:
			if j+1 < len(text) && text[j+1] == quote {
				j++
				continue
			}
			s.pos = j + 1
			t.Kind = String
			if bad != NoProblem {
				t.Kind, t.Problem = Illegal, bad
			}
			return
		case c == '\\' && s.Escapes:
			j++
		case c >= 0x7F:
			bad = NotASCII
		case c < ' ' && c != '\t':
			bad = ControlByte
		}
	}
	s.pos = len(text)
	t.Kind, t.Problem = Illegal, OpenString
	if i+3 <= len(text) && text[i+1] == quote && text[i+2] == quote {
		t.Problem = OpenTripleQuote
	}
}

// Unquote appends the bytes that a String token's text (with its quotes)
// stands for. With escapes, a backslash is read as in ACCEPT escapes; at is
// the offset of a bad escape, or -1.
func Unquote(dst []byte, s string, escapes bool) (out []byte, at int) {
	if len(s) < 2 {
		return dst, -1
	}
	quote := s[0]
	for i := 1; i < len(s)-1; i++ {
		c := s[i]
		switch {
		case c == quote:
			i++ // doubled
		case c == '\\' && escapes:
			i++
			v, n := escape(s[i : len(s)-1])
			if n == 0 {
				return dst, i - 1
			}
			dst = append(dst, v)
			i += n - 1
			continue
		}
		dst = append(dst, c)
	}
	return dst, -1
}

// escape reads what follows a backslash; n is 0 where it is no escape.
func escape(s string) (v byte, n int) {
	if s == "" {
		return 0, 0
	}
	switch s[0] {
	case 'n':
		return '\n', 1
	case 'r':
		return '\r', 1
	case 't':
		return '\t', 1
	case '0':
		return 0, 1
	case 'a':
		return 7, 1
	case 'b':
		return 8, 1
	case 'e':
		return 27, 1
	case '\\', '\'', '"':
		return s[0], 1
	case 'x':
		if len(s) >= 3 && class[s[1]]&cHex != 0 && class[s[2]]&cHex != 0 {
			w, _ := digits(s[1:3], 16)
			return byte(w), 3
		}
	}
	return 0, 0
}

// Line is the line being scanned.
func (s *Scanner) Line() string { return s.text }

// Text is the text of a token of the line.
func (s *Scanner) Text(t Token) string { return s.text[t.Start:t.End] }

// Peek is the next byte that is no blank, 0 at the end of the line.
func (s *Scanner) Peek() byte { return s.nextByte(s.pos) }

// BehindValue tells the scanner that a value stands before the next token.
func (s *Scanner) BehindValue() { s.value = false }
