package listing

import (
	"cmp"
	"slices"
	"strings"
	"sync"

	"romwright/rom"
)

// Class says what became of a line.
type Class uint8

// The classes. Each line that differs is in exactly one.
const (
	Same       Class = iota
	Changed          // what the line says was edited, or what it says gives other bytes
	Added            // only in the new listing
	Removed          // only in the old listing
	Moved            // same source, same bytes, other address
	Retargeted       // same source; other bytes only because a symbol has another value
	Layout           // another remark or other spacing only
)

var classNames = [...]string{"same", "changed", "added", "removed", "moved", "retargeted", "layout"}

// String gives the word shown to the user.
func (c Class) String() string { return classNames[c] }

// Side is one of two things to compare. Doc is nil where there is an image and
// no more. Images are compared address by address, so that a bare file must
// have been given the address of the chip it is for.
type Side struct {
	Name  string
	Doc   *Doc
	Image *rom.Image
}

// Line is a source line with all its rows: the first carries the line's text,
// those after it more bytes. The zero Line is none.
type Line []Row

// Exists tells whether there is a line.
func (l Line) Exists() bool { return len(l) > 0 }

// Bytes gives what the line emits, in the order of its rows.
func (l Line) Bytes() []byte {
	if len(l) == 1 {
		return l[0].Bytes
	}
	var b []byte
	for i := range l {
		b = append(b, l[i].Bytes...)
	}
	return b
}

// Change is a line that differs.
type Change struct {
	Class    Class
	Old, New Line  // one of them does not exist for Added and Removed
	By       int64 // Moved: how far; Retargeted: by how much the symbol's value grew
	Relaid   bool  // Moved, Retargeted: the remark or the spacing differs as well
	Shifted  bool  // Moved, Retargeted, Layout: the line stands elsewhere in the source
}

// Counts holds the number of lines in each class.
type Counts struct {
	Changed    int `json:"changed"`
	Added      int `json:"added"`
	Removed    int `json:"removed"`
	Moved      int `json:"moved"`
	Retargeted int `json:"retargeted"`
	Layout     int `json:"layout"`
}

// Run is a run of moved lines.
type Run struct {
	Lines    int
	By       int
	Old, New rom.Range // from the first line to the last byte of the last
}

// SymbolChange is a symbol with another value.
type SymbolChange struct {
	Name     string
	Kind     string // in the new listing
	Old, New int64
}

// Group collects what changed by the same amount: retargeted lines, and
// labels by their old values.
type Group struct {
	By     int64
	Lines  int
	Labels []SymbolChange
}

// Report tells in what two programs differ.
type Report struct {
	Old, New Side
	Same     bool // the images are equal, to the byte and in size
	HasLines bool // both sides have rows, so that lines were compared
	Lines    Counts
	Changes  []Change // lines that differ, in the order of the new source; removed lines where they stood
	Runs     []Run
	Groups   []Group        // largest first
	Values   []SymbolChange // constants, variables and flags with another value
	AddedSymbols,
	RemovedSymbols []Symbol
	Image            rom.Change
	OldSize, NewSize int // bytes of the image files
	OldUsed, NewUsed int // cells that something was put into
}

// CompareOptions are how to compare.
type CompareOptions struct {
	PageSize int  // bytes that the chip is written in, at least 1
	KeepSame bool // Report.Changes holds the lines that do not differ as well, of class Same
}

// Compare compares two programs, or images where a side has no rows.
func Compare(before, after Side, opts CompareOptions) *Report {
	r := &Report{Old: before, New: after}
	r.Image = rom.Diff(before.Image, after.Image, opts.PageSize)
	r.Same = r.Image.Same
	r.OldSize, r.NewSize = before.Image.FileSize(), after.Image.FileSize()
	r.OldUsed, r.NewUsed = before.Image.Used(), after.Image.Used()
	if before.Doc == nil || after.Doc == nil {
		return r
	}
	r.HasLines = true
	c := &comparison{r: r, keepSame: opts.KeepSame}
	// Neither needs what the other finds, and each takes as long.
	var wait sync.WaitGroup
	wait.Go(r.compareSymbols)
	match := c.align()
	wait.Wait()
	c.noteSymbols()
	c.run(match)
	return r
}

