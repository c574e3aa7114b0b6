package ocpp

import (
	"cmp"
	"math"
	"slices"

	"coldbench/ingest/source"
	"coldbench/warehouse/diag"
)

// settle brings rows into order and finds what only all of them tell.
func (r *reader) settle() {
	first := r.firstTime()
	for _, t := range r.timeless {
		if !r.timed {
			r.aside(text{t.line, 1, t.raw}, diag.New(diag.Pos{}, "nothing tells when the message was sent"))
			continue
		}
		r.keep(row{line: t.line, at: first, vals: none, interval: [2]float64{math.NaN(), math.NaN()}})
	}
	slices.SortStableFunc(r.rows, func(a, b row) int { return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.line, b.line)) })
	slices.SortStableFunc(r.report.Aside, func(a, b source.Aside) int { return cmp.Compare(a.Line, b.Line) })
	r.addUp(0, energyKWh)
	r.addUp(1, gridKWh)
	slices.SortStableFunc(r.moments, func(a, b moment) int { return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.line, b.line)) })
	h := history{cable: cableByStatus(r.in)}
	for _, m := range r.moments {
		h.take(m)
	}
	h.endPeriod()
	r.report.Events = h.inOrder()
	for i, c := range r.channels {
		u := r.used[i]
		if u.measurand == "" {
			continue
		}
		in := source.Typical(c, u.measurand)
		if u.location != "" {
			in.Column += " " + u.location
		}
		in.Unit = u.unit
		if !math.IsInf(u.step, 0) {
			in.Resolution = u.step
		}
		r.report.Instruments = append(r.report.Instruments, in)
	}
}

// addUp turns intervals' energies into a register that starts at 0, unless the
// charger sends one. Chargers send periodic intervals, and others that follow
// the clock, of the same energy: only the periodic ones count, if there are any,
// and each moment once.
func (r *reader) addUp(side, name int) {
	context := "Sample.Clock"
	for i := range r.rows {
		w := &r.rows[i]
		if !math.IsNaN(w.vals[name]) {
			return
		}
		if !math.IsNaN(w.interval[side]) && (w.context == "" || w.context == "Sample.Periodic") {
			context = "Sample.Periodic"
		}
	}
	total, last := 0.0, int64(math.MinInt64)
	for i := range r.rows {
		w := &r.rows[i]
		if math.IsNaN(w.interval[side]) || cmp.Or(w.context, "Sample.Periodic") != context || w.at == last {
			continue
		}
		total, last = total+w.interval[side], w.at
		w.vals[name] = total
	}
}
