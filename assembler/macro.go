package assembler

import (
	"slices"
	"strings"

	"romwright/diag"
	"romwright/directives"
	"romwright/encoder"
	"romwright/lexer"
	"romwright/parser"
)

// macroTable holds the macros defined so far and the body being collected.
type macroTable struct {
	macros    []macro
	macroBy   map[lexer.Name]uint32 // index + 1
	macroFold map[lexer.Name]uint32 // by the Name in capitals
	locals    map[lexer.Name]bool   // names made by LOCAL: they open no scope
	counter   int                   // of expansions, for their own names
	collect   collection
}

type macro struct {
	name   lexer.Name
	params []string
	body   []bodyLine
	index  uint32 // where it is defined
}

// collection is a body being collected, down to its ENDM.
type collection struct {
	open  bool
	frame int // number of frames where it began
	depth int // bodies opened inside it
	index uint32
	body  []bodyLine

	id     directives.ID // Macro, Rept, Irp or IrpC
	name   lexer.Name
	params []string
	rounds int
	each   []string
	broken bool // an error was reported: collect, but do nothing with it
}

// findMacro finds a macro by its name as written, or in any letter case.
func (a *run) findMacro(id lexer.Name) uint32 {
	if len(a.macros) == 0 {
		return 0
	}
	if m := a.macroBy[id]; m != 0 {
		return m
	}
	return a.macroFold[a.names.Folded(id)]
}

func (a *run) newScope(what string) lexer.Name {
	a.counter++
	return a.scopeName(what, a.counter)
}

// enterScope makes local names those of the frame's expansion.
func (a *run) enterScope(f *frame) {
	a.scope = f.scope
	a.setOuter(f.scope, f.outer)
}

// beginCollection starts to collect a body.
func (a *run) beginCollection(c collection) {
	c.open = true
	c.frame = len(a.lines.frames)
	a.collect = c
}

// collectLine takes one line of the body; its ENDM ends it.
func (a *run) collectLine(index uint32, line string) {
	c := &a.collect
	switch d := a.headDirective(line); d {
	case directives.Macro, directives.Rept, directives.Irp, directives.IrpC:
		c.depth++
	case directives.EndM:
		if c.depth == 0 {
			done := *c
			a.collect = collection{}
			a.finishCollection(done)
			return
		}
		c.depth--
	}
	c.body = append(c.body, a.lines.here())
}

// headDirective is the directive of a line that is not assembled.
func (a *run) headDirective(line string) directives.ID {
	op := a.parser.Head(line)
	if op == 0 {
		return directives.None
	}
	w := a.word(op)
	if w.macro != 0 {
		return directives.None
	}
	return w.directive
}

func (a *run) unclosedCollection() {
	c := &a.collect
	a.fail(c.index, a.opToken(c.index), diag.Unclosed, "", "no ENDM closes this %s", directives.Get(c.id).Name)
	a.collect = collection{}
	a.blind, a.sizeUnknown = true, true
}

func (a *run) finishCollection(c collection) {
	if c.broken {
		return
	}
	if c.id == directives.Macro {
		if a.macroBy == nil {
			a.macroBy, a.macroFold = map[lexer.Name]uint32{}, map[lexer.Name]uint32{}
		}
		a.macros = append(a.macros, macro{c.name, c.params, c.body, c.index})
		a.macroBy[c.name] = uint32(len(a.macros))
		a.macroFold[a.names.Folded(c.name)] = uint32(len(a.macros))
		a.gen++
		return
	}
	rounds := c.rounds
	if c.id != directives.Rept {
		rounds = len(c.each)
	}
	if rounds == 0 || len(c.body) == 0 {
		return
	}
	if a.tooDeep(c.index) {
		return
	}
	f := frame{repeats: true, what: directives.Get(c.id).Name, body: c.body, rounds: rounds - 1}
	if c.id != directives.Rept {
		f.names = c.params[:1:1]
		f.values = c.each[:1:1]
		f.each = c.each[1:]
	}
	f.scope = a.newScope(f.what)
	a.lines.expand(f, c.index)
}

