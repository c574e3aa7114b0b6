package notes

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/pelletier/go-toml/v2"

	"coldbench/ingest/series"
	"coldbench/ingest/source"
	"coldbench/warehouse/diag"
)

func read(t testing.TB, text string) (rows []string, r *source.Report, l diag.List) {
	t.Helper()
	name := filepath.Join(t.TempDir(), "notes.txt")
	if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	start := toml.LocalDateTime{LocalDate: toml.LocalDate{Year: 2026, Month: 1, Day: 12}}
	rdr, l, err := Kind().Open(source.Input{Path: name, Shown: "notes.txt", Session: &series.Session{}, Source: series.Source{Start: start}, Location: time.UTC})
	if err != nil {
		t.Fatal(err)
	}
	if l != nil {
		return nil, nil, l
	}
	defer rdr.Release()
	for rdr.Next() {
		rec := rdr.Record()
		for i := range int(rec.NumRows()) {
			at := time.UnixMicro(int64(rec.Column(1).(*array.Timestamp).Value(i))).UTC()
			row := fmt.Sprintf("%d %s", rec.Column(0).(*array.Int64).Value(i), at.Format("02T15:04:05.9"))
			for c, ch := range channels {
				if col := rec.Column(c + 2).(*array.Float64); !col.IsNull(i) {
					row += fmt.Sprintf(" %s=%.6g", ch.Name, col.Value(i))
				}
			}
			rows = append(rows, row)
		}
	}
	if rdr.Err() != nil {
		t.Fatal(rdr.Err())
	}
	return rows, rdr.Report(), nil
}

