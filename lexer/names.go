package lexer

import "strings"

// Name is a word of the source by number: the same letters in the same case
// have the same Name. 0 is no name.
type Name uint32

// Names numbers the words that a run meets, so that everything known about a
// word can stand in a slice. It keeps the text of each word as a piece of the
// source it came from. The zero value is ready to use.
type Names struct {
	entries []nameEntry     // entries[0] is unused
	table   []uint64        // open addressing, a power of two long: hash and Name, so that a stranger costs no look at its entry
	folded  []Name          // by Name: the Name of its upper-case form, 0 not asked yet
	crowded map[string]Name // words that found no place within maxProbes
}

// maxProbes bounds the search in the table. Honest words need a few steps; a
// source made of words with one hash would need as many as it has words.
const maxProbes = 200

const noPlace = ^uint32(0)

type nameEntry struct {
	text string
	op   Kind // the operator that the word is, or Word
}

// Text is the word itself.
func (n *Names) Text(id Name) string {
	if int(id) >= len(n.entries) {
		return ""
	}
	return n.entries[id].text
}

// Len is one more than the largest Name given out.
func (n *Names) Len() int { return max(len(n.entries), 1) }

const (
	hashSeed  = 2166136261
	hashPrime = 16777619
)

// Of numbers a word.
func (n *Names) Of(text string) Name {
	h := uint32(hashSeed)
	for i := 0; i < len(text); i++ {
		h = (h ^ uint32(text[i])) * hashPrime
	}
	return n.of(text, h)
}

// Find gives the Name of a word met before, or 0.
func (n *Names) Find(text string) Name {
	h := uint32(hashSeed)
	for i := 0; i < len(text); i++ {
		h = (h ^ uint32(text[i])) * hashPrime
	}
	if len(n.table) == 0 {
		return 0
	}
	id, _ := n.look(text, h)
	return id
}

// look finds a word, or the place in the table where it belongs.
func (n *Names) look(text string, h uint32) (Name, uint32) {
	mask := uint32(len(n.table) - 1)
	i := mix(h) & mask
	place := noPlace
	for range maxProbes {
		slot := n.table[i]
		if slot == 0 {
			place = i
			break
		}
		if uint32(slot>>32) == h && n.entries[Name(slot)].text == text {
			return Name(slot), i
		}
		i = (i + 1) & mask
	}
	if n.crowded != nil {
		return n.crowded[text], place
	}
	return 0, place
}

// place puts a word where it belongs in the table, or aside.
func (n *Names) place(text string, id Name, h, i uint32) {
	if i != noPlace {
		n.table[i] = uint64(h)<<32 | uint64(id)
		return
	}
	if n.crowded == nil {
		n.crowded = map[string]Name{}
	}
	n.crowded[text] = id
}

// mix spreads the hash over the low bits, which pick the place in the table.
func mix(h uint32) uint32 { return h ^ h>>15 }

func (n *Names) of(text string, h uint32) Name {
	if 4*len(n.entries) >= 3*len(n.table) {
		n.grow()
	}
	id, i := n.look(text, h)
	if id == 0 {
		id = Name(len(n.entries))
		n.entries = append(n.entries, nameEntry{text, operatorWord(text)})
		n.place(text, id, h, i)
	}
	return id
}

// Reserve makes room for so many words. Room that is not used costs address
// space only, while growing copies and touches everything.
func (n *Names) Reserve(words int) {
	if len(n.entries) > 0 {
		return
	}
	n.entries = append(make([]nameEntry, 0, max(64, words)), nameEntry{})
	size := 256
	for 2*size < words { // it grows well, unlike the entries
		size *= 2
	}
	n.table = make([]uint64, size)
}

func (n *Names) grow() {
	if len(n.entries) == 0 {
		n.Reserve(0)
		return
	}
	old := n.table
	n.table = make([]uint64, 2*len(old))
	mask := uint32(len(n.table) - 1)
	for _, slot := range old {
		if slot == 0 {
			continue
		}
		i := mix(uint32(slot>>32)) & mask
		steps := 0
		for n.table[i] != 0 && steps < maxProbes {
			i = (i + 1) & mask
			steps++
		}
		if steps == maxProbes {
			i = noPlace
		}
		n.place(n.entries[Name(slot)].text, Name(slot), uint32(slot>>32), i)
	}
}

// Folded is the Name of the word in capital letters.
func (n *Names) Folded(id Name) Name {
	if int(id) < len(n.folded) && n.folded[id] != 0 {
		return n.folded[id]
	}
	f := n.Of(strings.ToUpper(n.Text(id)))
	for len(n.folded) < n.Len() {
		n.folded = append(n.folded, 0)
	}
	n.folded[id] = f
	return f
}

// operatorWord gives the operator that a word is in any letter case, or Word.
func operatorWord(s string) Kind {
	if len(s) < 2 || len(s) > 7 {
		return Word
	}
	var buf [7]byte
	for i := 0; i < len(s); i++ {
		c := s[i]
		if 'a' <= c && c <= 'z' {
			c -= 'a' - 'A'
		}
		buf[i] = c
	}
	switch string(buf[:len(s)]) {
	case "HIGH":
		return High
	case "LOW":
		return Low
	case "MOD":
		return Mod
	case "SHL":
		return ShiftLeft
	case "SHR":
		return ShiftRight
	case "EQ":
		return Equal
	case "NE":
		return NotEqual
	case "LT":
		return Less
	case "LE":
		return LessEqual
	case "GT":
		return Greater
	case "GE":
		return GreaterEqual
	case "NOT":
		return Not
	case "AND":
		return And
	case "XOR":
		return Xor
	case "OR":
		return Or
	case "DUP":
		return Dup
	case "TSTATES", "LAP":
		return Function
	}
	return Word
}
