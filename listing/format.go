package listing

import (
	"io"
	"strconv"
	"unicode/utf8"
)

// BytesPerRow is the most bytes that stand in one row.
const BytesPerRow = 8

const (
	magic   = "Romwright listing 1"
	columns = "ADDR      BYTES                   T     LINE    SOURCE"

	colBytes  = 10 // columns, 0-based, of a row's fields
	colT      = 34
	colLine   = 40
	colSource = 48

	// A run of one value that would fill more than two rows is abbreviated.
	longRun = 2*BytesPerRow + 1

	symbolColumns = "NAME                    VALUE  KIND      DEFINED   USED"
	symbolWrap    = 100

	blanks    = "                                                                "
	hexDigits = "0123456789ABCDEF"
)

const bufferSize = 1 << 16

// section is the part of the listing that the writer is in.
type section uint8

const (
	inRows section = iota
	inSymbols
	inMap
	closed
)

// Writer writes a listing piece by piece, in constant memory: rows, then
// symbols, then areas, then Close, which must always be called.
//
// A long listing is written in the background, one buffer while the next is
// filled: the system takes as long over it as the rows do.
type Writer struct {
	w       io.Writer
	buf     []byte
	full    chan []byte // to the goroutine that writes; nil until there is one
	empty   chan []byte // from it
	err     error       // of writing; the goroutine's until it ends
	ended   chan struct{}
	section section
	source  string // places in this file are written without its name
	file    string // file of the row before
}

// NewWriter starts a listing with its header. Errors of w show at Close.
func NewWriter(w io.Writer, h Header) *Writer {
	b := make([]byte, 0, bufferSize)
	b = append(b, magic+"\nSource    "...)
	b = appendText(b, h.Source)
	b = append(b, "\nCapacity  "...)
	b = strconv.AppendInt(b, int64(h.Capacity), 10)
	b = append(b, "\nAt        "...)
	b = appendHex(b, uint64(h.At))
	b = append(b, "\nBlank     "...)
	b = append(b, hexDigits[h.Blank>>4], hexDigits[h.Blank&15])
	b = append(b, "\nCopies    "...)
	b = strconv.AppendInt(b, int64(h.Copies), 10)
	b = append(b, "\nEntry     "...)
	if h.Entry < 0 {
		b = append(b, "none"...)
	} else {
		b = appendHex(b, uint64(h.Entry))
	}
	for _, r := range h.RAM {
		b = append(b, "\nRAM       "...)
		b = appendHex(b, uint64(r.First))
		b = append(b, '-')
		b = appendHex(b, uint64(r.Last))
	}
	b = append(b, "\n\n"+columns+"\n"...)
	return &Writer{w: w, buf: b, source: h.Source, file: h.Source}
}

// Row writes one row. It keeps nothing of r, so that the caller may fill the
// same Row and Bytes again.
func (w *Writer) Row(r *Row) {
	w.enter(inRows, "")
	w.buf = appendFileRow(w.buf, &w.file, r)
	w.flush()
}

// block writes rows that were made by appendFileRow, the last of them in file.
func (w *Writer) block(rows []byte, file string) {
	w.enter(inRows, "")
	w.buf = append(w.buf, rows...)
	w.file = file
	w.flush()
}

// appendFileRow appends a row, and before it the name of its file where that is
// not file, the file of the row before.
func appendFileRow(b []byte, file *string, r *Row) []byte {
	if r.File != *file {
		*file = r.File
		b = append(b, "file "...)
		b = appendText(b, r.File)
		b = append(b, '\n')
	}
	return AppendRow(b, r)
}

