package clock

import (
	"bytes"
	"strings"

	"coldbench/warehouse/diag"
)

// A step of a pattern is a directive or, with directive 0, a literal.
type step struct {
	directive byte
	literal   []byte
}

// directives are those of POSIX strftime that a log's time may need; %f, a
// fraction of a second, is a common extension.
const directives = "YymbBdejaAHIMSfpzZ"

// shorthands are directives that stand for several.
var shorthands = map[byte]string{'F': "%Y-%m-%d", 'T': "%H:%M:%S", 'R': "%H:%M", 'D': "%m/%d/%y"}

const knownDirectives = "known: %Y %y year, %m month, %b month's name, %d day, %j day of the year, %a weekday, %H hour, %I hour of 12, %p am or pm, " +
	"%M minute, %S second, %f fraction, %z offset, %Z zone's name, %F %T %R %D"

// parts groups the directives that show one part of a time. Each may stand once.
var parts = []struct{ directives, what string }{
	{"Yy", "year"}, {"mbB", "month"}, {"de", "day"}, {"j", "day of the year"}, {"HI", "hour"},
	{"M", "minute"}, {"S", "second"}, {"f", "fraction"}, {"p", "am or pm"}, {"zZ", "zone"},
}

// compile reads a pattern and checks that it makes a time.
func compile(pattern string) ([]step, shows, error) {
	var steps []step
	literal := func(c byte) {
		if n := len(steps); n > 0 && steps[n-1].directive == 0 {
			steps[n-1].literal = append(steps[n-1].literal, c)
		} else {
			steps = append(steps, step{literal: []byte{c}})
		}
	}
	text := pattern
	for i := 0; i < len(text); i++ {
		if text[i] != '%' {
			literal(text[i])
			continue
		}
		if i++; i == len(text) {
			return nil, 0, diag.New(diag.Pos{}, "clock pattern %q ends in %%", pattern).WithHint("%%%% stands for one %%")
		}
		c := text[i]
		switch long, ok := shorthands[c]; {
		case ok:
			text, i = text[:i-1]+long+text[i+1:], i-2
		case c == '%':
			literal('%')
		case strings.IndexByte(directives, c) < 0:
			return nil, 0, diag.New(diag.Pos{}, "clock pattern %q has an unknown %%%c", pattern, c).WithHint("%s", knownDirectives)
		default:
			steps = append(steps, step{directive: c})
		}
	}
	s, err := check(pattern, steps)
	return steps, s, err
}

// check finds what a pattern shows of a date. A part that stands twice or is
// left out is most often one directive written for another, such as %M for %m.
func check(pattern string, steps []step) (shows, error) {
	has := map[string]bool{}
	for _, p := range parts {
		n := 0
		for _, s := range steps {
			if s.directive != 0 && strings.IndexByte(p.directives, s.directive) >= 0 {
				n++
			}
			if s.directive == 'I' {
				has["hour of 12"] = true
			}
		}
		if has[p.what] = n > 0; n > 1 {
			return 0, diag.New(diag.Pos{}, "clock pattern %q has the %s twice", pattern, p.what).WithHint("%%m is the month, %%M the minute")
		}
	}
	date := has["month"] && has["day"] || has["day of the year"]
	switch {
	case !has["hour"]:
		return 0, diag.New(diag.Pos{}, "clock pattern %q has no hour", pattern).WithHint("%%H is the hour, %%M the minute, %%S the second")
	case has["hour of 12"] != has["am or pm"]:
		return 0, diag.New(diag.Pos{}, "clock pattern %q needs both %%I and %%p, or neither", pattern).WithHint("%%I is the hour of 12, %%p am or pm; %%H the hour of 24")
	case date && has["year"]:
		return fullDate, nil
	case date:
		return noYear, nil
	case has["year"] || has["month"] || has["day"]:
		return 0, diag.New(diag.Pos{}, "clock pattern %q has half a date", pattern).WithHint("%%d is the day, %%m the month, %%Y the year")
	}
	return noDate, nil
}

func (r *Resolver) byPattern(text []byte) (int64, error) {
	f := fields{shows: r.shows}
	if !match(r.pattern, text, &f) {
		return 0, bad(text, "it does not fit the profile's clock format")
	}
	return r.resolve(text, &f)
}

// match reads text by steps into f, and reports whether all of it fits.
func match(steps []step, text []byte, f *fields) bool {
	for _, s := range steps {
		ok := true
		switch s.directive {
		case 0:
			if ok = bytes.HasPrefix(text, s.literal); ok {
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
		case 'b', 'B':
			f.month, text, ok = name(text, months)
		case 'a', 'A':
			_, text, ok = name(text, weekdays)
		case 'd', 'e':
			f.day, text, ok = number(bytes.TrimLeft(text, " "), 1, 2)
		case 'j':
			f.yearDay, text, ok = number(text, 1, 3)
			ok = ok && f.yearDay > 0
		case 'H':
			f.hour, text, ok = number(text, 1, 2)
		case 'I':
			f.half = true
			f.hour, text, ok = number(text, 1, 2)
		case 'M':
			f.minute, text, ok = number(text, 1, 2)
		case 'S':
			f.second, text, ok = number(text, 1, 2)
		case 'f':
			f.micros, text, ok = fraction(text)
		case 'p':
			ok = len(text) >= 2 && (text[0]|0x20 == 'a' || text[0]|0x20 == 'p') && text[1]|0x20 == 'm'
			if ok {
				f.pm, text = text[0]|0x20 == 'p', text[2:]
			}
		case 'z':
			word, rest := cutWord(text)
			f.offset, f.zoned = zoneOffset(word)
			ok, text = f.zoned, rest
		case 'Z':
			word, rest := cutWord(text)
			if s := string(word); s == "UTC" || s == "GMT" || s == "Z" {
				f.zoned = true
			} else {
				f.zone = word
			}
			ok, text = len(word) > 0, rest
		}
		if !ok {
			return false
		}
	}
	return len(text) == 0
}

// cutWord cuts what is before the first space off text.
func cutWord(text []byte) (word, rest []byte) {
	if i := bytes.IndexByte(text, ' '); i >= 0 {
		return text[:i], text[i:]
	}
	return text, nil
}

var (
	months   = []string{"january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november", "december"}
	weekdays = []string{"monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"}
)

// name reads one of the English names, whole or by its first three letters,
// without regard to case. It counts from 1.
func name(text []byte, names []string) (n int, rest []byte, ok bool) {
	for i, s := range names {
		for _, l := range [...]int{len(s), 3} {
			if len(text) >= l && strings.EqualFold(string(text[:l]), s[:l]) {
				return i + 1, text[l:], true
			}
		}
	}
	return 0, text, false
}
