package listing

import (
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"

	"romwright/diag"
	"romwright/rom"
)

// Plural gives "1 line" and "1,500 lines".
func Plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return Thousands(n) + " " + word + "s"
}

// Thousands gives digits in groups of three: "1,500".
func Thousands(n int) string {
	if n < 0 {
		return "-" + Thousands(-n)
	}
	s := strconv.Itoa(n)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}

// Signed gives a change with its sign: "+2", "-1,500".
func Signed(n int64) string {
	if n > 0 {
		return "+" + Thousands(int(n))
	}
	return Thousands(int(n))
}

// FormatAddress gives the address column of a row: "0100", "0100>8000", or
// nothing where the line has no address.
func FormatAddress(r *Row) string { return string(appendAddr(nil, r, 0)) }

// FormatBytes gives what stands in the bytes column of a line, cut to what
// fits into one row: "3E 05", "00 times 300", "=0005", "reserves 16".
func FormatBytes(l Line) string {
	r := &l[0]
	switch b := l.Bytes(); {
	case len(b) > 0:
		out, n := appendBytes(nil, b)
		if n < len(b) {
			return fmt.Sprintf("%s … %s more", out, Thousands(len(b)-n))
		}
		return string(out)
	case r.HasValue:
		return "=" + FormatValue(r.Value)
	case r.Reserved > 0:
		return "reserves " + strconv.Itoa(r.Reserved)
	}
	return ""
}

// FormatValue gives a value as listings show it: "0005", "-0002".
func FormatValue(v int64) string { return string(appendValue(nil, v)) }

// FormatRange gives "0100-01FF", or "0100" for a single address.
func FormatRange(r rom.Range) string {
	if r.First == r.Last {
		return FormatValue(int64(r.First))
	}
	return FormatValue(int64(r.First)) + "-" + FormatValue(int64(r.Last))
}

// Names lists names as "l0 … l1499" where there are more than four.
func Names(list []SymbolChange) string {
	if n := len(list); n > 4 {
		return diag.Printable(list[0].Name) + " … " + diag.Printable(list[n-1].Name)
	}
	var s []string
	for _, c := range list {
		s = append(s, diag.Printable(c.Name))
	}
	return strings.Join(s, ", ")
}

// Summary says in one line what differs.
func (r *Report) Summary() string {
	var s []string
	switch {
	case r.Same:
		s = append(s, "the images are the same")
	case r.Image.Bytes == 0:
		s = append(s, "the images hold the same bytes, but not in the same chip")
	default:
		s = append(s, fmt.Sprintf("the images differ in %s, %s to write again (%s each)",
			Plural(r.Image.Bytes, "byte"), Plural(r.Image.Pages, "page"), Plural(r.Image.PageSize, "byte")))
	}
	n := r.Lines
	for _, c := range []struct {
		n    int
		word Class
	}{{n.Changed, Changed}, {n.Added, Added}, {n.Removed, Removed}, {n.Moved, Moved}, {n.Retargeted, Retargeted}, {n.Layout, Layout}} {
		if c.n > 0 {
			s = append(s, Thousands(c.n)+" "+c.word.String())
		}
	}
	switch {
	case !r.HasLines:
		s = append(s, "no lines to compare in an image")
	case len(s) == 1:
		s = append(s, "every line is the same")
	default:
		s[1] = "lines: " + s[1]
	}
	return s[0] + "; " + strings.Join(s[1:], ", ")
}

// WriteText writes the report for people. all shows each line that moved, was
// retargeted or differs in layout, and each symbol.
func (r *Report) WriteText(w io.Writer, all bool) error {
	t := &textReport{}
	t.line("old  " + diag.Printable(r.Old.Name))
	t.line("new  " + diag.Printable(r.New.Name))
	t.line(r.Summary())
	r.textLines(t, all)
	t.block = ""
	for _, f := range r.facts(all) {
		t.item(f.Name, f.Text)
	}
	_, err := w.Write(t.b)
	return err
}

// textReport builds the report: blocks with an empty line between them.
type textReport struct {
	b     []byte
	block string // heading of the block in hand
}

func (t *textReport) line(s string) {
	t.b = append(t.b, s...)
	t.b = append(t.b, '\n')
}

// item writes a line under a heading, which stands before the first one only.
func (t *textReport) item(heading, s string) {
	if t.block != heading {
		t.block = heading
		t.line("")
	} else {
		heading = ""
	}
	t.b = fmt.Appendf(t.b, "%-12s%s\n", heading, s)
}

// source writes one side of a change; lines of the file source go without its
// name.
func (t *textReport) source(heading, side, source string, l Line) {
	r := &l[0]
	place := r.Line
	if r.File != source {
		place = diag.Printable(r.File) + ":" + place
	}
	t.item(heading, fmt.Sprintf("%s  %-9s  %-23s  %-6s  %s", side, FormatAddress(r), FormatBytes(l), place,
		strings.TrimSpace(strings.ReplaceAll(diag.Printable(r.Text), "\t", " "))))
}

