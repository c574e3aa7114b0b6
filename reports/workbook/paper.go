package workbook

import (
	"cmp"
	"fmt"
	"slices"
)

// Inches of margin on paper.
const (
	marginSide, marginTop, marginBottom = 0.5, 0.7, 0.6
)

// pageRows is how many points of rows a page of the sheet holds: that of A4 across,
// scaled so that all columns stand side by side. Letter across is narrower, so its
// scale is smaller, and higher: it holds more.
func (s *sheet) pageRows() float64 {
	const inch, high, wide = 72, 595.3, 841.9
	columns := 0.0
	for col := range cmp.Or(s.printed[0], len(s.widths)) {
		columns += unitWidth * s.width(col+1)
	}
	scale := min(1, (wide-2*marginSide*inch)/columns)
	return 0.97 * (high - (marginTop+marginBottom)*inch) / scale
}

// plainRow is the height of a row that says nothing of it, in points.
const plainRow = 13

func (s *sheet) rowHeight(row int) float64 { return cmp.Or(s.height(row), plainRow) }

// rowsHeight is the height of the rows from first to last.
func (s *sheet) rowsHeight(first, last int) float64 {
	high := 0.0
	for row := first; row <= last; row++ {
		high += s.rowHeight(row)
	}
	return high
}

// A flow is how far a sheet's rows have been laid on pages.
type flow struct {
	row    int     // the next
	used   float64 // of its page, in points
	blocks int     // that begin before it
	breaks []int   // rows that start a page
}

// holds is how many points of rows the page holds that the row lies on.
func (s *sheet) holds(row int) float64 {
	page := s.pageRows()
	if s.repeat[0] > 0 && row > s.repeat[1] {
		page -= s.rowsHeight(s.repeat[0], s.repeat[1])
	}
	return page
}

// lay lays the rows before end on pages, which do not change any more. A page starts at
// rows that are said to, and at blocks that would else be cut though a page holds them.
func (s *sheet) lay(end int) {
	f := &s.paper
	for f.row = max(f.row, 1); f.row < end; f.row++ {
		page, starts := s.holds(f.row), slices.Contains(s.breaks, f.row)
		for f.blocks < len(s.blocks) && s.blocks[f.blocks][0] <= f.row {
			if b := s.blocks[f.blocks]; b[0] == f.row && f.used > 0 {
				high := s.rowsHeight(b[0], b[1])
				starts = starts || f.used+high > page && high <= page
			}
			f.blocks++
		}
		if starts {
			f.breaks, f.used = append(f.breaks, f.row), 0
		}
		h := s.rowHeight(f.row)
		switch {
		case f.used+h <= page:
			f.used += h
		case s.tall[f.row] == 0 && (f.row >= len(s.cells) || len(s.cells[f.row]) == 0):
			// Nothing, after a full page: what pageRows keeps back holds it. On a page
			// of its own it would be a blank sheet of paper.
		default:
			// Said, though a page would end here anyway: on one that holds more rows, as
			// where no font is as narrow as Arial, what follows would be cut elsewhere.
			f.breaks, f.used = append(f.breaks, f.row), h
		}
	}
}

// pageBreaks are the rows that start a page.
func (s *sheet) pageBreaks() []int {
	if len(s.blocks) == 0 {
		return s.breaks
	}
	_, last := s.last()
	s.lay(last + 1)
	// Below the last block nothing can be cut that belongs together.
	end := s.blocks[len(s.blocks)-1][0]
	return slices.DeleteFunc(slices.Clone(s.paper.breaks), func(row int) bool { return row > end && !slices.Contains(s.breaks, row) })
}

// fewRows are too few to stand below heads of their own, if more follow or went before.
const fewRows = 3

// A long is a table that may need several pages.
type long struct {
	name               string // "": it is no native table, for some of its cells are merged
	top                int    // what stands from here on goes with the table, on its first page
	again              int    // what stands from here to the heads is there again on each of its pages
	heads, toCol, last int
	title              string // of what goes on, in place of the first text that is there again; "": the same
}

// paged makes a table of a long one, or several where a page does not hold it: its heads
// are there again for each, since a sheet has but one set of rows that print repeats.
// Nothing may stand below it yet. It returns the last row.
func (s *sheet) paged(l long) int {
	name := l.name
	for n := 2; ; n++ {
		at := s.cutAt(l)
		if at == 0 {
			break
		}
		if l.name != "" {
			s.table(name, 1, l.heads, l.toCol, at-1, false)
		}
		rows := l.heads - l.again + 1
		s.insert(at, rows+1) // and one of nothing
		for i := range rows {
			s.cells[at+1+i] = slices.Clone(s.cells[l.again+i])
		}
		if l.title != "" {
			s.cells[at+1][1].text = clean(l.title)
		}
		s.blocks = append(s.blocks, [2]int{l.top, at - 1})
		name = fmt.Sprintf("%s_%d", l.name, n)
		l.top, l.again, l.heads, l.last = at+1, at+1, at+rows, l.last+rows+1
	}
	if l.name != "" {
		s.table(name, 1, l.heads, l.toCol, l.last, false)
	}
	s.blocks = append(s.blocks, [2]int{l.top, l.last})
	return l.last
}

// cutAt is the row of a table that should stand on the next page below heads of its own, 0
// if a page holds the table. It stays whole then, and leaves what room the page before has.
func (s *sheet) cutAt(l long) int {
	s.lay(l.top)
	page := s.holds(l.top)
	first, rows := l.heads+1, l.last-l.heads
	if rows < 2 || s.rowsHeight(l.top, l.last) <= page {
		return 0
	}
	// Rows that fit below the heads.
	fit := func(room float64) int {
		n := 0
		for high := s.rowsHeight(l.top, l.heads); n < rows; n++ {
			if high += s.rowHeight(first + n); high > room {
				break
			}
		}
		return n
	}
	n := fit(page - s.paper.used)
	if n < fewRows {
		n = fit(page)
	}
	if n = max(n, 1); rows >= 2*fewRows {
		n = min(n, rows-fewRows)
	}
	// Rather between rows that do not belong together.
	for k := n; k > n/2; k-- {
		if s.at(1, first+k-1).text != s.at(1, first+k).text {
			n = k
			break
		}
	}
	return first + n
}

// insert makes room for rows above a row, one that is laid on no page yet. Of what lies
// from there on, it knows of cells and links.
func (s *sheet) insert(row, rows int) {
	s.cells = slices.Insert(s.cells, row, make([][]cell, rows)...)
	for i := len(s.links) - 1; i >= 0 && s.links[i].row >= row; i-- {
		s.links[i].row += rows
	}
	if row < len(s.heights) {
		s.heights = slices.Insert(s.heights, row, slices.Repeat([]float64{unknown}, rows)...)
	}
}
