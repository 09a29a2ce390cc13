// Package directives says what each directive takes and what it asks for.
//
// A directive answers with a plain Effect (set the origin, reserve, emit,
// define, declare); the assembler carries it out. The table reaches into
// nothing: it sees operand values and the address, and gives back an effect or
// a Problem that names the operand.
package directives

import (
	"fmt"
	"strings"
	"sync"

	"romwright/diag"
	"romwright/parser"
)

// ID names a directive whatever its spelling.
type ID uint8

// The directives.
const (
	None ID = iota
	Org
	Equ
	Defl
	Define
	Defb
	Defw
	Defs
	Align
	Include
	Embed
	If
	ElseIf
	Else
	EndIf
	IfDef
	IfNDef
	Macro
	EndM
	Local
	ExitM
	Rept
	Irp
	IrpC
	End
	Capacity
	RAM
	RunAt
	EndRunAt
	Require
	Accept
	ids
)

// Directive is one row of the table.
type Directive struct {
	ID       ID
	Name     string   // our spelling, used in messages and documents
	Others   []string // other spellings read
	Syntax   string
	Summary  string
	Example  string // a line or a few that assemble; lines are separated by \n
	Class    parser.Class
	Min, Max int  // operands it takes; Max -1 is any number
	Hash     bool // '#' may stand before it, as a dot may before each
}

const (
	plain = parser.Operation
	rest  = parser.Operation | parser.ReadsRest
	names = parser.Operation | parser.NamesWord
)

