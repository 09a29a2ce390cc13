package cmd

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"romwright/bus"
	"romwright/diag"
)

// lampsOptions are the options of lamps. Words that need the program's symbols
// stay words until it is loaded.
type lampsOptions struct {
	source sourceFlags

	clocks, instructions int64 // 0: no limit
	from, until          string
	every                bus.Every
	restHigh             bool
	reset                bool

	in     []string
	inFile string
	ints   []string
	nmis   []int64
	ram    []string
	waits  bus.Waits
	clock  bus.Frequency

	format        string // text csv json vcd html
	out           string // file, "" or "-" for standard output
	ascii, levels bool

	report       bool
	reportFile   string
	reportFormat string
	noSheet      bool // the report alone
	press        time.Duration
}

func newLamps(s streams) *cobra.Command {
	var o lampsOptions
	var every, rest, waits, clock string
	var nmis []string
	c := &cobra.Command{
		Use:   "lamps SOURCE|LISTING|IMAGE",
		Short: "Show what every bus lamp must show at every clock",
		Long: `Lamps runs the program on a model of the CPU and prints what the address, data
and control lamps of a board must show: a row for each machine cycle, clock or
half clock, from the first T1 or from the reset pulses on. With --format html it
writes a page on which the run can be stepped through, and which finds the clock
at which a board stands by what its lamps show. With --report it
sums up how often ports are accessed, how long loops take and where the time
goes.

PORT=VALUE[@CLOCK] of --in: PORT is any, a symbol or a number; up to 255 it is
compared with A7-A0, a larger one with A15-A0. A later value takes over at its
clock. Numbers are written as in the source: 20H, $20, 32, 10B.`,
		Example: "  romwright lamps crossing.asm --clocks 200\n" +
			"  romwright lamps crossing.asm --every clock --in SENSOR=0FEH --in SENSOR=0FFH@500 --clock 2Hz\n" +
			"  romwright lamps monitor.bin --at 0 --from 66H --instructions 20 --format csv -o monitor.csv\n" +
			"  romwright lamps crossing.asm --in SENSOR=0FFH --format html -o crossing.html\n" +
			"  romwright lamps crossing.asm --report --press 50ms --clock 500kHz",
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if err := o.settle(c, every, rest, waits, clock, nmis); err != nil {
				return err
			}
			return runLamps(s, &o, args[0])
		},
	}
	fl := c.Flags()
	fl.Int64Var(&o.clocks, "clocks", 0, "end after this `number` of clocks (default 64; 50,000 for a page, a million for a report)")
	fl.Int64Var(&o.instructions, "instructions", 0, "end after this `number` of instructions")
	fl.StringVar(&o.until, "until", "", "end before the instruction at this `address` or label")
	fl.StringVar(&o.from, "from", "", "begin at this `address` or label (default 0000H, where a reset begins)")
	fl.StringVar(&every, "every", "cycle", "what a row stands for: `instruction|cycle|clock|half`")
	fl.StringVar(&rest, "rest", "low", "half in which the clock rests between pulses, which a clock row shows: `low|high`")
	fl.BoolVar(&o.reset, "reset", false, "begin with the reset pulses")
	fl.StringArrayVar(&o.in, "in", nil, "what a port reads as: `PORT=VALUE[@CLOCK]`; may be repeated")
	fl.StringVar(&o.inFile, "in-file", "", "what ports read as, from a `file` of lines clock,port,value")
	fl.StringArrayVar(&o.ints, "int", nil, "maskable interrupt from a clock on, the device gives BYTE: `CLOCK[=BYTE]` (default 0FFH); may be repeated")
	fl.StringArrayVar(&nmis, "nmi", nil, "non-maskable interrupt at this `clock`; may be repeated")
	fl.StringArrayVar(&o.ram, "ram", nil, "fit RAM: `SIZE@ADDR`; may be repeated (default: what the source declares)")
	fl.StringVar(&waits, "waits", "", "wait states of the board, such as `fetch=1,read=1,write=1,io=1`")
	fl.StringVar(&clock, "clock", "", "clock `rate`, such as 4MHz, 500kHz or 2Hz: rows then have a time")
	fl.StringVar(&o.format, "format", "text", "form of the sheet: `text|csv|json|vcd|html`; html is a page to step through")
	fl.StringVarP(&o.out, "output", "o", "", "write the sheet to this `file`; - is standard output")
	fl.BoolVar(&o.ascii, "ascii", false, "lamps as * and . instead of ● and ○")
	fl.BoolVar(&o.levels, "levels", false, "print pin levels H and L instead of lit lamps")
	fl.BoolVar(&o.report, "report", false, "report ports, loops and time; beside a --format it goes to standard error")
	fl.StringVar(&o.reportFile, "report-file", "", "write the report to this `file`")
	fl.StringVar(&o.reportFormat, "report-format", "", "form of the report: `text|json` (default: by the extension of --report-file, else text)")
	fl.DurationVar(&o.press, "press", 0, "report whether an input pressed for this `time` is always seen, such as 50ms")
	o.source.add(c)
	return c
}

