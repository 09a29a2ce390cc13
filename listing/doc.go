// Package listing writes the listing of an assembled program, reads one back
// and compares the rows of two.
//
// A listing is read at the bench and by programs: from its rows alone the
// image can be restored to the byte. The layout is fixed, so that the same
// program always gives the same bytes; it holds no dates and no paths.
//
//	Romwright listing 1
//	Source    crossing.asm
//	Capacity  8192
//	At        0000
//	Blank     FF
//	Copies    1
//	Entry     0100
//	RAM       8000-87FF
//
//	ADDR      BYTES                   T     LINE    SOURCE
//	0100      3E 05                   7     12      start:  LD A,COUNT
//	          =0005                         13      COUNT   EQU 5
//	0102>8000 18 FE                   12    15      here:   JR here
//	0200      reserves 16                   17      buffer: DEFS 16
//	0210      00 times 100                  18              DEFS 100,0
//	file lamps.asm
//	...
//
//	SYMBOLS
//	NAME      VALUE  KIND      DEFINED  USED
//	COUNT     0005   constant  13       12
//
//	MAP
//	0100-0103  bytes        4
//	CRC-32 1234ABCD
//	END
//
// Columns are fixed: a field that is too long pushes what follows to the
// right by a multiple of eight, so that tabs in the source line up as they do
// in the source itself. Rows without a line number hold more bytes of the
// line above them. Later rows win where two rows fill one cell.
package listing

import "romwright/rom"

// Place names a line of a source file.
type Place struct {
	File string // as the program names it; empty with an empty Line: nowhere
	Line string // "12", or "12.3" for the third line that line 12 expanded to
}

// Row is one source line of a listing with what became of it. A row with
// neither Line nor Text holds more bytes of the line before it, at an address
// that does not follow from it.
type Row struct {
	Addr     int    // CPU address of the first byte, 0..0FFFFH; -1 where the line has none
	RunAddr  int    // address at which it will run (RUNAT); -1 where it is Addr
	Bytes    []byte // what the line put into the image
	Reserved int    // bytes that the line reserves without emitting
	Value    int64  // value of the constant that the line defines
	HasValue bool   // the line defines a constant
	T        string // T-states as the manual prints them: "7", "12/7"; empty for data
	File     string // name of the file that holds the line
	Line     string // "12", or "12.3" for the third line that line 12 expanded to
	Text     string // the line as written, without its line end; any bytes
}

// The kinds of a symbol.
const (
	KindLabel    = "label"    // an address
	KindConstant = "constant" // EQU
	KindVariable = "variable" // DEFL; the value is the last one
	KindFlag     = "flag"     // DEFINE
)

// Symbol is a name with its value.
type Symbol struct {
	Name    string
	Value   int64
	Kind    string
	Defined Place   // the zero Place where no line defines it (an option did)
	Uses    []Place // in the order of the lines
}

// The kinds of an area.
const (
	AreaBytes    = "bytes"    // emitted into the chip
	AreaBlank    = "blank"    // in the chip, nothing was assembled into it
	AreaReserved = "reserved" // set aside without bytes, in RAM or in the chip
)

// Area is a range of the memory map.
type Area struct {
	First, Last int // CPU addresses, both inclusive
	Kind        string
}

// Header tells what chip a listing is for.
type Header struct {
	Source   string      // base name of the source file
	Capacity int         // bytes
	At       int         // CPU address of the chip's first cell
	Blank    byte        // value of cells nothing was assembled into
	Copies   int         // how often the image is repeated in the file
	Entry    int         // address named by END; -1 where none is
	RAM      []rom.Range // where the source says that RAM is fitted
}

// Doc is a whole listing in memory.
type Doc struct {
	Header
	Rows    []Row
	Symbols []Symbol
	Map     []Area
}