// table is in the order of the language reference.
var table = [...]Directive{
	{ID: Org, Name: "ORG", Syntax: "ORG address", Summary: "go on at this address, up or down",
		Example: "ORG 100H", Class: plain, Min: 1, Max: 1},
	{ID: Equ, Name: "EQU", Others: []string{"="}, Syntax: "name EQU value", Summary: "name a constant; it may refer to symbols that follow",
		Example: "sensor EQU 20H", Class: names, Min: 1, Max: 1},
	{ID: Defl, Name: "DEFL", Syntax: "name DEFL value", Summary: "name a value that may be given anew further down",
		Example: "count DEFL 1\ncount DEFL count+1", Class: names, Min: 1, Max: 1},
	{ID: Define, Name: "DEFINE", Syntax: "DEFINE name [value]", Summary: "set a symbol for the conditionals, 1 if no value is given",
		Example: "DEFINE BELL", Class: rest, Max: -1, Hash: true},
	{ID: Defb, Name: "DEFB", Others: []string{"DB", "DEFM", "DM", "BYTE", "TEXT", "ASCII"}, Syntax: "DEFB value|\"text\"|n DUP(value), ...",
		Summary: "emit bytes and the bytes of strings", Example: "DEFB 12, \"OPEN\", 0, 4 DUP(0FFH)", Class: plain, Min: 1, Max: -1},
	{ID: Defw, Name: "DEFW", Others: []string{"DW", "WORD"}, Syntax: "DEFW value|n DUP(value), ...",
		Summary: "emit 16-bit values, the low byte first", Example: "DEFW 1234H, 3 DUP(0)", Class: plain, Min: 1, Max: -1},
	{ID: Defs, Name: "DEFS", Others: []string{"DS", "BLOCK"}, Syntax: "DEFS n[, fill]",
		Summary: "reserve n bytes; with a fill value emit them", Example: "DEFS 8, 0", Class: plain, Min: 1, Max: 2},
	{ID: Align, Name: "ALIGN", Syntax: "ALIGN n[, fill]", Summary: "go on at the next multiple of n",
		Example: "ALIGN 16", Class: plain, Min: 1, Max: 2},
	{ID: Include, Name: "INCLUDE", Syntax: "INCLUDE \"file\"", Summary: "read another source file here",
		Example: "INCLUDE \"ports.inc\"", Class: rest, Max: -1, Hash: true},
	{ID: Embed, Name: "EMBED", Others: []string{"INCBIN"}, Syntax: "EMBED \"file\"[, offset[, length]]", Summary: "emit the bytes of a file",
		Example: "EMBED \"tune.dat\", 0, 4", Class: rest, Max: -1},
	{ID: If, Name: "IF", Others: []string{"COND"}, Syntax: "IF condition", Summary: "assemble what follows if the condition is not 0",
		Example: "IF 1\nNOP\nENDIF", Class: plain, Min: 1, Max: 1, Hash: true},
	{ID: ElseIf, Name: "ELSEIF", Syntax: "ELSEIF condition", Summary: "otherwise, if this condition is not 0",
		Example: "IF 0\nNOP\nELSEIF 1\nHALT\nENDIF", Class: plain, Min: 1, Max: 1, Hash: true},
	{ID: Else, Name: "ELSE", Syntax: "ELSE", Summary: "otherwise",
		Example: "IF 0\nNOP\nELSE\nHALT\nENDIF", Class: plain, Hash: true},
	{ID: EndIf, Name: "ENDIF", Others: []string{"ENDC"}, Syntax: "ENDIF", Summary: "end a conditional part",
		Example: "IF 1\nNOP\nENDIF", Class: plain, Hash: true},
	{ID: IfDef, Name: "IFDEF", Syntax: "IFDEF name", Summary: "assemble what follows if the name is defined above",
		Example: "IFDEF BELL\nNOP\nENDIF", Class: rest, Max: -1, Hash: true},
	{ID: IfNDef, Name: "IFNDEF", Syntax: "IFNDEF name", Summary: "assemble what follows if the name is not defined above",
		Example: "IFNDEF BELL\nNOP\nENDIF", Class: rest, Max: -1, Hash: true},
	{ID: Macro, Name: "MACRO", Syntax: "name MACRO [parameter, ...]", Summary: "begin the definition of a macro",
		Example: "wait MACRO n\nLD B,n\nDJNZ $\nENDM\nwait 10", Class: rest | names | parser.StandAlone, Max: -1},
	{ID: EndM, Name: "ENDM", Syntax: "ENDM", Summary: "end a macro or a repeated part",
		Example: "REPT 2\nNOP\nENDM", Class: plain},
	{ID: Local, Name: "LOCAL", Syntax: "LOCAL name, ...", Summary: "names that are new in each expansion of the macro",
		Example: "pause MACRO\nLOCAL again\nagain: DJNZ again\nENDM\npause", Class: rest, Max: -1},
	{ID: ExitM, Name: "EXITM", Syntax: "EXITM", Summary: "leave the expansion here",
		Example: "once MACRO\nNOP\nEXITM\nHALT\nENDM\nonce", Class: plain},
	{ID: Rept, Name: "REPT", Syntax: "REPT n", Summary: "repeat the lines down to ENDM",
		Example: "REPT 3\nRRCA\nENDM", Class: plain, Min: 1, Max: 1},
	{ID: Irp, Name: "IRP", Syntax: "IRP parameter,<value, ...>", Summary: "repeat the lines down to ENDM for each value",
		Example: "IRP port,<20H,21H>\nOUT (port),A\nENDM", Class: rest, Max: -1},
	{ID: IrpC, Name: "IRPC", Syntax: "IRPC parameter,characters", Summary: "repeat the lines down to ENDM for each character",
		Example: "IRPC r,BCD\nINC r\nENDM", Class: rest, Max: -1},
	{ID: End, Name: "END", Syntax: "END [address]", Summary: "read no further; the program starts at this address",
		Example: "END 0", Class: plain, Max: 1},
	{ID: Capacity, Name: "CAPACITY", Syntax: "CAPACITY n[, AT address][, BLANK byte][, COPIES k]",
		Summary: "the chip: its bytes, where the CPU sees its first one, what unused cells hold, how often the file repeats the image",
		Example: "CAPACITY 8K, AT 0, BLANK 0FFH", Class: plain | parser.HasClauses, Min: 1, Max: 4},
	{ID: RAM, Name: "RAM", Syntax: "RAM n, AT address", Summary: "where RAM is fitted",
		Example: "RAM 2K, AT 8000H", Class: plain | parser.HasClauses, Min: 2, Max: 2},
	{ID: RunAt, Name: "RUNAT", Syntax: "RUNAT address", Summary: "code that will run at this address once it is copied there",
		Example: "RUNAT 8000H\nNOP\nENDRUNAT", Class: plain, Min: 1, Max: 1},
	{ID: EndRunAt, Name: "ENDRUNAT", Syntax: "ENDRUNAT", Summary: "end the part begun by RUNAT",
		Example: "RUNAT 8000H\nNOP\nENDRUNAT", Class: plain},
	{ID: Require, Name: "REQUIRE", Syntax: "REQUIRE condition[, \"text\"]", Summary: "an error with the text unless the condition holds",
		Example: "REQUIRE $ <= 2000H, \"too long for the chip\"", Class: plain, Min: 1, Max: 2},
	{ID: Accept, Name: "ACCEPT", Syntax: "ACCEPT word, ...", Summary: "read from here on what is an error otherwise",
		Example: "ACCEPT undocumented", Class: rest, Max: -1},
}

// All gives the table in the order of the language reference.
func All() []Directive { return table[:] }

var index = sync.OnceValue(func() map[string]*Directive {
	m := make(map[string]*Directive, 2*len(table))
	for i := range table {
		d := &table[i]
		m[d.Name] = d
		for _, o := range d.Others {
			m[o] = d
		}
	}
	return m
})

