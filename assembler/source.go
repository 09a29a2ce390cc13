package assembler

import (
	"path/filepath"
	"strings"

	"romwright/diag"
	"romwright/lexer"
)

// Limits of the line source.
const (
	MaxDepth    = 256       // expansions in expansions
	MaxIncludes = 64        // included files in included files
	MaxExpanded = 1_000_000 // expanded lines in a run
	maxText     = 64 << 20  // bytes of text that expansions make in a run
)

const noParent = ^uint32(0)

// lineSource hands over one raw line after another: from the source file, the
// files it includes and the expansions of macros and repetitions.
type lineSource struct {
	run      *run
	sources  []source
	expanded []expandedLine
	frames   []frame
	conds    []condition
	texts    int // bytes of text made by expansions
	stopped  bool

	// the current line
	text string
	src  uint32
	off  uint32
	num  uint32
}

// source is a file as it was included, or one expansion.
type source struct {
	path      string // as shown in messages
	name      string // as the listing shows it: relative to the main source
	text      string
	parent    uint32 // placed line that included or expanded it, or noParent
	expansion bool
	file      uint32 // of an expansion: the file that the outermost call stands in
	line      uint32 // of an expansion: the line of that call
}

// expandedLine is a line of an expansion, and where its text stands.
type expandedLine struct {
	text string
	src  uint32
	line uint32
}

// bodyLine is a line of a macro's or a repetition's body.
type bodyLine = expandedLine

// frame is what is being read.
type frame struct {
	src      uint32
	condBase int // conditions opened outside it

	// a file
	pos   int
	num   uint32
	count uint32 // lines that the current line has expanded to so far

	// an expansion
	expansion bool
	replacements
	repeats bool // EXITM leaves all its rounds
	what    string
	body    []bodyLine
	next    int
	rounds  int      // rounds still to come after this one
	each    []string // a round's value of names[0], for IRP and IRPC
	outer   lexer.Name
	scope   lexer.Name
}

func (l *lineSource) init(a *run, name, text string) {
	l.run = a
	l.sources = append(l.sources, source{path: name, name: filepath.Base(name), text: cleanText(text), parent: noParent})
	l.frames = append(l.frames, frame{})
}

// cleanText leaves out a byte order mark and what follows a 1AH.
func cleanText(text string) string {
	text = strings.TrimPrefix(text, "\xEF\xBB\xBF")
	if i := strings.IndexByte(text, 0x1A); i >= 0 {
		text = text[:i]
	}
	return text
}

func (l *lineSource) top() *frame { return &l.frames[len(l.frames)-1] }

func (l *lineSource) inExpansion() bool { return l.top().expansion }

// outerScope is the scope around the innermost expansion.
func (l *lineSource) outerScope() lexer.Name { return l.top().outer }

// fileFrame is the innermost file.
func (l *lineSource) fileFrame() *frame {
	for i := len(l.frames) - 1; ; i-- {
		if !l.frames[i].expansion {
			return &l.frames[i]
		}
	}
}

// next fetches the next raw line; false at the end of everything.
func (l *lineSource) next() bool {
	for len(l.frames) > 0 && !l.stopped {
		f := l.top()
		if !f.expansion {
			text := l.sources[f.src].text
			if f.pos >= len(text) {
				l.pop(true)
				continue
			}
			end, next := lexer.LineEnd(text, f.pos)
			f.num++
			f.count = 0
			l.text, l.src, l.off, l.num = text[f.pos:end], f.src, uint32(f.pos), f.num
			f.pos = next
			return true
		}
		if f.next >= len(f.body) {
			if f.rounds == 0 {
				l.pop(true)
				continue
			}
			l.round(f)
			continue
		}
		b := f.body[f.next]
		f.next++
		if len(f.names) > 0 {
			b.text = f.substitute(b.text, l.run.accept&acceptEscapes != 0)
			l.texts += len(b.text)
		}
		if len(l.expanded) >= MaxExpanded || l.texts > maxText {
			l.tooMany()
			return false
		}
		ff := l.fileFrame()
		ff.count++
		l.text, l.src, l.off, l.num = b.text, f.src, uint32(len(l.expanded)), ff.count
		l.expanded = append(l.expanded, b)
		return true
	}
	return false
}

func (l *lineSource) tooMany() {
	l.stopped = true
	a := l.run
	call := l.sources[l.top().src].parent
	for l.sources[a.placed.at(call).src].expansion {
		call = l.sources[a.placed.at(call).src].parent
	}
	a.fail(call, 0, diag.TooManyLines, "is the repetition meant to be that long?",
		"expansions have grown beyond %d lines or %d bytes", MaxExpanded, maxText)
	a.blind, a.sizeUnknown = true, true
}

