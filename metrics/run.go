package metrics

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"coldbench/metrics/edition"
	"coldbench/warehouse"
	"coldbench/warehouse/diag"
)

// Ranked is the procedure whose sessions the standings are made of, but for
// figures that only others in the cold have.
const Ranked = "cold-charge"

// inTheCold are the procedures whose figures may earn points.
var inTheCold = []string{Ranked, "cabin-warmup", "cold-drive", "standby"}

// earns returns the procedures whose sessions give a car its value of a figure in
// the standings; none if it cannot be ranked.
func (c *Catalogue) earns(figure string) []string {
	d := c.Figure(figure)
	switch {
	case d == nil:
		return nil
	case slices.Contains(d.Procedures, Ranked):
		return []string{Ranked}
	}
	return slices.DeleteFunc(slices.Clone(inTheCold), func(p string) bool { return !slices.Contains(d.Procedures, p) })
}

// Rankable reports, by an error that is a *diag.Diagnostic without a position,
// why a figure cannot be ranked; nil means that it can.
func (c *Catalogue) Rankable(figure string) error {
	if _, err := c.FindFigure(figure); err != nil {
		return err
	}
	if len(c.earns(figure)) == 0 {
		return diag.New(diag.Pos{}, "figure %q is not for a procedure in the cold: %s", figure, strings.Join(inTheCold, ", "))
	}
	return nil
}

// Settings are what a protocol says beside the numbers in the warehouse.
type Settings struct {
	Scales []edition.Scale // each of a figure that is Rankable
	Gates  []GateSetting
}

// Run computes an edition of the warehouse w. The edition has no ID, date,
// program or inputs yet. The List tells which definitions are wrong; the edition
// is made without them.
func (c *Catalogue) Run(ctx context.Context, w *warehouse.Workspace, settings Settings) (*edition.Edition, diag.List, error) {
	all, err := sessions(ctx, w)
	if err != nil {
		return nil, nil, err
	}
	known, err := cached(ctx, w)
	if err != nil {
		return nil, nil, err
	}
	e := &edition.Edition{Scales: settings.Scales}
	if err := describe(ctx, w, e); err != nil {
		return nil, nil, err
	}

	var usable []sessionRow
	for _, s := range all {
		if s.problem == "" {
			usable = append(usable, s)
		}
	}
	params, err := parameters(ctx, w)
	if err != nil {
		return nil, nil, err
	}
	// Figures over the common window come last, since it depends on the others.
	var first, second, third []*Definition
	for _, d := range c.Figures {
		if c.readsResults(d) {
			third = append(third, d)
		} else if c.readsWindow(d) {
			second = append(second, d)
		} else {
			first = append(first, d)
		}
	}
	crew := c.newCrew(w, params, second)
	defer crew.close()
	todo := c.unknown(first, usable, known, params)
	e.Results = c.unchanged(first, usable, todo, known)
	if err := crew.compute(ctx, first, batches(todo, figureRows)); err != nil {
		return nil, nil, err
	}
	e.Results = append(e.Results, crew.results...)
	sortFigures(e.Results)
	e.Rules = rules(settings.Gates, params)
	for _, s := range usable {
		if slices.Contains(gated, s.procedure) {
			e.Gates = append(e.Gates, judge(s.id, s.procedure == Ranked, func(figure string) (edition.Figure, bool) { return e.Find(s.id, figure) }, e.Rules)...)
		}
	}
	e.Window = commonWindow(e, usable, params)
	if err := w.SetWindow(ctx, e.Window.FromPct, e.Window.ToPct); err != nil {
		return nil, nil, err
	}
	params["window_from_pct"], params["window_to_pct"] = e.Window.FromPct, e.Window.ToPct
	crew.results = nil
	todo = c.unknown(second, usable, known, params)
	if err := crew.late(ctx, second, todo, e.Window); err != nil {
		return nil, nil, err
	}
	late := append(c.unchanged(second, usable, todo, known), crew.results...)
	sortFigures(late)
	e.Results = merged(e.Results, late)
	problems, unsound := crew.problems(), crew.unsound()
	l, err := c.compare(ctx, w, e, third, usable)
	if err != nil {
		return nil, nil, err
	}
	for _, p := range l {
		problems = append(problems, p)
	}
	for _, d := range third {
		unsound[d.Name] = slices.ContainsFunc(l, func(p *diag.Diagnostic) bool { return p.Pos.File == d.File })
	}

	for _, d := range c.Figures {
		if unsound[d.Name] {
			continue
		}
		e.Figures = append(e.Figures, edition.Defined{Name: d.Name, Title: d.Title, Unit: d.Unit, Better: d.Better, Method: d.Method, SHA256: c.deepHash(d)})
	}
	for _, name := range slices.Sorted(maps.Keys(params)) {
		e.Protocol = append(e.Protocol, edition.Parameter{Name: name, Value: params[name]})
	}
	e.Gates = append(e.Gates, agreement(e, usable, c.earns, params["ambient_band_k"])...)
	slices.SortStableFunc(e.Gates, func(a, b edition.Gate) int { return strings.Compare(a.Session, b.Session) })
	e.Variances = variances(e, usable, c.earns, params["ambient_band_k"])
	rank(e, usable, c.earns)
	return e, problems, nil
}

