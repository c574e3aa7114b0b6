package main

import (
	"context"
	"errors"
	"testing"
	"time"

	"coldbench/metrics/edition"
	"coldbench/warehouse"
)

// An edition is published only if its rows are kept, and its rows are kept only if it
// is published, whenever the interrupt comes.
func TestKeptAsPublished(t *testing.T) {
	dir := t.TempDir()
	e := &edition.Edition{Gates: make([]edition.Gate, 20000)}
	for i := range e.Gates {
		e.Gates[i] = edition.Gate{Session: time.Duration(i).String(), Gate: "g", Verdict: edition.Passed, Reason: "so"}
	}
	lost := errors.New("the disk is full")
	published := map[string]bool{}
	for id, c := range map[string]struct {
		interrupt, fails bool
		after            time.Duration
	}{"whole": {}, "at once": {interrupt: true}, "soon": {interrupt: true, after: 5 * time.Millisecond}, "late": {interrupt: true, after: 50 * time.Millisecond}, "unwritten": {fails: true}} {
		ctx, interrupt := context.WithCancel(context.Background())
		if c.interrupt {
			time.AfterFunc(c.after, interrupt)
		}
		e.ID, e.Gates[0].Reason = id, id
		err := keep(ctx, dir, e, nil, func(publish func() error) error {
			if c.fails {
				return lost
			}
			if err := publish(); err != nil {
				return err
			}
			published[id] = true
			return nil
		})
		if (err == nil) != published[id] || id == "whole" && err != nil || c.fails && err != lost {
			t.Errorf("%s: published %v, %v", id, published[id], err)
		}
		interrupt()
	}
	w, err := warehouse.OpenWorkspace(context.Background(), warehouseFile(dir), warehouse.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	defer w.Close()
	for _, id := range []string{"whole", "at once", "soon", "late", "unwritten"} {
		if have, err := w.HasEdition(context.Background(), id); err != nil || have != published[id] {
			t.Errorf("%s: kept %v, published %v, %v", id, have, published[id], err)
		}
	}
}
