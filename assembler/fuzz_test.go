package assembler

import (
	"regexp"
	"testing"

	"github.com/stretchr/testify/require"

	"romwright/directives"
)

// costly marks sources that expand to a million lines: right, but too slow to
// try many of them.
var costly = regexp.MustCompile(`(?i)(REPT|DUP)[^\n]*[0-9A-F]{4}|(?is)REPT.*REPT.*REPT`)

// fuzzOptions makes options of a few bits.
func fuzzOptions(bits uint16, files Files) Options {
	opt := Options{Files: files, IncludeDirs: []string{"dir"}, Defines: []string{"given=3", "flag"}}
	for i, w := range directives.AcceptWords() {
		if bits>>i&1 != 0 {
			opt.Accept = append(opt.Accept, w.Word)
		}
	}
	if bits>>8&1 != 0 {
		opt.Unpadded = true
	}
	if bits>>9&1 != 0 {
		opt.Capacity = 2048
	}
	if bits>>10&1 != 0 {
		opt.At, opt.HasAt = 0x8000, true
	}
	if bits>>11&1 != 0 {
		opt.Skip = []string{"page", "NOP"}
	}
	return opt
}

// Any program with an included and an embedded file: no panic and no hang, the
// same result twice and without the memo, an image as long as declared with
// every byte of every line in it.
func FuzzAssemble(f *testing.F) {
	for path, texts := range sourceFiles(f) {
		_ = path
		for _, text := range texts {
			if len(text) < 5_000 && !costly.MatchString(text) {
				f.Add(text, "lamp EQU 5\n", uint16(0))
			}
		}
	}
	for _, d := range directives.All() {
		f.Add(chip1K+d.Example+"\n", "\tNOP\n", uint16(0))
		f.Add("\tINCLUDE \"inc\"\n", chip1K+d.Example+"\n", uint16(0x7F))
	}
	f.Add(chip1K+"m\tMACRO a,b\n.x:\tJP .x\n\tLOCAL l\nl:\tLD A,a&b\n\tm2 <a,b>\n\tENDM\nm2\tMACRO x\n\tINCLUDE 'inc'\n\tENDM\n\tm 1,2\n\tIRP r,<B,C>\n\tLD r,r\n\tENDM\n",
		"\tIFDEF flag\n\tDEFB given,'it''s'\n\tENDIF\n\tEND 5\n", uint16(0))
	f.Add("v DEFL 1\nk EQU v+l\nv DEFL 2\n DEFB k DUP(v),\"a\\x41\"\nl EQU TSTATES(p,q)\np: NOP\n RUNAT 8000H\nq: LD HL,DE\n ENDRUNAT\n EMBED 'data',1,k\n", "", uint16(0x27F))
	f.Add("\tIRPC c,LDA\nc&c:\tRET\n\tENDM\n\tREPT 3\n.l:\tDJNZ .l\n\tEXITM\n\tENDM\n\tORG 10H\n\tDEFS 5\n\tALIGN 8,1\n\tREQUIRE $<=18H,\"x\"\n\tDEFW low,$\n", "", uint16(0x740))
	f.Fuzz(func(t *testing.T, text, include string, bits uint16) {
		if len(text)+len(include) > 10_000 || costly.MatchString(text) || costly.MatchString(include) {
			return
		}
		files := memory{"inc": include, "dir/deep": "\tINCLUDE \"inc\"\n", "data": "abcdefgh", "sub/inc": text}
		opt := fuzzOptions(bits, files)
		p := Assemble("x.asm", text, opt)
		checkSound(t, p)
		if p.Image != nil && opt.Capacity != 0 {
			require.Equal(t, int(opt.Capacity), p.Image.Capacity)
		}
		want := snapshot(p)
		require.Equal(t, want, snapshot(Assemble("x.asm", text, opt)), "not the same twice")
		opt.NoShapeMemo = true
		require.Equal(t, want, snapshot(Assemble("x.asm", text, opt)), "not the same without the memo")
	})
}
