package metrics

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"coldbench/metrics/edition"
	"coldbench/warehouse"
)

// A Stuck is a stretch in which a channel held one value while other channels show
// that it must have moved.
type Stuck struct {
	Session, Path, Channel string
	Value                  float64 // in the channel's unit
	FromS, ToS             float64 // of the session's clock
	FromLine, ToLine       int64   // of the source
	Witness                string  // what moved, such as "the pack took 7.2 kWh"
}

// FindStuck looks for stuck sensors in all sessions of e, computed over w, that were read,
// by session, source, channel and time. A charge of which the figure stuck_time says that
// there is none is not looked at again.
func (c *Catalogue) FindStuck(ctx context.Context, w *warehouse.Workspace, e *edition.Edition) ([]Stuck, error) {
	all, err := sessions(ctx, w)
	if err != nil {
		return nil, err
	}
	var usable []sessionRow
	for _, s := range all {
		if f, ok := e.Find(s.id, "stuck_time"); s.problem == "" && !(ok && f.Value != nil && *f.Value == 0) {
			usable = append(usable, s)
		}
	}
	var found []Stuck
	crew := c.newCrew(w, nil, nil)
	defer crew.close()
	err = crew.share(ctx, batches(usable, logRows), func(ctx context.Context, k *worker, batch []sessionRow) error {
		more, err := c.stuckIn(ctx, k.w, batch)
		crew.mu.Lock()
		found = append(found, more...)
		crew.mu.Unlock()
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("metrics: stuck sensors: %w", err)
	}
	slices.SortStableFunc(found, func(a, b Stuck) int { return strings.Compare(a.Session, b.Session) })
	return found, nil
}

func (c *Catalogue) stuckIn(ctx context.Context, w *warehouse.Workspace, batch []sessionRow) ([]Stuck, error) {
	if err := c.prepare(ctx, w, batch, []string{"stuck"}); err != nil {
		return nil, err
	}
	rows, err := w.Query(ctx, `
		select k.session_id, o.path, k.channel, k.v, k.from_s, k.to_s, k.from_line, k.to_line, k.witness
		from stuck k join source o using (source_id)
		order by k.session_id, o.path, k.channel, k.from_s`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var found []Stuck
	for rows.Next() {
		var s Stuck
		if err := rows.Scan(&s.Session, &s.Path, &s.Channel, &s.Value, &s.FromS, &s.ToS, &s.FromLine, &s.ToLine, &s.Witness); err != nil {
			return nil, err
		}
		found = append(found, s)
	}
	return found, rows.Err()
}