func (a *run) tooDeep(index uint32) bool {
	if a.lines.expansions() < MaxDepth {
		return false
	}
	a.fail(index, a.opToken(index), diag.MacroMisuse, "does a macro call itself without an end?",
		"expansions are nested more than %d deep", MaxDepth)
	a.blind, a.sizeUnknown = true, true
	return true
}

// macroDirective carries out MACRO, IRP and IRPC, whose operands are text.
func (a *run) macroDirective(index uint32, d *directives.Directive, st *parser.Statement, line string) {
	c := collection{id: d.ID, index: index}
	rest := st.Rest
	switch d.ID {
	case directives.Macro:
		if !st.Label {
			a.fail(index, st.Op, diag.MacroMisuse, "write it as "+d.Syntax, "the macro has no name")
			c.broken = true
			break
		}
		c.name = lexer.Name(st.Tokens[0].Val)
		args, ok := a.arguments(index, line, rest)
		c.broken = !ok
		for _, p := range args {
			if !a.paramName(index, p) {
				c.broken = true
				break
			}
			if slices.Contains(c.params, p.text) {
				a.failAt(index, p.start, p.end, diag.BadName, "", "%s is the name of two parameters", diag.Printable(p.text))
				c.broken = true
				break
			}
			c.params = append(c.params, p.text)
		}
		if len(args) == 1 && args[0].text == "" {
			c.params = nil
		}
	default:
		args, ok := a.arguments(index, line, rest)
		if !ok || len(args) < 2 && d.ID == directives.Irp || len(args) < 1 || args[0].text == "" {
			if ok {
				a.fail(index, st.Op, diag.MacroMisuse, "write it as "+d.Syntax, "%s needs a parameter and what it stands for", d.Name)
			}
			c.broken = true
			break
		}
		if !a.paramName(index, args[0]) {
			c.broken = true
			break
		}
		c.params = []string{args[0].text}
		if d.ID == directives.IrpC {
			if len(args) > 1 {
				for i := 0; i < len(args[1].text); i++ {
					c.each = append(c.each, args[1].text[i:i+1])
				}
			}
			break
		}
		if args[1].bracketed && len(args) == 2 {
			inner := args[1]
			list, ok := a.arguments(index, line[:inner.end], inner.start)
			c.broken = !ok
			args = append(args[:1], list...)
		}
		for _, v := range args[1:] {
			c.each = append(c.each, v.text)
		}
	}
	a.beginCollection(c)
}

func (a *run) paramName(index uint32, p argument) bool {
	if p.text == "" && p.only {
		return true
	}
	if lexer.IsName(p.text) {
		return true
	}
	a.failAt(index, p.start, max(p.end, p.start+1), diag.BadName, "", "%s is no name for a parameter", diag.Printable(quoted(p.text)))
	return false
}

func quoted(s string) string {
	if s == "" {
		return "nothing"
	}
	return s
}

// callMacro opens the expansion of a macro.
func (a *run) callMacro(index uint32, m *macro, st *parser.Statement, line string) {
	args, ok := a.arguments(index, line, st.Rest)
	if !ok {
		a.sizeUnknown, a.blind = true, true
		return
	}
	if len(args) == 1 && args[0].text == "" {
		args = nil
	}
	if len(args) > len(m.params) {
		x := args[len(m.params)]
		r := a.lineRange(index)
		r.Start, r.End = x.start, max(x.end, x.start+1)
		a.diags.Add(diag.Diagnostic{Severity: diag.Warning, Code: diag.ExtraArgument, Range: r, Related: a.chain(index),
			Message: plural(len(m.params), "%s takes %d argument", "%s takes %d arguments", a.show(m.name)) + "; this one is not used"})
	}
	if a.tooDeep(index) {
		return
	}
	f := frame{what: a.names.Text(m.name), body: m.body}
	if n := len(m.params); n > 0 {
		f.names = m.params[:n:n] // LOCAL may add to them
		f.values = make([]string, n)
		for i := range min(n, len(args)) {
			f.values[i] = args[i].text
		}
	}
	f.scope = a.newScope(f.what)
	a.lines.expand(f, index)
}

