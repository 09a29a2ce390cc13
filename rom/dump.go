package rom

import (
	"bytes"
	"cmp"
	"slices"
)

// A dump is read in three steps. Each line that begins like a dump line (an
// address, then pairs of digits) is a candidate with its pairs as slots. The
// candidates are grouped by where their address stands and how long it is;
// the step from address to address tells a group's bytes a line, and the lines
// that have them tell in which columns the bytes stand. Then each candidate is
// read by its group's columns: what stands elsewhere is the text column, an
// echoed command or noise. A line that does not fit is left out and named,
// since a byte at a wrong address would pass for a fault of the board.

const (
	maxPerLine = 64      // bytes of a dump line
	maxPrefix  = 48      // columns before the address: a prompt, a time
	maxNamed   = 1000    // ignored lines and conflicts kept
	maxFilled  = 4 << 24 // bytes that all the '*' of a dump may stand for
	maxLines   = 4 << 20 // lines of a dump; twice what the largest chip needs
	maxNoise   = 100_000 // lines of other text that are looked at twice
)

// slot is a place of a line where a byte stands, or should.
type slot struct {
	col uint16
	val int16 // -1: unreadable
}

// candidate is a line that begins like a line of a dump.
type candidate struct {
	no     int
	text   string
	addr   int
	key    dumpKey
	slots  []slot
	star   bool   // the line is a '*'
	thin   bool   // behind a prompt, with few numbers: a command, unless others are like it
	noise  bool   // no address and no star
	use    []byte // what the line gives, at addr+shift
	holes  []bool // places of use that give nothing; nil: none
	shift  int
	whole  bool // gives a full line's bytes
	judged bool // by its group
	placed bool // it gives use
}

// dumpKey is what the lines of one dump have in common.
type dumpKey struct{ col, digits int }

// dumpGroup is the candidates of one key.
type dumpGroup struct {
	lines   []*candidate
	perLine int
	cols    []uint16 // of the bytes of a full line
	apart   bool     // what follows the bytes stands two blanks off, or nothing does
	steady  bool     // at least two lines follow on each other
}

// ReadDump reads a terminal capture of a hex dump. file is the name shown in
// errors, which are *Error; it is an error if nothing looks like a dump.
func ReadDump(file string, data []byte) (*Contents, error) {
	lines, dropped := candidates(data)
	groups := map[dumpKey]*dumpGroup{}
	var order []*dumpGroup
	for _, l := range lines {
		if len(l.slots) == 0 {
			continue
		}
		g := groups[l.key]
		if g == nil {
			g = &dumpGroup{}
			groups[l.key] = g
			order = append(order, g)
		}
		g.lines = append(g.lines, l)
	}
	order = slices.DeleteFunc(order, func(g *dumpGroup) bool {
		return !slices.ContainsFunc(g.lines, func(l *candidate) bool { return !l.thin })
	})
	for _, g := range order {
		g.measure()
	}
	var main *dumpGroup
	for _, g := range order {
		if g.perLine >= 4 && (main == nil || g.steady && !main.steady ||
			g.steady == main.steady && len(g.lines) > len(main.lines)) {
			main = g
		}
	}
	if main == nil {
		return nil, noDump(file, "nothing in it looks like a dump: no lines of an address and bytes",
			"a dump line is an address of 4 to 8 hex digits and then pairs of hex digits")
	}
	for _, g := range order {
		if g.steady || g == main {
			for i, l := range g.lines {
				var next *candidate
				if i+1 < len(g.lines) {
					next = g.lines[i+1]
				}
				g.read(l, next)
			}
		}
	}
	dropStrays(lines, main.perLine)
	main.adopt(lines)
	c := assemble(lines)
	c.IgnoredCount += dropped
	return c, nil
}

