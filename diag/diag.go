// Package diag holds what the tool says about its input: a place, a severity,
// a stable code, a message and a hint. It imports nothing of ours, so every
// other package can report without knowing who shows the report, and how.
//
// A pass adds diagnostics to a List and goes on; the list keeps one error a
// line, sorts by place and is an error value at the edge.
package diag

import (
	"fmt"
	"sort"
	"strings"
	"unicode/utf8"
)

// Severity says how bad a diagnostic is. The zero value is invalid, so that a
// forgotten field shows.
type Severity uint8

// The severities.
const (
	Invalid Severity = iota
	Error            // no output is written
	Warning          // output is written
)

// String gives the word shown to the user.
func (s Severity) String() string {
	switch s {
	case Error:
		return "error"
	case Warning:
		return "warning"
	}
	return "invalid"
}

// Range is a piece of one line of one file.
//
// Offsets are bytes within the line, 0-based, End exclusive; Line is 1-based,
// 0 where there is no line (a whole file, a device). Text is the line as it
// was read, without its line end; it may hold any bytes.
type Range struct {
	File       string
	Line       int
	Start, End int
	Text       string
}

// Column is the 1-based column of the range's start in characters; a byte
// that is not UTF-8 counts as one character.
func (r Range) Column() int {
	if r.Start <= 0 {
		return 1
	}
	n := min(r.Start, len(r.Text))
	return utf8.RuneCountInString(r.Text[:n]) + 1 + r.Start - n
}

// String gives "file:line:column", or "file" where there is no line.
func (r Range) String() string {
	if r.Line == 0 {
		return Printable(r.File)
	}
	return fmt.Sprintf("%s:%d:%d", Printable(r.File), r.Line, r.Column())
}

// Related is a second place that belongs to a diagnostic.
type Related struct {
	Range   Range
	Message string // "first defined here", "expanded from here"
}

// Diagnostic is one thing to say about one place.
type Diagnostic struct {
	Severity Severity
	Code     Code
	Range    Range
	Message  string // what is wrong and what was found; lower case, no full stop
	Hint     string // what to do about it; may be empty
	Related  []Related
}

// Limit is how many errors a list keeps, and how many warnings: nobody reads
// more, and each costs memory.
const Limit = 20_000

// List collects diagnostics, at most Limit of each severity. The zero value is
// ready to use.
type List struct {
	items  []Diagnostic
	errors int
	// lines that already have an error: one mistake a line is enough, the
	// second is nearly always a consequence of the first.
	lines map[lineKey]bool
	// repeats of one diagnostic (same place, same code) are dropped
	seen map[itemKey]bool
}

type lineKey struct {
	file string
	line int
	text string // an expanded line has its own text at the same place
}

type itemKey struct {
	lineKey
	start int
	code  Code
	msg   string
}

// Add puts a diagnostic on the list unless its line already has an error (for
// an error) or the very same thing was said before.
func (l *List) Add(d Diagnostic) {
	if d.Severity == Invalid {
		d.Severity = Error
	}
	if d.Severity == Error && l.errors >= Limit || d.Severity == Warning && l.Warnings() >= Limit {
		return
	}
	lk := lineKey{d.Range.File, d.Range.Line, d.Range.Text}
	ik := itemKey{lk, d.Range.Start, d.Code, d.Message}
	if l.lines == nil {
		l.lines, l.seen = map[lineKey]bool{}, map[itemKey]bool{}
	}
	if l.seen[ik] {
		return
	}
	if d.Severity == Error {
		if d.Range.Line > 0 && l.lines[lk] {
			return
		}
		l.lines[lk] = true
		l.errors++
	}
	l.seen[ik] = true
	l.items = append(l.items, d)
}

// Full tells whether the list takes no more errors; a pass may stop then.
func (l *List) Full() bool { return l.errors >= Limit }

// Errors is the number of errors on the list.
func (l *List) Errors() int { return l.errors }

// Warnings is the number of warnings on the list.
func (l *List) Warnings() int { return len(l.items) - l.errors }

// All gives the diagnostics sorted by file in order of first mention, then
// line, then column; those of one place in the order in which they were added.
func (l *List) All() []Diagnostic {
	order := map[string]int{}
	for _, d := range l.items {
		if _, ok := order[d.Range.File]; !ok {
			order[d.Range.File] = len(order)
		}
	}
	out := append([]Diagnostic(nil), l.items...)
	sort.SliceStable(out, func(i, j int) bool {
		a, b := out[i].Range, out[j].Range
		if a.File != b.File {
			return order[a.File] < order[b.File]
		}
		if a.Line != b.Line {
			return a.Line < b.Line
		}
		return a.Start < b.Start
	})
	return out
}

// Err gives the list as an error where it holds at least one error, else nil.
func (l *List) Err() error {
	if l.errors == 0 {
		return nil
	}
	return listError{l}
}

type listError struct{ l *List }

func (e listError) Error() string {
	for _, d := range e.l.All() {
		if d.Severity == Error {
			s := fmt.Sprintf("%s: %s", d.Range, d.Message)
			if n := e.l.errors - 1; n > 0 {
				s += fmt.Sprintf(" (and %d more)", n)
			}
			return s
		}
	}
	return "no error"
}

// Printable escapes what would disturb a terminal: control bytes and bytes
// that are not UTF-8 become \xNN, a tab stays.
func Printable(s string) string {
	clean := true
	for i := 0; i < len(s); i++ {
		if c := s[i]; c != '\t' && (c < ' ' || c >= 0x7F) {
			clean = false
			break
		}
	}
	if clean {
		return s
	}
	var b strings.Builder
	for i := 0; i < len(s); {
		r, n := utf8.DecodeRuneInString(s[i:])
		switch {
		case r == utf8.RuneError && n <= 1, r < ' ' && r != '\t', r == 0x7F, r >= 0x80 && r < 0xA0:
			for _, c := range []byte(s[i : i+max(n, 1)]) {
				fmt.Fprintf(&b, `\x%02X`, c)
			}
		case r == 0x2028, r == 0x2029, r >= 0x202A && r <= 0x202E, r >= 0x2066 && r <= 0x2069:
			// line separators and direction marks make a line look like another
			for _, c := range []byte(s[i : i+n]) {
				fmt.Fprintf(&b, `\x%02X`, c)
			}
		default:
			b.WriteString(s[i : i+n])
		}
		i += max(n, 1)
	}
	return b.String()
}
