package assembler

import (
	"fmt"
	"slices"

	"romwright/diag"
	"romwright/directives"
	"romwright/rom"
)

// advance counts the statement's bytes.
func (a *run) advance(p *placed, index uint32, n int64) {
	if n == 0 {
		return
	}
	p.flags |= flagAddress
	a.addrUsed = true
	end := a.addr + n
	if end > directives.Space || end+a.romDelta > directives.Space {
		p.flags |= flagNoEmission
		if !a.beyond && !a.sizeUnknown {
			a.fail(index, a.opToken(index), diag.OutsideChip, "the CPU sees 64K",
				"the statement needs %s from %s on and leaves the address space", plural(int(n), "%d byte", "%d bytes"), directives.Hex(a.addr))
		}
		a.beyond = true
		a.addr = min(directives.Space, end)
		if a.addr+a.romDelta > directives.Space {
			a.addr = directives.Space - a.romDelta
		}
		return
	}
	p.size = uint32(n)
	a.addr = end
}

// romAddr is where a statement's first byte lies in ROM.
func (a *run) romAddr(p *placed, index uint32) int64 {
	addr := int64(p.addr)
	if p.flags&flagRelocated == 0 {
		return addr
	}
	lo, hi := 0, len(a.deltas)
	for lo < hi {
		if mid := (lo + hi) / 2; a.deltas[mid].index <= index {
			lo = mid + 1
		} else {
			hi = mid
		}
	}
	if lo == 0 {
		return addr
	}
	return addr + a.deltas[lo-1].delta
}

// emit puts a statement's bytes into the image if there is room for them.
func (a *run) emit(p *placed, index uint32, code []byte) {
	if len(code) == 0 || p.flags&flagNoEmission != 0 {
		return
	}
	addr := a.romAddr(p, index)
	end := addr + int64(len(code))
	im := a.image
	if addr < int64(im.At) || end > int64(im.At)+int64(im.Capacity) {
		a.outside(p, index, addr, end)
		return
	}
	if addr < a.highest+1 || a.reserved.any(addr, end) {
		if !a.checkFree(p, index, addr, end) {
			return
		}
	}
	a.lowest, a.highest = min(a.lowest, addr), max(a.highest, end-1)
	im.PutBytes(int(addr), code)
}

// outside reports bytes that the chip does not hold; those that follow on are
// a consequence and are not reported.
func (a *run) outside(p *placed, index uint32, addr, end int64) {
	p.flags |= flagNoEmission
	follows := addr == a.failedEnd
	a.failedEnd = end
	if follows || a.sizeUnknown {
		return
	}
	im := a.image
	first := addr
	if addr >= int64(im.At) {
		first = max(addr, int64(im.At)+int64(im.Capacity))
	}
	hint := ""
	if n := end - int64(im.At); n > int64(im.Capacity) && addr >= int64(im.At) && !a.inRAM(addr) {
		hint = "a larger chip? CAPACITY " + sizeWord(nextPower(n))
	}
	a.fail(index, a.opToken(index), diag.OutsideChip, hint, "the byte at %s is outside the chip, which holds %d bytes from %s to %s",
		directives.Hex(first), im.Capacity, directives.Hex(int64(im.At)), directives.Hex(int64(im.At+im.Capacity-1)))
}

// inRAM: an address lies where RAM is declared.
func (a *run) inRAM(addr int64) bool {
	return slices.ContainsFunc(a.ram, func(r rom.Range) bool { return addr >= int64(r.First) && addr <= int64(r.Last) })
}

func nextPower(n int64) int64 {
	p := int64(1024)
	for p < n {
		p *= 2
	}
	return p
}

func sizeWord(n int64) string {
	if n%1024 == 0 {
		return fmt.Sprintf("%dK", n/1024)
	}
	return fmt.Sprint(n)
}

// checkFree looks for bytes emitted or reserved before. Where overlap is
// accepted, bytes emitted before give way.
func (a *run) checkFree(p *placed, index uint32, addr, end int64) bool {
	for x := addr; x < end; x++ {
		taken, reserved := a.image.UsedAt(int(x)), a.reserved.has(x)
		if !taken && !reserved {
			continue
		}
		owner := noParent
		if a.diags.Warnings() < diag.Limit {
			owner = a.owner(x, index)
		}
		if taken && a.acceptOf(index)&acceptOverlap != 0 {
			d := a.errorAt(index, a.opToken(index), diag.Overwritten, "the byte at %s is overwritten", directives.Hex(x))
			d.Severity = diag.Warning
			d.Related = a.ownerNote(owner, d.Related)
			a.diags.Add(d)
			a.overlaps = true
			return true
		}
		p.flags |= flagNoEmission
		follows := addr == a.failedEnd
		a.failedEnd = end
		if follows || a.sizeUnknown {
			return false
		}
		what := "emitted"
		if !taken {
			what = "reserved"
		}
		d := a.errorAt(index, a.opToken(index), diag.Overlap, "the byte at %s is %s already", directives.Hex(x), what)
		d.Hint = "ACCEPT overlap lets the last byte win"
		if !taken {
			d.Hint = ""
		}
		d.Related = a.ownerNote(owner, d.Related)
		a.diags.Add(d)
		return false
	}
	return true
}

