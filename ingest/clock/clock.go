// Package clock turns the times that logs write into moments: µs since 1970,
// UTC. It knows elapsed and epoch counts, ISO 8601, spreadsheets' serial days
// and patterns in the manner of POSIX strftime, takes what typed files hold as
// times, and resolves local times in named zones through both of the year's
// changes.
//
// It never guesses which of two readings of a date is meant: the profile says.
// Nor does it sort: a row that goes back in time is its reader's affair.
//
// Note: time.Parse is not used. It knows neither serial days nor strftime, picks
// one of the two moments of autumn's repeated hour without saying so, moves a
// time in spring's gap, and costs several times as much a row.
package clock

import (
	"bytes"
	"errors"
	"math"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"coldbench/ingest/series"
	"coldbench/warehouse/diag"
)

// A Resolver resolves the times of one source, row by row. It remembers the row
// before, for clocks that show no date and for the hour that autumn repeats.
// It is not safe for concurrent use.
type Resolver struct {
	read  func(r *Resolver, text []byte) (int64, error)
	unit  int64 // µs a unit, of counts
	base  int64 // µs, of counts: what 0 stands for
	shift int64 // µs added to all: the source's offset
	mark  byte  // decimal mark of counts and serial days

	elapsed bool // base is the source's start

	pattern []step
	shows   shows
	loc     *time.Location

	startYear          int
	startDay, day      int64 // days since 1970; of a clock without a date, the present one
	lastTOD            int64 // s of the day of the row before, of a clock without a date
	last               int64 // µs, before shift: the latest so far
	started            bool
	block, blockOffset int64 // a quarter of an hour of wall time with one offset
	scratch            []byte
}

const (
	second = int64(1e6) // in µs
	minute = 60 * second
)

var units = map[string]int64{"": second, "s": second, "ms": 1000, "us": 1, "min": minute, "h": 60 * minute}

// Formats that are no patterns.
var formats = []string{"elapsed", "epoch", "iso", "serial-day"}

// errNoStart is the cause of a diagnostic of a clock that needs its source's start.
var errNoStart = errors.New("no start")

// New makes the resolver of a profile's clock. Local times are in loc; start is
// what elapsed 0 stands for and the first date of a clock without one, zero if
// the session states none; offsetS is added to every time. A start within
// autumn's repeated hour is the first of the two. Its error is a
// *diag.Diagnostic without a position.
func New(c series.Clock, loc *time.Location, start toml.LocalDateTime, offsetS float64) (*Resolver, error) {
	r := &Resolver{loc: loc, shift: int64(math.Round(offsetS * 1e6)), mark: '.', block: math.MinInt64, last: math.MinInt64}
	var ok bool
	if r.unit, ok = units[c.Unit]; !ok {
		return nil, diag.New(diag.Pos{}, "unknown unit of time %q", c.Unit).WithHint("one of: s, ms, us, min, h")
	}
	stated := start != (toml.LocalDateTime{})
	if stated {
		r.startYear, r.startDay = start.Year, days(start.Year, start.Month, start.Day)
		r.day, r.lastTOD = r.startDay, int64(start.Hour*3600+start.Minute*60+start.Second)
	}
	if c.Date != "" && (c.Format == "elapsed" || c.Format == "epoch" || c.Format == "serial-day") {
		return nil, diag.New(diag.Pos{}, "a clock of format %q has no date column", c.Format).WithHint("leave date_column out")
	}
	switch c.Format {
	case "elapsed":
		if !stated {
			return nil, &diag.Diagnostic{Msg: "the clock counts from an unknown start", Err: errNoStart}
		}
		var err error
		if r.base, err = r.local(r.startDay*86400+r.lastTOD, int64(start.Nanosecond)/1000); err != nil {
			return nil, err
		}
		r.read, r.elapsed = (*Resolver).count, true
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
		var err error
		if r.pattern, r.shows, err = compile(c.Format); err != nil {
			return nil, err
		}
		if c.Date != "" && (r.shows == noDate || !strings.Contains(c.Format, " ")) {
			return nil, diag.New(diag.Pos{}, "clock pattern %q has no place for the date column", c.Format).
				WithHint("it must be the date's pattern, a space and the time's, such as \"%%d.%%m.%%Y %%H:%%M:%%S\"")
		}
		if r.shows != fullDate && !stated {
			what := "date"
			if r.shows == noYear {
				what = "year"
			}
			return nil, &diag.Diagnostic{Msg: "the clock shows no " + what, Err: errNoStart}
		}
		r.read = (*Resolver).byPattern
	}
	return r, nil
}

// SetDecimal sets the mark before the decimals of counts and serial days, '.'
// or ','; '.' if it is not called. The other formats do not depend on it.
func (r *Resolver) SetDecimal(mark byte) { r.mark = mark }

// Resolve resolves one time. date is the text of the date column, empty if
// there is none. Neither is kept. Its error is a *diag.Diagnostic without a
// position.
func (r *Resolver) Resolve(text, date []byte) (int64, error) {
	text, date = bytes.TrimSpace(text), bytes.TrimSpace(date)
	if len(date) > 0 {
		r.scratch = append(append(append(r.scratch[:0], date...), ' '), text...)
		text = r.scratch
	}
	us, err := r.read(r, text)
	if err != nil {
		return 0, err
	}
	return r.pass(us), nil
}

// pass hands on the moment of a row, with the source's offset.
func (r *Resolver) pass(us int64) int64 {
	// The latest, not the one before: a stray early row must not make autumn's
	// second hour look like its first.
	r.last, r.started = max(r.last, us), true
	return us + r.shift
}

// Micros is Resolve for strings.
func (r *Resolver) Micros(text, date string) (int64, error) {
	return r.Resolve([]byte(text), []byte(date))
}

// bad says that a text is no time.
func bad(text []byte, hint string) error {
	const most = 60 // bytes quoted; a time is shorter, and a log may hold anything
	if len(text) > most {
		text = append(append([]byte(nil), text[:most]...), "..."...)
	}
	return diag.New(diag.Pos{}, "cannot read %q as a time", text).WithHint("%s", hint)
}
