package diag

// Code is a stable kebab-case name of a kind of diagnostic.
type Code string

// The codes; the table says what each means.
const (
	Syntax               Code = "syntax"
	BadCharacter         Code = "bad-character"
	BadNumber            Code = "bad-number"
	BadName              Code = "bad-name"
	OpenString           Code = "open-string"
	LineTooLong          Code = "line-too-long"
	UnknownOperation     Code = "unknown-operation"
	LooksLikeOperation   Code = "looks-like-operation"
	BadOperands          Code = "bad-operands"
	NeedsUndocumented    Code = "needs-undocumented"
	ValueOutOfRange      Code = "value-out-of-range"
	UndefinedSymbol      Code = "undefined-symbol"
	DuplicateSymbol      Code = "duplicate-symbol"
	CircularSymbol       Code = "circular-symbol"
	NotKnownYet          Code = "not-known-yet"
	DivisionByZero       Code = "division-by-zero"
	Overflow             Code = "overflow"
	BadShift             Code = "bad-shift"
	BadString            Code = "bad-string"
	RegisterInExpression Code = "register-in-expression"
	NotNegated           Code = "not-negated"
	Parentheses          Code = "parentheses"
	OutsideChip          Code = "outside-chip"
	Overlap              Code = "overlap"
	OutsideMemory        Code = "outside-memory"
	NoCapacity           Code = "no-capacity"
	CapacityConflict     Code = "capacity-conflict"
	RequirementFailed    Code = "requirement-failed"
	IncludeFailed        Code = "include-failed"
	MacroMisuse          Code = "macro-misuse"
	Unclosed             Code = "unclosed"
	Unopened             Code = "unopened"
	TooManyLines         Code = "too-many-lines"
	ExtraArgument        Code = "extra-argument"
	Narrowed             Code = "narrowed"
	Overwritten          Code = "overwritten"
	PairLoad             Code = "pair-load"
	Comma                Code = "comma"
	BadTiming            Code = "bad-timing"
	BadAccept            Code = "bad-accept"
	BadRecord            Code = "bad-record"
	NoDump               Code = "no-dump"
	BadListing           Code = "bad-listing"
	ListingAltered       Code = "listing-altered"
	ROMWrite             Code = "rom-write"
	NothingFitted        Code = "nothing-fitted"
	BlankFetch           Code = "blank-fetch"
	StackOutsideRAM      Code = "stack-outside-ram"
	UncoveredPort        Code = "uncovered-port"
	RegisterNeverSet     Code = "register-never-set"
	Internal             Code = "internal"
)

// CodeInfo is one row of the table of codes.
type CodeInfo struct {
	Code     Code
	Severity Severity // the usual one
	Summary  string
}

var codes = [...]CodeInfo{
	{Syntax, Error, "a line that does not follow the grammar"},
	{BadCharacter, Error, "a byte that may not stand outside a remark"},
	{BadNumber, Error, "digits that are no number of the language, or too many of them"},
	{BadName, Error, "a name that the language does not allow"},
	{OpenString, Error, "a string without its closing quote"},
	{LineTooLong, Error, "a line of more bytes than the language allows"},
	{UnknownOperation, Error, "a word that is no mnemonic, directive or macro"},
	{LooksLikeOperation, Warning, "a label that is one letter away from a mnemonic"},
	{BadOperands, Error, "operands that no form of the instruction takes"},
	{NeedsUndocumented, Error, "an instruction that the CPU maker does not document"},
	{ValueOutOfRange, Error, "a value that does not fit where it stands"},
	{UndefinedSymbol, Error, "a name that is defined nowhere"},
	{DuplicateSymbol, Error, "a name with two different values"},
	{CircularSymbol, Error, "a constant that depends on itself"},
	{NotKnownYet, Error, "a value that must be known where it stands and is not"},
	{DivisionByZero, Error, "a division by zero"},
	{Overflow, Error, "a value beyond 64 bits with sign"},
	{BadShift, Error, "a shift by less than 0 or more than 63"},
	{BadString, Error, "a string where it cannot be a value, or a bad escape in it"},
	{RegisterInExpression, Error, "a register where a value is due"},
	{NotNegated, Warning, "a bitwise NOT of a condition that is neither true (-1) nor false (0)"},
	{Parentheses, Warning, "a value that begins like a memory operand"},
	{OutsideChip, Error, "a byte at an address that the chip does not hold"},
	{Overlap, Error, "a byte at an address that is taken already"},
	{OutsideMemory, Error, "a byte reserved where neither ROM nor RAM is fitted"},
	{NoCapacity, Error, "a program that does not say how large its chip is"},
	{CapacityConflict, Error, "a chip that is declared twice"},
	{RequirementFailed, Error, "a REQUIRE whose condition does not hold"},
	{IncludeFailed, Error, "a file that cannot be included"},
	{MacroMisuse, Error, "a macro or a repetition that is not used as it must be"},
	{Unclosed, Error, "a part that is opened and not closed"},
	{Unopened, Error, "a closing word without its opening"},
	{TooManyLines, Error, "an expansion that grows beyond every bound"},
	{ExtraArgument, Warning, "more arguments than the macro has parameters"},
	{Narrowed, Warning, "a value that lost its high bits (ACCEPT narrowing)"},
	{Overwritten, Warning, "a byte emitted over another (ACCEPT overlap)"},
	{PairLoad, Warning, "a load of a register pair as two loads (ACCEPT pairs)"},
	{Comma, Warning, "a comma that is missing or left over (ACCEPT commas)"},
	{BadTiming, Error, "a TSTATES or LAP whose span has no fixed length"},
	{BadAccept, Error, "a word that ACCEPT does not know, or one that comes too late"},
	{BadRecord, Error, "a line of an Intel HEX or S-record file that breaks the format"},
	{NoDump, Error, "a read-back in which nothing looks like a dump of a chip"},
	{BadListing, Error, "a line of a listing that does not follow its layout, or one too many"},
	{ListingAltered, Error, "a listing whose rows do not give the image that was listed"},
	{ROMWrite, Warning, "a run of the program writes to ROM, where nothing is stored"},
	{NothingFitted, Warning, "a run of the program accesses an address where no chip is fitted"},
	{BlankFetch, Warning, "a run of the program fetches from a cell that nothing was put into"},
	{StackOutsideRAM, Warning, "a run of the program has its stack where there is no RAM"},
	{UncoveredPort, Warning, "a run of the program reads a port for which no value is given"},
	{RegisterNeverSet, Warning, "a run of the program uses a register before setting it"},
	{Internal, Error, "a mistake in this program"},
}

// Codes gives the table of all codes.
func Codes() []CodeInfo { return codes[:] }