func TestNotes(t *testing.T) {
	for _, c := range []struct{ text, rows, events string }{
		{"20:12 plugged in", "1 12T20:12:30", "plug-in"},
		{"20:13 charger 5 kW, soc 35 %", "1 12T20:13:30 charger_power_kw=5 soc_pct=35", ""},
		{"20:57 charging 23 kW", "1 12T20:57:30 charger_power_kw=23", "onset-seen"},
		{"20:57 charging 0 kW", "1 12T20:57:30 charger_power_kw=0", "note"},
		{"20:57 charging 0.3 kW", "1 12T20:57:30 charger_power_kw=0.3", "note"},
		{"20:57 not charging yet", "1 12T20:57:30", "note"},
		{"20:57 still no charging", "1 12T20:57:30", "note"},
		{"20:57 charging?", "1 12T20:57:30", "note"},
		{"20:57 screen says charging will start in 15 min", "1 12T20:57:30", "note"},
		{"20:57 charging has not started", "1 12T20:57:30", "note"},
		{"20:57 charge started, not fast", "1 12T20:57:30", "onset-seen note"},
		{"20:57 still charging", "1 12T20:57:30", "onset-seen"},
		{"20:12 not plugged in yet", "1 12T20:12:30", "note"},
		{"20:12 not unplugged", "1 12T20:12:30", "note"},
		{"20:12 no latch failure", "1 12T20:12:30", "note"},
		{"20:12 did not latch", "1 12T20:12:30", "latch-failure"},
		{"20:20 latch failed, moved to stall 4", "1 12T20:20:30", "latch-failure note"},
		{"20:20:05 Unplugged", "1 12T20:20:05.5", "unplug"},
		{"8:12 pm plugged in", "1 12T20:12:30", "plug-in"},
		{"20h12 ambient −21,5 °C; charger 5,2 kW,soc 9%", "1 12T20:12:30 charger_power_kw=5.2 soc_pct=9 ambient_handheld_c=-21.5", ""},
		{"20.12 outside -4 °F, pack -20", "1 12T20:12:30 ambient_handheld_c=-20 pack_temp_min_c=-20", ""},
		{"20:12 charger 12.3 kWh, heater 6000 W, shown 250 km/h", "1 12T20:12:30 charger_energy_kwh=12.3 heater_power_kw=6 shown_rate_km_h=250", ""},
		{"20:12 heater on", "1 12T20:12:30", "heater-on"},
		{"# remark\n\n2026-01-13\n07:01 left outside\n", "4 13T07:01:30", "soak-start"},
		{"20:12 no rain but snow in the night", "1 12T20:12:30", "precipitation"},
		{"20:12 it snowed a little, hail", "1 12T20:12:30", "precipitation precipitation"},
		{"20:12 no more snow, snow?, stopped snowing", "1 12T20:12:30", "note note note"},
		{"20:12 12 V battery drained, train passed by", "1 12T20:12:30", "note note"},
		{"20:12 frost in the socket", "1 12T20:12:30", "note"},
		{"20:12 snow tyres on the car, snow forecast", "1 12T20:12:30", "note note"},
		{"20:12 no snow or rain, neither rain nor snow, didn't rain, no rain but snow", "1 12T20:12:30", "note note note precipitation"},
		{"2026-01-14 07:01 snow on the car", "1 14T07:01:30", "precipitation"},
		{"20:12 didn't latch, wouldn’t latch, latch fails", "1 12T20:12:30", "latch-failure latch-failure latch-failure"},
		{"20:12 charging finished, charge complete, charging paused by the app", "1 12T20:12:30", "charge-stop charge-stop charge-stop"},
		{"20:12 charging failed, charging error", "1 12T20:12:30", "note note"},
		{"20:12 OBD disconnected, phone connected, connected to the logger, connected and started by app", "1 12T20:12:30", "note note note plug-in"},
		{"20:12 reconnected, unconnected", "1 12T20:12:30", "plug-in note"},
		{"20:12 going to plug in, about to plug in", "1 12T20:12:30", "note note"},
		{"20:12 set offset, plug in failed", "1 12T20:12:30", "note latch-failure"},
		{"20:12 charging at 23 kW, pack temp -20 °C, soc now 8%", "1 12T20:12:30 charger_power_kw=23 soc_pct=8 pack_temp_min_c=-20", "onset-seen"},
		{"20:12 charging at 10 %, charger is 150 kW", "1 12T20:12:30", "onset-seen note"},
		{"20:12 charging at 0.3 kW", "1 12T20:12:30 charger_power_kw=0.3", "note"},
		{"20:12 not plugged yet, plug is stiff, plugged the logger into its socket", "1 12T20:12:30", "note note note"},
		{"23:59 a\n00:01 b", "1 12T23:59:30; 2 13T00:01:30", "note note"},
		{"20:12 a, b", "1 12T20:12:30", "note note"},
		{"20:12 changing seats, heated 20 min, range a bit low", "1 12T20:12:30", "note note note"},
		{"20:12 charing? no, orange 5, stall 5 kW sign, moved the connector", "1 12T20:12:30", "note note note note"},
	} {
		rows, r, l := read(t, c.text)
		if l != nil || len(r.Aside) > 0 {
			t.Errorf("%q: %v %+v", c.text, l, r)
			continue
		}
		var events []string
		for _, e := range r.Events {
			events = append(events, e.Kind)
			if want := 60.0; e.WidthS != want && !strings.Contains(c.text, ":05") {
				t.Errorf("%q: width %v", c.text, e.WidthS)
			}
		}
		if got := strings.Join(rows, "; "); got != c.rows {
			t.Errorf("%q:\ngot  %s\nwant %s", c.text, got, c.rows)
		}
		if got := strings.Join(events, " "); got != c.events {
			t.Errorf("%q: events %s, want %s", c.text, got, c.events)
		}
	}
}

