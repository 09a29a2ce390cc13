package encoder_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"romwright/encoder"
)

// What Filled puts in must be what Decode takes out: every opcode of every
// page is decoded, and the row filled with the operands found gives the opcode
// and, where it has no operand bytes, the instruction's text. (Decode is
// checked against the open data set and the manual's index.)
func TestFilled(t *testing.T) {
	filled := 0
	for _, prefix := range [][]byte{{}, {0xCB}, {0xED}, {0xDD}, {0xFD}, {0xDD, 0xCB, 0}, {0xFD, 0xCB, 0}} {
		for op := range 256 {
			code := append(append([]byte{}, prefix...), byte(op), 0, 0, 0)
			in, err := encoder.Decode(code)
			require.NoError(t, err)
			syntax, bits := in.Form.Filled(in.Operands[:in.NOperands])
			name := fmt.Sprintf("% X", in.Bytes[:in.Len])
			i, operandBytes := 0, 0
			for tok := range strings.SplitSeq(bits, " ") {
				switch tok {
				case "n", "d", "e":
					operandBytes++
				case "nn":
					operandBytes++
					i++
				default:
					assert.Equal(t, fmt.Sprintf("%02X", in.Bytes[i]), tok, name)
				}
				i++
			}
			assert.Equal(t, in.Len, i, name)
			if operandBytes == 0 && in.Form.Mnemonic() != encoder.DEFB {
				assert.Equal(t, in.Text(0), syntax, name)
				filled++
			}
		}
	}
	assert.Greater(t, filled, 600)
}

// The codes of the registers and conditions are those of the CPU manual's
// tables (UM0080, from memory).
func TestFields(t *testing.T) {
	fields := map[string]string{}
	for _, f := range encoder.Forms() {
		for _, field := range f.Fields() {
			var text []string
			for _, c := range field.Codes {
				text = append(text, c.Bits+" "+c.Text)
			}
			s := strings.Join(text, ", ")
			if old, ok := fields[field.Operand]; ok {
				assert.Equal(t, old, s, field.Operand)
			}
			fields[field.Operand] = s
		}
	}
	assert.Equal(t, "000 B, 001 C, 010 D, 011 E, 100 H, 101 L, 111 A", fields["r"])
	assert.Equal(t, "00 BC, 01 DE, 10 HL, 11 SP", fields["dd"])
	assert.Equal(t, "00 BC, 01 DE, 10 HL, 11 AF", fields["qq"])
	assert.Equal(t, "00 BC, 01 DE, 10 IX, 11 SP", fields["pp"])
	assert.Equal(t, "00 BC, 01 DE, 10 IY, 11 SP", fields["rr"])
	assert.Equal(t, "000 NZ, 001 Z, 010 NC, 011 C, 100 PO, 101 PE, 110 P, 111 M", fields["cc"])
	assert.Equal(t, "000 00H, 001 08H, 010 10H, 011 18H, 100 20H, 101 28H, 110 30H, 111 38H", fields["p"])
	assert.Equal(t, "000 0, 010 1, 011 2", fields["i"])
}
