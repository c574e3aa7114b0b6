package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"coldbench/ingest"
	"coldbench/ingest/series"
	"coldbench/metrics"
	"coldbench/metrics/edition"
	"coldbench/reports"
	"coldbench/reports/terminal"
	"coldbench/warehouse"
	"coldbench/warehouse/diag"
)

// asOf works an old edition's standings out again, from its own inputs, in a
// warehouse of its own, and prints them. It is an input problem if an input is
// gone or has changed, or the standings come out otherwise than they did.
func (a *app) asOf(ctx context.Context, dir, id string) error {
	names, err := reports.Editions(dir)
	if err != nil {
		return err
	}
	if !slices.Contains(names, id) {
		return diag.New(diag.Pos{File: dir}, "there is no edition %q", id).WithHint("%s", diag.OneOf(id, names))
	}
	old, err := reports.Read(dir, id)
	if err != nil {
		return err
	}
	cat, l, err := metrics.Load(filepath.Join(dir, "figures"))
	if err != nil {
		return err
	}
	if l = append(l, gone(dir, old)...); len(l) == 0 {
		l = redefined(cat, old)
	}
	if len(l) > 0 {
		a.print(l)
		return errProblems
	}
	s, l, err := series.Load(dir, ingest.KindNames())
	if err != nil {
		return err
	}
	if s == nil {
		a.print(l)
		return errProblems
	}
	// What came after the edition has no part in it.
	s.Sessions = slices.DeleteFunc(s.Sessions, func(ses *series.Session) bool {
		return !slices.ContainsFunc(old.Sessions, func(o edition.Session) bool { return o.ID == ses.ID })
	})
	for v := range s.Vehicles {
		if !slices.ContainsFunc(old.Vehicles, func(o edition.Vehicle) bool { return o.ID == v }) {
			delete(s.Vehicles, v)
		}
	}
	tmp, err := os.MkdirTemp("", "coldbench-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(tmp)
	name := filepath.Join(tmp, "series.duckdb")
	store, err := warehouse.Open(ctx, name)
	if err != nil {
		return err
	}
	defer store.Close()
	if _, err := ingest.Load(ctx, store, s, a.progress); err != nil {
		return err
	}
	if err := store.Close(); err != nil {
		return err
	}
	w, err := warehouse.OpenWorkspace(ctx, name, warehouse.Limits{})
	if err != nil {
		return err
	}
	defer w.Close()
	again, _, err := compute(ctx, w, s, cat)
	if err != nil {
		return err
	}
	again.ID, again.At, again.Before = old.ID, old.At, old.Before
	terminal.Standings(a.out, again, a.width())
	before, err := json.Marshal(old.Standings)
	if err != nil {
		return err
	}
	now, err := json.Marshal(again.Standings)
	if err != nil {
		return err
	}
	if bytes.Equal(before, now) {
		fmt.Fprintf(a.err, "edition %s: its standings come out the same again, byte for byte\n", id)
		return nil
	}
	fmt.Fprintf(a.err, "edition %s: its standings come out otherwise; program %s then, %s now\n", id, old.Program, again.Program)
	terminal.Changes(a.out, edition.Compare(old, again), a.width())
	return errProblems
}

// gone tells which of an edition's inputs are not there any more as they were.
func gone(dir string, e *edition.Edition) diag.List {
	var l diag.List
	check := func(path, want string) {
		if diag.IsPipe(os.DirFS(dir), path) {
			l.Add(diag.Pos{File: path}, "this input of edition %s is gone: it is "+diag.Pipe, e.ID)
			return
		}
		data, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(path)))
		sum := sha256.Sum256(data)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			l.Add(diag.Pos{File: path}, "this input of edition %s is gone", e.ID)
		case err != nil:
			l.Add(diag.Pos{File: path}, "this input of edition %s cannot be read: %v", e.ID, err)
		case hex.EncodeToString(sum[:]) != want:
			l.Add(diag.Pos{File: path}, "this input of edition %s has changed since", e.ID).WithHint("its SHA-256 was %s", want)
		}
	}
	for _, in := range e.Inputs {
		check(in.Path, in.SHA256)
	}
	for _, s := range e.Sessions {
		for _, src := range s.Sources {
			check(src.Path, src.SHA256)
		}
	}
	return l
}

// redefined tells which figures of an edition's points are defined otherwise now.
func redefined(cat *metrics.Catalogue, e *edition.Edition) diag.List {
	var l diag.List
	for _, s := range e.Scales {
		d := cat.Figure(s.Figure)
		switch was := e.Definition(s.Figure); {
		case d == nil:
			l.Add(diag.Pos{}, "the figure %q of edition %s is not there any more", s.Figure, e.ID).WithHint("it was made by program %s", e.Program)
		case cat.Version(d) != was.SHA256:
			l.Add(diag.Pos{File: d.File}, "the figure %q is defined otherwise than for edition %s", s.Figure, e.ID).WithHint("it was made by program %s", e.Program)
		}
	}
	return l
}
