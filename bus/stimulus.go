package bus

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// Value works out a number or a symbol as the source language writes them. The
// error says what is wrong with the word and names no place.
type Value func(word string) (int64, error)

// ParseStimulus reads PORT=VALUE[@CLOCK]: PORT is any, a symbol or a number
// (up to 255 it is compared with A7-A0, a larger one with A15-A0), VALUE a
// byte, CLOCK the decimal number of the clock from which it holds.
func ParseStimulus(s string, value Value) (Stimulus, error) {
	port, rest, ok := strings.Cut(s, "=")
	if !ok {
		return Stimulus{}, fmt.Errorf("%q: PORT=VALUE or PORT=VALUE@CLOCK is expected, such as 20H=0FEH@500", s)
	}
	v, at, timed := strings.Cut(rest, "@")
	st := Stimulus{}
	var err error
	if timed {
		if st.Clock, err = ParseClock(at); err != nil {
			return st, err
		}
	}
	if err = st.setPort(port, value); err != nil {
		return st, err
	}
	st.Value, err = parseByte(v, value)
	return st, err
}

func (s *Stimulus) setPort(word string, value Value) error {
	word = strings.TrimSpace(word)
	if strings.EqualFold(word, "any") {
		s.Match = AnyPort
		return nil
	}
	v, err := value(word)
	if err != nil {
		return fmt.Errorf("port %q: %w", word, err)
	}
	switch {
	case v < 0 || v > 0xFFFF:
		return fmt.Errorf("port %q is %d: a port is 0 to 65535", word, v)
	case v <= 0xFF:
		s.Match = LowPort
	default:
		s.Match = WholePort
	}
	s.Port = uint16(v)
	return nil
}

func parseByte(word string, value Value) (byte, error) {
	word = strings.TrimSpace(word)
	v, err := value(word)
	if err != nil {
		return 0, fmt.Errorf("value %q: %w", word, err)
	}
	if v < -128 || v > 255 {
		return 0, fmt.Errorf("value %q is %d: a byte is 0 to 255", word, v)
	}
	return byte(v), nil
}

// ParseClock reads the decimal number of a clock, 1-based; 0 is taken as "from
// the start".
func ParseClock(s string) (int64, error) {
	s = strings.TrimSpace(s)
	n, err := strconv.ParseInt(s, 10, 64)
	if err != nil || n < 0 || s[0] == '+' {
		return 0, fmt.Errorf("%q is no clock number (decimal, counted from 1)", s)
	}
	return n, nil
}

// ParseRequest reads CLOCK[=BYTE] of a maskable interrupt; the byte is FFH if
// left out.
func ParseRequest(s string, value Value) (Request, error) {
	at, b, ok := strings.Cut(s, "=")
	r := Request{Data: 0xFF}
	var err error
	if r.Clock, err = ParseNMI(at); err == nil && ok {
		r.Data, err = parseByte(b, value)
	}
	return r, err
}

// ParseNMI reads the clock of an NMI, 1 or later.
func ParseNMI(s string) (int64, error) {
	n, err := ParseClock(s)
	if err == nil && n == 0 {
		err = errors.New("clock 0: clocks are counted from 1")
	}
	return n, err
}

// ParseRAM reads SIZE@ADDR, such as 8K@8000H.
func ParseRAM(s string, value Value) (RAM, error) {
	size, at, ok := strings.Cut(s, "@")
	if !ok {
		return RAM{}, fmt.Errorf("%q: SIZE@ADDR is expected, such as 8K@8000H", s)
	}
	n, err := value(strings.TrimSpace(size))
	if err != nil {
		return RAM{}, fmt.Errorf("size %q: %w", size, err)
	}
	a, err := value(strings.TrimSpace(at))
	if err != nil {
		return RAM{}, fmt.Errorf("address %q: %w", at, err)
	}
	if n < 1 || n > 65536 || a < 0 || a+n > 65536 {
		return RAM{}, fmt.Errorf("%q: %d bytes from address %d do not lie within the 64K that the CPU can see", s, n, a)
	}
	return RAM{At: int(a), Size: int(n)}, nil
}

