// Package clock turns the times that logs write into moments: µs since 1970,
// UTC. It knows elapsed and epoch counts, ISO 8601, spreadsheets' serial days
// and patterns in the manner of POSIX strftime, and resolves local times in
// named zones through both of the year's changes.
//
// It never guesses which of two readings of a date is meant: the profile says.
package clock

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"coldbench/ingest/series"
	"coldbench/warehouse/diag"
)

// A Resolver resolves the times of one source, row by row. It remembers the row
// before, for clocks that show no date and for the hour that autumn repeats.
type Resolver struct {
	read   func(r *Resolver, text, date string) (int64, error)
	factor float64 // µs a unit, of counts
	base   int64   // µs, of counts: what 0 stands for
	shift  int64   // µs added to all: the source's offset

	pattern  []step
	datePat  []step
	hasDate  bool
	loc      *time.Location
	day      int64 // days since 1970 of a clock without a date
	lastWall int64 // wall seconds of the row before, of a clock without a date
	last     int64 // µs of the row before, before shift
	started  bool

	block, blockOffset int64 // a quarter of an hour of wall time with one offset
}

const second = int64(1e6)

var units = map[string]float64{"": 1e6, "s": 1e6, "ms": 1e3, "us": 1, "min": 60e6, "h": 3600e6}

// Formats that are no patterns.
var formats = []string{"elapsed", "epoch", "iso", "serial-day"}

// New makes the resolver of a profile's clock. Local times are in loc; start is
// what elapsed 0 stands for and the first date of a clock without one, zero if
// the session states none; offsetS is added to every time. Its error is a
// *diag.Diagnostic without a position.
func New(c series.Clock, loc *time.Location, start toml.LocalDateTime, offsetS float64) (*Resolver, error) {
	r := &Resolver{loc: loc, shift: int64(math.Round(offsetS * 1e6)), block: math.MinInt64}
	factor, ok := units[c.Unit]
	if !ok {
		return nil, diag.New(diag.Pos{}, "unknown unit of time %q", c.Unit).WithHint("one of: s, ms, us, min, h")
	}
	r.factor = factor
	stated := start != (toml.LocalDateTime{})
	if stated {
		r.day = days(start.Year, start.Month, start.Day)
	}
	switch c.Format {
	case "elapsed":
		if !stated {
			return nil, diag.New(diag.Pos{}, "the clock counts from an unknown start").WithHint("state start = 2026-01-12T20:00:00 at the session's source")
		}
		r.base, r.read = start.AsTime(loc).UnixMicro(), (*Resolver).count
	case "epoch":
		r.read = (*Resolver).count
	case "iso", "":
		r.read = (*Resolver).iso
	case "serial-day":
		r.read = (*Resolver).serial
	default:
		if !strings.Contains(c.Format, "%") {
			h := diag.DidYouMean(c.Format, formats)
			if h == "" {
				h = "one of: " + strings.Join(formats, ", ") + ", or a pattern such as \"%d.%m.%Y %H:%M:%S\""
			}
			return nil, diag.New(diag.Pos{}, "unknown clock format %q", c.Format).WithHint("%s", h)
		}
		format := c.Format
		if c.Date != "" && strings.Contains(format, " ") {
			// Two columns: the pattern's first word is the date's, the rest the time's.
			var date string
			date, format, _ = strings.Cut(format, " ")
			var err error
			if r.datePat, err = compile(date); err != nil {
				return nil, err
			}
		}
		var err error
		if r.pattern, err = compile(format); err != nil {
			return nil, err
		}
		has := func(ds string) bool {
			return slices.ContainsFunc(append(slices.Clone(r.pattern), r.datePat...), func(s step) bool { return s.directive != 0 && strings.IndexByte(ds, s.directive) >= 0 })
		}
		r.hasDate = has("d") && has("mb") && has("Yy") || has("j") && has("Yy")
		if !has("HI") {
			return nil, diag.New(diag.Pos{}, "clock pattern %q has no hour", c.Format).WithHint("%%H is the hour, %%M the minute, %%S the second")
		}
		if !r.hasDate && !stated {
			return nil, diag.New(diag.Pos{}, "the clock shows no date").WithHint("state start = 2026-01-12T20:00:00 at the session's source")
		}
		r.read = (*Resolver).byPattern
	}
	return r, nil
}

