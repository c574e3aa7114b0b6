package standings

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"coldbench/metrics/uncertainty"
)

func v(x, u float64) uncertainty.Value { return uncertainty.Value{V: x, U: u} }

var twoScales = []Scale{{Figure: "delay", Zero: 90, Full: 0, Weight: 3}, {Figure: "energy", Zero: 0, Full: 50, Weight: 1}}

// By hand: a delay of 45 of 90..0 min earns 50 points, 25 of 0..50 kWh 50; with
// weights 3 and 1 the score is 50. u of the delay, 0.9 min, is 1 point; of the
// energy, 1 kWh, 2 points: sqrt((3*1)^2 + (1*2)^2)/4 = sqrt(13)/4 = 0.9014.
func TestScoreByHand(t *testing.T) {
	table := Rank([]Car{{ID: "a", Values: map[string]uncertainty.Value{"delay": v(45, 0.9), "energy": v(25, 1)}}}, twoScales)
	p := table.Places[0]
	if p.Rank != 1 || math.Abs(p.Score.V-50) > 1e-12 || math.Abs(p.Score.U-math.Sqrt(13)/4) > 1e-12 {
		t.Errorf("%+v", p)
	}
}

func TestEndsAndMissing(t *testing.T) {
	s := twoScales[0]
	for x, want := range map[float64]float64{90: 0, 120: 0, 0: 100, -5: 100, 9: 90} {
		if got := s.Points(v(x, 1)); math.Abs(got.V-want) > 1e-12 {
			t.Errorf("%v earns %v, want %v", x, got, want)
		}
	}
	// By hand, a minute being 100/90 points: inside, u is that; at an end half of it,
	// for beyond it nothing moves; half a u beyond, a quarter; a u beyond, nothing.
	for x, want := range map[float64]float64{45: 1, 90: 0.5, 90.5: 0.25, 89.5: 0.75, 91: 0, 120: 0, 0: 0.5, -0.5: 0.25, -1: 0} {
		if got := s.Points(v(x, 1)).U; math.Abs(got-want*100/90) > 1e-12 {
			t.Errorf("%v ± 1 is known to %v points, want %v", x, got, want*100/90)
		}
	}
	// A missing figure earns nothing: 100 points of weight 3 in 4.
	p := Rank([]Car{{ID: "a", Values: map[string]uncertainty.Value{"delay": v(0, 0)}}}, twoScales).Places[0]
	if p.Score.V != 75 {
		t.Errorf("%+v", p)
	}
}

// Of two cars at 50 and 47 points, 1 known with one degree of freedom and 0 exactly, the
// first is before the second in as many draws as Student's t with one degree, which is
// Cauchy's, is above -3: 1/2 + atan(3)/pi = 0.8976. A normal one is in 0.9987. So the
// mean of two nights that differ promises less than its uncertainty alone.
func TestFewDegreesOfFreedom(t *testing.T) {
	scale := []Scale{{Figure: "x", Zero: 0, Full: 100, Weight: 1}}
	for free, want := range map[float64]float64{0: 0.99865, 1: 0.5 + math.Atan(3)/math.Pi} {
		table := Rank([]Car{{ID: "a", Values: map[string]uncertainty.Value{"x": v(50, 1)}, Free: map[string]float64{"x": free}},
			{ID: "b", Values: map[string]uncertainty.Value{"x": v(47, 0)}}}, scale)
		if b := table.Before[0][0]; math.Abs(b-want) > 0.01 {
			t.Errorf("with %v degrees of freedom: before in %v, want %v", free, b, want)
		}
	}
}

// Two values apart by a sixth of their uncertainty cannot be told apart because the
// scale ends between them: 50.5 ± 3 of 0..50 kWh is no surer of its 100 points than
// 50 ± 3 or 49.5 ± 3 is.
func TestNobodyIsSureAtTheEnd(t *testing.T) {
	scale := []Scale{{Figure: "x", Zero: 0, Full: 50, Weight: 1}}
	for _, p := range Rank([]Car{{ID: "a", Values: map[string]uncertainty.Value{"x": v(50.5, 3)}}, {ID: "b", Values: map[string]uncertainty.Value{"x": v(50, 3)}},
		{ID: "c", Values: map[string]uncertainty.Value{"x": v(49.5, 3)}}}, scale).Places {
		if p.Rank != 1 || p.Score.U < 2 {
			t.Errorf("%+v", p)
		}
	}
}

