package bundle

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet/file"
	"github.com/apache/arrow/go/v17/parquet/pqarrow"

	"coldbench/metrics/edition"
)

const hostile = "=A1+\"x\", \r\n</script>"

// sample has one row of each table.
func sample() (*edition.Edition, []edition.Log) {
	v := 1.0 / 3
	e := &edition.Edition{
		ID: "2026-02-01T0930Z", At: time.Date(2026, 2, 1, 9, 30, 0, 0, time.UTC), Program: "test",
		Scales:     []edition.Scale{{Figure: "f"}},
		Figures:    []edition.Defined{{Name: "f", Unit: "kWh"}},
		Vehicles:   []edition.Vehicle{{ID: "a", Name: hostile}},
		Sessions:   []edition.Session{{ID: "s", Vehicle: "a", Zero: time.Date(2026, 1, 12, 19, 12, 30, 0, time.UTC), Sources: []edition.Source{{Path: "p", RowsRead: 3, RowsKept: 2, Aside: 1}}}},
		Results:    []edition.Figure{{Session: "s", Figure: "f", Value: &v, U: &v, Status: edition.Fallback, Note: hostile}},
		Gates:      []edition.Gate{{Session: "s", Gate: "g", Verdict: edition.Failed, Reason: hostile}},
		Categories: []edition.Category{{Name: hostile, Weight: 3, Cars: []edition.InCategory{{Vehicle: "a", Place: 1, Lowest: 1, Highest: 1, Score: v, U: v}}}},
		Penalties:  []edition.Penalty{{Session: "s", Figure: "f", Cold: 2, Control: 1, Difference: 1, U: v}},
		Standings:  []edition.Standing{{Vehicle: "a", Place: 1, Lowest: 1, Highest: 1, Values: []edition.Counted{{Figure: "f", Value: &v, U: &v}}}},
	}
	logs := []edition.Log{{Session: "s", Minutes: []edition.Minute{{Minute: -1, PackKW: &v}}, Events: []edition.Event{{Kind: "note", Text: hostile}},
		Phases: []edition.Phase{{Name: "soak", To: 60, Rule: "plugged in"}}}}
	return e, logs
}

func written(t *testing.T) string {
	t.Helper()
	e, logs := sample()
	dir := t.TempDir()
	if err := Write(dir, e, logs); err != nil {
		t.Fatal(err)
	}
	return dir
}

// Hostile names and notes come back as they went in, and numbers with all
// their digits.
func TestCSV(t *testing.T) {
	dir := written(t)
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
	check(read("penalties.csv")[1][2], "kWh")
	check(read("sources.csv")[1][8], "1")
	check(read("events.csv")[1][4], back)
	check(read("minutes.csv")[1][1], "-1")
	check(read("phases.csv")[1][4], "plugged in")
	check(read("sessions.csv")[1][3], "2026-01-12T19:12:30Z")
}

// Raw stands beside corrected, but no figure in two columns.
func TestBeside(t *testing.T) {
	e, _ := sample()
	v, u := 38.5, 0.7
	e.Scales = append(e.Scales, edition.Scale{Figure: "g"})
	e.Figures = append(e.Figures, edition.Defined{Name: "g", Unit: "min"}, edition.Defined{Name: "g_at_reference", Unit: "min"})
	e.Standings[0].Values = append(e.Standings[0].Values, edition.Counted{Figure: "g"})
	e.Standings[0].Beside = []edition.Counted{{Figure: "g", Value: &v, U: &u}, {Figure: "g_at_reference", Value: &v, U: &u}}
	e.Standings = append(e.Standings, edition.Standing{Vehicle: "b", Values: []edition.Counted{{Figure: "f"}, {Figure: "g"}}})
	tab := standings(e)
	var heads []string
	for _, c := range tab.columns[7:] {
		heads = append(heads, c.head)
	}
	want := "f (kWh)|f, standard uncertainty (kWh)|f (points)|g (min)|g, standard uncertainty (min)|g (points)|g_at_reference (min)|g_at_reference, standard uncertainty (min)|sessions|reason"
	if got := strings.Join(heads, "|"); got != want {
		t.Errorf("columns %s, want %s", got, want)
	}
	if got := tab.rows[0][13:15]; got[0] != v || got[1] != u {
		t.Errorf("beside %v, want %v ± %v", got, v, u)
	}
	if got := tab.rows[1]; len(got) != len(tab.columns) || got[13] != nil {
		t.Errorf("a row without it: %v", got)
	}
}

