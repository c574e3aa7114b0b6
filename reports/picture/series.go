package picture

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"coldbench/metrics/edition"
	"coldbench/reports/palette"
)

// mostCars is how many cars a chart of lines shows: as many as there are colours.
var mostCars = len(palette.Lines)

// mostBars is how many cars the standings show.
const mostBars = 14

// All returns the pictures of an edition: four of the series, and one of each
// session in sessions that has a log.
func All(e *edition.Edition, logs []edition.Log, sessions []string) []Picture {
	runs, left := lines(e, logs)
	note := ""
	if left > 0 {
		note = fmt.Sprintf("and %d more ranked", left)
	}
	out := []Picture{
		{Name: "power-over-minutes", Title: "Power into the pack after plug-in", draw: func(s *sheet, c draw.Canvas) { overMinutes(s, c, runs, note) }},
		{Name: "power-over-charge", Title: "Power into the pack over state of charge", draw: func(s *sheet, c draw.Canvas) { overCharge(s, c, runs, note) }},
		{Name: "standings", Title: "Standings, in points of 100", draw: func(s *sheet, c draw.Canvas) { bars(s, c, e) }},
		{Name: "heat-against-delay", Title: "Energy spent and time gone before the pack takes energy", draw: func(s *sheet, c draw.Canvas) { heatDelay(s, c, e) }},
	}
	for _, id := range sessions {
		i := slices.IndexFunc(logs, func(l edition.Log) bool { return l.Session == id })
		k := slices.IndexFunc(e.Sessions, func(s edition.Session) bool { return s.ID == id })
		if i < 0 || k < 0 || len(logs[i].Trace.T) == 0 {
			continue
		}
		out = append(out, Picture{Name: fileName(id), Title: e.Name(e.Sessions[k].Vehicle) + ", " + id, draw: func(s *sheet, c draw.Canvas) {
			oneSession(s, c, logs[i], e.Sessions[k])
		}})
	}
	for i := range out {
		out[i].foot = e.Title
		if e.Place != "" {
			out[i].foot += ", " + e.Place
		}
		out[i].foot += " · edition " + e.ID
		if out[i].Name == "standings" || out[i].Name == "heat-against-delay" {
			out[i].foot += " · whiskers: twice the standard uncertainty"
		}
	}
	return out
}

// A run is one session of a ranked car.
type run struct {
	name  string
	night string // the session, of a car with several like it
	log   edition.Log
}

// lines returns the first session that counts of each of the first cars in the
// standings, and how many ranked cars had no room or have no log.
func lines(e *edition.Edition, logs []edition.Log) (runs []run, left int) {
	for _, st := range e.Standings {
		if st.Place == 0 {
			continue
		}
		logged := func(id string) int {
			return slices.IndexFunc(logs, func(l edition.Log) bool { return l.Session == id && len(l.Trace.T) > 0 })
		}
		k := slices.IndexFunc(st.Sessions, func(id string) bool { return logged(id) >= 0 })
		if k < 0 || len(runs) == mostCars {
			left++
			continue
		}
		r := run{name: e.Name(st.Vehicle), log: logs[logged(st.Sessions[k])]}
		if e.Nights(st.Sessions[k]) > 1 {
			r.night = st.Sessions[k]
		}
		runs = append(runs, r)
	}
	return runs, left
}

// charging reports whether what lies between two moments, in s, lies within the phases
// in which the pack took energy, where there are phases.
func charging(l edition.Log, from, to float64) bool {
	first, last := math.Inf(1), math.Inf(-1)
	for _, p := range l.Phases {
		if p.Name == "charging" || p.Name == "taper" {
			first, last = min(first, p.From), max(last, p.To)
		}
	}
	if first > last {
		return from >= l.PlugS
	}
	return from >= first && to <= last
}

// minutes is a trace's time in minutes since the plug-in.
func minutes(l edition.Log) []float64 {
	out := make([]float64, len(l.Trace.T))
	for i, t := range l.Trace.T {
		out[i] = (t - l.PlugS) / 60
	}
	return out
}

// lastActive is the time in minutes after which nothing flows any more.
func lastActive(l edition.Log) float64 {
	last := 1.0
	for i, m := range minutes(l) {
		if math.Abs(l.Trace.PackKW[i]) > 0.5 || l.Trace.ChargerKW[i] > 0.5 {
			last = max(last, m)
		}
	}
	return last
}

func overMinutes(s *sheet, c draw.Canvas, runs []run, note string) {
	if len(runs) == 0 {
		s.say(c, "No ranked car has a log of power.")
		return
	}
	end, most := 1.0, 1.0
	var keys []entry
	var curves []plot.Plotter
	for i, r := range runs {
		end = max(end, lastActive(r.log)+1)
		if _, high, ok := known(r.log.Trace.PackKW); ok {
			most = max(most, high)
		}
		mark := s.mark(i)
		curves = append(curves, curve{x: minutes(r.log), y: r.log.Trace.PackKW, line: s.line(i), mark: mark, marks: 8, offset: float64(i+1) / float64(len(runs)+1)})
		keys = append(keys, entry{r.name, r.night, s.line(i), &mark})
	}
	p := s.frame(axis{label: "minutes since plug-in", from: 0, to: end}, axis{label: "kW into the pack", from: 0, to: most})
	p.Add(curves...)
	p.Draw(draw.Crop(c, 0, -keyWidth-16, 0, 0))
	s.key(draw.Crop(c, c.Max.X-c.Min.X-keyWidth, 0, 0, 0), keys, note)
}

