package encoder

import (
	"strconv"
	"strings"
	"sync"
)

// Form is one row of the table, or another accepted way of writing one.
type Form struct {
	row      *row
	mnemonic Mnemonic
	operands []slot
	size     uint8
	opcode   uint8 // index of the byte that tells the forms of a page apart
	page     page
	base     [4]byte // the code with every field 0
	mask     [4]byte // the bits of base that are fixed
	*timing
	never bool // for decoding alone
}

// slot is an operand of a form: how it is written and where its code goes.
type slot struct {
	*notation
	at    uint8 // byte of the code
	shift uint8 // lowest bit of the field
}

// timing is what many forms have in common.
type timing struct {
	text string // as the manual prints it: "12/7"
	list []Timing
}

// CycleKind is the kind of a machine cycle.
type CycleKind uint8

// The kinds of machine cycle.
const (
	Fetch    CycleKind = iota + 1 // opcode fetch (M1)
	Read                          // memory read
	Write                         // memory write
	PortIn                        // I/O read
	PortOut                       // I/O write
	Internal                      // the bus rests
)

// cycleLetters are the kinds' letters in the table.
const cycleLetters = " FRWIO-"

// String gives the kind as one lower-case word.
func (k CycleKind) String() string {
	return [...]string{"", "fetch", "read", "write", "in", "out", "internal"}[k]
}

// Timing is one length of a form.
type Timing struct {
	TStates int         // clock periods in all
	Cycles  []int       // T-states of each machine cycle
	Kinds   []CycleKind // the kind of each machine cycle
	When    string      // "taken", "not taken", "repeating", "ending"; "" if the only one
}

// Mnemonic is the form's mnemonic, DEFB for bytes that are no instruction.
func (f *Form) Mnemonic() Mnemonic { return f.mnemonic }

// Syntax is the form as the manual writes it, such as "LD r,(IX+d)".
func (f *Form) Syntax() string {
	if f.row.operands == "" {
		return f.row.mnemonic
	}
	return f.row.mnemonic + " " + f.row.operands
}

// Bits is the form's code as the table writes it: hex bytes, bit patterns with
// letters for fields, n, nn, d and e for operand bytes, such as
// "DD 01rrr110 d".
func (f *Form) Bits() string { return f.row.bits }

// Size is the form's length in bytes, 1 to 4.
func (f *Form) Size() int { return int(f.size) }

// Timings lists the form's lengths: one, or two where it depends (taken or
// repeating first). The caller must not change the slices. (CPU manual, and
// the data set where a note says so.)
func (f *Form) Timings() []Timing { return f.list }

// TText is the form's T-states as the manual prints them: "7"; "12/7" taken
// and not taken; "21/16" repeating and ending.
func (f *Form) TText() string { return f.text }

// Documented reports whether the manual has the form.
func (f *Form) Documented() bool { return !strings.HasPrefix(f.row.note, "undocumented") }

// Summary says in a line what the form does.
func (f *Form) Summary() string { return f.row.summary }

// Note says what is not on the manual's page, "" if nothing.
func (f *Form) Note() string { return f.row.note }

// page is a table of 256 opcodes.
type page uint8

const (
	pageMain page = iota
	pageCB
	pageED
	pageDD
	pageFD
	pageDDCB
	pageFDCB
	pageCount
	pageNone // a prefix alone
)

// aliases are further ways of writing a row: mnemonic and operands as written,
// and the row meant.
var aliases = [...]struct{ mnemonic, operands, rowMnemonic, rowOperands string }{
	{"EX", "AF,AF", "EX", "AF,AF'"},
	{"JP", "HL", "JP", "(HL)"},
	{"JP", "IX", "JP", "(IX)"},
	{"JP", "IY", "JP", "(IY)"},
	{"IN", "A,n", "IN", "A,(n)"},
	{"OUT", "n,A", "OUT", "(n),A"},
	{"IM0", "", "IM", "i"},
	{"IM1", "", "IM", "i"},
	{"IM2", "", "IM", "i"},
}

// set is the table, read.
type set struct {
	rows       []Form                 // table order
	aliases    []Form                 // further ways of writing them
	byMnemonic [mnemonicCount][]*Form // table order, aliases last
	pages      [pageCount][256]*Form  // nil where a prefix is not heeded
	prefix     [2]*Form               // DD and FD alone
}

