package workbook

import (
	"encoding/xml"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"coldbench/metrics/edition"
)

// awkward is the sample with what would spoil a table's heads: titles that are alike
// but for their letters' case, that have several lines, are formulas or no text.
func awkward() (*edition.Edition, []edition.Log) {
	e, logs := sample()
	e.Figures = slices.Clone(e.Figures)
	for i, title := range []string{"Same", "SAME", "two\nlines", "=1+1", "_x0041_", "\u202e"} {
		e.Figures[i].Title = title
	}
	e.Vehicles = slices.Clone(e.Vehicles)
	e.Vehicles[0].Name, e.Vehicles[1].Name = "Twin", "twin"
	e.Standings = slices.Clone(e.Standings)
	for i := range e.Standings {
		for _, s := range e.Sessions {
			if s.Vehicle == e.Standings[i].Vehicle {
				e.Standings[i].Sessions = []string{s.ID}
			}
		}
	}
	e.Penalties = []edition.Penalty{{Session: e.Sessions[0].ID, Figure: "delay_to_onset", Cold: 30, Control: 2, Difference: 28}}
	e.Shifts = []edition.Shift{{Figure: "delay_to_onset", Weight: 3, Higher: 8, HigherTo: "birch-75"}}
	e.Variances = []edition.Variance{{Figure: "delay_to_onset", Cars: 2, Sessions: 4}}
	e.Windows = []edition.Compared{{Title: "10 to 80 %", Times: []edition.Timed{{Vehicle: "alder-60", Value: 30, U: 1, Place: 1}}}}
	return e, logs
}

// As the file format has it: a table's heads are texts of the sheet, as they stand
// there, and differ; names are the workbook's own; a table lies over no other and over no
// merged cells; and there is one filter of one range.
func TestTables(t *testing.T) {
	e, logs := awkward()
	data := written(t, e, logs)
	f := opened(t, data)
	names := map[string]bool{}
	merges := regexp.MustCompile(`<mergeCell ref="([A-Z0-9:]+)"`)
	for _, sheet := range f.GetSheetList() {
		tables, err := f.GetTables(sheet)
		if err != nil {
			t.Fatal(err)
		}
		i, _ := f.GetSheetIndex(sheet)
		text := parts(t, data)["xl/worksheets/sheet"+string(rune('0'+i+1))+".xml"]
		if i < 9 && strings.Contains(text, "<autoFilter") {
			t.Errorf("%s has a filter beside its tables'", sheet)
		}
		merged := merges.FindAllStringSubmatch(text, -1)
		for k, x := range tables {
			if names[strings.ToLower(x.Name)] {
				t.Errorf("%s: the name %s stands twice", sheet, x.Name)
			}
			names[strings.ToLower(x.Name)] = true
			for _, m := range merged {
				if overlap(t, x.Range, m[1]) {
					t.Errorf("%s: table %s lies over merged cells %s", sheet, x.Name, m[1])
				}
			}
			for _, y := range tables[k+1:] {
				if overlap(t, x.Range, y.Range) {
					t.Errorf("%s: tables %s and %s overlap", sheet, x.Name, y.Name)
				}
			}
		}
	}
	for _, want := range []string{"standings", "sessions", "figures_1", "all_figures", "gates_1", "reasons", "control", "first_place", "variances", "windows", "curves", "sources", "scales", "protocol", "definitions"} {
		if !names[want] {
			t.Errorf("no table %s", want)
		}
	}
	for _, prefix := range []string{"minutes_", "events_"} {
		n := 0
		for name := range names {
			if strings.HasPrefix(name, prefix) {
				n++
			}
		}
		if n < 4 {
			t.Errorf("%d tables %s, want one for each log", n, prefix)
		}
	}

	type column struct {
		Name string `xml:"name,attr"`
	}
	for name, text := range parts(t, data) {
		if !strings.HasPrefix(name, "xl/tables/") {
			continue
		}
		var x struct {
			Name    string    `xml:"displayName,attr"`
			Ref     string    `xml:"ref,attr"`
			Columns []column  `xml:"tableColumns>tableColumn"`
			Filter  *struct{} `xml:"autoFilter"`
		}
		if err := xml.Unmarshal([]byte(text), &x); err != nil {
			t.Fatal(err)
		}
		sheet := ""
		for _, s := range f.GetSheetList() {
			tables, _ := f.GetTables(s)
			if slices.ContainsFunc(tables, func(y excelize.Table) bool { return y.Name == x.Name }) {
				sheet = s
			}
		}
		from, _, _ := strings.Cut(x.Ref, ":")
		col, row, _ := excelize.CellNameToCoordinates(from)
		seen := map[string]bool{}
		for k, c := range x.Columns {
			cell, err := f.GetCellValue(sheet, ref(col+k, row))
			formula, _ := f.GetCellFormula(sheet, ref(col+k, row))
			if err != nil || cell != c.Name || c.Name == "" || formula != "" || seen[strings.ToLower(c.Name)] {
				t.Errorf("%s: column %q of table %s stands over %q, formula %q, or twice; %v", sheet, c.Name, x.Name, cell, formula, err)
			}
			seen[strings.ToLower(c.Name)] = true
		}
		if want := slices.Contains([]string{"sessions", "all_figures", "reasons", "control", "sources"}, x.Name); (x.Filter != nil) != want {
			t.Errorf("table %s has a filter: %v", x.Name, !want)
		}
	}
}

