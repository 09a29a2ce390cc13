package rom

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"romwright/diag"
)

// VerifyOptions says how a read-back is compared.
type VerifyOptions struct {
	Sources *SourceMap // where the bytes came from; may be nil
	Earlier []Earlier  // images that the chip may still hold
	Max     int        // differing ranges listed, 0 for all (at most 100,000)
}

// Cells counts cells of one kind.
type Cells struct {
	Of        int `json:"of"`        // in the chip
	Covered   int `json:"covered"`   // read back
	Differing int `json:"differing"` // of those
}

// Differs is a run of cells that differ, all from one statement where the
// sources are known. Addresses are the CPU's.
type Differs struct {
	First  string `json:"first"` // four upper-case hex digits or more
	Last   string `json:"last"`
	Bytes  int    `json:"bytes"`
	Wanted string `json:"wanted"` // hex pairs, of the first bytes
	Read   string `json:"read"`
	Source *From  `json:"source"` // null where unknown
}

// From is a source line in a report.
type From struct {
	File  string `json:"file"`
	Line  string `json:"line"`
	Text  string `json:"text"`
	Label string `json:"label,omitempty"`
}

// Unread is a line of a capture that gave no bytes.
type Unread struct {
	Line int    `json:"line"`
	Text string `json:"text"`
}

// Clash is an address that a capture gives twice.
type Clash struct {
	Address string `json:"address"`
	Line    int    `json:"line"`
	Earlier string `json:"earlier"`
	Later   string `json:"later"`
}

// Report is the outcome of a comparison with a read-back. Numbers of bytes
// count cells of the chip.
type Report struct {
	Agrees    bool   `json:"agrees"` // over what was read back
	Format    string `json:"format"`
	Addresses string `json:"addresses"` // how the read-back's addresses were taken
	Capacity  int    `json:"capacity"`
	Covered   int    `json:"covered"`
	Differing int    `json:"differing"`
	Missing   int    `json:"missing"`
	Outside   int    `json:"outside"` // bytes read that lie outside the chip
	Program   Cells  `json:"program"`
	Blank     Cells  `json:"blank"`

	Ranges        []Differs   `json:"ranges"`
	RangesInAll   int         `json:"ranges_in_all"`
	MissingRanges [][2]string `json:"missing_ranges"` // CPU addresses
	Diagnosis     []Finding   `json:"diagnosis"`

	RepeatedLines      int      `json:"repeated_lines"` // of a capture, which said the same again
	NotUnderstood      []Unread `json:"not_understood"` // the first ones
	NotUnderstoodInAll int      `json:"not_understood_in_all"`
	Clashes            []Clash  `json:"clashes"` // the first ones
	ClashesInAll       int      `json:"clashes_in_all"`
	Unproved           []string `json:"unproved"` // what agreement cannot prove
}

const maxRanges = 100_000

// EarlierImage gives an earlier image as a diagnosis of chip wants it: cell by
// cell of that chip, whose first cell may have had another address.
func EarlierImage(name string, earlier, chip *Image) Earlier {
	data := make([]byte, chip.FileSize())
	fill(data, erased)
	for o := range data {
		if e := o + chip.At - earlier.At; e >= 0 && e < earlier.FileSize() {
			data[o] = earlier.Data[e%earlier.Capacity]
		}
	}
	return Earlier{Name: name, Data: data}
}

// Verify compares an image with what was read back. A read-back may cover
// only a part of the chip; what it does not cover is missing, not wrong.
func Verify(im *Image, back *Contents, opts VerifyOptions) *Report {
	r := lay(im, back, opts.Earlier)
	rep := &Report{
		Format: back.Format.String(), Capacity: len(r.want),
		Covered: r.of, Differing: r.differing, Missing: len(r.want) - r.of,
		Agrees: r.differing == 0 && r.of > 0, Addresses: r.counted,
		Ranges: []Differs{}, MissingRanges: [][2]string{}, Diagnosis: []Finding{},
		RepeatedLines: back.Repeated, NotUnderstood: []Unread{}, NotUnderstoodInAll: back.IgnoredCount,
		Clashes: []Clash{}, ClashesInAll: back.ConflictCount,
	}
	for _, p := range r.beyond {
		rep.Outside += len(p.Data)
	}
	for _, l := range back.Ignored {
		rep.NotUnderstood = append(rep.NotUnderstood, Unread{l.Line, diag.Printable(l.Text)})
	}
	for _, c := range back.Conflicts {
		rep.Clashes = append(rep.Clashes, Clash{fmt.Sprintf("%04X", c.Addr), c.Line, hexByte(c.Earlier), hexByte(c.Later)})
	}
	r.countCells(im, rep)
	r.listRanges(im, rep, opts)
	rep.Diagnosis = append(rep.Diagnosis, r.diagnose()...)
	r.unproved(rep)
	return rep
}

