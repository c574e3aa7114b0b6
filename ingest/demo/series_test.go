package demo

import (
	"bytes"
	"encoding/csv"
	"io/fs"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"coldbench/ingest/delimited"
	"coldbench/ingest/notes"
	"coldbench/ingest/series"
)

// tree reads a folder whole, by path.
func tree(t *testing.T, dir string) map[string][]byte {
	t.Helper()
	all := map[string][]byte{}
	err := filepath.WalkDir(dir, func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		rel, err := filepath.Rel(dir, name)
		if err != nil {
			return err
		}
		all[filepath.ToSlash(rel)], err = os.ReadFile(name)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// load writes a series and reads its hand-written part back, which must be
// without fault.
func load(t *testing.T, write func(dir string) error) *series.Series {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "demo")
	if err := write(dir); err != nil {
		t.Fatal(err)
	}
	s, problems, err := series.Load(dir, []string{delimited.Kind().Name, notes.Kind().Name})
	if err != nil || problems != nil {
		t.Fatal(err, problems)
	}
	for _, ses := range s.Sessions {
		if ses.Problems != nil {
			t.Fatal(ses.Problems)
		}
	}
	return s
}

func TestWriteIsTheSameEveryTime(t *testing.T) {
	for name, write := range map[string]func(string) error{
		"demo":    Write,
		"random":  func(dir string) error { return WriteRandom(dir, 5, 9) },
		"soaks":   func(dir string) error { return WriteSoaks(dir, cedar, []float64{-10, -25}, 9) },
		"outings": func(dir string) error { return WriteOutings(dir, 7, 9) },
	} {
		a, b := filepath.Join(t.TempDir(), "a"), filepath.Join(t.TempDir(), "b")
		if err := write(a); err != nil {
			t.Fatal(err)
		}
		if err := write(b); err != nil {
			t.Fatal(err)
		}
		first, second := tree(t, a), tree(t, b)
		if !maps.EqualFunc(first, second, bytes.Equal) {
			t.Errorf("%s: two writes differ", name)
		}
		size := 0
		for _, text := range first {
			size += len(text)
		}
		if size > 6e6 {
			t.Errorf("%s: %d bytes are too many to lay out for a look", name, size)
		}
	}
}

func TestWriteRefuses(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "mine.txt"), []byte("mine"), 0o644); err != nil {
		t.Fatal(err)
	}
	for name, write := range map[string]func(string) error{
		"demo":   Write,
		"random": func(dir string) error { return WriteRandom(dir, 1, 1) },
		"soaks":  func(dir string) error { return WriteSoaks(dir, alder, []float64{-20}, 1) },
	} {
		if err := write(dir); err == nil || !strings.Contains(err.Error(), "is not empty; nothing was written") {
			t.Errorf("%s: into a folder with a file in it: %v", name, err)
		}
	}
	if got := tree(t, dir); len(got) != 1 || string(got["mine.txt"]) != "mine" {
		t.Errorf("the folder was changed: %v", slices.Sorted(maps.Keys(got)))
	}
	if err := Write(filepath.Join(dir, "mine.txt")); err == nil {
		t.Error("wrote into a file")
	}
	if err := WriteSoaks(filepath.Join(dir, "new"), alder, []float64{-20, math.NaN()}, 1); err == nil {
		t.Error("wrote a soak at no temperature")
	}
}

