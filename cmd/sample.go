package cmd

import (
	_ "embed"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"romwright/diag"
)

//go:embed demo.asm
var demo string

const demoName = "crossing.asm"

func newSample(s streams) *cobra.Command {
	return &cobra.Command{
		Use:   "sample DIR",
		Short: "Write a sample program to a directory and build it there",
		Long: `Sample writes crossing.asm, a level crossing for a model railway, to the
directory, which is made if need be, and builds it: image, listing, summary.
A sample source that was edited is not overwritten, but built as it is.`,
		Example: "  romwright sample demo",
		Args:    cobra.ExactArgs(1),
		RunE:    func(_ *cobra.Command, args []string) error { return runSample(s, args[0]) },
	}
}

func runSample(s streams, dir string) error {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return unwritten(dir, err)
	}
	path := filepath.Join(dir, demoName)
	old, err := os.ReadFile(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		err := commit([]output{{path, func(w io.Writer) error {
			_, err := io.WriteString(w, demo)
			return err
		}}})
		if err != nil {
			return err
		}
		if _, err := fmt.Fprintf(s.Out, "wrote %s\n", diag.Printable(path)); err != nil {
			return wrote("standard output", err)
		}
	case err != nil:
		return trouble("%s cannot be read: %w", diag.Printable(path), err)
	case string(old) != demo:
		if _, err := fmt.Fprintf(s.Out, "%s was edited and is kept\n", diag.Printable(path)); err != nil {
			return wrote("standard output", err)
		}
	}
	_, err = buildOne(s, buildOptions{}, path)
	return err
}
