package metrics

import (
	"context"
	"database/sql"
	"fmt"
	"math"

	"coldbench/metrics/edition"
	"coldbench/warehouse"
)

// A Stretch is how the quantities that a figure depends on went in and around its
// evidence interval, in equal steps of time.
type Stretch struct {
	From, To float64 // s on the session clock
	Lines    []Line
}

// A Line is one quantity: the mean of its rows in each step, nil where there is none.
type Line struct {
	Title, Unit string
	Values      []*float64
}

// stretchSteps is how many steps a stretch has: they fit into a narrow terminal.
const stretchSteps = 60

// drawn are the quantities that a stretch may show, with the view, or the channel of
// reading, that tells a figure to depend on them, the most telling first.
var drawn = []struct{ view, column, title, unit string }{
	{"power", "kw", "into the pack", "kW"},
	{"inlet", "kw", "from the charger", "kW"},
	{"reading", "cabin_temp_c", "cabin", "°C"},
	{"reading", "speed_km_h", "speed", "km/h"},
	{"heater", "kw", "pack heater", "kW"},
	{"charge_level", "soc_pct", "displayed charge", "%"},
	{"pack_temp", "min_c", "coldest sensor", "°C"},
	{"air", "c", "air", "°C"},
}

// leastStretch is how long a stretch is at least, in s: a moment alone shows nothing.
const leastStretch = 600.0

// mostLines bounds a stretch's lines.
const mostLines = 4

// stretch draws the evidence of a figure of a session, with a tenth of its length
// on each side; nil if none of the drawn quantities decides it.
func (c *Catalogue) stretch(ctx context.Context, w *warehouse.Workspace, d *Definition, f edition.Figure) (*Stretch, error) {
	reads := c.deepReads(d)
	length := *f.To - *f.From
	pad := max(length/10, (leastStretch-length)/2)
	s := &Stretch{From: *f.From - pad, To: *f.To + pad}
	if err := w.Scope(ctx, []string{f.Session}); err != nil {
		return nil, err
	}
	for _, q := range drawn {
		if reads[q.view] == nil || q.view == "reading" && !reads[q.view][q.column] || len(s.Lines) == mostLines {
			continue
		}
		if c.views[q.view] != nil {
			if err := c.Materialise(ctx, w, q.view); err != nil {
				return nil, err
			}
		}
		line := Line{Title: q.title, Unit: q.unit, Values: make([]*float64, stretchSteps)}
		rows, err := w.Query(ctx, `
			select floor((t_s - $from) / ($to - $from) * $steps)::integer as step, avg(`+q.column+`)
			from `+q.view+`
			where t_s >= $from and t_s < $to and `+q.column+` is not null
			group by step order by step`, sql.Named("from", s.From), sql.Named("to", s.To), sql.Named("steps", float64(stretchSteps)))
		if err != nil {
			return nil, fmt.Errorf("metrics: stretch of %s: %w", q.view, err)
		}
		any := false
		for rows.Next() {
			var step int
			var v float64
			if err := rows.Scan(&step, &v); err != nil {
				rows.Close()
				return nil, fmt.Errorf("metrics: stretch of %s: %w", q.view, err)
			}
			if step >= 0 && step < stretchSteps && !math.IsNaN(v) {
				line.Values[step], any = &v, true
			}
		}
		err = rows.Err()
		rows.Close()
		if err != nil {
			return nil, fmt.Errorf("metrics: stretch of %s: %w", q.view, err)
		}
		if any {
			s.Lines = append(s.Lines, line)
		}
	}
	if s.Lines == nil {
		return nil, nil
	}
	return s, nil
}
