package warehouse

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"coldbench/warehouse/channel"
)

var zero = time.Date(2026, 1, 12, 19, 12, 30, 0, time.UTC)

// batch makes a reader of rows (seconds after zero, kW), lines from 2 on.
func batch(t *testing.T, mem memory.Allocator, rows [][2]float64) array.RecordReader {
	t.Helper()
	c, err := channel.Find("charger_power_kw")
	if err != nil {
		t.Fatal(err)
	}
	schema := channel.Schema([]channel.Channel{c})
	b := array.NewRecordBuilder(mem, schema)
	defer b.Release()
	for i, r := range rows {
		b.Field(0).(*array.Int64Builder).Append(int64(i + 2))
		b.Field(1).(*array.TimestampBuilder).Append(arrow.Timestamp(zero.UnixMicro() + int64(r[0]*1e6)))
		b.Field(2).(*array.Float64Builder).Append(r[1])
	}
	rec := b.NewRecord()
	defer rec.Release()
	rdr, err := array.NewRecordReader(schema, []arrow.Record{rec})
	if err != nil {
		t.Fatal(err)
	}
	return rdr
}

func load(t *testing.T, s *Store, rows [][2]float64, unsorted bool) {
	t.Helper()
	mem := memory.NewCheckedAllocator(memory.DefaultAllocator)
	defer mem.AssertSize(t, 0)
	rdr := batch(t, mem, rows)
	defer rdr.Release()
	ctx := context.Background()
	err := s.LoadSession(ctx, "night", func(l *Load) error {
		if err := l.RemoveSource(ctx, "night/car.csv"); err != nil {
			return err
		}
		n, err := l.Readings(ctx, "night/car.csv", rdr, time.Time{})
		if err != nil {
			return err
		}
		src := Source{ID: "night/car.csv", SessionID: "night", Path: "sessions/night/car.csv", Kind: "delimited", SHA256: "x"}
		r := &Report{RowsRead: n + 1, RowsKept: n, Unsorted: unsorted,
			Aside:       []Aside{{Line: 9, Raw: "?", Reason: "row has 1 field"}},
			Events:      []Event{{Line: 2, At: zero, WidthS: 60, Kind: "plug-in", Text: "plugged in"}},
			Instruments: []Instrument{{Channel: "charger_power_kw", Column: "P", Unit: "kW", Resolution: 0.1, URel: 0.01}}}
		if err := l.Source(ctx, src, r); err != nil {
			return err
		}
		plugs, err := l.PlugIns(ctx)
		if err != nil {
			return err
		}
		return l.Session(ctx, Session{ID: "night", VehicleID: "alder", Procedure: "cold-charge", Zero: plugs[0].At, ZeroU: 17})
	})
	if err != nil {
		t.Fatal(err)
	}
}

func TestLoadAndRead(t *testing.T) {
	ctx := context.Background()
	name := filepath.Join(t.TempDir(), "it's.duckdb") // a quote must not break the attach
	s, err := Open(ctx, name)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.PutSeries(ctx, "Winter", "Fellmoor", []Parameter{{"onset_kw", 1}}, []Vehicle{{ID: "alder", Name: "Alder 60", UsableKWh: 58}}); err != nil {
		t.Fatal(err)
	}
	load(t, s, [][2]float64{{0, 5}, {10, 5}, {20, 24}}, false)
	load(t, s, [][2]float64{{20, 24}, {0, 5}}, true) // a changed source replaces its own rows
	w := closed(t, s, name)
	check := func(q, want string) {
		t.Helper()
		rows, err := w.Query(ctx, q)
		if err != nil {
			t.Fatalf("%s: %v", q, err)
		}
		defer rows.Close()
		var got string
		rows.Next()
		if err := rows.Scan(&got); err != nil || got != want {
			t.Errorf("%s = %q, %v, want %q", q, got, err, want)
		}
	}
	check(`select string_agg(format('{} {} {}', line, t_s, charger_power_kw), '; ') from reading`, "3 0.0 5.0; 2 20.0 24.0")
	check(`select format('{} {} {}', t_s, width_s, kind) from event`, "0.0 60.0 plug-in")
	check(`select format('{} {} {}', rows_read, rows_kept, rows_aside) from source`, "3 2 1")
	check(`select format('{} {}', name, usable_kwh) from vehicle`, "Alder 60 58.0")
	check(`select onset_kw::varchar from protocol`, "1.0")
	if err := w.Scope(ctx, []string{"other"}); err != nil {
		t.Fatal(err)
	}
	check(`select count(*)::varchar from reading`, "0")
	for _, q := range []string{
		`delete from series.reading`, `select * from read_csv('/etc/hostname')`, `copy (select 1) to 'x.csv'`, `attach 'y.duckdb'`,
		`set enable_external_access = true`, `install httpfs`,
	} {
		if err := w.Exec(ctx, q); err == nil {
			t.Errorf("%s was allowed", q)
		}
	}
}

