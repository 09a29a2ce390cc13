package assembler

import (
	"fmt"
	"math"
	"math/big"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"romwright/diag"
)

// Expressions against math/big: the operators, their precedence, the limits of
// 64 bits. The table of operators is written out again from the language
// reference, section 3.

type operator struct {
	words []string
	prec  int
	apply func(x, y *big.Int) (*big.Int, diag.Code)
}

func plainly(f func(z, x, y *big.Int) *big.Int) func(x, y *big.Int) (*big.Int, diag.Code) {
	return func(x, y *big.Int) (*big.Int, diag.Code) { return f(new(big.Int), x, y), "" }
}

func comparison(holds func(cmp int) bool) func(x, y *big.Int) (*big.Int, diag.Code) {
	return func(x, y *big.Int) (*big.Int, diag.Code) {
		if holds(x.Cmp(y)) {
			return big.NewInt(-1), ""
		}
		return new(big.Int), ""
	}
}

func dividing(f func(z, x, y *big.Int) *big.Int) func(x, y *big.Int) (*big.Int, diag.Code) {
	return func(x, y *big.Int) (*big.Int, diag.Code) {
		if y.Sign() == 0 {
			return nil, diag.DivisionByZero
		}
		return f(new(big.Int), x, y), ""
	}
}

func shifting(f func(z, x *big.Int, n uint) *big.Int) func(x, y *big.Int) (*big.Int, diag.Code) {
	return func(x, y *big.Int) (*big.Int, diag.Code) {
		if y.Sign() < 0 || y.Cmp(big.NewInt(63)) > 0 {
			return nil, diag.BadShift
		}
		return f(new(big.Int), x, uint(y.Int64())), ""
	}
}

var binaries = []operator{
	{[]string{"OR", "or"}, 1, plainly((*big.Int).Or)},
	{[]string{"XOR", "Xor"}, 2, plainly((*big.Int).Xor)},
	{[]string{"AND", "and"}, 3, plainly((*big.Int).And)},
	{[]string{"=", "==", "EQ"}, 5, comparison(func(c int) bool { return c == 0 })},
	{[]string{"<>", "!=", "NE"}, 5, comparison(func(c int) bool { return c != 0 })},
	{[]string{"<", "LT"}, 5, comparison(func(c int) bool { return c < 0 })},
	{[]string{"<=", "LE", "le"}, 5, comparison(func(c int) bool { return c <= 0 })},
	{[]string{">", "GT"}, 5, comparison(func(c int) bool { return c > 0 })},
	{[]string{">=", "GE"}, 5, comparison(func(c int) bool { return c >= 0 })},
	{[]string{"|"}, 6, plainly((*big.Int).Or)},
	{[]string{"^"}, 7, plainly((*big.Int).Xor)},
	{[]string{"&"}, 8, plainly((*big.Int).And)},
	{[]string{"<<", "SHL"}, 9, shifting((*big.Int).Lsh)},
	{[]string{">>", "SHR", "shr"}, 9, shifting((*big.Int).Rsh)},
	{[]string{"+"}, 10, plainly((*big.Int).Add)},
	{[]string{"-"}, 10, plainly((*big.Int).Sub)},
	{[]string{"*"}, 11, plainly((*big.Int).Mul)},
	{[]string{"/"}, 11, dividing((*big.Int).Quo)},
	{[]string{"%", "MOD", "mod"}, 11, dividing((*big.Int).Rem)},
}

const (
	precNot   = 4
	precTight = 12
)

var unaries = []operator{
	{[]string{"-"}, precTight, plainly(func(z, x, _ *big.Int) *big.Int { return z.Neg(x) })},
	{[]string{"+"}, precTight, plainly(func(z, x, _ *big.Int) *big.Int { return z.Set(x) })},
	{[]string{"~"}, precTight, plainly(func(z, x, _ *big.Int) *big.Int { return z.Not(x) })},
	{[]string{"HIGH", "high"}, precTight, plainly(func(z, x, _ *big.Int) *big.Int { return z.And(z.Rsh(x, 8), big.NewInt(255)) })},
	{[]string{"LOW", "Low"}, precTight, plainly(func(z, x, _ *big.Int) *big.Int { return z.And(x, big.NewInt(255)) })},
	{[]string{"NOT", "not"}, precNot, plainly(func(z, x, _ *big.Int) *big.Int { return z.Not(x) })},
}

// tree is an expression; op is nil in a leaf.
type tree struct {
	op          *operator
	word        string
	left, right *tree // right is nil where the operator stands before one operand
	value       int64
	text        string // of a leaf
}

func drawTree(t *rapid.T, depth int) *tree {
	switch kind := rapid.IntRange(0, 9).Draw(t, "kind"); {
	case depth == 0 || kind < 3:
		return drawLeaf(t)
	case kind < 5:
		op := &unaries[rapid.IntRange(0, len(unaries)-1).Draw(t, "unary")]
		return &tree{op: op, word: rapid.SampledFrom(op.words).Draw(t, "word"), left: drawTree(t, depth-1)}
	default:
		op := &binaries[rapid.IntRange(0, len(binaries)-1).Draw(t, "binary")]
		return &tree{op: op, word: rapid.SampledFrom(op.words).Draw(t, "word"), left: drawTree(t, depth-1), right: drawTree(t, depth-1)}
	}
}

