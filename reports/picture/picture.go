// Package picture draws an edition as still pictures: for a video, over footage
// if need be, and for a page that takes no scripts. All have the shape 16 to 9.
//
// It computes nothing that a figure could hold. The same edition and logs give
// the same bytes. The font is Liberation Sans (SIL Open Font License, beside this
// file), which lies in the program.
package picture

import (
	"fmt"
	"image/color"
	"image/png"
	"io"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"
)

// The drawing's size in points. A PNG's resolution follows from its height.
const (
	width  = 960
	height = 540
)

// Heights of a PNG in pixels: 1920 x 1080 and 3840 x 2160.
const (
	FullHD = 1080
	UHD    = 2160
)

// A Look is what a picture may be asked for.
type Look struct {
	Transparent bool // no ground, to lie over footage
	Dark        bool // light lines, for a dark ground
	Untitled    bool // no title and no foot
}

// A Picture is one drawing of an edition.
type Picture struct {
	Name  string // of its file, without the ending
	Title string
	// draw draws on the whole canvas below the title and above the foot.
	draw func(s *sheet, c draw.Canvas)
	foot string
}

// SVG writes the picture as SVG; its letters are shapes.
func (p Picture) SVG(w io.Writer, l Look) error {
	c := vgsvg.New(width, height)
	p.on(outlines{c}, l)
	if _, err := c.WriteTo(w); err != nil {
		return fmt.Errorf("picture: %s: %w", p.Name, err)
	}
	return nil
}

// PNG writes the picture with a height in pixels, FullHD or UHD; its width is
// 16/9 of that.
func (p Picture) PNG(w io.Writer, l Look, pixels int) error {
	c := vgimg.NewWith(vgimg.UseWH(width, height), vgimg.UseDPI(72*pixels/height), vgimg.UseBackgroundColor(color.Transparent))
	p.on(c, l)
	// Better compression takes half as long again, for a twentieth less.
	if err := (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(w, c.Image()); err != nil {
		return fmt.Errorf("picture: %s: %w", p.Name, err)
	}
	return nil
}

// on draws the whole picture.
func (p Picture) on(c vg.Canvas, l Look) {
	s := &sheet{hue: light}
	if l.Dark {
		s.hue = dark
	}
	whole := draw.NewCanvas(c, width, height)
	if !l.Transparent {
		whole.FillPolygon(s.hue.ground, []vg.Point{{X: 0, Y: 0}, {X: width, Y: 0}, {X: width, Y: height}, {X: 0, Y: height}})
	}
	inner := draw.Crop(whole, 24, -24, 18, -18)
	if !l.Untitled {
		whole.FillText(s.text(titleSize, s.hue.ink, left, top), vg.Point{X: 24, Y: height - 16}, fit(p.Title, titleSize, width-48))
		whole.FillText(s.text(textSize, s.hue.soft, left, bottom), vg.Point{X: 24, Y: 12}, fit(p.foot, textSize, width-48))
		inner = draw.Crop(whole, 24, -24, 42, -56)
	}
	p.draw(s, inner)
}
