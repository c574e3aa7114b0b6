package warehouse

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"
)

// A Span is from when to when a source of a session has readings, and what its
// displayed charge went through, in %; 0 and 0 where it has none.
type Span struct {
	SourceID        string
	First, Last     time.Time
	Car             bool // it tells of more than the weather
	LowSoC, HighSoC float64
	Register        *[2]float64 // what a charger's register showed first and last, in kWh; nil: it has none
	OffsetU         float64     // of its clock, in s
	number          int32
}

// Spans returns the span of each source of the session that has readings, by ID.
// It looks at one source at a time: millions of rows that are not to be told apart
// by a name take a tenth of the time.
func (l *Load) Spans(ctx context.Context) ([]Span, error) {
	rows, err := l.s.conn.QueryContext(ctx, `select source_id, source_no, offset_u_s from source where session_id = ? order by source_id`, l.sessionID)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var sources []Span
	for rows.Next() {
		var s Span
		if err := rows.Scan(&s.SourceID, &s.number, &s.OffsetU); err != nil {
			return nil, err
		}
		sources = append(sources, s)
	}
	if err := rows.Err(); err != nil {
		return nil, err
	}
	var spans []Span
	for _, s := range sources {
		var first, last sql.NullTime
		var register bool
		err := l.s.conn.QueryRowContext(ctx, `
			select min(at), max(at), count(soc_pct) + count(pack_power_kw) + count(pack_voltage_v) + count(pack_current_a) + count(pack_energy_kwh)
				+ count(heater_power_kw) + count(charger_power_kw) + count(charger_voltage_v) + count(charger_current_a) + count(charger_energy_kwh) > 0,
				count(charger_energy_kwh) > 0, coalesce(min(soc_pct), 0), coalesce(max(soc_pct), 0)
			from reading where source_no = ?`, s.number).Scan(&first, &last, &s.Car, &register, &s.LowSoC, &s.HighSoC)
		if err != nil {
			return nil, err
		}
		if register {
			s.Register = &[2]float64{}
			err := l.s.conn.QueryRowContext(ctx, `select arg_min(charger_energy_kwh, at), arg_max(charger_energy_kwh, at) from reading where source_no = ?`, s.number).Scan(&s.Register[0], &s.Register[1])
			if err != nil {
				return nil, err
			}
		}
		if first.Valid {
			s.First, s.Last = first.Time, last.Time
			spans = append(spans, s)
		}
	}
	return spans, nil
}

// Before is how many readings of a source are from before a moment, of how many, and the
// last line of them.
func (l *Load) Before(ctx context.Context, s Span, at time.Time) (rows, all, line int64, err error) {
	err = l.s.conn.QueryRowContext(ctx, `select count_if(at < $at), count(*), coalesce(max(line) filter (where at < $at), 0) from reading where source_no = $no`,
		sql.Named("at", at.UTC()), sql.Named("no", s.number)).Scan(&rows, &all, &line)
	return rows, all, line, err
}

// SetAsideBefore sets aside the readings of a source that are from before a moment.
// What they hold is in the file, by their lines: they have no raw text.
func (l *Load) SetAsideBefore(ctx context.Context, s Span, at time.Time, reason, hint string) error {
	for _, q := range []struct {
		text string
		args []any
	}{
		{`insert into set_aside
			select session_id, source_id, line, null, null, ?, ? from reading where source_no = ? and at < ? order by line`, []any{reason, hint, s.number, at.UTC()}},
		{`update source set rows_kept = rows_kept - n, rows_aside = rows_aside + n
			from (select count(*) as n from reading where source_no = ? and at < ?) where source_no = ?`, []any{s.number, at.UTC(), s.number}},
		{`delete from reading where source_no = ? and at < ?`, []any{s.number, at.UTC()}},
	} {
		if _, err := l.s.conn.ExecContext(ctx, q.text, q.args...); err != nil {
			return err
		}
	}
	return nil
}

