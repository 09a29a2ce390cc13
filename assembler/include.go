package assembler

import (
	"math"
	"path/filepath"
	"strings"

	"romwright/diag"
	"romwright/directives"
	"romwright/lexer"
	"romwright/parser"
)

// fileName reads the file that INCLUDE or EMBED names: in quotes, or bare. With
// list, operands may follow behind a comma; after is then the offset behind it.
func (a *run) fileName(index uint32, st *parser.Statement, text string, list bool) (name string, start, end, after int, ok bool) {
	i := st.Rest
	for i < len(text) && lexer.IsBlank(text[i]) {
		i++
	}
	d := directives.Include
	if list {
		d = directives.Embed
	}
	if i < len(text) && (text[i] == '"' || text[i] == '\'') {
		j := strings.IndexByte(text[i+1:], text[i])
		if j < 0 {
			a.failAt(index, i, len(text), diag.OpenString, "", "the name has no closing %c", text[i])
			return "", 0, 0, 0, false
		}
		start, end, after = i+1, i+1+j, i+j+2
	} else {
		j := i
		for j < len(text) && text[j] != ';' && !lexer.IsBlank(text[j]) && (!list || text[j] != ',') {
			j++
		}
		start, end, after = i, j, j
	}
	for after < len(text) && lexer.IsBlank(text[after]) {
		after++
	}
	more := list && after < len(text) && text[after] == ','
	if start == end || after < len(text) && text[after] != ';' && !more {
		a.failAt(index, min(i, len(text)), len(text), diag.Syntax, "write it as "+directives.Get(d).Syntax, "%s needs one file name", directives.Get(d).Name)
		return "", 0, 0, 0, false
	}
	if !more {
		after = -1
	} else {
		after++
	}
	return text[start:end], start, end, after, true
}

// include opens the file that INCLUDE names.
func (a *run) include(index uint32, name string, start, end int) {
	fail := func(format string, args ...any) {
		a.blind, a.sizeUnknown = true, true
		a.failAt(index, start, end, diag.IncludeFailed, "", format, args...)
	}
	if a.lines.files() > MaxIncludes {
		fail("files are included more than %d deep", MaxIncludes)
		return
	}
	besides := a.lines.sources[a.lines.fileFrame().src]
	path, content, err := a.find(name, besides.path)
	if err != nil {
		fail("%s cannot be included: %s", diag.Printable(name), err)
		return
	}
	for i := range a.lines.frames {
		if f := &a.lines.frames[i]; !f.expansion && filepath.Clean(a.lines.sources[f.src].path) == filepath.Clean(path) {
			fail("%s includes itself", diag.Printable(name))
			return
		}
	}
	a.lines.include(path, a.listedName(path, name), content, index)
}

// listedName is the name of an included file in the listing: relative to the
// main source where that is possible without going up, else as written.
func (a *run) listedName(path, name string) string {
	rel, err := filepath.Rel(filepath.Dir(a.lines.sources[0].path), path)
	if err != nil || strings.HasPrefix(rel, "..") {
		if filepath.IsAbs(name) {
			return filepath.Base(name)
		}
		return filepath.ToSlash(name)
	}
	return filepath.ToSlash(rel)
}

// embed reads the file that EMBED names.
func (a *run) embed(p *placed, index uint32, st *parser.Statement, text string) {
	a.sizeUnknown = !a.embedFile(p, index, st, text) || a.sizeUnknown
}

func (a *run) embedFile(p *placed, index uint32, st *parser.Statement, text string) bool {
	name, start, end, after, ok := a.fileName(index, st, text, true)
	if !ok {
		return false
	}
	d := directives.Get(directives.Embed)
	content, err := a.embeddedFile(name)
	if err != nil {
		a.failAt(index, start, end, diag.IncludeFailed, "", "%s cannot be embedded: %s", diag.Printable(name), err)
		return false
	}
	limits := [2]int64{0, math.MaxInt64}
	var operands []parser.Operand
	if after >= 0 {
		rest, wrong := a.parser.ParseRest(text, after)
		if wrong != nil {
			a.failAt(index, wrong.Start, wrong.End, wrong.Code, wrong.Hint, "%s", wrong.Message)
			return false
		}
		a.behindText(p, index, rest, after)
		operands = rest.Operands
		if len(operands) > len(limits) {
			a.fail(index, int(operands[2].First), diag.Syntax, "write it as "+d.Syntax, "EMBED takes 1 to 3 operands")
			return false
		}
		if !a.countOperands(index, rest, d) {
			return false
		}
		a.bind(p, rest, text)
		w := a.whereOf(p, index, rest, text)
		w.need = true
		for i := range operands {
			v, state := a.eval(&w, &operands[i].Expr)
			if state != valueKnown {
				return false
			}
			limits[i] = v
		}
	}
	if limits[0] < 0 || limits[0] > int64(len(content)) {
		a.fail(index, int(operands[0].First), diag.ValueOutOfRange, "", "offset %d is outside the file, which has %d bytes", limits[0], len(content))
		return false
	}
	content = content[limits[0]:]
	if len(operands) > 1 {
		if limits[1] < 0 || limits[1] > int64(len(content)) {
			a.fail(index, int(operands[1].First), diag.ValueOutOfRange, "", "%d bytes are asked for and the file has %d there", limits[1], len(content))
			return false
		}
		content = content[:limits[1]]
	}
	if a.data == nil {
		a.data = map[uint32]string{}
	}
	a.data[index] = content
	a.advance(p, index, int64(len(content)))
	return true
}

// embeddedFile reads a file once, however often it is embedded. What a name
// means depends on the file that names it.
func (a *run) embeddedFile(name string) (string, error) {
	besides := a.lines.sources[a.lines.fileFrame().src].path
	key := filepath.Dir(besides) + "\x00" + name
	if content, ok := a.embedded[key]; ok {
		return content, nil
	}
	_, content, err := a.find(name, besides)
	if err == nil {
		if a.embedded == nil {
			a.embedded = map[string]string{}
		}
		a.embedded[key] = content
	}
	return content, err
}
