package metar

import (
	"compress/gzip"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/pelletier/go-toml/v2"

	"coldbench/ingest/series"
	"coldbench/ingest/source"
	"coldbench/warehouse/diag"
)

func input(t testing.TB, text string) source.Input {
	t.Helper()
	name := filepath.Join(t.TempDir(), "x")
	if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return source.Input{Path: name, Shown: "x", Session: &series.Session{}, Location: time.UTC}
}

type reading struct {
	line int64
	at   time.Time
	vals [3]float64
}

func read(t testing.TB, in source.Input) ([]reading, *source.Report, diag.List) {
	t.Helper()
	rdr, l, err := Kind().Open(in)
	if err != nil {
		t.Fatal(err)
	}
	if l != nil {
		return nil, nil, l
	}
	defer rdr.Release()
	var rows []reading
	for rdr.Next() {
		rec := rdr.Record()
		for i := range int(rec.NumRows()) {
			w := reading{line: rec.Column(0).(*array.Int64).Value(i), at: time.UnixMicro(int64(rec.Column(1).(*array.Timestamp).Value(i))).UTC()}
			for c := range w.vals {
				w.vals[c] = math.NaN()
				if col := rec.Column(2 + c).(*array.Float64); col.IsValid(i) {
					w.vals[c] = col.Value(i)
				}
			}
			rows = append(rows, w)
		}
	}
	if rdr.Err() != nil {
		t.Fatal(rdr.Err())
	}
	r := rdr.Report()
	if r.RowsRead != r.RowsKept+int64(len(r.Aside)) || int(r.RowsKept) != len(rows) {
		t.Errorf("%d read, %d kept, %d set aside, %d handed out", r.RowsRead, r.RowsKept, len(r.Aside), len(rows))
	}
	return rows, r, nil
}

func value(v float64) string {
	if math.IsNaN(v) {
		return "-"
	}
	return strconv.FormatFloat(math.Round(v*1000)/1000, 'f', -1, 64)
}

// Sources: FAA Aeronautical Information Manual 7-1-28 (KPIT), AC 00-45H
// 3.1.5.13.31 (the T group 2.6/-1.5), FAA JO 7900.5E 13.15c (the dew point
// missing); the group T10221267 is of AFMAN 15-111, remark 30. KOKC is made so
// that body and T group disagree, to tell which one is taken. The rest follows
// from FM 15's code form.
func TestReports(t *testing.T) {
	for _, c := range []struct{ report, want string }{
		{"METAR KPIT 091955Z COR 22015G25KT 3/4SM R28L/2600FT TSRA OVC010CB 18/16 A2992 RMK SLP045 T01820159", "18.2 15.9 27.78 TSRA"},
		{"METAR KOKC 011955Z AUTO 22015G25KT 3/4SM CLR 18/16 A2992 RMK AO2 T00261015", "2.6 -1.5 27.78"},
		{"KSFO 240156Z 26016G22KT 9SM BKN012 13/08 A3006 AO2 PK WND 26027/0109 SLP179 T01280083", "12.8 8.3 29.632"},
		{"KSFO 240156Z 26016G22KT 9SM BKN012 M02/M27 A3006 RMK T10221267=", "-2.2 -26.7 29.632"},
		{"KSFO 240156Z 26016KT M10/M14 RMK T11001139", "-10 -13.9 29.632"},
		{"KSFO 240156Z 00000KT M05/ A3006", "-5 - 0"},
		{"KSFO 240156Z 00000KT M05/M08 RMK T1052", "-5.2 -8 0"},
		{"KSFO 240156Z 00000KT 03/ RMK T0026", "2.6 - 0"}, // AC 00-45H: the dew point may be missing there too
		{"UEEE 180730Z VRB01MPS M48/M53 Q1033", "-48 -53 3.6"},
		{"ZBAA 180730Z 36030KMH M00/// Q1033", "0 - 30"},
		{"ENSB 180750Z AUTO /////KT ///// Q////", "- - -"},
		{"ENSB 180750Z NIL=", "- - -"},
		{"ENSB 180750Z AUTO P99KT M01/M02", "-1 -2 -"},
		{"SPECI COR ENSB 180750Z 18010KT 9999 -SN M01/M02 Q1000 TEMPO 25025KT +SHRA", "-1 -2 18.52 -SN"},
		// Not on the car, or not falling, or not now.
		{"ENSB 180750Z 18010KT VCSH BLSN DRSN FZFG M01/M02 Q1000 RESN NOSIG RMK SN", "-1 -2 18.52"},
		{"ENSB 180750Z 18010KT FZRA GS SNRA PL UP M01/M02", "-1 -2 18.52 FZRA GS SNRA PL UP"},
		{"ENSB 180750Z 18010KT M99/M02", "aside 1: -99 °C is outside what ambient_station_c can be, -90 to 60 °C"},
		{"KNMT 1218 DH0700/PPH M", "aside 6: cannot read \"1218\" as a day and time"},
		{"KNMT 321250Z 18010KT", "aside 6: there is no moment \"321250Z\" in a month"},
		{"no report", "aside 1: the report does not start with a station and a time"},
	} {
		in := input(t, c.report+"\n")
		in.Source.Start = toml.LocalDateTime{LocalDate: toml.LocalDate{Year: 2026, Month: 1, Day: 1}}
		rows, r, l := read(t, in)
		got := ""
		for _, w := range rows {
			got += value(w.vals[0]) + " " + value(w.vals[1]) + " " + value(w.vals[2])
		}
		for _, e := range r.Events {
			got += " " + e.Text
		}
		for _, a := range r.Aside {
			got += fmt.Sprintf("aside %d: %s", a.Col, a.Reason)
		}
		if l != nil || got != c.want {
			t.Errorf("%s: got %q, want %q %v", c.report, got, c.want, l)
		}
	}
}

