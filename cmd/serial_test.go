package cmd

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"romwright/xmodem"
)

// programmer is a chip programmer as far as its serial line shows: a
// pseudo-terminal whose far end the test plays.
type programmer struct {
	far, near *os.File
	port      string // what --port takes
	dir       string // of the files it reads and writes
	inbox     chan byte
	heard     *bytes.Buffer // everything that came
	mu        sync.Mutex
	done      chan error
}

// errNoPty is a system without pseudo-terminals.
var errNoPty = errors.New("no pseudo-terminal here")

func startProgrammer(dir string, does []string) (*programmer, error) {
	far, near, err := openPty()
	if err != nil {
		return nil, fmt.Errorf("%w: %w", errNoPty, err)
	}
	p := &programmer{
		far: far, near: near, port: near.Name(), dir: dir,
		inbox: make(chan byte, 1<<20), heard: &bytes.Buffer{}, done: make(chan error, 1),
	}
	go func() {
		defer close(p.inbox)
		var b [4096]byte
		for {
			n, err := far.Read(b[:])
			p.mu.Lock()
			p.heard.Write(b[:n])
			p.mu.Unlock()
			for _, c := range b[:n] {
				p.inbox <- c
			}
			if err != nil {
				return
			}
		}
	}()
	go func() {
		for _, d := range does {
			if err := p.do(d); err != nil {
				p.done <- fmt.Errorf("%s: %w", d, err)
				return
			}
		}
		p.done <- nil
	}()
	return p, nil
}

func (p *programmer) close() {
	p.near.Close()
	p.far.Close()
}

// said is everything that came from the tool.
func (p *programmer) said() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.heard.String()
}

// do does one thing:
//
//	hear=TEXT        wait for the text
//	say=TEXT         say it
//	say-file=FILE    say what the file holds
//	pause=TIME
//	receive=FILE     take a transfer into the file (CRC mode)
//	receive-sum=FILE the same in checksum mode
//	full=N           take a transfer, cancel at block N
//	refuse           ask, then answer every block with NAK
//	unplug           end the line
//
// TEXT has the escapes of --type.
func (p *programmer) do(what string) error {
	verb, arg, _ := strings.Cut(what, "=")
	text, err := unescape(arg)
	if err != nil {
		return err
	}
	path := filepath.Join(p.dir, arg)
	switch verb {
	case "hear":
		var heard []byte
		for !bytes.HasSuffix(heard, text) {
			c, ok := <-p.inbox
			if !ok {
				return io.EOF
			}
			heard = append(heard, c)
		}
		return nil
	case "say":
		_, err := p.far.Write(text)
		return err
	case "say-file":
		data, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		_, err = p.far.Write(data)
		return err
	case "pause":
		d, err := time.ParseDuration(arg)
		time.Sleep(d)
		return err
	case "receive", "receive-sum":
		data, err := p.receive(xmodem.ReceiveOptions{Checksum: verb == "receive-sum"})
		if err != nil {
			return err
		}
		return os.WriteFile(path, data, 0o666)
	case "full":
		n, err := strconv.Atoi(arg)
		if err != nil {
			return err
		}
		_, err = p.receive(xmodem.ReceiveOptions{Store: func(block int, _ []byte) error {
			if block == n {
				return io.ErrShortBuffer
			}
			return nil
		}})
		if errors.Is(err, io.ErrShortBuffer) {
			return nil
		}
		return err
	case "refuse":
		if _, err := p.far.Write([]byte("C")); err != nil {
			return err
		}
		for n := 1; n <= 10*133; n++ {
			if _, ok := <-p.inbox; !ok {
				return io.EOF
			}
			if n%133 == 0 {
				if _, err := p.far.Write([]byte{0x15}); err != nil {
					return err
				}
			}
		}
		return nil
	case "unplug":
		p.near.Close()
		return p.far.Close()
	}
	return errors.New("unknown verb")
}

