package sheet

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"

	"coldbench/ingest/profile"
	"coldbench/warehouse/diag"
)

// Day counts of the 1900 system: 25569 is 1970-01-01, 2958466 the first day of
// the year 10000. The 1904 system starts 1462 days later. Below 61, 1900-03-01,
// the system has a 29 February that 1900 did not have, and no log is as old: a
// number there is a time without a date.
const (
	epochDay  = 25569
	endDay    = 2958466
	shift1904 = 1462
	firstDay  = 61
)

// cell makes a cell of its text in the file.
func (t *table) cell(slot int, s string) profile.Cell {
	trimmed := strings.TrimSpace(s)
	if trimmed == "" {
		return profile.Cell{}
	}
	v, ok := number(trimmed)
	isTime := slices.Contains(t.times, slot) && !t.counts
	switch {
	case !ok || isTime && (v < 0 || v >= endDay): // digits of a date, such as 20260112
		return profile.Text([]byte(s))
	case !isTime:
		return profile.Float(v)
	}
	// Days are doubles, good for about a µs, and programs round them: tenths of
	// a millisecond are as good as it gets.
	const tenths = 86400 * 10000
	if v < firstDay && !t.date1904 || v < 1 {
		return profile.Span(int64(math.Round(v*tenths)) * 100)
	}
	if t.date1904 {
		v += shift1904
	}
	return profile.Wall(int64(math.Round((v-epochDay)*tenths)) * 100)
}

// number reads a number as a workbook keeps it, with a point. A text cell with
// such digits reads the same.
func number(s string) (float64, bool) {
	for i := range len(s) {
		if c := s[i]; c-'0' > 9 && c != '.' && c != '-' && c != '+' && c != 'E' && c != 'e' {
			return 0, false // ParseFloat takes NaN, Inf, hex and underscores
		}
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil
}

// An area is a range of cells, from 1; 0: not bounded on that side.
type area struct{ left, top, right, bottom int }

// holds reports whether the area has a row.
func (a area) holds(row int) bool { return row >= a.top && (a.bottom == 0 || row <= a.bottom) }

// cut cuts a row to the area.
func (a area) cut(cells []string) []string {
	if a.right > 0 && a.right < len(cells) {
		cells = cells[:a.right]
	}
	return cells[min(len(cells), max(0, a.left-1)):]
}

// parseRange reads "B4:H500", "B:H" or "B4:H"; "" is everything.
func parseRange(s string) (area, *diag.Diagnostic) {
	if s == "" {
		return area{}, nil
	}
	bad := diag.New(diag.Pos{}, "range %q is no range of cells", s).WithHint("such as \"B4:H500\", or \"B:H\" for all rows")
	from, to, ok := strings.Cut(strings.ReplaceAll(s, "$", ""), ":")
	if !ok {
		return area{}, bad
	}
	var a area
	for _, c := range []struct {
		text     string
		col, row *int
	}{{from, &a.left, &a.top}, {to, &a.right, &a.bottom}} {
		text := strings.TrimSpace(c.text)
		letters := strings.TrimRight(text, "0123456789")
		var err error
		if *c.col, err = excelize.ColumnNameToNumber(letters); err != nil {
			return area{}, bad
		}
		if digits := text[len(letters):]; digits != "" {
			if *c.row, err = strconv.Atoi(digits); err != nil || *c.row < 1 || *c.row > excelize.TotalRows {
				return area{}, bad
			}
		}
	}
	if a.right < a.left || a.bottom > 0 && a.bottom < a.top {
		return area{}, bad
	}
	return a, nil
}
