package assembler

import (
	"errors"
	"fmt"
	"slices"
	"unsafe"

	"romwright/diag"
	"romwright/directives"
	"romwright/encoder"
	"romwright/lexer"
	"romwright/parser"
	"romwright/rom"
)

// passTwo evaluates and encodes what pass one placed.
func (a *run) passTwo() {
	size, at := a.chip.size, a.chip.at
	if a.opt.Unpadded && !a.chip.declared || size == 0 {
		size = directives.Space
	}
	if size > directives.Space && a.diags.Errors() > 0 {
		size = directives.Space // nothing will be written
	}
	im, err := rom.NewImage(int(size), int(at), byte(a.chip.blank), int(max(1, a.chip.copies)))
	if err != nil {
		// reported as a wrong declaration already
		if a.diags.Errors() == 0 {
			panic("BUG: " + err.Error())
		}
		im, _ = rom.NewImage(directives.Space, 0, 0xFF, 1)
	}
	a.image = im
	a.lowest, a.highest = directives.Space, -1
	a.failedEnd = -1
	for i := uint32(0); i < a.placed.n && !a.diags.Full(); i++ {
		p := a.placed.at(i)
		if p.op == opNone || p.flags&flagSkipped != 0 {
			continue
		}
		a.statement(p, i)
	}
	if a.opt.Unpadded && a.diags.Errors() == 0 {
		a.crop()
	}
}

// statement carries out one placed statement.
func (a *run) statement(p *placed, index uint32) {
	switch {
	case p.op >= opForm:
		if p.flags&flagNoEmission == 0 {
			a.encode(p, index)
		}
		return
	case p.op == opPairs:
		a.encodePairs(p, index)
		return
	case p.op == opMacro:
		return
	}
	switch id := directives.ID(p.op); id {
	case directives.Defb, directives.Defw:
		a.emitList(p, index, id == directives.Defw)
	case directives.Defs, directives.Align:
		a.fillOrReserve(p, index)
	case directives.Embed:
		a.emit(p, index, []byte(a.data[index]))
	case directives.Defl:
		a.setVariable(p, index)
	case directives.Require:
		a.require(index)
	case directives.End:
		a.setEntry(index)
	}
}

// encode evaluates an instruction's operands and emits its bytes.
func (a *run) encode(p *placed, index uint32) {
	f := a.forms.get(p.op)
	sh := a.parser.Shape(p.shape)
	m := f.Mnemonic()
	ok := true
	var ops []encoder.Operand
	if n := len(sh.Operands); n > 0 {
		w := where{index: index, shape: sh, slots: a.slots.get(p.slots, len(sh.Slots)), here: int64(p.addr)}
		ops = a.operandKinds(sh, w.slots, m, index)
		for i := range ops {
			op := &ops[i]
			switch {
			case op.Kind == encoder.KImm || op.Kind == encoder.KMem:
				if w.text == "" {
					w.text = a.textOf(p)
				}
				v, state := a.eval(&w, &sh.Operands[i].Expr)
				op.Value = v
				ok = ok && state == valueKnown
			case op.HasDisp:
				if w.text == "" {
					w.text = a.textOf(p)
				}
				v, state := a.displacement(&w, &sh.Operands[i].Expr)
				op.Value = v
				ok = ok && state == valueKnown
			}
			ops = a.ops[:n] // eval leaves them alone, but keep the slice's home clear
		}
	}
	if !ok {
		return
	}
	code, err := f.Encode(a.buf[:0], ops, int64(p.addr))
	if err != nil {
		code, ok = a.refused(p, index, f, ops, err)
		if !ok {
			return
		}
	}
	a.buf = code[:0]
	a.emit(p, index, code)
}

// displacement is the value of an index operand without its register, which
// stands first and counts 0.
func (a *run) displacement(w *where, e *parser.Expr) (int64, valueState) {
	base := len(a.stack)
	defer func() { a.stack = a.stack[:base] }()
	return a.evalFrom(w, e.Code, true)
}

