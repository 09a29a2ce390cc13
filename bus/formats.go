package bus

import (
	"bufio"
	"encoding/csv"
	"encoding/json"
	"io"
	"strconv"
	"strings"
	"unicode/utf8"
)

// TextOptions say how a text sheet looks.
type TextOptions struct {
	ASCII  bool     // * and . for lamps instead of ● and ○
	Levels bool     // pin levels H and L instead of lit lamps
	Notes  []string // lines above the table
	Time   bool     // rows have a time
	Places bool     // rows have a source line or label
}

type textWriter struct {
	w   *bufio.Writer
	opt TextOptions
	buf []byte
}

// NewText writes a sheet for people, one row a line.
func NewText(w io.Writer, opt TextOptions) RowWriter {
	t := &textWriter{w: bufio.NewWriterSize(w, 32<<10), opt: opt}
	for _, n := range opt.Notes {
		t.w.WriteString(n)
		t.w.WriteByte('\n')
	}
	if len(opt.Notes) > 0 {
		t.w.WriteByte('\n')
	}
	head := "   clock "
	if opt.Time {
		head += "     time ns "
	}
	head += " cycle     T     addr  data              "
	if opt.Levels {
		head += "M1 MREQ IORQ RD WR RFSH HALT"
	} else {
		head += "lamps                       "
	}
	head += "  what happens"
	if opt.Places {
		head = pad(head, len(head)+wordsWidth-len("what happens")) + "  source"
	}
	t.w.WriteString(head + "\n")
	return t
}

// width of the words where a source line follows
const wordsWidth = 46

func pad(s string, n int) string {
	if len(s) >= n {
		return s
	}
	return s + strings.Repeat(" ", n-len(s))
}

func (t *textWriter) Row(r *Row) error {
	b := padLeft(t.buf[:0], strconv.AppendInt(nil, r.Clock, 10), 8)
	if r.Half != 0 {
		b = append(b, r.Half)
	} else {
		b = append(b, ' ')
	}
	if t.opt.Time {
		b = append(padLeft(b, r.Time, 12), ' ')
	}
	b = append(b, ' ')
	b = padRight(b, r.Kind.String(), 10)
	if r.T != "" {
		b = padRight(b, r.T, 6)
	} else {
		b = padRight(b, strconv.Itoa(r.TStates)+" T", 6)
	}
	if r.HasAddr {
		b = appendAddr(b, r.Addr)
	} else {
		b = append(b, "----"...)
	}
	b = append(b, "  "...)
	if r.HasData {
		b = append(b, hexDigits[r.Data>>4], hexDigits[r.Data&15], ' ', ' ')
		b = t.bits(b, r.Data)
	} else {
		b = append(b, "--           "...)
	}
	b = append(b, "     "...)
	b = t.signals(b, r.Lamps)
	b = append(b, "  "...)
	at := len(b)
	b = append(b, r.Text...)
	if t.opt.Places {
		if s := placeText(r); s != "" {
			for n := utf8.RuneCount(b[at:]); n < wordsWidth; n++ {
				b = append(b, ' ')
			}
			b = append(append(b, "  "...), s...)
		}
	}
	for len(b) > 0 && b[len(b)-1] == ' ' {
		b = b[:len(b)-1]
	}
	t.buf = append(b, '\n')
	_, err := t.w.Write(t.buf)
	return err
}

// placeText is what the source column says: the line on an instruction's first
// row, nothing on the others.
func placeText(r *Row) string {
	if !r.Begins {
		return ""
	}
	s := r.Location.String()
	if text := strings.TrimSpace(r.Location.Text); text != "" {
		s += "  " + printable(text)
	}
	return s
}

// printable keeps a source line from disturbing a terminal and the columns.
func printable(s string) string {
	return strings.Map(func(r rune) rune {
		if r == '\t' {
			return ' '
		}
		if !strconv.IsPrint(r) || r == utf8.RuneError {
			return '?'
		}
		return r
	}, s)
}

func (t *textWriter) bits(b []byte, v byte) []byte {
	on, off := "●", "○"
	if t.opt.ASCII {
		on, off = "*", "."
	}
	for i := 7; i >= 0; i-- {
		if v>>i&1 != 0 {
			b = append(b, on...)
		} else {
			b = append(b, off...)
		}
		if i == 4 {
			b = append(b, ' ')
		}
	}
	return b
}

