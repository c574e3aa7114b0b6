package notes

import (
	"strconv"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"coldbench/warehouse/diag"
)

// maxAhead is how many notes below are looked at for whether one's time strayed.
const maxAhead = 8

// stray finds a note whose time was mistyped, by the notes below it: two of them
// that lie before it and behind the note above; or, while the car is plugged in,
// one that would be a day late for it, since this one alone passed midnight.
func (r *reader) stray(day toml.LocalDate, tod int) *diag.Diagnostic {
	own, passed := wall(day, tod), r.lastTOD >= 0 && day != r.day
	ahead := reader{day: day, lastTOD: tod}
	var lows []int64
	for i, seen := int(r.line), 0; i < len(r.lines) && seen < maxAhead; i++ {
		text := strings.TrimSpace(r.lines[i])
		if d, after, ok := cutDate(text); ok {
			ahead.day, ahead.lastTOD, passed, text = d, -1, false, after
		}
		m := timeOf.FindStringSubmatch(text)
		if m == nil || otherDate(text) != nil {
			continue
		}
		c, ok := clockOf(m)
		if !ok {
			continue
		}
		seen++
		t := c.tod()
		d := ahead.dayOf(t)
		at := wall(d, t)
		if at >= own {
			if passed && r.plugged && at >= r.above+86400 {
				return diag.New(diag.Pos{}, "the time passes midnight, and %s below would be a day late for it", strings.TrimRight(m[0], " \t:-")).
					WithHint("is it am or pm? a line such as 2026-01-13 starts a new day")
			}
			ahead.day, ahead.lastTOD = d, t
			continue
		}
		if at >= r.above {
			lows = append(lows, at)
		}
		if len(lows) == 2 {
			return diag.New(diag.Pos{}, "time lies %d s ahead of the notes below", own-min(lows[0], lows[1])).
				WithHint("notes go from early to late; a line such as 2026-01-13 starts a new day")
		}
	}
	return nil
}

// dayOf is the day of a time of day: that of the note before, or, where the time
// falls by more than half a day, the one after.
func (r *reader) dayOf(tod int) toml.LocalDate {
	if r.lastTOD < 0 || tod >= r.lastTOD-43200 {
		return r.day
	}
	next := r.day.AsTime(time.UTC).AddDate(0, 0, 1)
	return toml.LocalDate{Year: next.Year(), Month: int(next.Month()), Day: next.Day()}
}

// wall is a local time in seconds.
func wall(day toml.LocalDate, tod int) int64 { return day.AsTime(time.UTC).Unix() + int64(tod) }

// cutDate cuts the date off a line that starts with one.
func cutDate(text string) (day toml.LocalDate, rest string, ok bool) {
	m := dateLine.FindStringSubmatch(text)
	if m == nil {
		return day, text, false
	}
	y, _ := strconv.Atoi(m[1])
	mo, _ := strconv.Atoi(m[2])
	d, _ := strconv.Atoi(m[3])
	return toml.LocalDate{Year: y, Month: mo, Day: d}, text[len(m[0]):], true
}

// A reading is what a clock shows, and for how long it does.
type reading struct {
	h, min, s int
	widthS    float64
}

// clockOf reads a match of timeOf. It is not ok where a 12-hour clock has no such
// hour.
func clockOf(m []string) (c reading, ok bool) {
	c.h, _ = strconv.Atoi(m[1])
	c.min, _ = strconv.Atoi(m[2])
	c.widthS = 60
	if m[3] != "" {
		c.s, _ = strconv.Atoi(m[3])
		c.widthS = 1
	}
	if m[4] != "" {
		if c.h < 1 || c.h > 12 {
			return c, false
		}
		c.h %= 12
		if m[4] == "p" || m[4] == "P" {
			c.h += 12
		}
	}
	return c, true
}

// tod is the time of day in seconds.
func (c reading) tod() int { return c.h*3600 + c.min*60 + c.s }
