package cmd

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"romwright/assembler"
)

// syncBuffer is a buffer that one side writes and another reads meanwhile.
type syncBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (b *syncBuffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.b.Write(p)
}

func (b *syncBuffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.b.String()
}

// until polls for a condition, with a deadline that only a failure reaches.
func until(t *testing.T, what string, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(20 * time.Second); time.Now().Before(end); time.Sleep(2 * time.Millisecond) {
		if ok() {
			return
		}
	}
	require.FailNow(t, "it never happened", what)
}

func TestWatch(t *testing.T) {
	dir := t.TempDir()
	path := func(name string) string { return filepath.Join(dir, name) }
	write := func(name, text string) {
		require.NoError(t, os.WriteFile(path(name), []byte(text), 0o666))
	}
	// replace is what editors do that write a new file and rename it
	replace := func(name, text string) {
		write(name+".tmp", text)
		require.NoError(t, os.Rename(path(name+".tmp"), path(name)))
	}
	write("main.asm", " CAPACITY 2\n INCLUDE \"part.inc\"\n")
	write("part.inc", " DEFB 1\n")

	var out, errs syncBuffer
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() {
		done <- runWatch(ctx, streams{strings.NewReader(""), &out, &errs}, buildOptions{brief: true}, []string{path("main.asm")})
	}()
	first := func() byte {
		image, err := os.ReadFile(path("main.bin"))
		if err != nil {
			return 0
		}
		require.Len(t, image, 2) // never half of it
		return image[0]
	}
	holds := func(b byte) func() bool { return func() bool { return first() == b } }
	says := func(text string, n int) func() bool {
		return func() bool { return strings.Count(errs.String(), text) == n }
	}

	until(t, "the first build", holds(1))
	write("part.inc", " DEFB 2\n")
	until(t, "an included file is written", holds(2))
	replace("part.inc", " DEFB 3\n")
	until(t, "an included file is replaced", holds(3))
	replace("part.inc", " DEFB 4\n")
	until(t, "it is replaced once more", holds(4))
	replace("main.asm", " CAPACITY 2\n INCLUDE \"part.inc\"\n ; remark\n NOP\n")
	until(t, "the source is replaced", func() bool { return strings.Contains(out.String(), "2 used") })

	write("part.inc", " DEFB nowhere\n")
	until(t, "an error", says("nothing was written", 1))
	assert.Equal(t, byte(4), first())
	write("part.inc", " DEFB 5\n")
	until(t, "the error is mended", holds(5))

	require.NoError(t, os.Remove(path("part.inc")))
	until(t, "an included file is gone", says("nothing was written", 2))
	write("part.inc", " DEFB 6\n")
	until(t, "it is there again", holds(6))
	require.NoError(t, os.Rename(path("main.asm"), path("away.asm")))
	until(t, "the source is gone", says("main.asm cannot be read", 1))
	require.NoError(t, os.Rename(path("away.asm"), path("main.asm")))
	write("part.inc", " DEFB 7\n")
	until(t, "it is back", holds(7))

	// a file that is to come, in a folder that is to come
	write("main.asm", " CAPACITY 2\n INCLUDE \"deep/down/part.inc\"\n")
	until(t, "a file is missing", says("nothing was written", 3))
	require.NoError(t, os.MkdirAll(path("deep/down"), 0o777))
	write("deep/down/part.inc", " DEFB 8\n")
	until(t, "it has come", holds(8))

	// an embedded file; and a link, followed to where the file is
	require.NoError(t, os.Mkdir(path("elsewhere"), 0o777))
	write("elsewhere/data", "\x09")
	if os.Symlink(path("elsewhere/data"), path("link")) == nil {
		write("main.asm", " CAPACITY 2\n EMBED \"link\"\n")
		until(t, "a linked file", holds(9))
		write("elsewhere/data", "\x0A")
		until(t, "it changes", holds(10))
	}

	cancel()
	select {
	case err := <-done:
		assert.NoError(t, err)
	case <-time.After(10 * time.Second):
		require.FailNow(t, "it does not end")
	}
	for _, line := range strings.Split(strings.TrimSpace(out.String()), "\n") {
		assert.Regexp(t, `^main\.asm: built, \d used, \d free, CRC-32 [0-9A-F]{8}, 0 warnings$`, line)
	}
}

// Nothing is built again unless something changed, whatever else happens in
// the folder.
func TestWatchNoise(t *testing.T) {
	dir := t.TempDir()
	source := filepath.Join(dir, "main.asm")
	require.NoError(t, os.WriteFile(source, []byte(" CAPACITY 2\n NOP\n"), 0o666))
	var out, errs syncBuffer
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() {
		done <- runWatch(ctx, streams{strings.NewReader(""), &out, &errs}, buildOptions{brief: true, symbols: filepath.Join(dir, "symbols.json")}, []string{source})
	}()
	built := func(n int) func() bool {
		return func() bool { return strings.Count(out.String(), "built") >= n }
	}
	until(t, "the first build", built(1))
	for _, name := range []string{"a", "b", "c"} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), nil, 0o666))
	}
	require.NoError(t, os.Chmod(source, 0o644))
	require.NoError(t, os.WriteFile(source, []byte(" CAPACITY 2\n HALT\n"), 0o666))
	until(t, "the second", built(2))
	cancel()
	require.NoError(t, <-done)
	assert.LessOrEqual(t, strings.Count(out.String(), "built"), 3) // the two changes of the source may be seen apart
	assert.Empty(t, errs.String())
}

// What a source reads is known also where it fails.
func TestWatchedFiles(t *testing.T) {
	dir := t.TempDir()
	source := filepath.Join(dir, "main.asm")
	require.NoError(t, os.WriteFile(source, []byte(" INCLUDE \"none.inc\"\n"), 0o666))
	w := &watched{source: source}
	s := streams{strings.NewReader(""), &bytes.Buffer{}, &bytes.Buffer{}}
	err := w.build(s, buildOptions{source: assembler.Options{IncludeDirs: []string{filepath.Join(dir, "lib")}}})
	require.Error(t, err)
	assert.Contains(t, w.files, source)
	assert.Contains(t, w.files, filepath.Join(dir, "none.inc"))
	assert.Contains(t, w.files, filepath.Join(dir, "lib", "none.inc"))
	changed, gone := w.changed()
	assert.False(t, changed)
	assert.False(t, gone)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "none.inc"), nil, 0o666))
	changed, _ = w.changed()
	assert.True(t, changed)
}
