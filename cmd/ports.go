package cmd

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"romwright/diag"
)

// portInfo is a serial port; all but the name may be empty.
type portInfo struct {
	Name    string
	USB     string // maker's and product's number, four hex digits each
	Product string
	Serial  string
}

func newPorts(s streams) *cobra.Command {
	return &cobra.Command{
		Use:   "ports",
		Short: "List the serial ports",
		Long: `Ports lists the serial ports with what the system knows of them: for a USB
adapter its maker's and product's number, its name and serial number.`,
		Example: "  romwright ports",
		Args:    cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			list, err := listPorts()
			if err != nil {
				return trouble("the serial ports cannot be listed: %w", err)
			}
			return wrote("standard output", writePorts(s.Out, list))
		},
	}
}

// writePorts writes the list by name, numbers in names by their size.
func writePorts(w io.Writer, list []portInfo) error {
	if len(list) == 0 {
		_, err := fmt.Fprintln(w, "no serial port found; plug the adapter in and look again")
		return err
	}
	list = slices.Clone(list)
	slices.SortFunc(list, func(a, b portInfo) int {
		if len(a.Name) != len(b.Name) && strings.TrimRight(a.Name, "0123456789") == strings.TrimRight(b.Name, "0123456789") {
			return len(a.Name) - len(b.Name)
		}
		return strings.Compare(a.Name, b.Name)
	})
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "PORT\tUSB\tPRODUCT\tSERIAL NUMBER")
	cell := func(text string) string {
		if text == "" {
			return "-"
		}
		return strings.ReplaceAll(diag.Printable(text), "\t", " ")
	}
	for _, p := range list {
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\n", cell(p.Name), cell(p.USB), cell(p.Product), cell(p.Serial))
	}
	return t.Flush()
}
