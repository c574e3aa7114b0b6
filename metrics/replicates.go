package metrics

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"coldbench/metrics/edition"
	"coldbench/metrics/uncertainty"
)

// agreementGate is the gate that sets a car's sessions beside each other.
const agreementGate = "replicates"

// A nights is one figure of several sessions of one car, such as may be set
// beside each other.
type nights struct {
	figure   string
	sessions []string // in the order of their IDs
	values   []uncertainty.Value
}

// countable is the sessions that may be ranked, by procedure and vehicle.
type countable map[string]map[string][]string

func countingSessions(e *edition.Edition, usable []sessionRow) countable {
	c := countable{}
	for _, p := range inTheCold {
		c[p] = map[string][]string{}
	}
	failed := failures(e)
	for _, s := range usable {
		if c[s.procedure] != nil && failed[s.id] == "" {
			c[s.procedure][s.vehicle] = append(c[s.procedure][s.vehicle], s.id)
		}
	}
	return c
}

// of returns a vehicle's sessions of some procedures, in order.
func (c countable) of(vehicle string, procedures []string) []string {
	var ids []string
	for _, p := range procedures {
		ids = append(ids, c[p][vehicle]...)
	}
	return ids
}

// comparable is the figure of a car's sessions that tells whether they agree: at
// the reference soak, where every session with the raw value has that too; else
// as measured, on nights that were alike.
func comparable(e *edition.Edition, sessions []string, figure string, band float64) nights {
	raw := having(e, sessions, figure)
	if other, ok := corrected[figure]; ok {
		if n := having(e, sessions, other); len(n.sessions) == len(raw.sessions) {
			return n
		}
	}
	return alike(e, raw, band)
}

// alike is n without the sessions whose nights were other than most: it keeps the
// most that lie within band, in K, and of as many the colder. How cold a night was
// is the pack's temperature, or else the air's, at plug-in; a session that knows
// neither is left out. At the reference soak all nights are alike.
func alike(e *edition.Edition, n nights, band float64) nights {
	if atReference(n.figure) {
		return n
	}
	type night struct {
		session string
		c       float64
	}
	var known []night
	for _, id := range n.sessions {
		for _, name := range []string{"pack_temp_at_plug_in", "ambient_at_plug_in"} {
			if f, ok := e.Find(id, name); ok && f.Ranked() {
				known = append(known, night{id, *f.Value})
				break
			}
		}
	}
	slices.SortStableFunc(known, func(a, b night) int { return cmp.Compare(a.c, b.c) })
	var most []night
	for i := range known {
		j := i
		for j < len(known) && rounded(known[j].c-known[i].c) <= band {
			j++
		}
		if j-i > len(most) {
			most = known[i:j]
		}
	}
	var ids []string
	for _, n := range most {
		ids = append(ids, n.session)
	}
	slices.Sort(ids)
	return having(e, ids, n.figure)
}

// having is the figure of those sessions that have a value of it.
func having(e *edition.Edition, sessions []string, figure string) nights {
	n := nights{figure: figure}
	for _, id := range sessions {
		if f, ok := e.Find(id, figure); ok && f.Ranked() {
			n.sessions = append(n.sessions, id)
			n.values = append(n.values, uncertainty.Value{V: *f.Value, U: *f.U})
		}
	}
	return n
}

