package listing

import (
	"slices"

	"github.com/aymanbagabas/go-udiff/lcs"
)

// aligner finds which elements of two sequences belong together.
//
// Elements that occur once in both sequences are anchors; the longest rising
// run of them (patience sorting) cuts the sequences into gaps, and so on in
// each gap. What is left without anchors goes to Myers' algorithm, which the
// lcs package bounds to some 50 edits from both ends: the anchors keep it away
// from long insertions, in which it would lose its way.
type aligner struct {
	a, b  []rune  // elements; equal ones have equal numbers
	match []int32 // for each of a the index in b, or -1

	inA, inB []int32 // occurrences of each element in the range in hand
	at       []int32 // where in b it was seen last
	tries    int     // calls of lcs that are still allowed
}

const (
	alignDepth = 24    // anchors within anchors
	alignTries = 2_000 // bounds the time that two unlike files of like lines can take
)

// align gives for each element of a the index of its partner in b, or -1.
// Partners rise. kinds is above the largest element.
func align(a, b []rune, kinds int) []int32 {
	al := &aligner{a: a, b: b, match: make([]int32, len(a)), tries: alignTries}
	for i := range al.match {
		al.match[i] = -1
	}
	counts := make([]int32, 3*kinds)
	al.inA, al.inB, al.at = counts[:kinds], counts[kinds:2*kinds], counts[2*kinds:]
	al.between(0, len(a), 0, len(b), alignDepth)
	return al.match
}

// between aligns a[alo:ahi] with b[blo:bhi].
func (al *aligner) between(alo, ahi, blo, bhi, depth int) {
	a, b := al.a, al.b
	for alo < ahi && blo < bhi && a[alo] == b[blo] {
		al.match[alo] = int32(blo)
		alo, blo = alo+1, blo+1
	}
	for alo < ahi && blo < bhi && a[ahi-1] == b[bhi-1] {
		ahi, bhi = ahi-1, bhi-1
		al.match[ahi] = int32(bhi)
	}
	if alo == ahi || blo == bhi {
		return
	}
	for _, x := range a[alo:ahi] {
		al.inA[x]++
	}
	for j := blo; j < bhi; j++ {
		al.inB[b[j]]++
		al.at[b[j]] = int32(j)
	}
	var anchors []anchor
	common := false
	for i := alo; i < ahi; i++ {
		x := a[i]
		common = common || al.inB[x] > 0
		if al.inA[x] == 1 && al.inB[x] == 1 {
			anchors = append(anchors, anchor{int32(i), al.at[x], -1})
		}
	}
	for _, x := range a[alo:ahi] {
		al.inA[x] = 0
	}
	for _, x := range b[blo:bhi] {
		al.inB[x] = 0
	}
	switch {
	case !common:
	case len(anchors) == 0 || depth == 0:
		al.myers(alo, ahi, blo, bhi)
	default:
		for _, k := range rising(anchors) {
			al.match[k.a] = k.b
			al.between(alo, int(k.a), blo, int(k.b), depth-1)
			alo, blo = int(k.a)+1, int(k.b)+1
		}
		al.between(alo, ahi, blo, bhi, depth-1)
	}
}

// anchor says that a[a] and b[b] belong together; before is the anchor that
// precedes it in the longest rising run that ends with it.
type anchor struct{ a, b, before int32 }

// rising gives the longest run of anchors, which rise in a, that rises in b
// as well.
func rising(anchors []anchor) []anchor {
	var tails []int32 // index of the anchor that ends the run of each length
	for i := range anchors {
		n, _ := slices.BinarySearchFunc(tails, anchors[i].b, func(t, b int32) int {
			return int(anchors[t].b - b)
		})
		if n > 0 {
			anchors[i].before = tails[n-1]
		}
		if n == len(tails) {
			tails = append(tails, int32(i))
		} else {
			tails[n] = int32(i)
		}
	}
	run := make([]anchor, len(tails))
	for i, k := len(tails)-1, tails[len(tails)-1]; i >= 0; i-- {
		run[i] = anchors[k]
		k = anchors[k].before
	}
	return run
}

// myers aligns a range without anchors. The library gives up in the middle of
// two sequences that differ much; that part is handed to it again as long as
// it gets on with it.
func (al *aligner) myers(alo, ahi, blo, bhi int) {
	type gap struct{ alo, ahi, blo, bhi int }
	work := []gap{{alo, ahi, blo, bhi}}
	for len(work) > 0 && al.tries > 0 {
		al.tries--
		g := work[len(work)-1]
		work = work[:len(work)-1]
		i, j := g.alo, g.blo
		diffs := lcs.DiffRunes(al.a[g.alo:g.ahi], al.b[g.blo:g.bhi])
		for _, d := range diffs {
			for ; i < g.alo+d.Start; i, j = i+1, j+1 {
				al.match[i] = int32(j)
			}
			i, j = g.alo+d.End, g.blo+d.ReplEnd
			n, m := d.End-d.Start, d.ReplEnd-d.ReplStart
			if n > 0 && m > 0 && n+m > 50 && (n < g.ahi-g.alo || m < g.bhi-g.blo) {
				work = append(work, gap{g.alo + d.Start, i, g.blo + d.ReplStart, j})
			}
		}
		for ; i < g.ahi; i, j = i+1, j+1 {
			al.match[i] = int32(j)
		}
	}
}
