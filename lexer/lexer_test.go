package lexer

import (
	"fmt"
	"math"
	"math/big"
	"strings"
	"testing"
	"time"

	"github.com/alecthomas/participle/v2"
	plex "github.com/alecthomas/participle/v2/lexer"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// The expected results in this file are the language reference's, written out
// by hand; values of number properties come from math/big.

func scan(line string, value bool, escapes bool) []Token {
	s := Scanner{Names: &Names{}, Escapes: escapes}
	s.Begin(line)
	if !value {
		s.BehindValue()
	}
	var out []Token
	for {
		t := s.Next()
		out = append(out, t)
		if t.Kind == EOL {
			return out
		}
	}
}

// show writes the tokens of a line as "Kind text Kind text ...".
func show(line string) string {
	var out []string
	for _, t := range scan(line, true, false) {
		if t.Kind != EOL {
			out = append(out, t.Kind.String()+" "+line[t.Start:t.End])
		}
	}
	return strings.Join(out, " ")
}

func TestNumberForms(t *testing.T) {
	for text, want := range map[string]int64{
		"0": 0, "123": 123, "123D": 123, "123d": 123, "00012": 12, "010": 10, // leading zeros are decimal
		"0FFH": 255, "0ffh": 255, "0FfH": 255, "1234H": 0x1234, "9h": 9,
		"0xFF": 255, "0XfF": 255, "0x10": 16,
		"1010B": 10, "1010b": 10, "0B": 0, "1B": 1,
		"0b1010": 10, "0B1010": 10,
		"0B1H": 0xB1, "0b1h": 0xB1, "10BH": 0x10B, "0DH": 13, "1DH": 0x1D, // a final H decides first
		"0x1D": 0x1D, "0x1B": 0x1B, "0xB": 11, // then 0x
		"17O": 15, "17o": 15, "17Q": 15, "17q": 15,
		"32K": 32768, "32k": 32768, "1K": 1024, "0K": 0,
		"1_000": 1000, "0FF_FFH": 0xFFFF, "1010_1010B": 0xAA, "0x12_34": 0x1234, "0b1010_1010": 0xAA, "6_4K": 65536,
		"9223372036854775807": math.MaxInt64, "7FFFFFFFFFFFFFFFH": math.MaxInt64, "0x7fffffffffffffff": math.MaxInt64,
		"9007199254740991K": 9007199254740991 * 1024,
		"999999999":         999999999, "9999999999": 9999999999, "123456789D": 123456789,
		// with a prefix, where a value may start
		"$FF": 255, "$ff": 255, "$0": 0, "$1234": 0x1234, "$A_B": 0xAB,
		"#FF": 255, "#10": 16,
		"%1010": 10, "%0": 0, "%1111_0000": 0xF0,
	} {
		toks := scan(text, true, false)
		require.Len(t, toks, 2, text)
		assert.Equal(t, Number, toks[0].Kind, text)
		assert.Equal(t, want, toks[0].Val, text)
	}
}

func TestBadNumbers(t *testing.T) {
	for text, want := range map[string]Problem{
		"12X": BadNumber, "1FG": BadNumber, "0FFHH": BadNumber, "12A": BadNumber, "0FF": BadNumber, "1A": BadNumber,
		"102B": BadNumber, "18O": BadNumber, "19Q": BadNumber, "0x": BadNumber, "0xG": BadNumber, "0b12": BadNumber, "0b": NoProblem,
		"H":  NoProblem, // a name
		"1_": BadNumber, "1__0": BadNumber, "0_FFH": NoProblem, "1_H": BadNumber, "0x_1": BadNumber, "1_K": BadNumber,
		"$FG": BadNumber, "$1_": BadNumber, "%12": BadNumber, "#": BadNumber, "#XY": BadNumber, "%": BadNumber,
		"9223372036854775808": NumberTooLarge, "8000000000000000H": NumberTooLarge, "0FFFFFFFFFFFFFFFFFFFFH": NumberTooLarge,
		"9007199254740992K": NumberTooLarge, "$FFFFFFFFFFFFFFFFF": NumberTooLarge,
		"99999999999999999999999999999999999999999999X": BadNumber, // the digits behind are still checked
	} {
		got := scan(text, true, false)[0]
		assert.Equal(t, want, got.Problem, text)
		assert.Equal(t, want != NoProblem, got.Kind == Illegal, text)
		assert.Equal(t, len(text), int(got.End), "%s is one token", text)
	}
}

// ParseNumber agrees with math/big for every base and suffix.
func TestParseNumberProperty(t *testing.T) {
	forms := []struct {
		base           int
		prefix, suffix string
		times          int64
	}{
		{10, "", "", 1}, {10, "", "D", 1}, {10, "", "d", 1}, {10, "", "K", 1024}, {10, "", "k", 1024},
		{16, "0", "H", 1}, {16, "0", "h", 1}, {16, "0x", "", 1}, {16, "0X", "", 1},
		{2, "", "B", 1}, {2, "", "b", 1}, {2, "0b", "", 1}, {2, "0B", "", 1},
		{8, "", "O", 1}, {8, "", "q", 1},
	}
	rapid.Check(t, func(t *rapid.T) {
		f := rapid.SampledFrom(forms).Draw(t, "form")
		bits := rapid.IntRange(1, 70).Draw(t, "bits")
		v := new(big.Int).SetUint64(rapid.Uint64().Draw(t, "v"))
		v.Lsh(v, 6).Rsh(v, uint(70-bits))
		digits := v.Text(f.base)
		if rapid.Bool().Draw(t, "upper") {
			digits = strings.ToUpper(digits)
		}
		digits = strings.Repeat("0", rapid.IntRange(0, 3).Draw(t, "zeros")) + digits
		if i := rapid.IntRange(0, len(digits)).Draw(t, "underline"); i > 0 && i < len(digits) {
			digits = digits[:i] + "_" + digits[i:]
		}
		text := f.prefix + digits + f.suffix
		// a decimal or binary number that begins with 0b or 0x reads as such
		want := new(big.Int).Mul(v, big.NewInt(f.times))
		got, p := ParseNumber(text)
		switch {
		case want.IsInt64() && (p != NoProblem || got != want.Int64()):
			t.Fatalf("%s: %d %d, want %s", text, got, p, want)
		case !want.IsInt64() && p != NumberTooLarge:
			t.Fatalf("%s: %d %d does not fit", text, got, p)
		}
	})
}

// Where a value may start, % # and $ begin a number; behind a value % is the
// operator.
func TestPrefixesNeedAPlaceForAValue(t *testing.T) {
	for line, want := range map[string]string{
		"A%10":     "Word A Mod % Number 10",
		"A % %10":  "Word A Mod % Number %10",
		"5%%101":   "Number 5 Mod % Number %101",
		"(%10)%10": "LParen ( Number %10 RParen ) Mod % Number 10",
		"$%2":      "Dollar $ Mod % Number 2",
		"$-1":      "Dollar $ Minus - Number 1",
		"$ FF":     "Dollar $ Word FF",
		"$+$FF":    "Dollar $ Plus + Number $FF",
		"'A'%2":    "String 'A' Mod % Number 2",
		"LD A,#10": "Word LD Word A Comma , Number #10",
		"x#10":     "Word x Illegal # Number 10",
		"a=#FF":    "Word a Equal = Number #FF",
		"HIGH %1":  "High HIGH Number %1",
		"~%1":      "Tilde ~ Number %1",
		"1,%1":     "Number 1 Comma , Number %1",
	} {
		assert.Equal(t, want, show(line), line)
	}
}

func TestNames(t *testing.T) {
	for _, name := range []string{"a", "A1", "_", "?", "@", "_x", "x_y", "a.b", ".a", "a$b", "..a", "x?", "@@", "loop$", ".1a", "FFH", "HX"} {
		assert.Equal(t, "Word "+name, show(name), name)
		assert.True(t, IsName(name), name)
	}
	for _, name := range []string{"", "1a", "$a", "a-b", "a b", "ä", "a'", ".", "...", ".1", "$", "a:"} {
		assert.False(t, IsName(name), name)
	}
	for line, problem := range map[string]Problem{".": NameWithoutLetter, "..": NameWithoutLetter, ".5": NameWithoutLetter, ".$": NameWithoutLetter} {
		assert.Equal(t, problem, scan(line, true, false)[0].Problem, line)
	}
	long := strings.Repeat("x", MaxName)
	assert.True(t, IsName(long))
	assert.Equal(t, Word, scan(long, true, false)[0].Kind)
	assert.False(t, IsName(long+"x"))
	assert.Equal(t, NameTooLong, scan(long+"x", true, false)[0].Problem)
}

// IsName and the scanner have one opinion of what a name is.
func TestIsNameProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.StringMatching(`[A-Za-z0-9_?@$. ä-]{1,6}`).Draw(t, "s")
		toks := scan(s, true, false)
		whole := len(toks) == 2 && toks[0].Start == 0 && int(toks[0].End) == len(s)
		scanned := whole && toks[0].Val != 0 && toks[0].Kind != Illegal
		if toks[0].Kind == Number { // $AB is a number
			scanned = false
		}
		if scanned != IsName(s) {
			t.Fatalf("%q: IsName %v, tokens %v", s, IsName(s), toks)
		}
	})
}

