package picture

import (
	"image/color"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// An axis is one direction of a chart.
type axis struct {
	label      string
	from, to   float64
	unlabelled bool // no numbers: rows have names of their own
}

// frame makes a plot with our axes and lines to read along.
func (s *sheet) frame(x, y axis) *plot.Plot {
	p := plot.New()
	p.BackgroundColor = nil
	p.TextHandler = plain
	s.axis(&p.X, x, 10)
	s.axis(&p.Y, y, 6)
	p.Add(grid{s, !x.unlabelled, !y.unlabelled})
	return p
}

// axis sets a plot's axis up with at most n steps.
func (s *sheet) axis(a *plot.Axis, as axis, n int) {
	from, to, step := steps(as.from, as.to, n)
	if as.unlabelled {
		from, to = as.from, as.to
	}
	a.Min, a.Max = from, to
	a.Color, a.Width = s.hue.soft, 1
	a.Label.Text = as.label
	a.Label.TextStyle = s.text(textSize, s.hue.ink, middle, bottom)
	a.Label.Padding = 4
	a.Tick.Label = s.text(textSize, s.hue.ink, a.Tick.Label.XAlign, a.Tick.Label.YAlign)
	a.Tick.LineStyle = draw.LineStyle{Color: s.hue.soft, Width: 1}
	a.Tick.Length = 5
	var ticks []plot.Tick
	if !as.unlabelled {
		for i := 0; from+float64(i)*step <= to+step/1e6; i++ {
			v := from + float64(i)*step
			ticks = append(ticks, plot.Tick{Value: v, Label: number(v, places(step))})
		}
	}
	a.Tick.Marker = plot.ConstantTicks(ticks)
}

// grid draws lines at the ticks.
type grid struct {
	s    *sheet
	x, y bool
}

// Plot implements plot.Plotter.
func (g grid) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	line := draw.LineStyle{Color: g.s.hue.rule, Width: 0.8}
	for _, t := range p.X.Tick.Marker.Ticks(p.X.Min, p.X.Max) {
		if g.x {
			c.StrokeLine2(line, x(t.Value), c.Min.Y, x(t.Value), c.Max.Y)
		}
	}
	for _, t := range p.Y.Tick.Marker.Ticks(p.Y.Min, p.Y.Max) {
		if g.y {
			c.StrokeLine2(line, c.Min.X, y(t.Value), c.Max.X, y(t.Value))
		}
	}
}

// A curve is one line with marks, and gaps where a value is NaN.
type curve struct {
	x, y   []float64
	line   draw.LineStyle
	mark   draw.GlyphStyle
	marks  int     // about how many marks, 0: none
	offset float64 // of the first mark, as a part of the space between marks
}

// Plot implements plot.Plotter.
func (l curve) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	var run []vg.Point
	flush := func() {
		if len(run) > 1 {
			c.StrokeLines(l.line, c.ClipLinesXY(run)...)
		} else if len(run) == 1 && c.Contains(run[0]) {
			c.DrawGlyph(draw.GlyphStyle{Color: l.line.Color, Radius: l.line.Width / 2, Shape: draw.CircleGlyph{}}, run[0])
		}
		run = nil
	}
	space := (c.Max.X - c.Min.X) / vg.Length(max(l.marks, 1))
	next := c.Min.X + space*vg.Length(l.offset)
	var at []vg.Point
	for i := range l.x {
		if l.x[i] != l.x[i] || l.y[i] != l.y[i] {
			flush()
			continue
		}
		pt := vg.Point{X: x(l.x[i]), Y: y(l.y[i])}
		run = append(run, pt)
		if l.marks > 0 && pt.X >= next && c.Contains(pt) {
			at = append(at, pt)
			for next <= pt.X {
				next += space
			}
		}
	}
	flush()
	for _, pt := range at {
		c.DrawGlyph(l.mark, pt)
	}
}

// crosses reports whether the line goes through a rectangle of the canvas.
func (l curve) crosses(c draw.Canvas, p *plot.Plot, x0, y0, x1, y1 vg.Length) bool {
	x, y := p.Transforms(&c)
	half := l.line.Width / 2
	for i := 1; i < len(l.x); i++ {
		if l.x[i] != l.x[i] || l.y[i] != l.y[i] || l.y[i-1] != l.y[i-1] {
			continue
		}
		ax, ay, bx, by := x(l.x[i-1]), y(l.y[i-1]), x(l.x[i]), y(l.y[i])
		if bx < x0-half || ax > x1+half {
			continue
		}
		low, high := ay, by // of a segment that goes straight up
		if bx > ax {
			on := func(at vg.Length) vg.Length { return ay + (by-ay)*(min(max(at, ax), bx)-ax)/(bx-ax) }
			low, high = on(x0), on(x1)
		}
		if max(low, high) >= y0-half && min(low, high) <= y1+half {
			return true
		}
	}
	return false
}

// An entry is one line of a key.
type entry struct {
	name string
	more string // below the name, where there is more to say
	line draw.LineStyle
	mark *draw.GlyphStyle
}

// keyWidth is how wide a key beside a chart is.
const keyWidth = 226

// key draws a list of lines in the upper right of the canvas.
func (s *sheet) key(c draw.Canvas, entries []entry, note string) {
	y := c.Max.Y - 14
	for _, e := range entries {
		c.StrokeLine2(e.line, c.Min.X, y, c.Min.X+34, y)
		if e.mark != nil {
			c.DrawGlyph(*e.mark, vg.Point{X: c.Min.X + 17, Y: y})
		}
		c.FillText(s.text(textSize, s.hue.ink, left, mid), vg.Point{X: c.Min.X + 42, Y: y}, fit(e.name, textSize, c.Max.X-c.Min.X-42))
		if e.more != "" {
			y -= 20
			c.FillText(s.text(textSize, s.hue.soft, left, mid), vg.Point{X: c.Min.X + 42, Y: y}, fit(e.more, textSize, c.Max.X-c.Min.X-42))
		}
		y -= 25
	}
	if note != "" {
		c.FillText(s.text(textSize, s.hue.soft, left, mid), vg.Point{X: c.Min.X, Y: y}, fit(note, textSize, c.Max.X-c.Min.X))
	}
}

// say writes one sentence where there is nothing to draw.
func (s *sheet) say(c draw.Canvas, sentence string) {
	c.FillText(s.text(textSize, s.hue.soft, middle, mid), c.Center(), fit(sentence, textSize, c.Max.X-c.Min.X))
}

// rect fills a rectangle.
func rect(c draw.Canvas, fill color.Color, x0, y0, x1, y1 vg.Length) {
	c.FillPolygon(fill, []vg.Point{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}})
}
