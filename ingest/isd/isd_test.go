package isd

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/apache/arrow/go/v17/arrow/array"

	"coldbench/ingest/series"
	"coldbench/ingest/source"
)

// station is a week of hourly observations; see PROVENANCE.md beside its series.
const station = "../../testdata/open-data/sessions/soak-2016/station.gz"

func read(t testing.TB, name string) (at []time.Time, c []float64, r *source.Report) {
	t.Helper()
	rdr, l, err := Kind().Open(source.Input{Path: name, Shown: filepath.Base(name), Session: &series.Session{}, Location: time.UTC})
	if err != nil || l != nil {
		t.Fatal(l, err)
	}
	defer rdr.Release()
	for rdr.Next() {
		rec := rdr.Record()
		for i := range int(rec.NumRows()) {
			at = append(at, time.UnixMicro(int64(rec.Column(1).(*array.Timestamp).Value(i))).UTC())
			if col := rec.Column(2).(*array.Float64); !col.IsNull(i) {
				c = append(c, col.Value(i))
			}
		}
	}
	if rdr.Err() != nil {
		t.Fatal(rdr.Err())
	}
	return at, c, rdr.Report()
}

// Source: NOAA ISD, station 024130; the lowest of the spell, -26.6 °C on
// 2016-01-17 at 07:00 UTC, is what the data set's own description states.
func TestStation(t *testing.T) {
	at, c, r := read(t, station)
	if len(at) != 168 || len(c) != 168 || len(r.Aside) != 0 {
		t.Fatalf("%d rows, %d temperatures, %d aside", len(at), len(c), len(r.Aside))
	}
	low := 0
	for i := range c {
		if c[i] < c[low] {
			low = i
		}
	}
	if got := fmt.Sprintf("%.1f %s", c[low], at[low].Format("2006-01-02T15:04")); got != "-26.6 2016-01-17T07:00" {
		t.Error(got)
	}
}

const fixed = "0054024130999992016010100004+60750+012767FM-12+020599999V0200901N003019999999N999999999-00221-00371999999"

func TestRecord(t *testing.T) {
	for _, c := range []struct{ old, new, want string }{
		{"", "", "-2.2 "},
		{"-00221", "+99999", ""},
		{"-00221", "-00227", ""}, // erroneous by its own quality code
		{"-00221", "-00222", "-2.2 "},
		{"-00221", "-0x221", "1:88 cannot read \"-0x22\" as a number"},
		{"-00221", "-09991", "1:88 -99.9 °C is outside what ambient_station_c can be, -90 to 60 °C"},
		{"201601010000", "201613010000", "1:16 cannot read \"201613010000\" as a date and time"},
		{"-00371999999", "", "1:1 the record has 93 characters, an observation at least 105"},
	} {
		name := filepath.Join(t.TempDir(), "x")
		if err := os.WriteFile(name, []byte(strings.Replace(fixed, c.old, c.new, 1)+"\n"), 0o644); err != nil {
			t.Fatal(err)
		}
		_, temps, r := read(t, name)
		got := ""
		for _, v := range temps {
			got += fmt.Sprintf("%.1f ", v)
		}
		for _, a := range r.Aside {
			got += fmt.Sprintf("%d:%d %s", a.Line, a.Col, a.Reason)
		}
		if got != c.want {
			t.Errorf("%s: got %q, want %q", c.new, got, c.want)
		}
	}
}

// Source of counts and extremes: testdata/PROVENANCE.md.
func TestFiles(t *testing.T) {
	for _, c := range []struct {
		name, want string
	}{
		{"024130-99999-2016.gz", "2601 rows, 2585 temperatures from -26.6 to 15.9"},
		{"014160-99999-2016.gz", "7174 rows, 3609 temperatures from -5.6 to 27.1"},
		{"104270-99999-1928.gz", "376 rows, 320 temperatures from -17.8 to 27.2"},
		{"00702699999.csv.gz", "500 rows, 500 temperatures from 2 to 25"},
	} {
		at, temps, r := read(t, filepath.Join("testdata", c.name))
		got := fmt.Sprintf("%d rows, %d temperatures from %g to %g", len(at), len(temps), slices.Min(temps), slices.Max(temps))
		if got != c.want || len(r.Aside) != 0 {
			t.Errorf("%s: got %s and %d set aside, want %s", c.name, got, len(r.Aside), c.want)
		}
	}
}

// A report of a year that is yet to come costs itself, not those below it.
func TestStrayTime(t *testing.T) {
	times := []string{"2026-01-12T18:50", "2026-01-12T19:50", "2027-01-12T20:50", "2026-01-12T21:50", "2026-01-12T22:50", "2026-01-12T22:20"}
	text := table
	for _, at := range times {
		text += strings.Replace(row, "2026-01-12T20:50", at, 1)
	}
	name := filepath.Join(t.TempDir(), "x")
	if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	at, _, r := read(t, name)
	var aside []string
	for _, a := range r.Aside {
		aside = append(aside, fmt.Sprintf("%d:%d %s%s", a.Line, a.Col, a.Reason, a.Hint))
	}
	if got, want := strings.Join(aside, "; "), "4:5 time lies 31532400 s ahead of the rows below; 7:5 time goes back by 1800 s"; len(at) != 4 || r.RowsRead != 6 || got != want {
		t.Errorf("%d rows kept of %d, set aside %q, want %q", len(at), r.RowsRead, got, want)
	}
}

