package ingest

import (
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/apache/arrow/go/v17/arrow/array"

	"coldbench/ingest/series"
	"coldbench/ingest/source"
)

// Real tables, one as text and as a workbook. testdata/PROVENANCE.md says where
// they and the counts and extremes are from. The text and the workbook give the
// same; the rows of their serial days are in no order, so they are sorted in.
func TestRealTables(t *testing.T) {
	summaries := series.Profile{ID: "summaries", HeaderRow: 1, Decimal: ".", Order: "any", Clock: series.Clock{Column: "Arrival", Format: "serial-day"},
		Columns: []series.Column{{Name: "Pmax (W)", Channel: "charger_power_kw", Unit: "W"}, {Name: "SOC arrival", Channel: "soc_pct", Unit: "%"}, {Name: "Energy (Wh)", Channel: "charger_energy_kwh", Unit: "Wh"}}}
	const charges = "1878 rows, 0 set aside, 2022-04-12 19:27 to 2023-07-04 23:03; charger_power_kw 1878 13.986..174.846, sum 192485.088; soc_pct 1878 0..98, sum 63240.377; charger_energy_kwh 1878 1.165..268.863, sum 60441.936"
	hourly := series.Profile{ID: "hourly", HeaderRow: 1, Decimal: ".", Order: "strict", Missing: []string{"NA"}, Clock: series.Clock{Column: "time_hour", Format: "iso"},
		Columns: []series.Column{{Name: "temp", Channel: "ambient_station_c", Unit: "°F"}, {Name: "wind_speed", Channel: "wind_km_h", Unit: "mph"}}}
	for _, c := range []struct {
		kind, file, sheet string
		profile           series.Profile
		want              string
	}{
		{"delimited", "summaries.csv.gz", "", summaries, charges},
		{"sheet", "summaries.xlsx", "Session_data", summaries, charges},
		// 10.94 and 64.4 °F; and a gust of 1048.36 mph that no air has seen.
		{"delimited", "hourly.csv.gz", "", hourly, "2199 rows, 1 set aside, 2013-01-01 06:00 to 2013-04-03 01:00; ambient_station_c 2199 -11.7..18, sum 5975.800; wind_km_h 2198 0..68.524, sum 38145.662; " +
			"1011:39 wind_speed: 1048.36058 mph is outside what wind_km_h can be, 0 to 400 km/h"},
	} {
		p := c.profile
		p.Kind, p.Sheet = c.kind, c.sheet
		rdr, l, err := kind(c.kind).Open(source.Input{Path: filepath.Join("testdata", c.file), Shown: c.file, Profile: &p, Session: &series.Session{}, Location: time.UTC})
		if err != nil || l != nil {
			t.Fatal(l, err)
		}
		n, first, last := 0, int64(math.MaxInt64), int64(math.MinInt64)
		columns := make([]tally, len(p.Columns))
		for rdr.Next() {
			rec := rdr.Record()
			n += int(rec.NumRows())
			for i := range int(rec.NumRows()) {
				at := int64(rec.Column(1).(*array.Timestamp).Value(i))
				first, last = min(first, at), max(last, at)
				for k := range columns {
					if f := rec.Column(k + 2).(*array.Float64); f.IsValid(i) {
						columns[k].add(f.Value(i))
					}
				}
			}
		}
		if rdr.Err() != nil {
			t.Fatal(rdr.Err())
		}
		r := rdr.Report()
		rdr.Release()
		const minutes = "2006-01-02 15:04"
		parts := []string{fmt.Sprintf("%d rows, %d set aside, %s to %s", n, len(r.Aside), time.UnixMicro(first).UTC().Format(minutes), time.UnixMicro(last).UTC().Format(minutes))}
		for k, col := range p.Columns {
			parts = append(parts, col.Channel+" "+columns[k].String())
		}
		for _, a := range r.Aside {
			parts = append(parts, fmt.Sprintf("%d:%d %s", a.Line, a.Col, a.Reason))
		}
		if got := strings.Join(parts, "; "); got != c.want || r.RowsRead != int64(n+len(r.Aside)) {
			t.Errorf("%s: %d rows read\ngot  %s\nwant %s", c.file, r.RowsRead, got, c.want)
		}
	}
}

// A tally is how many values there are, from where to where, and their sum.
type tally struct {
	n              int
	low, high, sum float64
}

func (y *tally) add(v float64) {
	if y.n == 0 {
		y.low, y.high = v, v
	}
	y.n, y.low, y.high, y.sum = y.n+1, min(y.low, v), max(y.high, v), y.sum+v
}

func (y tally) String() string {
	round := func(v float64) float64 { return math.Round(v*1e3) / 1e3 }
	return fmt.Sprintf("%d %v..%v, sum %.3f", y.n, round(y.low), round(y.high), y.sum)
}
