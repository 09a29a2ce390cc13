package cmd

import (
	"fmt"
	"maps"
	"slices"
	"sort"
	"strings"

	"romwright/assembler"
	"romwright/bus"
	"romwright/diag"
	"romwright/encoder"
	"romwright/listing"
	"romwright/rom"
)

// program is a loaded program with what a run on it asks for.
type program struct {
	name    string
	image   *rom.Image
	bare    bool // no source or listing: neither symbols nor source lines
	ram     []bus.RAM
	symbols map[string]int64
	labels  []label // by address; those of one address in order of name
	places  *rom.SourceMap
	ports   map[uint8]string
	rows    []listing.Row // nil for a bare image
}

type label struct {
	addr int
	name string
}

func loadProgram(s streams, f *sourceFlags, path string) (*program, error) {
	opt, err := f.options()
	if err != nil {
		return nil, err
	}
	in, err := load(s, path, loadOptions{source: opt, allErrors: f.allErrors, strict: f.strict})
	if err != nil {
		return nil, err
	}
	return newProgram(in), nil
}

func newProgram(in *loaded) *program {
	p := &program{name: in.Name, image: in.Image, bare: in.Doc == nil, places: in.Sources,
		symbols: map[string]int64{}, ports: map[uint8]string{}}
	for _, r := range in.RAM {
		p.ram = append(p.ram, bus.RAM{At: r.First, Size: r.Len()})
	}
	if p.bare {
		return p
	}
	p.rows = in.Doc.Rows
	if len(in.RAM) == 0 {
		// where the program does not say what RAM is fitted, what it reserves
		// outside the chip must at least be there
		for _, a := range in.Doc.Map {
			if a.Kind == listing.AreaReserved && !in.Image.Contains(a.First) {
				p.ram = append(p.ram, bus.RAM{At: a.First, Size: a.Last - a.First + 1})
			}
		}
	}
	for _, s := range in.Doc.Symbols {
		p.symbols[s.Name] = s.Value
		if s.Kind == listing.KindLabel && s.Value >= 0 && s.Value <= 0xFFFF {
			p.labels = append(p.labels, label{int(s.Value), s.Name})
		}
	}
	sort.SliceStable(p.labels, func(i, j int) bool {
		a, b := p.labels[i], p.labels[j]
		return a.addr < b.addr || a.addr == b.addr && a.name < b.name
	})
	for i := range in.Doc.Rows {
		if r := &in.Doc.Rows[i]; r.T != "" && len(r.Bytes) > 0 {
			p.notePort(r)
		}
	}
	return p
}

// notePort remembers the symbol in the port operand of IN A,(n) or OUT (n),A:
// that is what the program calls the port.
func (p *program) notePort(r *listing.Row) {
	in, err := encoder.Decode(r.Bytes)
	if err != nil {
		return
	}
	for _, op := range in.Operands[:in.NOperands] {
		m := in.Form.Mnemonic()
		if op.Kind != encoder.KMem || m != encoder.IN && m != encoder.OUT {
			continue
		}
		code, _, _ := strings.Cut(r.Text, ";")
		open, end := strings.IndexByte(code, '('), strings.LastIndexByte(code, ')')
		if open < 0 || end < open {
			return
		}
		word := strings.TrimSpace(code[open+1 : end])
		if v, ok := p.symbols[word]; ok && v&0xFF == op.Value {
			p.ports[uint8(op.Value)] = word
		}
	}
}

func (p *program) portName(port uint8) string { return p.ports[port] }

// value is a number in any form of the language, or a symbol's value.
func (p *program) value(word string) (int64, error) {
	word = strings.TrimSpace(word)
	if v, ok := p.symbols[word]; ok {
		return v, nil
	}
	v, err := assembler.ParseValue(word)
	if err == nil {
		return v, nil
	}
	if word == "" || strings.ContainsRune("0123456789$#%+-", rune(word[0])) {
		return 0, err
	}
	if _, err := assembler.ParseValue("0" + word); err == nil {
		return 0, fmt.Errorf("unknown symbol %s: a number begins with a digit: 0%[1]s", diag.Printable(word))
	}
	if p.bare {
		return 0, fmt.Errorf("unknown symbol %s: an image has no symbols, a source or a listing does", diag.Printable(word))
	}
	return 0, fmt.Errorf("unknown symbol %s%s", diag.Printable(word), p.near(word))
}

// near suggests the symbol that was meant.
func (p *program) near(word string) string {
	names := slices.Sorted(maps.Keys(p.symbols))
	small := make([]string, len(names))
	for i, name := range names {
		if strings.EqualFold(name, word) {
			return ": " + diag.Printable(name) + " differs only in letter case"
		}
		small[i] = strings.ToLower(name)
	}
	if i := slices.Index(small, assembler.NearName(strings.ToLower(word), small)); i >= 0 {
		return ": did you mean " + diag.Printable(names[i]) + "?"
	}
	return ""
}

// address reads the address or label of a flag.
func (p *program) address(flag, word string) (int, error) {
	v, err := p.value(word)
	if err != nil {
		return 0, trouble("--%s: %w", flag, err)
	}
	if v < 0 || v > 0xFFFF {
		return 0, trouble("--%s: %s is %d, and an address is 0 to 0FFFFH", flag, diag.Printable(word), v)
	}
	return int(v), nil
}

// locate finds where in the source an instruction comes from.
func (p *program) locate(a uint16) bus.Place {
	var at bus.Place
	src, ok := p.places.Lookup(int(a))
	if ok {
		at.File, at.Line, at.Text = src.File, src.Line, src.Text
	}
	// where the program has put nothing, an offset from its last label would
	// only mislead
	if l, found := p.labelBefore(a); found && (ok || l.addr == int(a)) {
		at.Label, at.Offset = l.name, int(a)-l.addr
	}
	return at
}

func (p *program) labelBefore(a uint16) (label, bool) {
	i := sort.Search(len(p.labels), func(i int) bool { return p.labels[i].addr > int(a) })
	if i == 0 {
		return label{}, false
	}
	at := p.labels[i-1].addr
	for i > 1 && p.labels[i-2].addr == at { // the first of several names
		i--
	}
	return p.labels[i-1], true
}

// labelAt names an address by its label, or label+offset.
func (p *program) labelAt(a uint16) string {
	at := p.locate(a)
	at.File = ""
	return at.String()
}
