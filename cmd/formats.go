package cmd

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"romwright/assembler"
	"romwright/diag"
	"romwright/rom"
)

// formatByName is the form of an image by its file's extension: bin, hex or
// srec.
func formatByName(path string) string {
	switch strings.ToLower(filepath.Ext(path)) {
	case ".hex", ".ihx", ".ihex":
		return "hex"
	case ".srec", ".s19", ".s28", ".s37", ".mot":
		return "srec"
	}
	return "bin"
}

// writeImage writes the image in one of its forms.
func writeImage(w io.Writer, p *assembler.Program, as, addresses string) error {
	addressing := rom.CPUAddresses
	if addresses == "chip" {
		addressing = rom.ChipAddresses
	}
	switch as {
	case "hex":
		return rom.WriteHex(w, p.Image, addressing)
	case "srec":
		return rom.WriteSRecords(w, p.Image, addressing)
	}
	_, err := p.Image.WriteTo(w)
	return err
}

// formatWarnings says what a record file leaves to the programmer.
func formatWarnings(w io.Writer, p *assembler.Program, as, addresses string) {
	if as == "bin" {
		return
	}
	im := p.Image
	warn := func(format string, args ...any) {
		fmt.Fprintf(w, "romwright: warning: "+format+"\n", args...)
	}
	if im.At != 0 && addresses == "" {
		warn("the %s file holds the CPU's addresses, and the chip begins at %04XH; a programmer that counts from the chip's first cell needs --addresses chip", as, im.At)
	}
	if im.Blank != 0xFF {
		warn("a %s file holds emitted bytes only; cells that should hold %02XH are left to the programmer", as, im.Blank)
	}
}

type symbolJSON struct {
	Name  string      `json:"name"`
	Value int64       `json:"value"`
	Kind  string      `json:"kind"`
	File  *string     `json:"file"`
	Line  *uint32     `json:"line"`
	Uses  []placeJSON `json:"uses"`
}

type placeJSON struct {
	File string `json:"file"`
	Line uint32 `json:"line"`
}

// writeSymbols writes the symbols as one JSON array, by name, an object a line.
func writeSymbols(w io.Writer, p *assembler.Program) error {
	b := bufio.NewWriterSize(w, 1<<16)
	b.WriteString("[")
	for i, s := range p.Symbols() {
		o := symbolJSON{Name: s.Name, Value: s.Value, Kind: s.Kind, Uses: []placeJSON{}}
		if s.Defined.Line > 0 {
			o.File, o.Line = &s.Defined.File, &s.Defined.Line
		}
		for _, u := range s.Uses {
			at := placeJSON{u.File, u.Line}
			if n := len(o.Uses); n == 0 || o.Uses[n-1] != at {
				o.Uses = append(o.Uses, at)
			}
		}
		text, err := json.Marshal(o)
		if err != nil {
			return err
		}
		if i > 0 {
			b.WriteByte(',')
		}
		b.WriteByte('\n')
		b.Write(text)
	}
	b.WriteString("\n]\n")
	return b.Flush()
}

// writeDepfile writes a rule for make: the image depends on the files read. A
// blank, # or : in a name is escaped as make reads it, and $ is doubled.
func writeDepfile(w io.Writer, target string, paths []string) error {
	escape := strings.NewReplacer(" ", `\ `, "\t", "\\\t", "#", `\#`, ":", `\:`, "$", "$$")
	var b strings.Builder
	b.WriteString(escape.Replace(filepath.ToSlash(target)) + ":")
	for _, p := range paths {
		if p == stdinName {
			continue
		}
		if strings.ContainsAny(p, "\n\r") {
			return fmt.Errorf("%s has a line end in its name, which no rule can hold", diag.Printable(p))
		}
		b.WriteString(" " + escape.Replace(filepath.ToSlash(p)))
	}
	b.WriteString("\n")
	_, err := io.WriteString(w, b.String())
	return err
}
