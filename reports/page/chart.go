package page

import (
	"cmp"
	"math"
	"slices"

	"coldbench/metrics/edition"
)

// hues is how many colours of lines the style has: --c0, --c1 and so on.
const hues = 7

// marks is how many shapes of marks the script draws; with hues it has no common
// divisor, so that cars of one colour have different marks.
const marks = 8

// A chart is what the script draws from.
type chart struct {
	Runs  []run          `json:"runs"` // of the cars in the order of the standings
	Whole int            `json:"-"`    // rows logged
	Shown int            `json:"-"`    // rows left for show
	of    map[string]int // runs, by session
}

// A run is one session as the charts take it. Columns are whole numbers, each
// less the one before it, null where nothing was logged: seconds since the
// plug-in that the charge came from (or the start, where there is none), tenths of kW, % and °C, hundredths of kWh.
type run struct {
	ID      string  `json:"id"`
	Car     string  `json:"car"`
	Kind    string  `json:"kind"`
	Charge  bool    `json:"charge"` // else minutes count from the start
	Hue     int     `json:"hue"`    // a car's
	Mark    int     `json:"mark"`   // a car's
	Dash    int     `json:"dash"`   // a session's of its car
	Ranked  bool    `json:"ranked"`
	On      bool    `json:"on"` // shown at first
	T       []*int  `json:"t"`
	Pack    []*int  `json:"pack"`
	Charger []*int  `json:"charger"`
	Heater  []*int  `json:"heater"`
	SoC     []*int  `json:"soc"`
	Cold    []*int  `json:"cold"`
	KWh     []*int  `json:"kwh"`
	Whole   int     `json:"-"` // rows logged
	PlugS   float64 `json:"-"`
}

// shownAtFirst is the most sessions that are drawn before anybody chooses.
const shownAtFirst = 8

func newChart(e *edition.Edition, logs []edition.Log) chart {
	byID := map[string]*edition.Log{}
	for i := range logs {
		byID[logs[i].Session] = &logs[i]
	}
	order := map[string]int{}
	counts := map[string]bool{}
	for _, s := range e.Standings {
		order[s.Vehicle] = len(order)
		for _, id := range s.Sessions {
			counts[id] = s.Place > 0
		}
	}
	ofCar := slices.Clone(e.Sessions)
	slices.SortStableFunc(ofCar, func(a, b edition.Session) int {
		return cmp.Or(cmp.Compare(at(order, a.Vehicle), at(order, b.Vehicle)), cmp.Compare(a.Vehicle, b.Vehicle))
	})
	c := chart{of: map[string]int{}}
	car, vehicle, dash, on := -1, "", 0, 0
	for _, s := range ofCar {
		if car < 0 || s.Vehicle != vehicle {
			car, vehicle, dash = car+1, s.Vehicle, 0
		}
		l := byID[s.ID]
		if l == nil {
			continue
		}
		r := newRun(*l)
		if len(r.T) == 0 {
			continue
		}
		r.ID, r.Car, r.Kind, r.Charge = short(s.ID), short(e.Name(s.Vehicle)), clean(s.Procedure), s.Charges()
		r.Hue, r.Mark, r.Dash, r.Ranked = car%hues, car%marks, dash, counts[s.ID]
		r.On = r.Ranked && on < shownAtFirst
		dash++
		if r.On {
			on++
		}
		c.Whole, c.Shown, c.of[s.ID] = c.Whole+r.Whole, c.Shown+len(r.T), len(c.Runs)
		c.Runs = append(c.Runs, r)
	}
	if on == 0 {
		for i := range min(len(c.Runs), shownAtFirst) {
			c.Runs[i].On = true
		}
	}
	return c
}

// at is a car's place in an order; a car that is not in it comes last.
func at(order map[string]int, vehicle string) int {
	if n, ok := order[vehicle]; ok {
		return n
	}
	return len(order)
}

// index returns the number of a session's run, -1 where it has none.
func (c chart) index(session string) int {
	if i, ok := c.of[session]; ok {
		return i
	}
	return -1
}

// newRun makes the columns of a log: of its trace, or of its minutes where no
// power was logged at all.
func newRun(l edition.Log) run {
	t := l.Trace
	if len(t.T) == 0 {
		t = ofMinutes(l.Minutes)
	}
	since := make([]float64, len(t.T))
	for i, s := range t.T {
		since[i] = s - l.PlugS
	}
	return run{
		T: steps(since, 1), Pack: steps(t.PackKW, 10), Charger: steps(t.ChargerKW, 10), Heater: steps(t.HeaterKW, 10),
		SoC: steps(t.SoCPct, 10), Cold: steps(t.PackMinC, 10), KWh: steps(t.PackKWh, 100), Whole: max(t.Whole, len(t.T)), PlugS: l.PlugS,
	}
}

// ofMinutes is a trace of the minute-by-minute log, at the middle of each minute.
func ofMinutes(minutes []edition.Minute) edition.Trace {
	var t edition.Trace
	for _, m := range minutes {
		t.T = append(t.T, 60*float64(m.Minute)+30)
		for _, c := range []struct {
			to *edition.Column
			v  *float64
		}{{&t.PackKW, m.PackKW}, {&t.ChargerKW, m.ChargerKW}, {&t.HeaterKW, m.HeaterKW}, {&t.SoCPct, m.SoCPct}, {&t.PackMinC, m.PackMinC}, {&t.PackKWh, m.PackKWh}} {
			v := math.NaN()
			if c.v != nil {
				v = *c.v
			}
			*c.to = append(*c.to, v)
		}
	}
	return t
}

// steps returns a column in whole numbers of 1/scale, each less the last one
// that was known; nil where nothing is known at all.
func steps(column []float64, scale float64) []*int {
	out := make([]*int, len(column))
	last, known := 0, false
	for i, v := range column {
		if math.IsNaN(v) || math.Abs(v) > 1e9 {
			continue
		}
		n := int(math.Round(v * scale))
		step := n - last
		out[i], last, known = &step, n, true
	}
	if !known {
		return nil
	}
	return out
}