// Micros resolves one time. date is the text of the date column, "" if there
// is none. Its error is a *diag.Diagnostic without a position.
func (r *Resolver) Micros(text, date string) (int64, error) {
	us, err := r.read(r, strings.TrimSpace(text), strings.TrimSpace(date))
	if err != nil {
		return 0, err
	}
	r.last, r.started = us, true
	return us + r.shift, nil
}

func bad(text, want string) error {
	return diag.New(diag.Pos{}, "cannot read %q as a time", text).WithHint("%s", want)
}

func (r *Resolver) count(text, _ string) (int64, error) {
	if n, err := strconv.ParseInt(text, 10, 64); err == nil && math.Abs(float64(n)*r.factor) < 9e18 {
		return inRange(text, r.base, float64(n)*r.factor, n*int64(r.factor))
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(v) || math.Abs(v*r.factor) > 9e17 {
		return 0, bad(text, "the clock counts in numbers")
	}
	return inRange(text, r.base, v*r.factor, int64(math.Round(v*r.factor)))
}

// inRange adds a count to its base, within the years 1900 to 2200.
func inRange(text string, base int64, approx float64, us int64) (int64, error) {
	const low, high = -2208988800e6, 7258118400e6
	if t := float64(base) + approx; t < low || t > high {
		return 0, bad(text, "the time lies outside 1900 to 2200; is the clock's unit right?")
	}
	return base + us, nil
}

// serial reads a spreadsheet's day count: 25569 is 1970-01-01 (1900 system).
func (r *Resolver) serial(text, _ string) (int64, error) {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || !(v > 0 && v < 110000) {
		return 0, bad(text, "a serial day is a number such as 44784.98")
	}
	// Serial days are local wall time; a double resolves about 1 µs here, and
	// writers round, so tenths of a millisecond are as good as it gets.
	us := int64(math.Round((v-25569)*86400e4)) * 100
	return r.local(floorDiv(us, second), us-floorDiv(us, second)*second)
}

// iso reads ISO 8601: a date, "T" or a space, a time with seconds and fraction
// optional, and "Z" or an offset or nothing, which means local.
func (r *Resolver) iso(text, date string) (int64, error) {
	if date != "" {
		text = date + " " + text
	}
	const want = "ISO 8601, such as 2026-01-12T20:12:30"
	if len(text) < 16 || text[4] != '-' || text[7] != '-' || (text[10] != 'T' && text[10] != ' ' && text[10] != 't') || text[13] != ':' {
		return 0, bad(text, want)
	}
	y, ok1 := digits(text[0:4])
	mo, ok2 := digits(text[5:7])
	d, ok3 := digits(text[8:10])
	h, ok4 := digits(text[11:13])
	mi, ok5 := digits(text[14:16])
	if !(ok1 && ok2 && ok3 && ok4 && ok5) {
		return 0, bad(text, want)
	}
	f := fields{year: y, month: mo, day: d, hour: h, minute: mi}
	rest := text[16:]
	if strings.HasPrefix(rest, ":") && len(rest) >= 3 {
		if f.second, ok1 = digits(rest[1:3]); !ok1 {
			return 0, bad(text, want)
		}
		rest = rest[3:]
		if rest != "" && (rest[0] == '.' || rest[0] == ',') {
			n := 1
			for n < len(rest) && rest[n] >= '0' && rest[n] <= '9' {
				n++
			}
			f.micros = fraction(rest[1:n])
			rest = rest[n:]
		}
	}
	switch {
	case rest == "":
	case rest == "Z" || rest == "z":
		f.zoned = true
	default:
		if f.offset, f.zoned = zoneOffset(rest); !f.zoned {
			return 0, bad(text, want)
		}
	}
	return r.resolve(text, f)
}

type fields struct {
	year, month, day, hour, minute, second int
	micros                                 int64
	offset                                 int // s east of UTC
	zoned                                  bool
	pm, half                               bool // half: the hour is of a 12-hour clock
	yearDay                                int
}

func (r *Resolver) resolve(text string, f fields) (int64, error) {
	if f.half {
		if f.hour < 1 || f.hour > 12 {
			return 0, bad(text, "a 12-hour clock goes from 1 to 12")
		}
		f.hour %= 12
		if f.pm {
			f.hour += 12
		}
	}
	if f.hour > 24 || f.minute > 59 || f.second > 60 || f.hour == 24 && f.minute+f.second > 0 {
		return 0, bad(text, "there is no such time of day")
	}
	day := r.day
	switch {
	case f.yearDay > 0:
		day = days(f.year, 1, 1) + int64(f.yearDay) - 1
	case f.year > 0:
		if f.month < 1 || f.month > 12 || f.day < 1 || f.day > monthDays(f.year, f.month) || f.year < 1900 || f.year > 2200 {
			return 0, bad(text, "there is no such date; are day and month the right way round?")
		}
		day = days(f.year, f.month, f.day)
	}
	tod := int64(f.hour*3600 + f.minute*60 + f.second)
	if f.year == 0 {
		// A clock without a date: a fall of more than half a day is midnight.
		if r.started && tod < r.lastWall-43200 {
			r.day++
			day = r.day
		}
		r.lastWall = tod
	}
	wall := day*86400 + tod
	if f.zoned {
		return (wall-int64(f.offset))*second + f.micros, nil
	}
	return r.local(wall, f.micros)
}

// errGap is a wall time that spring's change leaves out.
var errGap = errors.New("gap")

// local resolves a wall time in the resolver's zone. Of the two moments that
// autumn's repeated hour gives, it takes the first that is not before the row
// before.
func (r *Resolver) local(wall, micros int64) (int64, error) {
	const quarter = 900 // zones change at quarters of an hour
	if b := floorDiv(wall, quarter); b == r.block {
		return (wall-r.blockOffset)*second + micros, nil
	}
	o1, o2 := r.offset(wall-86400), r.offset(wall+86400)
	if o1 == o2 {
		if r.offset(wall-o1) == o1 {
			r.block, r.blockOffset = floorDiv(wall, quarter), o1
			return (wall-o1)*second + micros, nil
		}
		// Two changes within two days: not seen in any zone in use.
		return 0, bad(time.Unix(wall, 0).UTC().Format(time.DateTime), "the zone's clock changes twice around it; state times in UTC")
	}
	a, b := max(o1, o2), min(o1, o2) // the larger offset gives the earlier moment
	okA, okB := r.offset(wall-a) == a, r.offset(wall-b) == b
	switch {
	case okA && okB:
		if first := (wall-a)*second + micros; !r.started || first >= r.last {
			return first, nil
		}
		return (wall-b)*second + micros, nil
	case okA:
		return (wall-a)*second + micros, nil
	case okB:
		return (wall-b)*second + micros, nil
	}
	return 0, &diag.Diagnostic{Msg: fmt.Sprintf("there is no %s in %s", time.Unix(wall, 0).UTC().Format(time.DateTime), r.loc),
		Hint: "the clocks went forward over it; is the zone right?", Err: errGap}
}

// offset is the zone's, in s east of UTC, at a moment in s since 1970.
func (r *Resolver) offset(unix int64) int64 {
	_, o := time.Unix(unix, 0).In(r.loc).Zone()
	return int64(o)
}

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// days counts days from 1970-01-01 in the proleptic Gregorian calendar.
func days(y, m, d int) int64 {
	return floorDiv(time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC).Unix(), 86400)
}

