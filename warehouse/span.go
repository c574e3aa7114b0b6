package warehouse

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
)

// stands is last_no of a row that the newest edition has.
const stands = math.MaxInt32

// A spanned row is kept once for all editions, one after the other, that have it.
type spanned[R any] interface {
	key() [2]string // session and name, of which an edition has one
	same(R) bool
	values() []driver.Value // of all columns but the numbers of editions
}

func (f Figure) key() [2]string { return [2]string{f.Session, f.Figure} }

func (f Figure) same(o Figure) bool {
	return f.Status == o.Status && f.Basis == o.Basis && f.Note == o.Note &&
		equal(f.Value, o.Value) && equal(f.U, o.U) && equal(f.From, o.From) && equal(f.To, o.To)
}

func (f Figure) values() []driver.Value {
	return []driver.Value{f.Session, f.Figure, maybe(f.Value), maybe(f.U), maybe(f.From), maybe(f.To), f.Status, null(f.Note), f.Basis}
}

func (g Gate) key() [2]string { return [2]string{g.Session, g.Gate} }

func (g Gate) same(o Gate) bool { return g == o }

func (g Gate) values() []driver.Value { return []driver.Value{g.Session, g.Gate, g.Verdict, g.Reason} }

// equal reports whether two numbers are the same, or none.
func equal(a, b *float64) bool { return a == b || a != nil && b != nil && *a == *b }

// succeed lets rows of a table stand from edition no on. Of those that have stood
// before, the ones that are just so stay, and the others end with the edition before.
func succeed[R spanned[R]](ctx context.Context, s *Store, table string, no int32, before, rows []R) error {
	had := make(map[[2]string]R, len(before))
	for _, r := range before {
		had[r.key()] = r
	}
	var fresh []R
	for _, r := range rows {
		if old, ok := had[r.key()]; ok && r.same(old) {
			delete(had, r.key())
		} else {
			fresh = append(fresh, r)
		}
	}
	if len(had) > 0 {
		ended := slices.Collect(maps.Keys(had))
		if _, err := s.conn.ExecContext(ctx, `create or replace temp table ended (session varchar, name varchar)`); err != nil {
			return err
		}
		err := s.append("ended", len(ended), func(i int) []driver.Value { return []driver.Value{ended[i][0], ended[i][1]} })
		if err != nil {
			return err
		}
		_, err = s.conn.ExecContext(ctx, `update `+table+`_span set last_no = ? from temp.ended where session_id = session and `+table+` = name and last_no = ?`, no-1, stands)
		if err != nil {
			return err
		}
	}
	return s.append(table+"_span", len(fresh), func(i int) []driver.Value { return append(fresh[i].values(), no, int32(stands)) })
}

// standingGates returns the gates of the newest edition.
func standingGates(ctx context.Context, conn *sql.Conn) ([]Gate, error) {
	var out []Gate
	known := texts{}
	err := records(ctx, conn, nil, func(r arrow.Record) error {
		for i := range int(r.NumRows()) {
			out = append(out, Gate{Session: known.text(r, 0, i), Gate: known.text(r, 1, i), Verdict: known.text(r, 2, i), Reason: known.text(r, 3, i)})
		}
		return nil
	}, `select session_id, gate, verdict, reason from gate_span where last_no = ?`, stands)
	return out, err
}

// Figures returns the figures of the newest edition.
func (w *Workspace) Figures(ctx context.Context) ([]Figure, error) {
	out, err := standingFigures(ctx, w.conn, "series")
	if err != nil {
		return nil, fmt.Errorf("warehouse: figures of the newest edition: %w", err)
	}
	return out, nil
}

// standingFigures returns the figures of the newest edition of the database name.
func standingFigures(ctx context.Context, conn *sql.Conn, name string) ([]Figure, error) {
	var out []Figure
	known := texts{}
	number := func(r arrow.Record, column, row int) *float64 {
		c := r.Column(column).(*array.Float64)
		if c.IsNull(row) {
			return nil
		}
		v := c.Value(row)
		return &v
	}
	err := records(ctx, conn, nil, func(r arrow.Record) error {
		for i := range int(r.NumRows()) {
			out = append(out, Figure{Session: known.text(r, 0, i), Figure: known.text(r, 1, i),
				Value: number(r, 2, i), U: number(r, 3, i), From: number(r, 4, i), To: number(r, 5, i),
				Status: known.text(r, 6, i), Note: known.text(r, 7, i), Basis: strings.Clone(text(r, 8, i))})
		}
		return nil
	}, `select session_id, figure, value, uncertainty, from_s, to_s, status, coalesce(note, ''), basis from `+name+`.figure_span where last_no = ?`, stands)
	return out, err
}

// texts holds each text of a result once: there are many rows of few names.
type texts map[string]string

func (t texts) text(r arrow.Record, column, row int) string {
	s := text(r, column, row)
	known, ok := t[s]
	if !ok {
		known = strings.Clone(s)
		t[known] = known
	}
	return known
}

// text is gone with the record.
func text(r arrow.Record, column, row int) string { return r.Column(column).(*array.String).Value(row) }
