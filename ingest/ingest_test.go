package ingest

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"coldbench/ingest/series"
	"coldbench/warehouse"
)

// A folder is a series folder under test.
type folder struct {
	t   *testing.T
	dir string
}

func (f folder) write(name, text string) {
	f.t.Helper()
	full := filepath.Join(f.dir, filepath.FromSlash(name))
	if err := os.MkdirAll(filepath.Dir(full), 0o755); err != nil {
		f.t.Fatal(err)
	}
	if err := os.WriteFile(full, []byte(text), 0o644); err != nil {
		f.t.Fatal(err)
	}
}

func newFolder(t *testing.T) folder {
	f := folder{t, t.TempDir()}
	f.write("series.toml", "")
	f.write("vehicles/alder.toml", "name = \"Alder\"\n")
	f.write("profiles/log.toml", "kind = \"delimited\"\nheader_row = 1\norder = \"any\"\n[clock]\ncolumn = \"t\"\nformat = \"elapsed\"\n[[column]]\nname = \"kW\"\nchannel = \"charger_power_kw\"\n")
	f.write("sessions/night/session.toml", session)
	f.write("sessions/night/notes.txt", "2026-01-12\n20:00 plugged in\n")
	f.write("sessions/night/a.csv", "t,kW\n0,5\n10,6\n")
	f.write("sessions/night/b.csv", "t,kW\n0,7\n10,8\n")
	return f
}

const session = `vehicle = "alder"
procedure = "cold-charge"
zone = "UTC"
[[source]]
file = "a.csv"
profile = "log"
start = 2026-01-12T20:00:00
[[source]]
file = "b.csv"
profile = "log"
start = 2026-01-12T20:00:00
[[source]]
file = "notes.txt"
kind = "notes"
`

// Where the plug-in was in a note that was set aside, the note is told of too.
func TestPlugInSetAside(t *testing.T) {
	f := newFolder(t)
	f.write("sessions/night/notes.txt", "2026-01-12\n12.01.2026 20:00 plugged in\n2026-01-12\n20:30 cold\n")
	if got := f.refusal(); !strings.Contains(got, "has no plug-in") || !strings.Contains(got, `notes.txt:2:1: row set aside: the note's date "12.01.2026"`) {
		t.Error(got)
	}
}

// load brings the folder into its warehouse and tells, a session, what was read,
// and then all readings.
func (f folder) load() string {
	f.t.Helper()
	ctx := context.Background()
	s, l, err := series.Load(f.dir, KindNames())
	if err != nil || l != nil {
		f.t.Fatal(l, err)
	}
	name := filepath.Join(f.dir, "series.duckdb")
	store, err := warehouse.Open(ctx, name)
	if err != nil {
		f.t.Fatal(err)
	}
	outcomes, err := Load(ctx, store, s, nil)
	if err != nil {
		f.t.Fatal(err)
	}
	if err := store.Close(); err != nil {
		f.t.Fatal(err)
	}
	var b strings.Builder
	for _, o := range outcomes {
		var read []string
		for _, p := range o.Read {
			read = append(read, filepath.Base(p))
		}
		fmt.Fprintf(&b, "%s read [%s] unchanged %d", o.SessionID, strings.Join(read, " "), o.Unchanged)
		if o.Problems != nil {
			fmt.Fprintf(&b, " refused: %v", o.Problems)
		}
		b.WriteString("\n")
	}
	w, err := warehouse.OpenWorkspace(ctx, name, warehouse.Limits{})
	if err != nil {
		f.t.Fatal(err)
	}
	defer w.Close()
	rows, err := w.Query(ctx, `select format('{} {} {} {}', source_id, line, t_s, coalesce(charger_power_kw::varchar, '-')) from reading
		union all select format('event {} {}', kind, t_s) from event union all select 'problem ' || problem from session where problem is not null order by all`)
	if err != nil {
		f.t.Fatal(err)
	}
	defer rows.Close()
	for rows.Next() {
		var text string
		if err := rows.Scan(&text); err != nil {
			f.t.Fatal(err)
		}
		b.WriteString(text + "\n")
	}
	return b.String()
}

func (f folder) check(want string) {
	f.t.Helper()
	if got := f.load(); got != strings.TrimLeft(want, "\n") {
		f.t.Errorf("got:\n%swant:%s", got, want)
	}
}

