package cmd

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/signal"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"romwright/assembler"
	"romwright/diag"
	"romwright/listing"
	"romwright/rom"
)

// sourceFlags are the options that belong to a source, shared by every command
// that assembles one.
type sourceFlags struct {
	capacity, at, blank string
	unpadded            bool
	accept, skip        []string
	define, includeDirs []string
	allErrors, strict   bool
}

func (f *sourceFlags) add(c *cobra.Command) {
	fl := c.Flags()
	fl.StringVar(&f.capacity, "capacity", "", "the chip's `bytes`, e.g. 8K, where the source does not say it")
	fl.StringVar(&f.at, "at", "", "CPU `address` of the chip's first byte (default 0)")
	fl.StringVar(&f.blank, "blank", "", "value of cells that nothing was assembled into, a `byte` (default 0FFH)")
	fl.BoolVar(&f.unpadded, "unpadded", false, "write from the first byte emitted to the last, not the whole chip")
	fl.StringSliceVar(&f.accept, "accept", nil, "`words` of ACCEPT, in force everywhere")
	fl.StringSliceVar(&f.skip, "skip", nil, "`names` of operations of a foreign source to pass over")
	fl.StringArrayVar(&f.define, "define", nil, "define a `name[=value]`, as DEFINE does")
	fl.StringArrayVar(&f.includeDirs, "include-dir", nil, "look for included files in this `directory` too")
	fl.BoolVar(&f.allErrors, "all-errors", false, "show every error, not the first ten")
	fl.BoolVar(&f.strict, "warnings-are-errors", false, "a warning counts as an error")
}

// options turns the flags into the assembler's.
func (f *sourceFlags) options() (assembler.Options, error) {
	o := assembler.Options{Accept: f.accept, Skip: f.skip, Defines: f.define, IncludeDirs: f.includeDirs, Unpadded: f.unpadded}
	number := func(option, s string, low, high int64) (int64, error) {
		v, err := assembler.ParseValue(s)
		if err != nil {
			return 0, usage("--%s: %w", option, err)
		}
		if v < low || v > high {
			return 0, usage("--%s must be %d to %d, not %d", option, low, high, v)
		}
		return v, nil
	}
	var err error
	if f.capacity != "" {
		if o.Capacity, err = number("capacity", f.capacity, 1, rom.MaxCapacity); err != nil {
			return o, err
		}
	}
	if f.at != "" {
		if o.At, err = number("at", f.at, 0, 0xFFFF); err != nil {
			return o, err
		}
		o.HasAt = true
	}
	if f.blank != "" {
		v, err := number("blank", f.blank, 0, 255)
		if err != nil {
			return o, err
		}
		o.Blank, o.HasBlank = int(v), true
	}
	return o, nil
}

// buildOptions are the options of build.
type buildOptions struct {
	source       assembler.Options
	allErrors    bool
	strict       bool
	out          string
	listing      string
	noListing    bool
	hideExpanded bool
	as           string // bin, hex or srec; "" by the extension of out
	addresses    string // cpu or chip; "" not chosen
	symbols      string
	depfile      string
	json         bool
	brief        bool // one line instead of the summary
}

