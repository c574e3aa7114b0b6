package workbook

import (
	"math"
	"strings"
)

// A number that its column is too narrow for is shown as ###, not cut off as texts are.
// So columns are as wide as their widest number, by an estimate of its text: a digit of
// Arial is 0.556 of its size wide, other characters are as many digits wide as breadth
// says, and a fiftieth more for the rounding to pixels, with what programs keep free at
// both sides of a cell.
const (
	digitWidth = 0.556
	cellSides  = 5.0 // points
	unitWidth  = 6.0 // points of a column's unit of width: 8 px to a digit of the workbook's font, at 11 pt
	widest     = 60.0
)

// A shape is what a number format makes of numbers.
type shape struct {
	around          float64 // breadth of what stands about the digits
	decimals        int
	percent, groups bool
}

// shapeOf reads a number format, of those that positive numbers have.
func shapeOf(format string) shape {
	var f shape
	quote, point := false, false
	var around strings.Builder
	for _, r := range format {
		switch {
		case r == '"':
			quote = !quote
		case quote:
			around.WriteRune(r)
		case r == ';':
			f.around = breadth(around.String())
			return f
		case r == '0' || r == '#':
			if point {
				f.decimals++
			}
		case r == '.':
			point = true
			around.WriteRune(r)
		case r == ',':
			f.groups = true
		default:
			f.percent = f.percent || r == '%'
			around.WriteRune(r)
		}
	}
	f.around = breadth(around.String())
	return f
}

// breadth is how many digits wide a number is.
func (f shape) breadth(v float64) float64 {
	w := f.around + float64(f.decimals)
	if v < 0 {
		w++
	}
	v = math.Abs(v)
	if f.percent {
		v *= 100
	}
	v += 0.5 * math.Pow10(-f.decimals) // as it is rounded
	n := 1.0
	for ; v >= 10; v /= 10 {
		n++
	}
	if f.groups {
		w += breadth(",") * math.Floor((n-1)/3)
	}
	return w + n
}

// room is how wide a column must be for a number, in the column's unit.
func (b *book) room(v float64, l look) float64 {
	f, ok := b.shapes[l.format]
	if !ok {
		f = shapeOf(l.format)
		b.shapes[l.format] = f
	}
	return columnFor(f.breadth(v), l)
}

func columnFor(breadth float64, l look) float64 {
	w := breadth * digitWidth * l.points() * 1.02
	if l.bold {
		w *= 1.08
	}
	return min(math.Ceil(2*(w+cellSides)/unitWidth)/2, widest)
}

// needsWidth makes a column as wide as that at least.
func (s *sheet) needsWidth(col int, w float64) {
	if w <= s.width(col) {
		return
	}
	for len(s.least) <= col {
		s.least = append(s.least, 0)
	}
	s.least[col] = w
	s.late = s.late || s.paper.row > 0
}

// filledBy fills the sheet, and once more where a column became wider after rows had
// been laid on pages, which are then other pages.
func (s *sheet) filledBy(fill func()) {
	fill()
	for s.late {
		*s = sheet{book: s.book, name: s.name, tab: s.tab, tall: map[int]float64{}, least: s.least}
		fill()
	}
}

// putUnit writes the unit of numbers at its left, which is not cut off either.
func (s *sheet) putUnit(col, row int, unit string) {
	s.put(col, row, unit, next)
	w, ok := s.book.units[unit]
	if !ok {
		const indented = 1.5
		w = indented + columnFor(breadth(oneLine(unit, 20)), next)
		s.book.units[unit] = w
	}
	s.needsWidth(col, w)
}
