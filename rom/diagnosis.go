package rom

import (
	"bytes"
	"math/bits"
	"slices"
)

// The diagnosis takes each fault as a hypothesis: what would be read if the
// image were in the chip and this fault on the board, in the programmer or in
// the transfer? A fault is named only if that is what was read. Nearly every
// hypothesis fails at the first few differing bytes, so those are looked at
// before the whole chip is.
//
// The plain faults come first. Only where none of them explains everything
// are the rarer ones tried (several lines stuck, a fault that was there while
// writing only), and only where these fail too, faults that leave a handful
// of bytes unexplained.

// Fault names a fault as reports and programs know it.
type Fault string

// The faults, in the order in which they are named.
const (
	BlankChip           Fault = "blank-chip"
	PreviousImage       Fault = "previous-image"
	DataLineStuck       Fault = "data-line-stuck"
	DataLinesSwapped    Fault = "data-lines-swapped"
	DataLinesShorted    Fault = "data-lines-shorted"
	AddressLineStuck    Fault = "address-line-stuck"
	AddressLinesSwapped Fault = "address-lines-swapped"
	AddressLinesShorted Fault = "address-lines-shorted"
	BytesLost           Fault = "bytes-lost"
	BytesDoubled        Fault = "bytes-doubled"
	WriteStopped        Fault = "write-stopped"
	ImageMoved          Fault = "image-moved"
	SingleCells         Fault = "single-cells"
)

const (
	handful   = 8       // bytes that a fault may leave unexplained, at most
	fewCells  = 16      // differing bytes that may be single cells, at most
	maxProbes = 128     // differing bytes looked at first
	maxShown  = 64      // faults named; more means that too little was read
	budget    = 1 << 28 // bytes compared while looking for shifted contents
	shortLoss = 16      // bytes lost without any trace behind them, at most

	erased = 0xFF // what a cell reads that was never written
)

// Finding is a fault that explains what was read. Offsets count from the
// chip's first cell.
type Finding struct {
	Fault    Fault  `json:"fault"`
	Lines    []int  `json:"lines"`              // line numbers concerned, rising
	Level    *int   `json:"level"`              // as read: 0 or 1; of shorted lines 0 for AND, 1 for OR
	At       int    `json:"at"`                 // first offset whose byte differs
	Offset   *int   `json:"offset"`             // of image-moved: the byte read at a is the image's at a - offset
	Count    int    `json:"count,omitempty"`    // bytes lost or doubled
	Order    []int  `json:"order,omitempty"`    // of a whole order: the intended line that is read on each data line
	Value    string `json:"value,omitempty"`    // the one value read, two hex digits
	Previous string `json:"previous,omitempty"` // the earlier image that is read
	While    string `json:"while,omitempty"`    // "writing" or "writing and reading" where the plain fault would not do

	Boundary  int `json:"boundary,omitempty"` // of write-stopped: the roundest offset at which it may have stopped
	Explained int `json:"explained"`          // bytes read that are as the fault would have them
	Of        int `json:"of"`                 // bytes read

	Says     string   `json:"says"`     // the fault in words
	Evidence string   `json:"evidence"` // what shows it
	Readings []string `json:"readings"` // where the fault may lie, if that is not plain
	Look     []string `json:"look"`     // what to look at, with cautions

	misses int
}

// Earlier is an image that the chip may still hold.
type Earlier struct {
	Name string
	Data []byte // from the chip's first cell on; what is missing is blank
}

func (e Earlier) at(o int) byte {
	if o < len(e.Data) {
		return e.Data[o]
	}
	return erased
}

// reading is a read-back laid over the image, by offset from the first cell.
type reading struct {
	want    []byte
	got     []byte  // as long as want; only what runs cover was read
	runs    []Range // offsets read, rising
	beyond  []Piece // read, but outside the chip; addresses are offsets
	blank   byte
	at      int // CPU address of offset 0, for words
	earlier []Earlier
	counted string // how the addresses of the read-back were taken

	of        int   // bytes read
	differing int   // of them
	first     int   // first differing offset
	probes    []int // some differing offsets
	limit     int   // bytes that a fault may leave unexplained
	budget    int
	found     []Finding
}

