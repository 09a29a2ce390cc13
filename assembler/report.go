package assembler

import (
	"fmt"
	"strings"

	"romwright/diag"
	"romwright/directives"
	"romwright/encoder"
	"romwright/lexer"
)

// lineRange is the whole of a placed line.
func (a *run) lineRange(index uint32) diag.Range {
	p := a.placed.at(index)
	text := a.textOf(p)
	file, line := a.lines.place(p)
	return diag.Range{File: file, Line: line, Start: 0, End: len(text), Text: text}
}

// tokenRange is one token of a placed line; the line is scanned again, which
// only happens for messages.
func (a *run) tokenRange(index uint32, tok int) diag.Range {
	r := a.lineRange(index)
	p := a.placed.at(index)
	if p.flags&flagHasShape == 0 || len(r.Text) > lexer.MaxLine {
		r.Start = len(r.Text) - len(strings.TrimLeft(r.Text, " \t"))
		return r
	}
	toks := a.parser.Again(r.Text, a.parser.Shape(p.shape), a.restAt[index], a.acceptAt(index)&acceptEscapes != 0)
	if tok < len(toks) {
		r.Start, r.End = int(toks[tok].Start), int(toks[tok].End)
	}
	return r
}

func (a *run) errorAt(index uint32, tok int, code diag.Code, format string, args ...any) diag.Diagnostic {
	return diag.Diagnostic{Severity: diag.Error, Code: code, Range: a.tokenRange(index, tok),
		Message: fmt.Sprintf(format, args...), Related: a.chain(index)}
}

func (a *run) fail(index uint32, tok int, code diag.Code, hint, format string, args ...any) {
	d := a.errorAt(index, tok, code, format, args...)
	d.Hint = hint
	a.diags.Add(d)
}

func (a *run) warn(index uint32, tok int, code diag.Code, format string, args ...any) {
	if a.diags.Warnings() >= diag.Limit {
		return // a token's place costs time
	}
	d := a.errorAt(index, tok, code, format, args...)
	d.Severity = diag.Warning
	a.diags.Add(d)
}

// failAt reports a piece of a line by its byte offsets.
func (a *run) failAt(index uint32, start, end int, code diag.Code, hint, format string, args ...any) {
	r := a.lineRange(index)
	r.Start, r.End = start, end
	a.diags.Add(diag.Diagnostic{Severity: diag.Error, Code: code, Range: r, Message: fmt.Sprintf(format, args...),
		Hint: hint, Related: a.chain(index)})
}

// maxChain bounds how many steps of a chain are shown.
const maxChain = 8

// chain tells through which expansions and includes a line came here.
func (a *run) chain(index uint32) []diag.Related {
	var out []diag.Related
	for {
		src := a.lines.sources[a.placed.at(index).src]
		if src.parent == noParent {
			return out
		}
		if len(out) < maxChain {
			msg := "included from here"
			if src.expansion {
				msg = "expanded from here"
			}
			out = append(out, diag.Related{Range: a.tokenRange(src.parent, 0), Message: msg})
		}
		index = src.parent
	}
}

// nearSymbol is a hint that names a defined symbol like the one that is not
// defined, or "".
func (a *run) nearSymbol(id lexer.Name) string {
	a.undefs++
	if a.undefs > 20 {
		return "" // the search goes through all names
	}
	text := a.names.Text(id)
	if r := a.word(id).reg; r.Undocumented() {
		return "for the half of an index register: ACCEPT undocumented"
	}
	if isHexWithoutZero(text) {
		return "a number begins with a digit: 0" + text
	}
	best, distance := "", 3
	for i := range a.symbols {
		if s := &a.symbols[i]; s.state == undefined || s.state == bad || s.kind == frozenValue {
			continue
		}
		other := a.names.Text(lexer.Name(i))
		if strings.EqualFold(other, text) {
			return diag.Printable(other) + " differs only in letter case"
		}
		if d := editDistance(text, other, distance); d < distance && d < len(text) {
			best, distance = other, d
		}
	}
	if best == "" {
		return ""
	}
	return "did you mean " + diag.Printable(best) + "?"
}

func isHexWithoutZero(s string) bool {
	if len(s) < 2 || s[len(s)-1]|0x20 != 'h' {
		return false
	}
	for i := 0; i < len(s)-1; i++ {
		c := s[i] | 0x20
		if (c < 'a' || c > 'f') && (s[i] < '0' || s[i] > '9') {
			return false
		}
	}
	return true
}

// nearOperation is a hint for a word that is no operation, or "".
func (a *run) nearOperation(text string) string {
	text = strings.ToUpper(strings.TrimLeft(text, ".#"))
	best, distance := "", 3
	try := func(name string) {
		if d := editDistance(text, name, distance); d < distance && d < len(name) && d < len(text) {
			best, distance = name, d
		}
	}
	for _, m := range encoder.Mnemonics() {
		try(m.String())
	}
	for _, d := range directives.All() {
		try(d.Name)
		for _, o := range d.Others {
			try(o)
		}
	}
	a.unknowns++
	if a.unknowns > 20 {
		return best // the search goes through all macros
	}
	for i := range a.macros {
		try(strings.ToUpper(a.names.Text(a.macros[i].name)))
	}
	return best
}

// nearMnemonic is a mnemonic one edit away from the word, or "".
func nearMnemonic(text string) string {
	if len(text) > 5 {
		return ""
	}
	text = strings.ToUpper(text)
	for _, m := range encoder.Mnemonics() {
		if name := m.String(); editDistance(text, name, 2) == 1 {
			return name
		}
	}
	return ""
}

// NearName gives the name that differs from text by at most two characters,
// the first of the nearest in the order given; "" for none.
func NearName(text string, names []string) string {
	best, distance := "", 3
	for _, name := range names {
		if d := editDistance(text, name, distance); d < distance && d < len(text) {
			best, distance = name, d
		}
	}
	return best
}

// editDistance counts inserted, removed, changed and exchanged characters,
// whatever their letter case; it gives limit where there are that many or more.
func editDistance(a, b string, limit int) int {
	if abs(len(a)-len(b)) >= limit || len(a) > 64 || len(b) > 64 {
		return limit
	}
	var rows [3][66]int
	before, row, next := &rows[0], &rows[1], &rows[2]
	for j := range len(b) + 1 {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		next[0] = i
		least := i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if lower(a[i-1]) == lower(b[j-1]) {
				cost = 0
			}
			d := min(row[j]+1, next[j-1]+1, row[j-1]+cost)
			if i > 1 && j > 1 && lower(a[i-1]) == lower(b[j-2]) && lower(a[i-2]) == lower(b[j-1]) {
				d = min(d, before[j-2]+1)
			}
			next[j] = d
			least = min(least, d)
		}
		if least >= limit {
			return limit
		}
		before, row, next = row, next, before
	}
	return min(row[len(b)], limit)
}

func abs(n int) int {
	if n < 0 {
		return -n
	}
	return n
}

func lower(c byte) byte {
	if 'A' <= c && c <= 'Z' {
		return c + 'a' - 'A'
	}
	return c
}