// lay lays a read-back over the image file.
func lay(im *Image, back *Contents, earlier []Earlier) *reading {
	r := &reading{want: im.Data, blank: im.Blank, at: im.At, earlier: earlier}
	if im.Copies > 1 {
		r.want = make([]byte, 0, im.FileSize())
		for range im.Copies {
			r.want = append(r.want, im.Data...)
		}
	}
	base := r.base(back)
	n := len(r.want)
	for _, p := range back.Pieces {
		first, end := p.Addr-base, p.Addr-base+len(p.Data)
		in, out := max(first, 0), min(end, n)
		if in >= out {
			r.beyond = append(r.beyond, Piece{first, p.Data})
			continue
		}
		if first < in {
			r.beyond = append(r.beyond, Piece{first, p.Data[:in-first]})
		}
		if end > out {
			r.beyond = append(r.beyond, Piece{out, p.Data[out-first:]})
		}
		r.runs = append(r.runs, Range{in, out - 1})
		if in == 0 && out == n {
			r.got = p.Data[in-first : out-first] // the whole chip in one piece
			continue
		}
		if r.got == nil {
			r.got = make([]byte, n)
		}
		copy(r.got[in:out], p.Data[in-first:out-first])
	}
	r.prepare()
	return r
}

// base finds out from where the read-back counts its addresses: as the CPU
// does, from the chip's first cell, or from somewhere else, such as the
// buffer of a programmer. What puts more bytes into the chip is believed,
// then what makes more of them agree.
func (r *reading) base(back *Contents) int {
	if back.Format == Binary {
		r.counted = "none: the file begins with the chip's first cell"
		return 0
	}
	n := len(r.want)
	span, _ := back.Span()
	buffer := span.First - span.First%n
	best, bestIn, bestAgree := 0, -1, -1
	for _, base := range []int{r.at, 0, buffer} {
		in, agree := 0, 0
		for _, p := range back.Pieces {
			first, end := max(p.Addr-base, 0), min(p.Addr-base+len(p.Data), n)
			if first >= end {
				continue
			}
			in += end - first
			for o := first; o < end; o++ {
				if p.Data[o+base-p.Addr] == r.want[o] {
					agree++
				}
			}
		}
		if in > bestIn || in == bestIn && agree > bestAgree {
			best, bestIn, bestAgree = base, in, agree
		}
	}
	switch best {
	case r.at:
		r.counted = "as the CPU sees the chip"
	case 0:
		r.counted = "counted from the chip's first cell"
	default:
		r.counted = fmt.Sprintf("counted from %04XH, taken as the chip's first cell", best)
	}
	return best
}

// countCells counts program and blank cells, and names what is missing.
func (r *reading) countCells(im *Image, rep *Report) {
	rep.Program.Of = im.Used() * im.Copies
	rep.Blank.Of = len(r.want) - rep.Program.Of
	next := 0
	gap := func(end int) {
		if end > next {
			rep.MissingRanges = append(rep.MissingRanges, Range{r.at + next, r.at + end - 1}.Hex())
		}
	}
	for _, run := range r.runs {
		gap(run.First)
		next = run.Last + 1
		for o := run.First; o <= run.Last; o++ {
			c := &rep.Blank
			if im.UsedAt(im.At + o%im.Capacity) {
				c = &rep.Program
			}
			c.Covered++
			if r.got[o] != r.want[o] {
				c.Differing++
			}
		}
	}
	gap(len(r.want))
}