// settle checks the flags that need no program.
func (o *lampsOptions) settle(c *cobra.Command, every, rest, waits, clock string, nmis []string) error {
	fl := c.Flags()
	for name, n := range map[string]int64{"clocks": o.clocks, "instructions": o.instructions} {
		if fl.Changed(name) && n < 1 {
			return usage("--%s must be at least 1, not %d", name, n)
		}
	}
	if err := oneOf("every", every, "instruction", "cycle", "clock", "half"); err != nil {
		return err
	}
	o.every = map[string]bus.Every{"instruction": bus.EveryInstruction, "cycle": bus.EveryCycle,
		"clock": bus.EveryClock, "half": bus.EveryHalf}[every]
	if err := oneOf("rest", rest, "low", "high"); err != nil {
		return err
	}
	o.restHigh = rest == "high"
	if err := oneOf("format", o.format, "text", "csv", "json", "vcd", "html"); err != nil {
		return err
	}
	if err := oneOf("report-format", o.reportFormat, "", "text", "json"); err != nil {
		return err
	}
	var err error
	if waits != "" {
		if o.waits, err = bus.ParseWaits(waits); err != nil {
			return usage("--waits: %w", err)
		}
	}
	if fl.Changed("clock") {
		if o.clock, err = bus.ParseFrequency(clock); err != nil {
			return usage("--clock: %w", err)
		}
	}
	for _, n := range nmis {
		at, err := bus.ParseNMI(n)
		if err != nil {
			return usage("--nmi: %w", err)
		}
		o.nmis = append(o.nmis, at)
	}
	if fl.Changed("press") && o.press <= 0 {
		return usage("--press must be a time above 0, such as 50ms, not %s", o.press)
	}
	if o.reportFile != "" || o.press > 0 || o.reportFormat != "" {
		o.report = true
	}
	o.noSheet = o.report && o.out == "" && !fl.Changed("format") && !fl.Changed("every")
	if o.reportFormat == "" {
		o.reportFormat = "text"
		if strings.HasSuffix(strings.ToLower(o.reportFile), ".json") {
			o.reportFormat = "json"
		}
	}
	if o.clocks == 0 && o.instructions == 0 && o.until == "" {
		o.clocks = bus.DefaultClocks
		switch {
		case o.noSheet:
			o.clocks = bus.ReportClocks
		case o.format == "html":
			o.clocks = pageClocks
		}
	}
	if o.format == "html" && !o.noSheet {
		return o.checkPage()
	}
	return nil
}

// runLamps loads the program, runs it and writes sheet and report.
func runLamps(s streams, o *lampsOptions, path string) error {
	p, err := loadProgram(s, &o.source, path)
	if err != nil {
		return err
	}
	m, lim, start, err := o.board(p)
	if err != nil {
		return err
	}
	if o.clock != 0 && o.clock < bus.SlowClock {
		fmt.Fprintf(s.Err, "caution: %s\n", bus.SlowClockCaution)
	}
	w := newRunWarnings(p)
	m.OnWarning(w.add)
	r := &lampsRun{o: o, p: p, m: m, lim: lim, start: start}
	if o.report {
		r.profile = bus.NewProfile(m)
	}
	switch {
	case o.noSheet:
		r.run(nil)
	case o.format == "html":
		err = r.writePage(s)
	default:
		err = writeReport(s, o.out, r.sheet)
	}
	if err != nil {
		return err
	}
	w.show(s.Err)
	if o.report {
		if err := r.writeReport(s); err != nil {
			return err
		}
	}
	return r.ending(s.Err)
}

