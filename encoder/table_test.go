package encoder

import (
	"fmt"
	"regexp"
	"slices"
	"sort"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestRowsAreWellFormed(t *testing.T) {
	for _, f := range Forms() {
		name := f.Syntax()
		assert.Equal(t, f.row.mnemonic, f.Mnemonic().String(), name)
		assert.NotEqual(t, NoMnemonic, f.Mnemonic(), name)
		assert.NotEmpty(t, f.Summary(), name)
		assert.Less(t, len(f.Summary()), 72, "%s: a line at the bench", name)
		assert.True(t, f.Size() >= 1 && f.Size() <= 4, name)
		for i, tm := range f.Timings() {
			sum := 0
			for j, n := range tm.Cycles {
				// No machine cycle of the CPU has fewer than 3 or more than 6
				// T-states (CPU manual, timing; internal ones in EX and LD SP).
				assert.True(t, n >= 3 && n <= 6, "%s: %v", name, tm.Cycles)
				if tm.Kinds[j] == Fetch || tm.Kinds[j] == PortIn || tm.Kinds[j] == PortOut {
					assert.GreaterOrEqual(t, n, 4, "%s: %v", name, tm.Cycles)
				}
				sum += n
			}
			assert.Equal(t, sum, tm.TStates, name)
			assert.Len(t, tm.Kinds, len(tm.Cycles), name)
			// The fetches come first, one at least; how many the data set tells.
			rest := slices.IndexFunc(tm.Kinds, func(k CycleKind) bool { return k != Fetch })
			assert.NotEqual(t, 0, rest, name)
			if rest > 0 {
				assert.NotContains(t, tm.Kinds[rest:], Fetch, name)
			}
			if i == 1 {
				long := f.Timings()[0]
				assert.Less(t, tm.TStates, long.TStates, name)
				want := slices.Clone(long.Cycles[:len(tm.Cycles)])
				if f.Mnemonic() == CALL {
					want[2]-- // only a call that is taken makes room for the decrement of SP
				}
				assert.Equal(t, want, tm.Cycles, "%s: the shorter is the longer's beginning", name)
				assert.Equal(t, long.Kinds[:len(tm.Kinds)], tm.Kinds, name)
				assert.Contains(t, []string{"taken/not taken", "repeating/ending"}, long.When+"/"+tm.When, name)
			}
		}
		if len(f.Timings()) == 1 {
			assert.Empty(t, f.Timings()[0].When, name)
		}
		// Every fixed byte of an operand column that takes a field has one.
		letters := regexp.MustCompile("[a-z]").FindAllString(strings.Join(patterns(f), ""), -1)
		fields := 0
		for _, s := range f.operands {
			if s.letter != 0 {
				fields++
			}
		}
		distinct := map[string]bool{}
		for _, l := range letters {
			distinct[l] = true
		}
		assert.Len(t, distinct, fields, "%s: fields of %s", name, f.Bits())
	}
}

// patterns are the binary bytes of a form's code.
func patterns(f *Form) []string {
	var list []string
	for tok := range strings.FieldsSeq(f.Bits()) {
		if len(tok) == 8 {
			list = append(list, tok)
		}
	}
	return list
}

// choices lists every operand list of a form with the values left 0: each
// register, condition and number kind.
func choices(f *Form) [][]Operand {
	lists := [][]Operand{{}}
	for i := range f.operands {
		n := f.operands[i].notation
		var ops []Operand
		switch {
		case n.regs != nil:
			for _, r := range n.regs {
				if r != NoReg {
					ops = append(ops, Operand{Kind: n.kind, Reg: r, HasDisp: n.value == vDisplacement})
				}
			}
		case n.conds != nil:
			for _, c := range n.conds {
				ops = append(ops, Operand{Kind: KCond, Cond: c})
			}
		default:
			ops = []Operand{{Kind: n.kind}}
		}
		var longer [][]Operand
		for _, l := range lists {
			for _, op := range ops {
				longer = append(longer, append(l[:len(l):len(l)], op))
			}
		}
		lists = longer
	}
	return lists
}

// Which operands do two rows take? Only the ones that the manual itself has
// twice; the first row says that it is preferred.
func TestOverlappingRows(t *testing.T) {
	taken := map[string]*Form{}
	var overlaps []string
	s := instructions()
	for m := range s.byMnemonic {
		for _, f := range s.byMnemonic[m] {
			if f.never {
				continue
			}
			for _, ops := range choices(f) {
				key := fmt.Sprint(Mnemonic(m), ops)
				first := taken[key]
				if first == nil {
					taken[key] = f
					continue
				}
				overlaps = append(overlaps, first.Syntax()+" before "+f.Syntax())
				assert.Contains(t, first.Note(), "prefer: ", key)
			}
		}
	}
	assert.ElementsMatch(t, []string{
		"LD HL,(nn) before LD dd,(nn)",
		"LD (nn),HL before LD (nn),dd",
	}, overlaps)
}

// All 256 opcodes of each page are documented, undocumented or undefined, and
// nothing is claimed twice.
func TestPagesAreComplete(t *testing.T) {
	s := instructions()
	names := []string{"", "CB", "ED", "DD", "FD", "DD CB d", "FD CB d"}
	var documented, undocumented, undefined [pageCount]int
	for p := range pageCount {
		for op := range 256 {
			var claims []string
			for i := range s.rows {
				f := &s.rows[i]
				if f.page != p || f.mnemonic == DEFB || byte(op)&f.mask[f.opcode] != f.base[f.opcode] || !f.codes(byte(op)) {
					continue
				}
				claims = append(claims, f.Syntax())
				switch {
				case f.Documented():
					documented[p]++
				default:
					undocumented[p]++
				}
				assert.Same(t, f, s.pages[p][op])
			}
			assert.LessOrEqual(t, len(claims), 1, "%s %02X: %v", names[p], op, claims)
			if len(claims) == 0 {
				undefined[p]++
				f := s.pages[p][op]
				if p == pageED {
					assert.Equal(t, "DEFB 0EDH,n", f.Syntax())
				} else {
					assert.Nil(t, f, "%s %02X", names[p], op)
				}
			}
		}
	}
	// The manual's opcodes: 696, and ED 63 and ED 6B on the ED page. The sizes
	// of the pages are common knowledge of the trade (from memory).
	assert.Equal(t, [pageCount]int{252, 248, 58, 39, 39, 31, 31}, documented)
	sum := 0
	for _, n := range documented {
		sum += n
	}
	assert.Equal(t, 696+2, sum)
	assert.Equal(t, [pageCount]int{0, 8, 22, 46, 46, 225, 225}, undocumented)
	assert.Equal(t, [pageCount]int{4, 0, 176, 171, 171, 0, 0}, undefined)

	// On the main page the prefixes alone are no opcodes.
	for _, op := range []byte{0xCB, 0xDD, 0xED, 0xFD} {
		assert.Nil(t, s.pages[pageMain][op])
	}
	require.Equal(t, "DEFB 0DDH", s.prefix[0].Syntax())
	require.Equal(t, "DEFB 0FDH", s.prefix[1].Syntax())
}

// A DD or FD replaces HL by IX or IY, (HL) by (IX+d), and H and L by the halves
// unless the instruction has (HL) already; EX DE,HL, EXX and HALT do not heed
// it. That is how the CPU works rather than how our rows are written (common
// practice, no source), so it checks all 512 opcodes of the two pages.
func TestIndexPagesFollowTheMainPage(t *testing.T) {
	for prefix, x := range map[byte]string{0xDD: "IX", 0xFD: "IY"} {
		for op := range 256 {
			switch op {
			case 0xCB, 0xDD, 0xED, 0xFD:
				continue
			}
			plain, err := Decode([]byte{byte(op), 0x34, 0x12})
			require.NoError(t, err)
			m, operands, _ := strings.Cut(plain.Text(0), " ")
			parts := strings.Split(operands, ",")
			memory := strings.Contains(operands, "(HL)")
			for i, s := range parts {
				switch {
				case s == "(HL)" && m == "JP":
					parts[i] = "(" + x + ")"
				case s == "(HL)":
					parts[i] = "(" + x + "+34H)"
				case s == "HL":
					parts[i] = x
				case (s == "H" || s == "L") && !memory:
					parts[i] = x + s
				case s == "34H" && memory: // LD (HL),n: the byte follows d
					parts[i] = "12H"
				}
			}
			want := strings.TrimSuffix(m+" "+strings.Join(parts, ","), " ")
			if want == plain.Text(0) || op == 0xEB {
				want = fmt.Sprintf("DEFB 0%02XH", prefix)
			}
			in, err := Decode([]byte{prefix, byte(op), 0x34, 0x12})
			require.NoError(t, err)
			assert.Equal(t, want, in.Text(0), "%02X %02X", prefix, op)
		}
		// DD CB d: the CB page on (IX+d), with a copy to the register that the
		// CB page works on; BIT copies nothing.
		for op := range 256 {
			plain, err := Decode([]byte{0xCB, byte(op)})
			require.NoError(t, err)
			want := plain.Text(0)
			cut := strings.LastIndexAny(want, " ,") + 1
			r := want[cut:]
			want = want[:cut] + "(" + x + "-02H)"
			if r != "(HL)" && !strings.HasPrefix(want, "BIT") {
				want += "," + r
			}
			in, err := Decode([]byte{prefix, 0xCB, 0xFE, byte(op)})
			require.NoError(t, err)
			assert.Equal(t, want, in.Text(0), "%02X CB d %02X", prefix, op)
		}
	}
}

func TestMnemonicsAreSortedAndUsed(t *testing.T) {
	var names []string
	for _, m := range Mnemonics() {
		names = append(names, m.String())
		assert.NotEmpty(t, instructions().byMnemonic[m], m)
	}
	assert.True(t, sort.StringsAreSorted(names))
	// 67 mnemonics of the manual (counted in its index, from memory), SLL, and
	// the three short spellings of IM.
	assert.Len(t, names, 67+1+3)
}
