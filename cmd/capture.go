package cmd

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"github.com/spf13/cobra"

	"romwright/assembler"
	"romwright/diag"
)

// captureOptions are the options of capture.
type captureOptions struct {
	port  portFlags
	steps []step
	wait  time.Duration // for each --expect
	quiet time.Duration // silence that ends the capture
	max   int64         // bytes that end it
	out   string        // file, "" or "-" for standard output
}

// maxCapture is how much is captured at most without --max: the dump of a 16M
// chip as text, with room to spare.
const maxCapture = 128 << 20

func newCapture(s streams) *cobra.Command {
	var o captureOptions
	var limit string
	c := &cobra.Command{
		Use:   "capture",
		Short: "Write what arrives on a serial line to a file",
		Long: `Capture writes what arrives on a serial line, byte for byte, until the line has
been quiet for a while; so a programmer's dump becomes a file for romwright
verify.

The file appears whole, under its name, when the capture is over. Where it is
broken off (Ctrl-C, the line lost) an older file of that name stays as it was and
what came so far is kept beside it, as FILE.partial.

Exit status: 0 captured, 1 nothing arrived or it was broken off, 2 trouble.`,
		Example: `  romwright capture --port /dev/ttyUSB0 --type 'dump 0 7FFF\r' -o chip.txt`,
		Args:    cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			if err := o.port.check(); err != nil {
				return err
			}
			if err := readSteps(o.steps); err != nil {
				return err
			}
			if err := positive("until-quiet", o.quiet); err != nil {
				return err
			}
			if err := positive("wait", o.wait); err != nil {
				return err
			}
			o.max = maxCapture
			if limit != "" {
				v, err := assembler.ParseValue(limit)
				if err != nil {
					return usage("--max: %w", err)
				}
				if v < 1 {
					return usage("--max must be at least 1, not %d", v)
				}
				o.max = v
			}
			ctx, stop := untilInterrupted()
			defer stop()
			return runCapture(ctx, s, o)
		},
	}
	fl := c.Flags()
	o.port.add(c)
	addSteps(c, &o.steps)
	fl.DurationVar(&o.wait, "wait", time.Minute, "wait this `time` for each --expect")
	fl.StringVarP(&o.out, "output", "o", "", "write to this `file`; - is standard output")
	fl.DurationVar(&o.quiet, "until-quiet", 2*time.Second, "end when nothing has come for this `time`")
	fl.StringVar(&limit, "max", "", "end after this many `bytes`, e.g. 64K (default 128M)")
	return c
}

func positive(option string, d time.Duration) error {
	if d <= 0 {
		return usage("--%s must be more than nothing, not %s", option, d)
	}
	return nil
}

// runCapture captures into a file or to standard output.
func runCapture(ctx context.Context, s streams, o captureOptions) error {
	toFile := o.out != "" && o.out != "-"
	var dest *captureFile
	if toFile { // before the port is opened: nothing is captured that cannot be kept
		var err error
		if dest, err = createCapture(o.out); err != nil {
			return unwritten(o.out, err)
		}
		defer dest.discard()
	}
	l, err := o.port.open()
	if err != nil {
		return err
	}
	defer l.close()
	if err := l.console(ctx, s.Err, o.steps, o.wait); err != nil {
		return failed(err)
	}
	var w io.Writer = s.Out
	switch {
	case toFile:
		w = dest
	case isTerminal(s.Out):
		w = visible{s.Out}
	}
	n, end, err := l.receive(ctx, w, o.quiet, o.max)
	if end == notWritten {
		if toFile {
			return unwritten(o.out, err)
		}
		return wrote("standard output", err)
	}
	whole := end == wentQuiet && n > 0 || end == wasFull
	where := ""
	if toFile && n > 0 {
		name := o.out
		if !whole {
			name += ".partial"
		}
		if err := dest.keep(whole); err != nil {
			return unwritten(name, err)
		}
		where = " in " + diag.Printable(name)
	}
	if !whole {
		return failed(broken(l, n, end, o.quiet, where, err))
	}
	tell := s.Err
	if toFile {
		tell = s.Out
	}
	why := ""
	if end == wasFull {
		why = ", as many as asked for"
	}
	_, err = fmt.Fprintf(tell, "captured %d byte%s%s%s\n", n, plural(n), where, why)
	return wrote("standard output", err)
}

// broken says why a capture is none, or not whole.
func broken(l *link, n int64, end ending, quiet time.Duration, where string, cause error) error {
	kept := ""
	if n > 0 && where != "" {
		kept = "; kept" + where
	}
	switch {
	case end == interrupted:
		return fmt.Errorf("stopped after %d byte%s%s", n, plural(n), kept)
	case end == lineLost:
		return fmt.Errorf("the line was lost after %d byte%s: %w%s", n, plural(n), cause, kept)
	}
	return fmt.Errorf("nothing came from %s within %s at %d baud; check that it is the right port, that --type says what the programmer understands (\\r at the end), and the cable", diag.Printable(l.name), quiet, l.baud)
}

func plural(n int64) string {
	if n == 1 {
		return ""
	}
	return "s"
}

// failed ends a command whose transfer failed.
func failed(err error) error { return &exitError{ExitFindings, err} }

// captureFile is the file of a capture that is under way.
type captureFile struct {
	target string
	temp   *tempFile // nil where the target is written through
	file   *os.File
}

// createCapture makes ready to write path: a new file beside it, or the target
// itself where it is no regular file.
func createCapture(path string) (*captureFile, error) {
	target, mode, regular, err := resolve(path)
	if err != nil {
		return nil, err
	}
	c := &captureFile{target: target}
	if !regular {
		c.file, err = os.OpenFile(target, os.O_WRONLY, 0)
		return c, err
	}
	if c.temp, err = createTemp(target, mode); err != nil {
		return nil, err
	}
	if err := c.temp.fill(mode, func(io.Writer) error { return nil }); err != nil { // the target's mode
		c.discard()
		return nil, err
	}
	c.file = c.temp.file
	return c, nil
}

func (c *captureFile) Write(p []byte) (int, error) { return c.file.Write(p) }

// keep gives the file its name, or the name of a part.
func (c *captureFile) keep(whole bool) error {
	if c.temp == nil {
		f := c.file
		c.file = nil
		return f.Close()
	}
	name := c.target
	if !whole {
		name += ".partial"
		if st, err := os.Lstat(name); err == nil && !st.Mode().IsRegular() {
			return errors.New("it is no regular file")
		}
	}
	return c.temp.rename(name)
}

func (c *captureFile) discard() {
	switch {
	case c.temp != nil:
		c.temp.discard()
	case c.file != nil:
		c.file.Close()
	}
}

// visible writes to a terminal what a line says, without letting it steer the
// terminal.
type visible struct{ w io.Writer }

func (v visible) Write(p []byte) (int, error) {
	out := make([]byte, 0, len(p))
	for _, b := range p {
		switch {
		case b >= ' ' && b < 0x7F, b == '\n', b == '\r', b == '\t', b == '\b':
			out = append(out, b)
		default:
			out = fmt.Appendf(out, `\x%02X`, b)
		}
	}
	if _, err := v.w.Write(out); err != nil {
		return 0, err
	}
	return len(p), nil
}
