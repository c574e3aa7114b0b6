package ingest

import (
	"cmp"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"coldbench/warehouse"
)

// refusal is why the session of a folder was not read, or "".
func (f folder) refusal() string {
	_, text, _ := strings.Cut(strings.SplitN(f.load(), "\nproblem", 2)[0], "refused: ")
	return text
}

// A plug-in, a start or a note far from the logs is told of where it stands, and
// nothing is read: figures that count from it would be absurd.
func TestElsewhere(t *testing.T) {
	const right = "is it the right file? are start, zone and offset_s of this source right?"
	for _, c := range []struct{ name, old, new, want string }{
		{"right", "", "", ""},
		{"the plug-in, by 1e7 min", "zone = \"UTC\"\n", "zone = \"UTC\"\nplug_in = 2007-01-10T20:00:00\n",
			"sessions/night/session.toml:4:11: sessions/night/a.csv has readings from 2026-01-12 20:00 to 2026-01-12 20:00, and the plug-in is at 2007-01-10 20:00 by sessions/night/session.toml:4:11, 6942 days away (is it right, by date and zone?)"},
		{"the plug-in, by a day", "zone = \"UTC\"\n", "zone = \"UTC\"\nplug_in = 2026-01-11T20:00:00\n",
			"sessions/night/session.toml:4:11: sessions/night/a.csv has readings from 2026-01-12 20:00 to 2026-01-12 20:00, and the plug-in is at 2026-01-11 20:00 by sessions/night/session.toml:4:11, 24 h away (is it right, by date and zone?)"},
		{"one source's start", "start = 2026-01-12T20:00:00\n[[source]]\nfile = \"b.csv\"", "start = 2036-01-12T20:00:00\n[[source]]\nfile = \"b.csv\"",
			"sessions/night/session.toml:7:9: sessions/night/a.csv has readings from 2036-01-12 20:00 to 2036-01-12 20:00, and the plug-in is at 2026-01-12 20:00 by sessions/night/notes.txt:2, 3652 days away (" + right + ")"},
		{"a soak that starts after it", "zone = \"UTC\"\n", "zone = \"UTC\"\nsoak_start = 2026-01-13T19:00:00\n",
			"sessions/night/session.toml:4:14: the soak starts 23 h after it ended, at 2026-01-12 20:00 by sessions/night/notes.txt:2 (is it right, by date and zone?)"},
		{"in the soak", "zone = \"UTC\"\n", "zone = \"UTC\"\nsoak_start = 2026-01-11T20:00:00\nplug_in = 2026-01-13T20:00:00\n", ""},
		{"half a day before the plug-in, the boundary", "zone = \"UTC\"\n", "zone = \"UTC\"\nplug_in = 2026-01-13T08:00:10\n", ""},
	} {
		f := newFolder(t)
		f.write("sessions/night/session.toml", strings.Replace(session, c.old, c.new, 1))
		if got, _, _ := strings.Cut(f.refusal(), "\n"); got != c.want {
			t.Errorf("%s:\ngot  %s\nwant %s", c.name, got, c.want)
		}
	}
}

// A log of the car that goes on for days counts in another unit, or holds other
// charges; a log of the weather may go on as it likes.
func TestGoesOn(t *testing.T) {
	const air = "kind = \"delimited\"\nheader_row = 1\n[clock]\ncolumn = \"t\"\nformat = \"elapsed\"\n[[column]]\nname = \"kW\"\nchannel = \"ambient_station_c\"\n"
	for _, c := range []struct{ name, log, profile, want string }{
		{"milliseconds for seconds", "t,kW\n0,5\n360000,6\n", "",
			"sessions/night/session.toml:4:3: sessions/night/a.csv goes on to 2026-01-17 00:00, 4 days after the session's zero, 2026-01-12 20:00 by sessions/night/notes.txt:2 (is its clock's unit right? cut it to this session, if it holds others too)"},
		{"three days, the boundary", "t,kW\n0,5\n259230,6\n", "", ""},
		{"the weather", "t,kW\n0,5\n360000,6\n", air, ""},
	} {
		f := newFolder(t)
		f.write("sessions/night/a.csv", c.log)
		if c.profile != "" {
			f.write("profiles/log.toml", c.profile)
		}
		if got, _, _ := strings.Cut(f.refusal(), "\n"); got != c.want {
			t.Errorf("%s:\ngot  %s\nwant %s", c.name, got, c.want)
		}
	}
}

