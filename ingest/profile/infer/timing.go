package infer

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
	"unicode"

	"github.com/pelletier/go-toml/v2"

	"coldbench/ingest/clock"
	"coldbench/ingest/series"
)

// Dates and times of day as logs write them, in the clock's patterns. Dates apart
// by points are day-first everywhere.
var (
	datePatterns = []string{"%d.%m.%Y", "%d.%m.%y", "%Y.%m.%d", "%Y-%m-%d", "%Y/%m/%d", "%d/%m/%Y", "%m/%d/%Y", "%d/%m/%y", "%m/%d/%y", "%y/%m/%d",
		"%d-%m-%Y", "%m-%d-%Y", "%d-%m-%y", "%m-%d-%y", "%y-%m-%d", "%Y%m%d", "%d %b %Y", "%d-%b-%Y", "%d-%b-%y", "%d. %b %Y", "%b %d %Y", "%b %d, %Y", "%a %d %b %Y", "%a %b %d %Y"}
	timePatterns = []string{"%H:%M:%S", "%H:%M:%S.%f", "%H:%M:%S,%f", "%H:%M:%S:%f", "%H:%M", "%I:%M:%S %p", "%I:%M %p", "%I:%M:%S.%f %p", "%I:%M:%S%p", "%I:%M%p", "%H.%M.%S", "%Hh%M", "%H-%M-%S", "%H%M%S"}
	joints       = []string{" ", ", ", "T", "_", " - ", "  ", ";"}
	zoneTails    = []string{"", " %z", "%z", " %Z"}
)

// A timing is one way to read a column, or two, as the clock.
type timing struct {
	clock  series.Clock
	column int
	date   int       // -1: none
	us     []float64 // s since 1970 as read, by row; NaN: not
	good   int       // rows read
	dated  bool      // it shows the date
	why    string
	rank   int // of several clocks, the lowest is taken
	sure   Confidence
}

// start is what clocks that show no date count from while they are tried.
var start = toml.LocalDateTime{LocalDate: toml.LocalDate{Year: 2000, Month: 1, Day: 1}}

// try reads rows of a column by a clock, and gives up at the tenth that fails.
func (t *table) try(c series.Clock, col, date int) (timing, bool) {
	g := timing{clock: c, column: col, date: date}
	r, err := clock.New(c, time.UTC, start, 0)
	if err != nil {
		return g, false
	}
	r.SetDecimal(t.mark)
	g.us = make([]float64, len(t.rows))
	bad := 0
	for i := range t.rows {
		g.us[i] = math.NaN()
		text, day := t.cols[col].text[i], ""
		if date >= 0 {
			day = t.cols[date].text[i]
		}
		if text == "" || date >= 0 && day == "" {
			continue
		}
		us, err := r.Micros(text, day)
		if err != nil {
			if bad++; bad > 10+len(t.rows)/50 || bad > g.good && bad > 2 {
				return g, false
			}
			continue
		}
		g.us[i] = float64(us) / 1e6
		g.good++
	}
	return g, g.good > 0 && g.good*10 >= (g.good+bad)*9
}

// first is the first text of a column.
func (c *column) first() string {
	for _, s := range c.text {
		if s != "" {
			return s
		}
	}
	return ""
}

// fitting are the patterns by which a column's texts are read, with a column of
// dates or without.
func (t *table) fitting(col, date int) []timing {
	first := t.cols[col].first()
	if first == "" || len(first) > 60 {
		return nil
	}
	var all []timing
	both := first
	if date >= 0 {
		both = t.cols[date].first() + " " + first
	}
	add := func(f string) bool {
		if len(all) >= 8 || !mayFit(f, both) {
			return false
		}
		r, err := clock.New(series.Clock{Format: f, Date: dateName(date)}, time.UTC, start, 0)
		if err != nil {
			return false
		}
		day := ""
		if date >= 0 {
			day = t.cols[date].first()
		}
		if _, err := r.Micros(first, day); err != nil {
			return false
		}
		c := series.Clock{Column: t.names[col], Format: f}
		if date >= 0 {
			c.Date = t.names[date]
		}
		g, ok := t.try(c, col, date)
		if ok {
			g.dated = strings.Contains(f, "%d")
			all = append(all, g)
		}
		return ok
	}
	for _, h := range timePatterns {
		for _, z := range zoneTails {
			if date < 0 {
				if add(h+z) && z == "" {
					break
				}
			}
			for _, d := range datePatterns {
				if date >= 0 {
					add(d + " " + h + z)
					continue
				}
				for _, j := range joints {
					add(d + j + h + z)
				}
			}
		}
	}
	return all
}

// mayFit reports whether a text has all that stands in a pattern between its
// directives, and letters where it has names. It spares making most patterns.
func mayFit(pattern, text string) bool {
	letters := strings.IndexFunc(text, unicode.IsLetter) >= 0
	for i := 0; i < len(pattern); i++ {
		switch c := pattern[i]; {
		case c == '%':
			i++
			if d := pattern[i]; !letters && (d == 'b' || d == 'a' || d == 'p' || d == 'Z') || d == 'z' && !strings.ContainsAny(text, "+-zZ") {
				return false
			}
		case strings.IndexByte(text, c) < 0:
			return false
		}
	}
	return strings.ContainsAny(text, "0123456789")
}

func dateName(date int) string {
	if date < 0 {
		return ""
	}
	return "date"
}