// board builds the CPU with the program's memory and the options' world, and
// gives how far it runs and where it begins.
func (o *lampsOptions) board(p *program) (*bus.CPU, bus.Limits, uint16, error) {
	lim := bus.Limits{Clocks: o.clocks, Instructions: o.instructions, Until: -1}
	fail := func(format string, args ...any) (*bus.CPU, bus.Limits, uint16, error) {
		return nil, lim, 0, trouble(format, args...)
	}
	m := bus.New()
	im := p.image
	if im.Capacity > 1<<16 || im.At+im.Capacity > 1<<16 {
		return fail("%s: an image of %d bytes at %04XH reaches beyond FFFFH, and the CPU sees only 64K; a chip that is larger than what the board decodes is declared with COPIES",
			diag.Printable(p.name), im.Capacity, im.At)
	}
	filled := func(i int) bool { return im.UsedAt(im.At + i) }
	if p.bare {
		filled = nil
	}
	if err := m.LoadROM(im.At, im.Data, filled); err != nil {
		return fail("%w", err)
	}
	value := p.value
	ram := p.ram
	if len(o.ram) > 0 {
		ram = nil
		for _, word := range o.ram {
			r, err := bus.ParseRAM(word, value)
			if err != nil {
				return fail("--ram: %w", err)
			}
			ram = append(ram, r)
		}
	}
	for _, r := range ram {
		if err := m.FitRAM(r); err != nil {
			return fail("%w", err)
		}
	}
	stimuli, err := o.stimuli(value)
	if err != nil {
		return nil, lim, 0, err
	}
	m.SetPorts(stimuli)
	var ints []bus.Request
	for _, word := range o.ints {
		r, err := bus.ParseRequest(word, value)
		if err != nil {
			return fail("--int: %w", err)
		}
		ints = append(ints, r)
	}
	m.SetInterrupts(ints, o.nmis)
	m.SetWaits(o.waits)
	start := 0
	if o.from != "" {
		if o.reset {
			return fail("--from and --reset contradict each other: a reset begins at 0000H")
		}
		if start, err = p.address("from", o.from); err != nil {
			return nil, lim, 0, err
		}
	}
	m.SetPC(uint16(start))
	if o.until != "" {
		if lim.Until, err = p.address("until", o.until); err != nil {
			return nil, lim, 0, err
		}
	}
	return m, lim, uint16(start), nil
}

// stimuli reads --in-file and --in; the latter come later and so win.
func (o *lampsOptions) stimuli(value bus.Value) ([]bus.Stimulus, error) {
	var list []bus.Stimulus
	if o.inFile != "" {
		f, err := os.Open(o.inFile)
		if err == nil {
			defer f.Close()
			var st os.FileInfo
			if st, err = f.Stat(); err == nil && st.IsDir() {
				err = errors.New("it is a directory")
			}
		}
		if err == nil {
			list, err = bus.ReadStimuli(f, value)
		}
		var se *bus.StimulusError
		switch {
		case errors.As(err, &se) && se.Line > 0:
			hint := ""
			if se.Hint != "" {
				hint = " (" + se.Hint + ")"
			}
			return nil, trouble("%s:%d:%d: %s%s", o.inFile, se.Line, se.Column, se.Msg, hint)
		case err != nil:
			return nil, trouble("%s cannot be read: %w", o.inFile, pathless(err))
		}
	}
	for _, word := range o.in {
		st, err := bus.ParseStimulus(word, value)
		if err != nil {
			return nil, usage("--in %s: %w", word, err)
		}
		list = append(list, st)
	}
	return list, nil
}

// pathless takes the path out of a file error that is told beside it.
func pathless(err error) error {
	var pe *os.PathError
	if errors.As(err, &pe) {
		return pe.Err
	}
	return err
}

// lampsRun is one run with what it feeds.
type lampsRun struct {
	o       *lampsOptions
	p       *program
	m       *bus.CPU
	lim     bus.Limits
	start   uint16
	profile *bus.Profile
	outcome bus.Outcome
}

func (r *lampsRun) run(sink bus.Sink) {
	r.m.Trace(sink)
	if r.o.reset {
		r.m.ResetPulses()
	}
	r.outcome = r.m.Run(r.lim, r.profile)
}

// sheet runs the program and writes the sheet as it goes.
func (r *lampsRun) sheet(w io.Writer) error {
	o := r.o
	notes := []string{bus.ClockOne(o.reset, r.start)}
	var rows bus.RowWriter
	switch o.format {
	case "vcd":
		v := bus.NewVCD(w, o.clock, r.lim.Clocks, notes)
		r.run(v.Cycle)
		return v.Close()
	case "csv":
		rows = bus.NewCSV(w)
	case "json":
		rows = bus.NewJSON(w)
	default:
		rows = bus.NewText(w, bus.TextOptions{ASCII: o.ascii, Levels: o.levels, Notes: notes,
			Time: o.clock != 0, Places: !r.p.bare})
	}
	sh := bus.NewSheet(r.m, bus.SheetOptions{Every: o.every, RestHigh: o.restHigh, Freq: o.clock,
		Clocks: r.lim.Clocks, Locate: r.p.locate}, rows)
	r.run(sh.Cycle)
	return sh.Close()
}

func (r *lampsRun) writeReport(s streams) error {
	rep := r.profile.Report(bus.ReportOptions{Freq: r.o.clock, Press: r.o.press,
		Name: r.p.labelAt, PortName: r.p.portName})
	write := rep.WriteText
	if r.o.reportFormat == "json" {
		write = rep.WriteJSON
	}
	if r.o.reportFile == "" && !r.o.noSheet {
		b := bufio.NewWriter(s.Err)
		if err := write(b); err != nil {
			return wrote("standard error", err)
		}
		return wrote("standard error", b.Flush())
	}
	return writeReport(s, r.o.reportFile, write)
}

