package warehouse

import (
	"context"
	"errors"
	"path/filepath"
	"testing"
)

// A log replaces the one of its session, and none outlives its session.
func TestKeptLogs(t *testing.T) {
	ctx := context.Background()
	name := filepath.Join(t.TempDir(), "series.duckdb")
	keep := func(put func(s *Store)) map[string]Log {
		t.Helper()
		s, err := Open(ctx, name)
		if err != nil {
			t.Fatal(err)
		}
		put(s)
		w := closed(t, s, name)
		defer w.Close() // the next store wants the file for itself
		got := map[string]Log{}
		for _, least := range []bool{false, true} {
			seen := map[string]bool{}
			err = w.KeptLogs(ctx, least, func(l Log) {
				if seen[l.Session] || l.Body != nil && least || l.Least != nil && !least {
					t.Errorf("session %s: %+v, %v", l.Session, l, seen[l.Session])
				}
				seen[l.Session] = true
				if least {
					l.Body = got[l.Session].Body
				}
				got[l.Session] = l
			})
			if err != nil {
				t.Fatal(err)
			}
		}
		schema, err := w.Schema(ctx)
		if err != nil || schema["kept_log"] != nil {
			t.Errorf("definitions see the kept logs: %v, %v", schema["kept_log"], err)
		}
		return got
	}
	put := func(s *Store, logs ...Log) {
		t.Helper()
		if err := s.PutEdition(ctx, Edition{ID: "1", Logs: logs}, func() error { return nil }); err != nil {
			t.Fatal(err)
		}
	}
	session := func(s *Store, id string, gone bool) {
		t.Helper()
		err := s.LoadSession(ctx, id, func(l *Load) error {
			if gone {
				return l.Remove(ctx)
			}
			return l.Refuse(ctx, Session{ID: id, VehicleID: "alder", Procedure: "cold-charge"}, "for this test")
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	check := func(what string, got map[string]Log, want ...Log) {
		t.Helper()
		if len(got) != len(want) {
			t.Errorf("%s: %d logs, want %d", what, len(got), len(want))
		}
		for _, l := range want {
			if g := got[l.Session]; g.Basis != l.Basis || string(g.Body) != string(l.Body) || string(g.Least) != string(l.Least) {
				t.Errorf("%s: %+v, want %+v", what, g, l)
			}
		}
	}
	a, b, c := Log{"a", "1", []byte{0, 1, 255}, []byte("x")}, Log{"b", "1", []byte{2}, []byte("y")}, Log{"a", "2", []byte("other"), []byte("z")}
	check("two", keep(func(s *Store) { session(s, "a", false); session(s, "b", false); put(s, a, b) }), a, b)
	check("one made anew", keep(func(s *Store) { put(s, c) }), b, c)
	check("nothing made", keep(func(s *Store) { put(s) }), b, c)
	check("an edition that is not written", keep(func(s *Store) {
		lost := errors.New("the disk is full")
		if err := s.PutEdition(ctx, Edition{ID: "2", Logs: []Log{a}}, func() error { return lost }); !errors.Is(err, lost) {
			t.Errorf("kept: %v", err)
		}
	}), b, c)
	check("a session is gone", keep(func(s *Store) { session(s, "b", true); put(s) }), c)
}
