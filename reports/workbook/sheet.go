package workbook

import (
	"fmt"
	"math"
	"strings"

	"github.com/xuri/excelize/v2"
)

// A cell is what will be written at one place. Its zero value is no cell.
type cell struct {
	holds   kind
	text    string
	number  float64
	formula string
	style   int // of the book's
	across  int // columns that it is merged over, itself included; 0: not merged
}

// A kind is what a cell holds.
type kind uint8

const (
	absent    kind = iota
	isNothing      // but a look
	isNumber
	isText
)

// A sheet collects cells and is written at once, for what is said of a sheet as
// a whole stands before its rows and after them.
//
// Only text that was handed to formula can become a formula.
type sheet struct {
	book     *book
	name     string
	widths   []float64
	least    []float64       // by column, from 1: what its numbers need
	late     bool            // one of them came when rows had been laid on pages
	cells    [][]cell        // by row, column; both from 1
	usual    []int           // by column, the style that was put there last
	tall     map[int]float64 // rows of a height that does not follow from text, in points
	heights  []float64       // by row, once they are asked for
	links    []link
	outside  [2]string // a cell, and the file beside the workbook that it leads to
	says     []remarkOn
	charts   []chart
	breaks   []int  // rows that start a page
	frozen   [2]int // columns, rows
	repeat   [2]int // rows repeated on each printed page; 0: none
	tables   []table
	target   string   // its top, as links name it
	tablesIn string   // what the tables add to its part
	blocks   [][2]int // rows that stay together on paper, if a page holds them; in their order
	paper    flow
	entries  string    // range of numbers that people may change
	printed  [2]int    // last column and row that are printed; 0: all
	moved    [2]string // range, condition: cells to mark
	tab      string    // colour of the tab
	err      error     // the first
}

// A remarkOn is a comment on a cell.
type remarkOn struct {
	cell, text string
}

type link struct {
	col, row int
	to       *sheet
}

func ref(col, row int) string {
	name, err := excelize.CoordinatesToCellName(col, row)
	if err != nil {
		return "A1" // the sheet's own bounds were checked by put
	}
	return name
}

// fixed is an absolute reference to a row of cells or a column of cells.
func fixed(col, row, toCol, toRow int) string {
	abs := func(c, r int) string {
		name, _ := excelize.CoordinatesToCellName(c, r, true)
		return name
	}
	if col == toCol && row == toRow {
		return abs(col, row)
	}
	return abs(col, row) + ":" + abs(toCol, toRow)
}

// quotedName is the sheet's name as formulas write it.
func (s *sheet) quotedName() string { return "'" + strings.ReplaceAll(s.name, "'", "''") + "'" }

// at is the cell at a place, absent where there is none.
func (s *sheet) at(col, row int) cell {
	if row < len(s.cells) && col < len(s.cells[row]) {
		return s.cells[row][col]
	}
	return cell{}
}

// set writes a value into a cell that has all else.
func (s *sheet) set(col, row int, v any, l look, c cell) {
	if col < 1 || row < 1 || col > excelize.MaxColumns || row > excelize.TotalRows {
		s.fail(fmt.Errorf("no cell at column %d, row %d", col, row))
		return
	}
	c.holds = isNothing
	switch v := v.(type) {
	case nil:
	case int:
		c.holds, c.number = isNumber, float64(v)
	case int64:
		c.holds, c.number = isNumber, float64(v)
	case float64:
		c.holds, c.number = isNumber, v
	case *float64:
		if v != nil {
			c.holds, c.number = isNumber, *v
		}
	case string:
		c.holds, c.text = isText, clean(v)
	default:
		s.fail(fmt.Errorf("%s: a cell of type %T", ref(col, row), v))
		return
	}
	if math.IsNaN(c.number) || math.IsInf(c.number, 0) {
		s.fail(fmt.Errorf("%s: %v is no number", ref(col, row), c.number))
		return
	}
	for len(s.cells) <= row {
		s.cells = append(s.cells, nil)
	}
	if s.cells[row] == nil {
		s.cells[row] = make([]cell, max(col, len(s.widths))+1)
	}
	for len(s.cells[row]) <= col {
		s.cells[row] = append(s.cells[row], cell{})
	}
	c.style = s.style(col, l)
	s.cells[row][col] = c
	if c.holds == isNumber && l.format != "" && c.across <= 1 {
		s.needsWidth(col, s.book.room(c.number, l))
	}
}

