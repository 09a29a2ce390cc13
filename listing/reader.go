package listing

import (
	"fmt"
	"math"
	"strings"
	"unicode/utf8"

	"romwright/diag"
	"romwright/rom"
)

// Limits on what a listing may ask of memory; a program at the limits of the
// language stays far below them.
const (
	maxFile    = 256 << 20 // bytes of a listing
	maxLine    = 64 << 10  // bytes of one line of it
	maxRows    = 3_000_000
	maxPlaces  = 4_000_000           // symbols, and their uses
	maxEmitted = 4 * rom.MaxCapacity // bytes of all rows: with overlap more than the chip holds
	maxErrors  = 10
)

// IsListing tells whether a text begins as a listing does.
func IsListing(text string) bool {
	rest, ok := strings.CutPrefix(text, magic)
	return ok && (len(rest) == 0 || rest[0] == '\n' || rest[0] == '\r')
}

// Parse reads a listing and restores the image from its rows. Lines may end
// in LF or CRLF; name stands for the listing in messages. Where the list holds
// errors, with line and column, nothing else is returned. The Doc keeps hold of
// text.
func Parse(text, name string) (*Doc, *rom.Image, *diag.List) {
	p := &reader{name: name, rest: text}
	if len(text) > maxFile {
		p.fail(0, 0, diag.BadListing, fmt.Sprintf("a listing may hold at most %d bytes", maxFile), "")
	} else {
		p.parse()
	}
	if p.list.Errors() > 0 {
		return nil, nil, &p.list
	}
	return p.doc, p.image, &p.list
}

type reader struct {
	name  string
	rest  string // what was not read yet
	line  string // the line in hand, without its end
	no    int    // its number, 1-based
	list  diag.List
	doc   *Doc
	image *rom.Image

	arena  []byte  // the bytes of all rows
	start  int     // where in it the last row's begin
	file   string  // the one that the rows come from
	places []Place // the uses of all symbols
}

// next takes the next line; false at the end.
func (p *reader) next() bool {
	if p.rest == "" {
		return false
	}
	p.no++
	n := strings.IndexByte(p.rest, '\n')
	if n < 0 {
		p.line, p.rest = p.rest, ""
	} else {
		p.line, p.rest = p.rest[:n], p.rest[n+1:]
	}
	if n := len(p.line); n > 0 && p.line[n-1] == '\r' {
		p.line = p.line[:n-1]
	}
	return true
}

// fail reports the piece from..to (bytes, 0-based) of the line in hand. It
// gives false, so that a check can end with it.
func (p *reader) fail(from, to int, code diag.Code, message, hint string) bool {
	text := p.line
	if len(text) > maxLine {
		text = text[:100]
	}
	from = min(from, len(text))
	p.list.Add(diag.Diagnostic{
		Severity: diag.Error, Code: code, Message: message, Hint: hint,
		Range: diag.Range{File: p.name, Line: p.no, Start: from, End: max(min(to, len(text)), from), Text: text},
	})
	return false
}

// bad is fail for a line that does not follow the layout.
func (p *reader) bad(from, to int, message string) bool {
	return p.fail(from, to, diag.BadListing, message, "")
}

func (p *reader) parse() {
	if !p.header() || !p.rows() {
		return
	}
	if p.line == "SYMBOLS" && !p.symbols() {
		return
	}
	if p.line != "MAP" {
		p.bad(0, len(p.line), `expected "MAP"`)
		return
	}
	p.areas()
}

// field reads the header line "NAME      value".
func (p *reader) field(name string) (string, bool) {
	if !p.next() {
		p.no++
		p.line = ""
		return "", p.bad(0, 0, "the listing ends within its header")
	}
	if !strings.HasPrefix(p.line, name) || len(p.line) < 10 || strings.Trim(p.line[len(name):10], " ") != "" {
		return "", p.bad(0, len(p.line), fmt.Sprintf("expected the header line %q", name))
	}
	return p.line[10:], true
}