// prepare counts the differences and picks the probes.
func (r *reading) prepare() {
	stride := 1
	for _, run := range r.runs {
		r.of += run.Len()
		a := cells{data: r.want[run.First : run.Last+1], n: run.Len()}
		b := cells{data: r.got[run.First : run.Last+1], n: run.Len()}
		runs(a, b, func(first, last int) {
			if r.differing == 0 {
				r.first = run.First + first
			}
			for o := first; o <= last; o++ {
				if r.differing%stride == 0 {
					if len(r.probes) == maxProbes {
						for i := range maxProbes / 2 {
							r.probes[i] = r.probes[2*i]
						}
						r.probes = r.probes[:maxProbes/2]
						stride *= 2
					}
					if r.differing%stride == 0 {
						r.probes = append(r.probes, run.First+o)
					}
				}
				r.differing++
			}
		})
	}
	r.limit = min(handful, r.differing/10)
	r.budget = budget
}

// diagnose names the faults that explain the reading, at best none of it left
// over. It returns nothing where the reading agrees or no fault explains it.
func (r *reading) diagnose() []Finding {
	if r.differing == 0 {
		return nil
	}
	if r.movedBeyond() { // what else is wrong with the chip's own part says nothing
		r.explain(&r.found[0])
		return r.found
	}
	r.blankChip()
	r.previousImage()
	r.dataLines()
	r.addressLines()
	r.shifted()
	r.writeStopped()
	r.imageMoved()
	out := r.least(0)
	if len(out) == 0 {
		r.rarer()
		out = r.least(0)
	}
	if len(out) == 0 {
		out = r.least(r.limit)
	}
	if len(out) == 0 && r.differing <= fewCells && r.differing*4 <= r.of {
		r.add(Finding{Fault: SingleCells}, 0)
		out = r.least(0)
	}
	if len(out) > maxShown {
		return nil
	}
	for i := range out {
		r.explain(&out[i])
	}
	return out
}

// add notes a fault that leaves misses bytes unexplained.
func (r *reading) add(f Finding, misses int) {
	if misses > r.limit {
		return
	}
	if f.Lines == nil {
		f.Lines = []int{}
	}
	f.At, f.Of, f.Explained, f.misses = r.first, r.of, r.of-misses, misses
	r.found = append(r.found, f)
}

// least gives the faults that leave the fewest bytes unexplained, if those
// are at most limit.
func (r *reading) least(limit int) []Finding {
	best := limit
	for _, f := range r.found {
		best = min(best, f.misses)
	}
	var out []Finding
	for _, f := range r.found {
		if f.misses == best {
			out = append(out, f)
		}
	}
	return out
}

// misses counts the bytes read that are not what fault says, up to one more
// than the limit.
func (r *reading) misses(fault func(o int) byte) int {
	n := 0
	for _, o := range r.probes {
		if r.got[o] != fault(o) {
			if n++; n > r.limit {
				return n
			}
		}
	}
	return r.missesFrom(0, fault)
}

// missesFrom counts from offset from on.
func (r *reading) missesFrom(from int, fault func(o int) byte) int {
	n := 0
	for _, run := range r.runs {
		for o := max(run.First, from); o <= run.Last; o++ {
			if r.got[o] != fault(o) {
				if n++; n > r.limit {
					return n
				}
			}
		}
	}
	return n
}

// image is the byte of the image at an offset; a fault may lead outside it.
func (r *reading) image(o int) byte {
	if o >= 0 && o < len(r.want) {
		return r.want[o]
	}
	return erased
}

// addressBits is the number of address lines of the chip.
func (r *reading) addressBits() int { return bits.Len(uint(len(r.want) - 1)) }

func level(n int) *int { return &n }

// blankChip: nothing was written, or nothing answers.
func (r *reading) blankChip() {
	tried := []byte{}
	for _, v := range []byte{erased, 0x00, r.got[r.first]} {
		if slices.Contains(tried, v) {
			continue
		}
		tried = append(tried, v)
		elsewhere := slices.ContainsFunc(r.beyond, func(p Piece) bool {
			return len(bytes.TrimLeft(p.Data, string([]byte{v}))) > 0
		})
		if !elsewhere {
			r.add(Finding{Fault: BlankChip, Value: hexByte(v)}, r.misses(func(int) byte { return v }))
		}
	}
}

func hexByte(b byte) string { return string([]byte{hexDigits[b>>4], hexDigits[b&15]}) }

func (r *reading) previousImage() {
	for _, e := range r.earlier {
		r.add(Finding{Fault: PreviousImage, Previous: e.Name}, r.misses(e.at))
	}
}

