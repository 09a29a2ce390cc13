package xmodem

import (
	"context"
	"errors"
	"io"
	"sync"
	"time"
)

// ErrTimeout is returned by Line.Read and Line.Byte when nothing came in time.
var ErrTimeout = errors.New("nothing arrived in time")

// ErrStuck is returned by Line.Write when the line took no more bytes in time.
// The bytes of that write may still go out, so nothing can follow them.
var ErrStuck = errors.New("the line takes no more bytes")

const (
	// lineBuffer bounds what is kept of a peer that talks without being asked.
	lineBuffer = 1 << 20
	// A write that has begun when the caller gives up gets this long to end,
	// so that what follows (CAN CAN) does not stand in the middle of a block.
	cancelGrace = time.Second
)

// Line reads and writes a serial line with time limits.
//
// A blocking Read cannot be taken back, so one goroutine reads for the whole
// life of the line and keeps what came; everything that talks on one line must
// therefore use the same Line. The goroutine ends when Read fails, which is
// what closing the port does.
//
// A Line is for one user at a time.
type Line struct {
	rw    io.ReadWriter
	stuck bool

	mu   sync.Mutex
	buf  []byte        // arrived, not yet taken
	err  error         // why the reader ended
	more chan struct{} // capacity 1: something arrived, or the reader ended
	room chan struct{} // capacity 1: something was taken from a full buffer
}

// NewLine starts reading from rw. The caller closes rw when done.
func NewLine(rw io.ReadWriter) *Line {
	l := &Line{rw: rw, more: make(chan struct{}, 1), room: make(chan struct{}, 1)}
	go l.read()
	return l
}

func signal(c chan struct{}) {
	select {
	case c <- struct{}{}:
	default:
	}
}

func (l *Line) read() {
	chunk := make([]byte, 4096)
	for {
		n, err := l.rw.Read(chunk)
		l.mu.Lock()
		l.buf = append(l.buf, chunk[:n]...)
		l.err = err
		full := len(l.buf) >= lineBuffer
		l.mu.Unlock()
		signal(l.more)
		if err != nil {
			return
		}
		if n == 0 {
			time.Sleep(time.Millisecond) // a reader with a time limit of its own must not make us spin
		}
		for full {
			<-l.room
			l.mu.Lock()
			full = len(l.buf) >= lineBuffer
			l.mu.Unlock()
		}
	}
}

// take moves what has arrived into p without waiting. It gives the reader's
// error once everything that came before it is taken.
func (l *Line) take(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if len(l.buf) == 0 {
		return 0, l.err
	}
	n := copy(p, l.buf)
	if len(l.buf) >= lineBuffer {
		signal(l.room)
	}
	if l.buf = l.buf[n:]; len(l.buf) == 0 {
		l.buf = nil
	}
	return n, nil
}

// Read waits up to wait for bytes and gives those that have arrived, at least
// one. Errors: ErrTimeout, the context's, the underlying reader's (in that case
// the line is gone for good).
func (l *Line) Read(ctx context.Context, p []byte, wait time.Duration) (int, error) {
	var timer *time.Timer
	for {
		if n, err := l.take(p); n > 0 || err != nil {
			return n, err
		}
		if ctx.Err() != nil {
			return 0, ctx.Err()
		}
		if wait <= 0 {
			return 0, ErrTimeout
		}
		if timer == nil {
			timer = time.NewTimer(wait)
			defer timer.Stop()
		}
		select {
		case <-l.more:
		case <-ctx.Done():
		case <-timer.C:
			wait = 0 // look once more: both may have happened
		}
	}
}

// Byte is Read of one byte.
func (l *Line) Byte(ctx context.Context, wait time.Duration) (byte, error) {
	var b [1]byte
	_, err := l.Read(ctx, b[:], wait)
	return b[0], err
}

// Write writes all of p, or gives up after wait with ErrStuck. A cancelled
// context shortens the wait of a write that has begun, it does not cut it off.
func (l *Line) Write(ctx context.Context, p []byte, wait time.Duration) error {
	if l.stuck {
		return ErrStuck
	}
	p = append([]byte(nil), p...) // a write that is given up still reads it
	done := make(chan error, 1)
	go func() { done <- writeAll(l.rw, p) }()
	timer := time.NewTimer(wait)
	defer timer.Stop()
	cancelled := ctx.Done()
	for {
		select {
		case err := <-done:
			return err
		case <-cancelled:
			cancelled = nil
			timer.Reset(min(wait, cancelGrace))
		case <-timer.C:
			l.stuck = true
			return ErrStuck
		}
	}
}

func writeAll(w io.Writer, p []byte) error {
	for len(p) > 0 {
		n, err := w.Write(p)
		if err != nil {
			return err
		}
		if n <= 0 {
			return io.ErrShortWrite
		}
		p = p[n:]
	}
	return nil
}