// timings are the ways to read a column as the clock, or as its time of day.
func (t *table) timings(i int) []timing {
	c := &t.cols[i]
	if c.filled == 0 || c.filled*10 < len(t.rows)*9 {
		return nil
	}
	if g, ok := t.try(series.Clock{Column: t.names[i], Format: "iso"}, i, -1); ok {
		g.dated, g.rank, g.sure, g.why = true, 0, High, "all its texts are ISO 8601"
		return []timing{g}
	}
	if c.numeric() {
		return t.counts(i)
	}
	var out []timing
	for _, g := range t.fitting(i, -1) {
		g.sure, g.why = High, "its texts are read by that pattern"
		if g.rank = 1; !g.dated {
			g.rank = 4
			if looksElapsed(g) {
				g.sure, g.why = Low, "its texts are read by that pattern, but they start near 0:00: they may count from the start, which is not read from texts, instead of telling the time of day"
			}
		}
		out = append(out, g)
	}
	if len(out) > 0 && !out[0].dated { // a date may stand in a column of its own
		for d := range t.names {
			if d == i || t.names[d] == "" || t.cols[d].filled*10 < len(t.rows)*9 {
				continue
			}
			for _, g := range t.fitting(i, d) {
				g.rank, g.sure, g.why = 2, High, "one column has the date, the other the time of day"
				out = append(out, g)
			}
		}
	}
	return out
}

func looksElapsed(g timing) bool {
	for _, v := range g.us {
		if !math.IsNaN(v) {
			return math.Mod(v, 86400) < 60
		}
	}
	return false
}

// counts are the ways to read a column of numbers as the clock.
func (t *table) counts(i int) []timing {
	c := &t.cols[i]
	if c.numbers < 2 || c.rises == 0 || c.falls*20 > c.numbers {
		return nil
	}
	w := t.words[i]
	timed := w.any(isTime) || w.unit != "" && timeUnits[w.unit] != 0 || slices.Contains([]string{"t", "x", "s", "ms"}, folded(strings.TrimSpace(t.names[i])))
	if w.any(quantities|isOther) && !w.any(isTime) || c.falls > 0 && !timed {
		return nil
	}
	name := t.names[i]
	with := func(format, u string, scale, offset float64, sure Confidence, rank int, why string) []timing {
		// A table sorted by how long something took counts up too.
		if format == "elapsed" && t.step <= 1 && t.signals == 0 && c.rises*2 < c.numbers {
			sure = min(sure, Low)
			why += fmt.Sprintf(", but only at %d of %d rows: is it the time of the row, or how long something took?", c.rises, c.numbers)
		}
		g := timing{clock: series.Clock{Column: name, Format: format, Unit: u}, column: i, date: -1, us: make([]float64, len(c.v)), sure: sure, rank: rank, why: why, dated: format != "elapsed"}
		for r, v := range c.v {
			if g.us[r] = (v - offset) * scale; !math.IsNaN(v) {
				g.good++
			}
		}
		return []timing{g}
	}
	for _, e := range []struct {
		unit  string
		scale float64
	}{{"s", 1}, {"ms", 1e-3}, {"us", 1e-6}} {
		// 2001-09-09 to 2065-01-24.
		if c.lo*e.scale >= 1e9 && c.hi*e.scale <= 3e9 {
			return with("epoch", e.unit, e.scale, 0, High, 1, "its numbers count from 1970 to dates of this century")
		}
	}
	step := t.medianStep(i)
	switch {
	case c.lo >= 36526 && c.hi < 55153 && c.decimals > 0 && step > 0 && step < 0.05 && (c.hi-c.lo) < 60: // 2000 to 2050
		sure := Fair
		if timed {
			sure = High
		}
		return with("serial-day", "", 86400, 25569, sure, 1, "its numbers are a spreadsheet's days of this century")
	case !timed && (c.rises*100 < c.numbers*99 || i > 0):
		return nil
	case !timed:
		return with("elapsed", "s", 1, 0, Low, 6, "its numbers count up from row to row; that they are seconds is a guess")
	case w.unit != "" && timeUnits[w.unit] != 0:
		return with("elapsed", w.unit, timeUnits[w.unit], 0, High, 3, fmt.Sprintf("its numbers count up, and its name says %s", w.stated))
	case strings.Contains(folded(name), "min"):
		return with("elapsed", "min", 60, 0, High, 3, "its numbers count up, and its name says minutes")
	case step >= 50:
		return with("elapsed", "ms", 1e-3, 0, Fair, 5, fmt.Sprintf("its numbers count up by about %s a row, as milliseconds do; no unit is stated", format(step)))
	}
	return with("elapsed", "s", 1, 0, Fair, 5, fmt.Sprintf("its numbers count up by about %s a row, as seconds do; no unit is stated", format(step)))
}

var timeUnits = map[string]float64{"s": 1, "ms": 1e-3, "us": 1e-6, "µs": 1e-6, "min": 60, "h": 3600}

// medianStep is the median of the steps between neighbouring numbers, a row of the file.
// In the long layout, where rows share their time, it is that of the times.
func (t *table) medianStep(i int) float64 {
	var steps []float64
	last := math.NaN()
	for r, v := range t.cols[i].v {
		if !math.IsNaN(v) && !math.IsNaN(last) && (t.signals == 0 || v != last) {
			steps = append(steps, (v-last)/float64(t.at[r]-t.at[r-1]))
		}
		last = v
	}
	if len(steps) == 0 {
		return 0
	}
	slices.Sort(steps)
	return steps[len(steps)/2]
}
