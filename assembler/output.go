package assembler

import (
	"cmp"
	"slices"
	"strconv"
	"sync"

	"romwright/directives"
	"romwright/encoder"
	"romwright/lexer"
	"romwright/rom"
)

// Place is a line as the listing names it.
type Place struct {
	File string // relative to the main source
	Line uint32 // 1-based
	Sub  uint32 // of an expansion: the count of the line among those that Line expanded to, 1-based; else 0
}

// String gives "12" or "12.3", without the file.
func (p Place) String() string { return string(p.Append(nil)) }

// Append appends what String gives.
func (p Place) Append(dst []byte) []byte {
	dst = strconv.AppendUint(dst, uint64(p.Line), 10)
	if p.Sub > 0 {
		dst = append(dst, '.')
		dst = strconv.AppendUint(dst, uint64(p.Sub), 10)
	}
	return dst
}

// Line is one line of the program as it was placed.
type Line struct {
	Place
	Text     string        // as written, or as expanded
	Addr     int           // ROM address, -1 where the line has none
	RunAddr  int           // address at which it will run, -1 where that is Addr
	Size     int           // bytes it takes
	Reserved bool          // they are reserved, not emitted
	Form     *encoder.Form // of an instruction, else nil
	Pair     bool          // a load of a register pair, assembled as two loads
	Value    int64         // of the constant that the line defines
	HasValue bool
	Call     bool // it calls a macro or repeats lines; those that it expanded to follow
	Skipped  bool // left out by a conditional
}

// Lines gives every line of the program in the order in which it was read. The
// Line is filled anew each time.
func (p *Program) Lines(yield func(*Line) bool) { p.LinesFrom(0, p.NumLines(), yield) }

// LinesFrom is Lines for the lines with the 0-based numbers first to end-1, as
// they were read. Pieces may be asked for at the same time.
func (p *Program) LinesFrom(first, end int, yield func(*Line) bool) {
	a := p.run
	var l Line
	for i := uint32(first); i < uint32(end); i++ {
		pl := a.placed.at(i)
		l = Line{Addr: -1, RunAddr: -1, Place: a.listedPlace(pl), Text: a.textOf(pl)}
		l.Skipped = pl.flags&flagSkipped != 0
		if pl.flags&flagAddress != 0 || pl.size > 0 {
			l.Addr = int(a.romAddr(pl, i))
			if pl.flags&flagRelocated != 0 {
				l.RunAddr = int(pl.addr)
			}
			l.Size = int(pl.size)
			l.Reserved = pl.flags&flagReserves != 0
		}
		if pl.flags&flagDefines != 0 {
			l.Value, l.HasValue = a.valueAt(i)
		}
		switch {
		case pl.op >= opForm:
			l.Form = a.forms.get(pl.op)
		case pl.op == opPairs:
			l.Pair = true
		case pl.op == opMacro, pl.op == directiveOp(directives.Rept), pl.op == directiveOp(directives.Irp), pl.op == directiveOp(directives.IrpC):
			l.Call = true
		}
		if !yield(&l) {
			return
		}
	}
}

// NumLines is how many lines Lines gives.
func (p *Program) NumLines() int { return int(p.run.placed.n) }

// TText is the T-states of the line's instruction as the manual prints them,
// "" where it is none.
func (l *Line) TText() string {
	switch {
	case l.Form != nil:
		return l.Form.TText()
	case l.Pair:
		return "8" // two loads of 4
	}
	return ""
}

func (a *run) listedPlace(p *placed) Place {
	src := &a.lines.sources[p.src]
	if p.flags&flagExpanded != 0 {
		return Place{File: a.lines.sources[src.file].name, Line: src.line, Sub: p.num}
	}
	return Place{File: src.name, Line: p.num}
}

// valueAt is the value that a line gives its name.
func (a *run) valueAt(index uint32) (int64, bool) {
	if v, ok := a.variables[index]; ok {
		return v, true
	}
	s := a.symbol(a.definedName(a.placed.at(index)))
	return s.value, s.state == known
}

// Symbol is a name of the program.
type Symbol struct {
	Name    string
	Value   int64
	Kind    string // label, constant, variable, flag
	Defined Place  // the zero Place where an option defined it
	Uses    []Place
}

// Symbols gives the symbols by name. The Symbol and its Uses are filled anew
// each time.
func (p *Program) Symbols(yield func(*Symbol) bool) {
	a := p.run
	var sym Symbol
	var lines []uint32
	for _, id := range a.sorted() {
		s := &a.symbols[id]
		sym = Symbol{Name: a.names.Text(id), Value: s.value, Kind: kindWords[s.kind], Uses: sym.Uses[:0]}
		if s.def != 0 {
			sym.Defined = a.listedPlace(a.placed.at(s.def - 1))
		}
		lines = lines[:0]
		rising := true
		for u := s.uses; u != 0; u = a.uses[u].next {
			index := a.uses[u].index
			rising = rising && (len(lines) == 0 || lines[len(lines)-1] > index)
			lines = append(lines, index)
		}
		slices.Reverse(lines)
		if !rising {
			slices.Sort(lines)
			lines = slices.Compact(lines)
		}
		for _, index := range lines {
			sym.Uses = append(sym.Uses, a.listedPlace(a.placed.at(index)))
		}
		if !yield(&sym) {
			return
		}
	}
}