// signals writes the names of the lit lamps in their columns, or the level of
// each pin: control pins are low where the signal is active.
func (t *textWriter) signals(b []byte, l Lamps) []byte {
	for i, name := range LampNames {
		if i > 0 {
			b = append(b, ' ')
		}
		on := l&(1<<i) != 0
		switch {
		case t.opt.Levels && on:
			b = padRight(b, "L", len(name))
		case t.opt.Levels:
			b = padRight(b, "H", len(name))
		case on:
			b = append(b, name...)
		default:
			b = append(b, "----"[:len(name)]...)
		}
	}
	return b
}

func (t *textWriter) Close() error { return t.w.Flush() }

func padLeft(b, s []byte, n int) []byte {
	for i := len(s); i < n; i++ {
		b = append(b, ' ')
	}
	return append(b, s...)
}

func padRight(b []byte, s string, n int) []byte {
	b = append(b, s...)
	for i := len(s); i < n; i++ {
		b = append(b, ' ')
	}
	return b
}

// columns are the fields of the CSV and JSON forms, in order.
var columns = [...]string{"clock", "half", "cycle_no", "t", "tstates", "time_ns", "cycle", "address", "data",
	"m1", "mreq", "iorq", "rd", "wr", "rfsh", "halt", "location", "text"}

// Positions in columns of the numbers, which JSON writes without quotes.
const (
	colClock, colCycleNo, colTStates, colTime = 0, 2, 4, 5
	colLamps, colLocation                     = 9, 16
)

// fields fills in a row's columns; empty where a row has no such thing.
func (r *Row) fields(f *[len(columns)]string) {
	*f = [len(columns)]string{}
	f[colClock] = strconv.FormatInt(r.Clock, 10)
	if r.Half != 0 {
		f[1] = string(rune(r.Half))
	}
	f[colCycleNo] = strconv.FormatInt(r.CycleNo, 10)
	f[3] = r.T
	if r.TStates != 0 {
		f[colTStates] = strconv.Itoa(r.TStates)
	}
	f[colTime] = string(r.Time)
	f[6] = r.Kind.String()
	if r.HasAddr {
		f[7] = string(appendAddr(nil, r.Addr))
	}
	if r.HasData {
		f[8] = string([]byte{hexDigits[r.Data>>4], hexDigits[r.Data&15]})
	}
	for i := range LampNames {
		f[colLamps+i] = "0"
		if r.Lamps&(1<<i) != 0 {
			f[colLamps+i] = "1"
		}
	}
	f[colLocation] = r.Location.String()
	f[colLocation+1] = string(r.Text)
}

type csvWriter struct {
	w      *csv.Writer
	fields [len(columns)]string
}

// NewCSV writes comma-separated values (RFC 4180, but lines end in LF) with a
// header line.
func NewCSV(w io.Writer) RowWriter {
	c := &csvWriter{w: csv.NewWriter(w)}
	_ = c.w.Write(columns[:]) // csv.Writer remembers an error, Close reports it
	return c
}

func (c *csvWriter) Row(r *Row) error {
	r.fields(&c.fields)
	return c.w.Write(c.fields[:])
}

func (c *csvWriter) Close() error {
	c.w.Flush()
	return c.w.Error()
}

type jsonWriter struct {
	w      *bufio.Writer
	fields [len(columns)]string
	buf    []byte
	rows   bool
}

// NewJSON writes an array of objects with the fields of the CSV form. Numbers
// are numbers, null where the CSV form is empty; the rest are strings.
func NewJSON(w io.Writer) RowWriter {
	return &jsonWriter{w: bufio.NewWriterSize(w, 32<<10)}
}

func (j *jsonWriter) Row(r *Row) error {
	r.fields(&j.fields)
	b := append(j.buf[:0], "[\n"...)
	if j.rows {
		b = append(j.buf[:0], ",\n"...)
	}
	j.rows = true
	for i, f := range j.fields {
		if i == 0 {
			b = append(b, '{')
		} else {
			b = append(b, ',')
		}
		b = append(b, '"')
		b = append(b, columns[i]...)
		b = append(b, `":`...)
		number := i == colClock || i == colCycleNo || i == colTStates || i == colTime ||
			i >= colLamps && i < colLocation
		switch {
		case number && f == "":
			b = append(b, "null"...)
		case number:
			b = append(b, f...)
		default:
			q, err := json.Marshal(f)
			if err != nil {
				return err
			}
			b = append(b, q...)
		}
	}
	j.buf = append(b, '}')
	_, err := j.w.Write(j.buf)
	return err
}

func (j *jsonWriter) Close() error {
	if !j.rows {
		j.w.WriteByte('[')
	}
	j.w.WriteString("\n]\n") // bufio.Writer remembers an error
	return j.w.Flush()
}
