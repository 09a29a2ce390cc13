package encoder

import (
	"bufio"
	"fmt"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// samples are values to try for an operand: all where there are few, else the
// ends and some between.
func samples(n *notation) []int64 {
	switch n.value {
	case vByte:
		return []int64{0, 1, 0x14, 0x7F, 0x80, 0xA5, 0xFF}
	case vWord:
		return []int64{0, 1, 0x0123, 0x8000, 0xA55A, 0xFFFF}
	case vDisplacement:
		return []int64{-128, -3, -1, 0, 5, 127}
	case vRelative:
		return []int64{-126, -1, 0, 2, 129}
	case vBit:
		return []int64{0, 1, 2, 3, 4, 5, 6, 7}
	case vMode:
		return []int64{0, 1, 2}
	case vRestart:
		return []int64{0, 8, 0x10, 0x18, 0x20, 0x28, 0x30, 0x38}
	case vFixed:
		return []int64{n.fixed}
	}
	return []int64{0}
}

// valued lists every choice of registers and conditions of a form with every
// sample value.
func valued(f *Form) [][]Operand {
	lists := choices(f)
	for i := range f.operands {
		var more [][]Operand
		for _, ops := range lists {
			for _, v := range samples(f.operands[i].notation) {
				next := append([]Operand(nil), ops...)
				next[i].Value = v
				more = append(more, next)
			}
		}
		lists = more
	}
	return lists
}

// Every row with every register, condition and bit: decode(encode(x)) = x, and
// the printed text gives the bytes again.
func TestEveryFormRoundTrips(t *testing.T) {
	const at = uint16(0x1000)
	longer := 0
	for _, f := range Forms() {
		for _, ops := range valued(f) {
			code, err := f.Encode(nil, ops, 0)
			require.NoError(t, err, "%s %v", f.Syntax(), ops)
			require.Len(t, code, f.Size())
			if f.page == pageNone { // a prefix alone: the next opcode must not heed it
				code = append(code, 0)
			}
			in, err := Decode(code)
			require.NoError(t, err, hexText(code))
			if f.Mnemonic() == DEFB && f.Size() == 2 && in.Form != f {
				continue // this byte after ED is defined
			}
			require.Same(t, f, in.Form, hexText(code))
			require.Equal(t, f.Size(), in.Len)
			require.Equal(t, code[:in.Len], in.Bytes[:in.Len])
			require.Equal(t, len(ops), in.NOperands)
			if len(ops) > 0 {
				require.Equal(t, ops, in.Operands[:in.NOperands], hexText(code))
			}
			if f.Mnemonic() == DEFB {
				continue
			}
			again := assemble(t, in.Text(at), int64(at), true)
			switch {
			case f.never:
				_, other, _ := strings.Cut(f.Note(), "acts as ")
				if f.Mnemonic() == NOP {
					require.Equal(t, []byte{0}, again)
				} else {
					require.Regexp(t, "^"+pattern(other)+"$", hexText(again), in.Text(0))
				}
			case string(again) != string(code):
				longer++
				require.Regexp(t, "^ED 6[3B]", hexText(code))
				require.Regexp(t, "^2[2A]", hexText(again))
			}
			text := strings.ToLower(in.Text(at))
			require.Equal(t, again, assemble(t, text, int64(at), true), text)
		}
	}
	assert.Equal(t, 2*6, longer, "the two longer forms, six addresses each")
}

// pattern turns a code column into an expression for its bytes as text.
func pattern(bits string) string {
	var out []string
	for tok := range strings.FieldsSeq(bits) {
		if len(tok) != 2 {
			tok = ".."
		}
		out = append(out, tok)
	}
	return strings.Join(out, " ")
}

// line is a line of testdata/opcodes.txt.
type line struct{ hex, text string }

// witness reads the opcode index that was typed by itself.
func witness(t testing.TB) []line {
	file, err := os.Open("../testdata/opcodes.txt")
	require.NoError(t, err)
	defer file.Close()
	var list []line
	for sc := bufio.NewScanner(file); sc.Scan(); {
		if hex, text, ok := strings.Cut(sc.Text(), " | "); ok && !strings.HasPrefix(hex, "#") {
			list = append(list, line{strings.TrimSpace(hex), strings.TrimSpace(text)})
		}
	}
	return list
}

// Source: testdata/opcodes.txt, the CPU manual's index by opcode, typed from
// memory and not made from the table.
func TestOpcodeIndex(t *testing.T) {
	lines := witness(t)
	require.Len(t, lines, 696+2)
	target := regexp.MustCompile(`\$\+30H`)
	seen := map[string]bool{}
	for _, l := range lines {
		code := unhex(t, l.hex)
		assert.False(t, seen[l.hex], "%s stands twice", l.hex)
		seen[l.hex] = true

		in, err := Decode(code)
		require.NoError(t, err, l.hex)
		assert.Equal(t, len(code), in.Len, l.hex)
		assert.Equal(t, target.ReplaceAllString(l.text, "0030H"), in.Text(0), l.hex)
		assert.True(t, in.Form.Documented(), l.hex)

		if strings.HasPrefix(l.hex, "ED 63") || strings.HasPrefix(l.hex, "ED 6B") {
			continue // the longer of two forms: never chosen
		}
		assert.Equal(t, l.hex, hexText(assemble(t, l.text, 0, false)), l.text)
		assert.Equal(t, l.hex, hexText(assemble(t, strings.ToLower(l.text), 0, false)), l.text)
	}
}

// Worked examples of the CPU user manual (UM0080), by the instruction whose
// page has them. All from memory: the instructions and the addresses in them
// are the manual's, the bytes are what its page shows or follow from its
// opcode picture.
func TestWorkedExamples(t *testing.T) {
	for _, x := range []struct {
		page, text, hex string
		at              int64
	}{
		{"8-bit load, LD r,(IX+d)", "LD B,(IX+19H)", "DD 46 19", 0},
		{"8-bit load, LD r,(IY+d)", "LD B,(IY+19H)", "FD 46 19", 0},
		{"8-bit load, LD (IX+d),r", "LD (IX+6H),C", "DD 71 06", 0},
		{"8-bit load, LD (IY+d),r", "LD (IY+4H),C", "FD 71 04", 0},
		{"8-bit load, LD (IX+d),n", "LD (IX+5H),5AH", "DD 36 05 5A", 0},
		{"8-bit load, LD (IY+d),n", "LD (IY+10H),97H", "FD 36 10 97", 0},
		{"8-bit load, LD A,(nn)", "LD A,(8832H)", "3A 32 88", 0},
		{"8-bit load, LD (nn),A", "LD (3141H),A", "32 41 31", 0},
		{"16-bit load, LD dd,nn", "LD HL,5000H", "21 00 50", 0},
		{"16-bit load, LD IX,nn", "LD IX,45A2H", "DD 21 A2 45", 0},
		{"16-bit load, LD IY,nn", "LD IY,7733H", "FD 21 33 77", 0},
		{"16-bit load, LD HL,(nn)", "LD HL,(4545H)", "2A 45 45", 0},
		{"16-bit load, LD dd,(nn)", "LD BC,(2130H)", "ED 4B 30 21", 0},
		{"16-bit load, LD (nn),HL", "LD (0B229H),HL", "22 29 B2", 0},
		{"16-bit load, LD (nn),dd", "LD (1000H),BC", "ED 43 00 10", 0},
		{"16-bit load, LD (nn),IX", "LD (4392H),IX", "DD 22 92 43", 0},
		{"16-bit load, LD (nn),IY", "LD (8838H),IY", "FD 22 38 88", 0},
		{"8-bit arithmetic, SUB s", "SUB D", "92", 0},
		{"8-bit arithmetic, SBC A,s", "SBC A,(HL)", "9E", 0},
		{"8-bit arithmetic, XOR s", "XOR 5DH", "EE 5D", 0},
		{"8-bit arithmetic, INC (IX+d)", "INC (IX+10H)", "DD 34 10", 0},
		{"16-bit arithmetic, ADD IX,pp", "ADD IX,BC", "DD 09", 0},
		{"rotate and shift, RLC (IX+d)", "RLC (IX+2H)", "DD CB 02 06", 0},
		{"rotate and shift, SRA m", "SRA (IX+3H)", "DD CB 03 2E", 0},
		{"bit, BIT b,(HL)", "BIT 4,(HL)", "CB 66", 0},
		{"bit, BIT b,(IX+d)", "BIT 6,(IX+4H)", "DD CB 04 76", 0},
		{"bit, SET b,r", "SET 4,A", "CB E7", 0},
		{"bit, SET b,(IX+d)", "SET 0,(IX+3H)", "DD CB 03 C6", 0},
		{"bit, RES b,m", "RES 6,D", "CB B2", 0},
		{"jump, JR e", "JR $+5", "18 03", 480},
		{"jump, JR C,e", "JR C,$-4", "38 FA", 480},
		{"jump, JR Z,e", "JR Z,$+5", "28 03", 300},
		{"jump, JR NZ,e", "JR NZ,$-4", "20 FA", 480},
		{"call and return, CALL nn", "CALL 2135H", "CD 35 21", 0x1A47},
		{"call and return, CALL cc,nn", "CALL NC,2135H", "D4 35 21", 0x1A47},
		{"call and return, RST p", "RST 18H", "DF", 0x15B3},
		{"input and output, IN A,(n)", "IN A,(01H)", "DB 01", 0},
		{"input and output, IN r,(C)", "IN D,(C)", "ED 50", 0},
		{"input and output, OUT (n),A", "OUT (01H),A", "D3 01", 0},
		{"input and output, OUT (C),r", "OUT (C),D", "ED 51", 0},
	} {
		m, ops := parseText(t, x.text, x.at)
		f, err := Select(m, ops, false)
		require.NoError(t, err, x.page)
		code, err := f.Encode(nil, ops, x.at)
		require.NoError(t, err, x.page)
		assert.Equal(t, x.hex, hexText(code), "%s: %s", x.page, x.text)
	}
}

// The spellings that the source language accepts quietly beside the maker's.
// Expected bytes: the code of the maker's spelling, from testdata/opcodes.txt.
func TestOtherSpellings(t *testing.T) {
	for text, same := range map[string]string{
		"ADD B": "ADD A,B", "ADC 5": "ADC A,5", "SBC (HL)": "SBC A,(HL)", "ADD (IX+5)": "ADD A,(IX+5)",
		"CP A,5": "CP 5", "XOR A,A": "XOR A", "SUB A,B": "SUB B", "AND A,(HL)": "AND (HL)",
		"OR A,(IY-1)": "OR (IY-1)", "SUB A,IXH": "SUB IXH", "ADD IYL": "ADD A,IYL",
		"LD A,(IX)": "LD A,(IX+0)", "LD (IY),5": "LD (IY+0),5", "SET 0,(IX)": "SET 0,(IX+0)",
		"RL (IY),C": "RL (IY+0),C", "IN A,5": "IN A,(5)", "OUT 5,A": "OUT (5),A",
		"EX AF,AF": "EX AF,AF'", "JP HL": "JP (HL)", "JP IX": "JP (IX)", "JP IY": "JP (IY)",
		"IM0": "IM 0", "IM1": "IM 1", "IM2": "IM 2", "im2": "IM 2",
	} {
		assert.Equal(t, assemble(t, same, 0, true), assemble(t, text, 0, true), text)
		m, ops := parseText(t, text, 0)
		f, err := Select(m, ops, true)
		require.NoError(t, err)
		m, ops = parseText(t, same, 0)
		g, err := Select(m, ops, true)
		require.NoError(t, err)
		assert.Equal(t, g.Syntax(), f.Syntax(), "%s is shown in the maker's spelling", text)
		assert.Equal(t, g.TText(), f.TText(), text)
	}
}

func TestSelectRefuses(t *testing.T) {
	for _, x := range []struct {
		text    string
		first   string // nearest form
		operand int
		needs   bool
	}{
		{"LD HL,DE", "LD dd,nn", 1, false},
		{"LD (HL),(HL)", "LD (HL),r", 1, false},
		{"LD A,F", "LD r,r'", 1, false},
		{"ADD HL,IX", "ADD HL,ss", 1, false},
		{"ADD IX,HL", "ADD IX,pp", 1, false},
		{"PUSH SP", "PUSH qq", 0, false},
		{"JR PO,5", "JR C,e", 0, false},
		{"JP (5)", "JP nn", 0, false},
		{"JP (IX+1)", "JP nn", 0, false},
		{"LD A,(HL+1)", "LD r,r'", 1, false},
		{"IN B,(5)", "IN r,(C)", 1, false},
		{"EX HL,DE", "EX DE,HL", 0, false},
		{"RET 5", "RET cc", 0, false},
		{"NOP 1", "NOP", -1, false},
		{"LD A", "LD r,r'", -1, false},
		{"BIT A,0", "BIT b,r", 0, false},
		{"LD A,IXH", "LD r*,IXH/L", 1, true},
		{"LD IXL,5", "LD IXH/L,n", 0, true},
		{"SLL B", "SLL r", -1, true},
		{"IN F,(C)", "IN F,(C)", -1, true},
		{"OUT (C),0", "OUT (C),0", -1, true},
		{"RLC (IX+1),B", "RLC (IX+d),r", -1, true},
		{"SET 0,(IX+1),B", "SET b,(IX+d),r", -1, true},
	} {
		m, ops := parseText(t, x.text, 0)
		_, err := Select(m, ops, false)
		var e *SelectError
		require.ErrorAs(t, err, &e, x.text)
		assert.Equal(t, m, e.Mnemonic)
		assert.Equal(t, x.first, e.Forms[0], x.text)
		assert.Equal(t, x.operand, e.Operand, x.text)
		assert.Equal(t, x.needs, e.NeedsUndocumented, x.text)
		assert.NotEmpty(t, e.Error())
		if x.needs {
			_, err := Select(m, ops, true)
			assert.NoError(t, err, x.text)
		}
	}
	// H and L beside half of an index register would be that register's other
	// half: there is no such code.
	for _, text := range []string{"LD H,IXH", "LD IYL,L", "LD IXH,IYL", "LD IXH,(HL)", "ADD HL,IXH"} {
		m, ops := parseText(t, text, 0)
		_, err := Select(m, ops, true)
		assert.Error(t, err, text)
	}
	_, err := Select(NoMnemonic, nil, true)
	assert.Error(t, err)
	_, err = Select(DEFB, nil, true)
	assert.Error(t, err)
	_, err = Select(LD, make([]Operand, 2), true)
	assert.Error(t, err, "operands of no kind")
}

func TestTakesFirstOperands(t *testing.T) {
	var got []string
	for _, f := range Forms() {
		if f.Mnemonic() == LD && f.Size() == 1 && f.Takes([]Operand{{Kind: KReg, Reg: A}}) {
			got = append(got, f.Syntax())
		}
	}
	assert.Equal(t, []string{"LD r,r'", "LD r,(HL)", "LD A,(BC)", "LD A,(DE)"}, got)
	f := selected(t, "NOP")
	assert.True(t, f.Takes(nil))
	assert.False(t, f.Takes([]Operand{{Kind: KImm}}))
}

// The source language's ranges: both ends are taken, the next are not.
func TestValueRanges(t *testing.T) {
	for _, x := range []struct {
		text     string
		operand  int
		what     string
		min, max int64
		at       int64
	}{
		{"LD A,0", 1, "byte", -256, 255, 0},
		{"OUT (0),A", 0, "byte", -256, 255, 0},
		{"LD (IX+1),0", 1, "byte", -256, 255, 0},
		{"LD HL,0", 1, "word", -65536, 65535, 0},
		{"LD (0),HL", 0, "word", -65536, 65535, 0},
		{"JP NZ,0", 1, "word", -65536, 65535, 0},
		{"LD A,(IX+1)", 1, "displacement", -128, 127, 0},
		{"SET 0,(IY+1)", 1, "displacement", -128, 127, 0},
		{"JR 0", 0, "relative jump", -126, 129, 0},
		{"JR C,0", 1, "relative jump", -126, 129, 0x8000},
		{"DJNZ 0", 0, "relative jump", -126, 129, 0xFFF0},
		{"RES 0,(HL)", 0, "bit number", 0, 7, 0},
		{"IM 0", 0, "interrupt mode", 0, 2, 0},
		{"RST 0", 0, "restart address", 0, 0x38, 0},
		{"OUT (C),0", 1, "number", 0, 0, 0},
	} {
		m, ops := parseText(t, x.text, 0)
		f, err := Select(m, ops, true)
		require.NoError(t, err)
		try := func(v int64) error {
			ops[x.operand].Value = x.at + v
			dst := []byte{1, 2}
			got, err := f.Encode(dst, ops, x.at)
			if err != nil {
				assert.Equal(t, dst, got, "%s: nothing appended", x.text)
			} else {
				assert.Len(t, got, 2+f.Size())
			}
			return err
		}
		assert.NoError(t, try(x.min), x.text)
		assert.NoError(t, try(x.max), x.text)
		for _, v := range []int64{x.min - 1, x.max + 1, -1 << 40, 1 << 40} {
			var e *ValueError
			require.ErrorAs(t, try(v), &e, x.text)
			assert.Equal(t, ValueError{x.operand, v, x.min, x.max, x.what}, *e, x.text)
			assert.Contains(t, e.Error(), fmt.Sprint(v))
		}
	}
	for v := range int64(0x39) {
		_, err := selected(t, "RST 0").Encode(nil, []Operand{{Kind: KImm, Value: v}}, 0)
		assert.Equal(t, v%8 == 0, err == nil, "RST %d", v)
	}
}

// selected is the form that a text chooses.
func selected(t require.TestingT, text string) *Form {
	m, ops := parseText(t, text, 0)
	f, err := Select(m, ops, true)
	require.NoError(t, err)
	return f
}

func TestNarrowKeepsTheLowBits(t *testing.T) {
	for _, x := range []struct {
		text, hex string
	}{
		{"LD A,1234H", "3E 34"}, {"LD HL,12345H", "21 45 23"}, {"IN A,(0FE07H)", "DB 07"}, {"LD (IX+5),100H", "DD 36 05 00"},
	} {
		m, ops := parseText(t, x.text, 0)
		f, err := Select(m, ops, false)
		require.NoError(t, err)
		_, err = f.Encode(nil, ops, 0)
		assert.Error(t, err, x.text)
		code, err := f.EncodeNarrow(nil, ops, 0)
		require.NoError(t, err)
		assert.Equal(t, x.hex, hexText(code), x.text)
	}
	for _, text := range []string{"LD A,(IX+128)", "JR 130", "BIT 8,A", "IM 3", "RST 64", "OUT (C),1"} {
		m, ops := parseText(t, text, 0)
		f, err := Select(m, ops, true)
		require.NoError(t, err)
		_, err = f.EncodeNarrow(nil, ops, 0)
		assert.Error(t, err, "%s: bytes and words only", text)
	}
}

// A value in range comes back from the bytes modulo its width, any other is an
// error; the size never depends on it.
func TestValuesProperty(t *testing.T) {
	forms := Forms()
	rapid.Check(t, func(t *rapid.T) {
		// without the lone prefixes, and without ED and a byte, whose code is
		// another form's where that byte is a defined opcode
		f := forms[rapid.IntRange(0, len(forms)-3-1).Draw(t, "row")]
		all := choices(f)
		ops := append([]Operand(nil), all[rapid.IntRange(0, len(all)-1).Draw(t, "operands")]...)
		at := int64(rapid.Uint16().Draw(t, "at"))
		wrong := false
		for i := range f.operands {
			n := f.operands[i].notation
			if n.value == vNone {
				continue
			}
			lim := limits[n.value]
			v := rapid.Int64Range(lim.min-3, lim.max+3).Draw(t, "value")
			if n.value == vFixed {
				v = n.fixed
			} else {
				wrong = wrong || v < lim.min || v > lim.max || n.value == vRestart && v%8 != 0
			}
			if n.value == vRelative {
				v += at
			}
			ops[i].Value = v
		}
		code, err := f.Encode(nil, ops, at)
		require.Equal(t, wrong, err != nil)
		if wrong {
			return
		}
		in, err := Decode(code)
		require.NoError(t, err)
		if f.mnemonic != DEFB {
			require.Same(t, f, in.Form)
		}
		for i := range ops {
			got, want := in.Operands[i].Value, ops[i].Value
			switch f.operands[i].value {
			case vByte:
				want &= 0xFF
			case vWord:
				want &= 0xFFFF
			case vRelative:
				want -= at
			}
			if in.Form == f {
				require.Equal(t, want, got)
			}
		}
		again, err := in.Form.Encode(nil, in.Operands[:in.NOperands], 0)
		require.NoError(t, err)
		require.Equal(t, code, again)
	})
}

func TestTextWrapsAtTheTopOfMemory(t *testing.T) {
	in, err := Decode([]byte{0x18, 0x10})
	require.NoError(t, err)
	assert.Equal(t, "JR 0008H", in.Text(0xFFF6))
	in, err = Decode([]byte{0x10, 0x80})
	require.NoError(t, err)
	assert.Equal(t, "DJNZ 0FF82H", in.Text(0))
}

func TestDecodeShort(t *testing.T) {
	for _, x := range []struct {
		hex, form string
		need      int
	}{
		{"", "", 1}, {"06", "LD r,n", 2}, {"21", "LD dd,nn", 3}, {"21 00", "LD dd,nn", 3}, {"CB", "", 2}, {"ED", "", 2},
		{"ED 43", "LD (nn),dd", 4}, {"DD", "", 2}, {"FD 36", "LD (IY+d),n", 4}, {"FD 36 05", "LD (IY+d),n", 4},
		{"DD CB", "", 4}, {"DD CB 05", "", 4}, {"DD 21 01", "LD IX,nn", 4},
	} {
		in, err := Decode(unhex(t, x.hex))
		assert.Equal(t, ErrShort, err, x.hex)
		assert.Equal(t, x.need, in.Len, x.hex)
		if x.form == "" {
			assert.Nil(t, in.Form, x.hex)
		} else {
			assert.Equal(t, x.form, in.Form.Syntax())
		}
	}
}

func TestWords(t *testing.T) {
	for _, word := range []string{"a", "A", "sp", "Sp", "af'", "AF'", "ixh", "IYL", "f"} {
		r, ok := ParseRegister(word)
		require.True(t, ok, word)
		assert.Equal(t, strings.ToUpper(word), r.String())
		assert.Equal(t, len(word) == 3 && word[0]|0x20 == 'i', r.Undocumented(), word)
	}
	for r := A; r <= IYL; r++ {
		got, ok := ParseRegister(r.String())
		require.True(t, ok)
		assert.Equal(t, r, got)
	}
	for c := CondNZ; c <= CondM; c++ {
		got, ok := ParseCondition(strings.ToLower(c.String()))
		require.True(t, ok)
		assert.Equal(t, c, got)
	}
	for _, m := range Mnemonics() {
		got, ok := ParseMnemonic(strings.ToLower(m.String()))
		require.True(t, ok)
		assert.Equal(t, m, got)
	}
	for _, word := range []string{"", " ", "X", "AA", "A ", "\x00A", "A\x00", "IXHH", "LDIRR", "\xffLD", "DEFB", "K", "LDX", strings.Repeat("A", 300)} {
		_, ok := ParseRegister(word)
		assert.False(t, ok, "%q", word)
		_, ok = ParseMnemonic(word)
		assert.False(t, ok, "%q", word)
		_, ok = ParseCondition(word)
		assert.False(t, ok, "%q", word)
	}
	for m, counts := range map[Mnemonic][]int{JP: {2}, JR: {2}, CALL: {2}, RET: {1}, LD: {}, DJNZ: {}, RETI: {}} {
		for n := range 4 {
			want := false
			for _, c := range counts {
				want = want || c == n
			}
			assert.Equal(t, want, TakesCondition(m, n), "%s %d", m, n)
		}
	}
}

func TestHotPathsDoNotAllocate(t *testing.T) {
	code := []byte{0xDD, 0x36, 0x05, 0x5A}
	in, err := Decode(code)
	require.NoError(t, err)
	ops := in.Operands[:in.NOperands]
	dst := make([]byte, 0, 4)
	for name, f := range map[string]func(){
		"ParseMnemonic":  func() { ParseMnemonic("djnz") },
		"ParseRegister":  func() { ParseRegister("ixh") },
		"ParseCondition": func() { ParseCondition("po") },
		"Select":         func() { _, _ = Select(LD, ops, false) },
		"Encode":         func() { _, _ = in.Form.Encode(dst, ops, 0) },
		"Decode":         func() { _, _ = Decode(code) },
	} {
		assert.Zero(t, testing.AllocsPerRun(100, f), name)
	}
}

func FuzzDecode(f *testing.F) {
	for _, l := range witness(f) {
		f.Add(unhex(f, l.hex), uint16(0xFFF8))
	}
	f.Fuzz(func(t *testing.T, b []byte, at uint16) {
		in, err := Decode(b)
		if err != nil {
			if err != ErrShort || in.Len <= len(b) || in.Len > 4 {
				t.Fatalf("% X: %v, length %d", b, err, in.Len)
			}
			return
		}
		if in.Len < 1 || in.Len > 4 || in.Len > len(b) || in.Len != in.Form.Size() || in.Text(at) == "" {
			t.Fatalf("% X: %+v", b, in)
		}
		code, err := in.Form.Encode(nil, in.Operands[:in.NOperands], 0)
		if err != nil || string(code) != string(b[:in.Len]) {
			t.Fatalf("% X: encoded again % X, %v", b[:in.Len], code, err)
		}
	})
}

func BenchmarkReadTable(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		readTable()
	}
}

func BenchmarkParseMnemonic(b *testing.B) {
	for b.Loop() {
		ParseMnemonic("djnz")
	}
}

func BenchmarkSelect(b *testing.B) {
	ops := []Operand{{Kind: KMem}, {Kind: KReg, Reg: IX}}
	for b.Loop() {
		_, _ = Select(LD, ops, false)
	}
}

func BenchmarkEncode(b *testing.B) {
	ops := []Operand{{Kind: KInd, Reg: IX, HasDisp: true, Value: 5}, {Kind: KImm, Value: 0x5A}}
	f, err := Select(LD, ops, false)
	require.NoError(b, err)
	dst := make([]byte, 0, 4)
	for b.Loop() {
		_, _ = f.Encode(dst, ops, 0)
	}
}

func BenchmarkDecode(b *testing.B) {
	code := []byte{0xDD, 0x36, 0x05, 0x5A}
	for b.Loop() {
		_, _ = Decode(code)
	}
}
