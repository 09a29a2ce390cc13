//go:build !windows

package xmodem

import (
	"context"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/creack/pty"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/term"
)

// TestPseudoTerminal runs a transfer over the kernel's own line discipline,
// with a Read that blocks.
func TestPseudoTerminal(t *testing.T) {
	for name, opt := range map[string]Options{"short": {}, "long": {Block: LongBlock}} {
		t.Run(name, func(t *testing.T) {
			far, near, err := pty.Open()
			if err != nil {
				t.Skipf("no pseudo-terminal here: %v", err)
			}
			defer far.Close()
			defer near.Close()
			raw, err := near.SyscallConn() // Fd would make Close wait for Read
			require.NoError(t, err)
			require.NoError(t, raw.Control(func(fd uintptr) { _, err = term.MakeRaw(int(fd)) }))
			require.NoError(t, err)

			img := make([]byte, 32768)
			src := rand.New(rand.NewPCG(1, 2))
			for i := range img {
				img[i] = byte(src.Uint32())
			}
			type received struct {
				data []byte
				err  error
			}
			done := make(chan received, 1)
			go func() {
				data, err := Receive(far, ReceiveOptions{RefuseFirstEOT: true})
				done <- received{data, err}
			}()
			ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
			defer cancel()
			stats, err := Send(ctx, near, img, opt)
			require.NoError(t, err)
			got := <-done
			require.NoError(t, got.err)
			require.Equal(t, img, got.data)
			assert.Equal(t, 1, stats.Retries, "the refused EOT only")
			assert.Equal(t, 32768, stats.Bytes)
		})
	}
}
