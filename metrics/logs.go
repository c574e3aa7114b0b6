package metrics

import (
	"context"
	"database/sql"
	"fmt"
	"math"

	"coldbench/metrics/edition"
	"coldbench/warehouse"
)

// traceRows is how many rows the traces of all sessions have together, so that
// what draws them stays small, and the bounds of each.
const (
	traceRows      = 16000
	traceRowsLeast = 100
	traceRowsMost  = 2000
)

// Logs returns the minute-by-minute log, the events, the phases and the thinned
// trace of every session that was read, by session.
func (c *Catalogue) Logs(ctx context.Context, w *warehouse.Workspace) ([]edition.Log, error) {
	all, err := sessions(ctx, w)
	if err != nil {
		return nil, err
	}
	var usable []sessionRow
	for _, s := range all {
		if s.problem == "" {
			usable = append(usable, s)
		}
	}
	logs := make([]edition.Log, len(usable))
	place := map[string]*edition.Log{}
	for i, s := range usable {
		logs[i].Session = s.id
		place[s.id] = &logs[i]
	}
	for _, batch := range batches(usable) {
		if err := c.minutes(ctx, w, batch, place); err != nil {
			return nil, err
		}
		if err := traces(ctx, w, place, min(max(traceRows/len(usable), traceRowsLeast), traceRowsMost)); err != nil {
			return nil, err
		}
	}
	for i := range logs {
		if logs[i].Events, err = events(ctx, w, logs[i].Session, -1e12, 1e12); err != nil {
			return nil, err
		}
	}
	return logs, nil
}

// minutes makes the views that logs are read from, of a batch of sessions, and
// adds their minutes to their logs.
func (c *Catalogue) minutes(ctx context.Context, w *warehouse.Workspace, batch []sessionRow, place map[string]*edition.Log) error {
	ids := make([]string, len(batch))
	for i, s := range batch {
		ids[i] = s.id
	}
	if err := w.Scope(ctx, ids); err != nil {
		return err
	}
	if err := c.Materialise(ctx, w, "minute", "phase", "trace"); err != nil {
		return err
	}
	rows, err := w.Query(ctx, `
		select session_id, minute, pack_kw, charger_kw, heater_kw, soc_pct, pack_temp_min_c, pack_temp_max_c, ambient_c, cabin_temp_c, pack_kwh
		from minute order by session_id, minute`)
	if err != nil {
		return fmt.Errorf("metrics: minutes: %w", err)
	}
	defer rows.Close()
	for rows.Next() {
		var id string
		var m edition.Minute
		var v [9]sql.NullFloat64
		if err := rows.Scan(&id, &m.Minute, &v[0], &v[1], &v[2], &v[3], &v[4], &v[5], &v[6], &v[7], &v[8]); err != nil {
			return fmt.Errorf("metrics: minutes: %w", err)
		}
		for i, p := range []**float64{&m.PackKW, &m.ChargerKW, &m.HeaterKW, &m.SoCPct, &m.PackMinC, &m.PackMaxC, &m.AmbientC, &m.CabinC, &m.PackKWh} {
			*p = number(v[i])
		}
		if l := place[id]; l != nil {
			l.Minutes = append(l.Minutes, m)
		}
	}
	if err := rows.Err(); err != nil {
		return fmt.Errorf("metrics: minutes: %w", err)
	}
	return nil
}

// traces adds the phases and the thinned traces of the sessions whose views are
// made to their logs.
func traces(ctx context.Context, w *warehouse.Workspace, place map[string]*edition.Log, most int) error {
	if err := readPhases(ctx, w, place); err != nil {
		return fmt.Errorf("metrics: phases: %w", err)
	}
	if err := readTraces(ctx, w, place, most); err != nil {
		return fmt.Errorf("metrics: traces: %w", err)
	}
	return nil
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
func readTraces(ctx context.Context, w *warehouse.Workspace, place map[string]*edition.Log, most int) error {
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
			l.Trace = l.Trace.Thin(most)
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
				x = math.Round(*p*1e4) / 1e4 // finer than any chart, and short to write
			}
			*c = append(*c, x)
		}
	}
	thin()
	return rows.Err()
}

// events returns a session's events whose interval touches from..to.
func events(ctx context.Context, w *warehouse.Workspace, session string, from, to float64) ([]edition.Event, error) {
	rows, err := w.Query(ctx, `
		select e.t_s, e.width_s, e.kind, coalesce(e.text, ''), s.path, e.line
		from event e join source s using (source_id)
		where e.session_id = $session and e.t_s + e.width_s / 2 >= $from and e.t_s - e.width_s / 2 <= $to
		order by e.t_s, s.path, e.line`, sql.Named("session", session), sql.Named("from", from), sql.Named("to", to))
	if err != nil {
		return nil, fmt.Errorf("metrics: events: %w", err)
	}
	defer rows.Close()
	var out []edition.Event
	for rows.Next() {
		var ev edition.Event
		if err := rows.Scan(&ev.T, &ev.WidthS, &ev.Kind, &ev.Text, &ev.Path, &ev.Line); err != nil {
			return nil, fmt.Errorf("metrics: events: %w", err)
		}
		out = append(out, ev)
	}
	return out, rows.Err()
}
