package encoder

import (
	"bufio"
	"compress/gzip"
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// vector is the part of a data set entry that concerns lengths and timing.
type vector struct {
	Name    string
	Op      string
	Initial struct {
		PC  uint16
		R   uint8
		RAM [][2]int
	}
	Final struct {
		PC uint16
		R  uint8
	}
	Cycles [][3]any // address, data or null, pins, a T-state each
}

// vectors reads the open data set: testdata/bus-vectors.jsonl.gz and its README.
func vectors(t *testing.T) []vector {
	file, err := os.Open("../testdata/bus-vectors.jsonl.gz")
	require.NoError(t, err)
	defer file.Close()
	zip, err := gzip.NewReader(file)
	require.NoError(t, err)
	var list []vector
	for dec := json.NewDecoder(bufio.NewReader(zip)); dec.More(); {
		var v vector
		require.NoError(t, dec.Decode(&v))
		list = append(list, v)
	}
	return list
}

// strobes draws the pins of a timing as the data set does: one strobe a
// machine cycle, in its second T-state, for ports in the third; reads are
// fetches too.
func strobes(t Timing) string {
	var out []string
	for i, n := range t.Cycles {
		pins, at := "----", 1
		switch t.Kinds[i] {
		case Fetch, Read:
			pins = "r-m-"
		case Write:
			pins = "-wm-"
		case PortIn:
			pins, at = "r--i", 2
		case PortOut:
			pins, at = "-w-i", 2
		}
		for s := range n {
			if s == at {
				out = append(out, pins)
			} else {
				out = append(out, "----")
			}
		}
	}
	return strings.Join(out, " ")
}

// Every vector, documented and undocumented: the length that the program
// counter shows, the number of T-states, and the kind and place of each access
// on the bus. Which of two lengths holds is told by the program counter alone.
// Source: the open data set.
func TestTimingsAgainstTheDataSet(t *testing.T) {
	seen := map[string]map[string]bool{} // form: lengths seen
	ops := map[string]bool{}
	for _, v := range vectors(t) {
		ops[v.Op] = true
		memory := map[uint16]byte{}
		for _, cell := range v.Initial.RAM {
			memory[uint16(cell[0])] = byte(cell[1])
		}
		fetch := func(at uint16) []byte {
			return []byte{memory[at], memory[at+1], memory[at+2], memory[at+3]}
		}
		// A prefix that is not heeded is a form of its own, and the data set
		// goes on to the opcode after it.
		pc, want := v.Initial.PC, ""
		in, err := Decode(fetch(pc))
		require.NoError(t, err)
		for in.Form.Mnemonic() == DEFB && in.Len == 1 {
			want += strobes(in.Form.Timings()[0]) + " "
			pc++
			in, err = Decode(fetch(pc))
			require.NoError(t, err)
		}
		next := pc + uint16(in.Len)
		timing := in.Form.Timings()[0]
		switch {
		case timing.When == "taken" && v.Final.PC == next,
			timing.When == "repeating" && v.Final.PC != pc:
			timing = in.Form.Timings()[1]
		}
		want += strobes(timing)

		var got []string
		for _, c := range v.Cycles {
			got = append(got, c[2].(string))
		}
		assert.Equal(t, want, strings.Join(got, " "), "%s: %s %s", v.Name, in.Text(pc), timing.When)

		// The pins do not tell a fetch from a read, but R counts the fetches.
		fetches := int(pc - v.Initial.PC)
		for _, k := range timing.Kinds {
			if k == Fetch {
				fetches++
			}
		}
		if in.Text(pc) != "LD R,A" {
			assert.Equal(t, fetches, int(v.Final.R-v.Initial.R)&0x7F, "%s: fetches of %s", v.Name, in.Text(pc))
		}

		switch in.Form.Mnemonic() { // these go where no length shows
		case JP, JR, DJNZ, CALL, RET, RETI, RETN, RST, HALT:
		default:
			if timing.When != "repeating" {
				assert.Equal(t, next, v.Final.PC, "%s: length of %s", v.Name, in.Text(pc))
			}
		}
		key := fmt.Sprintf("%p", in.Form)
		if seen[key] == nil {
			seen[key] = map[string]bool{}
		}
		seen[key][timing.When] = true
	}
	assert.Len(t, ops, 1604)

	// No row stays without a vector but those that the set cannot have, and of
	// two lengths both are seen but where both of its vectors show the longer.
	for _, f := range Forms() {
		got := seen[fmt.Sprintf("%p", f)]
		if f.Mnemonic() == DEFB {
			assert.Empty(t, got, f.Syntax())
			continue
		}
		for _, tm := range f.Timings() {
			if !got[tm.When] {
				assert.Contains(t, []string{"LDIR ending", "LDDR ending", "CPDR ending", "OTDR ending"}, f.Syntax()+" "+tm.When)
			}
		}
	}
}
