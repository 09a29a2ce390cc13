package page

import (
	"html/template"
	"io"
	"sync"
)

// Lamps is what the page about a run shows: the run itself, which the page's
// script steps through, and some words.
type Lamps struct {
	Program string   // its name
	Notes   []string // whole sentences: which pulse clock 1 is, cautions
	Run     LampsRun
}

// LampsRun is a recorded run with what it refers to. It becomes JSON, with the
// tables as base64 (RFC 4648) of 32-bit numbers, low byte first. What the
// numbers of a table mean is told where the run is recorded (Recording of
// package bus) and read in assets/lamps.js.
type LampsRun struct {
	Halves string `json:"halves"` // two numbers a half clock
	Cycles string `json:"cycles"` // four numbers a machine cycle
	Insts  string `json:"insts"`  // ten numbers an instruction

	Texts  []string     `json:"texts"`  // what happens, in words
	Places []LampsPlace `json:"places"` // where instructions come from
	Lines  []LampsLine  `json:"lines"`  // the source

	Labels []LampsLabel `json:"labels"` // in the order in which they are offered
	Ports  []LampsPort  `json:"ports"`  // names of ports, in rising order
	Map    []LampsArea  `json:"map"`    // from 0000H to FFFFH without a gap

	// Rate is the board's clock in millionths of a hertz, 0 where none is
	// given.
	Rate uint64 `json:"rate"`
	// RestHigh tells in which half of a clock the board stops between pulses.
	RestHigh bool `json:"restHigh"`
}

// LampsPlace is the place of an instruction: "crossing.asm:29", "idle+2" and
// the index of its line in Lines (-1: none).
type LampsPlace struct {
	At    string `json:"at"`
	Label string `json:"label"`
	Line  int    `json:"line"`
}

// LampsLine is a line of the source. One without Line and Text stands for
// lines that are left out.
type LampsLine struct {
	Address string `json:"a"` // four hex digits; empty where the line has none
	Bytes   string `json:"b"` // "3E 05"
	Line    string `json:"n"` // "12"
	Text    string `json:"t"`
}

// LampsLabel is a label with its address.
type LampsLabel struct {
	Name    string `json:"name"`
	Address int    `json:"at"`
}

// LampsPort is what the program calls a port (A7-A0).
type LampsPort struct {
	Port int    `json:"port"`
	Name string `json:"name"`
}

// LampsArea is a stretch of the memory map, both ends included. Kind is ROM,
// RAM or empty where nothing is fitted.
type LampsArea struct {
	First int    `json:"first"`
	Last  int    `json:"last"`
	Kind  string `json:"kind"`
}

var lampsTemplate = sync.OnceValue(func() *template.Template { return load("lamps") })

// lampsView adds what the template walks through.
type lampsView struct {
	*Lamps
	Steps []lampsStep
}

// lampsStep is a pair of buttons with their keys.
type lampsStep struct{ Name, Back, On string }

// WriteLamps writes the page about a run, which must have at least one half
// clock.
func WriteLamps(w io.Writer, l *Lamps) error {
	return render(w, lampsTemplate(), "lamps", "Lamps of "+l.Program, lampsView{l, []lampsStep{
		{"half clock", "H", "h"}, {"clock", "T", "t"}, {"machine cycle", "C", "c"}, {"M1", "M", "m"}, {"instruction", "I", "i"},
	}})
}