// compareSymbols finds symbols that came, went or have another value.
func (r *Report) compareSymbols() {
	before, after := r.Old.Doc.Symbols, r.New.Doc.Symbols
	at := make(map[string]int, len(before))
	for i := range before {
		if !ofExpansion(&before[i]) {
			at[before[i].Name] = i
		}
	}
	kept := make([]bool, len(before))
	groups := map[int64]int{}
	for i := range after {
		s := &after[i]
		if ofExpansion(s) {
			continue
		}
		k, ok := at[s.Name]
		if !ok {
			r.AddedSymbols = append(r.AddedSymbols, *s)
			continue
		}
		kept[k] = true
		old := before[k].Value
		switch {
		case old == s.Value:
		case s.Kind == KindLabel:
			g := r.group(groups, s.Value-old)
			g.Labels = append(g.Labels, SymbolChange{s.Name, s.Kind, old, s.Value})
		default:
			r.Values = append(r.Values, SymbolChange{s.Name, s.Kind, old, s.Value})
		}
	}
	for i := range before {
		// a name that stands twice counts once
		if k, ok := at[before[i].Name]; ok && k == i && !kept[i] {
			r.RemovedSymbols = append(r.RemovedSymbols, before[i])
		}
	}
	for i := range r.Groups {
		slices.SortStableFunc(r.Groups[i].Labels, func(a, b SymbolChange) int { return cmp.Compare(a.Old, b.Old) })
	}
}

// ofExpansion tells whether a symbol was made for one expansion of a macro:
// its name has the expansion's number ("again@3", "wait@3.loop"), which says
// nothing about the program since one more call shifts all that follow.
func ofExpansion(s *Symbol) bool {
	return strings.IndexByte(s.Defined.Line, '.') >= 0 && numbered(s.Name) > 0
}

// numbered gives where in a word the number of an expansion begins, after its
// "@"; 0 where there is none.
func numbered(word string) int {
	i := strings.IndexByte(word, '@') + 1
	n := i
	for n < len(word) && word[n] >= '0' && word[n] <= '9' {
		n++
	}
	if i == 0 || n == i || n < len(word) && isWord(word[n]) && word[n] != '.' {
		return 0
	}
	return i
}

// unnumber removes the numbers of expansions from a line.
func unnumber(b []byte) []byte {
	out := b[:0]
	for i := 0; i < len(b); i++ {
		out = append(out, b[i])
		if b[i] == '@' && numbered(string(b[i:min(len(b), i+12)])) > 0 {
			for i+1 < len(b) && b[i+1] >= '0' && b[i+1] <= '9' {
				i++
			}
		}
	}
	return out
}

// group finds or opens the group of a change.
func (r *Report) group(index map[int64]int, by int64) *Group {
	i, ok := index[by]
	if !ok {
		i = len(r.Groups)
		index[by] = i
		r.Groups = append(r.Groups, Group{By: by})
	}
	return &r.Groups[i]
}

// unit is a source line on its way through the comparison.
type unit struct {
	row, end int32 // its rows
	id       rune  // equal ids say the same
}

// comparison holds what Compare needs while it works.
type comparison struct {
	r        *Report
	old, new []unit
	kinds    []string // by id: the normalized text, or the remark of a line without a statement

	changed map[string]int64 // symbols that have another value, by how much
	uses    map[Place]used   // lines that use one of them; made when needed
	groups  map[int64]int

	keepSame bool
	running  bool // the last of the report's runs may go on
}

// align splits both listings into lines and finds for each old one the new
// one that says the same, or -1.
func (c *comparison) align() []int32 {
	before, after := c.r.Old.Doc.Rows, c.r.New.Doc.Rows
	raw := make(map[string]rune, len(before)+len(before)/4)
	ids := make(map[string]rune, len(before))
	var text strings.Builder
	size := 0
	for i := range before {
		size += len(before[i].Text)
	}
	text.Grow(size)
	buf := make([]byte, 0, 256)
	split := func(rows []Row) []unit {
		units := make([]unit, 0, len(rows))
		for i := range rows {
			t := rows[i].Text
			if rows[i].Line == "" && len(units) > 0 {
				units[len(units)-1].end++
				continue
			}
			id, ok := raw[t]
			if !ok {
				buf = normalize(buf[:0], t)
				if isExpanded(&rows[i]) && strings.IndexByte(t, '@') >= 0 {
					buf = unnumber(buf)
				}
				if len(buf) == 0 {
					// Remarks are aligned too: they tell which of several equal
					// statements is meant.
					buf = append(buf, strings.TrimSpace(t)...)
				}
				if id, ok = ids[string(buf)]; !ok {
					id = rune(len(c.kinds))
					start := text.Len()
					text.Write(buf)
					key := text.String()[start:]
					ids[key] = id
					c.kinds = append(c.kinds, key)
				}
				raw[t] = id
			}
			units = append(units, unit{int32(i), int32(i) + 1, id})
		}
		return units
	}
	c.old, c.new = split(before), split(after)

	a, b := make([]rune, len(c.old)), make([]rune, len(c.new))
	for i := range a {
		a[i] = c.old[i].id
	}
	for j := range b {
		b[j] = c.new[j].id
	}
	return align(a, b, len(c.kinds))
}

