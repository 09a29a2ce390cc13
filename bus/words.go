package bus

import "romwright/encoder"

// A byte or an address in words is two or four hex digits and an H: what the
// lamps show, without the 0 that the source language puts before a letter.

func appendHex2(b []byte, v byte) []byte {
	return append(b, hexDigits[v>>4], hexDigits[v&15], 'H')
}

func appendHex4(b []byte, v uint16) []byte { return append(appendAddr(b, v), 'H') }

func hex4(v uint16) string { return string(appendHex4(nil, v)) }

func appendAddr(b []byte, v uint16) []byte {
	return append(b, hexDigits[v>>12], hexDigits[v>>8&15], hexDigits[v>>4&15], hexDigits[v&15])
}

const hexDigits = "0123456789ABCDEF"

var ordinals = [...]string{"first", "second", "third", "fourth", "fifth"}

// instruction gives the text of the instruction that begins with cycle c, and
// its size in bytes. The bytes come from memory without a bus access, or for
// an acknowledge in IM 0 from the device.
func (m *CPU) instruction(c *Cycle) (string, int) {
	at := c.Inst
	b := [4]byte{m.mem[at], m.mem[at+1], m.mem[at+2], m.mem[at+3]}
	if c.Kind == Ack {
		b = [4]byte{c.Data, m.mem[at], m.mem[at], m.mem[at]}
	}
	in, err := encoder.Decode(b[:])
	if err != nil {
		panic("BUG: four bytes are no instruction: " + err.Error())
	}
	return in.Text(at), in.Len
}

// lonePrefix tells whether a one-byte instruction is a DD or FD prefix.
func lonePrefix(c *Cycle, size int) bool {
	return size == 1 && c.Role == RoleOpcode && (c.Data == 0xDD || c.Data == 0xFD)
}

// appendCycle appends in words what a machine cycle does; text and size are
// the instruction's.
func (m *CPU) appendCycle(b []byte, c *Cycle, text string, size int) []byte {
	switch c.Kind {
	case Fetch:
		return m.appendFetch(b, c, text, size)
	case Ack:
		b = append(b, "acknowledges the interrupt"...)
		if m.im == 0 && size > 0 {
			b = append(b, ", takes "...)
			b = appendHex2(b, c.Data)
			return appendPart(b, c, text, size)
		}
		if m.im == 2 {
			b = append(b, ", takes "...)
			return appendHex2(b, c.Data)
		}
		b = append(b, "; "...)
		b = appendHex2(b, c.Data)
		return append(b, " on the bus is ignored (IM 1)"...)
	case Read:
		return m.appendRead(b, c, text, size)
	case Write:
		b = append(b, "writes "...)
		if c.Role == RoleStack {
			b = append(b[:len(b)-len("writes ")], "pushes "...)
		}
		b = appendHex2(b, c.Data)
		b = append(b, " to "...)
		b = appendHex4(b, c.Addr)
		if cell := m.cells[c.Addr]; cell&fitted == 0 {
			b = append(b, ": nothing is fitted there"...)
		} else if cell&writable == 0 {
			b = append(b, ": ROM, nothing is stored"...)
		}
		return b
	case In:
		b = append(b, "reads "...)
		b = appendHex2(b, c.Data)
		b = append(b, " from port "...)
		return appendHex2(b, byte(c.Addr))
	case Out:
		b = append(b, "writes "...)
		b = appendHex2(b, c.Data)
		b = append(b, " to port "...)
		return appendHex2(b, byte(c.Addr))
	case Reset:
		if c.T == ResetHeld {
			return append(b, "RESET is held"...)
		}
		return append(b, "RESET is released, the first fetch follows"...)
	}
	return append(b, "works inside, the bus rests"...)
}

func (m *CPU) appendFetch(b []byte, c *Cycle, text string, size int) []byte {
	if c.Role == RoleIgnored {
		if c.halt == haltOn {
			b = append(b, "halted: fetches "...)
		} else {
			b = append(b, "accepts NMI: fetches "...)
		}
		b = appendHex2(b, c.Data)
		return append(b, " and ignores it"...)
	}
	b = append(b, "fetch "...)
	b = appendHex2(b, c.Data)
	if lonePrefix(c, size) && c.First {
		return append(b, ", a prefix that the next opcode does not heed"...)
	}
	return appendPart(b, c, text, size)
}

func (m *CPU) appendRead(b []byte, c *Cycle, text string, size int) []byte {
	switch c.Role {
	case RoleOperand, RoleOpcode:
		b = append(b, "reads "...)
		b = appendHex2(b, c.Data)
		return appendPart(b, c, text, size)
	case RoleStack:
		b = append(b, "pops "...)
	default:
		b = append(b, "reads "...)
	}
	b = appendHex2(b, c.Data)
	b = append(b, " from "...)
	b = appendHex4(b, c.Addr)
	if c.Role == RoleVector {
		b = append(b, ", the interrupt's vector"...)
	}
	if m.cells[c.Addr]&fitted == 0 {
		b = append(b, ": nothing is fitted there"...)
	}
	return b
}

// appendPart says which byte of which instruction it is.
func appendPart(b []byte, c *Cycle, text string, size int) []byte {
	if size == 1 {
		b = append(b, ": "...)
		return append(b, text...)
	}
	b = append(b, ", "...)
	b = append(b, ordinals[min(int(c.Byte), len(ordinals)-1)]...)
	b = append(b, " byte of "...)
	return append(b, text...)
}

// appendPhase appends in words what half clock i of a cycle is about, for the
// rows after the cycle's first.
func appendPhase(b []byte, c *Cycle, i int) []byte {
	t3 := 2 * (2 + c.Waits)
	if i >= 4 && i < t3 && c.Kind != Internal && c.Kind != Reset {
		b = append(b, "waits; "...)
	}
	switch c.Kind {
	case Fetch:
		switch {
		case i < t3:
			return appendHex2(append(b, "memory gives "...), c.Data)
		case i < t3+2:
			b = appendHex2(b, c.Data)
			b = append(b, " is taken in; refresh address "...)
			return appendHex4(b, c.Refresh)
		case i < t3+4:
			return appendHex4(append(b, "refresh address "...), c.Refresh)
		}
	case Ack:
		switch {
		case i < 5:
			return append(b, "the device is asked"...)
		case i < t3:
			return appendHex2(append(b, "the device gives "...), c.Data)
		case i < t3+2:
			b = appendHex2(b, c.Data)
			b = append(b, " is taken in; refresh address "...)
			return appendHex4(b, c.Refresh)
		case i < t3+4:
			return appendHex4(append(b, "refresh address "...), c.Refresh)
		}
	case Read, In:
		who := "memory gives "
		if c.Kind == In {
			who = "the port gives "
		}
		switch {
		case c.Kind == In && i < 2:
			return append(b, "the port address is out"...)
		case i <= t3:
			return appendHex2(append(b, who...), c.Data)
		case i == t3+1:
			return append(appendHex2(b, c.Data), " is taken in"...)
		}
	case Write, Out:
		first := 3 // half in which WR comes on
		if c.Kind == Out {
			first = 2
		}
		switch {
		case i < first:
			return append(appendHex2(b, c.Data), " is on the data bus"...)
		case i <= t3:
			return append(appendHex2(b, c.Data), " is being written"...)
		case i == t3+1:
			return append(appendHex2(b, c.Data), " is written"...)
		}
	case Reset:
		if c.T == ResetHeld {
			return append(b, "RESET is held"...)
		}
		return append(b, "the first fetch follows"...)
	}
	return append(b, "works inside, the bus rests"...)
}