// candidates splits a capture into lines and reads what stands in each.
// Empty lines are left out, and so is what follows after too many lines; of
// those the number is returned too.
func candidates(data []byte) (out []*candidate, dropped int) {
	var pool []slot
	var spare *candidate // left over from a dropped line
	noise := 0
	screenLines(data, func(no int, line []byte) {
		line = bytes.TrimRight(line, " ")
		start := 0
		for start < len(line) && line[start] == ' ' {
			start++
		}
		if start == len(line) {
			return
		}
		if len(out) == maxLines {
			dropped++
			return
		}
		l := spare
		if l == nil {
			l = new(candidate)
		}
		spare = nil
		*l = candidate{no: no}
		out = append(out, l)
		if len(bytes.Trim(line, " *")) == 0 {
			l.star, l.text = true, string(line)
			return
		}
		mark := len(pool)
		for p := start; p < min(len(line), maxPrefix); p++ {
			if p > start && !afterBreak(line[p-1]) {
				continue
			}
			addr, digits, next := address(line, p)
			if digits == 0 {
				continue
			}
			pool = slots(pool[:mark], line, next)
			// Behind a prompt stand commands too, with one or two numbers.
			l.thin = p > start && line[start] != '[' && line[start] != '(' && len(pool)-mark < 4
			l.addr, l.key = addr, dumpKey{p, digits}
			l.slots = slices.Clip(pool[mark:])
			l.text = string(line)
			return
		}
		pool = pool[:mark]
		if noise++; noise > maxNoise {
			out, spare = out[:len(out)-1], l
			dropped++
			return
		}
		l.noise, l.text = true, string(line)
	})
	return out, dropped
}

// afterBreak says whether an address may stand behind c.
func afterBreak(c byte) bool {
	switch c {
	case ' ', '>', ']', ')', '#', '$', ':', '|', '[', '(', '<', '.', '*', '-', '=', '%', '@':
		return true
	}
	return false
}

// clipText is the first 80 characters of a line.
func clipText(line string) string {
	n := 0
	for i := range line {
		if n == 80 {
			return line[:i]
		}
		n++
	}
	return line
}

// address reads an address at line[p:]; digits is 0 where none stands there.
// next is where the bytes may begin.
func address(line []byte, p int) (addr, digits, next int) {
	i := p
	if i+1 < len(line) && line[i] == '0' && line[i+1]|0x20 == 'x' {
		i += 2
	}
	first := i
	for i < len(line) && nibble(line[i]) >= 0 {
		addr = addr<<4 | nibble(line[i])
		if i++; i-first > 8 {
			return 0, 0, 0
		}
	}
	digits = i - first
	if digits < 4 || addr >= MaxAddress {
		return 0, 0, 0
	}
	if i < len(line) && line[i]|0x20 == 'h' {
		i++
	}
	if i == len(line) {
		return addr, digits, i
	}
	switch line[i] {
	case ' ', ':', '>', '|', ']', ')':
		return addr, digits, i + 1
	case '-', '=', ',', ';': // a date or a range otherwise
		if i+1 < len(line) && line[i+1] == ' ' {
			return addr, digits, i + 1
		}
	}
	return 0, 0, 0
}

// slots appends the pairs of digits from line[p:] on, up to something that
// can be no pair.
func slots(out []slot, line []byte, p int) []slot {
	begin := len(out)
	for p < len(line) && len(out)-begin < 2*maxPerLine {
		if parting(line[p]) || line[p] == '-' && (p+1 >= len(line) || line[p+1] != '-') {
			p++
			continue
		}
		q := p
		for q < len(line) && !parting(line[q]) && (line[q] != '-' || line[p] == '-') {
			q++
		}
		word := line[p:q]
		bare := word
		if len(bare) == 4 && bare[0] == '0' && bare[1]|0x20 == 'x' { // 0x3E
			bare = bare[2:]
		} else if len(bare) == 3 && bare[2]|0x20 == 'h' { // 3EH
			bare = bare[:2]
		} else if len(bare) == 3 && bare[0] == '$' { // $3E
			bare = bare[1:]
		}
		switch {
		case allHex(bare) && len(bare)%2 == 0 && len(bare) <= 2*maxPerLine:
			at := p + bytes.Index(word, bare)
			for i := 0; i < len(bare); i += 2 {
				out = append(out, slot{uint16(at + i), int16(nibble(bare[i])<<4 | nibble(bare[i+1]))})
			}
		case len(word) == 2: // ?? or -- for a byte not read, or a pair hit by noise
			out = append(out, slot{uint16(p), -1})
		default:
			return out
		}
		p = q
	}
	return out
}

// parting says whether c stands between bytes of a dump; a single hyphen does
// too.
func parting(c byte) bool { return c == ' ' || c == ',' || c == ':' || c == '|' }

func allHex(b []byte) bool {
	for _, c := range b {
		if nibble(c) < 0 {
			return false
		}
	}
	return len(b) > 0
}

