package workbook

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"coldbench/metrics/edition"
)

// written is an edition's workbook, sampled the sample's.
func written(t *testing.T, e *edition.Edition, logs []edition.Log) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, e, logs, nil, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func sampled(t *testing.T) []byte {
	e, logs := sample()
	return written(t, e, logs)
}

func opened(t *testing.T, data []byte) *excelize.File {
	t.Helper()
	f, err := excelize.OpenReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	return f
}

// parts are the texts in the archive, by name.
func parts(t *testing.T, data []byte) map[string]string {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]string{}
	for _, p := range z.File {
		r, err := p.Open()
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(r)
		r.Close()
		if err != nil {
			t.Fatal(err)
		}
		out[p.Name] = string(text)
	}
	return out
}

// texts are all values of a sheet, as written.
func texts(t *testing.T, f *excelize.File, sheet string) [][]string {
	t.Helper()
	rows, err := f.GetRows(sheet, excelize.Options{RawCellValue: true})
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

func TestSameBytes(t *testing.T) {
	e, logs := sample()
	first := written(t, e, logs)
	for range 3 {
		if !bytes.Equal(first, written(t, e, logs)) {
			t.Fatal("the same edition gave other bytes")
		}
	}
	e.Standings[0].Score += 1e-9
	if bytes.Equal(first, written(t, e, logs)) {
		t.Error("another score gave the same bytes")
	}
}

func TestPartsAreXML(t *testing.T) {
	for name, text := range parts(t, sampled(t)) {
		d := xml.NewDecoder(strings.NewReader(text))
		for {
			_, err := d.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				t.Errorf("%s: %v", name, err)
				break
			}
		}
	}
}

// Readers that know prefixes rather than namespaces find a sheet's charts.
func TestDrawingPrefix(t *testing.T) {
	n := 0
	for name, text := range parts(t, sampled(t)) {
		if strings.Contains(text, "relationships:id") {
			t.Errorf("%s has a prefix of its own", name)
		}
		n += strings.Count(text, `<drawing r:id="rId1">`)
	}
	if n != 4 {
		t.Errorf("%d sheets with charts, want 4", n)
	}
}

func TestSheets(t *testing.T) {
	f := opened(t, sampled(t))
	want := []string{"Read me", "Standings", "Sessions", "Figures", "All figures", "Gates", "Reasons", "Cold and control", "Comparisons", "Curves",
		"2026-01-12-alder-60", "2026-01-13-birch-75", "2026-01-14-cedar-50", "2026-01-15-dogwood-90", "2026-01-16 a name too long - f…", "Sources", "Method"}
	if got := f.GetSheetList(); !slices.Equal(got, want) {
		t.Errorf("got %q", got)
	}
	if props, err := f.GetCalcProps(); err != nil || props.FullCalcOnLoad == nil || !*props.FullCalcOnLoad {
		t.Errorf("not calculated on load: %+v %v", props, err)
	}
	// A filter once cost the sheet its fit to the page.
	for _, name := range want {
		if p, err := f.GetSheetProps(name); err != nil || p.FitToPage == nil || !*p.FitToPage {
			t.Errorf("%s does not fit to the page: %v", name, err)
		}
	}
}

// Every link leads to a sheet that is there.
func TestLinks(t *testing.T) {
	data := sampled(t)
	f := opened(t, data)
	target := regexp.MustCompile(`<hyperlink ref="[A-Z]+[0-9]+" location="([^"]*)"`)
	n := 0
	for name, text := range parts(t, data) {
		if !strings.HasPrefix(name, "xl/worksheets/") {
			continue
		}
		for _, m := range target.FindAllStringSubmatch(text, -1) {
			n++
			to := strings.ReplaceAll(m[1], "&#39;", "'")
			sheet := strings.ReplaceAll(strings.TrimSuffix(strings.TrimPrefix(to, "'"), "'!A1"), "''", "'")
			if i, err := f.GetSheetIndex(sheet); err != nil || i < 0 {
				t.Errorf("%s links to %q", name, to)
			}
		}
	}
	if n < 7+5*4 {
		t.Errorf("only %d links", n)
	}
}

