package infer

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

// log is a text with a column of times and one of a state of charge.
func log(name string, times ...string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s|SoC Displayed (%%)\n", name)
	for i, s := range times {
		fmt.Fprintf(&b, "%s|%d\n", s, 10+i)
	}
	return b.String()
}

func propose(t *testing.T, text string) *Proposal {
	t.Helper()
	p, l := Text([]byte(text), "log")
	if l != nil {
		t.Fatal(l)
	}
	return p
}

func TestClock(t *testing.T) {
	for _, c := range []struct {
		text       string
		format     string // "": left out
		unit, zone string
		readings   int
		needsDate  bool
		confidence Confidence
	}{
		{log("time", "2026-01-12T20:00:00Z", "2026-01-12T20:00:01Z"), "iso", "", "", 0, false, High},
		{log("time (UTC)", "2026-01-12 20:00:00", "2026-01-12 20:00:01"), "iso", "", "UTC", 0, false, High},
		{log("Zeit", "12.01.2026 20:00:00", "12.01.2026 20:00:01"), "%d.%m.%Y %H:%M:%S", "", "", 0, false, High},
		{log("Zeit", "2.1.26, 20:00", "2.1.26, 20:01"), "%d.%m.%y, %H:%M", "", "", 0, false, High},
		// A day above 12 decides.
		{log("when", "13/01/2026 20:00:00", "13/01/2026 20:00:01"), "%d/%m/%Y %H:%M:%S", "", "", 0, false, High},
		{log("when", "01/13/2026 08:00:00 PM", "01/13/2026 08:00:01 PM"), "%m/%d/%Y %I:%M:%S %p", "", "", 0, false, High},
		// Nothing decides, not even where day and month are alike.
		{log("when", "03/02/2026 20:00:00", "03/02/2026 20:00:01"), "", "", "", 2, false, Low},
		{log("when", "02/02/2026 20:00:00", "02/02/2026 20:00:01"), "", "", "", 2, false, Low},
		{log("when", "05-04-2026 20:00", "05-04-2026 20:01"), "", "", "", 2, false, Low},
		// Two digits may be the year: day-first, month-first and year-first.
		{log("when", "03/02/06 20:00:00", "03/02/06 20:00:01"), "", "", "", 3, false, Low},
		// Midnight decides: month-first would leap from 3 February to 3 March.
		{log("when", "02/03/2026 23:59:58", "02/03/2026 23:59:59", "03/03/2026 00:00:00"), "%d/%m/%Y %H:%M:%S", "", "", 0, false, High},
		{log("when", "02/03/2026 23:59:59", "02/04/2026 00:00:00", "02/04/2026 00:00:01"), "%m/%d/%Y %H:%M:%S", "", "", 0, false, High},
		{log("when", "12 Jan 2026 20:00:00", "12 Jan 2026 20:00:01"), "%d %b %Y %H:%M:%S", "", "", 0, false, High},
		{log("stamp", "20260112 200000", "20260112 200001"), "iso", "", "", 0, false, High},
		{log("stamp", "1768248000", "1768248001"), "epoch", "s", "", 0, false, High},
		{log("stamp", "1768248000000", "1768248000250"), "epoch", "ms", "", 0, false, High},
		{log("t [ms]", "0", "250", "500"), "elapsed", "ms", "", 0, true, High},
		{log("Laufzeit (min)", "0", "0.5", "1"), "elapsed", "min", "", 0, true, High},
		{log("Stay (min)", "5", "5", "5", "6", "6", "6"), "elapsed", "min", "", 0, true, Low}, // a table sorted by it
		{log("time", "0.0", "0.5", "1.0"), "elapsed", "s", "", 0, true, Fair},
		{log("time", "0", "100", "200", "300"), "elapsed", "ms", "", 0, true, Fair},
		{log("clock", "20:12:00", "20:12:01"), "%H:%M:%S", "", "", 0, true, High},
		{log("clock", "0:00:00", "0:00:01"), "%H:%M:%S", "", "", 0, true, Low}, // or since the start
		{log("Excel time", "46034.83333", "46034.83334", "46034.83335"), "serial-day", "", "", 0, false, High},
	} {
		p := propose(t, c.text)
		got := p.Profile.Clock
		if got.Format != c.format || got.Unit != c.unit || got.Zone != c.zone || len(p.Readings) != c.readings || p.NeedsDate != c.needsDate || p.Clock.Confidence != c.confidence {
			t.Errorf("%q: got %+v, %d readings, needs a date: %v, %s\n  %s", c.text, got, len(p.Readings), p.NeedsDate, p.Clock.Confidence, p.Clock.Reason)
		}
		if (c.confidence == Low) != (len(p.Questions) > 0) {
			t.Errorf("%q: questions %q", c.text, p.Questions)
		}
	}
}

