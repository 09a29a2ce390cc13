package cmd

import (
	"bytes"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"romwright/listing"
	"romwright/page"
)

// Each line of the comparison is on the page once and in order; what was
// edited is never folded away, and only long runs are.
func TestCompareBlocks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		classes := rapid.SliceOfN(rapid.SampledFrom([]listing.Class{
			listing.Same, listing.Same, listing.Same, listing.Moved, listing.Moved, listing.Moved, listing.Moved,
			listing.Retargeted, listing.Layout, listing.Changed, listing.Added, listing.Removed,
		}), 0, 80).Draw(t, "classes")
		r := &listing.Report{}
		for i, c := range classes {
			line := func(n string) listing.Line {
				return listing.Line{{Addr: 100 + i, RunAddr: -1, Line: fmt.Sprint(i) + n, Bytes: []byte{1, 2}}}
			}
			ch := listing.Change{Class: c, Old: line("o"), New: line("n")}
			switch c {
			case listing.Added:
				ch.Old = nil
			case listing.Removed:
				ch.New = nil
			}
			r.Changes = append(r.Changes, ch)
		}
		i := 0
		for _, b := range compareBlocks(r) {
			if b.Fold != "" {
				assert.GreaterOrEqual(t, len(b.Rows), pageFold)
			}
			for _, row := range b.Rows {
				require.Equal(t, r.Changes[i].Class.String(), row.Class)
				if row.New.Line != "" {
					require.Equal(t, fmt.Sprint(i)+"n", row.New.Line)
				}
				assert.False(t, b.Fold != "" && edited(r.Changes[i].Class), "an edit is folded away")
				i++
			}
		}
		assert.Equal(t, len(classes), i)
		require.NoError(t, page.WriteCompare(&bytes.Buffer{}, &page.Compare{Blocks: compareBlocks(r)}))
	})
}

func TestPieces(t *testing.T) {
	assert.Equal(t, []page.Piece{{Text: "C3"}, {Text: " "}, {Text: "2E", Differs: true}, {Text: " "}, {Text: "00", Differs: true}},
		pieces([]byte{0xC3, 0x2E, 0}, []byte{0xC3, 0x2F}))
}