func overlap(t *testing.T, a, b string) bool {
	t.Helper()
	ac1, ar1, ac2, ar2 := corners(t, a)
	bc1, br1, bc2, br2 := corners(t, b)
	return ac1 <= bc2 && bc1 <= ac2 && ar1 <= br2 && br1 <= ar2
}

// corners are the first and last column and row of a range.
func corners(t *testing.T, of string) (c1, r1, c2, r2 int) {
	t.Helper()
	from, to, _ := strings.Cut(of, ":")
	c1, r1, err1 := excelize.CellNameToCoordinates(from)
	c2, r2, err2 := excelize.CellNameToCoordinates(to)
	if err1 != nil || err2 != nil {
		t.Fatal(of, err1, err2)
	}
	return c1, r1, c2, r2
}

// rowsOf are the rows of a sheet's table and of those that it goes on in, or of all whose
// names begin so, without their heads.
func rowsOf(t *testing.T, f *excelize.File, sheet, name string) (rows [][]string, tables int) {
	t.Helper()
	all, err := f.GetTables(sheet)
	if err != nil {
		t.Fatal(err)
	}
	cells := texts(t, f, sheet)
	for _, x := range all {
		if x.Name != name && !strings.HasPrefix(x.Name, strings.TrimSuffix(name, "_")+"_") {
			continue
		}
		tables++
		c1, r1, c2, r2 := corners(t, x.Range)
		for r := r1; r < r2; r++ {
			row := make([]string, c2-c1+1)
			copy(row, cells[r][min(c1-1, len(cells[r])):min(c2, len(cells[r]))])
			rows = append(rows, row)
		}
	}
	return rows, tables
}

