package cmd

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"romwright/assembler"
	"romwright/diag"
)

// usageError marks wrong usage: where the right use is told is said below it.
type usageError struct{ error }

// usage ends a command that was used wrongly, with status 2.
func usage(format string, args ...any) error {
	return &exitError{ExitTrouble, usageError{fmt.Errorf(format, args...)}}
}

// dress gives every command the same help and the same wording of wrong usage.
func dress(root *cobra.Command) {
	root.SetHelpFunc(func(c *cobra.Command, _ []string) { writeHelp(c.OutOrStdout(), c) })
	root.SetUsageFunc(func(c *cobra.Command) error { writeHelp(c.OutOrStderr(), c); return nil })
	root.SetFlagErrorFunc(flagError)
	root.SetHelpCommand(newHelp(root))
	root.InitDefaultHelpCmd()
	root.CompletionOptions.DisableDefaultCmd = true // ours is told in our words
	root.Args = cobra.ArbitraryArgs
	root.RunE = func(c *cobra.Command, args []string) error {
		if len(args) == 0 {
			return c.Help()
		}
		return unknownCommand(root, args[0])
	}
	for _, c := range append(root.Commands(), root) {
		c.Flags().BoolP("help", "h", false, "show this")
		c.Flags().SortFlags = false
		if c != root && c.Args != nil {
			c.Args = checkArgs(c.Args)
		}
	}
}

// checkArgs puts the error of a count of words into our words.
func checkArgs(check cobra.PositionalArgs) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if check(c, args) == nil {
			return nil
		}
		given := "nothing was given"
		if len(args) > 0 {
			given = diag.Printable(strings.Join(args, " ")) + " was given"
		}
		_, want, ok := strings.Cut(c.Use, " ")
		if !ok {
			want = "nothing more"
		}
		return usage("%s takes %s, and %s", c.Name(), want, given)
	}
}

func unknownCommand(root *cobra.Command, word string) error {
	var names []string
	for _, c := range root.Commands() {
		if !c.Hidden {
			names = append(names, c.Name())
		}
	}
	if near := assembler.NearName(strings.ToLower(word), names); near != "" {
		return usage("there is no command %s; did you mean %s?", diag.Printable(word), near)
	}
	return usage("there is no command %s; there are %s", diag.Printable(word), strings.Join(names, ", "))
}

// flagError puts the errors of options into our words.
func flagError(c *cobra.Command, err error) error {
	var unknown *pflag.NotExistError
	var empty *pflag.ValueRequiredError
	var invalid *pflag.InvalidValueError
	switch {
	case errors.As(err, &unknown):
		if short := unknown.GetSpecifiedShortnames(); short != "" {
			return usage("%s has no option -%s", c.CommandPath(), diag.Printable(unknown.GetSpecifiedName()))
		}
		word := unknown.GetSpecifiedName()
		var names []string
		c.Flags().VisitAll(func(f *pflag.Flag) { names = append(names, f.Name) })
		if near := assembler.NearName(word, names); near != "" {
			return usage("%s has no option --%s; did you mean --%s?", c.CommandPath(), diag.Printable(word), near)
		}
		return usage("%s has no option --%s", c.CommandPath(), diag.Printable(word))
	case errors.As(err, &empty):
		f := empty.GetFlag()
		what, _ := pflag.UnquoteUsage(f)
		return usage("--%s needs a value: %s", f.Name, what)
	case errors.As(err, &invalid):
		f := invalid.GetFlag()
		what, _ := pflag.UnquoteUsage(f)
		switch {
		case f.Value.Type() == "bool":
			what = "true or false"
		case what == "number" || what == "time":
			what = "a " + what
		}
		return usage("--%s takes %s, not %s", f.Name, what, diag.Printable(invalid.GetValue()))
	}
	return usage("%w", err)
}

// writeHelp tells what a command is for, how it is used, and its options.
func writeHelp(w io.Writer, c *cobra.Command) {
	var b strings.Builder
	text := c.Long
	if text == "" {
		text = c.Short + "."
	}
	use := c.CommandPath() + strings.TrimPrefix(c.Use, c.Name())
	if c.HasAvailableSubCommands() {
		use += " COMMAND"
	}
	fmt.Fprintf(&b, "%s\n\n%s\n", use, strings.TrimSpace(text))
	if c.HasAvailableSubCommands() {
		b.WriteString("\nCommands\n")
		for _, sub := range c.Commands() {
			if !sub.Hidden {
				fmt.Fprintf(&b, "  %-*s  %s\n", c.NamePadding(), sub.Name(), sub.Short)
			}
		}
	}
	if c.Example != "" {
		fmt.Fprintf(&b, "\nFor example\n%s\n", strings.TrimRight(c.Example, "\n"))
	}
	if flags := c.LocalFlags(); flags.HasAvailableFlags() {
		fmt.Fprintf(&b, "\nOptions\n%s", flags.FlagUsages())
	}
	io.WriteString(w, b.String())
}

func newHelp(root *cobra.Command) *cobra.Command {
	return &cobra.Command{
		Use:     "help [COMMAND]",
		Short:   "Tell what a command does and takes",
		Example: "  romwright help build",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			if len(args) == 0 {
				return root.Help()
			}
			c, _, err := root.Find(args)
			if err != nil || c == root {
				return unknownCommand(root, args[0])
			}
			return c.Help()
		},
	}
}

func newCompletion(s streams) *cobra.Command {
	shells := []string{"bash", "fish", "powershell", "zsh"}
	return &cobra.Command{
		Use:   "completion SHELL",
		Short: "Print a script that completes commands and options in a shell",
		Long: `Completion prints a script for the shell named (bash, fish, powershell or zsh)
that completes romwright's commands, options and files when Tab is pressed.`,
		Example: "  source <(romwright completion bash)\n" +
			"  romwright completion fish > ~/.config/fish/completions/romwright.fish",
		Args:      cobra.ExactArgs(1),
		ValidArgs: shells,
		RunE: func(c *cobra.Command, args []string) error {
			write := map[string]func(io.Writer) error{
				"bash":       func(w io.Writer) error { return c.Root().GenBashCompletionV2(w, true) },
				"fish":       func(w io.Writer) error { return c.Root().GenFishCompletion(w, true) },
				"powershell": func(w io.Writer) error { return c.Root().GenPowerShellCompletionWithDesc(w) },
				"zsh":        func(w io.Writer) error { return c.Root().GenZshCompletion(w) },
			}[args[0]]
			if write == nil {
				return usage("completion knows %s, not %s", strings.Join(shells, ", "), diag.Printable(args[0]))
			}
			return wrote("standard output", write(s.Out))
		},
	}
}
