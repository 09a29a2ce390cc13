package assembler

import (
	"fmt"

	"romwright/diag"
	"romwright/directives"
	"romwright/encoder"
	"romwright/lexer"
	"romwright/parser"
)

// timing is TSTATES(p,q), the T-states of the instructions from label p up to
// label q, each once and a conditional one as not taken; or LAP(p,q), the same
// for a loop whose last instruction jumps to p and counts as taken.
func (a *run) timing(w *where, in *parser.Instr) (int64, valueState) {
	lap := a.names.Text(a.names.Folded(lexer.Name(w.slots[in.Slot]))) == "LAP"
	name := "TSTATES"
	if lap {
		name = "LAP"
	}
	var at [2]uint32
	for i := range at {
		slot := in.Slot + 1 + uint16(i)
		id := lexer.Name(w.slots[slot])
		tok := int(w.shape.Slots[slot])
		s := a.symbol(a.visible(id))
		switch s.state {
		case bad:
			return 0, valueBad
		case undefined:
			word := parser.Instr{Op: lexer.Word, Slot: slot, Tok: uint16(tok)}
			return a.symbolValue(w, &word)
		}
		a.used(s, w.index)
		if s.kind != label || s.def == 0 {
			a.valueError(w, tok, diag.BadTiming, fmt.Sprintf("%s needs labels, and %s is a %s", name, a.show(id), kindWords[s.kind]))
			return 0, valueBad
		}
		at[i] = s.def - 1
	}
	if at[1] <= at[0] {
		a.valueError(w, int(in.Tok), diag.BadTiming, fmt.Sprintf("the second label of %s must stand below the first", name))
		return 0, valueBad
	}
	from, to := a.countedTo(at[0]), a.countedTo(at[1])
	if i := to.other; i > at[0] {
		i-- // it was kept as index + 1
		if !w.quiet {
			d := a.errorAt(w.index, int(in.Tok), diag.BadTiming, "%s can count instructions only", name)
			d.Related = append([]diag.Related{{Range: a.tokenRange(i, a.opToken(i)), Message: "this is none"}}, d.Related...)
			a.diags.Add(d)
		}
		return 0, valueBad
	}
	total := to.total - from.total
	if lap {
		last := noParent
		if to.sized > at[0] {
			last = to.sized - 1
		}
		extra, state := a.lapEnd(w, in, last, at[0])
		if state != valueKnown {
			return 0, state
		}
		total += extra
	}
	return total, valueKnown
}

// counted sums up the program in front of a placed line, so that the time of a
// TSTATES does not depend on how far apart its labels are.
type counted struct {
	total int64  // T-states of the instructions
	other uint32 // index + 1 of the last line that is neither an instruction nor a line without bytes
	sized uint32 // index + 1 of the last line with bytes
}

// countedTo sums up the lines in front of a placed one.
func (a *run) countedTo(index uint32) counted {
	if len(a.counted) == 0 {
		a.counted = append(a.counted, counted{})
	}
	for i := uint32(len(a.counted)) - 1; i < index; i++ {
		c := a.counted[i]
		if p := a.placed.at(i); p.flags&flagSkipped == 0 {
			t, ok := a.tstates(p, i)
			if !ok {
				c.other = i + 1
			}
			c.total += t
			if p.size > 0 {
				c.sized = i + 1
			}
		}
		a.counted = append(a.counted, c)
	}
	return a.counted[index]
}

// tstates counts one placed line; false where it is neither an instruction nor
// a line without bytes.
func (a *run) tstates(p *placed, index uint32) (int64, bool) {
	switch {
	case p.op >= opForm:
		t := a.forms.get(p.op).Timings()
		return int64(t[len(t)-1].TStates), true
	case p.op == opPairs:
		return 8, true // two loads between registers, 4 each
	case p.op == directiveOp(directives.Org), p.op == directiveOp(directives.RunAt), p.op == directiveOp(directives.EndRunAt):
		return 0, false
	case p.op == directiveOp(directives.Align):
		return 0, int64(p.size) == 0 && a.nextAddress(index) == p.addr
	}
	return 0, p.size == 0
}

// nextAddress is the address of the line behind a placed one.
func (a *run) nextAddress(index uint32) uint32 {
	if index+1 < a.placed.n {
		return a.placed.at(index + 1).addr
	}
	return uint32(a.addr)
}

// lapEnd checks that the last instruction of a loop jumps to its first, and
// gives what it takes more when it does.
func (a *run) lapEnd(w *where, in *parser.Instr, last, first uint32) (int64, valueState) {
	bad := func(at uint32, msg string) (int64, valueState) {
		if !w.quiet {
			d := a.errorAt(w.index, int(in.Tok), diag.BadTiming, "%s", msg)
			if at != noParent {
				d.Related = append([]diag.Related{{Range: a.tokenRange(at, a.opToken(at)), Message: "the last instruction"}}, d.Related...)
			}
			a.diags.Add(d)
		}
		return 0, valueBad
	}
	if last == noParent {
		return bad(noParent, "LAP spans no instruction")
	}
	p := a.placed.at(last)
	switch m := a.mnemonicOf(last); m {
	case encoder.JP, encoder.JR, encoder.DJNZ:
		jump := a.at(last)
		jump.need, jump.quiet = w.need, w.quiet
		o := &jump.shape.Operands[len(jump.shape.Operands)-1]
		kind := encoder.Operand{}
		a.operandKind(&kind, o, jump.slots, m, len(jump.shape.Operands)-1, len(jump.shape.Operands), last)
		if kind.Kind != encoder.KImm {
			break
		}
		v, state := a.eval(&jump, &o.Expr)
		if state != valueKnown {
			return 0, state
		}
		if v != int64(a.placed.at(first).addr) {
			break
		}
		t := a.forms.get(p.op).Timings()
		return int64(t[0].TStates - t[len(t)-1].TStates), valueKnown
	}
	return bad(last, "the last instruction of a LAP must jump to its first label")
}
