package cmd

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
)

// tempFile is a file that is being written beside its target.
//
// Whoever writes one holds a lock on it until it is renamed or removed, which
// the system drops when the process ends, however it ends. So what a killed
// build left behind can be told from what another build is writing, and the
// next build of the same target clears it away.
type tempFile struct {
	file *os.File // nil when done with
	path string
}

// maxTemps is how many builds may write one target at the same time.
const maxTemps = 1000

// createTemp makes a new file in the target's directory.
func createTemp(target string, mode fs.FileMode) (*tempFile, error) {
	dir, base := filepath.Split(target)
	base = base[:min(len(base), 200)] // room for what is added, where names have 255 bytes
	for i := 0; i < maxTemps; i++ {
		t := &tempFile{path: filepath.Join(dir, "."+base+".new"+strconv.Itoa(i))}
		for range 3 { // a leftover, and another build that clears it away meanwhile
			f, err := os.OpenFile(t.path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
			if errors.Is(err, fs.ErrExist) {
				if !removeLeftover(t.path) {
					break
				}
				continue
			}
			if err != nil {
				return nil, err
			}
			if t.file = f; claim(f) && t.inPlace() {
				return t, nil
			}
			f.Close() // another build took it for a leftover
		}
	}
	return nil, errors.New("too many builds write it")
}

// inPlace: the path still leads to the open file.
func (t *tempFile) inPlace() bool {
	a, err1 := t.file.Stat()
	b, err2 := os.Lstat(t.path)
	return err1 == nil && err2 == nil && os.SameFile(a, b)
}

// fill writes the file and gives it the target's mode.
func (t *tempFile) fill(mode fs.FileMode, write func(io.Writer) error) error {
	if err := write(t.file); err != nil {
		return err
	}
	if mode == newFileMode {
		return nil
	}
	return os.Chmod(t.path, mode) // whatever the umask says
}

// rename puts the file in its target's place.
func (t *tempFile) rename(target string) error {
	f := t.file
	t.file = nil
	if !renamesOpenFiles {
		if err := f.Close(); err != nil {
			os.Remove(t.path)
			return err
		}
	}
	if err := os.Rename(t.path, target); err != nil {
		os.Remove(t.path)
		f.Close()
		return err
	}
	if !renamesOpenFiles {
		return nil
	}
	return f.Close()
}

// discard removes the file unless it was renamed.
func (t *tempFile) discard() {
	if t.file != nil {
		if renamesOpenFiles {
			os.Remove(t.path)
			t.file.Close()
		} else {
			t.file.Close()
			os.Remove(t.path)
		}
		t.file = nil
	}
}
