package picture

import (
	"math"
	"testing"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/recorder"
)

// The name of an event stands where no curve goes through it: of a chart of 1000 by 1000
// points whose axes run from 0 to 100, at 50, beside curves that leave room below, on the
// right alone, or nowhere.
func TestNamesOfEventsAreFree(t *testing.T) {
	d := draw.NewCanvas(&recorder.Canvas{}, 1000, 1000)
	p := plot.New()
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = 0, 100, 0, 100
	// up and down from minute to minute, 0.2 apart
	zigzag := func(from, to, low, high float64) curve {
		c := curve{line: draw.LineStyle{Width: 2.6}}
		for x := from; x <= to; x += 0.2 {
			c.x, c.y = append(c.x, x), append(c.y, low)
			low, high = high, low
		}
		return c
	}
	hole := curve{x: []float64{0, 49, 51, 100}, y: []float64{50, math.NaN(), math.NaN(), 50}}
	s := &sheet{}
	const long, at = 120, 500
	for _, c := range []struct {
		name  string
		drawn []curve
		want  vg.Point
		plate bool
	}{
		{"nothing", nil, vg.Point{X: at - 2, Y: 420}, false},
		{"a hole in the line", []curve{hole}, vg.Point{X: at - 2, Y: 420}, false},
		{"a line across it", []curve{{x: []float64{0, 100}, y: []float64{50, 50}}}, vg.Point{X: at - 2, Y: 550}, false},
		{"a step beside it", []curve{{x: []float64{0, 49, 49, 100}, y: []float64{99, 99, 1, 1}}}, vg.Point{X: at + textSize, Y: 420}, false},
		{"room below", []curve{zigzag(0, 100, 40, 100)}, vg.Point{X: at - 2, Y: 200}, false},
		{"room at the right", []curve{zigzag(0, 49.9, 0, 100)}, vg.Point{X: at + textSize, Y: 420}, false},
		{"no room", []curve{zigzag(0, 100, 0, 100)}, vg.Point{X: at - 2, Y: 420}, true},
	} {
		if place, plate := s.free(d, p, at, long, c.drawn); math.Abs(float64(place.X-c.want.X))+math.Abs(float64(place.Y-c.want.Y)) > 1e-6 || plate != c.plate {
			t.Errorf("%s: at %v, plate %v, want %v, %v", c.name, place, plate, c.want, c.plate)
		}
	}
}