// addTable tries a fault of the data lines, given as what becomes of each
// byte.
func (r *reading) addTable(f Finding, change func(b byte) byte) {
	table := make([]byte, 256)
	for i := range table {
		table[i] = change(byte(i))
	}
	r.add(f, r.misses(func(o int) byte { return table[r.want[o]] }))
}

func (r *reading) dataLines() {
	for n := range 8 {
		r.addTable(Finding{Fault: DataLineStuck, Lines: []int{n}, Level: level(0)}, func(b byte) byte { return b &^ (1 << n) })
		r.addTable(Finding{Fault: DataLineStuck, Lines: []int{n}, Level: level(1)}, func(b byte) byte { return b | 1<<n })
	}
	before := len(r.found)
	for j := range 8 {
		for i := range j {
			r.addTable(Finding{Fault: DataLinesSwapped, Lines: []int{i, j}}, func(b byte) byte { return byte(swapBits(int(b), i, j)) })
		}
	}
	if !slices.ContainsFunc(r.found[before:], func(f Finding) bool { return f.misses == 0 }) {
		r.dataOrder()
	}
	for j := range 8 {
		for i := range j {
			r.addTable(Finding{Fault: DataLinesShorted, Lines: []int{i, j}, Level: level(0)}, func(b byte) byte { return byte(joinBits(int(b), i, j, false)) })
			r.addTable(Finding{Fault: DataLinesShorted, Lines: []int{i, j}, Level: level(1)}, func(b byte) byte { return byte(joinBits(int(b), i, j, true)) })
		}
	}
}

// swapBits exchanges bits i and j of v.
func swapBits(v, i, j int) int {
	if differ := (v>>i ^ v>>j) & 1; differ != 0 {
		v ^= 1<<i | 1<<j
	}
	return v
}

// joinBits sets bits i and j of v both to their OR, or both to their AND.
func joinBits(v, i, j int, or bool) int {
	both := 1<<i | 1<<j
	switch v & both {
	case 0, both:
		return v
	}
	if or {
		return v | both
	}
	return v &^ both
}

// byteMap is what each byte of the image is read as, -1 for bytes that the
// image does not hold; ok is false where one byte is read in two ways, so that
// no fault of the data lines can be the cause.
func (r *reading) byteMap() (m [256]int16, ok bool) {
	for i := range m {
		m[i] = -1
	}
	for _, run := range r.runs {
		for o := run.First; o <= run.Last; o++ {
			w, g := r.want[o], int16(r.got[o])
			if m[w] < 0 {
				m[w] = g
			} else if m[w] != g {
				return m, false
			}
		}
	}
	return m, true
}

// dataOrder looks for data lines in any order: those orders that move the
// fewest lines.
func (r *reading) dataOrder() {
	m, ok := r.byteMap()
	if !ok {
		return
	}
	// can[i] has a bit for each line of the image that line i may show.
	var can [8]byte
	for i := range 8 {
		can[i] = 0xFF
		for w, g := range m {
			if g >= 0 {
				if g>>i&1 == 1 {
					can[i] &= byte(w)
				} else {
					can[i] &= ^byte(w)
				}
			}
		}
	}
	var orders [][]int
	order := make([]int, 8)
	var place func(i, taken, moves int)
	place = func(i, taken, moves int) {
		if i == 8 {
			orders = append(orders, slices.Clone(order))
			return
		}
		for j := range 8 {
			left := moves
			if j != i {
				left--
			}
			if left >= 0 && can[i]>>j&1 == 1 && taken>>j&1 == 0 && len(orders) <= maxShown {
				order[i] = j
				place(i+1, taken|1<<j, left)
			}
		}
	}
	for moves := 2; moves <= 8 && len(orders) == 0; moves++ {
		place(0, 0, moves)
	}
	for _, o := range orders {
		f := Finding{Fault: DataLinesSwapped, Order: o}
		for i, j := range o {
			if i != j {
				f.Lines = append(f.Lines, i)
			}
		}
		r.addTable(f, func(b byte) byte {
			var v byte
			for i, j := range o {
				v |= b >> j & 1 << i
			}
			return v
		})
	}
}

