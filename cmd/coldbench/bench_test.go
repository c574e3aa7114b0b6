package main

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"coldbench/ingest/demo"
)

// BenchmarkAddingACar runs a series of COLDBENCH_BENCH_SERIES random sessions
// (default 50) for the first time, again with nothing changed, and with one session
// more; beside them a series of that session alone, and the reports of the last edition
// again, which an edition costs however little changed. Of a machine that does other
// things too, the processor's time tells more.
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
		timed := func(dir, what string) (took, busy float64) {
			var out, errs bytes.Buffer
			began, before := time.Now(), processor(b)
			if code := run([]string{"run", dir}, &out, &errs); code == 2 {
				b.Fatal(errs.String())
			}
			took, busy = time.Since(began).Seconds(), processor(b)-before
			for _, line := range strings.Split(errs.String(), "\n") {
				if strings.Contains(line, "sources read") {
					b.Logf("%s: %.2f s, %.2f s of the processors (%s)", what, took, busy, line)
				}
			}
			return took, busy
		}
		alone, aloneBusy := timed(single, "the added session alone")
		first, _ := timed(dir, strconv.Itoa(n)+" sessions, the first run")
		again, _ := timed(dir, "nothing changed")
		if err := os.Rename(aside, last); err != nil {
			b.Fatal(err)
		}
		added, addedBusy := timed(dir, "one session more")
		began := time.Now()
		if code := run([]string{"report", dir, "--to", filepath.Join(b.TempDir(), "again")}, io.Discard, io.Discard); code != 0 {
			b.Fatal(code)
		}
		reports := time.Since(began).Seconds()
		b.ReportMetric(first, "s/first")
		b.ReportMetric(again, "s/unchanged")
		b.ReportMetric(added, "s/added")
		b.Logf("a session of the first run took %.3f s; nothing changed takes %.3f of the first run, one session more %.3f of it and %.2f of that session alone (%.2f of the processors' time); the reports of all again, read back and written, take %.2f s",
			first/float64(n), again/first, added/first, added/alone, addedBusy/aloneBusy, reports)
	}
}

// processor is how long the processors have worked for this process, in seconds.
func processor(b *testing.B) float64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano()).Seconds()
}
