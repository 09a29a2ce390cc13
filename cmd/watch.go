package cmd

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"

	"github.com/fsnotify/fsnotify"

	"romwright/assembler"
	"romwright/diag"
)

// settle is how long a change may take: editors write a file in several steps,
// or another one in its place.
const settle = 50 * time.Millisecond

// watched is a source with every file that its last build asked for, there or
// not, and what that file was like when it was read.
type watched struct {
	source string
	files  map[string]fs.FileInfo // nil: not there
}

// ReadFile reads the disk for the assembler and remembers the file. It was
// looked at before it is read, so that no change falls between the two.
func (w *watched) ReadFile(path string) (string, error) {
	w.look(path)
	return assembler.Disk{}.ReadFile(path)
}

func (w *watched) look(path string) {
	st, err := os.Stat(path)
	if err != nil {
		st = nil
	}
	w.files[path] = st
}

// changed tells whether a file is not as it was read, and whether one is gone.
func (w *watched) changed() (changed, gone bool) {
	for path, old := range w.files {
		st, err := os.Stat(path)
		switch {
		case err != nil:
			gone = gone || old != nil
		case old == nil || !os.SameFile(old, st) || old.Size() != st.Size() || old.Mode() != st.Mode() || !old.ModTime().Equal(st.ModTime()):
			changed = true
		}
	}
	return changed || gone, gone
}

// build builds the source anew.
func (w *watched) build(s streams, o buildOptions) error {
	w.files = map[string]fs.FileInfo{}
	w.look(w.source)
	o.source.Files = w
	_, err := buildOne(s, o, w.source)
	return err
}

// runWatch builds the sources, and each again when it or a file that it reads
// changes, until ctx ends. What fails in the first build ends it at once, but
// for errors in a source; later it is told and waited out.
func runWatch(ctx context.Context, s streams, o buildOptions, sources []string) error {
	watcher, err := fsnotify.NewWatcher()
	if err != nil {
		return trouble("nothing can be watched: %w", err)
	}
	defer watcher.Close()
	var list []*watched
	for _, source := range sources {
		if st, err := os.Stat(source); source == "-" || err == nil && !st.Mode().IsRegular() {
			return usage("--watch needs a file, which %s is not", diag.Printable(source))
		}
		w := &watched{source: source}
		err := w.build(s, o)
		var e *exitError
		if errors.As(err, &e) && e.status == ExitTrouble {
			return err
		}
		list = append(list, w)
	}
	for {
		// The folders are watched before the files are looked at, so that a
		// change shows in one of the two.
		if err := watchFolders(watcher, list); err != nil {
			return err
		}
		again := false
		for _, w := range list {
			changed, gone := w.changed()
			if !changed {
				continue
			}
			if gone && !wait(ctx, 4*settle) { // another file may take its place
				return nil
			}
			again = true
			if err := w.build(s, o); err != nil && err.Error() != "" {
				fmt.Fprintf(s.Err, "romwright: %s\n", diag.Printable(err.Error()))
			}
		}
		if again {
			continue
		}
		select {
		case <-ctx.Done():
			return nil
		case _, ok := <-watcher.Events:
			if !ok {
				return nil
			}
		case err := <-watcher.Errors: // events were lost: look all the same
			if err == nil {
				return nil
			}
		}
		if !wait(ctx, settle) {
			return nil
		}
		drain(watcher)
	}
}

// wait waits; false where ctx ends before.
func wait(ctx context.Context, d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
		return false
	case <-t.C:
		return true
	}
}

// drain drops the events that belong to a change already seen.
func drain(w *fsnotify.Watcher) {
	for {
		select {
		case _, ok := <-w.Events:
			if !ok {
				return
			}
		default:
			return
		}
	}
}

// watchFolders watches the folder of each file, or the nearest one above that is
// there, and no other. Folders are watched and not files, since an editor that
// puts another file in a file's place takes the watch away with it.
func watchFolders(watcher *fsnotify.Watcher, list []*watched) error {
	var want []string
	add := func(file string) {
		dir := filepath.Dir(file)
		for {
			if st, err := os.Stat(dir); err == nil && st.IsDir() {
				break
			}
			up := filepath.Dir(dir)
			if up == dir {
				return
			}
			dir = up
		}
		if !slices.Contains(want, dir) {
			want = append(want, dir)
		}
	}
	for _, w := range list {
		for path := range w.files {
			add(path)
			if real, err := filepath.EvalSymlinks(path); err == nil && real != path {
				add(real)
			}
		}
	}
	have := watcher.WatchList()
	for _, dir := range have {
		if !slices.Contains(want, dir) {
			watcher.Remove(dir) // it may be gone already
		}
	}
	for _, dir := range want {
		if slices.Contains(have, dir) {
			continue
		}
		if err := watcher.Add(dir); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return trouble("%s cannot be watched: %w", diag.Printable(dir), err)
		}
	}
	return nil
}
