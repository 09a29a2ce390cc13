package assembler

import (
	"romwright/diag"
	"romwright/directives"
	"romwright/rom"
)

// maxTotal bounds the bytes that statements emit and reserve, which may be more
// than the CPU sees where they overlap.
const maxTotal = 512 << 20

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
	total := int64(0)
	for i := uint32(0); i < a.placed.n && !a.diags.Full(); i++ {
		p := a.placed.at(i)
		if p.op == opNone || p.flags&flagSkipped != 0 {
			continue
		}
		if total += int64(p.size); total > maxTotal {
			a.fail(i, a.opToken(i), diag.TooManyLines, "", "the program emits and reserves more than %d bytes in all", maxTotal)
			break
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