// instructions reads the table at first use. A malformed row is a bug of ours
// that the first test meets.
var instructions = sync.OnceValue(readTable)

func readTable() *set {
	s := &set{rows: make([]Form, len(table)), aliases: make([]Form, 0, 128)}
	r := newReader()
	for i := range table {
		f := &s.rows[i]
		r.read(f, &table[i])
		s.enter(f)
	}
	s.addAliases(r)
	return s
}

// enter puts a row where Select and Decode look.
func (s *set) enter(f *Form) {
	s.byMnemonic[f.mnemonic] = append(s.byMnemonic[f.mnemonic], f)
	if f.page == pageNone {
		s.prefix[(f.base[0]-0xDD)>>5] = f
		return
	}
	// Every opcode of the form is the base with a value in the bits that are
	// not fixed; those that no register, condition or mode has are left out.
	page, free := &s.pages[f.page], ^f.mask[f.opcode]
	for bits := free; ; bits = (bits - 1) & free {
		op := f.base[f.opcode] | bits
		if page[op] == nil && f.codes(op) {
			page[op] = f
		}
		if bits == 0 {
			return
		}
	}
}

// codes reports whether the fields of an opcode are codes of their operands.
func (f *Form) codes(op byte) bool {
	for i := range f.operands {
		s := &f.operands[i]
		if s.letter == 0 {
			continue
		}
		code := int(op >> s.shift)
		switch {
		case s.regs != nil:
			if s.regs[code%len(s.regs)] == NoReg {
				return false
			}
		case s.value == vMode:
			if code &= 7; code == 1 || code > 3 {
				return false
			}
		}
	}
	return true
}

// addAliases adds the ways of writing that the manual does not have: those of
// the list, and the accumulator of 8-bit arithmetic left out or written where
// the manual does the other.
func (s *set) addAliases(r *reader) {
	add := func(mnemonic, operands string, of *Form) {
		f := *of
		f.mnemonic, _ = ParseMnemonic(mnemonic)
		f.operands = r.operands(operands, f.row.bits)
		if f.mnemonic != of.mnemonic { // IM0 to IM2: the operand is in the name
			f.base[1] |= modeCode(int64(f.mnemonic-IM0)) << 3
		}
		s.aliases = append(s.aliases, f)
		s.byMnemonic[f.mnemonic] = append(s.byMnemonic[f.mnemonic], &s.aliases[len(s.aliases)-1])
	}
	for _, m := range [...]Mnemonic{ADD, ADC, SUB, SBC, AND, OR, XOR, CP} {
		for _, f := range s.byMnemonic[m] {
			rest, written := strings.CutPrefix(f.row.operands, "A,")
			switch {
			case written:
				add(f.row.mnemonic, rest, f)
			case m != ADD && m != ADC && m != SBC:
				add(f.row.mnemonic, "A,"+rest, f)
			}
		}
	}
	for _, a := range aliases {
		for i := range s.rows {
			if f := &s.rows[i]; f.row.mnemonic == a.rowMnemonic && f.row.operands == a.rowOperands {
				add(a.mnemonic, a.operands, f)
			}
		}
	}
}

// modeCode is the code of an interrupt mode: 0, 2, 3 for the modes 0, 1, 2.
func modeCode(mode int64) byte {
	if mode == 0 {
		return 0
	}
	return byte(mode) + 1
}

// reader turns rows into forms.
type reader struct {
	notations map[string]*notation
	timings   map[[2]string]*timing // by the columns tstates and cycles
	slots     []slot                // room for the operands of all forms
}

func newReader() *reader {
	r := &reader{
		notations: make(map[string]*notation, len(notations)),
		timings:   make(map[[2]string]*timing, 64),
		slots:     make([]slot, 0, 512),
	}
	for i := range notations {
		r.notations[notations[i].text] = &notations[i]
	}
	return r
}

// read fills in f from its row.
func (r *reader) read(f *Form, row *row) {
	f.row = row
	f.mnemonic = Mnemonic(mnemonicIndex().find(row.mnemonic))
	f.never = strings.Contains(row.note, "never chosen")
	f.readBits(row.bits)
	f.operands = r.operands(row.operands, row.bits)
	f.timing = r.timing(row.tstates, row.cycles)
}

