package listing

import (
	"io"
	"unsafe"

	"romwright/assembler"
	"romwright/rom"
)

// ProgramOptions choose what a program's listing shows.
type ProgramOptions struct {
	// HideExpansions leaves the lines of expansions out; their bytes stand in
	// the row of the call.
	HideExpansions bool
}

// HeaderOf is the header of an assembled program's listing.
func HeaderOf(p *assembler.Program) Header {
	im := p.Image
	return Header{Source: p.Source, Capacity: im.Capacity, At: im.At, Blank: im.Blank, Copies: im.Copies, Entry: p.Entry, RAM: p.RAM}
}

// WriteProgram writes the listing of an assembled program, row by row.
func WriteProgram(w io.Writer, p *assembler.Program, opt ProgramOptions) error {
	lw := NewWriter(w, HeaderOf(p))
	rows(p, opt, lw.Row)
	var sym Symbol
	var text []byte
	p.Symbols(func(s *assembler.Symbol) bool {
		text = symbolOf(&sym, s, text)
		lw.Symbol(&sym)
		return true
	})
	for _, a := range areas(p) {
		lw.Area(a)
	}
	return lw.Close(p.Image.CRC32())
}

// FromProgram gives a whole listing in memory.
func FromProgram(p *assembler.Program, opt ProgramOptions) *Doc {
	d := &Doc{Header: HeaderOf(p)}
	d.Rows = make([]Row, 0, p.NumLines())
	rows(p, opt, func(r *Row) {
		row := *r
		// the row's number is in a buffer that is filled anew
		row.Line = string([]byte(r.Line))
		d.Rows = append(d.Rows, row)
	})
	p.Symbols(func(s *assembler.Symbol) bool {
		var sym Symbol
		symbolOf(&sym, s, nil)
		d.Symbols = append(d.Symbols, sym)
		return true
	})
	d.Map = areas(p)
	return d
}

// rows gives one row a line. The Row and its Line are filled anew each time.
func rows(p *assembler.Program, opt ProgramOptions, each func(*Row)) {
	im := p.Image
	number := make([]byte, 0, 32)
	var r Row
	call := false // r is a call whose expansion is being added
	flush := func() {
		if call {
			each(&r)
			call = false
		}
	}
	p.Lines(func(l *assembler.Line) bool {
		var bytes []byte
		if l.Size > 0 && !l.Reserved {
			bytes = im.Data[l.Addr-im.At : l.Addr-im.At+l.Size]
		}
		if opt.HideExpansions && l.Sub > 0 && call {
			if len(bytes) > 0 {
				if len(r.Bytes) == 0 && r.Reserved == 0 {
					r.Addr, r.RunAddr = l.Addr, l.RunAddr
				}
				if r.Addr+len(r.Bytes) == l.Addr {
					r.Bytes = append(r.Bytes[:len(r.Bytes):len(r.Bytes)], bytes...)
				} else {
					// bytes elsewhere need a row of their own
					each(&r)
					r = Row{Addr: l.Addr, RunAddr: l.RunAddr, File: r.File, Bytes: bytes}
				}
			}
			return true
		}
		flush()
		number = l.Append(number[:0])
		r = Row{Addr: l.Addr, RunAddr: l.RunAddr, Bytes: bytes, T: l.TText(), File: l.File,
			Line: unsafe.String(unsafe.SliceData(number), len(number)), Text: l.Text}
		if l.Reserved {
			r.Reserved = l.Size
		}
		if l.HasValue {
			r.Value, r.HasValue = l.Value, true
		}
		if opt.HideExpansions && l.Call {
			r.Line = l.Place.String() // it outlives the next line
			call = true
			return true
		}
		each(&r)
		return true
	})
	flush()
}

// symbolOf fills in a listing's symbol. The line numbers are written into text,
// which is given back to be used again once the symbol is done with.
func symbolOf(out *Symbol, s *assembler.Symbol, text []byte) []byte {
	const longest = 24 // "4294967295.4294967295", and a little
	if need := (len(s.Uses) + 1) * longest; cap(text) < need {
		text = make([]byte, 0, need)
	}
	text = text[:0]
	place := func(p assembler.Place) Place {
		from := len(text)
		text = p.Append(text)
		return Place{p.File, unsafe.String(unsafe.SliceData(text[from:]), len(text)-from)}
	}
	*out = Symbol{Name: s.Name, Value: s.Value, Kind: s.Kind, Uses: out.Uses[:0]}
	if s.Defined.Line > 0 {
		out.Defined = place(s.Defined)
	}
	for _, u := range s.Uses {
		out.Uses = append(out.Uses, place(u))
	}
	return text
}

// areas is the memory map: what is emitted, reserved and blank, by address.
func areas(p *assembler.Program) []Area {
	im := p.Image
	var out []Area
	at := im.At
	blank := func(to int) {
		if at < to {
			out = append(out, Area{at, to - 1, AreaBlank})
		}
		at = max(at, to)
	}
	used, reserved := im.UsedRanges(), p.Reserved()
	end := im.At + im.Capacity
	for len(used) > 0 || len(reserved) > 0 {
		var r rom.Range
		kind := AreaBytes
		if len(reserved) == 0 || len(used) > 0 && used[0].First < reserved[0].First {
			r, used = used[0], used[1:]
		} else {
			r, reserved, kind = reserved[0], reserved[1:], AreaReserved
		}
		if r.First > im.At && r.First <= end {
			blank(r.First)
		} else if r.First > end {
			blank(end)
		}
		out = append(out, Area{r.First, r.Last, kind})
		if r.Last >= im.At {
			at = max(at, r.Last+1)
		}
	}
	blank(end)
	return out
}
