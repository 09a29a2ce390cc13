// Package assembler turns source text into a chip's image in two passes.
//
// The line source hands over one raw line after another from files, included
// files and expansions. Pass one parses each line, gives every label its value
// and every statement its address and size, and keeps the result as a list of
// placed statements. Pass two walks that list, evaluates the operands, encodes
// the instructions and puts the bytes into the image. A size never depends on
// a symbol further down, so pass one settles every address for good.
//
// The list of placed statements is the program's one model: the listing, the
// source map and the symbol table are read from it.
package assembler

import (
	"cmp"
	"fmt"
	"path/filepath"
	"runtime"
	"slices"
	"strings"

	"romwright/diag"
	"romwright/directives"
	"romwright/encoder"
	"romwright/lexer"
	"romwright/parser"
	"romwright/rom"
)

// Options are what the command line adds to a source. The zero value adds
// nothing.
type Options struct {
	Files       Files    // where INCLUDE and EMBED read; nil is the disk
	IncludeDirs []string // searched after the including file's own directory
	Defines     []string // "name" or "name=value", as by DEFINE
	Accept      []string // words of ACCEPT, in force everywhere
	Skip        []string // operations that are passed over

	Capacity int64 // bytes, 0 where the source says it
	At       int64 // CPU address of the chip's first byte, with HasAt
	HasAt    bool
	Blank    int // value of blank cells, with HasBlank
	HasBlank bool
	Unpadded bool // the image runs from the first byte emitted to the last

	NoShapeMemo bool // send every line through the grammar, for tests
}

// Program is an assembled source. Where Diags holds an error, Image is nil.
type Program struct {
	Source string // base name of the source file
	Diags  *diag.List
	Image  *rom.Image
	Entry  int         // address given by END, -1 where none is
	RAM    []rom.Range // where RAM is fitted, as declared, sorted by address

	run *run
}

// Assemble assembles one source. name is shown in messages and is where
// included files are looked for; text is the file's contents.
func Assemble(name, text string, opt Options) (p *Program) {
	a := &run{opt: opt, diags: &diag.List{}, files: opt.Files, entry: -1}
	p = &Program{Source: filepath.Base(name), Diags: a.diags, Entry: -1, run: a}
	if a.files == nil {
		a.files = Disk{}
	}
	// One recover at the outer edge: a mistake of ours must not look like the
	// user's, and must not be silent. Runtime errors go on, so tests see them.
	defer func() {
		if r := recover(); r != nil {
			if _, ok := r.(runtime.Error); ok || !strings.HasPrefix(fmt.Sprint(r), "BUG:") {
				panic(r)
			}
			a.diags.Add(diag.Diagnostic{Severity: diag.Error, Code: diag.Internal, Range: diag.Range{File: name},
				Message: fmt.Sprintf("internal error: %v", r), Hint: "this is a mistake in the program, not in your source"})
			p.Image = nil
		}
	}()
	a.begin(name, text)
	a.passOne()
	a.settle()
	a.sorted = a.sortSymbols()
	a.passTwo()
	a.reportMissing()
	if a.diags.Errors() == 0 {
		p.Image = a.image
		p.Entry = a.entry
		p.Image.Entry = a.entry
	}
	p.RAM = slices.SortedStableFunc(slices.Values(a.ram), func(x, y rom.Range) int { return cmp.Compare(x.First, y.First) })
	return p
}

// run is one assembly.
type run struct {
	opt   Options
	diags *diag.List
	files Files

	names   lexer.Names
	parser  parser.Parser
	words   []word   // by Name
	symbols []symbol // by Name
	gen     uint32   // counts macro definitions, see word.gen

	lines lineSource
	macroTable
	forms formTable

	placed  placedList
	slots   slotList
	big     []int64 // numbers that do not fit a slot
	data    map[uint32]string
	flags   map[string]bool // DEFINEd names that are no symbol names
	uses    []use
	skip    map[string]bool
	accepts []acceptance
	accept  acceptSet // in force at the current statement

	// pass one
	addr        int64 // of the next byte, as the program sees it
	romDelta    int64 // ROM address minus addr, under RUNAT
	relocated   uint32
	deltas      []relocation
	addrUsed    bool // an address was given out: the chip can no longer move
	originSet   bool
	scope       lexer.Name // the label that local labels belong to
	chip        chip
	ram         []rom.Range
	openRunAt   uint32 // placed index + 1 of the open RUNAT
	anySymbol   bool
	anyCase     bool
	blind       bool // some text was not read: symbols may be missing through no fault of theirs
	sizeUnknown bool // some statement's size is unknown: addresses are off
	beyond      bool // the counter left the address space and was stopped

	again    []repeated // symbols defined more than once, compared when all is known
	missing  map[lexer.Name]missingUse
	late     map[lexer.Name]bool // reported as not known where they had to be
	counted  []counted           // by placed index, see countedTo
	restAt   map[uint32]int      // where the operands begin that stand behind a text of its own: byte offset in the line
	undefs   int                 // hints asked for, see nearSymbol ...
	unknowns int                 // ... and nearOperation
	scopes   map[lexer.Name]scopedName
	outer    map[lexer.Name]lexer.Name // scope of an expansion or in one: the scope around the expansion
	resolved bool                      // pass one is over
	busy     []lexer.Name

	// pass two
	image     *rom.Image
	reserved  addresses
	memory    addresses // ROM and RAM, see fitted
	owners    []uint32  // of each address, see owner
	owned     uint32    // placed lines noted in owners
	entry     int
	buf       []byte // of an instruction
	list      []byte // of a DEFB, DEFW or DEFS
	chars     []byte // of a string
	stack     []int64
	ops       [4]encoder.Operand
	vals      []directives.Value
	overlaps  bool                // bytes were emitted over others (ACCEPT overlap)
	failedEnd int64               // where the last statement that found no room ended
	variables map[uint32]int64    // value that each DEFL gave its name
	paths     []string            // files read
	read      map[string]bool     // the same
	readBytes int64               // of included and embedded files
	embedded  map[string]string   // contents of embedded files, see embeddedFile
	sorted    func() []lexer.Name // see sortSymbols
	lowest    int64
	highest   int64
}

