package cmd

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"path/filepath"
	"strconv"
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
func formatWarnings(p *assembler.Program, as, addresses string) []string {
	if as == "bin" {
		return nil
	}
	var list []string
	im := p.Image
	if im.At != 0 && addresses == "" {
		list = append(list, fmt.Sprintf("the %s file holds the CPU's addresses, and the chip begins at %04XH; a programmer that counts from the chip's first cell needs --addresses chip", as, im.At))
	}
	if im.Blank != 0xFF {
		list = append(list, fmt.Sprintf("a %s file holds emitted bytes only; cells that should hold %02XH are left to the programmer", as, im.Blank))
	}
	return list
}

// writeSymbols writes the symbols as one JSON array, by name, an object a line:
// name, value, kind, file and line of the definition (null where an option
// defined it) and uses, a list of file and line. Names of the language need no
// escapes; a program may have half a million of them, so nothing is reflected.
func writeSymbols(w io.Writer, p *assembler.Program) error {
	b := bufio.NewWriterSize(w, 1<<16)
	files := map[string]string{}
	quote := func(file string) string {
		q, ok := files[file]
		if !ok {
			text, _ := json.Marshal(file) // a string always can be
			q = string(text)
			files[file] = q
		}
		return q
	}
	line := make([]byte, 0, 256)
	place := func(at assembler.Place) {
		line = append(line, `"file":`...)
		line = append(line, quote(at.File)...)
		line = append(line, `,"line":`...)
		line = strconv.AppendUint(line, uint64(at.Line), 10)
	}
	sep := "[\n"
	p.Symbols(func(s *assembler.Symbol) bool {
		line = append(line[:0], sep...)
		sep = ",\n"
		line = append(line, `{"name":"`...)
		line = append(line, s.Name...)
		line = append(line, `","value":`...)
		line = strconv.AppendInt(line, s.Value, 10)
		line = append(line, `,"kind":"`...)
		line = append(line, s.Kind...)
		line = append(line, `",`...)
		if s.Defined.Line > 0 {
			place(s.Defined)
		} else {
			line = append(line, `"file":null,"line":null`...)
		}
		line = append(line, `,"uses":[`...)
		var before assembler.Place
		for i, u := range s.Uses {
			u.Sub = 0 // lines of one expansion count once
			if i > 0 && u == before {
				continue
			}
			if i > 0 {
				line = append(line, ',')
			}
			before = u
			line = append(line, '{')
			place(u)
			line = append(line, '}')
		}
		line = append(line, "]}"...)
		_, err := b.Write(line)
		return err == nil
	})
	if sep == "[\n" {
		b.WriteString("[")
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
