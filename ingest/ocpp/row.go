package ocpp

import (
	"encoding/json"
	"math"

	"coldbench/warehouse/diag"
)

// counter makes the row of a message without samples, or with the register at
// the beginning or the end of a transaction only.
func (r *reader) counter(p *parsed, at int64) {
	w := row{line: p.line, at: at, vals: none, interval: [2]float64{math.NaN(), math.NaN()}}
	for _, wh := range []*float64{p.payload.MeterStart, p.payload.MeterStop} {
		if wh == nil {
			continue
		}
		w.vals[energyKWh] = *wh / 1000
		if c := r.channels[energyKWh]; !c.Possible(w.vals[energyKWh]) {
			r.aside(p.text, diag.New(diag.Pos{}, "a meter of %g Wh is outside what %s can be, %g to %g %s", *wh, c.Name, c.Min, c.Max, c.Unit))
			return
		}
		r.note(energyKWh, &cell{measurand: "the transaction's meter", unit: "Wh", step: 0.001})
	}
	r.keep(w)
}

// sampled makes the row of one element of a meterValue.
func (r *reader) sampled(p *parsed, raw json.RawMessage) {
	r.report.RowsRead++
	t := text{p.line, p.col, raw}
	var v meterValue
	if err := json.Unmarshal(raw, &v); err != nil {
		r.aside(t, diag.New(diag.Pos{}, "cannot read the meter value: %s", mistake(err)))
		return
	}
	stamp := v.Timestamp
	if stamp == "" {
		stamp = p.payload.Timestamp
	}
	at, sure, d := r.time(p, stamp)
	if d == nil && !sure {
		d = diag.New(diag.Pos{}, "the meter value has no timestamp")
	}
	if d != nil {
		r.aside(t, d)
		return
	}
	s, d := sample(v.SampledValue)
	w := row{line: p.line, at: at, vals: none, interval: [2]float64{math.NaN(), math.NaN()}}
	if main := r.whose.main(p); d == nil && main != foreignMeter {
		if main == gridMeter {
			s.toGrid()
		}
		if w.vals, d = s.values(r.channels, r.note); d == nil {
			for side, name := range []int{energyKWh, gridKWh} {
				c := &s[interval][side]
				w.interval[side] = c.total()
				if !math.IsNaN(w.interval[side]) {
					w.context = c.context
					if w.interval[side] < 0 {
						d = diag.New(diag.Pos{}, "an interval's energy of %g kWh is negative", w.interval[side])
					} else if math.IsNaN(w.vals[name]) {
						r.note(name, c)
					}
				}
			}
		}
	}
	if d != nil {
		r.aside(t, d)
		return
	}
	r.keep(w)
}

// note remembers how a channel was spelled, and its smallest step.
func (r *reader) note(i int, c *cell) {
	u := &r.used[i]
	step := min(u.step, c.step)
	if u.measurand == "" {
		*u = *c
	}
	u.step = step
}
