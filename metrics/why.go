package metrics

import (
	"context"
	"database/sql"
	"fmt"
	"regexp"
	"strings"

	"coldbench/metrics/edition"
	"coldbench/warehouse"
)

// Evidence is what a figure of a session came from.
type Evidence struct {
	Figure     edition.Figure
	Definition *Definition
	Events     []edition.Event  // within the evidence interval
	Sources    []SourceEvidence // that hold readings within it, by path
	Stretch    *Stretch         // nil: nothing to draw
	Start      string           // from what the session's clock counts
	Of         *Evidence        // of the figure that this one corrects or compares; nil: none
}

// SourceEvidence is one source's share in a figure.
type SourceEvidence struct {
	Path                string
	First, Last         int64    // lines of the interval's rows
	Rows                int64    // in the interval that hold any of the columns
	Columns             []string // channels that the figure depends on and the source has
	Near                []Reading
	columnHasAnyReading []bool
}

// A Reading is one row near an end of the interval.
type Reading struct {
	Line   int64
	T      float64 // s on the session clock
	Inside bool
	Values []*float64 // in the order of Columns
}

// nearEnds is how many rows on each side of each end of the interval are shown.
const nearEnds = 2

// Why returns the evidence of one figure of an edition. The workspace must hold
// the session, and have no scope yet: evidence is told of by the file it lies in.
func (c *Catalogue) Why(ctx context.Context, w *warehouse.Workspace, e *edition.Edition, session, figure string) (*Evidence, error) {
	f, ok := e.Find(session, figure)
	if !ok {
		return nil, fmt.Errorf("metrics: edition %s holds no %s of session %s", e.ID, figure, session)
	}
	d, err := c.FindFigure(figure)
	if err != nil {
		return nil, err
	}
	ev := &Evidence{Figure: f, Definition: d}
	for _, s := range e.Sessions {
		if s.ID == session {
			ev.Start = s.Origin()
		}
	}
	if f.From == nil || f.To == nil {
		if raw := c.compared(d); raw != nil {
			if _, ok := e.Find(session, raw.Name); ok {
				ev.Of, err = c.Why(ctx, w, e, session, raw.Name)
			}
		}
		return ev, err
	}
	happened, err := events(ctx, w, session, *f.From, *f.To)
	if err != nil {
		return nil, err
	}
	ev.Events = happened[session]
	if channels := c.Channels(d); len(channels) > 0 {
		if ev.Sources, err = sourceEvidence(ctx, w, session, channelColumns(channels), *f.From, *f.To); err != nil {
			return nil, err
		}
	}
	ev.Stretch, err = c.stretch(ctx, w, d, f)
	return ev, err
}

// one is how a figure that compares results says which.
var one = regexp.MustCompile(`\bfigure = '([a-z0-9_]+)'`)

// compared is the figure whose results d compares or corrects, where it is one; nil
// for what is made of readings.
func (c *Catalogue) compared(d *Definition) *Definition {
	named := one.FindAllStringSubmatch(d.Query(), -1)
	if !c.readsResults(d) || len(named) != 1 {
		return nil
	}
	return c.Figure(named[0][1])
}

// channelColumns leaves out the columns of reading that are not channels.
func channelColumns(columns []string) []string {
	var out []string
	for _, c := range columns {
		switch c {
		case "session_id", "source_id", "line", "t_s", "t_us", "at":
		default:
			out = append(out, c)
		}
	}
	return out
}

func sourceEvidence(ctx context.Context, w *warehouse.Workspace, session string, channels []string, from, to float64) ([]SourceEvidence, error) {
	if len(channels) == 0 {
		return nil, nil
	}
	list := strings.Join(channels, ", ") // names of the catalogue, checked against the table
	args := []any{sql.Named("session", session), sql.Named("from", from), sql.Named("to", to), sql.Named("near", nearEnds)}
	// An interval's ends may be computed, so a row on an end may miss it by
	// rounding: a microsecond is the clock's own step.
	rows, err := w.Query(ctx, `
		with held as (
			select source_id, line, t_s, `+list+`, t_s between $from - 1e-6 and $to + 1e-6 as inside
			from reading
			where session_id = $session and t_s is not null and coalesce(`+list+`) is not null
		),
		used as (select distinct source_id from held where inside),
		ranked as (
			select *,
				row_number() over (partition by source_id, t_s < $from - 1e-6 order by t_s desc, line desc) as before_from,
				row_number() over (partition by source_id, t_s >= $from - 1e-6 order by t_s, line) as after_from,
				row_number() over (partition by source_id, t_s <= $to + 1e-6 order by t_s desc, line desc) as before_to,
				row_number() over (partition by source_id, t_s > $to + 1e-6 order by t_s, line) as after_to,
				min(line) filter (where inside) over (partition by source_id) as first_line,
				max(line) filter (where inside) over (partition by source_id) as last_line,
				count(*) filter (where inside) over (partition by source_id) as inside_rows
			from held semi join used using (source_id)
		)
		select s.path, first_line, last_line, inside_rows, line, t_s, inside, `+list+`
		from ranked join source s using (source_id)
		where (t_s < $from - 1e-6 and before_from <= $near) or (t_s >= $from - 1e-6 and after_from <= $near)
			or (t_s <= $to + 1e-6 and before_to <= $near) or (t_s > $to + 1e-6 and after_to <= $near)
		order by s.path, t_s, line`, args...)
	if err != nil {
		return nil, fmt.Errorf("metrics: why: %w", err)
	}
	defer rows.Close()
	var out []SourceEvidence
	for rows.Next() {
		var s SourceEvidence
		var r Reading
		values := make([]sql.NullFloat64, len(channels))
		dest := []any{&s.Path, &s.First, &s.Last, &s.Rows, &r.Line, &r.T, &r.Inside}
		for i := range values {
			dest = append(dest, &values[i])
		}
		if err := rows.Scan(dest...); err != nil {
			return nil, fmt.Errorf("metrics: why: %w", err)
		}
		if len(out) == 0 || out[len(out)-1].Path != s.Path {
			s.Columns, s.columnHasAnyReading = channels, make([]bool, len(channels))
			out = append(out, s)
		}
		last := &out[len(out)-1]
		for i, v := range values {
			r.Values = append(r.Values, number(v))
			last.columnHasAnyReading[i] = last.columnHasAnyReading[i] || v.Valid
		}
		last.Near = append(last.Near, r)
	}
	for i := range out {
		out[i].dropEmptyColumns()
	}
	return out, rows.Err()
}

// dropEmptyColumns leaves out the channels that no row shown has.
func (s *SourceEvidence) dropEmptyColumns() {
	var columns []string
	for i, name := range s.Columns {
		if s.columnHasAnyReading[i] {
			columns = append(columns, name)
		}
	}
	for r := range s.Near {
		var values []*float64
		for i, v := range s.Near[r].Values {
			if s.columnHasAnyReading[i] {
				values = append(values, v)
			}
		}
		s.Near[r].Values = values
	}
	s.Columns = columns
}
