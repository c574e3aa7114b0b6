package warehouse

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"fmt"
)

// A Log is a row of the table kept_log. The log itself is there twice: whole, and
// thinned to the fewest rows that a series shows.
type Log struct {
	Session, Basis string
	Body, Least    []byte
}

// putLogs replaces the kept logs of their sessions, and forgets those of sessions
// that the series no longer has.
func (s *Store) putLogs(ctx context.Context, logs []Log) error {
	for _, l := range logs {
		if _, err := s.conn.ExecContext(ctx, `delete from kept_log where session_id = ?`, l.Session); err != nil {
			return err
		}
	}
	if _, err := s.conn.ExecContext(ctx, `delete from kept_log where session_id not in (select session_id from session)`); err != nil {
		return err
	}
	return s.append("kept_log", len(logs), func(i int) []driver.Value {
		return []driver.Value{logs[i].Session, logs[i].Basis, logs[i].Body, logs[i].Least}
	})
}

// KeptLogs hands every kept log to take, in no order: with its Least alone, or with
// its Body alone.
func (w *Workspace) KeptLogs(ctx context.Context, least bool, take func(Log)) error {
	rows, err := w.conn.QueryContext(ctx, `
		select session_id, basis, case when not $least then body end, case when $least then least end
		from series.kept_log`, sql.Named("least", least))
	if err != nil {
		return fmt.Errorf("warehouse: kept logs: %w", err)
	}
	defer rows.Close()
	for rows.Next() {
		var l Log
		if err := rows.Scan(&l.Session, &l.Basis, &l.Body, &l.Least); err != nil {
			return fmt.Errorf("warehouse: kept logs: %w", err)
		}
		take(l)
	}
	if err := rows.Err(); err != nil {
		return fmt.Errorf("warehouse: kept logs: %w", err)
	}
	return nil
}