// A state of charge from 0 to 1 is no percentage, and 40 kW for an hour are more
// than any pack's percent; but it is told of, not turned into one.
func TestFraction(t *testing.T) {
	log := func(soc func(i int) float64, kw float64) string {
		var b strings.Builder
		b.WriteString("t,kW,soc\n")
		for i := range 61 {
			fmt.Fprintf(&b, "%d,%g,%.3f\n", 60*i, kw, soc(i))
		}
		return b.String()
	}
	rising := func(i int) float64 { return 0.1 + 0.01*float64(i) }
	for _, c := range []struct {
		name, log, unit, want string
	}{
		{"a fraction", log(rising, 40), "", `profiles/log.toml:10:3: column "soc", the state of charge, never passes 0.7 % in sessions/night/a.csv, where 40.0 kWh flowed (does the log write it from 0 to 1? unit = "fraction")`},
		{"a fraction that the profile states", log(rising, 40), "unit = \"fraction\"\n", ""},
		{"a fraction taken for percent by the profile", log(rising, 40), "unit = \"%\"\n", `profiles/log.toml:13:8: column "soc", the state of charge, never passes 0.7 % in sessions/night/a.csv, where 40.0 kWh flowed (does the log write it from 0 to 1? unit = "fraction")`},
		{"a percentage", log(func(i int) float64 { return 8 + float64(i) }, 40), "", ""},
		{"nearly empty, and nothing flows", log(rising, 1), "", ""},
		{"a display that stands still", log(func(int) float64 { return 1 }, 40), "", ""},
	} {
		f := newFolder(t)
		f.write("profiles/log.toml", "kind = \"delimited\"\nheader_row = 1\n[clock]\ncolumn = \"t\"\nformat = \"elapsed\"\n\n[[column]]\nname = \"kW\"\nchannel = \"charger_power_kw\"\n[[column]]\nname = \"soc\"\nchannel = \"soc_pct\"\n"+c.unit)
		f.write("sessions/night/a.csv", c.log)
		f.write("sessions/night/b.csv", "t,kW,soc\n0,1,\n")
		if got := strings.TrimSpace(f.refusal()); got != c.want {
			t.Errorf("%s:\ngot  %s\nwant %s", c.name, got, c.want)
		}
	}
}

// A session's folder that is copied is no second night, whichever comes first; and
// where the first is gone, the copy is a session.
func TestTwins(t *testing.T) {
	f := newFolder(t)
	f.load()
	for _, name := range []string{"session.toml", "notes.txt", "a.csv", "b.csv"} {
		text, err := os.ReadFile(filepath.Join(f.dir, "sessions", "night", name))
		if err != nil {
			t.Fatal(err)
		}
		f.write("sessions/copy/"+name, string(text))
	}
	const twin = "sessions/night/session.toml: the session starts at 2026-01-12 20:00, as sessions/copy does, with the same vehicle (is the folder a copy? one night must not count twice)"
	for range 2 {
		if got := f.load(); !strings.Contains(got, "night read [] unchanged 0 refused: "+twin+"\n") || !strings.Contains(got, "problem "+twin) || strings.Contains(got, "night/a.csv 2") || !strings.Contains(got, "copy/a.csv 2") {
			t.Error(got)
		}
	}
	if err := os.RemoveAll(filepath.Join(f.dir, "sessions", "copy")); err != nil {
		t.Fatal(err)
	}
	if got := f.load(); !strings.Contains(got, "night read [notes.txt a.csv b.csv] unchanged 0\n") || strings.Contains(got, "problem") {
		t.Error(got)
	}
	// Another car may be plugged in at the same moment.
	f.write("vehicles/birch.toml", "name = \"Birch\"\n")
	f.write("sessions/other/session.toml", strings.Replace(session, "alder", "birch", 1))
	f.write("sessions/other/notes.txt", "2026-01-12\n20:00 plugged in\n")
	f.write("sessions/other/a.csv", "t,kW\n0,5\n")
	f.write("sessions/other/b.csv", "t,kW\n0,5\n")
	if got := f.load(); strings.Contains(got, "refused") {
		t.Error(got)
	}
}

