package xmodem

import (
	"bytes"
	"maps"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// drawFaults draws up to n faults over the first span bytes of one direction.
func drawFaults(t *rapid.T, name string, n, span int) map[int]fault {
	out := map[int]fault{}
	for range rapid.IntRange(0, n).Draw(t, name) {
		at := rapid.IntRange(0, span).Draw(t, "at")
		f := out[at]
		switch rapid.SampledFrom([]string{"lose", "double", "flip", "noise", "control", "late", "silence"}).Draw(t, "kind") {
		case "lose":
			f.lose = true
		case "double":
			f.double = true
		case "flip":
			f.flip = rapid.ByteRange(1, 255).Draw(t, "flip")
		case "noise":
			f.noise = rapid.SliceOfN(rapid.Byte(), 1, 4).Draw(t, "noise")
		case "control":
			f.noise = rapid.SliceOfN(rapid.SampledFrom([]byte{0x06, 0x15, 0x18, 'C', 0x04, 0x01}), 1, 3).Draw(t, "control")
		case "late":
			f.late = time.Duration(rapid.IntRange(1, 15000).Draw(t, "late")) * time.Millisecond
		case "silence":
			for i := range rapid.IntRange(1, 600).Draw(t, "silence") {
				out[at+i] = fault{lose: true}
			}
			f.lose = true
		}
		out[at] = f
	}
	return out
}

// TestFaultSchedules is the promise of the package: whatever the line does to
// bytes in both directions, the received file equals the image or the sender
// reports failure.
//
// Two things are beyond any sender and left out or set apart: damage to a block
// that leaves its check intact, and an ACK that the receiver never sent (noise,
// or a NAK with three bits flipped). Doubled and late ACKs are in.
func TestFaultSchedules(t *testing.T) {
	outcome := map[string]int{}
	rapid.Check(t, func(rt *rapid.T) {
		size := 128 * rapid.IntRange(1, 20).Draw(rt, "blocks")
		src := rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "image"), 0))
		img := make([]byte, size)
		for i := range img {
			img[i] = byte(src.Uint32())
		}
		opt := Options{Block: rapid.SampledFrom([]int{128, 1024}).Draw(rt, "block")}
		ropt := ReceiveOptions{
			Checksum:       rapid.Bool().Draw(rt, "checksum"),
			RefuseFirstEOT: rapid.Bool().Draw(rt, "refuse"),
			Purge:          time.Duration(rapid.SampledFrom([]int{10, 100, 250, 400, 1000, 2000}).Draw(rt, "purge")) * time.Millisecond,
		}
		perByte := time.Duration(rapid.SampledFrom([]int{0, 30, 1000, 9000}).Draw(rt, "µs a byte")) * time.Microsecond
		blind := false // a damaged block's check matched: the protocol's own limit
		ropt.Store = func(n int, data []byte) error {
			time.Sleep(perByte * time.Duration(len(data)))
			if !bytes.Contains(img, data) {
				blind = true
			}
			return nil
		}
		l := newLine(drawFaults(rt, "to the receiver", 8, size+size/20), drawFaults(rt, "to the sender", 8, size/128+2))
		l.back.honest = true
		r := transfer(t, img, opt, l, ropt)

		sends := map[byte]int{}
		for _, p := range l.to.writes {
			if len(p) > 128 {
				sends[p[1]]++
			}
		}
		for n, k := range sends {
			require.LessOrEqual(rt, k, MaxTries, "tries at block %d", n)
		}
		require.Less(rt, r.took, time.Minute+time.Duration(len(sends)+1)*MaxTries*25*time.Second)
		switch {
		case blind:
			outcome["damage that the check cannot see"]++
		case r.err != nil:
			var e *Error
			require.ErrorAs(rt, r.err, &e)
			outcome["failure reported"]++
		default:
			require.True(rt, bytes.Equal(img, r.got), "a silent difference: %d of %d bytes received, receiver: %v", len(r.got), len(img), r.recvErr)
			outcome["received"]++
			if r.recvErr != nil {
				outcome["received, end not seen by the receiver"]++
			}
		}
	})
	for _, k := range slices.Sorted(maps.Keys(outcome)) {
		t.Logf("%4d %s", outcome[k], k)
	}
	if !t.Failed() {
		require.Positive(t, outcome["received"])
		require.Positive(t, outcome["failure reported"])
	}
}
