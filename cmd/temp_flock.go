//go:build linux || darwin || freebsd || netbsd || openbsd || dragonfly

package cmd

import (
	"errors"
	"os"
	"syscall"
)

// renamesOpenFiles: an open file may be renamed and removed here.
const renamesOpenFiles = true

// claim locks a file that is being written; false where another process has it.
// A file system without locks takes the file for claimed.
func claim(f *os.File) bool {
	return !errors.Is(syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB), syscall.EWOULDBLOCK)
}

// removeLeftover removes a file that nobody is writing; false where somebody
// is, or where that cannot be told.
func removeLeftover(path string) bool {
	f, err := os.OpenFile(path, os.O_WRONLY|syscall.O_NOFOLLOW|syscall.O_NONBLOCK, 0)
	if err != nil {
		return os.IsNotExist(err) // it is gone: try again
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil || !st.Mode().IsRegular() {
		return false
	}
	if syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB) != nil {
		return false
	}
	if t := (tempFile{file: f, path: path}); !t.inPlace() {
		return true // it was renamed or removed as we looked
	}
	return os.Remove(path) == nil
}