// A log whose clock was set while it ran, after more than a tenth of it, is told of with
// the last row before that.
func TestSetLate(t *testing.T) {
	const iso = "kind = \"delimited\"\nheader_row = 1\n[clock]\ncolumn = \"t\"\nformat = \"iso\"\n[[column]]\nname = \"kW\"\nchannel = \"charger_power_kw\"\n"
	var old strings.Builder
	for i := range 12 { // more than may stray
		fmt.Fprintf(&old, "2000-01-01T00:00:%02d,0\n", i)
	}
	now := strings.Repeat("2026-01-12T20:00:30,5\n", 9) // as many as it takes
	for _, c := range []struct{ name, log, want string }{
		{"from a date long ago", old.String() + now,
			"sessions/night/a.csv:13: rows up to here are from 2000-01-01 00:00 on, 9509 days before the session (was its clock set only then? take them out of a copy of the file; or cut it to this session, if it holds others too)"},
		{"a month before, the boundary", "2025-12-13T20:00:30,5\n2025-12-13T20:00:31,5\n" + now, ""},
		{"more than a month before", strings.Repeat("2025-12-13T19:59:50,5\n", 3) + strings.Repeat("2025-12-13T20:00:31,5\n", 9) + now,
			"sessions/night/a.csv:4: rows up to here are from 2025-12-13 19:59 on, 30 days before the session (was its clock set only then? take them out of a copy of the file; or cut it to this session, if it holds others too)"},
	} {
		f := newFolder(t)
		f.write("profiles/log.toml", iso)
		f.write("sessions/night/a.csv", "t,kW\n"+c.log)
		f.write("sessions/night/b.csv", "t,kW\n"+now)
		if got, _, _ := strings.Cut(f.refusal(), "\n"); got != c.want {
			t.Errorf("%s:\ngot  %s\nwant %s", c.name, got, c.want)
		}
	}
}

// Where the clock was set after a tenth of the log at most, the rows before that are set
// aside, by their lines, and the session is read.
func TestClockSet(t *testing.T) {
	f := newFolder(t)
	f.write("profiles/log.toml", "kind = \"delimited\"\nheader_row = 1\n[clock]\ncolumn = \"t\"\nformat = \"iso\"\n[[column]]\nname = \"kW\"\nchannel = \"charger_power_kw\"\n")
	log := func(old, now int) string {
		var b strings.Builder
		b.WriteString("t,kW\n")
		for i := range old {
			fmt.Fprintf(&b, "2000-01-01T00:00:%02d,0\n", i)
		}
		for i := range now {
			fmt.Fprintf(&b, "2026-01-12T20:%02d:%02d,5\n", i/60, i%60)
		}
		return b.String()
	}
	f.write("sessions/night/a.csv", log(12, 108)) // the boundary
	f.write("sessions/night/b.csv", log(0, 60))
	got := f.load()
	if strings.Contains(got, "refused") || strings.Contains(got, "a.csv 13 ") || !strings.Contains(got, "a.csv 14 -30.0 5.0\n") {
		t.Error(got)
	}
	store, err := warehouse.Open(t.Context(), filepath.Join(f.dir, "series.duckdb"))
	if err != nil {
		t.Fatal(err)
	}
	aside, err := store.SetAside(t.Context(), 100)
	if err := cmp.Or(err, store.Close()); err != nil {
		t.Fatal(err)
	}
	if len(aside) != 1 || aside[0].Path != "sessions/night/a.csv" || aside[0].Rows != 12 || len(aside[0].First) != 12 {
		t.Fatalf("%+v", aside)
	}
	if a := aside[0].First[11]; a.Line != 13 || a.Reason != "the log begins 9509 days before the session" || a.Hint != "was its clock set only after this row?" {
		t.Errorf("%+v", a)
	}
	// What is far depends on the plug-in: where that moves, the rows are looked at again.
	f.write("sessions/night/a.csv", "t,kW\n2025-12-13T19:59:50,5\n"+strings.TrimPrefix(log(0, 108), "t,kW\n"))
	if got := f.load(); strings.Contains(got, "a.csv 2 ") {
		t.Error(got)
	}
	f.write("sessions/night/notes.txt", "2026-01-12\n19:00 plugged in\n")
	for _, want := range []string{"night read [notes.txt a.csv] unchanged 1\n", "night read [] unchanged 3\n"} {
		if got := f.load(); !strings.Contains(got, want) || !strings.Contains(got, "a.csv 2 ") {
			t.Error(got)
		}
	}
	f.write("sessions/night/notes.txt", "2026-01-12\n20:00 plugged in\n")
	// One row less, and they are more than a tenth.
	f.write("sessions/night/a.csv", log(12, 107))
	if got := f.refusal(); !strings.Contains(got, "sessions/night/a.csv:13: rows up to here are from 2000-01-01 00:00 on") {
		t.Error(got)
	}
}
