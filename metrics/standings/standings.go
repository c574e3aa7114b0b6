// Package standings ranks cars by points on fixed scales, and says how sure the
// ranking is.
//
// Points come from scales that a protocol fixes, so that adding a car changes
// no other car's points. The functions are pure and know no database.
package standings

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"coldbench/metrics/uncertainty"
)

// A Scale turns a figure into points: Zero earns 0, Full earns 100, in a line
// between and no further.
type Scale struct {
	Figure     string
	Zero, Full float64
	Weight     float64
	Category   string // that it also counts in alone, or ""
}

// Points are what a value earns, with their standard uncertainty: half of what lies
// between the points of the value with its own uncertainty more and less (JCGM 100,
// 5.1.3, note 2). Within the scale that is the scale's slope times it; a value just
// beyond an end is as unsure of the end as one just before it, and only one that is
// far beyond earns what it earns for sure.
func (s Scale) Points(v uncertainty.Value) uncertainty.Value {
	return uncertainty.Value{V: s.at(v.V), U: math.Abs(s.at(v.V+v.U)-s.at(v.V-v.U)) / 2}
}

// at is what exactly this value earns.
func (s Scale) at(v float64) float64 {
	return earned(v, s.Zero, s.Full-s.Zero)
}

func earned(v, zero, span float64) float64 {
	points := 100 * (v - zero) / span
	switch { // sooner done than min and max
	case points > 100:
		return 100
	case points <= 0:
		return 0
	}
	return points
}

// A Car is what is ranked.
type Car struct {
	ID     string
	Values map[string]uncertainty.Value // by figure; a figure that is missing earns 0 points
	Free   map[string]float64           // degrees of freedom that a value's uncertainty is known with, where they are few
	Common Common
	Reason string // not empty: listed, but not ranked
}

// Common is one error that several of a car's values hold, as those that all count
// from one plug-in do. The rest of their errors are independent.
type Common struct {
	Of   map[string]float64 // correlation of a value's error with it, by figure; a figure that is missing holds nothing of it
	Free float64            // as Car.Free
}

// A Place is one car's.
type Place struct {
	ID      string
	Points  []uncertainty.Value // one a scale
	Score   uncertainty.Value   // weighted mean of the points
	Rank    int                 // from 1, by the rule of Rank; 0: not ranked
	Lowest  int                 // range of ranks in 95 % of the draws
	Highest int
	Reason  string
}

// A Table is a ranking.
type Table struct {
	Places     []Place     // ranked ones first, by rank, score, ID; then the others by ID
	Before     [][]float64 // Before[i][k]: share of draws in which Places[i] has more points than Places[i+1+k], ties halved; ranked ones only, each beside the Beside after it
	Categories []Category  // in the order of the scales
}

// A Category is a ranking by the scales of one category alone.
type Category struct {
	Name   string
	Weight float64 // of its scales together
	Places []Place // as a Table's
}

// A Shift is how far one scale's weight may move, the others as they are, before
// another car has the most points.
type Shift struct {
	Figure      string
	Weight      float64
	Lower       float64 // weight below which To leads; meaningless if LowerTo is ""
	LowerTo     string
	Higher      float64 // and above which
	HigherTo    string
	Unshakeable bool // neither: no weight of this scale changes who leads
}

// Shifts returns how firm the first place is, a scale at a time, in their order;
// nil with fewer than two ranked cars. Points are linear in the weights, so the
// weights are exact: with S the leader's lead in weighted points and d the
// difference of their points on the scale, the lead is gone at weight - S/d.
func (t Table) Shifts(scales []Scale) []Shift {
	var ranked []Place
	for _, p := range t.Places {
		if p.Rank > 0 {
			ranked = append(ranked, p)
		}
	}
	if len(ranked) < 2 {
		return nil
	}
	leader := ranked[0]
	for _, p := range ranked[1:] {
		if p.Score.V > leader.Score.V {
			leader = p
		}
	}
	var out []Shift
	for i, s := range scales {
		shift := Shift{Figure: s.Figure, Weight: s.Weight}
		for _, p := range ranked {
			d := leader.Points[i].V - p.Points[i].V
			if p.ID == leader.ID || d == 0 {
				continue
			}
			lead := 0.0
			for j, o := range scales {
				lead += o.Weight * (leader.Points[j].V - p.Points[j].V)
			}
			at := s.Weight - lead/d
			switch {
			case at < 0:
			case d > 0 && at > 0 && at <= s.Weight && (shift.LowerTo == "" || at > shift.Lower):
				shift.Lower, shift.LowerTo = at, p.ID
			case d < 0 && at >= s.Weight && (shift.HigherTo == "" || at < shift.Higher):
				shift.Higher, shift.HigherTo = at, p.ID
			}
		}
		shift.Unshakeable = shift.LowerTo == "" && shift.HigherTo == ""
		out = append(out, shift)
	}
	return out
}

