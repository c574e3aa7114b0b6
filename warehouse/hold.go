package warehouse

import (
	"context"
	"fmt"
	"strconv"
	"strings"
)

// Hold takes the readings of the scope into memory, for those who read them many
// times; once a scope. Rows of one source then stand together, in order of t_s and
// line, so that a window over (), which sorts nothing, finds the row before in the
// row before. A source that goes on from another is one with it, by its source_id.
// Channels that none of them has are NULL by definition, so that what asks for them
// costs nothing. Beside t_s they have t_us, the same in whole microseconds, for what
// compares many: DuckDB looks at each double whether it is a number.
func (w *Workspace) Hold(ctx context.Context) error {
	if w.held {
		return nil
	}
	if err := w.hold(ctx); err != nil {
		return fmt.Errorf("warehouse: hold readings: %w", err)
	}
	w.held = true
	return nil
}

func (w *Workspace) hold(ctx context.Context) error {
	columns, err := w.describe(ctx, `select column_name, column_type from (describe reading)`)
	if err != nil {
		return err
	}
	var first, last int32
	var joined bool
	err = w.conn.QueryRowContext(ctx, `select coalesce(min(source_no), 0), coalesce(max(source_no), 0), count(continues_after) > 0 from source_key`).Scan(&first, &last, &joined)
	if err != nil {
		return err
	}
	// The join finds the rows; the range, which parts of the table hold none.
	from := ` from series.reading r join source_key k using (source_no) where r.source_no between ` + strconv.Itoa(int(first)) + ` and ` + strconv.Itoa(int(last))
	if joined {
		from += ` and (k.continues_after is null or r.at > k.continues_after)`
	}
	keys := map[string]string{"session_id": "k.", "source_id": "k.", "line": "r.", "t_s": "r."}
	var counts []string
	for _, c := range columns {
		if keys[c.name] == "" {
			counts = append(counts, `count(r.`+quote(c.name)+`)`)
		}
	}
	n := make([]int64, len(counts))
	into := make([]any, len(n))
	for i := range n {
		into[i] = &n[i]
	}
	if err := w.conn.QueryRowContext(ctx, `select `+strings.Join(counts, ", ")+from).Scan(into...); err != nil {
		return err
	}
	var have, all []string
	for _, c := range columns {
		of := keys[c.name]
		if of == "" {
			if n[0] > 0 {
				of = "r."
			}
			n = n[1:]
		}
		if of == "" {
			all = append(all, `null::`+c.kind+` as `+quote(c.name))
			continue
		}
		have = append(have, of+quote(c.name))
		all = append(all, quote(c.name))
	}
	have, all = append(have, `(r.t_s * 1000000)::bigint as t_us`), append(all, `t_us`)
	if _, err := w.conn.ExecContext(ctx, `create or replace temp table held_reading as select `+strings.Join(have, ", ")+from); err != nil {
		return err
	}
	// Ingest writes them in this order, so nearly always a look is enough.
	var sorted bool
	err = w.conn.QueryRowContext(ctx, `
		select coalesce(count_if(source_id is distinct from before_id) = count(distinct source_id)
			and not bool_or(source_id = before_id and (t_us < before_us or t_us = before_us and line < before_line)), true)
		from (
			select source_id, t_us, line, lag(source_id) over () as before_id, lag(t_us) over () as before_us, lag(line) over () as before_line
			from temp.held_reading
		)`).Scan(&sorted)
	if err != nil {
		return err
	}
	if !sorted {
		if _, err := w.conn.ExecContext(ctx, `create or replace temp table held_reading as from temp.held_reading order by session_id, source_id, t_us, line`); err != nil {
			return err
		}
	}
	_, err = w.conn.ExecContext(ctx, `create or replace view reading as select `+strings.Join(all, ", ")+` from temp.held_reading`)
	return err
}

type column struct{ name, kind string }

func (w *Workspace) describe(ctx context.Context, query string) ([]column, error) {
	rows, err := w.conn.QueryContext(ctx, query)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var columns []column
	for rows.Next() {
		var c column
		if err := rows.Scan(&c.name, &c.kind); err != nil {
			return nil, err
		}
		columns = append(columns, c)
	}
	return columns, rows.Err()
}
