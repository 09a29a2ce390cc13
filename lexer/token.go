// Package lexer cuts one line of source text into tokens.
//
// The scanner is written by hand, because an assembler line is context
// sensitive in ways that no set of regular expressions tells apart: column 1
// matters, '%', '#' and '$' begin a number only where a value may start, the
// apostrophe of AF' opens no character, and an operator word is an ordinary
// name where no operand for it follows. It never gives up: what it cannot read
// becomes one Illegal token, and it goes on.
//
// Tokens are small and hold no text: a kind, the byte range within the line,
// and a number, which is the value of a Number and the Name of a Word.
// Definition puts the scanner behind participle's lexer interface.
package lexer

// Kind tells what a token is.
type Kind uint8

// The kinds. Those from Label to Raw are given by the parser, which knows
// which words are operations; all others by the scanner.
const (
	EOL Kind = iota // the end of the line; a remark belongs to it
	Illegal

	Word   // a name; Val is its Name
	Number // Val is its value
	String // characters in quotes; the range includes the quotes
	Dollar // $, the address of the statement

	Comma
	Colon
	LParen
	RParen

	// Operators, by precedence; see Precedence.
	Tilde
	High
	Low
	Star
	Slash
	Mod
	Plus
	Minus
	ShiftLeft
	ShiftRight
	Ampersand
	Caret
	Bar
	Equal
	NotEqual
	Less
	LessEqual
	Greater
	GreaterEqual
	Not
	And
	Xor
	Or

	Dup      // DUP after a count, before its parenthesis
	Function // TSTATES or LAP before its parenthesis; Val is its Name

	Label     // a word that is the statement's label
	Operation // a word (or '=') that is the statement's operation
	Clause    // AT, BLANK or COPIES at the start of an operand
	Raw       // the rest of the line, which the operation reads itself

	kinds // how many there are
)

var kindNames = [kinds]string{
	"EOL", "Illegal", "Word", "Number", "String", "Dollar", "Comma", "Colon", "LParen", "RParen",
	"Tilde", "High", "Low", "Star", "Slash", "Mod", "Plus", "Minus", "ShiftLeft", "ShiftRight",
	"Ampersand", "Caret", "Bar", "Equal", "NotEqual", "Less", "LessEqual", "Greater", "GreaterEqual",
	"Not", "And", "Xor", "Or", "Dup", "Function", "Label", "Operation", "Clause", "Raw",
}

// String gives the name by which the grammar refers to the kind.
func (k Kind) String() string {
	if k < kinds {
		return kindNames[k]
	}
	return "Kind?"
}

// Unary operators bind tighter than all others but Not, which stands between
// the comparisons and And.
const (
	PrecOr         = 1
	PrecXor        = 2
	PrecAnd        = 3
	PrecNot        = 4
	PrecComparison = 5
	PrecUnary      = 12
)

// Precedence is the binding strength of a binary operator, 1 the loosest; 0
// means that the kind is no binary operator.
func (k Kind) Precedence() int {
	switch k {
	case Star, Slash, Mod:
		return 11
	case Plus, Minus:
		return 10
	case ShiftLeft, ShiftRight:
		return 9
	case Ampersand:
		return 8
	case Caret:
		return 7
	case Bar:
		return 6
	case Equal, NotEqual, Less, LessEqual, Greater, GreaterEqual:
		return PrecComparison
	case And:
		return PrecAnd
	case Xor:
		return PrecXor
	case Or:
		return PrecOr
	}
	return 0
}

// IsUnary tells whether the kind is an operator that stands before its operand.
func (k Kind) IsUnary() bool {
	switch k {
	case Tilde, High, Low, Plus, Minus, Not:
		return true
	}
	return false
}

// Slot tells whether the token's value, not its kind, matters: two lines that
// differ in slots only have the same shape.
func (k Kind) Slot() bool {
	switch k {
	case Word, Number, String, Function, Clause:
		return true
	}
	return false
}

// Token is one token of a line. Start and End are byte offsets in the line,
// 0-based, End exclusive.
type Token struct {
	Val        int64
	Start, End uint16
	Kind       Kind
	Problem    Problem // why an Illegal token is illegal
	Blank      bool    // a blank stands before it, or it begins the line
}

// Problem says what is wrong with an Illegal token.
type Problem uint8

// The problems.
const (
	NoProblem         Problem = iota
	StrayCharacter            // a character that begins no token
	NotASCII                  // a byte over 7EH outside a remark
	ControlByte               // a byte under 20H other than a tab or a form feed
	BadNumber                 // a digit that the number's base does not have
	NumberTooLarge            // does not fit 64 bits with sign
	OpenString                // no closing quote
	OpenTripleQuote           // ''' where '''' was meant
	NameTooLong               // more than MaxName characters
	NameWithoutLetter         // only digits, dots and the like
	LineTooLong               // more than MaxLine bytes
)

// Limits of the language.
const (
	MaxLine = 4096 // bytes in a line, without its end
	MaxName = 255  // characters in a name
)