// The decoded columns are somebody else's; testdata/PROVENANCE.md says whose.
// Their decoder gave up on three reports that are plain enough (23///, 20/// and
// 30/26Q1007) and took the visibility of a fourth for its temperature. It rounds
// wind to whole knots.
func TestDecoded(t *testing.T) {
	recs := decoded(t)
	var text strings.Builder
	for _, rec := range recs {
		text.WriteString(rec[0] + "\n")
	}
	in := input(t, text.String())
	in.Source.Start = toml.LocalDateTime{LocalDate: toml.LocalDate{Year: 2014, Month: 12, Day: 18}}
	_, _, l := read(t, in)
	if len(l) != 1 || !strings.Contains(l[0].Error(), "the file has reports of 4536 stations: AGGH, AYPY, ") {
		t.Errorf("with no station stated: %.120v", l)
	}

	more, precipitation := 0, 0
	for i, rec := range recs {
		o, _, d := parse(rec[0])
		if d != nil {
			if rec[3] != "" || !strings.HasPrefix(rec[0], "UTO8 M M") && !strings.HasPrefix(rec[0], "KNMT 1218") {
				t.Errorf("%s: %v", rec[0], d)
			}
			continue
		}
		cal := newCalendar(in)
		if at, ok := cal.resolve(o); !ok || at.Format(time.RFC3339) != rec[2] || o.station != rec[1] {
			t.Errorf("row %d: %s %v, want %s %s", i+2, o.station, at, rec[1], rec[2])
		}
		for v, want := range []string{rec[3], rec[4]} {
			switch {
			case want == "" && v == temperature && !math.IsNaN(o.values[v]):
				more++
			case o.station == "LIRQ": // R05/0500/ FG was taken for 0 °C
			case want == "" && (math.IsNaN(o.values[v]) || o.station == "WALL"):
			case want == "":
				t.Errorf("%s: value %d is %g, decoded none", rec[0], v, o.values[v])
			default:
				if f, err := strconv.ParseFloat(want, 64); err != nil || o.values[v] != f {
					t.Errorf("%s: value %d is %g, decoded %s", rec[0], v, o.values[v], want)
				}
			}
		}
		if knots, err := strconv.ParseFloat(rec[5], 64); err == nil && !(math.Abs(o.values[wind]/1.852-knots) <= 0.51) {
			t.Errorf("%s: wind %g kt, decoded %g", rec[0], o.values[wind]/1.852, knots)
		}
		var falls []string
		for _, g := range strings.Fields(rec[6]) {
			if strings.HasPrefix(g, "VC") || strings.Contains(g, "DR") || strings.Contains(g, "BL") {
				continue
			}
			falls = append(falls, fallen(g)...)
		}
		if rec[1] == "EHEH" || rec[1] == "WARQ" {
			continue // a forecast's drizzle, and rain in the distance
		}
		if mine := distinct(fallen(o.precipitation)); !slices.Equal(mine, distinct(falls)) {
			t.Errorf("%s: %q, decoded %q", rec[0], mine, falls)
		}
		if len(falls) > 0 {
			precipitation++
		}
	}
	if more != 3 || precipitation < 400 {
		t.Errorf("%d temperatures more than decoded, %d reports of precipitation", more, precipitation)
	}

	// One station of them: 68 stations were at or below -20 °C, the coldest -48 °C, says the data's description.
	in.Source.Station = "ueee"
	rows, r, l := read(t, in)
	if l != nil || len(rows) != 1 || rows[0].vals[temperature] != -48 || r.RowsRead != 3 || len(r.Aside) != 2 {
		t.Errorf("%v %+v %v", rows, r, l)
	}
	cold := 0
	for _, rec := range recs {
		if o, _, d := parse(rec[0]); d == nil && o.values[temperature] <= -20 {
			cold++
		}
	}
	if cold != 68 {
		t.Errorf("%d stations at or below -20 °C", cold)
	}
}

