package metrics

import (
	"testing"

	"coldbench/metrics/edition"
)

func TestGates(t *testing.T) {
	params := map[string]float64{"soak_min_h": 12, "pack_ambient_k": 3, "start_soc_max_pct": 15, "log_max_interval_s": 60}
	for _, c := range []struct {
		gate, figure string
		value, u     float64
		verdict      edition.Verdict
		reason       string
	}{
		{"soak-length", "soak_hours", 14, 0, edition.Passed, "soaked 14.0 h, the protocol asks for 12.0 h"},
		{"soak-length", "soak_hours", 12, 0, edition.Passed, "soaked 12.0 h, the protocol asks for 12.0 h"}, // the boundary
		{"soak-length", "soak_hours", 11.9, 0.2, edition.Flagged, "soaked 11.9 h, the protocol asks for 12.0 h"},
		{"soak-length", "soak_hours", 5, 0.2, edition.Failed, "soaked 5.0 h, the protocol asks for 12.0 h"},
		{"pack-near-ambient", "pack_minus_ambient", -2.9, 0.5, edition.Passed, "pack 2.9 K from the air, the protocol allows 3.0 K"},
		{"pack-near-ambient", "pack_minus_ambient", -3.4, 0.5, edition.Flagged, "pack 3.4 K from the air, the protocol allows 3.0 K"},
		{"pack-near-ambient", "pack_minus_ambient", 9, 0.5, edition.Failed, "pack 9.0 K from the air, the protocol allows 3.0 K"},
		{"start-soc", "start_soc", 15, 0.3, edition.Passed, "started at 15 %, the protocol allows 15 %"},
		{"start-soc", "start_soc", 35, 0.3, edition.Failed, "started at 35 %, the protocol allows 15 %"},
		{"log-interval", "log_interval", 61, 0, edition.Failed, "a row every 61 s, the protocol asks for one every 60 s"},
	} {
		f := edition.Figure{Figure: c.figure, Value: &c.value, U: &c.u, Status: edition.Measured}
		for _, g := range judge("s1", func(name string) (edition.Figure, bool) { return f, name == c.figure }, params) {
			switch {
			case g.Gate == c.gate && (g.Verdict != c.verdict || g.Reason != c.reason):
				t.Errorf("%s of %v: %s, %q", c.gate, c.value, g.Verdict, g.Reason)
			case g.Gate != c.gate && g.Verdict != edition.CannotTell:
				t.Errorf("%s was judged without its figure: %s", g.Gate, g.Verdict)
			}
		}
	}
}

// A figure without a value cannot be judged, and its note says why.
func TestGateWithoutValue(t *testing.T) {
	f := edition.Figure{Figure: "soak_hours", Status: edition.None, Note: "nothing says when the soak began"}
	g := judge("s1", func(string) (edition.Figure, bool) { return f, true }, nil)[0]
	if g.Verdict != edition.CannotTell || g.Reason != f.Note {
		t.Errorf("%+v", g)
	}
}

// A gate judges a figure that the catalogue has, for the procedure that is ranked.
func TestGatesFit(t *testing.T) {
	cat, l, err := Load("")
	if err != nil || l != nil {
		t.Fatal(l, err)
	}
	for _, g := range Gates() {
		if err := cat.Rankable(g.Figure); err != nil {
			t.Errorf("%s: %v", g.Name, err)
		}
		if g.Rule == "" || g.Title == "" {
			t.Errorf("%+v", g)
		}
	}
}
