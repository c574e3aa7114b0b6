package ingest

import (
	"strings"
	"testing"
)

// A file with heads alone takes nothing from what another of its profile holds. Where
// there is no other with rows, there is nothing to be read.
func TestEmptyAmongOthers(t *testing.T) {
	const counts = "select string_agg(format('{} {} {} {}', source_id, rows_read, rows_kept, rows_aside), ', ' order by source_id) from source"
	f := newFolder(t)
	f.write("sessions/night/a.csv", "t,kW\n")
	if got := f.query(counts); got != "night/a.csv 0 0 0, night/b.csv 2 2 0, night/notes.txt 1 1 0" {
		t.Errorf("beside a log with rows: %s", got)
	}
	if got := f.query("select string_agg(distinct source_id, ' ') from instrument"); got != "night/b.csv" {
		t.Errorf("instruments of %s", got)
	}
	// Without it again, all that came from the others is there.
	f.write("sessions/night/session.toml", strings.Replace(session, "[[source]]\nfile = \"a.csv\"\nprofile = \"log\"\nstart = 2026-01-12T20:00:00\n", "", 1))
	f.check(`
night read [] unchanged 2
event plug-in 0.0
night/b.csv 2 -30.0 7.0
night/b.csv 3 -20.0 8.0
night/notes.txt 2 0.0 -
`)
	// The other one is of another profile, empty too, gone, or set aside whole.
	another := strings.Replace(session, "file = \"b.csv\"\nprofile = \"log\"", "file = \"b.csv\"\nprofile = \"dial\"", 1)
	for _, c := range []struct{ name, b, settings, want string }{
		{"another profile", "t,kW\n0,7\n10,8\n", another, "sessions/night/a.csv:1: no rows below the header (was the logger running?)\n"},
		{"both", "t,kW\n", session, "sessions/night/a.csv:1: no rows below the header (was the logger running?)\n"},
		{"alone", "", strings.Replace(session, "[[source]]\nfile = \"b.csv\"\nprofile = \"log\"\nstart = 2026-01-12T20:00:00\n", "", 1), "sessions/night/a.csv:1: no rows below the header (was the logger running?)\n"},
		{"nothing usable", "t,kW\n0,x\n", session, "sessions/night/b.csv:2:3: no row of 1 could be used; the first: "},
	} {
		f := newFolder(t)
		f.write("sessions/night/a.csv", "t,kW\n")
		f.write("profiles/dial.toml", "kind = \"delimited\"\nheader_row = 1\n[clock]\ncolumn = \"t\"\nformat = \"elapsed\"\n[[column]]\nname = \"kW\"\nchannel = \"charger_power_kw\"\n")
		f.write("sessions/night/session.toml", c.settings)
		f.write("sessions/night/b.csv", c.b)
		if got := f.load(); !strings.HasPrefix(got, "night read [] unchanged 0 refused: "+c.want) {
			t.Errorf("%s: %s", c.name, got)
		}
	}
	// That it was read before changes nothing.
	f = newFolder(t)
	f.write("sessions/night/a.csv", "t,kW\n")
	f.load()
	f.write("sessions/night/b.csv", "t,kW\n")
	if got := f.load(); !strings.HasPrefix(got, "night read [] unchanged 0 refused: sessions/night/") {
		t.Errorf("emptied too: %s", got)
	}
	// Notes in which nothing stands are why there is no plug-in.
	f = newFolder(t)
	f.write("sessions/night/notes.txt", "2026-01-12\n")
	if got := f.load(); !strings.Contains(got, "refused: sessions/night/notes.txt: no row could be used") {
		t.Errorf("empty notes: %s", got)
	}
}
