package warehouse

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"fmt"
	"slices"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/marcboeker/go-duckdb"
)

// Tables are the warehouse's tables that are for others to read, in the order in
// which they build on each other.
func Tables() []string {
	return []string{"protocol", "vehicle", "session", "source", "instrument", "reading", "event", "set_aside", "edition", "figure", "gate", "standing"}
}

// perSession are the tables that grow with the rows of logs.
var perSession = []string{"instrument", "reading", "event", "set_aside"}

// Records hands out a table: its schema to begin, then its rows to take, which
// must not keep them. The rows are in the order of their columns, readings in that
// of session, source, time and line, whatever order they were loaded in. The
// driver holds the whole of a result in memory; so what grows with the rows of logs
// is read a session at a time.
func (w *Workspace) Records(ctx context.Context, table string, begin func(*arrow.Schema) error, take func(arrow.Record) error) error {
	if !slices.Contains(Tables(), table) {
		return fmt.Errorf("warehouse: there is no table %q", table)
	}
	order := "all"
	if table == "reading" {
		order = "source_id, t_s, line"
	}
	err := records(ctx, w.conn, begin, take, `from `+table+` where false`)
	switch {
	case err != nil:
	case !slices.Contains(perSession, table):
		err = records(ctx, w.conn, nil, take, `from `+table+` order by `+order)
	default:
		var sessions []string
		sessions, err = w.texts(ctx, `select distinct session_id from `+table+` order by session_id`)
		for i := 0; i < len(sessions) && err == nil; i++ {
			err = records(ctx, w.conn, nil, take, `from `+table+` where session_id = ? order by `+order, sessions[i])
		}
	}
	if err != nil {
		return fmt.Errorf("warehouse: %s: %w", table, err)
	}
	return nil
}

// records hands out what a query gives; begin may be nil.
func records(ctx context.Context, conn *sql.Conn, begin func(*arrow.Schema) error, take func(arrow.Record) error, query string, args ...any) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	return conn.Raw(func(dc any) error {
		a, err := duckdb.NewArrowFromConn(dc.(driver.Conn))
		if err != nil {
			return err
		}
		rows, err := a.QueryContext(ctx, query, args...)
		if err != nil {
			return err
		}
		defer rows.Release()
		if begin != nil {
			if err := begin(rows.Schema()); err != nil {
				return err
			}
		}
		for rows.Next() {
			if err := take(rows.Record()); err != nil {
				return err
			}
		}
		return rows.Err()
	})
}

// texts is a query's only column.
func (w *Workspace) texts(ctx context.Context, query string) ([]string, error) {
	rows, err := w.conn.QueryContext(ctx, query)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []string
	for rows.Next() {
		var s string
		if err := rows.Scan(&s); err != nil {
			return nil, err
		}
		out = append(out, s)
	}
	return out, rows.Err()
}