// noteSymbols keeps which symbols have another value.
func (c *comparison) noteSymbols() {
	r := c.r
	c.groups = map[int64]int{}
	c.changed = make(map[string]int64, len(r.Values)+16)
	note := func(name string, by int64) {
		c.changed[name] = by
		// a local label is used by its last part alone
		if i := strings.LastIndexByte(name, '.'); i > 0 {
			c.changed[name[i:]] = by
		}
	}
	for i := range r.Groups {
		c.groups[r.Groups[i].By] = i
		for _, s := range r.Groups[i].Labels {
			note(s.Name, s.New-s.Old)
		}
	}
	for _, s := range r.Values {
		note(s.Name, s.New-s.Old)
	}
}

func (c *comparison) oldLine(i int32) Line {
	return c.r.Old.Doc.Rows[c.old[i].row:c.old[i].end:c.old[i].end]
}

func (c *comparison) newLine(j int32) Line {
	return c.r.New.Doc.Rows[c.new[j].row:c.new[j].end:c.new[j].end]
}

// says tells whether a line is more than a remark: what is left of a statement
// never begins with a semicolon.
func (c *comparison) says(id rune) bool {
	k := c.kinds[id]
	return k != "" && k[0] != ';'
}

// run puts each line into its class.
func (c *comparison) run(match []int32) {
	shifted := c.shifted(match)

	// Walk both listings from one pair of lines to the next.
	i, j := int32(0), int32(0)
	for oi, nj := range match {
		if nj < 0 {
			continue
		}
		oi := int32(oi)
		if i < oi || j < nj {
			c.gap(i, oi, j, nj, shifted)
		}
		c.pair(oi, nj, false)
		i, j = oi+1, nj+1
	}
	c.gap(i, int32(len(c.old)), j, int32(len(c.new)), shifted)
	slices.SortStableFunc(c.r.Groups, func(a, b Group) int {
		return cmp.Compare(b.Lines+len(b.Labels), a.Lines+len(a.Labels))
	})
}

// shifts pairs lines that were carried to another place of the source.
type shifts struct {
	partner map[int32]int32 // of a unit of the new listing: the unit of the old one
	taken   map[int32]bool  // units of the old listing
}

// shifted finds, among the lines that have no partner, blocks that stand
// elsewhere: three lines at least, or a line whose text is found nowhere else.
// Shorter ones (a lone RET) are as likely to be a coincidence.
func (c *comparison) shifted(match []int32) shifts {
	s := shifts{map[int32]int32{}, map[int32]bool{}}
	a, b := c.old, c.new
	matched := make([]bool, len(b))
	pairs := 0
	for _, m := range match {
		if m >= 0 {
			matched[m] = true
			pairs++
		}
	}
	if pairs == len(a) || pairs == len(b) {
		return s
	}
	// lists of the unmatched lines of b by id, and how often an id occurs
	head := make([]int32, len(c.kinds))
	next := make([]int32, len(b))
	counts := make([]int32, 2*len(c.kinds))
	inA, inB := counts[:len(c.kinds)], counts[len(c.kinds):]
	for _, x := range a {
		inA[x.id]++
	}
	for m := len(b) - 1; m >= 0; m-- {
		x := b[m].id
		inB[x]++
		if !matched[m] {
			next[m] = head[x]
			head[x] = int32(m) + 1
		}
	}
	for k := 0; k < len(a); k++ {
		if match[k] >= 0 {
			continue
		}
		best, at := 0, 0
		for m, tries := head[a[k].id], 16; m > 0 && tries > 0; m, tries = next[m-1], tries-1 {
			n, said, sure := 0, 0, false
			for p := int(m) - 1; k+n < len(a) && p+n < len(b) && a[k+n].id == b[p+n].id && match[k+n] < 0 && !matched[p+n]; n++ {
				if x := a[k+n].id; c.says(x) {
					said++
					sure = sure || inA[x] == 1 && inB[x] == 1
				}
			}
			if n > best && (said >= 3 || sure) {
				best, at = n, int(m)-1
			}
		}
		for n := range best {
			matched[at+n] = true
			s.partner[int32(at+n)], s.taken[int32(k+n)] = int32(k+n), true
		}
		k += max(best-1, 0)
	}
	return s
}

