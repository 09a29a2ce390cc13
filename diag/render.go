package diag

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"
)

// Renderer writes diagnostics for a person.
type Renderer struct {
	W      io.Writer
	Colour bool
	Max    int // errors shown; 0 shows all
}

const (
	bold   = "\x1b[1m"
	red    = "\x1b[1;31m"
	yellow = "\x1b[1;33m"
	blue   = "\x1b[1;34m"
	plain  = "\x1b[0m"
)

func (r *Renderer) colour(c, s string) string {
	if !r.Colour {
		return s
	}
	return c + s + plain
}

// List writes all warnings, and errors up to Max; then how many were left out.
func (r *Renderer) List(l *List) {
	errors, left := 0, 0
	for _, d := range l.All() {
		if d.Severity == Error {
			errors++
			if r.Max > 0 && errors > r.Max {
				left++
				continue
			}
		} else if r.Max > 0 && errors > r.Max {
			continue // warnings behind the last error shown
		}
		r.One(d)
	}
	if left > 0 {
		fmt.Fprintf(r.W, "%d more errors; --all-errors shows them\n", left)
	}
}

// One writes one diagnostic: the place, what is wrong, the line with the
// offending part marked, a hint, and the other places that belong to it.
func (r *Renderer) One(d Diagnostic) {
	c := red
	if d.Severity == Warning {
		c = yellow
	}
	fmt.Fprintf(r.W, "%s: %s %s [%s]\n", r.colour(bold, d.Range.String()), r.colour(c, d.Severity.String()+":"), d.Message, d.Code)
	r.source(d.Range, c)
	if d.Hint != "" {
		fmt.Fprintf(r.W, "    %s %s\n", r.colour(blue, "hint:"), d.Hint)
	}
	for _, rel := range d.Related {
		fmt.Fprintf(r.W, "    %s: %s\n", rel.Range, rel.Message)
	}
}

// window is how many bytes of a long line are shown around the marked part.
const window = 120

// source writes the line and carets below its marked part. Tabs stay, so that
// the carets stand where a terminal shows the text.
func (r *Renderer) source(g Range, c string) {
	if g.Line == 0 || g.Text == "" && g.Start == 0 && g.End == 0 {
		return
	}
	text := g.Text
	start := min(max(g.Start, 0), len(text))
	end := min(max(g.End, start), len(text))
	from, to := 0, len(text)
	if len(text) > window {
		from = max(0, min(start-window/3, len(text)-window))
		to = min(len(text), from+window)
		for from > 0 && !utf8.RuneStart(text[from]) {
			from--
		}
		for to < len(text) && !utf8.RuneStart(text[to]) {
			to++
		}
	}
	end = min(end, to)
	lead, tail := "", ""
	if from > 0 {
		lead = "..."
	}
	if to < len(text) {
		tail = "..."
	}
	fmt.Fprintf(r.W, "    %s%s%s\n", lead, Printable(text[from:to]), tail)
	var b strings.Builder
	b.WriteString(strings.Repeat(" ", len(lead)))
	for _, ch := range Printable(text[from:start]) {
		if ch != '\t' {
			ch = ' '
		}
		b.WriteRune(ch)
	}
	n := max(1, utf8.RuneCountInString(Printable(text[start:end])))
	fmt.Fprintf(r.W, "    %s%s\n", b.String(), r.colour(c, strings.Repeat("^", n)))
}
