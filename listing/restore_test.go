package listing

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"romwright/assembler"
)

// optionsOf reads the "; options:" line of a source of the project; see
// assembler/testdata/README.md.
func optionsOf(t *testing.T, path, text string) assembler.Options {
	t.Helper()
	var opt assembler.Options
	first, _, _ := strings.Cut(text, "\n")
	_, list, _ := strings.Cut(first, "; options:")
	words := strings.Fields(list)
	for i := 0; i < len(words); i++ {
		name, value, has := strings.Cut(words[i], "=")
		if name != "--unpadded" && name != "--all-errors" && !has {
			i++
			value = words[i]
		}
		number := func() int64 {
			v, err := assembler.ParseValue(value)
			require.NoError(t, err)
			return v
		}
		switch name {
		case "--define":
			opt.Defines = append(opt.Defines, value)
		case "--accept":
			opt.Accept = append(opt.Accept, strings.Split(value, ",")...)
		case "--skip":
			opt.Skip = append(opt.Skip, strings.Split(value, ",")...)
		case "--include-dir":
			opt.IncludeDirs = append(opt.IncludeDirs, filepath.Join(filepath.Dir(path), value))
		case "--capacity":
			opt.Capacity = number()
		case "--at":
			opt.At, opt.HasAt = number(), true
		case "--blank":
			opt.Blank, opt.HasBlank = int(number()), true
		case "--unpadded":
			opt.Unpadded = true
		}
	}
	return opt
}

// The listing of every source of the project restores its image to the byte,
// with and without the lines of expansions.
func TestListingsRestoreImages(t *testing.T) {
	n := 0
	for _, pattern := range []string{"../testdata/programs/*.asm", "../assembler/testdata/basic/*.asm", "../assembler/testdata/language/*.asm"} {
		files, err := filepath.Glob(pattern)
		require.NoError(t, err)
		for _, path := range files {
			text, err := os.ReadFile(path)
			require.NoError(t, err)
			p := assembler.Assemble(path, string(text), optionsOf(t, path, string(text)))
			require.NoError(t, p.Diags.Err(), path)
			for _, opt := range []ProgramOptions{{}, {HideExpansions: true}} {
				var b bytes.Buffer
				require.NoError(t, WriteProgram(&b, p, opt))
				_, im, list := Parse(b.String(), "x.lst")
				require.NoError(t, list.Err(), path)
				assert.True(t, bytes.Equal(p.Image.Data, im.Data), path)
				assert.Equal(t, p.Image.UsedRanges(), im.UsedRanges(), path)
				assert.Equal(t, [3]int{p.Image.Capacity, p.Image.At, p.Image.Copies}, [3]int{im.Capacity, im.At, im.Copies}, path)
				n++
			}
		}
	}
	assert.Greater(t, n, 100)
}
