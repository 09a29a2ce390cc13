package page

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// line makes one side of a row; addr -1 for none.
func line(addr, size int, hex, no, text string) CompareLine {
	l := CompareLine{Size: size, Line: no, Text: text}
	if addr >= 0 {
		l.Address = fmt.Sprintf("%04X", addr)
	}
	if hex != "" {
		l.Bytes = []Piece{{Text: hex}}
	}
	return l
}

// example is a comparison with a line of each class.
func example() *Compare {
	c := &Compare{
		Old: "crossing.lst", New: "crossing.asm",
		Summary: "the images differ in 77 bytes, 2 pages to write again (64 bytes each); lines: 1 changed, 1 added, 1 removed, 40 moved, 1 retargeted, 1 layout",
		Classes: []ClassCount{
			{"changed", "1", "what the line says was edited"},
			{"added", "1", "only in the new program"},
			{"removed", "1", "only in the old program"},
			{"moved", "40", "same source, same bytes, another address"},
			{"retargeted", "1", "same source; a symbol has another value"},
			{"layout", "1", "another remark or other spacing"},
		},
		Facts: []Fact{{"image", "77 bytes differ: 0003, 0010-0039"}, {"symbols", "12 labels by +2: blink … wait"}},
	}
	head := Block{Rows: []CompareRow{
		{Class: "same", Old: line(0, 3, "31 00 88", "1", "start:\tLD SP,8800H\t; the stack"), New: line(0, 3, "31 00 88", "1", "start:\tLD SP,8800H\t; the stack")},
		{Class: "layout", Old: line(-1, 0, "", "2", "; lamps"), New: line(-1, 0, "", "2", "; the two lamps <b>&amp; the bell</b>")},
	}}
	changed := CompareRow{Class: "changed", Old: line(3, 2, "", "3", "\tLD B,5"), New: line(3, 2, "", "3", "\tLD B,6")}
	changed.Old.Bytes = []Piece{{"06 ", false}, {"05", true}}
	changed.New.Bytes = []Piece{{"06 ", false}, {"06", true}}
	head.Rows = append(head.Rows, changed,
		CompareRow{Class: "added", New: line(5, 2, "18 02", "4", "\tJR wait")},
		CompareRow{Class: "removed", Old: line(5, 1, "76", "4", "\tHALT")})
	fold := Block{Fold: "40 lines moved by +1: 0006-002D, now 0007-002E"}
	for i := range 40 {
		fold.Rows = append(fold.Rows, CompareRow{Class: "moved", Note: "+1",
			Old: line(6+i, 1, "00", fmt.Sprint(5+i), "\tNOP"), New: line(7+i, 1, "00", fmt.Sprint(5+i), "\tNOP")})
	}
	jump := CompareRow{Class: "retargeted", Note: "+1", Old: line(0x2E, 3, "", "45", "\tJP wait"), New: line(0x2F, 3, "", "45", "\tJP wait")}
	jump.Old.Bytes = []Piece{{"C3 ", false}, {"2E", true}, {" 00", false}}
	jump.New.Bytes = []Piece{{"C3 ", false}, {"2F", true}, {" 00", false}}
	c.Blocks = []Block{head, fold, {Rows: []CompareRow{jump}}}
	return c
}

func TestCompareEscapes(t *testing.T) {
	c := example()
	c.New = `"><script>alert(1)</script>`
	var b bytes.Buffer
	require.NoError(t, WriteCompare(&b, c))
	assert.NotContains(t, b.String(), "<script>alert")
	assert.NotContains(t, b.String(), "<b>&amp; the bell")
	assert.NotContains(t, b.String(), "ZgotmplZ")
	assert.NotContains(t, b.String(), "http:")
	assert.NotContains(t, b.String(), "https:")
}

