// Package xmodem sends an image to a chip programmer over a serial line by the
// XMODEM protocol (CRC or checksum, blocks of 128 or 1024 bytes), and holds a
// receiver, written apart from the sender, for the tests.
//
// The protocol is from memory of its author's notes and of the later
// XMODEM/YMODEM protocol reference. The sender's rules, and why:
//
//   - Between an ACK and the next block nothing waits. Whatever arrived before a
//     block is begun cannot be its answer and is dropped.
//   - To send a block once more is always safe, since the receiver acknowledges
//     and ignores a block that it has; to go on is what can lose one. So a NAK
//     that arrives anywhere repeats the block, and after a repeated block the
//     sender listens a moment before going on: a second ACK then cannot pass
//     for the next block's.
//   - A block lost in the middle stops the receiver at the next block's number.
//     Only the last block has no successor, so the sender listens before EOT in
//     every transfer, and longer where anything was irregular. Where an ACK may
//     have been taken for a later block's than its own (one came twice, late, or
//     far too early), it then sends the last block once more and so has an
//     answer that can be no other's. A NAK long after EOT is taken as one for
//     the last block.
//
// What no sender can see is a receiver's NAK that the line turns into an ACK
// (three of eight bits) for the very last block: reading the chip back shows it.
package xmodem

import (
	"context"
	"errors"
	"io"
	"time"
)

// The protocol's bytes.
const (
	soh byte = 0x01 // begins a block of 128 bytes
	stx byte = 0x02 // begins a block of 1024 bytes
	eot byte = 0x04 // end of the transfer
	ack byte = 0x06
	nak byte = 0x15
	can byte = 0x18 // two in a row: the sender of them gives up
	sub byte = 0x1A // fills the last block
	ask byte = 'C'  // the receiver wants CRC mode
)

// Sizes and limits.
const (
	ShortBlock = 128  // data bytes of a block that begins with SOH
	LongBlock  = 1024 // data bytes of a block that begins with STX
	MaxTries   = 10   // tries at one block, and at EOT

	// DefaultWait is how long the receiver's first request may take: a person
	// starts it.
	DefaultWait = 60 * time.Second

	// The notes allow an answer 10 s after a short block and 20 s after a long
	// one; one second more, so that an answer at the limit meets no repeat.
	shortAnswer = 11 * time.Second
	longAnswer  = 21 * time.Second

	// A request is a C or NAK with nothing behind it: in a console's text more
	// follows at once. Four bytes' time where the line is slower than that.
	requestSettle = 50 * time.Millisecond
	// After CAN CAN in place of a request a receiver that was started anew
	// would have asked within this time (it asks every 3 s).
	cancelSettle = 3500 * time.Millisecond
	// A C during block 1 may have crossed the block on the line. If no answer
	// follows within this time, the block never arrived.
	repeatGrace = time.Second

	// After a repeated block the sender listens this long for a second answer,
	// or twice the slowest answer so far.
	minListen = 50 * time.Millisecond
	maxListen = 1500 * time.Millisecond
	// Before EOT: a receiver that refuses a damaged block listens to the line
	// first. Longer where anything at all was irregular: a receiver that lacks
	// a byte waits a second for it, then for a second of silence.
	endListen   = 300 * time.Millisecond
	doubtListen = 2500 * time.Millisecond
	// Where an answer is unaccounted for: as long as a receiver is patient (10 s).
	lateListen = 9 * time.Second
	// Bounds of the time within which a NAK after EOT is for EOT.
	minPrompt = 100 * time.Millisecond
	maxPrompt = 500 * time.Millisecond

	writeSlack = 10 * time.Second // a write may take this much longer than its bytes
	cancelWait = 2 * time.Second  // for writing CAN CAN
)

// Mode is how a block is checked; the receiver chooses.
type Mode uint8

// The modes.
const (
	CRC      Mode = iota + 1 // CRC-16, two bytes
	Checksum                 // sum of the data modulo 256, one byte
)

