package cmd

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"romwright/assembler"
	"romwright/diag"
	"romwright/encoder"
)

// opcodesOptions are the options of opcodes.
type opcodesOptions struct {
	words []string // what is asked for, or the bytes
	bytes bool
	at    uint16 // address of the first byte
	json  bool
}

func newOpcodes(s streams) *cobra.Command {
	var o opcodesOptions
	var code, at, format string
	c := &cobra.Command{
		Use:   "opcodes [WORDS]",
		Short: "Look up instructions by name or by bytes",
		Long: `Opcodes lists the forms of an instruction, or of all, with their bytes,
T-states and machine cycles. Operands may be given as far as they matter:
"opcodes ld a" lists every load into A. With --bytes it names the instruction
that the bytes are, or tells what is missing.

In the bytes n, nn, d and e are operand bytes (nn with its low byte first, e
counted from the next instruction), other letters are fields of the opcode.`,
		Example: "  romwright opcodes ld a\n" +
			"  romwright opcodes \"set 3,(ix+5)\"\n" +
			"  romwright opcodes --bytes \"CB 46\"\n" +
			"  romwright opcodes --format json",
		Args: cobra.ArbitraryArgs,
		RunE: func(c *cobra.Command, args []string) error {
			if err := oneOf("format", format, "text", "json"); err != nil {
				return err
			}
			o.words, o.json = args, format == "json"
			if o.bytes = c.Flags().Changed("bytes"); o.bytes {
				o.words = append([]string{code}, args...)
			}
			if at != "" {
				v, err := assembler.ParseValue(at)
				if err != nil {
					return usage("--at: %w", err)
				}
				if v < 0 || v > 0xFFFF {
					return usage("--at must be 0 to 65535, not %d", v)
				}
				o.at = uint16(v)
			}
			return runOpcodes(s, o)
		},
	}
	fl := c.Flags()
	fl.StringVar(&code, "bytes", "", "name the instructions that these `hex` bytes are, such as \"CB 46\"")
	fl.StringVar(&at, "at", "", "`address` of the first of the bytes, from which relative jumps count (default 0)")
	fl.StringVar(&format, "format", "text", "form of the answer: `text|json`")
	return c
}

func runOpcodes(s streams, o opcodesOptions) error {
	var found []opcode
	var err error
	var missing string
	if o.bytes {
		found, missing, err = opcodesOfBytes(o.words, o.at)
	} else {
		found, err = opcodesOfWords(o.words)
	}
	if err != nil {
		return err
	}
	return writeReport(s, "-", func(w io.Writer) error {
		if o.json {
			return writeOpcodesJSON(w, found)
		}
		if o.bytes {
			return writeDecoded(w, found, missing)
		}
		return writeOpcodes(w, found)
	})
}

// opcode is a row of the answer.
type opcode struct {
	form     *encoder.Form     // nil where the bytes do not settle it
	operands []encoder.Operand // as asked for
	code     []byte            // as given
	text     string            // of the code
	missing  int               // bytes, at least
}

// opcodesOfWords finds the rows of the table that a mnemonic and the first of
// its operands fit. Of the rows for decoding alone only those are given that
// nothing else was asked for.
func opcodesOfWords(words []string) ([]opcode, error) {
	mnemonic, operands := splitInstruction(strings.Join(words, " "))
	if mnemonic == "" {
		var all []opcode
		for _, f := range encoder.Forms() {
			all = append(all, opcode{form: f})
		}
		return all, nil
	}
	m, ok := encoder.ParseMnemonic(mnemonic)
	if !ok {
		var names []string
		for _, m := range encoder.Mnemonics() {
			names = append(names, m.String())
		}
		if near := assembler.NearName(strings.ToUpper(mnemonic), names); near != "" {
			return nil, usage("there is no instruction %s; did you mean %s?", diag.Printable(mnemonic), near)
		}
		return nil, usage("there is no instruction %s", diag.Printable(mnemonic))
	}
	ops := make([]encoder.Operand, len(operands))
	for i, text := range operands {
		ops[i] = operandOf(m, i, text)
	}
	found := rowsOf(m, operands, ops)
	if a := (encoder.Operand{Kind: encoder.KReg, Reg: encoder.A}); len(found) == 0 && len(ops) > 0 && slices.Contains(arithmetic, m) {
		found = rowsOf(m, append([]string{"A"}, operands...), append([]encoder.Operand{a}, ops...))
		if len(found) == 0 && ops[0] == a {
			found = rowsOf(m, operands[1:], ops[1:])
		}
	}
	if len(found) > 0 {
		return found, nil
	}
	f, err := encoder.Select(m, ops, true)
	if err == nil { // another way of writing a row
		return []opcode{{form: f}}, nil
	}
	var none *encoder.SelectError
	if !errors.As(err, &none) {
		return nil, err
	}
	forms := none.Forms
	more := ""
	if len(forms) > maxFormsShown {
		forms, more = forms[:maxFormsShown], "; ..."
	}
	return nil, trouble("%s does not take %s; it has: %s%s", m, diag.Printable(strings.ToUpper(strings.Join(operands, ","))),
		strings.Join(forms, "; "), more)
}

