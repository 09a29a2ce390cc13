package romwright_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// mayImport says which packages of ours each package may import. The folders
// read as a pipeline, and imports point one way only; a new edge needs an edit
// here, where a reader sees it. Do not remove what is left out on purpose:
// rom, page, xmodem and encoder stand on their own.
var mayImport = map[string][]string{
	"diag":          {},
	"lexer":         {"diag"},
	"parser":        {"diag", "lexer"},
	"encoder":       {},
	"directives":    {"diag", "parser"},
	"rom":           {"diag"},
	"assembler":     {"diag", "lexer", "parser", "encoder", "directives", "rom"},
	"listing":       {"assembler", "rom", "diag"},
	"bus":           {"encoder", "rom"},
	"page":          {},
	"xmodem":        {},
	"cmd":           {"diag", "lexer", "parser", "encoder", "directives", "rom", "assembler", "listing", "bus", "page", "xmodem"},
	"cmd/romwright": {"cmd"},
}

// mayUse says which packages may import a library; every other library is
// refused outside of tests.
var mayUse = map[string][]string{
	"github.com/alecthomas/participle/v2":       {"lexer", "parser"},
	"github.com/alecthomas/participle/v2/lexer": {"lexer", "parser"},
	"github.com/aymanbagabas/go-udiff/lcs":      {"listing"},
	"github.com/fsnotify/fsnotify":              {"cmd"},
	"github.com/schollz/progressbar/v3":         {"cmd"},
	"github.com/spf13/cobra":                    {"cmd"},
	"github.com/spf13/pflag":                    {"cmd"},
	"go.bug.st/serial":                          {"cmd"},
	"go.bug.st/serial/enumerator":               {"cmd"},
	"golang.org/x/term":                         {"cmd"},
}

// sources gives the Go files of the module by folder, tests left out.
func sources(t *testing.T) map[string][]*ast.File {
	t.Helper()
	files := map[string][]*ast.File{}
	set := token.NewFileSet()
	require.NoError(t, filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		name := d.Name()
		if d.IsDir() && path != "." && (strings.HasPrefix(name, ".") || name == "testdata") {
			return fs.SkipDir
		}
		if d.IsDir() || !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go") {
			return nil
		}
		f, err := parser.ParseFile(set, path, nil, parser.SkipObjectResolution|parser.ParseComments)
		if err != nil {
			return err
		}
		dir := filepath.ToSlash(filepath.Dir(path))
		files[dir] = append(files[dir], f)
		return nil
	}))
	return files
}

func TestImportsPointOneWay(t *testing.T) {
	const module = "romwright/"
	for dir, files := range sources(t) {
		may, known := mayImport[dir]
		if !assert.True(t, known, "package %s is new: say here what it may import", dir) {
			continue
		}
		for _, f := range files {
			for _, spec := range f.Imports {
				path, err := strconv.Unquote(spec.Path.Value)
				require.NoError(t, err)
				first, _, _ := strings.Cut(path, "/")
				switch ours, isOurs := strings.CutPrefix(path, module); {
				case isOurs:
					assert.Contains(t, may, ours, "%s imports %s", dir, path)
				case strings.Contains(first, "."):
					assert.Contains(t, mayUse[path], dir, "%s imports %s", dir, path)
				}
			}
		}
	}
}

// The table has no circle and no package that is gone.
func TestImportTable(t *testing.T) {
	files := sources(t)
	var visit func(dir string, above []string)
	visit = func(dir string, above []string) {
		require.NotContains(t, above, dir, "a circle")
		require.Contains(t, files, dir, "there is no package %s", dir)
		for _, next := range mayImport[dir] {
			visit(next, append(slices.Clone(above), dir))
		}
	}
	for dir := range mayImport {
		visit(dir, nil)
	}
}

// Every package says what it is for, in a comment of one file.
func TestPackageComments(t *testing.T) {
	for dir, files := range sources(t) {
		n := 0
		for _, f := range files {
			if f.Doc != nil {
				n++
				want := "Package " + f.Name.Name + " "
				if f.Name.Name == "main" {
					want = ""
				}
				assert.True(t, strings.HasPrefix(f.Doc.Text(), want), "%s: %q", dir, f.Doc.Text())
			}
		}
		assert.Equal(t, 1, n, "package comments in %s", dir)
	}
}

// Start-up costs every run: no init function, no goroutine and no file at
// package level; tables are built when they are first asked for.
func TestNoInit(t *testing.T) {
	for dir, files := range sources(t) {
		for _, f := range files {
			for _, d := range f.Decls {
				if fn, ok := d.(*ast.FuncDecl); ok {
					assert.False(t, fn.Recv == nil && fn.Name.Name == "init", "%s has an init function", dir)
				}
			}
		}
	}
}