// Continues notes which of the session's sources go on from which: a chain of them,
// in order of time, is one source for figures, each part from where the one before it
// ends.
func (l *Load) Continues(ctx context.Context, chains [][]Span) error {
	_, err := l.s.conn.ExecContext(ctx, `
		update source set continues = null, continues_after = null, joined_u_s = null
		where session_id = ? and (continues is not null or joined_u_s is not null)`, l.sessionID)
	if err != nil {
		return err
	}
	for _, chain := range chains {
		u := 0.0
		for i, part := range chain {
			u = max(u, part.OffsetU)
			if i == 0 {
				continue
			}
			_, err := l.s.conn.ExecContext(ctx, `update source set continues = ?, continues_after = ? where session_id = ? and source_id = ?`,
				chain[0].SourceID, chain[i-1].Last.UTC(), l.sessionID, part.SourceID)
			if err != nil {
				return err
			}
		}
		if _, err := l.s.conn.ExecContext(ctx, `update source set joined_u_s = ? where session_id = ? and source_id = ?`, u, l.sessionID, chain[0].SourceID); err != nil {
			return err
		}
	}
	return nil
}

// A SmallCharge is a source whose state of charge rises and never passes 1 %,
// though the session has energy for more.
type SmallCharge struct {
	SourceID, Profile, Column string
	Highest                   float64 // %
	KWh                       float64 // the most that a source of the session tells of
}

// SmallCharges returns those of the session's sources that have a profile, in the
// order of spans. 3 kWh are more than 1 % of any pack; a display that stands still
// tells nothing. Power counts for 10 min at most.
func (l *Load) SmallCharges(ctx context.Context, spans []Span) ([]SmallCharge, error) {
	var small []SmallCharge
	for _, s := range spans {
		if s.HighSoC > 1 || s.HighSoC-s.LowSoC < 0.05 {
			continue
		}
		c := SmallCharge{SourceID: s.SourceID, Highest: s.HighSoC}
		err := l.s.conn.QueryRowContext(ctx, `
			select s.profile, coalesce(i.column_name, '')
			from source s left join instrument i on i.session_id = s.session_id and i.source_id = s.source_id and i.channel = 'soc_pct'
			where s.session_id = ? and s.source_id = ? and s.profile is not null`, l.sessionID, s.SourceID).Scan(&c.Profile, &c.Column)
		if errors.Is(err, sql.ErrNoRows) {
			continue
		}
		if err != nil {
			return nil, err
		}
		small = append(small, c)
	}
	if small == nil {
		return nil, nil
	}
	var kwh float64
	err := l.s.conn.QueryRowContext(ctx, `
		with rows as (
			select *, least((epoch_us(lead(at, 1, at) over (partition by source_id order by at, line)) - epoch_us(at)) / 1e6, 600) / 3600 as h
			from reading
			where session_id = ?
		),
		told as (
			select
				sum(greatest(coalesce(pack_power_kw, pack_voltage_v * pack_current_a / 1000), 0) * h) as pack,
				sum(greatest(coalesce(charger_power_kw, charger_voltage_v * charger_current_a / 1000), 0) * h) as charger,
				max(pack_energy_kwh) - min(pack_energy_kwh) as pack_register,
				max(charger_energy_kwh) - min(charger_energy_kwh) as charger_register
			from rows
			group by source_id
		)
		select coalesce(max(greatest(pack, charger, pack_register, charger_register)), 0) from told`, l.sessionID).Scan(&kwh)
	if err != nil || kwh <= 3 {
		return nil, err
	}
	for i := range small {
		small[i].KWh = kwh
	}
	return small, nil
}

// A Twin is a session that starts at the moment at which another, with an ID
// before its own, does, with the same vehicle and procedure.
type Twin struct {
	SessionID, Of string
	Zero          time.Time
}

// Twins returns the sessions that have such another, by ID. A minute is as good as
// notes are.
func (s *Store) Twins(ctx context.Context) ([]Twin, error) {
	rows, err := s.conn.QueryContext(ctx, `
		select b.session_id, min(a.session_id), any_value(b.zero)
		from session a join session b
			on a.vehicle_id = b.vehicle_id and a.procedure = b.procedure and a.session_id < b.session_id
			and abs(epoch_us(a.zero) - epoch_us(b.zero)) < 60e6
		where a.problem is null and b.problem is null
		group by b.session_id
		order by b.session_id`)
	if err != nil {
		return nil, fmt.Errorf("warehouse: twins: %w", err)
	}
	defer rows.Close()
	var twins []Twin
	for rows.Next() {
		var t Twin
		if err := rows.Scan(&t.SessionID, &t.Of, &t.Zero); err != nil {
			return nil, fmt.Errorf("warehouse: twins: %w", err)
		}
		twins = append(twins, t)
	}
	if err := rows.Err(); err != nil {
		return nil, fmt.Errorf("warehouse: twins: %w", err)
	}
	return twins, nil
}
