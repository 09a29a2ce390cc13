package cmd

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// skipOrFail skips a test that this machine cannot run; the CI run, which is
// set up for it, fails instead.
func skipOrFail(t *testing.T, format string, args ...any) {
	t.Helper()
	if os.Getenv("ROMWRIGHT_CI") == "1" {
		t.Fatalf(format, args...)
	}
	t.Skipf(format, args...)
}

// binary builds the command once, as a user has it.
var binary = sync.OnceValues(func() (string, error) {
	dir, err := os.MkdirTemp("", "romwright-binary")
	if err != nil {
		return "", err
	}
	binaryDir = dir
	if err := os.Chmod(dir, 0o755); err != nil { // other users run it too
		return "", err
	}
	path := filepath.Join(dir, "romwright")
	out, err := exec.Command("go", "build", "-o", path, "romwright/cmd/romwright").CombinedOutput()
	if err != nil {
		return "", fmt.Errorf("%w: %s", err, out)
	}
	return path, nil
})

// process makes a command line of the built binary; it is killed when it hangs.
func process(t *testing.T, dir string, args ...string) *exec.Cmd {
	t.Helper()
	path, err := binary()
	require.NoError(t, err)
	c := exec.CommandContext(t.Context(), path, args...)
	c.Dir = dir
	return c
}

// finish runs a process that must end by itself, and gives its exit status (-1
// where a signal ended it) and what it wrote to standard error.
func finish(t *testing.T, c *exec.Cmd) (int, string) {
	t.Helper()
	var errs bytes.Buffer
	if c.Stderr == nil {
		c.Stderr = &errs
	}
	require.NoError(t, c.Start())
	timer := time.AfterFunc(30*time.Second, func() { c.Process.Kill() })
	err := c.Wait()
	require.True(t, timer.Stop(), "it hangs")
	var e *exec.ExitError
	if err != nil {
		require.True(t, errors.As(err, &e), "%v", err)
	}
	assert.NotContains(t, errs.String(), "goroutine", "it panics")
	return c.ProcessState.ExitCode(), errs.String()
}

// leftovers lists what builds left or have beside their targets, and when each
// was written last.
func leftovers(t *testing.T, dir string) map[string]time.Time {
	t.Helper()
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	list := map[string]time.Time{}
	for _, e := range entries {
		if !strings.Contains(e.Name(), ".new") {
			continue
		}
		if st, err := e.Info(); err == nil { // else it went meanwhile
			list[e.Name()] = st.ModTime()
		}
	}
	return list
}

// longSource is a program of some 70,000 lines that fills a 64K chip with one
// value.
func longSource(value int) string {
	var b strings.Builder
	b.WriteString(" CAPACITY 64K\n")
	b.WriteString(strings.Repeat("; a remark, to make it last\n", 50000))
	for i := range 20000 {
		fmt.Fprintf(&b, "line%d: DEFB %d,%d,%d ; remark\n", i, value, value, value)
	}
	return b.String()
}

// A build is killed at 100 random moments, half of them while it writes: each
// output is the old one or the new one, whole, and what is left over beside
// them does not grow.
func TestKilledBuild(t *testing.T) {
	dir := t.TempDir()
	outputs := []string{"prog.bin", "prog.lst", "prog.json"}
	args := func(source string) []string {
		return []string{"build", "-o", "prog.bin", "--symbols", "prog.json", source}
	}
	read := func() map[string]string {
		files := map[string]string{}
		for _, name := range outputs {
			data, err := os.ReadFile(filepath.Join(dir, name))
			require.NoError(t, err)
			files[name] = string(data)
		}
		return files
	}
	var want [2]map[string]string
	usual := time.Hour
	sources := [2]string{"a.asm", "b.asm"}
	for i, source := range sources {
		require.NoError(t, os.WriteFile(filepath.Join(dir, source), []byte(longSource(i+1)), 0o666))
		for range 3 {
			start := time.Now()
			status, errs := finish(t, process(t, dir, args(source)...))
			require.Equal(t, 0, status, errs)
			usual = min(usual, time.Since(start)) // the first time is longer
		}
		want[i] = read()
	}
	require.NotEqual(t, want[0]["prog.bin"], want[1]["prog.bin"])
	require.Len(t, want[0]["prog.bin"], 64<<10)

	killed, writing := 0, 0
	for i := range 100 {
		before := leftovers(t, dir)
		writes := func() bool { // it has begun a file, or has cleared one away
			return !maps.Equal(before, leftovers(t, dir))
		}
		c := process(t, dir, args(sources[i%2])...)
		require.NoError(t, c.Start())
		end := time.Now().Add(rand.N(usual * 5 / 4))
		if i%4 >= 2 { // wait until it writes, and a little
			for end := time.Now().Add(usual * 2); time.Now().Before(end) && !writes(); {
				time.Sleep(50 * time.Microsecond)
			}
			end = time.Now().Add(rand.N(usual / 2))
		}
		time.Sleep(time.Until(end))
		c.Process.Kill()
		if c.Wait() != nil {
			killed++
			if writes() {
				writing++
			}
		}
		for name, data := range read() {
			if data != want[0][name] && data != want[1][name] {
				require.FailNow(t, "neither the old file nor the new one", "%s after kill %d: %d bytes", name, i, len(data))
			}
		}
		require.LessOrEqual(t, len(leftovers(t, dir)), len(outputs), "leftovers grow")
	}
	t.Logf("%d of 100 builds were killed before their end, %d of them while they wrote", killed, writing)
	assert.Greater(t, killed, 20)
	assert.Greater(t, writing, 5)

	status, errs := finish(t, process(t, dir, args(sources[0])...))
	require.Equal(t, 0, status, errs)
	assert.Equal(t, want[0], read())
	assert.Empty(t, leftovers(t, dir))
}

