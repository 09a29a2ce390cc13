package rom

import (
	"bufio"
	"fmt"
	"io"

	"romwright/diag"
)

// Intel HEX is described in Intel's "Hexadecimal Object File Format
// Specification", revision A, 1988; S-records in appendix C of Motorola's
// "M68000 Family Programmer's Reference Manual". Both write a record as a
// line of hexadecimal pairs with a length, an address, data and a checksum.

// perRecord is how many data bytes a record holds at most; records end at
// multiples of it, so that a small change changes few lines.
const perRecord = 16

// Addressing says which addresses a record file holds.
type Addressing uint8

// The addressings.
const (
	CPUAddresses  Addressing = iota // as the CPU sees the chip
	ChipAddresses                   // counted from the chip's first cell
)

// base is what is taken off a CPU address.
func (a Addressing) base(im *Image) int {
	if a == ChipAddresses {
		return im.At
	}
	return 0
}

// eachRecord calls f for every run of used cells that fits a record.
func eachRecord(im *Image, base int, f func(addr int, data []byte)) {
	for _, r := range im.UsedRanges() {
		for a := r.First; a <= r.Last; {
			n := min(perRecord-(a-base)%perRecord, r.Last-a+1)
			f(a-base, im.Data[a-im.At:a-im.At+n])
			a += n
		}
	}
}

// entry is the start address as the file shall give it, 0 where there is
// none or it lies below the base.
func entry(im *Image, base int) int { return max(im.Entry-base, 0) }

// recordWriter writes one record after another and adds its bytes up.
type recordWriter struct {
	w   *bufio.Writer
	sum byte
}

const hexDigits = "0123456789ABCDEF"

func (r *recordWriter) byte(b byte) {
	r.sum += b
	r.w.WriteByte(hexDigits[b>>4]) // a bufio.Writer keeps its error for Flush
	r.w.WriteByte(hexDigits[b&15])
}

// number writes the low size bytes of v, high byte first.
func (r *recordWriter) number(v, size int) {
	for i := size - 1; i >= 0; i-- {
		r.byte(byte(v >> (8 * i)))
	}
}

func (r *recordWriter) bytes(b []byte) {
	for _, c := range b {
		r.byte(c)
	}
}

// hex writes an Intel HEX record.
func (r *recordWriter) hex(kind, offset int, data []byte) {
	r.sum = 0
	r.w.WriteByte(':')
	r.byte(byte(len(data)))
	r.number(offset, 2)
	r.byte(byte(kind))
	r.bytes(data)
	r.byte(-r.sum)
	r.w.WriteByte('\n')
}

// s writes an S-record whose address has size bytes.
func (r *recordWriter) s(kind byte, addr, size int, data []byte) {
	r.sum = 0
	r.w.WriteByte('S')
	r.w.WriteByte(kind)
	r.byte(byte(size + len(data) + 1))
	r.number(addr, size)
	r.bytes(data)
	r.byte(^r.sum)
	r.w.WriteByte('\n')
}

// WriteHex writes the used cells as Intel HEX. Addresses above FFFFH need
// records of type 02 (segment, up to FFFFFH) or 04 (linear); a file that
// needs neither has none. The start address stands in the address field of
// the end record, and above FFFFH in a record of type 05.
func WriteHex(w io.Writer, im *Image, addressing Addressing) error {
	base := addressing.base(im)
	out := recordWriter{w: bufio.NewWriter(w)}
	last := 0
	if r := im.UsedRanges(); len(r) > 0 {
		last = r[len(r)-1].Last - base
	}
	upper := 0
	eachRecord(im, base, func(addr int, data []byte) {
		if up := addr >> 16; up != upper {
			upper = up
			if last <= 0xFFFFF {
				out.hex(2, 0, []byte{byte(up << 4), 0})
			} else {
				out.hex(4, 0, []byte{byte(up >> 8), byte(up)})
			}
		}
		out.hex(0, addr&0xFFFF, data)
	})
	start := entry(im, base)
	if start > 0xFFFF {
		out.hex(5, 0, []byte{byte(start >> 24), byte(start >> 16), byte(start >> 8), byte(start)})
		start = 0
	}
	out.hex(1, start, nil)
	return out.w.Flush()
}

// WriteSRecords writes the used cells as S-records: S1 with S9 where 16 bits
// of address are enough, else S2 with S8, else S3 with S7. The end record
// holds the start address, an S5 record before it the number of data records.
func WriteSRecords(w io.Writer, im *Image, addressing Addressing) error {
	base := addressing.base(im)
	out := recordWriter{w: bufio.NewWriter(w)}
	last := entry(im, base)
	if r := im.UsedRanges(); len(r) > 0 {
		last = max(last, r[len(r)-1].Last-base)
	}
	size := 2
	switch {
	case last > 0xFFFFFF:
		size = 4
	case last > 0xFFFF:
		size = 3
	}
	out.s('0', 0, 2, nil)
	records := 0
	eachRecord(im, base, func(addr int, data []byte) {
		out.s('0'+byte(size-1), addr, size, data)
		records++
	})
	if records <= 0xFFFF { // what an S5 record can count
		out.s('5', records, 2, nil)
	}
	out.s('0'+byte(11-size), entry(im, base), size, nil)
	return out.w.Flush()
}

