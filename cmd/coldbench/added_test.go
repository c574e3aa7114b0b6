package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"coldbench/ingest/demo"
	"coldbench/metrics"
	"coldbench/warehouse"
)

// grown is a series of n random sessions that was run once, and a function that
// brings one session more.
func grown(t *testing.T, n int) (dir string, add func()) {
	t.Helper()
	dir = filepath.Join(t.TempDir(), "series")
	if err := demo.WriteRandom(dir, n+1, 11); err != nil {
		t.Fatal(err)
	}
	sessions, err := filepath.Glob(filepath.Join(dir, "sessions", "*"))
	if err != nil {
		t.Fatal(err)
	}
	last, aside := sessions[n], filepath.Join(t.TempDir(), "aside")
	move := func(from, to string) {
		t.Helper()
		if err := os.Rename(from, to); err != nil {
			t.Fatal(err)
		}
	}
	move(last, aside)
	runAt(t, dir, "2026-03-01T09:30:00Z")
	return dir, func() { move(aside, last) }
}

func runAt(t *testing.T, dir, at string) {
	t.Helper()
	var errs bytes.Buffer
	if code := run([]string{"run", dir, "--at", at}, io.Discard, &errs); code == 2 {
		t.Fatal(errs.String())
	}
}

// files are all files below a folder, by name.
func files(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.WalkDir(dir, func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(name)
		rel, _ := filepath.Rel(dir, name)
		out[rel] = string(data)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// An edition that took figures and logs from the warehouse is, byte for byte, the
// one that is made with no warehouse to take them from: after a session came in, one
// changed, one went. From the ninth session on traces are thinned further.
func TestAddedIsAsFromScratch(t *testing.T) {
	dir, add := grown(t, 8)
	steps := []struct {
		what   string
		change func()
		logs   int
	}{
		{"one session more", add, 9},
		{"one session changed", func() {
			edit(t, filepath.Join(dir, "sessions", timed(t, dir), "session.toml"), func(s string) string { return strings.Replace(s, "plug_in_u_s = 1\n", "plug_in_u_s = 90\n", 1) })
		}, 9},
		{"one session gone", func() {
			if err := os.RemoveAll(filepath.Join(dir, "sessions/night-0002")); err != nil {
				t.Fatal(err)
			}
		}, 8},
	}
	for i, step := range steps {
		step.change()
		scratch := filepath.Join(t.TempDir(), "scratch")
		if err := copyTree(dir, scratch); err != nil {
			t.Fatal(err)
		}
		if err := os.Remove(filepath.Join(scratch, "series.duckdb")); err != nil {
			t.Fatal(err)
		}
		day := fmt.Sprintf("2026-03-%02d", 2+i)
		runAt(t, dir, day+"T09:30:00Z")
		runAt(t, scratch, day+"T09:30:00Z")
		id := day + "T0930Z"
		got, want := files(t, filepath.Join(dir, "editions", id)), files(t, filepath.Join(scratch, "editions", id))
		if len(got) != len(want) || len(got) < 20 {
			t.Fatalf("%s: %d files, from scratch %d", step.what, len(got), len(want))
		}
		for name, text := range want {
			if got[name] != text {
				t.Errorf("%s: %s differs", step.what, name)
			}
		}
		if n := strings.Count(got["data/logs.jsonl"], "\n"); n != step.logs {
			t.Errorf("%s: logs of %d sessions", step.what, n)
		}
	}
}

// timed is the first session whose plug-in was read from a watch.
func timed(t *testing.T, dir string) string {
	t.Helper()
	all := files(t, filepath.Join(dir, "sessions"))
	for _, name := range slices.Sorted(maps.Keys(all)) {
		if strings.Contains(all[name], "plug_in_u_s = 1\n") {
			return filepath.Dir(name)
		}
	}
	t.Fatal("no plug-in was timed")
	return ""
}

// edit changes a file of a series.
func edit(t *testing.T, name string, change func(string) string) {
	t.Helper()
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	text := change(string(data))
	if text == string(data) {
		t.Fatalf("%s is as it was", name)
	}
	if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

// Of all sessions the logs of just those are made that the warehouse does not
// keep, or keeps from other inputs.
func TestLogsThatAreMade(t *testing.T) {
	ctx := context.Background()
	dir, add := grown(t, 3)
	made := func(what string, want ...string) {
		t.Helper()
		a := &app{out: io.Discard, err: io.Discard}
		s, _, err := a.readSeries(dir)
		if err != nil || s == nil {
			t.Fatal(err)
		}
		if _, _, _, err := a.ingest(ctx, s); err != nil {
			t.Fatal(err)
		}
		cat, _, err := metrics.Load("")
		if err != nil {
			t.Fatal(err)
		}
		w, err := warehouse.OpenWorkspace(ctx, warehouseFile(dir), warehouse.Limits{})
		if err != nil {
			t.Fatal(err)
		}
		defer w.Close()
		logs, made, err := cat.Logs(ctx, w)
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, m := range made {
			got = append(got, m.Session)
		}
		if !slices.Equal(got, want) || len(logs) != len(s.Sessions) {
			t.Errorf("%s: %d logs, of which %q were made, want %q", what, len(logs), got, want)
		}
		for _, l := range logs {
			if len(l.Minutes) == 0 || len(l.Phases) == 0 || len(l.Trace.T) == 0 || len(l.Events) == 0 {
				t.Errorf("%s: the log of %s lacks something", what, l.Session)
			}
		}
	}
	write := func(name string, change func(string) string) {
		t.Helper()
		edit(t, filepath.Join(dir, name), change)
	}
	made("nothing changed")
	add()
	made("one session more", "night-0003")
	runAt(t, dir, "2026-03-02T09:30:00Z")
	made("kept")
	write("sessions/night-0001/session.toml", func(s string) string { return "remark = \"looked at twice\"\n" + s })
	made("one session changed", "night-0001")
	runAt(t, dir, "2026-03-03T09:30:00Z")
	// No log reads the gates' limits; phases begin with an onset.
	write("series.toml", func(s string) string { return s + "\n[[gate]]\nname = \"soak-length\"\nlimit = 20\n" })
	made("a gate moved")
	write("series.toml", func(s string) string { return s + "\n[onset]\npower_kw = 2\n" })
	made("the onset moved", "night-0000", "night-0001", "night-0002", "night-0003")
}
