// Package rom holds the image of a chip and what is done with it whole: the
// map from address to source, the file formats Intel HEX and Motorola
// S-records, reading a chip's dump, the ranges and pages in which two images
// differ, and the diagnosis of a read-back that is not what was written.
//
// Addresses are the CPU's unless a name says "cell" or "offset": cell 0 is the
// chip's first byte and stands at the CPU address Image.At.
package rom

import (
	"fmt"
	"hash/crc32"
	"io"
	"math/bits"
)

// MaxCapacity is the largest chip, in bytes.
const MaxCapacity = 16 << 20

// Image is what a chip shall hold. Make one with NewImage or FromBytes.
type Image struct {
	Capacity int    // bytes, 1..MaxCapacity
	At       int    // CPU address of the first cell
	Blank    byte   // value of cells that nothing was put into
	Copies   int    // how often the file holds the image, at least 1
	Data     []byte // Capacity bytes; Data[0] is the cell at At
	Entry    int    // CPU address at which the program starts, -1 none

	used   []uint64 // one bit a cell, set by Put
	lo, hi int      // cells in use lie in lo..hi-1; lo >= hi: none
}

// NewImage makes a blank image. The error says which value is out of range.
func NewImage(capacity, at int, blank byte, copies int) (*Image, error) {
	switch {
	case capacity < 1 || capacity > MaxCapacity:
		return nil, fmt.Errorf("the capacity must be 1 to %d bytes, not %d", MaxCapacity, capacity)
	case at < 0 || at > MaxCapacity:
		return nil, fmt.Errorf("the address of the first cell must be 0 to %XH, not %d", MaxCapacity, at)
	case copies < 1 || copies > MaxCapacity/capacity:
		return nil, fmt.Errorf("%d copies of %d bytes: the file must hold 1 to %d bytes", copies, capacity, MaxCapacity)
	}
	im := newImage(make([]byte, capacity), at, blank, copies)
	fill(im.Data, blank)
	return im, nil
}

func newImage(data []byte, at int, blank byte, copies int) *Image {
	return &Image{
		Capacity: len(data), At: at, Blank: blank, Copies: copies, Data: data, Entry: -1,
		used: make([]uint64, (len(data)+63)/64), lo: len(data),
	}
}

// FromBytes makes an image of a bare file; data is kept, not copied. A bare
// file does not say which cells a program wants, so those that do not hold
// the blank value count as used.
func FromBytes(data []byte, at int, blank byte) (*Image, error) {
	if len(data) < 1 || len(data) > MaxCapacity {
		return nil, fmt.Errorf("an image must hold 1 to %d bytes, not %d", MaxCapacity, len(data))
	}
	if at < 0 || at > MaxCapacity {
		return nil, fmt.Errorf("the address of the first cell must be 0 to %XH, not %d", MaxCapacity, at)
	}
	im := newImage(data, at, blank, 1)
	for i := 0; i < len(data); {
		if data[i] == blank {
			i++
			continue
		}
		first := i
		for i < len(data) && data[i] != blank {
			i++
		}
		im.mark(first, i)
	}
	return im, nil
}

// fill sets every byte of b to v; copying doubled pieces is much faster than
// a loop over bytes, and fresh memory is zero already.
func fill(b []byte, v byte) {
	if v == 0 || len(b) == 0 {
		return
	}
	b[0] = v
	for n := 1; n < len(b); {
		// Pieces above a page or two gain nothing and fall out of the cache.
		n += copy(b[n:], b[:min(n, 8192)])
	}
}

// Put stores b at the CPU address addr and marks the cell used. The caller
// has checked that the address lies in the chip.
func (im *Image) Put(addr int, b byte) {
	i := addr - im.At
	im.Data[i] = b
	im.used[i>>6] |= 1 << (i & 63)
	if i < im.lo {
		im.lo = i
	}
	if i >= im.hi {
		im.hi = i + 1
	}
}

// PutBytes stores a run of bytes from addr on and marks its cells used. The
// caller has checked that the run lies in the chip.
func (im *Image) PutBytes(addr int, run []byte) {
	i := addr - im.At
	copy(im.Data[i:i+len(run)], run)
	im.mark(i, i+len(run))
}

// mark sets the used bits of cells first..end-1.
func (im *Image) mark(first, end int) {
	if first >= end {
		return
	}
	im.lo, im.hi = min(im.lo, first), max(im.hi, end)
	for i := first; i < end; {
		word, from := i>>6, i&63
		n := min(64-from, end-i)
		im.used[word] |= (^uint64(0) >> (64 - n)) << from
		i += n
	}
}

// Contains says whether a CPU address lies in the chip.
func (im *Image) Contains(addr int) bool {
	return addr >= im.At && addr < im.At+im.Capacity
}

// UsedAt says whether something was put at a CPU address; false outside the
// chip.
func (im *Image) UsedAt(addr int) bool {
	i := addr - im.At
	return i >= 0 && i < im.Capacity && im.used[i>>6]&(1<<(i&63)) != 0
}

// Used is the number of cells in use, in bytes.
func (im *Image) Used() int {
	n := 0
	for w := im.lo >> 6; w<<6 < im.hi; w++ {
		n += bits.OnesCount64(im.used[w])
	}
	return n
}

// UsedRanges gives the CPU addresses in use as rising, unconnected ranges.
func (im *Image) UsedRanges() []Range {
	var out []Range
	for i := im.lo; i < im.hi; {
		first := im.next(i, 0)
		if first >= im.hi {
			break
		}
		i = min(im.next(first, ^uint64(0)), im.hi)
		out = append(out, Range{im.At + first, im.At + i - 1})
	}
	return out
}

// next is the first cell from i on whose used bit differs from flip's bits:
// flip 0 looks for a used cell, flip ^0 for an unused one.
func (im *Image) next(i int, flip uint64) int {
	for i < im.hi {
		if w := (im.used[i>>6] ^ flip) >> (i & 63); w != 0 {
			return i + bits.TrailingZeros64(w)
		}
		i = (i | 63) + 1
	}
	return i
}

// FileSize is the length of the image file in bytes.
func (im *Image) FileSize() int { return im.Capacity * im.Copies }

// CRC32 is the CRC-32 of the whole file (catalogue name CRC-32/ISO-HDLC).
func (im *Image) CRC32() uint32 {
	var crc uint32
	for range im.Copies {
		crc = crc32.Update(crc, crc32.IEEETable, im.Data)
	}
	return crc
}

// Sum16 is the sum of the file's bytes modulo 65536.
func (im *Image) Sum16() uint16 {
	var sum uint32 // 16M bytes of 255 stay below 2^32
	for _, b := range im.Data {
		sum += uint32(b)
	}
	return uint16(sum * uint32(im.Copies))
}

// WriteTo writes the image file: Data, Copies times.
func (im *Image) WriteTo(w io.Writer) (int64, error) {
	var total int64
	for range im.Copies {
		n, err := w.Write(im.Data)
		total += int64(n)
		if err != nil {
			return total, err
		}
	}
	return total, nil
}
