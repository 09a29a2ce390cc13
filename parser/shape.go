package parser

import "romwright/lexer"

// Instr is one step of an expression in postfix order: push what a token
// stands for, or apply an operator to what was pushed.
type Instr struct {
	Op    lexer.Kind
	Unary bool   // the operator stands before its one operand
	Tok   uint16 // 0-based index of the token in the line
	Slot  uint16 // 0-based index among the line's slots (Word, Number, String, Function); of a Function its labels are Slot+1 and Slot+2
}

// Expr is an expression in postfix order.
type Expr struct {
	Code  []Instr
	First uint16 // index of its first token, the place to point at
	End   uint16 // index of the token behind its last
}

// Operand is one operand of a statement.
type Operand struct {
	Expr
	Clause     int  // token of AT, BLANK or COPIES before the value, or -1
	ClauseSlot int  // its slot, or -1
	Paren      bool // wholly in parentheses
	// ParenPrefix: begins with one name or number in parentheses and goes on;
	// the writer may have meant a memory operand.
	ParenPrefix bool
	NoComma     bool  // the comma before it is missing
	Dup         *Expr // the value that is repeated; Expr is then the count
}

// Shape is what lines with the same kinds of tokens have in common. It is
// never changed once made.
type Shape struct {
	Index     uint32 // counts from 0 in the order in which a Parser made them
	Label     bool   // token 0 is a label
	Colon     bool   // a colon follows it
	Op        int    // token of the operation, or -1
	Raw       bool   // the operation reads the rest of the line itself
	Operands  []Operand
	Trailing  int      // token of a comma left over at the end, or -1
	Tokens    int      // how many tokens, the EOL among them
	Slots     []uint16 // token of each slot
	MaxValues int      // how many values an expression of it pushes at most

	key  string // the kinds of its tokens
	hash uint32
}