func TestSetAside(t *testing.T) {
	for text, want := range map[string]string{
		"plugged in":                          `1:1 the note does not start with a time (such as "20:12 plugged in"; # starts a remark)`,
		"11.1.2026 20:12 plugged in":          `1:1 the note's date "11.1.2026" cannot be read (write the day as 2026-01-11)`,
		"  1.11.2026":                         `1:3 the note's date "1.11.2026" cannot be read (write the day as 2026-11-01)`,
		"31.02.2026 20:12 x":                  `1:1 the note's date "31.02.2026" cannot be read (write the day as year-month-day, such as 2026-12-31)`,
		"1/13/2026 20:12 x":                   `1:1 the note's date "1/13/2026" cannot be read (write the day as 2026-01-13)`,
		"13/01/2026, 20:12 x":                 `1:1 the note's date "13/01/2026" cannot be read (write the day as 2026-01-13)`,
		"2/2/2026 20:12 x":                    `1:1 the note's date "2/2/2026" cannot be read (write the day as 2026-02-02)`,
		"11/1/2026 8:12 pm x":                 `1:1 the note's date "11/1/2026" cannot be read (write the day as year-month-day, such as 2026-12-31)`,
		"2026/1/11 20:12 x":                   `1:1 the note's date "2026/1/11" cannot be read (write the day as 2026-01-11)`,
		"2026.01.11":                          `1:1 the note's date "2026.01.11" cannot be read (write the day as 2026-01-11)`,
		"11.01.26 20:12 plugged in":           `1:1 the note's date "11.01.26" cannot be read (write the day as year-month-day, such as 2026-12-31)`,
		"11.1. 20:12 plugged in":              `1:1 the note's date "11.1." cannot be read (write the day as year-month-day, such as 2026-12-31)`,
		"12.01 20.12 plugged in":              `1:1 the note's date "12.01" cannot be read (write the day as year-month-day, such as 2026-12-31)`,
		"2026-1-12":                           `1:1 the note's date "2026-1-12" cannot be read (write the day as 2026-01-12)`,
		"12-01-2026":                          `1:1 the note's date "12-01-2026" cannot be read (write the day as 2026-01-12)`,
		"12.01.":                              `1:1 the note's date "12.01." cannot be read (write the day as year-month-day, such as 2026-12-31)`,
		"12/01":                               `1:1 the note's date "12/01" cannot be read (write the day as year-month-day, such as 2026-12-31)`,
		"12 January 2026":                     `1:1 the note's date "12 January 2026" cannot be read (write the day as year-month-day, such as 2026-12-31)`,
		"Mon 12 Jan 20:12 plugged in":         `1:1 the note's date "Mon 12 Jan" cannot be read (write the day as year-month-day, such as 2026-12-31)`,
		"January 12th, 2026":                  `1:1 the note's date "January 12th, 2026" cannot be read (write the day as year-month-day, such as 2026-12-31)`,
		"Monday, 12.01.":                      `1:1 the note's date "Monday, 12.01." cannot be read (write the day as year-month-day, such as 2026-12-31)`,
		"12 January":                          `1:1 the note's date "12 January" cannot be read (write the day as year-month-day, such as 2026-12-31)`,
		"11.01 20:12 plugged in":              `1:1 the note's date "11.01" cannot be read (write the day as year-month-day, such as 2026-12-31)`,
		"25:12 plugged in":                    `1:1 cannot read "2026-01-12 25:12:00" as a time (there is no such time of day)`,
		"20:12 soc 135 %":                     `1:7 "soc 135 %" is outside what soc_pct can be, 0 to 100 % ()`,
		"20:12 soc 35 kW":                     `1:7 "soc 35 kW": unit "kw" does not measure a percentage (the channel is kept in %)`,
		"20:12 x, charger 5 parsecs":          `1:10 "charger 5 parsecs": unknown unit "parsecs" (known units: kW, W, kWh, Wh, V, A, °C, °F, %, km, mi, km/h, mph, m/s, s, ms)`,
		"20:12 unpluged":                      `1:7 "unpluged" says nothing that notes tell of (did you mean "unplugged"?)`,
		"20:12 soc 3 %, Pluged in at stall 3": `1:16 "pluged in" says nothing that notes tell of (did you mean "plugged in"?)`,
		"20:12 chargign":                      `1:7 "chargign" says nothing that notes tell of (did you mean "charging"?)`,
		"20:12 chargin stopped":               `1:7 "chargin stopped" says nothing that notes tell of (did you mean "charging stopped"?)`,
		"20:12 heater one":                    `1:7 "heater one" says nothing that notes tell of (did you mean "heater on"?)`,
		"20:12 plugged the car in":            `1:7 "plugged" says nothing that notes tell of (did you mean "plugged in" or "unplugged"?)`,
		"20:12 replugged at stall 3":          `1:7 "replugged" says nothing that notes tell of (did you mean "plugged in" or "unplugged"?)`,
		"20:12 un-plugged":                    `1:7 "un-plugged" says nothing that notes tell of (did you mean "plugged in" or "unplugged"?)`,
		"20:12 heater of":                     `1:7 "heater of" says nothing that notes tell of (did you mean "heater on" or "heater off"?)`,
		"20:12 charing 23 kW":                 `1:7 "charing" is no quantity that notes tell of (did you mean "charging"?)`,
		"20:12 amibent: -12,5 °C":             `1:7 "amibent" is no quantity that notes tell of (did you mean "ambient"?)`,
		"20:12 soc 3 %, soc 4 %":              `1:16 "soc 4 %": the line has soc_pct twice ()`,
		"20:12 a\n20:10 b":                    `2:1 time goes back by 120 s (notes go from early to late; a line such as 2026-01-13 starts a new day)`,
		"  13:12 pm plugged in":               `1:3 there is no 13 o'clock on a 12-hour clock ()`,
		"20:75 plugged in":                    `1:1 cannot read "2026-01-12 20:75:00" as a time (there is no such time of day)`,
		"2026-01-12 20:12 soc -3 %\n":         `1:18 "soc -3 %" is outside what soc_pct can be, 0 to 100 % ()`,
	} {
		_, r, l := read(t, text)
		if l != nil || len(r.Aside) != 1 {
			t.Errorf("%q: %v %+v", text, l, r)
			continue
		}
		a := r.Aside[0]
		if got := fmt.Sprintf("%d:%d %s (%s)", a.Line, a.Col, a.Reason, a.Hint); got != want {
			t.Errorf("%q:\ngot  %s\nwant %s", text, got, want)
		}
	}
}

