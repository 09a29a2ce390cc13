package xmodem

import (
	"errors"
	"fmt"
	"io"
	"time"
)

// This file is the other end of the protocol. It shares no code with the
// sender, not even the protocol's bytes, so that a slip in one shows against
// the other. The tests use it; the tool itself only sends.

// ReceiveOptions says how the receiver behaves; the zero value is usable.
type ReceiveOptions struct {
	Checksum       bool                               // ask with NAK every 10 s instead of C every 3 s
	Asks           int                                // how often to ask for the first block; 0: 20
	Purge          time.Duration                      // silence to wait for after a damaged block; 0: one second, as the notes say
	RefuseFirstEOT bool                               // answer the first EOT with NAK, as some receivers do
	Store          func(block int, data []byte) error // may be nil; called before a block's ACK, block counts from 1; an error cancels the transfer
}

// Receive takes a transfer from rw and gives the data of all blocks, with the
// filling of the last one. Its reading goroutine ends when the caller closes rw.
func Receive(rw io.ReadWriter, opt ReceiveOptions) ([]byte, error) {
	r := &receiver{rw: rw, opt: opt, inbox: make(chan byte, 1<<16), done: make(chan struct{})}
	defer close(r.done)
	go r.fill()
	return r.run()
}

type receiver struct {
	rw    io.ReadWriter
	opt   ReceiveOptions
	inbox chan byte
	done  chan struct{}
}

var (
	errNothing = errors.New("receiver: nothing came")
	errGone    = errors.New("receiver: the line is gone")
)

func (r *receiver) fill() {
	defer close(r.inbox)
	var p [256]byte
	for {
		n, err := r.rw.Read(p[:])
		for _, b := range p[:n] {
			select {
			case r.inbox <- b:
			case <-r.done:
				return
			}
		}
		if err != nil {
			return
		}
	}
}

func (r *receiver) get(wait time.Duration) (byte, error) {
	t := time.NewTimer(wait)
	defer t.Stop()
	select {
	case b, ok := <-r.inbox:
		if !ok {
			return 0, errGone
		}
		return b, nil
	case <-t.C:
		return 0, errNothing
	}
}

func (r *receiver) put(p ...byte) error {
	_, err := r.rw.Write(p)
	return err
}

// purge reads on until the line has been silent.
func (r *receiver) purge() error {
	silence := r.opt.Purge
	if silence == 0 {
		silence = time.Second
	}
	for {
		if _, err := r.get(silence); err == errNothing {
			return nil
		} else if err != nil {
			return err
		}
	}
}

func (r *receiver) run() ([]byte, error) {
	var out []byte
	open, period := byte(0x43), 3*time.Second
	if r.opt.Checksum {
		open, period = 0x15, 10*time.Second
	}
	asks := r.opt.Asks
	if asks == 0 {
		asks = 20
	}
	expect := 1 // number of the block that is wanted, counted on without bound
	started, failures, cancels, refused := false, 0, 0, false
	if err := r.put(open); err != nil {
		return nil, err
	}
	for {
		wait := 10 * time.Second
		if !started {
			wait = period
		}
		b, err := r.get(wait)
		if err == errGone {
			return out, err
		}
		if err == nil && b == 0x18 {
			if cancels++; cancels == 2 {
				return out, fmt.Errorf("receiver: the sender cancelled before block %d", expect)
			}
			continue
		}
		cancels = 0
		good := false
		switch {
		case err != nil:
			// silence: ask again
		case b == 0x04 && started:
			if r.opt.RefuseFirstEOT && !refused {
				refused = true
				if err := r.put(0x15); err != nil {
					return out, err
				}
				continue
			}
			return out, r.put(0x06)
		case b == 0x01 || b == 0x02:
			size := 128
			if b == 0x02 {
				size = 1024
			}
			var number int
			var data []byte
			if number, data, err = r.block(size); err == errGone {
				return out, err
			}
			if err != nil {
				break
			}
			switch number {
			case expect & 0xFF:
				if r.opt.Store != nil {
					if err := r.opt.Store(expect, data); err != nil {
						_ = r.put(0x18, 0x18)
						return out, err
					}
				}
				out = append(out, data...)
				expect++
				good, started = true, true
			case (expect - 1) & 0xFF:
				good = expect > 1 // our ACK was lost: say it again, keep nothing
			default:
				_ = r.put(0x18, 0x18)
				return out, fmt.Errorf("receiver: block %d came where %d was due", number, expect&0xFF)
			}
		}
		if good {
			failures = 0
			if err := r.put(0x06); err != nil {
				return out, err
			}
			continue
		}
		failures++
		limit := 10
		if !started {
			limit = asks
		}
		if failures >= limit {
			_ = r.put(0x18, 0x18)
			return out, fmt.Errorf("receiver: block %d failed %d times", expect, failures)
		}
		if err != errNothing {
			if err := r.purge(); err != nil {
				return out, err
			}
		}
		answer := byte(0x15)
		if !started && (err == errNothing || b != 0x01 && b != 0x02) {
			answer = open // nothing of a block was seen yet
		}
		if err := r.put(answer); err != nil {
			return out, err
		}
	}
}

var errDamaged = errors.New("receiver: damaged block")

// block reads what follows the first byte: number, complement, data, check.
func (r *receiver) block(size int) (int, []byte, error) {
	tail := 2
	if r.opt.Checksum {
		tail = 1
	}
	frame := make([]byte, 2+size+tail)
	for i := range frame {
		b, err := r.get(time.Second)
		if err == errGone {
			return 0, nil, err
		}
		if err != nil {
			return 0, nil, errDamaged
		}
		frame[i] = b
	}
	if frame[0]+frame[1] != 0xFF {
		return 0, nil, errDamaged
	}
	data := frame[2 : 2+size]
	if r.opt.Checksum {
		total := 0
		for _, b := range data {
			total += int(b)
		}
		if byte(total%256) != frame[2+size] {
			return 0, nil, errDamaged
		}
	} else if remainder(data) != int(frame[2+size])<<8|int(frame[3+size]) {
		return 0, nil, errDamaged
	}
	return int(frame[0]), data, nil
}

// remainder divides the data, taken as one long polynomial with sixteen zero
// bits behind it, by x^16 + x^12 + x^5 + 1, bit by bit.
func remainder(data []byte) int {
	reg := 0
	for _, b := range append(append([]byte(nil), data...), 0, 0) {
		for bit := 7; bit >= 0; bit-- {
			reg = reg<<1 | int(b)>>bit&1
			if reg&0x10000 != 0 {
				reg ^= 0x11021
			}
		}
	}
	return reg
}