func (m Mode) String() string {
	switch m {
	case CRC:
		return "CRC"
	case Checksum:
		return "checksum"
	}
	return "none"
}

// Options of a transfer; the zero value is usable.
type Options struct {
	Block    int            // data bytes of a block: 128 (also for 0) or 1024; what is left at the end goes in blocks of 128
	Pad      bool           // fill the last block of 128 with SUB (1AH)
	Wait     time.Duration  // for the receiver's first request; 0: DefaultWait
	ByteTime time.Duration  // of one byte on the line, for the time limits; 0: not known
	Progress func(Progress) // may be nil; called from within Send, must be quick
}

// Progress is how far a transfer is. It is told once when the receiver has
// asked (Block 0), then after each acknowledged block and each repeat.
type Progress struct {
	Mode          Mode
	Block, Blocks int // acknowledged, of all
	Bytes, Total  int // acknowledged, of all; bytes of the image, filling left out
	Retries       int
}

// Stats is what a transfer came to.
type Stats struct {
	Mode      Mode
	Bytes     int           // of the image, acknowledged
	Padding   int           // bytes of SUB behind them
	Blocks    int           // acknowledged
	Retries   int           // blocks and EOTs sent once more
	LineBytes int           // everything that was written to the line
	Asked     time.Duration // from the call to the receiver's request
	Elapsed   time.Duration // from the request to the end
}

// Padding gives the number of SUB bytes that an image of size bytes needs.
func Padding(size int) int { return (ShortBlock - size%ShortBlock) % ShortBlock }

// Send sends image and returns when the receiver has acknowledged the end, or
// with a *SizeError before anything is sent, or with an *Error. When ctx is
// cancelled, and when ten tries failed, it tells the receiver with CAN CAN.
//
// Its reading goroutine goes on until the caller closes rw; where the line is
// to be read before or after, use Line.Send.
func Send(ctx context.Context, rw io.ReadWriter, image []byte, opt Options) (Stats, error) {
	return NewLine(rw).Send(ctx, image, opt)
}

// Send is like the function Send, on a line that is read already.
func (l *Line) Send(ctx context.Context, image []byte, opt Options) (Stats, error) {
	pad := Padding(len(image))
	if len(image) == 0 || pad > 0 && !opt.Pad {
		return Stats{}, &SizeError{Size: len(image), Missing: pad}
	}
	if opt.Block == 0 {
		opt.Block = ShortBlock
	}
	if opt.Block != ShortBlock && opt.Block != LongBlock {
		return Stats{}, errors.New("a block holds 128 or 1024 bytes")
	}
	if opt.Wait <= 0 {
		opt.Wait = DefaultWait
	}
	size := len(image) + pad
	s := &session{
		ctx: ctx, line: l, opt: opt, image: image, size: size,
		blocks: size/opt.Block + size%opt.Block/ShortBlock,
		began:  time.Now(),
	}
	s.begin(0)
	err := s.run()
	if !s.asked.IsZero() {
		s.stats.Elapsed = time.Since(s.asked)
	}
	s.stats.Bytes = min(s.stats.Bytes, len(image))
	if s.stats.Blocks == s.blocks {
		s.stats.Padding = pad
	}
	return s.stats, err
}

// session is one transfer.
type session struct {
	ctx    context.Context
	line   *Line
	opt    Options
	image  []byte
	size   int // bytes with the filling
	blocks int

	began, asked time.Time
	opened, mode Mode // by the request; now
	stats        Stats

	// the block under way
	index  int // 0-based
	offset int // of its first byte
	length int // data bytes
	tries  int

	cancels    int           // CANs in a row
	unanswered int           // sendings whose answer may still be on its way
	slowest    time.Duration // answer so far
	early      int           // answers long before the line can have sent the block
	unpaced    int           // answers before that, but not by so much
	doubt      bool          // something was irregular
	extra      bool          // there was an answer too many or too few
	confirmed  bool          // the last block was sent again for that reason
	noise      []byte        // the last unexpected bytes
	noiseBytes int
	told       bool // CAN CAN was written
}