// style is the number of a look in the book. Mostly it is that of the cell above.
func (s *sheet) style(col int, l look) int {
	for len(s.usual) <= col {
		s.usual = append(s.usual, 0)
	}
	if n := s.usual[col]; n < len(s.book.looks) && s.book.looks[n] == l {
		return n
	}
	s.usual[col] = s.book.style(l)
	return s.usual[col]
}

// digitsKept are those of a number that spreadsheet programs keep.
const digitsKept = 15

func (s *sheet) fail(err error) {
	if s.err == nil {
		s.err = fmt.Errorf("sheet %q: %w", s.name, err)
	}
}

// put writes a string, int, int64, float64 or *float64; nil leaves the cell
// empty but for its look.
func (s *sheet) put(col, row int, v any, l look) { s.set(col, row, v, l, cell{}) }

// across writes a value over several columns.
func (s *sheet) across(col, row, toCol int, v any, l look) {
	for c := col + 1; c <= toCol; c++ {
		s.put(c, row, nil, l)
	}
	s.set(col, row, v, l, cell{across: toCol - col + 1})
}

// formula writes a formula with the value that it has now.
func (s *sheet) formula(col, row int, f string, now any, l look) {
	s.set(col, row, now, l, cell{formula: f})
}

// linkTo writes a text that leads to the top of another sheet, or where that is
// nil to where the log of all sessions is linked to.
func (s *sheet) linkTo(col, row int, text string, to *sheet, l look) {
	s.put(col, row, text, l)
	s.links = append(s.links, link{col, row, to})
}

// leadOut names in the first cell of a row a file beside the workbook, and leads there.
func (s *sheet) leadOut(row int, file string) {
	s.put(1, row, file, linkPlain)
	s.outside = [2]string{ref(1, row), file}
}

// comment says something about a cell to who points at it.
func (s *sheet) comment(col, row int, text string) {
	if text != "" {
		s.says = append(s.says, remarkOn{ref(col, row), cut(clean(text), 1000)})
	}
}

// heads writes a table's head from col on; a head that starts with ">" stands right.
func (s *sheet) heads(col, row int, texts ...string) {
	for i, t := range texts {
		l := head
		if rest, ok := strings.CutPrefix(t, ">"); ok {
			t, l = rest, headNum
		}
		s.put(col+i, row, t, l)
	}
}

// last are the last column and row that hold anything.
func (s *sheet) last() (col, row int) {
	for r, cells := range s.cells {
		if len(cells) > 0 {
			row = r
		}
		for c := len(cells) - 1; c > col; c-- {
			if cells[c].holds != absent {
				col = c
			}
		}
	}
	for _, ch := range s.charts {
		col, row = max(col, ch.toCol), max(row, ch.toRow)
	}
	return max(col, 1), max(row, 1)
}

func (s *sheet) width(col int) float64 {
	w := 9.0
	if col <= len(s.widths) {
		w = s.widths[col-1]
	}
	if col < len(s.least) {
		w = max(w, s.least[col])
	}
	return w
}

// height is the height of a row in points, so that wrapped text is seen whole;
// 0 leaves it to the reader.
func (s *sheet) height(row int) float64 {
	for len(s.heights) <= row {
		s.heights = append(s.heights, unknown)
	}
	if s.heights[row] == unknown {
		s.heights[row] = s.needs(row)
	}
	return s.heights[row]
}

// unknown is the height of a row that was not asked for.
const unknown = -1

// needs is the height that a row's texts need.
func (s *sheet) needs(row int) float64 {
	h := s.tall[row]
	if row >= len(s.cells) {
		return h
	}
	for col, c := range s.cells[row] {
		if c.holds != isText {
			continue
		}
		l := &s.book.looks[c.style]
		size := l.points()
		n := 1
		if l.wrap {
			w := 0.0
			for i := range max(c.across, 1) {
				w += s.width(col + i)
			}
			spread := size / 10
			if l.bold {
				spread *= 1.08
			}
			n = lines(c.text, (w-1)*1.18/spread)
		}
		h = max(h, float64(n)*size*1.28+3)
	}
	return min(h, excelize.MaxRowHeight)
}

// write puts the sheet into the workbook, all but what rows writes.
func (s *sheet) write(f *excelize.File) error {
	if s.err != nil {
		return s.err
	}
	lastCol, lastRow := s.last()
	for _, step := range []func(*excelize.File, int, int) error{s.columns, s.layout, s.extras, s.drawCharts} {
		if err := step(f, lastCol, lastRow); err != nil {
			return fmt.Errorf("sheet %q: %w", s.name, err)
		}
	}
	return nil
}

func pointer[T any](v T) *T { return &v }