const (
	table = "\"STATION\",\"DATE\",\"NAME\",\"WND\",\"TMP\",\"DEW\"\n"
	row   = "\"a\",\"2026-01-12T20:50:00\",\"HILL, NORTH\",\"999,9,V,0005,1\",\"-0123,1\",\"+9999,9\"\n"
)

// -123 tenths are -12.3 °C; 5 tenths of m/s are 1.8 km/h.
func TestCSV(t *testing.T) {
	for _, c := range []struct{ old, new, station, want string }{
		{"", "", "", "-12.3 - 1.8;"},
		{"+9999,9", "-0150,1", "", "-12.3 -15.0 1.8;"},
		{"-0123,1", "-0123,7", "", "- - 1.8;"},
		{"\"999,9,V,0005,1\"", "", "", "-12.3 - -;"},
		{"0005,1", "9999,9", "", "-12.3 - -;"},
		{"-0123,1", "-x123,1", "", "2:58 cannot read \"-x123\" as a number"},
		{"-0123", "-0999", "", "2:58 -99.9 °C is outside what ambient_station_c can be, -90 to 60 °C"},
		{"0005,1", "0005", "", "2:41 cannot read \"999,9,V,0005\" as a wind"},
		{"2026-01-12T", "2026-13-12T", "", "2:5 cannot read \"2026-13-12T20:50:00\" as a date and time"},
		{"\"a\",", "", "", "2:1 the record has 5 fields, the header 6"},
		{"NORTH", "NO\"RTH", "", "2:1 cannot read the line as comma-separated values: a quote is not closed, or stands within a field"},
		{"\n", "\n" + strings.Replace(row, "\"a\"", "\"b\"", 1), "", "-12.3 - 1.8;3:1 the record is of station \"b\", those before of \"a\""},
		{"\n", "\n" + strings.Replace(row, "\"a\"", "\"b\"", 1), "b", "-12.3 - 1.8;"},
		{"\n", "\n" + strings.Replace(row, "20:50", "20:20", 1), "", "-12.3 - 1.8;3:5 time goes back by 1800 s"},
	} {
		name := filepath.Join(t.TempDir(), "x")
		if err := os.WriteFile(name, []byte(table+strings.Replace(row, c.old, c.new, 1)), 0o644); err != nil {
			t.Fatal(err)
		}
		rdr, l, err := Kind().Open(source.Input{Path: name, Shown: "x", Session: &series.Session{}, Source: series.Source{Station: c.station}, Location: time.UTC})
		if err != nil || l != nil {
			t.Fatal(l, err)
		}
		got := ""
		for rdr.Next() {
			for i := range int(rdr.Record().NumRows()) {
				var vals []string
				for _, col := range rdr.Record().Columns()[2:] {
					vals = append(vals, "-")
					if f := col.(*array.Float64); f.IsValid(i) {
						vals[len(vals)-1] = fmt.Sprintf("%.1f", f.Value(i))
					}
				}
				got += strings.Join(vals, " ") + ";"
			}
		}
		rdr.Release()
		for _, a := range rdr.Report().Aside {
			got += fmt.Sprintf("%d:%d %s", a.Line, a.Col, a.Reason)
		}
		if got != c.want {
			t.Errorf("%s to %s: got %q, want %q", c.old, c.new, got, c.want)
		}
	}
}

func TestOtherTables(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"DATE,HourlyDryBulbTemperature\n", "x:1: no column \"TMP\" (the kind isd reads NOAA's hourly observations, with the columns DATE, WND, TMP and DEW; other tables are of the kind delimited)"},
		{"", "x: the file is empty"},
	} {
		name := filepath.Join(t.TempDir(), "x")
		if err := os.WriteFile(name, []byte(c.text), 0o644); err != nil {
			t.Fatal(err)
		}
		_, l, err := Kind().Open(source.Input{Path: name, Shown: "x", Session: &series.Session{}})
		if err != nil || l.Error() != c.want {
			t.Errorf("got %v %v, want %s", l, err, c.want)
		}
	}
}

func FuzzReader(f *testing.F) {
	f.Add(fixed + "\n\nx\n" + fixed)
	f.Add(table + row)
	f.Fuzz(func(t *testing.T, text string) {
		if strings.HasPrefix(text, "\x1f\x8b") || strings.HasPrefix(text, "\x28\xb5") {
			return
		}
		name := filepath.Join(t.TempDir(), "x")
		if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		if _, l, err := Kind().Open(source.Input{Path: name, Session: &series.Session{}}); err != nil || l != nil {
			return // no header, nothing in it
		}
		at, _, r := read(t, name)
		if r.RowsRead != r.RowsKept+int64(len(r.Aside)) || int(r.RowsKept) != len(at) {
			t.Errorf("%+v, %d handed out", r, len(at))
		}
	})
}
