package warehouse

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// told is what a query gives, a line a row.
func told(t *testing.T, query string, from func(context.Context, string, ...any) (*sql.Rows, error)) []string {
	t.Helper()
	rows, err := from(context.Background(), query)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	var out []string
	for rows.Next() {
		values, err := Values(rows)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, fmt.Sprint(values))
	}
	return out
}

// In any order of rows that stay, change, go and come back, each edition has just the
// figures and gates that it was put with, whoever asks; and what stays is there once.
func TestEditionsKeepTheirRows(t *testing.T) {
	ctx := context.Background()
	name := filepath.Join(t.TempDir(), "series.duckdb")
	r := rand.New(rand.NewPCG(1, 2))
	number := func() *float64 {
		if r.IntN(4) == 0 {
			return nil
		}
		v := 1.0
		return &v
	}
	orNil := func(v *float64) any {
		if v == nil {
			return nil
		}
		return *v
	}
	var figures, gates []string // as they must be told
	fresh, all := 0, 0          // figures that were put
	before := map[string]bool{}
	put := func(s *Store, no int, id string, written error) {
		e := Edition{ID: id, At: time.Unix(int64(no)*60, 0)}
		now := map[string]bool{}
		for _, session := range []string{"a", "b", "c"} {
			for _, figure := range []string{"delay", "heat"} {
				if r.IntN(4) == 0 {
					continue
				}
				f := Figure{Session: session, Figure: figure, Value: number(), U: number(), From: number(), To: number(),
					Status: "ok", Note: []string{"", "by hand"}[r.IntN(2)], Basis: fmt.Sprint("h", r.IntN(2))}
				g := Gate{session, figure, []string{"passed", "failed"}[r.IntN(2)], "so"}
				e.Figures, e.Gates = append(e.Figures, f), append(e.Gates, g)
				note := any(f.Note)
				if f.Note == "" {
					note = nil
				}
				row := []any{session, figure, orNil(f.Value), orNil(f.U), orNil(f.From), orNil(f.To), f.Status, note, f.Basis}
				now[fmt.Sprint(row)] = true
				if written == nil {
					all++
					if !before[fmt.Sprint(row)] {
						fresh++
					}
					figures = append(figures, fmt.Sprint(append([]any{id}, row...)))
					gates = append(gates, fmt.Sprint([]any{id, session, figure, g.Verdict, g.Reason}))
				}
			}
		}
		if err := s.PutEdition(ctx, e, func() error { return written }); !errors.Is(err, written) {
			t.Fatal(err)
		}
		if written == nil {
			before = now
		}
	}
	const n = 60
	lost := errors.New("lost")
	for no := range n {
		s, err := Open(ctx, name)
		if err != nil {
			t.Fatal(err)
		}
		id := fmt.Sprintf("e%02d", no)
		if no%7 == 3 {
			put(s, no, id, lost)
		}
		if no%5 == 4 { // put again: what was first put under this ID is gone
			figuresBefore, gatesBefore := slices.Clone(figures), slices.Clone(gates)
			put(s, no, id, nil)
			figures, gates = figuresBefore, gatesBefore
		}
		put(s, no, id, nil)
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	slices.Sort(figures)
	slices.Sort(gates)

	w, err := OpenWorkspace(ctx, name, Limits{})
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	s, err := sql.Open("duckdb", name+"?access_mode=read_only")
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	for who, ask := range map[string]func(context.Context, string, ...any) (*sql.Rows, error){"a workspace": w.Query, "the file itself": s.QueryContext} {
		for table, want := range map[string][]string{"figure": figures, "gate": gates} {
			got := told(t, "from "+table, ask)
			slices.Sort(got)
			if !slices.Equal(got, want) {
				t.Errorf("%s tells of %s:\n%s\nwant\n%s", who, table, strings.Join(got, "\n"), strings.Join(want, "\n"))
			}
		}
	}
	newest, err := w.Figures(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if last := told(t, "from figure where edition_id = 'e59'", w.Query); len(newest) != len(last) {
		t.Errorf("the newest edition has %d figures, want %d", len(newest), len(last))
	}
	if rows := told(t, "from series.figure_span", w.Query); len(rows) != fresh || fresh == all {
		t.Errorf("%d rows are kept, want %d: so many of %d were other than those before", len(rows), fresh, all)
	}
}

// A warehouse of before has after its migration what it had, and its newest edition
// stands, also one without rows.
func TestMigratedEditions(t *testing.T) {
	migrated(t, nil, []string{"[1 1 so]", "[2 2147483647 not so]"})
	migrated(t, []string{`insert into edition values ('bare', '2026-01-03', 'p', 'i')`}, []string{"[1 1 so]", "[2 2 not so]", "[4 2147483647 not so]"})
}

// migrated migrates two editions, and what more makes, and puts one whose gate is that of
// the second. Then gates stand as in want.
func migrated(t *testing.T, more, want []string) {
	t.Helper()
	ctx := context.Background()
	name := filepath.Join(t.TempDir(), "series.duckdb")
	db, err := sql.Open("duckdb", name)
	if err != nil {
		t.Fatal(err)
	}
	statements := []string{`create table schema_version (version integer not null)`}
	for _, m := range []string{"0001_tables", "0002_kept_log", "0003_source_no", "0004_least_log"} {
		text, err := migrations.ReadFile(path.Join("migrations", m+".sql"))
		if err != nil {
			t.Fatal(err)
		}
		statements = append(statements, string(text))
	}
	statements = append(statements, `insert into schema_version values (4)`,
		`insert into edition values ('new', '2026-01-02', 'p', 'i'), ('old', '2026-01-01', 'p', 'i')`,
		`insert into figure values ('old', 's', 'delay', 1, 0.1, 0, 1, 'ok', null, 'h1'), ('new', 's', 'delay', 1, 0.1, 0, 1, 'ok', null, 'h1'), ('new', 't', 'delay', null, null, null, null, 'none', 'so', 'h2')`,
		`insert into gate values ('old', 's', 'log', 'passed', 'so'), ('new', 's', 'log', 'failed', 'not so')`)
	for _, q := range append(statements, more...) {
		if _, err := db.ExecContext(ctx, q); err != nil {
			t.Fatal(err)
		}
	}
	had := map[string][]string{}
	for _, table := range []string{"figure", "gate"} {
		had[table] = told(t, "from "+table+" order by all", db.QueryContext)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	s, err := Open(ctx, name)
	if err != nil {
		t.Fatal(err)
	}
	for table, rows := range had {
		if got := told(t, "from "+table+" order by all", s.conn.QueryContext); !slices.Equal(got, rows) || len(got) < 2 {
			t.Errorf("%s: %q, want %q", table, got, rows)
		}
	}
	stay := Gate{"s", "log", "failed", "not so"}
	if err := s.PutEdition(ctx, Edition{ID: "newest", Gates: []Gate{stay}}, func() error { return nil }); err != nil {
		t.Fatal(err)
	}
	w := closed(t, s, name)
	got := told(t, "select first_no, last_no, reason from series.gate_span order by all", w.Query)
	if !slices.Equal(got, want) {
		t.Errorf("gates stand so: %q, want %q", got, want)
	}
	if f, err := w.Figures(ctx); err != nil || len(f) != 0 {
		t.Errorf("figures of an edition without any: %v, %v", f, err)
	}
}

// An interrupt that comes once the edition is published does not part the warehouse
// from it; one before that keeps nothing.
func TestEditionInterrupted(t *testing.T) {
	name := filepath.Join(t.TempDir(), "series.duckdb")
	s, err := Open(context.Background(), name)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	ctx, interrupt := context.WithCancel(context.Background())
	err = s.PutEdition(ctx, Edition{ID: "whole", Gates: []Gate{{"s", "log", "passed", "so"}}}, func() error { interrupt(); return nil })
	if err != nil {
		t.Error(err)
	}
	if err := s.PutEdition(ctx, Edition{ID: "not begun"}, func() error { t.Error("written"); return nil }); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	if got := told(t, "select edition_id, verdict from gate", s.conn.QueryContext); !slices.Equal(got, []string{"[whole passed]"}) {
		t.Errorf("kept: %q", got)
	}
}
