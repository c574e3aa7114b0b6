package isd

import (
	"encoding/csv"
	"fmt"
	"strings"

	"coldbench/warehouse/diag"
)

// A header is the first line of the comma-separated form. Records are lines: no
// column of it holds a line end.
type header struct {
	names   []string
	columns map[string]int // the first of each name
	station string         // whose records are read: the source's, else the first record's
	stated  bool
}

// needed are the columns without which a file is no observations.
var needed = []string{"DATE", "TMP"}

func (r *reader) header() (*header, *diag.Diagnostic, error) {
	if !r.s.Scan() {
		if r.s.Err() == nil {
			return nil, diag.New(diag.Pos{File: r.in.Shown}, "the file is empty"), nil
		}
		return nil, nil, fmt.Errorf("isd: %s: line 1: %w", r.in.Shown, r.s.Err())
	}
	r.line++
	pos := diag.Pos{File: r.in.Shown, Line: 1}
	names, _, d := cells(r.s.Text())
	if d != nil {
		d.Pos = pos
		return nil, d, nil
	}
	h := &header{names: names, columns: map[string]int{}, station: strings.TrimSpace(r.in.Source.Station)}
	h.stated = h.station != ""
	for i, name := range names {
		name = strings.ToUpper(strings.TrimSpace(name))
		if _, ok := h.columns[name]; !ok {
			h.columns[name] = i
		}
	}
	for _, name := range needed {
		if _, ok := h.columns[name]; !ok {
			return nil, diag.New(pos, "no column %q", name).WithHint("the kind isd reads NOAA's hourly observations, with the columns DATE, WND, TMP and DEW; other tables are of the kind delimited"), nil
		}
	}
	return h, nil, nil
}

// cells takes a line apart. cols are the bytes where its fields start, from 1.
func cells(line string) (texts []string, cols []int, d *diag.Diagnostic) {
	c := csv.NewReader(strings.NewReader(line))
	texts, err := c.Read()
	if err != nil {
		return nil, nil, diag.New(diag.Pos{}, "cannot read the line as comma-separated values: a quote is not closed, or stands within a field")
	}
	for i := range texts {
		_, col := c.FieldPos(i)
		cols = append(cols, col)
	}
	return texts, cols, nil
}

func (h *header) cut(line string) (rec record, col int, d *diag.Diagnostic, other bool) {
	texts, cols, d := cells(line)
	if d != nil {
		return rec, 1, d, false
	}
	if len(texts) != len(h.names) {
		return rec, 1, diag.New(diag.Pos{}, "the record has %d fields, the header %d", len(texts), len(h.names)), false
	}
	get := func(name string) (string, int) {
		if i, ok := h.columns[name]; ok {
			return strings.TrimSpace(texts[i]), cols[i]
		}
		return "", 0
	}
	station, col := get("STATION")
	if h.station == "" {
		h.station = station
	}
	if station != h.station && station != "" {
		if h.stated {
			return rec, 0, nil, true
		}
		return rec, col, diag.New(diag.Pos{}, "the record is of station %q, those before of %q", station, h.station).
			WithHint("state station = %q at the session's source, and it is no row", h.station), false
	}
	rec.layout = "2006-01-02T15:04:05"
	rec.time, rec.timeCol = get("DATE")
	for i, name := range []string{"TMP", "DEW"} {
		text, col := get(name)
		value, quality, _ := strings.Cut(text, ",")
		rec.fields[i] = field{value, quality, "+9999", 0.1, col}
	}
	// Direction, its quality, the type, the speed and its quality: "999,9,V,0005,1".
	text, col := get("WND")
	rec.fields[2] = field{"", "", "9999", tenthsMPS, col}
	if parts := strings.Split(text, ","); len(parts) == 5 {
		rec.fields[2].text, rec.fields[2].quality = parts[3], parts[4]
	} else if text != "" {
		return rec, col, diag.New(diag.Pos{}, "cannot read %q as a wind", text), false
	}
	for i := range rec.fields {
		if f := &rec.fields[i]; f.text == "" {
			f.text = f.missing
		}
	}
	return rec, 0, nil, false
}