func (p *reader) header() bool {
	if !p.next() || p.line != magic {
		return p.bad(0, len(p.line), fmt.Sprintf("the first line of a listing is %q", magic))
	}
	h := Header{Entry: -1}
	text, ok := p.field("Source")
	if !ok {
		return false
	}
	if h.Source, ok = p.text(text, 10); !ok {
		return false
	}
	number := func(name string, read func(string) (int, bool)) (int, bool) {
		text, ok := p.field(name)
		if !ok {
			return 0, false
		}
		v, ok := read(text)
		if !ok {
			return 0, p.bad(10, len(p.line), "expected a number")
		}
		return v, true
	}
	if h.Capacity, ok = number("Capacity", decimal); !ok {
		return false
	}
	no, line := p.no, p.line
	if h.At, ok = number("At", address); !ok {
		return false
	}
	blank, ok := number("Blank", hexPair)
	if !ok {
		return false
	}
	h.Blank = byte(blank)
	if h.Copies, ok = number("Copies", decimal); !ok {
		return false
	}
	entry := func(s string) (int, bool) {
		if s == "none" {
			return -1, true
		}
		return address(s)
	}
	if h.Entry, ok = number("Entry", entry); !ok {
		return false
	}
	image, err := rom.NewImage(h.Capacity, h.At, h.Blank, h.Copies)
	if err != nil {
		p.no, p.line = no, line
		return p.fail(0, len(p.line), diag.BadListing, "no such chip: "+err.Error(), "")
	}
	image.Entry = h.Entry
	for p.next() && p.line != "" {
		first, last, ok := strings.Cut(strings.TrimPrefix(p.line, "RAM       "), "-")
		r := rom.Range{}
		var ok1, ok2 bool
		r.First, ok1 = address(first)
		r.Last, ok2 = address(last)
		if !ok || !ok1 || !ok2 || r.Last < r.First || !strings.HasPrefix(p.line, "RAM       ") {
			return p.bad(0, len(p.line), "expected where RAM is fitted, or an empty line")
		}
		h.RAM = append(h.RAM, r)
	}
	if p.line != "" || !p.next() || p.line != columns {
		return p.bad(0, len(p.line), "expected an empty line and then the heads of the columns")
	}
	p.doc, p.image, p.file = &Doc{Header: h}, image, h.Source
	p.doc.Rows = make([]Row, 0, len(p.rest)/64)
	p.arena = make([]byte, 0, len(p.rest)/32)
	return true
}

// rows reads up to the empty line and takes the line after it in hand.
func (p *reader) rows() bool {
	for p.next() {
		if p.line == "" {
			if !p.next() {
				break
			}
			return p.list.Errors() == 0
		}
		if !p.row() && p.list.Errors() >= maxErrors {
			return false
		}
	}
	p.no++
	p.line = ""
	return p.bad(0, 0, `the listing ends before its line "END"`)
}

// row reads one line of the rows.
func (p *reader) row() bool {
	line := p.line
	if len(line) > maxLine {
		return p.fail(0, 1, diag.BadListing, fmt.Sprintf("a line may hold at most %d bytes", maxLine), "")
	}
	if name, ok := strings.CutPrefix(line, "file "); ok {
		p.file, ok = p.text(name, 5)
		return ok
	}
	r := Row{Addr: -1, RunAddr: -1, File: p.file}
	end := 0 // of the address
	for end < len(line) && line[end] != ' ' {
		end++
	}
	if end > 0 && !p.address(&r, line[:end]) {
		return false
	}
	// Long fields push what follows to the right by eights.
	shift := 0
	for end >= colBytes+shift {
		shift += 8
	}
	if !p.blank(end, colBytes+shift) {
		return false
	}
	start := len(p.arena)
	if len(line) > colBytes+shift && line[colBytes+shift] != ' ' {
		to := colBytes + shift
		stop := min(colT+shift, len(line))
		for n := to; n < stop; n++ {
			if line[n] != ' ' {
				to = n + 1
			}
		}
		if !p.content(&r, colBytes+shift, to) {
			return false
		}
		end = to
	}
	if !p.blank(max(end, colBytes+shift), colT+shift) {
		return false
	}
	end = colT + shift
	if len(line) > end && line[end] != ' ' {
		from := end
		for end < len(line) && line[end] != ' ' {
			if c := line[end]; (c < '0' || c > '9') && c != '/' || end-from > 32 {
				return p.bad(from, end+1, "expected T-states such as 7 or 12/7")
			}
			end++
		}
		r.T = line[from:end]
	}
	for end >= colLine+shift {
		shift += 8
	}
	if !p.blank(end, colLine+shift) {
		return false
	}
	end = colLine + shift
	if len(line) > end {
		from := end
		for end < len(line) && line[end] != ' ' {
			if c := line[end]; (c < '0' || c > '9') && c != '.' || end-from > 32 {
				return p.bad(from, end+1, "expected a line number such as 12 or 12.3")
			}
			end++
		}
		if end == from {
			return p.bad(from, from+1, "expected a line number")
		}
		r.Line = line[from:end]
		for end >= colSource+shift {
			shift += 8
		}
		if !p.blank(colLine+shift+len(r.Line), colSource+shift) {
			return false
		}
		if len(line) > colSource+shift {
			var ok bool
			if r.Text, ok = p.text(line[colSource+shift:], colSource+shift); !ok {
				return false
			}
		}
	}
	r.Bytes = p.arena[start:len(p.arena):len(p.arena)]
	if len(r.Bytes) == 0 {
		r.Bytes = nil
	}
	return p.add(r, start)
}