// nameKey is a name with eight of its bytes as a number that sorts as they do.
type nameKey struct {
	key uint64
	id  lexer.Name
}

// manySymbols is how many make it worth while to sort them beside pass two.
const manySymbols = 4096

// sortSymbols sorts the symbols that have a value by name. Call it between the
// passes; the answer gives them.
func (a *run) sortSymbols() func() []lexer.Name {
	keys := make([]nameKey, 0, a.names.Len())
	for id := range a.symbols {
		if s := &a.symbols[id]; s.state == known && s.kind != frozenValue {
			keys = append(keys, nameKey{0, lexer.Name(id)})
		}
	}
	names := a.names // as they are now: pass two may add to them
	sort := sync.OnceValue(func() []lexer.Name {
		sortNames(&names, keys, 0)
		sorted := make([]lexer.Name, len(keys))
		for i := range keys {
			sorted[i] = keys[i].id
		}
		return sorted
	})
	if len(keys) >= manySymbols {
		go sort()
	}
	return sort
}

// sortNames sorts names that are alike up to a depth: by the next eight bytes
// as one number, and then again what is alike in those.
func sortNames(names *lexer.Names, keys []nameKey, depth int) {
	for i := range keys {
		text := names.Text(keys[i].id)
		k := uint64(0)
		for j := depth; j < depth+8; j++ {
			k <<= 8
			if j < len(text) {
				k |= uint64(text[j])
			}
		}
		keys[i].key = k
	}
	slices.SortFunc(keys, func(x, y nameKey) int { return cmp.Compare(x.key, y.key) })
	for i := 0; i < len(keys); {
		j := i + 1
		for j < len(keys) && keys[j].key == keys[i].key {
			j++
		}
		// no two names are the same, so a run of them goes on behind
		if j > i+1 {
			sortNames(names, keys[i:j], depth+8)
		}
		i = j
	}
}

// Labels gives the labels by address, those of one address in the order in
// which they are defined.
func (p *Program) Labels() []Symbol {
	var out []Symbol
	p.Symbols(func(s *Symbol) bool {
		if s.Kind == kindWords[label] {
			out = append(out, *s)
			out[len(out)-1].Uses = slices.Clone(s.Uses)
		}
		return true
	})
	slices.SortStableFunc(out, func(x, y Symbol) int {
		return cmp.Or(cmp.Compare(x.Value, y.Value), cmp.Compare(x.Defined.Line, y.Defined.Line))
	})
	return out
}

// Reserved gives the reserved ranges, by address.
func (p *Program) Reserved() []rom.Range {
	r := &p.run.reserved
	var out []rom.Range
	for x := r.lo; x < r.hi; x++ {
		if !r.has(x) {
			continue
		}
		first := x
		for x < r.hi && r.has(x) {
			x++
		}
		out = append(out, rom.Range{First: int(first), Last: int(x - 1)})
	}
	return out
}

// SourceMap tells which line each byte came from; code under RUNAT is found
// under both of its addresses.
func (p *Program) SourceMap() *rom.SourceMap {
	a := p.run
	m := &rom.SourceMap{}
	if p.Image == nil {
		return m
	}
	labels := a.labelLines()
	under := ""
	i := uint32(0)
	var taken []span // in the order of emission
	p.Lines(func(l *Line) bool {
		if name, ok := labels[i]; ok {
			under = name
		}
		i++
		if l.Size == 0 || l.Reserved || l.Addr < 0 {
			return true
		}
		src := rom.Source{File: l.File, Line: l.Place.String(), Text: l.Text, Label: under}
		if a.overlaps {
			taken = append(taken, span{l.Addr, l.Addr + l.Size, src})
		} else {
			m.Add(l.Addr, l.Addr+l.Size-1, src)
		}
		if l.RunAddr >= 0 && l.RunAddr != l.Addr {
			m.Add(l.RunAddr, l.RunAddr+l.Size-1, src)
		}
		return true
	})
	// where bytes were emitted over others, the last statement has them
	if len(taken) > 0 {
		var owner [directives.Space]int32 // 1-based; 0 is nobody
		for i, s := range taken {
			for x := s.first; x < s.end; x++ {
				owner[x] = int32(i) + 1
			}
		}
		for x, i := range owner {
			if i > 0 {
				m.Add(x, x, taken[i-1].src)
			}
		}
	}
	return m
}

type span struct {
	first, end int
	src        rom.Source
}

// labelLines gives the label of each placed line that defines one.
func (a *run) labelLines() map[uint32]string {
	m := map[uint32]string{}
	for id := range a.symbols {
		if s := &a.symbols[id]; s.state == known && s.kind == label && s.def != 0 {
			m[s.def-1] = a.names.Text(lexer.Name(id))
		}
	}
	return m
}

// Paths gives the files read, the main source first, each once, in the order
// of their first reading; embedded files are among them.
func (p *Program) Paths() []string { return p.run.paths }
