package bus

import (
	"bufio"
	"io"
	"strconv"
)

// VCD writes a run as a value change dump (IEEE 1364-2005, clause 18) at
// half-clock resolution. Wires are pin levels: names that end in _n are active
// low. With a frequency one time unit is 1 ps, each edge rounded from the
// exact product; without one a unit stands for half a clock.
type VCD struct {
	w      *bufio.Writer
	freq   Frequency
	clocks int64
	buf    []byte
	halves int64 // half clocks written
	begun  bool
	last   Half // pins as last written
	reset  bool // level of RESET_n as last written
	err    error
}

// NewVCD begins a dump that ends after clock clocks (0: with the run).
func NewVCD(w io.Writer, freq Frequency, clocks int64, notes []string) *VCD {
	v := &VCD{w: bufio.NewWriterSize(w, 32<<10), freq: freq, clocks: clocks}
	b := []byte("$comment\n")
	for _, n := range notes {
		b = append(append(append(b, "  "...), n...), '\n')
	}
	if freq == 0 {
		b = append(b, "  One time unit is half a clock; no clock rate was given.\n"...)
	}
	b = append(b, "  Pin levels: a name that ends in _n is active low. z: nobody drives the bus.\n$end\n"...)
	if freq == 0 {
		b = append(b, "$timescale 1 ns $end\n"...)
	} else {
		b = append(b, "$timescale 1 ps $end\n"...)
	}
	b = append(b, "$scope module cpu $end\n"...)
	b = append(b, "$var wire 1 ! CLK $end\n$var wire 16 a A [15:0] $end\n$var wire 8 d D [7:0] $end\n$var wire 1 r RESET_n $end\n"...)
	for i, name := range LampNames {
		b = append(b, "$var wire 1 "...)
		b = append(b, byte('0'+i), ' ')
		b = append(b, name...)
		b = append(b, "_n $end\n"...)
	}
	b = append(b, "$upscope $end\n$enddefinitions $end\n"...)
	_, v.err = v.w.Write(b)
	return v
}

// Cycle takes a machine cycle; it is the Sink of the run.
func (v *VCD) Cycle(c *Cycle) bool {
	for i := range c.Halves() {
		if v.clocks > 0 && v.halves >= 2*v.clocks || v.err != nil {
			return false
		}
		h := c.Half(i)
		v.half(&h, c.Kind == Reset && c.T == ResetHeld)
	}
	return v.err == nil
}

func (v *VCD) half(h *Half, reset bool) {
	b := v.appendTime(v.buf[:0])
	all := !v.begun
	if all {
		b = append(b, "$dumpvars\n"...)
	}
	if h.High() {
		b = append(b, "1!\n"...)
	} else {
		b = append(b, "0!\n"...)
	}
	if all || h.HasAddr != v.last.HasAddr || h.HasAddr && h.Addr != v.last.Addr {
		b = appendVector(b, uint64(h.Addr), h.HasAddr, 'a')
	}
	if all || h.HasData != v.last.HasData || h.HasData && h.Data != v.last.Data {
		b = appendVector(b, uint64(h.Data), h.HasData, 'd')
	}
	if all || reset != v.reset {
		b = appendLevel(b, !reset, 'r')
	}
	for i := range LampNames {
		if bit := Lamps(1 << i); all || h.Lamps&bit != v.last.Lamps&bit {
			b = appendLevel(b, h.Lamps&bit == 0, byte('0'+i))
		}
	}
	if all {
		b = append(b, "$end\n"...)
	}
	v.begun, v.last, v.reset = true, *h, reset
	v.halves++
	v.buf = b
	_, v.err = v.w.Write(b)
}

func (v *VCD) appendTime(b []byte) []byte {
	b = append(b, '#')
	if v.freq == 0 {
		b = strconv.AppendInt(b, v.halves, 10)
	} else {
		b = appendTime(b, uint64(v.halves), picoseconds, v.freq)
	}
	return append(b, '\n')
}

// appendVector writes a binary value without its leading zeros, which the
// standard lets a reader put back.
func appendVector(b []byte, value uint64, driven bool, id byte) []byte {
	b = append(b, 'b')
	if driven {
		b = strconv.AppendUint(b, value, 2)
	} else {
		b = append(b, 'z') // extends to the full width
	}
	return append(b, ' ', id, '\n')
}

func appendLevel(b []byte, high bool, id byte) []byte {
	if high {
		return append(b, '1', id, '\n')
	}
	return append(b, '0', id, '\n')
}

// Close ends the dump with the time at which the last half clock is over.
func (v *VCD) Close() error {
	if v.err == nil {
		_, v.err = v.w.Write(v.appendTime(v.buf[:0]))
	}
	if err := v.w.Flush(); v.err == nil {
		v.err = err
	}
	return v.err
}
