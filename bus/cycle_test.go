package bus

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The pictures below are typed from the timing diagrams of the "Z80 CPU User
// Manual" (UM0080), chapter "CPU timing": opcode fetch, memory read or write,
// input or output, interrupt request/acknowledge, HALT exit, and from its text
// on wait states (from memory of that manual; half a clock at the exit from
// HALT is the least sure). One column a half clock, CLK high first; # is
// active, . is not. For addr a names the access's address, r the refresh
// address; for data d is the byte, . nobody drives.
var timingDiagrams = []struct {
	name    string
	kind    Kind
	t, wait int
	picture string
}{
	{"opcode fetch", Fetch, 4, 0, `
		addr aa aa rr rr
		data .d dd .. ..
		M1   ## ## .. ..
		MREQ .# ## .# #.
		RD   .# ## .. ..
		RFSH .. .. ## ##`},
	{"opcode fetch, one wait state", Fetch, 5, 1, `
		addr aa aa aa rr rr
		data .d dd dd .. ..
		M1   ## ## ## .. ..
		MREQ .# ## ## .# #.
		RD   .# ## ## .. ..
		RFSH .. .. .. ## ##`},
	{"opcode fetch of 6 T-states", Fetch, 6, 0, `
		addr aa aa rr rr rr rr
		data .d dd .. .. .. ..
		M1   ## ## .. .. .. ..
		MREQ .# ## .# #. .. ..
		RD   .# ## .. .. .. ..
		RFSH .. .. ## ## .. ..`},
	{"memory read", Read, 3, 0, `
		addr aa aa aa
		data .d dd d.
		MREQ .# ## #.
		RD   .# ## #.`},
	{"memory read, two wait states", Read, 5, 2, `
		addr aa aa aa aa aa
		data .d dd dd dd d.
		MREQ .# ## ## ## #.
		RD   .# ## ## ## #.`},
	{"memory read of 4 T-states", Read, 4, 0, `
		addr aa aa aa aa
		data .d dd d. ..
		MREQ .# ## #. ..
		RD   .# ## #. ..`},
	{"memory write", Write, 3, 0, `
		addr aa aa aa
		data .d dd dd
		MREQ .# ## #.
		WR   .. .# #.`},
	{"memory write, one wait state", Write, 4, 1, `
		addr aa aa aa aa
		data .d dd dd dd
		MREQ .# ## ## #.
		WR   .. .# ## #.`},
	{"memory write of 5 T-states", Write, 5, 0, `
		addr aa aa aa aa aa
		data .d dd dd .. ..
		MREQ .# ## #. .. ..
		WR   .. .# #. .. ..`},
	{"input", In, 4, 1, `
		addr aa aa aa aa
		data .. dd dd d.
		IORQ .. ## ## #.
		RD   .. ## ## #.`},
	{"output", Out, 4, 1, `
		addr aa aa aa aa
		data .d dd dd dd
		IORQ .. ## ## #.
		WR   .. ## ## #.`},
	{"output, one more wait state", Out, 5, 2, `
		addr aa aa aa aa aa
		data .d dd dd dd dd
		IORQ .. ## ## ## #.
		WR   .. ## ## ## #.`},
	{"interrupt acknowledge", Ack, 7, 2, `
		addr aa aa aa aa rr rr rr
		data .. .. .d dd .. .. ..
		M1   ## ## ## ## .. .. ..
		MREQ .. .. .. .. .# #. ..
		IORQ .. .. .# ## .. .. ..
		RFSH .. .. .. .. ## ## ..`},
	{"internal operation", Internal, 5, 0, `
		addr aa aa aa aa aa`},
}

func TestHalfClocksAgainstTimingDiagrams(t *testing.T) {
	for _, d := range timingDiagrams {
		t.Run(d.name, func(t *testing.T) {
			c := Cycle{Kind: d.kind, T: d.t, Waits: d.wait, Addr: 0x1234, Data: 0x56, Refresh: 0xABCD}
			rows := map[string]string{}
			for _, line := range strings.Split(strings.TrimSpace(d.picture), "\n") {
				f := strings.Fields(line)
				rows[f[0]] = strings.Join(f[1:], "")
			}
			for name, row := range rows {
				require.Len(t, row, c.Halves(), name)
			}
			off := strings.Repeat(".", c.Halves())
			var sum Lamps
			for i := range c.Halves() {
				h := c.Half(i)
				sum |= h.Lamps
				assert.True(t, h.HasAddr)
				assert.Equal(t, map[byte]uint16{'a': 0x1234, 'r': 0xABCD}[rows["addr"][i]], h.Addr, "address, half %d", i)
				if data, ok := rows["data"]; ok && data[i] == 'd' {
					assert.True(t, h.HasData && h.Data == 0x56, "data, half %d", i)
				} else {
					assert.False(t, h.HasData, "data, half %d", i)
				}
				for bit, name := range LampNames {
					row, ok := rows[name]
					if !ok {
						row = off
					}
					assert.Equal(t, row[i] == '#', h.Lamps&(1<<bit) != 0, "%s, half %d", name, i)
				}
			}
			assert.Equal(t, sum, c.Sum())
		})
	}
}

