package workbook

import (
	"bytes"
	"cmp"
	"fmt"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"
)

// What grows with the cells of a sheet is written here and not by the library,
// which takes five times as long for it and goes through all links of a sheet for
// each. The library says all else of a sheet.

// filled is the library's part of a sheet with its rows, links and tables. It
// knows of no row but those that charts lie over.
func (s *sheet) filled(part []byte) ([]byte, error) {
	var err error
	// upto copies what stands before a mark, which must be there, and returns the rest.
	out := make([]byte, 0, len(part)+80*len(s.cells)*max(len(s.widths), 1))
	upto := func(marks ...string) {
		for _, mark := range marks {
			if i := bytes.Index(part, []byte(mark)); i >= 0 {
				out, part = append(out, part[:i]...), part[i:]
				return
			}
		}
		err = cmp.Or(err, fmt.Errorf("the part has no %s", marks[0]))
	}
	skip := func(past string) {
		if i := bytes.Index(part, []byte(past)); i >= 0 {
			part = part[i+len(past):]
			return
		}
		err = cmp.Or(err, fmt.Errorf("the part has no %s", past))
	}
	upto("<sheetData>")
	skip("</sheetData>")
	out = s.rows(out)
	// In the order that the format asks for (ECMA-376, part 1, 18.3.1.99).
	out = s.merged(out)
	upto("<pageMargins")
	out = s.linked(out)
	upto("</worksheet>")
	out = append(out, s.tablesIn...)
	return append(out, part...), err
}

// rows are the cells, and the heights of rows.
func (s *sheet) rows(b []byte) []byte {
	b = append(b, "<sheetData>"...)
	_, last := s.last()
	for row := 1; row <= last; row++ {
		var cells []cell
		if row < len(s.cells) {
			cells = s.cells[row]
		}
		if len(cells) == 0 && s.tall[row] == 0 {
			continue
		}
		b = strconv.AppendInt(append(b, `<row r="`...), int64(row), 10)
		if h := s.height(row); h > 0 {
			b = strconv.AppendFloat(append(b, `" ht="`...), h, 'f', -1, 64)
			b = append(b, `" customHeight="1`...)
		}
		b = append(b, `">`...)
		for col, c := range cells {
			if c.holds != absent {
				b = c.in(b, s.book.styleIDs[c.style], col, row)
			}
		}
		b = append(b, "</row>"...)
	}
	return append(b, "</sheetData>"...)
}

// in is the cell at a place, in the style of that number.
func (c *cell) in(b []byte, style, col, row int) []byte {
	b = appendRef(append(b, `<c r="`...), col, row)
	if style != 0 {
		b = strconv.AppendInt(append(b, `" s="`...), int64(style), 10)
	}
	switch {
	case c.holds == isNothing:
		return append(b, `"/>`...)
	case c.holds == isText && c.formula != "":
		b = append(b, `" t="str">`...)
	case c.holds == isText:
		b = append(b, `" t="inlineStr">`...)
	default:
		b = append(b, `">`...)
	}
	if c.formula != "" {
		b = append(appendText(append(b, "<f>"...), c.formula), "</f>"...)
	}
	switch {
	case c.holds == isNumber:
		b = strconv.AppendFloat(append(b, "<v>"...), c.number, 'g', digitsKept, 64)
		b = append(b, "</v>"...)
	case c.holds == isText && c.formula != "":
		b = append(appendCellText(append(b, "<v>"...), c.text), "</v>"...)
	case c.holds == isText:
		b = append(b, "<is><t"...)
		if c.text != strings.Trim(c.text, "\t\n ") {
			b = append(b, ` xml:space="preserve"`...)
		}
		b = append(appendCellText(append(b, '>'), c.text), "</t></is>"...)
	}
	return append(b, "</c>"...)
}

// merged are the cells that are merged.
func (s *sheet) merged(b []byte) []byte {
	n, mark := 0, len(b)
	for row, cells := range s.cells {
		for col := range cells {
			if c := &cells[col]; c.across > 1 {
				n++
				b = appendRef(append(b, `<mergeCell ref="`...), col, row)
				b = appendRef(append(b, ':'), col+c.across-1, row)
				b = append(b, `"/>`...)
			}
		}
	}
	if n == 0 {
		return b
	}
	list := string(b[mark:])
	return fmt.Appendf(b[:mark], `<mergeCells count="%d">%s</mergeCells>`, n, list)
}

// outsideID names the relation of a sheet to a file beside the workbook.
const outsideID = "outside"

// linked are the links, as many as the format allows a sheet.
func (s *sheet) linked(b []byte) []byte {
	if len(s.links) == 0 && s.outside[0] == "" {
		return b
	}
	b = append(b, "<hyperlinks>"...)
	for _, l := range s.links[:min(len(s.links), excelize.TotalSheetHyperlinks-1)] {
		to := l.to
		if to == nil {
			to = s.book.sessions
		}
		b = appendRef(append(b, `<hyperlink ref="`...), l.col, l.row)
		b = append(append(b, `" location="`...), to.target...)
		b = append(b, `"/>`...)
	}
	if s.outside[0] != "" {
		b = fmt.Appendf(b, `<hyperlink ref="%s" r:id="%s"/>`, s.outside[0], outsideID)
	}
	return append(b, "</hyperlinks>"...)
}

// appendRef writes the name of a cell.
func appendRef(b []byte, col, row int) []byte {
	var letters [3]byte
	at := len(letters)
	for ; col > 0 && at > 0; col = (col - 1) / 26 {
		at--
		letters[at] = byte('A' + (col-1)%26)
	}
	return strconv.AppendInt(append(b, letters[at:]...), int64(row), 10)
}

// appendText writes clean text as XML.
func appendText(b []byte, s string) []byte {
	from := 0
	for i := range len(s) {
		var as string
		switch s[i] {
		case '&':
			as = "&amp;"
		case '<':
			as = "&lt;"
		case '>':
			as = "&gt;"
		default:
			continue
		}
		b = append(append(b, s[from:i]...), as...)
		from = i + 1
	}
	return append(b, s[from:]...)
}

// appendCellText writes clean text as a cell holds it, where what is spelt like the
// code of a character must not be taken for one (ECMA-376, part 1, 22.9.2.19: ST_Xstring).
func appendCellText(b []byte, s string) []byte {
	for {
		at := spelt.FindStringIndex(s)
		if at == nil {
			return appendText(b, s)
		}
		b = append(appendText(b, s[:at[0]]), "_x005F_"...)
		s = s[at[0]+1:] // its end may begin the next
	}
}
