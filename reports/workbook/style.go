package workbook

import (
	"strings"

	"github.com/xuri/excelize/v2"

	"coldbench/metrics/edition"
)

// The palette is quiet, and no meaning is carried by colour alone. The lines'
// colours are those of Okabe and Ito (2008), which colour-blind people can tell
// apart.
const (
	ink   = "22303A"
	faint = "6B7780"
	slate = "34495A" // heads of tables
	pale  = "EEF2F4" // heads within tables
	rule  = "C9D2D8"
	paper = "FFFFFF"
	entry = "FFF6D9" // cells that people may change

	goodFill    = "D9EDE6"
	warnFill    = "FBE8C3"
	badFill     = "F3D2C4"
	unknownFill = "E4E6E8"

	lineBlue   = "0072B2"
	lineOrange = "E69F00"
	lineRed    = "D55E00"
	lineGreen  = "009E73"
)

const (
	family = "Arial"
	mono   = "Courier New"
)

// A look is how a cell looks. It is comparable, so that equal looks share one
// style of the workbook.
type look struct {
	size   float64 // 0: 10 pt
	bold   bool
	italic bool
	under  bool
	mono   bool
	color  string // "": ink
	fill   string
	format string // number format; "": general
	align  string // "left", "center", "right"; "": by type
	middle bool   // vertically; else top
	wrap   bool
	ruled  bool // a thin line below
	boxed  bool
	indent int
}

var (
	body      = look{ruled: true}
	wrapped   = look{ruled: true, wrap: true}
	title     = look{size: 16, bold: true, color: slate}
	subtitle  = look{color: faint}
	section   = look{size: 12, bold: true, color: slate}
	head      = look{bold: true, color: paper, fill: slate, wrap: true, middle: true}
	headNum   = look{bold: true, color: paper, fill: slate, wrap: true, middle: true, align: "right"}
	headNext  = look{bold: true, color: paper, fill: slate, wrap: true, middle: true, align: "left", indent: 1} // right of numbers
	next      = look{ruled: true, align: "left", indent: 1}
	label     = look{bold: true, fill: pale, ruled: true, wrap: true}
	para      = look{wrap: true}
	small     = look{size: 9, color: faint, wrap: true}
	linked    = look{ruled: true, color: lineBlue, under: true, wrap: true}
	linkPlain = look{color: lineBlue, under: true}
	hash      = look{mono: true, size: 7, ruled: true}
)

func (l look) with(format string) look {
	l.format = format
	return l
}

// points is the font's size.
func (l look) points() float64 {
	if l.size == 0 {
		return 10
	}
	return l.size
}

func (l look) style() *excelize.Style {
	font := &excelize.Font{Family: family, Size: l.points(), Bold: l.bold, Italic: l.italic, Color: ink}
	if l.mono {
		font.Family = mono
	}
	if l.color != "" {
		font.Color = l.color
	}
	if l.under {
		font.Underline = "single"
	}
	st := &excelize.Style{Font: font, Alignment: &excelize.Alignment{Horizontal: l.align, Vertical: "top", WrapText: l.wrap, Indent: l.indent}}
	// Text that reads from the right would else stand at the right.
	if l.wrap && l.align == "" {
		st.Alignment.Horizontal = "left"
	}
	if l.middle {
		st.Alignment.Vertical = "center"
	}
	if l.fill != "" {
		st.Fill = excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{l.fill}}
	}
	if l.format != "" {
		st.CustomNumFmt = &l.format
	}
	sides := []string{}
	if l.ruled {
		sides = []string{"bottom"}
	}
	if l.boxed {
		sides = []string{"left", "right", "top", "bottom"}
	}
	for _, side := range sides {
		st.Border = append(st.Border, excelize.Border{Type: side, Color: rule, Style: 1})
	}
	return st
}

// logged is how a log's values are shown, which have no uncertainty of their own.
func (b *book) logged(unit string) look { return body.with(b.format(1, unit, "", "")) }

// valued is the number format of a value with its standard uncertainty.
func (b *book) valued(v float64, u *float64, unit string) string {
	return b.format(edition.Decimals(v, u), unit, "", "")
}

// uncertain is that of the standard uncertainty u of a value v.
func (b *book) uncertain(v float64, u *float64, unit string) string {
	if edition.Tiny(u) {
		return quoted(edition.WithUnit("± < "+edition.Least, oneLine(unit, 20)))
	}
	n := 0
	if u != nil && *u > 0 {
		n = edition.Decimals(v, u)
	}
	return b.format(n, unit, "± ", "")
}

// unitFormat is a number format that carries the unit: 0.0" kW".
func unitFormat(digits int, unit, before, after string) string {
	f := "0"
	if digits > 0 {
		f += "." + strings.Repeat("0", digits)
	}
	if unit != "" && unit != "1" {
		after = " " + oneLine(unit, 20) + after
	}
	return quoted(before) + f + quoted(after)
}

func quoted(s string) string {
	if strings.TrimSpace(s) == "" {
		return ""
	}
	return `"` + strings.ReplaceAll(s, `"`, "") + `"`
}

// A format is what unitFormat makes a number format of.
type format struct {
	digits              int
	unit, before, after string
}

// format is unitFormat, which is asked for few formats of many cells.
func (b *book) format(digits int, unit, before, after string) string {
	f := format{digits, unit, before, after}
	text, ok := b.formats[f]
	if !ok {
		text = unitFormat(digits, unit, before, after)
		b.formats[f] = text
	}
	return text
}
