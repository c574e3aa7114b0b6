package metrics

import (
	"context"
	"database/sql"
	"fmt"
	"math"
	"slices"
	"strings"

	"coldbench/metrics/edition"
	"coldbench/warehouse"
)

// traceRows is how many rows the traces of all sessions have together, so that
// what draws them stays small, and the bounds of each. Each is kept with as many
// as it may have at most, and thinned from those: what a series of many sessions
// shows of one does not depend on when that was read.
const (
	traceRows      = 16000
	traceRowsLeast = 100
	traceRowsMost  = 2000
)

// Logs returns the minute-by-minute log, the events, the phases and the thinned
// trace of every session that was read, by session. Those that the warehouse keeps
// and on whose inputs nothing changed are taken from there; made are the others,
// for the warehouse to keep.
func (c *Catalogue) Logs(ctx context.Context, w *warehouse.Workspace) (logs []edition.Log, made []warehouse.Log, err error) {
	all, err := sessions(ctx, w)
	if err != nil {
		return nil, nil, err
	}
	params, err := parameters(ctx, w)
	if err != nil {
		return nil, nil, err
	}
	var usable []sessionRow
	for _, s := range all {
		if s.problem == "" {
			usable = append(usable, s)
		}
	}
	logs = make([]edition.Log, len(usable))
	place, bases := map[string]*edition.Log{}, map[string]string{}
	basis := c.logBasis(params)
	for i, s := range usable {
		logs[i].Session = s.id
		place[s.id], bases[s.id] = &logs[i], basis(s)
	}
	rows := min(max(traceRows/max(len(usable), 1), traceRowsLeast), traceRowsMost)
	have, err := kept(ctx, w, bases, place, rows)
	if err != nil {
		return nil, nil, err
	}
	todo := slices.DeleteFunc(usable, func(s sessionRow) bool { return have[s.id] })
	crew := c.newCrew(w, params, nil)
	defer crew.close()
	err = crew.share(ctx, batches(todo, logRows), func(ctx context.Context, k *worker, batch []sessionRow) error {
		if err := c.makeLogs(ctx, k.w, batch, place); err != nil {
			return err
		}
		for _, s := range batch {
			l := place[s.id]
			k, err := packed(l)
			if err != nil {
				return fmt.Errorf("metrics: log of session %s: %w", s.id, err)
			}
			k.Basis = bases[s.id]
			*l = l.Thin(rows)
			crew.mu.Lock()
			made = append(made, k)
			crew.mu.Unlock()
		}
		return nil
	})
	if err != nil {
		return nil, nil, err
	}
	slices.SortFunc(made, func(a, b warehouse.Log) int { return strings.Compare(a.Session, b.Session) })
	return logs, made, nil
}

// makeLogs makes the logs of a batch of sessions from the views.
func (c *Catalogue) makeLogs(ctx context.Context, w *warehouse.Workspace, batch []sessionRow, place map[string]*edition.Log) error {
	if err := c.prepare(ctx, w, batch, logViews); err != nil {
		return err
	}
	if err := readMinutes(ctx, w, place); err != nil {
		return fmt.Errorf("metrics: minutes: %w", err)
	}
	if err := readPhases(ctx, w, place); err != nil {
		return fmt.Errorf("metrics: phases: %w", err)
	}
	if err := readTraces(ctx, w, place); err != nil {
		return fmt.Errorf("metrics: traces: %w", err)
	}
	happened, err := events(ctx, w, "", -1e12, 1e12)
	for _, id := range ids(batch) {
		place[id].Events = happened[id]
	}
	return err
}

