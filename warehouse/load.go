package warehouse

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"fmt"
	"strings"
	"time"

	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/marcboeker/go-duckdb"
)

// A Vehicle is a row of the table vehicle. Zero numbers are kept as NULL.
type Vehicle struct {
	ID, Name                                       string
	UsableKWh, PackMassKg, RatedWhKm, PeakChargeKW float64
	Heater, Remark, SHA256                         string
}

// A Parameter is one number of the protocol.
type Parameter struct {
	Name  string
	Value float64
}

// A Session is a row of the table session.
type Session struct {
	ID, VehicleID, Procedure, Zone string
	SoakStart                      time.Time // zero: not stated
	Zero                           time.Time // zero: none, and no reading has a t_s
	ZeroU                          float64   // s
	ZeroFrom                       string
	Charger                        string
	ChargerKW                      float64
	Tester, Remark, SHA256         string
}

// A Source is a row of the table source, as far as it is known before reading.
type Source struct {
	ID, SessionID, Path, Kind, Profile, SHA256 string
	Bytes                                      int64
	OffsetS, OffsetU                           float64
	Settings                                   string
}

// An Instrument is a row of the table instrument.
type Instrument struct {
	Channel, Column, Unit  string
	Resolution, URel, UAbs float64
}

// An Event is a row of the table event.
type Event struct {
	Line       int64
	At         time.Time
	WidthS     float64
	Kind, Text string
}

// An Aside is a row of the table set_aside.
type Aside struct {
	Line              int64
	Col               int
	Raw, Reason, Hint string
}

// A Report is what a source held beside its readings.
type Report struct {
	RowsRead, RowsKept int64
	Unsorted           bool // its rows are not in order of time
	Instruments        []Instrument
	Events             []Event
	Aside              []Aside
}

// PutSeries replaces vehicles and protocol.
func (s *Store) PutSeries(ctx context.Context, title, place string, params []Parameter, vehicles []Vehicle) error {
	err := s.transact(ctx, func() error {
		if err := s.putProtocol(ctx, title, place, params); err != nil {
			return err
		}
		if _, err := s.conn.ExecContext(ctx, `delete from vehicle`); err != nil {
			return err
		}
		return s.append("vehicle", len(vehicles), func(i int) []driver.Value {
			v := vehicles[i]
			return []driver.Value{v.ID, v.Name, null(v.UsableKWh), null(v.PackMassKg), null(v.RatedWhKm), null(v.PeakChargeKW), null(v.Heater), null(v.Remark), v.SHA256}
		})
	})
	if err != nil {
		return fmt.Errorf("warehouse: put series: %w", err)
	}
	return nil
}

func (s *Store) putProtocol(ctx context.Context, title, place string, params []Parameter) error {
	have, err := s.columns(ctx, "protocol")
	if err != nil {
		return err
	}
	for _, p := range params {
		if have[p.Name] {
			continue
		}
		if _, err := s.conn.ExecContext(ctx, `alter table protocol add column `+quote(p.Name)+` double`); err != nil {
			return err
		}
	}
	if _, err := s.conn.ExecContext(ctx, `delete from protocol`); err != nil {
		return err
	}
	if _, err := s.conn.ExecContext(ctx, `insert into protocol (title, place) values (?, ?)`, title, place); err != nil {
		return err
	}
	var sets []string
	var values []any
	for _, p := range params {
		sets, values = append(sets, quote(p.Name)+` = ?`), append(values, p.Value)
	}
	if sets == nil {
		return nil
	}
	_, err = s.conn.ExecContext(ctx, `update protocol set `+strings.Join(sets, ", "), values...)
	return err
}

// null turns a zero value into NULL.
func null[T comparable](v T) any {
	var zero T
	if v == zero {
		return nil
	}
	return v
}

// A Loaded tells what the warehouse holds of a session.
type Loaded struct {
	Refused bool              // nothing was read, for a problem
	SHA256  string            // of its session.toml
	Sources map[string]string // source ID to its settings and content: Source.Key
	ByZero  map[string]bool   // sources of which rows were set aside for how far they lie from the session (SetAsideBefore)
}

// Key is what decides whether a source must be read again.
func (src Source) Key() string { return src.SHA256 + " " + src.Settings }

