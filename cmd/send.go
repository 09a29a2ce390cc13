package cmd

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/schollz/progressbar/v3"
	"github.com/spf13/cobra"

	"romwright/diag"
	"romwright/rom"
	"romwright/xmodem"
)

// sendOptions are the options of send.
type sendOptions struct {
	load   loadOptions
	port   portFlags
	steps  []step
	wait   time.Duration // for each --expect and for the receiver's request
	block  int
	pad    bool
	quiet  bool          // no cautions
	verify []byte        // what to type for a dump; nil: no verification
	pause  time.Duration // silence that ends the dump
}

func newSend(s streams) *cobra.Command {
	var f sourceFlags
	var o sendOptions
	var readAs, verify string
	c := &cobra.Command{
		Use:   "send IMAGE",
		Short: "Send an image to a chip programmer by XMODEM",
		Long: `Send sends an image to a chip programmer that takes XMODEM on a serial line: it
waits until the programmer asks, sends block for block, checked as the programmer
wants it (CRC or checksum), and repeats what was damaged, at most ten times.

IMAGE is an image, Intel HEX, S-records, a listing or a source. A source is built
first; where it has errors nothing is sent. What is sent is the whole chip.

--type and --expect work the programmer's console before the transfer.
--then-verify asks for the dump after it and compares, as romwright verify does.

Exit status: 0 sent (and the chip agrees), 1 the source has errors, the transfer
failed or the chip differs, 2 trouble, such as a port that cannot be opened.`,
		Example: `  romwright send monitor.bin --port /dev/ttyUSB0 --type 'write\r'
  romwright send monitor.asm --port COM3 --type 'w\r' --expect ready --then-verify 'dump 0 1FFF\r'`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			var err error
			if o.load.source, err = f.options(); err != nil {
				return err
			}
			o.load.allErrors, o.load.strict = f.allErrors, f.strict
			if err := oneOf("read-as", readAs, append([]string{""}, kinds...)...); err != nil {
				return err
			}
			o.load.readAs = kind(readAs)
			if err := o.port.check(); err != nil {
				return err
			}
			if err := readSteps(o.steps); err != nil {
				return err
			}
			if o.block != xmodem.ShortBlock && o.block != xmodem.LongBlock {
				return usage("--block takes 128 or 1024, not %d", o.block)
			}
			if err := positive("wait", o.wait); err != nil {
				return err
			}
			if err := positive("until-quiet", o.pause); err != nil {
				return err
			}
			if c.Flags().Changed("then-verify") {
				if o.verify, err = typed("then-verify", verify); err != nil {
					return err
				}
			}
			ctx, stop := untilInterrupted()
			defer stop()
			return runSend(ctx, s, o, args[0])
		},
	}
	fl := c.Flags()
	o.port.add(c)
	addSteps(c, &o.steps)
	fl.DurationVar(&o.wait, "wait", xmodem.DefaultWait, "wait this `time` for the programmer to ask, and for each --expect")
	fl.IntVar(&o.block, "block", xmodem.ShortBlock, "data bytes of a block, a `number`: 128 or 1024; what 1024 leaves over goes in blocks of 128")
	fl.BoolVar(&o.pad, "pad", false, "fill up to a whole block with 1AH, which the programmer writes too")
	fl.BoolVar(&o.quiet, "quiet", false, "leave out the cautions")
	fl.StringVar(&verify, "then-verify", "", "type this `text` afterwards and compare the dump that comes with the image")
	fl.DurationVar(&o.pause, "until-quiet", 2*time.Second, "the dump of --then-verify is over when nothing has come for this `time`")
	fl.StringVar(&readAs, "read-as", "", "what IMAGE is: `source|listing|image|hex|srec` (default: by its content)")
	f.add(c)
	return c
}

// runSend sends an image and, if asked to, verifies the chip.
func runSend(ctx context.Context, s streams, o sendOptions, path string) error {
	l, err := load(s, path, o.load)
	if err != nil {
		return err
	}
	var image bytes.Buffer
	if _, err := l.Image.WriteTo(&image); err != nil {
		return &exitError{ExitTrouble, err}
	}
	pad := xmodem.Padding(image.Len())
	switch e := (&xmodem.SizeError{Size: image.Len(), Missing: pad}); {
	case image.Len() == 0:
		return trouble("%s: %w", diag.Printable(l.Name), e)
	case pad > 0 && !o.pad:
		return trouble("%s: %w; --pad fills them up with 1AH", diag.Printable(l.Name), e)
	}
	line, err := o.port.open()
	if err != nil {
		return err
	}
	defer line.close()
	if !o.quiet {
		cautions(s.Err, image.Len(), pad)
	}
	if err := line.console(ctx, s.Err, o.steps, o.wait); err != nil {
		return failed(err)
	}
	fmt.Fprintf(s.Err, "waiting for the programmer on %s at %d baud to ask for the first block\n", diag.Printable(line.name), line.baud)
	show := newMeter(s.Err, image.Len())
	stats, err := line.Send(ctx, image.Bytes(), xmodem.Options{
		Block: o.block, Pad: o.pad, Wait: o.wait, ByteTime: line.byteTime(), Progress: show.update,
	})
	show.end()
	if err != nil {
		return explain(s.Err, err, stats, line)
	}
	if err := sentSummary(s.Out, stats); err != nil {
		return wrote("standard output", err)
	}
	if o.verify == nil {
		return nil
	}
	return thenVerify(ctx, s, o, l, line)
}

