package cmd

import (
	"bufio"
	"bytes"
	"flag"
	"fmt"
	"io"
	"math/rand"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Whole processes are timed against the Go toolchain's own assembler, which
// every machine that builds this project has. Nothing is asserted: times belong
// to a machine and a moment. Run
//
//	go test ./cmd -run '^TestSpeedTable$' -speed -v -timeout 30m
//
// on a quiet machine; with -update the tables of README.md and DEVELOPERS.md
// are rewritten.

var speedFlag = flag.Bool("speed", false, "time whole processes and print the table")

// instructions of a generated program; %l is a label, %c a constant, %n a byte.
var speedLines = []string{
	"LD A,B", "LD (HL),A", "INC HL", "LD A,(IX+5)", "XOR A", "LD HL,%l", "JP NZ,%l", "CALL %l", "LD A,%n",
	"AND 0FH", "PUSH BC", "POP DE", "LDIR", "BIT 3,A", "SET 2,(HL)", "OUT (20H),A", "IN A,(21H)", "LD BC,%c+1",
	"ADD HL,DE", "CP 'A'", "LD (%l),A", "RST 8", "EX DE,HL", "SUB 3*%c",
}

// speedSource is a program of so many lines whose code fills room bytes, as far
// as the lines go; the rest are remarks, constants and conditionals.
func speedSource(w io.Writer, lines int, capacity string, room int) {
	r := rand.New(rand.NewSource(1))
	b := bufio.NewWriter(w)
	defer b.Flush()
	fmt.Fprintf(b, "        CAPACITY %s\nconst0  EQU 5\nlabel0:\n", capacity)
	labels, constants, size, open := 1, 1, 0, false
	n := 3
	line := func(format string, args ...any) {
		fmt.Fprintf(b, format+"\n", args...)
		n++
	}
	for n < lines-1 {
		// the code is spread over the whole source
		if size > room-8 || float64(size)/float64(room) > float64(n)/float64(lines) {
			switch k := r.Intn(10); {
			case open && k < 4:
				line("        ENDIF")
				open = false
			case k < 1 && !open:
				line("        IF const%d > 3", r.Intn(constants))
				open = true
			case k < 6 || open: // what a conditional leaves out defines nothing
				line("; %d: what the next lines are for, in a few words", n)
			default:
				line("const%-6d EQU %d             ; a value", constants, r.Intn(80))
				constants++
			}
			continue
		}
		label := "        "
		if r.Intn(8) == 0 && !open {
			label = fmt.Sprintf("%-8s", fmt.Sprintf("label%d:", labels))
			labels++
		}
		text := speedLines[r.Intn(len(speedLines))]
		if r.Intn(16) == 0 {
			text = "DEFB 1,%n,'text',0"
		}
		text = strings.NewReplacer("%l", fmt.Sprintf("label%d", r.Intn(labels)), "%c", fmt.Sprintf("const%d", r.Intn(constants)),
			"%n", fmt.Sprint(r.Intn(256))).Replace(text)
		size += 4 // no instruction is longer
		if strings.HasPrefix(text, "DEFB") {
			size += 3
		}
		if r.Intn(3) == 0 {
			text = fmt.Sprintf("%-24s; what it does", text)
		}
		line("%s%s", label, text)
	}
	if open {
		line("        ENDIF")
	} else {
		line("; the end")
	}
}

// amd64Source is as many lines for the Go toolchain's assembler.
func amd64Source(w io.Writer, lines int) {
	r := rand.New(rand.NewSource(1))
	ins := []string{"MOVQ AX, BX", "ADDQ $5, CX", "MOVQ 8(SP), DX", "XORQ AX, AX", "CMPQ AX, $7", "MOVB $3, 4(DI)",
		"LEAQ 8(AX)(BX*4), CX", "SHLQ $3, DX", "ANDQ $15, AX", "NOP"}
	b := bufio.NewWriter(w)
	defer b.Flush()
	b.WriteString("TEXT ·f(SB), 4, $0\n")
	for range lines - 2 {
		b.WriteString("\t" + ins[r.Intn(len(ins))])
		if r.Intn(3) == 0 {
			b.WriteString("\t// what it does")
		}
		b.WriteByte('\n')
	}
	b.WriteString("\tRET\n")
}

// timed is one command with what its runs took.
type timed struct {
	args    []string
	differs bool // status 1, a difference found, is right
	wall    []time.Duration
	peak    []float64 // MiB, where the system tells
}

func (c *timed) run(t *testing.T, dir string) {
	cmd := exec.Command(c.args[0], c.args[1:]...)
	cmd.Dir = dir
	start := time.Now()
	out, err := cmd.CombinedOutput()
	took := time.Since(start)
	if err != nil && !(c.differs && cmd.ProcessState.ExitCode() == ExitFindings) {
		require.NoError(t, err, "%v: %s", c.args, bytes.TrimSpace(out))
	}
	c.wall = append(c.wall, took)
	c.peak = append(c.peak, peakMiB(cmd.ProcessState))
}

func median[T int64 | float64 | time.Duration](v []T) T {
	s := slices.Clone(v)
	slices.Sort(s)
	return s[len(s)/2]
}

// inPairs runs two commands in turn and gives the median of the ratios.
func inPairs(t *testing.T, dir string, runs int, a, b *timed) float64 {
	a.run(t, dir) // warm
	b.run(t, dir)
	a.wall, b.wall, a.peak, b.peak = nil, nil, nil, nil
	ratios := make([]float64, 0, runs)
	for range runs {
		a.run(t, dir)
		b.run(t, dir)
		ratios = append(ratios, float64(a.wall[len(a.wall)-1])/float64(b.wall[len(b.wall)-1]))
	}
	return median(ratios)
}

func TestSpeedTable(t *testing.T) {
	if !*speedFlag {
		t.Skip("times whole processes: go test ./cmd -run '^TestSpeedTable$' -speed -v -timeout 30m")
	}
	dir := t.TempDir()
	write := func(name, text string) string {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o666))
		return name
	}
	// a process inherits the peak of the one that started it, so this one must
	// stay small: long sources go straight to their files
	generate := func(name string, to func(io.Writer)) string {
		f, err := os.Create(filepath.Join(dir, name))
		require.NoError(t, err)
		to(f)
		require.NoError(t, f.Close())
		return name
	}
	goTool, err := exec.LookPath("go") // go test puts its own first
	require.NoError(t, err)
	bin := filepath.Join(dir, "romwright")
	build := exec.Command(goTool, "build", "-trimpath", "-o", bin, "romwright/cmd/romwright")
	out, err := build.CombinedOutput()
	require.NoError(t, err, "%s", out)

	type row struct{ work, figure, ratio, goal string }
	var rows []row
	add := func(work, figure, ratio, goal string) {
		rows = append(rows, row{work, figure, ratio, goal})
		t.Logf("%-60s %-24s %-28s %s", work, figure, ratio, goal)
	}
	ms := func(d time.Duration) string { return fmt.Sprintf("%.3g ms", float64(d)/1e6) }

	write("nine.asm", "        CAPACITY 8K\nport    EQU 20H\nstart:  LD A,1\nloop:   OUT (port),A\n        RLCA\n        LD B,100\nwait:   DJNZ wait\n        JR loop\n        END start\n")
	nine := &timed{args: []string{bin, "build", "nine.asm"}}
	help := &timed{args: []string{bin, "--help"}}
	r := inPairs(t, dir, 41, nine, help)
	add("build of a 9-line program", ms(median(nine.wall)), fmt.Sprintf("%.2f of --help", r), "1.5")

	builds := map[int]time.Duration{}
	for _, c := range []struct {
		lines, room, runs int
		capacity, goal    string
	}{{16_000, 32_000, 21, "32K", "0.8"}, {100_000, 64_000, 11, "64K", "0.45"}, {1_000_000, 64_000, 5, "64K", "0.35"}} {
		src := generate(fmt.Sprintf("p%d.asm", c.lines), func(w io.Writer) { speedSource(w, c.lines, c.capacity, c.room) })
		other := generate(fmt.Sprintf("p%d.s", c.lines), func(w io.Writer) { amd64Source(w, c.lines) })
		ours := &timed{args: []string{bin, "build", "--symbols", "symbols.json", src}}
		theirs := &timed{args: []string{goTool, "tool", "asm", "-p", "p", "-o", "p.o", other}}
		r := inPairs(t, dir, c.runs, ours, theirs)
		builds[c.lines] = median(ours.wall)
		figure := fmt.Sprintf("%s, %.0f ns a line", ms(median(ours.wall)), float64(median(ours.wall))/float64(c.lines))
		add(fmt.Sprintf("build of %d lines with listing and symbols", c.lines), figure, fmt.Sprintf("%.2f of the Go assembler", r), c.goal)
		if c.lines == 1_000_000 {
			add("  its peak memory", fmt.Sprintf("%.0f bytes a line", median(ours.peak)*(1<<20)/float64(c.lines)), "", "150 bytes a line")
		}
	}
	add("growth from 16,000 to 100,000 lines", "", fmt.Sprintf("%.1f times", float64(builds[100_000])/float64(builds[16_000])), "7")

	var old strings.Builder
	speedSource(&old, 16_000, "32K", 31_000)
	write("old.asm", old.String())
	write("new.asm", editedSource(old.String(), 100))
	for _, f := range []string{"old.asm", "new.asm"} {
		(&timed{args: []string{bin, "build", f}}).run(t, dir)
	}
	cmp := &timed{args: []string{bin, "compare", "old.lst", "new.lst"}, differs: true}
	one := &timed{args: []string{bin, "build", "old.asm"}}
	r = inPairs(t, dir, 21, cmp, one)
	add("compare of two 16,000-line listings with 100 edits", ms(median(cmp.wall)), fmt.Sprintf("%.2f of a build", r), "2")

	image := make([]byte, 1<<16)
	rand.New(rand.NewSource(2)).Read(image)
	write("chip.bin", string(image))
	for i := range image {
		image[i] = image[i]&^1 | image[i]>>1&1 // a fault that is found last
	}
	write("back.bin", string(image))
	verify := &timed{args: []string{bin, "verify", "chip.bin", "back.bin"}, differs: true}
	inPairs(t, dir, 11, verify, help)
	add("verify of 64K with all hypotheses", ms(median(verify.wall)), "", "100 ms")

	parse := benchmark(t, goTool, "romwright/parser", "BenchmarkParse", "ns/line")
	add("parse alone", fmt.Sprintf("%.0f ns a line", parse), fmt.Sprintf("%.2f of go/parser", parse/benchmark(t, goTool, "romwright/parser", "BenchmarkGoParser", "ns/line")), "0.5")
	add("the bus without a trace", fmt.Sprintf("%.0f million T-states/s", benchmark(t, goTool, "romwright/bus", "BenchmarkRun", "MT/s")), "", "100 million T-states/s")
	add("the bus with every half clock", fmt.Sprintf("%.1f million T-states/s", benchmark(t, goTool, "romwright/bus", "BenchmarkHalfClocks", "MT/s")), "", "5 million T-states/s")

	var table strings.Builder
	table.WriteString("| work | here |\n|---|---|\n")
	var ratios strings.Builder
	ratios.WriteString("| work | measured | goal |\n|---|---|---|\n")
	for _, r := range rows {
		if r.figure != "" {
			fmt.Fprintf(&table, "| %s | %s |\n", strings.TrimSpace(r.work), r.figure)
		}
		what := r.ratio
		if what == "" {
			what = r.figure
		}
		fmt.Fprintf(&ratios, "| %s | %s | %s |\n", strings.TrimSpace(r.work), what, r.goal)
	}
	fmt.Printf("\n%s\n%s", table.String(), ratios.String())
	if *update {
		rewriteBlock(t, filepath.Join("..", "README.md"), "speed", table.String())
		rewriteBlock(t, filepath.Join("..", "DEVELOPERS.md"), "speed", ratios.String())
	}
}

