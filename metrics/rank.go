package metrics

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"coldbench/metrics/edition"
	"coldbench/metrics/standings"
	"coldbench/metrics/uncertainty"
)

// rank makes the standings of an edition that has its figures and gates. earns
// tells of a figure which procedures' sessions count for it.
//
// A car's value of a figure is the mean over those of its sessions that failed no
// gate: replicates are combined, not picked. A figure that is missing in all of
// them earns no points.
func rank(e *edition.Edition, usable []sessionRow, earns func(figure string) []string) {
	procedures := []string{} // that the scales ask for
	for _, p := range inTheCold {
		if slices.ContainsFunc(e.Scales, func(s edition.Scale) bool { return slices.Contains(earns(s.Figure), p) }) {
			procedures = append(procedures, p)
		}
	}
	if len(procedures) == 0 {
		procedures = []string{Ranked}
	}
	counting, failed := countingSessions(e, usable), failures(e)
	refused := map[string][]string{} // vehicle to why others do not
	for _, s := range e.Sessions {
		if slices.Contains(procedures, s.Procedure) && s.Problem != "" {
			refused[s.Vehicle] = append(refused[s.Vehicle], s.ID+" could not be read")
		}
	}
	for _, s := range usable {
		if !slices.Contains(procedures, s.procedure) {
			continue
		}
		if why := failed[s.id]; why != "" {
			refused[s.vehicle] = append(refused[s.vehicle], s.id+" fails "+why)
		}
	}
	var cars []standings.Car
	var scales []standings.Scale
	for _, s := range e.Scales {
		scales = append(scales, standings.Scale{Figure: s.Figure, Zero: s.Zero, Full: s.Full, Weight: s.Weight, Category: s.Category})
	}
	notes := map[string]map[string]string{}
	spreads := map[string]map[string]*edition.Spread{}
	for _, v := range vehicles(e) {
		car := standings.Car{ID: v.ID, Values: map[string]uncertainty.Value{}, Free: map[string]float64{}}
		notes[v.ID], spreads[v.ID] = map[string]string{}, map[string]*edition.Spread{}
		switch {
		case len(counting.of(v.ID, procedures)) > 0:
		case len(refused[v.ID]) > 0:
			car.Reason = strings.Join(refused[v.ID], "; ")
		default:
			car.Reason = "no " + strings.Join(procedures, " or ") + " session"
		}
		for _, s := range e.Scales {
			sessions := counting.of(v.ID, earns(s.Figure))
			value, note, ok := combined(e, sessions, s.Figure)
			if sessions == nil {
				note = "no " + strings.Join(earns(s.Figure), " or ") + " session"
			}
			if ok {
				car.Values[s.Figure], car.Free[s.Figure] = value.Value, value.Free
			}
			notes[v.ID][s.Figure], spreads[v.ID][s.Figure] = note, spread(value)
		}
		car.Common = common(e, func(figure string) []string { return counting.of(v.ID, earns(figure)) }, car)
		cars = append(cars, car)
	}
	table := standings.Rank(cars, scales)
	for _, p := range table.Places {
		st := edition.Standing{Vehicle: p.ID, Place: p.Rank, Lowest: p.Lowest, Highest: p.Highest, Score: rounded(p.Score.V), U: rounded(p.Score.U),
			Sessions: counting.of(p.ID, procedures), Reason: p.Reason}
		car := cars[slices.IndexFunc(cars, func(c standings.Car) bool { return c.ID == p.ID })]
		if p.Rank > 0 {
			st.Reason = remarks(e, st.Sessions, refused[p.ID], car, notes[p.ID])
		}
		for i, s := range e.Scales {
			c := edition.Counted{Figure: s.Figure, Points: rounded(p.Points[i].V), Note: notes[p.ID][s.Figure], Spread: spreads[p.ID][s.Figure]}
			if v, ok := car.Values[s.Figure]; ok {
				c.Value, c.U = shown(v)
				c.Common = rounded(car.Common.Of[s.Figure])
			}
			st.Values = append(st.Values, c)
			st.Beside = append(st.Beside, other(e, counting.of(p.ID, earns(s.Figure)), s.Figure))
		}
		e.Standings = append(e.Standings, st)
	}
	for _, s := range table.Shifts(scales) {
		e.Shifts = append(e.Shifts, edition.Shift{Figure: s.Figure, Weight: s.Weight, Lower: rounded(s.Lower), LowerTo: s.LowerTo, Higher: rounded(s.Higher), HigherTo: s.HigherTo})
	}
	e.Windows = windows(e, counting[Ranked])
	e.Categories = categories(table)
	for i, row := range table.Before {
		for k, share := range row {
			e.Pairs = append(e.Pairs, edition.Pair{Before: table.Places[i].ID, After: table.Places[i+1+k].ID, Probability: share})
		}
	}
}

