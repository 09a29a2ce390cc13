package rom

import (
	"cmp"
	"fmt"
	"slices"
)

// Range is a run of addresses, both ends included.
type Range struct {
	First, Last int
}

// Len is the number of addresses in the range.
func (r Range) Len() int { return r.Last - r.First + 1 }

// String gives "0100H-01FFH", or "0100H" for a single address.
func (r Range) String() string {
	if r.First == r.Last {
		return fmt.Sprintf("%04XH", r.First)
	}
	return fmt.Sprintf("%04XH-%04XH", r.First, r.Last)
}

// Source is the statement that put bytes into the image.
type Source struct {
	File  string
	Line  string // "12", or "12.3": the third line that line 12 expanded to
	Text  string // the line as written
	Label string // the label it stands under, empty for none
}

type span struct {
	Range
	src Source
}

// SourceMap tells which statement the byte at an address came from. The zero
// value is an empty map. All Adds come before the first Lookup.
type SourceMap struct {
	spans  []span
	sorted bool
}

// Add says that the bytes at first..last came from src. Where two ranges
// overlap, the one that begins later is found.
func (m *SourceMap) Add(first, last int, src Source) {
	if last < first {
		return
	}
	if n := len(m.spans); n > 0 {
		prev := &m.spans[n-1]
		if prev.Last+1 == first && prev.src == src {
			prev.Last = last
			return
		}
		// Programs are nearly always emitted upwards, so this stays true.
		m.sorted = m.sorted && prev.First <= first
	} else {
		m.sorted = true
	}
	m.spans = append(m.spans, span{Range{first, last}, src})
}

// Lookup finds the statement that the byte at addr came from.
func (m *SourceMap) Lookup(addr int) (Source, bool) {
	if m == nil || len(m.spans) == 0 {
		return Source{}, false
	}
	if !m.sorted {
		slices.SortStableFunc(m.spans, func(a, b span) int { return cmp.Compare(a.First, b.First) })
		m.sorted = true
	}
	i, found := slices.BinarySearchFunc(m.spans, addr, func(s span, a int) int { return cmp.Compare(s.First, a) })
	if !found {
		i--
	}
	// Several spans may begin at one address; the last one added wins.
	for i >= 0 && i+1 < len(m.spans) && m.spans[i+1].First <= addr {
		i++
	}
	if i < 0 || m.spans[i].Last < addr {
		return Source{}, false
	}
	return m.spans[i].src, true
}

// Len is the number of separate entries.
func (m *SourceMap) Len() int { return len(m.spans) }

// Each calls f for every entry, in rising order of address.
func (m *SourceMap) Each(f func(r Range, src Source)) {
	if len(m.spans) > 0 {
		m.Lookup(m.spans[0].First) // sorts
	}
	for i := range m.spans {
		f(m.spans[i].Range, m.spans[i].src)
	}
}