// fallen lists the phenomena of groups that are precipitation.
func fallen(groups string) []string {
	return regexp.MustCompile("DZ|RA|SN|SG|IC|PL|GR|GS|UP").FindAllString(groups, -1)
}

func distinct(s []string) []string {
	slices.Sort(s)
	return slices.Compact(s)
}

func decoded(t testing.TB) [][]string {
	t.Helper()
	f, err := os.Open("testdata/decoded.csv.gz")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	recs, err := csv.NewReader(z).ReadAll()
	if err != nil || len(recs) != 4539 {
		t.Fatal(len(recs), err)
	}
	return recs[1:]
}

func date(y, m, d, h int) toml.LocalDateTime {
	return toml.LocalDateTime{LocalDate: toml.LocalDate{Year: y, Month: m, Day: d}, LocalTime: toml.LocalTime{Hour: h}}
}

func TestCalendar(t *testing.T) {
	for _, c := range []struct {
		name           string
		start, soak    toml.LocalDateTime
		reports, times string
	}{
		{"over a year's end", date(2025, 12, 30, 18), toml.LocalDateTime{}, "302350Z 312350Z 010020Z", "2025-12-30 2025-12-31 2026-01-01"},
		{"newest first", date(2025, 12, 30, 18), toml.LocalDateTime{}, "010020Z 312350Z 302350Z", "2026-01-01 2025-12-31 2025-12-30"},
		{"a whole month", date(2026, 1, 1, 0), toml.LocalDateTime{}, "200020Z 210020Z", "2026-01-20 2026-01-21"},
		{"the evening before, in UTC", date(2026, 1, 1, 5), toml.LocalDateTime{}, "312350Z 010050Z", "2025-12-31 2026-01-01"},
		{"February has no 30th", date(2026, 2, 1, 5), toml.LocalDateTime{}, "280000Z 010000Z", "2026-02-28 2026-03-01"},
		{"by the soak", toml.LocalDateTime{}, date(2026, 3, 1, 2), "272350Z 010050Z", "2026-02-27 2026-03-01"},
		{"by dates between", toml.LocalDateTime{}, toml.LocalDateTime{}, "2014/12/18 07:58 180758Z 2015/01/18 07:50 180750Z", "2014-12-18 2015-01-18"},
	} {
		var text strings.Builder
		words := strings.Fields(c.reports)
		for i := 0; i < len(words); i++ {
			if strings.Contains(words[i], "/") {
				text.WriteString(words[i] + " " + words[i+1] + "\n")
				i++
				continue
			}
			text.WriteString("ENSB " + words[i] + " 00000KT M10/M12\n")
		}
		in := input(t, text.String())
		in.Source.Start, in.Session.SoakStart = c.start, c.soak
		rows, _, l := read(t, in)
		var got []string
		for _, w := range rows {
			got = append(got, w.at.Format("2006-01-02"))
		}
		if l != nil || strings.Join(got, " ") != c.times {
			t.Errorf("%s: got %v %v, want %s", c.name, got, l, c.times)
		}
	}
}