// Below a date that cannot be read no note is taken for one of the day before it, until
// the next date.
func TestDayNotKnown(t *testing.T) {
	rows, r, l := read(t, "2026-01-11\n06:00 left outside\n12.01.2026\n20:12 plugged in\n20:40 charging\n2026-01-13\n08:00 unplugged\n")
	if want := []string{"2 11T06:00:30", "7 13T08:00:30"}; l != nil || !slices.Equal(rows, want) || len(r.Events) != 2 {
		t.Errorf("%q %+v %v", rows, r.Events, l)
	}
	if len(r.Aside) != 3 || !strings.HasPrefix(r.Aside[1].Reason, "the note's day is not known") || r.Aside[1].Line != 4 {
		t.Errorf("%+v", r.Aside)
	}
}

// What only resembles a date is a time, as it was.
func TestTimesLikeDates(t *testing.T) {
	rows, r, l := read(t, "20.12 8.30 kW charging\n20.13.30 a\n20.14 - 20.15 b")
	if l != nil || len(r.Aside) != 0 || len(rows) != 3 {
		t.Errorf("%v %+v %v", rows, r.Aside, l)
	}
}

// A time that was mistyped costs its own note. Where the notes below do not tell, it
// is they that go back.
func TestStrayTimes(t *testing.T) {
	const back, day = "time goes back by ", "the time passes midnight, and "
	for _, c := range []struct{ name, text, rows, aside string }{
		{"three hours ahead", "20:12 plugged in\n23:13 a\n20:14 b\n20:57 charging", "1 20:12; 3 20:14; 4 20:57", "2: time lies 10740 s ahead of the notes below"},
		{"the first one", "22:12 plugged in\n20:13 b\n20:57 charging", "2 20:13; 3 20:57", "1: time lies 7140 s ahead of the notes below"},
		{"a single note below", "20:12 plugged in\n23:13 a\n20:14 b", "1 20:12; 2 23:13", "3: " + back + "10740 s"},
		{"a single note back", "20:12 plugged in\n20:57 a\n20:31 b\n21:12 c\n21:13 d", "1 20:12; 2 20:57; 4 21:12; 5 21:13", "3: " + back + "1560 s"},
		{"a month ahead", "20:12 plugged in\n2026-02-13\n00:10 a\n2026-01-13\n00:20 b\n00:30 c", "1 20:12; 5 13T00:20; 6 13T00:30", "3: time lies 2677800 s ahead of the notes below"},
		{"morning for evening while plugged in", "20:15 plugged in\n8:14 soc 9 %\n20:57 charging", "1 20:15; 3 20:57", "2: " + day + "20:57 below would be a day late for it"},
		{"past midnight while plugged in", "20:15 plugged in\n00:14 soc 9 %\n01:57 charging", "1 20:15; 2 13T00:14; 3 13T01:57", ""},
		{"a day later by date", "20:15 plugged in\n8:14 soc 9 %\n2026-01-13\n20:57 charging", "1 20:15; 2 13T08:14; 4 13T20:57", ""},
		{"a soak of a day", "20:15 left outside\n8:14 ambient -20\n20:57 plugged in\n20:58 charging", "1 20:15; 2 13T08:14; 3 13T20:57; 4 13T20:58", ""},
		{"after the charge", "20:15 plugged in\n20:57 unplugged\n8:14 soc 80 %\n21:00 soc 79 %", "1 20:15; 2 20:57; 3 13T08:14; 4 13T21:00", ""},
	} {
		rows, r, l := read(t, c.text)
		var got, aside []string
		for _, row := range rows {
			f := strings.Fields(row)
			got = append(got, f[0]+" "+strings.TrimPrefix(f[1][:len("12T20:12")], "12T"))
		}
		for _, a := range r.Aside {
			aside = append(aside, fmt.Sprintf("%d: %s", a.Line, a.Reason))
		}
		if rows, aside := strings.Join(got, "; "), strings.Join(aside, "; "); l != nil || rows != c.rows || aside != c.aside {
			t.Errorf("%s: got %s, set aside %q %v\nwant %s, set aside %q", c.name, rows, aside, l, c.rows, c.aside)
		}
	}
}