// ParseWaits reads fetch=1,read=1,write=1,io=1, in any order; what is left out
// is 0.
func ParseWaits(s string) (Waits, error) {
	var w Waits
	seen := map[string]bool{}
	for _, part := range strings.Split(s, ",") {
		name, num, _ := strings.Cut(strings.TrimSpace(part), "=")
		n, err := strconv.Atoi(num)
		field := map[string]*int{"fetch": &w.Fetch, "read": &w.Read, "write": &w.Write, "io": &w.IO}[name]
		switch {
		case field == nil:
			return w, fmt.Errorf("%q: wait states are given for fetch, read, write or io, such as fetch=1,io=2", part)
		case err != nil || n < 0 || n > MaxWaits:
			return w, fmt.Errorf("%q: a number of wait states from 0 to %d is expected", part, MaxWaits)
		case seen[name]:
			return w, fmt.Errorf("%q: %s is given twice", s, name)
		}
		seen[name] = true
		*field = n
	}
	return w, nil
}

// StimulusError is a mistake in a stimulus file.
type StimulusError struct {
	Line   int // 1-based, 0 where the file as a whole is meant
	Column int // 1-based, in bytes
	Msg    string
	Hint   string // may be empty
}

func (e *StimulusError) Error() string {
	if e.Line == 0 {
		return e.Msg
	}
	return fmt.Sprintf("line %d, column %d: %s", e.Line, e.Column, e.Msg)
}

// Bounds of a stimulus file.
const (
	MaxStimuli      = 1_000_000
	MaxStimulusFile = 64 << 20 // bytes
)

// ReadStimuli reads a stimulus file: comma-separated values (RFC 4180) of
// clock, port and value, one change a line in rising order of clocks; a header
// line clock,port,value and lines that begin with # are passed over. A
// *StimulusError tells of a mistake; any other error is the reader's.
func ReadStimuli(r io.Reader, value Value) ([]Stimulus, error) {
	in := &io.LimitedReader{R: r, N: MaxStimulusFile + 1}
	cr := csv.NewReader(in)
	cr.Comment = '#'
	cr.FieldsPerRecord = -1
	cr.TrimLeadingSpace = true
	cr.ReuseRecord = true
	var list []Stimulus
	for {
		rec, err := cr.Read()
		if in.N <= 0 {
			return nil, &StimulusError{Msg: fmt.Sprintf("the file is larger than %d MiB", MaxStimulusFile>>20)}
		}
		if err == io.EOF {
			return list, nil
		}
		var pe *csv.ParseError
		if errors.As(err, &pe) {
			return nil, &StimulusError{Line: pe.Line, Column: max(pe.Column, 1), Msg: pe.Err.Error()}
		}
		if err != nil {
			return nil, err
		}
		if len(list) == 0 && len(rec) == 3 && strings.EqualFold(strings.TrimPrefix(rec[0], "\ufeff"), "clock") {
			continue
		}
		if len(list) == MaxStimuli {
			line, col := cr.FieldPos(0)
			return nil, &StimulusError{line, col, fmt.Sprintf("more than %d changes", MaxStimuli), ""}
		}
		s, serr := stimulusRecord(cr, rec, value)
		if serr != nil {
			return nil, serr
		}
		if n := len(list); n > 0 && s.Clock < list[n-1].Clock {
			line, col := cr.FieldPos(0)
			return nil, &StimulusError{line, col,
				fmt.Sprintf("clock %d comes after clock %d", s.Clock, list[n-1].Clock), "sort the lines by clock"}
		}
		list = append(list, s)
	}
}

func stimulusRecord(cr *csv.Reader, rec []string, value Value) (Stimulus, *StimulusError) {
	at := func(field int, msg string) *StimulusError {
		line, col := cr.FieldPos(field)
		return &StimulusError{Line: line, Column: col, Msg: msg}
	}
	var s Stimulus
	if len(rec) != 3 {
		e := at(min(len(rec), 4)-1, fmt.Sprintf("%d fields, three are expected", len(rec)))
		e.Hint = "each line is clock,port,value, such as 500,20H,0FEH"
		return s, e
	}
	var err error
	if s.Clock, err = ParseClock(rec[0]); err != nil {
		return s, at(0, err.Error())
	}
	if err = s.setPort(rec[1], value); err != nil {
		return s, at(1, err.Error())
	}
	if s.Value, err = parseByte(rec[2], value); err != nil {
		return s, at(2, err.Error())
	}
	return s, nil
}
