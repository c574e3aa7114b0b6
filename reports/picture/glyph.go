package picture

import (
	"image/color"
	"math"

	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	plotfont "gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// outlines draws text as the shapes of its letters, so that an SVG looks the
// same where the font is not at hand, without the font in it.
type outlines struct{ vg.Canvas }

// FillString implements vg.Canvas.
func (c outlines) FillString(f plotfont.Face, at vg.Point, s string) {
	var buf sfnt.Buffer
	perEm := f.Face.UnitsPerEm()
	scale := f.Font.Size / vg.Length(perEm)
	ppem := fixed.Int26_6(perEm) // a unit is then a sixty-fourth, which units below undo
	var path vg.Path
	var last sfnt.GlyphIndex
	x := at.X
	for i, r := range s {
		n, err := f.Face.GlyphIndex(&buf, r)
		if err != nil {
			continue // fit has made sure that the font has it
		}
		if i > 0 {
			if kern, err := f.Face.Kern(&buf, last, n, ppem, font.HintingNone); err == nil {
				x += vg.Length(kern) * scale
			}
		}
		last = n
		segments, err := f.Face.LoadGlyph(&buf, n, ppem, nil)
		if err != nil {
			continue
		}
		point := func(p fixed.Point26_6) vg.Point {
			return vg.Point{X: x + vg.Length(p.X)*scale, Y: at.Y - vg.Length(p.Y)*scale}
		}
		for k, seg := range segments {
			switch seg.Op {
			case sfnt.SegmentOpMoveTo:
				if k > 0 {
					path.Close()
				}
				path.Move(point(seg.Args[0]))
			case sfnt.SegmentOpLineTo:
				path.Line(point(seg.Args[0]))
			case sfnt.SegmentOpQuadTo:
				path.QuadTo(point(seg.Args[0]), point(seg.Args[1]))
			case sfnt.SegmentOpCubeTo:
				path.CubeTo(point(seg.Args[0]), point(seg.Args[1]), point(seg.Args[2]))
			}
		}
		if len(segments) > 0 {
			path.Close()
		}
		if advance, err := f.Face.GlyphAdvance(&buf, n, ppem, font.HintingNone); err == nil {
			x += vg.Length(advance) * scale
		}
	}
	if len(path) > 0 {
		c.Fill(path)
	}
}

// A shape is a mark: corners on a circle, or a disc where it has none, filled
// or hollow.
type shape struct {
	corners int
	turn    float64 // of the first corner, rad from the right
	hollow  bool
	ground  color.Color // within a hollow one
}

// DrawGlyph implements draw.GlyphDrawer.
func (m shape) DrawGlyph(c *draw.Canvas, style draw.GlyphStyle, at vg.Point) {
	var path vg.Path
	if m.corners == 0 {
		path.Move(vg.Point{X: at.X + style.Radius, Y: at.Y})
		path.Arc(at, style.Radius, 0, 2*math.Pi)
	}
	for i := range m.corners {
		a := m.turn + 2*math.Pi*float64(i)/float64(m.corners)
		p := vg.Point{X: at.X + style.Radius*vg.Length(1.25*math.Cos(a)), Y: at.Y + style.Radius*vg.Length(1.25*math.Sin(a))}
		if i == 0 {
			path.Move(p)
		} else {
			path.Line(p)
		}
	}
	path.Close()
	if !m.hollow {
		c.SetColor(style.Color)
		c.Fill(path)
		return
	}
	c.SetColor(m.ground)
	c.Fill(path)
	c.SetLineStyle(draw.LineStyle{Color: style.Color, Width: 2.2})
	c.Stroke(path)
}

// shapes are the marks of lines, on a ground.
func shapes(ground color.Color) []shape {
	up, square, diamond := math.Pi/2, math.Pi/4, 0.0
	return []shape{
		{}, {4, square, true, ground}, {3, up, false, nil}, {0, 0, true, ground},
		{4, square, false, nil}, {3, up, true, ground}, {4, diamond, false, nil},
	}
}