// ending turns an --until that was not reached into the command's result.
func (r *lampsRun) ending(w io.Writer) error {
	switch r.outcome.End {
	case bus.EndUntil:
	case bus.EndHalted:
		return &exitError{status: ExitFindings, err: fmt.Errorf("--until %s is never reached: the CPU halted, and nothing ends that (clock %d)", r.o.until, r.outcome.Clocks)}
	case bus.EndUnreached:
		return &exitError{status: ExitFindings, err: fmt.Errorf("--until %s was not reached in %d clocks; --clocks lets it run longer", r.o.until, r.outcome.Clocks)}
	default:
		if r.lim.Until >= 0 {
			fmt.Fprintf(w, "note: --until %s was not reached in the %d clocks shown\n", diag.Printable(r.o.until), r.outcome.Clocks)
		}
	}
	return nil
}

// runWarnings turns the model's warnings into diagnostics, which are told in
// the order of the run: the first mistake causes the others.
type runWarnings struct {
	p    *program
	list []diag.Diagnostic
	more int
}

// maxRunWarnings bounds what is shown: a program that runs wild would warn at
// every address.
const maxRunWarnings = 50

func newRunWarnings(p *program) *runWarnings { return &runWarnings{p: p} }

func (w *runWarnings) add(x bus.Warning) {
	if len(w.list) == maxRunWarnings {
		w.more++
		return
	}
	code, msg, hint := w.text(&x)
	d := diag.Diagnostic{Severity: diag.Warning, Code: code, Hint: hint,
		Message: fmt.Sprintf("%s (instruction at %04XH, clock %d)", msg, x.Inst, x.Clock)}
	d.Range = diag.Range{File: w.p.name}
	if p := w.p.locate(x.Inst); p.Line != "" {
		line, _, _ := strings.Cut(p.Line, ".")
		if n, err := strconv.Atoi(line); err == nil {
			text := p.Text
			begin := len(text) - len(strings.TrimLeft(text, " \t"))
			d.Range = diag.Range{File: p.File, Line: n, Text: text, Start: begin, End: len(strings.TrimRight(text, " \t"))}
		}
	}
	w.list = append(w.list, d)
}

func (w *runWarnings) show(e io.Writer) {
	r := diag.Renderer{W: e, Colour: colour(e)}
	for _, d := range w.list {
		r.One(d)
	}
	if w.more > 0 {
		fmt.Fprintf(e, "and %s of the run\n", count(w.more, "more warning"))
	}
}

// text gives code, message and hint of a warning.
func (w *runWarnings) text(x *bus.Warning) (diag.Code, string, string) {
	switch x.Kind {
	case bus.ROMWrite:
		return diag.ROMWrite, fmt.Sprintf("writes %02XH to %04XH, which is ROM: nothing is stored", x.Data, x.Addr), ""
	case bus.UnfittedWrite:
		return diag.NothingFitted, fmt.Sprintf("writes %02XH to %04XH, where nothing is fitted", x.Data, x.Addr), hintRAM
	case bus.UnfittedRead:
		return diag.NothingFitted, fmt.Sprintf("reads from %04XH, where nothing is fitted; FFH is assumed", x.Addr), hintRAM
	case bus.UnfittedFetch:
		hint := hintRAM
		if x.Addr == 0 {
			hint = "after a reset the CPU begins at 0000H; --from lets the run begin elsewhere"
		}
		return diag.NothingFitted, fmt.Sprintf("fetches from %04XH, where nothing is fitted; FFH is assumed", x.Addr), hint
	case bus.BlankFetch:
		return diag.BlankFetch, fmt.Sprintf("fetches from %04XH, a cell that nothing was put into", x.Addr),
			"the program runs beyond its end, or jumps into nowhere"
	case bus.StackOutsideRAM:
		return diag.StackOutsideRAM, fmt.Sprintf("the stack is at %04XH, where there is no RAM", x.Addr),
			"load SP with an address in RAM first; on a board without RAM use neither CALL, PUSH nor interrupts"
	case bus.UncoveredPort:
		port := uint8(x.Addr)
		name := w.p.portName(port)
		if name == "" {
			name = fmt.Sprintf("%02XH", port)
			if port > 0x9F {
				name = "0" + name
			}
		}
		return diag.UncoveredPort, fmt.Sprintf("reads port %02XH, for which no value is given; FFH is assumed", port),
			fmt.Sprintf("--in %s=VALUE says what it reads as", diag.Printable(name))
	}
	return diag.RegisterNeverSet, fmt.Sprintf("uses %s, which the program has not set: after a reset it holds anything", x.Register), ""
}

const hintRAM = "RAM is declared in the source or with --ram SIZE@ADDR"