// sentSummary tells what was sent.
func sentSummary(w io.Writer, st xmodem.Stats) error {
	filled := ""
	if st.Padding > 0 {
		filled = fmt.Sprintf(" and %d of 1AH", st.Padding)
	}
	rate := ""
	if sec := st.Elapsed.Seconds(); sec > 0 {
		rate = fmt.Sprintf(", %.0f bytes/s", float64(st.Bytes)/sec)
	}
	_, err := fmt.Fprintf(w, "sent %d bytes%s in %d block%s (%s), %d sent again, %d bytes on the line, %.1f s%s\n",
		st.Bytes, filled, st.Blocks, plural(int64(st.Blocks)), st.Mode, st.Retries, st.LineBytes, st.Elapsed.Seconds(), rate)
	return err
}

// cautions says what to mind before a programmer writes a chip. All of it is
// common practice; where a part is named, the size makes it likely.
func cautions(w io.Writer, size, pad int) {
	say := func(format string, args ...any) { fmt.Fprintf(w, "  - "+format+"\n", args...) }
	fmt.Fprintf(w, "Before %d bytes go to the chip:\n", size+pad)
	say("The programmer overwrites what the chip holds.")
	say("Switch board and programmer off before you move the chip; mind pin 1 and the notch; earth yourself first.")
	switch size {
	case 2 << 10, 8 << 10, 32 << 10:
		say("Many 28C parts can be write-protected by software: such a chip keeps its old contents and says nothing, so read it back.")
	case 64 << 10:
		say("A 27C512 must have been erased as a whole, by ultraviolet light; look away from the lamp, it harms the eyes.")
	case 128 << 10, 512 << 10:
		say("A 39SF part is erased in sectors of 4096 bytes; what else a sector holds goes too.")
	}
	if pad > 0 {
		say("%d byte%s of 1AH follow%s the image and may be written as well.", pad, plural(int64(pad)), map[bool]string{true: "s"}[pad == 1])
	}
	say("The maker's data sheet decides.")
}

// explain shows how a transfer failed, and what to look at.
func explain(w io.Writer, err error, st xmodem.Stats, line *link) error {
	var e *xmodem.Error
	if !errors.As(err, &e) {
		return failed(err)
	}
	fmt.Fprintf(w, "romwright: %s\n", diag.Printable(e.Error()))
	for _, hint := range hints(e, line) {
		fmt.Fprintf(w, "  - %s\n", hint)
	}
	if st.Blocks > 0 && e.Kind != xmodem.EndUnproved {
		fmt.Fprintf(w, "  - The chip may now hold %d bytes of the image and the rest of what was in it before: send it again before it is used.\n", st.Bytes)
	}
	return findings()
}

// hints says what to look at.
func hints(e *xmodem.Error, line *link) []string {
	text := true
	for _, c := range e.Noise {
		text = text && (c >= ' ' && c < 0x7F || c == '\r' || c == '\n' || c == '\t')
	}
	garbage := fmt.Sprintf("What came is no text: does the programmer run at %d baud, 8 data bits, no parity, 1 stop bit?", line.baud)
	switch e.Kind {
	case xmodem.NoRequest:
		switch {
		case e.NoiseBytes == 0:
			return []string{
				"Is the programmer on and waiting for XMODEM? --type can send it the command, e.g. --type 'write\\r'.",
				fmt.Sprintf("Is %s the right port, and does the programmer run at %d baud?", diag.Printable(line.name), line.baud),
				"Is the cable sound: its transmit to our receive and the other way round, and a common ground?",
			}
		case text:
			return []string{"The programmer answers, but does not ask for XMODEM: was its command understood? --expect waits for its prompt before --type goes on."}
		}
		return []string{garbage}
	case xmodem.NoAnswer:
		if e.NoiseBytes > 0 && !text {
			return []string{garbage}
		}
		return []string{"Is the programmer still on and the cable plugged in? A chip that is written very slowly may answer too late."}
	case xmodem.Refused:
		h := []string{"The line damages bytes, or the programmer cannot keep up: a shorter cable or a lower --baud on both sides."}
		if e.Last-e.First+1 > xmodem.ShortBlock {
			h = append(h, "Not every programmer takes blocks of 1024: --block 128.")
		}
		return h
	case xmodem.Cancelled:
		return []string{"The programmer's console may say why: no chip, a write that failed, an image larger than its chip."}
	case xmodem.LineLost:
		return []string{"Plug the adapter in again; romwright ports lists what is there."}
	case xmodem.LineStuck:
		return []string{"The adapter takes no bytes: is something holding the line (flow control, another program)?"}
	case xmodem.EndUnproved:
		return []string{"Every block arrived, so the chip may well hold the image: read it back before it is used."}
	}
	return nil
}

