package rom

import (
	"bytes"
	"fmt"
	"math/bits"
	"slices"

	"romwright/diag"
)

// MaxAddress is the first address that no chip of ours can have.
const MaxAddress = 2 * MaxCapacity

// Format is a file format of memory contents.
type Format uint8

// The formats.
const (
	Binary Format = iota
	IntelHex
	SRecords
	Dump
)

// String names the format as the trade does.
func (f Format) String() string {
	return [...]string{"binary file", "Intel HEX", "Motorola S-records", "hex dump"}[f]
}

// Piece is a run of bytes at an address.
type Piece struct {
	Addr int // of the first byte
	Data []byte
}

// Range is the addresses of the piece.
func (p Piece) Range() Range { return Range{p.Addr, p.Addr + len(p.Data) - 1} }

// Contents is what a file says about a memory: the bytes it gives and where.
type Contents struct {
	Format Format
	Pieces []Piece // rising, neither overlapping nor touching
	Entry  int     // address at which the program starts, -1 none given

	// Of a dump only:
	Ignored       []Ignored  // lines that give no bytes, the first 1000
	IgnoredCount  int        // how many there are
	Conflicts     []Conflict // addresses given again with another byte, the first 1000
	ConflictCount int        // how many there are
	Repeated      int        // lines that only said again what earlier ones said
}

// Ignored is a line of a dump that was not understood as bytes of the chip.
type Ignored struct {
	Line int    // 1-based
	Text string // as it stood on the screen, at most 80 characters
}

// Conflict is an address that a dump gives more than once.
type Conflict struct {
	Addr    int
	Line    int  // of the later mention
	Earlier byte // what stood there first
	Later   byte // what is believed
}

// Len is the number of bytes given.
func (c *Contents) Len() int {
	n := 0
	for _, p := range c.Pieces {
		n += len(p.Data)
	}
	return n
}

// Span is the range from the lowest to the highest address given; ok is false
// where no byte is.
func (c *Contents) Span() (r Range, ok bool) {
	if len(c.Pieces) == 0 {
		return Range{}, false
	}
	return Range{c.Pieces[0].Addr, c.Pieces[len(c.Pieces)-1].Range().Last}, true
}

// Image puts the contents into a chip of capacity bytes whose first cell is
// at the CPU address at. The error names the first address outside it.
func (c *Contents) Image(capacity, at int, blank byte) (*Image, error) {
	im, err := NewImage(capacity, at, blank, 1)
	if err != nil {
		return nil, err
	}
	for _, p := range c.Pieces {
		r := p.Range()
		if r.First < at || r.Last >= at+capacity {
			out := r.First
			if out >= at {
				out = max(out, at+capacity)
			}
			return nil, fmt.Errorf("address %04XH lies outside the chip, which holds %s", out, Range{at, at + capacity - 1})
		}
		im.PutBytes(p.Addr, p.Data)
	}
	im.Entry = c.Entry
	return im, nil
}

// Error says what is wrong with a file, and where.
type Error struct {
	Diag diag.Diagnostic
}

// Error gives "file:line:column: message".
func (e *Error) Error() string { return e.Diag.Range.String() + ": " + e.Diag.Message }

// scatter collects bytes by address. Memory grows with the number of bytes
// put, however far apart they lie.
type scatter struct {
	blocks map[int]*block // by address / 64
	last   *block         // the block put to last, at lastNo
	lastNo int
}

type block struct {
	given uint64 // one bit a byte
	data  [64]byte
}

// put stores a byte and returns the one given before for the address, if any.
func (s *scatter) put(addr int, b byte) (earlier byte, again bool) {
	no := addr >> 6
	if s.last == nil || s.lastNo != no {
		if s.blocks == nil {
			s.blocks = map[int]*block{}
		}
		if s.blocks[no] == nil {
			s.blocks[no] = new(block)
		}
		s.last, s.lastNo = s.blocks[no], no
	}
	i := addr & 63
	earlier, again = s.last.data[i], s.last.given&(1<<i) != 0
	s.last.data[i] = b
	s.last.given |= 1 << i
	return earlier, again
}

// pieces gives what was put, joined and rising.
func (s *scatter) pieces() []Piece {
	order := make([]int, 0, len(s.blocks))
	total := 0
	for no, b := range s.blocks {
		order = append(order, no)
		total += bits.OnesCount64(b.given)
	}
	slices.Sort(order)
	pool := make([]byte, 0, total) // never grows, so pieces may point into it
	var out []Piece
	for _, no := range order {
		b := s.blocks[no]
		for i := 0; i < 64; {
			i += bits.TrailingZeros64(b.given >> i)
			if i >= 64 {
				break
			}
			n := bits.TrailingZeros64(^(b.given >> i))
			addr := no<<6 + i
			pool = append(pool, b.data[i:i+n]...)
			if k := len(out); k > 0 && out[k-1].Range().Last == addr-1 {
				out[k-1].Data = out[k-1].Data[:len(out[k-1].Data)+n]
			} else {
				out = append(out, Piece{addr, pool[len(pool)-n:]})
			}
			i += n
		}
	}
	for i := range out {
		out[i].Data = slices.Clip(out[i].Data)
	}
	return out
}

// textLines calls f with each line of data, its 1-based number and without
// its line end (LF, CRLF or a lone CR), until f returns false. A 1AH ends the
// text, as in files from older systems.
func textLines(data []byte, f func(no int, line []byte) bool) {
	if i := bytes.IndexByte(data, 0x1A); i >= 0 {
		data = data[:i]
	}
	for no := 1; len(data) > 0; no++ {
		line, n := data, len(data)
		if i := bytes.IndexAny(data, "\r\n"); i >= 0 {
			line, n = data[:i], i+1
			if data[i] == '\r' && n < len(data) && data[n] == '\n' {
				n++
			}
		}
		if !f(no, line) {
			return
		}
		data = data[n:]
	}
}