func TestEmpty(t *testing.T) {
	if _, _, l := read(t, ""); l.Error() != `notes.txt: the file is empty (one line a moment, such as "20:12 plugged in")` {
		t.Error(l)
	}
}

func FuzzReader(f *testing.F) {
	f.Add("20:12 plugged in\n20:13 charger 5 kW, soc 35 %\n")
	f.Add("2026-01-12\n8:12 pm a;b,5,2\n20h13 pack −3,5")
	f.Add("20:12 plugged in\n23:13 a\n8:14 b\n2026-02-13\n20:14 c\n20:57 charging")
	f.Add("20:12 soc NaN, charger Inf kW, heater 1e999")
	f.Fuzz(func(t *testing.T, text string) {
		rows, r, l := read(t, text)
		if l != nil {
			return
		}
		if r.RowsRead != r.RowsKept+int64(len(r.Aside)) || int(r.RowsKept) != len(rows) {
			t.Errorf("%d read, %d kept, %d set aside, %d handed out", r.RowsRead, r.RowsKept, len(r.Aside), len(rows))
		}
		if all := strings.Join(rows, " "); strings.Contains(all, "NaN") || strings.Contains(all, "Inf") {
			t.Error(all)
		}
		for _, a := range r.Aside {
			if a.Col < 1 || a.Reason == "" {
				t.Errorf("%+v", a)
			}
		}
	})
}

// Notes that a phone or an editor saved as UTF-16 are read as they are.
func TestUTF16(t *testing.T) {
	const text = "2026-01-12\r\n20:12 plugged in, ambient -21 °C\r\n20:57 soc 10 %\r\n"
	var wide strings.Builder
	wide.WriteString("\xff\xfe")
	for _, c := range utf16.Encode([]rune(text)) {
		wide.WriteByte(byte(c))
		wide.WriteByte(byte(c >> 8))
	}
	want, _, _ := read(t, text)
	got, r, l := read(t, wide.String())
	if l != nil || len(r.Aside) != 0 || len(got) != 2 || strings.Join(got, "; ") != strings.Join(want, "; ") {
		t.Errorf("got %v %+v %v, want %v", got, r, l, want)
	}
}
