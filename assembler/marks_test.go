package assembler

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"romwright/diag"
)

// The sources below testdata carry their expected bytes, errors and warnings
// on the line; testdata/README.md explains the marks.

type mark struct {
	sign byte // '=', '!' or '?'
	text string
}

var markRE = regexp.MustCompile(`;([=!?]) `)

// marksOf takes the marks out of a line.
func marksOf(line string) []mark {
	at := markRE.FindAllStringSubmatchIndex(line, -1)
	var out []mark
	for i, m := range at {
		end := len(line)
		if i+1 < len(at) {
			end = at[i+1][0]
		}
		text := line[m[1]:end]
		if c := strings.IndexByte(text, ';'); c >= 0 {
			text = text[:c]
		}
		out = append(out, mark{line[m[2]], strings.TrimSpace(text)})
	}
	return out
}

// wantedBytes reads "3E 01" and "00*16".
func wantedBytes(t *testing.T, s string) []byte {
	var out []byte
	for _, f := range strings.Fields(s) {
		pair, times, _ := strings.Cut(f, "*")
		v, err := strconv.ParseUint(pair, 16, 8)
		require.NoError(t, err, "mark %q", s)
		n := 1
		if times != "" {
			n, err = strconv.Atoi(times)
			require.NoError(t, err)
		}
		for range n {
			out = append(out, byte(v))
		}
	}
	return out
}

// optionsOf reads the "; options:" line.
func optionsOf(t *testing.T, text string) Options {
	var opt Options
	first, _, _ := strings.Cut(text, "\n")
	_, list, ok := strings.Cut(first, "; options:")
	if !ok {
		return opt
	}
	f := strings.Fields(list)
	number := func(s string) int64 {
		v, err := ParseValue(s)
		require.NoError(t, err)
		return v
	}
	for i := 0; i < len(f); i++ {
		name := f[i]
		value := ""
		if n, v, ok := strings.Cut(f[i], "="); ok && strings.HasPrefix(f[i], "--") {
			name, value = n, v
		} else if i+1 < len(f) && name != "--unpadded" {
			i++
			value = f[i]
		}
		switch name {
		case "--define":
			opt.Defines = append(opt.Defines, value)
		case "--accept":
			opt.Accept = append(opt.Accept, strings.Split(value, ",")...)
		case "--skip":
			opt.Skip = append(opt.Skip, strings.Split(value, ",")...)
		case "--include-dir":
			opt.IncludeDirs = append(opt.IncludeDirs, value)
		case "--capacity":
			opt.Capacity = number(value)
		case "--at":
			opt.At, opt.HasAt = number(value), true
		case "--blank":
			opt.Blank, opt.HasBlank = int(number(value)), true
		case "--unpadded":
			opt.Unpadded = true
		case "--all-errors":
		default:
			t.Fatalf("option %s", name)
		}
	}
	return opt
}