// add appends the row, or its bytes to the row before.
func (p *reader) add(r Row, start int) bool {
	rows := p.doc.Rows
	if r.Line == "" {
		if len(r.Bytes) == 0 || r.T != "" {
			return p.bad(0, len(p.line), "a row without a line number holds more bytes of the row before, nothing else")
		}
		if len(rows) == 0 {
			return p.bad(0, len(p.line), "the first row needs a line number")
		}
		last := &rows[len(rows)-1]
		if n := len(last.Bytes); n > 0 && r.Addr == last.Addr+n && (r.RunAddr < 0) == (last.RunAddr < 0) &&
			(r.RunAddr < 0 || r.RunAddr == last.RunAddr+n) {
			last.Bytes = p.arena[p.start:len(p.arena):len(p.arena)]
			return true
		}
	}
	if len(rows) >= maxRows {
		return p.fail(0, len(p.line), diag.BadListing, fmt.Sprintf("a listing may hold at most %d rows", maxRows), "")
	}
	p.start = start
	p.doc.Rows = append(rows, r)
	return true
}

// address reads "0100" or "0100>8000".
func (p *reader) address(r *Row, s string) bool {
	here, run, both := strings.Cut(s, ">")
	var ok bool
	if r.Addr, ok = address(here); !ok {
		return p.bad(0, len(s), "expected an address of four upper-case hex digits")
	}
	if both {
		if r.RunAddr, ok = address(run); !ok {
			return p.bad(len(here)+1, len(s), "expected an address of four upper-case hex digits")
		}
	}
	return true
}

// blank checks that the columns from..to-1 are empty.
func (p *reader) blank(from, to int) bool {
	for i := from; i < min(to, len(p.line)); i++ {
		if p.line[i] != ' ' {
			return p.bad(i, i+1, "the columns of a row are fixed; this one must be blank")
		}
	}
	return true
}