// Symbol writes one symbol.
func (w *Writer) Symbol(s *Symbol) {
	w.enter(inSymbols, "\nSYMBOLS\n"+symbolColumns+"\n")
	b := w.buf
	start := len(b)
	b = appendWord(b, s.Name)
	b = pad(b, start, 24)
	b = appendValue(b, s.Value)
	b = pad(b, start, 31)
	b = appendWord(b, s.Kind)
	b = pad(b, start, 41)
	b = w.appendPlace(b, s.Defined)
	if len(s.Uses) > 0 {
		b = pad(b, start, 51)
	}
	for i, u := range s.Uses {
		if i > 0 {
			if len(b)-start > symbolWrap {
				b = append(b, '\n')
				start = len(b)
				b = append(b, blanks[:51]...)
			} else {
				b = append(b, ' ')
			}
		}
		b = w.appendPlace(b, u)
	}
	w.buf = append(b, '\n')
	w.flush()
}

// Area writes one range of the memory map.
func (w *Writer) Area(a Area) {
	w.enter(inMap, "\nMAP\n")
	b := w.buf
	start := len(b)
	b = appendHex(b, uint64(a.First))
	b = append(b, '-')
	b = appendHex(b, uint64(a.Last))
	b = pad(b, start, 11)
	b = append(b, a.Kind...)
	b = pad(b, start, 22)
	b = strconv.AppendInt(b, int64(a.Last-a.First+1), 10)
	w.buf = append(b, '\n')
	w.flush()
}

// Close ends the listing with the CRC-32 of the whole image (all copies), so
// that a reader can tell a damaged listing, and gives the first error.
func (w *Writer) Close(crc32 uint32) error {
	w.enter(inMap, "\nMAP\n")
	w.buf = append(w.buf, "CRC-32 "...)
	for shift := 28; shift >= 0; shift -= 4 {
		w.buf = append(w.buf, hexDigits[crc32>>shift&15])
	}
	w.buf = append(w.buf, "\nEND\n"...)
	w.section = closed
	if w.full == nil {
		w.write(w.buf)
		return w.err
	}
	w.full <- w.buf
	close(w.full)
	<-w.ended
	return w.err
}

// enter moves on to a section and writes its head.
func (w *Writer) enter(s section, head string) {
	if w.section > s {
		panic("BUG: listing: rows, symbols and areas out of order")
	}
	if w.section < s {
		w.section = s
		w.buf = append(w.buf, head...)
	}
}

// flush hands the buffer on where it is nearly full.
func (w *Writer) flush() {
	if len(w.buf) < bufferSize-1<<12 {
		return
	}
	if w.full == nil {
		w.full, w.empty, w.ended = make(chan []byte), make(chan []byte, 2), make(chan struct{})
		w.empty <- make([]byte, 0, bufferSize)
		go func() {
			defer close(w.ended)
			for b := range w.full {
				w.write(b)
				w.empty <- b[:0]
			}
		}()
	}
	w.full <- w.buf
	w.buf = <-w.empty
}

func (w *Writer) write(b []byte) {
	if w.err != nil {
		return
	}
	n, err := w.w.Write(b)
	if err == nil && n < len(b) {
		err = io.ErrShortWrite
	}
	w.err = err
}

// appendPlace writes "12", "lamps.asm:12" or "-" for nowhere.
func (w *Writer) appendPlace(b []byte, p Place) []byte {
	if p.Line == "" {
		return append(b, '-')
	}
	if p.File != w.source {
		b = appendWord(b, p.File)
		b = append(b, ':')
	}
	return append(b, p.Line...)
}