// Builds of one target at the same time do not take each other's files for
// leftovers: all succeed, and the target is one of theirs.
func TestBuildsAtOnce(t *testing.T) {
	dir := t.TempDir()
	sources := []string{"a.asm", "b.asm"}
	for i, source := range sources {
		require.NoError(t, os.WriteFile(filepath.Join(dir, source), []byte(longSource(i+1)), 0o666))
	}
	for range 5 {
		var wg sync.WaitGroup
		for i := range 6 {
			c := process(t, dir, "build", "-o", "prog.bin", sources[i%2])
			wg.Go(func() {
				out, err := c.CombinedOutput()
				assert.NoError(t, err, string(out))
			})
		}
		wg.Wait()
		image, err := os.ReadFile(filepath.Join(dir, "prog.bin"))
		require.NoError(t, err)
		require.Len(t, image, 64<<10)
		assert.Equal(t, bytes.Repeat(image[:1], 60000), image[:60000])
		assert.Empty(t, leftovers(t, dir))
	}
}

// mount makes a small file system in memory.
func mount(t *testing.T, options string) string {
	t.Helper()
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, options); err != nil {
		skipOrFail(t, "a small tmpfs cannot be mounted here: %v", err)
	}
	t.Cleanup(func() { assert.NoError(t, syscall.Unmount(dir, syscall.MNT_DETACH)) })
	return dir
}

func TestFullDisk(t *testing.T) {
	disk := mount(t, "size=48k")
	home := t.TempDir()
	small := " CAPACITY 16K\n DEFB 1\n"
	require.NoError(t, os.WriteFile(filepath.Join(home, "prog.asm"), []byte(small), 0o666))
	image := filepath.Join(disk, "prog.bin")
	status, errs := finish(t, process(t, home, "build", "-o", image, "prog.asm"))
	require.Equal(t, 0, status, errs)
	before := files(t, disk)

	// the image does not fit
	large := " CAPACITY 64K\n DEFB 2\n"
	require.NoError(t, os.WriteFile(filepath.Join(home, "prog.asm"), []byte(large), 0o666))
	status, errs = finish(t, process(t, home, "build", "-o", image, "prog.asm"))
	assert.Equal(t, ExitTrouble, status)
	assert.Equal(t, "romwright: "+image+" cannot be written: no space left on device\n", errs)
	assert.Equal(t, before, files(t, disk))

	// the image fits elsewhere, but the listing does not: neither is written
	require.NoError(t, os.WriteFile(filepath.Join(home, "prog.asm"), []byte(longSource(3)), 0o666))
	list := filepath.Join(disk, "prog.lst")
	status, errs = finish(t, process(t, home, "build", "--listing", list, "prog.asm"))
	assert.Equal(t, ExitTrouble, status)
	assert.Equal(t, "romwright: "+list+" cannot be written: no space left on device\n", errs)
	assert.Equal(t, before, files(t, disk))
	assert.NoFileExists(t, filepath.Join(home, "prog.bin"))
	assert.Empty(t, leftovers(t, home))

	// no room for the sample
	require.NoError(t, os.WriteFile(filepath.Join(disk, "fill"), make([]byte, 24<<10), 0o666))
	status, errs = finish(t, process(t, home, "sample", filepath.Join(disk, "demo")))
	assert.Equal(t, ExitTrouble, status)
	assert.Contains(t, errs, "no space left on device")
	assert.Empty(t, leftovers(t, filepath.Join(disk, "demo")))
}

