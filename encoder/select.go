package encoder

import (
	"cmp"
	"slices"
	"strings"
)

// SelectError says that no form takes the operands.
type SelectError struct {
	Mnemonic          Mnemonic
	Forms             []string // the forms that exist, nearest first, as Form.Syntax gives them
	NeedsUndocumented bool     // an undocumented form, the first of Forms, takes them
	Operand           int      // 0-based: the operand that is probably wrong, -1 if it cannot be told
}

// Error gives the message without the place.
func (e *SelectError) Error() string {
	if e.NeedsUndocumented {
		return e.Forms[0] + " is an undocumented instruction"
	}
	return "no form of " + e.Mnemonic.String() + " takes these operands; it has: " + strings.Join(e.Forms, "; ")
}

// Select finds the form that takes the operands, looking at their kinds,
// registers and conditions alone and never at a value, so that an
// instruction's size is known while values are not. undocumented admits the
// rows that the manual does not have. The error is a *SelectError.
func Select(m Mnemonic, ops []Operand, undocumented bool) (*Form, error) {
	var refused *Form // an undocumented form that would do
	for _, f := range instructions().byMnemonic[m] {
		if f.never || len(ops) != len(f.operands) || !f.Takes(ops) {
			continue
		}
		if undocumented || f.Documented() {
			return f, nil
		}
		if refused == nil {
			refused = f
		}
	}
	return nil, selectError(m, ops, undocumented, refused)
}

// Takes reports whether ops can be the form's first operands, values aside;
// the form may have more.
func (f *Form) Takes(ops []Operand) bool {
	if len(ops) > len(f.operands) {
		return false
	}
	for i := range ops {
		if f.operands[i].code(&ops[i]) < 0 {
			return false
		}
	}
	return true
}

// TakesAt reports whether op can be the form's operand i, counted from 0, values
// aside.
func (f *Form) TakesAt(i int, op Operand) bool {
	return i < len(f.operands) && f.operands[i].code(&op) >= 0
}

// selectError explains why nothing was found.
func selectError(m Mnemonic, ops []Operand, undocumented bool, refused *Form) *SelectError {
	e := &SelectError{Mnemonic: m, NeedsUndocumented: refused != nil, Operand: -1}
	type candidate struct {
		form  *Form
		score int // operands taken; below 0: another number of operands
		wrong int // first operand not taken
	}
	var list []candidate
	for _, f := range instructions().byMnemonic[m] {
		if f.never || !undocumented && !f.Documented() && f != refused {
			continue
		}
		c := candidate{form: f, score: -1, wrong: -1}
		if len(ops) == len(f.operands) {
			c.score = 0
			for i := range ops {
				if f.operands[i].code(&ops[i]) >= 0 {
					c.score++
				} else if c.wrong < 0 {
					c.wrong = i
				}
			}
		}
		if f == refused {
			c.score = len(ops) + 1
		}
		list = append(list, c)
	}
	// Among equals a form that takes the first operand is nearer.
	slices.SortStableFunc(list, func(a, b candidate) int {
		return cmp.Or(b.score-a.score, b.wrong-a.wrong)
	})
	for _, c := range list {
		if s := c.form.Syntax(); !slices.Contains(e.Forms, s) {
			e.Forms = append(e.Forms, s)
		}
	}
	if len(list) > 0 {
		e.Operand = list[0].wrong
	}
	if refused != nil {
		e.Operand = slices.IndexFunc(ops, func(op Operand) bool { return op.Reg.Undocumented() })
	}
	return e
}