// A date in a column of its own belongs to the time of day beside it.
func TestClockOfTwoColumns(t *testing.T) {
	p := propose(t, "Datum;Uhrzeit;SoC Anzeige (%)\n12.01.2026;20:00:00;8\n12.01.2026;20:00:30;9\n")
	if c := p.Profile.Clock; c.Column != "Uhrzeit" || c.Date != "Datum" || c.Format != "%d.%m.%Y %H:%M:%S" || p.NeedsDate {
		t.Errorf("got %+v", c)
	}
	p = propose(t, "Date,Time,SoC Displayed (%)\n03/02/2026,20:00:00,8\n03/02/2026,20:00:30,9\n")
	if c := p.Profile.Clock; c.Column != "Time" || c.Date != "Date" || c.Format != "" || len(p.Readings) != 2 {
		t.Errorf("got %+v, %d readings", c, len(p.Readings))
	}
}

// Rows that go back in time are proposed to be sorted; a log without a clock is
// asked about.
func TestClockOrderAndNone(t *testing.T) {
	p := propose(t, log("time", "2026-01-12T20:00:02Z", "2026-01-12T20:00:01Z", "2026-01-12T20:00:00Z"))
	if p.Profile.Order != "any" {
		t.Errorf("order %q", p.Profile.Order)
	}
	p = propose(t, "SoC Displayed (%)|Pack Power (kW)\n10|5\n10|6\n10|4\n")
	if p.Clock.Confidence != None || p.Profile.Clock.Column != "" || len(p.Questions) == 0 {
		t.Errorf("clock %+v, questions %q", p.Clock, p.Questions)
	}
}