func TestOperators(t *testing.T) {
	for line, want := range map[string]string{
		"a<<b": "Word a ShiftLeft << Word b", "a >> 2": "Word a ShiftRight >> Number 2", "a<=b": "Word a LessEqual <= Word b",
		"a<>b": "Word a NotEqual <> Word b", "a!=b": "Word a NotEqual != Word b", "a==b": "Word a Equal == Word b", "a=b": "Word a Equal = Word b",
		"a>=b": "Word a GreaterEqual >= Word b", "a>b": "Word a Greater > Word b", "a<b": "Word a Less < Word b",
		"a&b": "Word a Ampersand & Word b", "a^b": "Word a Caret ^ Word b", "a|b": "Word a Bar | Word b", "~a": "Tilde ~ Word a",
		"a*b/c": "Word a Star * Word b Slash / Word c", "1!2": "Number 1 Illegal ! Number 2",
		"a AND b": "Word a And AND Word b", "a and b": "Word a And and Word b", "a Or b": "Word a Or Or Word b", "a XOR b": "Word a Xor XOR Word b",
		"a MOD b": "Word a Mod MOD Word b", "a SHL 1": "Word a ShiftLeft SHL Number 1", "a shr 1": "Word a ShiftRight shr Number 1",
		"a EQ b": "Word a Equal EQ Word b", "a NE b": "Word a NotEqual NE Word b", "a LT b": "Word a Less LT Word b",
		"a LE b": "Word a LessEqual LE Word b", "a GT b": "Word a Greater GT Word b", "a GE b": "Word a GreaterEqual GE Word b",
		"NOT a": "Not NOT Word a", "LOW a": "Low LOW Word a", "high a": "High high Word a",
		"a,AND": "Word a Comma , Word AND", // a name where a value starts
		// an operator word is a name where a value starts and no operand for it follows
		"AND": "Word AND", "LOW": "Word LOW", "NOT": "Word NOT", "MOD MOD MOD": "Word MOD Mod MOD Word MOD",
		"LOW AND 1":  "Word LOW And AND Number 1",
		"LOW AND":    "Low LOW Word AND", // the low byte of the symbol AND
		"HIGH LOW x": "High HIGH Low LOW Word x",
		"LOW,1":      "Word LOW Comma , Number 1",
		"(NOT)":      "LParen ( Word NOT RParen )",
		"LOW (x)":    "Low LOW LParen ( Word x RParen )",
		"LOW -1":     "Low LOW Minus - Number 1",
		"LOW %1":     "Low LOW Number %1",
		"LOW %2":     "Word LOW Mod % Number 2",
		"DUP":        "Word DUP", "3 DUP(1)": "Number 3 Dup DUP LParen ( Number 1 RParen )", "3 DUP x": "Number 3 Word DUP Word x",
		"TSTATES(a,b)": "Function TSTATES LParen ( Word a Comma , Word b RParen )", "lap (a,b)": "Function lap LParen ( Word a Comma , Word b RParen )",
		"LAP": "Word LAP", "LAP+1": "Word LAP Plus + Number 1",
	} {
		assert.Equal(t, want, show(line), line)
	}
}