// AppendRow appends the row's lines, each with its line end. It allocates
// nothing beyond dst.
func AppendRow(dst []byte, r *Row) []byte {
	start := len(dst) // column 0; moved when a long field pushes the others
	dst = appendAddr(dst, r, 0)
	for len(dst)-start >= colBytes {
		start += 8
	}
	done := 0
	switch {
	case len(r.Bytes) > 0:
		dst = append(dst, blanks[:colBytes-len(dst)+start]...)
		dst, done = appendBytes(dst, r.Bytes)
	case r.HasValue:
		dst = append(dst, blanks[:colBytes-len(dst)+start]...)
		dst = append(dst, '=')
		dst = appendValue(dst, r.Value)
	case r.Reserved > 0:
		dst = append(dst, blanks[:colBytes-len(dst)+start]...)
		dst = append(dst, "reserves "...)
		dst = strconv.AppendInt(dst, int64(r.Reserved), 10)
	}
	if r.T != "" {
		dst = append(dst, blanks[:colT-len(dst)+start]...)
		dst = append(dst, r.T...)
		for len(dst)-start >= colLine {
			start += 8
		}
	}
	if r.Line != "" {
		dst = append(dst, blanks[:colLine-len(dst)+start]...)
		dst = append(dst, r.Line...)
		for len(dst)-start >= colSource {
			start += 8
		}
		if r.Text != "" {
			dst = append(dst, blanks[:colSource-len(dst)+start]...)
			dst = appendText(dst, r.Text)
		}
	}
	dst = append(dst, '\n')
	for done < len(r.Bytes) {
		start, n := len(dst), 0
		dst = appendAddr(dst, r, done)
		for len(dst)-start >= colBytes {
			start += 8
		}
		dst = append(dst, blanks[:colBytes-len(dst)+start]...)
		dst, n = appendBytes(dst, r.Bytes[done:])
		dst = append(dst, '\n')
		done += n
	}
	return dst
}

func appendAddr(dst []byte, r *Row, offset int) []byte {
	if r.Addr < 0 {
		return dst
	}
	dst = appendHex(dst, uint64(r.Addr+offset))
	if r.RunAddr >= 0 {
		dst = append(dst, '>')
		dst = appendHex(dst, uint64(r.RunAddr+offset))
	}
	return dst
}

// appendBytes writes one row's worth of b and tells how many bytes that was.
func appendBytes(dst, b []byte) ([]byte, int) {
	n := min(len(b), BytesPerRow)
	if len(b) >= longRun {
		if run := runLength(b); run >= longRun {
			dst = append(dst, hexDigits[b[0]>>4], hexDigits[b[0]&15])
			dst = append(dst, " times "...)
			return strconv.AppendInt(dst, int64(run), 10), run
		}
		// stop where a long run begins, so that it stands in one row
		for i := 1; i < n; i++ {
			if b[i] != b[i-1] && len(b)-i >= longRun && runLength(b[i:i+longRun]) == longRun {
				n = i
			}
		}
	}
	for i, c := range b[:n] {
		if i > 0 {
			dst = append(dst, ' ')
		}
		dst = append(dst, hexDigits[c>>4], hexDigits[c&15])
	}
	return dst, n
}

func runLength(b []byte) int {
	n := 1
	for n < len(b) && b[n] == b[0] {
		n++
	}
	return n
}

// appendHex writes at least four upper-case digits.
func appendHex(dst []byte, v uint64) []byte {
	for shift := 60; shift >= 16; shift -= 4 {
		if v>>shift != 0 {
			dst = append(dst, hexDigits[v>>shift&15])
		}
	}
	return append(dst, hexDigits[v>>12&15], hexDigits[v>>8&15], hexDigits[v>>4&15], hexDigits[v&15])
}

// appendValue writes at least four upper-case digits, with a sign if negative.
func appendValue(dst []byte, v int64) []byte {
	if v < 0 {
		return appendHex(append(dst, '-'), -uint64(v))
	}
	return appendHex(dst, uint64(v))
}

// pad goes to a column counted from start, or leaves two blanks where the
// text before is longer than that.
func pad(b []byte, start, column int) []byte {
	n := column - (len(b) - start)
	if n < 2 {
		n = 2
	}
	return append(b, blanks[:n]...)
}