func TestReadOnlyDisk(t *testing.T) {
	disk := mount(t, "size=1m")
	home := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(home, "prog.asm"), []byte(" CAPACITY 4\n DEFB 1\n"), 0o666))
	image := filepath.Join(disk, "prog.bin")
	status, errs := finish(t, process(t, home, "build", "-o", image, "prog.asm"))
	require.Equal(t, 0, status, errs)
	before := files(t, disk)
	require.NoError(t, syscall.Mount("", disk, "", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""))

	require.NoError(t, os.WriteFile(filepath.Join(home, "prog.asm"), []byte(" CAPACITY 4\n DEFB 2\n"), 0o666))
	for _, target := range []string{image, filepath.Join(disk, "fresh.bin")} {
		status, errs = finish(t, process(t, home, "build", "-o", target, "prog.asm"))
		assert.Equal(t, ExitTrouble, status)
		assert.Equal(t, "romwright: "+target+" cannot be written: read-only file system\n", errs)
	}
	assert.Equal(t, before, files(t, disk))
	status, errs = finish(t, process(t, home, "sample", filepath.Join(disk, "demo")))
	assert.Equal(t, ExitTrouble, status)
	assert.Contains(t, errs, "read-only file system")
}

// A folder and a file that the user may not write.
func TestForbiddenFolder(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "prog.asm"), []byte(" CAPACITY 4\n DEFB 1\n"), 0o644))
	out := filepath.Join(dir, "out")
	require.NoError(t, os.Mkdir(out, 0o777))
	require.NoError(t, os.WriteFile(filepath.Join(out, "prog.bin"), []byte("old"), 0o666))
	require.NoError(t, os.Chmod(filepath.Join(out, "prog.bin"), 0o666))
	require.NoError(t, os.WriteFile(filepath.Join(out, "closed.bin"), []byte("old"), 0o444))
	require.NoError(t, os.Chmod(out, 0o555))
	t.Cleanup(func() { os.Chmod(out, 0o777) })
	before := files(t, out)
	for _, target := range []string{"out/prog.bin", "out/closed.bin", "out/fresh.bin"} {
		c := process(t, dir, "build", "-o", target, "prog.asm")
		if os.Getuid() == 0 { // whom no mode keeps out
			require.NoError(t, os.Chmod(filepath.Dir(dir), 0o755))
			c.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
		}
		status, errs := finish(t, c)
		assert.Equal(t, ExitTrouble, status)
		assert.Equal(t, "romwright: "+target+" cannot be written: permission denied\n", errs)
	}
	assert.Equal(t, before, files(t, out))
}

// files gives the files of a folder and what they hold.
func files(t *testing.T, dir string) map[string]string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	list := map[string]string{}
	for _, e := range entries {
		data, err := os.ReadFile(filepath.Join(dir, e.Name()))
		require.NoError(t, err)
		list[e.Name()] = string(data)
	}
	return list
}

// The other end of standard output or standard error is closed, or full: what
// is written to files is whole, and the process ends.
func TestClosedStreams(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "prog.asm"), []byte(longSource(1)), 0o666))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "bad.asm"), []byte(strings.Repeat(" NOPE\n", 20000)), 0o666))
	closed := func() *os.File {
		r, w, err := os.Pipe()
		require.NoError(t, err)
		require.NoError(t, r.Close())
		t.Cleanup(func() { w.Close() })
		return w
	}
	whole := func() {
		t.Helper()
		image, err := os.ReadFile(filepath.Join(dir, "prog.bin"))
		require.NoError(t, err)
		assert.Len(t, image, 64<<10)
		assert.Empty(t, leftovers(t, dir))
		require.NoError(t, os.Remove(filepath.Join(dir, "prog.bin")))
	}

	c := process(t, dir, "build", "prog.asm")
	c.Stdout = closed()
	status, errs := finish(t, c)
	assert.NotEqual(t, 0, status)
	assert.Empty(t, errs)
	whole()

	for _, args := range [][]string{{"build", "-o", "-", "prog.asm"}, {"build", "--listing", "-", "prog.asm"}, {"opcodes"}, {"--help"}} {
		c = process(t, dir, args...)
		c.Stdout = closed()
		status, errs = finish(t, c)
		assert.NotEqual(t, 0, status, args)
		assert.NotContains(t, errs, "cannot", args)
	}
	whole()

	c = process(t, dir, "build", "--all-errors", "bad.asm")
	c.Stderr = closed()
	status, _ = finish(t, c)
	assert.NotEqual(t, 0, status)

	// the reader goes away in the middle
	c = process(t, dir, "build", "--no-listing", "-o", "x.bin", "--symbols", "-", "prog.asm")
	r, err := c.StdoutPipe()
	require.NoError(t, err)
	go func() {
		r.Read(make([]byte, 10))
		r.Close()
	}()
	status, _ = finish(t, c)
	assert.NotEqual(t, 0, status)
	assert.FileExists(t, filepath.Join(dir, "x.bin"))

	// no standard output at all
	path, err := binary()
	require.NoError(t, err)
	sh := exec.CommandContext(t.Context(), "sh", "-c", `"$0" build prog.asm >&-`, path)
	sh.Dir = dir
	status, errs = finish(t, sh)
	assert.Equal(t, 0, status, errs)
	whole()

	full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
	require.NoError(t, err)
	defer full.Close()
	c = process(t, dir, "build", "prog.asm")
	c.Stdout = full
	status, errs = finish(t, c)
	assert.Equal(t, ExitTrouble, status)
	assert.Equal(t, "romwright: the summary cannot be written: no space left on device\n", errs)
	whole()
	for _, args := range [][]string{{"build", "-o", "-", "prog.asm"}, {"opcodes"}, {"opcodes", "--format", "json"}, {"version"}, {"--help"}, {"help", "build"}, {"completion", "bash"}} {
		c = process(t, dir, args...)
		c.Stdout = full
		status, errs = finish(t, c)
		assert.Equal(t, ExitTrouble, status, args)
		assert.Contains(t, errs, "cannot be written: no space left on device", args)
	}
}