// readMinutes reads the view minute, in as many digits as figures.
func readMinutes(ctx context.Context, w *warehouse.Workspace, place map[string]*edition.Log) error {
	rows, err := w.Query(ctx, `
		select session_id, minute, pack_kw, charger_kw, heater_kw, soc_pct, pack_temp_min_c, pack_temp_max_c, ambient_c, cabin_temp_c, pack_kwh
		from minute order by session_id, minute`)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var id string
		var m edition.Minute
		var v [9]sql.NullFloat64
		if err := rows.Scan(&id, &m.Minute, &v[0], &v[1], &v[2], &v[3], &v[4], &v[5], &v[6], &v[7], &v[8]); err != nil {
			return err
		}
		for i, p := range []**float64{&m.PackKW, &m.ChargerKW, &m.HeaterKW, &m.SoCPct, &m.PackMinC, &m.PackMaxC, &m.AmbientC, &m.CabinC, &m.PackKWh} {
			*p = result(v[i])
		}
		if l := place[id]; l != nil {
			l.Minutes = append(l.Minutes, m)
		}
	}
	return rows.Err()
}

func readPhases(ctx context.Context, w *warehouse.Workspace, place map[string]*edition.Log) error {
	rows, err := w.Query(ctx, `select session_id, phase, from_s, to_s, rule from phase order by session_id, n`)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var id string
		var p edition.Phase
		if err := rows.Scan(&id, &p.Name, &p.From, &p.To, &p.Rule); err != nil {
			return err
		}
		if l := place[id]; l != nil {
			l.Phases = append(l.Phases, p)
		}
	}
	return rows.Err()
}

// readTraces thins each session's trace as soon as its last row is read, so that
// one is held whole at a time.
func readTraces(ctx context.Context, w *warehouse.Workspace, place map[string]*edition.Log) error {
	rows, err := w.Query(ctx, `
		select session_id, t_s, plug_s, pack_kw, charger_kw, heater_kw, soc_pct, pack_min_c, pack_kwh
		from trace order by session_id, t_s`)
	if err != nil {
		return err
	}
	defer rows.Close()
	var l *edition.Log // whose rows are being read
	thin := func() {
		if l != nil {
			l.Trace = l.Trace.Thin(traceRowsMost)
		}
	}
	for rows.Next() {
		var id string
		var at, plug float64
		var v [6]sql.NullFloat64
		if err := rows.Scan(&id, &at, &plug, &v[0], &v[1], &v[2], &v[3], &v[4], &v[5]); err != nil {
			return err
		}
		if l == nil || l.Session != id {
			thin()
			if l = place[id]; l == nil {
				continue
			}
		}
		t := &l.Trace
		l.PlugS, t.T = plug, append(t.T, at)
		for i, c := range []*edition.Column{&t.PackKW, &t.ChargerKW, &t.HeaterKW, &t.SoCPct, &t.PackMinC, &t.PackKWh} {
			x := math.NaN()
			if p := number(v[i]); p != nil {
				x = math.Round(*p*lean*1e4) / 1e4 // finer than any chart, and short to write
			}
			*c = append(*c, x)
		}
	}
	thin()
	return rows.Err()
}

// events returns the events of a session, or with "" of all in scope, whose
// interval touches from..to, by session. One line of notes may tell of several at
// one moment: what is left to tell them apart is what they are.
func events(ctx context.Context, w *warehouse.Workspace, session string, from, to float64) (map[string][]edition.Event, error) {
	rows, err := w.Query(ctx, `
		select e.session_id, e.t_s, e.width_s, e.kind, coalesce(e.text, ''), s.path, e.line
		from event e join source s using (source_id)
		where ($session = '' or e.session_id = $session) and e.t_s + e.width_s / 2 >= $from and e.t_s - e.width_s / 2 <= $to
		order by e.session_id, e.t_s, s.path, e.line, e.kind, e.text`, sql.Named("session", session), sql.Named("from", from), sql.Named("to", to))
	if err != nil {
		return nil, fmt.Errorf("metrics: events: %w", err)
	}
	defer rows.Close()
	out := map[string][]edition.Event{}
	for rows.Next() {
		var id string
		var ev edition.Event
		if err := rows.Scan(&id, &ev.T, &ev.WidthS, &ev.Kind, &ev.Text, &ev.Path, &ev.Line); err != nil {
			return nil, fmt.Errorf("metrics: events: %w", err)
		}
		out[id] = append(out[id], ev)
	}
	if err := rows.Err(); err != nil {
		return nil, fmt.Errorf("metrics: events: %w", err)
	}
	return out, nil
}
