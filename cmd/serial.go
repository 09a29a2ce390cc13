package cmd

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/signal"
	"strconv"
	"strings"
	"syscall"
	"time"

	"github.com/spf13/cobra"
	"go.bug.st/serial"

	"romwright/diag"
	"romwright/xmodem"
)

// port is what the commands need of a serial port. Close makes a Read that is
// under way return.
type port interface {
	io.ReadWriteCloser
	Drain() error             // waits until what was written has gone out
	ResetOutputBuffer() error // throws away what has not
}

// portFlags are the options of every command that opens a port.
type portFlags struct {
	name string
	baud int
}

func (f *portFlags) add(c *cobra.Command) {
	fl := c.Flags()
	fl.StringVar(&f.name, "port", "", "the serial `port`; romwright ports lists them")
	fl.IntVar(&f.baud, "baud", 115200, "bits a second, a `number`; always 8 data bits, no parity, 1 stop bit")
}

func (f *portFlags) check() error {
	switch {
	case f.name == "":
		return usage("--port must name the serial port; romwright ports lists them")
	case f.baud < 1:
		return usage("--baud must be at least 1, not %d", f.baud)
	}
	return nil
}

// link is an open serial port that is being read.
type link struct {
	*xmodem.Line
	port port
	name string
	baud int
}

// open opens the port; the error is the command's.
func (f *portFlags) open() (*link, error) {
	p, err := serial.Open(f.name, &serial.Mode{BaudRate: f.baud, DataBits: 8, Parity: serial.NoParity, StopBits: serial.OneStopBit})
	if err != nil {
		return nil, trouble("%s cannot be opened: %s", diag.Printable(f.name), openFault(err, f.baud))
	}
	return newLink(steadyPort{p}, f.name, f.baud), nil
}

func newLink(p port, name string, baud int) *link {
	return &link{Line: xmodem.NewLine(p), port: p, name: name, baud: baud}
}

// openFault says in words why a port was not opened.
func openFault(err error, baud int) string {
	var e *serial.PortError
	code := serial.PortErrorCode(-1)
	if errors.As(err, &e) {
		code = e.Code()
	}
	switch {
	case code == serial.PortNotFound, errors.Is(err, fs.ErrNotExist):
		return "there is no such port; romwright ports lists those there are"
	case code == serial.PortBusy:
		return "another program has it open"
	case code == serial.PermissionDenied, errors.Is(err, fs.ErrPermission):
		return "permission denied; where the port is a file, its group may open it (often dialout or uucp)"
	case code == serial.InvalidSpeed, strings.Contains(err.Error(), "speed"): // the library hides the cause's code
		return fmt.Sprintf("it does not run at %d baud", baud)
	case code == serial.InvalidSerialPort:
		return "it is no serial port"
	}
	return err.Error()
}

// steadyPort ends a write that a signal broke off, and says in words that a
// port went away.
type steadyPort struct{ serial.Port }

var errGone = errors.New("the port is gone, as if unplugged")

func (p steadyPort) Read(b []byte) (int, error) {
	n, err := p.Port.Read(b)
	return n, portFault(err)
}

func (p steadyPort) Write(b []byte) (int, error) {
	n, err := p.Port.Write(b)
	if errors.Is(err, syscall.EINTR) {
		if err = nil; n == 0 {
			n, err = p.Port.Write(b)
		}
	}
	return n, portFault(err)
}

func portFault(err error) error {
	var e *serial.PortError
	if errors.As(err, &e) && e.Code() == serial.PortClosed || errors.Is(err, syscall.EIO) || errors.Is(err, syscall.ENXIO) {
		return errGone
	}
	return err
}

// closeWait bounds how long closing waits for what was written to go out.
const closeWait = 2 * time.Second

// close lets what was written go out, as far as the line takes it, and closes
// the port. A line that takes nothing must not hold the command up.
func (l *link) close() {
	if !within(closeWait, func() { _ = l.port.Drain() }) {
		_ = l.port.ResetOutputBuffer()
	}
	within(closeWait, func() { _ = l.port.Close() })
}

// within runs f and tells whether it ended in time.
func within(wait time.Duration, f func()) bool {
	done := make(chan struct{})
	go func() { defer close(done); f() }()
	t := time.NewTimer(wait)
	defer t.Stop()
	select {
	case <-done:
		return true
	case <-t.C:
		return false
	}
}

// byteTime is how long a byte takes: start bit, 8 data bits, stop bit.
func (l *link) byteTime() time.Duration { return 10 * time.Second / time.Duration(l.baud) }

// untilInterrupted is a context that ends with Ctrl-C, or when the system asks
// the process to end or takes its output away. A second Ctrl-C ends the process.
func untilInterrupted() (context.Context, context.CancelFunc) {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM, syscall.SIGHUP, syscall.SIGPIPE)
	context.AfterFunc(ctx, stop)
	return ctx, stop
}

// step is one thing to do at the programmer's console.
type step struct {
	expect bool   // wait for the text instead of typing it
	raw    string // as given, with escapes
	text   []byte
}

// stepFlag is --type or --expect; both add to one list, so that the order in
// which they were given is kept.
type stepFlag struct {
	steps  *[]step
	expect bool
}

func (f stepFlag) Set(s string) error {
	*f.steps = append(*f.steps, step{expect: f.expect, raw: s})
	return nil
}
func (f stepFlag) String() string { return "" }
func (f stepFlag) Type() string   { return "text" }

