package xmodem

import (
	"bytes"
	"context"
	"errors"
	"io"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// image gives n bytes in which every block of 128 differs from its neighbours
// and every value occurs, the protocol's own bytes among them.
func image(n int) []byte {
	p := make([]byte, n)
	for i := range p {
		p[i] = byte(i + i/128*7 + i/1024)
	}
	return p
}

// Source: the catalogue of parametrised CRC algorithms, CRC-16/XMODEM, check
// value of "123456789".
func TestCRCCheckValue(t *testing.T) {
	assert.Equal(t, uint16(0x31C3), crc16([]byte("123456789")))
	assert.Equal(t, 0x31C3, remainder([]byte("123456789")), "the receiver's own")
	assert.Equal(t, uint16(0), crc16(nil))
}

func TestCRCAgainstReceiver(t *testing.T) {
	for n := range 300 {
		require.Equal(t, remainder(image(n)), int(crc16(image(n))), "%d bytes", n)
	}
}

// The byte layout of the protocol reference (from memory): SOH, number, 255 -
// number, 128 data bytes, check; STX for 1024; the number starts at 1 and wraps
// from 255 to 0.
func TestFrameLayout(t *testing.T) {
	data := image(300 * 128)
	s := &session{image: data, size: len(data), blocks: 300, mode: CRC, opt: Options{Block: ShortBlock}}
	s.begin(0)
	f := s.frame()
	require.Len(t, f, 133)
	assert.Equal(t, []byte{0x01, 0x01, 0xFE}, f[:3])
	assert.Equal(t, data[:128], f[3:131])
	assert.Equal(t, remainder(data[:128]), int(f[131])<<8|int(f[132]), "high byte first")

	s.mode = Checksum
	f = s.frame()
	require.Len(t, f, 132)
	total := 0
	for _, b := range data[:128] {
		total += int(b)
	}
	assert.Equal(t, byte(total), f[131])

	for off := 128; off <= 256*128; off += 128 {
		s.begin(off)
	}
	assert.Equal(t, []byte{0x01, 0x01, 0xFE}, s.frame()[:3], "block 257 is number 1 again")

	s = &session{image: data, size: len(data), blocks: 44, mode: CRC, opt: Options{Block: LongBlock}}
	s.begin(0)
	f = s.frame()
	require.Len(t, f, 1029)
	assert.Equal(t, []byte{0x02, 0x01, 0xFE}, f[:3])
	assert.Equal(t, data[:1024], f[3:1027])
}

// result is what came of a transfer over a test line.
type result struct {
	stats    Stats
	err      error
	got      []byte
	recvErr  error
	took     time.Duration
	progress []Progress
}

// transfer sends img over l to the package's receiver in fake time.
func transfer(t *testing.T, img []byte, opt Options, l line, ropt ReceiveOptions) (r result) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		opt.ByteTime = byteTime
		opt.Progress = func(p Progress) { r.progress = append(r.progress, p) }
		done := make(chan struct{})
		go func() {
			defer close(done)
			r.got, r.recvErr = Receive(l.receiver(), ropt)
		}()
		began := time.Now()
		r.stats, r.err = Send(t.Context(), l.sender(), img, opt)
		r.took = time.Since(began)
		<-done
		l.close()
	})
	return r
}

func requireSent(t *testing.T, img []byte, r result) {
	t.Helper()
	require.NoError(t, r.err)
	require.NoError(t, r.recvErr)
	require.True(t, bytes.Equal(img, r.got), "the received file differs")
}

func requireFailure(t *testing.T, r result, kind Kind) *Error {
	t.Helper()
	var e *Error
	require.ErrorAs(t, r.err, &e)
	require.Equal(t, kind, e.Kind, "%v", e)
	return e
}

