package bus

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"romwright/encoder"
)

// Every opcode of every page makes the machine cycles, in kind and length,
// that the encoder's table lists (which carries the manual's T-state lists).
// Both lengths of a conditional one are met by running it with all flags set
// and all clear, and counters at 1 and 2.
func TestCyclesOfEveryOpcode(t *testing.T) {
	kinds := map[encoder.CycleKind]Kind{encoder.Fetch: Fetch, encoder.Read: Read,
		encoder.Write: Write, encoder.PortIn: In, encoder.PortOut: Out, encoder.Internal: Internal}
	met := map[*encoder.Form]map[int]bool{}
	for page, prefix := range pageBytes {
		for b := range 256 {
			code := append(append([]byte(nil), prefix...), byte(b), 0, 0, 0)
			in, err := encoder.Decode(code)
			require.NoError(t, err)
			if follows(uint8(page), byte(b)) != pageMain {
				continue
			}
			for _, flags := range []byte{0, 0xFF} {
				for _, count := range []byte{1, 2} {
					m, list := tracer(t, code)
					m.r[rF], m.r[rC], m.r[rB], m.r[rA] = flags, count, count, 0x55
					if strings.HasPrefix(in.Form.Mnemonic().String(), "LD") || strings.HasPrefix(in.Form.Mnemonic().String(), "CP") {
						m.r[rB] = 0 // BC is the count there
					}
					m.Step()
					tms := in.Form.Timings()
					which := 0
					if len(tms) > 1 && len(*list) != len(tms[0].Cycles) {
						which = 1
					}
					if met[in.Form] == nil {
						met[in.Form] = map[int]bool{}
					}
					met[in.Form][which] = true
					var got []int
					for i, c := range *list {
						got = append(got, c.T)
						assert.Equal(t, kinds[tms[which].Kinds[i]], c.Kind, "% X cycle %d", code, i)
					}
					assert.Equal(t, tms[which].Cycles, got, "% X", code)
					assert.Equal(t, int64(tms[which].TStates), m.Clock(), "% X", code)
				}
			}
		}
	}
	for f, lengths := range met {
		assert.Len(t, lengths, len(f.Timings()), f.Syntax())
	}
}

// The table of DAA in the manual: N, C before, range of the high digit, H,
// range of the low digit, number added, C after (typed from memory of UM0080,
// "DAA").
func TestDAAAgainstTheManualsTable(t *testing.T) {
	rows := []struct {
		sub        bool
		c          byte
		hi0, hi1   byte
		h          byte
		lo0, lo1   byte
		added, out byte
	}{
		{false, 0, 0, 9, 0, 0, 9, 0x00, 0},
		{false, 0, 0, 8, 0, 10, 15, 0x06, 0},
		{false, 0, 0, 9, 1, 0, 3, 0x06, 0},
		{false, 0, 10, 15, 0, 0, 9, 0x60, 1},
		{false, 0, 9, 15, 0, 10, 15, 0x66, 1},
		{false, 0, 10, 15, 1, 0, 3, 0x66, 1},
		{false, 1, 0, 2, 0, 0, 9, 0x60, 1},
		{false, 1, 0, 2, 0, 10, 15, 0x66, 1},
		{false, 1, 0, 3, 1, 0, 3, 0x66, 1},
		{true, 0, 0, 9, 0, 0, 9, 0x00, 0},
		{true, 0, 0, 8, 1, 6, 15, 0xFA, 0},
		{true, 1, 7, 15, 0, 0, 9, 0xA0, 1},
		{true, 1, 6, 15, 1, 6, 15, 0x9A, 1},
	}
	for _, row := range rows {
		for hi := row.hi0; hi <= row.hi1; hi++ {
			for lo := row.lo0; lo <= row.lo1; lo++ {
				m := New()
				m.r[rA] = hi<<4 | lo
				m.r[rF] = row.c | row.h<<4 | bit(row.sub, flagN)
				m.daa()
				assert.Equal(t, hi<<4|lo+row.added, m.r[rA], "%+v %X%X", row, hi, lo)
				assert.Equal(t, row.out, m.r[rF]&flagC, "%+v %X%X", row, hi, lo)
			}
		}
	}
}

// What each register holds at the start is not known, and each use of such a
// register is told once.
func TestUnsetRegisters(t *testing.T) {
	var told []string
	run := func(steps int, prog ...byte) []string {
		m, _ := tracer(t, prog)
		told = nil
		m.OnWarning(func(w Warning) {
			if w.Kind == UnsetRegister {
				told = append(told, w.Register)
			}
		})
		for range steps {
			m.Step()
		}
		return told
	}
	assert.Empty(t, run(1, 0xAF), "XOR A clears A whatever it held")
	assert.Equal(t, []string{"B", "A"}, run(1, 0x80), "ADD A,B")
	assert.Equal(t, []string{"HL"}, run(2, 0x7E, 0x7E), "LD A,(HL) twice: told once")
	assert.Equal(t, []string{"L"}, run(2, 0x26, 0x80, 0x7E), "LD H,80H; LD A,(HL)")
	assert.Equal(t, []string{"SP"}, run(1, 0xCD, 0, 0), "CALL")
	assert.Equal(t, []string{"flags"}, run(1, 0x28, 0), "JR Z")
	assert.Equal(t, []string{"carry flag"}, run(1, 0x38, 0), "JR C")
	assert.Equal(t, []string{"carry flag"}, run(3, 0x06, 1, 0x04, 0x38, 0), "INC B sets all flags but carry")
	assert.Empty(t, run(2, 0x37, 0x38, 0), "SCF; JR C")
	assert.Equal(t, []string{"HL"}, run(5, 0x21, 0, 0x80, 0xEB, 0x1A, 0x13, 0x7E),
		"LD HL,8000H; EX DE,HL: what is unknown goes along into HL")
	assert.Equal(t, []string{"SP"}, run(1, 0xC5), "PUSH BC saves BC, which is no use of it")
}
