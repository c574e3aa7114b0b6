package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"coldbench/ingest/demo"
)

// BenchmarkAddingACar runs a series of COLDBENCH_BENCH_SERIES random sessions
// (default 50) for the first time, again with nothing changed, and with one session
// more; beside them a series of that session alone.
func BenchmarkAddingACar(b *testing.B) {
	n := 50
	if v, err := strconv.Atoi(os.Getenv("COLDBENCH_BENCH_SERIES")); err == nil {
		n = v
	}
	for b.Loop() {
		dir, single := filepath.Join(b.TempDir(), "series"), filepath.Join(b.TempDir(), "single")
		if err := demo.WriteRandom(dir, n+1, 7); err != nil {
			b.Fatal(err)
		}
		sessions, err := filepath.Glob(filepath.Join(dir, "sessions", "*"))
		if err != nil {
			b.Fatal(err)
		}
		last, aside := sessions[len(sessions)-1], filepath.Join(b.TempDir(), "aside")
		if err := os.Rename(last, aside); err != nil {
			b.Fatal(err)
		}
		for _, name := range []string{"profiles", "vehicles", "series.toml"} {
			if err := copyTree(filepath.Join(dir, name), filepath.Join(single, name)); err != nil {
				b.Fatal(err)
			}
		}
		if err := copyTree(aside, filepath.Join(single, "sessions", filepath.Base(last))); err != nil {
			b.Fatal(err)
		}
		timed := func(dir, what string) float64 {
			var out, errs bytes.Buffer
			began := time.Now()
			if code := run([]string{"run", dir}, &out, &errs); code == 2 {
				b.Fatal(errs.String())
			}
			took := time.Since(began)
			for _, line := range strings.Split(errs.String(), "\n") {
				if strings.Contains(line, "sources read") {
					b.Logf("%s: %.2f s (%s)", what, took.Seconds(), line)
				}
			}
			return took.Seconds()
		}
		alone := timed(single, "the added session alone")
		first := timed(dir, strconv.Itoa(n)+" sessions, the first run")
		again := timed(dir, "nothing changed")
		if err := os.Rename(aside, last); err != nil {
			b.Fatal(err)
		}
		added := timed(dir, "one session more")
		b.ReportMetric(first, "s/first")
		b.ReportMetric(again, "s/unchanged")
		b.ReportMetric(added, "s/added")
		b.Logf("a session of the first run took %.3f s; nothing changed takes %.3f of the first run, one session more %.3f of it and %.2f of that session alone",
			first/float64(n), again/first, added/first, added/alone)
	}
}
