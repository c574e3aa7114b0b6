package clock

import (
	"errors"
	"fmt"
	"time"

	"coldbench/warehouse/diag"
)

// fields are the parts of a time that a log may show.
type fields struct {
	shows                                           shows
	year, month, day, yearDay, hour, minute, second int
	micros                                          int64
	offset                                          int // s east of UTC
	zoned                                           bool
	pm, half                                        bool   // half: the hour is of a 12-hour clock
	zone                                            []byte // a name such as CET, or nil
}

// shows is how much of a date a clock shows.
type shows int

const (
	noDate shows = iota
	noYear
	fullDate
)

const noSuchDate = "there is no such date; are day and month the right way round?"

func (r *Resolver) resolve(text []byte, f *fields) (int64, error) {
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
	tod := int64(f.hour*3600 + f.minute*60 + f.second)
	day, ok := int64(0), true
	switch f.shows {
	case noDate:
		day = r.passMidnight(tod)
	case noYear:
		// The year is the start's, or the next if that puts it long before.
		if day, ok = f.date(r.startYear); !ok || day < r.startDay-183 {
			day, ok = f.date(r.startYear + 1)
		}
	case fullDate:
		day, ok = f.date(f.year)
	}
	if !ok {
		return 0, bad(text, noSuchDate)
	}
	wall := day*86400 + tod
	switch {
	case f.zoned:
		return (wall-int64(f.offset))*second + f.micros, nil
	case f.zone != nil:
		return r.named(wall, f.micros, f.zone)
	}
	return r.local(wall, f.micros)
}

// date is the day, since 1970, that the fields name in a year.
func (f *fields) date(year int) (int64, bool) {
	if year < 1900 || year > 2199 {
		return 0, false
	}
	leap := year%4 == 0 && (year%100 != 0 || year%400 == 0)
	if f.yearDay > 0 {
		return days(year, 1, 1) + int64(f.yearDay) - 1, f.yearDay <= 365 || f.yearDay == 366 && leap
	}
	if f.month < 1 || f.month > 12 || f.day < 1 {
		return 0, false
	}
	last := [...]int{31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31}[f.month-1]
	if f.month == 2 && leap {
		last = 29
	}
	return days(year, f.month, f.day), f.day <= last
}

// passMidnight is the day of a clock that shows only the time of day. A fall of
// more than half a day is midnight. A rise of all but a minute, after a
// midnight, is a row out of order from just before it.
func (r *Resolver) passMidnight(tod int64) int64 {
	switch rise := tod - r.lastTOD; {
	case rise < -43200:
		r.day++
	case rise > 86400-60 && r.day > r.startDay:
		return r.day - 1
	}
	r.lastTOD = tod
	return r.day
}

// errGap is a wall time that spring's change leaves out.
var errGap = errors.New("gap")

// local resolves a wall time, in s since 1970, in the resolver's zone. Of the
// two moments that autumn's repeated hour gives, it takes the first that does
// not fall behind the rows before. Falling behind by less than a minute is rows
// out of order, not the clock going back an hour.
func (r *Resolver) local(wall, micros int64) (int64, error) {
	const quarter = 900 // zones change at quarters of an hour
	b := floorDiv(wall, quarter)
	if b == r.block {
		return (wall-r.blockOffset)*second + micros, nil
	}
	before, after := r.around(wall)
	if before == after && r.offset(wall-before) == before {
		r.block, r.blockOffset = b, before
		return (wall-before)*second + micros, nil
	}
	// The larger offset gives the earlier moment.
	early, late := max(before, after), min(before, after)
	okEarly, okLate := r.offset(wall-early) == early, r.offset(wall-late) == late
	first := (wall-early)*second + micros
	switch {
	case okEarly && (!okLate || !r.started || first > r.last-minute):
		return first, nil
	case okLate:
		return (wall-late)*second + micros, nil
	}
	return 0, &diag.Diagnostic{Msg: fmt.Sprintf("there is no %s in %s", time.Unix(wall, 0).UTC().Format(time.DateTime), r.loc),
		Hint: "the clocks went forward over it; is the zone right?", Err: errGap}
}

// named resolves a wall time that names its zone, such as CET.
func (r *Resolver) named(wall, micros int64, zone []byte) (int64, error) {
	before, after := r.around(wall)
	for _, o := range [...]int64{before, after} {
		if name, offset := time.Unix(wall-o, 0).In(r.loc).Zone(); int64(offset) == o && name == string(zone) {
			return (wall-o)*second + micros, nil
		}
	}
	return 0, diag.New(diag.Pos{}, "%q is not what time in %s was called then", zone, r.loc).WithHint("is the zone right?")
}

// around returns the zone's offsets a day before and a day after a wall time:
// no offset is as large as a day, and no zone changes twice in two.
func (r *Resolver) around(wall int64) (before, after int64) {
	return r.offset(wall - 86400), r.offset(wall + 86400)
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

// days counts days from 1970-01-01 in the Gregorian calendar, for years from
// 1900: a year is taken to start in March, so that a leap day ends it.
func days(y, m, d int) int64 {
	if m <= 2 {
		y, m = y-1, m+12
	}
	return int64(365*y+y/4-y/100+y/400+(153*(m-3)+2)/5+d) - 719469
}