// Loaded returns what the warehouse holds, by session.
func (s *Store) Loaded(ctx context.Context) (map[string]*Loaded, error) {
	loaded := map[string]*Loaded{}
	err := func() error {
		rows, err := s.conn.QueryContext(ctx, `select session_id, problem is not null, coalesce(sha256, '') from session`)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			var id string
			l := &Loaded{Sources: map[string]string{}, ByZero: map[string]bool{}}
			if err := rows.Scan(&id, &l.Refused, &l.SHA256); err != nil {
				return err
			}
			loaded[id] = l
		}
		if err := rows.Err(); err != nil {
			return err
		}
		rows, err = s.conn.QueryContext(ctx, `
			select session_id, source_id, sha256 || ' ' || settings, source_id in (select source_id from set_aside where raw is null) from source`)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			var session, source, key string
			var byZero bool
			if err := rows.Scan(&session, &source, &key, &byZero); err != nil {
				return err
			}
			if l := loaded[session]; l != nil {
				l.Sources[source], l.ByZero[source] = key, byZero
			}
		}
		return rows.Err()
	}()
	if err != nil {
		return nil, fmt.Errorf("warehouse: loaded: %w", err)
	}
	return loaded, nil
}

// A Load is one session being written, inside one transaction.
type Load struct {
	s         *Store
	sessionID string
	next      int32 // number of the source that is being read
}

// LoadSession runs fn in one transaction, and keeps what it wrote only if fn
// returns nil.
func (s *Store) LoadSession(ctx context.Context, sessionID string, fn func(*Load) error) error {
	err := s.transact(ctx, func() error { return fn(&Load{s: s, sessionID: sessionID}) })
	if err != nil {
		return fmt.Errorf("warehouse: load session %s: %w", sessionID, err)
	}
	return nil
}

// Readings appends every batch of rdr to the source's readings and returns the
// number of rows added. Where zero is known, rows get their t_s. Source is to be
// called next, for the same source.
//
// Readings borrows rdr: it reads rdr to the end but leaves the caller's Release
// due. rdr's own error, if it has one, is returned as it is.
func (l *Load) Readings(ctx context.Context, sourceID string, rdr array.RecordReader, zero time.Time) (rows int64, err error) {
	defer func() {
		if rerr := rdr.Err(); rerr != nil {
			err = rerr // DuckDB passes on only its text
		}
	}()
	if err := l.take(ctx); err != nil {
		return 0, err
	}
	rerr := l.s.conn.Raw(func(dc any) error {
		arrow, err := duckdb.NewArrowFromConn(dc.(driver.Conn))
		if err != nil {
			return err
		}
		lent := &borrowed{RecordReader: rdr}
		defer lent.forget()
		release, err := arrow.RegisterView(lent, "incoming")
		if err != nil {
			return err
		}
		// Deferred calls run last to first: the view must be gone before the
		// stream that it points into, or the next query on it crashes.
		defer release()
		conn := dc.(driver.ExecerContext)
		defer conn.ExecContext(context.WithoutCancel(ctx), `drop view if exists incoming`, nil)
		res, err := conn.ExecContext(ctx, `
			insert into reading by name
			select $session as session_id, $source as source_id, $number as source_no, (epoch_us(at) - $zero) / 1e6 as t_s, incoming.*
			from incoming`,
			[]driver.NamedValue{
				{Name: "number", Value: int64(l.next)},
				{Name: "session", Value: l.sessionID},
				{Name: "source", Value: sourceID},
				{Name: "zero", Value: micros(zero)},
			})
		if err != nil {
			return err
		}
		rows, err = res.RowsAffected()
		return err
	})
	return rows, rerr
}

// take gives the next source its number.
func (l *Load) take(ctx context.Context) error {
	return l.s.conn.QueryRowContext(ctx, `select coalesce(max(source_no), 0) + 1 from source`).Scan(&l.next)
}

// A borrowed reader is not owned by who retains it. The driver retains the
// reader of a view and never releases it, so a reader lent as it is would leak
// with the batch it holds.
type borrowed struct{ array.RecordReader }

func (*borrowed) Retain()  {}
func (*borrowed) Release() {}

// forget lets go of the reader, since the driver keeps b itself for good.
func (b *borrowed) forget() { b.RecordReader = nil }

// micros is a moment in µs since 1970, or nil for the zero time.
func micros(t time.Time) driver.Value {
	if t.IsZero() {
		return nil
	}
	return t.UnixMicro()
}

// Source writes the row of a source and all that its report holds. Where the
// readings were not in order of time, they are put in order.
func (l *Load) Source(ctx context.Context, src Source, r *Report) error {
	_, err := l.s.conn.ExecContext(ctx, `insert into source values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, null, null, null)`,
		src.ID, l.sessionID, src.Path, src.Kind, null(src.Profile), src.SHA256, src.Bytes,
		r.RowsRead, r.RowsKept, int64(len(r.Aside)), src.OffsetS, src.OffsetU, src.Settings, l.next)
	if err != nil {
		return err
	}
	if r.Unsorted {
		if err := l.sort(ctx); err != nil {
			return err
		}
	}
	err = l.s.append("instrument", len(r.Instruments), func(i int) []driver.Value {
		in := r.Instruments[i]
		return []driver.Value{l.sessionID, src.ID, in.Channel, in.Column, in.Unit, null(in.Resolution), in.URel, in.UAbs}
	})
	if err != nil {
		return err
	}
	err = l.s.append("event", len(r.Events), func(i int) []driver.Value {
		e := r.Events[i]
		return []driver.Value{l.sessionID, src.ID, e.Line, nil, e.At.UTC(), e.WidthS, e.Kind, e.Text}
	})
	if err != nil {
		return err
	}
	return l.s.append("set_aside", len(r.Aside), func(i int) []driver.Value {
		a := r.Aside[i]
		var col any
		if a.Col > 0 {
			col = int32(a.Col)
		}
		return []driver.Value{l.sessionID, src.ID, a.Line, col, a.Raw, a.Reason, null(a.Hint)}
	})
}

