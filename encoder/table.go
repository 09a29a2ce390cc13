package encoder

// row is one form of an instruction: one line of the table.
type row struct {
	mnemonic string // "DEFB": bytes that are no instruction
	operands string // in the notation below
	bits     string // the code
	tstates  string // T-states of each machine cycle
	cycles   string // the kind of each machine cycle
	summary  string // what it does, in a line
	note     string // what is not on the manual's page
}

// The instruction set: rows, groups and their order as in the "Z80 CPU User
// Manual" (UM0080), chapter "Z80 Instruction Set", one row a form; the rows of
// IX and IY stand apart. (Typed from memory of that manual; the tests check
// every row against an independent data set and index.)
//
// operands, as the manual writes them:
//
//	r r'      A B C D E H L               n   a byte
//	r*        A B C D E                   nn  a word
//	dd ss     BC DE HL SP                 d   a displacement, -128 to 127
//	qq        BC DE HL AF                 e   the address of a relative jump
//	pp        BC DE IX SP                 b   a bit number, 0 to 7
//	rr        BC DE IY SP                 i   an interrupt mode, 0 to 2
//	cc        NZ Z NC C PO PE P M         p   a restart address, 00H to 38H
//	IXH/L     IXH IXL (the manual has no name for these; IYH/L likewise)
//
// bits: two capital hex digits are a byte; eight characters are a byte in
// binary, in which a letter names an operand's field (r; s for r' and ss; d; q;
// p for pp; r for rr; c; b; i; t for p; x and y for IXH/L and IXH/L'); n, nn, d
// and e are operand bytes, nn low byte first, e counted from the next
// instruction.
//
// tstates: as the manual prints them; where two lengths exist both, with what
// they are for, the longer first: "4,3,5 taken|4,3 not taken".
//
// cycles: a letter for each T-state number of the longer list, and the shorter
// ends early: F opcode fetch, R memory read, W memory write, I port read, O
// port write, - internal.
//
// note: "undocumented" marks rows that the manual does not have. "never chosen"
// rows are for decoding alone. Where two rows take the same operands the first
// is chosen and says "prefer".
var table = [...]row{
	// --- 8-Bit Load Group ---

	{"LD", "r,r'", "01rrrsss", "4", "F", "copy r' to r", ""},
	{"LD", "r,n", "00rrr110 n", "4,3", "FR", "load r with the byte n", ""},
	{"LD", "r,(HL)", "01rrr110", "4,3", "FR", "load r from the address in HL", ""},
	{"LD", "r,(IX+d)", "DD 01rrr110 d", "4,4,3,5,3", "FFR-R", "load r from the address IX+d", ""},
	{"LD", "r,(IY+d)", "FD 01rrr110 d", "4,4,3,5,3", "FFR-R", "load r from the address IY+d", ""},
	{"LD", "(HL),r", "01110rrr", "4,3", "FW", "store r at the address in HL", ""},
	{"LD", "(IX+d),r", "DD 01110rrr d", "4,4,3,5,3", "FFR-W", "store r at the address IX+d", ""},
	{"LD", "(IY+d),r", "FD 01110rrr d", "4,4,3,5,3", "FFR-W", "store r at the address IY+d", ""},
	{"LD", "(HL),n", "36 n", "4,3,3", "FRW", "store the byte n at the address in HL", ""},
	{"LD", "(IX+d),n", "DD 36 d n", "4,4,3,5,3", "FFRRW", "store the byte n at the address IX+d", ""},
	{"LD", "(IY+d),n", "FD 36 d n", "4,4,3,5,3", "FFRRW", "store the byte n at the address IY+d", ""},
	{"LD", "A,(BC)", "0A", "4,3", "FR", "load A from the address in BC", ""},
	{"LD", "A,(DE)", "1A", "4,3", "FR", "load A from the address in DE", ""},
	{"LD", "A,(nn)", "3A nn", "4,3,3,3", "FRRR", "load A from the address nn", ""},
	{"LD", "(BC),A", "02", "4,3", "FW", "store A at the address in BC", ""},
	{"LD", "(DE),A", "12", "4,3", "FW", "store A at the address in DE", ""},
	{"LD", "(nn),A", "32 nn", "4,3,3,3", "FRRW", "store A at the address nn", ""},
	{"LD", "A,I", "ED 57", "4,5", "FF", "copy the interrupt vector register to A, flags set", ""},
	{"LD", "A,R", "ED 5F", "4,5", "FF", "copy the refresh register to A, flags set", ""},
	{"LD", "I,A", "ED 47", "4,5", "FF", "copy A to the interrupt vector register", ""},
	{"LD", "R,A", "ED 4F", "4,5", "FF", "copy A to the refresh register", ""},

	// --- 16-Bit Load Group ---

	{"LD", "dd,nn", "00dd0001 nn", "4,3,3", "FRR", "load dd with the word nn", ""},
	{"LD", "IX,nn", "DD 21 nn", "4,4,3,3", "FFRR", "load IX with the word nn", ""},
	{"LD", "IY,nn", "FD 21 nn", "4,4,3,3", "FFRR", "load IY with the word nn", ""},
	{"LD", "HL,(nn)", "2A nn", "4,3,3,3,3", "FRRRR", "load HL from the addresses nn and nn+1", "prefer: ED 6B is the longer form"},
	{"LD", "dd,(nn)", "ED 01dd1011 nn", "4,4,3,3,3,3", "FFRRRR", "load dd from the addresses nn and nn+1", ""},
	{"LD", "IX,(nn)", "DD 2A nn", "4,4,3,3,3,3", "FFRRRR", "load IX from the addresses nn and nn+1", ""},
	{"LD", "IY,(nn)", "FD 2A nn", "4,4,3,3,3,3", "FFRRRR", "load IY from the addresses nn and nn+1", ""},
	{"LD", "(nn),HL", "22 nn", "4,3,3,3,3", "FRRWW", "store HL at the addresses nn and nn+1", "prefer: ED 63 is the longer form"},
	{"LD", "(nn),dd", "ED 01dd0011 nn", "4,4,3,3,3,3", "FFRRWW", "store dd at the addresses nn and nn+1", ""},
	{"LD", "(nn),IX", "DD 22 nn", "4,4,3,3,3,3", "FFRRWW", "store IX at the addresses nn and nn+1", ""},
	{"LD", "(nn),IY", "FD 22 nn", "4,4,3,3,3,3", "FFRRWW", "store IY at the addresses nn and nn+1", ""},
	{"LD", "SP,HL", "F9", "6", "F", "copy HL to the stack pointer", ""},
	{"LD", "SP,IX", "DD F9", "4,6", "FF", "copy IX to the stack pointer", ""},
	{"LD", "SP,IY", "FD F9", "4,6", "FF", "copy IY to the stack pointer", ""},
	{"PUSH", "qq", "11qq0101", "5,3,3", "FWW", "push qq onto the stack", ""},
	{"PUSH", "IX", "DD E5", "4,5,3,3", "FFWW", "push IX onto the stack", ""},
	{"PUSH", "IY", "FD E5", "4,5,3,3", "FFWW", "push IY onto the stack", ""},
	{"POP", "qq", "11qq0001", "4,3,3", "FRR", "pop qq from the stack", ""},
	{"POP", "IX", "DD E1", "4,4,3,3", "FFRR", "pop IX from the stack", ""},
	{"POP", "IY", "FD E1", "4,4,3,3", "FFRR", "pop IY from the stack", ""},

	// --- Exchange, Block Transfer, and Search Group ---

	{"EX", "DE,HL", "EB", "4", "F", "exchange DE and HL", ""},
	{"EX", "AF,AF'", "08", "4", "F", "exchange AF and the alternate AF'", ""},
	{"EXX", "", "D9", "4", "F", "exchange BC, DE, HL and their alternates", ""},
	{"EX", "(SP),HL", "E3", "4,3,4,3,5", "FRRWW", "exchange HL and the top of the stack", ""},
	{"EX", "(SP),IX", "DD E3", "4,4,3,4,3,5", "FFRRWW", "exchange IX and the top of the stack", ""},
	{"EX", "(SP),IY", "FD E3", "4,4,3,4,3,5", "FFRRWW", "exchange IY and the top of the stack", ""},
	{"LDI", "", "ED A0", "4,4,3,5", "FFRW", "copy a byte from (HL) to (DE), count up, BC down", ""},
	{"LDIR", "", "ED B0", "4,4,3,5,5 repeating|4,4,3,5 ending", "FFRW-", "copy bytes from (HL) to (DE), counting up, until BC is 0", ""},
	{"LDD", "", "ED A8", "4,4,3,5", "FFRW", "copy a byte from (HL) to (DE), count down, BC down", ""},
	{"LDDR", "", "ED B8", "4,4,3,5,5 repeating|4,4,3,5 ending", "FFRW-", "copy bytes from (HL) to (DE), counting down, until BC is 0", ""},
	{"CPI", "", "ED A1", "4,4,3,5", "FFR-", "compare A with (HL), count HL up, BC down", ""},
	{"CPIR", "", "ED B1", "4,4,3,5,5 repeating|4,4,3,5 ending", "FFR--", "search for A from (HL), counting up, until found or BC is 0", ""},
	{"CPD", "", "ED A9", "4,4,3,5", "FFR-", "compare A with (HL), count HL down, BC down", ""},
	{"CPDR", "", "ED B9", "4,4,3,5,5 repeating|4,4,3,5 ending", "FFR--", "search for A from (HL), counting down, until found or BC is 0", ""},

	// --- 8-Bit Arithmetic Group ---

	{"ADD", "A,r", "10000rrr", "4", "F", "add r to A", ""},
	{"ADD", "A,n", "11000110 n", "4,3", "FR", "add the byte n to A", ""},
	{"ADD", "A,(HL)", "10000110", "4,3", "FR", "add the byte at (HL) to A", ""},
	{"ADD", "A,(IX+d)", "DD 10000110 d", "4,4,3,5,3", "FFR-R", "add the byte at (IX+d) to A", ""},
	{"ADD", "A,(IY+d)", "FD 10000110 d", "4,4,3,5,3", "FFR-R", "add the byte at (IY+d) to A", ""},
	{"ADC", "A,r", "10001rrr", "4", "F", "add r and carry to A", ""},
	{"ADC", "A,n", "11001110 n", "4,3", "FR", "add the byte n and carry to A", ""},
	{"ADC", "A,(HL)", "10001110", "4,3", "FR", "add the byte at (HL) and carry to A", ""},
	{"ADC", "A,(IX+d)", "DD 10001110 d", "4,4,3,5,3", "FFR-R", "add the byte at (IX+d) and carry to A", ""},
	{"ADC", "A,(IY+d)", "FD 10001110 d", "4,4,3,5,3", "FFR-R", "add the byte at (IY+d) and carry to A", ""},
	{"SUB", "r", "10010rrr", "4", "F", "subtract r from A", ""},
	{"SUB", "n", "11010110 n", "4,3", "FR", "subtract the byte n from A", ""},
	{"SUB", "(HL)", "10010110", "4,3", "FR", "subtract the byte at (HL) from A", ""},
	{"SUB", "(IX+d)", "DD 10010110 d", "4,4,3,5,3", "FFR-R", "subtract the byte at (IX+d) from A", ""},
	{"SUB", "(IY+d)", "FD 10010110 d", "4,4,3,5,3", "FFR-R", "subtract the byte at (IY+d) from A", ""},
	{"SBC", "A,r", "10011rrr", "4", "F", "subtract r and carry from A", ""},
	{"SBC", "A,n", "11011110 n", "4,3", "FR", "subtract the byte n and carry from A", ""},
	{"SBC", "A,(HL)", "10011110", "4,3", "FR", "subtract the byte at (HL) and carry from A", ""},
	{"SBC", "A,(IX+d)", "DD 10011110 d", "4,4,3,5,3", "FFR-R", "subtract the byte at (IX+d) and carry from A", ""},
	{"SBC", "A,(IY+d)", "FD 10011110 d", "4,4,3,5,3", "FFR-R", "subtract the byte at (IY+d) and carry from A", ""},
	{"AND", "r", "10100rrr", "4", "F", "A becomes A AND r", ""},
	{"AND", "n", "11100110 n", "4,3", "FR", "A becomes A AND the byte n", ""},
	{"AND", "(HL)", "10100110", "4,3", "FR", "A becomes A AND the byte at (HL)", ""},
	{"AND", "(IX+d)", "DD 10100110 d", "4,4,3,5,3", "FFR-R", "A becomes A AND the byte at (IX+d)", ""},
	{"AND", "(IY+d)", "FD 10100110 d", "4,4,3,5,3", "FFR-R", "A becomes A AND the byte at (IY+d)", ""},
	{"OR", "r", "10110rrr", "4", "F", "A becomes A OR r", ""},
	{"OR", "n", "11110110 n", "4,3", "FR", "A becomes A OR the byte n", ""},
	{"OR", "(HL)", "10110110", "4,3", "FR", "A becomes A OR the byte at (HL)", ""},
	{"OR", "(IX+d)", "DD 10110110 d", "4,4,3,5,3", "FFR-R", "A becomes A OR the byte at (IX+d)", ""},
	{"OR", "(IY+d)", "FD 10110110 d", "4,4,3,5,3", "FFR-R", "A becomes A OR the byte at (IY+d)", ""},
	{"XOR", "r", "10101rrr", "4", "F", "A becomes A XOR r", ""},
	{"XOR", "n", "11101110 n", "4,3", "FR", "A becomes A XOR the byte n", ""},
	{"XOR", "(HL)", "10101110", "4,3", "FR", "A becomes A XOR the byte at (HL)", ""},
	{"XOR", "(IX+d)", "DD 10101110 d", "4,4,3,5,3", "FFR-R", "A becomes A XOR the byte at (IX+d)", ""},
	{"XOR", "(IY+d)", "FD 10101110 d", "4,4,3,5,3", "FFR-R", "A becomes A XOR the byte at (IY+d)", ""},
	{"CP", "r", "10111rrr", "4", "F", "compare A with r, flags only", ""},
	{"CP", "n", "11111110 n", "4,3", "FR", "compare A with the byte n, flags only", ""},
	{"CP", "(HL)", "10111110", "4,3", "FR", "compare A with the byte at (HL), flags only", ""},
	{"CP", "(IX+d)", "DD 10111110 d", "4,4,3,5,3", "FFR-R", "compare A with the byte at (IX+d), flags only", ""},
	{"CP", "(IY+d)", "FD 10111110 d", "4,4,3,5,3", "FFR-R", "compare A with the byte at (IY+d), flags only", ""},
	{"INC", "r", "00rrr100", "4", "F", "add 1 to r", ""},
	{"INC", "(HL)", "00110100", "4,4,3", "FRW", "add 1 to the byte at (HL)", ""},
	{"INC", "(IX+d)", "DD 00110100 d", "4,4,3,5,4,3", "FFR-RW", "add 1 to the byte at (IX+d)", ""},
	{"INC", "(IY+d)", "FD 00110100 d", "4,4,3,5,4,3", "FFR-RW", "add 1 to the byte at (IY+d)", ""},
	{"DEC", "r", "00rrr101", "4", "F", "subtract 1 from r", ""},
	{"DEC", "(HL)", "00110101", "4,4,3", "FRW", "subtract 1 from the byte at (HL)", ""},
	{"DEC", "(IX+d)", "DD 00110101 d", "4,4,3,5,4,3", "FFR-RW", "subtract 1 from the byte at (IX+d)", ""},
	{"DEC", "(IY+d)", "FD 00110101 d", "4,4,3,5,4,3", "FFR-RW", "subtract 1 from the byte at (IY+d)", ""},

	// --- General-Purpose Arithmetic and CPU Control Groups ---

	{"DAA", "", "27", "4", "F", "adjust A to packed decimal after an addition or subtraction", ""},
	{"CPL", "", "2F", "4", "F", "invert every bit of A", ""},
	{"NEG", "", "ED 44", "4,4", "FF", "A becomes 0 - A", ""},
	{"CCF", "", "3F", "4", "F", "invert the carry flag", ""},
	{"SCF", "", "37", "4", "F", "set the carry flag", ""},
	{"NOP", "", "00", "4", "F", "no operation", ""},
	{"HALT", "", "76", "4", "F", "wait for an interrupt or reset", ""},
	{"DI", "", "F3", "4", "F", "disable the maskable interrupt", ""},
	{"EI", "", "FB", "4", "F", "enable the maskable interrupt after the next instruction", ""},
	{"IM", "i", "ED 01iii110", "4,4", "FF", "set interrupt mode 0, 1 or 2", ""},

	// --- 16-Bit Arithmetic Group ---

	{"ADD", "HL,ss", "00ss1001", "4,4,3", "F--", "add ss to HL", ""},
	{"ADC", "HL,ss", "ED 01ss1010", "4,4,4,3", "FF--", "add ss and carry to HL", ""},
	{"SBC", "HL,ss", "ED 01ss0010", "4,4,4,3", "FF--", "subtract ss and carry from HL", ""},
	{"ADD", "IX,pp", "DD 00pp1001", "4,4,4,3", "FF--", "add pp to IX", ""},
	{"ADD", "IY,rr", "FD 00rr1001", "4,4,4,3", "FF--", "add rr to IY", ""},
	{"INC", "ss", "00ss0011", "6", "F", "add 1 to ss", ""},
	{"INC", "IX", "DD 23", "4,6", "FF", "add 1 to IX", ""},
	{"INC", "IY", "FD 23", "4,6", "FF", "add 1 to IY", ""},
	{"DEC", "ss", "00ss1011", "6", "F", "subtract 1 from ss", ""},
	{"DEC", "IX", "DD 2B", "4,6", "FF", "subtract 1 from IX", ""},
	{"DEC", "IY", "FD 2B", "4,6", "FF", "subtract 1 from IY", ""},

	// --- Rotate and Shift Group ---

	{"RLCA", "", "07", "4", "F", "rotate A left, bit 7 to bit 0 and carry", ""},
	{"RLA", "", "17", "4", "F", "rotate A left through carry", ""},
	{"RRCA", "", "0F", "4", "F", "rotate A right, bit 0 to bit 7 and carry", ""},
	{"RRA", "", "1F", "4", "F", "rotate A right through carry", ""},
	{"RLC", "r", "CB 00000rrr", "4,4", "FF", "rotate r left, bit 7 to bit 0 and carry", ""},
	{"RLC", "(HL)", "CB 00000110", "4,4,4,3", "FFRW", "rotate the byte at (HL) left, bit 7 to bit 0 and carry", ""},
	{"RLC", "(IX+d)", "DD CB d 00000110", "4,4,3,5,4,3", "FFRRRW", "rotate the byte at (IX+d) left, bit 7 to bit 0 and carry", ""},
	{"RLC", "(IY+d)", "FD CB d 00000110", "4,4,3,5,4,3", "FFRRRW", "rotate the byte at (IY+d) left, bit 7 to bit 0 and carry", ""},
	{"RL", "r", "CB 00010rrr", "4,4", "FF", "rotate r left through carry", ""},
	{"RL", "(HL)", "CB 00010110", "4,4,4,3", "FFRW", "rotate the byte at (HL) left through carry", ""},
	{"RL", "(IX+d)", "DD CB d 00010110", "4,4,3,5,4,3", "FFRRRW", "rotate the byte at (IX+d) left through carry", ""},
	{"RL", "(IY+d)", "FD CB d 00010110", "4,4,3,5,4,3", "FFRRRW", "rotate the byte at (IY+d) left through carry", ""},
	{"RRC", "r", "CB 00001rrr", "4,4", "FF", "rotate r right, bit 0 to bit 7 and carry", ""},
	{"RRC", "(HL)", "CB 00001110", "4,4,4,3", "FFRW", "rotate the byte at (HL) right, bit 0 to bit 7 and carry", ""},
	{"RRC", "(IX+d)", "DD CB d 00001110", "4,4,3,5,4,3", "FFRRRW", "rotate the byte at (IX+d) right, bit 0 to bit 7 and carry", ""},
	{"RRC", "(IY+d)", "FD CB d 00001110", "4,4,3,5,4,3", "FFRRRW", "rotate the byte at (IY+d) right, bit 0 to bit 7 and carry", ""},
	{"RR", "r", "CB 00011rrr", "4,4", "FF", "rotate r right through carry", ""},
	{"RR", "(HL)", "CB 00011110", "4,4,4,3", "FFRW", "rotate the byte at (HL) right through carry", ""},
	{"RR", "(IX+d)", "DD CB d 00011110", "4,4,3,5,4,3", "FFRRRW", "rotate the byte at (IX+d) right through carry", ""},
	{"RR", "(IY+d)", "FD CB d 00011110", "4,4,3,5,4,3", "FFRRRW", "rotate the byte at (IY+d) right through carry", ""},
	{"SLA", "r", "CB 00100rrr", "4,4", "FF", "shift r left, 0 into bit 0", ""},
	{"SLA", "(HL)", "CB 00100110", "4,4,4,3", "FFRW", "shift the byte at (HL) left, 0 into bit 0", ""},
	{"SLA", "(IX+d)", "DD CB d 00100110", "4,4,3,5,4,3", "FFRRRW", "shift the byte at (IX+d) left, 0 into bit 0", ""},
	{"SLA", "(IY+d)", "FD CB d 00100110", "4,4,3,5,4,3", "FFRRRW", "shift the byte at (IY+d) left, 0 into bit 0", ""},
	{"SRA", "r", "CB 00101rrr", "4,4", "FF", "shift r right, bit 7 kept", ""},
	{"SRA", "(HL)", "CB 00101110", "4,4,4,3", "FFRW", "shift the byte at (HL) right, bit 7 kept", ""},
	{"SRA", "(IX+d)", "DD CB d 00101110", "4,4,3,5,4,3", "FFRRRW", "shift the byte at (IX+d) right, bit 7 kept", ""},
	{"SRA", "(IY+d)", "FD CB d 00101110", "4,4,3,5,4,3", "FFRRRW", "shift the byte at (IY+d) right, bit 7 kept", ""},
	{"SRL", "r", "CB 00111rrr", "4,4", "FF", "shift r right, 0 into bit 7", ""},
	{"SRL", "(HL)", "CB 00111110", "4,4,4,3", "FFRW", "shift the byte at (HL) right, 0 into bit 7", ""},
	{"SRL", "(IX+d)", "DD CB d 00111110", "4,4,3,5,4,3", "FFRRRW", "shift the byte at (IX+d) right, 0 into bit 7", ""},
	{"SRL", "(IY+d)", "FD CB d 00111110", "4,4,3,5,4,3", "FFRRRW", "shift the byte at (IY+d) right, 0 into bit 7", ""},
	{"RLD", "", "ED 6F", "4,4,3,4,3", "FFR-W", "rotate the digits of A (low) and (HL) left", ""},
	{"RRD", "", "ED 67", "4,4,3,4,3", "FFR-W", "rotate the digits of A (low) and (HL) right", ""},

	// --- Bit Set, Reset, and Test Group ---

	{"BIT", "b,r", "CB 01bbbrrr", "4,4", "FF", "test bit b of r", ""},
	{"BIT", "b,(HL)", "CB 01bbb110", "4,4,4", "FFR", "test bit b of the byte at (HL)", ""},
	{"BIT", "b,(IX+d)", "DD CB d 01bbb110", "4,4,3,5,4", "FFRRR", "test bit b of the byte at (IX+d)", ""},
	{"BIT", "b,(IY+d)", "FD CB d 01bbb110", "4,4,3,5,4", "FFRRR", "test bit b of the byte at (IY+d)", ""},
	{"SET", "b,r", "CB 11bbbrrr", "4,4", "FF", "set bit b of r", ""},
	{"SET", "b,(HL)", "CB 11bbb110", "4,4,4,3", "FFRW", "set bit b of the byte at (HL)", ""},
	{"SET", "b,(IX+d)", "DD CB d 11bbb110", "4,4,3,5,4,3", "FFRRRW", "set bit b of the byte at (IX+d)", ""},
	{"SET", "b,(IY+d)", "FD CB d 11bbb110", "4,4,3,5,4,3", "FFRRRW", "set bit b of the byte at (IY+d)", ""},
	{"RES", "b,r", "CB 10bbbrrr", "4,4", "FF", "reset bit b of r", ""},
	{"RES", "b,(HL)", "CB 10bbb110", "4,4,4,3", "FFRW", "reset bit b of the byte at (HL)", ""},
	{"RES", "b,(IX+d)", "DD CB d 10bbb110", "4,4,3,5,4,3", "FFRRRW", "reset bit b of the byte at (IX+d)", ""},
	{"RES", "b,(IY+d)", "FD CB d 10bbb110", "4,4,3,5,4,3", "FFRRRW", "reset bit b of the byte at (IY+d)", ""},

	// --- Jump Group ---

	{"JP", "nn", "C3 nn", "4,3,3", "FRR", "jump to nn", ""},
	{"JP", "cc,nn", "11ccc010 nn", "4,3,3", "FRR", "jump to nn if cc holds", ""},
	{"JR", "e", "18 e", "4,3,5", "FR-", "jump by a distance", ""},
	{"JR", "C,e", "38 e", "4,3,5 taken|4,3 not taken", "FR-", "jump by a distance if carry is set", ""},
	{"JR", "NC,e", "30 e", "4,3,5 taken|4,3 not taken", "FR-", "jump by a distance if carry is clear", ""},
	{"JR", "Z,e", "28 e", "4,3,5 taken|4,3 not taken", "FR-", "jump by a distance if the result was zero", ""},
	{"JR", "NZ,e", "20 e", "4,3,5 taken|4,3 not taken", "FR-", "jump by a distance if the result was not zero", ""},
	{"JP", "(HL)", "E9", "4", "F", "jump to the address in HL", ""},
	{"JP", "(IX)", "DD E9", "4,4", "FF", "jump to the address in IX", ""},
	{"JP", "(IY)", "FD E9", "4,4", "FF", "jump to the address in IY", ""},
	{"DJNZ", "e", "10 e", "5,3,5 taken|5,3 not taken", "FR-", "subtract 1 from B, jump by a distance unless B is 0", ""},

	// --- Call and Return Group ---

	{"CALL", "nn", "CD nn", "4,3,4,3,3", "FRRWW", "push the address of the next instruction, jump to nn", ""},
	{"CALL", "cc,nn", "11ccc100 nn", "4,3,4,3,3 taken|4,3,3 not taken", "FRRWW", "call nn if cc holds", ""},
	{"RET", "", "C9", "4,3,3", "FRR", "pop the program counter", ""},
	{"RET", "cc", "11ccc000", "5,3,3 taken|5 not taken", "FRR", "return if cc holds", ""},
	{"RETI", "", "ED 4D", "4,4,3,3", "FFRR", "return from a maskable interrupt", ""},
	{"RETN", "", "ED 45", "4,4,3,3", "FFRR", "return from a non-maskable interrupt", ""},
	{"RST", "p", "11ttt111", "5,3,3", "FWW", "call one of the eight restart addresses", ""},

	// --- Input and Output Group ---

	{"IN", "A,(n)", "DB n", "4,3,4", "FRI", "read port n into A (A on A15-A8)", ""},
	{"IN", "r,(C)", "ED 01rrr000", "4,4,4", "FFI", "read the port in C into r (B on A15-A8), flags set", ""},
	{"INI", "", "ED A2", "4,5,4,3", "FFIW", "read the port in C to (HL), count HL up, B down", "data set: the port is read in 4 T, then memory written in 3; the manual prints 4,5,3,4"},
	{"INIR", "", "ED B2", "4,5,4,3,5 repeating|4,5,4,3 ending", "FFIW-", "read the port in C to (HL), counting up, until B is 0", "data set: the port is read in 4 T, then memory written in 3; the manual prints 4,5,3,4,5"},
	{"IND", "", "ED AA", "4,5,4,3", "FFIW", "read the port in C to (HL), count HL down, B down", "data set: the port is read in 4 T, then memory written in 3; the manual prints 4,5,3,4"},
	{"INDR", "", "ED BA", "4,5,4,3,5 repeating|4,5,4,3 ending", "FFIW-", "read the port in C to (HL), counting down, until B is 0", "data set: the port is read in 4 T, then memory written in 3; the manual prints 4,5,3,4,5"},
	{"OUT", "(n),A", "D3 n", "4,3,4", "FRO", "write A to port n (A on A15-A8)", ""},
	{"OUT", "(C),r", "ED 01rrr001", "4,4,4", "FFO", "write r to the port in C (B on A15-A8)", ""},
	{"OUTI", "", "ED A3", "4,5,3,4", "FFRO", "write (HL) to the port in C, count HL up, B down", ""},
	{"OTIR", "", "ED B3", "4,5,3,4,5 repeating|4,5,3,4 ending", "FFRO-", "write (HL) to the port in C, counting up, until B is 0", ""},
	{"OUTD", "", "ED AB", "4,5,3,4", "FFRO", "write (HL) to the port in C, count HL down, B down", ""},
	{"OTDR", "", "ED BB", "4,5,3,4,5 repeating|4,5,3,4 ending", "FFRO-", "write (HL) to the port in C, counting down, until B is 0", ""},

	// --- Undocumented: the halves of IX and IY ---

	{"LD", "r*,IXH/L", "DD 01rrr10x", "4,4", "FF", "copy half of IX to r*", "undocumented"},
	{"LD", "IXH/L,r*", "DD 0110xrrr", "4,4", "FF", "copy r* to half of IX", "undocumented"},
	{"LD", "IXH/L,IXH/L'", "DD 0110x10y", "4,4", "FF", "copy half of IX to half of IX", "undocumented"},
	{"LD", "IXH/L,n", "DD 0010x110 n", "4,4,3", "FFR", "load half of IX with the byte n", "undocumented"},
	{"ADD", "A,IXH/L", "DD 1000010x", "4,4", "FF", "add half of IX to A", "undocumented"},
	{"ADC", "A,IXH/L", "DD 1000110x", "4,4", "FF", "add half of IX and carry to A", "undocumented"},
	{"SUB", "IXH/L", "DD 1001010x", "4,4", "FF", "subtract half of IX from A", "undocumented"},
	{"SBC", "A,IXH/L", "DD 1001110x", "4,4", "FF", "subtract half of IX and carry from A", "undocumented"},
	{"AND", "IXH/L", "DD 1010010x", "4,4", "FF", "A becomes A AND half of IX", "undocumented"},
	{"OR", "IXH/L", "DD 1011010x", "4,4", "FF", "A becomes A OR half of IX", "undocumented"},
	{"XOR", "IXH/L", "DD 1010110x", "4,4", "FF", "A becomes A XOR half of IX", "undocumented"},
	{"CP", "IXH/L", "DD 1011110x", "4,4", "FF", "compare A with half of IX, flags only", "undocumented"},
	{"INC", "IXH/L", "DD 0010x100", "4,4", "FF", "add 1 to half of IX", "undocumented"},
	{"DEC", "IXH/L", "DD 0010x101", "4,4", "FF", "subtract 1 from half of IX", "undocumented"},
	{"LD", "r*,IYH/L", "FD 01rrr10x", "4,4", "FF", "copy half of IY to r*", "undocumented"},
	{"LD", "IYH/L,r*", "FD 0110xrrr", "4,4", "FF", "copy r* to half of IY", "undocumented"},
	{"LD", "IYH/L,IYH/L'", "FD 0110x10y", "4,4", "FF", "copy half of IY to half of IY", "undocumented"},
	{"LD", "IYH/L,n", "FD 0010x110 n", "4,4,3", "FFR", "load half of IY with the byte n", "undocumented"},
	{"ADD", "A,IYH/L", "FD 1000010x", "4,4", "FF", "add half of IY to A", "undocumented"},
	{"ADC", "A,IYH/L", "FD 1000110x", "4,4", "FF", "add half of IY and carry to A", "undocumented"},
	{"SUB", "IYH/L", "FD 1001010x", "4,4", "FF", "subtract half of IY from A", "undocumented"},
	{"SBC", "A,IYH/L", "FD 1001110x", "4,4", "FF", "subtract half of IY and carry from A", "undocumented"},
	{"AND", "IYH/L", "FD 1010010x", "4,4", "FF", "A becomes A AND half of IY", "undocumented"},
	{"OR", "IYH/L", "FD 1011010x", "4,4", "FF", "A becomes A OR half of IY", "undocumented"},
	{"XOR", "IYH/L", "FD 1010110x", "4,4", "FF", "A becomes A XOR half of IY", "undocumented"},
	{"CP", "IYH/L", "FD 1011110x", "4,4", "FF", "compare A with half of IY, flags only", "undocumented"},
	{"INC", "IYH/L", "FD 0010x100", "4,4", "FF", "add 1 to half of IY", "undocumented"},
	{"DEC", "IYH/L", "FD 0010x101", "4,4", "FF", "subtract 1 from half of IY", "undocumented"},

	// --- Undocumented: the eighth shift ---

	{"SLL", "r", "CB 00110rrr", "4,4", "FF", "shift r left, 1 into bit 0", "undocumented"},
	{"SLL", "(HL)", "CB 00110110", "4,4,4,3", "FFRW", "shift the byte at (HL) left, 1 into bit 0", "undocumented"},
	{"SLL", "(IX+d)", "DD CB d 00110110", "4,4,3,5,4,3", "FFRRRW", "shift the byte at (IX+d) left, 1 into bit 0", "undocumented"},
	{"SLL", "(IY+d)", "FD CB d 00110110", "4,4,3,5,4,3", "FFRRRW", "shift the byte at (IY+d) left, 1 into bit 0", "undocumented"},

	// --- Undocumented: indexed rotate, reset and set with a copy to r ---

	{"RLC", "(IX+d),r", "DD CB d 00000rrr", "4,4,3,5,4,3", "FFRRRW", "rotate the byte at (IX+d) left, bit 7 to bit 0 and carry; copy it to r", "undocumented"},
	{"RLC", "(IY+d),r", "FD CB d 00000rrr", "4,4,3,5,4,3", "FFRRRW", "rotate the byte at (IY+d) left, bit 7 to bit 0 and carry; copy it to r", "undocumented"},
	{"RL", "(IX+d),r", "DD CB d 00010rrr", "4,4,3,5,4,3", "FFRRRW", "rotate the byte at (IX+d) left through carry; copy it to r", "undocumented"},
	{"RL", "(IY+d),r", "FD CB d 00010rrr", "4,4,3,5,4,3", "FFRRRW", "rotate the byte at (IY+d) left through carry; copy it to r", "undocumented"},
	{"RRC", "(IX+d),r", "DD CB d 00001rrr", "4,4,3,5,4,3", "FFRRRW", "rotate the byte at (IX+d) right, bit 0 to bit 7 and carry; copy it to r", "undocumented"},
	{"RRC", "(IY+d),r", "FD CB d 00001rrr", "4,4,3,5,4,3", "FFRRRW", "rotate the byte at (IY+d) right, bit 0 to bit 7 and carry; copy it to r", "undocumented"},
	{"RR", "(IX+d),r", "DD CB d 00011rrr", "4,4,3,5,4,3", "FFRRRW", "rotate the byte at (IX+d) right through carry; copy it to r", "undocumented"},
	{"RR", "(IY+d),r", "FD CB d 00011rrr", "4,4,3,5,4,3", "FFRRRW", "rotate the byte at (IY+d) right through carry; copy it to r", "undocumented"},
	{"SLA", "(IX+d),r", "DD CB d 00100rrr", "4,4,3,5,4,3", "FFRRRW", "shift the byte at (IX+d) left, 0 into bit 0; copy it to r", "undocumented"},
	{"SLA", "(IY+d),r", "FD CB d 00100rrr", "4,4,3,5,4,3", "FFRRRW", "shift the byte at (IY+d) left, 0 into bit 0; copy it to r", "undocumented"},
	{"SRA", "(IX+d),r", "DD CB d 00101rrr", "4,4,3,5,4,3", "FFRRRW", "shift the byte at (IX+d) right, bit 7 kept; copy it to r", "undocumented"},
	{"SRA", "(IY+d),r", "FD CB d 00101rrr", "4,4,3,5,4,3", "FFRRRW", "shift the byte at (IY+d) right, bit 7 kept; copy it to r", "undocumented"},
	{"SRL", "(IX+d),r", "DD CB d 00111rrr", "4,4,3,5,4,3", "FFRRRW", "shift the byte at (IX+d) right, 0 into bit 7; copy it to r", "undocumented"},
	{"SRL", "(IY+d),r", "FD CB d 00111rrr", "4,4,3,5,4,3", "FFRRRW", "shift the byte at (IY+d) right, 0 into bit 7; copy it to r", "undocumented"},
	{"SLL", "(IX+d),r", "DD CB d 00110rrr", "4,4,3,5,4,3", "FFRRRW", "shift the byte at (IX+d) left, 1 into bit 0; copy it to r", "undocumented"},
	{"SLL", "(IY+d),r", "FD CB d 00110rrr", "4,4,3,5,4,3", "FFRRRW", "shift the byte at (IY+d) left, 1 into bit 0; copy it to r", "undocumented"},
	{"SET", "b,(IX+d),r", "DD CB d 11bbbrrr", "4,4,3,5,4,3", "FFRRRW", "set bit b of the byte at (IX+d); copy it to r", "undocumented"},
	{"SET", "b,(IY+d),r", "FD CB d 11bbbrrr", "4,4,3,5,4,3", "FFRRRW", "set bit b of the byte at (IY+d); copy it to r", "undocumented"},
	{"RES", "b,(IX+d),r", "DD CB d 10bbbrrr", "4,4,3,5,4,3", "FFRRRW", "reset bit b of the byte at (IX+d); copy it to r", "undocumented"},
	{"RES", "b,(IY+d),r", "FD CB d 10bbbrrr", "4,4,3,5,4,3", "FFRRRW", "reset bit b of the byte at (IY+d); copy it to r", "undocumented"},

	// --- Undocumented: input and output ---

	{"IN", "F,(C)", "ED 70", "4,4,4", "FFI", "read the port in C, flags only", "undocumented"},
	{"OUT", "(C),0", "ED 71", "4,4,4", "FFO", "write 0 to the port in C", "undocumented; CMOS parts write 0FFH (from memory)"},

	// --- Undocumented: further codes of instructions above, decoded and never chosen ---

	{"NEG", "", "ED 4C", "4,4", "FF", "A becomes 0 - A", "undocumented, never chosen: acts as ED 44"},
	{"NEG", "", "ED 54", "4,4", "FF", "A becomes 0 - A", "undocumented, never chosen: acts as ED 44"},
	{"NEG", "", "ED 5C", "4,4", "FF", "A becomes 0 - A", "undocumented, never chosen: acts as ED 44"},
	{"NEG", "", "ED 64", "4,4", "FF", "A becomes 0 - A", "undocumented, never chosen: acts as ED 44"},
	{"NEG", "", "ED 6C", "4,4", "FF", "A becomes 0 - A", "undocumented, never chosen: acts as ED 44"},
	{"NEG", "", "ED 74", "4,4", "FF", "A becomes 0 - A", "undocumented, never chosen: acts as ED 44"},
	{"NEG", "", "ED 7C", "4,4", "FF", "A becomes 0 - A", "undocumented, never chosen: acts as ED 44"},
	{"RETN", "", "ED 55", "4,4,3,3", "FFRR", "return from a non-maskable interrupt", "undocumented, never chosen: acts as ED 45"},
	{"RETN", "", "ED 5D", "4,4,3,3", "FFRR", "return from a non-maskable interrupt", "undocumented, never chosen: acts as ED 45"},
	{"RETN", "", "ED 65", "4,4,3,3", "FFRR", "return from a non-maskable interrupt", "undocumented, never chosen: acts as ED 45"},
	{"RETN", "", "ED 6D", "4,4,3,3", "FFRR", "return from a non-maskable interrupt", "undocumented, never chosen: acts as ED 45"},
	{"RETN", "", "ED 75", "4,4,3,3", "FFRR", "return from a non-maskable interrupt", "undocumented, never chosen: acts as ED 45"},
	{"RETN", "", "ED 7D", "4,4,3,3", "FFRR", "return from a non-maskable interrupt", "undocumented, never chosen: acts as ED 45"},
	{"IM", "0", "ED 4E", "4,4", "FF", "set interrupt mode 0", "undocumented, never chosen: acts as ED 46"},
	{"IM", "0", "ED 66", "4,4", "FF", "set interrupt mode 0", "undocumented, never chosen: acts as ED 46"},
	{"IM", "0", "ED 6E", "4,4", "FF", "set interrupt mode 0", "undocumented, never chosen: acts as ED 46"},
	{"IM", "1", "ED 76", "4,4", "FF", "set interrupt mode 1", "undocumented, never chosen: acts as ED 56"},
	{"IM", "2", "ED 7E", "4,4", "FF", "set interrupt mode 2", "undocumented, never chosen: acts as ED 5E"},
	{"BIT", "b,(IX+d)", "DD CB d 01bbb000", "4,4,3,5,4", "FFRRR", "test bit b of the byte at (IX+d)", "undocumented, never chosen: acts as DD CB d 01bbb110"},
	{"BIT", "b,(IX+d)", "DD CB d 01bbb001", "4,4,3,5,4", "FFRRR", "test bit b of the byte at (IX+d)", "undocumented, never chosen: acts as DD CB d 01bbb110"},
	{"BIT", "b,(IX+d)", "DD CB d 01bbb010", "4,4,3,5,4", "FFRRR", "test bit b of the byte at (IX+d)", "undocumented, never chosen: acts as DD CB d 01bbb110"},
	{"BIT", "b,(IX+d)", "DD CB d 01bbb011", "4,4,3,5,4", "FFRRR", "test bit b of the byte at (IX+d)", "undocumented, never chosen: acts as DD CB d 01bbb110"},
	{"BIT", "b,(IX+d)", "DD CB d 01bbb100", "4,4,3,5,4", "FFRRR", "test bit b of the byte at (IX+d)", "undocumented, never chosen: acts as DD CB d 01bbb110"},
	{"BIT", "b,(IX+d)", "DD CB d 01bbb101", "4,4,3,5,4", "FFRRR", "test bit b of the byte at (IX+d)", "undocumented, never chosen: acts as DD CB d 01bbb110"},
	{"BIT", "b,(IX+d)", "DD CB d 01bbb111", "4,4,3,5,4", "FFRRR", "test bit b of the byte at (IX+d)", "undocumented, never chosen: acts as DD CB d 01bbb110"},
	{"BIT", "b,(IY+d)", "FD CB d 01bbb000", "4,4,3,5,4", "FFRRR", "test bit b of the byte at (IY+d)", "undocumented, never chosen: acts as FD CB d 01bbb110"},
	{"BIT", "b,(IY+d)", "FD CB d 01bbb001", "4,4,3,5,4", "FFRRR", "test bit b of the byte at (IY+d)", "undocumented, never chosen: acts as FD CB d 01bbb110"},
	{"BIT", "b,(IY+d)", "FD CB d 01bbb010", "4,4,3,5,4", "FFRRR", "test bit b of the byte at (IY+d)", "undocumented, never chosen: acts as FD CB d 01bbb110"},
	{"BIT", "b,(IY+d)", "FD CB d 01bbb011", "4,4,3,5,4", "FFRRR", "test bit b of the byte at (IY+d)", "undocumented, never chosen: acts as FD CB d 01bbb110"},
	{"BIT", "b,(IY+d)", "FD CB d 01bbb100", "4,4,3,5,4", "FFRRR", "test bit b of the byte at (IY+d)", "undocumented, never chosen: acts as FD CB d 01bbb110"},
	{"BIT", "b,(IY+d)", "FD CB d 01bbb101", "4,4,3,5,4", "FFRRR", "test bit b of the byte at (IY+d)", "undocumented, never chosen: acts as FD CB d 01bbb110"},
	{"BIT", "b,(IY+d)", "FD CB d 01bbb111", "4,4,3,5,4", "FFRRR", "test bit b of the byte at (IY+d)", "undocumented, never chosen: acts as FD CB d 01bbb110"},
	{"NOP", "", "ED 77", "4,4", "FF", "no operation", "undocumented, never chosen: acts as 00, in 8 T-states"},
	{"NOP", "", "ED 7F", "4,4", "FF", "no operation", "undocumented, never chosen: acts as 00, in 8 T-states"},

	// --- Bytes that are no instruction, written as the data they are ---

	{"DEFB", "0EDH,n", "ED n", "4,4", "FF", "no operation: an undefined code after ED", "undocumented, never chosen"},
	{"DEFB", "0DDH", "DD", "4", "F", "a prefix that the next opcode does not heed", "undocumented, never chosen"},
	{"DEFB", "0FDH", "FD", "4", "F", "a prefix that the next opcode does not heed", "undocumented, never chosen"},
}