// receive takes a transfer; what comes after it is left in the inbox.
func (p *programmer) receive(o xmodem.ReceiveOptions) ([]byte, error) {
	stop := make(chan struct{})
	defer close(stop)
	return xmodem.Receive(transferEnd{p, stop}, o)
}

type transferEnd struct {
	p    *programmer
	stop chan struct{}
}

func (e transferEnd) Read(b []byte) (int, error) {
	select {
	case <-e.stop:
		return 0, io.EOF
	default:
	}
	select {
	case c, ok := <-e.p.inbox:
		if !ok {
			return 0, io.EOF
		}
		b[0] = c
		return 1, nil
	case <-e.stop:
		return 0, io.EOF
	}
}
func (e transferEnd) Write(b []byte) (int, error) { return e.p.far.Write(b) }

// scriptProgrammer is the command programmer of the scripts: it starts one
// that does the things given, one after the other, and puts its port into an
// environment variable. At the end of the script all of them must be done.
func scriptProgrammer(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 1 {
		ts.Fatalf("usage: programmer VAR DOES...")
	}
	p, err := startProgrammer(ts.MkAbs("."), args[1:])
	if err != nil {
		ts.Fatalf("%v", err)
	}
	ts.Setenv(args[0], p.port)
	*ts.Value(lastProgrammer{}).(**programmer) = p
	ts.Defer(func() {
		defer p.close()
		waitForProgrammer(ts, p)
	})
}

// lastProgrammer is the key of the last programmer that a script started.
type lastProgrammer struct{}

// scriptProgrammerDone is the command programmer-done of the scripts: it waits
// until the last programmer has done all, and so has written its file. The tool
// ends before that, with the last answer on the line.
func scriptProgrammerDone(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 0 {
		ts.Fatalf("usage: programmer-done")
	}
	waitForProgrammer(ts, *ts.Value(lastProgrammer{}).(**programmer))
}

func waitForProgrammer(ts *testscript.TestScript, p *programmer) {
	select {
	case err := <-p.done:
		p.done <- err // for who asks next
		ts.Check(err)
	case <-time.After(20 * time.Second):
		ts.Fatalf("the programmer on %s is not done", p.port)
	}
}

// bench starts a programmer for a test.
func bench(t *testing.T, does ...string) *programmer {
	t.Helper()
	p, err := startProgrammer(t.TempDir(), does)
	if errors.Is(err, errNoPty) {
		t.Skip(err)
	}
	require.NoError(t, err)
	t.Cleanup(p.close)
	return p
}

func testImage(n int) []byte {
	data := make([]byte, n)
	for i := range data {
		data[i] = byte(i*7 + i/256)
	}
	return data
}

func writeTestImage(t *testing.T, n int) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "image.bin")
	require.NoError(t, os.WriteFile(path, testImage(n), 0o666))
	return path
}

func TestSendOverPty(t *testing.T) {
	path := writeTestImage(t, 32768)
	for _, c := range []struct {
		does, mode, block string
		blocks, bytes     int
	}{
		{"receive=got.bin", "CRC", "128", 256, 256*133 + 1},
		{"receive-sum=got.bin", "checksum", "128", 256, 256*132 + 1},
		{"receive=got.bin", "CRC", "1024", 32, 32*1029 + 1},
	} {
		p := bench(t, c.does)
		status, out, errs := run("send", path, "--port", p.port, "--block", c.block)
		require.Equal(t, 0, status, errs)
		require.NoError(t, <-p.done)
		got, err := os.ReadFile(filepath.Join(p.dir, "got.bin"))
		require.NoError(t, err)
		require.True(t, bytes.Equal(testImage(32768), got))
		assert.Regexp(t, fmt.Sprintf(`^sent 32768 bytes in %d blocks \(%s\), 0 sent again, %d bytes on the line, \d+\.\d s, \d+ bytes/s\n$`, c.blocks, c.mode, c.bytes), out)
		assert.Contains(t, errs, "Before 32768 bytes go to the chip:")
		assert.Contains(t, errs, "  0 %  block 0 of")
		assert.Contains(t, errs, "100 %  block")
	}
}

