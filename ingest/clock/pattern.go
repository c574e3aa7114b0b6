package clock

import (
	"strings"

	"coldbench/warehouse/diag"
)

// A step of a pattern is a directive or, with directive 0, a literal.
type step struct {
	directive byte
	literal   string
}

// directives are those of POSIX strftime that a log's time may need; %f, a
// fraction of a second, is a common extension.
const directives = "YymdbjHIMSfpz"

func compile(pattern string) ([]step, error) {
	var steps []step
	for i := 0; i < len(pattern); i++ {
		if pattern[i] != '%' {
			n := len(steps)
			if n > 0 && steps[n-1].directive == 0 {
				steps[n-1].literal += pattern[i : i+1]
			} else {
				steps = append(steps, step{literal: pattern[i : i+1]})
			}
			continue
		}
		i++
		switch {
		case i == len(pattern):
			return nil, diag.New(diag.Pos{}, "clock pattern %q ends in %%", pattern)
		case pattern[i] == '%':
			steps = append(steps, step{literal: "%"})
		case strings.IndexByte(directives, pattern[i]) < 0:
			return nil, diag.New(diag.Pos{}, "clock pattern %q has an unknown %%%c", pattern, pattern[i]).
				WithHint("known: %%Y year, %%m month, %%d day, %%b month's name, %%j day of the year, %%H hour, %%I hour of 12, %%p am or pm, %%M minute, %%S second, %%f fraction, %%z offset")
		default:
			steps = append(steps, step{directive: pattern[i]})
		}
	}
	return steps, nil
}

func (r *Resolver) byPattern(text, date string) (int64, error) {
	var f fields
	if !match(r.pattern, text, &f) || r.datePat != nil && !match(r.datePat, date, &f) {
		if date != "" {
			text = date + " " + text
		}
		return 0, bad(text, "it does not fit the profile's clock format")
	}
	if !r.hasDate {
		f.year, f.yearDay = 0, 0
	}
	return r.resolve(text, f)
}

// match reads text by steps into f, and reports whether all of it fits.
func match(steps []step, text string, f *fields) bool {
	for _, s := range steps {
		ok := true
		switch s.directive {
		case 0:
			if ok = strings.HasPrefix(text, s.literal); ok {
				text = text[len(s.literal):]
			}
		case 'Y':
			f.year, text, ok = number(text, 4, 4)
		case 'y':
			f.year, text, ok = number(text, 2, 2)
			f.year += 1900
			if f.year < 1969 { // POSIX: 69 to 99 are 1969 to 1999
				f.year += 100
			}
		case 'm':
			f.month, text, ok = number(text, 1, 2)
		case 'd':
			f.day, text, ok = number(text, 1, 2)
		case 'j':
			f.yearDay, text, ok = number(text, 1, 3)
			ok = ok && f.yearDay >= 1 && f.yearDay <= 366
		case 'H':
			f.hour, text, ok = number(text, 1, 2)
		case 'I':
			f.half = true
			f.hour, text, ok = number(text, 1, 2)
		case 'M':
			f.minute, text, ok = number(text, 2, 2)
		case 'S':
			f.second, text, ok = number(text, 2, 2)
		case 'f':
			n := 0
			for n < len(text) && text[n] >= '0' && text[n] <= '9' {
				n++
			}
			f.micros, text, ok = fraction(text[:n]), text[n:], n > 0
		case 'p':
			ok = len(text) >= 2 && (text[0]|0x20 == 'a' || text[0]|0x20 == 'p') && text[1]|0x20 == 'm'
			if ok {
				f.pm, text = text[0]|0x20 == 'p', text[2:]
			}
		case 'b':
			f.month, text, ok = monthName(text)
		case 'z':
			n := len(text)
			if i := strings.IndexByte(text, ' '); i >= 0 {
				n = i
			}
			if text[:n] == "Z" {
				f.offset, f.zoned = 0, true
			} else {
				f.offset, f.zoned = zoneOffset(text[:n])
			}
			ok, text = f.zoned, text[n:]
		}
		if !ok {
			return false
		}
	}
	return text == ""
}

// number reads low to high digits.
func number(s string, low, high int) (int, string, bool) {
	n, i := 0, 0
	for i < len(s) && i < high && s[i] >= '0' && s[i] <= '9' {
		n = n*10 + int(s[i]-'0')
		i++
	}
	return n, s[i:], i >= low
}

func monthName(s string) (int, string, bool) {
	const names = "janfebmaraprmayjunjulaugsepoctnovdec"
	if len(s) < 3 {
		return 0, s, false
	}
	i := strings.Index(names, strings.ToLower(s[:3]))
	return i/3 + 1, s[3:], i >= 0 && i%3 == 0
}
