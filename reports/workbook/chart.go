package workbook

import (
	"bytes"
	"cmp"
	"encoding/xml"
	"fmt"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"
)

// A chart is a scatter chart, drawn from cells of its sheet.
type chart struct {
	title          string
	xTitle, yTitle string
	col, row       int // of its top left corner
	toCol, toRow   int // that it covers, the last included
	width, height  uint
	x              int // column, of series that have none of their own
	head           int // row of the columns' names
	first, lastRow int // rows of the readings
	series         []series
	top            *float64 // of the y axis; nil: chosen by the reader
	bridged        bool     // lines go over holes
}

// A series is a column of a chart, named by the head of the column.
type series struct {
	name, color string
	col         int
	x           int // column, 0: the chart's
	dash        bool
}

// drawCharts adds the sheet's charts. The library writes x as text without
// values, so that readers which do not calculate plot nothing; the references
// are written again as numbers, with the values.
func (s *sheet) drawCharts(f *excelize.File, _, _ int) error {
	for row, points := range s.tall { // a chart's corner is laid by the rows above it
		if err := f.SetRowHeight(s.name, row, points); err != nil {
			return err
		}
	}
	for _, c := range s.charts {
		if err := s.addChart(f, c); err != nil {
			return err
		}
		s.book.charts++
		name := fmt.Sprintf("xl/charts/chart%d.xml", s.book.charts) // the library counts, too
		part, _ := f.Pkg.Load(name)
		text, ok := part.([]byte)
		if !ok {
			return fmt.Errorf("chart %q: no part %s", c.title, name)
		}
		mended, err := s.cacheNumbers(text, c)
		if err != nil {
			return fmt.Errorf("chart %q: %w", c.title, err)
		}
		f.Pkg.Store(name, mended)
	}
	return nil
}

func (s *sheet) addChart(f *excelize.File, c chart) error {
	font := excelize.Font{Family: family, Size: 9, Color: faint}
	run := func(text string, size float64) []excelize.RichTextRun {
		return []excelize.RichTextRun{{Text: text, Font: &excelize.Font{Family: family, Size: size, Color: ink, Bold: size > 9}}}
	}
	ch := &excelize.Chart{
		Type:         excelize.Scatter,
		Dimension:    excelize.ChartDimension{Width: c.width, Height: c.height},
		Title:        excelize.ChartTitle{Paragraph: run(c.title, 11)},
		Legend:       excelize.ChartLegend{Position: "bottom", Font: &font},
		Format:       excelize.GraphicOptions{AltText: c.title + ", over " + c.xTitle},
		ShowBlanksAs: "gap",
		Border:       excelize.LineOptions{Type: excelize.LineSolid, Fill: solid(rule), Width: 0.75},
		XAxis: excelize.ChartAxis{
			Font: font, Title: excelize.ChartTitle{Paragraph: run(c.xTitle, 9)},
			NumFmt: excelize.ChartNumFmt{CustomNumFmt: "0"}, TickLabelPosition: excelize.ChartTickLabelLow,
		},
		YAxis: excelize.ChartAxis{
			Font: font, MajorGridLines: true, Title: excelize.ChartTitle{Paragraph: run(c.yTitle, 9)},
			NumFmt: excelize.ChartNumFmt{CustomNumFmt: "General"}, TickLabelPosition: excelize.ChartTickLabelLow,
		},
	}
	ch.YAxis.Maximum = c.top
	if c.bridged {
		ch.ShowBlanksAs = "span"
	}
	for _, x := range c.series {
		line := excelize.LineOptions{Type: excelize.LineSolid, Fill: solid(x.color), Width: 1.75}
		if x.dash {
			line.Dash = excelize.LineDashDash
		}
		ch.Series = append(ch.Series, excelize.ChartSeries{
			Name:       s.nameOf(x, c),
			Categories: s.rangeIn(cmp.Or(x.x, c.x), c), Values: s.rangeIn(x.col, c),
			Fill: solid(x.color), Line: line, Marker: excelize.ChartMarker{Symbol: "none"},
		})
	}
	return f.AddChart(s.name, ref(c.col, c.row), ch)
}

func solid(color string) excelize.Fill {
	return excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{color}}
}

// nameOf refers to the head of a series' column.
func (s *sheet) nameOf(x series, c chart) string {
	return s.quotedName() + "!" + fixed(x.col, c.head, x.col, c.head)
}

func (s *sheet) rangeIn(col int, c chart) string {
	return s.quotedName() + "!" + fixed(col, c.first, col, c.lastRow)
}

// cacheNumbers rewrites the references of a chart's part with what they hold, a
// series after the other.
func (s *sheet) cacheNumbers(part []byte, c chart) ([]byte, error) {
	var err error
	xs := map[int]string{} // by column
	for _, y := range c.series {
		if col := cmp.Or(y.x, c.x); xs[col] == "" {
			xs[col] = s.numbers(col, c)
		}
	}
	out := make([]byte, 0, len(part)+3*len(c.series)*30*(c.lastRow-c.first+1))
	replace := func(old string, by ...string) {
		i := bytes.Index(part, []byte(old))
		if i < 0 {
			err = cmp.Or(err, fmt.Errorf("the part has no %s", old))
			return
		}
		out, part = append(out, part[:i]...), part[i+len(old):]
		for _, text := range by {
			out = append(out, text...)
		}
	}
	f := func(reference string) string { return "<f>" + escape(reference) + "</f>" }
	for _, y := range c.series {
		name, col := f(s.nameOf(y, c)), cmp.Or(y.x, c.x)
		x, at := f(s.rangeIn(col, c)), f(s.rangeIn(y.col, c))
		replace(name, name, `<strCache><ptCount val="1"/><pt idx="0"><v>`, escape(y.name), "</v></pt></strCache>")
		replace("<xVal><strRef>"+x+"</strRef></xVal>", "<xVal><numRef>", x, xs[col], "</numRef></xVal>")
		replace(at+"<numCache><formatCode></formatCode></numCache>", at, s.numbers(y.col, c))
	}
	return append(out, part...), err
}

func escape(s string) string {
	var b strings.Builder
	xml.EscapeText(&b, []byte(s))
	return b.String()
}

// known reports whether a column has any number to draw.
func (s *sheet) known(col int, c chart) bool {
	for row := c.first; row <= c.lastRow; row++ {
		if s.at(col, row).holds == isNumber {
			return true
		}
	}
	return false
}

// numbers is a cache of a column's numbers; cells without one are left out.
func (s *sheet) numbers(col int, c chart) string {
	n := c.lastRow - c.first + 1
	b := fmt.Appendf(make([]byte, 0, 80+40*n), `<numCache><formatCode>General</formatCode><ptCount val="%d"/>`, n)
	for row := c.first; row <= c.lastRow; row++ {
		if v := s.at(col, row); v.holds == isNumber {
			b = strconv.AppendInt(append(b, `<pt idx="`...), int64(row-c.first), 10)
			b = strconv.AppendFloat(append(b, `"><v>`...), v.number, 'g', digitsKept, 64)
			b = append(b, "</v></pt>"...)
		}
	}
	return string(append(b, "</numCache>"...))
}
