package encoder

import "sync"

// Mnemonic is an instruction's name. The zero value is none.
type Mnemonic uint8

// The mnemonics, in alphabetical order. SLL is undocumented; IM0, IM1 and IM2
// are accepted for IM 0, IM 1 and IM 2. DEFB is no mnemonic and is never
// parsed as one: it is the name of the rows for bytes that are no
// instruction (the table's last rows).
const (
	NoMnemonic Mnemonic = iota
	ADC
	ADD
	AND
	BIT
	CALL
	CCF
	CP
	CPD
	CPDR
	CPI
	CPIR
	CPL
	DAA
	DEC
	DI
	DJNZ
	EI
	EX
	EXX
	HALT
	IM
	IM0
	IM1
	IM2
	IN
	INC
	IND
	INDR
	INI
	INIR
	JP
	JR
	LD
	LDD
	LDDR
	LDI
	LDIR
	NEG
	NOP
	OR
	OTDR
	OTIR
	OUT
	OUTD
	OUTI
	POP
	PUSH
	RES
	RET
	RETI
	RETN
	RL
	RLA
	RLC
	RLCA
	RLD
	RR
	RRA
	RRC
	RRCA
	RRD
	RST
	SBC
	SCF
	SET
	SLA
	SLL
	SRA
	SRL
	SUB
	XOR
	DEFB
	mnemonicCount
)

var mnemonicNames = [mnemonicCount]string{
	"", "ADC", "ADD", "AND", "BIT", "CALL", "CCF", "CP", "CPD", "CPDR", "CPI",
	"CPIR", "CPL", "DAA", "DEC", "DI", "DJNZ", "EI", "EX", "EXX", "HALT", "IM",
	"IM0", "IM1", "IM2", "IN", "INC", "IND", "INDR", "INI", "INIR", "JP", "JR",
	"LD", "LDD", "LDDR", "LDI", "LDIR", "NEG", "NOP", "OR", "OTDR", "OTIR",
	"OUT", "OUTD", "OUTI", "POP", "PUSH", "RES", "RET", "RETI", "RETN", "RL",
	"RLA", "RLC", "RLCA", "RLD", "RR", "RRA", "RRC", "RRCA", "RRD", "RST",
	"SBC", "SCF", "SET", "SLA", "SLL", "SRA", "SRL", "SUB", "XOR", "DEFB",
}

var mnemonicIndex = sync.OnceValue(func() *wordIndex { return newWordIndex(mnemonicNames[:]) })

// ParseMnemonic finds the mnemonic that a word is, in any letter case. It does
// not allocate.
func ParseMnemonic(word string) (Mnemonic, bool) {
	m := Mnemonic(mnemonicIndex().find(word))
	if m == DEFB {
		return NoMnemonic, false
	}
	return m, m != NoMnemonic
}

// String gives the mnemonic in capitals, "" for none.
func (m Mnemonic) String() string { return mnemonicNames[m] }

// Mnemonics lists every mnemonic in alphabetical order.
func Mnemonics() []Mnemonic {
	list := make([]Mnemonic, 0, mnemonicCount)
	for m := NoMnemonic + 1; m < DEFB; m++ {
		list = append(list, m)
	}
	return list
}

// TakesCondition reports whether the first of so many operands of m may be a
// condition: JP, JR and CALL with two operands, RET with one.
func TakesCondition(m Mnemonic, operands int) bool {
	switch m {
	case JP, JR, CALL:
		return operands == 2
	case RET:
		return operands == 1
	}
	return false
}
