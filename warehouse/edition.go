package warehouse

import (
	"context"
	"database/sql/driver"
	"fmt"
	"strings"
	"time"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
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
		for _, table := range []string{"edition", "figure", "gate", "standing"} {
			if _, err := s.conn.ExecContext(ctx, `delete from `+table+` where edition_id = ?`, e.ID); err != nil {
				return err
			}
		}
		if _, err := s.conn.ExecContext(ctx, `insert into edition values (?, ?, ?, ?)`, e.ID, e.At.UTC(), e.Program, e.Inputs); err != nil {
			return err
		}
		err := s.append("figure", len(e.Figures), func(i int) []driver.Value {
			f := e.Figures[i]
			return []driver.Value{e.ID, f.Session, f.Figure, maybe(f.Value), maybe(f.U), maybe(f.From), maybe(f.To), f.Status, null(f.Note), f.Basis}
		})
		if err != nil {
			return err
		}
		err = s.append("gate", len(e.Gates), func(i int) []driver.Value {
			g := e.Gates[i]
			return []driver.Value{e.ID, g.Session, g.Gate, g.Verdict, g.Reason}
		})
		if err != nil {
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

// Figures returns the figures of the latest edition. There are many of few names:
// they are taken by column, and each text is there once.
func (w *Workspace) Figures(ctx context.Context) ([]Figure, error) {
	var out []Figure
	texts := map[string]string{}
	err := w.arrow(ctx, nil, func(r arrow.Record) error {
		text := func(column, row int) string {
			s := r.Column(column).(*array.String).Value(row) // gone with the record
			known, ok := texts[s]
			if !ok {
				known = strings.Clone(s)
				texts[known] = known
			}
			return known
		}
		number := func(column, row int) *float64 {
			c := r.Column(column).(*array.Float64)
			if c.IsNull(row) {
				return nil
			}
			v := c.Value(row)
			return &v
		}
		for i := range int(r.NumRows()) {
			out = append(out, Figure{Session: text(0, i), Figure: text(1, i), Value: number(2, i), U: number(3, i), From: number(4, i), To: number(5, i),
				Status: text(6, i), Note: text(7, i), Basis: strings.Clone(r.Column(8).(*array.String).Value(i))})
		}
		return nil
	}, `
		select session_id, figure, value, uncertainty, from_s, to_s, status, coalesce(note, ''), basis
		from figure where edition_id = (select edition_id from edition order by at desc, edition_id desc limit 1)`)
	if err != nil {
		return nil, fmt.Errorf("warehouse: figures of the latest edition: %w", err)
	}
	return out, nil
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
