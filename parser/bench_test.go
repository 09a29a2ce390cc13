package parser_test

import (
	"bytes"
	"fmt"
	goparser "go/parser"
	"go/token"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"romwright/lexer"
	"romwright/parser"
)

// benchLines are 16,000 lines as programs have them: labels, instructions of
// many shapes, data, constants, remarks.
func benchLines() []string {
	shapes := []string{
		"        LD A,%d", "label%d: LD (HL),A", "        LD HL,label%d+1", "        JP NZ,label%d     ; go on",
		"const%d  EQU 5", "        DEFB %d,'text',0", "; remark %d", "", "        LD (IX+5),A", "        CALL label%d",
		"        AND LOW const%d", "loop%d   DJNZ loop%[1]d", "        OUT (20H),A", "        RET", "        PUSH BC", "        BIT 3,(HL)",
	}
	lines := make([]string, 0, 16_000)
	for i := range cap(lines) {
		line := shapes[i%len(shapes)]
		if strings.Contains(line, "%") {
			line = fmt.Sprintf(line, i/len(shapes)%200)
		}
		lines = append(lines, line)
	}
	return lines
}

// BenchmarkParse parses lines of known shapes, as all but a few of a program
// are; BenchmarkGrammar sends every line through the grammar.
func BenchmarkParse(b *testing.B)   { benchmarkParse(b, false) }
func BenchmarkGrammar(b *testing.B) { benchmarkParse(b, true) }

func benchmarkParse(b *testing.B, noMemo bool) {
	lines := benchLines()
	b.ReportAllocs()
	for b.Loop() {
		names := &lexer.Names{}
		// the assembler remembers classes by Name, too
		classes := make([]parser.Class, 4096)
		asked := make([]bool, 4096)
		ask := words(names)
		p := &parser.Parser{Names: names, NoMemo: noMemo, Classify: func(id lexer.Name) parser.Class {
			if !asked[id] {
				classes[id], asked[id] = ask(id), true
			}
			return classes[id]
		}}
		for _, line := range lines {
			if _, err := p.Parse(line); err != nil {
				b.Fatal(line, err)
			}
		}
	}
	perLine(b, len(lines))
}

func perLine(b *testing.B, lines int) {
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(lines), "ns/line")
}

// BenchmarkGoParser parses the file of the Go standard library with the most
// lines with the library's own parser: a measure that every machine with Go
// has.
func BenchmarkGoParser(b *testing.B) {
	goroot, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		b.Skip("no Go toolchain is installed: ", err)
	}
	root := filepath.Join(strings.TrimSpace(string(goroot)), "src")
	var largest string
	var src []byte
	lines := 0
	err = filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && (d.Name() == "cmd" || d.Name() == "testdata" || d.Name() == "vendor"):
			return fs.SkipDir
		case !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go"):
			return nil
		}
		if st, err := d.Info(); err != nil || st.Size() < 1<<17 {
			return err
		}
		text, err := os.ReadFile(path)
		if n := bytes.Count(text, []byte("\n")); n > lines {
			largest, src, lines = path, text, n
		}
		return err
	})
	if err != nil || largest == "" {
		b.Skip("the standard library's source is not installed: ", err)
	}
	b.Logf("%s, %d lines", filepath.Base(largest), lines)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := goparser.ParseFile(token.NewFileSet(), largest, src, goparser.SkipObjectResolution); err != nil {
			b.Fatal(err)
		}
	}
	perLine(b, lines)
}
