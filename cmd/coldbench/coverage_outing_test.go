package main

import (
	"fmt"
	"maps"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"coldbench/ingest/demo"
)

// ofOutings reports whether only sessions that charge nothing have the figure.
func ofOutings(figure string) bool {
	return strings.HasPrefix(figure, "cabin_") || strings.HasPrefix(figure, "drive_") || strings.HasPrefix(figure, "standby_")
}

// As TestCoverage, over random sessions that charge nothing: cabins warmed, drives in
// the cold and in the warm, cars that stand. A fallback is tallied by itself and may be
// wide: what it cannot know is small in this model, and need not be in another. A cabin
// that ends about at the target may be there by the model and not by the probe.
func TestOutingCoverage(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "outings")
	if err := demo.WriteOutings(dir, 280, 11); err != nil {
		t.Fatal(err)
	}
	e, truth := figuresOf(t, dir), truthOf(t, dir)
	type tally struct{ n, one, two int }
	all, by := tally{}, map[string]*tally{}
	for _, f := range e.Results {
		want, ok := truth[[2]string{f.Session, f.Figure}]
		if compares(f.Figure) || ofInstruments[f.Figure] {
			continue
		}
		if ok && !f.Ranked() && (inGap(f.Note) || ifLogged[f.Figure] || strings.HasPrefix(f.Note, "the log ends before")) {
			continue
		}
		if ok != f.Ranked() && f.Status != "beyond" {
			t.Errorf("%s %s: really there: %v; but %s: %s", f.Session, f.Figure, ok, f.Status, f.Note)
			continue
		}
		if !ok || !f.Ranked() {
			continue
		}
		d := math.Max(0, math.Abs(*f.Value-want)-1e-8*math.Abs(want))
		if d > 4.5**f.U {
			t.Errorf("%s %s = %v ± %v, really %v (%s)", f.Session, f.Figure, *f.Value, *f.U, want, f.Note)
		}
		if want == 0 && *f.Value == 0 {
			continue
		}
		name := f.Figure
		if f.Status == "fallback" {
			name += ", fallback"
		}
		if by[name] == nil {
			by[name] = &tally{}
		}
		counts := []*tally{by[name]}
		if ofOutings(f.Figure) {
			counts = append(counts, &all)
		}
		for _, c := range counts {
			c.n++
			if d <= *f.U {
				c.one++
			}
			if d <= 2**f.U {
				c.two++
			}
		}
	}
	share := func(k, n int) float64 { return float64(k) / float64(n) }
	one, two := share(all.one, all.n), share(all.two, all.n)
	t.Logf("of %d results %.3f lie within their standard uncertainty, %.3f within twice", all.n, one, two)
	if all.n < 1000 || one < 0.60 || one > 0.80 || two < 0.93 {
		t.Errorf("of %d results %.3f lie within their standard uncertainty, %.3f within twice", all.n, one, two)
	}
	for _, name := range slices.Sorted(maps.Keys(by)) {
		c := by[name]
		line := fmt.Sprintf("%-32s %3d results, %.3f within u, %.3f within 2u", name, c.n, share(c.one, c.n), share(c.two, c.n))
		t.Log(line)
		if one, two := share(c.one, c.n), share(c.two, c.n); c.n >= 50 && (one < 0.50 || one > 0.88 && surer[name] == "" && !strings.HasSuffix(name, "fallback") || two < 0.90) {
			t.Error(line)
		}
	}
}