// columns sets the widths, before charts are laid over them.
func (s *sheet) columns(f *excelize.File, lastCol, _ int) error {
	for col := 1; col <= lastCol; col++ {
		name, err := excelize.ColumnNumberToName(col)
		if err != nil {
			return err
		}
		if err := f.SetColWidth(s.name, name, name, s.width(col)); err != nil {
			return err
		}
	}
	return nil
}

// layout says how the sheet prints: A4 across, as wide as the page, with the
// heads repeated and pages numbered.
func (s *sheet) layout(f *excelize.File, lastCol, lastRow int) error {
	if err := f.SetSheetProps(s.name, &excelize.SheetPropsOptions{
		FitToPage: pointer(true), TabColorRGB: pointer(s.tab), DefaultRowHeight: pointer[float64](plainRow), CustomHeight: pointer(true),
	}); err != nil {
		return err
	}
	const a4 = 9
	if err := f.SetPageLayout(s.name, &excelize.PageLayoutOptions{
		Size: pointer(a4), Orientation: pointer("landscape"), FitToWidth: pointer(1), FitToHeight: pointer(0),
	}); err != nil {
		return err
	}
	if err := f.SetPageMargins(s.name, &excelize.PageLayoutMarginsOptions{
		Left: pointer(marginSide), Right: pointer(marginSide), Top: pointer(marginTop), Bottom: pointer(marginBottom), Header: pointer(0.3), Footer: pointer(0.3),
	}); err != nil {
		return err
	}
	printed := func(text string) string { return strings.ReplaceAll(oneLine(text, 60), "&", "&&") }
	font := `&"` + family + `,Regular"&8 `
	if err := f.SetHeaderFooter(s.name, &excelize.HeaderFooterOptions{
		OddHeader: "&L" + font + printed(s.book.title) + "&R" + font + printed(s.name),
		OddFooter: "&L" + font + "edition " + printed(s.book.edition) + "&R" + font + "page &P of &N",
	}); err != nil {
		return err
	}
	if err := f.SetSheetView(s.name, 0, &excelize.ViewOptions{ShowGridLines: pointer(false)}); err != nil {
		return err
	}
	if s.frozen != [2]int{} {
		pane := "bottomRight"
		if s.frozen[0] == 0 {
			pane = "bottomLeft"
		}
		if err := f.SetPanes(s.name, &excelize.Panes{
			Freeze: true, XSplit: s.frozen[0], YSplit: s.frozen[1], TopLeftCell: ref(s.frozen[0]+1, s.frozen[1]+1), ActivePane: pane,
		}); err != nil {
			return err
		}
	}
	if err := f.SetSheetDimension(s.name, ref(1, 1)+":"+ref(lastCol, lastRow)); err != nil {
		return err
	}
	if s.printed != [2]int{} {
		lastCol, lastRow = s.printed[0], s.printed[1]
	}
	if err := s.book.define("_xlnm.Print_Area", s, s.quotedName()+"!"+fixed(1, 1, lastCol, max(lastRow, 2))); err != nil {
		return err
	}
	if s.repeat[0] > 0 {
		return s.book.define("_xlnm.Print_Titles", s, fmt.Sprintf("%s!$%d:$%d", s.quotedName(), s.repeat[0], s.repeat[1]))
	}
	return nil
}

// extras are what a sheet has beside cells.
func (s *sheet) extras(f *excelize.File, _, _ int) error {
	for _, c := range s.says {
		if err := f.AddComment(s.name, excelize.Comment{Cell: c.cell, Author: "coldbench", Text: c.text, Width: 320, Height: 110}); err != nil {
			return err
		}
	}
	for _, row := range s.pageBreaks() {
		if err := f.InsertPageBreak(s.name, ref(1, row)); err != nil {
			return err
		}
	}
	if s.entries != "" {
		v := excelize.NewDataValidation(true)
		v.Sqref = s.entries
		if err := v.SetRange(0, 1000, excelize.DataValidationTypeDecimal, excelize.DataValidationOperatorBetween); err != nil {
			return err
		}
		v.SetError(excelize.DataValidationErrorStyleStop, "No weight", "A weight is a number from 0 to 1000.")
		if err := f.AddDataValidation(s.name, v); err != nil {
			return err
		}
	}
	if s.moved[0] != "" {
		id, err := f.NewConditionalStyle(&excelize.Style{
			Font: &excelize.Font{Bold: true, Family: family, Size: 10, Color: ink},
			Fill: excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{warnFill}},
		})
		if err != nil {
			return err
		}
		return f.SetConditionalFormat(s.name, s.moved[0], []excelize.ConditionalFormatOptions{{Type: "formula", Criteria: s.moved[1], Format: &id}})
	}
	return nil
}
