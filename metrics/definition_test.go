package metrics

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"coldbench/warehouse"
)

const goodFigure = `-- figure: mine
-- title:  Mine
-- unit:   kW
-- better: higher
-- procedure: cold-charge
-- reads:  reading(session_id, charger_power_kw),
--         session(session_id, procedure)
-- method: definition is ours
--
-- The highest power of the charger.

select
    s.session_id, max(r.charger_power_kw) as value, 0.1 as uncertainty, null::double as from_s, null::double as to_s,
    case when max(r.charger_power_kw) is null then 'none' else 'measured' end as status,
    case when max(r.charger_power_kw) is null then 'no charger' end as note
from session s left join reading r using (session_id)
where s.procedure in ('cold-charge')
group by s.session_id
`

func TestParse(t *testing.T) {
	d, l := parse("mine.sql", "mine", goodFigure)
	if l != nil {
		t.Fatal(l)
	}
	if d.Title != "Mine" || d.Unit != "kW" || len(d.Reads) != 2 || d.Reads[1].Columns[1] != "procedure" || d.Prose != "The highest power of the charger." ||
		!strings.HasPrefix(d.Query(), "select\n") {
		t.Errorf("%+v", d)
	}
	for _, c := range []struct{ old, new, want string }{
		{"-- unit:", "-- uint:", `mine.sql:3:4: unknown key "uint" (did you mean "unit"?)`},
		{"-- unit:   kW\n", "", `mine.sql:1:1: key "unit" is missing`},
		{"-- unit:   kW\n-- better: higher\n", "-- better: higher\n-- unit:   kW\n", `mine.sql:4:4: key "unit" is out of order`},
		{"-- unit:   kW\n", "-- unit:   kW\n-- unit:   kW\n", `mine.sql:4:4: key "unit" stands twice`},
		{"better: higher", "better: bigger", `mine.sql:4:4: better must be lower, higher or neither, not "bigger"`},
		{"procedure: cold-charge", "procedure: cold-chrage", `mine.sql:5:4: unknown procedure "cold-chrage" (did you mean "cold-charge"?)`},
		{"figure: mine", "figure: yours", `mine.sql:1:4: figure "yours" must have its file's name, "mine"`},
		{"-- The highest power of the charger.\n", "", `mine.sql:8:4: no prose after the front matter`},
		{"session(session_id, procedure)", "reading(t_s)", `mine.sql:6:4: reads names reading twice`},
		{"reading(session_id", "reading[session_id", `mine.sql:6:4: reads needs table(column, ...)`},
		{"select\n", "select distinct on (s.session_id)\n", `"distinct on" cannot be trusted here`},
		{"-- title:  Mine", "-- title   Mine", `mine.sql:2:4: front matter needs "key: value"`},
	} {
		text := strings.Replace(goodFigure, c.old, c.new, 1)
		if text == goodFigure {
			t.Fatalf("%q changes nothing", c.old)
		}
		if _, l := parse("mine.sql", "mine", text); !strings.Contains(l.Error(), c.want) {
			t.Errorf("got  %s\nwant %s", l.Error(), c.want)
		}
	}
}

func FuzzParse(f *testing.F) {
	f.Add(goodFigure)
	f.Add("-- view:   x\n-- title:  y\n-- reads:  a(b), c(\n--\n-- z\nselect")
	f.Fuzz(func(t *testing.T, text string) {
		d, l := parse("x.sql", "x", text)
		if l == nil && (d.Name != "x" || d.Prose == "" || len(d.Reads) == 0) {
			t.Errorf("%+v", d)
		}
		for _, p := range l {
			if p.Pos.Line < 1 || p.Pos.Col < 1 {
				t.Error(p)
			}
		}
	})
}

