package rom

// rarer tries the faults that are left when no plain one explains the
// reading: several data lines stuck at one level, and address lines that were
// at fault while the chip was written.
func (r *reading) rarer() {
	r.severalStuck()
	n := r.addressBits()
	for i := range n {
		for _, lv := range []int{0, 1} {
			// Each half is written to one and the same half, the second over
			// the first; the other half stays as it was.
			r.written(Finding{Fault: AddressLineStuck, Lines: []int{i}, Level: level(lv), While: "writing"}, false, func(o int) int {
				return o&^(1<<i) | lv<<i
			})
		}
	}
	for j := range n {
		for i := range j {
			for _, lv := range []int{0, 1} {
				join := func(o int) int { return joinBits(o, i, j, lv == 1) }
				f := Finding{Fault: AddressLinesShorted, Lines: []int{i, j}, Level: level(lv)}
				f.While = "writing"
				r.written(f, false, join)
				f.While = "writing and reading"
				r.written(f, true, join)
			}
		}
	}
	r.movedWithBlanks()
}

// severalStuck: more than one data line at the same level.
func (r *reading) severalStuck() {
	m, ok := r.byteMap()
	if !ok {
		return
	}
	wrong, low, high := 0, 0xFF, 0xFF // bits: ever wrong, never read as 1, never read as 0
	for w, g := range m {
		if g >= 0 {
			wrong |= w ^ int(g)
			low &= ^int(g)
			high &= int(g)
		}
	}
	for lv, always := range []int{low, high} {
		if wrong&^always != 0 {
			continue
		}
		f := Finding{Fault: DataLineStuck, Level: level(lv)}
		for i := range 8 {
			if wrong>>i&1 == 1 {
				f.Lines = append(f.Lines, i)
			}
		}
		r.addTable(f, func(b byte) byte {
			if lv == 0 {
				return b &^ byte(wrong)
			}
			return b | byte(wrong)
		})
	}
}

// written tries a fault that sent the byte of each offset, in rising order,
// to the cell that line gives; reading says that the fault is there while
// reading too.
func (r *reading) written(f Finding, reading bool, line func(o int) int) {
	n := len(r.want)
	r.add(f, r.misses(func(o int) byte {
		cell := o
		if reading {
			cell = line(o)
		}
		// The last offset that leads to the cell. It differs from the cell
		// in the lines at fault only, of which there are one or two.
		last := -1
		for _, from := range r.around(cell, f.Lines) {
			if from < n && line(from) == cell {
				last = max(last, from)
			}
		}
		if last < 0 {
			return erased
		}
		return r.want[last]
	}))
}

// around gives the offsets that differ from o in the named lines only.
func (r *reading) around(o int, lines []int) [4]int {
	a := 1 << lines[0]
	b := 1 << lines[len(lines)-1]
	return [4]int{o, o ^ a, o ^ b, o ^ (a | b)}
}

// movedWithBlanks: the image begins further on, and what does not fit is cut
// off instead of going on at the chip's begin.
func (r *reading) movedWithBlanks() {
	tried := map[int]bool{}
	r.shifts(0, false, func(shift int) {
		offset := -shift
		if offset <= 0 || tried[offset] || r.budget <= 0 {
			return
		}
		tried[offset] = true
		r.budget -= len(r.want)
		r.add(Finding{Fault: ImageMoved, Offset: level(offset), While: "writing"}, r.misses(func(o int) byte {
			if o < offset {
				return erased
			}
			return r.want[o-offset]
		}))
	})
}