func drawLeaf(t *rapid.T) *tree {
	v := rapid.OneOf(
		rapid.Int64Range(0, 9),
		rapid.Int64Range(0, 70000),
		rapid.Int64Range(0, math.MaxInt64),
		rapid.SampledFrom([]int64{math.MaxInt64, math.MaxInt64 - 1, 1 << 62, 1 << 32, 63, 64, 255, 256}),
	).Draw(t, "value")
	forms := []string{"%d", "0%XH", "0%xh", "0x%x", "$%X", "%bB", "0b%b", "%%%b", "%oO", "%oq", "#%X", "%dD"}
	text := fmt.Sprintf(rapid.SampledFrom(forms).Draw(t, "form"), v)
	if v >= 'A' && v <= 'Z' && rapid.Bool().Draw(t, "character") {
		text = fmt.Sprintf("'%c'", v)
	}
	return &tree{value: v, text: text}
}

func (n *tree) prec() int {
	if n.op == nil {
		return precTight + 1
	}
	return n.op.prec
}

// print writes the tree with as few parentheses as the precedence allows.
func (n *tree) print(t *rapid.T) string {
	if n.op == nil {
		return n.text
	}
	in := func(child *tree, least int) string {
		s := child.print(t)
		if child.prec() < least || rapid.IntRange(0, 15).Draw(t, "superfluous") == 0 {
			s = "(" + s + ")"
		}
		return s
	}
	word := func(w string) string {
		if w[0] >= 'A' || rapid.Bool().Draw(t, "blanks") {
			return " " + w + " "
		}
		return w
	}
	if n.right == nil {
		return strings.TrimLeft(word(n.word), " ") + in(n.left, n.op.prec)
	}
	left, right := n.op.prec, n.op.prec+1
	if n.op.prec == 5 {
		left = 6 // a comparison of a comparison needs parentheses
	}
	return in(n.left, left) + word(n.word) + in(n.right, right)
}

// eval works the tree out, left before right; the first error counts.
func (n *tree) eval() (*big.Int, diag.Code) {
	if n.op == nil {
		return big.NewInt(n.value), ""
	}
	x, code := n.left.eval()
	if code != "" {
		return nil, code
	}
	var y *big.Int
	if n.right != nil {
		if y, code = n.right.eval(); code != "" {
			return nil, code
		}
	}
	v, code := n.op.apply(x, y)
	if code == "" && !v.IsInt64() {
		return nil, diag.Overflow
	}
	return v, code
}

// valueOf assembles "x EQU expression" and gives the value of x.
func valueOf(t require.TestingT, expression string) (v int64, code diag.Code) {
	p := Assemble("x.asm", chip1K+"x\tEQU "+expression+"\n", Options{})
	for _, d := range p.Diags.All() {
		if d.Severity == diag.Error {
			require.NotContains(t, []diag.Code{diag.Syntax, diag.Internal}, d.Code, "%s: %s", expression, d.Message)
			return 0, d.Code
		}
	}
	found := false
	p.Symbols(func(s *Symbol) bool {
		if s.Name == "x" {
			v, found = s.Value, true
		}
		return true
	})
	require.True(t, found, expression)
	return v, ""
}

func TestExpressionsProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := drawTree(t, 5)
		text := n.print(t)
		want, wrong := n.eval()
		got, code := valueOf(t, text)
		if code != wrong || wrong == "" && want.Cmp(big.NewInt(got)) != 0 {
			t.Fatalf("%s is %v %q, want %v %q", text, got, code, want, wrong)
		}
	})
}

// One operator at the edges of 64 bits, where a random tree seldom goes.
func TestOperatorsAtTheEdges(t *testing.T) {
	edges := []int64{0, 1, -1, 2, -2, 7, -7, 62, 63, 64, 255, -256, 1 << 31, -1 << 31, 1 << 32, 1 << 62, -1 << 62, math.MaxInt64, math.MaxInt64 - 1, -math.MaxInt64, math.MinInt64}
	write := func(v int64) string {
		switch {
		case v == math.MinInt64:
			return "(-9223372036854775807-1)"
		case v < 0:
			return fmt.Sprintf("(%d)", v)
		}
		return fmt.Sprint(v)
	}
	for i := range binaries {
		op := &binaries[i]
		for _, x := range edges {
			for _, y := range edges {
				want, wrong := op.apply(big.NewInt(x), big.NewInt(y))
				if wrong == "" && !want.IsInt64() {
					wrong = diag.Overflow
				}
				text := write(x) + " " + op.words[0] + " " + write(y)
				got, code := valueOf(t, text)
				require.Equal(t, wrong, code, text)
				if wrong == "" {
					require.Equal(t, want.Int64(), got, text)
				}
			}
		}
	}
	for i := range unaries {
		op := &unaries[i]
		for _, x := range edges {
			want, wrong := op.apply(big.NewInt(x), nil)
			if wrong == "" && !want.IsInt64() {
				wrong = diag.Overflow
			}
			text := op.words[0] + " " + write(x)
			got, code := valueOf(t, text)
			require.Equal(t, wrong, code, text)
			if wrong == "" {
				require.Equal(t, want.Int64(), got, text)
			}
		}
	}
}

// The column of an error in an expression is the operator's.
func TestExpressionColumns(t *testing.T) {
	for text, want := range map[string]string{
		"1/0": "2:8 division-by-zero", "1+2 MOD (3-3)": "2:11 division-by-zero", "1<<64": "2:8 bad-shift", "1 >> (0-1)": "2:9 bad-shift",
		"9223372036854775807+1": "2:26 overflow", "0-9223372036854775807-2": "2:28 overflow", "4294967296*4294967296": "2:17 overflow", "-(-9223372036854775807-1)": "2:7 overflow",
		"'abc'": "2:7 bad-string", "1+''": "2:9 bad-string", "1+HL": "2:9 register-in-expression", "1+nowhere": "2:9 undefined-symbol",
	} {
		p := Assemble("x.asm", chip1K+"x\tEQU "+text+"\n", Options{})
		require.Equal(t, []string{want}, reported(p), text)
	}
}
