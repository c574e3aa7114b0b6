package infer

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"coldbench/ingest/columnar"
	"coldbench/ingest/jsonlines"
	"coldbench/ingest/sheet"
	"coldbench/ingest/source"
	"coldbench/warehouse/diag"
)

// maxText bounds the text that is looked at, in bytes once unpacked.
const maxText = 64 << 20

// open reads a file as what its first bytes say it is.
func (p *Proposal) open(path string) (*table, diag.List, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, nil, err
	}
	head := make([]byte, 8)
	n, err := io.ReadFull(f, head)
	f.Close()
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return nil, nil, err
	}
	head = head[:n]
	switch {
	case bytes.HasPrefix(head, []byte("PK\x03\x04")), bytes.HasPrefix(head, []byte{0xd0, 0xcf, 0x11, 0xe0}):
		return p.workbook(path)
	case bytes.HasPrefix(head, []byte("PAR")), bytes.HasPrefix(head, []byte("ARROW1")), bytes.HasPrefix(head, []byte{0xff, 0xff, 0xff, 0xff}):
		return p.columnar(path)
	}
	r, closer, err := source.OpenText(path)
	if err != nil {
		return nil, nil, err
	}
	defer closer.Close()
	text, err := io.ReadAll(io.LimitReader(r, maxText+1))
	if err != nil {
		return nil, nil, err
	}
	cut := len(text) > maxText
	if cut {
		text = text[:bytes.LastIndexByte(text[:maxText], '\n')+1]
	}
	t, l := (*table)(nil), diag.List(nil)
	if s := bytes.TrimLeft(text, " \t\r\n"); len(s) > 0 && (s[0] == '{' || s[0] == '[') && !p.other(firstLines(s)) {
		t, l, err = p.json(path, s)
	} else if p.Kind == "" {
		t, l = p.text(text)
	}
	if cut && l == nil {
		p.fact("looked at", fmt.Sprintf("%d MiB", maxText>>20), High, "the file is larger; what only stands behind was not seen")
	}
	return t, l, err
}

// json proposes the layout of a JSON text.
func (p *Proposal) json(path string, text []byte) (*table, diag.List, error) {
	p.Kind = "json"
	where := ""
	first, rest, _ := bytes.Cut(text, []byte{'\n'})
	switch lines := text[0] == '{' && json.Valid(first) && (len(bytes.TrimSpace(rest)) == 0 || bytes.TrimSpace(rest)[0] == '{'); {
	case text[0] == '[':
		p.fact("kind", "json", High, "the text is an array of records")
	case lines && len(bytes.TrimSpace(rest)) > 0:
		p.fact("kind", "json", High, "each line is an object")
	default:
		paths, n := arrays(text)
		if len(paths) == 0 {
			if !lines {
				return nil, diag.List{diag.New(diag.Pos{File: p.File}, "no array of records is found in the JSON document")}, nil
			}
			p.fact("kind", "json", High, "its line is an object")
			break
		}
		where = paths[0]
		p.fact("kind", "json", High, "the text is a JSON document")
		p.fact("records", where, High, "an array of %d objects", n[where])
		if len(paths) > 1 {
			p.Facts[len(p.Facts)-1].Confidence = Fair
			p.ask("the document has several arrays of records: %s; %q is the longest. Is it the log?", strings.Join(paths, ", "), where)
		}
	}
	p.Profile.Records = where
	t := &table{}
	names, l, err := jsonlines.Sample(path, p.File, where, func(_ int64, cells []string) bool { return t.add(cells) })
	t.names = names
	if l == nil && err == nil {
		t.findMark(p, 0)
	}
	return t, l, err
}

// maxDepth bounds how far into a document its records may be.
const maxDepth = 32

var errDeep = errors.New("the document is nested too deep")

