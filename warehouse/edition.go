package warehouse

import (
	"context"
	"database/sql/driver"
	"fmt"
	"time"
)

// An Edition is what the tables edition, figure, gate and standing keep of one
// run, and the logs that were made for it. nil numbers are NULL.
type Edition struct {
	ID        string
	At        time.Time
	Program   string
	Inputs    string // hash of all inputs
	Figures   []Figure
	Gates     []Gate
	Standings []Standing
	Logs      []Log
}

// A Figure is a row of the table figure.
type Figure struct {
	Session, Figure    string
	Value, U, From, To *float64
	Status, Note       string
	Basis              string
}

// A Gate is a row of the table gate.
type Gate struct{ Session, Gate, Verdict, Reason string }

// A Standing is a row of the table standing; place 0 is kept as NULL.
type Standing struct {
	Vehicle                string
	Place, Lowest, Highest int
	Score, U               float64
	Reason                 string
}

// PutEdition adds an edition, or replaces the one of that ID, and keeps its logs. It
// keeps nothing if written, which it calls before it ends, returns an error: the
// edition is written where it is published while its rows are, and must be there.
func (s *Store) PutEdition(ctx context.Context, e Edition, written func() error) error {
	err := s.transact(ctx, func() error {
		var no int32
		if err := s.conn.QueryRowContext(ctx, `select coalesce(max(edition_no), 0) + 1 from edition`).Scan(&no); err != nil {
			return err
		}
		for _, table := range []string{"edition", "standing"} {
			if _, err := s.conn.ExecContext(ctx, `delete from `+table+` where edition_id = ?`, e.ID); err != nil {
				return err
			}
		}
		if _, err := s.conn.ExecContext(ctx, `insert into edition values (?, ?, ?, ?, ?)`, e.ID, e.At.UTC(), e.Program, e.Inputs, no); err != nil {
			return err
		}
		figures, err := standingFigures(ctx, s.conn, "main")
		if err != nil {
			return err
		}
		if err := succeed(ctx, s, "figure", no, figures, e.Figures); err != nil {
			return err
		}
		gates, err := standingGates(ctx, s.conn)
		if err != nil {
			return err
		}
		if err := succeed(ctx, s, "gate", no, gates, e.Gates); err != nil {
			return err
		}
		err = s.append("standing", len(e.Standings), func(i int) []driver.Value {
			st := e.Standings[i]
			return []driver.Value{e.ID, st.Vehicle, null(int32(st.Place)), null(int32(st.Lowest)), null(int32(st.Highest)), st.Score, st.U, null(st.Reason)}
		})
		if err != nil {
			return err
		}
		if err := s.putLogs(ctx, e.Logs); err != nil {
			return err
		}
		return written()
	})
	if err != nil {
		return fmt.Errorf("warehouse: put edition %s: %w", e.ID, err)
	}
	return nil
}

// HasEdition reports whether the warehouse keeps the edition's rows.
func (w *Workspace) HasEdition(ctx context.Context, id string) (bool, error) {
	var n int
	if err := w.conn.QueryRowContext(ctx, `select count(*) from series.edition where edition_id = ?`, id).Scan(&n); err != nil {
		return false, fmt.Errorf("warehouse: edition %s: %w", id, err)
	}
	return n > 0, nil
}

// maybe is a number, or NULL for nil.
func maybe(v *float64) any {
	if v == nil {
		return nil
	}
	return *v
}

// An AsideCount is how many rows of a source were set aside, with the first few.
type AsideCount struct {
	Path  string
	Rows  int64
	First []Aside
}

// SetAside returns the sources that have rows set aside, by path, with at most
// first of each one's rows.
func (s *Store) SetAside(ctx context.Context, first int) ([]AsideCount, error) {
	rows, err := s.conn.QueryContext(ctx, `
		with numbered as (
			select r.path, r.rows_aside, a.*, row_number() over (partition by a.source_id order by a.line) as n
			from set_aside a join source r using (source_id)
		)
		select path, rows_aside, line, coalesce(col, 0), coalesce(raw, ''), reason, coalesce(hint, '')
		from numbered where n <= ? order by path, line`, first)
	if err != nil {
		return nil, fmt.Errorf("warehouse: set aside: %w", err)
	}
	defer rows.Close()
	var out []AsideCount
	for rows.Next() {
		var c AsideCount
		var a Aside
		if err := rows.Scan(&c.Path, &c.Rows, &a.Line, &a.Col, &a.Raw, &a.Reason, &a.Hint); err != nil {
			return nil, fmt.Errorf("warehouse: set aside: %w", err)
		}
		if len(out) == 0 || out[len(out)-1].Path != c.Path {
			out = append(out, c)
		}
		out[len(out)-1].First = append(out[len(out)-1].First, a)
	}
	return out, rows.Err()
}