func TestCleanTransfer(t *testing.T) {
	for _, c := range []struct {
		name   string
		size   int
		block  int
		sum    bool
		frames int // bytes of all frames, worked out by hand
		blocks int
	}{
		{"32K in CRC mode", 32768, 128, false, 256 * 133, 256},
		{"32K in checksum mode", 32768, 0, true, 256 * 132, 256},
		{"32K in blocks of 1024", 32768, 1024, false, 32 * 1029, 32},
		{"1024 with a tail of three short blocks", 2048 + 384, 1024, false, 2*1029 + 3*133, 5},
		{"1024 of a short image", 256, 1024, false, 2 * 133, 2},
		{"1024 in checksum mode", 1024 + 128, 1024, true, 1028 + 132, 2},
		{"one block", 128, 128, false, 133, 1},
		{"more than 256 blocks", 300 * 128, 128, false, 300 * 133, 300},
	} {
		t.Run(c.name, func(t *testing.T) {
			img := image(c.size)
			l := newLine(nil, nil)
			r := transfer(t, img, Options{Block: c.block}, l, ReceiveOptions{Checksum: c.sum})
			requireSent(t, img, r)
			// EOT is the one byte above the frames, so the bytes on the line
			// are the protocol's minimum exactly.
			assert.Equal(t, c.frames+1, len(l.to.sent))
			assert.Equal(t, c.frames+1, r.stats.LineBytes)
			assert.Equal(t, c.blocks, r.stats.Blocks)
			assert.Equal(t, c.size, r.stats.Bytes)
			assert.Zero(t, r.stats.Retries)
			assert.Zero(t, r.stats.Padding)
			require.Len(t, r.progress, c.blocks+1)
			last := r.progress[c.blocks]
			assert.Equal(t, Progress{r.stats.Mode, c.blocks, c.blocks, c.size, c.size, 0}, last)
		})
	}
}

// The bound: nothing is waited for between an ACK and the next block.
func TestNoWaitAfterAck(t *testing.T) {
	img := image(32768)
	l := newLine(nil, nil)
	requireSent(t, img, transfer(t, img, Options{}, l, ReceiveOptions{}))
	for n := 1; n < 256; n++ {
		// The receiver's nth answer (after its C) is on the line for one byte time.
		arrived := l.back.times[n].Add(byteTime)
		require.Equal(t, time.Duration(0), l.to.times[n*133].Sub(arrived), "block %d", n+1)
	}
}

func TestSizes(t *testing.T) {
	for _, n := range []int{0, 1, 127, 129, 32767} {
		_, err := Send(t.Context(), nothing{}, image(n), Options{Pad: n == 0})
		var e *SizeError
		require.ErrorAs(t, err, &e, "%d bytes", n)
		assert.Equal(t, n, e.Size)
		assert.Equal(t, (128-n%128)%128, e.Missing)
	}
	_, err := Send(t.Context(), nothing{}, image(128), Options{Block: 256})
	require.Error(t, err)
}

type nothing struct{}

func (nothing) Read([]byte) (int, error)    { return 0, io.EOF }
func (nothing) Write(p []byte) (int, error) { return 0, io.EOF }

func TestPadding(t *testing.T) {
	for _, n := range []int{1, 100, 129, 1024 + 1} {
		for _, block := range []int{128, 1024} {
			img := image(n)
			r := transfer(t, img, Options{Block: block, Pad: true}, newLine(nil, nil), ReceiveOptions{})
			fill := bytes.Repeat([]byte{0x1A}, (128-n%128)%128)
			requireSent(t, append(bytes.Clone(img), fill...), r)
			assert.Equal(t, len(fill), r.stats.Padding)
			assert.Equal(t, n, r.stats.Bytes)
		}
	}
}

func TestReceiverNeverAsks(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := newLine(nil, nil)
		began := time.Now()
		_, err := l.receiver().Write([]byte("Unknown command: 'S'\r\n> "))
		require.NoError(t, err)
		_, err = Send(t.Context(), l.sender(), image(256), Options{})
		assert.Equal(t, time.Minute, time.Since(began))
		var e *Error
		require.ErrorAs(t, err, &e)
		assert.Equal(t, NoRequest, e.Kind)
		assert.Equal(t, "block 1 of 2 (bytes 0000H to 007FH)", e.Place())
		assert.Contains(t, e.Error(), `"Unknown command: 'S'\r\n> "`)
		assert.Empty(t, l.to.sent, "nothing may be sent before the receiver asks")
		l.close()
	})
}

func TestSilentLine(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := newLine(nil, nil)
		began := time.Now()
		_, err := Send(t.Context(), l.sender(), image(256), Options{Wait: 7 * time.Second})
		assert.Equal(t, 7*time.Second, time.Since(began))
		assert.EqualError(t, err, "the receiver never asked for block 1 of 2 (bytes 0000H to 007FH)")
		l.close()
	})
}

