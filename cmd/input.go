package cmd

import (
	"strings"

	"romwright/assembler"
	"romwright/diag"
	"romwright/listing"
	"romwright/rom"
)

// kind is what a file named on the command line is.
type kind string

const (
	kindSource  kind = "source"
	kindListing kind = "listing"
	kindImage   kind = "image"
	kindHex     kind = "hex"
	kindSRec    kind = "srec"
)

var kinds = []string{"source", "listing", "image", "hex", "srec"}

// loadOptions say how a file is to be read.
type loadOptions struct {
	source    assembler.Options // for a source; At, Blank and Capacity also for files that do not say them
	allErrors bool
	strict    bool
	readAs    kind // "" tells by content
	noSources bool // leave the map of sources empty: making it costs as much as reading a listing
}

// loaded is a program as a file gave it, whatever the file was.
type loaded struct {
	Name    string // as named on the command line
	Kind    kind
	Image   *rom.Image
	Sources *rom.SourceMap     // empty where the file knows no sources
	Doc     *listing.Doc       // rows and symbols of a source or a listing, else nil
	RAM     []rom.Range        // as a source declares it, or its listing says
	Program *assembler.Program // of a source, else nil
}

// load reads a source (which it assembles), a listing, a bare image, Intel HEX
// or S-records. Diagnostics are shown; the error ends the command.
func load(s streams, path string, o loadOptions) (*loaded, error) {
	name, text, err := readSource(s, path)
	if err != nil {
		return nil, err
	}
	k := o.readAs
	if k == "" {
		k = kindOf(text)
	}
	l := &loaded{Name: name, Kind: k, Sources: &rom.SourceMap{}}
	switch k {
	case kindSource:
		p := assembler.Assemble(name, text, o.source)
		show(s.Err, p.Diags, o.allErrors)
		if p.Diags.Errors() > 0 || o.strict && p.Diags.Warnings() > 0 {
			return nil, findings()
		}
		l.Program, l.Image, l.RAM = p, p.Image, p.RAM
		if !o.noSources {
			l.Sources = p.SourceMap()
		}
		l.Doc = listing.FromProgram(p, listing.ProgramOptions{})
	case kindListing:
		doc, im, diags := listing.Parse(text, name)
		show(s.Err, diags, o.allErrors)
		if diags.Errors() > 0 {
			return nil, &exitError{status: ExitTrouble}
		}
		l.Doc, l.Image, l.RAM = doc, im, doc.RAM
		if !o.noSources {
			l.Sources = doc.SourceMap()
		}
	case kindHex, kindSRec:
		read := rom.ReadHex
		if k == kindSRec {
			read = rom.ReadSRecords
		}
		c, err := read(name, []byte(text))
		if err != nil {
			return nil, showRomError(s, err)
		}
		capacity, at := chipFor(c, o.source)
		if l.Image, err = c.Image(capacity, at, blankOf(o)); err != nil {
			return nil, trouble("%s: %w", diag.Printable(name), err)
		}
	default:
		im, err := rom.FromBytes([]byte(text), int(o.source.At), blankOf(o))
		if err != nil {
			return nil, trouble("%s: %w", diag.Printable(name), err)
		}
		l.Image = im
	}
	return l, nil
}

// chipFor is the chip that a record file is for: as the options say, else the
// smallest whose size is a power of two and that holds every byte given.
func chipFor(c *rom.Contents, o assembler.Options) (capacity, at int) {
	capacity, at = int(o.Capacity), int(o.At)
	span, ok := c.Span()
	if !ok {
		return max(capacity, 1), at
	}
	size := max(capacity, 1)
	for {
		if !o.HasAt {
			at = span.First / size * size
		}
		if capacity != 0 || span.Last < at+size || size >= rom.MaxCapacity {
			return size, at
		}
		size *= 2
	}
}

func blankOf(o loadOptions) byte {
	if o.source.HasBlank {
		return byte(o.source.Blank)
	}
	return 0xFF
}

// kindOf tells what a file is by its content.
func kindOf(text string) kind {
	if listing.IsListing(text) {
		return kindListing
	}
	if !isText(text) {
		return kindImage
	}
	switch first := firstLine(text); {
	case isRecord(first, ':', 11):
		return kindHex
	case len(first) > 1 && first[1] >= '0' && first[1] <= '9' && isRecord(first, 'S', 10):
		return kindSRec
	}
	return kindSource
}

func firstLine(text string) string {
	text = strings.TrimLeft(text, " \t\r\n")
	line, _, _ := strings.Cut(text, "\n")
	return strings.TrimRight(line, " \t\r")
}

// isRecord: the line is a mark and an even count of hex digits, at least so
// many characters in all.
func isRecord(line string, mark byte, least int) bool {
	if len(line) < least || line[0] != mark {
		return false
	}
	for _, c := range line[1:] {
		if !strings.ContainsRune("0123456789ABCDEFabcdef", c) {
			return false
		}
	}
	return true
}

// isText: the file reads as text, and most of it as ASCII. Chips are full of
// bytes that no text holds.
func isText(text string) bool {
	// 1AH ends a text, and no more than the rest of a record of 128 bytes
	// follows it; in a chip it is an instruction like any other.
	if i := strings.IndexByte(text, 0x1A); i >= 0 && len(strings.TrimRight(text[i:], "\x1A\x00")) <= 128 {
		text = text[:i]
	}
	ascii := 0
	for i := 0; i < len(text); i++ {
		c := text[i]
		switch {
		case c < ' ' && c != '\n' && c != '\r' && c != '\t' && c != '\f' && c != '\v', c == 0x7F:
			return false
		case c < 0x7F:
			ascii++
		}
	}
	return ascii*10 >= len(text)*7 // a blank chip is all FFH
}

// showRomError shows an error of package rom, with its place where it has one.
func showRomError(s streams, err error) error {
	if e, ok := err.(*rom.Error); ok {
		l := &diag.List{}
		l.Add(e.Diag)
		show(s.Err, l, true)
		return &exitError{status: ExitTrouble}
	}
	return &exitError{ExitTrouble, err}
}
