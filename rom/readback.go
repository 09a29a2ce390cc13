package rom

import (
	"bytes"
	"unicode/utf8"

	"romwright/diag"
)

// ReadBack reads whatever came off a chip: Intel HEX, S-records, a terminal
// capture of a hex dump or of records, or a binary file, told apart by
// content. file is the name shown in errors, which are *Error; size is the
// length that a binary file of the chip would have, 0 if unknown.
func ReadBack(file string, data []byte, size int) (*Contents, error) {
	c, err := readBack(file, data, size)
	if err == nil && len(c.Pieces) == 0 {
		return nil, noDump(file, "it gives no byte of the chip", "")
	}
	return c, err
}

func readBack(file string, data []byte, size int) (*Contents, error) {
	if len(data) == 0 {
		return nil, noDump(file, "the file is empty", "")
	}
	if !looksLikeText(data) {
		// A noisy line leaves odd bytes in a capture, but the lines of a dump
		// do not follow on each other by accident.
		if c, err := ReadDump(file, data); err == nil && c.Len() >= 64 {
			return c, nil
		}
		return readBinary(file, data)
	}
	switch f, _ := recordFormat(firstLine(data)); f {
	case IntelHex:
		return ReadHex(file, data)
	case SRecords:
		return ReadSRecords(file, data)
	}
	c, recordErr := recordsInCapture(file, data)
	if c != nil {
		return c, nil
	}
	c, err := ReadDump(file, data)
	switch {
	case err == nil:
		return c, nil
	case recordErr != nil:
		return nil, recordErr
	case len(data) == size, len(data) >= 256 && !bytes.ContainsAny(data, "\r\n"):
		return readBinary(file, data) // a chip full of text, or of one letter
	}
	return nil, err
}

// readBinary takes the bytes as they are, from the first cell on.
func readBinary(file string, data []byte) (*Contents, error) {
	if len(data) > MaxCapacity {
		return nil, noDump(file, "a binary file of more than 16M bytes", "only chips of up to 16M bytes are handled")
	}
	return &Contents{Format: Binary, Entry: -1, Pieces: []Piece{{0, data}}}, nil
}

func noDump(file, message, hint string) error {
	return &Error{diag.Diagnostic{
		Severity: diag.Error, Code: diag.NoDump, Range: diag.Range{File: file}, Message: message, Hint: hint,
	}}
}

// looksLikeText says whether at most a tenth of the bytes cannot belong to a
// text of a terminal.
func looksLikeText(data []byte) bool {
	odd := 0
	for i := 0; i < len(data); {
		c := data[i]
		switch {
		case c >= 0x80:
			r, n := utf8.DecodeRune(data[i:])
			if r == utf8.RuneError && n <= 1 {
				odd++
			}
			i += n
			continue
		case c < ' ' && c != '\n' && c != '\r' && c != '\t' && c != '\b' && c != 0x1B && c != 0x1A:
			odd++
		}
		i++
	}
	return odd*10 <= len(data)
}

// firstLine is the first line that is not empty.
func firstLine(data []byte) []byte {
	data = bytes.TrimLeft(data, " \t\r\n")
	if i := bytes.IndexAny(data, "\r\n"); i >= 0 {
		data = data[:i]
	}
	return data
}

// recordFormat says whether a line looks like a record, and whether its
// checksum is right.
func recordFormat(line []byte) (f Format, valid bool) {
	line = trimRecord(line)
	r := record{line: line}
	switch {
	case len(line) >= 11 && line[0] == ':' && allHex(line[1:]):
		return IntelHex, r.digits(1) == nil && r.n == int(r.body[0])+5 && r.sum(0, r.n) == 0
	case len(line) >= 10 && line[0] == 'S' && allHex(line[1:]):
		return SRecords, r.digits(2) == nil && r.n == int(r.body[0])+1 && r.sum(0, r.n) == 0xFF
	}
	return Binary, false
}

// recordsInCapture finds the records among the prompts of a capture. It
// returns nil and no error where there are none. A capture may stop before
// the end record.
func recordsInCapture(file string, data []byte) (*Contents, error) {
	var text bytes.Buffer
	var other []Ignored
	count := 0
	kind := Binary
	last := 0
	screenLines(data, func(no int, line []byte) {
		line = bytes.TrimSpace(line)
		f, valid := recordFormat(line)
		if !valid || kind != Binary && f != kind {
			if len(line) > 0 {
				if count++; len(other) < maxNamed {
					other = append(other, Ignored{no, clipText(string(line))})
				}
			}
			return
		}
		kind = f
		for ; last+1 < no; last++ { // keep the line numbers
			text.WriteByte('\n')
		}
		text.Write(line)
		text.WriteByte('\n')
		last = no
	})
	read, end := ReadHex, ":00000001FF\n"
	switch kind {
	case Binary:
		return nil, nil
	case SRecords:
		read, end = ReadSRecords, "S9030000FC\n"
	}
	c, err := read(file, text.Bytes())
	if err != nil {
		if c, _ = read(file, append(text.Bytes(), end...)); c == nil {
			return nil, err
		}
	}
	c.Ignored, c.IgnoredCount = other, count
	return c, nil
}
