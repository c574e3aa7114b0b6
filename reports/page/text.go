package page

import (
	"html/template"
	"strconv"
	"strings"
	"unicode/utf8"

	"coldbench/metrics/edition"
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

// value is a number for people with its standard uncertainty.
func value(v, u *float64) string { return minus(edition.Value(v, u)) }

// fixed is v with n decimals.
func fixed(v float64, n int) string { return minus(edition.Fixed(v, n)) }

// minus gives numbers a proper minus sign.
func minus(s string) string { return strings.ReplaceAll(s, "-", "−") }

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

func percent(p float64) string { return edition.Sureness(p) + " %" }

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