// prepare makes views over the sessions todo.
func (c *Catalogue) prepare(ctx context.Context, w *warehouse.Workspace, todo []sessionRow, views []string) error {
	if err := w.Scope(ctx, ids(todo)); err != nil {
		return err
	}
	return c.Materialise(ctx, w, views...)
}

// compare evaluates the figures that compare sessions by their results: anew each
// time, since another session may change them, over few rows.
func (c *Catalogue) compare(ctx context.Context, w *warehouse.Workspace, e *edition.Edition, defs []*Definition, usable []sessionRow) (diag.List, error) {
	if err := w.Scope(ctx, ids(usable)); err != nil {
		return nil, err
	}
	results := make([]warehouse.Result, len(e.Results))
	for i, f := range e.Results {
		results[i] = warehouse.Result{SessionID: f.Session, Figure: f.Figure, Value: f.Value, U: f.U, Status: string(f.Status)}
	}
	if err := w.PutResults(ctx, results); err != nil {
		return nil, err
	}
	if err := c.make(ctx, w, c.readsResults); err != nil {
		return nil, err
	}
	schema, err := w.Schema(ctx)
	if err != nil {
		return nil, err
	}
	var problems diag.List
	var compared []edition.Figure
	for _, d := range defs {
		if d.Mine {
			if l := c.Check(ctx, w, schema, d); l != nil {
				problems = append(problems, l...)
				continue
			}
		}
		rows, l := c.figureRows(ctx, w, d, usable)
		if err := ctx.Err(); err != nil {
			return nil, fmt.Errorf("metrics: figure %s: %w", d.Name, err)
		}
		problems = append(problems, l...)
		for i := range rows {
			rows[i].Basis = c.deepHash(d)
		}
		compared = append(compared, rows...)
	}
	sortFigures(compared)
	e.Results = merged(e.Results, compared)
	e.Penalties, err = penalties(ctx, w)
	return problems, err
}

// penalties reads the view penalty.
func penalties(ctx context.Context, w *warehouse.Workspace) ([]edition.Penalty, error) {
	rows, err := w.Query(ctx, `
		select session_id, figure, cold, cold_u, control, control_u, controls
		from penalty order by session_id, figure`)
	if err != nil {
		return nil, fmt.Errorf("metrics: penalties: %w", err)
	}
	defer rows.Close()
	var out []edition.Penalty
	for rows.Next() {
		var p edition.Penalty
		if err := rows.Scan(&p.Session, &p.Figure, &p.Cold, &p.ColdU, &p.Control, &p.ControlU, &p.Controls); err != nil {
			return nil, fmt.Errorf("metrics: penalties: %w", err)
		}
		p.Difference, p.U = rounded(p.Cold-p.Control), rounded(math.Hypot(p.ColdU, p.ControlU))
		p.Control, p.ControlU = rounded(p.Control), rounded(p.ControlU)
		out = append(out, p)
	}
	return out, rows.Err()
}

