package cmd

import (
	"fmt"
	"strings"

	"romwright/diag"
	"romwright/listing"
	"romwright/page"
)

// Lines around a difference that stay in sight, and the least number of lines
// that are worth folding away.
const (
	pageContext = 2
	pageFold    = 6
)

// comparePage makes the page of a report, which must hold the lines that do
// not differ as well.
func comparePage(r *listing.Report) *page.Compare {
	p := &page.Compare{Old: diag.Printable(r.Old.Name), New: diag.Printable(r.New.Name), Summary: r.Summary()}
	if r.HasLines {
		n := r.Lines
		for _, c := range []struct {
			class   listing.Class
			n       int
			meaning string
		}{
			{listing.Changed, n.Changed, "what the line says was edited, or gives other bytes"},
			{listing.Added, n.Added, "only in the new program"},
			{listing.Removed, n.Removed, "only in the old program"},
			{listing.Moved, n.Moved, "same source, same bytes, another address"},
			{listing.Retargeted, n.Retargeted, "same source; other bytes since a symbol has another value"},
			{listing.Layout, n.Layout, "another remark or other spacing only"},
		} {
			p.Classes = append(p.Classes, page.ClassCount{Class: c.class.String(), Count: listing.Thousands(c.n), Meaning: c.meaning})
		}
	}
	for _, f := range r.Facts() {
		p.Facts = append(p.Facts, page.Fact{Name: f.Name, Text: f.Text})
	}
	p.Blocks = compareBlocks(r)
	return p
}

// compareBlocks folds away runs of lines that were neither edited nor added
// nor removed.
func compareBlocks(r *listing.Report) []page.Block {
	var blocks []page.Block
	show := func(from, to int, fold bool) {
		if from >= to {
			return
		}
		b := page.Block{}
		if fold {
			b.Fold = foldSentence(r.Changes[from:to])
		}
		b.Rows = make([]page.CompareRow, 0, to-from)
		for i := from; i < to; i++ {
			b.Rows = append(b.Rows, compareRow(&r.Changes[i]))
		}
		blocks = append(blocks, b)
	}
	from := 0 // first line not shown yet
	for i := 0; i <= len(r.Changes); i++ {
		last := i == len(r.Changes)
		if !last && !edited(r.Changes[i].Class) {
			continue
		}
		// from..i-1 is a run without an edit; keep some of it beside the edits
		head, tail := from, i
		if from > 0 {
			head += pageContext
		}
		if !last {
			tail -= pageContext
		}
		if tail-head >= pageFold {
			show(from, head, false)
			show(head, tail, true)
			from = tail
		}
		to := min(i+1, len(r.Changes))
		show(from, to, false)
		from = to
	}
	return blocks
}

func edited(c listing.Class) bool {
	return c == listing.Changed || c == listing.Added || c == listing.Removed
}

// foldSentence says what is folded away: "312 lines: 300 moved by +2 (0014 to
// 0250, now 0016 to 0252), 12 the same".
func foldSentence(changes []listing.Change) string {
	var counts [listing.Layout + 1]int
	first, last := -1, -1
	oneBy := true
	for i := range changes {
		c := &changes[i]
		counts[c.Class]++
		if c.Class == listing.Moved {
			if first < 0 {
				first = i
			}
			oneBy = oneBy && c.By == changes[first].By
			last = i
		}
	}
	var s []string
	for _, class := range []listing.Class{listing.Moved, listing.Retargeted, listing.Layout, listing.Same} {
		n := counts[class]
		if n == 0 {
			continue
		}
		text := class.String()
		switch {
		case class == listing.Same:
			text = "the same"
		case class == listing.Moved && oneBy:
			a, z := &changes[first], &changes[last]
			text = fmt.Sprintf("moved by %s (%s to %s, now %s to %s)", listing.Signed(a.By),
				listing.FormatAddress(&a.Old[0]), listing.FormatAddress(&z.Old[0]),
				listing.FormatAddress(&a.New[0]), listing.FormatAddress(&z.New[0]))
		}
		if n == len(changes) {
			return listing.Plural(n, "line") + " " + text
		}
		s = append(s, listing.Thousands(n)+" "+text)
	}
	return listing.Plural(len(changes), "line") + ": " + strings.Join(s, ", ")
}

func compareRow(c *listing.Change) page.CompareRow {
	row := page.CompareRow{Class: c.Class.String(), Old: compareLine(c.Old), New: compareLine(c.New)}
	if c.Class == listing.Moved || c.Class == listing.Retargeted {
		row.Note = listing.Signed(c.By)
	}
	if !c.Old.Exists() || !c.New.Exists() {
		return row
	}
	// Say which bytes differ, where both sides fit into one row of a listing.
	a, b := c.Old.Bytes(), c.New.Bytes()
	if string(a) != string(b) && len(a) > 0 && len(b) > 0 && len(a) <= listing.BytesPerRow && len(b) <= listing.BytesPerRow {
		row.Old.Bytes, row.New.Bytes = pieces(a, b), pieces(b, a)
	}
	return row
}

func compareLine(l listing.Line) page.CompareLine {
	if !l.Exists() {
		return page.CompareLine{}
	}
	r := &l[0]
	line := page.CompareLine{Line: r.Line, Text: diag.Printable(r.Text), Size: len(l.Bytes()) + r.Reserved}
	if r.Addr >= 0 {
		line.Address = listing.FormatValue(int64(r.Addr))
	}
	if r.RunAddr >= 0 {
		line.Run = listing.FormatValue(int64(r.RunAddr))
	}
	if s := listing.FormatBytes(l); s != "" {
		line.Bytes = []page.Piece{{Text: s}}
	}
	return line
}

// pieces gives the bytes of a, marking those that differ from b.
func pieces(a, b []byte) []page.Piece {
	out := make([]page.Piece, 0, 2*len(a))
	for i, c := range a {
		if i > 0 {
			out = append(out, page.Piece{Text: " "})
		}
		out = append(out, page.Piece{Text: fmt.Sprintf("%02X", c), Differs: i >= len(b) || b[i] != c})
	}
	return out
}
