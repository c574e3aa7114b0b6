package workbook

import (
	"bytes"
	"strings"
	"testing"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	point "golang.org/x/image/math/fixed"

	"coldbench/metrics/edition"
)

// ruler measures texts by a font, in its sizes. Liberation Sans is as wide as Arial,
// character by character.
func ruler(t *testing.T, ttf []byte) func(string) float64 {
	t.Helper()
	f, err := sfnt.Parse(ttf)
	if err != nil {
		t.Fatal(err)
	}
	var buf sfnt.Buffer
	const em = 1000
	return func(s string) float64 {
		w := 0.0
		for _, r := range s {
			i, err := f.GlyphIndex(&buf, r)
			if err != nil || i == 0 {
				t.Fatalf("the font has no %q: %v", r, err)
			}
			a, err := f.GlyphAdvance(&buf, i, point.I(em), font.HintingNone)
			if err != nil {
				t.Fatal(err)
			}
			w += float64(a) / 64 / em
		}
		return w
	}
}

// No character of numbers and units is wider than it is taken for.
func TestBreadth(t *testing.T) {
	wide := ruler(t, liberationsansregular.TTF)
	for r := ' '; r <= '~'; r++ {
		if w := wide(string(r)) / wide("0"); w > breadth(string(r))+0.005 {
			t.Errorf("%q is %.3f digits wide, taken for %.2f", r, w, breadth(string(r)))
		}
	}
	for _, s := range []string{"±", "°C", "kWh/100 km", "Wh/km", "·", "²", "> 28.11 kWh/100 km *", "WWW/MMM"} {
		if w := wide(s) / wide("0"); w > breadth(s)+0.005 {
			t.Errorf("%q is %.3f digits wide, taken for %.2f", s, w, breadth(s))
		}
	}
	if w := wide("0"); w > digitWidth+0.001 || w < digitWidth-0.001 {
		t.Errorf("a digit is %v of its size wide", w)
	}
}

// driven is the sample with figures whose numbers are long.
func driven() (*edition.Edition, []edition.Log) {
	e, logs := awkward()
	for i, unit := range []string{"kWh/100 km", "Wh/km", "MWh/1000 km", "K/min"} {
		name := "driven_" + string(rune('a'+i))
		e.Figures = append(e.Figures, edition.Defined{Name: name, Title: "Consumption of the drive, by " + unit, Unit: unit, Better: "lower", Method: "definition is ours"})
		for k, s := range e.Sessions {
			f := edition.Figure{Session: s.ID, Figure: name, Unit: unit, Status: edition.Measured, Value: pointer(28.11 * []float64{1, -10, 1000}[k%3]), U: pointer(0.028), From: pointer(-5e5), To: pointer(5e6)}
			if k == 1 {
				f.Status = edition.Fallback
			}
			e.Results = append(e.Results, f)
		}
		e.Penalties = append(e.Penalties, edition.Penalty{Session: e.Sessions[0].ID, Figure: name, Cold: 28.11, ColdU: 0.28, Control: 16.02, ControlU: 0.16, Difference: 12.09, U: 0.32})
	}
	sortResults(e)
	e.Sessions[0].Sources[0].Bytes, e.Sessions[0].Sources[0].OffsetS = 12_345_678_901, -31_536_000
	e.Variances = append(e.Variances, edition.Variance{Figure: "driven_a", Cars: 3, Sessions: 7, Repeatability: 0.012, CarsSD: 123.4, F: 12345.6, P: 0.5})
	return e, logs
}

// Every column is as wide as its numbers are, as another library formats them and the
// font measures them, with two pixels at each side.
func TestNumbersFitTheirColumns(t *testing.T) {
	wide, wideBold := ruler(t, liberationsansregular.TTF), ruler(t, liberationsansbold.TTF)
	for name, made := range map[string]func() (*edition.Edition, []edition.Log){"awkward": awkward, "broad": broad, "crowded": crowded, "driven": driven} {
		e, logs := made()
		b := filled(e, logs, nil, nil)
		var w bytes.Buffer
		if err := b.write(&w); err != nil {
			t.Fatal(err)
		}
		f := opened(t, w.Bytes())
		n := 0
		for _, s := range b.sheets {
			for row, cells := range s.cells {
				for col, c := range cells {
					l := b.looks[c.style]
					if c.holds != isNumber || l.format == "" || c.across > 1 {
						continue
					}
					n++
					text, err := f.GetCellValue(s.name, ref(col, row))
					if err != nil || text == "" {
						t.Fatalf("%s: %s!%s: %q %v", name, s.name, ref(col, row), text, err)
					}
					measure := wide
					if l.bold {
						measure = wideBold
					}
					const side = 2 * 0.75 // points
					if need, has := measure(text)*l.points()+2*side, s.width(col)*unitWidth; need > has {
						t.Errorf("%s: %s!%s: %q needs %.1f points, its column has %.1f", name, s.name, ref(col, row), text, need, has)
					}
				}
			}
			if s.late {
				t.Errorf("%s: %s was laid on pages before its columns were known", name, s.name)
			}
		}
		if n < 500 {
			t.Errorf("%s: only %d numbers", name, n)
		}
	}
	// Units are texts, which the next cell would cut.
	e, logs := driven()
	b := filled(e, logs, nil, nil)
	s := b.bySession[e.Sessions[0].ID]
	for row, cells := range s.cells {
		for col, c := range cells {
			if strings.HasSuffix(c.text, "Wh/1000 km") && c.holds == isText && col == 4 && (wide(c.text)*10+unitWidth > s.width(col)*unitWidth) {
				t.Errorf("row %d: %q is wider than its column", row, c.text)
			}
		}
	}
}
