package listing

import (
	"io"
	"sync/atomic"
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
	writeRows(lw, p, opt)
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
	rows(p, 0, p.NumLines(), opt, func(r *Row) {
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

// A long listing is made in blocks by several goroutines: it is what a build
// of a long source waits for.
const (
	longListing = 16_384 // lines
	blockLines  = 512
	formatters  = 2
)

// writeRows writes all rows.
func writeRows(lw *Writer, p *assembler.Program, opt ProgramOptions) {
	n := p.NumLines()
	if n < longListing || opt.HideExpansions { // there a row may need those before it
		rows(p, 0, n, opt, lw.Row)
		return
	}
	type block struct {
		rows []byte
		file string
	}
	made := make([]chan block, (n+blockLines-1)/blockLines)
	for i := range made {
		made[i] = make(chan block, 1)
	}
	// A formatter takes a buffer first and then a block, so the block that is
	// due next always has one.
	free := make(chan []byte, 2*formatters)
	for range cap(free) {
		free <- make([]byte, 0, 128*blockLines)
	}
	var next atomic.Int64
	for range formatters {
		go func() {
			for b := range free {
				i := int(next.Add(1)) - 1
				if i >= len(made) {
					return
				}
				first := i * blockLines
				file := p.Source
				if first > 0 {
					p.LinesFrom(first-1, first, func(l *assembler.Line) bool { file = l.File; return true })
				}
				rows(p, first, min(first+blockLines, n), opt, func(r *Row) { b = appendFileRow(b, &file, r) })
				made[i] <- block{b, file}
			}
		}()
	}
	for _, m := range made {
		b := <-m
		lw.block(b.rows, b.file)
		free <- b.rows[:0]
	}
}

// rows gives one row a line, for the lines from first to end-1. The Row and its Line are filled anew each time.
func rows(p *assembler.Program, first, end int, opt ProgramOptions, each func(*Row)) {
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
	p.LinesFrom(first, end, func(l *assembler.Line) bool {
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