// A note of a minute is its middle: the plug-in at 20:00:30 is the zero, so the
// logs' first rows, at 20:00:00, lie 30 s before it. Sources with events come first.
func TestLoadWhatChanged(t *testing.T) {
	f := newFolder(t)
	f.check(`
night read [notes.txt a.csv b.csv] unchanged 0
event plug-in 0.0
night/a.csv 2 -30.0 5.0
night/a.csv 3 -20.0 6.0
night/b.csv 2 -30.0 7.0
night/b.csv 3 -20.0 8.0
night/notes.txt 2 0.0 -
`)
	f.check(`
night read [] unchanged 3
event plug-in 0.0
night/a.csv 2 -30.0 5.0
night/a.csv 3 -20.0 6.0
night/b.csv 2 -30.0 7.0
night/b.csv 3 -20.0 8.0
night/notes.txt 2 0.0 -
`)
	// One source changes, and replaces its own rows; its rows are out of order.
	f.write("sessions/night/b.csv", "t,kW\n40,9\n30,8.5\n")
	f.check(`
night read [b.csv] unchanged 2
event plug-in 0.0
night/a.csv 2 -30.0 5.0
night/a.csv 3 -20.0 6.0
night/b.csv 2 10.0 9.0
night/b.csv 3 0.0 8.5
night/notes.txt 2 0.0 -
`)
	// The zero moves, and with it the rows of sources that are not read again.
	f.write("sessions/night/notes.txt", "2026-01-12\n20:01 plugged in\n")
	f.check(`
night read [notes.txt] unchanged 2
event plug-in 0.0
night/a.csv 2 -90.0 5.0
night/a.csv 3 -80.0 6.0
night/b.csv 2 -50.0 9.0
night/b.csv 3 -60.0 8.5
night/notes.txt 2 0.0 -
`)
	// A source is no longer listed; another is read by another profile.
	f.write("sessions/night/session.toml", strings.Replace(session, "[[source]]\nfile = \"b.csv\"\nprofile = \"log\"\nstart = 2026-01-12T20:00:00\n", "", 1))
	f.check(`
night read [] unchanged 2
event plug-in 0.0
night/a.csv 2 -90.0 5.0
night/a.csv 3 -80.0 6.0
night/notes.txt 2 0.0 -
`)
	f.write("profiles/log.toml", "kind = \"delimited\"\nheader_row = 1\n[clock]\ncolumn = \"t\"\nformat = \"elapsed\"\n[[column]]\nname = \"kW\"\nchannel = \"charger_power_kw\"\nunit = \"W\"\n")
	f.check(`
night read [a.csv] unchanged 1
event plug-in 0.0
night/a.csv 2 -90.0 0.005
night/a.csv 3 -80.0 0.006
night/notes.txt 2 0.0 -
`)
	// The session is gone.
	if err := os.RemoveAll(filepath.Join(f.dir, "sessions")); err != nil {
		t.Fatal(err)
	}
	f.check("")
}

// A session that can no longer be read keeps no row of before, so that nothing
// old stands for what the folder now says; mended, it is read whole.
func TestRefusedIsNotHalfWritten(t *testing.T) {
	f := newFolder(t)
	f.load()
	f.write("sessions/night/b.csv", "")
	f.check(`
night read [] unchanged 0 refused: sessions/night/b.csv: the file is empty (was the logger running?)
problem sessions/night/b.csv: the file is empty (was the logger running?)
`)
	f.write("sessions/night/b.csv", "t,kW\nx,1\n")
	f.check(`
night read [] unchanged 0 refused: sessions/night/b.csv:2:1: no row of 1 could be used; the first: cannot read "x" as a time (the clock counts in numbers)
problem sessions/night/b.csv:2:1: no row of 1 could be used; the first: cannot read "x" as a time (the clock counts in numbers)
`)
	f.write("sessions/night/b.csv", "t,kW\n0,1\n")
	f.check(`
night read [notes.txt a.csv b.csv] unchanged 0
event plug-in 0.0
night/a.csv 2 -30.0 5.0
night/a.csv 3 -20.0 6.0
night/b.csv 2 -30.0 1.0
night/notes.txt 2 0.0 -
`)
}

