package listing

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// longest is the length of the longest common subsequence, by the textbook
// table.
func longest(a, b []rune) int {
	row := make([]int, len(b)+1)
	for _, x := range a {
		diagonal := 0
		for j, y := range b {
			above := row[j+1]
			if x == y {
				row[j+1] = diagonal + 1
			} else {
				row[j+1] = max(above, row[j])
			}
			diagonal = above
		}
	}
	return row[len(b)]
}

func check(t require.TestingT, a, b []rune, match []int32) int {
	last, n := int32(-1), 0
	for i, j := range match {
		if j < 0 {
			continue
		}
		require.Greater(t, j, last, "partners must rise")
		require.Equal(t, a[i], b[j])
		last = j
		n++
	}
	return n
}

// Whatever is aligned is equal and in order; without repeated elements and
// within the library's bounds the alignment is as long as it can be.
func TestAlign(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		kinds := rapid.SampledFrom([]int{3, 20, 500}).Draw(t, "kinds")
		seq := rapid.SliceOfN(rapid.Int32Range(1, int32(kinds)), 0, 300)
		a := seq.Draw(t, "a")
		b := append([]rune(nil), a...)
		for range rapid.IntRange(0, 6).Draw(t, "edits") {
			i := rapid.IntRange(0, len(b)).Draw(t, "i")
			switch rapid.IntRange(0, 2).Draw(t, "edit") {
			case 0:
				b = append(b[:i:i], append(seq.Draw(t, "new"), b[i:]...)...)
			case 1:
				b = append(b[:i:i], b[rapid.IntRange(i, len(b)).Draw(t, "j"):]...)
			default:
				b = append(append([]rune(nil), b[i:]...), b[:i]...)
			}
		}
		n := check(t, a, b, align(a, b, kinds+1))
		best := longest(a, b)
		assert.LessOrEqual(t, n, best)
		if best > 0 {
			assert.Positive(t, n)
		}
	})
}

// One long insertion in a file of repeated lines must not unhinge the rest.
func TestAlignLongInsertions(t *testing.T) {
	var a, b []rune
	kinds := 5000
	for i := range 3000 {
		x := rune(10 + i)
		if i%3 == 0 {
			x = rune(1 + i/3%8) // lines such as RET, over and over
		}
		a = append(a, x)
		b = append(b, x)
		if i == 900 || i == 2100 {
			for k := range 500 {
				b = append(b, rune(1+k%9))
			}
		}
	}
	assert.Equal(t, len(a), check(t, a, b, align(a, b, kinds)))
}

// Files without a single unlike line, and without a single like one, end in
// good time.
func TestAlignHostile(t *testing.T) {
	var a, b []rune
	for i := range 50_000 {
		a = append(a, rune(1+i*i%7))
		b = append(b, rune(1+i*i*i%5))
	}
	check(t, a, b, align(a, b, 10))
}

func TestNormalize(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"", ""},
		{"   ; only a remark", ""},
		{"start:\tLD  A , 5 ; five", "start:LD A,5"},
		{" ld (ix + 5),'a  b' ;x", "ld(ix+5),'a  b'"},
		{"\tEX AF,AF' ; not a string", "EX AF,AF'"},
		{"\tDEFB ';', \"it's\" , 'a''b'", "DEFB';',\"it's\",'a''b'"},
		{"\tDEFB 'open ; end", "DEFB'open ; end"},
		{"TEXT  DB 5", "TEXT DB 5"},
		{"x AND y", "x AND y"},
		{"HALF' z", "HALF' z"}, // AF here is the end of a name: a string opens
	} {
		assert.Equal(t, c.want, string(normalize(nil, c.in)), c.in)
	}
	var got []string
	words("x:LD A,(table+1)*'not this'&.loop", func(w string) bool { got = append(got, w); return true })
	assert.Equal(t, []string{"x", "LD", "A", "table", "1", ".loop"}, got)
}