// chip is the chip as declared.
type chip struct {
	size, at    int64
	blank       int64
	copies      int64
	hasAt       bool
	declared    bool
	bySource    bool
	index       uint32 // placed index of CAPACITY
	fromOptions bool
}

// acceptSet is a set of ACCEPT words.
type acceptSet uint16

const (
	acceptUndocumented acceptSet = 1 << iota
	acceptAnyCase
	acceptEscapes
	acceptNarrowing
	acceptOverlap
	acceptPairs
	acceptCommas
)

// acceptance is a change of the set at a statement.
type acceptance struct {
	index uint32
	set   acceptSet
}

// acceptAt is the set in force at a statement.
func (a *run) acceptAt(index uint32) acceptSet {
	set := acceptSet(0)
	for _, c := range a.accepts {
		if c.index > index {
			break
		}
		set = c.set
	}
	return set
}

// acceptWord finds the set of one word; ok is false for a word it does not know.
func acceptWord(w string) (acceptSet, bool) {
	for i, k := range directives.AcceptWords() {
		if strings.EqualFold(k.Word, w) {
			return 1 << i, true
		}
	}
	return 0, false
}

// relocation says how far from its run address a statement lies in ROM.
type relocation struct {
	index uint32 // of the first statement it holds for
	delta int64
}

// use is a place where a symbol is used; next is the one before, 0 for none.
type use struct {
	index uint32
	next  uint32
}

type repeated struct {
	name  lexer.Name
	index uint32
	value int64
	later bool // value must still be worked out, from the statement's operand
}

// scopedName takes a joined local name apart again.
type scopedName struct {
	scope, local lexer.Name
}

// begin reads the options and opens the source.
func (a *run) begin(name, text string) {
	// about as many words as such a source has; see lexer.Names.Reserve
	words := len(text)/100 + 256
	a.names.Reserve(words)
	a.words = make([]word, words)
	a.symbols = make([]symbol, words)
	a.uses = make([]use, 1, words)
	a.parser.Names = &a.names
	a.parser.Classify = a.classify
	a.parser.NoMemo = a.opt.NoShapeMemo
	a.chip = chip{blank: 0xFF, copies: 1}
	a.lines.init(a, name, text)
	a.paths, a.read = []string{name}, map[string]bool{name: true}
	option := func(code diag.Code, format string, args ...any) {
		a.diags.Add(diag.Diagnostic{Severity: diag.Error, Code: code, Range: diag.Range{File: name}, Message: fmt.Sprintf(format, args...)})
	}
	for _, w := range a.opt.Accept {
		set, ok := acceptWord(w)
		if !ok {
			option(diag.BadAccept, "--accept does not know %s", diag.Printable(w))
		}
		a.accept |= set
	}
	a.setAccept(0)
	for _, w := range a.opt.Skip {
		if a.skip == nil {
			a.skip = map[string]bool{}
		}
		a.skip[skipKey(w)] = true
	}
	if a.opt.HasAt || a.opt.Capacity != 0 || a.opt.HasBlank {
		c := &a.chip
		bounded := func(name string, v, low, high int64) int64 {
			if v < low || v > high {
				option(diag.ValueOutOfRange, "--%s must be %d to %d, not %d", name, low, high, v)
				a.sizeUnknown = true
				return low
			}
			return v
		}
		if a.opt.HasAt {
			c.at, c.hasAt = bounded("at", a.opt.At, 0, directives.Space-1), true
		}
		if a.opt.HasBlank {
			c.blank = bounded("blank", int64(a.opt.Blank), 0, 255)
		}
		if a.opt.Capacity != 0 {
			c.size, c.declared, c.fromOptions = bounded("capacity", a.opt.Capacity, 1, directives.MaxCapacity), true, true
			if bad := directives.CheckChip(c.size, c.at); bad != "" {
				option(diag.ValueOutOfRange, "%s", bad)
				a.sizeUnknown = true
			}
		}
		a.addr = c.at
	}
	for _, d := range a.opt.Defines {
		a.defineOption(d)
	}
}

func (a *run) setAccept(index uint32) {
	if n := len(a.accepts); n > 0 && a.accepts[n-1].set == a.accept {
		return
	}
	a.accepts = append(a.accepts, acceptance{index, a.accept})
	a.parser.Escapes(a.accept&acceptEscapes != 0)
	if a.accept&acceptAnyCase != 0 && !a.anyCase {
		a.anyCase = true
		// those that --define gave
		for id := range a.symbols {
			if s := a.symbols[id]; s.state == known {
				a.symbols[id] = symbol{}
				*a.symbol(a.names.Folded(lexer.Name(id))) = s
			}
		}
	}
}

func skipKey(w string) string {
	return strings.ToUpper(strings.TrimLeft(w, ".#"))
}
