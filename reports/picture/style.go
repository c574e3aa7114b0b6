package picture

import (
	"image/color"
	"math"
	"sort"
	"strings"
	"unicode"

	"golang.org/x/image/font/sfnt"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"coldbench/metrics/edition"
	"coldbench/reports/palette"
)

// Sizes of text in points. The capitals of the smallest are 0.688 of it, 2.2 %
// of the picture's height, so that a phone shows them.
const (
	textSize  = 17.5
	titleSize = 25
)

// Alignments of text to the point that it is drawn at.
const (
	left, middle, right = text.XLeft, text.XCenter, text.XRight
	bottom, mid, top    = text.YBottom, text.YCenter, text.YTop
)

// hues are the colours of a ground. Neighbours among the lines differ in
// lightness too, and every line has a mark of its own shape, so that nobody has
// to tell colours apart.
type hues struct {
	ground, ink, soft, rule, band color.NRGBA
	lines                         []color.NRGBA
}

var (
	light = hues{
		ground: rgb(0xffffff), ink: rgb(0x1c2630), soft: rgb(0x55616d), rule: rgb(0xcdd5dc), band: color.NRGBA{0x55, 0x61, 0x6d, 0x18},
		lines: colors(palette.Lines),
	}
	dark = hues{
		ground: rgb(0x12181e), ink: rgb(0xe6ebf0), soft: rgb(0xa5b1bc), rule: rgb(0x3a4550), band: color.NRGBA{0xa5, 0xb1, 0xbc, 0x20},
		lines: colors(palette.LinesDark),
	}
)

func colors(values []uint32) []color.NRGBA {
	var out []color.NRGBA
	for _, v := range values {
		out = append(out, rgb(v))
	}
	return out
}

func rgb(v uint32) color.NRGBA {
	return color.NRGBA{uint8(v >> 16), uint8(v >> 8), uint8(v), 0xff}
}

// A sheet is what drawings have in common.
type sheet struct{ hue hues }

func (s *sheet) text(size vg.Length, c color.Color, x text.XAlignment, y text.YAlignment) draw.TextStyle {
	return draw.TextStyle{Color: c, Font: face(size), XAlign: x, YAlign: y, Handler: plain}
}

func (s *sheet) line(i int) draw.LineStyle {
	return draw.LineStyle{Color: s.hue.lines[i%len(s.hue.lines)], Width: 2.6}
}

func (s *sheet) mark(i int) draw.GlyphStyle {
	marks := shapes(s.hue.ground)
	return draw.GlyphStyle{Color: s.hue.lines[i%len(s.hue.lines)], Radius: 5.5, Shape: marks[i%len(marks)]}
}

var plain = text.Plain{Fonts: font.DefaultCache}

func face(size vg.Length) font.Font {
	return font.Font{Typeface: "Liberation", Variant: "Sans", Size: size}
}

// fit is a text on one line that the font can show, cut to a width.
func fit(s string, size, most vg.Length) string {
	f := face(size)
	loaded := font.DefaultCache.Lookup(f, size)
	var buf sfnt.Buffer
	s = strings.Join(strings.Fields(strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r):
			return ' '
		case unicode.Is(unicode.Cf, r), unicode.Is(unicode.Mn, r), unicode.Is(unicode.Variation_Selector, r):
			return -1 // they have no width, and some turn the direction of what follows
		}
		// What the font has no shape for would vanish without a trace.
		if n, err := loaded.Face.GlyphIndex(&buf, r); err != nil || n == 0 || unicode.IsControl(r) {
			return '□'
		}
		return r
	}, s)), " ")
	if loaded.Width(s) <= most {
		return s
	}
	// The start that fits, by halves: a name of thousands of letters would
	// else be measured thousands of times.
	runes := []rune(s)
	short := func(n int) string { return strings.TrimSpace(string(runes[:n])) + "…" }
	n := sort.Search(len(runes), func(n int) bool { return loaded.Width(short(n+1)) > most })
	return short(n)
}

// number is v with a proper minus sign and at most n decimals, none that are 0
// at its end.
func number(v float64, n int) string {
	return strings.Replace(edition.Number(v, n), "-", "−", 1)
}

// steps are the ends and the step of an axis that holds from..to: a step of 1, 2
// or 5 times a power of ten, at most n of them.
func steps(from, to float64, n int) (first, last, step float64) {
	if to <= from {
		to = from + 1
	}
	raw := (to - from) / float64(n)
	step = math.Pow(10, math.Floor(math.Log10(raw)))
	for _, m := range []float64{1, 2, 5, 10} {
		first, last = math.Floor(from/(step*m)+1e-9)*step*m, math.Ceil(to/(step*m)-1e-9)*step*m
		if (last-first)/(step*m) <= float64(n)+1e-9 {
			return first, last, step * m
		}
	}
	step *= 20
	return math.Floor(from/step) * step, math.Ceil(to/step) * step, step
}

// places is how many decimals a step has.
func places(step float64) int { return max(0, int(math.Ceil(-math.Log10(step)-1e-9))) }
