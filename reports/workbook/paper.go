package workbook

import (
	"cmp"
	"slices"
)

// Inches of margin on paper.
const (
	marginSide, marginTop, marginBottom = 0.5, 0.7, 0.6
)

// pageRows is how many points of rows a page of the sheet holds: that of A4 across,
// scaled so that all columns stand side by side. Letter across is narrower, so its
// scale is smaller, and higher: it holds more.
func (s *sheet) pageRows(lastCol int) float64 {
	const inch, high, wide = 72, 595.3, 841.9
	columns := 0.0
	for col := 1; col <= lastCol; col++ {
		columns += 6 * s.width(col) // points: 8 px to a digit of the workbook's font, at 11 pt
	}
	scale := min(1, (wide-2*marginSide*inch)/columns)
	rows := (high - (marginTop+marginBottom)*inch) / scale
	if s.repeat[0] > 0 {
		rows -= s.rowHeight(s.repeat[0])
	}
	return 0.97 * rows
}

// plainRow is the height of a row that says nothing of it, in points.
const plainRow = 15

func (s *sheet) rowHeight(row int) float64 { return cmp.Or(s.height(row), plainRow) }

// pageBreaks are the rows that start a page: those that are said to, and those of
// blocks that would else be cut though a page holds them.
func (s *sheet) pageBreaks() []int {
	breaks := slices.Clone(s.breaks)
	if len(s.blocks) == 0 {
		return breaks
	}
	lastCol, lastRow := s.last()
	page, used := s.pageRows(lastCol), 0.0
	for row := 1; row <= lastRow; row++ {
		if i := slices.IndexFunc(s.blocks, func(b [2]int) bool { return b[0] == row }); i >= 0 {
			high := 0.0
			for r := row; r <= s.blocks[i][1]; r++ {
				high += s.rowHeight(r)
			}
			if used+high > page && high <= page && !slices.Contains(breaks, row) {
				breaks = append(breaks, row)
			}
		}
		h := s.rowHeight(row)
		if slices.Contains(breaks, row) || used+h > page {
			used = 0
		}
		used += h
	}
	slices.Sort(breaks)
	return breaks
}