func monthDays(y, m int) int {
	return time.Date(y, time.Month(m)+1, 0, 0, 0, 0, 0, time.UTC).Day()
}

// digits reads decimal digits only.
func digits(s string) (int, bool) {
	n := 0
	for i := range len(s) {
		if s[i] < '0' || s[i] > '9' {
			return 0, false
		}
		n = n*10 + int(s[i]-'0')
	}
	return n, s != ""
}

// fraction is the µs of a decimal fraction's digits, cut after the sixth.
func fraction(s string) int64 {
	us, scale := int64(0), int64(100000)
	for i := 0; i < len(s) && scale > 0; i++ {
		us += int64(s[i]-'0') * scale
		scale /= 10
	}
	return us
}

// zoneOffset reads +01:00, +0100 or +01.
func zoneOffset(s string) (int, bool) {
	s = strings.TrimSpace(s)
	if len(s) < 3 || (s[0] != '+' && s[0] != '-') {
		return 0, false
	}
	d := strings.Replace(s[1:], ":", "", 1)
	n, ok := digits(d)
	switch {
	case !ok:
		return 0, false
	case len(d) == 4:
		n = n/100*3600 + n%100*60
	case len(d) == 2:
		n *= 3600
	default:
		return 0, false
	}
	if n > 14*3600 {
		return 0, false
	}
	if s[0] == '-' {
		n = -n
	}
	return n, true
}