// Unary operators bind tightest, then the rows of the language reference.
func TestPrecedence(t *testing.T) {
	rows := [][]Kind{{Or}, {Xor}, {And}, {Equal, NotEqual, Less, LessEqual, Greater, GreaterEqual}, {Bar}, {Caret}, {Ampersand},
		{ShiftLeft, ShiftRight}, {Plus, Minus}, {Star, Slash, Mod}}
	last := 0
	listed := map[Kind]bool{}
	for _, row := range rows {
		p := row[0].Precedence()
		assert.Greater(t, p, last)
		last = p
		for _, k := range row {
			assert.Equal(t, p, k.Precedence(), k)
			listed[k] = true
		}
	}
	assert.Greater(t, PrecUnary, last)
	assert.Greater(t, PrecNot, And.Precedence())
	assert.Less(t, PrecNot, Equal.Precedence())
	for k := Kind(0); k < kinds; k++ {
		assert.Equal(t, listed[k], k.Precedence() > 0, k)
	}
	for _, k := range []Kind{Tilde, High, Low, Plus, Minus, Not} {
		assert.True(t, k.IsUnary(), k)
	}
}

func TestStrings(t *testing.T) {
	for line, want := range map[string]string{
		`'A'`: `String 'A'`, `"A"`: `String "A"`, `''`: `String ''`, `""`: `String ""`,
		`''''`: `String ''''`, `'it''s'`: `String 'it''s'`, `"a""b"`: `String "a""b"`,
		`'"'`: `String '"'`, `"'"`: `String "'"`, `';'`: `String ';'`, `'\'`: `String '\'`, `"a;b" ; c`: `String "a;b"`,
		`'A`: `Illegal 'A`, `'''`: `Illegal '''`, `"`: `Illegal "`,
		`'ä'`: `Illegal 'ä'`, "'a\x01'": "Illegal 'a\x01'", "'a\tb'": "String 'a\tb'",
		`AF'`: `Word AF'`, `EX AF,AF'`: `Word EX Word AF Comma , Word AF'`, `af' ; x`: `Word af'`, `'AF'`: `String 'AF'`, `XAF'`: `Word XAF Illegal '`,
		`"a" "b"`: `String "a" String "b"`,
	} {
		assert.Equal(t, want, show(line), line)
	}
	assert.Equal(t, OpenTripleQuote, scan(`'''`, true, false)[0].Problem)
	assert.Equal(t, OpenString, scan(`'A`, true, false)[0].Problem)
	assert.Equal(t, String, scan(`"a\"b"`, true, true)[0].Kind, "escapes")
	assert.Equal(t, OpenString, scan(`"a\"`, true, true)[0].Problem, "escapes")
}