// byID finds a row; the constants and the table are in the same order.
func byID(id ID) *Directive { return &table[id-1] }

// Get gives a directive by its ID.
func Get(id ID) *Directive { return byID(id) }

const longest = 8 // letters in the longest spelling

// Lookup finds a directive by any of its spellings, in any letter case, with
// a leading dot or, where it may have one, a leading '#'.
func Lookup(word string) (*Directive, bool) {
	hash := false
	if word != "" && (word[0] == '.' || word[0] == '#') {
		hash = word[0] == '#'
		word = word[1:]
		if word == "=" {
			return nil, false
		}
	}
	if len(word) > longest {
		return nil, false
	}
	d := index()[strings.ToUpper(word)]
	if d == nil || hash && !d.Hash {
		return nil, false
	}
	return d, true
}

// Value is an operand as the assembler worked it out.
type Value struct {
	V      int64
	Known  bool   // false where it depends on a symbol further down
	Clause string // AT, BLANK or COPIES before it, in capital letters
	Text   string // of an operand that is a string alone
	IsText bool
}

// EffectKind says what a directive asks for.
type EffectKind uint8

// The effects.
const (
	Nothing EffectKind = iota
	SetOrigin
	Reserve      // N bytes
	Fill         // N bytes of Byte
	Emit         // the operands, Width bytes each
	DefineName   // the name before it is Value, once
	RedefineName // the name before it is Value, from here on
	DeclareChip
	DeclareRAM
	Entry // the program starts at Value, if HasValue; the file ends here
	Demand
	Relocate // labels run on from Value
)

// Effect is what a directive asks for.
type Effect struct {
	Kind     EffectKind
	N        int64 // bytes; of DeclareChip and DeclareRAM the size
	Value    int64 // an address or a value
	HasValue bool
	Byte     byte
	Width    int
	At       int64
	HasAt    bool
	Blank    int64
	HasBlank bool
	Copies   int64
}

// Problem is what is wrong with an operand. Operand is its 0-based index.
type Problem struct {
	Operand int
	Code    diag.Code
	Message string
	Hint    string
}

// Limits of the machine.
const (
	Space       = 0x10000  // addresses the CPU sees
	MaxCapacity = 16 << 20 // bytes in the largest chip
)

func outOfRange(i int, what string, v, low, high int64, hint string) *Problem {
	return &Problem{i, diag.ValueOutOfRange, fmt.Sprintf("%s must be %d to %d, not %d", what, low, high, v), hint}
}

// Effect works out what the directive asks for. here is the address at which
// it stands. Every value that a size depends on must be Known.
func (d *Directive) Effect(here int64, v []Value) (Effect, *Problem) {
	for i := range v {
		if v[i].Clause != "" && d.ID != Capacity && d.ID != RAM {
			return Effect{}, &Problem{i, diag.Syntax, v[i].Clause + " does not belong here", ""}
		}
	}
	switch d.ID {
	case Org:
		if v[0].V < 0 || v[0].V >= Space {
			return Effect{}, &Problem{0, diag.ValueOutOfRange,
				fmt.Sprintf("ORG must be 0 to 0FFFFH, not %d (%s)", v[0].V, Hex(v[0].V)), "the CPU sees 64K"}
		}
		return Effect{Kind: SetOrigin, Value: v[0].V}, nil
	case Equ:
		return Effect{Kind: DefineName, Value: v[0].V, HasValue: v[0].Known}, nil
	case Defl:
		return Effect{Kind: RedefineName, Value: v[0].V, HasValue: v[0].Known}, nil
	case Defb:
		return Effect{Kind: Emit, Width: 1}, nil
	case Defw:
		return Effect{Kind: Emit, Width: 2}, nil
	case Defs:
		if v[0].V < 0 || v[0].V > Space {
			return Effect{}, outOfRange(0, "the number of bytes", v[0].V, 0, Space, "")
		}
		return fill(v[0].V, v)
	case Align:
		n := v[0].V
		if n < 1 || n > Space {
			return Effect{}, outOfRange(0, "the boundary", n, 1, Space, "")
		}
		return fill((n-here%n)%n, v)
	case Capacity:
		return capacity(v)
	case RAM:
		return ram(v)
	case End:
		if len(v) == 0 {
			return Effect{Kind: Entry}, nil
		}
		return Effect{Kind: Entry, Value: v[0].V, HasValue: true}, nil
	case RunAt:
		if v[0].V < 0 || v[0].V >= Space {
			return Effect{}, outOfRange(0, "the address", v[0].V, 0, Space-1, "the CPU sees 64K")
		}
		return Effect{Kind: Relocate, Value: v[0].V}, nil
	case Require:
		return Effect{Kind: Demand}, nil
	}
	return Effect{}, nil
}

