package metar

import (
	"regexp"
	"time"

	"github.com/pelletier/go-toml/v2"

	"coldbench/ingest/source"
)

// A calendar gives reports, which show only the day of the month, their month
// and year.
type calendar struct {
	ref   time.Time // a moment near the next report; zero: none known
	first bool      // ref is a stated start, before which there is nothing
}

// slack is how far a report may lie before the stated start: the start is in
// local time, and an hour's report is of some minutes before it.
const slack = 24 * time.Hour

// newCalendar starts at the source's stated start, else near the session's own
// dates.
func newCalendar(in source.Input) calendar {
	if s := in.Source.Start; s != (toml.LocalDateTime{}) {
		return calendar{ref: s.AsTime(time.UTC), first: true}
	}
	for _, s := range []toml.LocalDateTime{in.Session.SoakStart, in.Session.PlugIn, in.Session.Start} {
		if s != (toml.LocalDateTime{}) {
			return calendar{ref: s.AsTime(time.UTC)}
		}
	}
	return calendar{}
}

// dateLine is what some archives put on a line of its own before a report.
var dateLine = regexp.MustCompile(`^([0-9]{4}/[0-9]{2}/[0-9]{2} [0-9]{2}:[0-9]{2})$`)

// date takes a line that holds only a date, and reports whether it was one.
func (c *calendar) date(line string) bool {
	if !dateLine.MatchString(line) {
		return false
	}
	t, err := time.Parse("2006/01/02 15:04", line)
	if err != nil {
		return false
	}
	*c = calendar{ref: t}
	return true
}

// resolve returns the moment of an observation: after a stated start the first
// that is possible, and from then on the nearest to the report before it, so
// that lists with the newest first pass a month's end too. It reports whether
// there is one: some months have no 31st.
func (c *calendar) resolve(o observation) (time.Time, bool) {
	var best time.Time
	for shift := -1; shift <= 2; shift++ {
		y, m, _ := c.ref.Date()
		t := time.Date(y, m+time.Month(shift), o.day, o.hour, o.minute, 0, 0, time.UTC)
		if t.Day() != o.day || c.first && t.Before(c.ref.Add(-slack)) {
			continue
		}
		if best.IsZero() || !c.first && t.Sub(c.ref).Abs() < best.Sub(c.ref).Abs() {
			best = t
		}
	}
	if best.IsZero() {
		return best, false
	}
	*c = calendar{ref: best}
	return best, true
}