// addSteps adds --type and --expect to a command.
func addSteps(c *cobra.Command, steps *[]step) {
	fl := c.Flags()
	fl.Var(stepFlag{steps, false}, "type", `type this `+"`text`"+` at the console first; \r \n \t \e \\ \xNN stand for bytes`)
	fl.Var(stepFlag{steps, true}, "expect", "wait until this `text` has come; --type and --expect are done in the order given")
}

// readSteps reads the escapes of the steps' texts.
func readSteps(steps []step) error {
	for i := range steps {
		name := "type"
		if steps[i].expect {
			name = "expect"
		}
		var err error
		if steps[i].text, err = typed(name, steps[i].raw); err != nil {
			return err
		}
	}
	return nil
}

// typed gives the bytes of the text of an option.
func typed(option, raw string) ([]byte, error) {
	b, err := unescape(raw)
	switch {
	case err != nil:
		return nil, usage("--%s %s: %w", option, diag.Printable(raw), err)
	case len(b) == 0:
		return nil, usage("--%s needs a text that is not empty", option)
	}
	return b, nil
}

// unescape reads \r \n \t \e (escape) \\ and \xNN (two hex digits).
func unescape(s string) ([]byte, error) {
	var out []byte
	for i := 0; i < len(s); i++ {
		if s[i] != '\\' {
			out = append(out, s[i])
			continue
		}
		if i++; i == len(s) {
			return nil, errors.New(`a single \ at the end; \\ stands for one`)
		}
		switch s[i] {
		case 'r':
			out = append(out, '\r')
		case 'n':
			out = append(out, '\n')
		case 't':
			out = append(out, '\t')
		case 'e':
			out = append(out, 0x1B)
		case '\\':
			out = append(out, '\\')
		case 'x':
			digits := s[i+1 : min(i+3, len(s))]
			v, err := strconv.ParseUint(digits, 16, 8)
			if err != nil || len(digits) != 2 {
				return nil, errors.New(`\x takes two hex digits`)
			}
			out = append(out, byte(v))
			i += 2
		default:
			return nil, fmt.Errorf(`there is no \%c; there are \r \n \t \e \\ \xNN`, s[i])
		}
	}
	return out, nil
}

// console does the steps; wait bounds each --expect. Every step is told on w.
func (l *link) console(ctx context.Context, w io.Writer, steps []step, wait time.Duration) error {
	for _, s := range steps {
		if !s.expect {
			if err := l.typeText(ctx, s.text); err != nil {
				return fmt.Errorf("typing %s: %w", quoted(s.text), err)
			}
			fmt.Fprintf(w, "typed %s\n", quoted(s.text))
			continue
		}
		if err := l.expect(ctx, s.text, wait); err != nil {
			return err
		}
		fmt.Fprintf(w, "saw %s\n", quoted(s.text))
	}
	return nil
}

func (l *link) typeText(ctx context.Context, text []byte) error {
	return l.Write(ctx, text, 10*time.Second+time.Duration(len(text))*l.byteTime())
}

// heardKept is how much of what came is told when a text was waited for in vain.
const heardKept = 120

// expect reads until text has come.
func (l *link) expect(ctx context.Context, text []byte, wait time.Duration) error {
	deadline := time.Now().Add(wait)
	keep := max(len(text), heardKept)
	var heard []byte
	total := 0
	for {
		b, err := l.Byte(ctx, time.Until(deadline))
		if err != nil {
			came := "nothing came"
			if total > 0 {
				came = fmt.Sprintf("%d bytes came, the last of them %s", total, quoted(heard[max(0, len(heard)-heardKept):]))
			}
			if ctx.Err() != nil {
				return fmt.Errorf("stopped while %s was waited for; %s", quoted(text), came)
			}
			if err == xmodem.ErrTimeout {
				return fmt.Errorf("%s did not come within %s; %s", quoted(text), wait, came)
			}
			return fmt.Errorf("waiting for %s: %w; %s", quoted(text), err, came)
		}
		total++
		if len(heard) == keep {
			heard = heard[:copy(heard, heard[1:])]
		}
		if heard = append(heard, b); bytes.HasSuffix(heard, text) {
			return nil
		}
	}
}

func quoted(b []byte) string {
	s := strconv.QuoteToASCII(string(b))
	return strings.ReplaceAll(s, `\x1b`, `\e`)
}

// ending is why a capture ended.
type ending uint8

const (
	wentQuiet   ending = iota // nothing came for a while
	wasFull                   // as many bytes as asked for
	interrupted               // Ctrl-C
	lineLost
	notWritten // the output did not take it
)

// receive copies what arrives to w, until nothing came for quiet or max bytes
// have come. err belongs to the last two endings.
func (l *link) receive(ctx context.Context, w io.Writer, quiet time.Duration, max int64) (n int64, end ending, err error) {
	p := make([]byte, 1<<14)
	for n < max {
		got, err := l.Read(ctx, p[:min(int64(len(p)), max-n)], quiet)
		switch {
		case err == xmodem.ErrTimeout:
			return n, wentQuiet, nil
		case err != nil && ctx.Err() != nil:
			return n, interrupted, nil
		case err != nil:
			return n, lineLost, err
		}
		n += int64(got)
		if _, err := w.Write(p[:got]); err != nil {
			return n, notWritten, err
		}
	}
	return n, wasFull, nil
}
