package xmodem

import (
	"fmt"
	"strings"
)

// Kind says how a transfer failed.
type Kind uint8

// The ways in which a transfer fails. Block, First and Last of Error say where.
const (
	NoRequest   Kind = iota + 1 // the receiver never asked for the first block
	NoAnswer                    // ten tries at a block, the last of them without an answer
	Refused                     // ten tries at a block, the last of them answered by NAK
	Cancelled                   // the receiver sent CAN CAN
	Interrupted                 // our side gave up (context)
	LineLost                    // reading or writing failed: the line is gone
	LineStuck                   // the line took no more bytes in time
	EndUnproved                 // every block was acknowledged, but the end (EOT) never was
)

// noiseKept bounds the sample of unexpected bytes that an Error carries.
const noiseKept = 48

// Error is a transfer that failed.
type Error struct {
	Kind        Kind
	Block       int    // 1-based; the block that was wanted, under way or last
	Blocks      int    // blocks of the whole transfer
	First, Last int    // offsets of that block's first and last byte in the image, 0-based
	Tries       int    // how often the block (or EOT) was sent
	Told        bool   // the receiver was sent CAN CAN
	Noise       []byte // the last bytes that arrived and were no answer, at most 48
	NoiseBytes  int    // how many of them there were
	Cause       error  // the context's or the line's error, or nil
}

func (e *Error) Unwrap() error { return e.Cause }

// Place gives the block and its byte range, "block 17 of 256 (bytes 0800H to 087FH)".
func (e *Error) Place() string {
	return fmt.Sprintf("block %d of %d (bytes %s to %s)", e.Block, e.Blocks, hex(e.First), hex(e.Last))
}

// Error gives one line: what happened at which block and byte range.
func (e *Error) Error() string {
	var s string
	switch e.Kind {
	case NoRequest:
		s = "the receiver never asked for " + e.Place()
	case NoAnswer:
		s = fmt.Sprintf("no answer to %s in %s", e.Place(), tries(e.Tries))
	case Refused:
		s = fmt.Sprintf("the receiver refused %s in %s", e.Place(), tries(e.Tries))
	case Cancelled:
		s = "the receiver cancelled the transfer at " + e.Place()
	case Interrupted:
		s = "stopped at " + e.Place()
		if e.Told {
			s += ", the receiver was told to cancel"
		}
	case LineLost:
		s = "the line was lost at " + e.Place()
	case LineStuck:
		s = "the line took no more bytes at " + e.Place()
	case EndUnproved:
		s = fmt.Sprintf("all %d blocks were acknowledged, the last one %s, but the end of the transfer (EOT) was not in %s",
			e.Blocks, e.Place(), tries(e.Tries))
	}
	if e.Cause != nil && e.Kind != Interrupted {
		s += ": " + e.Cause.Error()
	}
	if e.NoiseBytes > 0 {
		s += fmt.Sprintf("; %d unexpected byte%s came instead, %s", e.NoiseBytes, plural(e.NoiseBytes), e.sample())
	}
	return s
}

// sample shows the noise as text where it is text, else as hex bytes.
func (e *Error) sample() string {
	text := true
	for _, c := range e.Noise {
		if (c < ' ' || c > '~') && c != '\r' && c != '\n' && c != '\t' {
			text = false
		}
	}
	lead := ""
	if len(e.Noise) < e.NoiseBytes {
		lead = "the last of them "
	}
	if text {
		return fmt.Sprintf("%s%q", lead, e.Noise)
	}
	tail := e.Noise
	if len(tail) > 16 {
		tail, lead = tail[len(tail)-16:], "the last of them "
	}
	var b strings.Builder
	for i, c := range tail {
		if i > 0 {
			b.WriteByte(' ')
		}
		fmt.Fprintf(&b, "%02X", c)
	}
	return lead + b.String()
}

// SizeError is an image that is no whole number of 128-byte blocks, or empty.
type SizeError struct {
	Size    int // bytes
	Missing int // bytes up to the next whole block
}

func (e *SizeError) Error() string {
	if e.Size == 0 {
		return "the image is empty, there is nothing to send"
	}
	return fmt.Sprintf("the image's %d bytes are no whole number of 128-byte blocks: %d byte%s missing",
		e.Size, e.Missing, map[bool]string{true: " is", false: "s are"}[e.Missing == 1])
}

func tries(n int) string {
	if n == 1 {
		return "1 try"
	}
	return fmt.Sprintf("%d tries", n)
}

func plural(n int) string {
	if n == 1 {
		return ""
	}
	return "s"
}

// hex writes a number the way the source language does: at least four digits,
// a leading 0 before a letter, H behind.
func hex(n int) string {
	s := fmt.Sprintf("%04XH", n)
	if s[0] > '9' {
		s = "0" + s
	}
	return s
}
