package bundle

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"testing"

	"coldbench/metrics/edition"
)

// Hostile names and notes come back as they went in, and numbers with all
// their digits.
func TestWrite(t *testing.T) {
	v := 1.0 / 3
	name := "=A1+\"x\", \r\n</script>"
	e := &edition.Edition{
		Scales:    []edition.Scale{{Figure: "f"}},
		Figures:   []edition.Defined{{Name: "f", Unit: "kWh"}},
		Vehicles:  []edition.Vehicle{{ID: "a", Name: name}},
		Sessions:  []edition.Session{{ID: "s", Vehicle: "a", Sources: []edition.Source{{Path: "p", RowsRead: 3, RowsKept: 2, Aside: 1}}}},
		Results:   []edition.Figure{{Session: "s", Figure: "f", Value: &v, U: &v, Status: edition.Fallback, Note: name}},
		Gates:     []edition.Gate{{Session: "s", Gate: "g", Verdict: edition.Failed, Reason: name}},
		Standings: []edition.Standing{{Vehicle: "a", Place: 1, Lowest: 1, Highest: 1, Values: []edition.Counted{{Figure: "f", Value: &v, U: &v}}}},
	}
	logs := []edition.Log{{Session: "s", Minutes: []edition.Minute{{Minute: -1, PackKW: &v}}, Events: []edition.Event{{Kind: "note", Text: name}}}}
	dir := t.TempDir()
	if err := Write(dir, e, logs); err != nil {
		t.Fatal(err)
	}
	read := func(file string) [][]string {
		t.Helper()
		f, err := os.Open(filepath.Join(dir, file))
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		rows, err := csv.NewReader(f).ReadAll() // checks that all rows have the head's width
		if err != nil || len(rows) != 2 {
			t.Fatalf("%s: %d rows, %v", file, len(rows), err)
		}
		return rows
	}
	// encoding/csv reads \r\n within quotes as \n.
	const back = "=A1+\"x\", \n</script>"
	check := func(got, want string) {
		t.Helper()
		if got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
	check(read("figures.csv")[1][8], back)
	check(read("figures.csv")[1][2], "0.3333333333333333")
	check(read("standings.csv")[1][4], back)
	check(read("standings.csv")[0][7], "f (kWh)")
	check(read("gates.csv")[1][3], back)
	check(read("sources.csv")[1][8], "1")
	check(read("events.csv")[1][4], back)
	check(read("minutes.csv")[1][1], "-1")
	check(read("sessions.csv")[1][0], "s")
}