// What is typed, waited for and sent keeps the order of the command line.
func TestSendWorksTheConsole(t *testing.T) {
	path := writeTestImage(t, 256)
	p := bench(t, `hear=\r`, `say=\r\nchip writer\r\n> `, `hear=write 0\r`, `say=Chip: send C now\r\n`, "receive=got.bin")
	status, out, errs := run("send", path, "--port", p.port, "--type", `\r`, "--expect", "> ", "--type", `write \x30\r`, "--expect", "now", "--quiet")
	require.Equal(t, 0, status, errs)
	require.NoError(t, <-p.done)
	// of two blocks one is sent again where a busy machine makes an ACK suspicious
	assert.Regexp(t, `^sent 256 bytes in 2 blocks \(CRC\), (0 sent again, 267|1 sent again, 400) bytes on the line`, out)
	assert.NotContains(t, errs, "Before", "--quiet leaves out the cautions")
	assert.True(t, strings.HasPrefix(p.said(), "\rwrite 0\r\x01\x01\xFE"), "%q", p.said()[:20])
}

func TestSendInterrupted(t *testing.T) {
	path := writeTestImage(t, 256)
	p := bench(t)
	var out, errs bytes.Buffer
	ctx, cancel := context.WithCancel(t.Context())
	time.AfterFunc(300*time.Millisecond, cancel)
	err := runSend(ctx, streams{strings.NewReader(""), &out, &errs},
		sendOptions{port: portFlags{p.port, 115200}, wait: time.Minute, block: 128}, path)
	var e *exitError
	require.ErrorAs(t, err, &e)
	assert.Equal(t, ExitFindings, e.status)
	assert.Contains(t, errs.String(), "stopped at block 1 of 2 (bytes 0000H to 007FH), the receiver was told to cancel")
	assert.Empty(t, out.String())
	require.Eventually(t, func() bool { return p.said() == "\x18\x18" }, 5*time.Second, 10*time.Millisecond)
}

func TestSendUnplugged(t *testing.T) {
	path := writeTestImage(t, 256)
	p := bench(t, "say=C", "pause=500ms", "unplug")
	status, _, errs := run("send", path, "--port", p.port, "--quiet")
	assert.Equal(t, 1, status)
	assert.Contains(t, errs, "the line was lost at block 1 of 2 (bytes 0000H to 007FH): the port is gone, as if unplugged")
}

func TestCaptureBrokenOff(t *testing.T) {
	dir := t.TempDir()
	target := filepath.Join(dir, "chip.txt")
	require.NoError(t, os.WriteFile(target, []byte("the capture before"), 0o600))
	p := bench(t, "pause=200ms", "say=0000: 3E")
	var out, errs bytes.Buffer
	ctx, cancel := context.WithCancel(t.Context())
	time.AfterFunc(time.Second, cancel)
	err := runCapture(ctx, streams{strings.NewReader(""), &out, &errs},
		captureOptions{port: portFlags{p.port, 115200}, quiet: time.Minute, max: 100, out: target})
	var e *exitError
	require.ErrorAs(t, err, &e)
	assert.Equal(t, ExitFindings, e.status)
	assert.Equal(t, "stopped after 8 bytes; kept in "+target+".partial", e.Error())
	assertFile(t, target, "the capture before")
	assertFile(t, target+".partial", "0000: 3E")
	list, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, list, 2, "nothing else is left behind")
}

func assertFile(t *testing.T, path, want string) {
	t.Helper()
	got, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, want, string(got))
}