// sortFigures sorts results by session and figure. There may be a million, of few
// names: each name is compared once, and then its number.
func sortFigures(fs []edition.Figure) {
	number := map[string]uint64{}
	for _, f := range fs {
		number[f.Session], number[f.Figure] = 0, 0
	}
	for i, name := range slices.Sorted(maps.Keys(number)) {
		number[name] = uint64(i)
	}
	type place struct{ key, at uint64 }
	places := make([]place, len(fs))
	for i, f := range fs {
		places[i] = place{number[f.Session]<<32 | number[f.Figure], uint64(i)}
	}
	slices.SortFunc(places, func(a, b place) int { return cmp.Or(cmp.Compare(a.key, b.key), cmp.Compare(a.at, b.at)) })
	sorted := make([]edition.Figure, len(fs))
	for i, p := range places {
		sorted[i] = fs[p.at]
	}
	copy(fs, sorted)
}

// merged is two lists of results, each sorted by session and figure, as one.
func merged(a, b []edition.Figure) []edition.Figure {
	out := make([]edition.Figure, 0, len(a)+len(b))
	for len(a) > 0 && len(b) > 0 {
		if cmp.Or(strings.Compare(a[0].Session, b[0].Session), strings.Compare(a[0].Figure, b[0].Figure)) < 0 {
			out, a = append(out, a[0]), a[1:]
		} else {
			out, b = append(out, b[0]), b[1:]
		}
	}
	return append(append(out, a...), b...)
}

// failures are the sessions that failed a gate, with the first such and the reason; but
// one that tells of wrong input comes before all others, which may fail for that alone.
func failures(e *edition.Edition) map[string]string {
	failed, first := map[string]string{}, map[string]bool{}
	for _, g := range e.Gates {
		if wrong := wrongInput[g.Gate]; g.Verdict == edition.Failed && (failed[g.Session] == "" || wrong && !first[g.Session]) {
			failed[g.Session], first[g.Session] = g.Gate+": "+g.Reason, wrong
		}
	}
	return failed
}

// describe fills in title, vehicles, sessions and sources.
func describe(ctx context.Context, w *warehouse.Workspace, e *edition.Edition) error {
	err := func() error {
		rows, err := w.Query(ctx, `select title, place from protocol`)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			if err := rows.Scan(&e.Title, &e.Place); err != nil {
				return err
			}
		}
		if err := rows.Err(); err != nil {
			return err
		}
		rows, err = w.Query(ctx, `select vehicle_id, name from vehicle order by vehicle_id`)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			var v edition.Vehicle
			if err := rows.Scan(&v.ID, &v.Name); err != nil {
				return err
			}
			e.Vehicles = append(e.Vehicles, v)
		}
		if err := rows.Err(); err != nil {
			return err
		}
		rows, err = w.Query(ctx, `
			select session_id, vehicle_id, procedure, coalesce(zone, ''), coalesce(zero, 'epoch'::timestamptz), zero is not null,
				coalesce(zero_from, ''), coalesce(problem, ''), coalesce(remark, '')
			from session order by session_id`)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			var s edition.Session
			var zero time.Time
			var known bool
			if err := rows.Scan(&s.ID, &s.Vehicle, &s.Procedure, &s.Zone, &zero, &known, &s.ZeroFrom, &s.Problem, &s.Remark); err != nil {
				return err
			}
			if known {
				s.Zero = zero.UTC()
			}
			e.Sessions = append(e.Sessions, s)
		}
		if err := rows.Err(); err != nil {
			return err
		}
		rows, err = w.Query(ctx, `
			select session_id, path, kind, coalesce(profile, ''), sha256, bytes, rows_read, rows_kept, rows_aside, offset_s,
				coalesce((select f.path from source f where f.source_id = source.continues), '')
			from source order by session_id, path`)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			var session string
			var s edition.Source
			if err := rows.Scan(&session, &s.Path, &s.Kind, &s.Profile, &s.SHA256, &s.Bytes, &s.RowsRead, &s.RowsKept, &s.Aside, &s.OffsetS, &s.Continues); err != nil {
				return err
			}
			i, ok := slices.BinarySearchFunc(e.Sessions, session, func(s edition.Session, id string) int { return strings.Compare(s.ID, id) })
			if ok {
				e.Sessions[i].Sources = append(e.Sessions[i].Sources, s)
			}
		}
		return rows.Err()
	}()
	if err != nil {
		return fmt.Errorf("metrics: describe: %w", err)
	}
	return nil
}