// The tables of a session's sheet hold each of its figures once, its events, and in the
// minutes what was noted then.
func TestSessionTables(t *testing.T) {
	e, logs := sample()
	f := opened(t, written(t, e, logs))
	for i, ses := range e.Sessions {
		sheet := f.GetSheetList()[10+i]
		of := map[string]edition.Figure{}
		for _, x := range e.Results {
			if x.Session == ses.ID {
				of[e.Definition(x.Figure).Title] = x
			}
		}
		rows, _ := rowsOf(t, f, sheet, "session_")
		if len(rows) != len(e.Figures) {
			t.Errorf("%s: %d figures of %d", sheet, len(rows), len(e.Figures))
		}
		for _, row := range rows {
			x, ok := of[row[0]]
			delete(of, row[0])
			if !ok || row[3] != x.Unit || row[4] != string(x.Status) || row[5] != x.Note {
				t.Errorf("%s: %q, the edition says %+v", sheet, row, x)
			}
			for at, v := range map[int]*float64{1: x.Value, 2: x.U, 6: minutes(x.From), 7: minutes(x.To)} {
				if v == nil && row[at] != "" && row[at] != "none" || v != nil && number(t, row[at]) != rounded(*v) {
					t.Errorf("%s: %s has %q in column %d", sheet, row[0], row[at], at+1)
				}
			}
		}
	}
	events, _ := rowsOf(t, f, "2026-01-12-alder-60", "events_")
	if want := [][]string{{"plug-in", "0", "1", "notes.txt", "7", "plugged in, latch clicked"}, {"onset-seen", "18", "60", "notes.txt", "9", "display shows a charge"}}; !slices.EqualFunc(events, want, slices.Equal) {
		t.Errorf("events %q, want %q", events, want)
	}
	log, _ := rowsOf(t, f, "2026-01-12-alder-60", "minutes_")
	for _, row := range log {
		if want := map[string]string{"0": "plugged in, latch clicked", "18": "display shows a charge"}[row[0]]; row[5] != want {
			t.Errorf("minute %s: %q was noted, want %q", row[0], row[5], want)
		}
	}
	if len(log) != 130 {
		t.Errorf("%d minutes", len(log))
	}
}

// What needs several pages is several tables, which hold together what one would.
func TestLongTables(t *testing.T) {
	e, logs := crowded()
	f := opened(t, written(t, e, logs))
	session := e.Sessions[0].ID
	for _, x := range []struct {
		sheet, name string
		rows        int
	}{
		{"Figures", "figures_1", 64}, {"Gates", "gates_1", 64}, {"Gates", "gates_2", 64}, {"Read me", "wind_chill", 64},
		{"Comparisons", "categories", 64}, {"Comparisons", "windows", 64}, {"Method", "protocol", 66},
		{session, "events_10", 64}, {session, "session_10_5", 65}, // beside the 64, own_figure
	} {
		rows, whole := rowsOf(t, f, x.sheet, x.name)
		if whole < 2 || len(rows) != x.rows {
			t.Errorf("%s: %d tables %s with %d rows, want several with %d", x.sheet, whole, x.name, len(rows), x.rows)
		}
		seen := map[string]bool{}
		for _, row := range rows {
			if seen[strings.Join(row, "|")] {
				t.Errorf("%s: %s has %q twice", x.sheet, x.name, row)
			}
			seen[strings.Join(row, "|")] = true
		}
	}
	// A session's name leads to its sheet on the further pages, too.
	rows := texts(t, f, "Figures")
	links := 0
	for r := range rows {
		if len(rows[r]) == 0 || !strings.HasPrefix(rows[r][0], "2026-") {
			continue
		}
		links++
		if ok, to, err := f.GetCellHyperLink("Figures", ref(1, r+1)); err != nil || !ok || to != "'"+rows[r][0]+"'!A1" {
			t.Errorf("Figures, row %d: %s leads to %q; %v", r+1, rows[r][0], to, err)
		}
	}
	if links < 128 {
		t.Errorf("%d links", links)
	}
}

// A head that no table may have is the program's fault, and told.
func TestNoHead(t *testing.T) {
	b := newBook(&edition.Edition{ID: "x"}, nil, nil)
	for name, spoil := range map[string]func(*sheet){
		"a number":  func(s *sheet) { s.put(2, 1, 3, head) },
		"nothing":   func(s *sheet) { s.put(2, 1, nil, head) },
		"a formula": func(s *sheet) { s.formula(2, 1, "1+1", "2", head) },
		"merged":    func(s *sheet) { s.across(2, 1, 3, "wide", head) },
	} {
		s := &sheet{book: b, name: "x"}
		s.put(1, 1, "first", head)
		spoil(s)
		s.table("t", 1, 1, 2, 3, false)
		if s.err == nil || len(s.tables) != 0 {
			t.Errorf("%s: %v, %d tables", name, s.err, len(s.tables))
		}
	}
}