// A figure of the user's is checked where it lies, and a wrong one is told of.
func TestUserFigures(t *testing.T) {
	s := &script{t: t}
	s.reset()
	defer s.close()
	s.sessions = []warehouse.Session{{ID: "s1", VehicleID: "car", Procedure: "cold-charge", Zero: scriptZero, ZeroFrom: "script"}}
	for _, c := range []struct{ old, new, want string }{
		{"", "", ""},
		{"max(r.charger_power_kw) as value", "max(r.charger_powr_kw) as value", `figures/mine.sql:13:23: values list "r" does not have a column named "charger_powr_kw"`},
		{"as value", "as val", `figures/mine.sql: referenced column "value" not found in FROM clause (did you mean "val"?)`},
		{"group by s.session_id", "group", `figures/mine.sql:19:1: syntax error at end of input`},
		{"reading(session_id, charger_power_kw)", "reading(session_id, charger_powr_kw)", `figures/mine.sql:6:4: reads: reading has no column "charger_powr_kw" (did you mean "charger_power_kw"?)`},
		{"reading(session_id, charger_power_kw)", "readings(session_id)", `figures/mine.sql:6:4: reads: no table or view "readings" (did you mean "reading"?)`},
		{"max(r.charger_power_kw) as value", "max(r.pack_power_kw) as value", `figures/mine.sql:13:23: values list "r" does not have a column named "pack_power_kw" (reads names all that a figure reads, each table with its columns)`},
		{"left join reading r using (session_id)", "left join reading r using (session_id) left join onset o using (session_id)", `figures/mine.sql: column "session_id" does not exist on right side of join (reads does not name onset)`},
		{"'no charger'", "null", `figure mine, session s1: status none without a note`},
		{"0.1 as uncertainty", "-0.1 as uncertainty", ``}, // no value, so its uncertainty is no matter
		{"where s.procedure in ('cold-charge')", "where false", `figure mine has no row for session "s1"`},
		{"max(r.charger_power_kw) as value", "(select count(*) from read_csv('/etc/hostname')) as value", `scanning read_csv files is disabled through configuration`},
		{"select\n    s.session_id", "drop table reading; select\n    s.session_id", `syntax error`},
	} {
		dir := filepath.Join(t.TempDir(), "figures")
		if err := os.MkdirAll(dir, 0o755); err != nil {
			t.Fatal(err)
		}
		text := strings.Replace(goodFigure, c.old, c.new, 1)
		if err := os.WriteFile(filepath.Join(dir, "mine.sql"), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		cat, l, err := Load(dir)
		if err != nil || l != nil {
			t.Fatal(l, err)
		}
		s.cat = cat
		s.load()
		e, l, err := cat.Run(context.Background(), s.w, Settings{})
		if err != nil {
			t.Fatal(err)
		}
		if c.want == "" && l != nil || !strings.Contains(l.Error(), c.want) {
			t.Errorf("%s:\ngot  %v\nwant %s", c.new, l, c.want)
		}
		if _, ok := e.Find("s1", "delay_to_onset"); !ok {
			t.Errorf("%s: the other figures did not go on", c.new)
		}
		s.close()
	}
}

// A figure of the user's that never ends, or takes all memory, is stopped and told
// of; the others go on.
func TestUserFigureLimits(t *testing.T) {
	for _, c := range []struct{ value, want string }{
		{"(select sum(sin(a.range) * cos(b.range)) from range(1000000000) a, range(1000000) b) as value", "figure mine took longer than 100ms"},
		{"(select count(*) from (select distinct md5(a.range::varchar) from range(5000000) a)) as value", "figure mine takes more memory than there is for it"},
	} {
		s := &script{t: t}
		s.reset()
		s.sessions = []warehouse.Session{{ID: "s1", VehicleID: "car", Procedure: "cold-charge", Zero: scriptZero, ZeroFrom: "script"}}
		dir := filepath.Join(t.TempDir(), "figures")
		if err := os.MkdirAll(dir, 0o755); err != nil {
			t.Fatal(err)
		}
		text := strings.Replace(goodFigure, "max(r.charger_power_kw) as value", c.value, 1)
		if err := os.WriteFile(filepath.Join(dir, "mine.sql"), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		cat, l, err := Load(dir)
		if err != nil || l != nil {
			t.Fatal(l, err)
		}
		if strings.Contains(c.want, "longer") {
			cat.TimeLimit = 100 * time.Millisecond
		}
		s.cat, s.limits = cat, warehouse.Limits{Memory: "50MB"}
		s.load()
		e, l, err := cat.Run(context.Background(), s.w, Settings{})
		if err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(l.Error(), c.want) {
			t.Errorf("got  %v\nwant %s", l, c.want)
		}
		if _, ok := e.Find("s1", "peak_power"); !ok {
			t.Error("the other figures did not go on")
		}
		s.close()
	}
}

// An interrupt ends a figure of the user's that would go on for hours; the run
// ends with it, and blames nobody. Were it not so, this test would not end.
func TestUserFigureInterrupted(t *testing.T) {
	s := &script{t: t}
	s.reset()
	s.sessions = []warehouse.Session{{ID: "s1", VehicleID: "car", Procedure: "cold-charge", Zero: scriptZero, ZeroFrom: "script"}}
	dir := filepath.Join(t.TempDir(), "figures")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	text := strings.Replace(goodFigure, "max(r.charger_power_kw) as value", "(select sum(sin(a.range) * cos(b.range)) from range(1000000000) a, range(1000000) b) as value", 1)
	if err := os.WriteFile(filepath.Join(dir, "mine.sql"), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	cat, l, err := Load(dir)
	if err != nil || l != nil {
		t.Fatal(l, err)
	}
	cat.TimeLimit = 1000 * time.Hour
	s.cat = cat
	s.load()
	defer s.close()
	// Nothing else takes seconds: the interrupt comes while mine runs.
	ctx, stop := context.WithTimeout(context.Background(), 5*time.Second)
	defer stop()
	if e, l, err := cat.Run(ctx, s.w, Settings{}); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("got an edition: %v, %v, %v", e != nil, l, err)
	}
}

// A name that is taken, and a view in the user's folder, are refused.
func TestUserFigureNames(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "figures")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	text := strings.Replace(goodFigure, "figure: mine", "figure: delay_to_onset", 1)
	if err := os.WriteFile(filepath.Join(dir, "delay_to_onset.sql"), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	cat, l, err := Load(dir)
	if err != nil || l.Error() != `figures/delay_to_onset.sql:1:4: figure "delay_to_onset" is taken (choose another name)` {
		t.Error(l, err)
	}
	if cat == nil || cat.Figure("delay_to_onset").File != "metrics/sql/delay_to_onset.sql" {
		t.Error("the catalogue's own figure is gone")
	}
}

// What cannot be read among the user's figures is told of, and no fault of the
// machine; the others are there.
func TestUserFiguresUnread(t *testing.T) {
	dir := t.TempDir()
	own := filepath.Join(dir, "figures")
	write := func(name, text string) {
		t.Helper()
		if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	check := func(want string) *Catalogue {
		t.Helper()
		cat, l, err := Load(own)
		if err != nil || l.Error() != want || cat == nil || cat.Figure("delay_to_onset") == nil {
			t.Errorf("got %v %v, want %s", l, err, want)
		}
		return cat
	}
	write(own, "no folder")
	check("figures: the folder cannot be read: not a directory")
	if err := errors.Join(os.Remove(own), os.Symlink("nowhere", own)); err != nil {
		t.Fatal(err)
	}
	check("figures: the folder cannot be read: no such file or directory")
	if err := errors.Join(os.Remove(own), os.MkdirAll(filepath.Join(own, "drawer.sql"), 0o755), os.Symlink("nowhere.sql", filepath.Join(own, "gone.sql"))); err != nil {
		t.Fatal(err)
	}
	write(filepath.Join(own, "mine.sql"), goodFigure)
	write(filepath.Join(own, "README.md"), "no figure")
	if cat := check("figures/drawer.sql: the file cannot be read: is a directory\nfigures/gone.sql: the file cannot be read: no such file or directory"); cat.Figure("mine") == nil {
		t.Error("the good one is gone")
	}
	if err := os.RemoveAll(own); err != nil {
		t.Fatal(err)
	}
	if _, l, err := Load(own); l != nil || err != nil {
		t.Error("without a folder: ", l, err)
	}
}
