// Package encoder holds the CPU's opcode table and what is read out of it:
// which form an instruction's operands choose, the bytes of a form, the
// instruction that bytes are, T-states and machine cycles.
//
// The table (table.go) is data in the words of the CPU maker's manual, one row
// a form. A short reader (form.go) turns the rows into masks, values and
// fields once, at first use; nothing is built at start-up. The package knows
// operands, not syntax: the caller turns text into an Operand and adds the
// place to the errors it gets back.
package encoder