// content reads the column of bytes, which stands at from..to-1.
func (p *reader) content(r *Row, from, to int) bool {
	s := p.line[from:to]
	if s[0] == '=' {
		v, ok := value(s[1:])
		r.Value, r.HasValue = v, true
		return ok || p.bad(from, to, "expected a value such as =0005")
	}
	if n, ok := strings.CutPrefix(s, "reserves "); ok {
		v, ok := decimal(n)
		r.Reserved = v
		return ok && v > 0 || p.bad(from, to, `expected a number of bytes such as "reserves 16"`)
	}
	if r.Addr < 0 {
		return p.bad(from, to, "bytes need an address")
	}
	start := len(p.arena)
	if one, many, ok := strings.Cut(s, " times "); ok {
		b, ok := hexPair(one)
		n, ok2 := decimal(many)
		if !ok || !ok2 || n < 1 {
			return p.bad(from, to, `expected a run such as "FF times 100"`)
		}
		if !p.fits(r.Addr, n, from, to) {
			return false
		}
		for range n {
			p.arena = append(p.arena, byte(b))
		}
	} else {
		for i := 0; i < len(s); i += 3 {
			if i+2 > len(s) || i+2 < len(s) && s[i+2] != ' ' {
				return p.bad(from+i, to, "expected bytes as pairs of upper-case hex digits")
			}
			hi, lo := upperHex(s[i]), upperHex(s[i+1])
			if hi < 0 || lo < 0 {
				return p.bad(from+i, from+i+2, "expected bytes as pairs of upper-case hex digits")
			}
			p.arena = append(p.arena, byte(hi<<4|lo))
		}
		if !p.fits(r.Addr, len(p.arena)-start, from, to) {
			p.arena = p.arena[:start]
			return false
		}
	}
	p.image.PutBytes(r.Addr, p.arena[start:])
	return true
}

// fits checks that n bytes from addr on lie in the chip.
func (p *reader) fits(addr, n, from, to int) bool {
	if !p.image.Contains(addr) || n > p.image.Capacity || !p.image.Contains(addr+n-1) {
		return p.fail(from, to, diag.OutsideChip, fmt.Sprintf("these bytes lie outside the chip, which holds %04X-%04X",
			p.image.At, p.image.At+p.image.Capacity-1), "")
	}
	if len(p.arena)+n > maxEmitted {
		return p.fail(from, to, diag.BadListing, fmt.Sprintf("the rows hold more than %d bytes", maxEmitted), "")
	}
	return true
}

// symbols reads up to the empty line and takes the line after it in hand.
func (p *reader) symbols() bool {
	if !p.next() || p.line != symbolColumns {
		return p.bad(0, len(p.line), "expected the heads of the symbols' columns")
	}
	p.doc.Symbols = make([]Symbol, 0, len(p.rest)/48)
	p.places = make([]Place, 0, len(p.rest)/24)
	for p.next() {
		switch {
		case p.line == "":
			if p.next() {
				return p.list.Errors() == 0
			}
		case len(p.line) > maxLine:
			p.fail(0, 1, diag.BadListing, fmt.Sprintf("a line may hold at most %d bytes", maxLine), "")
		case p.line[0] == ' ':
			if n := len(p.doc.Symbols); n == 0 {
				p.bad(0, len(p.line), "expected a symbol")
			} else {
				p.uses(&p.doc.Symbols[n-1], 0)
			}
		default:
			p.symbol()
		}
		if p.list.Errors() >= maxErrors {
			return false
		}
	}
	p.no++
	p.line = ""
	return p.bad(0, 0, `the listing ends before its line "END"`)
}

// word finds the next word of the line at or after from: its bounds.
func (p *reader) word(from int) (start, end int) {
	for from < len(p.line) && p.line[from] == ' ' {
		from++
	}
	end = from
	for end < len(p.line) && p.line[end] != ' ' {
		end++
	}
	return from, end
}

func (p *reader) symbol() bool {
	var s Symbol
	var ok bool
	from, to := p.word(0)
	if s.Name, ok = p.named(from, to); !ok {
		return false
	}
	from, to = p.word(to)
	if s.Value, ok = value(p.line[from:to]); !ok {
		return p.bad(from, to, "expected the symbol's value in upper-case hex digits")
	}
	from, to = p.word(to)
	switch p.line[from:to] {
	case KindLabel, KindConstant, KindVariable, KindFlag:
		s.Kind = p.line[from:to]
	default:
		return p.bad(from, to, "expected the symbol's kind: label, constant, variable or flag")
	}
	from, to = p.word(to)
	if s.Defined, ok = p.place(from, to); !ok {
		return false
	}
	if len(p.doc.Symbols) >= maxPlaces {
		return p.fail(0, len(p.line), diag.BadListing, fmt.Sprintf("a listing may hold at most %d symbols", maxPlaces), "")
	}
	p.doc.Symbols = append(p.doc.Symbols, s)
	return p.uses(&p.doc.Symbols[len(p.doc.Symbols)-1], to)
}

