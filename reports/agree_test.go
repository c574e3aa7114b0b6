package reports

import (
	"bytes"
	"fmt"
	"regexp"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"coldbench/metrics/edition"
	"coldbench/reports/page"
	"coldbench/reports/terminal"
	"coldbench/reports/workbook"
)

// Page and workbook say of each verdict whether a session may be ranked with it.
func TestReportsAgreeOnVerdicts(t *testing.T) {
	e := &edition.Edition{ID: "2026-02-01T0930Z", Vehicles: []edition.Vehicle{{ID: "alder"}}, Sessions: []edition.Session{{ID: "s1", Vehicle: "alder", Procedure: "cold-charge"}},
		Gates: []edition.Gate{{Session: "s1", Gate: "dry", Verdict: edition.CannotTell}}}
	var web, book bytes.Buffer
	if err := page.Write(&web, e, nil, nil, nil); err != nil {
		t.Fatal(err)
	}
	if err := workbook.Write(&book, e, nil, nil, nil); err != nil {
		t.Fatal(err)
	}
	f, err := excelize.OpenReader(&book)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := f.GetRows("Gates")
	if err != nil {
		t.Fatal(err)
	}
	tags := regexp.MustCompile(`<[^>]*>`)
	for what, text := range map[string]string{"the page": tags.ReplaceAllString(web.String(), ""), "the workbook": fmt.Sprint(rows)} {
		if n := strings.Count(text, "cannot tell, as what it needs was not logged, may too."); n != 1 {
			t.Errorf("%s says so %d times", what, n)
		}
	}
}

// A number reads the same wherever it stands: as many digits as its uncertainty has
// (JCGM 100, 7.2.6), rounded alike. A workbook's cells hold the number and a format.
func TestReportsAgreeOnNumbers(t *testing.T) {
	for _, c := range []struct {
		v, u                       float64
		text, ofValue, uncertainty string
	}{
		{96.25, 1.25, "96.3 ± 1.3", `0.0" min"`, `"± "0.0" min"`},
		{38.456, 0.27, "38.46 ± 0.27", `0.00" min"`, `"± "0.00" min"`},
		{412.4, 31, "412 ± 31", `0" min"`, `"± "0" min"`},
		{20.3, 0.00068, "20.3000 ± 0.0007", `0.0000" min"`, `"± "0.0000" min"`},
		{20.3, 0.000004, "20.3 ± < 0.0001", `0.0" min"`, `"± < 0.0001 min"`},
	} {
		e := &edition.Edition{ID: "2026-02-01T0930Z", Scales: []edition.Scale{{Figure: "delay_to_onset", Zero: 1000, Weight: 1}},
			Figures:  []edition.Defined{{Name: "delay_to_onset", Title: "Plug-in to charge", Unit: "min"}},
			Vehicles: []edition.Vehicle{{ID: "alder", Name: "Alder 60"}}, Sessions: []edition.Session{{ID: "s1", Vehicle: "alder", Procedure: "cold-charge"}},
			Results: []edition.Figure{{Session: "s1", Figure: "delay_to_onset", Value: &c.v, U: &c.u, Unit: "min", Status: edition.Measured}},
			Standings: []edition.Standing{{Vehicle: "alder", Place: 1, Lowest: 1, Highest: 1, Score: c.v, U: c.u, Sessions: []string{"s1"},
				Values: []edition.Counted{{Figure: "delay_to_onset", Value: &c.v, U: &c.u, Points: 50}}}},
		}
		var web, book, shell bytes.Buffer
		if err := page.Write(&web, e, nil, nil, nil); err != nil {
			t.Fatal(err)
		}
		if err := workbook.Write(&book, e, nil, nil, nil); err != nil {
			t.Fatal(err)
		}
		terminal.Standings(&shell, e, 0)
		for what, text := range map[string]string{"the page": strings.ReplaceAll(web.String(), "&lt;", "<"), "the terminal": shell.String()} {
			if n := strings.Count(text, c.text); n < 2 { // as points and as the value
				t.Errorf("%s has %q %d times", what, c.text, n)
			}
		}
		f, err := excelize.OpenReader(&book)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		formats := func(sheet string) map[string]bool {
			out := map[string]bool{}
			rows, err := f.GetRows(sheet)
			if err != nil {
				t.Fatal(err)
			}
			for r := range rows {
				for col := range rows[r] {
					cell, _ := excelize.CoordinatesToCellName(col+1, r+1)
					if n, err := f.GetCellStyle(sheet, cell); err == nil {
						if st, err := f.GetStyle(n); err == nil && st.CustomNumFmt != nil {
							out[*st.CustomNumFmt] = true
						}
					}
				}
			}
			return out
		}
		for _, sheet := range []string{"Figures", "All figures", "Standings"} {
			has := formats(sheet)
			want := []string{c.ofValue, c.uncertainty}
			if sheet == "Standings" { // the points, which have no unit
				want = append(want, strings.Replace(c.ofValue, `" min"`, "", 1), strings.Replace(strings.Replace(c.uncertainty, `" min"`, "", 1), " min", "", 1))
			}
			for _, format := range want {
				if !has[format] {
					t.Errorf("%s: no cell of %s has the format %s; there are %s", c.text, sheet, format, fmt.Sprint(has))
				}
			}
		}
	}
}
