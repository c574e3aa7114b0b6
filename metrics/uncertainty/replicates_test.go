package uncertainty

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestCombineByHand(t *testing.T) {
	for _, c := range []struct {
		what                     string
		xs                       []Value
		mean, u, within, between float64
		free                     float64
	}{
		{"one alone", []Value{{10, 1}}, 10, 1, 1, 0, 0},
		// Two that agree: sqrt(1+1)/2 = 0.7071.
		{"two alike", []Value{{10, 1}, {10, 1}}, 10, math.Sqrt(0.5), 1, 0, 0},
		// Two that do not: sd = 4/sqrt(2), so between it is sqrt(8-1), and the mean's
		// uncertainty sqrt(8/2) = 2. Of its square, 8/2, 7/2 has one degree of freedom, and
		// the rest is known: (8/2)^2 / ((7/2)^2 / 1) = 64/49.
		{"two apart", []Value{{10, 1}, {14, 1}}, 12, 2, 1, math.Sqrt(7), 64.0 / 49},
		// sd of 1, 2, 6 is sqrt(7); within it is sqrt((1+4+4)/3) = sqrt(3); between, 2:
		// (7/3)^2 / ((4/3)^2 / 2) degrees of freedom.
		{"three", []Value{{1, 1}, {2, 2}, {6, 2}}, 3, math.Sqrt(7.0 / 3), math.Sqrt(3), 2, 2 * 49.0 / 16},
		// The scatter, sqrt(0.5), is less than what each is known to.
		{"luck", []Value{{10, 2}, {11, 2}}, 10.5, math.Sqrt2, 2, 0, 0},
	} {
		got := Combine(c.xs)
		if got.N != len(c.xs) {
			t.Errorf("%s: %+v", c.what, got)
		}
		near(t, c.what+", mean", got.V, c.mean, 1e-14)
		near(t, c.what+", u", got.U, c.u, 1e-14)
		near(t, c.what+", within", got.Within, c.within, 1e-14)
		near(t, c.what+", between", got.Between, c.between, 1e-14)
		near(t, c.what+", degrees of freedom", got.Free, c.free, 1e-13)
	}
}

// As an analysis of variance has it: with groups of n readings each, the mean
// square between groups is n times the variance of their means, and the component
// of the groups is what Combine calls Between when each mean is known to the
// repeatability over sqrt(n).
func TestCombineIsAnAnalysisOfVariance(t *testing.T) {
	for _, name := range []string{"SiRstv", "AtmWtAg", "SmLs01"} {
		groups := readStRD(t, name).groups
		v, _ := Analyse(groups)
		var means []Value
		for _, g := range groups {
			mean, _ := MeanSD(g)
			means = append(means, Value{mean, v.Repeatability / math.Sqrt(float64(len(g)))})
		}
		r := Combine(means)
		near(t, name+" between", r.Between, v.GroupsSD, 1e-8)
		near(t, name+" u of the mean", r.U*r.U*float64(v.N), v.Between/float64(v.BetweenFree), 1e-8)
	}
}

func value(t *rapid.T) []Value {
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Value {
		return Value{rapid.Float64Range(-1e3, 1e3).Draw(t, "v"), rapid.Float64Range(0, 10).Draw(t, "u")}
	}), 1, 8).Draw(t, "xs")
}

func TestCombineKeepsWithinRange(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		xs := value(t)
		c := Combine(xs)
		low, high := math.Inf(1), math.Inf(-1)
		for _, x := range xs {
			low, high = min(low, x.V), max(high, x.V)
		}
		if c.V < low-1e-9 || c.V > high+1e-9 || c.U < 0 || strings.Contains(fmt.Sprint(c), "NaN") {
			t.Fatalf("%v of %v", c, xs)
		}
		if other := rapid.Permutation(slices.Clone(xs)).Draw(t, "order"); Combine(other) != c {
			t.Fatalf("in another order %v is %v", c, Combine(other))
		}
	})
}

// found prints disagreements: who, how far apart, to what uncertainty.
func found(xs []Value, allowed float64) string {
	var out []string
	for _, d := range Disagreements(xs, allowed) {
		out = append(out, fmt.Sprintf("%v %.3f ± %.3f", d.Members, d.Apart, d.U))
	}
	return strings.Join(out, ", ")
}

