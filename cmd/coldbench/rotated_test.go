package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"coldbench/metrics/edition"
	"coldbench/reports"
)

// A logger that is started again: in one file, its clock is reset, and what comes
// after is set aside and told of. In two, each with its own start, all figures are
// those of the one log that it would have been.
func TestLoggerStartedAgain(t *testing.T) {
	dir, whole := runDemo(t)
	const id, start = "2026-01-12-alder-60", 899 // the row, and its seconds
	night := filepath.Join(dir, "sessions", id)
	text, err := os.ReadFile(filepath.Join(night, "car.csv"))
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.SplitAfter(string(text), "\n")
	before, after := strings.Join(lines[:1+start], ""), ""
	for _, line := range lines[1+start : len(lines)-1] {
		s, rest, _ := strings.Cut(line, ",")
		at, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		after += fmt.Sprintf("%.1f,%s", at-start, rest)
	}
	runs := 0
	again := func(status int) (*edition.Edition, string) {
		t.Helper()
		runs++
		at := fmt.Sprintf("2027-01-%02dT00:00:00Z", runs)
		var errs bytes.Buffer
		if got := run([]string{"run", "--at", at, dir}, io.Discard, &errs); got != status {
			t.Fatalf("status %d:\n%s", got, errs.String())
		}
		e, err := reports.Read(dir, fmt.Sprintf("2027-01-%02dT0000Z", runs))
		if err != nil {
			t.Fatal(err)
		}
		return e, errs.String()
	}
	write := func(name, text string) {
		t.Helper()
		if err := os.WriteFile(filepath.Join(night, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}

	write("car.csv", before+after)
	_, errs := again(1)
	want := fmt.Sprintf("sessions/%s/car.csv:901:1: row set aside: the clock is reset here: time goes back by 898 s and goes on from there (put what comes from line 901 on into a file of its own,", id)
	if !strings.Contains(errs, want) || !strings.Contains(errs, fmt.Sprintf("%d more rows set aside", len(lines)-2-start-3)) {
		t.Errorf("got %s\nwant %s", errs, want)
	}

	write("car.csv", before)
	write("car-2.csv", lines[0]+after)
	toml, err := os.ReadFile(filepath.Join(night, "session.toml"))
	if err != nil {
		t.Fatal(err)
	}
	// The logger's zero is 20:10:24, and 899 s later it is 20:25:23.
	write("session.toml", string(toml)+"\n[[source]]\nfile = \"car-2.csv\"\nprofile = \"wide-log\"\nstart = 2026-01-12T20:25:23\n")
	split, _ := again(0)
	n := 0
	for _, w := range whole.Results {
		if w.Session != id {
			continue
		}
		n++
		g, _ := split.Find(id, w.Figure)
		if strings.HasPrefix(w.Note, "sessions/") && strings.HasPrefix(g.Note, "sessions/") { // one of several files that are as good
			g.Note = w.Note
		}
		if fmt.Sprint(of(w.Value), of(w.U), of(w.From), of(w.To), w.Status, w.Note) != fmt.Sprint(of(g.Value), of(g.U), of(g.From), of(g.To), g.Status, g.Note) {
			t.Errorf("%s: %v ± %v %s %s, in one file %v ± %v %s %s", w.Figure, of(g.Value), of(g.U), g.Status, g.Note, of(w.Value), of(w.U), w.Status, w.Note)
		}
	}
	if n < 60 {
		t.Errorf("only %d figures", n)
	}
}

func of(v *float64) any {
	if v == nil {
		return nil
	}
	return *v
}