// refused explains a value that does not fit, or narrows it where that is
// accepted.
func (a *run) refused(p *placed, index uint32, f *encoder.Form, ops []encoder.Operand, err error) ([]byte, bool) {
	var ve *encoder.ValueError
	if !errors.As(err, &ve) {
		panic("BUG: Encode gives another error")
	}
	o := a.parser.Shape(p.shape).Operands[min(ve.Operand, len(a.parser.Shape(p.shape).Operands)-1)]
	tok := int(o.First)
	relative := ve.What == "relative jump"
	if relative && a.sizeUnknown && ve.Value > ve.Min-64 && ve.Value < ve.Max+64 {
		return nil, false // the distance is off by statements whose size is unknown
	}
	if (ve.What == "byte" || ve.What == "word") && a.acceptOf(index)&acceptNarrowing != 0 {
		code, err := f.EncodeNarrow(a.buf[:0], ops, int64(p.addr))
		if err == nil {
			a.warnNarrowed(index, tok, ve.What, ve.Value)
			return code, true
		}
	}
	switch {
	case relative:
		hint := "use JP"
		if f.Mnemonic() == encoder.DJNZ {
			hint = "use DEC B and JP NZ, which changes the flags"
		}
		a.fail(index, tok, diag.ValueOutOfRange, hint, "the target is %d bytes away; %s reaches %d to %d",
			ve.Value, f.Mnemonic(), ve.Min, ve.Max)
	case ve.What == "restart address":
		a.fail(index, tok, diag.ValueOutOfRange, "one of 0, 8, 10H, 18H, 20H, 28H, 30H, 38H", "%d (%s) is no restart address",
			ve.Value, directives.Hex(ve.Value))
	default:
		a.rangeError(index, tok, ve.What, ve.Value, ve.Min, ve.Max)
	}
	return nil, false
}

func (a *run) rangeError(index uint32, tok int, what string, v, low, high int64) {
	hint := ""
	if what == "byte" {
		hint = "LOW or HIGH takes one byte of a value"
	}
	a.fail(index, tok, diag.ValueOutOfRange, hint, "%d (%s) is no %s: %d to %d", v, directives.Hex(v), what, low, high)
}

func (a *run) warnNarrowed(index uint32, tok int, what string, v int64) {
	a.warn(index, tok, diag.Narrowed, "%d (%s) does not fit a %s: its high bits are lost", v, directives.Hex(v), what)
}

// encodePairs emits the two loads that a load of a pair stands for.
func (a *run) encodePairs(p *placed, index uint32) {
	sh := a.parser.Shape(p.shape)
	ops := a.operandKinds(sh, a.slots.get(p.slots, len(sh.Slots)), encoder.LD, index)
	to, from := ops[0].Reg, ops[1].Reg
	code := a.buf[:0]
	for _, half := range []func(encoder.Reg) encoder.Reg{high, low} {
		pair := []encoder.Operand{{Kind: encoder.KReg, Reg: half(to)}, {Kind: encoder.KReg, Reg: half(from)}}
		f, err := encoder.Select(encoder.LD, pair, false)
		if err == nil {
			code, err = f.Encode(code, pair, 0)
		}
		if err != nil {
			panic("BUG: " + err.Error())
		}
	}
	a.buf = code[:0]
	a.emit(p, index, code)
}

// emitList emits DEFB or DEFW.
func (a *run) emitList(p *placed, index uint32, words bool) {
	if p.size == 0 {
		return
	}
	w := a.at(index)
	out := a.list[:0]
	ok := true
	for i := range w.shape.Operands {
		o := &w.shape.Operands[i]
		item, count := &o.Expr, int64(1)
		if o.Dup != nil {
			item = o.Dup
			n, good := a.dupCount(&w, o)
			if !good {
				return
			}
			count = n
		}
		start := len(out)
		if tok, slot, lone := loneString(item); lone && !words {
			b, good := a.bytesOf(&w, tok, w.slots[slot])
			if !good {
				return
			}
			out = append(out, b...)
		} else {
			v, state := a.eval(&w, item)
			if state != valueKnown {
				ok = false
				continue
			}
			low, high, what := int64(-256), int64(255), "byte"
			if words {
				low, high, what = -65536, 65535, "word"
			}
			if v < low || v > high {
				if a.acceptOf(index)&acceptNarrowing != 0 {
					a.warnNarrowed(index, int(item.First), what, v)
				} else {
					a.rangeError(index, int(item.First), what, v, low, high)
					ok = false
				}
			}
			out = append(out, byte(v))
			if words {
				out = append(out, byte(v>>8))
			}
		}
		if count == 0 {
			out = out[:start]
		}
		one := out[start:]
		for n := int64(1); n < count && len(out) <= int(p.size); n++ {
			out = append(out, one...)
		}
	}
	a.list = out[:0]
	if ok {
		if len(out) != int(p.size) {
			panic(fmt.Sprintf("BUG: a list of %d bytes was placed as %d", len(out), p.size))
		}
		a.emit(p, index, out)
	}
}

