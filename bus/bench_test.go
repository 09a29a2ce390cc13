package bus

import (
	"fmt"
	"testing"
)

// benchProgram is a loop of ordinary code: loads, arithmetic, a subroutine,
// memory and port accesses, a block copy now and then.
var benchProgram = []byte{
	0x31, 0x00, 0xFF, // 0000 LD SP,0FF00H
	0x21, 0x00, 0x80, // 0003 LD HL,8000H
	0x06, 0x40, //       0006 LD B,40H
	0x7E,       //       0008 LD A,(HL)
	0xC6, 0x03, //       0009 ADD A,3
	0xE6, 0x7F, //       000B AND 7FH
	0x77,       // 000D LD (HL),A
	0x23,       // 000E INC HL
	0xCB, 0x3F, //       000F SRL A
	0x57,                   // 0011 LD D,A
	0xDD, 0x21, 0x00, 0x90, // 0012 LD IX,9000H
	0xDD, 0x72, 0x05, // 0016 LD (IX+5),D
	0xCD, 0x23, 0x00, // 0019 CALL 0023H
	0x10, 0xEA, //       001C DJNZ 0008H
	0xDB, 0x20, //       001E IN A,(20H)
	0xC3, 0x03, 0x00, // 0020 JP 0003H
	0xF5,       //       0023 PUSH AF
	0xB7,       //       0024 OR A
	0x28, 0x01, //       0025 JR Z,0028H
	0x3C, //             0027 INC A
	0xF1, //             0028 POP AF
	0xC9, //             0029 RET
}

func benchCPU(b *testing.B) *CPU {
	m := New()
	if err := m.LoadROM(0, benchProgram, nil); err != nil {
		b.Fatal(err)
	}
	if err := m.FitRAM(RAM{0x8000, 0x8000}); err != nil {
		b.Fatal(err)
	}
	return m
}

// T-states a second without a trace; the goal is 100 million on one core.
func BenchmarkRun(b *testing.B) {
	m := benchCPU(b)
	b.ResetTimer()
	m.RunClocks(int64(b.N) * 1000)
	b.ReportMetric(float64(m.Clock())/b.Elapsed().Seconds()/1e6, "MT/s")
}

// T-states a second with every half clock worked out; the goal is 5 million.
func BenchmarkHalfClocks(b *testing.B) {
	m := benchCPU(b)
	halves, lit := int64(0), 0
	m.Trace(func(c *Cycle) bool {
		for i := range c.Halves() {
			h := c.Half(i)
			halves++
			if h.Lamps&MREQ != 0 {
				lit++
			}
		}
		return true
	})
	b.ResetTimer()
	m.RunClocks(int64(b.N) * 1000)
	if halves != 2*m.Clock() || lit == 0 {
		b.Fatal(fmt.Sprint("half clocks missing: ", halves, " of ", 2*m.Clock()))
	}
	b.ReportMetric(float64(m.Clock())/b.Elapsed().Seconds()/1e6, "MT/s")
}