// fill answers DEFS and ALIGN: without a fill value the bytes are reserved.
func fill(n int64, v []Value) (Effect, *Problem) {
	if len(v) < 2 {
		return Effect{Kind: Reserve, N: n}, nil
	}
	e := Effect{Kind: Fill, N: n}
	if v[1].Known { // the fill value itself may be known later
		if v[1].V < -256 || v[1].V > 255 {
			return Effect{}, outOfRange(1, "the fill byte", v[1].V, -256, 255, "")
		}
		e.Byte = byte(v[1].V)
	}
	return e, nil
}

func capacity(v []Value) (Effect, *Problem) {
	e := Effect{Kind: DeclareChip, Copies: 1, Blank: 0xFF}
	seen := map[string]bool{}
	for i, a := range v {
		if seen[a.Clause] || i == 0 && a.Clause != "" || i > 0 && a.Clause == "" {
			return e, &Problem{i, diag.Syntax, "expected " + byID(Capacity).Syntax, ""}
		}
		seen[a.Clause] = true
		switch a.Clause {
		case "":
			if a.V < 1 || a.V > MaxCapacity {
				return e, outOfRange(i, "the capacity in bytes", a.V, 1, MaxCapacity, "e.g. CAPACITY 8K")
			}
			e.N = a.V
		case "AT":
			if a.V < 0 || a.V >= Space {
				return e, outOfRange(i, "the address of the chip's first byte", a.V, 0, Space-1, "the CPU sees 64K")
			}
			e.At, e.HasAt = a.V, true
		case "BLANK":
			if a.V < 0 || a.V > 255 {
				return e, outOfRange(i, "the value of a blank cell", a.V, 0, 255, "")
			}
			e.Blank, e.HasBlank = a.V, true
		case "COPIES":
			if a.V < 1 || a.V > MaxCapacity || a.V*e.N > MaxCapacity {
				return e, outOfRange(i, "the number of copies", a.V, 1, MaxCapacity/e.N, "the file may hold 16M")
			}
			e.Copies = a.V
		}
	}
	if p := CheckChip(e.N, e.At); p != "" {
		at := 0
		for i := range v {
			if v[i].Clause == "AT" {
				at = i
			}
		}
		return e, &Problem{at, diag.ValueOutOfRange, p, "the CPU sees 64K"}
	}
	return e, nil
}

// CheckChip says what is wrong with a chip of n bytes at an address, or "". A
// chip over 64K always leaves the address space: the CPU sees its beginning.
func CheckChip(n, at int64) string {
	if n <= Space && at+n > Space {
		return fmt.Sprintf("a chip of %d bytes at %s ends beyond 0FFFFH", n, Hex(at))
	}
	return ""
}

func ram(v []Value) (Effect, *Problem) {
	if v[0].Clause != "" || v[1].Clause != "AT" {
		return Effect{}, &Problem{1, diag.Syntax, "expected " + byID(RAM).Syntax, ""}
	}
	n, at := v[0].V, v[1].V
	if n < 1 || n > Space {
		return Effect{}, outOfRange(0, "the size of the RAM in bytes", n, 1, Space, "")
	}
	if at < 0 || at >= Space {
		return Effect{}, outOfRange(1, "the address", at, 0, Space-1, "the CPU sees 64K")
	}
	if at+n > Space {
		return Effect{}, &Problem{1, diag.ValueOutOfRange, fmt.Sprintf("RAM of %d bytes at %s ends beyond 0FFFFH", n, Hex(at)), "the CPU sees 64K"}
	}
	return Effect{Kind: DeclareRAM, N: n, Value: at}, nil
}

// Hex writes a number as sources do: four digits or more, a leading 0 before a
// letter, a final H; negative numbers with a minus sign.
func Hex(v int64) string {
	sign := ""
	if v < 0 {
		sign, v = "-", -v
	}
	s := fmt.Sprintf("%04XH", uint64(v))
	if s[0] > '9' {
		s = "0" + s
	}
	return sign + s
}

// AcceptWords are the words of ACCEPT and --accept with what each permits.
func AcceptWords() []struct{ Word, Summary string } {
	return []struct{ Word, Summary string }{
		{"undocumented", "opcodes that the CPU maker does not document"},
		{"any-case", "labels in any letter case; only before the first label"},
		{"escapes", `\n \r \t \0 \a \b \e \\ \' \" \xNN in strings`},
		{"narrowing", "bytes and words that are too large lose their high bits; each is warned of"},
		{"overlap", "bytes emitted twice, the last ones win; each is warned of"},
		{"pairs", "LD between register pairs, as two loads; each is warned of"},
		{"commas", "a comma missing after a string or left over at the end of a list; each is warned of"},
	}
}
