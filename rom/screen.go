package rom

// maxLine is how many characters of a line of a capture are looked at.
const maxLine = 4096

// screenLines calls f with each line of a terminal capture as it stood on the
// screen: escape sequences are carried out or dropped, backspaces move back,
// tabs become a blank, other control bytes vanish. no is the 1-based line of
// the file; a lone CR ends a screen line too, so that a progress display
// written over and over falls apart into lines of its own. line is only
// valid during the call.
func screenLines(data []byte, f func(no int, line []byte)) {
	var s screen
	no := 1
	for i := 0; i < len(data); {
		c := data[i]
		i++
		switch c {
		case '\n':
			f(no, s.take())
			no++
		case '\r':
			if i < len(data) && data[i] == '\n' {
				continue
			}
			if len(s.line) > 0 { // LF CR and CR CR LF end one line, not two
				f(no, s.take())
			}
		case '\b':
			s.at = max(s.at-1, 0)
		case '\t':
			s.put(' ')
		case 0x1B:
			var down bool
			if i, down = s.escape(data, i); down {
				f(no, s.take())
			}
		default:
			if c >= ' ' && c != 0x7F {
				s.put(c)
			}
		}
	}
	if len(s.line) > 0 {
		f(no, s.take())
	}
}

// screen is one line while it is written.
type screen struct {
	line []byte
	at   int // column of the cursor
}

func (s *screen) take() []byte {
	l := s.line
	s.line, s.at = s.line[:0], 0
	return l
}

func (s *screen) put(c byte) {
	if s.at >= maxLine {
		return
	}
	for len(s.line) <= s.at {
		s.line = append(s.line, ' ')
	}
	s.line[s.at] = c
	s.at++
}

// escape carries out the sequence whose ESC stands before data[i] and returns
// where it ends, and whether the cursor left the line. The sequences are those
// of ECMA-48.
func (s *screen) escape(data []byte, i int) (next int, down bool) {
	if i >= len(data) {
		return i, false
	}
	switch data[i] {
	case '[':
		return s.control(data, i+1)
	case ']': // operating system command: ends with BEL or ESC \
		for i++; i < len(data); i++ {
			switch data[i] {
			case 0x07:
				return i + 1, false
			case 0x1B:
				if i+1 < len(data) && data[i+1] == '\\' {
					return i + 2, false
				}
				return i, false
			case '\n': // never ended: better lose the command than the dump
				return i, false
			}
		}
		return i, false
	}
	for i < len(data) && data[i] >= ' ' && data[i] <= '/' { // intermediate bytes
		i++
	}
	if i < len(data) && data[i] >= '0' && data[i] < 0x7F {
		i++
	}
	return i, false
}

// control carries out a control sequence whose parameters begin at data[i].
func (s *screen) control(data []byte, i int) (next int, down bool) {
	n := 0
	for ; i < len(data) && data[i] >= ' ' && data[i] <= '?'; i++ {
		if c := data[i]; c >= '0' && c <= '9' {
			n = min(n*10+int(c-'0'), maxLine)
		} else {
			n = 0 // only the last parameter is wanted
		}
	}
	if i >= len(data) || data[i] < '@' || data[i] >= 0x7F {
		return i, false
	}
	switch data[i] {
	case 'C':
		s.at = min(s.at+max(n, 1), maxLine)
	case 'D':
		s.at = max(s.at-max(n, 1), 0)
	case 'G':
		s.at = max(n-1, 0)
	case 'K':
		if n == 0 && s.at < len(s.line) {
			s.line = s.line[:s.at]
		}
	case 'A', 'B', 'E', 'F', 'H', 'J', 'f':
		return i + 1, len(s.line) > 0
	}
	return i + 1, false
}