// uses reads places from a column on to the end of the line. Those of one
// symbol follow each other, so that one slice holds them all.
func (p *reader) uses(s *Symbol, from int) bool {
	for {
		start, end := p.word(from)
		if start == end {
			return true
		}
		if len(p.places) >= maxPlaces {
			return p.fail(start, end, diag.BadListing, fmt.Sprintf("a listing may hold at most %d uses of symbols", maxPlaces), "")
		}
		place, ok := p.place(start, end)
		if !ok {
			return false
		}
		p.places = append(p.places, place)
		n := len(p.places)
		s.Uses = p.places[n-len(s.Uses)-1 : n : n]
		from = end
	}
}

// place reads "12", "lamps.asm:12.3" or "-".
func (p *reader) place(from, to int) (Place, bool) {
	s := p.line[from:to]
	if s == "-" {
		return Place{}, true
	}
	place := Place{File: p.doc.Source, Line: s}
	if i := strings.LastIndexByte(s, ':'); i >= 0 {
		file, ok := p.named(from, from+i)
		if !ok {
			return place, false
		}
		place = Place{File: file, Line: s[i+1:]}
	}
	if place.Line == "" {
		return place, p.bad(from, to, "expected a line number")
	}
	for _, c := range []byte(place.Line) {
		if (c < '0' || c > '9') && c != '.' {
			return place, p.bad(from, to, "expected a line number, with its file before a colon where it is another one")
		}
	}
	return place, true
}

// areas reads the memory map, the check and the end.
func (p *reader) areas() {
	for p.next() {
		switch {
		case p.line == "END":
			for p.next() {
				if p.line != "" {
					p.bad(0, len(p.line), `nothing may follow "END"`)
					return
				}
			}
			return
		case strings.HasPrefix(p.line, "CRC-32 "):
			want, ok := hex(p.line[7:], 8, 8)
			if !ok {
				p.bad(7, len(p.line), "expected eight hex digits")
				return
			}
			if got := p.image.CRC32(); got != uint32(want) {
				p.fail(0, len(p.line), diag.ListingAltered, fmt.Sprintf(
					"the rows give an image with CRC-32 %08X, so the listing was changed after it was written", got),
					"list the program again; a listing is no place to patch bytes")
				return
			}
		default:
			if !p.area() {
				return
			}
		}
	}
	p.no++
	p.line = ""
	p.bad(0, 0, `the listing ends before its line "END"`)
}

func (p *reader) area() bool {
	from, to := p.word(0)
	first, last, ok := strings.Cut(p.line[from:to], "-")
	var a Area
	if ok {
		a.First, ok = address(first)
	}
	if ok {
		a.Last, ok = address(last)
	}
	if !ok || a.Last < a.First || from != 0 {
		return p.bad(from, to, "expected a range of addresses such as 0100-01FF")
	}
	from, to = p.word(to)
	switch p.line[from:to] {
	case AreaBytes, AreaBlank, AreaReserved:
		a.Kind = p.line[from:to]
	default:
		return p.bad(from, to, "expected bytes, blank or reserved")
	}
	from, to = p.word(to)
	if n, ok := decimal(p.line[from:to]); !ok || n != a.Last-a.First+1 {
		return p.bad(from, to, fmt.Sprintf("this range holds %d bytes", a.Last-a.First+1))
	}
	if len(p.doc.Map) >= maxRows {
		return p.fail(0, len(p.line), diag.BadListing, fmt.Sprintf("a memory map may hold at most %d ranges", maxRows), "")
	}
	p.doc.Map = append(p.doc.Map, a)
	return true
}

// named restores a name that stands at from..to-1.
func (p *reader) named(from, to int) (string, bool) {
	if p.line[from:to] == "-" {
		return "", true
	}
	return p.text(p.line[from:to], from)
}

