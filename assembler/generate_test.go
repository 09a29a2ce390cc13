package assembler

import (
	"fmt"
	"math/rand"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Forms of many kinds; %l is a label, %c a constant, %b a byte, %d a
// displacement, %r a near label.
var generatedForms = `LD A,%b;LD B,A;ld c,(hl);LD (HL),%b;LD A,(%l);LD (%l),A;LD HL,%l;LD DE,%c;LD BC,(%l);LD SP,HL;LD IX,%l
LD A,(IX+%d);LD (IY-%d),E;LD (IX+%d),%b;LD I,A;PUSH AF;POP BC;push ix;EX AF,AF';EX DE,HL;EX (SP),HL;EXX;LDIR;CPIR;LDD
ADD A,B;ADC A,(HL);SUB %b;SBC A,(IX+%d);AND %b;OR C;XOR A;CP %c&0FFH;INC A;DEC (HL);INC (IX+%d);DAA;CPL;NEG;CCF;SCF;NOP;HALT;DI;EI;IM 1
ADD HL,DE;ADC HL,BC;SBC HL,SP;ADD IX,BC;INC DE;DEC IY;RLCA;RRA;RLC B;RR (HL);SLA (IX+%d);SRL A;BIT 3,(HL);SET 7,(IY+%d);RES 0,A
JP %l;JP NZ,%l;JP (HL);jp pe,%l;JR $+2;JR NC,$-%s;DJNZ $;CALL %l;CALL Z,%l;RET;RET NC;RETI;RST 28H
IN A,(%b);IN D,(C);OUT (%b),A;OUT (C),E;OTIR;INI
LD A,HIGH %l;LD A,LOW(%l+%b);LD HL,%l-%l+5*%c;LD A,~%b&7FH;LD A,'x'+80H;LD BC,(%c+1)*2-1
DEFB %b,%b,%b;DEFB "text",0DH,0AH,0;DB 4 DUP(%b);DEFW %l,%c,$;DEFS 3,0FFH;DW 0`

// generate makes a program of about so many lines, always the same: code of
// many forms with remarks, and where a chip of 64K is full, remarks, constants
// and conditionals. Two lines in a hundred are in an expansion.
func generate(lines int) string {
	forms := strings.FieldsFunc(generatedForms, func(c rune) bool { return c == ';' || c == '\n' })
	r := rand.New(rand.NewSource(1)) // the same on every machine
	var b strings.Builder
	b.WriteString("\tCAPACITY 64K\n\nwait\tMACRO n\n\tLOCAL again\n\tLD B,n\nagain:\tDJNZ again\n\tENDM\nl0:\nc0\tEQU 7\n")
	labels, constants, n, room := 1, 1, 9, 60_000
	label := func() string { return fmt.Sprintf("l%d", r.Intn(labels)) }
	constant := func() string { return fmt.Sprintf("c%d", r.Intn(constants)) }
	for ; n < lines; n++ {
		left := lines - n
		switch k := r.Intn(100); {
		case r.Intn(left) >= room/3 || k < 20:
			switch k % 4 {
			case 0:
				fmt.Fprintf(&b, "; what the lines from here on are for, number %d\n", n)
			case 1:
				b.WriteByte('\n')
			case 2:
				fmt.Fprintf(&b, "c%d\tEQU\t%d+%s\t; a value\n", constants, r.Intn(200), "5")
				constants++
			case 3:
				b.WriteString("\tIF 0\n\tthis is left out, isn't it\n\tENDIF\n")
				n += 2
			}
		case k < 21:
			fmt.Fprintf(&b, "\twait %d\n", r.Intn(256))
			room -= 3
		default:
			form := forms[r.Intn(len(forms))]
			for strings.Contains(form, "%") {
				i := strings.IndexByte(form, '%')
				with := ""
				switch form[i+1] {
				case 'l':
					with = label()
				case 'c':
					with = constant()
				case 'b':
					with = [...]string{fmt.Sprint(r.Intn(256)), fmt.Sprintf("0%02XH", r.Intn(256)), fmt.Sprintf("$%02x", r.Intn(256))}[r.Intn(3)]
				case 'd', 's':
					with = fmt.Sprint(r.Intn(100))
				}
				form = form[:i] + with + form[i+2:]
			}
			if r.Intn(6) == 0 {
				fmt.Fprintf(&b, "l%d:", labels)
				labels++
			}
			b.WriteByte('\t')
			b.WriteString(form)
			if r.Intn(3) == 0 {
				b.WriteString("\t; a remark")
			}
			b.WriteByte('\n')
			room -= 3
		}
	}
	return b.String()
}

func TestGenerate(t *testing.T) {
	for _, n := range []int{100, 16_000, 100_000} {
		text := generate(n)
		require.InDelta(t, n, strings.Count(text, "\n"), 4)
		p := Assemble("x.asm", text, Options{})
		require.NoError(t, p.Diags.Err())
		checkSound(t, p)
		require.Equal(t, snapshot(p), snapshot(Assemble("x.asm", text, Options{NoShapeMemo: true})))
		t.Logf("%d lines: %d bytes, %d shapes", n, p.Image.Used(), p.run.parser.Shapes())
	}
}

func benchmarkLines(b *testing.B, lines int) {
	text := generate(lines)
	n := float64(strings.Count(text, "\n"))
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	for b.Loop() {
		if p := Assemble("x.asm", text, Options{}); p.Image == nil {
			b.Fatal(p.Diags.Err())
		}
	}
	runtime.ReadMemStats(&after)
	runs := float64(b.N)
	b.ReportMetric(n*runs/b.Elapsed().Seconds(), "lines/s")
	b.ReportMetric(float64(after.TotalAlloc-before.TotalAlloc)/runs/n, "B/line")
	b.ReportMetric(float64(after.Mallocs-before.Mallocs)/runs/n, "allocs/line")
}

func BenchmarkAssemble16k(b *testing.B)  { benchmarkLines(b, 16_000) }
func BenchmarkAssemble100k(b *testing.B) { benchmarkLines(b, 100_000) }
