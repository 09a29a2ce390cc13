package bus

import (
	"errors"
	"fmt"
	"math/big"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// value stands in for the source language's numbers and symbols.
func value(word string) (int64, error) {
	switch {
	case word == "TRACK":
		return 0x20, nil
	case strings.HasSuffix(word, "H"):
		return strconv.ParseInt(word[:len(word)-1], 16, 32)
	case strings.HasSuffix(word, "K"):
		n, err := strconv.ParseInt(word[:len(word)-1], 10, 32)
		return n * 1024, err
	}
	n, err := strconv.ParseInt(word, 10, 32)
	if err != nil {
		return 0, fmt.Errorf("unknown word %q", word)
	}
	return n, nil
}

func TestParseStimulus(t *testing.T) {
	for in, want := range map[string]Stimulus{
		"any=0FFH":        {0, AnyPort, 0, 0xFF},
		"ANY = 1@ 5":      {5, AnyPort, 0, 1},
		"TRACK=0FEH@500":  {500, LowPort, 0x20, 0xFE},
		"255=-1":          {0, LowPort, 255, 0xFF},
		"100H=2":          {0, WholePort, 0x100, 2},
		"0FFFFH=0@999999": {999999, WholePort, 0xFFFF, 0},
	} {
		got, err := ParseStimulus(in, value)
		require.NoError(t, err, in)
		assert.Equal(t, want, got, in)
	}
	for _, in := range []string{"", "20H", "=1", "20H=", "NOPE=1", "20H=256", "20H=-129", "10000H=1", "-1=1",
		"20H=1@", "20H=1@-5", "20H=1@x", "20H=1@+5", "20H=1@1@2", "20H=1@99999999999999999999"} {
		_, err := ParseStimulus(in, value)
		assert.Error(t, err, in)
	}
}

func TestParseRequestRAMWaits(t *testing.T) {
	r, err := ParseRequest("100", value)
	require.NoError(t, err)
	assert.Equal(t, Request{100, 0xFF}, r)
	r, err = ParseRequest("100=0C7H", value)
	require.NoError(t, err)
	assert.Equal(t, Request{100, 0xC7}, r)
	for _, in := range []string{"", "0", "x", "5=", "5=256", "-1"} {
		_, err = ParseRequest(in, value)
		assert.Error(t, err, in)
	}
	ram, err := ParseRAM("8K@8000H", value)
	require.NoError(t, err)
	assert.Equal(t, RAM{0x8000, 8192}, ram)
	for _, in := range []string{"", "8K", "0@8000H", "64K@1", "1@10000H", "-1@0", "@0", "1@", "65537@0"} {
		_, err = ParseRAM(in, value)
		assert.Error(t, err, in)
	}
	w, err := ParseWaits("fetch=1,read=2,write=3,io=4")
	require.NoError(t, err)
	assert.Equal(t, Waits{1, 2, 3, 4}, w)
	w, err = ParseWaits("io=1")
	require.NoError(t, err)
	assert.Equal(t, Waits{IO: 1}, w)
	for _, in := range []string{"", "fetch", "fetch=", "fetch=-1", "fetch=1001", "m1=1", "io=1,io=2", "io=1,"} {
		_, err = ParseWaits(in)
		assert.Error(t, err, in)
	}
}

func TestReadStimuli(t *testing.T) {
	got, err := ReadStimuli(strings.NewReader("Clock,Port,Value\r\n# a remark\n0,any,0FFH\n\n10,TRACK,1\n10, 100H, 2\n"), value)
	require.NoError(t, err)
	assert.Equal(t, []Stimulus{{0, AnyPort, 0, 0xFF}, {10, LowPort, 0x20, 1}, {10, WholePort, 0x100, 2}}, got)
	for in, want := range map[string][2]int{ // line and column of the mistake
		"10,20H,1\n5,20H,1\n":                  {2, 1},
		"10,20H,1\n20,21H\n":                   {2, 4},
		"10,20H,1,2\n":                         {1, 10},
		"clock,port,value\n1,20H,300\n":        {2, 7},
		"1,FOO,3\n":                            {1, 3},
		"x,20H,3\n":                            {1, 1},
		"1,\"20H\"x,3\n":                       {1, 7},
		"1,20H,3\nclock,port,value\n":          {2, 1},
		"1,20H,\"3\n":                          {1, 7},
		"1,20H,3\n2,20H,3\n3,20H,3\n1,0,bad\n": {4, 5},
	} {
		_, err := ReadStimuli(strings.NewReader(in), value)
		var se *StimulusError
		require.True(t, errors.As(err, &se), "%q: %v", in, err)
		if in == "1,20H,\"3\n" {
			assert.Positive(t, se.Line)
			continue
		}
		assert.Equal(t, want, [2]int{se.Line, se.Column}, "%q: %v", in, err)
	}
	_, err = ReadStimuli(&endless{}, value)
	assert.Error(t, err, "an endless file is refused")
	boom := errors.New("boom")
	_, err = ReadStimuli(errReader{boom}, value)
	assert.ErrorIs(t, err, boom)
}

type endless struct{}

func (endless) Read(b []byte) (int, error) {
	for i := range b {
		b[i] = 'x'
	}
	return len(b), nil
}

type errReader struct{ err error }

func (e errReader) Read([]byte) (int, error) { return 0, e.err }

func FuzzReadStimuli(f *testing.F) {
	for _, s := range []string{"clock,port,value\n1,20H,3\n", "1,any,0FFH\n2,100H,1\n", "\"1\",\"2\",\"3\"\n", "#\n", "\ufeffclock,port,value\n", "1,2,\"3\n"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		list, err := ReadStimuli(strings.NewReader(s), value)
		if err != nil {
			var se *StimulusError
			if !errors.As(err, &se) || se.Line < 0 || se.Line > 0 && se.Column < 1 || se.Msg == "" {
				t.Fatalf("error without a place: %v", err)
			}
			return
		}
		m := New()
		m.SetPorts(list)
		for i, st := range list {
			if i > 0 && st.Clock < list[i-1].Clock {
				t.Fatal("out of order and not refused")
			}
		}
		m.ports.read(0x20, 1<<62)
	})
}