// text restores text that stands at a column of the line in hand.
func (p *reader) text(s string, column int) (string, bool) {
	odd := -1
	for i := 0; i < len(s); i++ {
		if !plain(s[i]) {
			odd = i
			break
		}
	}
	if odd < 0 {
		return s, true
	}
	escapes := false
	for i := odd; i < len(s); {
		r, n := utf8.DecodeRuneInString(s[i:])
		if hidden(r, n) {
			return "", p.bad(column+i, column+i+n, `control bytes and bytes that are not UTF-8 stand as \xNN in a listing`)
		}
		escapes = escapes || looksEscaped(s[i:])
		i += n
	}
	if !escapes {
		return s, true
	}
	b := make([]byte, 0, len(s))
	for i := 0; i < len(s); {
		if looksEscaped(s[i:]) {
			b = append(b, byte(upperHex(s[i+2])<<4|upperHex(s[i+3])))
			i += 4
		} else {
			b = append(b, s[i])
			i++
		}
	}
	return string(b), true
}

// decimal reads digits without a sign, up to 9.
func decimal(s string) (int, bool) {
	if len(s) == 0 || len(s) > 9 {
		return 0, false
	}
	v := 0
	for i := 0; i < len(s); i++ {
		if s[i] < '0' || s[i] > '9' {
			return 0, false
		}
		v = v*10 + int(s[i]-'0')
	}
	return v, true
}

// hex reads upper-case hex digits, least to most (at most 16) of them.
func hex(s string, least, most int) (uint64, bool) {
	if len(s) < least || len(s) > most {
		return 0, false
	}
	var v uint64
	for i := 0; i < len(s); i++ {
		d := upperHex(s[i])
		if d < 0 {
			return 0, false
		}
		v = v<<4 | uint64(d)
	}
	return v, true
}

// address reads four to seven upper-case hex digits.
func address(s string) (int, bool) {
	v, ok := hex(s, 4, 7)
	return int(v), ok
}

// hexPair reads two upper-case hex digits.
func hexPair(s string) (int, bool) {
	v, ok := hex(s, 2, 2)
	return int(v), ok
}

// value reads four to sixteen upper-case hex digits with an optional sign.
func value(s string) (int64, bool) {
	digits, negative := strings.CutPrefix(s, "-")
	v, ok := hex(digits, 4, 16)
	if !ok {
		return 0, false
	}
	switch {
	case negative && v <= 1<<63:
		return int64(-v), true
	case !negative && v <= math.MaxInt64:
		return int64(v), true
	}
	return 0, false
}

// SourceMap tells which row the byte at an address came from.
func (d *Doc) SourceMap() *rom.SourceMap {
	labels := map[Place]string{}
	for i := range d.Symbols {
		if s := &d.Symbols[i]; s.Kind == KindLabel && s.Defined.Line != "" {
			if _, ok := labels[s.Defined]; !ok {
				labels[s.Defined] = s.Name
			}
		}
	}
	m := new(rom.SourceMap)
	var src rom.Source
	label := ""
	for i := range d.Rows {
		r := &d.Rows[i]
		if r.Line != "" {
			if name, ok := labels[Place{r.File, r.Line}]; ok {
				label = name
			}
			src = rom.Source{File: r.File, Line: r.Line, Text: r.Text, Label: label}
		}
		if n := len(r.Bytes); n > 0 {
			m.Add(r.Addr, r.Addr+n-1, src)
			if r.RunAddr >= 0 && r.RunAddr != r.Addr {
				m.Add(r.RunAddr, r.RunAddr+n-1, src)
			}
		}
	}
	return m
}

// Image puts the rows into a chip. The error is that of an impossible chip
// or names the first row that lies outside it.
func (d *Doc) Image() (*rom.Image, error) {
	im, err := rom.NewImage(d.Capacity, d.At, d.Blank, d.Copies)
	if err != nil {
		return nil, err
	}
	im.Entry = d.Entry
	for i := range d.Rows {
		r := &d.Rows[i]
		n := len(r.Bytes)
		if n == 0 {
			continue
		}
		if !im.Contains(r.Addr) || !im.Contains(r.Addr+n-1) {
			return nil, fmt.Errorf("line %s puts bytes outside the chip, at %04XH", r.Line, r.Addr)
		}
		im.PutBytes(r.Addr, r.Bytes)
	}
	return im, nil
}
