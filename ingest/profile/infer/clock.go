package infer

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"coldbench/ingest/series"
)

// clock finds the column that tells the time.
func (p *Proposal) clock(t *table) {
	var found []timing
	for i := range t.names {
		if t.names[i] != "" {
			found = append(found, t.timings(i)...)
		}
	}
	slices.SortStableFunc(found, func(a, b timing) int { return cmp.Compare(a.rank, b.rank) })
	if len(found) == 0 {
		p.Clock = Fact{"clock", "none", None, "no column is read as a time by any of the known forms"}
		p.ask("which column tells the time? None of them reads as a date and time, a count since 1970, or seconds that count up")
		return
	}
	best := found[0]
	same := []timing{best}
	others := []string{}
	for _, g := range found[1:] {
		switch {
		case g.column == best.column && g.date == best.date && g.rank == best.rank:
			same = append(same, g)
		case g.column != best.column && !slices.Contains(others, t.names[g.column]) && g.column != best.date:
			others = append(others, t.names[g.column])
		}
	}
	same, why := plausible(same)
	best = same[0]
	p.Profile.Clock = best.clock
	p.Clock = Fact{"clock", described(best.clock), best.sure, best.why}
	if why != "" {
		p.Clock.Reason += "; " + why
	}
	if len(others) > 0 {
		p.Clock.Reason += fmt.Sprintf("; %s could tell it too", quoted(others))
	}
	p.NeedsDate = !best.dated
	if len(same) > 1 {
		for _, g := range same {
			p.Readings = append(p.Readings, Reading{g.clock, example(g)})
		}
		p.Profile.Clock.Format = ""
		p.Clock.Confidence = Low
		p.Clock.Value = fmt.Sprintf("column %q, format left out", best.clock.Column)
		p.ask("the dates can be read in %d ways and nothing in the file decides: %s. Which is it?", len(same), strings.Join(readings(p.Readings), ", or "))
	}
	t.clockCol, t.dateCol = best.column, best.date
	p.Profile.Clock.Zone = zoneOf(t.names[best.column])
	p.order(best)
}

func readings(rs []Reading) []string {
	var s []string
	for _, r := range rs {
		s = append(s, fmt.Sprintf("%q (the first time is %s)", r.Clock.Format, r.Example))
	}
	return s
}

func example(g timing) string {
	for _, v := range g.us {
		if !math.IsNaN(v) {
			return time.UnixMicro(int64(math.Round(v * 1e6))).UTC().Format("2 January 2006 15:04:05")
		}
	}
	return ""
}

func described(c series.Clock) string {
	s := fmt.Sprintf("column %q, format %q", c.Column, c.Format)
	if c.Date != "" {
		s = fmt.Sprintf("columns %q and %q, format %q", c.Date, c.Column, c.Format)
	}
	if c.Unit != "" {
		s += ", in " + c.Unit
	}
	return s
}

func quoted(names []string) string {
	q := make([]string, len(names))
	for i, n := range names {
		q[i] = fmt.Sprintf("%q", n)
	}
	return strings.Join(q, ", ")
}

// zoneOf is the zone that a column's name states.
func zoneOf(name string) string {
	for _, tok := range strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return r < 'a' || r > 'z' }) {
		if tok == "utc" || tok == "gmt" || tok == "zulu" {
			return "UTC"
		}
	}
	return ""
}

// plausible drops readings of a date that another one beats: of the same rows, the
// true one goes on from day to day, a false one leaps by weeks or goes back.
func plausible(gs []timing) ([]timing, string) {
	if len(gs) < 2 {
		return gs, ""
	}
	type shape struct{ back, leap float64 }
	shapes := make([]shape, len(gs))
	for i, g := range gs {
		last := math.NaN()
		for _, v := range g.us {
			if math.IsNaN(v) {
				continue
			}
			if d := v - last; d < 0 {
				shapes[i].back++
			} else if d > shapes[i].leap {
				shapes[i].leap = d
			}
			last = v
		}
	}
	const days = 86400
	var left []timing
	for i, g := range gs {
		beaten := false
		for j := range gs {
			a, b := shapes[i], shapes[j]
			beaten = beaten || b.back == 0 && a.back > 0 && b.leap < 2*days || b.back <= a.back && a.leap > 20*days && b.leap < 2*days
		}
		if !beaten {
			left = append(left, g)
		}
	}
	if len(left) == 0 || len(left) == len(gs) {
		return gs, ""
	}
	return left, "another order of day and month would have the log leap by weeks or go back"
}

// order proposes that rows be sorted where time goes back.
func (p *Proposal) order(g timing) {
	back, last := 0, math.NaN()
	for _, v := range g.us {
		if v < last {
			back++
		}
		if !math.IsNaN(v) {
			last = v
		}
	}
	if back > 0 && len(p.Readings) == 0 {
		p.Profile.Order = "any"
		p.fact("order", "any", Fair, "time goes back at %d of the rows looked at; without it those rows are set aside", back)
	}
}
