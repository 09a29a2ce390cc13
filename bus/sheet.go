package bus

import "strconv"

// Every says what one row of a sheet stands for.
type Every uint8

// The kinds of row.
const (
	EveryCycle Every = iota // one machine cycle with its internal T-states
	EveryInstruction
	EveryClock // the pins in the half in which the clock rests
	EveryHalf
)

// Place is where in the source an address comes from.
type Place struct {
	File, Line string // "demo.asm", "12"; empty where there is no source
	Text       string // the source line
	Label      string // nearest label at or before the address, empty for none
	Offset     int    // bytes from Label
}

// String gives "demo.asm:12", or without a source "LOOP+3", or "".
func (p *Place) String() string {
	switch {
	case p.File != "" && p.Line != "":
		return p.File + ":" + p.Line
	case p.Label != "" && p.Offset != 0:
		return p.Label + "+" + strconv.Itoa(p.Offset)
	}
	return p.Label
}

// Locate finds the place of an instruction's address.
type Locate func(addr uint16) Place

// SheetOptions say what rows a sheet has.
type SheetOptions struct {
	Every    Every
	RestHigh bool      // the clock rests with CLK high: what EveryClock rows show
	Freq     Frequency // 0: rows have no time
	Clocks   int64     // no row begins after this clock; 0: no limit
	Locate   Locate    // nil: rows have no location
}

// Row is one row of a sheet.
type Row struct {
	Clock    int64  // the row's first clock, 1-based
	Half     byte   // 'H' or 'L', 0 in rows of several halves
	CycleNo  int64  // number of the (first) machine cycle, 1-based
	T        string // T1 T2 TW T3 T4 T5 T6, empty in rows of several T-states
	TStates  int    // 0 in rows of a half
	Time     []byte // when the row begins, in ns since clock 1 began, decimal digits; nil without a frequency
	Kind     Kind   // of the (first) machine cycle
	Addr     uint16
	Data     byte
	HasAddr  bool
	HasData  bool
	Lamps    Lamps // active; in rows of several halves: at any time
	Location Place
	Begins   bool   // first row of an instruction or interrupt
	Text     []byte // in words what happens; valid until the next row
}

// RowWriter writes rows in some format. Close writes what is left; it does
// not close what it writes to.
type RowWriter interface {
	Row(*Row) error
	Close() error
}

// Sheet turns machine cycles into rows. Its Cycle method is the Sink of a run;
// Close must follow the run.
type Sheet struct {
	m   *CPU
	opt SheetOptions
	w   RowWriter
	err error

	text  string // of the running instruction
	size  int
	place Place
	row   Row
	open  bool // an instruction's row is being gathered
	buf   []byte
	time  []byte
}

// NewSheet makes a sheet of m's run that writes to w.
func NewSheet(m *CPU, opt SheetOptions, w RowWriter) *Sheet {
	return &Sheet{m: m, opt: opt, w: w}
}

// Cycle takes a machine cycle; false after an error of the writer or when the
// last row was written.
func (s *Sheet) Cycle(c *Cycle) bool {
	if s.opt.Clocks > 0 && c.Clock > s.opt.Clocks && (s.opt.Every != EveryInstruction || c.First) {
		return false
	}
	if c.First {
		s.begin(c)
	}
	switch s.opt.Every {
	case EveryCycle:
		s.whole(c)
		s.row.Begins = c.First
		s.row.Text = s.m.appendCycle(s.buf[:0], c, s.text, s.size)
		s.write()
	case EveryInstruction:
		s.gather(c)
	default:
		return s.halves(c)
	}
	return s.err == nil
}

// begin looks up what is about to run.
func (s *Sheet) begin(c *Cycle) {
	if s.open {
		s.write()
		s.open = false
	}
	s.text, s.size = "", 0
	if c.Kind == Fetch && c.Role == RoleOpcode || c.Kind == Ack && s.m.im == 0 {
		s.text, s.size = s.m.instruction(c)
	}
	s.place = Place{}
	if s.opt.Locate != nil && c.Kind != Reset {
		s.place = s.opt.Locate(c.Inst)
	}
}

// whole fills in the row of a machine cycle.
func (s *Sheet) whole(c *Cycle) {
	s.row = Row{
		Clock: c.Clock, CycleNo: c.No, TStates: c.T, Kind: c.Kind,
		Addr: c.Addr, Data: c.Data, HasAddr: c.Kind != Reset, HasData: c.HasData(),
		Lamps: c.Sum(), Location: s.place, Time: s.timeAt(2 * uint64(c.Clock-1)),
	}
}

// gather adds a cycle to the row of its instruction.
func (s *Sheet) gather(c *Cycle) {
	if !s.open {
		s.whole(c)
		s.row.Begins, s.open = true, true
		s.buf = s.buf[:0]
		switch {
		case c.Kind == Fetch && c.Role == RoleOpcode && !lonePrefix(c, s.size):
			s.buf = append(s.buf, s.text...)
		default:
			s.buf = s.m.appendCycle(s.buf, c, s.text, s.size)
		}
		s.row.Text = s.buf
		return
	}
	s.row.TStates += c.T
	s.row.Lamps |= c.Sum()
	if c.Role != RoleOpcode && c.Role != RoleOperand && c.Kind != Internal {
		s.buf = append(s.buf, "; "...)
		s.buf = s.m.appendCycle(s.buf, c, s.text, s.size)
		s.row.Text = s.buf
	}
}

// halves writes the rows of a cycle's half clocks, or of the halves in which
// the clock rests.
func (s *Sheet) halves(c *Cycle) bool {
	step, first := 1, 0
	if s.opt.Every == EveryClock {
		step = 2
		if !s.opt.RestHigh {
			first = 1
		}
	}
	for i := first; i < c.Halves(); i += step {
		clock := c.Clock + int64(i/2)
		if s.opt.Clocks > 0 && clock > s.opt.Clocks {
			return false
		}
		h := c.Half(i)
		s.row = Row{
			Clock: clock, CycleNo: c.No, T: c.TName(i / 2), Kind: c.Kind, Half: 'L',
			Addr: h.Addr, Data: h.Data, HasAddr: h.HasAddr, HasData: h.HasData,
			Lamps: h.Lamps, Location: s.place, Begins: c.First && i == first,
			Time: s.timeAt(2*uint64(clock-1) + uint64(i%2)),
		}
		if h.High() {
			s.row.Half = 'H'
		}
		if s.opt.Every == EveryClock { // the row is the clock's, the pins those of one half
			s.row.TStates = 1
			s.row.Time = s.timeAt(2 * uint64(clock-1))
		}
		if i == first {
			s.row.Text = s.m.appendCycle(s.buf[:0], c, s.text, s.size)
		} else {
			s.row.Text = appendPhase(s.buf[:0], c, i)
		}
		if s.write(); s.err != nil {
			return false
		}
	}
	return true
}

func (s *Sheet) timeAt(halves uint64) []byte {
	if s.opt.Freq == 0 {
		return nil
	}
	s.time = appendTime(s.time[:0], halves, nanoseconds, s.opt.Freq)
	return s.time
}

func (s *Sheet) write() {
	if s.err == nil {
		s.err = s.w.Row(&s.row)
	}
	s.buf = s.row.Text[:0]
}

// Close writes the last row and what the writer holds back. The error is the
// first one of the whole sheet.
func (s *Sheet) Close() error {
	if s.open {
		s.write()
		s.open = false
	}
	if err := s.w.Close(); s.err == nil {
		s.err = err
	}
	return s.err
}