// Formulas stand in the standings alone; hostile text is text everywhere, and
// whole but for what no cell can hold.
func TestHostileText(t *testing.T) {
	f := opened(t, sampled(t))
	all := map[string]bool{}
	for _, sheet := range f.GetSheetList() {
		for r, row := range texts(t, f, sheet) {
			for c, v := range row {
				all[v] = true
				formula, err := f.GetCellFormula(sheet, ref(c+1, r+1))
				if err != nil {
					t.Fatal(err)
				}
				if formula != "" && (sheet != "Standings" || strings.ContainsAny(formula, `"@`)) {
					t.Errorf("%s!%s is the formula %q", sheet, ref(c+1, r+1), formula)
				}
			}
		}
	}
	for _, want := range []string{hostile[0], "+1+1", "-2", "@SUM(1)", "\t=1", "\ufffd=1", "a\ufffdb\ufffdc\ufffd", "_x0041_", `<v>&amp;"'`,
		"שלום \ufffdgnp.exe", "🚗❄️", "\ufffd\ufffd", strings.Repeat("long ", 60), strings.Repeat("€", maxText) + "… (cut; 40000 characters in all)", "=1+1"} {
		if !all[want] {
			t.Errorf("no cell holds %.60q", want)
		}
	}
}

func TestNoNumber(t *testing.T) {
	for name, spoil := range map[string]func(*edition.Edition, []edition.Log){
		"score":  func(e *edition.Edition, _ []edition.Log) { e.Standings[0].Score = math.NaN() },
		"figure": func(e *edition.Edition, _ []edition.Log) { e.Results[0].Value = pointer(math.Inf(1)) },
		"minute": func(_ *edition.Edition, l []edition.Log) { l[0].Minutes[3].SoCPct = pointer(math.NaN()) },
		"weight": func(e *edition.Edition, _ []edition.Log) {
			e.Scales = slices.Clone(e.Scales)
			e.Scales[0].Weight = math.Inf(-1)
		},
	} {
		e, logs := sample()
		spoil(e, logs)
		var b bytes.Buffer
		if err := Write(&b, e, logs, nil, nil); err == nil || !strings.Contains(err.Error(), "is no number") || b.Len() > 0 {
			t.Errorf("%s: %v, %d bytes", name, err, b.Len())
		}
	}
}

// An edition with nothing in it is a workbook, too.
func TestEmpty(t *testing.T) {
	for name, e := range map[string]*edition.Edition{
		"nothing":   {ID: "x"},
		"no scales": {ID: "x", Vehicles: []edition.Vehicle{{ID: "a"}}, Standings: []edition.Standing{{Vehicle: "a", Place: 1}}},
		"unranked":  {ID: "x", Scales: sampleScales, Standings: []edition.Standing{{Vehicle: "a", Reason: "nothing was read"}}},
		"refused":   {ID: "x", Sessions: []edition.Session{{ID: "History", Problem: "unknown vehicle"}, {ID: "history"}, {ID: "Method"}, {ID: "'"}}},
	} {
		f := opened(t, written(t, e, nil))
		if n := len(f.GetSheetList()); n != 12+len(e.Sessions) {
			t.Errorf("%s: %d sheets", name, n)
		}
	}
}