// Text that holds a C, then the request.
func TestConsoleNoiseBeforeRequest(t *testing.T) {
	for _, text := range []string{"Ready, CHIP = 28C256\r\nC: send file\r\n", "C", "CC", "\x15x", "\x18x\x18", "\x00\xFF\xC3"} {
		img := image(1024)
		r := transfer(t, img, Options{}, newLine(nil, map[int]fault{0: {noise: []byte(text)}}), ReceiveOptions{})
		requireSent(t, img, r)
		assert.Equal(t, CRC, r.stats.Mode)
		assert.Zero(t, r.stats.Retries, "%q must not be taken for the request", text)
	}
}

// A receiver that asked long before anyone listened.
func TestStaleRequests(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := newLine(nil, nil)
		_, err := l.receiver().Write([]byte("CCCCCCCCCC"))
		require.NoError(t, err)
		time.Sleep(time.Minute)
		var got []byte
		done := make(chan struct{})
		go func() { defer close(done); got, _ = Receive(l.receiver(), ReceiveOptions{}) }()
		stats, err := Send(t.Context(), l.sender(), image(2048), Options{ByteTime: byteTime})
		require.NoError(t, err)
		<-done
		assert.Equal(t, image(2048), got)
		assert.Zero(t, stats.Retries)
		l.close()
	})
}

func TestRetries(t *testing.T) {
	img := image(1024)
	for name, f := range map[string]map[int]fault{
		"damaged data":        {133*2 + 50: {flip: 0x55}},
		"damaged first byte":  {133 * 2: {flip: 0x03}},
		"damaged number":      {133*2 + 1: {flip: 0x80}},
		"damaged complement":  {133*2 + 2: {flip: 0x01}},
		"damaged CRC":         {133*2 + 132: {flip: 0x01}},
		"lost byte":           {133*2 + 9: {lose: true}},
		"lost first byte":     {133 * 2: {lose: true}},
		"doubled byte":        {133*2 + 60: {double: true}},
		"doubled first byte":  {133 * 2: {double: true}},
		"noise before it":     {133 * 2: {noise: []byte{0x00, 0xFF}}},
		"first block damaged": {70: {flip: 0x01}},
		"first block's start": {0: {lose: true}},
		"last block damaged":  {133*7 + 70: {flip: 0x20}},
		"EOT lost":            {133 * 8: {lose: true}},
		"EOT damaged":         {133 * 8: {flip: 0x40}},
		"EOT doubled":         {133 * 8: {double: true}},
	} {
		t.Run(name, func(t *testing.T) {
			r := transfer(t, img, Options{}, newLine(f, nil), ReceiveOptions{})
			requireSent(t, img, r)
			if name != "EOT doubled" {
				assert.Positive(t, r.stats.Retries)
			}
			// A second is listened for by the receiver, ten by the sender.
			assert.Less(t, r.took, 30*time.Second)
		})
	}
}

func TestAnswerFaults(t *testing.T) {
	img := image(1024)
	for name, f := range map[string]map[int]fault{
		"ACK lost":             {3: {lose: true}},
		"ACK damaged":          {3: {flip: 0x20}},
		"ACK doubled":          {3: {double: true}},
		"every ACK doubled":    {1: {double: true}, 2: {double: true}, 3: {double: true}, 4: {double: true}, 5: {double: true}, 6: {double: true}, 7: {double: true}, 8: {double: true}},
		"ACK 12 s late":        {3: {late: 12 * time.Second}},
		"ACK 9 s late":         {3: {late: 9 * time.Second}},
		"one CAN":              {3: {noise: []byte{0x18}}},
		"noise":                {3: {noise: []byte("noise")}},
		"first ACK lost":       {1: {lose: true}},
		"last ACK lost":        {8: {lose: true}},
		"last ACK doubled":     {8: {double: true}},
		"EOT's ACK late":       {9: {late: 5 * time.Second}},
		"request lost":         {0: {lose: true}},
		"request doubled":      {0: {double: true}},
		"request damaged":      {0: {flip: 0x01}},
		"a request crossing":   {1: {noise: []byte("C")}},
		"a NAK too many":       {4: {noise: []byte{0x15}}},
		"a NAK behind the ACK": {5: {noise: []byte{0x06, 0x15}, lose: true}},
	} {
		t.Run(name, func(t *testing.T) {
			r := transfer(t, img, Options{}, newLine(nil, f), ReceiveOptions{})
			requireSent(t, img, r)
			// At most one answer's time, one for what is late, one for what is
			// unaccounted for at the end; and no repeating at the end.
			assert.Less(t, r.took, 50*time.Second)
			assert.LessOrEqual(t, r.stats.Retries, 4)
		})
	}
}