// Three cars at 50, 49 and 40 points, u 1 each: the first two are 1 apart and
// share place 1 (2*sqrt(2) = 2.83), the third is 9 below and has two before it.
func TestSharedRank(t *testing.T) {
	scale := []Scale{{Figure: "x", Zero: 0, Full: 100, Weight: 1}}
	car := func(id string, x float64) Car {
		return Car{ID: id, Values: map[string]uncertainty.Value{"x": v(x, 1)}}
	}
	table := Rank([]Car{car("c", 40), car("a", 50), car("b", 49), {ID: "d", Reason: "soaked 5 h"}, {ID: "e"}}, scale)
	got := ""
	for _, p := range table.Places {
		got += fmt.Sprintf("%s %d (%d-%d) %s; ", p.ID, p.Rank, p.Lowest, p.Highest, p.Reason)
	}
	if want := "a 1 (1-2) ; b 1 (1-2) ; c 3 (3-3) ; d 0 (0-0) soaked 5 h; e 0 (0-0) no figure has a value; "; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	// P(a before b) = Phi(1/sqrt(2)) = 0.7602 (normal table).
	if b := table.Before[0][0]; math.Abs(b-0.7602) > 0.015 || len(table.Before[0]) != 2 || len(table.Before[2]) != 0 {
		t.Errorf("before: %v", table.Before)
	}
}

// By hand: b, c and d are known to 0.3, a to 2, e to 3 points. a and e are 5 apart,
// 2*sqrt(4+9) = 7.2: not to be told apart; nor e and c, 1 apart. But c is 4 below a,
// not to be told apart from it either (4.04), and 4 below b, which it can be (0.85);
// so c has b before it, and e, with fewer points, stands no better. d has b and c
// clearly before it, and a: 10 is more than 4.04; not e: 5 is less than 6.03.
func TestNoBetterThanMorePoints(t *testing.T) {
	scale := []Scale{{Figure: "x", Zero: 0, Full: 100, Weight: 1}}
	var all []Car
	for id, x := range map[string]uncertainty.Value{"a": v(65, 2), "b": v(65, 0.3), "c": v(61, 0.3), "e": v(60, 3), "d": v(55, 0.3)} {
		all = append(all, Car{ID: id, Values: map[string]uncertainty.Value{"x": x}})
	}
	got := ""
	for _, p := range Rank(all, scale).Places {
		got += fmt.Sprintf("%s %d; ", p.ID, p.Rank)
	}
	if want := "a 1; b 1; c 2; e 2; d 4; "; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}

// More points are never a worse place, equal points are one place, and the first
// place is taken. A place is never better than the number of cars clearly ahead
// allows, and only worse where a car with more points, or as many, has it.
func TestMorePointsNeverWorse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := cars(t)
		table := Rank(all, twoScales)
		for i, p := range table.Places {
			if p.Rank == 0 {
				continue
			}
			ahead := 0
			for _, o := range table.Places {
				if o.Rank == 0 {
					continue
				}
				if o.Score.V > p.Score.V && o.Rank > p.Rank || o.Score.V == p.Score.V && o.Rank != p.Rank {
					t.Fatalf("%+v\n%+v", p, o)
				}
				if ClearlyAhead(o.Score, p.Score) {
					ahead++
				}
			}
			if p.Rank < 1+ahead || i == 0 && p.Rank != 1 {
				t.Fatalf("%+v has %d clearly ahead", p, ahead)
			}
			if p.Rank > 1+ahead && !slices.ContainsFunc(table.Places, func(o Place) bool { return o.ID != p.ID && o.Rank == p.Rank && o.Score.V >= p.Score.V }) {
				t.Fatalf("%+v has %d clearly ahead, and nobody with as many points is there", p, ahead)
			}
		}
	})
}

