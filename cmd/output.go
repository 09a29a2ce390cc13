package cmd

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"syscall"

	"romwright/diag"
)

// output is a file to be written.
type output struct {
	path  string
	write func(io.Writer) error
}

// pending is an output that lies finished beside its target.
type pending struct {
	output
	target string // the file itself, links followed
	mode   fs.FileMode
	temp   *tempFile
}

// commit writes all outputs or none: each beside its target first, then all
// are renamed. A target that is no regular file (a device, a pipe) is written
// through. Nothing is left behind where it fails.
func commit(outputs []output) (err error) {
	var beside, through []pending
	defer func() {
		for _, p := range beside {
			p.temp.discard()
		}
	}()
	for _, o := range outputs {
		target, mode, regular, err := resolve(o.path)
		if err != nil {
			return unwritten(o.path, err)
		}
		p := pending{output: o, target: target, mode: mode}
		if !regular {
			through = append(through, p)
			continue
		}
		if p.temp, err = createTemp(target, mode); err != nil {
			return unwritten(o.path, err)
		}
		beside = append(beside, p)
	}
	// at the same time: a long listing and a long symbol table take as long as
	// all the rest of a build
	errs := make([]error, len(beside))
	var all sync.WaitGroup
	for i := range beside {
		all.Go(func() { errs[i] = beside[i].temp.fill(beside[i].mode, beside[i].write) })
	}
	all.Wait()
	for i, err := range errs {
		if err != nil {
			return unwritten(beside[i].path, err)
		}
	}
	for _, p := range through {
		f, err := os.OpenFile(p.target, os.O_WRONLY, 0)
		if err != nil {
			return unwritten(p.path, err)
		}
		err = p.write(f)
		if cerr := f.Close(); err == nil {
			err = cerr
		}
		if err != nil {
			return unwritten(p.path, err)
		}
	}
	for _, p := range beside {
		if err := p.temp.rename(p.target); err != nil {
			return unwritten(p.path, err)
		}
	}
	return nil
}

// newFileMode is the mode of a file that is not there yet, less the umask.
const newFileMode fs.FileMode = 0o666

// resolve follows links and tells whether the target is, or will be, a regular
// file, and its mode.
func resolve(path string) (target string, mode fs.FileMode, regular bool, err error) {
	target = path
	for range 40 {
		st, err := os.Lstat(target)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			return target, newFileMode, true, nil
		case err != nil:
			return "", 0, false, err
		case st.Mode()&fs.ModeSymlink != 0:
			to, err := os.Readlink(target)
			if err != nil {
				return "", 0, false, err
			}
			if !filepath.IsAbs(to) {
				to = filepath.Join(filepath.Dir(target), to)
			}
			target = to
			continue
		case st.IsDir():
			return "", 0, false, errors.New("it is a directory")
		case st.Mode().IsRegular():
			// what may not be written is not replaced either
			f, err := os.OpenFile(target, os.O_WRONLY, 0)
			if err != nil {
				return "", 0, false, err
			}
			f.Close()
			return target, st.Mode().Perm(), true, nil
		}
		return target, 0, false, nil
	}
	return "", 0, false, errors.New("too many links")
}

func unwritten(path string, err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		err = pe.Err
	}
	var le *os.LinkError
	if errors.As(err, &le) {
		err = le.Err
	}
	return &exitError{ExitTrouble, fmt.Errorf("%s cannot be written: %w", diag.Printable(path), err)}
}

// wrote turns an error of writing to a stream into the command's. A pipe that
// the reader closed needs no words.
func wrote(name string, err error) error {
	if err == nil {
		return nil
	}
	if errors.Is(err, syscall.EPIPE) || errors.Is(err, io.ErrClosedPipe) {
		return &exitError{status: ExitTrouble}
	}
	return unwritten(name, err)
}

// writeReport writes a report to a file, or to standard output where path is
// empty or "-".
func writeReport(s streams, path string, write func(io.Writer) error) error {
	if path == "" || path == "-" {
		b := bufio.NewWriterSize(s.Out, 1<<16)
		err := write(b)
		if ferr := b.Flush(); err == nil {
			err = ferr
		}
		return wrote("standard output", err)
	}
	return commit([]output{{path, func(w io.Writer) error {
		b := bufio.NewWriterSize(w, 1<<16)
		if err := write(b); err != nil {
			return err
		}
		return b.Flush()
	}}})
}