// The receiver complains after ten seconds of silence. A sender that listens at
// the end for longer than that would repeat the last block for ever.
func TestEndIsNotListenedToTooLong(t *testing.T) {
	for _, block := range []int{ShortBlock, LongBlock} {
		for name, l := range map[string]line{
			"the first block's start is lost": newLine(map[int]fault{0: {lose: true}}, nil),
			"an ACK is lost":                  newLine(nil, map[int]fault{2: {lose: true}}),
			"two ACKs are lost":               newLine(nil, map[int]fault{2: {lose: true}, 4: {lose: true}}),
		} {
			img := image(4096)
			r := transfer(t, img, Options{Block: block}, l, ReceiveOptions{})
			requireSent(t, img, r)
			assert.LessOrEqual(t, r.stats.Retries, 4, name)
			assert.Less(t, r.took, 70*time.Second, name)
		}
	}
}

// A doubled ACK puts the sender one answer ahead; then the last block is
// damaged. Without care EOT would follow and the file would end short.
func TestDoubledAckAndDamagedLastBlock(t *testing.T) {
	img := image(1024)
	for at := 1; at <= 7; at++ {
		for _, late := range []time.Duration{0, byteTime, time.Millisecond, 20 * time.Millisecond} {
			l := newLine(map[int]fault{133*7 + 70: {flip: 1}}, map[int]fault{at: {double: true}})
			if late > 0 { // the second ACK comes by itself, in front of the next answer
				l = newLine(map[int]fault{133*7 + 70: {flip: 1}}, map[int]fault{at + 1: {noise: []byte{0x06}}})
			}
			r := transfer(t, img, Options{}, l, ReceiveOptions{})
			if r.err == nil {
				requireSent(t, img, r)
			}
		}
	}
}

func TestFirstEOTRefused(t *testing.T) {
	img := image(512)
	l := newLine(nil, nil)
	r := transfer(t, img, Options{}, l, ReceiveOptions{RefuseFirstEOT: true})
	requireSent(t, img, r)
	assert.Equal(t, 1, r.stats.Retries)
	assert.Equal(t, []byte{eot, eot}, l.to.sent[4*133:], "EOT again, not the block")
}

// A chip that is written byte by byte: 10 ms a byte, 10.24 s a long block.
func TestSlowChip(t *testing.T) {
	for _, block := range []int{128, 1024} {
		img := image(2048)
		r := transfer(t, img, Options{Block: block}, newLine(nil, nil), ReceiveOptions{Store: func(_ int, data []byte) error {
			time.Sleep(time.Duration(len(data)) * 10 * time.Millisecond)
			return nil
		}})
		requireSent(t, img, r)
		assert.Zero(t, r.stats.Retries)
	}
}

func TestReceiverCancels(t *testing.T) {
	full := errors.New("chip full")
	l := newLine(nil, nil)
	r := transfer(t, image(1024), Options{}, l, ReceiveOptions{Store: func(n int, _ []byte) error {
		if n == 5 {
			return full
		}
		return nil
	}})
	require.ErrorIs(t, r.recvErr, full)
	e := requireFailure(t, r, Cancelled)
	assert.Equal(t, 5, e.Block)
	assert.Equal(t, "the receiver cancelled the transfer at block 5 of 8 (bytes 0200H to 027FH)", e.Error())
	assert.Equal(t, 4, r.stats.Blocks)
	assert.Len(t, l.to.sent, 5*133)
}

func TestReceiverCancelsBeforeAsking(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := newLine(nil, nil)
		_, err := l.receiver().Write([]byte("\x18\x18\x18\b\b\bno chip\r\n> "))
		require.NoError(t, err)
		began := time.Now()
		_, err = Send(t.Context(), l.sender(), image(256), Options{})
		var e *Error
		require.ErrorAs(t, err, &e)
		assert.Equal(t, Cancelled, e.Kind)
		assert.Less(t, time.Since(began), 5*time.Second)
		l.close()
	})
}

// A cancel left over from the run before, then a receiver that asks.
func TestStaleCancel(t *testing.T) {
	img := image(256)
	r := transfer(t, img, Options{}, newLine(nil, map[int]fault{0: {noise: []byte("\x18\x18")}}), ReceiveOptions{})
	requireSent(t, img, r)
}