// Nothing writes the row of a source that has no readings. Neither Readings nor Source
// is to be called for it.
func (l *Load) Nothing(ctx context.Context, src Source) error {
	if err := l.take(ctx); err != nil {
		return err
	}
	return l.Source(ctx, src, &Report{})
}

// sort puts the readings of the source that was just read in order of time.
func (l *Load) sort(ctx context.Context) error {
	number := []any{l.next}
	for _, step := range []struct {
		q    string
		args []any
	}{
		{`create or replace temp table sorted as select * from reading where source_no = ?`, number},
		{`delete from reading where source_no = ?`, number},
		{`insert into reading select * from sorted order by at, line`, nil},
		{`drop table sorted`, nil},
	} {
		if _, err := l.s.conn.ExecContext(ctx, step.q, step.args...); err != nil {
			return err
		}
	}
	return nil
}

// append adds n rows to a table through DuckDB's appender, which joins the
// running transaction.
func (s *Store) append(table string, n int, row func(int) []driver.Value) error {
	if n == 0 {
		return nil
	}
	return s.conn.Raw(func(dc any) error {
		a, err := duckdb.NewAppenderFromConn(dc.(driver.Conn), "", table)
		if err != nil {
			return err
		}
		for i := range n {
			if err := a.AppendRow(row(i)...); err != nil {
				a.Close()
				return err
			}
		}
		return a.Close()
	})
}

// Session writes the session's row and puts every reading and event of it on
// its clock, those from sources that were not read again too.
func (l *Load) Session(ctx context.Context, ses Session) error {
	if err := l.sessionRow(ctx, ses, ""); err != nil {
		return err
	}
	from, to, err := l.numbers(ctx)
	if err != nil {
		return err
	}
	zero, session := sql.Named("zero", micros(ses.Zero)), sql.Named("session", l.sessionID)
	_, err = l.s.conn.ExecContext(ctx, `
		update reading set t_s = (epoch_us(at) - $zero) / 1e6
		where source_no between $from and $to and session_id = $session and t_s is distinct from (epoch_us(at) - $zero) / 1e6`,
		zero, session, sql.Named("from", from), sql.Named("to", to))
	if err != nil {
		return err
	}
	_, err = l.s.conn.ExecContext(ctx, `update event set t_s = (epoch_us(at) - $zero) / 1e6 where session_id = $session`, zero, session)
	return err
}

func (l *Load) sessionRow(ctx context.Context, ses Session, problem string) error {
	if _, err := l.s.conn.ExecContext(ctx, `delete from session where session_id = ?`, l.sessionID); err != nil {
		return err
	}
	_, err := l.s.conn.ExecContext(ctx, `insert into session values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		l.sessionID, ses.VehicleID, ses.Procedure, null(ses.Zone), moment(ses.SoakStart), moment(ses.Zero), ses.ZeroU, null(ses.ZeroFrom),
		null(ses.Charger), null(ses.ChargerKW), null(ses.Tester), null(ses.Remark), null(problem), ses.SHA256)
	return err
}

func moment(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return t.UTC()
}

// PlugIns returns the session's plug-ins that sources reported, earliest first.
func (l *Load) PlugIns(ctx context.Context) ([]PlugIn, error) { return l.Moments(ctx, "plug-in") }

// Moments returns the session's events of a kind that sources reported, earliest
// first.
func (l *Load) Moments(ctx context.Context, kind string) ([]PlugIn, error) {
	rows, err := l.s.conn.QueryContext(ctx, `
		select at, width_s, source_id, line, offset_u_s from event join source using (session_id, source_id)
		where session_id = ? and event.kind = ? order by at, source_id, line`, l.sessionID, kind)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var found []PlugIn
	for rows.Next() {
		var p PlugIn
		if err := rows.Scan(&p.At, &p.WidthS, &p.SourceID, &p.Line, &p.OffsetU); err != nil {
			return nil, err
		}
		found = append(found, p)
	}
	return found, rows.Err()
}

// A PlugIn is a plug-in, or another event, that a source reported.
type PlugIn struct {
	At       time.Time
	WidthS   float64
	SourceID string
	Line     int64
	OffsetU  float64 // of the source's clock, in s
}