// agreement judges, for every car with several sessions that count, whether they
// agree in the figures that earn points. It only flags: a session is left out for
// what was wrong with its night, not for what came out of it. earns tells which
// procedures' sessions count for a figure; those of one procedure are compared.
func agreement(e *edition.Edition, usable []sessionRow, earns func(figure string) []string, band float64) []edition.Gate {
	rule := e.RuleOf(agreementGate)
	if rule.Action == Off {
		return nil
	}
	var out []edition.Gate
	counting := countingSessions(e, usable)
	for _, v := range vehicles(e) {
		for _, procedure := range inTheCold {
			sessions := counting.of(v.ID, []string{procedure})
			if len(sessions) < 2 {
				continue
			}
			against, compared := map[string][]string{}, map[string][]string{}
			for _, s := range e.Scales {
				if !slices.Contains(earns(s.Figure), procedure) {
					continue
				}
				n := comparable(e, sessions, s.Figure, band)
				if len(n.sessions) < 2 || s.Zero == s.Full || slices.Contains(compared[n.sessions[0]], n.figure) {
					continue // the last where raw and corrected earn points
				}
				points := make([]uncertainty.Value, len(n.values))
				for i, x := range n.values {
					slope := 100 / math.Abs(s.Full-s.Zero)
					points[i] = uncertainty.Value{V: x.V * slope, U: x.U * slope}
					compared[n.sessions[i]] = append(compared[n.sessions[i]], n.figure)
				}
				var named []int
				for _, d := range uncertainty.Disagreements(points, rule.Limit) {
					why := n.told(d, named, e.Definition(n.figure).Unit, rule.Limit)
					named = append(named, d.Members...)
					for _, i := range d.Members {
						against[n.sessions[i]] = append(against[n.sessions[i]], why)
					}
				}
			}
			for _, id := range sessions {
				g := edition.Gate{Session: id, Gate: agreementGate, Verdict: edition.Passed,
					Reason: "agrees with the car's other sessions in " + strings.Join(compared[id], ", ")}
				switch {
				case compared[id] == nil:
					g.Verdict, g.Reason = edition.CannotTell, "no figure that earns points has a value at the reference soak, or on a night alike, in another session of the car"
				case against[id] != nil:
					g.Verdict, g.Reason = edition.Flagged, strings.Join(against[id], "; ")
				}
				out = append(out, g)
			}
		}
	}
	return out
}

// told says who disagrees, in what and by how much. named are those that stood out
// before, which the others are without.
func (n nights) told(d uncertainty.Disagreement, named []int, unit string, limit float64) string {
	number := func(v uncertainty.Value) string { return edition.Fixed(v.V, edition.Decimals(v.V, &v.U)) }
	how := ""
	if !atReference(n.figure) {
		how = " as measured"
	}
	apart := fmt.Sprintf("%s points apart, the protocol allows %s beyond twice their uncertainty of %s", edition.Fixed(d.Apart, 1), edition.Fixed(limit, 1), edition.Fixed(d.U, 1))
	if len(d.Members) == 1 {
		i := d.Members[0]
		var others []string
		for j, v := range n.values {
			if j != i && !slices.Contains(named, j) {
				others = append(others, number(v))
			}
		}
		return fmt.Sprintf("%s stands out: %s%s %s %s, in the car's others %s: %s", n.sessions[i], n.figure, how, number(n.values[i]), unit, listed(others), apart)
	}
	var who, what []string
	for _, i := range d.Members {
		who, what = append(who, n.sessions[i]), append(what, number(n.values[i]))
	}
	return fmt.Sprintf("%s differ, and which is off cannot be told: %s%s %s %s: %s", listed(who), n.figure, how, listed(what), unit, apart)
}

// listed is "a, b and c".
func listed(words []string) string {
	if n := len(words) - 1; n > 0 {
		return strings.Join(words[:n], ", ") + " and " + words[n]
	}
	return strings.Join(words, "")
}

// variances are, for every figure that earns points, how far the sessions of one
// car differ beside how far cars do: at the reference soak, or, where that is not
// known of any car's two sessions, as measured, a car's on nights alike. A figure is
// missing if there are no two such, or if they do not differ at all.
func variances(e *edition.Edition, usable []sessionRow, earns func(figure string) []string, band float64) []edition.Variance {
	var out []edition.Variance
	counting := countingSessions(e, usable)
	for _, s := range e.Scales {
		for _, figure := range []string{corrected[s.Figure], s.Figure} {
			if slices.ContainsFunc(out, func(v edition.Variance) bool { return v.Figure == figure }) {
				break // raw and corrected earn points
			}
			var groups [][]float64
			for _, v := range vehicles(e) {
				n := having(e, counting.of(v.ID, earns(s.Figure)), figure)
				if len(n.sessions) > 1 {
					n = alike(e, n, band)
				}
				var values []float64
				for _, x := range n.values {
					values = append(values, x.V)
				}
				groups = append(groups, values)
			}
			if v, ok := uncertainty.Analyse(groups); ok && v.Within > 0 {
				out = append(out, edition.Variance{Figure: figure, Cars: v.Groups, Sessions: v.N, Free: v.WithinFree,
					Repeatability: rounded(v.Repeatability), CarsSD: rounded(v.GroupsSD), F: rounded(v.F), P: rounded(v.P)})
				break
			}
		}
	}
	return out
}