// listRanges lists the runs that differ, parted where the statement changes.
func (r *reading) listRanges(im *Image, rep *Report, opts VerifyOptions) {
	limit := opts.Max
	if limit <= 0 || limit > maxRanges {
		limit = maxRanges
	}
	one := func(first, last int, src Source, known bool) {
		if rep.RangesInAll++; len(rep.Ranges) >= limit {
			return
		}
		hex := Range{r.at + first, r.at + last}.Hex()
		d := Differs{
			First: hex[0], Last: hex[1], Bytes: last - first + 1,
			Wanted: pairs(r.want[first : last+1]), Read: pairs(r.got[first : last+1]),
		}
		if known {
			d.Source = &From{src.File, src.Line, diag.Printable(strings.TrimRight(src.Text, " \t")), src.Label}
		}
		rep.Ranges = append(rep.Ranges, d)
	}
	for _, run := range r.runs {
		a := cells{data: r.want[run.First : run.Last+1], n: run.Len()}
		b := cells{data: r.got[run.First : run.Last+1], n: run.Len()}
		runs(a, b, func(first, last int) {
			first, last = first+run.First, last+run.First
			if opts.Sources == nil {
				one(first, last, Source{}, false)
				return
			}
			start := first
			src, known := opts.Sources.Lookup(im.At + first%im.Capacity)
			for o := first + 1; o <= last; o++ {
				s, k := opts.Sources.Lookup(im.At + o%im.Capacity)
				if s != src || k != known {
					one(start, o-1, src, known)
					start, src, known = o, s, k
				}
			}
			one(start, last, src, known)
		})
	}
}

// pairs shows bytes as hex pairs, the first eight of them.
func pairs(b []byte) string {
	const most = 8
	var out strings.Builder
	for i, c := range b[:min(len(b), most)] {
		if i > 0 {
			out.WriteByte(' ')
		}
		out.WriteString(hexByte(c))
	}
	if len(b) > most {
		out.WriteString(" ...")
	}
	return out.String()
}

// unproved says what the comparison cannot prove.
func (r *reading) unproved(rep *Report) {
	rep.Unproved = []string{}
	if !rep.Agrees {
		return
	}
	if rep.Missing > 0 {
		rep.Unproved = append(rep.Unproved, count(rep.Missing, "byte")+" of the chip were not read back")
	}
	rep.Unproved = append(rep.Unproved,
		"a line exchanged in the same way while writing and while reading cancels out: read back on the programmer that wrote it, a chip may agree and still be wrong for the board",
		"the board may reach the chip by other lines than the reader did; only a read-back made on the board tells",
	)
	if n := rep.Blank.Covered; n > 0 && rep.Program.Covered == 0 {
		rep.Unproved = append(rep.Unproved, "only blank cells were read back: an unwritten chip would agree too")
	}
}

