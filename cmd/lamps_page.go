package cmd

import (
	"fmt"
	"io"
	"maps"
	"path/filepath"
	"slices"

	"romwright/bus"
	"romwright/diag"
	"romwright/encoder"
	"romwright/listing"
	"romwright/page"
)

const (
	// pageClocks is how far a page goes without limits: far enough for the
	// start of a program and some laps of its loops, and a file of under 2 MB.
	pageClocks = 50_000

	// A source of more lines is shown around the lines that ran.
	maxPageLines    = 20_000
	pageLinesAround = 30

	maxPageLabels = 20_000
)

// checkPage refuses what a page cannot hold.
func (o *lampsOptions) checkPage() error {
	if o.clocks > bus.MaxRecordClocks {
		return trouble("--clocks %d: a page holds at most %d clocks, since a browser keeps the whole run in memory; "+
			"--from begins the run nearer to what you look for, and --format csv or vcd takes any length", o.clocks, bus.MaxRecordClocks)
	}
	return nil
}

// writePage records the run and writes the page about it.
func (r *lampsRun) writePage(s streams) error {
	o := r.o
	rec := bus.NewRecorder(r.m, o.clocks, r.p.locate)
	r.run(rec.Cycle)
	if r.outcome.End == bus.EndSink && o.clocks == 0 {
		return trouble("the run is longer than the %d clocks that a page can hold; --clocks %d lets the page end there, "+
			"--from begins the run nearer to what you look for", bus.MaxRecordClocks, bus.MaxRecordClocks)
	}
	l := r.lampsPage(rec.Recording())
	return writeReport(s, o.out, func(w io.Writer) error { return page.WriteLamps(w, l) })
}

func (r *lampsRun) lampsPage(rec *bus.Recording) *page.Lamps {
	o, p := r.o, r.p
	l := &page.Lamps{Program: diag.Printable(filepath.Base(p.name))}
	l.Notes = append(l.Notes, bus.ClockOne(o.reset, r.start))
	if o.clock != 0 {
		l.Notes = append(l.Notes, fmt.Sprintf("The clock runs at %s.", o.clock))
	}
	if w := o.waits; w != (bus.Waits{}) {
		l.Notes = append(l.Notes, fmt.Sprintf("The board adds wait states: fetch %d, read %d, write %d, I/O %d.", w.Fetch, w.Read, w.Write, w.IO))
	}
	if o.clock != 0 && o.clock < bus.SlowClock {
		l.Notes = append(l.Notes, "Caution: "+bus.SlowClockCaution+".")
	}
	l.Run = page.LampsRun{
		Halves: bus.Base64(rec.Halves), Cycles: bus.Base64(rec.Cycles), Insts: bus.Base64(rec.Insts),
		Texts: rec.Texts, Rate: uint64(o.clock), RestHigh: o.restHigh,
		Places: make([]page.LampsPlace, len(rec.Places)),
		Labels: []page.LampsLabel{}, Ports: []page.LampsPort{},
	}
	for _, a := range rec.Map {
		l.Run.Map = append(l.Run.Map, page.LampsArea{First: a.First, Last: a.Last, Kind: a.Kind})
	}
	for _, port := range slices.Sorted(maps.Keys(p.ports)) {
		l.Run.Ports = append(l.Run.Ports, page.LampsPort{Port: int(port), Name: diag.Printable(p.ports[port])})
	}
	for _, x := range p.labels[:min(len(p.labels), maxPageLabels)] {
		l.Run.Labels = append(l.Run.Labels, page.LampsLabel{Name: diag.Printable(x.name), Address: x.addr})
	}
	for i := range rec.Places {
		at := rec.Places[i]
		l.Run.Places[i].At = diag.Printable(at.String())
		l.Run.Places[i].Line = -1
		at.File = "" // what is left is the label and the offset from it
		l.Run.Places[i].Label = diag.Printable(at.String())
	}
	if p.bare {
		l.Run.Lines = r.instructions(rec, l.Run.Places)
	} else {
		l.Run.Lines = p.lines(rec.Places, l.Run.Places)
	}
	return l
}

// lines gives the source, and says for each place in which line it is.
func (p *program) lines(places []bus.Place, out []page.LampsPlace) []page.LampsLine {
	type key struct{ file, line string }
	rowOf := make(map[key]int, len(p.rows))
	for i := range p.rows {
		k := key{p.rows[i].File, p.rows[i].Line}
		if _, ok := rowOf[k]; !ok && k.line != "" {
			rowOf[k] = i
		}
	}
	row := func(at *bus.Place) (int, bool) {
		i, ok := rowOf[key{at.File, at.Line}]
		return i, ok && at.Line != ""
	}
	var wanted []bool // nil: all
	if len(p.rows) > maxPageLines {
		wanted = make([]bool, len(p.rows))
		for i := range places {
			if n, ok := row(&places[i]); ok {
				for j := max(0, n-pageLinesAround); j < min(len(p.rows), n+pageLinesAround+1); j++ {
					wanted[j] = true
				}
			}
		}
	}
	lines := []page.LampsLine{}
	index := make(map[int]int, len(p.rows)) // row to line
	for i := range p.rows {
		r := &p.rows[i]
		switch {
		case wanted != nil && !wanted[i]:
			if i == 0 || wanted[i-1] {
				lines = append(lines, page.LampsLine{})
			}
			continue
		case r.Line == "": // more bytes of the line before
			continue
		}
		index[i] = len(lines)
		line := page.LampsLine{Bytes: listing.FormatBytes(listing.Line{*r}), Line: r.Line, Text: diag.Printable(r.Text)}
		switch {
		case r.RunAddr >= 0:
			line.Address = fmt.Sprintf("%04X", r.RunAddr)
		case r.Addr >= 0:
			line.Address = fmt.Sprintf("%04X", r.Addr)
		}
		lines = append(lines, line)
	}
	for i := range places {
		if n, ok := row(&places[i]); ok {
			out[i].Line = index[n]
		}
	}
	return lines
}

// instructions gives those that ran, by address, as the lines of a program
// without a source. Bytes are those at the end of the run.
func (r *lampsRun) instructions(rec *bus.Recording, out []page.LampsPlace) []page.LampsLine {
	at := map[int]uint32{} // address to place
	for i := 0; i < len(rec.Insts); i += bus.InstWords {
		w := rec.Insts[i+1]
		if r.o.reset && w>>16 == 0 { // the clocks of the reset are no instruction
			continue
		}
		at[int(w&0xFFFF)] = w >> 16
	}
	lines := []page.LampsLine{}
	for _, a := range slices.Sorted(maps.Keys(at)) {
		var b [4]byte
		for j := range b {
			b[j] = r.m.Peek(uint16(a + j))
		}
		in, err := encoder.Decode(b[:])
		if err != nil {
			panic("BUG: four bytes are no instruction: " + err.Error())
		}
		place := &out[at[a]]
		place.Line = len(lines)
		lines = append(lines, page.LampsLine{Address: fmt.Sprintf("%04X", a), Bytes: fmt.Sprintf("% X", b[:in.Len]), Text: in.Text(uint16(a))})
	}
	return lines
}
