package isd

import (
	"fmt"
	"os"
	"path/filepath"
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

const record = "0054024130999992016010100004+60750+012767FM-12+020599999V0200901N003019999999N999999999-00221-00371999999"

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
		if err := os.WriteFile(name, []byte(strings.Replace(record, c.old, c.new, 1)+"\n"), 0o644); err != nil {
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

func FuzzReader(f *testing.F) {
	f.Add(record + "\n\nx\n" + record)
	f.Fuzz(func(t *testing.T, text string) {
		if text == "" || strings.HasPrefix(text, "\x1f\x8b") {
			return
		}
		name := filepath.Join(t.TempDir(), "x")
		if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		at, _, r := read(t, name)
		if r.RowsRead != r.RowsKept+int64(len(r.Aside)) || int(r.RowsKept) != len(at) {
			t.Errorf("%+v, %d handed out", r, len(at))
		}
	})
}