// session.toml's plug-in goes before what notes say.
func TestStatedZero(t *testing.T) {
	f := newFolder(t)
	f.write("sessions/night/session.toml", "plug_in = 2026-01-12T20:00:10\n"+session)
	if got := f.load(); !strings.Contains(got, "night/a.csv 3 0.0 6.0\n") || !strings.Contains(got, "event plug-in 20.0\n") {
		t.Error(got)
	}
}

// What charges nothing starts where its notes say so, with the event of its own: a
// drive with "set off", at the middle of that minute.
func TestStartFromNotes(t *testing.T) {
	for _, c := range []struct{ procedure, note, want string }{
		{"cold-drive", "20:00 set off", "night read [notes.txt a.csv b.csv] unchanged 0\nevent drive-start 0.0\n"},
		{"cabin-warmup", "20:00 heater on", "night read [notes.txt a.csv b.csv] unchanged 0\nevent heater-on 0.0\n"},
		{"cabin-warmup", "20:00 set off", "night read [] unchanged 0 refused: sessions/night/session.toml: the session has no start " +
			"(state start = 2026-01-12T20:12:00, or note it as \"20:12 heater on\")\n"},
		{"standby", "20:00 heater on", "night read [] unchanged 0 refused: sessions/night/session.toml: the session has no start (state start = 2026-01-12T20:12:00)\n"},
	} {
		f := newFolder(t)
		f.write("sessions/night/session.toml", strings.Replace(session, "cold-charge", c.procedure, 1))
		f.write("sessions/night/notes.txt", "2026-01-12\n"+c.note+"\n")
		if got := f.load(); !strings.HasPrefix(got, c.want) {
			t.Errorf("%s, %q: got\n%swant\n%s", c.procedure, c.note, got, c.want)
		}
	}
}

// A source whose clock needs a start is asked for it at its place in session.toml,
// with a day of the session if that states one; once stated, it is read.
func TestNoStart(t *testing.T) {
	const log = "[[source]]\nfile = \"a.csv\"\nprofile = \"clock\"\n"
	const plugIn = "soak_start = 2026-01-11T20:00:00\nplug_in = 2026-01-12T20:00:00\n"
	for _, c := range []struct{ format, row, stated, want string }{
		{"%H:%M:%S", "20:01:00", "", "4:3: sessions/night/a.csv: by profiles/clock.toml the clock shows no date (at the source in session.toml state start = YYYY-MM-DDT00:00:00, the day of the first row)"},
		{"%H:%M:%S", "20:01:00", plugIn, "6:3: sessions/night/a.csv: by profiles/clock.toml the clock shows no date (at the source in session.toml state start = 2026-01-12T00:00:00, if that is the day of the first row)"},
		{"%d.%m. %H:%M:%S", "12.01. 20:01:00", "soak_start = 2026-01-11T20:00:00\n", "5:3: sessions/night/a.csv: by profiles/clock.toml the clock shows no year (at the source in session.toml state start = 2026-01-11T00:00:00, if that is the day of the first row)"},
		{"elapsed", "60", "start = 2026-01-13T07:00:00\n", "5:3: sessions/night/a.csv: by profiles/clock.toml the clock counts from an unknown start (at the source in session.toml state start = 2026-01-13Thh:mm:ss, the moment at which the clock showed 0)"},
	} {
		f := newFolder(t)
		f.write("profiles/clock.toml", fmt.Sprintf("kind = \"delimited\"\nheader_row = 1\n[clock]\ncolumn = \"t\"\nformat = %q\n[[column]]\nname = \"kW\"\nchannel = \"charger_power_kw\"\n", c.format))
		f.write("sessions/night/a.csv", "t,kW\n"+c.row+",5\n")
		head, _, _ := strings.Cut(session, "[[source]]")
		head, tail := c.stated+head+log, "[[source]]\nfile = \"notes.txt\"\nkind = \"notes\"\n"
		f.write("sessions/night/session.toml", head+tail)
		if got := f.load(); !strings.Contains(got, "refused: sessions/night/session.toml:"+c.want+"\n") {
			t.Errorf("%s: got %s\nwant %s", c.format, got, c.want)
		}
		if c.stated == plugIn {
			f.write("sessions/night/session.toml", head+"start = 2026-01-12T00:00:00\n"+tail)
			if got := f.load(); !strings.Contains(got, "\nnight/a.csv 2 60.0 5.0\n") {
				t.Errorf("with the start: %s", got)
			}
		}
	}
}