// gap reports the units i..iend-1 of the old and j..jend-1 of the new
// listing, between which no line kept its place.
func (c *comparison) gap(i, iend, j, jend int32, s shifts) {
	var before, after []int32 // what says something and has no partner
	var oldRemarks, newRemarks []int32
	for ; i < iend; i++ {
		if s.taken[i] {
			continue
		}
		if c.says(c.old[i].id) {
			before = append(before, i)
		} else {
			oldRemarks = append(oldRemarks, i)
		}
	}
	var carried []edit
	for ; j < jend; j++ {
		if oi, ok := s.partner[j]; ok {
			carried = append(carried, edit{oi, j})
		} else if c.says(c.new[j].id) {
			after = append(after, j)
		} else {
			newRemarks = append(newRemarks, j)
		}
	}
	edits := c.edits(before, after)
	for _, p := range carried { // each where it stands in the new listing
		for len(edits) > 0 && edits[0].new < p.new {
			c.edited(edits[0])
			edits = edits[1:]
		}
		c.pair(p.old, p.new, true)
	}
	for _, e := range edits {
		c.edited(e)
	}
	c.remarks(oldRemarks, newRemarks)
}

// edit is a line that was edited, added (old is -1) or removed (new is -1).
type edit struct{ old, new int32 }

func (c *comparison) edited(e edit) {
	switch {
	case e.new < 0:
		c.note(Change{Class: Removed, Old: c.oldLine(e.old)})
	case e.old < 0:
		c.note(Change{Class: Added, New: c.newLine(e.new)})
	default:
		before, after := c.oldLine(e.old), c.newLine(e.new)
		c.extend(&before[0], &after[0], false)
		c.note(Change{Class: Changed, Old: before, New: after})
	}
}

// remarks reports lines without a statement that have no partner.
func (c *comparison) remarks(before, after []int32) {
	for k := range max(len(before), len(after)) {
		ch := Change{Class: Layout}
		if k < len(before) {
			ch.Old = c.oldLine(before[k])
		}
		if k < len(after) {
			ch.New = c.newLine(after[k])
		}
		c.note(ch)
	}
}

// pair reports two lines that say the same, if they differ at all.
func (c *comparison) pair(i, j int32, shifted bool) {
	before, after := c.oldLine(i), c.newLine(j)
	o, n := &before[0], &after[0]
	ch := Change{Old: before, New: after, Shifted: shifted, Relaid: relaid(o, n)}
	switch {
	case !sameBytes(before, after) || o.Reserved != n.Reserved:
		ch.Class = Changed
		if by, ok := c.cause(before, after, c.kinds[c.new[j].id]); ok {
			ch.Class, ch.By = Retargeted, by
		}
	case !c.says(c.new[j].id): // it has no address of its own
		if ch.Relaid || shifted {
			ch.Class = Layout
		}
	case o.Addr != n.Addr && o.Addr >= 0 && n.Addr >= 0:
		ch.Class, ch.By = Moved, int64(n.Addr-o.Addr)
	case o.RunAddr != n.RunAddr && o.RunAddr >= 0 && n.RunAddr >= 0:
		ch.Class, ch.By = Moved, int64(n.RunAddr-o.RunAddr)
	case ch.Relaid || shifted:
		ch.Class = Layout
	}
	if c.says(c.new[j].id) {
		c.extend(o, n, ch.Class == Moved)
	}
	if ch.Class != Same || c.keepSame {
		c.note(ch)
	}
}

// isExpanded tells whether a row is a line that another one expanded to.
func isExpanded(r *Row) bool { return strings.IndexByte(r.Line, '.') >= 0 }

// relaid tells whether two rows that say the same were written differently.
func relaid(o, n *Row) bool {
	if o.Text == n.Text {
		return false
	}
	if isExpanded(o) && isExpanded(n) {
		return string(unnumber([]byte(o.Text))) != string(unnumber([]byte(n.Text)))
	}
	return true
}

// sameBytes tells whether two lines emit the same.
func sameBytes(a, b Line) bool {
	if len(a) == 1 && len(b) == 1 {
		return string(a[0].Bytes) == string(b[0].Bytes)
	}
	return string(a.Bytes()) == string(b.Bytes())
}