func TestCompareInBrowser(t *testing.T) {
	var html bytes.Buffer
	require.NoError(t, WriteCompare(&html, example()))
	b := open(t, html.String())

	// folding, by the sentence itself and by the keys
	visible := `document.querySelectorAll('details.fold .row')[0].checkVisibility()`
	assert.False(t, eval[bool](b, visible))
	b.run(chromedp.Click(chromedp.CSS("details.fold > summary")))
	assert.True(t, eval[bool](b, visible))
	b.run(chromedp.Click(chromedp.CSS("details.fold > summary")))
	assert.False(t, eval[bool](b, visible))
	b.run(chromedp.KeyEvent("o"))
	assert.True(t, eval[bool](b, visible))
	b.run(chromedp.KeyEvent("c"))
	assert.False(t, eval[bool](b, visible))

	// a row is found by its address, inside a fold too
	here := `Array.from(document.querySelectorAll('.row.here')).map((r) => r.dataset.new || r.dataset.old).join()`
	said := `document.getElementById('said').textContent`
	b.run(chromedp.KeyEvent("g"))
	assert.Equal(t, "address", eval[string](b, `document.activeElement.id`))
	// the protocol sends the letter on, which a keyboard does not
	b.run(chromedp.Evaluate[chromedp.Void](`document.activeElement.value = ''`), chromedp.KeyEvent("0010"), chromedp.KeyEvent(kb.Enter))
	assert.Equal(t, "0010", eval[string](b, here))
	assert.Equal(t, "0010 is in the new line 14", eval[string](b, said))
	assert.True(t, eval[bool](b, `document.querySelector('.row.here').checkVisibility()`))
	for in, want := range map[string]string{"30h": "002F", "$31": "002F", "0x0": "0000"} {
		b.run(chromedp.SetValue(chromedp.CSS("#address"), in), chromedp.Click(chromedp.CSS("#go")))
		assert.Equal(t, want, eval[string](b, here), in)
	}
	b.run(chromedp.SetValue(chromedp.CSS("#address"), "FFFF"), chromedp.Click(chromedp.CSS("#go")))
	assert.Equal(t, "no line has FFFF", eval[string](b, said))
	b.run(chromedp.SetValue(chromedp.CSS("#address"), "x y"), chromedp.Click(chromedp.CSS("#go")))
	assert.Contains(t, eval[string](b, said), "hex digits")

	// from difference to difference
	b.run(chromedp.Evaluate[chromedp.Void](`document.querySelector('.row.here').classList.remove('here'); document.activeElement.blur()`))
	var seen []string
	for range 4 {
		b.run(chromedp.KeyEvent("n"))
		seen = append(seen, eval[string](b, `document.querySelector('.row.here').className`))
	}
	assert.Equal(t, []string{"row changed here", "row added here", "row removed here", "row removed here"}, seen)
	assert.Equal(t, "no more differences that way", eval[string](b, said))
	b.run(chromedp.KeyEvent("p"))
	assert.Equal(t, "row added here", eval[string](b, `document.querySelector('.row.here').className`))

	// every class stands there in words
	for _, class := range []string{"changed", "added", "removed", "moved", "retargeted", "layout"} {
		assert.Equal(t, class, eval[string](b, `document.querySelector('.rows .row.`+class+` .word').textContent`))
	}
	// nothing is wider than the window
	assert.True(t, eval[bool](b, `document.documentElement.scrollWidth <= window.innerWidth`))
	b.run(chromedp.KeyEvent("o"), chromedp.Evaluate[chromedp.Void](`window.scrollTo(0,0)`))
	b.look("compare")
	// a narrow window shows the old line above the new one
	b.run(chromedp.EmulateViewport(640, 800))
	assert.True(t, eval[bool](b, `document.documentElement.scrollWidth <= window.innerWidth`))
	assert.True(t, eval[bool](b, `(() => {
		const a = document.querySelectorAll('.row.changed .addr');
		return a[1].getBoundingClientRect().top > a[0].getBoundingClientRect().top && a[1].getBoundingClientRect().left === a[0].getBoundingClientRect().left;
	})()`))
	b.look("compare-narrow")
	b.clean()
}

// Text is easy to read in light and dark.
func TestCompareContrast(t *testing.T) {
	var html bytes.Buffer
	require.NoError(t, WriteCompare(&html, example()))
	b := open(t, html.String())
	b.run(chromedp.KeyEvent("o"))
	for _, scheme := range []string{"light", "dark"} {
		b.scheme(scheme)
		assert.Empty(t, b.faint(), scheme)
	}
	// light and dark really differ
	b.scheme("light")
	light := eval[string](b, `getComputedStyle(document.body).backgroundColor`)
	b.scheme("dark")
	assert.NotEqual(t, light, eval[string](b, `getComputedStyle(document.body).backgroundColor`))
}

func TestCompareOfImages(t *testing.T) {
	var html bytes.Buffer
	require.NoError(t, WriteCompare(&html, &Compare{Old: "a.bin", New: "b.bin", Summary: "the images are the same"}))
	assert.NotContains(t, html.String(), `id="address"`)
	b := open(t, html.String())
	b.run(chromedp.KeyEvent("g"), chromedp.KeyEvent("n"), chromedp.KeyEvent("o"))
	b.clean()
}

func BenchmarkWriteCompare(b *testing.B) {
	c := example()
	for len(c.Blocks[1].Rows) < 16_000 {
		c.Blocks[1].Rows = append(c.Blocks[1].Rows, c.Blocks[1].Rows...)
	}
	for b.Loop() {
		var s strings.Builder
		require.NoError(b, WriteCompare(&s, c))
		b.SetBytes(int64(s.Len()))
	}
}