const spell = `METAR ENSB 182250Z 18010KT 9999 M01/M02 RMK T10121023
METAR ENSB 182350Z 18010KT -SN M01/M02 RMK T10131023
METAR ENSB 190050Z 18010KT // M01/M02 RMK T10141023
METAR ENSB 190150Z 18010KT -SN M01/M02 RMK T10151023
METAR ENSB 190250Z 18010KT M01/M02 RMK T10161023
METAR ENSB 190350Z 18010KT RA 01/M02 RMK T00101023
METAR ENSB 190350Z COR 18010KT RA 02/M02 RMK T00201023
`

// One event a spell: a report that cannot see the weather does not end one.
func TestSpells(t *testing.T) {
	in := input(t, spell)
	in.Source.Start, in.Source.OffsetS = date(2026, 1, 18, 0), 60
	rows, r, l := read(t, in)
	if l != nil || len(rows) != 6 {
		t.Fatal(rows, l)
	}
	got := ""
	for _, e := range r.Events {
		got += fmt.Sprintf("%d %s %g %s %s; ", e.Line, e.At.Format("02 15:04"), e.WidthS, e.Kind, e.Text)
	}
	// 22:50 to 23:50 and 02:50 to 03:50, each a minute later by the offset.
	if want := "2 18 23:21 3600 precipitation -SN; 7 19 03:21 3600 precipitation RA; "; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	if len(r.Aside) != 1 || r.Aside[0].Line != 6 || r.Aside[0].Reason != "the report is corrected by that of line 7" || rows[5].vals[0] != 2 {
		t.Errorf("%+v %v", r.Aside, rows[5])
	}
	if in := r.Instruments[temperature]; in.Resolution != 0.1 || in.UAbs != 0.5 || in.Channel != "ambient_station_c" || r.Instruments[wind].Resolution != 1.852 || r.Instruments[wind].Unit != "KT" {
		t.Errorf("%+v", r.Instruments)
	}
	// One report in whole degrees makes the source one of whole degrees.
	in = input(t, spell+"METAR ENSB 190450Z 18005MPS M03/M04\n")
	in.Source.Start = date(2026, 1, 18, 0)
	if _, r, _ = read(t, in); r.Instruments[temperature].Resolution != 1 || r.Instruments[wind].Resolution != 3.6 {
		t.Errorf("%+v", r.Instruments)
	}
}

