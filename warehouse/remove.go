package warehouse

import "context"

// RemoveSource deletes all that came from one source of the session.
func (l *Load) RemoveSource(ctx context.Context, sourceID string) error {
	n, err := l.number(ctx, sourceID)
	if err != nil {
		return err
	}
	if _, err := l.s.conn.ExecContext(ctx, `delete from reading where source_no = ?`, n); err != nil {
		return err
	}
	for _, table := range sourceTables {
		if _, err := l.s.conn.ExecContext(ctx, `delete from `+table+` where session_id = ? and source_id = ?`, l.sessionID, sourceID); err != nil {
			return err
		}
	}
	return nil
}

// sourceTables hold what came from sources, beside readings.
var sourceTables = []string{"event", "set_aside", "instrument", "source"}

// number is a source's number, or 0 if the warehouse does not hold it.
func (l *Load) number(ctx context.Context, sourceID string) (n int32, err error) {
	err = l.s.conn.QueryRowContext(ctx, `select coalesce(max(source_no), 0) from source where session_id = ? and source_id = ?`, l.sessionID, sourceID).Scan(&n)
	return n, err
}

// numbers are the least and the greatest of the numbers of the session's sources,
// between which others may lie.
func (l *Load) numbers(ctx context.Context) (from, to int32, err error) {
	err = l.s.conn.QueryRowContext(ctx, `select coalesce(min(source_no), 0), coalesce(max(source_no), 0) from source where session_id = ?`, l.sessionID).Scan(&from, &to)
	return from, to, err
}

// Refuse keeps the session's row with the problem for which nothing was read,
// and deletes what was read of it before, so that no old reading stands for
// what the folder now says.
func (l *Load) Refuse(ctx context.Context, ses Session, problem string) error {
	if err := l.Remove(ctx); err != nil {
		return err
	}
	return l.sessionRow(ctx, ses, problem)
}

// Remove deletes the session and all that came from it.
func (l *Load) Remove(ctx context.Context) error {
	if err := l.removeSources(ctx); err != nil {
		return err
	}
	_, err := l.s.conn.ExecContext(ctx, `delete from session where session_id = ?`, l.sessionID)
	return err
}

// removeSources deletes all that came from the session's sources.
func (l *Load) removeSources(ctx context.Context) error {
	from, to, err := l.numbers(ctx)
	if err != nil {
		return err
	}
	if _, err := l.s.conn.ExecContext(ctx, `delete from reading where source_no between ? and ? and session_id = ?`, from, to, l.sessionID); err != nil {
		return err
	}
	for _, table := range sourceTables {
		if _, err := l.s.conn.ExecContext(ctx, `delete from `+table+` where session_id = ?`, l.sessionID); err != nil {
			return err
		}
	}
	return nil
}

// Withdraw is Refuse for a session that was loaded: its row stays, with the problem.
func (l *Load) Withdraw(ctx context.Context, problem string) error {
	if err := l.removeSources(ctx); err != nil {
		return err
	}
	_, err := l.s.conn.ExecContext(ctx, `update session set problem = ? where session_id = ?`, problem, l.sessionID)
	return err
}