// answer is what came of a sending.
type answer uint8

const (
	silence answer = iota
	acknowledged
	refused
)

func (s *session) run() error {
	if err := s.awaitRequest(); err != nil {
		return err
	}
	s.progress()
	for off, i := 0, 0; i < s.blocks; i++ {
		s.begin(off)
		if err := s.sendBlock(); err != nil {
			return err
		}
		off += s.length
		s.stats.Blocks, s.stats.Bytes = i+1, off
		s.progress()
	}
	return s.sendEnd()
}

// begin makes the block at off the one under way.
func (s *session) begin(off int) {
	if off > 0 {
		s.index++
	}
	s.offset, s.length, s.tries = off, ShortBlock, 0
	if s.opt.Block == LongBlock && s.size-off >= LongBlock {
		s.length = LongBlock
	}
}

func (s *session) progress() {
	if s.opt.Progress == nil {
		return
	}
	s.opt.Progress(Progress{
		Mode: s.mode, Block: s.stats.Blocks, Blocks: s.blocks,
		Bytes: min(s.stats.Bytes, len(s.image)), Total: len(s.image), Retries: s.stats.Retries,
	})
}

// awaitRequest waits for the receiver and takes the mode that it asks for.
func (s *session) awaitRequest() error {
	settle := max(requestSettle, 4*s.opt.ByteTime)
	deadline := s.began.Add(s.opt.Wait)
	var request byte           // the C or NAK that may be one
	var requestEnd time.Time   // when it is one if nothing else has come
	var cancelledEnd time.Time // when CAN CAN is believed
	for {
		end := deadline
		if !cancelledEnd.IsZero() && cancelledEnd.Before(end) {
			end = cancelledEnd
		}
		if request != 0 {
			end = requestEnd
		}
		b, err := s.line.Byte(s.ctx, time.Until(end))
		switch {
		case err == ErrTimeout && request != 0:
			s.opened = CRC
			if request == nak {
				s.opened = Checksum
			}
			s.setMode(s.opened)
			s.asked = time.Now()
			s.stats.Asked = s.asked.Sub(s.began)
			s.noise, s.noiseBytes, s.cancels, s.doubt = nil, 0, 0, false // the console's talk is over
			return nil
		case err == ErrTimeout && !cancelledEnd.IsZero():
			return s.fail(Cancelled, nil)
		case err == ErrTimeout:
			return s.fail(NoRequest, nil)
		case err != nil:
			return s.lost(err)
		}
		// A receiver that asks often does not put the moment off.
		if b == ask || b == nak {
			if request == 0 {
				requestEnd = time.Now().Add(settle)
			}
			request, s.cancels, cancelledEnd = b, 0, time.Time{}
			continue
		}
		request = 0
		if b != can {
			s.cancels = 0
			s.heard(b)
		} else if s.cancels++; s.cancels == 2 {
			cancelledEnd = time.Now().Add(cancelSettle)
		}
	}
}

// sendBlock sends the block under way until it is acknowledged.
func (s *session) sendBlock() error {
	var got answer
	for s.tries < MaxTries {
		var err error
		got, err = s.try(s.frame(), s.answerTime())
		if err != nil {
			return err
		}
		if got == acknowledged {
			if got, err = s.listen(); err != nil {
				return err
			}
			if got != refused && (s.index < s.blocks-1 || !s.ahead() || s.confirmed) {
				return nil
			}
			// The line was quiet, or the receiver complained: what answers the
			// last block now answers this sending.
			s.confirmed = s.index == s.blocks-1
		}
	}
	if got == refused {
		return s.giveUp(Refused)
	}
	return s.giveUp(NoAnswer)
}