func (r *reading) addressLines() {
	n := r.addressBits()
	try := func(f Finding, line func(o int) int) {
		r.add(f, r.misses(func(o int) byte { return r.image(line(o)) }))
	}
	for i := range n {
		try(Finding{Fault: AddressLineStuck, Lines: []int{i}, Level: level(0)}, func(o int) int { return o &^ (1 << i) })
		try(Finding{Fault: AddressLineStuck, Lines: []int{i}, Level: level(1)}, func(o int) int { return o | 1<<i })
	}
	for j := range n {
		for i := range j {
			try(Finding{Fault: AddressLinesSwapped, Lines: []int{i, j}}, func(o int) int { return swapBits(o, i, j) })
		}
	}
	for j := range n {
		for i := range j {
			try(Finding{Fault: AddressLinesShorted, Lines: []int{i, j}, Level: level(0)}, func(o int) int { return joinBits(o, i, j, false) })
			try(Finding{Fault: AddressLinesShorted, Lines: []int{i, j}, Level: level(1)}, func(o int) int { return joinBits(o, i, j, true) })
		}
	}
}

// unlike counts the bytes in which a and b, of one length, differ, up to one
// more than the limit, at the budget's cost.
func (r *reading) unlike(a, b []byte) int {
	const step = 512
	n := 0
	for i := 0; i < len(a) && n <= r.limit; i += step {
		end := min(i+step, len(a))
		r.budget -= end - i
		if bytes.Equal(a[i:end], b[i:end]) {
			continue
		}
		for k := i; k < end && n <= r.limit; k++ {
			if a[k] != b[k] {
				n++
			}
		}
	}
	return n
}

// constantFrom says whether all bytes read from offset from on are equal.
func (r *reading) constantFrom(from int) bool {
	v, seen := byte(0), false
	for _, run := range r.runs {
		for o := max(run.First, from); o <= run.Last; o++ {
			if seen && r.got[o] != v {
				return false
			}
			v, seen = r.got[o], true
		}
	}
	return true
}

// window is a short piece of the reading that is not all one value.
type window struct{ at, n int }

// windows gives up to three windows at or after an offset: the first, one
// from the middle and the last.
func (r *reading) windows(from int) []window {
	const size = 16
	next := func(from int) (window, bool) {
		for _, run := range r.runs {
			for o := max(run.First, from); o < run.Last; o++ {
				if r.got[o] != r.got[o+1] {
					return window{o, min(size, run.Last-o+1)}, true
				}
			}
		}
		return window{}, false
	}
	first, ok := next(from)
	if !ok {
		return nil
	}
	last := first
	for i := len(r.runs) - 1; i >= 0 && last == first; i-- {
		run := r.runs[i]
		for o := run.Last; o > max(run.First, from); o-- {
			if r.got[o] != r.got[o-1] {
				start := max(run.First, from, o-size+1)
				last = window{start, o - start + 1}
				break
			}
		}
	}
	middle, _ := next((first.at + last.at) / 2)
	return []window{first, middle, last}
}

// shifts calls f with q - p for each place q of the image that holds what was
// read in a window at p at or after from; around says that the image goes on
// at its begin. It gives up where the image is too monotonous to tell.
func (r *reading) shifts(from int, around bool, f func(shift int)) {
	const most = 4096
	for _, w := range r.windows(from) {
		pattern := r.got[w.at : w.at+w.n]
		for q, n := 0, 0; n < most && r.budget > 0; n++ {
			i := bytes.Index(r.want[q:], pattern)
			if i < 0 {
				break
			}
			f(q + i - w.at)
			q += i + 1
		}
		if around && w.n <= len(r.want) {
			seam := slices.Concat(r.want[len(r.want)-w.n+1:], r.want[:w.n-1])
			for q := 0; q+w.n <= len(seam); q++ {
				if bytes.Equal(seam[q:q+w.n], pattern) {
					f(len(r.want) - w.n + 1 + q - w.at)
				}
			}
		}
	}
}

// shifted: the transfer lost or doubled bytes before the first difference.
func (r *reading) shifted() {
	mute := r.constantFrom(r.first)
	if mute && r.constantFrom(0) {
		return // a chip that reads one value tells nothing of a transfer
	}
	lost, doubled := Finding{Fault: BytesLost, misses: r.limit + 1}, Finding{Fault: BytesDoubled, misses: r.limit + 1}
	tried := map[int]bool{}
	try := func(shift int) {
		if tried[shift] || shift == 0 || r.budget <= 0 {
			return
		}
		tried[shift] = true
		f, count := &lost, shift
		if shift < 0 {
			f, count = &doubled, -shift
		}
		// Where nothing but one value follows, any loss that is long enough
		// would do.
		if mute && count > shortLoss || shift < 0 && count > r.first || shift > 0 && count >= len(r.want)-r.first {
			return
		}
		n := r.missesShifted(shift)
		if n < f.misses || n == f.misses && count < f.Count {
			f.misses, f.Count = n, count
		}
	}
	for k := 1; k <= 64; k++ {
		try(k)
		try(-k)
	}
	if !mute {
		r.shifts(r.first, false, try)
	}
	r.add(lost, lost.misses)
	r.add(doubled, doubled.misses)
}

