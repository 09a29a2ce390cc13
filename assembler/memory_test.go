package assembler

import "io/fs"

// memory is a file system in memory: path -> contents.
type memory map[string]string

func (m memory) ReadFile(path string) (string, error) {
	text, ok := m[path]
	if !ok {
		return "", fs.ErrNotExist
	}
	return text, nil
}
