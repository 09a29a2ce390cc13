package directives

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"romwright/diag"
	"romwright/lexer"
	"romwright/parser"
)

// The table: IDs in the order of the constants, spellings that belong to one
// row, rows that are complete.
func TestTable(t *testing.T) {
	require.Len(t, All(), int(ids)-1)
	spellings := map[string]ID{}
	for i, d := range All() {
		assert.Equal(t, ID(i+1), d.ID, d.Name)
		assert.Equal(t, d.Name, Get(d.ID).Name)
		for _, s := range append([]string{d.Name}, d.Others...) {
			assert.Zero(t, spellings[s], "%s stands in two rows", s)
			spellings[s] = d.ID
			assert.Equal(t, strings.ToUpper(s), s)
			assert.LessOrEqual(t, len(s), longest)
			assert.True(t, s == "=" || lexer.IsName(s), s)
		}
		assert.NotEmpty(t, d.Summary, d.Name)
		assert.NotEmpty(t, d.Example, d.Name)
		assert.Contains(t, d.Syntax, d.Name)
		assert.Contains(t, d.Example, d.Name, "the example shows our spelling")
		assert.NotZero(t, d.Class&parser.Operation, d.Name)
		assert.False(t, strings.HasSuffix(d.Summary, "."), d.Summary)
		if d.Max >= 0 {
			assert.LessOrEqual(t, d.Min, d.Max, d.Name)
		}
	}
}

func TestLookup(t *testing.T) {
	for _, d := range All() {
		for _, s := range append([]string{d.Name}, d.Others...) {
			for _, word := range []string{s, strings.ToLower(s), "." + s, "." + strings.ToLower(s)} {
				got, ok := Lookup(word)
				if word == ".=" {
					assert.False(t, ok)
					continue
				}
				require.True(t, ok, word)
				assert.Equal(t, d.ID, got.ID, word)
			}
			// # only before INCLUDE, DEFINE and the conditionals
			_, ok := Lookup("#" + s)
			assert.Equal(t, d.Hash, ok, "#%s", s)
		}
	}
	hash := map[string]bool{}
	for _, d := range All() {
		if d.Hash {
			hash[d.Name] = true
		}
	}
	assert.Equal(t, map[string]bool{"INCLUDE": true, "DEFINE": true, "IF": true, "ELSEIF": true, "ELSE": true, "ENDIF": true, "IFDEF": true, "IFNDEF": true}, hash)
	for _, word := range []string{"", ".", "#", "..ORG", ".#IF", "##IF", "ORGX", "LD", "CAPACITYX", "ßORG", strings.Repeat("X", 1000)} {
		_, ok := Lookup(word)
		assert.False(t, ok, word)
	}
}

func values(vs ...int64) []Value {
	out := make([]Value, len(vs))
	for i, v := range vs {
		out[i] = Value{V: v, Known: true}
	}
	return out
}

func clause(name string, v int64) Value { return Value{V: v, Known: true, Clause: name} }

// Both edges of every range: language reference, sections 5 and 6.
func TestEffectRanges(t *testing.T) {
	for _, c := range []struct {
		id      ID
		good    [][]Value
		bad     [][]Value
		operand int // that is wrong
	}{
		{Org, [][]Value{values(0), values(0xFFFF)}, [][]Value{values(-1), values(0x10000), values(math.MinInt64), values(math.MaxInt64)}, 0},
		{RunAt, [][]Value{values(0), values(0xFFFF)}, [][]Value{values(-1), values(0x10000)}, 0},
		{Defs, [][]Value{values(0), values(65536), values(1, -256), values(1, 255)}, [][]Value{values(-1), values(65537), values(100000), values(math.MaxInt64)}, 0},
		{Defs, nil, [][]Value{values(1, -257), values(1, 256)}, 1},
		{Align, [][]Value{values(1), values(65536), values(8, 255)}, [][]Value{values(0), values(-8), values(65537)}, 0},
		{Align, nil, [][]Value{values(8, 256), values(8, -257)}, 1},
		{Capacity, [][]Value{values(1), values(16 << 20), {values(8192)[0], clause("AT", 0xE000)}, {values(65536)[0], clause("AT", 0)}, {values(1)[0], clause("AT", 0xFFFF)},
			{values(8192)[0], clause("BLANK", 0)}, {values(8192)[0], clause("BLANK", 255)}, {values(8192)[0], clause("COPIES", 1)}, {values(8192)[0], clause("COPIES", 2048)},
			{values(1 << 20)[0], clause("AT", 0x8000)}}, // over 64K the CPU sees the chip's beginning
			[][]Value{values(0), values(-1), values(16<<20 + 1), values(17 << 20), values(math.MaxInt64)}, 0},
		{Capacity, nil, [][]Value{{values(8192)[0], clause("AT", 0xE001)}, {values(8192)[0], clause("AT", -1)}, {values(8192)[0], clause("AT", 0x10000)},
			{values(8192)[0], clause("BLANK", -1)}, {values(8192)[0], clause("BLANK", 256)},
			{values(8192)[0], clause("COPIES", 0)}, {values(8192)[0], clause("COPIES", 2049)}, {values(8192)[0], clause("COPIES", math.MaxInt64)}, {values(8192)[0], clause("COPIES", 1<<62)}}, 1},
		{RAM, [][]Value{{values(1)[0], clause("AT", 0xFFFF)}, {values(65536)[0], clause("AT", 0)}}, [][]Value{{values(0)[0], clause("AT", 0)}, {values(-1)[0], clause("AT", 0)}, {values(65537)[0], clause("AT", 0)}}, 0},
		{RAM, nil, [][]Value{{values(2)[0], clause("AT", 0xFFFF)}, {values(1)[0], clause("AT", -1)}, {values(1)[0], clause("AT", 0x10000)}}, 1},
	} {
		d := Get(c.id)
		for _, v := range c.good {
			_, p := d.Effect(0x100, v)
			assert.Nil(t, p, "%s %v", d.Name, v)
		}
		for _, v := range c.bad {
			_, p := d.Effect(0x100, v)
			if assert.NotNil(t, p, "%s %v", d.Name, v) {
				assert.Equal(t, diag.ValueOutOfRange, p.Code, "%s %v", d.Name, v)
				assert.Equal(t, c.operand, p.Operand, "%s %v", d.Name, v)
				assert.NotEmpty(t, p.Message)
			}
		}
	}
}

