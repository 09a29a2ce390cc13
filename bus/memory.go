package bus

import "fmt"

// LoadROM fits a ROM at CPU address at and fills it. filled tells for each
// byte of data (0-based) whether something was put there; a fetch of another
// cell is warned about. With nil every cell counts as filled that is not FFH.
// A ROM that reaches beyond FFFFH is an error.
func (m *CPU) LoadROM(at int, data []byte, filledAt func(int) bool) error {
	if at < 0 || at+len(data) > 65536 {
		return fmt.Errorf("a ROM of %d bytes at %04XH reaches beyond FFFFH, the last address of the CPU", len(data), at)
	}
	for i, b := range data {
		m.mem[at+i] = b
		c := uint8(fitted)
		if filledAt == nil && b != 0xFF || filledAt != nil && filledAt(i) {
			c |= filled
		}
		m.cells[at+i] = c
	}
	return nil
}

// RAM is memory that can be written: Size bytes from At.
type RAM struct{ At, Size int }

// FitRAM fits RAM. Its cells hold FFH until they are written (what they hold
// on a board is chance). RAM where a ROM is, or beyond FFFFH, is an error.
func (m *CPU) FitRAM(r RAM) error {
	if r.Size <= 0 {
		return fmt.Errorf("RAM of %d bytes: at least 1 is needed", r.Size)
	}
	if r.At < 0 || r.At+r.Size > 65536 || r.Size > 65536 {
		return fmt.Errorf("RAM of %d bytes at %04XH reaches beyond FFFFH, the last address of the CPU", r.Size, r.At)
	}
	for a := r.At; a < r.At+r.Size; a++ {
		if m.cells[a]&fitted != 0 && m.cells[a]&writable == 0 {
			return fmt.Errorf("RAM of %d bytes at %04XH overlaps the ROM at %04XH", r.Size, r.At, a)
		}
	}
	for a := r.At; a < r.At+r.Size; a++ {
		m.cells[a] = fitted | writable
	}
	return nil
}

// Area is a stretch of the memory map, Last included.
type Area struct {
	First, Last int
	Kind        string // "ROM", "RAM" or "" where nothing is fitted
}

// MemoryMap lists what is fitted where, from 0000H to FFFFH without a gap.
func (m *CPU) MemoryMap() []Area {
	var areas []Area
	for a, c := range m.cells {
		kind := ""
		if c&writable != 0 {
			kind = "RAM"
		} else if c&fitted != 0 {
			kind = "ROM"
		}
		if n := len(areas); n > 0 && areas[n-1].Kind == kind {
			areas[n-1].Last = a
		} else {
			areas = append(areas, Area{a, a, kind})
		}
	}
	return areas
}
