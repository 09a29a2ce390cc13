package assembler

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"unsafe"
)

// MaxFile is the largest source or included file, in bytes.
const MaxFile = 64 << 20

// maxRead bounds what included and embedded files bring into memory in a run.
const maxRead = 512 << 20

// Files reads the files that a source names.
type Files interface {
	// ReadFile gives the whole of a regular file of at most MaxFile bytes. The
	// error satisfies errors.Is(err, fs.ErrNotExist) where there is none.
	ReadFile(path string) (string, error)
}

// Disk reads the disk. Devices, pipes and directories are refused, since they
// have no end or no bytes.
type Disk struct{}

// ReadFile reads a regular file.
func (Disk) ReadFile(path string) (string, error) {
	// Looked at before it is opened: opening a pipe waits for its other end.
	st, err := os.Stat(path)
	if err != nil {
		return "", plain(err)
	}
	if !st.Mode().IsRegular() {
		return "", fmt.Errorf("it is %s, not a file", kindOfFile(st.Mode()))
	}
	f, err := os.Open(path)
	if err != nil {
		return "", plain(err)
	}
	defer f.Close()
	text, err := ReadLimited(f, st.Size())
	if err != nil {
		return "", err
	}
	after, err := f.Stat()
	if err != nil {
		return "", plain(err)
	}
	if !after.Mode().IsRegular() {
		return "", errors.New("it is not a file")
	}
	if after.Size() != int64(len(text)) || !after.ModTime().Equal(st.ModTime()) {
		return "", errors.New("it was changed while it was read")
	}
	return text, nil
}

// ReadLimited reads all of r, at most MaxFile bytes; size is what is expected
// or 0.
func ReadLimited(r io.Reader, size int64) (string, error) {
	if size > MaxFile {
		return "", fmt.Errorf("it has %d bytes, more than the %d a source may have", size, MaxFile)
	}
	buf := make([]byte, 0, size+1)
	for {
		n, err := r.Read(buf[len(buf):cap(buf)])
		buf = buf[:len(buf)+n]
		if len(buf) > MaxFile {
			return "", fmt.Errorf("it has more than the %d bytes a source may have", MaxFile)
		}
		if err == io.EOF {
			return asString(buf), nil
		}
		if err != nil {
			return "", plain(err)
		}
		if len(buf) == cap(buf) {
			buf = append(buf, 0)[:len(buf)]
		}
	}
}

func kindOfFile(m fs.FileMode) string {
	switch {
	case m.IsDir():
		return "a directory"
	case m&fs.ModeNamedPipe != 0:
		return "a pipe"
	case m&fs.ModeDevice != 0:
		return "a device"
	case m&fs.ModeSocket != 0:
		return "a socket"
	}
	return "something else"
}

// plain leaves the operation and the path out of a system error: the message
// around it names the file.
func plain(err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		if errors.Is(err, fs.ErrNotExist) {
			return notExist{}
		}
		return pe.Err
	}
	return err
}

type notExist struct{}

func (notExist) Error() string        { return "there is no such file" }
func (notExist) Is(target error) bool { return target == fs.ErrNotExist }

// find reads a file named by a source, beside the source that names it and
// then in each include directory. path is where it was found.
func (a *run) find(name, besides string) (path, text string, err error) {
	defer func() {
		if err != nil {
			return
		}
		if !a.read[path] {
			a.read[path] = true
			a.paths = append(a.paths, path)
		}
		if a.readBytes += int64(len(text)); a.readBytes > maxRead {
			err = fmt.Errorf("the files read have more than %d bytes in all", int64(maxRead))
		}
	}()
	if name == "" {
		return "", "", errors.New("no file is named")
	}
	if filepath.IsAbs(name) {
		text, err = a.files.ReadFile(name)
		return name, text, err
	}
	dirs := append([]string{filepath.Dir(besides)}, a.opt.IncludeDirs...)
	for _, d := range dirs {
		path = filepath.Join(d, name)
		text, err = a.files.ReadFile(path)
		if err == nil || !errors.Is(err, fs.ErrNotExist) {
			return path, text, err
		}
	}
	return name, "", err
}

// asString makes a string of bytes that nobody else keeps, without a copy.
func asString(b []byte) string { return unsafe.String(unsafe.SliceData(b), len(b)) }
