package assembler

import (
	"fmt"

	"romwright/diag"
	"romwright/directives"
	"romwright/lexer"
	"romwright/parser"
)

// listSize is the number of bytes of a DEFB or DEFW list.
func (a *run) listSize(w *where, words bool) (int64, bool) {
	width := int64(1)
	if words {
		width = 2
	}
	total := int64(0)
	for i := range w.shape.Operands {
		o := &w.shape.Operands[i]
		item := o.Expr
		count := int64(1)
		if o.Dup != nil {
			item = *o.Dup
			n, ok := a.dupCount(w, o)
			if !ok {
				return 0, false
			}
			count = n
		}
		one := width
		if tok, slot, ok := loneString(&item); ok && !words {
			b, ok := a.bytesOf(w, tok, w.slots[slot])
			if !ok {
				return 0, false
			}
			one = int64(len(b))
		}
		total += count * one
		if total > directives.Space {
			a.fail(w.index, int(o.First), diag.ValueOutOfRange, "the CPU sees 64K", "the list has more than %d bytes", directives.Space)
			return 0, false
		}
	}
	return total, true
}

// loneString: the item is one string and nothing else.
func loneString(e *parser.Expr) (tok int, slot uint16, ok bool) {
	if len(e.Code) == 1 && e.Code[0].Op == lexer.String && e.End == e.First+1 {
		return int(e.Code[0].Tok), e.Code[0].Slot, true
	}
	return 0, 0, false
}

func (a *run) dupCount(w *where, o *parser.Operand) (int64, bool) {
	was := w.need
	w.need = true
	n, state := a.eval(w, &o.Expr)
	w.need = was
	if state != valueKnown {
		return 0, false
	}
	if n < 0 || n > directives.Space {
		a.fail(w.index, int(o.First), diag.ValueOutOfRange, "", "DUP cannot repeat %d times", n)
		return 0, false
	}
	return n, true
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
