package warehouse

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"github.com/apache/arrow/go/v17/arrow/memory"
)

// nights writes sessions of one source each, a row a second, but for the last row,
// which belongs after the first.
func nights(t *testing.T, name string, rows int, ids ...string) {
	t.Helper()
	ctx := context.Background()
	s, err := Open(ctx, name)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	for _, id := range ids {
		values := make([][2]float64, rows)
		for i := range values {
			values[i] = [2]float64{float64(i), float64(i % 700)}
		}
		values[rows-1][0] = 0.5 // nobody said that they are not in order
		rdr := batch(t, memory.DefaultAllocator, values)
		err := s.LoadSession(ctx, id, func(l *Load) error {
			if _, err := l.Readings(ctx, id+"/car.csv", rdr, zero); err != nil {
				return err
			}
			src := Source{ID: id + "/car.csv", SessionID: id, Path: id + "/car.csv", Kind: "delimited", SHA256: "x"}
			if err := l.Source(ctx, src, &Report{RowsRead: int64(rows), RowsKept: int64(rows)}); err != nil {
				return err
			}
			return l.Session(ctx, Session{ID: id, VehicleID: "alder", Procedure: "cold-charge", Zero: zero})
		})
		rdr.Release()
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
}

// What is held is in the order that definitions rely on, with all channels; what
// is kept comes back in another scope; and workspaces beside each other read at
// once.
func TestHoldKeepBeside(t *testing.T) {
	ctx := context.Background()
	name := filepath.Join(t.TempDir(), "w.duckdb")
	nights(t, name, 5000, "c", "a", "b")
	w, err := OpenWorkspace(ctx, name, Limits{Memory: "1GB"})
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	check := func(q, want string) {
		t.Helper()
		var got string
		if err := w.conn.QueryRowContext(ctx, q).Scan(&got); err != nil || got != want {
			t.Errorf("%s = %q, %v, want %q", q, got, err, want)
		}
	}
	if err := w.Scope(ctx, []string{"c", "a"}); err != nil {
		t.Fatal(err)
	}
	if err := w.Hold(ctx); err != nil {
		t.Fatal(err)
	}
	check(`select format('{} {} {}', count(*), count(soc_pct), any_value(typeof(soc_pct))) from reading`, "10000 0 DOUBLE")
	check(`select string_agg(line, ' ') from (select line from reading where session_id = 'a' limit 3)`, "2 5001 3")
	check(`select format('{} {}', count(distinct t_us), count_if(t_us / 1e6 <> t_s or t_us <> epoch_us(at) - epoch_us(s.zero))) from reading join session s using (session_id)`, "5000 0")
	// By a filter that leaves nothing of some of DuckDB's vectors of 2,048 rows, little of others.
	for _, filter := range []string{`charger_power_kw < 400`, `charger_power_kw = 699`, `charger_power_kw % 97 = 3 and t_s > 100`} {
		check(`
			select count(*) from (
				select case when source_id = lag(source_id) over () then lag(t_s) over () end as before_s, t_s, source_id
				from reading where `+filter+`
			) a join (
				select lag(t_s) over (partition by source_id order by t_s) as before_s, t_s, source_id
				from reading where `+filter+`
			) b using (source_id, t_s)
			where a.before_s is distinct from b.before_s`, "0")
	}

	for i, scope := range [][]string{{"a"}, {"b", "c"}} {
		if err := w.Scope(ctx, scope); err != nil {
			t.Fatal(err)
		}
		if err := w.Exec(ctx, `create or replace temp table most as select session_id, max(t_s) as t_s from reading group by session_id`); err != nil {
			t.Fatal(err)
		}
		if err := w.Keep(ctx, "most"); err != nil {
			t.Fatal(i, err)
		}
	}
	if err := w.Scope(ctx, []string{"a", "c"}); err != nil {
		t.Fatal(err)
	}
	if err := w.Recall(ctx, "most"); err != nil {
		t.Fatal(err)
	}
	check(`select string_agg(format('{} {}', session_id, t_s), '; ' order by session_id) from most join session using (session_id)`, "a 4998.0; c 4998.0")

	beside, err := w.Beside(ctx, 0.5)
	if err != nil {
		t.Fatal(err)
	}
	defer beside.Close()
	var text string
	// Half of a gigabyte, 953.67 MiB; DuckDB cuts off what it prints.
	err = beside.conn.QueryRowContext(ctx, `select format('{} {} {}', count(*), current_setting('threads'), current_setting('memory_limit')) from reading`).Scan(&text)
	if want := "15000 1 476.7 MiB"; err != nil || text != want {
		t.Errorf("beside: %q, %v, want %q", text, err, want)
	}
}

// A source that goes on from another is one with it from where that ends, in the
// order of time, where readings are held; elsewhere it is a file of its own.
func TestHoldContinued(t *testing.T) {
	ctx := context.Background()
	name := filepath.Join(t.TempDir(), "w.duckdb")
	nights(t, name, 10, "a")
	s, err := Open(ctx, name)
	if err != nil {
		t.Fatal(err)
	}
	err = s.LoadSession(ctx, "a", func(l *Load) error {
		rdr := batch(t, memory.DefaultAllocator, [][2]float64{{7, 9}, {8, 9}, {100, 1}, {101, 2}})
		defer rdr.Release()
		if _, err := l.Readings(ctx, "a/again.csv", rdr, zero); err != nil {
			return err
		}
		src := Source{ID: "a/again.csv", SessionID: "a", Path: "a/again.csv", Kind: "delimited", SHA256: "y"}
		if err := l.Source(ctx, src, &Report{RowsRead: 4, RowsKept: 4}); err != nil {
			return err
		}
		return l.Continues(ctx, [][]Span{{{SourceID: "a/car.csv", Last: zero.Add(8 * time.Second), OffsetU: 3}, {SourceID: "a/again.csv"}}})
	})
	if err != nil {
		t.Fatal(err)
	}
	w := closed(t, s, name)
	if err := w.Scope(ctx, []string{"a"}); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"a/again.csv 4 7..101, a/car.csv 10 0..8", "a/car.csv 12 0..101"} {
		var got string
		err := w.conn.QueryRowContext(ctx, `
			select string_agg(format('{} {} {}..{}', source_id, n, low, high), ', ' order by source_id)
			from (select source_id, count(*) as n, min(t_s)::int as low, max(t_s)::int as high from reading group by source_id)`).Scan(&got)
		if err != nil || got != want {
			t.Errorf("got %s, %v, want %s", got, err, want)
		}
		if err := w.Hold(ctx); err != nil {
			t.Fatal(err)
		}
	}
	var u float64
	if err := w.conn.QueryRowContext(ctx, `select offset_u_s from source where source_id = 'a/car.csv'`).Scan(&u); err != nil || u != 3 {
		t.Errorf("the clock of what is joined is uncertain by %v s, %v", u, err)
	}
	var ordered bool
	if err := w.conn.QueryRowContext(ctx, `select bool_and(t_s >= before_s) from (select t_s, lag(t_s) over () as before_s from reading)`).Scan(&ordered); err != nil || !ordered {
		t.Errorf("held in order: %v, %v", ordered, err)
	}
}
