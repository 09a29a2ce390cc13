package bus

import (
	"encoding/base64"
	"encoding/binary"
)

// MaxRecordClocks bounds a Recording, which, unlike a sheet, is held in memory:
// about 32 bytes a clock.
const MaxRecordClocks = 200_000

// Recording is a run in a form that a page can step through: three tables of
// 32-bit numbers and the words they point to. It is made so that the page
// needs no knowledge of the CPU's timing.
type Recording struct {
	// Halves has HalfWords numbers for each half clock, from the high half of
	// clock 1 on:
	//
	//	0: bits 0-15 address bus, 16-23 data bus, 24-30 Lamps, 31 data is driven
	//	1: bits 0-23 index into Texts (what happens in words), 24-27 T-state
	//	   (1 to 6; 7 is TW), 28 address is driven
	Halves []uint32

	// Cycles has CycleWords numbers for each machine cycle:
	//
	//	0: index of its first half clock
	//	1: bits 0-7 Kind, 8-23 T-states, 24-31 Role
	//	2: index into Insts of what it belongs to
	//	3: bits 0-15 address of the access, 16-23 data
	Cycles []uint32

	// Insts has InstWords numbers for each instruction, interrupt or idle
	// fetch: where it begins and the registers at that moment.
	//
	//	0: index of its first half clock
	//	1: bits 0-15 its address, 16-31 index into Places
	//	2: BC, DE  3: HL, AF  4: IX, IY  5: SP, PC (low 16 bits, high 16 bits)
	//	6: BC', DE'  7: HL', AF'
	//	8: bits 0-7 I, 8-15 R, 16 IFF1, 17 IFF2, 18-19 interrupt mode, 20 halted
	//	9: registers the program has set: bits 0-15 the main set, 16-31 the
	//	   alternate one, each as B C D E H L A F IXH IXL IYH IYL SPH SPL and
	//	   carry; F is the flags without carry
	Insts []uint32

	Texts  []string
	Places []Place
	Map    []Area
	Clocks int64
}

// Numbers of an entry in the tables of a Recording.
const (
	HalfWords  = 2
	CycleWords = 4
	InstWords  = 10
)

// Recorder makes a Recording; its Cycle method is the Sink of the run.
type Recorder struct {
	m      *CPU
	clocks int64
	locate Locate
	rec    Recording
	texts  map[string]uint32
	places map[placeKey]uint32
	text   string
	size   int
	buf    []byte
}

// placeKey is an instruction's address; the clocks of a reset have no place.
type placeKey struct {
	addr  uint16
	reset bool
}

// NewRecorder records up to clocks clocks of m's run, at most MaxRecordClocks.
func NewRecorder(m *CPU, clocks int64, locate Locate) *Recorder {
	if clocks <= 0 || clocks > MaxRecordClocks {
		clocks = MaxRecordClocks
	}
	return &Recorder{m: m, clocks: clocks, locate: locate, texts: map[string]uint32{}, places: map[placeKey]uint32{}}
}

// Cycle takes a machine cycle; false when the recording is full.
func (r *Recorder) Cycle(c *Cycle) bool {
	if c.Clock > r.clocks {
		return false
	}
	first := uint32(len(r.rec.Halves) / HalfWords)
	if c.First {
		r.inst(c, first)
	}
	r.rec.Cycles = append(r.rec.Cycles, first, uint32(c.Kind)|uint32(c.T)<<8|uint32(c.Role)<<24,
		uint32(len(r.rec.Insts)/InstWords-1), uint32(c.Addr)|uint32(c.Data)<<16)
	for i := range c.Halves() {
		clock := c.Clock + int64(i/2)
		if clock > r.clocks {
			return false
		}
		r.rec.Clocks = clock
		h := c.Half(i)
		if i == 0 {
			r.buf = r.m.appendCycle(r.buf[:0], c, r.text, r.size)
		} else {
			r.buf = appendPhase(r.buf[:0], c, i)
		}
		w0 := uint32(h.Addr) | uint32(h.Data)<<16 | uint32(h.Lamps)<<24
		if h.HasData {
			w0 |= 1 << 31
		}
		w1 := r.textIndex() | tCode(c, i/2)<<24
		if h.HasAddr {
			w1 |= 1 << 28
		}
		r.rec.Halves = append(r.rec.Halves, w0, w1)
	}
	return true
}

// tCode numbers the T-states: 1 to 6, 7 for TW.
func tCode(c *Cycle, ti int) uint32 {
	if ti >= 2 && ti < 2+c.Waits {
		return 7
	}
	if ti >= 2 {
		ti -= c.Waits
	}
	return uint32(min(ti+1, 6))
}

func (r *Recorder) textIndex() uint32 {
	i, ok := r.texts[string(r.buf)]
	if !ok {
		i = uint32(len(r.rec.Texts))
		s := string(r.buf)
		r.texts[s] = i
		r.rec.Texts = append(r.rec.Texts, s)
	}
	return i
}

func (r *Recorder) inst(c *Cycle, first uint32) {
	m := r.m
	r.text, r.size = "", 0
	if c.Kind == Fetch && c.Role == RoleOpcode || c.Kind == Ack && m.im == 0 {
		r.text, r.size = m.instruction(c)
	}
	key := placeKey{c.Inst, c.Kind == Reset}
	place, ok := r.places[key]
	if !ok {
		place = uint32(len(r.rec.Places))
		r.places[key] = place
		var p Place
		if r.locate != nil && !key.reset {
			p = r.locate(c.Inst)
		}
		r.rec.Places = append(r.rec.Places, p)
	}
	two := func(lo, hi uint16) uint32 { return uint32(lo) | uint32(hi)<<16 }
	alt := func(p uint8) uint16 { return uint16(m.alt[p&6])<<8 | uint16(m.alt[p&6|1]) }
	state := uint32(m.i) | uint32(m.rr)<<8 | uint32(m.im)<<18
	for i, on := range [...]bool{m.iff1, m.iff2} {
		if on {
			state |= 1 << (16 + i)
		}
	}
	if m.halted {
		state |= 1 << 20
	}
	r.rec.Insts = append(r.rec.Insts, first, uint32(c.Inst)|place<<16,
		two(m.pair(rB), m.pair(rD)), two(m.pair(rH), m.pair(rA)), two(m.pair(rIXH), m.pair(rIYH)), two(m.sp(), m.pc),
		two(alt(rB), alt(rD)), two(alt(rH), alt(rA)), state, two(m.known, m.altK))
}

// Recording gives what was recorded.
func (r *Recorder) Recording() *Recording {
	r.rec.Map = r.m.MemoryMap()
	return &r.rec
}

// Base64 packs a table for a page: 32-bit numbers, low byte first, in base64
// (RFC 4648).
func Base64(table []uint32) string {
	b := make([]byte, 4*len(table))
	for i, v := range table {
		binary.LittleEndian.PutUint32(b[4*i:], v)
	}
	return base64.StdEncoding.EncodeToString(b)
}