func TestEffects(t *testing.T) {
	effect := func(id ID, here int64, v ...Value) Effect {
		t.Helper()
		e, p := Get(id).Effect(here, v)
		require.Nil(t, p)
		return e
	}
	one := values(1)[0]
	assert.Equal(t, Effect{Kind: SetOrigin, Value: 0x100}, effect(Org, 0, values(0x100)...))
	assert.Equal(t, Effect{Kind: DefineName, Value: 7, HasValue: true}, effect(Equ, 0, values(7)...))
	assert.Equal(t, Effect{Kind: DefineName}, effect(Equ, 0, Value{}), "known later")
	assert.Equal(t, Effect{Kind: RedefineName, Value: 7, HasValue: true}, effect(Defl, 0, values(7)...))
	assert.Equal(t, Effect{Kind: Emit, Width: 1}, effect(Defb, 0, one))
	assert.Equal(t, Effect{Kind: Emit, Width: 2}, effect(Defw, 0, one))
	assert.Equal(t, Effect{Kind: Reserve, N: 5}, effect(Defs, 0, values(5)...))
	assert.Equal(t, Effect{Kind: Fill, N: 5, Byte: 0xFF}, effect(Defs, 0, values(5, -1)...))
	assert.Equal(t, Effect{Kind: Fill, N: 5}, effect(Defs, 0, values(5)[0], Value{}), "the fill value is known later")
	for here, n := range map[int64]int64{0: 0, 1: 15, 15: 1, 16: 0, 0xFFFF: 1} {
		assert.Equal(t, Effect{Kind: Reserve, N: n}, effect(Align, here, values(16)...))
		assert.Equal(t, Effect{Kind: Fill, N: n, Byte: 7}, effect(Align, here, values(16, 7)...))
	}
	assert.Equal(t, int64(65536-5), effect(Align, 5, values(65536)...).N)
	assert.Equal(t, Effect{Kind: DeclareChip, N: 8192, Blank: 0xFF, Copies: 1}, effect(Capacity, 0, values(8192)...))
	assert.Equal(t, Effect{Kind: DeclareChip, N: 8192, At: 0x8000, HasAt: true, Blank: 0, HasBlank: true, Copies: 4},
		effect(Capacity, 0, values(8192)[0], clause("COPIES", 4), clause("BLANK", 0), clause("AT", 0x8000)), "in any order")
	assert.Equal(t, Effect{Kind: DeclareRAM, N: 2048, Value: 0x8000}, effect(RAM, 0, values(2048)[0], clause("AT", 0x8000)))
	assert.Equal(t, Effect{Kind: Entry}, effect(End, 0))
	assert.Equal(t, Effect{Kind: Entry, Value: 0x100, HasValue: true}, effect(End, 0, values(0x100)...))
	assert.Equal(t, Effect{Kind: Relocate, Value: 0x8000}, effect(RunAt, 0, values(0x8000)...))
	assert.Equal(t, Effect{Kind: Demand}, effect(Require, 0, one))
	assert.Equal(t, Effect{}, effect(Accept, 0))
}

// Clauses stand where they belong, each once.
func TestClauses(t *testing.T) {
	n := values(1024)[0]
	for _, c := range []struct {
		id ID
		v  []Value
	}{
		{Capacity, []Value{clause("AT", 0)}},
		{Capacity, []Value{n, n}},
		{Capacity, []Value{n, clause("AT", 0), clause("AT", 0)}},
		{Capacity, []Value{n, clause("BLANK", 0), n}},
		{RAM, []Value{n, n}},
		{RAM, []Value{clause("AT", 0), n}},
		{RAM, []Value{n, clause("BLANK", 0)}},
		{Org, []Value{clause("AT", 0)}},
	} {
		_, p := Get(c.id).Effect(0, c.v)
		if assert.NotNil(t, p, "%v", c.v) {
			assert.Equal(t, diag.Syntax, p.Code, "%v", c.v)
		}
	}
}

func TestHex(t *testing.T) {
	for v, want := range map[int64]string{0: "0000H", 9: "0009H", 255: "00FFH", 0xABCD: "0ABCDH", 0x10000: "10000H", -1: "-0001H", -300: "-012CH", 0xFFFFF: "0FFFFFH",
		math.MaxInt64: "7FFFFFFFFFFFFFFFH", math.MinInt64: "-8000000000000000H"} {
		assert.Equal(t, want, Hex(v))
		// the language reads it back
		if n, p := lexer.ParseNumber(strings.TrimPrefix(want, "-")); v != math.MinInt64 {
			require.Equal(t, lexer.NoProblem, p, want)
			assert.Equal(t, max(v, -v), n, want)
		}
	}
}

func TestAcceptWords(t *testing.T) {
	seen := map[string]bool{}
	for _, w := range AcceptWords() {
		assert.False(t, seen[w.Word])
		seen[w.Word] = true
		assert.Equal(t, strings.ToLower(w.Word), w.Word)
		assert.NotEmpty(t, w.Summary)
	}
	assert.Len(t, seen, 7, "language reference, section 5")
}
