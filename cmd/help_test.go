package cmd

import (
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Every command says what it does, shows an example that its options and words
// allow, and keeps to the tone of the others.
func TestHelp(t *testing.T) {
	root := newRoot(streams{})
	names := []string{}
	for _, c := range append(root.Commands(), root) {
		names = append(names, c.Name())
		t.Run(c.Name(), func(t *testing.T) {
			first, _ := utf8.DecodeRuneInString(c.Short)
			assert.True(t, unicode.IsUpper(first), c.Short)
			assert.False(t, strings.HasSuffix(c.Short, "."), c.Short)
			for line := range strings.SplitSeq(c.Long, "\n") {
				assert.LessOrEqual(t, utf8.RuneCountInString(line), 84, line)
			}
			c.Flags().VisitAll(func(f *pflag.Flag) {
				first, _ := utf8.DecodeRuneInString(strings.TrimPrefix(f.Usage, "`"))
				assert.False(t, strings.HasSuffix(f.Usage, "."), "--%s: %s", f.Name, f.Usage)
				if !strings.HasPrefix(f.Usage, "CPU") {
					assert.True(t, unicode.IsLower(first), "--%s: %s", f.Name, f.Usage)
				}
			})
			require.NotEmpty(t, c.Example)
			for line := range strings.SplitSeq(c.Example, "\n") {
				assert.True(t, strings.HasPrefix(line, "  "), line)
			}
		})
	}
	for _, name := range []string{"build", "capture", "compare", "completion", "help", "lamps", "opcodes", "ports", "sample", "send", "verify", "version"} {
		assert.Contains(t, names, name)
	}
	for _, c := range root.Commands() {
		for line := range strings.SplitSeq(c.Example, "\n") {
			_, line, ok := strings.Cut(line, "romwright ")
			require.True(t, ok, "%s: %s", c.Name(), line)
			line, _, _ = strings.Cut(line, " > ")
			args := shellWords(strings.TrimSuffix(line, ")"))
			fresh := newRoot(streams{}) // options keep their values
			found, rest, err := fresh.Find(args)
			require.NoError(t, err, line)
			require.NotEqual(t, fresh, found, line)
			require.NoError(t, found.ParseFlags(rest), line)
			assert.NoError(t, found.ValidateArgs(found.Flags().Args()), line)
		}
	}
}

// shellWords splits a line at blanks outside quotes.
func shellWords(line string) []string {
	var words []string
	var quote rune
	var b strings.Builder
	for _, c := range line + " " {
		switch {
		case quote != 0 && c == quote:
			quote = 0
		case quote == 0 && (c == '"' || c == '\''):
			quote = c
		case quote == 0 && c == ' ':
			words = append(words, b.String())
			b.Reset()
		default:
			b.WriteRune(c)
		}
	}
	return words
}
