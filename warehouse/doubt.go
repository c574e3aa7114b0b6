package warehouse

import (
	"context"
	"fmt"
	"time"
)

// A Span is from when to when a source of a session has readings.
type Span struct {
	SourceID    string
	First, Last time.Time
	Car         bool // it tells of more than the weather
}

// Spans returns the span of each source of the session that has readings, by ID.
func (l *Load) Spans(ctx context.Context) ([]Span, error) {
	rows, err := l.s.conn.QueryContext(ctx, `
		select source_id, min(at), max(at), count(coalesce(soc_pct, pack_power_kw, pack_voltage_v, pack_current_a, pack_energy_kwh, heater_power_kw,
			charger_power_kw, charger_voltage_v, charger_current_a, charger_energy_kwh)) > 0
		from reading where session_id = ? group by source_id order by source_id`, l.sessionID)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var spans []Span
	for rows.Next() {
		var s Span
		if err := rows.Scan(&s.SourceID, &s.First, &s.Last, &s.Car); err != nil {
			return nil, err
		}
		spans = append(spans, s)
	}
	return spans, rows.Err()
}

// A SmallCharge is a source whose state of charge rises and never passes 1 %,
// though the session has energy for more.
type SmallCharge struct {
	SourceID, Profile, Column string
	Highest                   float64 // %
	KWh                       float64 // the most that a source of the session tells of
}

// SmallCharges returns the session's sources of that kind that have a profile, by
// ID. 3 kWh are more than 1 % of any pack; a display that stands still tells
// nothing. Power counts for 10 min at most.
func (l *Load) SmallCharges(ctx context.Context) ([]SmallCharge, error) {
	var small []SmallCharge
	rows, err := l.s.conn.QueryContext(ctx, `
		select r.source_id, s.profile, coalesce(any_value(i.column_name), ''), max(r.soc_pct)
		from reading r
		join source s using (session_id, source_id)
		left join instrument i on i.session_id = r.session_id and i.source_id = r.source_id and i.channel = 'soc_pct'
		where r.session_id = ? and s.profile is not null and r.soc_pct is not null
		group by r.source_id, s.profile
		having max(r.soc_pct) <= 1 and max(r.soc_pct) - min(r.soc_pct) >= 0.05
		order by r.source_id`, l.sessionID)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var c SmallCharge
		if err := rows.Scan(&c.SourceID, &c.Profile, &c.Column, &c.Highest); err != nil {
			return nil, err
		}
		small = append(small, c)
	}
	if err := rows.Err(); err != nil || small == nil {
		return nil, err
	}
	var kwh float64
	err = l.s.conn.QueryRowContext(ctx, `
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

// Withdraw is Refuse for a session that was loaded: its row stays, with the problem.
func (l *Load) Withdraw(ctx context.Context, problem string) error {
	for _, table := range sourceTables {
		if _, err := l.s.conn.ExecContext(ctx, `delete from `+table+` where session_id = ?`, l.sessionID); err != nil {
			return err
		}
	}
	_, err := l.s.conn.ExecContext(ctx, `update session set problem = ? where session_id = ?`, problem, l.sessionID)
	return err
}