// A source or an included file that grows while it is read is told, and no
// image comes of it.
func TestSourceChangesMeanwhile(t *testing.T) {
	dir := t.TempDir()
	main := filepath.Join(dir, "main.asm")
	part := filepath.Join(dir, "part.inc")
	require.NoError(t, os.WriteFile(main, []byte(" CAPACITY 4\n INCLUDE \"part.inc\"\n"), 0o666))
	require.NoError(t, os.WriteFile(part, []byte(strings.Repeat("; remark\n", 1<<20)), 0o666))
	stop := make(chan struct{})
	var wg sync.WaitGroup
	wg.Go(func() {
		f, err := os.OpenFile(part, os.O_WRONLY|os.O_APPEND, 0)
		if !assert.NoError(t, err) {
			return
		}
		defer f.Close()
		for {
			select {
			case <-stop:
				return
			default:
				f.WriteString(";\n")
				time.Sleep(200 * time.Microsecond)
			}
		}
	})
	told := map[string]int{}
	for range 10 {
		for source, status := range map[string]int{"main.asm": ExitFindings, "part.inc": ExitTrouble} {
			got, errs := finish(t, process(t, dir, "build", "-o", "out.bin", source))
			if strings.Contains(errs, "it was changed while it was read") {
				assert.Equal(t, status, got, errs)
				assert.NoFileExists(t, filepath.Join(dir, "out.bin"))
				told[source]++
			}
			os.Remove(filepath.Join(dir, "out.bin"))
		}
	}
	close(stop)
	wg.Wait()
	assert.Positive(t, told["main.asm"])
	assert.Positive(t, told["part.inc"])
	status, errs := finish(t, process(t, dir, "build", "main.asm"))
	assert.Equal(t, 0, status, errs)
}

// Includes that have no end or wait for somebody.
func TestEndlessIncludes(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, syscall.Mkfifo(filepath.Join(dir, "pipe"), 0o666))
	require.NoError(t, os.Symlink("/dev/zero", filepath.Join(dir, "link")))
	big, err := os.Create(filepath.Join(dir, "big"))
	require.NoError(t, err)
	require.NoError(t, big.Truncate(65<<20))
	require.NoError(t, big.Close())
	cases := []struct{ line, want string }{
		{`INCLUDE "pipe"`, "a pipe"},
		{`EMBED "pipe"`, "a pipe"},
		{`INCLUDE "/dev/zero"`, "a device"},
		{`EMBED "link"`, "a device"},
		{`INCLUDE "/dev/stdin"`, "a pipe"},
		{`INCLUDE "big"`, "more than the 67108864"},
		{`EMBED "."`, "a directory"},
	}
	for _, c := range cases {
		require.NoError(t, os.WriteFile(filepath.Join(dir, "main.asm"), []byte(" CAPACITY 4\n "+c.line+"\n"), 0o666))
		p := process(t, dir, "build", "main.asm")
		_, err := p.StdinPipe() // open, and nobody writes
		require.NoError(t, err)
		status, errs := finish(t, p)
		assert.Equal(t, ExitFindings, status, c.line)
		assert.Contains(t, errs, "main.asm:2:", c.line)
		assert.Contains(t, errs, c.want, c.line)
		assert.NoFileExists(t, filepath.Join(dir, "main.bin"))
	}
}
