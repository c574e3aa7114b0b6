package metrics

import (
	"context"
	"fmt"
	"maps"
	"runtime"
	"slices"
	"sync"

	"golang.org/x/sync/errgroup"

	"coldbench/metrics/edition"
	"coldbench/warehouse"
	"coldbench/warehouse/diag"
)

// A crew computes figures of many sessions: as many workers as there are
// processors, each with a workspace of one thread. A session needs nothing of any
// other, so they take batches of sessions in turn; that keeps every processor
// busy, where one query over all sessions mostly waits for its slowest step.
//
// Note: what a figure needs of a session beyond its batch, once the common window
// is known, is a few small tables, which a worker keeps of its sessions. Made anew,
// they would cost all that they are made from.
type crew struct {
	c       *Catalogue
	w       *warehouse.Workspace
	params  map[string]float64
	keep    []string // views of which workers keep the rows, for late
	workers []*worker

	mu      sync.Mutex
	sound   map[string]bool // whether a definition of the user's fits, once looked at
	results []edition.Figure
	wrong   map[string]diag.List // by definition
}

// A worker is one workspace and the sessions whose small tables it keeps.
type worker struct {
	w    *warehouse.Workspace
	kept map[string]bool
}

func (c *Catalogue) newCrew(w *warehouse.Workspace, params map[string]float64, late []*Definition) *crew {
	return &crew{c: c, w: w, params: params, keep: c.handed(late), sound: map[string]bool{}, wrong: map[string]diag.List{}}
}

// handed are the views that hand over to those that depend on the common window
// what they read of a session: the views that do not themselves.
func (c *Catalogue) handed(late []*Definition) []string {
	found := map[string]bool{}
	var walk func(d *Definition)
	walk = func(d *Definition) {
		for _, r := range d.Reads {
			v := c.views[r.Table]
			if v == nil {
				continue
			}
			if v.InPlace || c.readsWindow(v) {
				walk(v)
			} else {
				found[v.Name] = true
			}
		}
	}
	for _, d := range late {
		walk(d)
	}
	return slices.Sorted(maps.Keys(found))
}

// hire opens workspaces until there are n, and no more than processors.
func (g *crew) hire(ctx context.Context, n int) error {
	most := runtime.GOMAXPROCS(0)
	for len(g.workers) < min(n, most) {
		w, err := g.w.Beside(ctx, 1/float64(most))
		if err != nil {
			return err
		}
		g.workers = append(g.workers, &worker{w: w, kept: map[string]bool{}})
	}
	return nil
}

// close ends the workers' workspaces.
func (g *crew) close() {
	var all sync.WaitGroup
	for _, k := range g.workers {
		all.Go(func() { k.w.Close() })
	}
	all.Wait()
}

// compute evaluates definitions over the sessions of all batches; none: nothing is
// evaluated, but what late needs is kept of them.
func (g *crew) compute(ctx context.Context, defs []*Definition, batches [][]sessionRow) error {
	return g.share(ctx, batches, func(ctx context.Context, k *worker, batch []sessionRow) error {
		return g.batch(ctx, k, meant(defs, batch), batch)
	})
}

// meant are the definitions for procedures that sessions have: no others have rows of
// them, and to plan a query takes longer than to run it over a session. The user's
// own are looked at in any case, since what is wrong with them is to be told.
func meant(defs []*Definition, sessions []sessionRow) []*Definition {
	done := map[string]bool{}
	for _, s := range sessions {
		done[s.procedure] = true
	}
	return slices.DeleteFunc(slices.Clone(defs), func(d *Definition) bool {
		return !d.Mine && !slices.ContainsFunc(d.Procedures, func(p string) bool { return done[p] })
	})
}

// share has the workers do all batches between them, until one fails.
func (g *crew) share(ctx context.Context, batches [][]sessionRow, do func(context.Context, *worker, []sessionRow) error) error {
	if err := g.hire(ctx, len(batches)); err != nil {
		return err
	}
	todo := make(chan []sessionRow, len(batches))
	for _, b := range batches {
		todo <- b
	}
	close(todo)
	group, ctx := errgroup.WithContext(ctx)
	for _, k := range g.workers {
		group.Go(func() error {
			for batch := range todo {
				if err := do(ctx, k, batch); err != nil {
					return err
				}
			}
			return nil
		})
	}
	return group.Wait()
}

func (g *crew) batch(ctx context.Context, k *worker, defs []*Definition, batch []sessionRow) error {
	if err := g.c.prepare(ctx, k.w, batch, append(g.c.viewNames(defs), g.keep...)); err != nil {
		return err
	}
	if err := k.w.Hold(ctx); err != nil { // figures of the user's may read readings, and no view that does
		return err
	}
	if err := g.evaluate(ctx, k.w, defs, batch); err != nil {
		return err
	}
	for _, view := range g.keep {
		if err := k.w.Keep(ctx, view); err != nil {
			return err
		}
	}
	for _, s := range batch {
		k.kept[s.id] = true
	}
	return nil
}