func (a *run) ownerNote(owner uint32, rest []diag.Related) []diag.Related {
	if owner == noParent {
		return rest
	}
	return append([]diag.Related{{Range: a.tokenRange(owner, a.opToken(owner)), Message: "by this statement"}}, rest...)
}

// owner finds the last statement before index that took an address. What each
// address belongs to is noted from the first question on.
func (a *run) owner(addr int64, index uint32) uint32 {
	if a.owners == nil {
		a.owners = make([]uint32, directives.Space)
		for i := range a.owners {
			a.owners[i] = noParent
		}
	}
	for ; a.owned < index; a.owned++ {
		p := a.placed.at(a.owned)
		if p.size == 0 || p.flags&(flagSkipped|flagNoEmission) != 0 {
			continue
		}
		at := a.romAddr(p, a.owned)
		for x := at; x < at+int64(p.size); x++ {
			a.owners[x] = a.owned
		}
	}
	return a.owners[addr]
}

// reserve keeps addresses free of bytes.
func (a *run) reserve(p *placed, index uint32) {
	if p.flags&flagNoEmission != 0 {
		return
	}
	addr := a.romAddr(p, index)
	end := addr + int64(p.size)
	im := a.image
	if len(a.ram) > 0 && !a.fitted(addr, end) && !a.sizeUnknown {
		a.fail(index, a.opToken(index), diag.OutsideMemory, "RAM n, AT address says where RAM is fitted",
			"neither ROM nor RAM is fitted from %s to %s", directives.Hex(addr), directives.Hex(end-1))
	}
	for x := max(addr, int64(im.At)); x < min(end, int64(im.At)+int64(im.Capacity)) && x <= a.highest; x++ {
		if im.UsedAt(int(x)) {
			if !a.sizeUnknown {
				d := a.errorAt(index, a.opToken(index), diag.Overlap, "the byte at %s is emitted already", directives.Hex(x))
				d.Related = a.ownerNote(a.owner(x, index), d.Related)
				a.diags.Add(d)
			}
			return
		}
	}
	a.reserved.set(addr, end)
}

// fitted: every address from addr to end-1 is in ROM or RAM.
func (a *run) fitted(addr, end int64) bool {
	if a.memory.bits == nil {
		im := a.image
		a.memory.set(int64(im.At), min(directives.Space, int64(im.At)+int64(im.Capacity)))
		for _, r := range a.ram {
			a.memory.set(int64(r.First), int64(r.Last)+1)
		}
	}
	for x := addr; x < end; x++ {
		if !a.memory.has(x) {
			return false
		}
	}
	return true
}

// addresses is a set of addresses, 0..0FFFFH.
type addresses struct {
	bits []uint64
	lo   int64
	hi   int64
}

func (r *addresses) set(addr, end int64) {
	if r.bits == nil {
		r.bits = make([]uint64, directives.Space/64)
		r.lo = addr
	}
	r.lo, r.hi = min(r.lo, addr), max(r.hi, end)
	for x := addr; x < end; {
		if x&63 == 0 && x+64 <= end {
			r.bits[x>>6] = ^uint64(0)
			x += 64
			continue
		}
		r.bits[x>>6] |= 1 << (x & 63)
		x++
	}
}

func (r *addresses) has(x int64) bool {
	return r.bits != nil && x < directives.Space && r.bits[x>>6]>>(x&63)&1 != 0
}

// any tells whether the set may hold an address of the range.
func (r *addresses) any(addr, end int64) bool { return r.bits != nil && addr < r.hi && end > r.lo }

// crop cuts the image down to what was emitted (--unpadded).
func (a *run) crop() {
	if a.highest < 0 {
		a.diags.Add(diag.Diagnostic{Severity: diag.Error, Code: diag.NoCapacity,
			Range: diag.Range{File: a.lines.sources[0].path}, Message: "nothing was emitted, so there is nothing to write without a capacity"})
		return
	}
	old := a.image
	im, err := rom.NewImage(int(a.highest-a.lowest+1), int(a.lowest), old.Blank, old.Copies)
	if err != nil {
		panic("BUG: " + err.Error())
	}
	for _, r := range old.UsedRanges() {
		im.PutBytes(r.First, old.Data[r.First-old.At:r.Last-old.At+1])
	}
	a.image = im
	a.chip.at = a.lowest
}