// ClearlyAhead reports whether a's score is more above b's than twice their
// combined standard uncertainty: En above 1 with k = 2 (ISO 13528, from memory).
func ClearlyAhead(a, b uncertainty.Value) bool { return a.V > b.V && uncertainty.Apart(a, b) > 1 }

// Rank ranks cars. A car's rank is one more than the number of cars clearly
// ahead of it, so cars that cannot be told apart mostly share one; but it is never better
// than that of a car with more points, which what is known less well could
// otherwise be: being known less well is no merit. Ranges of ranks and the shares of
// Before come from draws of the values themselves, normal, or Student's where their
// uncertainty is known with few degrees of freedom, pushed through the scales; each
// value's draws depend on its car and figure only, and on what is drawn for what the car's
// values have in common, so that neither order nor company changes them.
func Rank(cars []Car, scales []Scale) Table {
	t := Table{Places: places(cars, scales)}
	for i, s := range scales {
		if s.Category == "" || slices.ContainsFunc(scales[:i], func(o Scale) bool { return o.Category == s.Category }) {
			continue
		}
		c := Category{Name: s.Category}
		own := slices.DeleteFunc(slices.Clone(scales), func(o Scale) bool { return o.Category != s.Category })
		for _, o := range own {
			c.Weight += o.Weight
		}
		c.Places = places(cars, own)
		t.Categories = append(t.Categories, c)
	}
	ranked := map[string]bool{}
	for _, p := range t.Places {
		ranked[p.ID] = p.Rank > 0
	}
	t.draw(slices.DeleteFunc(slices.Clone(cars), func(c Car) bool { return !ranked[c.ID] }), scales)
	return t
}

// places are those of all cars, without their ranges.
func places(cars []Car, scales []Scale) []Place {
	var out []Place
	for _, c := range cars {
		p := place(c, scales)
		if len(c.Values) == 0 && p.Reason == "" {
			p.Reason = "no figure has a value"
		}
		out = append(out, p)
	}
	rank(out)
	slices.SortFunc(out, func(a, b Place) int {
		ranked := func(p Place) int {
			if p.Rank == 0 {
				return 1
			}
			return 0
		}
		return cmp.Or(ranked(a)-ranked(b), a.Rank-b.Rank, cmp.Compare(b.Score.V*float64(min(b.Rank, 1)), a.Score.V*float64(min(a.Rank, 1))), strings.Compare(a.ID, b.ID))
	})
	return out
}

// rank gives every place without a reason its rank.
func rank(places []Place) {
	ahead := make([]int, len(places))
	for i, p := range places {
		for _, o := range places {
			if o.Reason == "" && ClearlyAhead(o.Score, p.Score) {
				ahead[i]++
			}
		}
	}
	for i := range places {
		if places[i].Reason != "" {
			continue
		}
		for j, o := range places {
			if o.Reason == "" && o.Score.V >= places[i].Score.V {
				places[i].Rank = max(places[i].Rank, 1+ahead[j])
			}
		}
	}
}

func place(c Car, scales []Scale) Place {
	p := Place{ID: c.ID, Reason: c.Reason}
	total, common := 0.0, 0.0
	for _, s := range scales {
		var pts uncertainty.Value
		if v, ok := c.Values[s.Figure]; ok {
			pts = s.Points(v)
		}
		p.Points = append(p.Points, pts)
		p.Score.V += s.Weight * pts.V
		in := c.Common.Of[s.Figure]
		p.Score.U = math.Hypot(p.Score.U, s.Weight*pts.U*math.Sqrt(1-in*in))
		common += s.Weight * math.Copysign(pts.U, s.Full-s.Zero) * in
		total += s.Weight
	}
	p.Score.U = math.Hypot(p.Score.U, common) // JCGM 100, 5.2.2
	if total > 0 {
		p.Score.V /= total
		p.Score.U /= total
	}
	return p
}
