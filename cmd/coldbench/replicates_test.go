package main

import (
	"bytes"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"coldbench/ingest/demo"
	"coldbench/metrics/edition"
	"coldbench/reports"
)

// Four nights of one car, alike but for the third, on which a third of its heater
// was out: that night is named wherever somebody looks, and counts all the same.
func TestBadReplicate(t *testing.T) {
	car := demo.Car{ID: "hazel-70", Name: "Hazel 70", UsableKWh: 68, PackMassKg: 450, SpecificHeat: 1000, LossKWPerK: 0.014, Heater: "coolant", HeaterKW: 6, HeaterShare: 0.9,
		AccessoryKW: 0.3, OnsetC: 2, WarmC: 22, StepKW: 25, PeakKW: 130, ReservePct: 4, PackV: 360, PackOhm: 0.06, RatedWhKm: 165}
	weak := car
	weak.HeaterKW = 4
	var nights []demo.CarNight
	for _, c := range []demo.Car{car, car, weak, car} {
		nights = append(nights, demo.CarNight{Car: c, AmbientC: -20})
	}
	dir := filepath.Join(t.TempDir(), "nights")
	if err := demo.WriteFleet(dir, nights, 11); err != nil {
		t.Fatal(err)
	}
	var out, discard bytes.Buffer
	if code := run([]string{"run", dir}, &out, &discard); code != 0 {
		t.Fatalf("exit status %d: %s", code, discard.String())
	}
	names, err := reports.Editions(dir)
	if err != nil || len(names) != 1 {
		t.Fatal(names, err)
	}
	e, err := reports.Read(dir, names[0])
	if err != nil {
		t.Fatal(err)
	}
	for _, g := range e.Gates {
		if want := map[bool]edition.Verdict{true: edition.Flagged, false: edition.Passed}[g.Session == "soak-03"]; g.Gate == "replicates" && g.Verdict != want {
			t.Errorf("%s %s: %s", g.Session, g.Verdict, g.Reason)
		}
	}
	if st := e.Standings[0]; st.Place != 1 || len(st.Sessions) != 4 {
		t.Errorf("%+v", st)
	}
	const want = "soak-03 stands out: delay_at_reference "
	shown := map[string]string{}
	for _, command := range []string{"standings", "check"} {
		out.Reset()
		if code := run([]string{command, dir}, &out, &discard); code != 0 {
			t.Fatalf("%s: exit status %d: %s", command, code, discard.String())
		}
		shown[command] = out.String()
	}
	f, err := excelize.OpenFile(filepath.Join(dir, "editions", names[0], reports.WorkbookFile))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for _, sheet := range []string{"Standings", "Reasons"} {
		rows, err := f.GetRows(sheet)
		if err != nil {
			t.Fatal(err)
		}
		shown["sheet "+sheet] = fmt.Sprint(rows)
	}
	for where, text := range shown {
		if !strings.Contains(text, want) || strings.Contains(text, "soak-01 stands out") {
			t.Errorf("%s: no %q in\n%s", where, want, text)
		}
	}
}

// A protocol that would have nights left out for what came out of them is refused.
func TestReplicatesOnlyFlag(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "demo")
	if err := demo.Write(dir); err != nil {
		t.Fatal(err)
	}
	name := filepath.Join(dir, "series.toml")
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(name, append(text, "\n[[gate]]\nname = \"replicates\"\naction = \"fail\"\n"...), 0o644); err != nil {
		t.Fatal(err)
	}
	var discard, errs bytes.Buffer
	if code := run([]string{"check", dir}, &discard, &errs); code != 1 || !strings.Contains(errs.String(), `the gate "replicates" can only flag`) {
		t.Errorf("exit status %d: %s", code, errs.String())
	}
}

// The names of a series' session folders, and with them their order, and the order
// of the sources in a session change no figure, no points and no place.
func TestOrderOfFilesIsNoMatter(t *testing.T) {
	told := func(e *edition.Edition, name func(string) string) map[string]string {
		out := map[string]string{}
		text := func(v *float64) string {
			if v == nil {
				return "none"
			}
			return fmt.Sprint(*v)
		}
		for _, f := range e.Results {
			out[name(f.Session)+" "+f.Figure] = text(f.Value) + " " + text(f.U) + " " + string(f.Status)
		}
		for _, g := range e.Gates {
			out[name(g.Session)+" "+g.Gate] = string(g.Verdict)
		}
		for _, s := range e.Standings {
			out[s.Vehicle] = fmt.Sprint(s.Place, s.Lowest, s.Highest, s.Score, s.U)
		}
		return out
	}
	same := func(name string) string { return name }
	dir := filepath.Join(t.TempDir(), "demo")
	if err := demo.Write(dir); err != nil {
		t.Fatal(err)
	}
	want := told(figuresOf(t, dir), same)
	for seed := range uint64(2) {
		rng := rand.New(rand.NewPCG(seed, 0))
		dir := filepath.Join(t.TempDir(), "demo")
		if err := demo.Write(dir); err != nil {
			t.Fatal(err)
		}
		folders, err := filepath.Glob(filepath.Join(dir, "sessions", "*"))
		if err != nil {
			t.Fatal(err)
		}
		old := map[string]string{}
		for i, j := range rng.Perm(len(folders)) {
			name := filepath.Join(folders[i], "session.toml")
			text, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			parts := regexp.MustCompile(`(?m)^\[\[source\]\]$`).Split(string(text), -1)
			rng.Shuffle(len(parts)-1, func(a, b int) { parts[1+a], parts[1+b] = parts[1+b], parts[1+a] })
			if err := os.WriteFile(name, []byte(strings.Join(parts, "[[source]]")), 0o644); err != nil {
				t.Fatal(err)
			}
			renamed := fmt.Sprintf("night-%02d", j)
			old[renamed] = filepath.Base(folders[i])
			if err := os.Rename(folders[i], filepath.Join(dir, "sessions", renamed)); err != nil {
				t.Fatal(err)
			}
		}
		got := told(figuresOf(t, dir), func(s string) string { return old[s] })
		for _, what := range slices.Sorted(maps.Keys(want)) {
			if got[what] != want[what] {
				t.Errorf("order %d: %s is %s, was %s", seed, what, got[what], want[what])
			}
		}
		if len(got) != len(want) {
			t.Errorf("order %d tells of %d things, not %d", seed, len(got), len(want))
		}
	}
}
