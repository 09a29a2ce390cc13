package assembler

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"romwright/diag"
	"romwright/directives"
	"romwright/encoder"
	"romwright/lexer"
	"romwright/parser"
)

// word is what is known of a word as an operation or an operand.
type word struct {
	class     parser.Class
	known     bool
	gen       uint32 // generation of the macro table that macro belongs to
	macro     uint32 // index + 1 in the macro table
	mnemonic  encoder.Mnemonic
	directive directives.ID
	reg       encoder.Reg
	cond      encoder.Cond
}

// word looks a word up once and remembers it.
func (a *run) word(id lexer.Name) *word {
	for int(id) >= len(a.words) {
		a.words = append(a.words, make([]word, max(256, len(a.words)/2))...)
	}
	w := &a.words[id]
	if !w.known {
		text := a.names.Text(id)
		w.known = true
		w.reg, _ = encoder.ParseRegister(text)
		w.cond, _ = encoder.ParseCondition(text)
		if m, ok := encoder.ParseMnemonic(text); ok {
			w.mnemonic = m
			w.class = parser.Operation
			if takesNothing(m) {
				w.class |= parser.StandAlone
			}
		} else if d, ok := directives.Lookup(text); ok {
			w.directive = d.ID
			w.class = d.Class
		}
		if a.skip != nil && a.skip[skipKey(text)] {
			w.class = parser.Operation | parser.PassedOver | parser.StandAlone
			w.mnemonic, w.directive = encoder.NoMnemonic, directives.None
		}
	}
	if w.gen != a.gen {
		w.gen = a.gen
		w.macro = a.findMacro(id)
	}
	return w
}

func takesNothing(m encoder.Mnemonic) bool {
	_, err := encoder.Select(m, nil, true)
	return err == nil
}

// classify is the parser's predicate for first words: a macro wins over a
// mnemonic or directive, what --skip names over all.
func (a *run) classify(id lexer.Name) parser.Class {
	w := a.word(id)
	if w.macro != 0 && w.class&parser.PassedOver == 0 {
		return parser.Operation | parser.ReadsRest | parser.StandAlone
	}
	return w.class
}

type symbolState uint8

const (
	undefined symbolState = iota
	known
	deferred // a constant whose value is not worked out yet
	working  // its value is being worked out
	bad      // an error about it was reported; what depends on it stays quiet
)

type symbolKind uint8

const (
	label symbolKind = iota
	constant
	variable
	flag
	frozenValue // what a variable was where a constant was defined; see freeze
)

// Kind words as the listing and --symbols show them.
var kindWords = [...]string{"label", "constant", "variable", "flag"}

type symbol struct {
	value int64
	def   uint32 // placed index + 1 of its definition, 0 where an option defined it
	uses  uint32 // index in run.uses of the last use
	state symbolState
	kind  symbolKind
}

func (a *run) symbol(id lexer.Name) *symbol {
	for int(id) >= len(a.symbols) {
		a.symbols = append(a.symbols, make([]symbol, max(256, len(a.symbols)/2))...)
	}
	return &a.symbols[id]
}

// canonical is the Name under which a word is a symbol: capital letters under
// ACCEPT any-case, and a local name joined to the label it belongs to.
func (a *run) canonical(id lexer.Name) lexer.Name {
	text := a.names.Text(id)
	if text[0] == '.' {
		return a.local(id)
	}
	if a.anyCase {
		id = a.names.Folded(id)
	}
	return id
}

// scoped joins a local name to its scope, which may be 0.
func (a *run) scoped(scope, id lexer.Name) lexer.Name {
	if scope != 0 {
		id = a.names.Of(a.names.Text(scope) + a.names.Text(id))
	}
	if a.anyCase {
		id = a.names.Folded(id)
	}
	return id
}

func (a *run) local(id lexer.Name) lexer.Name {
	scope := a.scope
	full := a.scoped(scope, id)
	if _, inner := a.outer[scope]; inner {
		if a.scopes == nil {
			a.scopes = map[lexer.Name]scopedName{}
		}
		a.scopes[full] = scopedName{scope, id}
	}
	return full
}