// mostOf is the value with the most votes, the larger one of equals; ok is
// false where there are none.
func mostOf[T cmp.Ordered](votes map[T]int) (best T, ok bool) {
	for v, n := range votes {
		if !ok || n > votes[best] || n == votes[best] && v > best {
			best, ok = v, true
		}
	}
	return best, ok
}

// measure finds out how a group's lines are built.
func (g *dumpGroup) measure() {
	steps, counts := map[int]int{}, map[int]int{}
	for i, l := range g.lines {
		counts[min(len(l.slots), maxPerLine)]++
		if i+1 < len(g.lines) {
			if d := g.lines[i+1].addr - l.addr; d > 0 && d <= min(len(l.slots), maxPerLine) {
				steps[d]++
			}
		}
	}
	var ok bool
	if g.perLine, ok = mostOf(steps); ok {
		g.steady = true
	} else {
		// No two lines follow on each other. The text column may look like
		// bytes, so the usual numbers are preferred.
		g.perLine, _ = mostOf(counts)
		for _, n := range []int{32, 16, 8} {
			if g.perLine >= n {
				g.perLine = n
				break
			}
		}
	}
	shapes := map[string]int{}
	shape := make([]byte, 0, 2*maxPerLine)
	forms := map[string]*candidate{}
	for _, l := range g.lines {
		if len(l.slots) < g.perLine {
			continue
		}
		shape = shape[:0]
		for _, s := range l.slots[:g.perLine] {
			shape = append(shape, byte(s.col), byte(s.col>>8))
		}
		shapes[string(shape)]++
		if forms[string(shape)] == nil {
			forms[string(shape)] = l
		}
	}
	best, ok := mostOf(shapes)
	if !ok {
		return
	}
	for _, s := range forms[best].slots[:g.perLine] {
		g.cols = append(g.cols, s.col)
	}
	// A pair too many stands one blank behind the last; a text column mostly
	// stands further off.
	near, far := 0, 0
	for _, l := range g.lines {
		if g.fits(l) && g.crowded(l) {
			near++
		} else if g.fits(l) {
			far++
		}
	}
	g.apart = far > near
}

// fits says whether a line has a byte in each of the group's columns.
func (g *dumpGroup) fits(l *candidate) bool {
	if len(l.slots) < len(g.cols) {
		return false
	}
	for i, c := range g.cols {
		if l.slots[i].col != c {
			return false
		}
	}
	return true
}

// crowded says whether something stands less than two blanks behind the last
// byte of a full line.
func (g *dumpGroup) crowded(l *candidate) bool {
	end := int(g.cols[len(g.cols)-1]) + 2
	return end < len(l.text) && l.text[end] != ' ' || end+1 < len(l.text) && l.text[end+1] != ' '
}

// read takes a line's bytes by the group's columns. next is the group's next
// line, nil for the last.
func (g *dumpGroup) read(l, next *candidate) {
	l.judged = true
	if len(g.cols) == 0 {
		return
	}
	last := g.cols[len(g.cols)-1]
	// Where does the line begin? Some dumps leave blanks for what lies before
	// the first byte wanted.
	k := 0
	for k < len(g.cols) && g.cols[k] < l.slots[0].col {
		k++
	}
	if k == len(g.cols) || g.cols[k] != l.slots[0].col {
		return
	}
	if k > 0 && l.addr%g.perLine == 0 {
		l.shift = k
	} else if k > 0 && l.addr%g.perLine != k {
		return
	}
	var use []byte
	var holes []bool
	for i, s := range l.slots {
		if s.col > last || k+i >= len(g.cols) {
			break
		}
		if s.col != g.cols[k+i] {
			if s.col > g.cols[k+i]+2 {
				break // a wide gap: the text column of a short line
			}
			return // shifted: characters were lost or doubled
		}
		if s.val < 0 && holes == nil {
			holes = make([]bool, len(g.cols))
		}
		if s.val < 0 {
			holes[i] = true
		}
		use = append(use, byte(s.val))
	}
	switch {
	case k+len(use) == len(g.cols):
		if g.apart && g.crowded(l) {
			return // a pair too many
		}
	case next != nil && next.addr == l.addr+g.perLine:
		return // a pair too few
	}
	l.use, l.holes, l.placed = use, holes, true
	l.whole = len(use) == g.perLine && holes == nil
}

