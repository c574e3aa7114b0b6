package ingest

import (
	"context"
	"fmt"
	"slices"
	"time"

	"github.com/pelletier/go-toml/v2"

	"coldbench/ingest/series"
	"coldbench/warehouse"
	"coldbench/warehouse/diag"
)

// apart is how long before the soak and after its zero a session's logs may lie:
// half a day, so that a wrong date is seen. A car that stands parked may be looked
// at after weeks.
func apart(procedure string) (before, after time.Duration) {
	if procedure == "standby" {
		return 12 * time.Hour, 90 * 24 * time.Hour
	}
	return 12 * time.Hour, 12 * time.Hour
}

// doubts finds what no reader can: values that are possible by themselves, and
// impossible for this session. spans are those of its sources; it returns those that
// are left.
func doubts(ctx context.Context, l *warehouse.Load, s *series.Series, ses *series.Session, row warehouse.Session, spans []warehouse.Span) ([]warehouse.Span, diag.List, error) {
	list := elsewhere(ses, row, spans)
	if list != nil {
		return nil, list, nil
	}
	spans, list, err := setLate(ctx, l, ses, row, spans)
	if err != nil || list != nil {
		return nil, list, err
	}
	if row.SoakStart.After(row.Zero) {
		list.Add(ses.At("soak_start"), "the soak starts %s after it ended, at %s by %s", long(row.SoakStart.Sub(row.Zero)), row.Zero.In(ses.Location).Format(minutes), row.ZeroFrom).
			WithHint("is it right, by date and zone?")
		return nil, list, nil
	}
	small, err := l.SmallCharges(ctx, spans)
	if err != nil {
		return nil, nil, err
	}
	for _, c := range small {
		p := s.Profiles[c.Profile]
		at := p.At("column")
		if i := slices.IndexFunc(p.Columns, func(c series.Column) bool { return c.Channel == "soc_pct" }); i >= 0 {
			at = p.At("column", fmt.Sprint(i), "unit")
			if at.Line == 0 {
				at = p.At("column", fmt.Sprint(i))
			}
		}
		list.Add(at, "column %q, the state of charge, never passes %.3g %% in sessions/%s, where %.1f kWh flowed", c.Column, c.Highest, c.SourceID, c.KWh).
			WithHint("does the log write it from 0 to 1? unit = \"fraction\"")
	}
	return spans, list, nil
}

// minutes is how messages write a moment.
const minutes = "2006-01-02 15:04"

// begins is when a session begins: with its soak, or at its zero.
func begins(row warehouse.Session) time.Time {
	if !row.SoakStart.IsZero() && row.SoakStart.Before(row.Zero) {
		return row.SoakStart
	}
	return row.Zero
}

// sourceAt is which of the session's sources a span is of, or -1.
func sourceAt(ses *series.Session, span warehouse.Span) int {
	return slices.IndexFunc(ses.Sources, func(src series.Source) bool { return ses.ID+"/"+src.File == span.SourceID })
}

// elsewhere finds sources that lie far from the session's zero: one of the two is
// wrong, and figures that count from the zero would be absurd.
func elsewhere(ses *series.Session, row warehouse.Session, spans []warehouse.Span) diag.List {
	before, after := apart(ses.Procedure)
	from := begins(row)
	var far []warehouse.Span
	for _, span := range spans {
		if span.Last.Before(from.Add(-before)) || span.First.After(row.Zero.Add(after)) {
			far = append(far, span)
		}
	}
	if far == nil {
		return goesOn(ses, row, spans)
	}
	what, key := "plug-in", "plug_in"
	if ses.Procedure != "cold-charge" && ses.Procedure != "warm-charge" {
		what, key = "start", "start"
	}
	zone := ses.Location
	var list diag.List
	for _, span := range far {
		// Where none of them lies near it, it is the zero that is wrong.
		at, hint := ses.At(key), "is it right, by date and zone?"
		if i := sourceAt(ses, span); i >= 0 && (len(far) < len(spans) || at.Line == 0) {
			at = ses.At("source", fmt.Sprint(i))
			hint = "is it the right file? are start, zone and offset_s of this source right?"
			if pos := ses.At("source", fmt.Sprint(i), "start"); pos.Line > 0 {
				at = pos
			}
		}
		off := row.Zero.Sub(span.Last)
		if off < 0 {
			off = span.First.Sub(row.Zero)
		}
		list.Add(at, "sessions/%s has readings from %s to %s, and the %s is at %s by %s, %s away", span.SourceID,
			span.First.In(zone).Format(minutes), span.Last.In(zone).Format(minutes), what, row.Zero.In(zone).Format(minutes), row.ZeroFrom, long(off)).WithHint("%s", hint)
	}
	return list
}