const (
	// What the console says at the end of a transfer may go on a while before it
	// listens again.
	promptQuiet = 500 * time.Millisecond
	promptMost  = 1 << 16 // bytes of it
	// maxDump bounds the dump of --then-verify: the text of a 16M chip.
	maxDump = maxCapture
)

// thenVerify asks for a dump and compares it with the image.
func thenVerify(ctx context.Context, s streams, o sendOptions, l *loaded, line *link) error {
	if _, end, err := line.receive(ctx, io.Discard, promptQuiet, promptMost); end == interrupted || end == lineLost {
		return failed(noDump(o, end, err))
	}
	if err := line.typeText(ctx, o.verify); err != nil {
		return failed(fmt.Errorf("sent, but not verified: typing %s: %w", quoted(o.verify), err))
	}
	fmt.Fprintf(s.Err, "typed %s\n", quoted(o.verify))
	var dump bytes.Buffer
	n, end, err := line.receive(ctx, &dump, o.pause, maxDump)
	if n == 0 || end != wentQuiet {
		return failed(noDump(o, end, err))
	}
	fmt.Fprintf(s.Err, "%d bytes came back\n", n)
	return verify(s, verifyOptions{max: textRanges}, l, rom.VerifyOptions{Sources: l.Sources, Max: textRanges}, "the dump", dump.Bytes())
}

// noDump says why a chip that was sent an image could not be verified.
func noDump(o sendOptions, end ending, err error) error {
	switch end {
	case interrupted:
		return errors.New("sent, but not verified: stopped")
	case lineLost:
		return fmt.Errorf("sent, but not verified: %w", err)
	case wasFull:
		return fmt.Errorf("sent, but not verified: the dump did not end within %d bytes", maxDump)
	}
	return fmt.Errorf("sent, but not verified: nothing came within %s after %s was typed", o.pause, quoted(o.verify))
}

// meter shows how far a transfer is: a bar on a terminal, else a line for each
// tenth. It shows from a goroutine of its own, so that a slow terminal never
// holds up the line.
type meter struct {
	total int
	bar   *progressbar.ProgressBar // nil: lines
	last  chan xmodem.Progress     // of the bar; capacity 1, the newest
	lines chan string              // capacity: all there can be
	tenth int
	done  chan struct{}
}

func newMeter(w io.Writer, total int) *meter {
	m := &meter{total: total, tenth: -1, done: make(chan struct{})}
	if isTerminal(w) {
		m.last = make(chan xmodem.Progress, 1)
		m.bar = progressbar.NewOptions(total,
			progressbar.OptionSetWriter(w), progressbar.OptionSetWidth(30), progressbar.OptionShowBytes(true),
			progressbar.OptionSetPredictTime(true), progressbar.OptionThrottle(100*time.Millisecond),
			progressbar.OptionUseANSICodes(false))
		go m.draw(w)
		return m
	}
	m.lines = make(chan string, 11)
	go func() {
		defer close(m.done)
		for line := range m.lines {
			fmt.Fprintln(w, line)
		}
	}()
	return m
}

func (m *meter) draw(w io.Writer) {
	defer close(m.done)
	drawn := false
	for p := range m.last {
		again := ""
		if p.Retries > 0 {
			again = fmt.Sprintf(", %d sent again", p.Retries)
		}
		m.bar.Describe(fmt.Sprintf("block %d of %d%s", p.Block, p.Blocks, again))
		_ = m.bar.Set(p.Bytes)
		drawn = true
	}
	if drawn {
		_ = m.bar.Exit()
		fmt.Fprintln(w)
	}
}

// update takes the newest state; it never waits.
func (m *meter) update(p xmodem.Progress) {
	if m.bar != nil {
		select {
		case <-m.last: // what was not drawn yet
		default:
		}
		m.last <- p
		return
	}
	if tenth := p.Bytes * 10 / m.total; tenth > m.tenth {
		m.tenth = tenth
		again := ""
		if p.Retries > 0 {
			again = fmt.Sprintf(", %d sent again", p.Retries)
		}
		m.lines <- fmt.Sprintf("%3d %%  block %d of %d, %s%s", p.Bytes*100/m.total, p.Block, p.Blocks, p.Mode, again)
	}
}

// end draws the last state.
func (m *meter) end() {
	if m.bar != nil {
		close(m.last)
	} else {
		close(m.lines)
	}
	<-m.done
}