// A car that is not ranked has no points: 0 would be a result.
func TestNotRanked(t *testing.T) {
	e, _ := sample()
	e.Standings = append(e.Standings, edition.Standing{Vehicle: "b", Values: []edition.Counted{{Figure: "f"}}})
	tab := standings(e)
	for i, c := range tab.columns {
		if told, ranked := tab.rows[1][i], tab.rows[0][i]; strings.Contains(c.head, "points") && (told != nil || ranked == nil) {
			t.Errorf("%s: %v, and %v of a car that is ranked", c.head, told, ranked)
		}
	}
}

// Parquet holds the same rows, typed, with null where CSV has nothing.
func TestParquet(t *testing.T) {
	dir := written(t)
	e, logs := sample()
	for _, tab := range tables(e, logs) {
		r, err := file.OpenParquetFile(filepath.Join(dir, tab.name+".parquet"), false)
		if err != nil {
			t.Fatal(err)
		}
		defer r.Close()
		ar, err := pqarrow.NewFileReader(r, pqarrow.ArrowReadProperties{}, memory.DefaultAllocator)
		if err != nil {
			t.Fatal(err)
		}
		got, err := ar.ReadTable(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		defer got.Release()
		if got.NumRows() != 1 || int(got.NumCols()) != len(tab.columns) {
			t.Fatalf("%s: %d rows of %d columns, want 1 of %d", tab.name, got.NumRows(), got.NumCols(), len(tab.columns))
		}
		cell := func(column int) any {
			a := got.Column(column).Data().Chunk(0)
			if a.IsNull(0) {
				return nil
			}
			switch a := a.(type) {
			case *array.String:
				return a.Value(0)
			case *array.Float64:
				return a.Value(0)
			case *array.Int64:
				return a.Value(0)
			case *array.Timestamp:
				return time.Unix(int64(a.Value(0)), 0).UTC()
			}
			t.Fatalf("%s: column %d is a %T", tab.name, column, a)
			return nil
		}
		for i, want := range tab.rows[0] {
			v := cell(i)
			// Parquet has no unit of a second; a timestamp comes back in ms.
			if at, ok := v.(time.Time); ok {
				v = time.UnixMilli(at.Unix()).UTC()
			}
			if v != want {
				t.Errorf("%s, %s: %v, want %v", tab.name, tab.columns[i].field, v, want)
			}
		}
	}
}

// The manifest's hashes are the files', and the ZIP holds what it lists.
func TestSeal(t *testing.T) {
	dir := written(t)
	e, _ := sample()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	made := func(yield func(string, error) bool) {
		for _, entry := range entries {
			yield(entry.Name(), nil)
		}
	}
	if err := Seal(dir, e, made); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(filepath.Join(dir, ManifestFile))
	if err != nil {
		t.Fatal(err)
	}
	var m Manifest
	if err := json.Unmarshal(data, &m); err != nil {
		t.Fatal(err)
	}
	if len(m.Files) != 3+2*10 { // three of JSON, ten tables in two forms
		t.Errorf("%d files", len(m.Files))
	}
	z, err := zip.OpenReader(filepath.Join(dir, e.ID+".zip"))
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	if len(z.File) != len(m.Files)+1 {
		t.Errorf("%d files in the ZIP, want the manifest and its %d", len(z.File), len(m.Files))
	}
	for _, f := range m.Files {
		r, err := z.Open(e.ID + "/" + f.Path)
		if err != nil {
			t.Fatal(err)
		}
		packed, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		plain, err := os.ReadFile(filepath.Join(dir, f.Path))
		if err != nil {
			t.Fatal(err)
		}
		sum := sha256.Sum256(plain)
		if !bytes.Equal(packed, plain) || hex.EncodeToString(sum[:]) != f.SHA256 || int64(len(plain)) != f.Bytes {
			t.Errorf("%s is not what the manifest and the ZIP say", f.Path)
		}
	}
}

// What could not be made is Seal's error, and there is no manifest.
func TestSealFails(t *testing.T) {
	dir := written(t)
	e, _ := sample()
	lost := errors.New("the workbook is gone")
	made := func(yield func(string, error) bool) { _ = yield(EditionFile, nil) && yield("ranking.xlsx", lost) }
	if err := Seal(dir, e, made); !errors.Is(err, lost) {
		t.Error(err)
	}
	if _, err := os.Stat(filepath.Join(dir, ManifestFile)); !errors.Is(err, os.ErrNotExist) {
		t.Error(err)
	}
}
