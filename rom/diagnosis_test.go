package rom

import (
	"bytes"
	"fmt"
	"io"
	"math/rand"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The faults are injected here by code of its own, written from the fault's
// description and not from the diagnosis: bit by bit, cell by cell.

// bit is bit n of v.
func bit(v, n int) int { return v >> n % 2 }

// put gives v with bit n set to b.
func put(v, n, b int) int {
	if bit(v, n) == b {
		return v
	}
	if b == 1 {
		return v + 1<<n
	}
	return v - 1<<n
}

// faulty gives what is read at each offset when the image is in a chip with
// the fault that a finding describes. previous is what its Previous stands
// for.
func faulty(t require.TestingT, f Finding, image []byte, previous []byte) func(a int) byte {
	n := len(image)
	swap := func(v int) int {
		i, j := f.Lines[0], f.Lines[1]
		x, y := bit(v, i), bit(v, j)
		return put(put(v, i, y), j, x)
	}
	short := func(v int) int {
		i, j := f.Lines[0], f.Lines[1]
		both := min(bit(v, i), bit(v, j)) // the 0 wins
		if *f.Level == 1 {
			both = max(bit(v, i), bit(v, j))
		}
		return put(put(v, i, both), j, both)
	}
	stuck := func(v int) int {
		for _, i := range f.Lines {
			v = put(v, i, *f.Level)
		}
		return v
	}
	cells := func(address func(a int) int) func(int) byte {
		return func(a int) byte { return image[address(a)] }
	}
	data := func(change func(v int) int) func(int) byte {
		return func(a int) byte { return byte(change(int(image[a]))) }
	}
	switch f.Fault {
	case BlankChip:
		v := mustHex(t, f.Value)[0]
		return func(int) byte { return v }
	case PreviousImage:
		return func(a int) byte { return previous[a] }
	case DataLineStuck:
		return data(stuck)
	case DataLinesSwapped:
		if f.Order == nil {
			return data(swap)
		}
		return data(func(v int) int {
			w := 0
			for i, j := range f.Order {
				w = put(w, i, bit(v, j))
			}
			return w
		})
	case DataLinesShorted:
		return data(short)
	case AddressLineStuck:
		return cells(stuck)
	case AddressLinesSwapped:
		return cells(swap)
	case AddressLinesShorted:
		return cells(short)
	case BytesLost:
		return func(a int) byte {
			switch {
			case a < f.At:
				return image[a]
			case a+f.Count < n:
				return image[a+f.Count]
			}
			return 0xFF
		}
	case BytesDoubled: // the bytes before At come twice
		return func(a int) byte {
			if a < f.At {
				return image[a]
			}
			return image[a-f.Count]
		}
	case WriteStopped:
		return func(a int) byte {
			switch {
			case a < f.At:
				return image[a]
			case f.Previous != "":
				return previous[a]
			}
			return mustHex(t, f.Value)[0]
		}
	case ImageMoved:
		return func(a int) byte { return image[((a-*f.Offset)%n+n)%n] }
	}
	require.Fail(t, "no such fault", "%s", f.Fault)
	return nil
}

// inject gives the whole reading of a faulty chip.
func inject(t require.TestingT, f Finding, image []byte, previous []byte) []byte {
	read := faulty(t, f, image, previous)
	out := make([]byte, len(image))
	for a := range out {
		out[a] = read(a)
	}
	return out
}

// name tells two findings apart.
func name(f Finding) string {
	s := fmt.Sprintf("%s %v", f.Fault, f.Lines)
	if f.Level != nil {
		s += fmt.Sprintf(" level %d", *f.Level)
	}
	if f.Order != nil {
		s += fmt.Sprintf(" order %v", f.Order)
	}
	if f.Offset != nil {
		s += fmt.Sprintf(" offset %d", *f.Offset)
	}
	return s + " " + f.Value + f.Previous + f.While
}

// lineFaults lists every fault of one or two lines of a chip.
func lineFaults(size int) []Finding {
	var out []Finding
	lines := 0
	for 1<<lines < size {
		lines++
	}
	for _, k := range []struct {
		n                    int
		stuck, swap, shorted Fault
	}{{8, DataLineStuck, DataLinesSwapped, DataLinesShorted}, {lines, AddressLineStuck, AddressLinesSwapped, AddressLinesShorted}} {
		for i := range k.n {
			for lv := range 2 {
				out = append(out, Finding{Fault: k.stuck, Lines: []int{i}, Level: level(lv)})
			}
			for j := i + 1; j < k.n; j++ {
				out = append(out, Finding{Fault: k.swap, Lines: []int{i, j}},
					Finding{Fault: k.shorted, Lines: []int{i, j}, Level: level(0)}, Finding{Fault: k.shorted, Lines: []int{i, j}, Level: level(1)})
			}
		}
	}
	return out
}

// testImages are images of 2K to 64K: full, like a program with blanks
// behind it, tiny, patchy, and in two versions.
func testImages(r *rand.Rand, size int) map[string][]byte {
	blank := func() []byte { return bytes.Repeat([]byte{0xFF}, size) }
	full := make([]byte, size)
	r.Read(full)
	full[0] = 0xF3
	some := blank()
	r.Read(some[:size/3])
	some[0] = 0xF3
	tiny := blank()
	copy(tiny, mustHex(nil, program))
	patchy := blank()
	r.Read(patchy[:0x66])
	copy(patchy[size/2+0x80:], mustHex(nil, program))
	copy(patchy[size-0x40:], "a table of words stands at the end of the chip")
	return map[string][]byte{"full": full, "part": some, "tiny": tiny, "patchy": patchy}
}

// verifyBytes runs a verify over the named pieces of what was read.
func verifyBytes(t require.TestingT, image, read []byte, earlier []Earlier, parts ...Range) *Report {
	im, err := FromBytes(image, 0, 0xFF)
	require.NoError(t, err)
	if len(parts) == 0 {
		parts = []Range{{0, len(read) - 1}}
	}
	c := &Contents{Format: Dump, Entry: -1}
	for _, p := range parts {
		c.Pieces = append(c.Pieces, Piece{p.First, read[p.First : p.Last+1]})
	}
	return Verify(im, c, VerifyOptions{Earlier: earlier})
}

// expect runs a verify of a chip with a fault and demands that the fault is
// named, that whatever else is named gives the very same reading, and that
// every fault of one or two lines that gives it is named.
func expect(t *testing.T, f Finding, image, previous []byte, parts ...Range) {
	t.Helper()
	read := inject(t, f, image, previous)
	var earlier []Earlier
	if previous != nil {
		earlier = []Earlier{{Name: "v1", Data: previous}}
	}
	if len(parts) == 0 {
		parts = []Range{{0, len(image) - 1}}
	}
	same := func(g func(a int) byte) bool {
		for _, p := range parts {
			for a := p.First; a <= p.Last; a++ {
				if g(a) != read[a] {
					return false
				}
			}
		}
		return true
	}
	rep := verifyBytes(t, image, read, earlier, parts...)
	if same(func(a int) byte { return image[a] }) {
		require.True(t, rep.Agrees, name(f))
		require.Empty(t, rep.Diagnosis)
		return
	}
	require.False(t, rep.Agrees)
	named := map[string]bool{}
	kinds := map[Fault]bool{}
	for _, g := range rep.Diagnosis {
		named[name(g)], kinds[g.Fault] = true, true
		require.Equal(t, g.Of, g.Explained, name(g))
		require.Equal(t, rep.Covered, g.Of)
		require.NotEmpty(t, g.Says)
		require.NotEmpty(t, g.Evidence)
		require.NotEmpty(t, g.Look)
		require.True(t, slices.IsSorted(g.Lines))
		require.True(t, same(faulty(t, g, image, previous)), "%s was named for %s", name(g), name(f))
	}
	switch f.Fault {
	case BytesLost, BytesDoubled, WriteStopped, ImageMoved: // at, count and offset may look alike
		require.True(t, kinds[f.Fault], "%s at %d count %d: named %v", name(f), f.At, f.Count, named)
	default:
		require.True(t, named[name(f)], "%s: named %v", name(f), named)
	}
	for _, g := range lineFaults(len(image)) {
		if !named[name(g)] {
			require.False(t, same(faulty(t, g, image, nil)), "%s was not named for %s", name(g), name(f))
		}
	}
}

// Every fault of the lines, on every image. Trying all others on each takes its
// time, so the larger chips get a sample.
func TestLineFaults(t *testing.T) {
	r := rand.New(rand.NewSource(1))
	for _, size := range []int{2048, 8192, 65536} {
		for kind, image := range testImages(r, size) {
			t.Run(fmt.Sprintf("%d %s", size, kind), func(t *testing.T) {
				for i, f := range lineFaults(size) {
					if size == 2048 || i%(size/512) == 0 {
						expect(t, f, image, nil)
					}
				}
			})
		}
	}
}

func TestOtherFaults(t *testing.T) {
	r := rand.New(rand.NewSource(2))
	for _, size := range []int{2048, 8192, 32768, 65536} {
		previous := make([]byte, size)
		r.Read(previous)
		for kind, image := range testImages(r, size) {
			t.Run(fmt.Sprintf("%d %s", size, kind), func(t *testing.T) {
				expect(t, Finding{Fault: BlankChip, Value: "FF"}, image, nil)
				expect(t, Finding{Fault: BlankChip, Value: "00"}, image, nil)
				expect(t, Finding{Fault: BlankChip, Value: "5A"}, image, nil)
				expect(t, Finding{Fault: PreviousImage, Previous: "v1"}, image, previous)
				expect(t, Finding{Fault: DataLinesSwapped, Lines: []int{0, 1, 2, 3, 4, 5, 6, 7}, Order: []int{7, 6, 5, 4, 3, 2, 1, 0}}, image, nil)
				expect(t, Finding{Fault: DataLinesSwapped, Lines: []int{1, 4, 6}, Order: []int{0, 4, 2, 3, 6, 5, 1, 7}}, image, nil)
				for _, at := range []int{64, 128, size / 4, size / 2} {
					expect(t, Finding{Fault: WriteStopped, At: at, Value: "FF"}, image, nil)
					expect(t, Finding{Fault: WriteStopped, At: at, Previous: "v1"}, image, previous)
				}
				for _, offset := range []int{1, 3, 256, size / 2, size - 1} {
					expect(t, Finding{Fault: ImageMoved, Offset: level(offset)}, image, nil)
				}
				used := len(bytes.TrimRight(image, "\xff"))
				for _, at := range []int{0, 1, 17, used / 2} {
					for _, k := range []int{1, 2, 5, 16} {
						expect(t, Finding{Fault: BytesLost, At: at, Count: k}, image, nil)
						if at >= k {
							expect(t, Finding{Fault: BytesDoubled, At: at, Count: k}, image, nil)
						}
					}
				}
				if kind == "full" || kind == "part" {
					expect(t, Finding{Fault: BytesLost, At: 128, Count: 128}, image, nil)
					expect(t, Finding{Fault: BytesDoubled, At: 256, Count: 128}, image, nil)
				}
			})
		}
	}
}

// A read-back that covers only parts of the chip.
func TestFaultsInPartsOfTheChip(t *testing.T) {
	r := rand.New(rand.NewSource(3))
	for kind, image := range testImages(r, 8192) {
		t.Run(kind, func(t *testing.T) {
			previous := make([]byte, len(image))
			r.Read(previous)
			parts := []Range{{0, 0x5F}, {0x200, 0x27F}, {0x1000, 0x11FF}, {0x1FC0, 0x1FFF}}
			for _, f := range lineFaults(8192) {
				expect(t, f, image, nil, parts...)
			}
			expect(t, Finding{Fault: PreviousImage, Previous: "v1"}, image, previous, parts...)
			expect(t, Finding{Fault: BlankChip, Value: "FF"}, image, nil, parts...)
			expect(t, Finding{Fault: WriteStopped, At: 64, Value: "FF"}, image, nil, parts...)
			expect(t, Finding{Fault: BytesLost, At: 20, Count: 3}, image, nil, parts...)
			expect(t, Finding{Fault: BytesDoubled, At: 20, Count: 3}, image, nil, parts...)
			expect(t, Finding{Fault: ImageMoved, Offset: level(5)}, image, nil, parts...)
		})
	}
}

// Damage without a pattern has no name; a few bytes are single cells.
func TestRandomDamage(t *testing.T) {
	r := rand.New(rand.NewSource(4))
	for _, size := range []int{2048, 8192, 65536} {
		for kind, image := range testImages(r, size) {
			for round := range 30 {
				for _, n := range []int{1, 2, 3, 8, 40, 200, size / 3} {
					read := bytes.Clone(image)
					cells := map[int]bool{}
					for len(cells) < n {
						a := r.Intn(size)
						read[a] = image[a] ^ byte(1+r.Intn(255))
						cells[a] = true
					}
					rep := verifyBytes(t, image, read, nil)
					require.Equal(t, n, rep.Differing)
					if n > fewCells {
						require.Empty(t, rep.Diagnosis, "%d %s round %d: %d cells", size, kind, round, n)
						continue
					}
					require.Len(t, rep.Diagnosis, 1)
					f := rep.Diagnosis[0]
					if f.Fault != SingleCells { // it must be that fault to the byte
						require.Equal(t, read, inject(t, f, image, nil), name(f))
						continue
					}
					require.Equal(t, rep.Covered, f.Explained)
				}
			}
		}
	}
}

// A fault and a handful of bytes besides: the fault is named, the handful is
// counted.
func TestFaultAndAHandfulBesides(t *testing.T) {
	r := rand.New(rand.NewSource(5))
	image := testImages(r, 8192)["full"]
	previous := make([]byte, len(image))
	r.Read(previous)
	for _, f := range []Finding{
		{Fault: BlankChip, Value: "FF"},
		{Fault: PreviousImage, Previous: "v1"},
		{Fault: DataLineStuck, Lines: []int{3}, Level: level(0)},
		{Fault: DataLinesSwapped, Lines: []int{2, 6}},
		{Fault: AddressLineStuck, Lines: []int{8}, Level: level(1)},
		{Fault: AddressLinesSwapped, Lines: []int{3, 9}},
		{Fault: AddressLinesShorted, Lines: []int{3, 9}, Level: level(0)},
		{Fault: WriteStopped, At: 0x1000, Value: "FF"},
		{Fault: BytesLost, At: 0x1000, Count: 4},
		{Fault: ImageMoved, Offset: level(0x200)},
	} {
		read := inject(t, f, image, previous)
		for _, a := range []int{0x1101, 0x1203, 0x1AAA, 0x1C00, 0x1FF0} {
			read[a] ^= 0x81
		}
		rep := verifyBytes(t, image, read, []Earlier{{Name: "v1", Data: previous}})
		require.Len(t, rep.Diagnosis, 1, name(f))
		g := rep.Diagnosis[0]
		assert.Equal(t, f.Fault, g.Fault)
		assert.Equal(t, 8192-5, g.Explained, name(f))
		assert.Contains(t, g.Evidence, "5 bytes not")
	}
}

// Faults that no plain hypothesis explains.
func TestRarerFaults(t *testing.T) {
	r := rand.New(rand.NewSource(6))
	image := testImages(r, 8192)["full"]
	one := func(read []byte) Finding {
		t.Helper()
		rep := verifyBytes(t, image, read, nil)
		require.Len(t, rep.Diagnosis, 1)
		return rep.Diagnosis[0]
	}
	several := Finding{Fault: DataLineStuck, Lines: []int{1, 4, 5}, Level: level(1)}
	assert.Equal(t, name(several)+"", name(one(inject(t, several, image, nil))))

	// A5 stuck at 0 while writing only: each address is written in turn.
	written := bytes.Repeat([]byte{0xFF}, len(image))
	for a, b := range image {
		written[put(a, 5, 0)] = b
	}
	assert.Equal(t, "address-line-stuck [5] level 0 writing", name(one(written)))

	// Stuck while writing and reading: the later half, as if high in reading.
	both := make([]byte, len(image))
	for a := range both {
		both[a] = written[put(a, 5, 0)]
	}
	f := one(both)
	assert.Equal(t, "address-line-stuck [5] level 1 ", name(f))
	assert.Len(t, f.Readings, 2)
	assert.Equal(t, "address line A5 reads as 1", f.Says)
	assert.Equal(t, "every byte of 0000H-001FH equals 0020H-003FH, and so on; 8192 of 8192 bytes explained", f.Evidence)

	// A3 and A7 connected, a 0 wins, while writing and reading.
	joined := bytes.Repeat([]byte{0xFF}, len(image))
	cell := func(a int) int { return put(put(a, 3, min(bit(a, 3), bit(a, 7))), 7, min(bit(a, 3), bit(a, 7))) }
	for a, b := range image {
		joined[cell(a)] = b
	}
	assert.Equal(t, "address-lines-shorted [3 7] level 0 writing", name(one(joined)))
	for a := range both {
		both[a] = joined[cell(a)]
	}
	assert.Equal(t, "address-lines-shorted [3 7] level 0 writing and reading", name(one(both)))

	// Written 100H further on, the rest cut off.
	cut := bytes.Repeat([]byte{0xFF}, len(image))
	copy(cut[0x100:], image)
	assert.Equal(t, "image-moved [] offset 256 writing", name(one(cut)))
}

// A binary file is shorter by what was lost, longer by what was doubled.
func TestShorterAndLongerFiles(t *testing.T) {
	r := rand.New(rand.NewSource(10))
	for kind, image := range testImages(r, 8192) {
		im, err := FromBytes(image, 0, 0xFF)
		require.NoError(t, err)
		one := func(read []byte) Finding {
			t.Helper()
			rep := Verify(im, &Contents{Format: Binary, Pieces: []Piece{{0, read}}}, VerifyOptions{})
			require.Len(t, rep.Diagnosis, 1, kind)
			return rep.Diagnosis[0]
		}
		f := one(slices.Concat(image[:16], image[19:]))
		assert.Equal(t, BytesLost, f.Fault)
		assert.Equal(t, []int{16, 3, 8192 - 3}, []int{f.At, f.Count, f.Of}, kind)
		doubled := slices.Concat(image[:20], image[17:])
		at := 20 // the first byte that happens to differ
		for doubled[at] == image[at] {
			at++
		}
		f = one(doubled)
		assert.Equal(t, BytesDoubled, f.Fault)
		assert.Equal(t, []int{at, 3, 8192}, []int{f.At, f.Count, f.Of}, kind)
	}
}

// The image of an 8K chip in the upper half of a 16K one.
func TestImageInALargerChip(t *testing.T) {
	r := rand.New(rand.NewSource(7))
	image := testImages(r, 8192)["part"]
	read := append(bytes.Repeat([]byte{0xFF}, 8192), image...)
	im, err := FromBytes(image, 0, 0xFF)
	require.NoError(t, err)
	rep := Verify(im, &Contents{Format: Binary, Pieces: []Piece{{0, read}}}, VerifyOptions{})
	assert.Equal(t, 8192, rep.Outside)
	require.Len(t, rep.Diagnosis, 1)
	assert.Equal(t, "image-moved [] offset 8192 ", name(rep.Diagnosis[0]))
}

// Which addresses a dump counts.
func TestAddressesOfAReadBack(t *testing.T) {
	r := rand.New(rand.NewSource(8))
	data := testImages(r, 8192)["part"]
	im, err := FromBytes(data, 0x4000, 0xFF)
	require.NoError(t, err)
	for _, c := range []struct {
		addr int
		say  string
	}{
		{0x4000, "as the CPU sees the chip"},
		{0, "counted from the chip's first cell"},
		{0x8000, "counted from 8000H, taken as the chip's first cell"},
	} {
		rep := Verify(im, &Contents{Format: Dump, Pieces: []Piece{{c.addr + 0x10, data[0x10:0x90]}}}, VerifyOptions{})
		assert.True(t, rep.Agrees, c.say)
		assert.Equal(t, c.say, rep.Addresses)
		assert.Equal(t, 0x80, rep.Covered)
		assert.Equal(t, 8192-0x80, rep.Missing)
		assert.Equal(t, [][2]string{{"4000", "400F"}, {"4090", "5FFF"}}, rep.MissingRanges)
	}
	// A dump of all that the CPU sees, of which the chip is a part.
	bus := bytes.Repeat([]byte{0x76}, 65536)
	copy(bus[0x4000:], data)
	rep := Verify(im, &Contents{Format: Dump, Pieces: []Piece{{0, bus}}}, VerifyOptions{})
	assert.True(t, rep.Agrees)
	assert.Equal(t, 65536-8192, rep.Outside)
}

// COPIES: the chip is larger than the image and holds it twice.
func TestVerifyCopies(t *testing.T) {
	im, err := NewImage(1024, 0x2000, 0xFF, 2)
	require.NoError(t, err)
	im.PutBytes(0x2000, mustHex(t, program))
	var file bytes.Buffer
	_, err = im.WriteTo(&file)
	require.NoError(t, err)
	rep := Verify(im, &Contents{Format: Binary, Pieces: []Piece{{0, file.Bytes()}}}, VerifyOptions{})
	assert.True(t, rep.Agrees)
	assert.Equal(t, 2048, rep.Covered)
	assert.Equal(t, Cells{Of: 96, Covered: 96}, rep.Program)
}

// Differing ranges are parted where the statement changes.
func TestVerifyRanges(t *testing.T) {
	im, err := NewImage(64, 0x100, 0xFF, 1)
	require.NoError(t, err)
	im.PutBytes(0x100, mustHex(t, program)[:16])
	var m SourceMap
	m.Add(0x100, 0x101, Source{File: "a.asm", Line: "1", Text: "\tLD A,90H\t"})
	m.Add(0x102, 0x103, Source{File: "a.asm", Line: "2", Text: "\tOUT (23H),A"})
	read := bytes.Clone(im.Data)
	read[1], read[2], read[3], read[5], read[40] = 0x91, 0, 0, 0, 0
	rep := Verify(im, &Contents{Format: Binary, Pieces: []Piece{{0, read}}}, VerifyOptions{Sources: &m})
	assert.Equal(t, []Differs{
		{"0101", "0101", 1, "90", "91", &From{"a.asm", "1", "\tLD A,90H", ""}},
		{"0102", "0103", 2, "D3 23", "00 00", &From{"a.asm", "2", "\tOUT (23H),A", ""}},
		{"0105", "0105", 1, "00", "00", nil},
		{"0128", "0128", 1, "FF", "00", nil},
	}[:2], rep.Ranges[:2])
	assert.Equal(t, Cells{Of: 16, Covered: 16, Differing: 3}, rep.Program)
	assert.Equal(t, Cells{Of: 48, Covered: 48, Differing: 1}, rep.Blank)
	rep = Verify(im, &Contents{Format: Binary, Pieces: []Piece{{0, read}}}, VerifyOptions{Sources: &m, Max: 1})
	assert.Len(t, rep.Ranges, 1)
	assert.Equal(t, 3, rep.RangesInAll)
	var text strings.Builder
	require.NoError(t, rep.WriteText(&text))
	assert.Contains(t, text.String(), "and 2 ranges more")
}

// Nothing that is read back upsets the diagnosis.
func FuzzVerify(f *testing.F) {
	f.Add([]byte(program), []byte(program[5:]), 0)
	f.Add(bytes.Repeat([]byte("AB"), 100), bytes.Repeat([]byte("BA"), 100), 3)
	f.Add([]byte{1}, []byte{2}, 0)
	f.Fuzz(func(t *testing.T, image, read []byte, addr int) {
		if len(image) == 0 || len(read) == 0 || len(image) > 4096 || addr < 0 || addr > 1<<20 {
			return
		}
		im, err := FromBytes(image, 0x100, 0xFF)
		require.NoError(t, err)
		half := len(read) / 2
		back := &Contents{Format: Dump, Pieces: []Piece{{addr, read[:half+1]}}}
		if half > 1 {
			back.Pieces = append(back.Pieces, Piece{addr + half + 2, read[half:]})
		}
		rep := Verify(im, back, VerifyOptions{Earlier: []Earlier{{"old", read}}})
		require.Equal(t, rep.Capacity, rep.Covered+rep.Missing)
		require.Equal(t, rep.Differing == 0 && rep.Covered > 0, rep.Agrees)
		for _, g := range rep.Diagnosis {
			require.GreaterOrEqual(t, g.Explained, g.Of-handful)
		}
		require.NoError(t, rep.WriteText(io.Discard))
	})
}

func BenchmarkVerify64K(b *testing.B) {
	r := rand.New(rand.NewSource(9))
	for kind, image := range testImages(r, 65536) {
		for _, fault := range []struct {
			name string
			read []byte
		}{
			{"agrees", image},
			{"blank", inject(b, Finding{Fault: BlankChip, Value: "FF"}, image, nil)},
			{"swapped", inject(b, Finding{Fault: AddressLinesSwapped, Lines: []int{3, 12}}, image, nil)},
			{"moved", inject(b, Finding{Fault: ImageMoved, Offset: level(0x1234)}, image, nil)},
			{"damaged", func() []byte {
				read := bytes.Clone(image)
				for range 1000 {
					read[r.Intn(len(read))] ^= 0x10
				}
				return read
			}()},
		} {
			b.Run(kind+"/"+fault.name, func(b *testing.B) {
				b.ReportAllocs()
				for range b.N {
					verifyBytes(b, image, fault.read, nil)
				}
			})
		}
	}
}
