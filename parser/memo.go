package parser

import "romwright/lexer"

// memo finds the shape of a line by the kinds of its tokens. It is looked into
// for every line, so it is a table of its own: no key is built for the search.
type memo struct {
	table []*Shape // open addressing, a power of two long, at most half full
	n     int
	size  int // tokens of all its shapes
}

// memoLimit bounds the tokens that remembered shapes hold; behind it every new
// shape goes through the grammar.
const memoLimit = 200_000

// maxProbes bounds the search: lines can be made whose shapes have one hash.
const maxProbes = 100

func hashKinds(tokens []lexer.Token) uint32 {
	h := uint32(2166136261) // FNV-1a
	for i := range tokens {
		h = (h ^ uint32(tokens[i].Kind)) * 16777619
	}
	return h ^ h>>15
}

func (m *memo) find(hash uint32, tokens []lexer.Token) *Shape {
	if len(m.table) == 0 {
		return nil
	}
	mask := uint32(len(m.table) - 1)
	i := hash & mask
	for range maxProbes {
		sh := m.table[i]
		if sh == nil {
			return nil
		}
		if sh.hash == hash && sh.matches(tokens) {
			return sh
		}
		i = (i + 1) & mask
	}
	return nil
}

func (sh *Shape) matches(tokens []lexer.Token) bool {
	if len(sh.key) != len(tokens) {
		return false
	}
	for i := range tokens {
		if sh.key[i] != byte(tokens[i].Kind) {
			return false
		}
	}
	return true
}

func (m *memo) add(sh *Shape, hash uint32, tokens []lexer.Token) {
	if m.size+len(tokens) > memoLimit {
		return
	}
	key := make([]byte, len(tokens))
	for i := range tokens {
		key[i] = byte(tokens[i].Kind)
	}
	sh.key, sh.hash = string(key), hash
	m.size += len(tokens)
	m.n++
	if 2*m.n > len(m.table) {
		old := m.table
		m.table = make([]*Shape, max(64, 2*len(old)))
		for _, sh := range old {
			if sh != nil {
				m.place(sh)
			}
		}
	}
	m.place(sh)
}

// place forgets a shape that finds no place near its hash.
func (m *memo) place(sh *Shape) {
	mask := uint32(len(m.table) - 1)
	i := sh.hash & mask
	for range maxProbes {
		if m.table[i] == nil {
			m.table[i] = sh
			return
		}
		i = (i + 1) & mask
	}
}
