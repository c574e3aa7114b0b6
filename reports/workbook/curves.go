package workbook

import (
	"fmt"
	"math"
	"slices"

	"coldbench/metrics/edition"
	"coldbench/reports/palette"
)

// longest is how many minutes after plug-in curves go at most.
const longest = 240

// Columns of a car in the sheet Curves, from its first.
const (
	curveKW = iota
	curveSoC
	curveCold
	curveCols
)

// A drawn is a session whose curve is drawn.
type drawn struct {
	name string
	head string // of its columns: the name, and which session, of a car with several like it
	log  edition.Log
}

// curvesOf are the first session that counts of each of the first ranked cars.
func (b *book) curvesOf() []drawn {
	var out []drawn
	for _, st := range b.e.Standings {
		if st.Place == 0 || len(out) == len(palette.Lines) {
			continue
		}
		for _, id := range st.Sessions {
			if l := b.logs[id]; slices.ContainsFunc(l.Minutes, func(m edition.Minute) bool { return m.PackKW != nil }) {
				d := drawn{name: b.e.Name(st.Vehicle), log: l}
				if d.head = d.name; b.e.Nights(id) > 1 {
					d.head += ", " + id
				}
				out = append(out, d)
				break
			}
		}
	}
	return out
}

// fillCurves draws the ranked cars' charges over each other, from a table of
// their minutes below.
func (b *book) fillCurves() {
	s := b.curves
	cars := b.curvesOf()
	s.widths = []float64{10}
	for range max(len(cars), 4) {
		s.widths = append(s.widths, 12, 12, 12)
	}
	const toCol = 13 // of the charts
	s.frozen = [2]int{0, 3}
	row := s.heading("Curves", "Power into the pack of the ranked cars, the first in the standings, one session each, which the table below names where a car has several: means of a minute, counted from the plug-in that the charge came from.", toCol)
	if len(cars) == 0 {
		s.across(1, row, toCol, "No ranked car has a log of power.", section)
		return
	}
	first := row
	table := first + 3*(chartRows+1)
	last := 0
	for _, c := range cars {
		for _, m := range c.log.Minutes {
			if at := sincePlug(c.log, m); m.PackKW != nil && *m.PackKW > 0.5 {
				last = max(last, min(at+1, longest))
			}
		}
	}
	s.across(1, table, toCol, "Minute by minute", section)
	heads := table + 1
	s.put(1, heads+1, "minute", headNum)
	for i := 0; i <= last; i++ {
		s.put(1, heads+2+i, i, body.with(`0" min"`))
	}
	common := chart{toCol: toCol, width: 1110, height: chartHeight, x: 1, head: heads, first: heads + 2, lastRow: heads + 2 + last, col: 1, yTitle: "kW into the pack"}
	overMinutes, overSoC, overCold := common, common, common
	overMinutes.title, overMinutes.xTitle = "Power after plug-in", "minutes since plug-in"
	overSoC.title, overSoC.xTitle = "Power over charge", "displayed charge, %"
	overCold.title, overCold.xTitle = "Power over cold", "coldest pack sensor, °C"
	for i, c := range cars {
		col := 2 + curveCols*i
		s.across(col, heads, col+curveCols-1, c.head, head)
		for k, quantity := range []string{"power into pack", "displayed charge", "coldest pack sensor"} {
			s.put(col+k, heads+1, c.name+": "+quantity, headNum)
		}
		for _, m := range c.log.Minutes {
			at := sincePlug(c.log, m)
			if at < 0 || at > last {
				continue
			}
			for k, v := range []*float64{m.PackKW, m.SoCPct, m.PackMinC} {
				unit := []string{"kW", "%", "°C"}[k]
				s.put(col+k, heads+2+at, v, b.logged(unit))
			}
		}
		line := series{name: clean(c.head), color: fmt.Sprintf("%06X", palette.Lines[i]), col: col, dash: i%2 == 1}
		overMinutes.series = append(overMinutes.series, line)
		line.x = col + curveSoC
		if s.known(line.x, common) {
			overSoC.series = append(overSoC.series, line)
		}
		line.x = col + curveCold
		if s.known(line.x, common) {
			overCold.series = append(overCold.series, line)
		}
	}
	s.table("curves", 1, heads+1, 1+curveCols*len(cars), heads+2+last, false)
	// A car known from notes has a reading now and then: its line goes over holes,
	// and as a chart knows but one way, so do the others'.
	bridged := slices.ContainsFunc(cars, func(c drawn) bool { return sparse(c.log.Minutes) })
	for i, c := range []chart{overMinutes, overSoC, overCold} {
		if len(c.series) == 0 {
			continue
		}
		if i == 2 {
			s.breaks = append(s.breaks, row) // two fit a page
		}
		c.bridged = bridged
		c.row, c.toRow = row, row+chartRows-1
		for r := row; r < row+chartRows; r++ {
			s.tall[r] = 15
		}
		s.charts = append(s.charts, c)
		row += chartRows + 1
	}
	// The table is for the charts and for who reads on; on paper its columns
	// would be too narrow.
	s.printed = [2]int{toCol, table - 1}
}

// sincePlug is a minute counted from the plug-in that the charge came from.
func sincePlug(l edition.Log, m edition.Minute) int {
	return m.Minute - int(math.Round(l.PlugS/60))
}