// TestCaptureKilled kills captures at odd moments: the target is always the
// old file or the new one, whole.
func TestCaptureKilled(t *testing.T) {
	if testing.Short() {
		t.Skip("kills processes for a while")
	}
	self, err := os.Executable()
	require.NoError(t, err)
	dir := t.TempDir()
	target := filepath.Join(dir, "chip.txt")
	before, after := "before\n", strings.Repeat("0000: 3E 90 D3 23\r\n", 1000)
	whole := 0
	for i := range 20 {
		require.NoError(t, os.WriteFile(target, []byte(before), 0o600))
		p := bench(t, `hear=d\r`)
		go func() {
			<-p.done
			_, _ = p.far.Write([]byte(after))
		}()
		c := exec.Command(self, "capture", "--port", p.port, "--type", `d\r`, "--until-quiet", "100ms", "-o", target)
		c.Args[0] = "romwright"
		require.NoError(t, c.Start())
		time.Sleep(time.Duration(i) * 15 * time.Millisecond)
		_ = c.Process.Kill()
		_ = c.Wait()
		got, err := os.ReadFile(target)
		require.NoError(t, err)
		switch string(got) {
		case before:
		case after:
			whole++
		default:
			t.Fatalf("kill %d: the target holds %d bytes, neither the old file nor the new", i, len(got))
		}
		p.close()
	}
	t.Logf("%d of 20 were over before they were killed", whole)
}

func TestUnescape(t *testing.T) {
	got, err := unescape(`a\r\n\t\e[\x41\xfF\\`)
	require.NoError(t, err)
	assert.Equal(t, "a\r\n\t\x1B[\x41\xFF\\", string(got))
	for _, bad := range []string{`\`, `a\`, `\q`, `\x`, `\x4`, `\xG0`, `\x-1`, `\x+1`} {
		_, err := unescape(bad)
		assert.Error(t, err, bad)
	}
}

func TestWritePorts(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, writePorts(&b, []portInfo{
		{Name: "/dev/ttyUSB10"}, {Name: "/dev/ttyUSB2", USB: "1234:ABCD", Product: "serial \x1b[31madapter", Serial: "A1"}, {Name: "/dev/ttyS0"},
	}))
	assert.Equal(t, `PORT           USB        PRODUCT                 SERIAL NUMBER
/dev/ttyS0     -          -                       -
/dev/ttyUSB2   1234:ABCD  serial \x1B[31madapter  A1
/dev/ttyUSB10  -          -                       -
`, b.String())
	b.Reset()
	require.NoError(t, writePorts(&b, nil))
	assert.Contains(t, b.String(), "no serial port found")
}

// A terminal is not steered by what a line says.
func TestVisible(t *testing.T) {
	var b bytes.Buffer
	n, err := visible{&b}.Write([]byte("a\x1b[2J\x00\r\n\xFF"))
	require.NoError(t, err)
	assert.Equal(t, 9, n)
	assert.Equal(t, "a\\x1B[2J\\x00\r\n\\xFF", b.String())
}

// The bar is for terminals: a second pseudo-terminal stands for one.
func TestBarOnTerminal(t *testing.T) {
	screen, term, err := openPty()
	if err != nil {
		t.Skip(errNoPty)
	}
	var shown bytes.Buffer
	read := make(chan struct{})
	go func() { defer close(read); _, _ = io.Copy(&shown, screen) }()
	m := newMeter(term, 1024)
	for i := range 9 {
		m.update(xmodem.Progress{Mode: xmodem.CRC, Block: i, Blocks: 8, Bytes: i * 128, Total: 1024, Retries: i / 8})
		time.Sleep(30 * time.Millisecond)
	}
	m.end()
	time.Sleep(50 * time.Millisecond)
	term.Close()
	<-read
	screen.Close()
	assert.Contains(t, shown.String(), "block 8 of 8, 1 sent again")
	assert.Contains(t, shown.String(), "100%")
	assert.Regexp(t, `B/s`, shown.String())
}