func TestUnquote(t *testing.T) {
	for in, want := range map[string]string{`'A'`: "A", `''`: "", `''''`: "'", `"a""b"`: `a"b`, `'it''s'`: "it's", `'\n'`: `\n`, `"''"`: "''"} {
		got, at := Unquote(nil, in, false)
		assert.Equal(t, want, string(got), in)
		assert.Equal(t, -1, at)
	}
	for in, want := range map[string]string{`'\n\r\t\0\a\b\e'`: "\n\r\t\x00\x07\x08\x1b", `"\\\'\""`: `\'"`, `'\x41\xfF'`: "A\xff", `'\x4142'`: "A42"} {
		got, at := Unquote(nil, in, true)
		assert.Equal(t, want, string(got), in)
		assert.Equal(t, -1, at)
	}
	for in, want := range map[string]int{`'\z'`: 1, `'ab\q'`: 3, `'\x4'`: 1, `'\xg0'`: 1, `'\N'`: 1} {
		_, at := Unquote(nil, in, true)
		assert.Equal(t, want, at, in)
	}
}

// Quoting any printable text and reading it back gives the text.
func TestUnquoteProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`[ -~]{0,20}`).Draw(t, "text")
		q := rapid.SampledFrom([]string{"'", `"`}).Draw(t, "quote")
		line := q + strings.ReplaceAll(text, q, q+q) + q
		toks := scan(line, true, false)
		if len(toks) != 2 || toks[0].Kind != String || int(toks[0].End) != len(line) {
			t.Fatalf("%s: %v", line, toks)
		}
		got, at := Unquote(nil, line, false)
		if string(got) != text || at >= 0 {
			t.Fatalf("%s: %q %d", line, got, at)
		}
	})
}

