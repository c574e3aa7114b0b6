package caution

import (
	"math"
	"strings"
	"testing"
)

// Cells of the chart of the US National Weather Service (2001), in °F and mph.
// The chart prints whole degrees; the metric form may fall on the other side of
// a half, so a cell holds within 0.55 °F.
func TestWindChillChart(t *testing.T) {
	for _, c := range []struct{ f, mph, want float64 }{
		{40, 5, 36}, {30, 10, 21}, {15, 20, -2}, {5, 15, -13}, {0, 15, -19}, {0, 60, -33},
		{-10, 5, -22}, {-10, 30, -39}, {-20, 25, -51}, {-30, 35, -69}, {-45, 60, -98},
	} {
		got, ok := WindChill((c.f-32)/1.8, c.mph*1.609344)
		if f := got*1.8 + 32; !ok || math.Abs(f-c.want) > 0.55 {
			t.Errorf("%g °F at %g mph: %.2f °F %v, the chart says %g", c.f, c.mph, f, ok, c.want)
		}
	}
}

// Worked out from the published metric formula, rounded as charts are.
func TestWindChillMetric(t *testing.T) {
	for _, c := range []struct{ temp, wind, want float64 }{
		{-10, 20, -18}, {-20, 30, -33}, {-25, 30, -39}, {-30, 50, -49}, {-5, 40, -14},
	} {
		if got, ok := WindChill(c.temp, c.wind); !ok || math.Round(got) != c.want {
			t.Errorf("%g °C at %g km/h: %g %v, want %g", c.temp, c.wind, got, ok, c.want)
		}
	}
}

func TestWindChillLimits(t *testing.T) {
	for _, c := range []struct {
		temp, wind float64
		ok         bool
	}{
		{10, 4.9, true}, {10.1, 20, false}, {-10, 4.8, false}, {-10, 0, false},
		{math.NaN(), 20, false}, {-10, math.NaN(), false}, {math.Inf(-1), 20, false}, {-10, math.Inf(1), false},
	} {
		if v, ok := WindChill(c.temp, c.wind); ok != c.ok || !ok && v != 0 {
			t.Errorf("%g °C at %g km/h: %g %v, want %v", c.temp, c.wind, v, ok, c.ok)
		}
	}
}

func TestAll(t *testing.T) {
	all := ""
	for _, c := range All() {
		if c.Title == "" || !strings.HasSuffix(c.Text, ".") {
			t.Errorf("%+v", c)
		}
		all += c.Text
	}
	for _, must := range []string{"Never force", "never pour water", "never defeat an interlock", "carbon monoxide", "pairs"} {
		if !strings.Contains(all, must) {
			t.Errorf("no caution says %q", must)
		}
	}
	for _, must := range []string{"manual", "operator", "local codes", "licensed"} {
		if !strings.Contains(Defer, must) {
			t.Errorf("Defer does not name %q", must)
		}
	}
}