func cars(t *rapid.T) []Car {
	n := rapid.IntRange(1, 6).Draw(t, "n")
	out := make([]Car, n)
	for i := range out {
		out[i] = Car{ID: fmt.Sprint("car", i), Values: map[string]uncertainty.Value{}}
		for _, s := range twoScales {
			if rapid.Float64Range(0, 1).Draw(t, "has") > 0.2 {
				out[i].Values[s.Figure] = v(rapid.Float64Range(-20, 120).Draw(t, "v"), rapid.Float64Range(0, 5).Draw(t, "u"))
			}
		}
	}
	return out
}

func byID(t Table) map[string]Place {
	m := map[string]Place{}
	for _, p := range t.Places {
		m[p.ID] = p
	}
	return m
}

// Adding a car changes no other car's points.
func TestAddingACar(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := cars(t)
		before, after := byID(Rank(all[:len(all)-1], twoScales)), byID(Rank(all, twoScales))
		for id, p := range before {
			if q := after[id]; !reflect.DeepEqual(p.Points, q.Points) || p.Score != q.Score {
				t.Fatalf("%s had %+v, has %+v", id, p, q)
			}
		}
	})
}

// The order of the cars changes nothing, and ranks lie within their range.
func TestOrderIsNoMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := cars(t)
		a := Rank(all, twoScales)
		shuffled := rapid.Permutation(all).Draw(t, "order")
		if b := Rank(slices.Clone(shuffled), twoScales); !reflect.DeepEqual(a, b) {
			t.Fatalf("%+v\n%+v", a, b)
		}
		for _, p := range a.Places {
			if p.Rank > 0 && (p.Lowest > p.Rank || p.Highest < p.Rank || p.Lowest < 1 || p.Highest > len(all)) {
				t.Fatalf("%+v", p)
			}
		}
	})
}

// By hand: a has 80 and 20 points, b 50 and 60, weights 3 and 2. a leads by 3 x 30 -
// 2 x 40 = 10. The first weight must fall by 10/30, to 2.6667, or the second rise by
// 10/40, to 2.25, before b leads.
func TestShifts(t *testing.T) {
	scales := []Scale{{Figure: "x", Full: 100, Weight: 3}, {Figure: "y", Full: 100, Weight: 2}}
	cars := []Car{{ID: "a", Values: map[string]uncertainty.Value{"x": v(80, 1), "y": v(20, 1)}}, {ID: "b", Values: map[string]uncertainty.Value{"x": v(50, 1), "y": v(60, 1)}}}
	got := Rank(cars, scales).Shifts(scales)
	if len(got) != 2 || math.Abs(got[0].Lower-8.0/3) > 1e-12 || got[0].LowerTo != "b" || got[0].HigherTo != "" || math.Abs(got[1].Higher-2.25) > 1e-12 || got[1].HigherTo != "b" || got[1].LowerTo != "" {
		t.Errorf("%+v", got)
	}
	if Rank(cars[:1], scales).Shifts(scales) != nil {
		t.Error("one car alone has no lead")
	}
	// Level on y, so that without any weight on x both lead; and no weight is less than none.
	cars[1].Values["y"] = v(20, 1)
	if got := Rank(cars, scales).Shifts(scales)[0]; got.LowerTo != "" || got.HigherTo != "" {
		t.Errorf("%+v", got)
	}
}

// Just inside a shift the same car leads, just beyond it the other one does.
func TestShiftsTurnTheLead(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := cars(t)
		lead := func(set []Scale) (string, float64) {
			best, second, id := math.Inf(-1), math.Inf(-1), ""
			for _, p := range Rank(all, set).Places {
				if p.Rank == 0 {
					continue
				}
				if p.Score.V > best {
					best, second, id = p.Score.V, best, p.ID
				} else {
					second = max(second, p.Score.V)
				}
			}
			return id, best - second
		}
		before, by := lead(twoScales)
		for i, s := range Rank(all, twoScales).Shifts(twoScales) {
			turn := func(weight float64, want string) {
				moved := slices.Clone(twoScales)
				moved[i].Weight = weight
				if got, by := lead(moved); got != want && by > 1e-6 {
					t.Fatalf("%s at %v: %s leads, not %s", s.Figure, weight, got, want)
				}
			}
			if by < 1e-6 {
				continue
			}
			if s.LowerTo != "" && s.Lower > 1e-6 {
				turn(s.Lower+1e-4*(s.Weight-s.Lower), before)
				turn(s.Lower*(1-1e-4), s.LowerTo)
			}
			if s.HigherTo != "" {
				turn(s.Higher-1e-4*(s.Higher-s.Weight), before)
				turn(s.Higher*(1+1e-4), s.HigherTo)
			}
		}
	})
}

