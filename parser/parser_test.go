package parser_test

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"romwright/diag"
	"romwright/directives"
	"romwright/encoder"
	"romwright/lexer"
	"romwright/parser"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// words is a predicate as the assembler hands one in: mnemonics, directives
// and the macros named.
func words(names *lexer.Names, macros ...string) parser.Classify {
	return func(id lexer.Name) parser.Class {
		text := names.Text(id)
		for _, m := range macros {
			if strings.EqualFold(m, text) {
				return parser.Operation | parser.ReadsRest | parser.StandAlone
			}
		}
		if m, ok := encoder.ParseMnemonic(text); ok {
			c := parser.Operation
			if _, err := encoder.Select(m, nil, true); err == nil {
				c |= parser.StandAlone
			}
			return c
		}
		if strings.EqualFold(strings.TrimLeft(text, ".#"), "TITLE") {
			return parser.Operation | parser.PassedOver | parser.StandAlone
		}
		if d, ok := directives.Lookup(text); ok {
			return d.Class
		}
		return 0
	}
}

func newParser(macros ...string) *parser.Parser {
	names := &lexer.Names{}
	return &parser.Parser{Names: names, Classify: words(names, macros...)}
}

// The grammar as participle reads it, so that a change of syntax shows in
// review.
func TestGrammar(t *testing.T) {
	path := filepath.Join("testdata", "grammar.ebnf")
	got := parser.EBNF() + "\n"
	if *update {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(path, []byte(got), 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, string(want), got, "rewrite it with: go test ./parser -update")
}

// describe writes a statement as "label: operation operand, operand".
func describe(p *parser.Parser, line string) string {
	st, err := p.Parse(line)
	if err != nil {
		return fmt.Sprintf("%d %s", err.Start+1, err.Code)
	}
	text := func(tok int) string { return line[st.Tokens[tok].Start:st.Tokens[tok].End] }
	out := ""
	if st.Label {
		out = text(0) + ":"
	}
	if st.Op < 0 {
		return out
	}
	if out != "" {
		out += " "
	}
	out += text(st.Op)
	if st.Raw {
		return out + " <" + strings.TrimSpace(line[st.Rest:]) + ">"
	}
	for i := range st.Operands {
		o := &st.Operands[i]
		sep := ", "
		if i == 0 {
			sep = " "
		} else if o.NoComma {
			sep = " _ "
		}
		out += sep
		if o.Clause >= 0 {
			out += text(o.Clause) + " "
		}
		out += postfix(p, st, &o.Expr, line)
		if o.Dup != nil {
			out += " DUP " + postfix(p, st, o.Dup, line)
		}
		if o.Paren {
			out += " (in parentheses)"
		}
		if o.ParenPrefix {
			out += " (begins with parentheses)"
		}
	}
	if st.Trailing >= 0 {
		out += " ,"
	}
	return out
}

// postfix writes an expression's code; unary operators get a dot.
func postfix(p *parser.Parser, st *parser.Statement, e *parser.Expr, line string) string {
	var out []string
	for _, in := range e.Code {
		t := st.Tokens[in.Tok]
		s := line[t.Start:t.End]
		if in.Unary {
			s = "." + s
		}
		out = append(out, s)
	}
	return strings.Join(out, " ")
}

// Which of the first words is the label and which the operation: language
// reference, section 2. The macro "blink" is known.
func TestLabelOrOperation(t *testing.T) {
	for line, want := range map[string]string{
		"": "", "   ": "", "; remark": "", "\t; remark": "",
		// with a colon, anywhere
		"start:": "start:", "  start:": "start:", "start: NOP": "start: NOP", "start : NOP": "start: NOP", "start:NOP": "start: NOP", "\tstart:\tNOP": "start: NOP",
		".x: RET": ".x: RET", "a.b:": "a.b:", "?x: DI": "?x: DI", "@1: DI": "@1: DI",
		// a colon makes any word a name
		"INC:": "INC:", "AND: AND B": "AND: AND B", "END: END": "END: END", "blink: blink 5": "blink: blink <5>", "DB: DB 5": "DB: DB 5", "HIGH: NOP": "HIGH: NOP",
		"MOD: DB 1": "MOD: DB 1", "A: LD A,B": "A: LD A, B", "NOT:": "NOT:", "TSTATES: NOP": "TSTATES: NOP", "DUP: DB 3 DUP(1)": "DUP: DB 3 DUP 1",
		// and so do EQU, DEFL, = and MACRO
		"x EQU 5": "x: EQU 5", "\tx EQU 5": "x: EQU 5", "x: EQU 5": "x: EQU 5", "x = 5": "x: = 5", "x=5": "x: = 5", "x DEFL x+1": "x: DEFL x 1 +",
		"HX EQU 26H": "HX: EQU 26H", "INC EQU 5": "INC: EQU 5", "ORG EQU 5": "ORG: EQU 5", "\tLD = 5": "LD: = 5", "AND EQU 1": "AND: EQU 1", "LOW = 1": "LOW: = 1",
		".x EQU 1": ".x: EQU 1", "x .EQU 5": "x: .EQU 5", "x equ 5": "x: equ 5",
		"m MACRO a,b": "m: MACRO <a,b>", "\tm MACRO": "m: MACRO <>", "m: MACRO a": "m: MACRO <a>", "ADD MACRO a": "ADD: MACRO <a>",
		// without a colon in column 1, before an operation or alone
		"start NOP": "start: NOP", "start": "start:", "start ; x": "start:", "start\tLD A,5": "start: LD A, 5", ".x RET": ".x: RET", "loop DJNZ loop": "loop: DJNZ loop",
		"x blink 5": "x: blink <5>", "x DB 5": "x: DB 5", "NOPP": "NOPP:", "x .DB 5": "x: .DB 5", "x INCLUDE \"f\"": `x: INCLUDE <"f">`,
		// operations may stand in column 1, too
		"NOP": "NOP", "LD A,5": "LD A, 5", "ORG 100H": "ORG 100H", ".org 100H": ".org 100H", "RET NZ": "RET NZ", "DB 5": "DB 5", "blink 5": "blink <5>", "blink": "blink <>",
		"#IF 1": "#IF 1", "#DEFINE x 5": "#DEFINE <x 5>", "#include <f>": "#include <<f>>", "END": "END", "END start": "END start", "RET": "RET", "di": "di",
		// unless another operation word follows it
		"TEXT DB 5": "TEXT: DB 5", "BYTE LD A,5": "BYTE: LD A, 5", "INC LD A,B": "INC: LD A, B", "SET DB 'x'": "SET: DB 'x'", "WORD DW 5": "WORD: DW 5", "END NOP": "END: NOP",
		"blink DB 5": "blink: DB 5", "IN IN A,(5)": "IN: IN A, 5 (in parentheses)", "TEXT DB -1": "TEXT: DB 1 .-", "TEXT DB %101": "TEXT: DB %101", "TEXT DB $": "TEXT: DB $",
		// which it does not where it goes on as operands
		"CALL INC": "CALL INC", "DEFW IN,OUT": "DEFW IN, OUT", "JP END": "JP END", "DB SET+1": "DB SET 1 +", "DW INC-DEC": "DW INC DEC -", "DB AND AND 1": "DB AND 1 AND",
		"JP Z,INC": "JP Z, INC", "CALL RET": "CALL: RET", "DW IN*2": "DW IN 2 *", "DB IN = OUT": "DB IN OUT =",
		// indented, the first operation word is the operation
		"\tCALL INC": "CALL INC", "\tDB SET": "DB SET", "\tDW IN,OUT": "DW IN, OUT", "\tJP END": "JP END",
		// an indented word that is no operation is none
		"\tstart": "2 unknown-operation", "\tNOPP": "2 unknown-operation", "\tfoo 5": "2 unknown-operation", "\tfoo NOP": "2 unknown-operation",
		"foo bar": "1 unknown-operation", "foo 5": "1 unknown-operation", "foo,5": "1 unknown-operation", "x: foo": "4 unknown-operation", "x: foo 5": "4 unknown-operation",
		"#foo": "1 unknown-operation", "#foo 5": "1 unknown-operation", "\t#pragma": "2 unknown-operation", "#foo: NOP": "1 unknown-operation",
		// an operation to skip: the rest of the line is not read
		"\tTITLE 'x' ((": "TITLE <'x' ((>", "x TITLE what": "x: TITLE <what>", "x: TITLE '": "x: TITLE <'>", "TITLE NOP": "TITLE <NOP>",
		// what is no word is no label
		"5 NOP": "1 syntax", "(x)": "1 syntax", "$ NOP": "1 syntax", "'a' DB 1": "1 syntax", ": NOP": "1 syntax", ",": "1 syntax", "= = 5": "3 syntax", "-x": "1 syntax",
		"x: 5": "4 syntax", "x: : NOP": "4 syntax", "x:: NOP": "3 syntax",
		"1x NOP": "1 bad-number", "ä NOP": "1 bad-character", ".: NOP": "1 bad-name", "x! NOP": "2 bad-character", "x\x01 NOP": "2 bad-character",
	} {
		assert.Equal(t, want, describe(newParser("blink"), line), "%q", line)
	}
}

// Operands, with their code in postfix order: language reference, section 3.
func TestOperands(t *testing.T) {
	for line, want := range map[string]string{
		"\tLD A,1+2*3":              "LD A, 1 2 3 * +",
		"\tLD A,(1+2)*3":            "LD A, 1 2 + 3 *",
		"\tLD A,1-2-3":              "LD A, 1 2 - 3 -",
		"\tLD A,1<<2+3":             "LD A, 1 2 3 + <<",
		"\tLD A,1&2^3|4":            "LD A, 1 2 & 3 ^ 4 |",
		"\tLD A,4|3^2&1":            "LD A, 4 3 2 1 & ^ |",
		"\tLD A,1|2=3&4":            "LD A, 1 2 | 3 4 & =",
		"\tLD A,NOT 1=2":            "LD A, 1 2 = .NOT",
		"\tLD A,NOT 1 AND 2":        "LD A, 1 .NOT 2 AND",
		"\tLD A,1 OR 2 XOR 3 AND 4": "LD A, 1 2 3 4 AND XOR OR",
		"\tLD A,NOT NOT 1":          "LD A, 1 .NOT .NOT",
		"\tLD A,- -1":               "LD A, 1 .- .-",
		"\tLD A,-1+2":               "LD A, 1 .- 2 +",
		"\tLD A,~1*2":               "LD A, 1 .~ 2 *",
		"\tLD A,HIGH x+1":           "LD A, x .HIGH 1 +",
		"\tLD A,LOW (x+1)":          "LD A, x 1 + .LOW",
		"\tLD A,HIGH LOW x":         "LD A, x .LOW .HIGH",
		"\tLD A,10 MOD 3*2":         "LD A, 10 3 MOD 2 *",
		"\tLD A,1 EQ 2":             "LD A, 1 2 EQ",
		"\tLD A,(1=2)=3":            "LD A, 1 2 = 3 =",
		"\tLD A,1 NOT 2":            "LD A, 1 _ NOT _ 2",
		"\tLD A,1=NOT 2":            "LD A, 1 2 .NOT =", // NOT where a value is due takes what binds tighter
		"\tLD A,(HL)":               "LD A, HL (in parentheses)",
		"\tLD A,((HL))":             "LD A, HL (in parentheses)",
		"\tLD A,(IX+5)":             "LD A, IX 5 + (in parentheses)",
		"\tLD A,(IX-3+1)":           "LD A, IX 3 - 1 + (in parentheses)",
		"\tLD A,(2+3)*4":            "LD A, 2 3 + 4 *",
		"\tLD HL,(TABLE)+2":         "LD HL, TABLE 2 + (begins with parentheses)",
		"\tLD A,(high x)+0":         "LD A, x .high 0 +",
		"\tLD A,(x)":                "LD A, x (in parentheses)",
		"\tLD A,+(x)":               "LD A, x .+",
		"\tLD A,TSTATES(a,b)+1":     "LD A, TSTATES 1 +",
		"\tDB lap (a , b),2":        "DB lap, 2",
		"\tDB 3 DUP(0),4 DUP (1+2)": "DB 3 DUP 0, 4 DUP 1 2 +",
		"\tDB n*2 DUP('ab'),5":      "DB n 2 * DUP 'ab', 5",
		"\tDB \"a\" \"b\",1,":       "DB \"a\" _ \"b\", 1 ,",
		"\tDB 1 2":                  "DB 1 _ 2",
		"\tDB 'A'+80H":              "DB 'A' 80H +",
		"\tEX AF,AF'":               "EX AF, AF'",
		"\tCAPACITY 8K, AT 0":       "CAPACITY 8K, AT 0",
		"\tCAPACITY 8K,at 0,BLANK (0FFH),Copies 2": "CAPACITY 8K, at 0, BLANK 0FFH (in parentheses), Copies 2",
		"\tCAPACITY AT":       "13 syntax",
		"\tCAPACITY AT,BLANK": "13 syntax",
		"\tORG AT":            "ORG AT",
		"\tDB AT 5":           "DB AT _ 5",
		"OUT($10),A":          "OUT $10 (in parentheses), A",
		"ld l , a":            "ld l, a",
		"\tLD A , ( IX + 5 )": "LD A, IX 5 + (in parentheses)",
	} {
		assert.Equal(t, want, describe(newParser(), line), "%q", line)
	}
}

// A bad line is pointed at where it goes wrong: columns count from 1.
func TestErrors(t *testing.T) {
	deep := strings.Repeat("(", 4000)
	for line, want := range map[string]string{
		"\tLD A,":                            "", // a comma left over is refused where it is not accepted
		"\tLD ,A":                            "5 syntax",
		"\tLD A,,B":                          "7 syntax",
		"\tLD":                               "", // the encoder's business
		"\tLD A,(IX+":                        "11 syntax",
		"\tLD A,(IX+5":                       "12 syntax",
		"\tLD A,IX+5)":                       "11 syntax",
		"\tLD A,()":                          "8 syntax",
		"\tLD A,5+":                          "9 syntax",
		"\tLD A,5 5)":                        "10 syntax",
		"\tLD A,*5":                          "7 syntax",
		"\tLD A,5**5":                        "9 syntax",
		"\tLD A,1=2=3":                       "10 syntax",
		"\tLD A,1<2>3":                       "10 syntax",
		"\tLD A,NOT":                         "", // the symbol NOT
		"\tLD A,NOT NOT":                     "", // not the symbol NOT
		"\tLD A,HIGH )":                      "12 syntax",
		"\tDB 1,2,,3":                        "9 syntax",
		"\tDB ,":                             "5 syntax",
		"\tDB ,1":                            "5 syntax",
		"\tDB 3 DUP(1":                       "12 syntax",
		"\tDB 3 DUP()":                       "11 syntax",
		"\tDB 3 DUP(1,2)":                    "12 syntax",
		"\tDB 3 DUP(2 DUP(1))":               "13 syntax",
		"\tDB DUP(1)":                        "",
		"\tDB TSTATES(a)":                    "14 syntax",
		"\tDB TSTATES(a,b":                   "16 syntax",
		"\tDB TSTATES(5,b)":                  "13 syntax",
		"\tDB TSTATES(a,b,c)":                "16 syntax",
		"\tDB LAP()":                         "9 syntax",
		"x: LD A,B:":                         "10 syntax",
		"\tLD A,'":                           "7 open-string",
		"\tLD A,'''":                         "7 open-string",
		"\tLD A,'x":                          "7 open-string",
		"\tDB \"abc":                         "5 open-string",
		"\tLD A,0FFX":                        "7 bad-number",
		"\tLD A,12A":                         "7 bad-number",
		"\tLD A,$FG":                         "7 bad-number",
		"\tDB 99999999999999999999":          "5 bad-number",
		"\tLD A,ä":                           "7 bad-character",
		"\tDB 'ä'":                           "5 bad-character",
		"\tDB 1,\x00":                        "7 bad-character",
		"\tLD A,5!":                          "8 bad-character",
		"\tLD A,{5}":                         "7 bad-character",
		"\tLD A," + strings.Repeat("x", 256): "7 bad-name",
		"\tLD A,.":                           "7 bad-name",
		"\tLD A," + deep:                     "72 syntax",
		"\tLD A," + strings.Repeat("-", 4000) + "1":    "72 syntax",
		"\tLD A," + strings.Repeat("NOT ", 1000) + "1": "267 syntax",
		"\tLD A," + strings.Repeat("HIGH ", 800) + "1": "332 syntax",
		"\tLD A," + strings.Repeat("-(", 1900) + "1":   "72 syntax",
		strings.Repeat(" ", 4097):                      "4097 line-too-long",
	} {
		p := newParser()
		_, err := p.Parse(line)
		got := ""
		if err != nil {
			got = fmt.Sprintf("%d %s", err.Start+1, err.Code)
			assert.NotEmpty(t, err.Message)
			assert.GreaterOrEqual(t, err.End, err.Start)
			assert.NotContains(t, err.Message, "EOL", "%q: a name of ours", line)
			assert.NotContains(t, err.Message, "Paren", "%q", line)
			assert.NotRegexp(t, `[\x00-\x08]`, err.Message)
		}
		assert.Equal(t, want, got, "%.40q", line)
	}
}

// What may be nested is nested deep enough for everybody, and a long chain
// needs no depth.
func TestDepth(t *testing.T) {
	for _, line := range []string{
		"\tLD A," + strings.Repeat("(", 60) + "1" + strings.Repeat(")", 60),
		"\tLD A," + strings.Repeat("-", 60) + "1",
		"\tLD A," + strings.Repeat("1+", 2000) + "1",
		"\tLD A," + strings.Repeat("1*2+", 1000) + "1",
		"\tDB " + strings.Repeat("1,", 2000) + "1",
	} {
		_, err := newParser().Parse(line)
		assert.Nil(t, err, "%.40q", line)
	}
}

// An error costs its line only, and leaves nothing behind.
func TestErrorsLeaveNothingBehind(t *testing.T) {
	p := newParser()
	want := describe(p, "x: LD A,(IX+5)")
	for _, bad := range []string{"\tLD A,(", "\tDB 'x", "\tLD A,((((", "foo bar", "x: 5", "\x00", strings.Repeat("y", 5000), "\tDB \"\\"} {
		_, err := p.Parse(bad)
		require.NotNil(t, err, "%q", bad)
		assert.Equal(t, want, describe(p, "x: LD A,(IX+5)"), "behind %q", bad)
	}
}

// Lines that differ in names, numbers and strings only have one shape; what
// is remembered is bounded.
func TestMemo(t *testing.T) {
	p := newParser()
	for i := range 1000 {
		_, err := p.Parse(fmt.Sprintf("l%d: LD A,(IX+%d) ; %d", i, i, i))
		require.Nil(t, err)
		_, err = p.Parse(fmt.Sprintf("\tDB \"%d\",%d+x%d", i, i, i))
		require.Nil(t, err)
	}
	assert.Equal(t, 2, p.Shapes())

	p = newParser()
	line := func(i int) string {
		ops := "+-*/&^|"
		var b strings.Builder
		b.WriteString("\tDB 1")
		for n := i + 1; n > 0; n /= len(ops) {
			b.WriteByte(ops[n%len(ops)])
			b.WriteByte('1')
		}
		return b.String() + strings.Repeat("+1", 20)
	}
	for i := range 10_000 { // about 500,000 tokens
		_, err := p.Parse(line(i))
		require.Nil(t, err)
	}
	n := p.Shapes()
	require.Equal(t, 10_000, n, "all are different")
	for i := range 10_000 {
		_, err := p.Parse(line(i))
		require.Nil(t, err)
	}
	assert.Greater(t, p.Shapes(), n+2_000, "what did not fit is parsed anew")
	assert.Less(t, p.Shapes(), n+8_000, "what did fit is remembered")
}

func TestHead(t *testing.T) {
	for line, want := range map[string]string{
		"\tENDIF": "ENDIF", "x: IF (((": "IF", "IF 'unterminated": "IF", "ELSE ; x": "ELSE", "#ENDIF": "#ENDIF", ".endif": ".endif", "lbl ENDM": "ENDM",
		"this is prose, isn't it": "", "\tNOP ä": "NOP", "": "", "; ENDIF": "", "x:": "", "m MACRO": "MACRO", "ENDIF:": "", "\x00": "", "ä ENDIF": "",
		strings.Repeat(" ", 5000) + "ENDIF": "",
	} {
		p := newParser()
		assert.Equal(t, want, p.Names.Text(p.Head(line)), "%.40q", line)
	}
}

func TestParseRest(t *testing.T) {
	p := newParser()
	line := "\tEMBED \"a,b\" , %101, x+1 ; y"
	st, err := p.Parse(line)
	require.Nil(t, err)
	require.True(t, st.Raw)
	from := strings.Index(line, " , ") + 2
	rest, err := p.ParseRest(line, from)
	require.Nil(t, err)
	require.Len(t, rest.Operands, 2)
	assert.Equal(t, "%101", postfix(p, rest, &rest.Operands[0].Expr, line))
	assert.Equal(t, "x 1 +", postfix(p, rest, &rest.Operands[1].Expr, line))
	tokens := append([]lexer.Token(nil), rest.Tokens...)
	shape := rest.Shape
	assertSamePlaces(t, line, tokens, p.Again(line, shape, from, false))

	_, err = p.Parse("\tDEFINE x (")
	require.Nil(t, err)
	_, err = p.ParseRest("\tDEFINE x (", 9)
	require.NotNil(t, err)
	assert.Equal(t, diag.Syntax, err.Code)
}

func assertSamePlaces(t require.TestingT, line string, want, got []lexer.Token) {
	require.Equal(t, len(want), len(got), "%q", line)
	for i := range want {
		if want[i].Kind == lexer.Raw {
			continue
		}
		require.Equal(t, [2]uint16{want[i].Start, want[i].End}, [2]uint16{got[i].Start, got[i].End}, "%q token %d", line, i)
	}
}

// parsed is what a parser says about a line, in a form that can be compared.
func parsed(p *parser.Parser, line string) string {
	st, err := p.Parse(line)
	if err != nil {
		e := *err
		e.Unknown = 0 // the two have met different numbers of names
		return fmt.Sprintf("%+v", e)
	}
	sh := *st.Shape
	return fmt.Sprintf("%v %v %d %v %+v %d %d %v %d %d", sh.Label, sh.Colon, sh.Op, sh.Raw, operands(sh.Operands), sh.Trailing, sh.Tokens, sh.Slots, sh.MaxValues, st.Rest)
}

func operands(ops []parser.Operand) string {
	var b strings.Builder
	for i := range ops {
		o := ops[i]
		dup := o.Dup
		o.Dup = nil
		fmt.Fprintf(&b, "%+v", o)
		if dup != nil {
			fmt.Fprintf(&b, "%+v", *dup)
		}
	}
	return b.String()
}

// Any lines: no panic; errors lie within the line; a shape from the memo is
// what the grammar makes; tokens are found again where they stood.
func FuzzParse(f *testing.F) {
	for _, s := range []string{
		"start: LD A,(IX+5)\n\tDB 3 DUP(1),'x' \"y\",\nx EQU LOW AND+1", "TEXT DB 5\nCALL INC\n\tLD HL,(T)+2", "#DEFINE x %1\n = 5\n\tfoo",
		"\tCAPACITY 8K, AT 0,BLANK\nm MACRO a\n\tblink 1,<2>", "\tDB TSTATES(a,b)+LAP(a,b)\n\tEX AF,AF'", "\tLD A,((((1\n\tLD A,NOT NOT 1=2=3", "\tDB ,\n\t,\n:", "ä\n\x00\n#",
	} {
		f.Add(s, false)
		f.Add(s, true)
	}
	f.Fuzz(func(t *testing.T, text string, escapes bool) {
		fast, slow := newParser("blink"), newParser("blink")
		slow.NoMemo = true
		fast.Escapes(escapes)
		slow.Escapes(escapes)
		lines := strings.Split(text, "\n")
		for range 2 { // the second time from the memo
			for _, line := range lines {
				want, got := parsed(slow, line), parsed(fast, line)
				require.Equal(t, want, got, "%q", line)
				st, err := fast.Parse(line)
				if err != nil {
					require.LessOrEqual(t, 0, err.Start)
					require.LessOrEqual(t, err.Start, err.End)
					if len(line) <= lexer.MaxLine {
						require.LessOrEqual(t, err.End, len(line), "%q", line)
					}
					continue
				}
				tokens, shape := append([]lexer.Token(nil), st.Tokens...), st.Shape
				end := uint16(0)
				for _, tok := range tokens {
					require.LessOrEqual(t, end, tok.Start)
					require.LessOrEqual(t, tok.Start, tok.End)
					require.LessOrEqual(t, int(tok.End), len(line))
					end = tok.End
				}
				require.Equal(t, shape.Tokens, len(tokens))
				if !shape.Raw {
					assertSamePlaces(t, line, tokens, fast.Again(line, shape, 0, escapes))
				} else {
					// down to the operation, which is all that is asked for
					again := fast.Again(line, shape, 0, escapes)
					assertSamePlaces(t, line, tokens[:shape.Op+1], again[:shape.Op+1])
				}
				fast.Head(line)
			}
		}
	})
}