// powerOverSoC is a charge from the minute-by-minute log: the display moves in whole
// percent, and each minute has one mean. A minute that stands alone was noted in a
// moment.
func powerOverSoC(l edition.Log) (soc, kw []float64) {
	before := math.MinInt
	for _, m := range l.Minutes {
		if m.PackKW == nil {
			continue
		}
		begin, end := 60*float64(m.Minute), 60*float64(m.Minute+1)
		if m.Minute-1 > before {
			end = begin
		}
		before = m.Minute
		if m.SoCPct != nil && *m.PackKW > 0.5 && charging(l, begin, end) {
			soc, kw = append(soc, *m.SoCPct), append(kw, *m.PackKW)
		}
	}
	return soc, kw
}

func overCharge(s *sheet, c draw.Canvas, runs []run, note string) {
	from, to, most := 100.0, 0.0, 1.0
	var keys []entry
	var curves []plot.Plotter
	for i, r := range runs {
		x, y := powerOverSoC(r.log)
		for k := range x {
			from, to, most = min(from, x[k]), max(to, x[k]), max(most, y[k])
		}
		mark := s.mark(i)
		curves = append(curves, curve{x: x, y: y, line: s.line(i), mark: mark, marks: 8, offset: float64(i+1) / float64(len(runs)+1)})
		keys = append(keys, entry{r.name, r.night, s.line(i), &mark})
	}
	if to <= from {
		s.say(c, "No ranked car has a log of power and state of charge.")
		return
	}
	p := s.frame(axis{label: "state of charge as displayed, %", from: from, to: to}, axis{label: "kW into the pack, means of a minute", from: 0, to: most})
	p.Add(curves...)
	p.Draw(draw.Crop(c, 0, -keyWidth-16, 0, 0))
	s.key(draw.Crop(c, c.Max.X-c.Min.X-keyWidth, 0, 0, 0), keys, note)
}

// bars draws the standings: a bar a car and where its points may lie.
func bars(s *sheet, c draw.Canvas, e *edition.Edition) {
	var ranked []edition.Standing
	for _, st := range e.Standings {
		if st.Place > 0 {
			ranked = append(ranked, st)
		}
	}
	if len(ranked) == 0 {
		s.say(c, "No car can be ranked.")
		return
	}
	more := ""
	if n := len(ranked) - mostBars; n > 0 {
		ranked, more = ranked[:mostBars], fmt.Sprintf("and %d more", n)
	}
	n := float64(len(ranked))
	p := s.frame(axis{label: "points", from: 0, to: 100}, axis{from: 0, to: n, unlabelled: true})
	p.HideY()
	p.X.Min, p.X.Max = 0, 100
	chart := draw.Crop(c, 330, -86, 0, 0)
	p.Add(plotter(func(d draw.Canvas, p *plot.Plot) {
		x, y := p.Transforms(&d)
		for i, st := range ranked {
			at := y(n - float64(i) - 0.5)
			half := min((d.Max.Y-d.Min.Y)/vg.Length(n)*0.3, 16)
			fill := s.hue.lines[0]
			fill.A = 0x90
			rect(d, fill, x(0), at-half, x(min(max(st.Score, 0), 100)), at+half)
			whisker(d, s, x(max(st.Score-2*st.U, 0)), x(min(st.Score+2*st.U, 100)), at, true)
			label := s.text(textSize, s.hue.ink, right, mid)
			place := fmt.Sprint(st.Place)
			if st.Lowest != st.Highest {
				place += fmt.Sprintf("  (%d–%d)", st.Lowest, st.Highest)
			}
			d.FillText(label, vg.Point{X: d.Min.X - 10, Y: at}, place)
			label.XAlign = left
			d.FillText(label, vg.Point{X: c.Min.X, Y: at}, fit(e.Name(st.Vehicle), textSize, 226))
			d.FillText(label, vg.Point{X: d.Max.X + 10, Y: at}, edition.Fixed(st.Score, edition.Decimals(st.Score, &st.U)))
		}
		// Beside the numbers of the axis: what the numbers before the bars are.
		d.FillText(s.text(textSize, s.hue.soft, right, top), vg.Point{X: d.Min.X - 24, Y: d.Min.Y - 8}, "place (range, 95 %)")
	}))
	p.Draw(chart)
	if more != "" {
		c.FillText(s.text(textSize, s.hue.soft, left, bottom), vg.Point{X: c.Min.X, Y: c.Min.Y}, more)
	}
}

