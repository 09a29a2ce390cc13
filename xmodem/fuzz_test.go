package xmodem

import (
	"bytes"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
)

// FuzzSend gives the sender whatever a receiver may say. The script is pairs: a
// pause (in steps of 50 ms) and a byte. Whatever it is, the sender must end in
// bounded time, try no block more than ten times, and call the transfer done
// only when at least one ACK a block and one for EOT have come.
func FuzzSend(f *testing.F) {
	f.Add([]byte{0, 'C', 1, 6, 1, 6, 1, 6})
	f.Add([]byte{0, 0x15, 1, 6, 1, 0x15, 1, 6, 1, 6, 1, 6})
	f.Add([]byte{0, 'C', 1, 6, 0, 6, 0, 6, 0, 6, 1, 0x18, 0, 0x18})
	f.Add([]byte{0, 'x', 0, 'C', 0, '\r', 80, 'C', 20, 'C', 20, 6, 255, 6, 255, 6, 1, 0x15, 20, 0x15, 1, 6})
	f.Add([]byte{0, 0x18, 0, 0x18, 90, 'C', 0, 0x18, 0, 0x18})
	f.Fuzz(func(t *testing.T, script []byte) {
		if len(script) > 2000 {
			return
		}
		synctest.Test(t, func(t *testing.T) {
			l := newLine(nil, nil)
			var talk sync.WaitGroup // the script may go on behind the sender's end
			defer talk.Wait()
			talk.Go(func() {
				for i := 0; i+1 < len(script); i += 2 {
					time.Sleep(time.Duration(script[i]) * 50 * time.Millisecond)
					_, _ = l.back.Write(script[i+1 : i+2])
				}
			})
			began := time.Now()
			stats, err := Send(t.Context(), l.sender(), image(256), Options{ByteTime: byteTime})
			require.Less(t, time.Since(began), time.Hour)
			l.close()
			sends := map[byte]int{}
			for _, p := range l.to.writes {
				if len(p) > 128 {
					sends[p[1]]++
				}
			}
			for n, k := range sends {
				require.LessOrEqual(t, k, MaxTries, "block %d", n)
			}
			require.Equal(t, len(l.to.sent), stats.LineBytes)
			if err == nil {
				acks := 0
				for i := 1; i < len(script); i += 2 {
					if script[i] == 0x06 {
						acks++
					}
				}
				require.GreaterOrEqual(t, acks, 3)
				return
			}
			var e *Error
			require.ErrorAs(t, err, &e)
			require.Contains(t, e.Error(), e.Place())
		})
	})
}

// FuzzReceive gives the receiver whatever a sender may say: it must end, and
// what it keeps must have come as whole blocks with the right check.
func FuzzReceive(f *testing.F) {
	f.Add(append(testFrame(1, image(128)), 0x04), false)
	f.Add(append(append(testFrame(1, image(128)), testFrame(1, image(128))...), 0x04), false)
	f.Add([]byte{0x18, 0x18}, true)
	f.Add([]byte{0x01, 0x01, 0xFE, 0x02}, true)
	f.Add(append([]byte{0x04}, testFrame(2, image(1024))...), false)
	f.Fuzz(func(t *testing.T, said []byte, sum bool) {
		if len(said) > 20000 {
			return
		}
		synctest.Test(t, func(t *testing.T) {
			l := newLine(nil, nil)
			_, _ = l.to.Write(said)
			got, _ := Receive(l.receiver(), ReceiveOptions{Checksum: sum, Store: func(_ int, data []byte) error {
				check := crc16(data)
				tail := []byte{byte(check >> 8), byte(check)}
				if sum {
					tail = []byte{checksum(data)}
				}
				require.True(t, bytes.Contains(said, append(bytes.Clone(data), tail...)))
				return nil
			}})
			require.Zero(t, len(got)%128)
			l.close()
		})
	})
}

// testFrame is a block in CRC mode, put together by hand.
func testFrame(number byte, data []byte) []byte {
	f := []byte{0x01, number, 255 - number}
	if len(data) == 1024 {
		f[0] = 0x02
	}
	f = append(f, data...)
	check := remainder(data)
	return append(f, byte(check>>8), byte(check))
}
