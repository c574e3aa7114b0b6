package main

import (
	"context"
	"path/filepath"
	"strings"
	"testing"

	"coldbench/metrics"
	"coldbench/metrics/edition"
	"coldbench/warehouse"
)

// plain are figures of which nothing can be drawn: how sure the clocks are, and what
// is 0 because it did not happen.
var plain = map[string]bool{"clock_doubt": true, "rows_set_aside": true, "unlogged_time": true, "plug_in_apart": true, "onset_apart": true, "failed_connects": true, "charge_before_log": true, "out_of_step": true}

// Why draws what decided a value, of every figure: of one that corrects or compares
// another what decided that.
func TestWhyDraws(t *testing.T) {
	ctx := context.Background()
	dir, e := runDemo(t)
	cat, l, err := metrics.Load("")
	if err != nil || l != nil {
		t.Fatal(l, err)
	}
	w, err := warehouse.OpenWorkspace(ctx, filepath.Join(dir, "series.duckdb"), warehouse.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	first := map[string]edition.Figure{}
	for _, f := range e.Results {
		if _, ok := first[f.Figure]; !ok && f.Ranked() && *f.Value != 0 {
			first[f.Figure] = f
		}
	}
	for _, d := range cat.Figures {
		f, ok := first[d.Name]
		if !ok || plain[d.Name] || strings.HasSuffix(d.Name, "min") && !strings.HasSuffix(d.Name, "_30min") { // those differ in the minutes only
			continue
		}
		ev, err := cat.Why(ctx, w, e, f.Session, d.Name)
		if err != nil {
			t.Fatal(err)
		}
		if ev.Of != nil {
			ev = ev.Of
		}
		if ev.Stretch == nil || len(ev.Stretch.Lines) == 0 {
			t.Errorf("%s of %s: nothing is drawn", d.Name, f.Session)
		}
	}
	if len(first) < 100 {
		t.Errorf("the demo has only %d figures with a value", len(first))
	}
	of, err := cat.Why(ctx, w, e, "2026-01-12-alder-60", "penalty_delay")
	if err != nil || of.Of == nil || of.Of.Figure.Figure != "delay_to_onset" || of.Of.Stretch == nil {
		t.Errorf("penalty_delay: %+v %v", of, err)
	}
}
