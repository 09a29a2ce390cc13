package cmd

import (
	"encoding/json"
	"errors"
	"io"
	"os"

	"github.com/spf13/cobra"

	"romwright/diag"
	"romwright/rom"
)

// verifyOptions are the options of verify.
type verifyOptions struct {
	load     loadOptions
	previous []string // files of earlier images
	max      int      // differing ranges shown, 0 for all
	json     bool
	out      string // report file, "" or "-" for standard output
}

// textRanges is how many differing ranges a text report lists without --max.
const textRanges = 20

func newVerify(s streams) *cobra.Command {
	var f sourceFlags
	var o verifyOptions
	var format, readAs string
	c := &cobra.Command{
		Use:   "verify IMAGE READBACK",
		Short: "Tell what a chip really holds, and which fault a wrong read-back tells of",
		Long: `Verify compares an image with whatever came off the chip and tells how much of
the chip was read back, what differs, and which fault of a line, of the transfer
or of the writing explains it, if one does.

IMAGE is an image, Intel HEX, S-records, a listing or a source. READBACK is a
terminal capture of a hex dump (noise, prompts and all), a binary file, Intel HEX
or S-records; "-" reads a paste from standard input. A read-back may cover only a
part of the chip.

Exit status: 0 the chip agrees as far as it was read back, 1 it differs, 2 trouble,
such as a read-back in which nothing looks like a dump.`,
		Example: "  romwright verify monitor.asm capture.txt\n  romwright verify --previous monitor-1.bin monitor.bin -",
		Args:    cobra.ExactArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			var err error
			if o.load.source, err = f.options(); err != nil {
				return err
			}
			o.load.allErrors, o.load.strict = f.allErrors, f.strict
			if err := oneOf("format", format, "text", "json"); err != nil {
				return err
			}
			if err := oneOf("read-as", readAs, append([]string{""}, kinds...)...); err != nil {
				return err
			}
			o.json, o.load.readAs = format == "json", kind(readAs)
			switch {
			case o.max < 0:
				return usage("--max must be 0 or more, not %d", o.max)
			case !c.Flags().Changed("max") && !o.json:
				o.max = textRanges
			}
			return runVerify(s, o, args[0], args[1])
		},
	}
	fl := c.Flags()
	fl.StringArrayVar(&o.previous, "previous", nil, "an earlier image that the chip may still hold, a `file` of any kind that IMAGE may be")
	fl.IntVar(&o.max, "max", 0, "list at most this `number` of differing ranges, 0 for all (default: 20 as text, all as json)")
	fl.StringVar(&readAs, "read-as", "", "what IMAGE is: `source|listing|image|hex|srec` (default: by its content)")
	fl.StringVar(&format, "format", "text", "form of the report: `text|json`")
	fl.StringVarP(&o.out, "output", "o", "", "write the report to this `file`; - is standard output")
	f.add(c)
	return c
}

// runVerify loads the image and the read-back and reports.
func runVerify(s streams, o verifyOptions, image, readback string) error {
	stdin := 0
	for _, path := range append([]string{image, readback}, o.previous...) {
		if path == "-" {
			stdin++
		}
	}
	if stdin > 1 {
		return usage("standard input can be read only once")
	}
	l, err := loadForVerify(s, o.load, image)
	if err != nil {
		return err
	}
	opts := rom.VerifyOptions{Sources: l.Sources, Max: o.max}
	for _, path := range o.previous {
		e := o.load
		e.readAs = ""
		earlier, err := loadForVerify(s, e, path)
		if err != nil {
			return err
		}
		if earlier.Kind == kindImage {
			earlier.Image.At = l.Image.At // a bare file has no addresses of its own
		}
		opts.Earlier = append(opts.Earlier, rom.EarlierImage(path, earlier.Image, l.Image))
	}
	name, data, err := readReadBack(s, readback)
	if err != nil {
		return err
	}
	return verify(s, o, l, opts, name, data)
}

// maxReadBack is the largest read-back in bytes: the dump of a 16M chip as
// text, with room to spare.
const maxReadBack = 128 << 20

// readReadBack reads what came off a chip, from a file, a pipe or standard
// input.
func readReadBack(s streams, path string) (name string, data []byte, err error) {
	name, in := path, s.In
	if path == "-" {
		name = stdinName
	} else {
		f, err := os.Open(path)
		if err != nil {
			return name, nil, trouble("%s cannot be read: %w", diag.Printable(name), pathless(err))
		}
		defer f.Close()
		in = f
	}
	data, err = io.ReadAll(io.LimitReader(in, maxReadBack+1))
	switch {
	case err != nil:
		return name, nil, trouble("%s cannot be read: %w", diag.Printable(name), pathless(err))
	case len(data) > maxReadBack:
		return name, nil, trouble("%s has more than the %d bytes that a read-back may have", diag.Printable(name), maxReadBack)
	}
	return name, data, nil
}

// verify compares a loaded image with the bytes of a read-back, writes the
// report and gives the outcome as an error.
func verify(s streams, o verifyOptions, l *loaded, opts rom.VerifyOptions, name string, data []byte) error {
	back, err := rom.ReadBack(name, data, l.Image.FileSize())
	if err != nil {
		return showRomError(s, err)
	}
	rep := rom.Verify(l.Image, back, opts)
	err = writeReport(s, o.out, func(w io.Writer) error {
		if !o.json {
			return rep.WriteText(w)
		}
		e := json.NewEncoder(w)
		e.SetIndent("", "  ")
		e.SetEscapeHTML(false)
		return e.Encode(rep)
	})
	if err == nil && !rep.Agrees {
		err = findings()
	}
	return err
}

// loadForVerify loads an image. Status 1 means that a chip differs, so a
// source with errors is trouble here.
func loadForVerify(s streams, o loadOptions, path string) (*loaded, error) {
	l, err := load(s, path, o)
	var e *exitError
	if errors.As(err, &e) && e.status == ExitFindings {
		err = &exitError{ExitTrouble, e.err}
	}
	return l, err
}