// record is one line of a record file while it is read.
type record struct {
	file string
	no   int
	line []byte
	body [260]byte // the bytes its digits stand for
	n    int
	lead int // characters before the first digit
}

// fail is an error at characters start..end-1 of the line.
func (r *record) fail(start, end int, hint, format string, args ...any) error {
	return &Error{diag.Diagnostic{
		Severity: diag.Error, Code: diag.BadRecord, Hint: hint, Message: fmt.Sprintf(format, args...),
		Range: diag.Range{File: r.file, Line: r.no, Start: start, End: min(end, len(r.line)), Text: string(r.line)},
	}}
}

// at is where byte i of the record begins in its line.
func (r *record) at(i int) int { return r.lead + 2*i }

// digits turns the pairs after the first lead characters into bytes. A record
// never has more than 256 bytes behind its length.
func (r *record) digits(lead int) error {
	r.lead, r.n = lead, 0
	text := r.line[lead:]
	for i, c := range text {
		if nibble(c) < 0 {
			return r.fail(lead+i, lead+i+1, "", "%s is no hexadecimal digit", show(c))
		}
	}
	if len(text)%2 != 0 {
		return r.fail(len(r.line)-1, len(r.line), "a digit is missing or one too many", "odd number of hexadecimal digits")
	}
	if len(text)/2 > len(r.body) {
		return r.fail(r.at(len(r.body)), len(r.line), "", "the record is too long")
	}
	for i := 0; i < len(text); i += 2 {
		r.body[r.n] = byte(nibble(text[i])<<4 | nibble(text[i+1]))
		r.n++
	}
	return nil
}

// number is the value of size bytes from byte i on.
func (r *record) number(i, size int) int {
	v := 0
	for _, b := range r.body[i : i+size] {
		v = v<<8 | int(b)
	}
	return v
}

// sum adds the bytes first..end-1 up.
func (r *record) sum(first, end int) byte {
	var s byte
	for _, b := range r.body[first:end] {
		s += b
	}
	return s
}

// store puts the data of a record, count bytes from byte i on, at addr.
func (r *record) store(s *scatter, addr, i, count int) error {
	if count > 0 && addr+count > MaxAddress {
		return r.fail(r.lead, len(r.line), "only chips of up to 16M bytes are handled", "address %XH is too high", addr)
	}
	for k, b := range r.body[i : i+count] {
		if earlier, again := s.put(addr+k, b); again && earlier != b {
			return r.fail(r.at(i+k), r.at(i+k)+2, "", "address %04XH was given before with another byte: first %02XH, now %02XH", addr+k, earlier, b)
		}
	}
	return nil
}

// nibble is the value of a hexadecimal digit, -1 for any other byte.
func nibble(c byte) int {
	switch {
	case c >= '0' && c <= '9':
		return int(c - '0')
	case c >= 'A' && c <= 'F':
		return int(c-'A') + 10
	case c >= 'a' && c <= 'f':
		return int(c-'a') + 10
	}
	return -1
}

// show quotes a byte for a message.
func show(c byte) string {
	if c > ' ' && c < 0x7F {
		return fmt.Sprintf("%q", c)
	}
	return fmt.Sprintf("byte %02XH", c)
}

// trimRecord takes white space off the end of a line.
func trimRecord(line []byte) []byte {
	for len(line) > 0 && (line[len(line)-1] == ' ' || line[len(line)-1] == '\t' || line[len(line)-1] == 0) {
		line = line[:len(line)-1]
	}
	return line
}

// readRecords runs one reader over the lines of a file. one returns true at
// the end record; nothing but empty lines may follow it.
func readRecords(file string, data []byte, what string, one func(r *record) (bool, error)) error {
	r := record{file: file}
	var err error
	ended := false
	textLines(data, func(no int, line []byte) bool {
		r.no, r.line = no, trimRecord(line)
		switch {
		case len(r.line) == 0:
		case ended:
			err = r.fail(0, len(r.line), "", "text after the end record")
		default:
			ended, err = one(&r)
		}
		return err == nil
	})
	if err == nil && !ended {
		r.no++
		r.line = nil
		err = r.fail(0, 0, "the file may have been cut off", "the %s end record is missing", what)
	}
	return err
}