// answers plays a receiver that answers each block by a script.
func answers(l line, frames int, reply func(n int) []byte) {
	var p [1]byte
	_, _ = l.receiver().Write([]byte("C"))
	for n := 1; ; n++ {
		for range frames {
			if _, err := l.to.Read(p[:]); err != nil {
				return
			}
		}
		_, _ = l.receiver().Write(reply(n))
	}
}

func TestTenTriesThenCancel(t *testing.T) {
	for _, c := range []struct {
		name  string
		reply []byte
		kind  Kind
		most  time.Duration
		text  string
	}{
		{"NAK", []byte{0x15}, Refused, time.Second, "the receiver refused block 1 of 2 (bytes 0000H to 007FH) in 10 tries"},
		{"silence", nil, NoAnswer, 111 * time.Second, "no answer to block 1 of 2 (bytes 0000H to 007FH) in 10 tries"},
		{"garbage", []byte{0xE0, 0x8F, 0x00}, NoAnswer, 111 * time.Second, "no answer to block 1 of 2 (bytes 0000H to 007FH) in 10 tries; 30 unexpected bytes came instead, the last of them 00 E0 8F 00 E0 8F 00 E0 8F 00 E0 8F 00 E0 8F 00"},
		{"C for ever", []byte("C"), NoAnswer, 12 * time.Second, "no answer to block 1 of 2 (bytes 0000H to 007FH) in 10 tries"},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				l := newLine(nil, nil)
				go answers(l, 133, func(int) []byte { return c.reply })
				began := time.Now()
				stats, err := Send(t.Context(), l.sender(), image(256), Options{ByteTime: byteTime})
				assert.LessOrEqual(t, time.Since(began), c.most)
				assert.EqualError(t, err, c.text)
				var e *Error
				require.ErrorAs(t, err, &e)
				assert.Equal(t, c.kind, e.Kind)
				assert.Equal(t, 10, e.Tries)
				assert.Equal(t, 9, stats.Retries)
				assert.Len(t, l.to.sent, 10*133+2)
				assert.Equal(t, []byte{0x18, 0x18}, l.to.sent[10*133:])
				l.close()
			})
		})
	}
}

// Ten tries are ten for a block that fails again after its ACK, too.
func TestNeverMoreThanTenTries(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := newLine(nil, nil)
		go answers(l, 133, func(n int) []byte {
			if n == 1 {
				return []byte{0x06}
			}
			return []byte{0x06, 0x15} // says yes and no
		})
		_, err := Send(t.Context(), l.sender(), image(512), Options{ByteTime: byteTime})
		var e *Error
		require.ErrorAs(t, err, &e)
		assert.Equal(t, Refused, e.Kind)
		l.close()
		seen := map[byte]int{}
		for off := 0; off+133 <= len(l.to.sent); off += 133 {
			seen[l.to.sent[off+1]]++
		}
		for number, n := range seen {
			assert.LessOrEqual(t, n, 10, "block %d", number)
		}
	})
}

func TestEndNeverAcknowledged(t *testing.T) {
	for _, reply := range [][]byte{nil, {0x15}} {
		synctest.Test(t, func(t *testing.T) {
			l := newLine(nil, nil)
			go func() {
				var p [1]byte
				_, _ = l.receiver().Write([]byte("C"))
				for n := 1; ; n++ {
					if _, err := l.to.Read(p[:]); err != nil {
						return
					}
					if n == 133 {
						_, _ = l.receiver().Write([]byte{0x06})
					}
					if n > 133 {
						_, _ = l.receiver().Write(reply)
					}
				}
			}()
			began := time.Now()
			stats, err := Send(t.Context(), l.sender(), image(128), Options{ByteTime: byteTime})
			var e *Error
			require.ErrorAs(t, err, &e)
			assert.Equal(t, EndUnproved, e.Kind)
			assert.Equal(t, 1, stats.Blocks)
			assert.LessOrEqual(t, time.Since(began), 112*time.Second)
			assert.Equal(t, append(bytes.Repeat([]byte{0x04}, 10), 0x18, 0x18), l.to.sent[133:])
			l.close()
		})
	}
}

