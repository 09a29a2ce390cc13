package bus

import (
	"errors"
	"fmt"
	"math/big"
	"math/bits"
	"strconv"
	"strings"
)

// Frequency is a clock rate in millionths of a hertz, so that every decimal
// rate people write is exact. The zero value is none.
type Frequency uint64

// Hz is one hertz.
const Hz Frequency = 1_000_000

// MaxFrequency bounds what ParseFrequency takes; far above any Z80.
const MaxFrequency = 1_000_000_000 * Hz

// ParseFrequency reads "4MHz", "3.579545 MHz", "500kHz", "2Hz" or "0.5Hz", in
// any letter case. A rate of 0, above 1 GHz, or finer than a millionth of a
// hertz is an error.
func ParseFrequency(s string) (Frequency, error) {
	num := strings.TrimSpace(s)
	low := strings.ToLower(num)
	unit := int64(0)
	for _, u := range []struct {
		name   string
		factor int64
	}{{"mhz", 1e6}, {"khz", 1e3}, {"ghz", 1e9}, {"hz", 1}} {
		if strings.HasSuffix(low, u.name) {
			num, unit = strings.TrimSpace(num[:len(num)-len(u.name)]), u.factor
			break
		}
	}
	if unit == 0 {
		return 0, fmt.Errorf("%q is no clock rate: a number with Hz, kHz or MHz, such as 1MHz, 500kHz or 2Hz", s)
	}
	v, err := decimal(num)
	if err != nil {
		return 0, fmt.Errorf("%q is no clock rate: %w", s, err)
	}
	v.Mul(v, new(big.Rat).SetInt64(unit*int64(Hz)))
	switch {
	case v.Sign() == 0:
		return 0, fmt.Errorf("a clock rate of 0 (%q): the clock must run", s)
	case !v.IsInt():
		return 0, fmt.Errorf("the clock rate %q is finer than a millionth of a hertz", s)
	case v.Cmp(new(big.Rat).SetInt64(int64(MaxFrequency))) > 0:
		return 0, fmt.Errorf("the clock rate %q is above 1 GHz", s)
	}
	return Frequency(v.Num().Uint64()), nil
}

// decimal reads digits with at most one point.
func decimal(s string) (*big.Rat, error) {
	points, digits := 0, 0
	for _, c := range s {
		switch {
		case c == '.':
			points++
		case c >= '0' && c <= '9':
			digits++
		default:
			return nil, fmt.Errorf("%q is not a decimal number", s)
		}
	}
	if digits == 0 || points > 1 || len(s) > 30 {
		return nil, errors.New("a decimal number of at most 30 characters is needed")
	}
	v, ok := new(big.Rat).SetString(s)
	if !ok {
		return nil, fmt.Errorf("%q is not a decimal number", s)
	}
	return v, nil
}

// String writes the rate with the unit that suits it: "4 MHz", "3.579545 MHz".
func (f Frequency) String() string {
	unit, name := uint64(Hz), " Hz"
	switch {
	case f >= 1e6*Hz:
		unit, name = uint64(1e6*Hz), " MHz"
	case f >= 1e3*Hz:
		unit, name = uint64(1e3*Hz), " kHz"
	}
	s := strconv.FormatUint(uint64(f)/unit, 10)
	if frac := uint64(f) % unit; frac != 0 {
		d := strconv.FormatUint(unit+frac, 10)[1:] // leading zeros kept
		s += "." + strings.TrimRight(d, "0")
	}
	return s + name
}

// Halves of a clock as fractions of a second, for appendTime: one half clock
// is 1/(2f) s, f in millionths of a hertz.
const (
	picoseconds = 500_000_000_000_000_000 // half clocks times this over f are ps
	nanoseconds = 500_000_000_000_000
)

// appendTime appends halves*unit/f rounded to the nearest whole number (half
// up), however large.
func appendTime(dst []byte, halves uint64, unit uint64, f Frequency) []byte {
	hi, lo := bits.Mul64(halves, unit)
	lo, carry := bits.Add64(lo, uint64(f)/2, 0)
	hi += carry
	if hi < uint64(f) {
		q, _ := bits.Div64(hi, lo, uint64(f))
		return strconv.AppendUint(dst, q, 10)
	}
	v := new(big.Int).SetUint64(hi)
	v.Lsh(v, 64).Or(v, new(big.Int).SetUint64(lo))
	return v.Quo(v, new(big.Int).SetUint64(uint64(f))).Append(dst, 10)
}

// Seconds gives the time that a number of clocks takes, in words: "124 µs".
func (f Frequency) Seconds(clocks float64) string {
	return formatSeconds(clocks * float64(Hz) / float64(f))
}

// formatSeconds writes a time with three significant digits or all digits of
// its whole part.
func formatSeconds(s float64) string {
	for _, u := range []struct {
		name string
		size float64
	}{{"s", 1}, {"ms", 1e-3}, {"µs", 1e-6}, {"ns", 1e-9}} {
		if s >= u.size*0.9995 || u.name == "ns" {
			v := s / u.size
			prec := 0
			switch {
			case v < 10:
				prec = 2
			case v < 100:
				prec = 1
			}
			t := strconv.FormatFloat(v, 'f', prec, 64)
			if strings.Contains(t, ".") {
				t = strings.TrimRight(strings.TrimRight(t, "0"), ".")
			}
			return t + " " + u.name
		}
	}
	return ""
}