// heatDelay draws every ranked session's energy before onset against its delay.
func heatDelay(s *sheet, c draw.Canvas, e *edition.Edition) {
	type point struct {
		name         string
		x, y, ux, uy float64
		hue          int
	}
	var points []point
	endX, endY, without := 1.0, 1.0, 0
	for i, st := range e.Standings {
		if st.Place == 0 {
			continue
		}
		before := len(points)
		for _, id := range st.Sessions {
			d, ok1 := e.Find(id, "delay_to_onset")
			h, ok2 := e.Find(id, "energy_before_onset")
			if !ok1 || !ok2 || !d.Ranked() || !h.Ranked() {
				continue
			}
			points = append(points, point{e.Name(st.Vehicle), *d.Value, *h.Value, *d.U, *h.U, i})
			endX, endY = max(endX, *d.Value+2**d.U), max(endY, *h.Value+2**h.U)
		}
		if len(points) == before {
			without++
		}
	}
	if len(points) == 0 {
		s.say(c, "No ranked session has both figures.")
		return
	}
	label := "minutes from plug-in to onset"
	if without > 0 {
		label += fmt.Sprintf("; %d more ranked, without both figures", without)
	}
	p := s.frame(axis{label: label, from: 0, to: endX * 1.05}, axis{label: "kWh from the charger before onset", from: 0, to: endY * 1.05})
	p.Add(plotter(func(d draw.Canvas, p *plot.Plot) {
		x, y := p.Transforms(&d)
		var taken []vg.Rectangle
		for _, q := range points {
			at := vg.Point{X: x(q.x), Y: y(q.y)}
			taken = append(taken, around(at, 7, 7), around(at, x(q.x+2*q.ux)-at.X, 5), around(at, 5, y(q.y+2*q.uy)-at.Y))
		}
		named := map[string]bool{}
		for _, q := range points {
			at := vg.Point{X: x(q.x), Y: y(q.y)}
			whisker(d, s, x(max(q.x-2*q.ux, p.X.Min)), x(min(q.x+2*q.ux, p.X.Max)), at.Y, true)
			whisker(d, s, y(max(q.y-2*q.uy, p.Y.Min)), y(min(q.y+2*q.uy, p.Y.Max)), at.X, false)
			d.DrawGlyph(s.mark(q.hue), at)
			if named[q.name] {
				continue
			}
			named[q.name] = true
			name := fit(q.name, textSize, 230)
			style := s.text(textSize, s.hue.ink, left, mid)
			if box, ok := room(d, style.Width(name), taken, at); ok {
				taken = append(taken, box)
				d.FillText(style, vg.Point{X: box.Min.X, Y: (box.Min.Y + box.Max.Y) / 2}, name)
			}
		}
	}))
	p.Draw(draw.Crop(c, 0, -12, 0, 0))
}

// room finds a place for a name beside a point that nothing else has.
func room(c draw.Canvas, wide vg.Length, taken []vg.Rectangle, at vg.Point) (vg.Rectangle, bool) {
	for _, dy := range []vg.Length{0, 14, -14, 24, -24, 38, -38, 52, -52} {
		for _, x := range []vg.Length{at.X + 12, at.X - 12 - wide} {
			box := vg.Rectangle{Min: vg.Point{X: x, Y: at.Y + dy - 11}, Max: vg.Point{X: x + wide, Y: at.Y + dy + 11}}
			free := box.Min.X >= c.Min.X && box.Max.X <= c.Max.X && box.Min.Y >= c.Min.Y && box.Max.Y <= c.Max.Y
			for _, t := range taken {
				free = free && (box.Max.X < t.Min.X || t.Max.X < box.Min.X || box.Max.Y < t.Min.Y || t.Max.Y < box.Min.Y)
			}
			if free {
				return box, true
			}
		}
	}
	return vg.Rectangle{}, false
}

func around(p vg.Point, dx, dy vg.Length) vg.Rectangle {
	return vg.Rectangle{Min: vg.Point{X: p.X - dx, Y: p.Y - dy}, Max: vg.Point{X: p.X + dx, Y: p.Y + dy}}
}

// whisker draws from a to b along one direction, at in the other.
func whisker(c draw.Canvas, s *sheet, a, b, at vg.Length, across bool) {
	line := draw.LineStyle{Color: s.hue.ink, Width: 1.6}
	for _, l := range [][4]vg.Length{{a, at, b, at}, {a, at - 5, a, at + 5}, {b, at - 5, b, at + 5}} {
		if across {
			c.StrokeLine2(line, l[0], l[1], l[2], l[3])
		} else {
			c.StrokeLine2(line, l[1], l[0], l[3], l[2])
		}
	}
}

// plotter is a function as a plot.Plotter.
type plotter func(draw.Canvas, *plot.Plot)

// Plot implements plot.Plotter.
func (f plotter) Plot(c draw.Canvas, p *plot.Plot) { f(c, p) }

// known is the least and the greatest of values that are there.
func known(values []float64) (least, greatest float64, ok bool) {
	least, greatest = math.Inf(1), math.Inf(-1)
	for _, v := range values {
		if v == v {
			least, greatest, ok = min(least, v), max(greatest, v), true
		}
	}
	return least, greatest, ok
}