// dropStrays leaves out lines whose address was hit by noise: the lines
// before and after leave room for exactly this one, at another address. A
// line that is there twice while the next is missing looks the same but for
// its bytes.
func dropStrays(lines []*candidate, perLine int) {
	var a, b *candidate // the two placed lines before
	for _, c := range lines {
		if !c.placed {
			continue
		}
		if a != nil && c.addr == a.addr+2*perLine && b.addr != a.addr+perLine &&
			!(b.addr == a.addr && bytes.Equal(b.use, a.use)) {
			b.placed = false
			b = a
		}
		a, b = b, c
	}
}

// adopt takes in lines of another form, such as the first one, which stands
// behind a prompt or an echoed command, or those whose address needs a digit
// more: they must continue what stands before them or lead to what stands
// after, with their bytes spaced as in the group.
func (g *dumpGroup) adopt(lines []*candidate) {
	try := func(l *candidate, addr int) {
		if l.judged || l.star || len(g.cols) == 0 {
			return
		}
		line := []byte(l.text)
		for p := range min(len(line), maxPrefix) {
			at, digits, next := address(line, p)
			if digits == 0 || at != addr || p > 0 && !afterBreak(line[p-1]) {
				continue
			}
			found := slots(nil, line, next)
			if len(found) < g.perLine {
				continue
			}
			use := make([]byte, 0, g.perLine)
			for i, s := range found[:g.perLine] {
				if s.val < 0 || s.col-found[0].col != g.cols[i]-g.cols[0] {
					break
				}
				use = append(use, byte(s.val))
			}
			if len(use) == g.perLine {
				l.addr, l.use = addr, use
				l.judged, l.placed, l.whole = true, true, true
				return
			}
		}
	}
	for i, l := range lines {
		if i > 0 && lines[i-1].placed {
			try(l, lines[i-1].addr+g.perLine)
		}
	}
	for i := len(lines) - 2; i >= 0; i-- {
		if lines[i+1].placed {
			try(lines[i], lines[i+1].addr-g.perLine)
		}
	}
}

// assemble puts the bytes of all lines together.
func assemble(lines []*candidate) *Contents {
	c := &Contents{Format: Dump, Entry: -1}
	var s scatter
	ignore := func(l *candidate) {
		if c.IgnoredCount++; len(c.Ignored) < maxNamed {
			c.Ignored = append(c.Ignored, Ignored{l.no, clipText(l.text)})
		}
	}
	filled := 0
	var prev, star *candidate // the last placed line; a '*' since then
	// fill carries out the star up to addr.
	fill := func(addr int) {
		from := prev.addr + len(prev.use)
		if addr <= from || filled+addr-from > maxFilled {
			ignore(star)
		} else {
			filled += addr - from
			for a := from; a < addr; a++ {
				s.put(a, prev.use[(a-from)%len(prev.use)])
			}
		}
		star = nil
	}
	for _, l := range lines {
		switch {
		case l.star:
			if prev == nil || !prev.whole || star != nil {
				ignore(l)
			} else {
				star = l
			}
		case l.placed:
			if star != nil {
				fill(l.addr)
			}
			news := false
			for i, b := range l.use {
				a := l.addr + l.shift + i
				if l.holes != nil && l.holes[i] || a >= MaxAddress {
					continue
				}
				earlier, again := s.put(a, b)
				news = news || !again || earlier != b
				if again && earlier != b {
					if c.ConflictCount++; len(c.Conflicts) < maxNamed {
						c.Conflicts = append(c.Conflicts, Conflict{a, l.no, earlier, b})
					}
				}
			}
			if !news {
				c.Repeated++
			}
			prev = l
		case star != nil && !l.noise && len(l.slots) == 0 && l.key == prev.key:
			fill(l.addr) // an address alone: the end of the dump
		case prev != nil && !l.noise && len(l.slots) == 0 && l.key == prev.key && l.addr == prev.addr+len(prev.use):
			// the address behind the last byte, as some dumps end: nothing to read, and understood
		default:
			ignore(l)
		}
	}
	if star != nil { // nothing says how far it goes
		ignore(star)
	}
	slices.SortStableFunc(c.Ignored, func(a, b Ignored) int { return cmp.Compare(a.Line, b.Line) })
	c.Pieces = s.pieces()
	return c
}
