package ingest

import (
	"context"
	"maps"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"coldbench/ingest/series"
	"coldbench/warehouse"
)

func TestContinued(t *testing.T) {
	at := func(min int) time.Time { return time.Date(2026, 1, 12, 20, min, 0, 0, time.UTC) }
	for _, c := range []struct {
		name string
		logs []warehouse.Span // SourceID is the file's name and, after a blank, its profile
		want string
	}{
		{"three files of one logger, out of order", []warehouse.Span{{SourceID: "c.csv log", First: at(20), Last: at(30)}, {SourceID: "a.csv log", First: at(0), Last: at(10)}, {SourceID: "b.csv log", First: at(10), Last: at(20)}},
			"b.csv goes on from a.csv, c.csv goes on from a.csv"},
		{"a minute of overlap: two loggers", []warehouse.Span{{SourceID: "a.csv log", First: at(0), Last: at(11)}, {SourceID: "b.csv log", First: at(10), Last: at(20)}}, ""},
		{"of three, two overlap", []warehouse.Span{{SourceID: "a.csv log", First: at(0), Last: at(5)}, {SourceID: "b.csv log", First: at(10), Last: at(20)}, {SourceID: "c.csv log", First: at(15), Last: at(30)}}, ""},
		{"two profiles", []warehouse.Span{{SourceID: "a.csv log", First: at(0), Last: at(5)}, {SourceID: "b.csv dial", First: at(10), Last: at(20)}}, ""},
		{"two chargers with a register each", []warehouse.Span{{SourceID: "a.csv log", First: at(0), Last: at(5), Register: true}, {SourceID: "b.csv log", First: at(10), Last: at(20), Register: true}}, ""},
	} {
		ses := &series.Session{ID: "night"}
		for i, span := range c.logs {
			file, profile, _ := strings.Cut(span.SourceID, " ")
			ses.Sources = append(ses.Sources, series.Source{File: file, Profile: profile})
			c.logs[i].SourceID = "night/" + file
		}
		var got []string
		from := continued(ses, c.logs)
		for _, id := range slices.Sorted(maps.Keys(from)) {
			got = append(got, strings.TrimPrefix(id, "night/")+" goes on from "+strings.TrimPrefix(from[id], "night/"))
		}
		if strings.Join(got, ", ") != c.want {
			t.Errorf("%s: %v, want %s", c.name, got, c.want)
		}
	}
}

// What is loaded says so, and no more once the files are one again.
func TestContinues(t *testing.T) {
	f := newFolder(t)
	if got := f.query("select count(continues) from source"); got != "0" {
		t.Errorf("logs that overlap: %s", got)
	}
	f.write("sessions/night/session.toml", strings.Replace(session, "start = 2026-01-12T20:00:00\n[[source]]\nfile = \"notes", "start = 2026-01-12T20:01:00\n[[source]]\nfile = \"notes", 1))
	if got := f.query("select source_id || ' after ' || continues from source where continues is not null"); got != "night/b.csv after night/a.csv" {
		t.Errorf("one after the other: %s", got)
	}
	f.write("sessions/night/session.toml", session)
	if got := f.query("select count(continues) from source"); got != "0" {
		t.Errorf("overlapping again: %s", got)
	}
}

// query loads the folder and asks its warehouse for one text.
func (f folder) query(q string) (text string) {
	f.t.Helper()
	f.load()
	w, err := warehouse.OpenWorkspace(context.Background(), filepath.Join(f.dir, "series.duckdb"), warehouse.Limits{})
	if err != nil {
		f.t.Fatal(err)
	}
	defer w.Close()
	rows, err := w.Query(context.Background(), q)
	if err != nil {
		f.t.Fatal(err)
	}
	defer rows.Close()
	for rows.Next() {
		if err := rows.Scan(&text); err != nil {
			f.t.Fatal(err)
		}
	}
	return text
}