func TestLayout(t *testing.T) {
	rows := "2026-01-12T20:00:00|8|-19.5\n2026-01-12T20:00:30|9|-19.0\n2026-01-12T20:01:00|10|-18.5\n"
	comma := strings.NewReplacer("|", ";", ".", ",").Replace(rows)
	latin, err := charmap.ISO8859_1.NewEncoder().String("Zeit;SoC Anzeige (%);Außentemperatur (°C)\n" + comma)
	if err != nil {
		t.Fatal(err)
	}
	wide, err := unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewEncoder().String("Zeit;SoC Anzeige (%);Außentemperatur (°C)\n" + comma)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		what, text                string
		encoding, delim, mark     string
		headerRow, firstRow, cols int
	}{
		{"plain", "time|soc displayed|ambient temp (°C)\n" + rows, "utf-8", "|", ".", 1, 0, 2},
		{"decimal comma", "time;soc displayed;ambient temp [C]\n" + comma, "", ";", ",", 1, 0, 2},
		{"tab and comma", strings.ReplaceAll("time;soc displayed;ambient temp [C]\n"+comma, ";", "\t"), "", "\t", ",", 1, 0, 2},
		{"quoted commas", "time,soc displayed,\"ambient temp, °C\"\n2026-01-12T20:00:00,8,\"-19,5\"\n2026-01-12T20:00:30,9,\"-19,0\"\n", "utf-8", ",", ",", 1, 0, 2},
		{"preamble", "Logger 3\nMade on 12.01.2026; by no one\n\ntime|soc displayed|ambient temp (°C)\n" + rows, "utf-8", "|", ".", 4, 0, 2},
		{"row of units", "time|soc displayed|ambient temp\n|%|°F\n" + rows, "utf-8", "|", ".", 1, 3, 2},
		{"units above", "|%|°F\ntime|soc displayed|ambient temp\n" + rows, "utf-8", "|", ".", 2, 0, 2},
		{"row of types", "time|soc displayed|ambient temp (°C)\nDATE|INT|REAL\n" + rows, "utf-8", "|", ".", 1, 3, 2},
		{"delimiter at the end", "time|soc displayed|ambient temp (°C)|\n" + strings.ReplaceAll(rows, "\n", "|\n"), "utf-8", "|", ".", 1, 0, 2},
		{"windows line ends", strings.ReplaceAll("time|soc displayed|ambient temp (°C)\n"+rows, "\n", "\r\n"), "utf-8", "|", ".", 1, 0, 2},
		{"latin-1", latin, "latin-1", ";", ",", 1, 0, 2},
		{"utf-16", wide, "utf-16", ";", ",", 1, 0, 2},
		{"no header", rows, "", "|", ".", 0, 0, 0},
	} {
		p := propose(t, c.text)
		got := p.Profile
		if got.Encoding != c.encoding || got.Delimiter != c.delim || got.Decimal != c.mark || got.HeaderRow != c.headerRow || got.FirstRow != c.firstRow || len(got.Columns) != c.cols {
			t.Errorf("%s: got %+v\nfacts %+v\ncolumns %+v", c.what, got, p.Facts, p.Columns)
		}
	}
	if p := propose(t, "time|soc displayed|ambient temp\n|%|°F\n"+rows); p.Profile.Columns[1].Unit != "°F" {
		t.Errorf("the unit of the row of units was not taken: %+v", p.Profile.Columns)
	}
	for what, text := range map[string]string{"nothing": "", "blank": "\n\n", "a letter": "Dear all,\nit was cold.\n", "binary": "\x00\x01\x02\x03", "spaces": "1 2 3\n2 3 4\n3 4 5\n"} {
		if p, l := Text([]byte(text), "log"); l == nil {
			t.Errorf("%s: proposed %+v", what, p.Profile)
		}
	}
}

// The kinds of log that are no table are known by their lines.
func TestOtherKinds(t *testing.T) {
	for kind, text := range map[string]string{
		"metar":  "METAR XXXX 121920Z AUTO 18005KT CLR M22/M25 A3010\nMETAR XXXX 122020Z AUTO 18005KT CLR M22/M25 A3010\n",
		"canlog": "(1768248000.000000) can0 100#AC0D000000000000\n(1768248060.000000) can0 100#AC0D000000000000\n",
		"notes":  "2026-01-12\n20:12 plugged in, soc 8 %, pack -20 °C\n20:57 charging 23 kW, soc 10 %\n21:42 unplugged\n",
		"ocpp":   `[2,"1","Heartbeat",{}]` + "\n" + `[3,"1",{"currentTime":"2026-01-12T20:00:00Z"}]` + "\n",
	} {
		if p := propose(t, text); p.Kind != kind || p.Needs != (kind == "canlog") {
			t.Errorf("%s: got %q, needs a profile: %v", kind, p.Kind, p.Needs)
		}
	}
}

// A log with more rows than are kept is looked at to its end.
func TestLongLog(t *testing.T) {
	var b strings.Builder
	b.WriteString("time,SoC Displayed (%),Battery Temp Min (°C)\n")
	at := time.Date(2026, 1, 12, 20, 0, 0, 0, time.UTC)
	const rows = 50000
	for i := range rows {
		temp := fmt.Sprint(-20 + i/2000)
		if i == 33333 {
			temp = "n/a"
		}
		fmt.Fprintf(&b, "%s,%d,%s\n", at.Add(time.Duration(i)*time.Second).Format("02/01/2006 15:04:05"), i*100/rows, temp)
	}
	p := propose(t, b.String())
	if p.Rows != rows || p.Profile.Clock.Format != "%d/%m/%Y %H:%M:%S" || len(p.Profile.Missing) != 1 || p.Profile.Missing[0] != "n/a" {
		t.Errorf("%d rows, clock %+v, missing %q", p.Rows, p.Profile.Clock, p.Profile.Missing)
	}
	if c := p.Columns[2]; c.Values != "-20..4, 1 none" {
		t.Errorf("values %q", c.Values)
	}
}
