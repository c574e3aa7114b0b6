package ingest

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"coldbench/ingest/series"
	"coldbench/warehouse"
)

func TestContinued(t *testing.T) {
	at := func(min float64) time.Time {
		return time.Date(2026, 1, 12, 20, 0, 0, 0, time.UTC).Add(time.Duration(min * float64(time.Minute)))
	}
	// SourceID is the file's name and, after a blank, its profile.
	part := func(name string, from, to float64) warehouse.Span {
		return warehouse.Span{SourceID: name, First: at(from), Last: at(to), Car: true}
	}
	register := func(s warehouse.Span, first, last float64) warehouse.Span {
		s.Register = &[2]float64{first, last}
		return s
	}
	unsure := func(s warehouse.Span, u float64) warehouse.Span {
		s.OffsetU = u
		return s
	}
	for _, c := range []struct {
		name string
		logs []warehouse.Span
		want string
	}{
		{"three files of one logger, out of order", []warehouse.Span{part("c.csv log", 20, 30), part("a.csv log", 0, 10), part("b.csv log", 10, 20)}, "a.csv, b.csv, c.csv"},
		{"a row that both have", []warehouse.Span{part("a.csv log", 0, 10.5), part("b.csv log", 10, 20)}, "a.csv, b.csv"},
		{"more than a minute of overlap: two loggers", []warehouse.Span{part("a.csv log", 0, 11.1), part("b.csv log", 10, 20)}, "b.csv beside a.csv from 10 to 11.1"},
		{"as far as its clock may be off", []warehouse.Span{part("a.csv log", 0, 11.1), unsure(part("b.csv log", 10, 20), 10)}, "a.csv, b.csv"},
		{"half of a short one", []warehouse.Span{part("a.csv log", 0, 10.5), part("b.csv log", 10, 10.9)}, "b.csv beside a.csv from 10 to 10.5"},
		{"of three, two overlap", []warehouse.Span{part("a.csv log", 0, 5), part("b.csv log", 10, 20), part("c.csv log", 15, 30)}, "c.csv beside b.csv from 15 to 20"},
		{"two profiles", []warehouse.Span{part("a.csv log", 0, 5), part("b.csv dial", 10, 20)}, ""},
		{"a register that goes on", []warehouse.Span{register(part("a.csv log", 0, 5), 0, 1.55), register(part("b.csv log", 5, 20), 1.56, 30)}, "a.csv, b.csv"},
		{"another charger's register, from 0", []warehouse.Span{register(part("a.csv log", 0, 5), 0, 1.55), register(part("b.csv log", 5, 20), 0, 30)}, ""},
		{"another charger's register, at thousands", []warehouse.Span{register(part("a.csv log", 0, 5), 0, 1.55), register(part("b.csv log", 5, 20), 4211, 4250)}, ""},
		{"a register and none", []warehouse.Span{register(part("a.csv log", 0, 5), 0, 1.55), part("b.csv log", 5, 20)}, ""},
	} {
		ses := &series.Session{ID: "night"}
		for i, span := range c.logs {
			file, profile, _ := strings.Cut(span.SourceID, " ")
			ses.Sources = append(ses.Sources, series.Source{File: file, Profile: profile})
			c.logs[i].SourceID = "night/" + file
		}
		var got []string
		chains, overlaps := continued(ses, c.logs)
		for _, chain := range chains {
			for _, part := range chain {
				got = append(got, filepath.Base(part.SourceID))
			}
		}
		for _, v := range overlaps {
			got = append(got, fmt.Sprintf("%s beside %s from %.4g to %.4g", filepath.Base(v.Path), filepath.Base(v.Of), v.From.Sub(at(0)).Minutes(), v.To.Sub(at(0)).Minutes()))
		}
		if strings.Join(got, ", ") != c.want {
			t.Errorf("%s: %s, want %s", c.name, strings.Join(got, ", "), c.want)
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
