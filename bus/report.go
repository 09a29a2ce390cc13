package bus

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"text/tabwriter"
)

// WriteJSON writes the report as one JSON object.
func (r *Report) WriteJSON(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(r)
}

// WriteText writes the report for people.
func (r *Report) WriteText(w io.Writer) error {
	bw := bufio.NewWriter(w) // remembers an error, Flush reports it
	fmt.Fprintf(bw, "Timing of %s, %d instructions", r.lasts(float64(r.TStates)), r.Instructions)
	if r.Clock != "" {
		fmt.Fprintf(bw, " at %s", r.Clock)
	}
	bw.WriteString("\n\nPorts: gaps from one access to the next\n")
	r.table(bw, len(r.Ports) == 0, "  none was read or written", func(t io.Writer) {
		fmt.Fprintln(t, "  port\t\ttimes\tshortest\tmean\tlongest\t")
		for i := range r.Ports {
			u := &r.Ports[i]
			how := "read"
			if u.Write {
				how = "written"
			}
			fmt.Fprintf(t, "  %s\t%s\t%d\t", portText(u.Port, u.Name), how, u.Count)
			if u.Longest == nil {
				fmt.Fprintf(t, "-\t-\t-\tonce, in clock %d\n", u.FirstClock)
				continue
			}
			fmt.Fprintf(t, "%s\t%s\t%s\t", r.length(*u.Shortest), r.length(*u.Mean), r.length(*u.Longest))
			if u.Open.TStates > u.Longest.TStates {
				fmt.Fprintf(t, "not again in the last %s", r.length(u.Open))
			}
			fmt.Fprintln(t)
		}
	})
	r.sampling(bw)
	bw.WriteString("\nLoops: laps from head to head, by the jump back\n")
	r.table(bw, len(r.Loops) == 0, "  none was met", func(t io.Writer) {
		fmt.Fprintln(t, "  head\tjump\tlaps\tshortest\tmean\tlongest\t")
		for i := range r.Loops {
			l := &r.Loops[i]
			fmt.Fprintf(t, "  %s\t%s\t%d\t%s\t%s\t%s\t\n", named(l.Head, l.Name), hex4(l.Jump), l.Laps,
				r.length(l.Shortest), r.length(l.Mean), r.length(l.Longest))
		}
	})
	if r.MoreLoops {
		fmt.Fprintf(bw, "  (more loops than the %d kept apart)\n", maxLoops)
	}
	bw.WriteString("\nShare of time in each routine, without what it calls\n")
	r.table(bw, len(r.Routines) == 0 && r.Halted == 0, "  nothing ran", func(t io.Writer) {
		fmt.Fprintln(t, "  routine\tcalls\tT-states\tshare\t")
		for i := range r.Routines {
			u := &r.Routines[i]
			fmt.Fprintf(t, "  %s\t%d\t%d\t%s\t\n", named(u.Addr, u.Name), u.Calls, u.TStates, percent(u.Share))
		}
		if r.Halted > 0 {
			fmt.Fprintf(t, "  halted\t\t%d\t%s\t\n", r.Halted, percent(float64(r.Halted)/float64(r.TStates)))
		}
	})
	r.presses(bw)
	return bw.Flush()
}

// benchClock is a rate at which a person watches the lamps.
const benchClock = Hz

// sampling says in a sentence for each port how often it is read, and how long
// an input must last on a slow bench to be seen.
func (r *Report) sampling(w io.Writer) {
	for i := range r.Ports {
		u := &r.Ports[i]
		if u.Write || u.Longest == nil {
			continue
		}
		longest, last := *u.Longest, "must last"
		need := longest.TStates
		if u.Open.TStates > need { // it was not read again, so nobody knows when it will be
			need, last = u.Open.TStates, "must last at least"
		}
		fmt.Fprint(w, "  ")
		if r.Clock != "" {
			fmt.Fprintf(w, "at %s ", r.Clock)
		}
		fmt.Fprintf(w, "port %s is read every ", portText(u.Port, u.Name))
		if u.Shortest.TStates != longest.TStates {
			fmt.Fprintf(w, "%s to ", r.lasts(u.Shortest.TStates))
		}
		fmt.Fprintf(w, "%s; ", r.lasts(longest.TStates))
		if r.freq != 0 && r.freq <= benchClock {
			fmt.Fprintf(w, "an input %s %s to be seen for certain\n", last, r.freq.Seconds(need))
			continue
		}
		fmt.Fprintf(w, "at %s an input %s %s to be seen for certain\n", benchClock, last, benchClock.Seconds(need))
	}
}

func (r *Report) table(w *bufio.Writer, empty bool, none string, rows func(io.Writer)) {
	if empty {
		fmt.Fprintln(w, none)
		return
	}
	var b strings.Builder
	t := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	rows(t)
	t.Flush()
	for _, line := range strings.SplitAfter(b.String(), "\n") {
		if line = strings.TrimRight(line, " \n"); line != "" {
			fmt.Fprintln(w, line)
		}
	}
}

// presses writes the press analysis, a sentence a port.
func (r *Report) presses(w io.Writer) {
	if r.press == 0 {
		return
	}
	fmt.Fprintf(w, "\nAn input pressed for %s, at any moment after the port's first read\n", formatSeconds(r.press.Seconds()))
	if len(r.Presses) == 0 {
		fmt.Fprintln(w, "  no port was read: no press is seen")
	}
	for i := range r.Presses {
		p := &r.Presses[i]
		gap := "at most"
		if p.Open {
			gap = "at least"
		}
		fmt.Fprintf(w, "  port %s: %s %s from one read to the next. ", portText(p.Port, p.Name), gap, r.length(p.Gap))
		switch {
		case p.Seen == nil:
		case *p.Seen && p.Open:
			fmt.Fprint(w, "Seen if the port is read again at once; the run was too short to tell. ")
		case *p.Seen:
			fmt.Fprint(w, "Every press is seen. ")
		default:
			fmt.Fprintf(w, "Some presses are missed: it must last %s to be seen for certain. ", r.freq.Seconds(p.Gap.TStates))
		}
		fmt.Fprintf(w, "Slowest clock at which every press is seen: %s", slowest(p.Slowest))
		if p.Open {
			fmt.Fprint(w, ", or faster")
		}
		fmt.Fprintln(w, ".")
	}
}

// slowest writes a rate, rounded up to four digits so that it is never too
// slow.
func slowest(f Frequency) string {
	step := Frequency(1)
	for f/step >= 10_000 {
		step *= 10
	}
	if up := (f + step - 1) / step * step; up >= f {
		f = up
	}
	return f.String()
}

// length writes a span: "62 T = 124 µs".
func (r *Report) length(s Span) string {
	t := tstates(s.TStates) + " T"
	if r.freq != 0 {
		t += " = " + r.freq.Seconds(s.TStates)
	}
	return t
}

func (r *Report) lasts(t float64) string {
	s := tstates(t) + " T-states"
	if r.freq != 0 {
		s += " = " + r.freq.Seconds(t)
	}
	return s
}

func tstates(t float64) string {
	if t == math.Trunc(t) {
		return strconv.FormatInt(int64(t), 10)
	}
	return strconv.FormatFloat(t, 'f', 1, 64)
}

func percent(v float64) string { return strconv.FormatFloat(100*v, 'f', 1, 64) + " %" }

func portText(port uint8, name string) string {
	s := string(appendHex2(nil, port))
	if name != "" {
		s += " (" + name + ")"
	}
	return s
}

func named(a uint16, name string) string {
	if name == "" {
		return hex4(a)
	}
	return hex4(a) + " " + name
}