const maxFormsShown = 8

// arithmetic are the operations on A, which may be left out or written.
var arithmetic = []encoder.Mnemonic{encoder.ADD, encoder.ADC, encoder.SUB, encoder.SBC, encoder.AND, encoder.OR, encoder.XOR, encoder.CP}

// rowsOf finds the rows that the first operands fit. They may also be in the
// table's own words, such as r or (nn), in its letter case.
func rowsOf(m encoder.Mnemonic, words []string, ops []encoder.Operand) []opcode {
	var found []opcode
rows:
	for _, f := range encoder.Forms() {
		if f.Mnemonic() != m || f.DecodeOnly() {
			continue
		}
		_, text, _ := strings.Cut(f.Syntax(), " ")
		own := strings.Split(text, ",")
		o := opcode{form: f, operands: slices.Clone(ops)}
		for i, op := range ops {
			switch {
			case i < len(own) && own[i] == words[i]:
				o.operands[i].Kind = encoder.KNone
			case !f.TakesAt(i, op):
				continue rows
			}
		}
		found = append(found, o)
	}
	return found
}

// splitInstruction takes the mnemonic and the operands apart, which stand
// between blanks or commas; blanks in parentheses count for nothing.
func splitInstruction(text string) (mnemonic string, operands []string) {
	depth := 0
	var parts []string
	var b strings.Builder
	end := func() {
		if b.Len() > 0 {
			parts = append(parts, b.String())
			b.Reset()
		}
	}
	for _, c := range text {
		switch {
		case c == ' ' || c == '\t' || c == ',' && depth == 0:
			if depth == 0 {
				end()
			}
			continue
		case c == '(':
			if depth == 0 {
				end()
			}
			depth++
		case c == ')':
			depth--
		}
		b.WriteRune(c)
	}
	end()
	if len(parts) == 0 {
		return "", nil
	}
	return parts[0], parts[1:]
}

// operandOf turns an operand as written into the encoder's; a word that is no
// register or condition stands for a value. The value of what is no number is
// -1.
func operandOf(m encoder.Mnemonic, position int, text string) encoder.Operand {
	if inner, ok := strings.CutPrefix(text, "("); ok {
		inner = strings.TrimSuffix(inner, ")")
		if r, ok := encoder.ParseRegister(inner); ok {
			return encoder.Operand{Kind: encoder.KInd, Reg: r}
		}
		if len(inner) > 2 && (inner[2] == '+' || inner[2] == '-') {
			if r, ok := encoder.ParseRegister(inner[:2]); ok {
				return encoder.Operand{Kind: encoder.KInd, Reg: r, HasDisp: true}
			}
		}
		return encoder.Operand{Kind: encoder.KMem, Value: -1}
	}
	if position == 0 && (m == encoder.RET || encoder.TakesCondition(m, 2)) {
		if c, ok := encoder.ParseCondition(text); ok {
			return encoder.Operand{Kind: encoder.KCond, Cond: c}
		}
	}
	if r, ok := encoder.ParseRegister(text); ok {
		return encoder.Operand{Kind: encoder.KReg, Reg: r}
	}
	v, err := assembler.ParseValue(text)
	if err != nil {
		v = -1
	}
	return encoder.Operand{Kind: encoder.KImm, Value: v}
}