// readBits works out size, page, base and mask.
func (f *Form) readBits(bits string) {
	for tok := range strings.SplitSeq(bits, " ") {
		i := f.size
		f.size++
		switch {
		case tok == "nn":
			f.size++
		case len(tok) == 1: // n, d, e
		case len(tok) == 2:
			f.base[i], f.mask[i] = hexByte(tok), 0xFF
		case len(tok) == 8:
			for j := range 8 {
				f.base[i] <<= 1
				f.mask[i] <<= 1
				if tok[j] == '0' || tok[j] == '1' {
					f.base[i] |= tok[j] - '0'
					f.mask[i]++
				}
			}
		default:
			panic("BUG: malformed code in the opcode table: " + bits)
		}
	}
	switch prefix := f.base[0]; {
	case f.size > 1 && f.mask[0] == 0xFF && (prefix == 0xDD || prefix == 0xFD):
		f.page, f.opcode = pageDD, 1
		if f.base[1] == 0xCB && f.mask[1] == 0xFF {
			f.page, f.opcode = pageDDCB, 3
		}
		if prefix == 0xFD {
			f.page++
		}
	case prefix == 0xDD || prefix == 0xFD:
		f.page = pageNone
	case prefix == 0xCB && f.mask[0] == 0xFF:
		f.page, f.opcode = pageCB, 1
	case prefix == 0xED && f.mask[0] == 0xFF:
		f.page, f.opcode = pageED, 1
	}
}

// hexByte reads two capital hex digits.
func hexByte(tok string) byte {
	v, err := strconv.ParseUint(tok, 16, 8)
	if err != nil {
		panic("BUG: malformed byte in the opcode table: " + tok)
	}
	return byte(v)
}

// operands reads an operand column, and finds each operand's place in the code.
func (r *reader) operands(operands, bits string) []slot {
	if operands == "" {
		return nil
	}
	first := len(r.slots)
	for text := range strings.SplitSeq(operands, ",") {
		n := r.notations[text]
		if n == nil {
			panic("BUG: unknown operand in the opcode table: " + text)
		}
		s := slot{notation: n}
		s.at, s.shift = n.place(bits)
		r.slots = append(r.slots, s)
	}
	return r.slots[first:len(r.slots):len(r.slots)]
}

// place finds the byte and the lowest bit at which the operand's code stands.
func (n *notation) place(bits string) (at, shift uint8) {
	var token string // the operand byte, where there is no field
	switch n.value {
	case vByte:
		token = "n"
	case vWord:
		token = "nn"
	case vDisplacement:
		token = "d"
	case vRelative:
		token = "e"
	default:
		if n.letter == 0 {
			return 0, 0
		}
	}
	for tok := range strings.SplitSeq(bits, " ") {
		if tok == token {
			return at, 0
		}
		if len(tok) == 8 && token == "" {
			if i := strings.LastIndexByte(tok, n.letter); i >= 0 {
				return at, uint8(7 - i)
			}
		}
		at++
	}
	panic("BUG: operand " + n.text + " has no place in the code " + bits)
}

// timing reads the columns of T-states and kinds of cycle.
func (r *reader) timing(tstates, kinds string) *timing {
	key := [2]string{tstates, kinds}
	if t := r.timings[key]; t != nil {
		return t
	}
	shared := new(timing)
	r.timings[key] = shared
	for part := range strings.SplitSeq(tstates, "|") {
		list, when, _ := strings.Cut(part, " ")
		n := strings.Count(list, ",") + 1
		if n > len(kinds) || len(shared.list) == 0 && n != len(kinds) {
			panic("BUG: T-states and kinds of cycle differ in the opcode table: " + tstates)
		}
		t := Timing{When: when, Cycles: make([]int, 0, n), Kinds: make([]CycleKind, 0, n)}
		for i := 0; i < len(list); i += 2 {
			d := int(list[i] - '0')
			t.TStates += d
			t.Cycles = append(t.Cycles, d)
			t.Kinds = append(t.Kinds, CycleKind(strings.IndexByte(cycleLetters, kinds[i/2])))
		}
		if shared.text != "" {
			shared.text += "/"
		}
		shared.text += strconv.Itoa(t.TStates)
		shared.list = append(shared.list, t)
	}
	return shared
}

// Forms lists the rows of the table in its order.
func Forms() []*Form {
	s := instructions()
	list := make([]*Form, len(s.rows))
	for i := range s.rows {
		list[i] = &s.rows[i]
	}
	return list
}
