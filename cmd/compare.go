package cmd

import (
	"bytes"
	"errors"
	"io"
	"strings"
	"sync"

	"github.com/spf13/cobra"

	"romwright/assembler"
	"romwright/diag"
	"romwright/listing"
	"romwright/page"
	"romwright/rom"
)

// compareOptions are the options of compare.
type compareOptions struct {
	load   loadOptions
	readAs [2]kind // of OLD and NEW; "" tells by content
	format string  // text, json or html
	out    string
	page   int // bytes
	all    bool
}

func newCompare(s streams) *cobra.Command {
	var f sourceFlags
	var o compareOptions
	var readAs []string
	var pageSize string
	c := &cobra.Command{
		Use:   "compare OLD NEW",
		Short: "Tell what changed between two programs, line by line and byte by byte",
		Long: `Compare takes two listings, sources (which are assembled in memory) or images,
in any mixture, and tells them apart by their content. Lines are aligned by what
they say, not by where they are. Each line that differs is in one class:

  changed     edited, or other bytes that no symbol explains
  added       only in NEW
  removed     only in OLD
  moved       same source and bytes at another address
  retargeted  same source; other bytes only because a symbol has another value
  layout      another remark or other spacing only

Moved lines are shown as ranges, retargeted ones and their symbols by equal
change; --all lists each. Then the images: which bytes differ and how many pages
have to be written again. An image has no lines, so it is compared by bytes only.

Exit status: 0 the same image, 1 a different one, 2 trouble.`,
		Example: "  romwright compare crossing.lst crossing.asm\n  romwright compare --format html -o changes.html old.lst new.lst\n  romwright compare --page 4096 chip.bin crossing.asm",
		Args:    cobra.ExactArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			var err error
			if o.load.source, err = f.options(); err != nil {
				return err
			}
			o.load.allErrors, o.load.strict = f.allErrors, f.strict
			if err := oneOf("format", o.format, "text", "json", "html"); err != nil {
				return err
			}
			if o.readAs, err = readAsPair(readAs); err != nil {
				return err
			}
			size, err := assembler.ParseValue(pageSize)
			if err != nil {
				return usage("--page: %w", err)
			}
			if size < 1 || size > rom.MaxCapacity {
				return usage("--page must be 1 to %d bytes, not %d", rom.MaxCapacity, size)
			}
			o.page = int(size)
			return runCompare(s, o, args[0], args[1])
		},
	}
	fl := c.Flags()
	fl.StringVar(&o.format, "format", "text", "form of the report: `text|json|html`")
	fl.StringVarP(&o.out, "output", "o", "", "write the report to this `file`")
	fl.StringVar(&pageSize, "page", "64", "`bytes` that the chip is written in at a time; 4096 for parts erased in sectors")
	fl.BoolVar(&o.all, "all", false, "list every line that moved, was retargeted or differs in layout, and every symbol")
	fl.StringSliceVar(&readAs, "read-as", nil, "read both files, or OLD,NEW, as this `kind`: "+strings.Join(kinds, ", "))
	f.add(c)
	return c
}

// readAsPair takes one kind for both files, or one for each.
func readAsPair(words []string) (pair [2]kind, err error) {
	if len(words) > 2 {
		return pair, usage("--read-as takes one kind, or two: OLD,NEW")
	}
	for i, w := range words {
		if err := oneOf("read-as", w, kinds...); err != nil {
			return pair, err
		}
		pair[i] = kind(w)
	}
	if len(words) == 1 {
		pair[1] = pair[0]
	}
	return pair, nil
}