// fillOrReserve carries out DEFS and ALIGN.
func (a *run) fillOrReserve(p *placed, index uint32) {
	if p.flags&flagReserves != 0 {
		if p.size > 0 {
			a.reserve(p, index)
		}
		return
	}
	w := a.at(index)
	if len(w.shape.Operands) < 2 {
		return
	}
	o := &w.shape.Operands[1]
	v, state := a.eval(&w, &o.Expr)
	if state != valueKnown {
		return
	}
	if v < -256 || v > 255 {
		if a.acceptOf(index)&acceptNarrowing == 0 {
			a.rangeError(index, int(o.First), "byte", v, -256, 255)
			return
		}
		a.warnNarrowed(index, int(o.First), "byte", v)
	}
	out := a.list[:0]
	for range p.size {
		out = append(out, byte(v))
	}
	a.list = out[:0]
	a.emit(p, index, out)
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

// setVariable gives a DEFL name its value from here on.
func (a *run) setVariable(p *placed, index uint32) {
	if p.flags&flagDefines == 0 {
		return
	}
	w := a.at(index)
	name := a.definedName(p)
	v, state := a.eval(&w, &w.shape.Operands[0].Expr)
	s := a.symbol(name)
	if s.kind != variable || s.state == bad {
		return
	}
	if state == valueKnown {
		s.value, s.state = v, known
		if a.variables == nil {
			a.variables = map[uint32]int64{}
		}
		a.variables[index] = v
	}
}

// require checks a REQUIRE; where it does not hold, both sides are shown.
func (a *run) require(index uint32) {
	w := a.at(index)
	if len(w.shape.Operands) == 0 {
		return
	}
	w.cond = true
	o := &w.shape.Operands[0]
	message := ""
	if len(w.shape.Operands) == 2 {
		text := &w.shape.Operands[1]
		tok, slot, ok := loneString(&text.Expr)
		if !ok {
			a.fail(index, int(text.First), diag.Syntax, "write it as "+directives.Get(directives.Require).Syntax, "the text must be a string")
			return
		}
		b, ok := a.bytesOf(&w, tok, w.slots[slot])
		if !ok {
			return
		}
		message = ": " + diag.Printable(string(b))
	}
	v, state := a.eval(&w, &o.Expr)
	if state != valueKnown || v != 0 || a.sizeUnknown {
		return
	}
	values := ""
	code := o.Code
	if last := code[len(code)-1]; last.Op.Precedence() == lexer.PrecComparison {
		split := rightOperand(code[:len(code)-1])
		w.quiet = true
		left, s1 := a.evalCode(&w, code[:split])
		right, s2 := a.evalCode(&w, code[split:len(code)-1])
		if s1 == valueKnown && s2 == valueKnown {
			values = fmt.Sprintf(": the left side is %d (%s), the right side %d (%s)", left, directives.Hex(left), right, directives.Hex(right))
		}
	}
	a.fail(index, int(o.First), diag.RequirementFailed, "", "REQUIRE does not hold%s%s", message, values)
}

// rightOperand is where the code of the last whole value in code begins.
func rightOperand(code []parser.Instr) int {
	need := 1
	for i := len(code) - 1; i >= 0; i-- {
		switch in := &code[i]; {
		case in.Unary:
		case in.Op.Precedence() > 0:
			need++
		default:
			need--
		}
		if need == 0 {
			// the unary operators in front of a value stand behind it
			return i
		}
	}
	return 0
}

// setEntry notes the address of END. An included file's END counts too, if no
// other has been.
func (a *run) setEntry(index uint32) {
	w := a.at(index)
	if len(w.shape.Operands) == 0 {
		return
	}
	v, state := a.eval(&w, &w.shape.Operands[0].Expr)
	if state != valueKnown {
		return
	}
	if v < 0 || v >= directives.Space {
		a.fail(index, int(w.shape.Operands[0].First), diag.ValueOutOfRange, "the CPU sees 64K", "%d (%s) is no address", v, directives.Hex(v))
		return
	}
	a.entry = int(v)
}

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

// asString makes a string of bytes that nobody else keeps, without a copy.
func asString(b []byte) string { return unsafe.String(unsafe.SliceData(b), len(b)) }
