//go:build !windows

package cmd

import (
	"os"
	"syscall"

	"github.com/creack/pty"
	xterm "golang.org/x/term"
)

// openPty opens a pseudo-terminal that passes bytes as they are, like a serial
// line. Closing the far end makes a Read of it return.
func openPty() (far, near *os.File, err error) {
	f, near, err := pty.Open()
	if err != nil {
		return nil, nil, err
	}
	defer f.Close()
	if _, err := xterm.MakeRaw(int(near.Fd())); err != nil {
		near.Close()
		return nil, nil, err
	}
	fd, err := syscall.Dup(int(f.Fd()))
	if err == nil {
		err = syscall.SetNonblock(fd, true) // so that the runtime waits for it, not a system call
	}
	if err != nil {
		near.Close()
		return nil, nil, err
	}
	return os.NewFile(uintptr(fd), f.Name()), near, nil
}