// opcodesOfBytes decodes bytes. What is left over in the end begins an
// instruction; missing says so.
func opcodesOfBytes(words []string, at uint16) (found []opcode, missing string, err error) {
	code, err := hexBytes(strings.Join(words, " "))
	if err != nil {
		return nil, "", err
	}
	for len(code) > 0 {
		in, err := encoder.Decode(code)
		if err != nil { // more are needed
			o := opcode{form: in.Form, code: code, missing: in.Len - len(code)}
			return append(found, o), missingText(o), nil
		}
		found = append(found, opcode{form: in.Form, code: code[:in.Len], text: in.Text(at)})
		code = code[in.Len:]
		at += uint16(in.Len)
	}
	return found, "", nil
}

func missingText(o opcode) string {
	what, least := "an instruction", ""
	switch {
	case o.form != nil:
		what = o.form.Syntax()
	case len(o.code)+o.missing < 4: // four bytes are the longest
		least = "at least "
	}
	return fmt.Sprintf("% X begins %s: %s%s missing", o.code, what, least, are(o.missing, "byte"))
}

func are(n int, what string) string {
	if n == 1 {
		return "1 " + what + " is"
	}
	return count(n, what) + " are"
}

// hexBytes reads bytes in hex, with or without blanks or commas between them
// and the marks that hex numbers have in sources.
func hexBytes(text string) ([]byte, error) {
	var out []byte
	for _, word := range strings.FieldsFunc(text, func(c rune) bool { return c == ' ' || c == '\t' || c == ',' }) {
		digits := strings.ToUpper(word)
		digits = strings.TrimPrefix(strings.TrimPrefix(digits, "0X"), "$")
		if h, ok := strings.CutSuffix(digits, "H"); ok {
			digits = h
			if len(digits) == 3 && digits[0] == '0' {
				digits = digits[1:]
			}
		}
		if len(digits) == 1 {
			digits = "0" + digits
		}
		for i := 0; i < len(digits); i += 2 {
			v, err := strconv.ParseUint(digits[i:min(i+2, len(digits))], 16, 8)
			if err != nil || i+1 == len(digits) {
				return nil, usage("--bytes takes bytes in hex, such as CB 46, not %s", diag.Printable(word))
			}
			out = append(out, byte(v))
		}
	}
	if len(out) == 0 {
		return nil, usage("--bytes needs bytes in hex, such as CB 46")
	}
	return out, nil
}

type opcodeJSON struct {
	Syntax       string `json:"syntax"`
	Bytes        string `json:"bytes"`
	TStates      int    `json:"tstates"`
	TStatesTaken *int   `json:"tstates_taken"`
	Cycles       []int  `json:"cycles"`
	Documented   bool   `json:"documented"`
	Summary      string `json:"summary"`
}

type decodedJSON struct {
	Code    string      `json:"code"`
	Text    *string     `json:"text"`
	Missing int         `json:"missing"`
	Row     *opcodeJSON `json:"row"`
}

// rowJSON: tstates and cycles are those of a jump that is not taken and of a
// repetition's last round.
func rowJSON(f *encoder.Form) *opcodeJSON {
	t := f.Timings()
	last := t[len(t)-1]
	syntax, bits := f.Filled(nil)
	o := &opcodeJSON{Syntax: syntax, Bytes: bits, TStates: last.TStates, Cycles: last.Cycles,
		Documented: f.Documented(), Summary: f.Summary()}
	if len(t) > 1 {
		o.TStatesTaken = &t[0].TStates
	}
	return o
}

// writeOpcodesJSON writes one array, an object a line.
func writeOpcodesJSON(w io.Writer, list []opcode) error {
	b := bufio.NewWriter(w)
	sep := "[\n"
	for _, o := range list {
		var v any
		if o.code == nil {
			v = rowJSON(o.form)
		} else {
			d := decodedJSON{Code: fmt.Sprintf("% X", o.code), Missing: o.missing}
			if o.form != nil {
				d.Row = rowJSON(o.form)
			}
			if o.missing == 0 {
				d.Text = &o.text
			}
			v = d
		}
		text, err := json.Marshal(v)
		if err != nil {
			return err
		}
		b.WriteString(sep)
		b.Write(text)
		sep = ",\n"
	}
	b.WriteString("\n]\n")
	return b.Flush()
}