// longest is how long after the zero a log of the car or the charger may go on, but of
// a car that stands parked: one that goes on longer counts in another unit, or holds
// other charges too, which figures up to its end would take for this one.
const longest = 72 * time.Hour

// goesOn finds logs that go on for days after the session's zero.
func goesOn(ses *series.Session, row warehouse.Session, spans []warehouse.Span) diag.List {
	var list diag.List
	if ses.Procedure == "standby" {
		return nil
	}
	for _, span := range spans {
		i := sourceAt(ses, span)
		if i < 0 || !span.Car || span.Last.Sub(row.Zero) <= longest {
			continue
		}
		list.Add(ses.At("source", fmt.Sprint(i)), "sessions/%s goes on to %s, %s after the session's zero, %s by %s", span.SourceID, span.Last.In(ses.Location).Format(minutes), long(span.Last.Sub(row.Zero)),
			row.Zero.In(ses.Location).Format(minutes), row.ZeroFrom).
			WithHint("is its clock's unit right? cut it to this session, if it holds others too")
	}
	return list
}

// earliest is how long before the soak a log of the car or the charger may begin:
// one that begins earlier has a clock that was set while it ran, as loggers without
// a battery of their own do, or holds other charges too.
const earliest = 30 * 24 * time.Hour

// setLate finds logs that begin long before the session, though they go on in it. If
// that is a tenth of one at most, its rows are set aside: the clock was set only after
// them. It returns the spans that are left, and else what is wrong.
func setLate(ctx context.Context, l *warehouse.Load, ses *series.Session, row warehouse.Session, spans []warehouse.Span) ([]warehouse.Span, diag.List, error) {
	from, changed := begins(row), false
	var list diag.List
	for _, span := range spans {
		if !span.Car || !span.First.Before(from.Add(-earliest)) {
			continue
		}
		rows, all, line, err := l.Before(ctx, span, from.Add(-earliest))
		if err != nil {
			return nil, nil, err
		}
		off := long(from.Sub(span.First))
		if 10*rows > all {
			list.Add(diag.Pos{File: "sessions/" + span.SourceID, Line: int(line)}, "rows up to here are from %s on, %s before the session", span.First.In(ses.Location).Format(minutes), off).
				WithHint("was its clock set only then? take them out of a copy of the file; or cut it to this session, if it holds others too")
			continue
		}
		changed = true
		if err := l.SetAsideBefore(ctx, span, from.Add(-earliest), "the log begins "+off+" before the session", "was its clock set only after this row?"); err != nil {
			return nil, nil, err
		}
	}
	if changed && list == nil {
		var err error
		spans, err = l.Spans(ctx)
		return spans, nil, err
	}
	return spans, list, nil
}

func long(d time.Duration) string {
	if d < 72*time.Hour {
		return fmt.Sprintf("%.0f h", d.Hours())
	}
	return fmt.Sprintf("%.0f days", d.Hours()/24)
}

// withdrawTwins withdraws sessions that are another one's copy: a night that counts
// twice would look as if it had been repeated, and as sure as two.
func withdrawTwins(ctx context.Context, store *warehouse.Store, s *series.Series, outcomes []Outcome) error {
	twins, err := store.Twins(ctx)
	if err != nil {
		return err
	}
	for _, twin := range twins {
		i := slices.IndexFunc(s.Sessions, func(ses *series.Session) bool { return ses.ID == twin.SessionID })
		ses, o := s.Sessions[i], &outcomes[i]
		key := "plug_in"
		if ses.Start != (toml.LocalDateTime{}) {
			key = "start"
		}
		d := diag.New(ses.At(key), "the session starts at %s, as sessions/%s does, with the same vehicle", twin.Zero.In(ses.Location).Format(minutes), twin.Of).
			WithHint("is the folder a copy? one night must not count twice")
		*o = Outcome{SessionID: ses.ID, Problems: diag.List{d}}
		if err := store.LoadSession(ctx, ses.ID, func(l *warehouse.Load) error { return l.Withdraw(ctx, d.Error()) }); err != nil {
			return err
		}
	}
	return nil
}
