package ocpp

import (
	"encoding/json"
	"math"

	"coldbench/ingest/clock"
	"coldbench/warehouse/diag"
)

// time is a message's own time, else that of its receipt, else that of the
// message before it, which is not sure.
func (r *reader) time(p *parsed, stamp string) (at int64, sure bool, d *diag.Diagnostic) {
	resolve := func(c *clock.Resolver, s string) *diag.Diagnostic {
		var err error
		if at, err = c.Micros(s, ""); err != nil {
			return diag.At(err, diag.Pos{})
		}
		r.last, r.timed = at, true
		return nil
	}
	if stamp != "" && p.kind == call {
		d = resolve(r.own, stamp)
		return at, d == nil, d
	}
	if p.receipt != nil {
		var s string
		if json.Unmarshal(p.receipt, &s) == nil {
			d = resolve(r.receipt, s)
			return at, d == nil, d
		}
		if v, _, ok := decimal(p.receipt); ok {
			at, ok = epoch(v)
			if at += int64(math.Round(r.in.Source.OffsetS * 1e6)); ok {
				r.last, r.timed = at, true
				return at, true, nil
			}
		}
		return 0, false, diag.New(diag.Pos{}, "cannot read %s as the time of receipt", brief(p.receipt)).WithHint("ISO 8601, such as \"2026-01-12T20:12:30Z\", or seconds since 1970")
	}
	return r.last, false, nil
}

// epoch reads seconds since 1970, or milliseconds, which are then later than the
// year 5000 as seconds.
func epoch(v float64) (int64, bool) {
	if v > 1e11 {
		v /= 1000
	}
	return int64(math.Round(v * 1e6)), v > 0 && v < 7258118400
}

// firstTime is the time of the first message that has one.
func (r *reader) firstTime() int64 {
	first, at := int64(math.MaxInt64), r.last
	for i := range r.rows {
		if w := &r.rows[i]; w.line < first {
			first, at = w.line, w.at
		}
	}
	return at
}
