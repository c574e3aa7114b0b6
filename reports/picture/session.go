package picture

import (
	"crypto/sha256"
	"encoding/hex"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"coldbench/metrics/edition"
)

// oneSession draws the powers of one session, the coldest temperature of its
// pack on an axis to the right, its phases as shades and its events as lines. Where
// nothing is plugged in there is no charger.
func oneSession(s *sheet, c draw.Canvas, l edition.Log, of edition.Session) {
	at := minutes(l)
	end := lastActive(l) + 3
	if !of.Charges() {
		end = max(at[len(at)-1], 1) // a car that stands takes next to nothing for days
	}
	from := max(at[0], -3)
	most, least := 0.0, 0.0
	if of.Charges() {
		most = 1
	}
	var curves []plot.Plotter
	var drawn []curve
	var keys []entry
	add := func(name string, values []float64, i int) {
		low, high, ok := known(values)
		if !ok {
			return
		}
		most, least = max(most, high), min(least, low)
		mark := s.mark(i)
		drawn = append(drawn, curve{x: at, y: values, line: s.line(i), mark: mark, marks: 7, offset: float64(i+1) / 5})
		curves = append(curves, drawn[len(drawn)-1])
		keys = append(keys, entry{name: name, line: s.line(i), mark: &mark})
	}
	add("into the pack, kW", l.Trace.PackKW, 0)
	if of.Charges() {
		add("from the charger, kW", l.Trace.ChargerKW, 1)
	}
	add("into the heater, kW", l.Trace.HeaterKW, 2)
	if most-least < 0.01 {
		most = 1
	}
	p := s.frame(axis{label: "minutes since " + of.Start(), from: from, to: end}, axis{label: "kW", from: least, to: most})
	p.X.Min, p.X.Max = from, end
	p.X.Tick.Marker = within(p.X.Tick.Marker, from, end)
	p.Add(plotter(func(d draw.Canvas, p *plot.Plot) { s.phases(d, p, l) }))
	p.Add(curves...)

	space := vg.Length(0)
	if low, high, ok := known(l.Trace.PackMinC); ok {
		space = 70
		bottom, top, step := steps(low, high, 6)
		style := draw.LineStyle{Color: s.hue.lines[3], Width: 2.6, Dashes: []vg.Length{9, 5}}
		mark := s.mark(3)
		keys = append(keys, entry{name: "coldest of the pack, °C", line: style, mark: &mark})
		p.Add(plotter(func(d draw.Canvas, p *plot.Plot) {
			onKW := func(v float64) float64 { return p.Y.Min + (v-bottom)/(top-bottom)*(p.Y.Max-p.Y.Min) }
			values := make([]float64, len(at))
			for i, v := range l.Trace.PackMinC {
				values[i] = onKW(v)
			}
			coldest := curve{x: at, y: values, line: style, mark: mark, marks: 7, offset: 0.8}
			coldest.Plot(d, p)
			drawn = append(drawn, coldest)
			_, y := p.Transforms(&d)
			label := s.text(textSize, s.hue.lines[3], left, mid)
			for v := bottom; v <= top+step/1e6; v += step {
				d.StrokeLine2(draw.LineStyle{Color: s.hue.lines[3], Width: 1}, d.Max.X, y(onKW(v)), d.Max.X+5, y(onKW(v)))
				d.FillText(label, vg.Point{X: d.Max.X + 9, Y: y(onKW(v))}, number(v, places(step)))
			}
			d.StrokeLine2(draw.LineStyle{Color: s.hue.lines[3], Width: 1}, d.Max.X, d.Min.Y, d.Max.X, d.Max.Y)
			label.Rotation, label.XAlign, label.YAlign = math.Pi/2, middle, below
			d.FillText(label, vg.Point{X: d.Max.X + 46, Y: (d.Min.Y + d.Max.Y) / 2}, "°C")
		}))
	}
	p.Add(plotter(func(d draw.Canvas, p *plot.Plot) { s.events(d, p, l, drawn) }))
	p.Draw(draw.Crop(c, 0, -space, 0, -36))
	s.keyAcross(draw.Crop(c, 0, 0, c.Max.Y-c.Min.Y-30, 0), keys)
}

// below puts a text that stands upright to the right of its point.
const below = -1.0