func TestUnplugged(t *testing.T) {
	for _, cut := range []int{133*2 + 40, 133} {
		l := newLine(nil, nil)
		l.to.cut = cut
		r := transfer(t, image(1024), Options{}, l, ReceiveOptions{})
		e := requireFailure(t, r, LineLost)
		assert.Equal(t, cut/133+1, e.Block)
		require.ErrorIs(t, r.err, errUnplugged)
		assert.Contains(t, e.Error(), "the line was lost at block")
	}
	// Our own side ends while it waits for an answer.
	synctest.Test(t, func(t *testing.T) {
		l := newLine(nil, nil)
		go answers(l, 133, func(int) []byte { return nil })
		time.AfterFunc(5*time.Second, l.back.close)
		_, err := Send(t.Context(), l.sender(), image(256), Options{})
		assert.EqualError(t, err, "the line was lost at block 1 of 2 (bytes 0000H to 007FH): EOF")
		l.close()
	})
}

func TestInterrupted(t *testing.T) {
	for name, at := range map[string]time.Duration{"before the request": time.Second, "during a block": 3075 * time.Millisecond} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				l := newLine(nil, nil)
				ctx, cancel := context.WithCancel(t.Context())
				time.AfterFunc(at, cancel)
				done := make(chan error)
				go func() {
					time.Sleep(3 * time.Second)
					_, err := Receive(l.receiver(), ReceiveOptions{})
					done <- err
				}()
				_, err := Send(ctx, l.sender(), image(32768), Options{ByteTime: byteTime})
				require.ErrorIs(t, err, context.Canceled)
				var e *Error
				require.ErrorAs(t, err, &e)
				assert.Equal(t, Interrupted, e.Kind)
				assert.True(t, e.Told)
				sent := l.to.sent
				assert.Equal(t, []byte{0x18, 0x18}, sent[len(sent)-2:])
				assert.Zero(t, (len(sent)-2)%133, "a block that was begun is ended first")
				require.ErrorContains(t, <-done, "the sender cancelled")
				l.close()
			})
		})
	}
}

// blocked takes no bytes, like a port whose other side holds it.
type blocked struct {
	in   *wire
	free chan struct{}
}

func (b blocked) Read(p []byte) (int, error)  { return b.in.Read(p) }
func (b blocked) Write(p []byte) (int, error) { <-b.free; return 0, errUnplugged }

func TestStuckLine(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := blocked{newWire(nil), make(chan struct{})}
		_, _ = b.in.Write([]byte("C"))
		began := time.Now()
		_, err := Send(t.Context(), b, image(256), Options{})
		assert.EqualError(t, err, "the line took no more bytes at block 1 of 2 (bytes 0000H to 007FH)")
		assert.Less(t, time.Since(began), 11*time.Second)
		close(b.free)
		b.in.close()
	})
}

func TestStuckLineInterrupted(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := blocked{newWire(nil), make(chan struct{})}
		_, _ = b.in.Write([]byte("C"))
		ctx, cancel := context.WithCancel(t.Context())
		time.AfterFunc(time.Second, cancel)
		began := time.Now()
		_, err := Send(ctx, b, image(256), Options{})
		var e *Error
		require.ErrorAs(t, err, &e)
		assert.Equal(t, Interrupted, e.Kind)
		assert.False(t, e.Told, "it could not be told")
		assert.Less(t, time.Since(began), 3*time.Second)
		close(b.free)
		b.in.close()
	})
}

// A port that returns from Read empty-handed, and one that talks without end.
func TestLineLimits(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		stop := make(chan struct{})
		l := NewLine(chatter{stop})
		time.Sleep(time.Minute)
		l.mu.Lock()
		n := len(l.buf)
		l.mu.Unlock()
		assert.LessOrEqual(t, n, lineBuffer+4096)
		p := make([]byte, 4096)
		for total := 0; total < 3*lineBuffer; {
			n, err := l.Read(t.Context(), p, time.Second)
			require.NoError(t, err)
			total += n
		}
		close(stop)
		for {
			if _, err := l.Read(t.Context(), p, time.Second); err != nil {
				require.ErrorIs(t, err, io.EOF)
				break
			}
		}
	})
}

type chatter struct{ stop chan struct{} }

func (c chatter) Read(p []byte) (int, error) {
	select {
	case <-c.stop:
		return 0, io.EOF
	default:
		return len(p), nil
	}
}
func (c chatter) Write(p []byte) (int, error) { return len(p), nil }