// The rule for which value a port has, written down a second time as a search
// through the whole list.
func TestPortsAgainstPlainSearch(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		gen := rapid.Custom(func(r *rapid.T) Stimulus {
			return Stimulus{rapid.Int64Range(0, 6).Draw(r, "clock"), PortMatch(rapid.IntRange(0, 2).Draw(r, "match")),
				rapid.Uint16Range(0, 3).Draw(r, "port"), rapid.Byte().Draw(r, "value")}
		})
		list := rapid.SliceOfN(gen, 0, 8).Draw(r, "list")
		m := New()
		m.SetPorts(list)
		for clock := int64(1); clock < 8; clock++ {
			port := rapid.SampledFrom([]uint16{0, 1, 2, 0x101}).Draw(r, "port")
			got, covered := m.ports.read(port, clock)
			var best *Stimulus
			for i := range list {
				s := &list[i]
				hit := s.Match == AnyPort || s.Match == LowPort && byte(port) == byte(s.Port) || s.Match == WholePort && port == s.Port
				if !hit || s.Clock > clock {
					continue
				}
				if best == nil || max(s.Clock, 1) > max(best.Clock, 1) ||
					max(s.Clock, 1) == max(best.Clock, 1) && s.Match >= best.Match {
					best = s
				}
			}
			if best == nil && (covered || got != 0xFF) || best != nil && (!covered || got != best.Value) {
				r.Fatalf("clock %d port %X: %X %v, want %+v of %+v", clock, port, got, covered, best, list)
			}
		}
	})
}

func TestParseFrequency(t *testing.T) {
	for in, want := range map[string]Frequency{
		"1MHz": 1e6 * Hz, "500kHz": 500e3 * Hz, "2Hz": 2 * Hz, "0.5 hz": Hz / 2, "3.579545MHz": 3579545 * Hz,
		"4 MHZ": 4e6 * Hz, "1GHz": 1e9 * Hz, "0.000001Hz": 1,
	} {
		got, err := ParseFrequency(in)
		require.NoError(t, err, in)
		assert.Equal(t, want, got, in)
	}
	for _, in := range []string{"", "0Hz", "0.0MHz", "MHz", "1", "1M", "-1Hz", "1e6Hz", "1/2Hz", "1.2.3Hz", "1.1GHz", "0.0000001Hz", ".Hz",
		"99999999999999999999999999999999999999MHz", "NaNHz", "0x10Hz"} {
		_, err := ParseFrequency(in)
		assert.Error(t, err, in)
	}
	for f, want := range map[Frequency]string{4e6 * Hz: "4 MHz", 3579545 * Hz: "3.579545 MHz", 500e3 * Hz: "500 kHz", Hz / 2: "0.5 Hz", 1: "0.000001 Hz"} {
		assert.Equal(t, want, f.String())
	}
}

// Times are the rounded exact product, however long the run; math/big is the
// witness.
func TestTimes(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		halves := rapid.Uint64Range(0, 1<<62).Draw(r, "halves")
		f := Frequency(rapid.Uint64Range(1, uint64(MaxFrequency)).Draw(r, "f"))
		unit := rapid.SampledFrom([]uint64{picoseconds, nanoseconds}).Draw(r, "unit")
		x := new(big.Rat).SetInt(new(big.Int).Mul(new(big.Int).SetUint64(halves), new(big.Int).SetUint64(unit)))
		x.Quo(x, new(big.Rat).SetInt(new(big.Int).SetUint64(uint64(f))))
		x.Add(x, big.NewRat(1, 2))
		want := new(big.Int).Quo(x.Num(), x.Denom()).String()
		// a tie is rounded up; an odd f makes f/2 truncate, which changes nothing
		// else
		if got := string(appendTime(nil, halves, unit, f)); got != want {
			r.Fatalf("%d halves at %d: %s, want %s", halves, f, got, want)
		}
	})
	assert.Equal(t, "139683", string(appendTime(nil, 1, picoseconds, 3579545*Hz)))
}

func TestSeconds(t *testing.T) {
	for s, want := range map[float64]string{124e-6: "124 µs", 62: "62 s", 1.5: "1.5 s", 0.05: "50 ms", 1e-9: "1 ns", 0: "0 ns", 740: "740 s", 0.9999: "1 s", 86400: "86400 s"} {
		assert.Equal(t, want, formatSeconds(s))
	}
}

func TestMemory(t *testing.T) {
	m := New()
	require.NoError(t, m.LoadROM(0x1000, make([]byte, 0x1000), nil))
	require.NoError(t, m.FitRAM(RAM{0x8000, 0x8000}))
	assert.Error(t, m.LoadROM(0xFFFF, []byte{1, 2}, nil))
	assert.Error(t, m.LoadROM(-1, []byte{1}, nil))
	for _, r := range []RAM{{0, 0x1001}, {0x1FFF, 1}, {0xFFFF, 2}, {0, 0}, {0, -1}, {-1, 2}, {1, 1 << 40}} {
		assert.Error(t, m.FitRAM(r), "%+v", r)
	}
	assert.Equal(t, []Area{{0, 0xFFF, ""}, {0x1000, 0x1FFF, "ROM"}, {0x2000, 0x7FFF, ""}, {0x8000, 0xFFFF, "RAM"}}, m.MemoryMap())
}