// Beyond 200 sessions only those that a place rests on, the first 200 of them, or
// that are asked for, have a sheet, rows of figures and reasons, and the others lead to
// the log of all.
func TestManySessions(t *testing.T) {
	e := &edition.Edition{ID: "x", Scales: sampleScales, Vehicles: []edition.Vehicle{{ID: "a"}}, Standings: []edition.Standing{{Vehicle: "a", Place: 1, Sessions: []string{"s007"}}}}
	for i := range 201 {
		id := fmt.Sprintf("s%03d", i)
		e.Sessions = append(e.Sessions, edition.Session{ID: id, Vehicle: "a"})
		e.Results = append(e.Results, edition.Figure{Session: id, Figure: "f", Status: edition.None})
		e.Gates = append(e.Gates, edition.Gate{Session: id, Gate: "g", Verdict: edition.Passed})
	}
	var b bytes.Buffer
	if err := Write(&b, e, nil, nil, []string{"s100"}); err != nil {
		t.Fatal(err)
	}
	f := opened(t, b.Bytes())
	if n := len(f.GetSheetList()); n != 14 || !slices.Contains(f.GetSheetList(), "s007") || !slices.Contains(f.GetSheetList(), "s100") {
		t.Errorf("sheets %q", f.GetSheetList())
	}
	for cell, want := range map[string]string{"A4": "data/minutes.csv", "A13": "'s007'!A1", "A14": "'Sessions'!A1"} { // A13 and A14 are s007 and s008
		if _, to, err := f.GetCellHyperLink("Sessions", cell); err != nil || to != want {
			t.Errorf("Sessions %s leads to %q, want %q; %v", cell, to, want, err)
		}
	}
	for sheet, file := range map[string]string{"All figures": "data/figures.csv", "Reasons": "data/gates.csv"} {
		if _, to, err := f.GetCellHyperLink(sheet, "A4"); err != nil || to != file {
			t.Errorf("%s leads to %q, %v", sheet, to, err)
		}
		rows, err := f.GetRows(sheet)
		if err != nil {
			t.Fatal(err)
		}
		if len(rows) != 5+200 || rows[5][0] != "s000" || rows[5+7][0] != "s007" || rows[5+199][0] != "s199" {
			t.Errorf("%s: %d rows, %q", sheet, len(rows), rows[5:])
		}
		if !strings.Contains(rows[2][0], "200 of 201 sessions are here: those that a place rests on first") {
			t.Errorf("%s: %q", sheet, rows[2])
		}
	}
	e.Standings[0].Sessions = nil
	for _, s := range e.Sessions {
		e.Standings[0].Sessions = append(e.Standings[0].Sessions, s.ID)
	}
	b.Reset()
	if err := Write(&b, e, nil, nil, []string{"s200"}); err != nil {
		t.Fatal(err)
	}
	// s000 to s199, and s200 since it is asked for.
	if n := len(opened(t, b.Bytes()).GetSheetList()); n != 12+201 {
		t.Errorf("%d sheets", n)
	}
	b.Reset()
	if err := Write(&b, e, nil, nil, nil); err != nil {
		t.Fatal(err)
	}
	if list := opened(t, b.Bytes()).GetSheetList(); len(list) != 12+200 || slices.Contains(list, "s200") {
		t.Errorf("%d sheets", len(list))
	}
}

// What moved since the edition before stands below the standings.
func TestMoved(t *testing.T) {
	e, logs := sample()
	before := *e
	before.ID = "2026-01-31T0900Z"
	before.Standings = slices.Clone(e.Standings)
	before.Standings[0].Place = 3
	var b bytes.Buffer
	if err := Write(&b, e, logs, &before, nil); err != nil {
		t.Fatal(err)
	}
	rows, err := opened(t, b.Bytes()).GetRows("Standings")
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(rows, func(r []string) bool { return len(r) > 0 && r[0] == "What moved since edition 2026-01-31T0900Z" })
	if i < 0 || len(rows[i+1]) < 3 || rows[i+1][0] != e.Name(e.Standings[0].Vehicle) || !strings.Contains(rows[i+1][2], "place 3 to") {
		t.Errorf("row %d: %q", i, rows[max(i, 0):max(i, 0)+2])
	}
}

// Each value that earns points says in a comment which minutes it came from.
func TestEvidence(t *testing.T) {
	e, logs := sample()
	for i := range e.Standings {
		for _, ses := range e.Sessions {
			if ses.Vehicle == e.Standings[i].Vehicle {
				e.Standings[i].Sessions = append(e.Standings[i].Sessions, ses.ID)
			}
		}
	}
	comments, err := opened(t, written(t, e, logs)).GetComments("Standings")
	if err != nil {
		t.Fatal(err)
	}
	if len(comments) != 4*len(e.Scales) { // four ranked cars
		t.Errorf("%d comments", len(comments))
	}
	var all strings.Builder
	for _, c := range comments {
		all.WriteString(c.Text)
	}
	if want := "2026-01-12-alder-60: 18.0 ± 1.0 min, measured, from minute 0.0 to 60.0"; !strings.Contains(all.String(), want) {
		t.Errorf("no %q in\n%s", want, all.String())
	}
}