// benchmark runs one benchmark of a package and gives one of its figures.
func benchmark(t *testing.T, goTool, pkg, name, unit string) float64 {
	out, err := exec.Command(goTool, "test", pkg, "-run", "^$", "-bench", "^"+name+"$", "-benchtime", "2s").CombinedOutput()
	require.NoError(t, err, "%s", out)
	for _, line := range strings.Split(string(out), "\n") {
		f := strings.Fields(line)
		for i := 1; i < len(f); i++ {
			if strings.HasPrefix(f[0], name) && f[i] == unit {
				v, err := strconv.ParseFloat(f[i-1], 64)
				require.NoError(t, err)
				return v
			}
		}
	}
	t.Fatalf("%s of %s gives no %s: %s", name, pkg, unit, out)
	return 0
}

// editedSource changes so many lines, far apart.
func editedSource(text string, edits int) string {
	lines := strings.Split(text, "\n")
	step := len(lines) / edits
	for i := step / 2; i < len(lines); i += step {
		for j := i; j < len(lines); j++ {
			if strings.Contains(lines[j], "LD A,B") {
				lines[j] = strings.Replace(lines[j], "LD A,B", "LD A,C", 1)
				break
			}
		}
	}
	return strings.Join(lines, "\n")
}

// rewriteBlock replaces what stands between the marks of a document.
func rewriteBlock(t *testing.T, path, name, text string) {
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	begin, end := "<!-- begin "+name+" -->\n", "<!-- end "+name+" -->"
	before, rest, ok := strings.Cut(string(b), begin)
	require.True(t, ok, "%s has no block %s", path, name)
	_, after, ok := strings.Cut(rest, end)
	require.True(t, ok, "%s: block %s has no end", path, name)
	require.NoError(t, os.WriteFile(path, []byte(before+begin+text+end+after), 0o666))
}