func newBuild(s streams) *cobra.Command {
	var f sourceFlags
	var o buildOptions
	var format, macros string
	var watch bool
	c := &cobra.Command{
		Use:   "build SOURCE...",
		Short: "Assemble a source into an image that fills the chip, with its listing",
		Long: `Build assembles a source file and writes the image, exactly as long as the
chip, and the listing beside it. "-" reads standard input. Several sources build
several images. Where a source has errors nothing is written. With --watch each
build is told in one line.`,
		Example: "  romwright build crossing.asm\n  romwright build --capacity 32K -o monitor.hex monitor.z80\n" +
			"  romwright build --watch crossing.asm",
		Args: cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			var err error
			if o.source, err = f.options(); err != nil {
				return err
			}
			o.allErrors, o.strict = f.allErrors, f.strict
			if err := oneOf("format", format, "text", "json"); err != nil {
				return err
			}
			if err := oneOf("listing-macros", macros, "none", "all"); err != nil {
				return err
			}
			if err := oneOf("as", o.as, "", "bin", "hex", "srec"); err != nil {
				return err
			}
			if err := oneOf("addresses", o.addresses, "", "cpu", "chip"); err != nil {
				return err
			}
			o.json = format == "json"
			o.hideExpanded = macros == "none"
			if watch {
				o.brief = true
				ctx, stop := signal.NotifyContext(c.Context(), os.Interrupt)
				defer stop()
				if err := checkBuild(o, args); err != nil {
					return err
				}
				return runWatch(ctx, s, o, args)
			}
			return runBuild(s, o, args)
		},
	}
	fl := c.Flags()
	fl.StringVarP(&o.out, "output", "o", "", "write the image to this `file`; - is standard output")
	fl.StringVar(&o.listing, "listing", "", "write the listing to this `file`")
	fl.BoolVar(&o.noListing, "no-listing", false, "write no listing")
	fl.StringVar(&macros, "listing-macros", "all", "show the lines of expansions: `none|all`")
	fl.StringVar(&o.as, "as", "", "form of the image: `bin|hex|srec`; otherwise the extension of -o decides")
	fl.StringVar(&o.addresses, "addresses", "", "addresses in hex and srec: the CPU's, or counted from the chip's first cell: `cpu|chip`")
	fl.StringVar(&o.symbols, "symbols", "", "write the symbols as JSON to this `file`")
	fl.StringVar(&o.depfile, "depfile", "", "write the files that were read as a rule for make to this `file`")
	fl.StringVar(&format, "format", "text", "form of the summary: `text|json`")
	fl.BoolVar(&watch, "watch", false, "build again whenever the source or a file that it reads changes, until Ctrl-C")
	f.add(c)
	return c
}

// oneOf checks a flag that takes one of a few words.
func oneOf(flag, value string, words ...string) error {
	for _, w := range words {
		if value == w {
			return nil
		}
	}
	return usage("--%s takes %s, not %s", flag, strings.TrimPrefix(strings.Join(words, " or "), " or "), diag.Printable(value))
}

// checkBuild looks for options that contradict each other or the sources.
func checkBuild(o buildOptions, sources []string) error {
	if len(sources) > 1 && (o.out != "" || o.listing != "" || o.symbols != "" || o.depfile != "") {
		return usage("-o, --listing, --symbols and --depfile name one file each, and there are %d sources", len(sources))
	}
	if o.noListing && o.listing != "" {
		return usage("--no-listing and --listing contradict each other")
	}
	return nil
}

// runBuild builds each source; the worst status counts.
func runBuild(s streams, o buildOptions, sources []string) error {
	if err := checkBuild(o, sources); err != nil {
		return err
	}
	var worst error
	for _, src := range sources {
		_, err := buildOne(s, o, src)
		if err == nil {
			continue
		}
		var e *exitError
		if !errors.As(err, &e) {
			return err
		}
		if len(sources) > 1 && e.err != nil {
			fmt.Fprintf(s.Err, "romwright: %s\n", diag.Printable(e.Error()))
			e = &exitError{status: e.status}
		}
		if w, ok := worst.(*exitError); !ok || e.status > w.status {
			worst = e
		}
	}
	return worst
}

const stdinName = "standard input"

// readSource reads a source named on the command line.
func readSource(s streams, path string) (name, text string, err error) {
	if path == "-" {
		text, err = assembler.ReadLimited(s.In, 0)
		name = stdinName
	} else {
		text, err = readInput(path)
		name = path
	}
	if err != nil {
		return name, "", trouble("%s cannot be read: %w", diag.Printable(name), err)
	}
	return name, text, nil
}

// readInput reads a file named on the command line; a pipe may be one, since
// a shell hands over the output of a command so.
func readInput(path string) (string, error) {
	if st, err := os.Stat(path); err == nil && st.Mode()&fs.ModeNamedPipe != 0 {
		f, err := os.Open(path)
		if err != nil {
			return "", err
		}
		defer f.Close()
		return assembler.ReadLimited(f, 0)
	}
	return assembler.Disk{}.ReadFile(path)
}