// categories are the cars that may be ranked by the scales of each category alone.
// With less than two categories there is nothing that the standings do not say.
func categories(table standings.Table) []edition.Category {
	if len(table.Categories) < 2 {
		return nil
	}
	var out []edition.Category
	for _, c := range table.Categories {
		to := edition.Category{Name: c.Name, Weight: c.Weight}
		for _, p := range c.Places {
			if p.Rank > 0 {
				to.Cars = append(to.Cars, edition.InCategory{Vehicle: p.ID, Place: p.Rank, Lowest: p.Lowest, Highest: p.Highest, Score: rounded(p.Score.V), U: rounded(p.Score.U)})
			}
		}
		out = append(out, to)
	}
	return out
}

// otherWindows are the figures of time over a window of charge, the common one
// first.
var otherWindows = []string{"time_window", "time_10_80", "time_20_80", "time_10_50", "time_20_60", "time_50_80"}

// windows sets the cars' times over several windows of charge side by side.
func windows(e *edition.Edition, counting map[string][]string) []edition.Compared {
	var out []edition.Compared
	common := map[string]int{}
	for _, figure := range otherWindows {
		w := edition.Compared{Figure: figure, Title: e.Definition(figure).Title}
		if figure == "time_window" {
			w.Title = "Over " + e.Window.String() + ", the common window"
		}
		for _, v := range vehicles(e) {
			if value, _, ok := combined(e, counting[v.ID], figure); ok {
				w.Times = append(w.Times, edition.Timed{Vehicle: v.ID, Value: rounded(value.V), U: rounded(value.U)})
			}
		}
		slices.SortStableFunc(w.Times, func(a, b edition.Timed) int { return cmp.Compare(a.Value, b.Value) })
		placed(w.Times)
		for i := range w.Times {
			t := &w.Times[i]
			if figure == "time_window" {
				common[t.Vehicle] = t.Place
			} else if was := common[t.Vehicle]; was > 0 {
				t.Gained = was - t.Place
			}
		}
		if w.Times != nil {
			out = append(out, w)
		}
	}
	return out
}

// placed gives times, the fastest first, their places, by the rule of the standings:
// one more than the cars that are clearly faster, and no better than a faster car's.
func placed(times []edition.Timed) {
	of := func(t edition.Timed) uncertainty.Value { return uncertainty.Value{V: t.Value, U: t.U} }
	for i := range times {
		t := &times[i]
		t.Place = 1
		for _, o := range times[:i] {
			if uncertainty.Apart(of(o), of(*t)) > 1 {
				t.Place++
			}
		}
		if i > 0 {
			t.Place = max(t.Place, times[i-1].Place)
		}
	}
}

// vehicles are those of the edition, and those that only a session names: a car
// whose file has a mistake is listed too.
func vehicles(e *edition.Edition) []edition.Vehicle {
	all := slices.Clone(e.Vehicles)
	for _, s := range e.Sessions {
		if s.Vehicle != "" && !slices.ContainsFunc(all, func(v edition.Vehicle) bool { return v.ID == s.Vehicle }) {
			all = append(all, edition.Vehicle{ID: s.Vehicle})
		}
	}
	return all
}

