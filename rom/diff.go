package rom

import (
	"bytes"
	"fmt"
)

// Hex gives both ends as four or more upper-case hexadecimal digits.
func (r Range) Hex() [2]string {
	return [2]string{fmt.Sprintf("%04X", r.First), fmt.Sprintf("%04X", r.Last)}
}

// Change is how one image differs from another.
type Change struct {
	Same     bool    // the image files are equal to the byte
	Ranges   []Range // CPU addresses whose bytes differ; each run as it is, none merged
	Bytes    int     // how many bytes differ
	Pages    int     // pages of the new chip that hold a differing byte
	PageSize int     // bytes
	Growth   int     // cells used by the new image less those used by the old, in bytes
}

// Diff compares two images address by address. A cell that only one of the
// chips has counts as holding the other's blank value. pageSize is the number
// of bytes that the chip is written in, at least 1; pages count from the new
// chip's first cell.
func Diff(old, new *Image, pageSize int) Change {
	c := Change{
		Same: old.Capacity == new.Capacity && old.At == new.At && old.Copies == new.Copies &&
			bytes.Equal(old.Data, new.Data),
		PageSize: pageSize,
		Growth:   new.Used() - old.Used(),
	}
	// The addresses fall into at most three stretches in which each image
	// either has all cells or none.
	ends := [...]int{old.At, old.At + old.Capacity, new.At, new.At + new.Capacity}
	page := -1
	for at, top := min(ends[0], ends[2]), max(ends[1], ends[3]); at < top; {
		end := top
		for _, e := range ends {
			if e > at && e < end {
				end = e
			}
		}
		if !old.Contains(at) && !new.Contains(at) {
			at = end
			continue
		}
		runs(old.stretch(at, end), new.stretch(at, end), func(first, last int) {
			r := Range{at + first, at + last}
			c.Bytes += r.Len()
			if n := len(c.Ranges); n > 0 && c.Ranges[n-1].Last == r.First-1 {
				c.Ranges[n-1].Last = r.Last
			} else {
				c.Ranges = append(c.Ranges, r)
			}
			if new.Contains(r.First) {
				from, to := max((r.First-new.At)/pageSize, page+1), (r.Last-new.At)/pageSize
				if to >= from {
					c.Pages += to - from + 1
					page = to
				}
			}
		})
		at = end
	}
	return c
}

// cells is a row of cells, or of one blank value where data is nil.
type cells struct {
	data  []byte
	blank byte
	n     int
}

// stretch is what an image holds at addresses first..end-1, which lie all in
// the chip or all outside.
func (im *Image) stretch(first, end int) cells {
	if im.Contains(first) {
		return cells{data: im.Data[first-im.At : end-im.At], n: end - first}
	}
	return cells{blank: im.Blank, n: end - first}
}

func (c cells) at(i int) byte {
	if c.data != nil {
		return c.data[i]
	}
	return c.blank
}

// runs calls f for each run of places where a and b differ.
func runs(a, b cells, f func(first, last int)) {
	const step = 256
	both := a.data != nil && b.data != nil
	start := -1
	for i := 0; i < a.n; {
		if both && start < 0 && i+step <= a.n && bytes.Equal(a.data[i:i+step], b.data[i:i+step]) {
			i += step
			continue
		}
		for end := min(i+step, a.n); i < end; i++ {
			if differ := a.at(i) != b.at(i); differ && start < 0 {
				start = i
			} else if !differ && start >= 0 {
				f(start, i-1)
				start = -1
			}
		}
	}
	if start >= 0 {
		f(start, a.n-1)
	}
}