// localNames carries out LOCAL: the names are replaced in the lines that
// follow by names of this expansion's own.
func (a *run) localNames(index uint32, st *parser.Statement, line string) {
	f := a.lines.top()
	if !f.expansion {
		a.fail(index, st.Op, diag.MacroMisuse, "", "LOCAL stands outside a macro")
		return
	}
	args, ok := a.arguments(index, line, st.Rest)
	if !ok {
		return
	}
	_, n, _ := strings.Cut(a.names.Text(f.scope), "@")
	for _, x := range args {
		if !lexer.IsName(x.text) {
			a.failAt(index, x.start, max(x.end, x.start+1), diag.BadName, "", "%s is no name", diag.Printable(quoted(x.text)))
			return
		}
		own := x.text + "@" + n
		if len(own) > lexer.MaxName {
			a.failAt(index, x.start, x.end, diag.BadName, "", "the name is too long for LOCAL")
			return
		}
		f.add(x.text, own)
		if a.locals == nil {
			a.locals = map[lexer.Name]bool{}
		}
		a.locals[a.names.Of(own)] = true
	}
}

// argument is one argument of a macro call, with its place in the line.
type argument struct {
	text       string
	start, end int
	bracketed  bool // it was wholly in < >, which are left out
	only       bool // it is the only one
}

// arguments splits the rest of a line at its commas. Quotes keep commas, and
// so does <...> around a whole argument.
func (a *run) arguments(index uint32, line string, from int) ([]argument, bool) {
	var out []argument
	escapes := a.accept&acceptEscapes != 0
	i := from
	for {
		for i < len(line) && lexer.IsBlank(line[i]) {
			i++
		}
		start := i
		if i < len(line) && line[i] == '<' {
			end, after := bracket(line, i, escapes)
			if after == open {
				a.failAt(index, i, i+1, diag.Syntax, "", "no > closes this <")
				return nil, false
			}
			if end >= 0 {
				out = append(out, argument{text: line[i+1 : end], start: i + 1, end: end, bracketed: true})
				i = after
				if i < len(line) && line[i] == ',' {
					i++
					continue
				}
				break
			}
		}
		for i < len(line) && line[i] != ',' && line[i] != ';' {
			switch c := line[i]; {
			case (c == '\'' || c == '"') && !isAltAF(line, i):
				end := closingQuote(line, i, escapes)
				if end < 0 {
					a.failAt(index, i, len(line), diag.OpenString, "", "the string has no closing %c", c)
					return nil, false
				}
				i = end + 1
			case c >= 0x7F || c < ' ' && !lexer.IsBlank(c):
				a.failAt(index, i, i+1, diag.BadCharacter, "", "unexpected character %s", diag.Printable(line[i:i+1]))
				return nil, false
			default:
				i++
			}
		}
		end := i
		for end > start && lexer.IsBlank(line[end-1]) {
			end--
		}
		out = append(out, argument{text: line[start:end], start: start, end: end})
		if i < len(line) && line[i] == ',' {
			i++
			continue
		}
		break
	}
	out[0].only = len(out) == 1
	return out, true
}

// bracket finds the > that closes the < at i where a comma, a remark or the
// end of the line follows it; end is -1 where it does not.
func bracket(line string, i int, escapes bool) (end, after int) {
	depth := 0
	for j := i; j < len(line); j++ {
		switch c := line[j]; c {
		case '\'', '"':
			if isAltAF(line, j) {
				continue
			}
			if j = closingQuote(line, j, escapes); j < 0 {
				return -1, open
			}
		case '<':
			depth++
		case '>':
			depth--
			if depth > 0 {
				continue
			}
			k := j + 1
			for k < len(line) && lexer.IsBlank(line[k]) {
				k++
			}
			if k == len(line) || line[k] == ',' || line[k] == ';' {
				return j, k
			}
			return -1, i
		}
	}
	return -1, open
}

const open = -1 // bracket's answer where no > closes the argument