// arrays finds the paths of arrays of objects in a document, the longest first.
func arrays(text []byte) (paths []string, n map[string]int) {
	dec := json.NewDecoder(bytes.NewReader(text))
	n = map[string]int{}
	var value func(path []string, depth int) error
	value = func(path []string, depth int) error {
		t, err := dec.Token()
		if err != nil {
			return err
		}
		if depth > maxDepth {
			return errDeep
		}
		switch t {
		case json.Delim('{'):
			for dec.More() {
				key, err := dec.Token()
				if err != nil {
					return err
				}
				if err := value(append(slices.Clip(path), fmt.Sprint(key)), depth+1); err != nil {
					return err
				}
			}
			_, err = dec.Token()
		case json.Delim('['):
			name := strings.Join(path, ".")
			for dec.More() {
				var item json.RawMessage
				if err := dec.Decode(&item); err != nil {
					return err
				}
				if item[0] == '{' && len(path) > 0 {
					if n[name]++; n[name] == 1 {
						paths = append(paths, name)
					}
				}
			}
			_, err = dec.Token()
		}
		return err
	}
	_ = value(nil, 0) // a document that breaks off has the arrays before the break
	slices.SortStableFunc(paths, func(a, b string) int { return n[b] - n[a] })
	return paths, n
}

// columnar proposes a profile of a Parquet or Arrow file.
func (p *Proposal) columnar(path string) (*table, diag.List, error) {
	p.Kind = "columnar"
	t := &table{}
	names, l, err := columnar.Sample(path, p.File, func(_ int64, cells []string) bool { return t.add(cells) })
	if l != nil || err != nil {
		return nil, l, err
	}
	if len(t.rows) == 0 {
		return nil, diag.List{diag.New(diag.Pos{File: p.File}, "the file has no rows").WithHint("was the logger running?")}, nil
	}
	t.names = names
	p.fact("kind", "columnar", High, "its first bytes are those of a Parquet or Arrow file")
	t.findMark(p, 0)
	return t, nil, nil
}

// workbook proposes the layout of a workbook: of the sheet with most values, and
// of it the rows below its names.
func (p *Proposal) workbook(path string) (*table, diag.List, error) {
	p.Kind = "sheet"
	sheets, l, err := sheet.Sheets(path, p.File)
	if err != nil || l != nil {
		return nil, l, err
	}
	var grid []gridRow
	name, best, tables := "", 0, 0
	for _, s := range sheets[:min(len(sheets), maxSheets)] {
		var g []gridRow
		// An empty sheet is none of the log's.
		if _, err := sheet.Sample(path, p.File, s, func(row int64, cells []string) bool {
			g = append(g, gridRow{int(row), cells})
			return len(g) < sheetRows
		}); err != nil {
			return nil, nil, err
		}
		if n := values(g); n > 0 {
			if tables++; n > best {
				grid, name, best = g, s, n
			}
		}
	}
	if best == 0 {
		return nil, diag.List{diag.New(diag.Pos{File: p.File}, "no sheet of the workbook has rows with values")}, nil
	}
	p.fact("kind", "sheet", High, "the file is a workbook")
	p.Profile.Sheet = name
	p.fact("sheet", name, High, "of %d sheets, the one with most values", len(sheets))
	if tables > 1 {
		p.Facts[len(p.Facts)-1].Confidence = Fair
		p.ask("%d sheets of the workbook have tables; %q has most values. Is it the log?", tables, name)
	}
	return p.cells(path, name, grid)
}

// maxSheets bounds the sheets that are looked at, and sheetRows the rows of each by
// which it is judged.
const (
	maxSheets = 10
	sheetRows = 200
)

// values counts the cells with values.
func values(grid []gridRow) int {
	n := 0
	for _, r := range grid {
		for _, c := range r.cells {
			if isValue(strings.TrimSpace(c)) {
				n++
			}
		}
	}
	return n
}

// cells proposes where in a sheet the table is.
func (p *Proposal) cells(path, name string, grid []gridRow) (*table, diag.List, error) {
	width := 0
	for _, r := range grid {
		width = max(width, len(r.cells))
	}
	for i, r := range grid { // rows end at their last cell
		for len(r.cells) < width {
			r.cells = append(r.cells, "")
		}
		grid[i].cells = r.cells
	}
	h := findHeader(grid, width)
	if h.data < 0 || h.row == 0 {
		return nil, diag.List{diag.New(diag.Pos{File: p.File}, "sheet %q has no row of names above its values", name).
			WithHint("a sheet is read by the names of its columns")}, nil
	}
	p.headerFacts(h)
	p.Profile.HeaderRow, p.Profile.FirstRow = h.row, h.firstRow
	t := &table{names: h.names, units: h.units}
	first := grid[h.data].number
	l, err := sheet.Sample(path, p.File, name, func(row int64, cells []string) bool {
		return int(row) < first || t.add(cells)
	})
	if l == nil && err == nil {
		t.findMark(p, 0)
	}
	return t, l, err
}