// The series holds the cases that figures and gates must survive.
func TestDemoHoldsTheCases(t *testing.T) {
	s := load(t, Write)
	if len(s.Vehicles) < 7 || len(s.Sessions) < 10 {
		t.Errorf("%d cars, %d sessions", len(s.Vehicles), len(s.Sessions))
	}
	runs := Runs()
	found := map[string][]string{}
	cars, procedures := map[string]int{}, map[string]int{} // of sessions without a charge
	for _, ses := range s.Sessions {
		r := runs[ses.ID]
		if r == nil {
			procedures[ses.Procedure]++
			continue
		}
		add := func(is bool, what string) {
			if is {
				found[what] = append(found[what], ses.ID)
			}
		}
		if ses.Procedure == "cold-charge" {
			cars[ses.Vehicle]++
			add(cars[ses.Vehicle] == 2, "replicate")
			first := r.Points[0]
			add(r.Night.SoakH < s.Protocol.Soak.MinH && first.MinC-first.AmbientC > s.Protocol.Soak.PackAmbientK, "soaked too short, pack still warm")
			if a := r.Night.AmbientC; a < -28 || a > -10 {
				t.Errorf("%s: a cold soak at %v °C", ses.ID, a)
			}
		}
		add(ses.Procedure == "warm-charge" && cars[ses.Vehicle] > 0, "control of a car")
		add(!slices.ContainsFunc(ses.Sources, func(src series.Source) bool { return src.File == "car.csv" || src.File == "charger.csv" }), "notes only")
		limited := 0
		for _, p := range r.Points {
			if p.ChargerKW > 0.999*r.Night.ChargerKW {
				limited++
			}
		}
		add(r.Night.ChargerKW == 50 && float64(limited)*Step > 600, "the charger is the limit")
		_, whole := r.Between(10, 80)
		end := r.Truth()["end_soc"]
		add(!whole && end >= 68 && end < 75, "ended early")
		text := string(tree(t, filepath.Join(s.Dir, "sessions", ses.ID))["notes.txt"])
		add(strings.Contains(text, "latch failed"), "latch failed")
		for _, src := range ses.Sources {
			add(src.OffsetS != 0 && src.OffsetU > 0, "a clock that runs wrong")
		}
	}
	for what, atLeast := range map[string]int{"replicate": 1, "soaked too short, pack still warm": 1, "control of a car": 1, "notes only": 1,
		"the charger is the limit": 1, "ended early": 1, "latch failed": 1, "a clock that runs wrong": 3} {
		if len(found[what]) < atLeast {
			t.Errorf("%q: %v, want %d or more", what, found[what], atLeast)
		}
	}
	if want := map[string]int{"cabin-warmup": 2, "cold-drive": 1, "warm-drive": 1, "standby": 1}; !maps.Equal(procedures, want) {
		t.Errorf("sessions without a charge: %v, want %v", procedures, want)
	}
	intervals := map[float64]bool{}
	for _, p := range plans {
		if p.logger != "" {
			intervals[p.interval] = true
		}
	}
	if got := slices.Sorted(maps.Keys(intervals)); !slices.Equal(got, []float64{1, 2, 5, 10, 30}) {
		t.Errorf("intervals of the car logs, s: %v", got)
	}
}

// Every line of truth.csv has a session that is there, a number, and a unit.
func TestTruthFile(t *testing.T) {
	s := load(t, Write)
	rows, err := csv.NewReader(bytes.NewReader(tree(t, s.Dir)["truth.csv"])).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(rows[0], []string{"session", "figure", "value", "unit"}) || len(rows) < 150 {
		t.Errorf("%d rows under %v", len(rows), rows[0])
	}
	for _, row := range rows[1:] {
		if !slices.ContainsFunc(s.Sessions, func(ses *series.Session) bool { return ses.ID == row[0] }) {
			t.Errorf("%v: no such session", row)
		}
		if row[2] == "" || strings.ContainsAny(row[2], "NI") {
			t.Errorf("%v: no number", row)
		}
		if row[3] == "" {
			t.Errorf("%v: no unit; truth_unit.go must know it", row)
		}
	}
}

// One car at several soaks: the colder, the longer, by the same physics.
func TestWriteSoaks(t *testing.T) {
	soaks := []float64{-8, -16, -24}
	s := load(t, func(dir string) error { return WriteSoaks(dir, cedar, soaks, 4) })
	rows, err := csv.NewReader(bytes.NewReader(tree(t, s.Dir)["truth.csv"])).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var delays []string
	for _, row := range rows {
		switch row[1] {
		case "delay_to_onset":
			delays = append(delays, row[2])
		case "soak_ambient_mean":
			near(t, row[0]+": mean air", number(t, row[2]), soaks[len(delays)-1], 1e-9)
		}
	}
	if len(delays) != len(soaks) || len(s.Sessions) != len(soaks) || len(s.Vehicles) != 1 {
		t.Fatalf("%d sessions of %d cars, delays %v", len(s.Sessions), len(s.Vehicles), delays)
	}
	for i := 1; i < len(delays); i++ {
		if number(t, delays[i]) <= number(t, delays[i-1]) {
			t.Errorf("delays %v min at soaks of %v °C", delays, soaks)
		}
	}
}