// ReadHex reads Intel HEX strictly. file is the name shown in errors, which
// are *Error.
func ReadHex(file string, data []byte) (*Contents, error) {
	var s scatter
	c := &Contents{Format: IntelHex, Entry: -1}
	base, linear := 0, true // of the last type 02 or 04 record
	extended := false
	err := readRecords(file, data, "Intel HEX", func(r *record) (bool, error) {
		if r.line[0] != ':' {
			return false, r.fail(0, 1, "", "a record begins with ':', not %s", show(r.line[0]))
		}
		if err := r.digits(1); err != nil {
			return false, err
		}
		if r.n < 5 {
			return false, r.fail(0, len(r.line), "a record has at least 5 bytes", "the record is cut off")
		}
		count, offset, kind := int(r.body[0]), r.number(1, 2), r.body[3]
		if r.n != count+5 {
			return false, r.fail(1, 3, "", "the record says %d data bytes and has %d", count, r.n-5)
		}
		if want, found := -r.sum(0, r.n-1), r.body[r.n-1]; want != found {
			return false, r.fail(r.at(r.n-1), len(r.line), "a byte of the line is wrong", "checksum: expected %02XH, found %02XH", want, found)
		}
		size := [...]int{-1, 0, 2, 4, 2, 4}
		if int(kind) >= len(size) {
			return false, r.fail(7, 9, "types 00 to 05 exist", "record type %02XH is unknown", kind)
		}
		if n := size[kind]; n >= 0 && count != n {
			return false, r.fail(1, 3, "", "a record of type %02X has %d data bytes, not %d", kind, n, count)
		}
		if kind >= 2 && offset != 0 {
			return false, r.fail(3, 7, "", "a record of type %02X has address 0000, not %04X", kind, offset)
		}
		switch kind {
		case 0:
			// In a segment, addresses wrap at its end; nobody wants that.
			if offset+count > 0x10000 && (!linear || !extended) {
				return false, r.fail(3, 7, "", "the record's %d bytes run past the end of its 64K", count)
			}
			return false, r.store(&s, base+offset, 4, count)
		case 1:
			if offset != 0 {
				c.Entry = offset
			}
			return true, nil
		case 2:
			base, linear, extended = r.number(4, 2)<<4, false, true
		case 3:
			c.Entry = r.number(4, 2)<<4 + r.number(6, 2)
		case 4:
			base, linear, extended = r.number(4, 2)<<16, true, true
		case 5:
			c.Entry = r.number(4, 4)
		}
		return false, nil
	})
	if err != nil {
		return nil, err
	}
	c.Pieces = s.pieces()
	return c, nil
}

// ReadSRecords reads Motorola S-records strictly. file is the name shown in
// errors, which are *Error.
func ReadSRecords(file string, data []byte) (*Contents, error) {
	var s scatter
	c := &Contents{Format: SRecords, Entry: -1}
	records := 0
	err := readRecords(file, data, "S-record", func(r *record) (bool, error) {
		if r.line[0] != 'S' || len(r.line) < 2 {
			return false, r.fail(0, 1, "", "a record begins with 'S' and a digit")
		}
		kind := r.line[1]
		size := 0
		switch kind {
		case '0', '1', '5', '9':
			size = 2
		case '2', '6', '8':
			size = 3
		case '3', '7':
			size = 4
		default:
			return false, r.fail(1, 2, "types S0 to S3 and S5 to S9 exist", "record type S%s is unknown", diag.Printable(string(kind)))
		}
		if err := r.digits(2); err != nil {
			return false, err
		}
		if r.n < size+2 {
			return false, r.fail(0, len(r.line), "", "the record is cut off")
		}
		if n := int(r.body[0]); n != r.n-1 {
			return false, r.fail(2, 4, "", "the record says %d bytes and has %d", n, r.n-1)
		}
		if want, found := ^r.sum(0, r.n-1), r.body[r.n-1]; want != found {
			return false, r.fail(r.at(r.n-1), len(r.line), "a byte of the line is wrong", "checksum: expected %02XH, found %02XH", want, found)
		}
		addr, count := r.number(1, size), r.n-size-2
		if kind >= '5' && count != 0 {
			return false, r.fail(2, 4, "", "an S%c record has no data", kind)
		}
		switch kind {
		case '1', '2', '3':
			records++
			return false, r.store(&s, addr, size+1, count)
		case '5', '6':
			if addr != records {
				return false, r.fail(4, 4+2*size, "lines are missing or doubled", "the file counts %d data records and has %d", addr, records)
			}
		case '7', '8', '9':
			if addr != 0 {
				c.Entry = addr
			}
			return true, nil
		}
		return false, nil
	})
	if err != nil {
		return nil, err
	}
	c.Pieces = s.pieces()
	return c, nil
}
