package page

import (
	"html/template"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"
)

// clean makes any text safe to show: control characters and those that would
// turn the direction of the text around it become U+FFFD. The template escapes.
func clean(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\t' || r == '\n':
			return r
		case r < 0x20, r >= 0x7f && r < 0xa0, r == 0x2028, r == 0x2029, r >= 0x202a && r <= 0x202e, r >= 0x2066 && r <= 0x2069:
			return utf8.RuneError
		}
		return r
	}, s)
}

// unit is a unit for people; a count has none.
func unit(s string) string {
	if s == "1" {
		return ""
	}
	return clean(s)
}

// mixed keeps the direction of a text to itself: one that may hold letters
// written from the right gets an element of its own, any other stands bare.
func mixed(s string) template.HTML {
	escaped := template.HTMLEscapeString(s)
	for _, r := range s {
		// Latin, Greek and Cyrillic end below; the rest may go either way.
		if r >= 0x530 && !(r >= 0x2010 && r <= 0x2027) && !(r >= 0x2030 && r <= 0x205e) && !(r >= 0x20a0 && r <= 0x2bff) {
			return template.HTML("<bdi>" + escaped + "</bdi>")
		}
	}
	return template.HTML(escaped)
}

// shortName is the most characters of a name where it stands among others; its
// session shows it whole.
const shortName = 48

// short is a name on one line, cut if it is long.
func short(s string) string {
	s = strings.Join(strings.Fields(clean(s)), " ")
	if utf8.RuneCountInString(s) > shortName {
		s = strings.TrimSpace(string([]rune(s)[:shortName-1])) + "…"
	}
	return s
}

// value is a number for people. Its standard uncertainty u keeps two digits
// (JCGM 100, 7.2.6), at most three decimals; without one it has two at most.
func value(v, u *float64) string {
	if v == nil {
		return "none"
	}
	if u == nil || *u <= 0 {
		return number(*v, 2)
	}
	digits := decimals(*u)
	return fixed(*v, digits) + " ± " + fixed(*u, digits)
}

// decimals is how many decimals show two digits of u.
func decimals(u float64) int {
	return min(max(1-int(math.Floor(math.Log10(u))), 0), 3)
}

// number is v with at most n decimals, none that are 0 at its end.
func number(v float64, n int) string {
	s := fixed(v, n)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

// fixed is v with n decimals and a proper minus sign, without one for zero.
func fixed(v float64, n int) string {
	s := strconv.FormatFloat(v, 'f', n, 64)
	if rest, ok := strings.CutPrefix(s, "-"); ok {
		if strings.Trim(rest, "0.") == "" {
			return rest
		}
		return "−" + rest
	}
	return s
}

// minute is seconds as minutes for people.
func minute(s float64) string { return fixed(s/60, 1) }

// count is a whole number with thin spaces between thousands.
func count(n int64) string {
	s := strconv.FormatInt(n, 10)
	for i := len(s) - 3; i > 0 && s[i-1] != '-'; i -= 3 {
		s = s[:i] + "\u202f" + s[i:]
	}
	return s
}

func thousands(n int) string { return count(int64(n)) }

// percent is a probability that is never called certain: it was drawn.
func percent(p float64) string {
	switch {
	case p > 0.995:
		return "> 99 %"
	case p < 0.005:
		return "< 1 %"
	}
	return fixed(100*p, 0) + " %"
}

func seconds(s float64) string { return fixed(s, 1) + " s" }

// words are what a reader meets on the page.
var words = [][2]string{
	{"soak", "the hours that a car stood outside before it was plugged in"},
	{"onset", "the first moment from which net power flows into the pack and keeps flowing; a charger may deliver for long before, to heat the pack"},
	{"charge, SoC", "state of charge, in percent, as the car displays it"},
	{"session", "one occasion with one car: a soak, then a charge, a drive, a cabin that is warmed, or the car left to stand"},
	{"figure", "one standardised result of one session"},
	{"gate", "a rule that decides whether a session may be ranked"},
	{"±", "one standard uncertainty; the truth lies within twice that, about 19 times out of 20, but for means of two or three nights, which tell little of how far nights differ"},
	{"measured", "from the source that the definition asks for"},
	{"fallback", "from a worse source, such as a note; the note says which, and the uncertainty is larger"},
	{"beyond (>)", "the log ends before it happened: the true value is larger than the one shown"},
	{"no value", "nothing is guessed; the note is the reason"},
}
