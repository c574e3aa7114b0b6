package warehouse

import (
	"context"
	"fmt"
)

// An EmptySource is one that was read and has no row at all.
type EmptySource struct {
	Path        string
	Accompanied bool // another source of the session, of its kind and profile, has rows
}

const emptySources = `
	select path, exists (
		select 1 from source o
		where o.session_id = s.session_id and o.kind = s.kind and o.profile is not distinct from s.profile and o.rows_kept > 0
	)
	from source s where rows_read = 0 and (? = '' or session_id = ?) order by path`

// Empty returns the sources without a row, by path.
func (s *Store) Empty(ctx context.Context) ([]EmptySource, error) { return s.empty(ctx, "") }

// Empty returns those of the session, by path.
func (l *Load) Empty(ctx context.Context) ([]EmptySource, error) { return l.s.empty(ctx, l.sessionID) }

func (s *Store) empty(ctx context.Context, sessionID string) ([]EmptySource, error) {
	rows, err := s.conn.QueryContext(ctx, emptySources, sessionID, sessionID)
	if err != nil {
		return nil, fmt.Errorf("warehouse: empty sources: %w", err)
	}
	defer rows.Close()
	var out []EmptySource
	for rows.Next() {
		var e EmptySource
		if err := rows.Scan(&e.Path, &e.Accompanied); err != nil {
			return nil, fmt.Errorf("warehouse: empty sources: %w", err)
		}
		out = append(out, e)
	}
	return out, rows.Err()
}