// late evaluates definitions that depend on the window, which is now known, from
// what is kept of the sessions todo. Sessions of which nothing is kept are
// prepared first.
func (g *crew) late(ctx context.Context, defs []*Definition, todo []sessionRow, window edition.Window) error {
	var fresh []sessionRow
	for _, s := range todo {
		if !slices.ContainsFunc(g.workers, func(k *worker) bool { return k.kept[s.id] }) {
			fresh = append(fresh, s)
		}
	}
	if err := g.compute(ctx, nil, batches(fresh, figureRows)); err != nil {
		return err
	}
	// Figures of the user's may read whatever they like: they are made as all others are.
	builtin := slices.DeleteFunc(slices.Clone(defs), func(d *Definition) bool { return d.Mine })
	mine := slices.DeleteFunc(slices.Clone(defs), func(d *Definition) bool { return !d.Mine })
	group, groupCtx := errgroup.WithContext(ctx)
	for _, k := range g.workers {
		group.Go(func() error {
			if err := k.w.SetWindow(groupCtx, window.FromPct, window.ToPct); err != nil {
				return err
			}
			own := slices.DeleteFunc(slices.Clone(todo), func(s sessionRow) bool { return !k.kept[s.id] })
			if len(own) == 0 {
				return nil
			}
			if err := k.w.Scope(groupCtx, ids(own)); err != nil {
				return err
			}
			for _, view := range g.keep {
				if err := k.w.Recall(groupCtx, view); err != nil {
					return err
				}
			}
			need := g.c.viewNames(builtin)
			if err := g.c.make(groupCtx, k.w, func(v *Definition) bool { return slices.Contains(need, v.Name) && g.c.readsWindow(v) }); err != nil {
				return err
			}
			return g.evaluate(groupCtx, k.w, builtin, own)
		})
	}
	if err := group.Wait(); err != nil {
		return err
	}
	if len(mine) > 0 {
		g.keep = nil
		return g.compute(ctx, mine, batches(todo, figureRows))
	}
	return nil
}

// evaluate computes definitions over the sessions of a workspace whose views have
// been made.
func (g *crew) evaluate(ctx context.Context, w *warehouse.Workspace, defs []*Definition, todo []sessionRow) error {
	for _, d := range defs {
		ok, err := g.fits(ctx, w, d)
		if err != nil {
			return err
		}
		if !ok {
			continue
		}
		results, l := g.c.evaluate(ctx, w, d, todo, g.params)
		if err := ctx.Err(); err != nil { // it is no fault of the figure
			return fmt.Errorf("metrics: figure %s: %w", d.Name, err)
		}
		g.mu.Lock()
		g.results = append(g.results, results...)
		g.wrong[d.Name] = append(g.wrong[d.Name], l...)
		g.mu.Unlock()
	}
	return nil
}

// fits reports whether a definition of the user's fits the views that it reads;
// the built-in ones are held to that by their scripts. It looks once.
func (g *crew) fits(ctx context.Context, w *warehouse.Workspace, d *Definition) (bool, error) {
	if !d.Mine {
		return true, nil
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	if sound, looked := g.sound[d.Name]; looked {
		return sound, nil
	}
	schema, err := w.Schema(ctx)
	if err != nil {
		return false, err
	}
	l := g.c.Check(ctx, w, schema, d)
	g.sound[d.Name] = l == nil
	g.wrong[d.Name] = l
	return l == nil, nil
}

// problems are what was found wrong with definitions, in their order.
func (g *crew) problems() diag.List {
	var l diag.List
	for _, name := range slices.Sorted(maps.Keys(g.wrong)) {
		l = append(l, g.wrong[name]...)
	}
	return l
}

// unsound are the definitions of the user's that do not fit.
func (g *crew) unsound() map[string]bool {
	out := map[string]bool{}
	for name, sound := range g.sound {
		out[name] = !sound
	}
	return out
}

func ids(sessions []sessionRow) []string {
	out := make([]string, len(sessions))
	for i, s := range sessions {
		out[i] = s.id
	}
	return out
}

// Readings that are in memory at a time, of all workers together: of figures about
// 2 GB with all that is made of them, of logs, which hold every second, as much.
const (
	figureRows = 4_000_000
	logRows    = 500_000
)

// leastRows are as many readings as are worth a batch of their own: to plan its queries
// takes as long as to run them over so many.
const leastRows = 100_000

// OneBatch reports whether figures of so many readings, or their logs, leave all cores
// but one idle.
func OneBatch(rows int64) bool { return rows <= leastRows }

// batches cuts sessions into runs of rows, or of one session, of which the workers
// hold most rows together.
func batches(todo []sessionRow, most int64) [][]sessionRow {
	workers := int64(runtime.GOMAXPROCS(0))
	total := int64(0)
	for _, s := range todo {
		total += s.rows
	}
	each := max(min((total+workers-1)/workers, most/workers), leastRows)
	var out [][]sessionRow
	rows := int64(0)
	for i, s := range todo {
		if rows += s.rows; i == 0 || rows > each {
			out, rows = append(out, nil), s.rows
		}
		out[len(out)-1] = append(out[len(out)-1], s)
	}
	return out
}