// checkMarks assembles a marked source and compares everything that is
// reported or emitted with the marks, both ways.
func checkMarks(t *testing.T, path, text string) {
	opt := optionsOf(t, text)
	for i, d := range opt.IncludeDirs {
		opt.IncludeDirs[i] = filepath.Join(filepath.Dir(path), d)
	}
	p := Assemble(path, text, opt)

	// what is wanted, by "file:line"
	type want struct {
		bytes       []byte
		hasBytes    bool
		errs, warns []string
	}
	wants := map[string]*want{}
	read := map[string]bool{}
	collect := func(file, text string) {
		if read[file] {
			return
		}
		read[file] = true
		for i, line := range strings.Split(text, "\n") {
			for _, m := range marksOf(strings.TrimRight(line, "\r")) {
				key := fmt.Sprintf("%s:%d", file, i+1)
				w := wants[key]
				if w == nil {
					w = &want{}
					wants[key] = w
				}
				switch m.sign {
				case '=':
					w.bytes, w.hasBytes = append(w.bytes, wantedBytes(t, m.text)...), true
				case '!':
					w.errs = append(w.errs, m.text)
				case '?':
					w.warns = append(w.warns, m.text)
				}
			}
		}
	}
	collect(path, text)
	for _, f := range p.Paths()[1:] {
		if strings.HasSuffix(f, ".inc") || strings.HasSuffix(f, ".asm") {
			b, err := os.ReadFile(f)
			require.NoError(t, err)
			collect(f, string(b))
		}
	}

	// errors and warnings
	for _, d := range p.Diags.All() {
		key := fmt.Sprintf("%s:%d", d.Range.File, d.Range.Line)
		w := wants[key]
		if w == nil {
			w = &want{}
		}
		list := &w.errs
		if d.Severity == diag.Warning {
			list = &w.warns
		}
		found := false
		for i, re := range *list {
			if regexp.MustCompile(re).MatchString(d.Message) || regexp.MustCompile(re).MatchString(string(d.Code)) {
				*list = append((*list)[:i:i], (*list)[i+1:]...)
				found = true
				break
			}
		}
		if !found {
			t.Errorf("%s: unexpected %s: %s [%s] hint %q", d.Range, d.Severity, d.Message, d.Code, d.Hint)
		}
	}
	for key, w := range wants {
		for _, re := range w.errs {
			t.Errorf("%s: no error matches %q", key, re)
		}
		for _, re := range w.warns {
			t.Errorf("%s: no warning matches %q", key, re)
		}
	}
	if p.Image == nil {
		return
	}

	// bytes by line
	got := map[string][]byte{}
	sources := p.SourceMap()
	for addr := p.Image.At; addr < p.Image.At+p.Image.Capacity; addr++ {
		src, ok := sources.Lookup(addr)
		if !p.Image.UsedAt(addr) {
			continue
		}
		require.True(t, ok, "address %04X has no source", addr)
		line, _, _ := strings.Cut(src.Line, ".")
		key := src.File + ":" + line
		got[key] = append(got[key], p.Image.Data[addr-p.Image.At])
	}
	dir := filepath.Dir(path)
	for key, w := range wants {
		file, line, _ := strings.Cut(key, ":")
		rel, err := filepath.Rel(dir, file)
		require.NoError(t, err)
		k := filepath.ToSlash(rel) + ":" + line
		if w.hasBytes && fmt.Sprintf("% X", w.bytes) != fmt.Sprintf("% X", got[k]) {
			t.Errorf("%s: emits % X, want % X", key, got[k], w.bytes)
		}
		delete(got, k)
	}
	for k, b := range got {
		t.Errorf("%s: emits % X without a mark", k, b)
	}
	file := []byte{}
	for range p.Image.Copies {
		file = append(file, p.Image.Data...)
	}
	for _, m := range regexp.MustCompile(`(?m)^;@ (\w+) (.*?)\s*$`).FindAllStringSubmatch(text, -1) {
		switch m[1] {
		case "length":
			require.Equal(t, m[2], strconv.Itoa(len(file)), "length of the image")
		case "entry":
			require.Equal(t, m[2], fmt.Sprintf("%04X", p.Entry), "entry")
		case "cell":
			at, hex, _ := strings.Cut(m[2], "=")
			off, err := strconv.ParseInt(strings.TrimSpace(at), 16, 64)
			require.NoError(t, err)
			want := wantedBytes(t, hex)
			require.Equal(t, fmt.Sprintf("% X", want), fmt.Sprintf("% X", file[off:int(off)+len(want)]), "cells from %s", at)
		}
	}
}

func TestMarkedSources(t *testing.T) {
	for _, dir := range []string{"basic", "language"} {
		files, err := filepath.Glob(filepath.Join("testdata", dir, "*.asm"))
		require.NoError(t, err)
		require.NotEmpty(t, files)
		for _, f := range files {
			t.Run(filepath.ToSlash(f), func(t *testing.T) {
				b, err := os.ReadFile(f)
				require.NoError(t, err)
				checkMarks(t, f, string(b))
			})
		}
	}
}

func TestMarkedErrors(t *testing.T) {
	files, err := filepath.Glob(filepath.Join("testdata", "errors", "*.err"))
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, f := range files {
		b, err := os.ReadFile(f)
		require.NoError(t, err)
		for i, chunk := range strings.Split(string(b), "\n---\n") {
			t.Run(fmt.Sprintf("%s/%d", filepath.ToSlash(f), i+1), func(t *testing.T) {
				checkMarks(t, f, chunk)
			})
		}
	}
}