// WriteText writes the report for a person.
func (rep *Report) WriteText(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "Read back: %d of %s (%s)\n", rep.Covered, count(rep.Capacity, "byte"), rep.Format)
	fmt.Fprintf(&b, "Addresses: %s\n", rep.Addresses)
	kind := func(name string, c Cells) {
		if c.Of > 0 {
			fmt.Fprintf(&b, "%s %d of %d read back, %d agree, %d differ\n", name, c.Covered, c.Of, c.Covered-c.Differing, c.Differing)
		}
	}
	kind("Program:  ", rep.Program)
	kind("Blank:    ", rep.Blank)
	if rep.Missing > 0 {
		fmt.Fprintf(&b, "Missing:   %s:%s\n", count(rep.Missing, "byte"), some(rep.MissingRanges, func(r [2]string) string { return r[0] + "H-" + r[1] + "H" }))
	}
	if rep.Outside > 0 {
		fmt.Fprintf(&b, "Outside:   %s lie outside the chip and were left out\n", count(rep.Outside, "byte"))
	}
	if rep.RepeatedLines > 0 {
		fmt.Fprintf(&b, "Repeated:  %s\n", count(rep.RepeatedLines, "line"))
	}
	if rep.NotUnderstoodInAll > 0 {
		fmt.Fprintf(&b, "Not understood: %s\n", count(rep.NotUnderstoodInAll, "line"))
		for i, l := range rep.NotUnderstood {
			if i == 8 {
				fmt.Fprintf(&b, "  and %d more\n", rep.NotUnderstoodInAll-i)
				break
			}
			fmt.Fprintf(&b, "  line %d: %s\n", l.Line, l.Text)
		}
	}
	if rep.ClashesInAll > 0 {
		fmt.Fprintf(&b, "Given twice with different bytes; the later one counts: %s\n", count(rep.ClashesInAll, "address", "addresses"))
		for i, c := range rep.Clashes {
			if i == 8 {
				fmt.Fprintf(&b, "  and %d more\n", rep.ClashesInAll-i)
				break
			}
			fmt.Fprintf(&b, "  %sH: %s, then %s in line %d\n", c.Address, c.Earlier, c.Later, c.Line)
		}
	}
	b.WriteByte('\n')
	if rep.Agrees {
		b.WriteString("The chip agrees with the image, as far as it was read back.\n")
		b.WriteString("This does not prove everything:\n")
		for _, u := range rep.Unproved {
			fmt.Fprintf(&b, "- %s\n", u)
		}
	} else {
		rep.writeDifferences(&b)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// writeDifferences writes the ranges and the diagnosis.
func (rep *Report) writeDifferences(b *strings.Builder) {
	fmt.Fprintf(b, "The chip does not hold the image: %s.\n\n", count(rep.Differing, "byte differs", "bytes differ"))
	rows := [][4]string{{"ADDRESS", "WANTED", "READ", "SOURCE"}}
	for _, d := range rep.Ranges {
		row := [4]string{d.First, d.Wanted, d.Read}
		if d.Last != d.First {
			row[0] += "-" + d.Last
		}
		if d.Source != nil {
			row[3] = strings.TrimSpace(fmt.Sprintf("%s:%s  %s", diag.Printable(d.Source.File), d.Source.Line, strings.TrimSpace(d.Source.Text)))
		}
		rows = append(rows, row)
	}
	var width [4]int
	for _, row := range rows {
		for i, cell := range row[:3] {
			width[i] = max(width[i], len(cell))
		}
	}
	for _, row := range rows {
		line := fmt.Sprintf("%-*s  %-*s  %-*s  %s", width[0], row[0], width[1], row[1], width[2], row[2], row[3])
		b.WriteString(strings.TrimRight(line, " ") + "\n")
	}
	if n := rep.RangesInAll - len(rep.Ranges); n > 0 {
		fmt.Fprintf(b, "and %s more\n", count(n, "range"))
	}
	b.WriteByte('\n')
	switch len(rep.Diagnosis) {
	case 0:
		b.WriteString("Diagnosis: no single fault explains this.\n")
		b.WriteString("Read the chip back once more: bytes that change point to the reading, bytes that stay to the chip or its writing.\n")
		return
	case 1:
		b.WriteString("Diagnosis:\n")
	default:
		fmt.Fprintf(b, "Diagnosis: %d faults would look exactly like this.\n", len(rep.Diagnosis))
	}
	var look []string // each piece of advice once
	for i, f := range rep.Diagnosis {
		for _, l := range f.Look {
			if l != handle && !slices.Contains(look, l) {
				look = append(look, l)
			}
		}
		if i > 0 && alike(f, rep.Diagnosis[i-1]) {
			fmt.Fprintf(b, "- or: %s\n", f.Says)
			continue
		}
		fmt.Fprintf(b, "- %s\n  %s.\n", f.Says, f.Evidence)
		for _, r := range f.Readings {
			fmt.Fprintf(b, "  It may be that %s.\n", r)
		}
	}
	b.WriteString("What to look at:\n")
	for _, l := range look {
		fmt.Fprintf(b, "- %s\n", l)
	}
	if slices.ContainsFunc(rep.Diagnosis, func(f Finding) bool { return slices.Contains(f.Look, handle) }) {
		b.WriteString(handle + "\n")
	}
}

// alike says whether two findings differ only in the lines that they name, so
// that the second needs no words of its own.
func alike(a, b Finding) bool {
	return a.Fault == b.Fault && a.While == b.While && len(a.Lines) > 0 && len(a.Lines) == len(b.Lines) &&
		(a.Level == nil || *a.Level == *b.Level)
}

// some shows the first items of a list.
func some[T any](items []T, show func(T) string) string {
	var b strings.Builder
	for i, it := range items {
		if i == 6 {
			fmt.Fprintf(&b, " and %d more", len(items)-i)
			break
		}
		b.WriteString(" " + show(it))
	}
	return b.String()
}