// round begins the next round of a repetition.
func (l *lineSource) round(f *frame) {
	f.rounds--
	f.next = 0
	l.checkConditions(f.condBase)
	if len(f.each) > 0 {
		f.replacements = replacements{names: f.names[:1:1], values: f.each[:1:1]}
		f.each = f.each[1:]
	} else {
		f.replacements = replacements{}
	}
	f.scope = l.run.newScope(f.what)
	l.run.enterScope(f)
}

// pop ends the top frame. Where check is set, its open conditions are errors.
func (l *lineSource) pop(check bool) {
	f := l.top()
	a := l.run
	if a.collect.open && a.collect.frame == len(l.frames) {
		a.unclosedCollection()
	}
	if check {
		l.checkConditions(f.condBase)
	} else {
		l.conds = l.conds[:f.condBase]
	}
	if f.expansion {
		a.scope = f.outer
	}
	l.frames = l.frames[:len(l.frames)-1]
}

func (l *lineSource) checkConditions(base int) {
	for _, c := range l.conds[base:] {
		if l.run.diags.Full() {
			break
		}
		l.run.fail(c.index, l.run.opToken(c.index), diag.Unclosed, "", "no ENDIF closes this IF")
	}
	l.conds = l.conds[:base]
}

// endFile ends the innermost file, as END asks, and what it is expanding.
func (l *lineSource) endFile() {
	for len(l.frames) > 0 {
		file := !l.top().expansion
		l.pop(false)
		if file {
			return
		}
	}
}

// exitExpansion ends the innermost expansion; false where there is none.
func (l *lineSource) exitExpansion() bool {
	if !l.inExpansion() {
		return false
	}
	l.pop(false)
	return true
}

// place gives the file and the line in which a placed line's text stands.
func (l *lineSource) place(p *placed) (file string, line int) {
	if p.flags&flagExpanded != 0 {
		e := &l.expanded[p.off]
		return l.sources[e.src].path, int(e.line)
	}
	return l.sources[p.src].path, int(p.num)
}

// textOf is the text of a placed line.
func (a *run) textOf(p *placed) string {
	if p.flags&flagExpanded != 0 {
		return a.lines.expanded[p.off].text
	}
	text := a.lines.sources[p.src].text
	end, _ := lexer.LineEnd(text, int(p.off))
	return text[p.off:end]
}

// here is where the current line's text stands, to be kept in a body.
func (l *lineSource) here() bodyLine {
	f := l.top()
	if f.expansion {
		return l.expanded[l.off]
	}
	return bodyLine{l.text, l.src, l.num}
}

// include opens a file.
func (l *lineSource) include(path, name, text string, parent uint32) {
	l.sources = append(l.sources, source{path: path, name: name, text: cleanText(text), parent: parent})
	l.frames = append(l.frames, frame{src: uint32(len(l.sources) - 1), condBase: len(l.conds)})
}

// expand opens an expansion of a body.
func (l *lineSource) expand(f frame, parent uint32) {
	// numbered by the outermost call in the file
	p := l.run.placed.at(parent)
	file, line := p.src, p.num
	if p.flags&flagExpanded != 0 {
		file, line = l.sources[p.src].file, l.sources[p.src].line
	}
	l.sources = append(l.sources, source{parent: parent, expansion: true, file: file, line: line})
	f.src = uint32(len(l.sources) - 1)
	f.expansion = true
	f.condBase = len(l.conds)
	f.outer = l.run.scope
	l.frames = append(l.frames, f)
	l.run.enterScope(l.top())
}

// expansions is how deep the expansions are nested now.
func (l *lineSource) expansions() int {
	n := 0
	for i := range l.frames {
		if l.frames[i].expansion {
			n++
		}
	}
	return n
}

func (l *lineSource) files() int { return len(l.frames) - l.expansions() }

// condition is an open IF.
type condition struct {
	index  uint32 // the IF
	active bool   // its current part is assembled
	done   bool   // one of its parts was assembled, or none may be
	last   bool   // ELSE was seen
}

func (l *lineSource) skipping() bool {
	return len(l.conds) > 0 && !l.conds[len(l.conds)-1].active
}

// innermost is the condition opened last in the current file or expansion, or
// nil.
func (l *lineSource) innermost() *condition {
	if len(l.conds) <= l.top().condBase {
		return nil
	}
	return &l.conds[len(l.conds)-1]
}
