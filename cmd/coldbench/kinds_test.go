package main

import (
	"math"
	"path/filepath"
	"testing"

	"coldbench/ingest/demo"
	"coldbench/metrics/edition"
)

// One night gives the same figures, whatever its logs were written in. On the bus,
// where one frame follows the other, a value is up to a row older: a third of its
// uncertainty is allowed there. Only the messages' station reports the weather, and that
// it was dry; the others have a thermometer.
func TestKindsGiveTheSameFigures(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "kinds")
	if err := demo.WriteKinds(dir); err != nil {
		t.Fatal(err)
	}
	e := figuresOf(t, dir)
	of := map[[2]string]edition.Figure{}
	for _, r := range e.Results {
		of[[2]string{r.Session, r.Figure}] = r
	}
	for _, kind := range demo.Kinds {
		same := 0
		for _, want := range e.Results {
			if want.Session != "wide" {
				continue
			}
			got, ok := of[[2]string{kind, want.Figure}]
			if kind == "messages" && want.Figure == "precipitation_spells" {
				if want.Value != nil || got.Value == nil || *got.Value != 0 {
					t.Errorf("%s %s: %v %s, want 0, and none by a thermometer", kind, want.Figure, got.Value, got.Note)
				}
				continue
			}
			if !ok || got.Status != want.Status || (got.Value == nil) != (want.Value == nil) {
				t.Errorf("%s %s: %s %s, want %s %s", kind, want.Figure, got.Status, got.Note, want.Status, want.Note)
				continue
			}
			if want.Value == nil {
				continue
			}
			off, offU := 1e-6*math.Abs(*want.Value)+1e-9, 1e-6**want.U+1e-9
			if kind == "bus" {
				off, offU = off+*want.U/3, offU+0.05**want.U
			}
			if math.Abs(*got.Value-*want.Value) > off || math.Abs(*got.U-*want.U) > offU {
				t.Errorf("%s %s: %v ± %v, want %v ± %v", kind, want.Figure, *got.Value, *got.U, *want.Value, *want.U)
				continue
			}
			same++
		}
		if same < 80 {
			t.Errorf("%s: only %d figures have a value", kind, same)
		}
	}
}
