package listing

// normalize appends what a source line says: without its remark, and with
// blanks only where they part two words. Two lines that differ in layout
// alone give the same bytes; nothing is left of a line that says nothing.
func normalize(dst []byte, s string) []byte {
	start := len(dst)
	blank := false
	for i := 0; i < len(s); i++ {
		c := s[i]
		switch {
		case c == ' ' || c == '\t':
			blank = true
			continue
		case c == ';':
			return dst
		case (c == '\'' || c == '"') && !isShadow(dst[start:], c):
			dst = append(dst, c)
			for i++; i < len(s); i++ {
				dst = append(dst, s[i])
				if s[i] == c {
					break
				}
			}
			blank = false
			continue
		}
		if blank && len(dst) > start && isWord(c) && isWord(dst[len(dst)-1]) {
			dst = append(dst, ' ')
		}
		blank = false
		dst = append(dst, c)
	}
	return dst
}

// isShadow tells whether the quote c belongs to the register pair AF' before
// it and so opens no string.
func isShadow(before []byte, c byte) bool {
	n := len(before)
	return c == '\'' && n >= 2 && before[n-1]|0x20 == 'f' && before[n-2]|0x20 == 'a' &&
		(n == 2 || !isWord(before[n-3]))
}

// isWord tells whether c may stand in a name, a number or a word.
func isWord(c byte) bool {
	return c|0x20 >= 'a' && c|0x20 <= 'z' || c >= '0' && c <= '9' ||
		c == '_' || c == '?' || c == '@' || c == '$' || c == '.' || c >= 0x80
}

// words calls f for each word of a normalized line outside strings, until f
// gives false.
func words(s string, f func(word string) bool) {
	for i := 0; i < len(s); {
		switch c := s[i]; {
		case c == '\'' || c == '"':
			if isShadow([]byte(s[max(0, i-3):i]), c) {
				i++
				continue
			}
			for i++; i < len(s) && s[i] != c; i++ {
			}
			i++
		case isWord(c):
			start := i
			for i < len(s) && isWord(s[i]) {
				i++
			}
			if !f(s[start:i]) {
				return
			}
		default:
			i++
		}
	}
}