// appendText writes any text so that it stays readable and can be restored:
// a byte that does not belong into a text file becomes \xNN (two upper-case
// digits). A backslash stays as it is unless what follows would make it look
// like such an escape; then it is escaped itself. Tabs stay.
func appendText(dst []byte, s string) []byte {
	i := 0
	for i < len(s) {
		if i+8 <= len(s) && allPlain(s[i:i+8]) {
			i += 8
			continue
		}
		if !plain(s[i]) {
			return appendEscaped(append(dst, s[:i]...), s[i:], false)
		}
		i++
	}
	return append(dst, s...)
}

// allPlain tells of eight bytes at once whether all are plain and none is a
// tab: most of a listing is such text, and byte by byte it was an eighth of
// the time. The bit tricks are common practice: a byte of x is less than n
// where x-n borrows, and equal to c where x^c is 0.
func allPlain(s string) bool {
	const ones, tops = 0x0101010101010101, 0x8080808080808080
	_ = s[7]
	x := uint64(s[0]) | uint64(s[1])<<8 | uint64(s[2])<<16 | uint64(s[3])<<24 |
		uint64(s[4])<<32 | uint64(s[5])<<40 | uint64(s[6])<<48 | uint64(s[7])<<56
	del, backslash := x^ones*0x7F, x^ones*'\\'
	return (x|(x-ones*' ')&^x|(del-ones)&^del|(backslash-ones)&^backslash)&tops == 0
}

// appendWord is appendText for names: blanks are escaped too.
func appendWord(dst []byte, s string) []byte {
	for i := 0; i < len(s); i++ {
		if !plain(s[i]) || s[i] == ' ' || s[i] == '\t' {
			return appendEscaped(append(dst, s[:i]...), s[i:], true)
		}
	}
	switch s {
	case "": // a word cannot be empty
		return append(dst, '-')
	case "-":
		return append(dst, `\x2D`...)
	}
	return append(dst, s...)
}

func plain(c byte) bool {
	return c >= ' ' && c < 0x7F && c != '\\' || c == '\t'
}

func appendEscaped(dst []byte, s string, word bool) []byte {
	for i := 0; i < len(s); {
		r, n := utf8.DecodeRuneInString(s[i:])
		if r == '\\' && looksEscaped(s[i:]) || hidden(r, n) || word && (r == ' ' || r == '\t') {
			for _, c := range []byte(s[i : i+n]) {
				dst = append(dst, '\\', 'x', hexDigits[c>>4], hexDigits[c&15])
			}
		} else {
			dst = append(dst, s[i:i+n]...)
		}
		i += n
	}
	return dst
}

// hidden tells of control characters, bytes that are not UTF-8, and the
// characters that make a line look like another one.
func hidden(r rune, n int) bool {
	return r == utf8.RuneError && n == 1 || r < ' ' && r != '\t' || r >= 0x7F && r < 0xA0 ||
		r == 0x2028 || r == 0x2029 || r >= 0x202A && r <= 0x202E || r >= 0x2066 && r <= 0x2069
}

// looksEscaped tells whether s begins with an escape as the reader takes it.
func looksEscaped(s string) bool {
	return len(s) >= 4 && s[0] == '\\' && s[1] == 'x' && upperHex(s[2]) >= 0 && upperHex(s[3]) >= 0
}

// upperHex gives the value of an upper-case hex digit, -1 for anything else.
func upperHex(c byte) int {
	switch {
	case c >= '0' && c <= '9':
		return int(c - '0')
	case c >= 'A' && c <= 'F':
		return int(c-'A') + 10
	}
	return -1
}

// Write writes a whole listing that is in memory. crc32 is that of the image
// with all its copies.
func Write(w io.Writer, d *Doc, crc32 uint32) error {
	lw := NewWriter(w, d.Header)
	for i := range d.Rows {
		lw.Row(&d.Rows[i])
	}
	for i := range d.Symbols {
		lw.Symbol(&d.Symbols[i])
	}
	for _, a := range d.Map {
		lw.Area(a)
	}
	return lw.Close(crc32)
}