// T-state names as in the same diagrams.
func TestTStateNames(t *testing.T) {
	names := func(c Cycle) string {
		var s []string
		for i := range c.T {
			s = append(s, c.TName(i))
		}
		return strings.Join(s, " ")
	}
	assert.Equal(t, "T1 T2 T3 T4 T5 T6", names(Cycle{Kind: Fetch, T: 6}))
	assert.Equal(t, "T1 T2 TW TW T3 T4 T5", names(Cycle{Kind: Fetch, T: 7, Waits: 2}))
	assert.Equal(t, "T1 T2 TW T3", names(Cycle{Kind: In, T: 4, Waits: 1}))
	assert.Equal(t, "T1 T2 TW TW T3 T4", names(Cycle{Kind: Ack, T: 6, Waits: 2}))
	assert.Equal(t, "T1 T2 T3 T4 T5", names(Cycle{Kind: Internal, T: 5}))
}

// tracer runs a program and gives its machine cycles.
func tracer(t *testing.T, prog []byte) (*CPU, *[]Cycle) {
	t.Helper()
	m := New()
	require.NoError(t, m.LoadROM(0, prog, func(int) bool { return true }))
	require.NoError(t, m.FitRAM(RAM{0x8000, 0x8000}))
	list := new([]Cycle)
	m.Trace(func(c *Cycle) bool { *list = append(*list, *c); return true })
	return m, list
}

// brief writes machine cycles as "fetch0000=3E4 ..." (kind, address, data, T).
func brief(list []Cycle) string {
	const hex = "0123456789ABCDEF"
	var b strings.Builder
	for i, c := range list {
		if i > 0 {
			b.WriteByte(' ')
		}
		b.WriteString(c.Kind.String() + ":")
		for s := 12; s >= 0; s -= 4 {
			b.WriteByte(hex[c.Addr>>s&15])
		}
		if c.HasData() {
			b.WriteByte('=')
			b.WriteByte(hex[c.Data>>4])
			b.WriteByte(hex[c.Data&15])
		}
		b.WriteByte('/')
		b.WriteByte('0' + byte(c.T))
	}
	return b.String()
}

// The HALT lamp comes on after the falling edge of T4 of HALT's own fetch and
// stays on through the idle fetches, which show the byte after HALT (manual,
// HALT exit; from memory). An interrupt ends it with the acknowledge.
func TestHaltLamp(t *testing.T) {
	m, list := tracer(t, []byte{0xFB, 0x76, 0xC9}) // EI, HALT, RET
	m.setSP(0)
	m.SetInterrupts([]Request{{Clock: 14, Data: 0xFF}}, nil)
	m.im = 1
	for range 5 {
		m.Step()
	}
	assert.Equal(t, "fetch:0000=FB/4 fetch:0001=76/4 fetch:0002=C9/4 fetch:0002=C9/4 "+
		"ack:0002=FF/7 write:FFFF=00/3 write:FFFE=02/3", brief(*list))
	lamp := ""
	for _, c := range *list {
		for i := range c.Halves() {
			if h := c.Half(i); h.Lamps&HALT != 0 {
				lamp += "#"
			} else {
				lamp += "."
			}
		}
		lamp += " "
	}
	off := strings.Repeat(".", 6)
	assert.Equal(t, "........ .......# ######## ######## .............. "+off+" "+off, strings.TrimSpace(lamp))
	assert.Equal(t, uint16(0x38), m.pc)
	assert.False(t, m.iff1 || m.iff2)
}