// cause finds the symbol whose value makes a line's bytes differ although its
// source is the same, and by how much the value grew. The address of the line
// is such a value too, where the line refers to it.
func (c *comparison) cause(before, after Line, text string) (by int64, ok bool) {
	here := int64(after[0].Addr - before[0].Addr)
	if after[0].RunAddr >= 0 && before[0].RunAddr >= 0 {
		here = int64(after[0].RunAddr - before[0].RunAddr)
	}
	counter, local := false, false
	words(text, func(w string) bool {
		if by, ok = c.changed[w]; ok {
			return false
		}
		local = local || w[0] == '.' || w[len(w)-1] == '@'
		counter = counter || w == "$" || dependsOnAddress(w)
		return true
	})
	if ok {
		return by, true
	}
	if counter && here != 0 {
		return here, true
	}
	if local && isExpanded(&after[0]) {
		// a label of the expansion itself
		return byteDelta(before.Bytes(), after.Bytes()), true
	}
	// A macro's call may have the bytes of the whole expansion in its row: then
	// the symbols that the expansion uses are the cause.
	if len(before.Bytes()) != len(after.Bytes()) {
		return 0, false
	}
	u, ok := c.usesIn(Place{after[0].File, lineOf(after[0].Line)})
	if ok && u.own {
		return byteDelta(before.Bytes(), after.Bytes()), true
	}
	return u.by, ok
}

// dependsOnAddress tells whether a word makes a line's bytes depend on the
// line's own address: a relative jump, or filling up to a multiple.
func dependsOnAddress(word string) bool {
	switch len(word) {
	case 2:
		return strings.EqualFold(word, "JR")
	case 4:
		return strings.EqualFold(word, "DJNZ")
	case 5, 6:
		return strings.EqualFold(strings.TrimPrefix(word, "."), "ALIGN")
	}
	return false
}

// used is what a line and its expansion use: a symbol that has another value,
// by so much, or labels of the expansion's own.
type used struct {
	by  int64
	own bool
}

// lineOf gives the line that a line of an expansion came from.
func lineOf(line string) string {
	call, _, _ := strings.Cut(line, ".")
	return call
}

// usesIn looks a line of the new listing up in what it and its expansion use.
func (c *comparison) usesIn(p Place) (used, bool) {
	if c.uses == nil {
		c.uses = map[Place]used{}
		for i := range c.r.New.Doc.Symbols {
			s := &c.r.New.Doc.Symbols[i]
			own := ofExpansion(s)
			by, changed := c.changed[s.Name]
			if !own && !changed {
				continue
			}
			for _, u := range s.Uses {
				at := Place{u.File, lineOf(u.Line)}
				if _, ok := c.uses[at]; !ok || !own {
					c.uses[at] = used{by, own}
				}
			}
		}
	}
	u, ok := c.uses[p]
	return u, ok
}

// byteDelta is by how much the operand in b is more than that in a: a word,
// low byte first, or a displacement.
func byteDelta(a, b []byte) int64 {
	for i := range min(len(a), len(b)) {
		switch {
		case a[i] == b[i]:
		case i+1 < min(len(a), len(b)):
			return (int64(b[i]) | int64(b[i+1])<<8) - (int64(a[i]) | int64(a[i+1])<<8)
		default:
			return int64(int8(b[i])) - int64(int8(a[i]))
		}
	}
	return 0
}

// extend adds a pair of lines with addresses to the run of moved lines in
// hand. Lines of other classes do not part a run, unless they did not move
// along.
func (c *comparison) extend(o, n *Row, moved bool) {
	from, to := o.Addr, n.Addr
	if from == to && o.RunAddr >= 0 && n.RunAddr >= 0 {
		from, to = o.RunAddr, n.RunAddr
	}
	if from < 0 || to < 0 {
		return
	}
	runs := c.r.Runs
	if c.running {
		if run := &runs[len(runs)-1]; to-from != run.By || to < run.New.Last {
			c.running = false
		}
	}
	if !moved {
		return
	}
	if !c.running {
		runs = append(runs, Run{By: to - from, Old: rom.Range{First: from}, New: rom.Range{First: to}})
		c.r.Runs, c.running = runs, true
	}
	run := &runs[len(runs)-1]
	run.Lines++
	size := max(len(n.Bytes), n.Reserved, 1)
	run.Old.Last, run.New.Last = from+size-1, to+size-1
}