func (r *Report) textLines(t *textReport, all bool) {
	for i := range r.Changes {
		c := &r.Changes[i]
		if c.Class == Same || c.Class > Removed && !all {
			continue
		}
		heading := c.Class.String()
		t.block = "" // each change stands alone
		if i > 0 && (c.Class == Added || c.Class == Removed) && r.Changes[i-1].Class == c.Class {
			t.block = heading // except runs of new or lost lines
		}
		if c.Old.Exists() {
			t.source(heading, "old", r.Old.Doc.Source, c.Old)
		}
		if c.New.Exists() {
			t.source(heading, "new", r.New.Doc.Source, c.New)
		}
	}
}

// Fact is one thing to know about a comparison beside its single lines.
type Fact struct {
	Name string // moved, retargeted, values, symbols or image
	Text string
}

// Facts tells what moved and was retargeted as a whole, which symbols came,
// went or have another value, and where the images differ.
func (r *Report) Facts() []Fact { return r.facts(false) }

func (r *Report) facts(all bool) []Fact {
	var out []Fact
	add := func(name, format string, args ...any) {
		out = append(out, Fact{name, fmt.Sprintf(format, args...)})
	}
	for _, run := range r.Runs {
		add("moved", "%s by %s: %s, now %s", Plural(run.Lines, "line"), Signed(int64(run.By)), FormatRange(run.Old), FormatRange(run.New))
	}
	for _, g := range r.Groups {
		var s []string
		if g.Lines > 0 {
			s = append(s, Plural(g.Lines, "line"))
		}
		if n := len(g.Labels); n > 0 {
			s = append(s, Plural(n, "symbol"))
		}
		text := strings.Join(s, ", ") + " by " + Signed(g.By)
		if len(g.Labels) > 0 {
			text += ": " + Names(g.Labels)
		}
		add("retargeted", "%s", text)
		if all {
			for _, s := range g.Labels {
				add("retargeted", "  %s  %s, now %s", diag.Printable(s.Name), FormatValue(s.Old), FormatValue(s.New))
			}
		}
	}
	for _, s := range r.Values {
		add("values", "%s  %s, now %s (%s, %s)", diag.Printable(s.Name), FormatValue(s.Old), FormatValue(s.New), s.Kind, Signed(s.New-s.Old))
	}
	for _, l := range []struct {
		word string
		list []Symbol
	}{{"added", r.AddedSymbols}, {"removed", r.RemovedSymbols}} {
		if len(l.list) == 0 {
			continue
		}
		shown := l.list
		if !all && len(shown) > 12 {
			shown = shown[:12]
		}
		var names []string
		for i := range shown {
			names = append(names, diag.Printable(shown[i].Name)+" "+FormatValue(shown[i].Value))
		}
		if n := len(l.list) - len(shown); n > 0 {
			names = append(names, fmt.Sprintf("and %s more", Thousands(n)))
		}
		add("symbols", "%s: %s", l.word, strings.Join(names, ", "))
	}
	if before, after := chip(r.Old.Image), chip(r.New.Image); before != after {
		add("image", "%s, now %s", before, after)
	}
	if r.OldUsed != r.NewUsed {
		add("image", "%s used, now %s (%s)", Plural(r.OldUsed, "byte"), Thousands(r.NewUsed), Signed(int64(r.Image.Growth)))
	}
	if r.Image.Bytes == 0 {
		return out
	}
	shown := r.Image.Ranges
	if !all && len(shown) > 8 {
		shown = shown[:8]
	}
	text := fmt.Sprintf("%s in %s:", Plural(r.Image.Bytes, "byte"), Plural(len(r.Image.Ranges), "range"))
	for _, g := range shown {
		s := " " + FormatRange(g)
		if len(text)+len(s) > 88 {
			add("image", "%s", text)
			text = " "
		}
		text += s
	}
	if n := len(r.Image.Ranges) - len(shown); n > 0 {
		text += fmt.Sprintf(" and %s more", Thousands(n))
	}
	add("image", "%s", text)
	return out
}

// chip tells the size and the address of an image.
func chip(im *rom.Image) string {
	s := Plural(im.Capacity, "byte") + " at " + FormatValue(int64(im.At))
	if im.Copies > 1 {
		s += ", " + Thousands(im.Copies) + " times"
	}
	return s
}