func TestFailedLoadLeavesNothing(t *testing.T) {
	ctx := context.Background()
	s, err := Open(ctx, filepath.Join(t.TempDir(), "w.duckdb"))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	rdr := batch(t, memory.DefaultAllocator, [][2]float64{{0, 1}})
	defer rdr.Release()
	err = s.LoadSession(ctx, "night", func(l *Load) error {
		if _, err := l.Readings(ctx, "night/car.csv", rdr, zero); err != nil {
			t.Fatal(err)
		}
		return context.Canceled
	})
	if err == nil {
		t.Fatal("no error")
	}
	var n int
	if err := s.conn.QueryRowContext(ctx, `select count(*) from reading`).Scan(&n); err != nil || n != 0 {
		t.Errorf("%d rows stayed, %v", n, err)
	}
}

func TestExplain(t *testing.T) {
	ctx := context.Background()
	name := filepath.Join(t.TempDir(), "w.duckdb")
	s, err := Open(ctx, name)
	if err != nil {
		t.Fatal(err)
	}
	w := closed(t, s, name)
	for text, want := range map[string]string{
		"-- head\nselect\n  sesion_id from session": `q.sql:3:3: referenced column "sesion_id" not found in FROM clause (did you mean "session_id"?)`,
		"select 1 fro session":                      `q.sql:1:14: syntax error at or near "session"`,
		"from series.figure":                        `q.sql: table with name figure_span does not exist (ask for "figure", without "series.")`,
		"select 1 from sesion":                      `q.sql:1:15: table with name sesion does not exist (did you mean "session"?)`,
	} {
		err := w.Exec(ctx, text)
		if err == nil {
			t.Fatalf("%q ran", text)
		}
		if got := w.Explain(ctx, err, "q.sql", text, "").Error(); got != want {
			t.Errorf("got  %s\nwant %s\nfrom %v", got, want, err)
		}
	}
}

// A file that is no warehouse, and one that another program holds, are told of
// with what to do.
func TestOpenTellsWhatToDo(t *testing.T) {
	ctx := context.Background()
	name := filepath.Join(t.TempDir(), "w.duckdb")
	if err := os.WriteFile(name, []byte("no warehouse, and long enough to be looked at: "+strings.Repeat("x", 8192)), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(ctx, name); err == nil || !strings.Contains(err.Error(), "delete it and run again") {
		t.Error(err)
	}
	if _, err := OpenWorkspace(ctx, name, Limits{}); err == nil || !strings.Contains(err.Error(), "delete it and run again") {
		t.Error(err)
	}
	if _, err := Open(ctx, filepath.Join(name, "x")); err == nil {
		t.Error("opened below a file")
	}
	// As DuckDB writes them, with strerror's text of EACCES and EROFS. The superuser, as whom tests may run, is denied nothing.
	for text, want := range map[string]string{
		`database/sql/driver: could not open database: duckdb error: IO Error: Cannot open file "w.duckdb": Permission denied`:     "the file, or the folder that it lies in, cannot be written to: permission denied; ",
		`database/sql/driver: could not open database: duckdb error: IO Error: Cannot open file "w.duckdb": Read-only file system`: "the file cannot be written to: nothing can be written to this disk; ",
	} {
		if got := meant(errors.New(text), "written to").Error(); !strings.HasPrefix(got, want) {
			t.Errorf("%s: got %s, want %s", text, got, want)
		}
	}
	if os.Geteuid() != 0 {
		dir := filepath.Join(t.TempDir(), "locked")
		if err := os.Mkdir(dir, 0o555); err != nil {
			t.Fatal(err)
		}
		if _, err := Open(ctx, filepath.Join(dir, "w.duckdb")); err == nil || !strings.Contains(err.Error(), "cannot be written to: permission denied") {
			t.Error(err)
		}
	}
}

// A folder's name is a name, whatever stands in it; what DuckDB cannot do is said.
func TestFolderNames(t *testing.T) {
	for _, folder := range []string{"50% x", "%20", "it's", "ä #1", "a;b", "[x]*"} {
		name := filepath.Join(t.TempDir(), folder, "series.duckdb")
		if err := os.Mkdir(filepath.Dir(name), 0o755); err != nil {
			t.Fatal(err)
		}
		s, err := Open(context.Background(), name)
		if err != nil {
			t.Errorf("%s: %v", folder, err)
			continue
		}
		closed(t, s, name)
		if _, err := os.Stat(name); err != nil {
			t.Error(err)
		}
	}
	t.Chdir(t.TempDir()) // where a name may begin like an address
	if err := os.Mkdir("md:x", 0o755); err != nil {
		t.Fatal(err)
	}
	if s, err := Open(context.Background(), "md:x/series.duckdb"); err != nil {
		t.Error(err)
	} else {
		closed(t, s, "md:x/series.duckdb")
	}
	if _, err := Open(context.Background(), "what?/series.duckdb"); err == nil || !strings.Contains(err.Error(), "question mark") {
		t.Error(err)
	}
}

// A warehouse of a later program is not touched.
func TestNewerSchema(t *testing.T) {
	ctx := context.Background()
	name := filepath.Join(t.TempDir(), "w.duckdb")
	s, err := Open(ctx, name)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.conn.ExecContext(ctx, `insert into schema_version values (9999)`); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(ctx, name); !errors.Is(err, ErrNewer) {
		t.Error(err)
	}
}

// closed closes a store and opens its file for reading, until the test ends.
func closed(t *testing.T, s *Store, name string) *Workspace {
	t.Helper()
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	w, err := OpenWorkspace(context.Background(), name, Limits{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { w.Close() })
	return w
}
