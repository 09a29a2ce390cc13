// Package cmd holds the commands, one file each. A command turns its flags
// into an options struct and hands it to a run function, which does the work
// on the streams it is given; so flags are tested without running and running
// without flags.
package cmd

import (
	"errors"
	"fmt"
	"io"
	"os"
	"runtime/debug"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"romwright/diag"
)

// Exit statuses of every command.
const (
	ExitDone     = 0 // done; nothing to report
	ExitFindings = 1 // errors in the source, a difference found, a transfer that failed
	ExitTrouble  = 2 // wrong usage; a file, port or output that does not work
)

// streams are where a command reads and writes.
type streams struct {
	In  io.Reader
	Out io.Writer
	Err io.Writer
}

// exitError ends a command with a status. An err of nil says nothing more:
// what there was to say is said.
type exitError struct {
	status int
	err    error
}

func (e *exitError) Error() string {
	if e.err == nil {
		return ""
	}
	return e.err.Error()
}

func (e *exitError) Unwrap() error { return e.err }

// findings ends a command whose findings were shown.
func findings() error { return &exitError{status: ExitFindings} }

// trouble ends a command with a message and status 2.
func trouble(format string, args ...any) error {
	return &exitError{ExitTrouble, fmt.Errorf(format, args...)}
}

// A run is short and keeps nearly all it allocates, so collecting early finds
// nothing and touches everything. The limit bounds what the patience costs.
const (
	gcPercent   = 400
	memoryLimit = 1 << 30 // bytes; soft, see runtime/debug
)

// Main runs the command line and gives the exit status.
func Main() int {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(gcPercent)
		debug.SetMemoryLimit(memoryLimit)
	}
	return Execute(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)
}

// Execute runs one command line on the given streams and gives the exit status.
func Execute(args []string, in io.Reader, out, errw io.Writer) int {
	s := streams{in, out, errw}
	root := newRoot(s)
	root.SetArgs(args)
	root.SetIn(in)
	help := &errorWriter{w: out} // cobra drops the errors of help
	root.SetOut(help)
	root.SetErr(errw)
	c, err := root.ExecuteC()
	if err == nil {
		err = wrote("standard output", help.err)
	}
	if err == nil {
		return ExitDone
	}
	var e *exitError
	if !errors.As(err, &e) { // cobra's own errors are wrong usage
		e = &exitError{ExitTrouble, usageError{err}}
	}
	if text := err.Error(); text != "" {
		fmt.Fprintf(errw, "romwright: %s\n", diag.Printable(text))
	}
	if errors.As(e.err, new(usageError)) {
		fmt.Fprintf(errw, "  %s --help tells more\n", c.CommandPath())
	}
	return e.status
}

// errorWriter remembers the first error of writing.
type errorWriter struct {
	w   io.Writer
	err error
}

func (e *errorWriter) Write(p []byte) (int, error) {
	n, err := e.w.Write(p)
	if e.err == nil {
		e.err = err
	}
	return n, err
}

func newRoot(s streams) *cobra.Command {
	root := &cobra.Command{
		Use:   "romwright",
		Short: "Programs for a Z80 on your own bench: from source to chip and lamps",
		Long: `Romwright assembles a Z80 program into an image that fills a ROM chip exactly,
tells what changed since the chip in the socket and what every bus lamp must
show at every clock, sends the image to a programmer and proves what the chip
really holds.

Exit status: 0 done; 1 errors in the source, a difference found or a transfer
that failed; 2 wrong usage, or a file, port or output that does not work.`,
		Example:       "  romwright sample demo\n  romwright build demo/crossing.asm",
		SilenceUsage:  true,
		SilenceErrors: true,
	}
	root.AddCommand(commands(s)...)
	dress(root)
	return root
}

// colour tells whether what goes to w may be coloured: on a terminal, and
// unless NO_COLOR is set (the convention of no-color.org).
func colour(w io.Writer) bool {
	return isTerminal(w) && os.Getenv("NO_COLOR") == ""
}

func isTerminal(w io.Writer) bool {
	if h, ok := w.(*held); ok {
		w = h.to
	}
	f, ok := w.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

// maxErrorsShown is how many errors are shown without --all-errors.
const maxErrorsShown = 10

// show writes a list of diagnostics.
func show(w io.Writer, l *diag.List, all bool) {
	r := diag.Renderer{W: w, Colour: colour(w), Max: maxErrorsShown}
	if all {
		r.Max = 0
	}
	r.List(l)
}
