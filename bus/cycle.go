package bus

// Kind is what a machine cycle does on the bus.
type Kind uint8

// The machine cycles of the CPU manual. Reset stands for the clocks in which
// RESET is held and the two that follow its release.
const (
	Internal Kind = iota // the CPU works, the bus rests
	Fetch                // opcode fetch (M1)
	Read                 // memory read
	Write                // memory write
	In                   // I/O read
	Out                  // I/O write
	Ack                  // interrupt acknowledge
	Reset
)

var kindNames = [...]string{"internal", "fetch", "read", "write", "in", "out", "ack", "internal"}

// String gives the word of the sheet's cycle column. Reset clocks are internal
// there: nothing happens on the bus.
func (k Kind) String() string { return kindNames[k] }

// Lamps is the set of control signals that are active (pin low, lamp lit).
type Lamps uint8

// The control signals, in the order in which sheets show them.
const (
	M1 Lamps = 1 << iota
	MREQ
	IORQ
	RD
	WR
	RFSH
	HALT
)

// LampNames are the signals' names in the order of their bits.
var LampNames = [...]string{"M1", "MREQ", "IORQ", "RD", "WR", "RFSH", "HALT"}

// Role says what an access means to the program, beyond its kind.
type Role uint8

// The roles.
const (
	RolePlain   Role = iota
	RoleOpcode       // a byte of the opcode (prefix bytes included)
	RoleOperand      // a byte that belongs to the instruction but is no opcode
	RoleStack        // pushed or popped
	RoleVector       // an address taken from the IM 2 table
	RoleIgnored      // fetched and ignored: halted, or the first cycle of an NMI
)

// Cycle is one machine cycle as it runs. The CPU reuses one Cycle: a sink that
// wants to keep it must copy it.
type Cycle struct {
	Kind  Kind
	Role  Role
	First bool  // first cycle of an instruction, of an interrupt or of an idle fetch
	Byte  uint8 // which byte of the instruction an opcode or operand access takes, 0-based

	Addr uint16 // address bus; in T3-T4 of a fetch or acknowledge it is Refresh
	Data byte   // byte on the data bus; of no meaning in Internal and Reset

	Refresh uint16 // I:R in a fetch or acknowledge, before R counts up

	No    int64 // number of the machine cycle in this run, 1-based
	Clock int64 // number of the cycle's first clock in this run, 1-based

	T     int // T-states, wait states included
	Waits int // wait states among them (the automatic ones of I/O and acknowledge too)

	Inst uint16 // address of the instruction that runs

	halt haltLamp
}

type haltLamp uint8

const (
	haltOff    haltLamp = iota
	haltBegins          // comes on after the falling edge of T4
	haltOn
)

// Half is what the pins show for half a clock.
type Half struct {
	Index   int // half clock within the cycle, 0-based: even = CLK high, odd = CLK low
	Addr    uint16
	Data    byte
	HasAddr bool // false: the address bus floats (RESET held)
	HasData bool // false: nobody drives the data bus
	Lamps   Lamps
}

// High tells whether the half is the one with CLK high.
func (h *Half) High() bool { return h.Index&1 == 0 }

// Halves is the number of half clocks of the cycle.
func (c *Cycle) Halves() int { return 2 * c.T }

// Half works out half clock i (0-based) of the cycle from the timing diagrams
// of the CPU manual (opcode fetch, memory read or write, input or output,
// interrupt request/acknowledge, HALT exit).
//
// Data of a read counts as on the bus while RD (or the acknowledging IORQ) is
// on: at a lamp's speed a memory chip answers at once.
func (c *Cycle) Half(i int) Half {
	h := Half{Index: i, Addr: c.Addr, HasAddr: true}
	t3 := 2 * (2 + c.Waits) // index of T3's high half
	switch c.Kind {
	case Fetch:
		if i < t3 {
			h.Lamps = M1
			if i >= 1 {
				h.Lamps = M1 | MREQ | RD
				h.HasData = true
			}
		} else {
			c.refresh(&h, i-t3)
		}
	case Read:
		if i >= 1 && i <= t3 {
			h.Lamps = MREQ | RD
			h.HasData = true
		}
	case Write:
		if i >= 1 && i <= t3 {
			h.Lamps = MREQ
			if i >= 3 {
				h.Lamps |= WR
			}
		}
		h.HasData = i >= 1 && i <= t3+1
	case In:
		if i >= 2 && i <= t3 {
			h.Lamps = IORQ | RD
			h.HasData = true
		}
	case Out:
		if i >= 2 && i <= t3 {
			h.Lamps = IORQ | WR
		}
		h.HasData = i >= 1 && i <= t3+1
	case Ack:
		if i < t3 {
			h.Lamps = M1
			if i >= 5 {
				h.Lamps |= IORQ
				h.HasData = true
			}
		} else {
			c.refresh(&h, i-t3)
		}
	case Reset:
		h.HasAddr = false
	}
	if h.HasData {
		h.Data = c.Data
	}
	if c.halt == haltOn || c.halt == haltBegins && i >= t3+3 {
		h.Lamps |= HALT
	}
	return h
}

// refresh fills in T3, T4 and what follows; j counts half clocks from T3's
// high half.
func (c *Cycle) refresh(h *Half, j int) {
	h.Addr = c.Refresh
	if j <= 3 {
		h.Lamps = RFSH
	}
	if j == 1 || j == 2 {
		h.Lamps |= MREQ
	}
}

// TName names T-state ti (0-based) of the cycle: T1 T2 TW T3 T4 and, where the
// CPU works on inside the cycle, T4 T5 T6.
func (c *Cycle) TName(ti int) string {
	switch {
	case ti < 2:
		return tNames[ti+1]
	case ti < 2+c.Waits:
		return "TW"
	case ti-c.Waits+1 < len(tNames):
		return tNames[ti-c.Waits+1]
	}
	return "T"
}

var tNames = [...]string{"", "T1", "T2", "T3", "T4", "T5", "T6", "T7"}

// Sum gathers what lights up at any time in the cycle.
func (c *Cycle) Sum() Lamps {
	var l Lamps
	switch c.Kind {
	case Fetch:
		l = M1 | MREQ | RD | RFSH
	case Read:
		l = MREQ | RD
	case Write:
		l = MREQ | WR
	case In:
		l = IORQ | RD
	case Out:
		l = IORQ | WR
	case Ack:
		l = M1 | IORQ | RFSH | MREQ
	}
	if c.halt != haltOff {
		l |= HALT
	}
	return l
}

// HasData tells whether the cycle carries a byte.
func (c *Cycle) HasData() bool { return c.Kind != Internal && c.Kind != Reset }

// SampleClock is the clock in which the CPU (or the device) takes the byte
// over: T3 of the cycle.
func (c *Cycle) SampleClock() int64 { return c.Clock + int64(2+c.Waits) }