// runCompare compares two files and writes the report.
func runCompare(s streams, o compareOptions, before, after string) error {
	if before == "-" && after == "-" {
		return usage("only one of the two can come from standard input")
	}
	paths := [2]string{before, after}
	var sides [2]*loaded
	read := []string{before, after}
	if before == "-" || after == "-" {
		// It may be read twice, see below.
		text, err := assembler.ReadLimited(s.In, 0)
		if err != nil {
			return trouble("%s cannot be read: %w", stdinName, err)
		}
		s.In = strings.NewReader(text)
	}
	// Both at once; what there is to say about them is said in order.
	var said [2]held
	var failed [2]error
	var wait sync.WaitGroup
	for i, path := range paths {
		said[i].to = s.Err
		wait.Go(func() {
			sides[i], failed[i] = o.loadSide(streams{s.In, s.Out, &said[i]}, path, i, o.load.source)
		})
	}
	wait.Wait()
	for i := range paths {
		if _, err := said[i].WriteTo(s.Err); err != nil {
			return wrote("standard error", err)
		}
		if failed[i] != nil {
			return failed[i]
		}
		if p := sides[i].Program; p != nil {
			read = append(read, p.Paths()...)
		}
	}
	for i, l := range sides {
		if other := sides[1-i]; !knowsChip(l) && knowsChip(other) {
			if r, ok := s.In.(*strings.Reader); ok {
				if _, err := r.Seek(0, io.SeekStart); err != nil {
					return trouble("%s: %w", stdinName, err)
				}
			}
			again, err := o.forChip(s, paths[i], i, l, other.Image)
			if err != nil {
				return err
			}
			sides[i] = again
		}
	}
	if o.out != "" && o.out != "-" {
		if err := checkOutputs([]output{{path: o.out}}, read); err != nil {
			return err
		}
	}
	side := func(l *loaded) listing.Side { return listing.Side{Name: l.Name, Doc: l.Doc, Image: l.Image} }
	r := listing.Compare(side(sides[0]), side(sides[1]), listing.CompareOptions{PageSize: o.page, KeepSame: o.format == "html"})
	err := writeReport(s, o.out, func(w io.Writer) error {
		switch o.format {
		case "json":
			return r.WriteJSON(w, o.all)
		case "html":
			return page.WriteCompare(w, comparePage(r))
		}
		return r.WriteText(w, o.all)
	})
	if err != nil {
		return err
	}
	if !r.Same {
		return findings()
	}
	return nil
}

// held keeps what is written until it is the writer's turn.
type held struct {
	bytes.Buffer
	to io.Writer
}

// loadSide reads OLD (0) or NEW (1). A source with errors is trouble here: the
// status 1 says that two programs differ.
func (o *compareOptions) loadSide(s streams, path string, which int, source assembler.Options) (*loaded, error) {
	opts := o.load
	opts.noSources = true
	opts.source, opts.readAs = source, o.readAs[which]
	l, err := load(s, path, opts)
	var e *exitError
	if errors.As(err, &e) && e.status == ExitFindings {
		err = trouble("%s does not assemble, so there is nothing to compare", diag.Printable(path))
	}
	return l, err
}

// knowsChip tells whether a file says for which chip it is.
func knowsChip(l *loaded) bool { return l.Kind == kindSource || l.Kind == kindListing }

// forChip reads a file that does not say its chip anew as one for the chip of
// the other side, as far as no option says otherwise and it fits.
func (o *compareOptions) forChip(s streams, path string, which int, l *loaded, chip *rom.Image) (*loaded, error) {
	source := o.load.source
	if !source.HasAt {
		source.At, source.HasAt = int64(chip.At), true
	}
	if !source.HasBlank {
		source.Blank, source.HasBlank = int(chip.Blank), true
	}
	if l.Kind != kindImage {
		inside := true
		for _, r := range l.Image.UsedRanges() {
			inside = inside && chip.Contains(r.First) && chip.Contains(r.Last)
		}
		if !inside {
			return l, nil
		}
		if source.Capacity == 0 {
			source.Capacity = int64(chip.Capacity)
		}
	}
	again, err := o.loadSide(s, path, which, source)
	if err != nil {
		return nil, err
	}
	if l.Kind == kindImage {
		again.Image = uncopied(again.Image, chip)
	} else {
		again.Image.Copies = chip.Copies
	}
	return again, nil
}

// uncopied takes an image that holds the chip's contents several times over
// for what it is.
func uncopied(im, chip *rom.Image) *rom.Image {
	n := chip.Capacity
	if chip.Copies == 1 || im.Capacity != chip.FileSize() {
		return im
	}
	for at := n; at < im.Capacity; at += n {
		if !bytes.Equal(im.Data[at:at+n], im.Data[:n]) {
			return im
		}
	}
	one, err := rom.FromBytes(im.Data[:n:n], im.At, im.Blank)
	if err != nil {
		return im
	}
	one.Copies = chip.Copies
	return one
}