// A tie counts half: two cars of the same points, without any uncertainty, are
// each before the other in half of the draws, and share the first place in all.
func TestTies(t *testing.T) {
	scale := []Scale{{Figure: "x", Zero: 0, Full: 100, Weight: 1}}
	table := Rank([]Car{{ID: "a", Values: map[string]uncertainty.Value{"x": v(50, 0)}}, {ID: "b", Values: map[string]uncertainty.Value{"x": v(50, 0)}}}, scale)
	if b := table.Before[0][0]; b != 0.5 {
		t.Errorf("a is before b in %v of the draws", b)
	}
	for _, p := range table.Places {
		if p.Lowest != 1 || p.Highest != 1 {
			t.Errorf("%+v", p)
		}
	}
}

// A category ranks as its scales do where there are no others.
func TestCategories(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := cars(t)
		scales := []Scale{twoScales[0], twoScales[1], {Figure: "delay", Zero: 60, Full: 10, Weight: 0.5}}
		scales[0].Category, scales[1].Category, scales[2].Category = "time", "energy", "time"
		table := Rank(all, scales)
		if len(table.Categories) != 2 {
			t.Fatalf("%d categories", len(table.Categories))
		}
		for i, want := range []Category{{"time", 3.5, Rank(all, []Scale{scales[0], scales[2]}).Places}, {"energy", 1, Rank(all, scales[1:2]).Places}} {
			if got := table.Categories[i]; !reflect.DeepEqual(got, want) {
				t.Fatalf("got  %+v\nwant %+v", got, want)
			}
		}
		for i := range scales {
			scales[i].Category = ""
		}
		if plain := Rank(all, scales); !reflect.DeepEqual(plain.Places, table.Places) || !reflect.DeepEqual(plain.Before, table.Before) {
			t.Fatal("categories change the standings")
		}
	})
}

// Two scales of weight 1, on which a car's values are known to 1 and to 2 points. By hand,
// JCGM 100, eq. 16: independent, their mean is known to sqrt(1 + 4)/2; where the errors are
// the same, to (1 + 2)/2; where half of the second's is, its correlation being 0.5, to
// sqrt(1 + 4 + 2*0.5*1*2)/2; where the second figure is better higher, what one loses the
// other gains: (2 - 1)/2. Of a car exactly 1.5 points behind, it is before in as many draws
// as a normal distribution has above -1.5 of these.
func TestCommonErrors(t *testing.T) {
	for _, c := range []struct {
		zero, full float64
		in         map[string]float64
		want       float64
	}{
		{100, 0, nil, math.Sqrt(5) / 2},
		{100, 0, map[string]float64{"x": 1, "y": 1}, 1.5},
		{100, 0, map[string]float64{"x": 1, "y": 0.5}, math.Sqrt(7) / 2},
		{0, 100, map[string]float64{"x": 1, "y": 1}, 0.5},
	} {
		scales := []Scale{{Figure: "x", Zero: 100, Full: 0, Weight: 1}, {Figure: "y", Zero: c.zero, Full: c.full, Weight: 1}}
		table := Rank([]Car{
			{ID: "a", Values: map[string]uncertainty.Value{"x": v(50, 1), "y": v(50, 2)}, Common: Common{Of: c.in}},
			{ID: "b", Values: map[string]uncertainty.Value{"x": v(51.5, 0), "y": v(50+math.Copysign(1.5, c.zero-c.full), 0)}},
		}, scales)
		if u := table.Places[0].Score.U; math.Abs(u-c.want) > 1e-12 {
			t.Errorf("%v: known to %v points, want %v", c, u, c.want)
		}
		if got, want := table.Before[0][0], 0.5*math.Erfc(-1.5/c.want/math.Sqrt2); math.Abs(got-want) > 0.015 {
			t.Errorf("%v: before in %v of the draws, want %v", c, got, want)
		}
	}
}