// The members of the JSON report.
type (
	jsonLine struct {
		Address string `json:"address,omitempty"`
		Bytes   string `json:"bytes"`
		File    string `json:"file"`
		Line    string `json:"line"`
		Text    string `json:"text"`
	}
	jsonChange struct {
		Class string    `json:"class"`
		Old   *jsonLine `json:"old,omitempty"`
		New   *jsonLine `json:"new,omitempty"`
		By    int64     `json:"by,omitempty"`
	}
	jsonRun struct {
		Lines int       `json:"lines"`
		By    int       `json:"by"`
		Old   [2]string `json:"old"`
		New   [2]string `json:"new"`
	}
	jsonSymbol struct {
		Name string `json:"name"`
		Kind string `json:"kind,omitempty"`
		Old  *int64 `json:"old,omitempty"`
		New  *int64 `json:"new,omitempty"`
	}
	jsonGroup struct {
		By      int64        `json:"by"`
		Lines   int          `json:"lines"`
		Symbols int          `json:"symbols"`
		First   string       `json:"first,omitempty"`
		Last    string       `json:"last,omitempty"`
		Each    []jsonSymbol `json:"each,omitempty"`
	}
	jsonSymbols struct {
		Changed []jsonSymbol `json:"changed"`
		Added   []jsonSymbol `json:"added"`
		Removed []jsonSymbol `json:"removed"`
	}
	jsonImage struct {
		Differing int         `json:"bytes_differing"`
		Ranges    [][2]string `json:"ranges"`
		Pages     int         `json:"pages"`
		PageSize  int         `json:"page_size"`
		OldSize   int         `json:"old_size"`
		NewSize   int         `json:"new_size"`
		OldUsed   int         `json:"old_used"`
		NewUsed   int         `json:"new_used"`
		Growth    int         `json:"growth"`
	}
	jsonReport struct {
		Old        string       `json:"old"`
		New        string       `json:"new"`
		Same       bool         `json:"same"`
		HasLines   bool         `json:"lines_compared"`
		Lines      Counts       `json:"lines"`
		Changes    []jsonChange `json:"changes"`
		Moved      []jsonRun    `json:"moved"`
		Retargeted []jsonGroup  `json:"retargeted"`
		Symbols    jsonSymbols  `json:"symbols"`
		Image      jsonImage    `json:"image"`
	}
)

// WriteJSON writes the report for programs, as one object. all adds each line
// that moved, was retargeted or differs in layout, and each symbol.
func (r *Report) WriteJSON(w io.Writer, all bool) error {
	out := jsonReport{
		Old: r.Old.Name, New: r.New.Name, Same: r.Same, HasLines: r.HasLines, Lines: r.Lines,
		Changes: []jsonChange{}, Moved: []jsonRun{}, Retargeted: []jsonGroup{},
		Symbols: jsonSymbols{[]jsonSymbol{}, []jsonSymbol{}, []jsonSymbol{}},
		Image: jsonImage{
			Differing: r.Image.Bytes, Ranges: [][2]string{}, Pages: r.Image.Pages, PageSize: r.Image.PageSize,
			OldSize: r.OldSize, NewSize: r.NewSize, OldUsed: r.OldUsed, NewUsed: r.NewUsed, Growth: r.Image.Growth,
		},
	}
	for i := range r.Changes {
		if c := &r.Changes[i]; c.Class != Same && (all || c.Class <= Removed) {
			out.Changes = append(out.Changes, jsonChange{c.Class.String(), lineJSON(c.Old), lineJSON(c.New), c.By})
		}
	}
	for _, run := range r.Runs {
		out.Moved = append(out.Moved, jsonRun{run.Lines, run.By, run.Old.Hex(), run.New.Hex()})
	}
	change := func(s SymbolChange) jsonSymbol { return jsonSymbol{s.Name, s.Kind, &s.Old, &s.New} }
	for _, g := range r.Groups {
		j := jsonGroup{By: g.By, Lines: g.Lines, Symbols: len(g.Labels)}
		if n := len(g.Labels); n > 0 {
			j.First, j.Last = g.Labels[0].Name, g.Labels[n-1].Name
		}
		if all {
			for _, s := range g.Labels {
				j.Each = append(j.Each, change(s))
			}
		}
		out.Retargeted = append(out.Retargeted, j)
	}
	for _, s := range r.Values {
		out.Symbols.Changed = append(out.Symbols.Changed, change(s))
	}
	for i := range r.AddedSymbols {
		s := &r.AddedSymbols[i]
		out.Symbols.Added = append(out.Symbols.Added, jsonSymbol{Name: s.Name, Kind: s.Kind, New: &s.Value})
	}
	for i := range r.RemovedSymbols {
		s := &r.RemovedSymbols[i]
		out.Symbols.Removed = append(out.Symbols.Removed, jsonSymbol{Name: s.Name, Kind: s.Kind, Old: &s.Value})
	}
	for _, g := range r.Image.Ranges {
		out.Image.Ranges = append(out.Image.Ranges, g.Hex())
	}
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(out)
}

func lineJSON(l Line) *jsonLine {
	if !l.Exists() {
		return nil
	}
	r := &l[0]
	j := &jsonLine{Address: FormatAddress(r), File: r.File, Line: r.Line, Text: r.Text}
	var b []byte
	for i, c := range l.Bytes() {
		if i > 0 {
			b = append(b, ' ')
		}
		b = append(b, hexDigits[c>>4], hexDigits[c&15])
	}
	j.Bytes = string(b)
	return j
}