// within leaves out the ticks outside from..to.
func within(t plot.Ticker, from, to float64) plot.Ticker {
	var out []plot.Tick
	for _, k := range t.Ticks(from, to) {
		if k.Value >= from && k.Value <= to {
			out = append(out, k)
		}
	}
	return plot.ConstantTicks(out)
}

// phases shades every other phase and names those that have room for it.
func (s *sheet) phases(d draw.Canvas, p *plot.Plot, l edition.Log) {
	x, _ := p.Transforms(&d)
	clip := func(t float64) vg.Length { return x(min(max((t-l.PlugS)/60, p.X.Min), p.X.Max)) }
	for i, ph := range l.Phases {
		from, to := clip(ph.From), clip(ph.To)
		if to <= from {
			continue
		}
		if i%2 == 0 {
			rect(d, s.hue.band, from, d.Min.Y, to, d.Max.Y)
		}
		style := s.text(textSize, s.hue.soft, middle, top)
		if style.Width(ph.Name) < to-from {
			d.FillText(style, vg.Point{X: (from + to) / 2, Y: d.Max.Y - 3}, ph.Name)
		}
	}
}

// heights are where names of events stand beside their lines, as a part of the
// chart's height, the first that is free.
var heights = []vg.Length{0.42, 0.55, 0.3, 0.65, 0.2, 0.1, 0.02}

// events draws a line at every event that is no free note, with its name where
// the one before left room: to its left, or else to its right, where no curve is.
// Where one is everywhere the name has the ground behind it.
func (s *sheet) events(d draw.Canvas, p *plot.Plot, l edition.Log, drawn []curve) {
	x, _ := p.Transforms(&d)
	style := s.text(textSize, s.hue.soft, left, bottom)
	style.Rotation = math.Pi / 2
	last := vg.Length(-1000)
	for _, ev := range l.Events {
		m := (ev.T - l.PlugS) / 60
		if ev.Kind == "note" || m < p.X.Min || m > p.X.Max {
			continue
		}
		at := x(m)
		d.StrokeLine2(draw.LineStyle{Color: s.hue.soft, Width: 1.2, Dashes: []vg.Length{3, 3}}, at, d.Min.Y, at, d.Max.Y-24)
		if at-last < 21 {
			continue
		}
		last = at
		name := strings.ReplaceAll(ev.Kind, "-", " ")
		place, plate := s.free(d, p, at, style.Width(name), drawn)
		if plate {
			rect(d, s.hue.ground, place.X-textSize, place.Y-3, place.X, place.Y+style.Width(name)+3)
		}
		if place.X > at {
			last = place.X
		}
		d.FillText(style, place, name)
	}
}

// free is where a text of a length stands upright beside the line at at, and whether
// a curve is behind it even so.
func (s *sheet) free(d draw.Canvas, p *plot.Plot, at, long vg.Length, drawn []curve) (place vg.Point, plate bool) {
	for _, x := range []vg.Length{at - 2, at + textSize} {
		for _, part := range heights {
			y := d.Min.Y + (d.Max.Y-d.Min.Y)*part
			if x > d.Max.X || y+long > d.Max.Y-24 {
				continue
			}
			crossed := func(c curve) bool { return c.crosses(d, p, x-textSize, y-3, x, y+long+3) }
			if !slices.ContainsFunc(drawn, crossed) {
				return vg.Point{X: x, Y: y}, false
			}
		}
	}
	return vg.Point{X: at - 2, Y: d.Min.Y + (d.Max.Y-d.Min.Y)*heights[0]}, true
}

// keyAcross draws a key in rows from the left.
func (s *sheet) keyAcross(c draw.Canvas, entries []entry) {
	x, y := c.Min.X, c.Max.Y-12
	for _, e := range entries {
		wide := 42 + s.text(textSize, s.hue.ink, left, mid).Width(e.name) + 22
		if x+wide > c.Max.X {
			x, y = c.Min.X, y-25
		}
		c.StrokeLine2(e.line, x, y, x+34, y)
		if e.mark != nil {
			c.DrawGlyph(*e.mark, vg.Point{X: x + 17, Y: y})
		}
		c.FillText(s.text(textSize, s.hue.ink, left, mid), vg.Point{X: x + 42, Y: y}, e.name)
		x += wide
	}
}

// fileName is a session's picture's: its ID, or where that is too long for a
// file's name the ID's hash.
func fileName(id string) string {
	if len(id) > 200 {
		sum := sha256.Sum256([]byte(id))
		id = hex.EncodeToString(sum[:8])
	}
	return "session-" + id
}
