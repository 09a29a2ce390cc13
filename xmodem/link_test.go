package xmodem

import (
	"errors"
	"io"
	"sync"
	"time"
)

// byteTime is that of 115200 baud, 8N1: ten bits a byte.
const byteTime = time.Second * 10 / 115200

// fault is what the line does to one byte.
type fault struct {
	lose   bool
	double bool
	flip   byte          // exclusive or
	noise  []byte        // arrives before the byte
	late   time.Duration // it arrives this much later, what is behind it cannot overtake
}

// wire is one direction of a serial line inside a test: bytes take their time,
// Write returns at once like a port with a buffer. The faults are keyed by the
// byte's index among everything written.
type wire struct {
	faults map[int]fault
	pace   time.Duration
	cut    int  // the line is lost after so many bytes; 0: never
	honest bool // nothing but an ACK ever turns into an ACK

	mu     sync.Mutex
	sent   []byte      // as written
	times  []time.Time // when each byte was written
	writes [][]byte    // as sent, by call
	free   time.Time   // when the line has sent what it holds
	closed bool
	queue  chan item
}

type item struct {
	b    byte
	when time.Time
}

var errUnplugged = errors.New("unplugged")

func newWire(faults map[int]fault) *wire {
	return &wire{faults: faults, pace: byteTime}
}

// items makes the queue on first use, so that it belongs to the bubble of fake
// time in which it is used.
func (w *wire) items() chan item {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.locked()
}

func (w *wire) locked() chan item {
	if w.queue == nil {
		w.queue = make(chan item, 1<<17)
	}
	return w.queue
}

func (w *wire) Write(p []byte) (int, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.writes = append(w.writes, append([]byte(nil), p...))
	for i, b := range p {
		if w.closed {
			return i, errUnplugged
		}
		n := len(w.sent)
		if w.cut > 0 && n >= w.cut {
			w.closed = true
			close(w.locked())
			return i, errUnplugged
		}
		w.sent = append(w.sent, b)
		w.times = append(w.times, time.Now())
		f := w.faults[n]
		if w.honest && b^f.flip == 0x06 {
			f.flip = 0
		}
		for _, x := range f.noise {
			if w.honest && x == 0x06 {
				continue
			}
			w.push(x, 0)
		}
		if !f.lose {
			w.push(b^f.flip, f.late)
		}
		if f.double {
			w.push(b^f.flip, 0)
		}
	}
	return len(p), nil
}

func (w *wire) push(b byte, late time.Duration) {
	if now := time.Now(); w.free.Before(now) {
		w.free = now
	}
	w.free = w.free.Add(w.pace + late)
	w.locked() <- item{b, w.free}
}

func (w *wire) close() {
	w.mu.Lock()
	defer w.mu.Unlock()
	if !w.closed {
		w.closed = true
		close(w.locked())
	}
}

func (w *wire) Read(p []byte) (int, error) {
	it, ok := <-w.items()
	if !ok {
		return 0, io.EOF
	}
	time.Sleep(time.Until(it.when))
	p[0] = it.b
	return 1, nil
}

// end is one end of two wires.
type end struct {
	in, out *wire
}

func (e end) Read(p []byte) (int, error)  { return e.in.Read(p) }
func (e end) Write(p []byte) (int, error) { return e.out.Write(p) }

// line is a whole serial line: to the receiver and back.
type line struct {
	to, back *wire
}

func newLine(to, back map[int]fault) line {
	return line{newWire(to), newWire(back)}
}

func (l line) sender() end   { return end{l.back, l.to} }
func (l line) receiver() end { return end{l.to, l.back} }

// close ends the line and, in fake time, lets what is still on it arrive.
func (l line) close() {
	l.to.close()
	l.back.close()
	time.Sleep(time.Hour)
}