func TestRemarksAndBlanks(t *testing.T) {
	for line, want := range map[string]string{
		"": "", "   ": "", "; all of it": "", "\t; \xE4\x00": "", "a;b": "Word a", "a\fb\vc": "Word a Word b Word c",
		"OUT($10),A": "Word OUT LParen ( Number $10 RParen ) Comma , Word A", "ld l , a": "Word ld Word l Comma , Word a",
		"a\x00b": "Word a Illegal \x00 Word b", "\x7F": "Illegal \x7F", "äöx": "Illegal äö Word x", "{}": "Illegal { Illegal }", "\x01\x02x": "Illegal \x01\x02 Word x",
	} {
		assert.Equal(t, want, show(line), "%q", line)
	}
	blank := scan("a b(c", true, false)
	assert.Equal(t, []bool{true, true, false, false, false}, []bool{blank[0].Blank, blank[1].Blank, blank[2].Blank, blank[3].Blank, blank[4].Blank})
}

func TestNamesTable(t *testing.T) {
	var n Names
	ids := map[string]Name{}
	for i := range 5000 {
		text := fmt.Sprintf("name%d", i)
		ids[text] = n.Of(text)
	}
	for text, id := range ids {
		assert.Equal(t, id, n.Of(text))
		assert.Equal(t, id, n.Find(text))
		assert.Equal(t, text, n.Text(id))
	}
	assert.Len(t, ids, 5000)
	assert.Equal(t, Name(0), n.Find("never met"))
	assert.Equal(t, "", n.Text(0))
	assert.Equal(t, "NAME7", n.Text(n.Folded(ids["name7"])))
	assert.Equal(t, n.Folded(n.Of("Name7")), n.Folded(ids["name7"]))
	assert.Equal(t, n.Of("ABC"), n.Folded(n.Of("ABC")))
	var empty Names
	assert.Equal(t, Name(0), empty.Find("x"))
	assert.Equal(t, 1, empty.Len())
}

// colliding makes words that have one hash: pairs of pieces that lead from one
// state of the hash to the same next one, joined in every way.
func colliding(pieces int) []string {
	words := []string{""}
	state := uint32(hashSeed)
	for range pieces {
		seen := map[uint32]string{}
		for i := 0; ; i++ {
			piece := fmt.Sprintf("x%08x", uint32(i)*0x9E3779B1)
			h := state
			for j := range len(piece) {
				h = (h ^ uint32(piece[j])) * hashPrime
			}
			other, ok := seen[h]
			seen[h] = piece
			if ok {
				var next []string
				for _, w := range words {
					next = append(next, w+piece, w+other)
				}
				words, state = next, h
				break
			}
		}
	}
	return words
}

// Words made to have one hash cost no square of their number, and are told
// apart like others.
func TestNamesThatCollide(t *testing.T) {
	words := colliding(16)
	require.Len(t, words, 65536)
	var n Names
	start := time.Now()
	defer func() { t.Logf("in %v", time.Since(start)) }()
	ids := map[Name]bool{}
	for _, w := range words {
		ids[n.Of(w)] = true
	}
	for i, w := range words {
		require.Equal(t, w, n.Text(n.Find(w)))
		if i%100 == 0 {
			n.Of(fmt.Sprintf("honest%d", i))
		}
	}
	for _, w := range words {
		require.True(t, ids[n.Of(w)])
	}
	assert.Len(t, ids, len(words))
	// the square would take many minutes
	assert.Less(t, time.Since(start), 2*time.Minute)
}

func TestLineEnd(t *testing.T) {
	for text, want := range map[string][2]int{"ab\ncd": {2, 3}, "ab\r\ncd": {2, 4}, "ab": {2, 2}, "ab\r": {2, 3}, "": {0, 0}, "\n": {0, 1}, "\r\n": {0, 2}, "a\rb\n": {3, 4}} {
		end, next := LineEnd(text, 0)
		assert.Equal(t, want, [2]int{end, next}, "%q", text)
	}
}

// The scanner as participle knows a lexer: lines, columns and offsets.
func TestDefinition(t *testing.T) {
	const text = "start:\tLD A,'x' ; remark\r\n\n  DB 0FFH,§\n\tNOP"
	lex, err := Definition{}.LexString("x.asm", text)
	require.NoError(t, err)
	names := map[plex.TokenType]string{}
	for name, typ := range (Definition{}).Symbols() {
		names[typ] = name
	}
	var got []string
	for {
		tok, err := lex.Next()
		require.NoError(t, err)
		got = append(got, fmt.Sprintf("%d:%d %s %q", tok.Pos.Line, tok.Pos.Column, names[tok.Type], tok.Value))
		assert.Equal(t, "x.asm", tok.Pos.Filename)
		if tok.EOF() {
			break
		}
		assert.Equal(t, tok.Value, text[tok.Pos.Offset:tok.Pos.Offset+len(tok.Value)])
	}
	assert.Equal(t, []string{
		`1:1 Word "start"`, `1:6 Colon ":"`, `1:8 Word "LD"`, `1:11 Word "A"`, `1:12 Comma ","`, `1:13 String "'x'"`, `1:17 EOL ""`,
		`2:1 EOL ""`,
		`3:3 Word "DB"`, `3:6 Number "0FFH"`, `3:10 Comma ","`, `3:11 Illegal "§"`, `3:13 EOL ""`,
		`4:2 Word "NOP"`, `4:5 EOL ""`,
		`4:1 EOF ""`,
	}, got)
}