// assemble assembles a source and shows what there is to say about it.
func assemble(s streams, path string, opt assembler.Options, allErrors, strict bool) (*assembler.Program, error) {
	name, text, err := readSource(s, path)
	if err != nil {
		return nil, err
	}
	p := assembler.Assemble(name, text, opt)
	show(s.Err, p.Diags, allErrors)
	if p.Diags.Errors() > 0 || strict && p.Diags.Warnings() > 0 {
		return p, findings()
	}
	return p, nil
}

// buildOne builds one source. The program is nil where the source could not be
// read.
func buildOne(s streams, o buildOptions, path string) (*assembler.Program, error) {
	p, err := assemble(s, path, o.source, o.allErrors, o.strict)
	if err != nil {
		if p != nil {
			fmt.Fprintln(s.Err, nothingWritten(p))
		}
		return p, err
	}
	image, list, err := outputPaths(o, path)
	if err != nil {
		return p, err
	}
	as := o.as
	if as == "" {
		as = formatByName(image)
	}
	warnings := formatWarnings(p, as, o.addresses)
	for _, w := range warnings {
		fmt.Fprintf(s.Err, "romwright: warning: %s\n", w)
	}
	if o.strict && len(warnings) > 0 {
		fmt.Fprintf(s.Err, "%s, and warnings are errors here: nothing was written\n", count(len(warnings), "warning"))
		return p, findings()
	}

	outs := []output{{image, func(w io.Writer) error { return writeImage(w, p, as, o.addresses) }}}
	if list != "" {
		opt := listing.ProgramOptions{HideExpansions: o.hideExpanded}
		outs = append(outs, output{list, func(w io.Writer) error { return listing.WriteProgram(w, p, opt) }})
	}
	if o.symbols != "" {
		outs = append(outs, output{o.symbols, func(w io.Writer) error { return writeSymbols(w, p) }})
	}
	if o.depfile != "" {
		outs = append(outs, output{o.depfile, func(w io.Writer) error { return writeDepfile(w, image, p.Paths()) }})
	}
	if err := checkOutputs(outs, p.Paths()); err != nil {
		return p, err
	}
	sum := s.Out
	var files []output
	var toStdout *output
	for i := range outs {
		if outs[i].path == "-" {
			sum, toStdout = s.Err, &outs[i]
		} else {
			files = append(files, outs[i])
		}
	}
	if err := commit(files); err != nil {
		return p, err
	}
	if toStdout != nil {
		if err := writeReport(s, "-", toStdout.write); err != nil {
			return p, err
		}
	}
	return p, wrote("the summary", writeSummary(sum, p, o, files, p.Diags.Warnings()+len(warnings)))
}