// visible finds the name under which a symbol is defined: a local name that an
// expansion does not define is looked for in the scopes around the expansion,
// since an argument may bring it in. It is id itself where nothing is found.
func (a *run) visible(id lexer.Name) lexer.Name {
	if a.scopes == nil || a.symbol(id).state != undefined {
		return id
	}
	sc, ok := a.scopes[id]
	// labels of one name in several expansions can lead round in a circle
	for range MaxDepth {
		if !ok {
			break
		}
		if sc.scope, ok = a.outer[sc.scope]; ok {
			if found := a.scoped(sc.scope, sc.local); a.symbol(found).state != undefined {
				return found
			}
		}
	}
	return id
}

// openScope makes the scope that local names behind a label belong to.
func (a *run) openScope(id lexer.Name) {
	a.scope = id
	if a.lines.inExpansion() {
		a.setOuter(id, a.lines.outerScope())
	}
}

func (a *run) setOuter(scope, outer lexer.Name) {
	if a.outer == nil {
		a.outer = map[lexer.Name]lexer.Name{}
	}
	if scope != outer {
		a.outer[scope] = outer
	}
}

// define gives a symbol its value. The same value again is no error.
func (a *run) define(id lexer.Name, kind symbolKind, value int64, state symbolState, index uint32) {
	s := a.symbol(id)
	a.anySymbol = true
	switch {
	case s.state == undefined:
		*s = symbol{value: value, def: index + 1, state: state, kind: kind, uses: s.uses}
	case kind == variable && s.kind == variable:
		s.value, s.state = value, state
	case s.state == bad:
	case kind == variable || s.kind == variable:
		a.duplicate(id, index, s)
	case s.state == known && state == known:
		if s.value != value {
			a.duplicate(id, index, s)
		}
	default:
		a.again = append(a.again, repeated{id, index, value, state == deferred})
	}
}

func (a *run) duplicate(id lexer.Name, index uint32, s *symbol) {
	d := a.errorAt(index, 0, diag.DuplicateSymbol, "%s is defined already", a.show(id))
	if s.def != 0 {
		first := a.tokenRange(s.def-1, 0)
		msg := "first defined here"
		if s.state == known {
			msg += ", as " + directives.Hex(s.value)
		}
		d.Related = append([]diag.Related{{Range: first, Message: msg}}, d.Related...)
	} else {
		d.Hint = "--define gave it the value " + directives.Hex(s.value)
	}
	a.diags.Add(d)
}

// show is a name for messages; an expansion's own names keep their marks.
func (a *run) show(id lexer.Name) string { return diag.Printable(a.names.Text(id)) }

// used notes that a statement uses a symbol.
func (a *run) used(s *symbol, index uint32) {
	if s.uses != 0 && a.uses[s.uses].index == index {
		return
	}
	if len(a.uses) == 0 {
		a.uses = append(a.uses, use{})
	}
	a.uses = append(a.uses, use{index, s.uses})
	s.uses = uint32(len(a.uses) - 1)
}

// resolve works out the value of a deferred constant. A chain of constants may
// be as long as the source, so it is followed on a list, not by recursion.
// It reports whether the value is known. Where it is not, the symbol is bad and
// the reason has been reported; or it is still deferred, since the reason lies
// further down (only in pass one).
func (a *run) resolve(id lexer.Name) bool {
	s := a.symbol(id)
	if s.state != deferred {
		return s.state == known
	}
	base := len(a.busy)
	a.busy = append(a.busy, id)
	for len(a.busy) > base {
		top := a.busy[len(a.busy)-1]
		s := a.symbol(top)
		s.state = working
		if dep := a.openDependency(top); dep != 0 {
			if a.symbol(dep).state == working {
				a.circular(dep)
				a.giveUp(base)
				return false
			}
			a.busy = append(a.busy, dep)
			continue
		}
		w := a.at(s.def - 1)
		v, st := a.eval(&w, &w.shape.Operands[0].Expr)
		s = a.symbol(top) // eval may have moved it
		switch st {
		case valueKnown:
			s.value, s.state = v, known
		case valueLater:
			// the caller reports it; what stands between stays quiet
			a.giveUp(base)
			a.symbol(id).state, a.symbol(top).state = deferred, deferred
			return false
		default:
			s.state = bad
		}
		a.busy = a.busy[:len(a.busy)-1]
	}
	return a.symbol(id).state == known
}

// giveUp leaves the constants that are being worked out without a value.
func (a *run) giveUp(base int) {
	for _, id := range a.busy[base:] {
		a.symbol(id).state = bad
	}
	a.busy = a.busy[:base]
}