// T-states of accepting an interrupt: IM 1 13, IM 2 19, NMI 11, IM 0 with RST
// 13 (manual, interrupt response; from memory of that manual).
func TestInterruptTimes(t *testing.T) {
	for name, c := range map[string]struct {
		im    uint8
		data  byte
		nmi   bool
		want  string
		pc    uint16
		total int64
	}{
		"IM 0 RST": {im: 0, data: 0xDF, pc: 0x18, total: 13,
			want: "ack:0003=DF/7 write:8FFF=00/3 write:8FFE=03/3"},
		"IM 0 INC B": {im: 0, data: 0x04, pc: 3, total: 6, want: "ack:0003=04/6"},
		"IM 0 CALL, operands from where PC stands": {im: 0, data: 0xCD, pc: 0x0000, total: 19,
			want: "ack:0003=CD/6 read:0003=00/3 read:0003=00/4 write:8FFF=00/3 write:8FFE=03/3"},
		"IM 1": {im: 1, data: 0x12, pc: 0x38, total: 13,
			want: "ack:0003=12/7 write:8FFF=00/3 write:8FFE=03/3"},
		"IM 2": {im: 2, data: 0x40, pc: 0x1234, total: 19,
			want: "ack:0003=40/7 write:8FFF=00/3 write:8FFE=03/3 read:8140=34/3 read:8141=12/3"},
		"NMI": {nmi: true, pc: 0x66, total: 11,
			want: "fetch:0003=00/5 write:8FFF=00/3 write:8FFE=03/3"},
	} {
		t.Run(name, func(t *testing.T) {
			m, list := tracer(t, []byte{0, 0, 0, 0})
			m.setSP(0x9000)
			m.mem[0x8140], m.mem[0x8141] = 0x34, 0x12
			m.i, m.im, m.iff1, m.iff2 = 0x81, c.im, true, true
			if c.nmi {
				m.SetInterrupts(nil, []int64{10, 12})
			} else {
				m.SetInterrupts([]Request{{Clock: 12, Data: c.data}}, nil)
			}
			for range 3 {
				require.False(t, m.Step())
			}
			*list = nil
			before, r := m.Clock(), m.rr
			require.True(t, m.Step())
			assert.Equal(t, c.want, brief(*list))
			assert.Equal(t, c.total, m.Clock()-before)
			assert.Equal(t, c.pc, m.pc)
			assert.Equal(t, r+1, m.rr, "one M1")
			assert.False(t, m.iff1)
			assert.Equal(t, c.nmi, m.iff2, "NMI keeps IFF2 for RETN")
			assert.False(t, m.Step(), "accepted once")
		})
	}
}

// EI holds off a maskable interrupt until the instruction after it has run
// (manual, EI); an NMI is not held off, but nothing comes between a prefix and
// its opcode.
func TestInterruptDelays(t *testing.T) {
	m, list := tracer(t, []byte{0xFB, 0xFB, 0xDD, 0xDD, 0x23, 0x00})
	m.im = 1
	m.setSP(0x9000)
	m.SetInterrupts([]Request{{Clock: 1, Data: 0xFF}}, []int64{9})
	for range 4 {
		m.Step()
	}
	// EI, EI, then INT still waits; DD DD INC IX is not torn apart
	assert.Equal(t, "fetch:0000=FB/4 fetch:0001=FB/4 fetch:0002=DD/4 fetch:0003=DD/4 fetch:0004=23/6", brief(*list))
	*list = nil
	require.True(t, m.Step())
	assert.Equal(t, "fetch:0005=00/5 write:8FFF=00/3 write:8FFE=05/3", brief(*list), "NMI goes first")
}

// LD A,I followed by an interrupt loses IFF2 from P/V (NMOS parts; the data
// set's state p).
func TestInterruptAfterLDAI(t *testing.T) {
	m, _ := tracer(t, []byte{0xED, 0x57})
	m.setSP(0x9000)
	m.im, m.iff1, m.iff2 = 1, true, true
	m.SetInterrupts([]Request{{Clock: 9}}, nil)
	m.Step()
	assert.NotZero(t, m.r[rF]&flagPV)
	require.True(t, m.Step())
	assert.Zero(t, m.r[rF]&flagPV)
}

// Wait states stand after T2 and lengthen every cycle of their kind.
func TestWaits(t *testing.T) {
	m, list := tracer(t, []byte{0x3A, 0x00, 0x80, 0xD3, 0x10, 0x32, 0x01, 0x80})
	m.SetWaits(Waits{Fetch: 1, Read: 2, Write: 3, IO: 1})
	for range 3 {
		m.Step()
	}
	assert.Equal(t, "fetch:0000=3A/5 read:0001=00/5 read:0002=80/5 read:8000=FF/5 "+
		"fetch:0003=D3/5 read:0004=10/5 out:FF10=FF/5 "+
		"fetch:0005=32/5 read:0006=01/5 read:0007=80/5 write:8001=FF/6", brief(*list))
	assert.Equal(t, "T1 T2 TW TW TW T3", func() string {
		c := (*list)[10]
		var s []string
		for i := range c.T {
			s = append(s, c.TName(i))
		}
		return strings.Join(s, " ")
	}())
	var sum int64
	for _, c := range *list {
		assert.Equal(t, sum+1, c.Clock)
		sum += int64(c.T)
	}
	assert.Equal(t, sum, m.Clock())
}