// cycleLetter stands for a kind of machine cycle in a table for a terminal.
var cycleLetter = map[encoder.CycleKind]string{
	encoder.Fetch: "F", encoder.Read: "R", encoder.Write: "W", encoder.PortIn: "I", encoder.PortOut: "O", encoder.Internal: "-",
}

const (
	cycleLegend  = "F opcode fetch, R read, W write, I port read, O port write, - internal"
	lengthLegend = "T-states and cycles: taken or repeating / not taken or ending"
)

// writeLegend explains the columns of a table.
func writeLegend(w io.Writer, list []opcode) {
	fmt.Fprintf(w, "\n%s\n", cycleLegend)
	for _, o := range list {
		if o.form != nil && len(o.form.Timings()) > 1 {
			fmt.Fprintln(w, lengthLegend)
			return
		}
	}
}

// cyclesText gives the machine cycles, such as "F4 R3 -5"; a second list is that
// of a jump not taken or of a repetition's end.
func cyclesText(f *encoder.Form) string {
	var lists []string
	for _, t := range f.Timings() {
		var one []string
		for i, n := range t.Cycles {
			one = append(one, cycleLetter[t.Kinds[i]]+strconv.Itoa(n))
		}
		lists = append(lists, strings.Join(one, " "))
	}
	return strings.Join(lists, " / ")
}

// summaryText is what a form does, and what there is to know besides.
func summaryText(f *encoder.Form) string {
	note := strings.TrimPrefix(f.Note(), "prefer: ")
	if note == "" {
		return f.Summary()
	}
	return f.Summary() + " (" + note + ")"
}

func writeOpcodes(w io.Writer, list []opcode) error {
	rows := [][]string{{"FORM", "BYTES", "T", "CYCLES", ""}}
	var fields []string
	for _, o := range list {
		syntax, bits := o.form.Filled(o.operands)
		rows = append(rows, []string{syntax, bits, o.form.TText(), cyclesText(o.form), summaryText(o.form)})
		for _, f := range o.form.Fields() {
			if !strings.ContainsRune(lowerCase(bits), rune(f.Letter)) {
				continue
			}
			text := f.Operand + ":"
			for _, c := range f.Codes {
				text += " " + c.Bits + " " + c.Text + ","
			}
			if text = strings.TrimSuffix(text, ","); !slices.Contains(fields, text) {
				fields = append(fields, text)
			}
		}
	}
	writeColumns(w, rows)
	writeLegend(w, list)
	for _, f := range fields {
		fmt.Fprintln(w, f)
	}
	return nil
}

// lowerCase leaves the letters of fields: those of whole bytes are capitals, and
// operand bytes are tokens of their own.
func lowerCase(bits string) string {
	var out strings.Builder
	for tok := range strings.SplitSeq(bits, " ") {
		if len(tok) == 8 {
			out.WriteString(tok)
		}
	}
	return out.String()
}

func writeDecoded(w io.Writer, list []opcode, missing string) error {
	rows := [][]string{{"BYTES", "INSTRUCTION", "T", "CYCLES", ""}}
	for _, o := range list {
		if o.missing == 0 {
			rows = append(rows, []string{fmt.Sprintf("% X", o.code), o.text, o.form.TText(), cyclesText(o.form), summaryText(o.form)})
		}
	}
	if len(rows) > 1 {
		writeColumns(w, rows)
		writeLegend(w, list)
	}
	if missing != "" {
		fmt.Fprintln(w, missing)
	}
	return nil
}

// writeColumns writes rows with columns as wide as what they hold.
func writeColumns(w io.Writer, rows [][]string) {
	widths := make([]int, len(rows[0]))
	for _, r := range rows {
		for i, cell := range r {
			widths[i] = max(widths[i], utf8.RuneCountInString(cell))
		}
	}
	for _, r := range rows {
		var b strings.Builder
		for i, cell := range r {
			fmt.Fprintf(&b, "%-*s  ", widths[i], cell)
		}
		fmt.Fprintln(w, strings.TrimRight(b.String(), " "))
	}
}