// A grammar of participle can use the definition as it stands.
func TestDefinitionInAGrammar(t *testing.T) {
	type line struct {
		Label string   `parser:"(@Word Colon)?"`
		Words []string `parser:"@(Word|Number|Comma)* EOL"`
	}
	type file struct {
		Lines []line `parser:"@@*"`
	}
	p, err := participle.Build[file](participle.Lexer(Definition{}), participle.UseLookahead(2))
	require.NoError(t, err)
	f, err := p.ParseString("x", "a: LD B,5\n NOP\n")
	require.NoError(t, err)
	assert.Equal(t, []line{{"a", []string{"LD", "B", ",", "5"}}, {"", []string{"NOP"}}}, f.Lines)
}

func TestKindNames(t *testing.T) {
	seen := map[string]bool{}
	for k := Kind(0); k < kinds; k++ {
		assert.NotEmpty(t, k.String())
		assert.False(t, seen[k.String()], k)
		seen[k.String()] = true
		typ := TokenType(k)
		assert.Equal(t, k, KindOf(&plex.Token{Type: typ}))
	}
	eof := plex.EOFToken(plex.Position{})
	assert.Equal(t, EOL, KindOf(&eof))
}

// Any line: the scanner ends, goes forward, covers all that is no blank and no
// remark, and gives the same tokens again.
func FuzzScanner(f *testing.F) {
	for _, s := range []string{"start:\tLD A,(IX+5) ; x", "x EQU %101 % 2", "DB 'it''s',\"\\x41\",0FFH,$FF,#12", "EX AF,AF'", "'''", "LOW AND", "3 DUP(TSTATES(a,b))",
		"\x00\x01ä\xFF", "#IF 1", "1__0", "9999999999999999999999", "..", "a<>b<<c!=d!"} {
		f.Add(s, false)
		f.Add(s, true)
	}
	f.Fuzz(func(t *testing.T, line string, escapes bool) {
		if len(line) > MaxLine || strings.ContainsAny(line, "\n") {
			return
		}
		toks := scan(line, true, escapes)
		end := 0
		for i, tok := range toks {
			last := i == len(toks)-1
			require.Equal(t, last, tok.Kind == EOL)
			require.GreaterOrEqual(t, int(tok.Start), end)
			require.Equal(t, "", strings.Trim(line[end:tok.Start], " \t\f\v"), "left out")
			require.Equal(t, i == 0 || int(tok.Start) > end, tok.Blank)
			if last {
				break
			}
			require.Greater(t, tok.End, tok.Start)
			require.LessOrEqual(t, int(tok.End), len(line))
			require.Equal(t, tok.Kind == Illegal, tok.Problem != NoProblem)
			require.Less(t, tok.Kind, Label)
			end = int(tok.End)
			if tok.Kind == String {
				out, _ := Unquote(nil, line[tok.Start:tok.End], escapes)
				require.Less(t, len(out), int(tok.End-tok.Start))
			}
		}
		if rest := line[end:]; strings.Trim(rest, " \t\f\v") != "" {
			require.Equal(t, byte(';'), strings.TrimLeft(rest, " \t\f\v")[0])
		}
		require.Equal(t, toks, scan(line, true, escapes))
	})
}

// ParseNumber never panics and a number it takes is not negative.
func FuzzParseNumber(f *testing.F) {
	for _, s := range []string{"0", "0FFH", "0x1", "0b1", "1_0K", "9223372036854775807", "_", "K", "0bH"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if v, p := ParseNumber(s); p == NoProblem {
			require.GreaterOrEqual(t, v, int64(0))
		}
	})
}
