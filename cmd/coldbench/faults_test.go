package main

import (
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"coldbench/ingest/demo"
	"coldbench/metrics/edition"
)

// What a logger does wrong in the midst of a night either does not move a figure from
// what really happened, by the model, or is in its uncertainty, and a gate flags it
// where a viewer should know.
func TestFaultyLogger(t *testing.T) {
	const id = "2026-01-23-rowan-40"
	onset := 120 + 60*37.8 // s of its clock, which starts 120 s before the plug-in; truth.csv: 37.8 min after it
	amps := func(row []string) { row[2], row[3] = "0.0", "0.0" }
	for _, c := range []struct {
		name    string
		keep    func(n int, s float64, row []string) bool // may change the row
		unnoted bool                                      // nobody wrote down when the charge began
		flagged string                                    // gates beyond those of the night as it was
		agree   string                                    // figures that agree with the truth
		note    string                                    // in that of the delay
	}{
		{"as it was", func(int, float64, []string) bool { return true }, false, "", "delay_to_onset time_10_80 time_10_80_plug_in energy_into_pack", ""},
		{"silent for 25 min about the onset", func(_ int, s float64, _ []string) bool { return s < onset-900 || s > onset+600 },
			true, "onset-known log-whole", "delay_to_onset time_10_80 time_10_80_plug_in", ""},
		{"silent then, but for a note", func(_ int, s float64, _ []string) bool { return s < onset-900 || s > onset+600 },
			false, "log-whole", "delay_to_onset time_10_80 time_10_80_plug_in", ""},
		{"clock leaps an hour ahead in the charge", func(_ int, s float64, row []string) bool {
			if s > onset+600 {
				row[0] = strconv.FormatFloat(s+3600, 'f', 1, 64)
			}
			return true
		}, false, "log-whole", "delay_to_onset", ""},
		// Its charge then begins an hour after it was noted, and after the unplugging.
		{"clock leaps an hour ahead before the charge", func(_ int, s float64, row []string) bool {
			if s > onset-600 {
				row[0] = strconv.FormatFloat(s+3600, 'f', 1, 64)
			}
			return true
		}, false, "log-whole onset-noted", "", ""},
		{"0 in every fiftieth row", func(n int, _ float64, row []string) bool {
			if n%50 == 0 {
				amps(row)
			}
			return true
		}, false, "", "delay_to_onset time_10_80 time_10_80_plug_in", "dropout"},
		{"0 in every fifth row", func(n int, _ float64, row []string) bool {
			if n%5 == 0 {
				amps(row)
			}
			return true
		}, false, "energy-balance", "delay_to_onset time_10_80 time_10_80_plug_in", "dropouts"},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			if err := demo.Write(dir); err != nil {
				t.Fatal(err)
			}
			others, err := filepath.Glob(filepath.Join(dir, "sessions", "*"))
			if err != nil {
				t.Fatal(err)
			}
			for _, o := range others {
				if filepath.Base(o) != id {
					if err := os.RemoveAll(o); err != nil {
						t.Fatal(err)
					}
				}
			}
			name := filepath.Join(dir, "sessions", id, "car.csv")
			text, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			lines := strings.Split(strings.TrimSpace(string(text)), "\n")
			kept := lines[:1]
			for n, line := range lines[1:] {
				row := strings.Split(line, ",")
				s, err := strconv.ParseFloat(row[0], 64)
				if err != nil {
					t.Fatal(err)
				}
				if c.keep(n, s, row) {
					kept = append(kept, strings.Join(row, ","))
				}
			}
			if err := os.WriteFile(name, []byte(strings.Join(kept, "\n")+"\n"), 0o644); err != nil {
				t.Fatal(err)
			}
			if c.unnoted {
				name := filepath.Join(dir, "sessions", id, "notes.txt")
				text, err := os.ReadFile(name)
				if err != nil {
					t.Fatal(err)
				}
				before, after, ok := strings.Cut(string(text), "21:27 charging 24 kW, soc 10 %\n")
				if !ok {
					t.Fatalf("no such note:\n%s", text)
				}
				if err := os.WriteFile(name, []byte(before+after), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			e, truth := figuresOf(t, dir), truthOf(t, dir)
			for _, figure := range strings.Fields(c.agree) {
				f, ok := e.Find(id, figure)
				if want := truth[[2]string{id, figure}]; !ok || !f.Ranked() || math.Abs(*f.Value-want) > 2**f.U {
					t.Errorf("%s: %+v, really %v", figure, f, want)
				}
			}
			if f, ok := e.Find(id, "delay_to_onset"); !ok || strings.Contains(f.Note, "dropout") != (c.note != "") || !strings.Contains(f.Note, c.note) {
				t.Errorf("the delay is told of as %+v", f)
			}
			usual := map[string]bool{"charger-enough": true} // the unit's 50 kW
			var flagged []string
			for _, g := range e.Gates {
				if (g.Verdict == edition.Flagged || g.Verdict == edition.Failed) && !usual[g.Gate] {
					flagged = append(flagged, g.Gate)
				}
			}
			for _, g := range strings.Fields(c.flagged) {
				if !strings.Contains(" "+strings.Join(flagged, " ")+" ", " "+g+" ") {
					t.Errorf("%s does not flag it: %v", g, flagged)
				}
			}
			if c.flagged == "" && flagged != nil {
				t.Errorf("flagged by %v", flagged)
			}
		})
	}
}