// sendEnd sends EOT until it is acknowledged.
func (s *session) sendEnd() error {
	for end := 1; end <= MaxTries; end++ {
		sent := time.Now()
		got, err := s.transmit([]byte{eot}, shortAnswer+s.opt.ByteTime)
		if err != nil {
			return err
		}
		if got == acknowledged {
			return nil
		}
		s.stats.Retries++
		// Some receivers refuse the first EOT, at once. A NAK that took longer
		// may be from a receiver that lacks the last block.
		if got == refused && time.Since(sent) > min(max(2*s.slowest, minPrompt), maxPrompt) {
			if err := s.sendBlock(); err != nil {
				return err
			}
		}
		s.progress()
	}
	s.tries = MaxTries
	return s.giveUp(EndUnproved)
}

// try sends the block once and counts.
func (s *session) try(frame []byte, wait time.Duration) (answer, error) {
	if s.tries++; s.tries > 1 {
		s.stats.Retries++
		s.doubt = true
		s.progress()
	}
	began := time.Now()
	got, err := s.transmit(frame, wait)
	if got == acknowledged {
		took := time.Since(began)
		switch wire := time.Duration(len(frame)) * s.opt.ByteTime; {
		case took < wire/8:
			s.early++
		case took < wire*9/10:
			s.unpaced++
		}
		s.slowest = max(s.slowest, took)
	}
	return got, err
}

// transmit writes p and waits for the answer.
func (s *session) transmit(p []byte, wait time.Duration) (answer, error) {
	if err := s.drop(); err != nil {
		return silence, err
	}
	if err := s.write(p); err != nil {
		return silence, err
	}
	deadline := time.Now().Add(wait)
	asked := false
	for {
		b, err := s.next(deadline)
		switch {
		case err == ErrTimeout:
			s.doubt = true
			if !asked { // else the C was the answer
				s.unanswered++
				s.extra = true
			}
			return silence, nil
		case err != nil:
			return silence, err
		case b == ack:
			return acknowledged, nil
		case b == nak:
			if s.stats.Blocks == 0 {
				s.setMode(s.opened) // a C in between was none
			}
			return refused, nil
		case b == ask && s.stats.Blocks == 0:
			s.setMode(CRC)
			asked = true
			if again := time.Now().Add(repeatGrace); again.Before(deadline) {
				deadline = again
			}
		default:
			s.heard(b)
		}
	}
}

// listen looks, after a block's ACK, for a second answer. On a clean way
// through it takes only what is there already.
func (s *session) listen() (answer, error) {
	heard := time.Now()
	for {
		b, err := s.next(heard.Add(s.listenTime()))
		switch {
		case err == ErrTimeout:
			return acknowledged, nil
		case err != nil:
			return silence, err
		case b == nak, b == ask && s.index == 0: // a C now: the receiver has not even begun
			s.doubt = true
			return refused, nil
		case b == ack:
			s.extraAck()
		default:
			s.heard(b)
		}
	}
}

// listenTime is how long to listen after a block's ACK.
func (s *session) listenTime() time.Duration {
	var wait time.Duration
	if s.tries > 1 {
		wait = min(max(2*s.slowest, minListen), maxListen)
	}
	if s.index < s.blocks-1 {
		return wait
	}
	switch {
	case s.unanswered > 0 && !s.confirmed:
		return lateListen
	case s.doubt, s.ahead():
		return max(wait, doubtListen)
	}
	return endListen
}

// ahead says whether an ACK may have been taken for a later block's than its
// own: answers were missing or too many, or some (a doubled ACK) came before the
// line can have sent the block. The last means nothing on a line that is
// faster than it says (a pseudo-terminal, a programmer with USB of its own),
// where such answers are the rule.
func (s *session) ahead() bool {
	return s.extra || s.early > 0 && s.unpaced == 0 && s.early <= s.blocks/2
}

// extraAck counts an ACK that belongs to no sending under way.
func (s *session) extraAck() {
	s.doubt, s.extra = true, true
	s.unanswered = max(s.unanswered-1, 0)
}

// answerTime is how long the block's answer may take, from the moment at which
// the line has taken the block (which it may still be sending).
func (s *session) answerTime() time.Duration {
	wait := shortAnswer
	if s.length == LongBlock {
		wait = longAnswer
	}
	return wait + time.Duration(s.length+5)*s.opt.ByteTime
}