func TestDisagreementsByHand(t *testing.T) {
	for _, c := range []struct {
		what    string
		xs      []Value
		allowed float64
		want    string
	}{
		{"none", nil, 0, ""},
		{"one", []Value{{10, 1}}, 0, ""},
		// En = 4/(2 sqrt(1+1)) = 1.41; with 1.2 allowed, 4 - 2.828 is within.
		{"two apart", []Value{{10, 1}, {14, 1}}, 0, "[0 1] 4.000 ± 1.414"},
		{"two, allowed", []Value{{10, 1}, {14, 1}}, 1.2, ""},
		{"the boundary", []Value{{10, 1}, {12, 0}}, 0, ""},
		{"just beyond it", []Value{{10, 1}, {12.01, 0}}, 0, "[0 1] 2.010 ± 1.000"},
		// The others are 40 and 42: mean 41, sd sqrt(2), uncertain by 1; with what
		// they scatter, sqrt(2), and nothing of its own the last is known to sqrt(3)
		// beside them: 17 - 2 x 1.732 = 13.5. The first beside 42 and 58, mean 50, sd
		// 11.31, uncertain by 8: 10 apart, to sqrt(64+128) = 13.86.
		{"one of three stands out", []Value{{40, 0}, {42, 0}, {58, 0}}, 5, "[2] 17.000 ± 1.732"},
		{"and it may stand anywhere", []Value{{58, 0}, {40, 0}, {42, 0}}, 5, "[0] 17.000 ± 1.732"},
		{"and is allowed to", []Value{{40, 0}, {42, 0}, {58, 0}}, 17, ""},
		// Its own uncertainty counts: twice 6 and the 5 allowed are 17, all that it is off.
		{"a doubtful one does not stand out", []Value{{40, 0}, {42, 0}, {58, 6}}, 5, ""},
		// Each beside three others of which two are far off, as 40 beside 41, 58 and 59:
		// mean 52.667, 12.667 apart, and sd 10.12.
		{"two and two: none stands out", []Value{{40, 0}, {41, 0}, {58, 0}, {59, 0}}, 5, "[0 1 2 3] 12.667 ± 0.000"},
		// 100 beside 10, 10, 20: mean 13.333, sd 5.774, uncertain by 3.333, so
		// sqrt(33.33+11.11) = 6.667. Then 20 beside 10 and 10, which do not scatter.
		{"one after another", []Value{{10, 0}, {100, 0}, {20, 0}, {10, 0}}, 5, "[1] 86.667 ± 6.667, [2] 10.000 ± 0.000"},
		// 0 beside 40 and 80 is 60 off, to sqrt(28.28^2+20^2) = 34.6 by their scatter:
		// none stands out. By what each is known to, it is 60 to sqrt(1+1/2).
		{"three far apart", []Value{{0, 1}, {40, 1}, {80, 1}}, 5, "[0 1 2] 60.000 ± 1.225"},
	} {
		if got := found(c.xs, c.allowed); got != c.want {
			t.Errorf("%s: %s, want %s", c.what, got, c.want)
		}
	}
}

// Source: NIST/SEMATECH e-Handbook, 1.3.5.17.1, uranium isotope ratios of Tietjen
// and Moore (1972), from memory: Grubbs' G = 2.4687 of the last value, critical at
// 5 % 2.032. Grubbs' statistic and the distance from the others combined are one:
// t = G sqrt(n (n-2) / ((n-1)^2 - n G^2)).
func TestGrubbs(t *testing.T) {
	var xs []Value
	var values []float64
	for _, x := range []float64{199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57} {
		xs, values = append(xs, Value{V: x}), append(values, x)
	}
	mean, sd := MeanSD(values)
	g, n := (245.57-mean)/sd, float64(len(xs))
	near(t, "G", g, 2.4687, 3e-5)
	got := Disagreements(xs, 5)
	if len(got) != 1 || !slices.Equal(got[0].Members, []int{7}) {
		t.Fatalf("%+v", got)
	}
	near(t, "distance", got[0].Apart/got[0].U, g*math.Sqrt(n*(n-2)/((n-1)*(n-1)-n*g*g)), 1e-9)
}

// Who disagrees is the same in whatever order the results come, so long as no two
// are the same.
func TestDisagreementsInAnyOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		xs := value(t)
		who := func(xs []Value) []string {
			var out []string
			for _, d := range Disagreements(xs, 5) {
				var members []Value
				for _, i := range d.Members {
					members = append(members, xs[i])
				}
				slices.SortFunc(members, func(a, b Value) int { return int(math.Copysign(1, a.V-b.V)) })
				out = append(out, fmt.Sprint(members, d.Apart, d.U))
			}
			return out
		}
		for i, a := range xs {
			for _, b := range xs[i+1:] {
				if a.V == b.V {
					t.Skip()
				}
			}
		}
		other := rapid.Permutation(slices.Clone(xs)).Draw(t, "order")
		if a, b := who(xs), who(other); !slices.Equal(a, b) {
			t.Fatalf("%v, in another order %v", a, b)
		}
	})
}
