package listing

import (
	"flag"
	"fmt"
	"io"
	"testing"
)

var update = flag.Bool("update", false, "write the golden files anew")

// sampleRows gives n rows as an ordinary program has them: three short
// instructions and a remark in turn.
func sampleRows(n int) []Row {
	rows := make([]Row, n)
	addr := 0
	for i := range rows {
		r := Row{Addr: addr, RunAddr: -1, File: "a.asm", Line: fmt.Sprint(i + 1)}
		switch i % 4 {
		case 0:
			r.Bytes, r.T, r.Text = []byte{0x21, byte(i), byte(i >> 8)}, "10", fmt.Sprintf("l%d:\tLD HL,%d", i, i&0xFFFF)
		case 1:
			r.Bytes, r.T, r.Text = []byte{0x7E}, "7", "\tLD A,(HL)\t; the next one"
		case 2:
			r.Bytes, r.T, r.Text = []byte{0x20, 0xFC}, "12/7", fmt.Sprintf("\tJR NZ,l%d", i-2)
		default:
			r.Addr, r.Text = -1, "; and so on"
		}
		addr = (addr + len(r.Bytes)) & 0x7FFF
		rows[i] = r
	}
	return rows
}

func BenchmarkWriter(b *testing.B) {
	rows := sampleRows(4096)
	b.ReportAllocs()
	w := NewWriter(io.Discard, Header{Source: "a.asm", Capacity: 32768, Copies: 1, Entry: -1})
	for i := 0; i < b.N; i++ {
		w.Row(&rows[i%len(rows)])
	}
}

// Eight bytes at once must say what one byte at a time says.
func TestAllPlain(t *testing.T) {
	for pos := range 8 {
		for c := range 256 {
			for _, rest := range []byte{'a', ' ', '~', '!', 0x5B, 0x5D} {
				b := []byte{rest, rest, rest, rest, rest, rest, rest, rest}
				b[pos] = byte(c)
				want := plain(byte(c)) && c != '\t'
				if allPlain(string(b)) != want {
					t.Fatalf("%q at %d: %v", b, pos, !want)
				}
			}
		}
	}
}