// drop takes what arrived before a sending begins: none of it is its answer.
func (s *session) drop() error {
	for {
		b, err := s.next(time.Time{})
		switch {
		case err == ErrTimeout:
			return nil
		case err != nil:
			return err
		case b == ack:
			s.extraAck()
		}
	}
}

// next gives the next byte that is no CAN; two CANs in a row end the transfer.
// The zero time takes only what is there.
func (s *session) next(deadline time.Time) (byte, error) {
	for {
		b, err := s.line.Byte(s.ctx, time.Until(deadline))
		if err == ErrTimeout {
			return 0, err
		}
		if err != nil {
			return 0, s.lost(err)
		}
		if b != can {
			s.cancels = 0
			return b, nil
		}
		if s.cancels++; s.cancels == 2 {
			return 0, s.fail(Cancelled, nil)
		}
	}
}

func (s *session) setMode(m Mode) { s.mode, s.stats.Mode = m, m }

func (s *session) heard(b byte) {
	s.doubt = true
	s.noiseBytes++
	if len(s.noise) == noiseKept {
		s.noise = s.noise[:copy(s.noise, s.noise[1:])]
	}
	s.noise = append(s.noise, b)
}

func (s *session) write(p []byte) error {
	err := s.line.Write(s.ctx, p, writeSlack+2*time.Duration(len(p))*s.opt.ByteTime)
	if err == nil {
		s.stats.LineBytes += len(p)
		return nil
	}
	if err == ErrStuck && s.ctx.Err() == nil {
		return s.fail(LineStuck, nil)
	}
	if s.ctx.Err() != nil {
		return s.lost(s.ctx.Err())
	}
	return s.lost(err)
}

// lost turns an error of the line or the context into the transfer's.
func (s *session) lost(err error) error {
	if s.ctx.Err() != nil && err == s.ctx.Err() {
		s.cancel()
		return s.fail(Interrupted, err)
	}
	return s.fail(LineLost, err)
}

// giveUp ends a transfer whose tries are used up.
func (s *session) giveUp(kind Kind) error {
	s.cancel()
	return s.fail(kind, nil)
}

// cancel tells the receiver. The context may be over already.
func (s *session) cancel() {
	if s.line.Write(context.Background(), []byte{can, can}, cancelWait) == nil {
		s.stats.LineBytes += 2
		s.told = true
	}
}

func (s *session) fail(kind Kind, cause error) error {
	return &Error{
		Kind: kind, Block: s.index + 1, Blocks: s.blocks,
		First: s.offset, Last: min(s.offset+s.length, len(s.image)) - 1, Tries: s.tries,
		Told: s.told, Noise: s.noise, NoiseBytes: s.noiseBytes, Cause: cause,
	}
}

// frame gives the block under way as it goes over the line: begin, number,
// complement of the number, data, check.
func (s *session) frame() []byte {
	f := make([]byte, 0, 3+s.length+2)
	start, number := soh, byte(s.index+1)
	if s.length == LongBlock {
		start = stx
	}
	f = append(f, start, number, ^number)
	f = append(f, s.image[s.offset:min(s.offset+s.length, len(s.image))]...)
	for len(f) < 3+s.length {
		f = append(f, sub)
	}
	if s.mode == Checksum {
		return append(f, checksum(f[3:]))
	}
	c := crc16(f[3:])
	return append(f, byte(c>>8), byte(c))
}

// crc16 is CRC-16/XMODEM: polynomial 1021H, initial value 0, not reflected, no
// final exclusive or. A whole byte at a time: x is what the eight shifts would
// feed back.
func crc16(data []byte) uint16 {
	var crc uint16
	for _, b := range data {
		x := crc>>8 ^ uint16(b)
		x ^= x >> 4
		crc = crc<<8 ^ x<<12 ^ x<<5 ^ x
	}
	return crc
}

func checksum(data []byte) byte {
	var n byte
	for _, b := range data {
		n += b
	}
	return n
}
