package encoder

import (
	"fmt"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// parseText reads an instruction as the manual and Inst.Text write it: a
// parser of the tests' own, since encoder knows no syntax. Numbers are decimal
// or hex with an H; $+30H is counted from at.
func parseText(t require.TestingT, text string, at int64) (Mnemonic, []Operand) {
	word, rest, _ := strings.Cut(text, " ")
	m, ok := ParseMnemonic(word)
	require.True(t, ok, "mnemonic of %q", text)
	if rest == "" {
		return m, nil
	}
	var ops []Operand
	parts := strings.Split(rest, ",")
	for i, s := range parts {
		if TakesCondition(m, len(parts)) && i == 0 {
			if c, ok := ParseCondition(s); ok && c != CondC { // C is handed in as a register
				ops = append(ops, Operand{Kind: KCond, Cond: c})
				continue
			}
		}
		if r, ok := ParseRegister(s); ok {
			ops = append(ops, Operand{Kind: KReg, Reg: r})
			continue
		}
		op := Operand{Kind: KImm}
		if inner, ok := strings.CutPrefix(s, "("); ok {
			op.Kind = KMem
			s = strings.TrimSuffix(inner, ")")
			name := s
			if cut := strings.IndexAny(s, "+-"); cut >= 0 {
				name = s[:cut]
				op.HasDisp = true
			}
			if r, ok := ParseRegister(name); ok {
				op.Kind, op.Reg = KInd, r
				s = s[len(name):]
			}
		}
		if s != "" {
			op.Value = number(t, s, at)
		}
		ops = append(ops, op)
	}
	return m, ops
}

// number reads an optional $ or sign and a decimal or hex number.
func number(t require.TestingT, s string, at int64) int64 {
	base := int64(0)
	if rest, ok := strings.CutPrefix(s, "$"); ok {
		base, s = at, rest
	}
	radix := 10
	if rest, ok := strings.CutSuffix(strings.ToUpper(s), "H"); ok {
		radix, s = 16, rest
	}
	v, err := strconv.ParseInt(s, radix, 32)
	require.NoError(t, err)
	return base + v
}

// assemble gives the bytes of an instruction's text at address at.
func assemble(t require.TestingT, text string, at int64, undocumented bool) []byte {
	m, ops := parseText(t, text, at)
	f, err := Select(m, ops, undocumented)
	require.NoError(t, err, text)
	b, err := f.Encode(nil, ops, at)
	require.NoError(t, err, text)
	require.Len(t, b, f.Size(), text)
	return b
}

// hexText is bytes as capital pairs with blanks.
func hexText(b []byte) string { return fmt.Sprintf("% X", b) }

// unhex reads capital pairs with blanks.
func unhex(t testing.TB, s string) []byte {
	var b []byte
	for pair := range strings.FieldsSeq(s) {
		v, err := strconv.ParseUint(pair, 16, 8)
		require.NoError(t, err)
		b = append(b, byte(v))
	}
	return b
}
