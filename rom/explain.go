package rom

import (
	"fmt"
	"strings"
)

// handle is the caution wherever a hand goes to the chip or the board.
const handle = "Before you touch the chip or the board: power off board and programmer, earth yourself, mind pin 1 and the notch; the maker's data sheet decides."

// explain puts a finding into words.
func (r *reading) explain(f *Finding) {
	all := fmt.Sprintf("%d of %d bytes explained", f.Explained, f.Of)
	if f.misses > 0 {
		all += fmt.Sprintf(", %s not", count(f.misses, "byte"))
	}
	span := func(first, n int) Range { return Range{r.at + first, r.at + first + n - 1} }
	evidence := ""
	switch f.Fault {
	case BlankChip:
		f.Says = fmt.Sprintf("the chip reads %sH everywhere", f.Value)
		evidence = "every byte read is " + f.Value + "H"
		f.Readings = []string{"the chip was never written, or is write-protected and was blank before", "the chip is not selected, so that nothing drives the data lines", "the chip sits the wrong way round, or the programmer's type setting is wrong"}
		f.Look = []string{"If the chip is warm, take the power off at once: it may sit the wrong way round.", "Pin 1 and notch; chip enable and output enable; supply voltage at the chip's own pins.", "The type set in the programmer, and whether the part wants its software protection taken off first.", handle}
	case PreviousImage:
		f.Says = fmt.Sprintf("the chip still holds %s", f.Previous)
		evidence = "every byte read is that image's"
		f.Readings = []string{"the chip was not written this time, or is write-protected", "this is another chip than the one written"}
		f.Look = []string{"Whether the part's software protection must be taken off before it is written; a protected part says nothing.", "Which of your chips is in the socket.", handle}
	case DataLineStuck:
		f.Says = fmt.Sprintf("%s %s", names("data line", "D", f.Lines, "reads", "read"), asLevel(*f.Level))
		evidence = fmt.Sprintf("every byte is the image's with %s %s", names("bit", "", f.Lines, "", ""), [...]string{"clear", "set"}[*f.Level])
		f.Readings = []string{"the line is stuck or open while reading", "it was stuck or open while writing"}
		f.Look = []string{fmt.Sprintf("The path of %s: bent pin, socket contact, cold joint, bridge to ground or supply, another device that drives the bus.", pins("D", f.Lines)), handle}
	case DataLinesSwapped:
		f.Says = names("data lines", "D", f.Lines, "are exchanged", "are exchanged")
		evidence = fmt.Sprintf("every byte is the image's with bits %s exchanged", strings.Join(numbers("", f.Lines), " and "))
		if f.Order != nil {
			f.Says = names("data lines", "D", f.Lines, "are in another order", "are in another order")
			var steps []string
			for i, j := range f.Order {
				if i != j {
					steps = append(steps, fmt.Sprintf("D%d shows bit %d", i, j))
				}
			}
			evidence = strings.Join(steps, ", ")
		}
		f.Readings = []string{"the lines are exchanged while reading, or were while writing, not both"}
		f.Look = []string{fmt.Sprintf("The wiring of %s on the board, and the adapter of the programmer, against the data sheet.", pins("D", f.Lines)), handle}
	case DataLinesShorted:
		f.Says = fmt.Sprintf("%s (%s)", names("data lines", "D", f.Lines, "are", "are connected to each other"), wiredAs(*f.Level))
		evidence = fmt.Sprintf("in every byte bits %s both read as their %s", strings.Join(numbers("", f.Lines), " and "), [...]string{"AND", "OR"}[*f.Level])
		f.Readings = []string{"the short is there while reading, or was while writing"}
		f.Look = []string{fmt.Sprintf("A bridge between %s: solder, a bent pin, touching wires.", pins("D", f.Lines)), handle}
	case AddressLineStuck:
		line, lv := f.Lines[0], *f.Level
		f.Says = fmt.Sprintf("address line A%d reads as %d", line, lv)
		low, high := span(0, 1<<line), span(1<<line, 1<<line)
		if lv == 0 {
			evidence = fmt.Sprintf("every byte of %s equals %s, and so on", high, low)
			f.Readings = []string{"the line is stuck low, or open, while reading"}
		} else {
			evidence = fmt.Sprintf("every byte of %s equals %s, and so on", low, high)
			f.Readings = []string{"the line is stuck high, or open, while reading", "it is stuck, low or high, both while writing and while reading: the later half was written over the earlier one"}
		}
		if f.While != "" {
			f.Says = fmt.Sprintf("address line A%d was stuck at %d while writing", line, lv)
			written, unwritten := low, high
			if lv == 1 {
				written, unwritten = high, low
			}
			evidence = fmt.Sprintf("%s holds what was meant for %s, %s is blank, and so on", written, high, unwritten)
			f.Readings = []string{"the line was at fault in the programmer, not while reading"}
		}
		f.Look = []string{fmt.Sprintf("The path of A%d: bent pin, socket contact, cold joint, bridge to ground or supply.", line), "Whether the socket or the adapter wires this line at all: larger parts have lines that smaller sockets tie.", handle}
	case AddressLinesSwapped:
		f.Says = names("address lines", "A", f.Lines, "are exchanged", "are exchanged")
		a, b := 1<<f.Lines[0], 1<<f.Lines[1]
		evidence = fmt.Sprintf("%04XH holds what was meant for %04XH and the other way round, and so on", r.at+a, r.at+b)
		f.Readings = []string{"the lines are exchanged while reading, or were while writing, not both"}
		f.Look = []string{fmt.Sprintf("The wiring of %s on the board, and the adapter of the programmer, against the data sheet.", pins("A", f.Lines)), handle}
	case AddressLinesShorted:
		f.Says = fmt.Sprintf("%s (%s)", names("address lines", "A", f.Lines, "are", "are connected to each other"), wiredAs(*f.Level))
		a, b := 1<<f.Lines[0], 1<<f.Lines[1]
		to := 0
		if *f.Level == 1 {
			to = a | b
		}
		switch f.While {
		case "":
			evidence = fmt.Sprintf("%04XH and %04XH read as %04XH, and so on", r.at+a, r.at+b, r.at+to)
			f.Readings = []string{"the short is there while reading"}
		case "writing":
			evidence = fmt.Sprintf("what was meant for %04XH and %04XH went to %04XH, and so on", r.at+a, r.at+b, r.at+to)
			f.Readings = []string{"the short was there while writing only"}
		default:
			evidence = fmt.Sprintf("%04XH, %04XH and %04XH are one cell, which holds what was written last, and so on", r.at+a, r.at+b, r.at+to)
			f.Readings = []string{"the short is there while writing and while reading"}
		}
		f.Look = []string{fmt.Sprintf("A bridge between %s: solder, a bent pin, touching wires.", pins("A", f.Lines)), handle}
	case BytesLost:
		f.Says = fmt.Sprintf("the transfer lost %s before %04XH", count(f.Count, "byte"), r.at+f.At)
		evidence = fmt.Sprintf("equal up to %04XH; from there each byte is the one meant for %s further on", r.at+f.At-1, count(f.Count, "cell"))
		if f.At == 0 {
			evidence = fmt.Sprintf("each byte is the one meant for %s further on", count(f.Count, "cell"))
		}
		f.Readings = []string{"bytes were lost on the way to the programmer", "bytes were lost while the chip was read back"}
		f.Look = []string{"The serial line: handshake, speed, a receiver that is busy writing while bytes come in.", "Read the chip back once more: if the result changes, the reading is at fault."}
	case BytesDoubled:
		f.Says = fmt.Sprintf("the transfer doubled %s before %04XH", count(f.Count, "byte"), r.at+f.At)
		evidence = fmt.Sprintf("equal up to %04XH; from there each byte is the one meant for %s before", r.at+f.At-1, count(f.Count, "cell"))
		f.Readings = []string{"bytes were doubled on the way to the programmer", "bytes were doubled while the chip was read back"}
		f.Look = []string{"The serial line: a block sent twice and taken twice, a repeated line in the capture.", "Read the chip back once more: if the result changes, the reading is at fault."}
	case WriteStopped:
		what := "blank (" + f.Value + "H)"
		if f.Previous != "" {
			what = "as in " + f.Previous
		}
		f.Says = fmt.Sprintf("the writing stopped before %04XH", r.at+f.At)
		evidence = fmt.Sprintf("equal before %04XH, from there %s", r.at+f.At, what)
		if f.Boundary != f.At {
			evidence += fmt.Sprintf("; it may have stopped at %04XH already, where the two do not yet differ", r.at+f.Boundary)
		}
		f.Readings = []string{"the transfer or the programmer stopped early", "the rest is write-protected"}
		f.Look = []string{"The programmer's last message; the length it was told; the type and capacity set.", "Write the chip again from the begin and read it back."}
	case ImageMoved:
		f.Says = fmt.Sprintf("the image is in the chip, %04XH further on", *f.Offset)
		evidence = fmt.Sprintf("the byte read at %04XH is the one meant for %04XH, and so on around the chip's end", r.at+*f.Offset, r.at)
		if f.While != "" {
			evidence = fmt.Sprintf("the byte read at %04XH is the one meant for %04XH, and so on; what lies before is blank, what does not fit is cut off", r.at+*f.Offset, r.at)
		}
		if *f.Offset >= len(r.want) {
			evidence = fmt.Sprintf("the whole image begins at %04XH of what was read", *f.Offset)
			all = fmt.Sprintf("%d of %d bytes found there", len(r.want), len(r.want))
		}
		f.Readings = []string{"the image was written to another place of the chip", "the dump counts its addresses from another place"}
		f.Look = []string{"The start address in the programmer, for the file and for the chip.", "A larger part than the board decodes: which part of it do the tied address lines choose?", handle}
	case SingleCells:
		f.Says = fmt.Sprintf("%s, without a pattern", count(r.differing, "single byte differs", "single bytes differ"))
		evidence = "no fault of a line, of the transfer or of the writing explains them"
		f.Readings = []string{"the cells are worn or were badly written", "noise hit the reading"}
		f.Look = []string{"Read the chip back once more: bytes that change point to the reading, bytes that stay to the chip.", "Write it again; if the same cells fail, take another chip.", handle}
	}
	f.Evidence = evidence + "; " + all
}

// count gives "1 byte" or "2 bytes"; the plural may be given.
func count(n int, one string, many ...string) string {
	if n == 1 {
		return "1 " + one
	}
	if len(many) > 0 {
		return fmt.Sprintf("%d %s", n, many[0])
	}
	return fmt.Sprintf("%d %ss", n, one)
}

func numbers(letter string, lines []int) []string {
	var out []string
	for _, n := range lines {
		out = append(out, fmt.Sprintf("%s%d", letter, n))
	}
	return out
}

func pins(letter string, lines []int) string { return strings.Join(numbers(letter, lines), ", ") }

// names gives "data line D3 reads" or "data lines D3 and D4 read".
func names(what, letter string, lines []int, one, many string) string {
	verb := one
	if len(lines) > 1 {
		verb = many
		if !strings.HasSuffix(what, "s") {
			what += "s"
		}
	}
	return strings.TrimSpace(what + " " + strings.Join(numbers(letter, lines), " and ") + " " + verb)
}

func asLevel(n int) string { return fmt.Sprintf("as %d", n) }

func wiredAs(level int) string {
	return [...]string{"a 0 on either makes both 0", "a 1 on either makes both 1"}[level]
}