// openDependency is a constant that the definition of id needs and that is
// itself not worked out, or 0.
func (a *run) openDependency(id lexer.Name) lexer.Name {
	w := a.at(a.symbol(id).def - 1)
	for _, in := range w.shape.Operands[0].Code {
		if in.Op != lexer.Word {
			continue
		}
		dep := a.visible(lexer.Name(w.slots[in.Slot]))
		if st := a.symbol(dep).state; st == deferred || st == working {
			return dep
		}
	}
	return 0
}

// circular reports a chain of constants that comes back to its beginning.
func (a *run) circular(dep lexer.Name) {
	// through LAP the chain may begin in front of base
	start := slices.Index(a.busy, dep)
	chain := a.busy[start:]
	names := make([]string, 0, len(chain)+1)
	for _, c := range chain {
		names = append(names, a.show(c))
		if len(names) == 8 && len(chain) > 9 {
			names = append(names, fmt.Sprintf("(%d more)", len(chain)-8))
			break
		}
	}
	names = append(names, a.show(dep))
	d := a.errorAt(a.symbol(dep).def-1, 0, diag.CircularSymbol, "circular definition: %s", strings.Join(names, " -> "))
	a.diags.Add(d)
}

// settle works out what pass one left open: deferred constants and symbols
// defined more than once.
func (a *run) settle() {
	a.resolved = true
	for id := range a.symbols {
		if a.symbols[id].state == deferred {
			a.resolve(lexer.Name(id))
		}
	}
	for _, r := range a.again {
		s := a.symbol(r.name)
		v, ok := r.value, true
		if r.later {
			w := a.at(r.index)
			var st valueState
			v, st = a.eval(&w, &w.shape.Operands[0].Expr)
			ok = st == valueKnown
		}
		if ok && s.state == known && s.value != v {
			a.duplicate(r.name, r.index, s)
		}
	}
}

// scopeName makes the name of an expansion's own scope.
func (a *run) scopeName(what string, n int) lexer.Name {
	return a.names.Of(what + "@" + strconv.Itoa(n))
}

// defineOption carries out one --define.
func (a *run) defineOption(d string) {
	name, value, has := strings.Cut(d, "=")
	if !has {
		value = "1"
	}
	if !lexer.IsName(name) {
		if has || name == "" || strings.ContainsAny(name, " \t,;") {
			a.diags.Add(diag.Diagnostic{Severity: diag.Error, Code: diag.BadName, Range: diag.Range{File: "--define"},
				Message: fmt.Sprintf("--define %s: %s is no symbol name", diag.Printable(d), diag.Printable(name))})
			return
		}
		a.setFlag(name)
		return
	}
	v, err := a.optionValue(value)
	if err != "" {
		a.diags.Add(diag.Diagnostic{Severity: diag.Error, Code: diag.BadNumber, Range: diag.Range{File: "--define"},
			Message: fmt.Sprintf("--define %s: %s", diag.Printable(d), err)})
		return
	}
	id := a.names.Of(name)
	if a.anyCase {
		id = a.names.Folded(id)
	}
	s := a.symbol(id)
	if s.state == known && s.value != v {
		a.diags.Add(diag.Diagnostic{Severity: diag.Error, Code: diag.DuplicateSymbol, Range: diag.Range{File: "--define"},
			Message: fmt.Sprintf("--define gives %s two values", diag.Printable(name))})
		return
	}
	*s = symbol{value: v, state: known, kind: flag}
}

func (a *run) setFlag(name string) {
	if a.flags == nil {
		a.flags = map[string]bool{}
	}
	a.flags[name] = true
}

// optionValue reads a number given on the command line: any form of the
// language, with a sign.
func (a *run) optionValue(s string) (int64, string) {
	v, err := ParseValue(s)
	if err != nil {
		return 0, err.Error()
	}
	return v, ""
}

// ParseValue reads one number in any form of the language, with or without a
// sign, as options give it.
func ParseValue(s string) (int64, error) {
	var sc lexer.Scanner
	sc.Names = &lexer.Names{}
	sc.Begin(s)
	t := sc.Next()
	sign := int64(1)
	if t.Kind == lexer.Minus {
		sign = -1
		t = sc.Next()
	}
	if t.Kind != lexer.Number || sc.Next().Kind != lexer.EOL || strings.Contains(s, ";") {
		return 0, fmt.Errorf("%s is no number (forms: 255 0FFH 0xFF $FF 1010B 32K)", diag.Printable(s))
	}
	return sign * t.Val, nil
}