// missesShifted counts the bytes from the first difference on that are not
// the image's, shift further on. Behind the image's end one filling value may
// stand, or what the chip held before.
func (r *reading) missesShifted(shift int) int {
	n := 0
	end := len(r.want) - max(shift, 0) // offsets below it have their byte in the image
	for _, run := range r.runs {
		first, last := max(run.First, r.first), min(run.Last, end-1)
		if first > last {
			continue
		}
		if n += r.unlike(r.got[first:last+1], r.want[first+shift:last+shift+1]); n > r.limit {
			return n
		}
	}
	if shift > 0 {
		n += r.filling(end)
	}
	return n
}

// filling counts the bytes from offset from on that are not what a receiver
// leaves behind the last byte that it got: erased cells, the padding of the
// transfer, or an earlier image.
func (r *reading) filling(from int) int {
	best := r.limit + 1
	for _, v := range []byte{erased, r.blank, 0x00, 0x1A} {
		best = min(best, r.missesFrom(from, func(int) byte { return v }))
	}
	for _, e := range r.earlier {
		best = min(best, r.missesFrom(from, e.at))
	}
	return best
}

// writeStopped: right up to an offset, blank or old from there.
func (r *reading) writeStopped() {
	try := func(f Finding, old func(o int) byte) {
		n := r.missesFrom(r.first, old)
		if n > r.limit {
			return
		}
		// The last byte before that must have been written tells where the
		// writing stopped at the earliest.
		from := 0
		for _, run := range r.runs {
			for o := run.First; o <= run.Last && o < r.first; o++ {
				if r.got[o] != old(o) {
					from = o + 1
				}
			}
		}
		f.Boundary = roundest(max(from, 1), r.first)
		// Where nothing shows that anything was written, a page at least
		// must have been: otherwise the chip is as it was.
		if from == 0 && f.Boundary%64 != 0 || r.first == 0 {
			return
		}
		r.add(f, n)
	}
	tried := []byte{}
	for _, v := range []byte{erased, r.blank, 0x00} {
		if v == r.got[r.first] && !slices.Contains(tried, v) {
			tried = append(tried, v)
			try(Finding{Fault: WriteStopped, Value: hexByte(v)}, func(int) byte { return v })
		}
	}
	for _, e := range r.earlier {
		try(Finding{Fault: WriteStopped, Previous: e.Name}, e.at)
	}
}

// roundest is the offset in first..last that the highest power of two
// divides, the last of equals.
func roundest(first, last int) int {
	if first > last {
		return last
	}
	for step := 1 << 30; ; step >>= 1 {
		if o := last &^ (step - 1); o >= first {
			return o
		}
	}
}

// imageMoved: the whole image at another offset, around the chip's end.
func (r *reading) imageMoved() {
	n := len(r.want)
	best := Finding{Fault: ImageMoved, misses: r.limit + 1}
	tried := map[int]bool{}
	r.shifts(0, true, func(shift int) {
		offset := ((-shift)%n + n) % n
		if offset == 0 || tried[offset] || r.budget <= 0 {
			return
		}
		tried[offset] = true
		misses := 0
		for _, run := range r.runs {
			for o := run.First; o <= run.Last && misses <= r.limit; {
				from := (o - offset + n) % n
				k := min(run.Last-o+1, n-from)
				misses += r.unlike(r.got[o:o+k], r.want[from:from+k])
				o += k
			}
		}
		if misses < best.misses || misses == best.misses && best.Offset != nil && offset < *best.Offset {
			best.misses, best.Offset = misses, level(offset)
		}
	})
	r.add(best, best.misses)
}

// movedBeyond: the read-back is that of a larger chip, with the image
// elsewhere in it.
func (r *reading) movedBeyond() bool {
	for _, p := range r.beyond {
		if k := bytes.Index(p.Data, r.want); k >= 0 {
			r.add(Finding{Fault: ImageMoved, Offset: level(p.Addr + k)}, 0)
			return true
		}
	}
	return false
}
