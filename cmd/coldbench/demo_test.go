package main

import (
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"coldbench/ingest/demo"
	"coldbench/metrics/edition"
	"coldbench/reports"
)

// runDemo writes the demo series, runs it, and returns its folder and edition.
func runDemo(t *testing.T) (string, *edition.Edition) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "demo")
	if code := run([]string{"demo", dir}, io.Discard, io.Discard); code != 0 {
		t.Fatalf("exit status %d", code)
	}
	names, err := reports.Editions(dir)
	if err != nil || len(names) != 1 {
		t.Fatal(names, err)
	}
	e, err := reports.Read(dir, names[0])
	if err != nil {
		t.Fatal(err)
	}
	return dir, e
}

// ofInstruments are figures of the instruments and not of what really happened.
var ofInstruments = map[string]bool{"thermometer_disagreement": true, "clock_doubt": true, "rows_set_aside": true, "stuck_time": true, "unlogged_time": true, "plug_in_apart": true, "onset_apart": true, "out_of_step": true, "precipitation_spells": true}

// ifLogged are figures that some sessions' logs have no instrument for, although
// the truth is there; and those over the common window, which truth.csv cannot
// know.
var ifLogged = map[string]bool{"ambient_station_at_plug_in": true, "ambient_handheld_at_plug_in": true, "ambient_car_at_plug_in": true,
	"charger_register_off": true, "energy_balance": true, "pack_spread_at_plug_in": true, "pack_spread_before_onset": true,
	"heater_peak": true, "heater_mean_before_onset": true, "heat_warming_share": true, "charger_limited": true, "delay_to_charger_power": true,
	"onset_step": true, "soak_ambient_departure": true, "soak_excursion": true, "heat_before_plug_in": true}

// compares reports whether a figure sets sessions side by side, spans the window
// that they share, or tells of another night than the one that was.
func compares(figure string) bool {
	return strings.HasPrefix(figure, "penalty_") || strings.HasPrefix(figure, "time_window") || strings.HasSuffix(figure, "_at_reference") || figure == "delay_shift"
}

// Every figure of every session of the demo series agrees with what really
// happened: within three times its standard uncertainty, and as a whole in as
// many cases within it as a normal distribution has, 68 %, give or take. A
// figure that has a true value is there, and one that has none is not.
func TestDemoAgainstTruth(t *testing.T) {
	dir, e := runDemo(t)
	truth := truthOf(t, dir)
	for id, r := range demo.Runs() {
		if d, ok := r.Between(e.Window.FromPct, e.Window.ToPct); ok {
			truth[[2]string{id, "time_window"}] = d
		}
	}
	within, n := 0, 0
	for _, f := range e.Results {
		key := [2]string{f.Session, f.Figure}
		want, ok := truth[key]
		delete(truth, key)
		switch {
		case !f.Ranked():
			if ok && !inGap(f.Note) && !ifLogged[f.Figure] {
				t.Errorf("%s %s: really %v, but %s: %s", f.Session, f.Figure, want, f.Status, f.Note)
			}
			continue
		case ofInstruments[f.Figure], compares(f.Figure) && f.Figure != "time_window":
			continue
		case !ok:
			t.Errorf("%s %s = %v, but really there is none", f.Session, f.Figure, *f.Value)
			continue
		}
		// truth.csv has nine digits.
		d := math.Max(0, math.Abs(*f.Value-want)-1e-8*math.Abs(want))
		if d > 3**f.U {
			t.Errorf("%s %s = %v ± %v, really %v", f.Session, f.Figure, *f.Value, *f.U, want)
		}
		n++
		if d <= *f.U {
			within++
		}
	}
	for key := range truth {
		t.Errorf("%v: no such result", key)
	}
	if share := float64(within) / float64(n); n < 150 || share < 0.6 || share > 0.85 {
		t.Errorf("%d of %d figures are within their standard uncertainty", within, n)
	}
}

// The same series gives the same edition, byte for byte.
func TestDemoIsReproducible(t *testing.T) {
	var first []byte
	for range 2 {
		dir := filepath.Join(t.TempDir(), "demo")
		if err := demo.Write(dir); err != nil {
			t.Fatal(err)
		}
		if code := run([]string{"run", "--at", "2026-03-01T12:00:00Z", dir}, io.Discard, io.Discard); code != 0 {
			t.Fatalf("exit status %d", code)
		}
		all := []byte{}
		err := filepath.WalkDir(filepath.Join(dir, "editions"), func(name string, d os.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			data, err := os.ReadFile(name)
			all = append(append(all, d.Name()...), data...)
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = all
		} else if string(first) != string(all) {
			t.Error("two runs differ")
		}
	}
}
