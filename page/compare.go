package page

import (
	"html/template"
	"io"
	"sync"
)

// Compare is what the page about two programs shows.
type Compare struct {
	Old, New string // names of the two sides
	Summary  string // one line: what differs
	Classes  []ClassCount
	Facts    []Fact
	Blocks   []Block // the lines of both, in the order of the new one
}

// ClassCount is a class of lines with the number of lines in it. Class is a
// word from the list changed, added, removed, moved, retargeted, layout, same;
// it names the style as well.
type ClassCount struct {
	Class   string
	Count   string
	Meaning string
}

// Fact is something to know about the images or the symbols.
type Fact struct {
	Name string
	Text string
}

// Block is a run of lines; one with a Fold is closed at first and shows only
// that sentence.
type Block struct {
	Fold string
	Rows []CompareRow
}

// CompareRow is a line on both sides.
type CompareRow struct {
	Class    string
	Note     string      // "+2"; may be empty
	Old, New CompareLine // the zero line where a side has none
}

// CompareLine is a line on one side.
type CompareLine struct {
	Address string // four upper-case hex digits; empty where the line has none
	Run     string // the address at which it will run, where that is another one
	Size    int    // bytes that the line fills or reserves
	Bytes   []Piece
	Line    string
	Text    string
}

// Piece is a part of the bytes.
type Piece struct {
	Text    string
	Differs bool
}

var compareTemplate = sync.OnceValue(func() *template.Template { return load("compare") })

// WriteCompare writes the page about two programs.
func WriteCompare(w io.Writer, c *Compare) error {
	return render(w, compareTemplate(), "compare", "What changed: "+c.Old+", "+c.New, c)
}