// nothingWritten says that a failed build left everything as it was.
func nothingWritten(p *assembler.Program) string {
	e, w := p.Diags.Errors(), p.Diags.Warnings()
	s := count(e, "error") + " in " + diag.Printable(p.Source)
	if e == 0 {
		s = count(w, "warning") + " in " + diag.Printable(p.Source) + ", and warnings are errors here"
	}
	return s + ": nothing was written; what an earlier build wrote is untouched"
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// outputPaths decides where the image and the listing go; no listing is "".
func outputPaths(o buildOptions, source string) (image, list string, err error) {
	image = o.out
	if image == "" {
		if source == "-" {
			return "", "", usage("standard input has no name to call the image by: give -o FILE")
		}
		ext := map[string]string{"hex": ".hex", "srec": ".srec"}[o.as]
		if ext == "" {
			ext = ".bin"
		}
		image = withExtension(source, ext)
	}
	if image == "-" && o.depfile != "" {
		return "", "", usage("--depfile names the image, which has no name on standard output: give -o FILE")
	}
	switch {
	case o.noListing:
	case o.listing != "":
		list = o.listing
	case image != "-" && !special(image):
		list = withExtension(image, ".lst")
	}
	return image, list, nil
}

// special: the path leads to something that is there and is no regular file,
// such as a device: nothing belongs beside it.
func special(path string) bool {
	st, err := os.Stat(path)
	return err == nil && !st.Mode().IsRegular() && !st.IsDir()
}

func withExtension(path, ext string) string {
	return strings.TrimSuffix(path, filepath.Ext(path)) + ext
}

// checkOutputs makes sure that no output is a file that was read, or another
// output.
func checkOutputs(outs []output, read []string) error {
	for i, o := range outs {
		for _, other := range outs[:i] {
			if sameFile(o.path, other.path) {
				name := diag.Printable(o.path)
				if o.path == "-" {
					name = "standard output"
				}
				return usage("%s would be written twice", name)
			}
		}
		for _, r := range read {
			if o.path != "-" && sameFile(o.path, r) {
				return trouble("%s is a source of the program and is not overwritten: choose another name with -o", diag.Printable(o.path))
			}
		}
	}
	return nil
}

func sameFile(a, b string) bool {
	if filepath.Clean(a) == filepath.Clean(b) {
		return true
	}
	x, err1 := os.Stat(a)
	y, err2 := os.Stat(b)
	return err1 == nil && err2 == nil && x.Mode().IsRegular() && os.SameFile(x, y)
}

// summary is what build says of an image.
type summary struct {
	Source   string      `json:"source"`
	Capacity int         `json:"capacity"`
	At       int         `json:"at"`
	Blank    int         `json:"blank"`
	Copies   int         `json:"copies"`
	Used     int         `json:"used"`
	Free     int         `json:"free"`
	Ranges   []rangeJSON `json:"ranges"`
	Entry    *int        `json:"entry"`
	CRC32    string      `json:"crc32"`
	Sum16    string      `json:"sum16"`
	Files    []string    `json:"files"`
	Warnings int         `json:"warnings"`
}

type rangeJSON struct {
	First int `json:"first"`
	Last  int `json:"last"`
}

func writeSummary(w io.Writer, p *assembler.Program, o buildOptions, files []output, warnings int) error {
	im := p.Image
	sum := summary{
		Source: p.Source, Capacity: im.Capacity, At: im.At, Blank: int(im.Blank), Copies: im.Copies,
		Used: im.Used(), Free: im.Capacity - im.Used(), Ranges: []rangeJSON{}, Files: []string{},
		CRC32: fmt.Sprintf("%08X", im.CRC32()), Sum16: fmt.Sprintf("%04X", im.Sum16()), Warnings: warnings,
	}
	for _, f := range files {
		sum.Files = append(sum.Files, f.path)
	}
	if p.Entry >= 0 {
		sum.Entry = &p.Entry
	}
	ranges := im.UsedRanges()
	for _, r := range ranges {
		sum.Ranges = append(sum.Ranges, rangeJSON{r.First, r.Last})
	}
	if o.json {
		e := json.NewEncoder(w)
		if !o.brief {
			e.SetIndent("", "  ")
		}
		return e.Encode(sum)
	}
	if o.brief {
		_, err := fmt.Fprintf(w, "%s: built, %d used, %d free, CRC-32 %s, %s\n",
			diag.Printable(sum.Source), sum.Used, sum.Free, sum.CRC32, count(warnings, "warning"))
		return err
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%s: chip of %d bytes at %04XH, %d used, %d free and left at %02XH\n",
		diag.Printable(p.Source), sum.Capacity, sum.At, sum.Used, sum.Free, sum.Blank)
	if sum.Copies > 1 {
		fmt.Fprintf(&b, "  the file holds the image %d times, %d bytes\n", sum.Copies, im.FileSize())
	}
	for i, r := range ranges {
		if i == maxRangesShown {
			fmt.Fprintf(&b, "  and %s more, see the listing's map\n", count(len(ranges)-i, "range"))
			break
		}
		fmt.Fprintf(&b, "  %04XH-%04XH  %s\n", r.First, r.Last, count(r.Len(), "byte"))
	}
	if sum.Entry != nil {
		fmt.Fprintf(&b, "  starts at %04XH\n", *sum.Entry)
	}
	fmt.Fprintf(&b, "  CRC-32 %s  16-bit sum %s\n", sum.CRC32, sum.Sum16)
	for _, f := range sum.Files {
		fmt.Fprintf(&b, "  wrote %s\n", diag.Printable(f))
	}
	_, err := io.WriteString(w, b.String())
	return err
}

const maxRangesShown = 16