// The groups are the examples of AFMAN 15-111 (2019), remarks 31 to 33: -2.1 and
// 14.2 °C at most, -0.1 and 1.2 °C at least, 10.0 and -1.5 °C, 11.2 and
// 8.4 °C of a day. They say what
// they do only in the remarks of a report that is kept.
func TestExtremes(t *testing.T) {
	in := input(t, `METAR ENSB 182350Z 18010KT M03/M05 RMK AO2 T10311052 11021 21001 53016
METAR ENSB 190550Z 18010KT 11021 M01/M02 RMK 20012
METAR ENSB 191150Z 18010KT M01/M02 RMK 10142 401001015
METAR ENSB 191550Z 18010KT 09/08 RMK 401120084
METAR ENSB 191750Z 18010KT M01/M02 RMK 11021
METAR ENSB 191750Z COR 18010KT M01/M02 RMK 11999 4/012 20032/2250 SLP179
`)
	in.Source.Start, in.Source.OffsetS = date(2026, 1, 18, 0), 60
	rows, r, l := read(t, in)
	if l != nil || len(rows) != 5 {
		t.Fatal(rows, l)
	}
	var got []string
	for _, e := range r.Events {
		got = append(got, fmt.Sprintf("%d %s %g h %s: %s", e.Line, e.At.Format("02 15:04"), e.WidthS/3600, e.Kind, e.Text))
	}
	want := []string{
		"1 18 20:51 6 h note: air of the last 6 h: at least -0.1 °C at most -2.1 °C",
		"2 19 02:51 6 h note: air of the last 6 h: at least 1.2 °C",
		"3 19 08:51 6 h note: air of the last 6 h: at most 14.2 °C",
		"3 18 23:51 24 h note: air of the last 24 h: at least -1.5 °C at most 10 °C",
		"4 19 03:51 24 h note: air of the last 24 h: at least 8.4 °C at most 11.2 °C",
	}
	if !slices.Equal(got, want) {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

func TestProblems(t *testing.T) {
	for _, c := range []struct{ text, station, want string }{
		{"", "", "x: the file is empty (one report a line, such as \"ENGM 161950Z 02004KT 9999 -SN OVC012 M16/M18 Q1021\")"},
		{"ENSB 182250Z M01/M02\n", "", "x:1: reports show no month and year (at the source in session.toml state start = YYYY-MM-DDT00:00:00, the day of the first report)"},
		{"ENSB 182250Z M01/M02\nENGM 182250Z M01/M02\n", "", "x:1: reports show no month and year (at the source in session.toml state start = YYYY-MM-DDT00:00:00, the day of the first report)"},
		{"2026/01/18 22:50\nENSB 182250Z M01/M02\nENGM 182250Z M01/M02\n", "", "x: the file has reports of 2 stations: ENGM, ENSB (state station = \"ENGM\" at the session's source)"},
		{"2026/01/18 22:50\nENSB 182250Z M01/M02\n", "ENSD", "x has no report of station \"ENSD\" (did you mean \"ENSB\"?)"},
	} {
		in := input(t, c.text)
		in.Source.Station = c.station
		_, _, l := read(t, in)
		if len(l) != 1 || l[0].Error() != c.want {
			t.Errorf("%q: got %v, want %s", c.text, l, c.want)
		}
	}
}

func TestGzip(t *testing.T) {
	name := filepath.Join(t.TempDir(), "x.gz")
	f, err := os.Create(name)
	if err != nil {
		t.Fatal(err)
	}
	z := gzip.NewWriter(f)
	fmt.Fprint(z, spell)
	if z.Close() != nil || f.Close() != nil {
		t.Fatal("cannot write")
	}
	in := input(t, "")
	in.Path, in.Source.Start = name, date(2026, 1, 18, 0)
	if rows, _, l := read(t, in); l != nil || len(rows) != 6 {
		t.Error(rows, l)
	}
}

func FuzzReader(f *testing.F) {
	f.Add(spell)
	f.Add("2026/01/18 22:50\nENSB 312250Z M01/M02\n\nx\xff\nENSB 310000Z T1052\nENSB 300000Z=")
	f.Fuzz(func(t *testing.T, text string) {
		if strings.HasPrefix(text, "\x1f\x8b") || strings.HasPrefix(text, "\x28\xb5") {
			return
		}
		in := input(t, text)
		in.Source.Start = date(2026, 1, 18, 0)
		rows, _, l := read(t, in)
		if l == nil && len(rows) > len(strings.Split(text, "\n")) {
			t.Errorf("%d rows", len(rows))
		}
	})
}
