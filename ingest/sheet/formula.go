package sheet

import (
	"archive/zip"
	"encoding/xml"
	"errors"
	"io"
	"os"
	"path"
	"slices"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"
)

// A place is a cell of a sheet: its row and column, from 1.
type place struct{ row, col int }

// formulas are the cells of each part of a workbook that hold a formula and no
// value of it, in the order of the part. A program that writes a workbook and
// works nothing out leaves them so.
type formulas map[string][]place

// readFormulas reads the part of a sheet to its end.
func readFormulas(r io.Reader) (pending []place, err error) {
	var at place
	var formula, value, text, within bool
	for dec := xml.NewDecoder(r); ; {
		token, err := dec.Token()
		if errors.Is(err, io.EOF) {
			return pending, nil
		} else if err != nil {
			return nil, err
		}
		switch e := token.(type) {
		case xml.StartElement:
			switch e.Name.Local {
			case "row":
				at = numbered(at, e.Attr)
			case "c":
				at = named(at, e.Attr)
				formula, value, within, text = false, false, false, isText(e.Attr)
			case "f":
				formula = true
			case "v", "is":
				// A text may be empty; a number may not.
				within, value = true, value || text
			}
		case xml.CharData:
			value = value || within && strings.TrimSpace(string(e)) != ""
		case xml.EndElement:
			switch e.Name.Local {
			case "v", "is":
				within = false
			case "c":
				if formula && !value {
					pending = append(pending, at)
				}
				formula = false
			}
		}
	}
}

// numbered is the start of a row; one without a number follows the row before.
func numbered(at place, attrs []xml.Attr) place {
	next := place{row: at.row + 1}
	for _, a := range attrs {
		if a.Name.Local == "r" {
			next.row, _ = strconv.Atoi(a.Value) // the library that reads the rows tells what is none
		}
	}
	return next
}

// named is a cell's place; one without a name follows the cell before.
func named(at place, attrs []xml.Attr) place {
	at.col++
	for _, a := range attrs {
		if a.Name.Local == "r" {
			if col, row, err := excelize.CellNameToCoordinates(a.Value); err == nil {
				return place{row, col}
			}
		}
	}
	return at
}

func isText(attrs []xml.Attr) bool {
	return slices.ContainsFunc(attrs, func(a xml.Attr) bool { return a.Name.Local == "t" && a.Value == "str" })
}

// of returns the formulas without a value of the sheet with that name, in the
// file that was verified, by row and column.
func (f formulas) of(file, sheet string) ([]place, error) {
	if len(f) == 0 {
		return nil, nil
	}
	z, err := zip.OpenReader(file)
	if err != nil {
		return nil, err
	}
	defer z.Close()
	var book struct {
		Sheets []struct {
			Name string `xml:"name,attr"`
			ID   string `xml:"id,attr"`
		} `xml:"sheets>sheet"`
	}
	var rels struct {
		Links []struct {
			ID     string `xml:"Id,attr"`
			Target string `xml:"Target,attr"`
		} `xml:"Relationship"`
	}
	for name, into := range map[string]any{"xl/workbook.xml": &book, "xl/_rels/workbook.xml.rels": &rels} {
		r, err := z.Open(name)
		if errors.Is(err, os.ErrNotExist) {
			return nil, nil // where its sheets lie is then for the library to find
		} else if err != nil {
			return nil, err
		}
		err = xml.NewDecoder(r).Decode(into)
		r.Close()
		if err != nil {
			return nil, nil
		}
	}
	for _, s := range book.Sheets {
		for _, l := range rels.Links {
			if strings.EqualFold(s.Name, sheet) && l.ID == s.ID {
				target := l.Target
				if !path.IsAbs(target) {
					target = path.Join("/xl", target)
				}
				return f[strings.ToLower(path.Clean(target)[1:])], nil
			}
		}
	}
	return nil, nil
}

// pendingIn returns the columns, from 1, of the row's formulas without a value.
// Rows are asked for in their order.
func (t *table) pendingIn(row int) (cols []int) {
	for len(t.pending) > 0 && t.pending[0].row <= row {
		if t.pending[0].row == row {
			cols = append(cols, t.pending[0].col)
		}
		t.pending = t.pending[1:]
	}
	return cols
}