func TestSheetNames(t *testing.T) {
	names := sheetNames{}
	for _, c := range [][2]string{
		{"night", "night"}, {"NIGHT", "NIGHT~2"}, {"a/b:c[d]*?\\", "a-b-c-d----"}, {"'quoted'", "quoted"}, {"", "Session"}, {"History", "Session~2"},
		{strings.Repeat("x", 40), strings.Repeat("x", 30) + "…"}, {strings.Repeat("x", 50), strings.Repeat("x", 29) + "~2"},
		{strings.Repeat("🚗", 20), strings.Repeat("🚗", 15)}, {" \x00 ", "\ufffd"},
	} {
		if got := names.take(c[0]); got != c[1] {
			t.Errorf("take(%q) = %q, want %q", c[0], got, c[1])
		}
	}
}

// Whatever sessions are called, sheets have names that are allowed and differ.
func FuzzSheetNames(f *testing.F) {
	for i, h := range hostile {
		f.Add(h, hostile[(i+1)%len(hostile)])
	}
	f.Add("a~2", "A")
	f.Fuzz(func(t *testing.T, a, b string) {
		names, seen := sheetNames{}, map[string]bool{}
		for _, want := range []string{a, b, a, b, a} {
			name := names.take(want)
			if seen[strings.ToLower(name)] {
				t.Errorf("%q stands twice", name)
			}
			seen[strings.ToLower(name)] = true
			file := excelize.NewFile()
			if _, err := file.NewSheet(name); err != nil {
				t.Errorf("%q for %q: %v", name, want, err)
			}
			file.Close()
		}
	})
}

// rounded is v in the digits that spreadsheet programs keep.
func rounded(v float64) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 15, 64), 64)
	if err != nil {
		panic(err)
	}
	return r
}

// What a formula carries is the edition's number, in the 15 digits that
// spreadsheet programs keep.
func TestCarriedValues(t *testing.T) {
	e, logs := sample()
	carried := map[string]float64{}
	cells := regexp.MustCompile(`<c r="([A-Z]+[0-9]+)"[^>]*><f>[^<]*</f><v>([-0-9.e+]+)</v>`)
	for _, m := range cells.FindAllStringSubmatch(parts(t, written(t, e, logs))["xl/worksheets/sheet2.xml"], -1) {
		carried[m[1]] = number(t, m[2])
	}
	rows := texts(t, opened(t, written(t, e, logs)), "Standings")
	tables := 0
	for r, row := range rows {
		if len(row) == 0 || row[0] != "place" {
			continue
		}
		tables++
		for k, st := range e.Standings[:4] {
			at := r + 2 + k
			want := map[int]float64{placeCol: float64(st.Place), pointsCol: st.Score, uCol: st.U}
			for i, v := range st.Values {
				want[scaleCol+i] = v.Points
			}
			for col, v := range want {
				if got, ok := carried[ref(col, at)]; !ok || got != rounded(v) {
					t.Errorf("%s carries %v (%v), the edition says %v", ref(col, at), got, ok, v)
				}
			}
		}
	}
	if tables != 2 {
		t.Errorf("%d tables of places", tables)
	}
}

// What charges nothing counts its minutes from its start, a charge from its first
// plug-in; where another one led to it, the sheet says how far apart they are, as the
// page and the pictures count from that.
func TestStart(t *testing.T) {
	e, logs := sample()
	e.Sessions[0].Procedure = "cold-drive"
	logs[1].PlugS = 540
	data := parts(t, written(t, e, logs))
	for chart, want := range map[string]string{"1": "minutes since the start", "3": "minutes since the first plug-in"} {
		if text := data["xl/charts/chart"+chart+".xml"]; !strings.Contains(text, want) || strings.Count(text, "minutes since") != 1 {
			t.Errorf("chart %s is not over %s", chart, want)
		}
	}
	tell := 0
	for _, text := range data {
		tell += strings.Count(text, "The charge came from the plug-in 9.0 min after the first.")
	}
	if tell != 1 {
		t.Errorf("%d cells tell of a later plug-in", tell)
	}
}