// other is what stands beside a figure's value: the same at the reference soak, or
// as measured. Its figure is "" where the edition has none.
func other(e *edition.Edition, sessions []string, figure string) edition.Counted {
	name := beside(figure)
	if name == "" || e.Definition(name).Name == "" {
		return edition.Counted{}
	}
	v, note, ok := combined(e, sessions, name)
	c := edition.Counted{Figure: name, Note: note, Spread: spread(v)}
	if ok {
		c.Value, c.U = shown(v.Value)
	}
	return c
}

// shown is a value in the digits that it is worked out to: a mean of 96.25 is not
// 96.24999999999999, which reports would round to 96.2.
func shown(v uncertainty.Value) (value, u *float64) {
	v.V, v.U = rounded(v.V), rounded(v.U)
	return &v.V, &v.U
}

// spread is what replicates scatter; nil for fewer than two.
func spread(r uncertainty.Replicates) *edition.Spread {
	if r.N < 2 {
		return nil
	}
	free := r.Free
	if free == 0 {
		free = math.Inf(1)
	}
	return &edition.Spread{Sessions: r.N, Within: rounded(r.Within), Between: rounded(r.Between), Expanded: rounded(r.U * uncertainty.Coverage(0.95, free))}
}

// combined is the value of a figure over sessions. note says why there is none,
// or what weakens it.
func combined(e *edition.Edition, sessions []string, figure string) (v uncertainty.Replicates, note string, ok bool) {
	var values []uncertainty.Value
	var fallback, missing []string
	var unit string
	for _, id := range sessions {
		f, found := e.Find(id, figure)
		switch {
		case !found:
			missing = append(missing, id+": not computed")
		case !f.Ranked():
			missing = once(missing, f.Note)
		default:
			values, unit = append(values, uncertainty.Value{V: *f.Value, U: *f.U}), f.Unit
			if f.Status == edition.Fallback {
				fallback = once(fallback, f.Note)
			}
		}
	}
	if len(values) == 0 {
		return v, strings.Join(missing, "; "), false
	}
	v = uncertainty.Combine(values)
	var weak []string
	weak = append(weak, fallback...)
	for i, a := range values {
		if slices.ContainsFunc(values[i+1:], func(b uncertainty.Value) bool { return uncertainty.Apart(a, b) > 1 }) {
			weak = append(weak, fmt.Sprintf("its %d sessions scatter by %s %s beyond their uncertainty of %s %s", v.N, edition.Deviation(v.Between), unit, edition.Deviation(v.Within), unit))
			break
		}
	}
	return v, strings.Join(weak, "; "), true
}

// once adds a note that is not there yet: of several nights each may say the same.
func once(notes []string, note string) []string {
	if slices.Contains(notes, note) {
		return notes
	}
	return append(notes, note)
}

// remarks say what weakens a car's place.
func remarks(e *edition.Edition, counting, refused []string, car standings.Car, notes map[string]string) string {
	var out []string
	for _, id := range counting {
		for _, g := range e.GatesOf(id) {
			if g.Verdict != edition.Flagged && !(g.Verdict == edition.CannotTell && e.RuleOf(g.Gate).Action == Fail) {
				continue
			}
			text := fmt.Sprintf("%s %s: %s", g.Gate, g.Verdict, g.Reason)
			if len(counting) > 1 && g.Gate != agreementGate { // its reason names sessions
				text = id + " " + text
			}
			if !slices.Contains(out, text) {
				out = append(out, text)
			}
		}
	}
	for _, s := range e.Scales {
		if _, ok := car.Values[s.Figure]; !ok {
			out = append(out, fmt.Sprintf("no %s: %s", s.Figure, notes[s.Figure]))
		}
	}
	out = append(out, refused...)
	many := map[string]int{}
	for _, id := range counting {
		many[e.Sessions[slices.IndexFunc(e.Sessions, func(s edition.Session) bool { return s.ID == id })].Procedure]++
	}
	for _, p := range inTheCold {
		if many[p] == len(counting) && many[p] > 1 {
			out = append(out, fmt.Sprintf("mean of %d sessions", many[p]))
		} else if many[p] > 1 {
			out = append(out, fmt.Sprintf("mean of %d %s sessions", many[p], p))
		}
	}
	return strings.Join(out, "; ")
}
