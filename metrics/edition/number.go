package edition

import (
	"math"
	"math/big"
	"strconv"
	"strings"
)

// Reports write the same number with the same digits: whoever sets the page beside the
// workbook must not ask which of the two is right.

const (
	mostDecimals  = 4 // of a value with its uncertainty
	exactDecimals = 3 // of a number that has none, at most
)

// Fixed is v with n decimals. A half of the decimal number goes away from zero, as in
// spreadsheet programs: that the double nearest to 0.15 is a little less than that is no
// reason to write 0.1.
func Fixed(v float64, n int) string {
	s := strconv.FormatFloat(v, 'f', n, 64)
	// Only where the decimal number is half way can the double lie on the other side.
	whole := strconv.FormatFloat(v, 'f', -1, 64)
	if _, fraction, _ := strings.Cut(whole, "."); len(fraction) == n+1 && fraction[n] == '5' {
		if r, ok := new(big.Rat).SetString(whole); ok {
			s = r.FloatString(n)
		}
	}
	if strings.Trim(s, "-0.") == "" {
		return strings.TrimPrefix(s, "-")
	}
	return s
}

// Number is v with at most n decimals, none that are 0 at its end.
func Number(v float64, n int) string {
	s := Fixed(v, n)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

// Decimals is how many decimals v is written with: as many as show two digits of its
// standard uncertainty u (JCGM 100, 7.2.6), up to four. Where u is none, 0, or too
// small for that, v has those that it needs.
func Decimals(v float64, u *float64) int {
	most := exactDecimals
	if u != nil && *u > 0 {
		n := min(max(1-exponent(*u), 0), mostDecimals)
		if !Tiny(u) {
			return n
		}
		most = mostDecimals
	}
	_, fraction, _ := strings.Cut(Number(v, most), ".")
	return len(fraction)
}

// exponent is that of u's first digit, once u is rounded to two of them: 0.0996 is 0.10.
func exponent(u float64) int {
	n := int(math.Floor(math.Log10(u)))
	if Fixed(u/math.Pow10(n), 1) == "10.0" {
		n++
	}
	return n
}

// Tiny reports whether a standard uncertainty is there, but too small to be written.
func Tiny(u *float64) bool { return u != nil && *u > 0 && *u < 0.5*math.Pow10(-mostDecimals) }

// Least is what a tiny uncertainty is less than.
var Least = Fixed(math.Pow10(-mostDecimals), mostDecimals)

// Value is a value for people, with its standard uncertainty where it has one that is
// not 0; "none" for nil.
func Value(v, u *float64) string {
	if v == nil {
		return "none"
	}
	n := Decimals(*v, u)
	s := Fixed(*v, n)
	switch {
	case u == nil || *u <= 0:
		return s
	case Tiny(u):
		return s + " ± < " + Least
	}
	return s + " ± " + Fixed(*u, n)
}

// WithUnit is a number with its unit; a count has none.
func WithUnit(number, unit string) string {
	if unit == "" || unit == "1" {
		return number
	}
	return number + " " + unit
}

// Shown is a figure's value for people, as its status allows, without the unit.
func (f Figure) Shown() string {
	if f.Value != nil && f.Status == Beyond {
		return "> " + Fixed(*f.Value, Decimals(*f.Value, f.U))
	}
	return Value(f.Value, f.U)
}

// Deviation is a standard deviation, in the digits of an uncertainty.
func Deviation(sd float64) string { return Fixed(sd, Decimals(sd, &sd)) }

// Chance is a probability that may be far too small to be written.
func Chance(p float64) string {
	if p < 0.0005 {
		return "< 0.001"
	}
	return Fixed(p, 3)
}

// Sureness is how sure it is, in percent, that one car is before another. It is never
// called certain: it was drawn.
func Sureness(p float64) string {
	switch {
	case p >= 0.995:
		return "> 99"
	case p < 0.005:
		return "< 1"
	}
	return Fixed(100*p, 0)
}