// features are what makes two edited lines alike: hashes of their label,
// operation and operands, 0 where there is none.
type features struct {
	label, op, operands uint32
	emits               bool
}

func (c *comparison) features(l Line, id rune) features {
	f := features{emits: len(l[0].Bytes) > 0 || l[0].Reserved > 0}
	s := c.kinds[id]
	end := 0
	for end < len(s) && isWord(s[end]) {
		end++
	}
	if end < len(s) && s[end] == ':' {
		f.label = hash(s[:end])
		s = s[end+1:]
		for end = 0; end < len(s) && isWord(s[end]); {
			end++
		}
	}
	if end > 0 {
		f.op = hash(s[:end])
	}
	if end < len(s) {
		f.operands = hash(s[end:])
	}
	return f
}

// hash is FNV-1a over a word without regard to letter case; never 0.
func hash(s string) uint32 {
	h := uint32(2166136261)
	for i := 0; i < len(s); i++ {
		c := s[i]
		if c >= 'A' && c <= 'Z' {
			c |= 0x20
		}
		h = (h ^ uint32(c)) * 16777619
	}
	return h | 1
}

// alike is how much speaks for a line being the edited form of another.
func (f *features) alike(g *features) int32 {
	n := int32(0)
	if f.emits == g.emits {
		n = 1
	}
	if f.label != 0 && f.label == g.label {
		n += 4
	}
	if f.op != 0 && f.op == g.op {
		n += 3
	}
	if f.operands != 0 && f.operands == g.operands {
		n += 3
	}
	return n
}

// editBlock bounds the table in which edited lines are paired: longer edits
// are cut into blocks of that many lines.
const editBlock = 200

// edits sorts out lines without a partner at one place: edited forms of one
// another where they are alike, in order, else removed and added.
func (c *comparison) edits(before, after []int32) []edit {
	out := make([]edit, 0, max(len(before), len(after)))
	blocks := (max(len(before), len(after)) + editBlock - 1) / editBlock
	for k := range blocks {
		b := before[len(before)*k/blocks : len(before)*(k+1)/blocks]
		a := after[len(after)*k/blocks : len(after)*(k+1)/blocks]
		out = c.editsBlock(out, b, a)
	}
	return out
}

func (c *comparison) editsBlock(out []edit, before, after []int32) []edit {
	n, m := len(before), len(after)
	i, j := 0, 0
	if n > 0 && m > 0 {
		f, g := make([]features, n), make([]features, m)
		for k, i := range before {
			f[k] = c.features(c.oldLine(i), c.old[i].id)
		}
		for k, j := range after {
			g[k] = c.features(c.newLine(j), c.new[j].id)
		}
		// best[i*(m+1)+j]: the best sum for before[i:] and after[j:]
		best := make([]int32, (n+1)*(m+1))
		for i := n - 1; i >= 0; i-- {
			row, below := best[i*(m+1):(i+1)*(m+1)], best[(i+1)*(m+1):]
			for j := m - 1; j >= 0; j-- {
				row[j] = max(below[j], row[j+1])
				if like := f[i].alike(&g[j]); like > 0 {
					row[j] = max(row[j], below[j+1]+like)
				}
			}
		}
		for i < n && j < m {
			here := best[i*(m+1)+j]
			switch like := f[i].alike(&g[j]); {
			case like > 0 && here == best[(i+1)*(m+1)+j+1]+like:
				out = append(out, edit{before[i], after[j]})
				i, j = i+1, j+1
			case here == best[(i+1)*(m+1)+j]:
				out = append(out, edit{before[i], -1})
				i++
			default:
				out = append(out, edit{-1, after[j]})
				j++
			}
		}
	}
	for ; i < n; i++ {
		out = append(out, edit{before[i], -1})
	}
	for ; j < m; j++ {
		out = append(out, edit{-1, after[j]})
	}
	return out
}

// note reports one change.
func (c *comparison) note(ch Change) {
	switch n := &c.r.Lines; ch.Class {
	case Changed:
		n.Changed++
	case Added:
		n.Added++
	case Removed:
		n.Removed++
	case Moved:
		n.Moved++
	case Retargeted:
		n.Retargeted++
		c.r.group(c.groups, ch.By).Lines++
	case Layout:
		n.Layout++
	}
	if c.r.Changes == nil {
		// An edit near the top moves every line: growing by and by would cost more.
		c.r.Changes = make([]Change, 0, max(len(c.old), len(c.new))+64)
	}
	c.r.Changes = append(c.r.Changes, ch)
}