// closingQuote is the offset of the quote that closes the one at i, or -1. A
// doubled quote counts as the end of one string and the beginning of another.
func closingQuote(line string, i int, escapes bool) int {
	for j := i + 1; j < len(line); j++ {
		switch {
		case line[j] == line[i]:
			return j
		case line[j] == '\\' && escapes:
			j++
		}
	}
	return -1
}

// isAltAF: the apostrophe at i is that of AF'.
func isAltAF(line string, i int) bool {
	return i >= 2 && line[i] == '\'' && line[i-1]|0x20 == 'f' && line[i-2]|0x20 == 'a' &&
		(i == 2 || !lexer.IsNameByte(line[i-3]))
}

// substitute replaces parameters in a line: where one stands as a word, and in
// strings where & stands before it. An & beside a replaced parameter joins it
// to the text there and is left out. Remarks stay as they are.
func (r *replacements) substitute(line string, escapes bool) string {
	var out []byte // nil until something is replaced
	done := 0      // of line, copied to out
	replace := func(from, to int, with string) {
		if out == nil {
			out = make([]byte, 0, len(line)+64)
		}
		out = append(out, line[done:from]...)
		out = append(out, with...)
		done = to
	}
	quote := byte(0)
	for i := 0; i < len(line); {
		c := line[i]
		switch {
		case quote != 0 && c == quote:
			quote = 0
			i++
		case quote == 0 && (c == '\'' || c == '"') && !isAltAF(line, i):
			// an apostrophe without its partner opens nothing
			if closingQuote(line, i, escapes) >= 0 {
				quote = c
			}
			i++
		case quote != 0 && c == '\\' && escapes:
			i += 2
		case quote == 0 && c == ';':
			i = len(line)
		case lexer.IsNameByte(c):
			j := i
			for j < len(line) && lexer.IsNameByte(line[j]) {
				j++
			}
			word := line[i:j]
			before := i > done && line[i-1] == '&'
			if quote != 0 && !before {
				i = j
				continue
			}
			k := r.find(word)
			if k < 0 {
				i = j
				continue
			}
			from, to := i, j
			if before {
				from--
			}
			if to < len(line) && line[to] == '&' && (quote == 0 || before) {
				to++
				// the & serves a parameter behind it too
				n := to
				for n < len(line) && lexer.IsNameByte(line[n]) {
					n++
				}
				if quote != 0 && r.find(line[to:n]) >= 0 {
					to--
				}
			}
			replace(from, to, r.values[k])
			i = max(to, j)
		default:
			i++
		}
	}
	if out == nil {
		return line
	}
	return asString(append(out, line[done:]...))
}

// replacements are the names that are replaced in an expansion's lines.
type replacements struct {
	names  []string // what is replaced ...
	values []string // ... and by what
	index  map[string]int
}

// manyNames is how many are no longer searched one by one.
const manyNames = 16

func (r *replacements) add(name, value string) {
	r.names, r.values = append(r.names, name), append(r.values, value)
	if r.index != nil {
		r.index[name] = len(r.names) - 1
	}
}

// find gives the last of the names that is the word, so that LOCAL hides a
// parameter of the same name; -1 where there is none.
func (r *replacements) find(word string) int {
	if len(r.names) > manyNames {
		if r.index == nil {
			r.index = make(map[string]int, len(r.names))
			for i, n := range r.names {
				r.index[n] = i
			}
		}
		if i, ok := r.index[word]; ok {
			return i
		}
		return -1
	}
	for i := len(r.names) - 1; i >= 0; i-- {
		if r.names[i] == word {
			return i
		}
	}
	return -1
}

// opToken is the token of a placed line's operation.
func (a *run) opToken(index uint32) int {
	p := a.placed.at(index)
	if p.flags&flagHasShape == 0 {
		return 0
	}
	return max(0, a.parser.Shape(p.shape).Op)
}

// mnemonicOf is the mnemonic of a placed instruction's first word.
func (a *run) mnemonicOf(index uint32) encoder.Mnemonic {
	p := a.placed.at(index)
	if p.op < opForm {
		return encoder.NoMnemonic
	}
	return a.forms.get(p.op).Mnemonic()
}
