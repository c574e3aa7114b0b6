package uncertainty

import (
	"cmp"
	"math"
	"slices"
)

// Replicates are results of one thing on several occasions, taken together.
type Replicates struct {
	Value           // their mean, with its standard uncertainty
	N       int     // how many there are
	Within  float64 // root mean square of the results' own standard uncertainties
	Between float64 // standard deviation that the occasions add to that; 0 with one
	Free    float64 // degrees of freedom of U; 0: known for good
}

// Combine is the mean of replicate results of one thing. It is an analysis of
// variance in which the spread within an occasion is known beforehand, as the
// result's own uncertainty: what the results scatter beyond that is the spread
// between occasions, Between² = max(0, sd² - Within²) (the estimator of Cochran
// for the component of variance, from memory), and the mean is uncertain by
// both, U² = (Within² + Between²)/n. So nights may differ, and luck makes no car
// look surer than its instruments are. What few occasions scatter is known poorly:
// that has n-1 degrees of freedom, and the mean as many as Welch-Satterthwaite makes
// of them. The mean is not weighted: where nights
// differ, a night counts as a night, however well it was logged. The order of xs
// changes nothing, to the last bit. xs must not be empty.
func Combine(xs []Value) Replicates {
	xs = slices.Clone(xs)
	slices.SortFunc(xs, func(a, b Value) int { return cmp.Or(cmp.Compare(a.V, b.V), cmp.Compare(a.U, b.U)) })
	values, within := make([]float64, len(xs)), 0.0
	for i, x := range xs {
		values[i] = x.V
		within = math.Hypot(within, x.U)
	}
	n := float64(len(xs))
	mean, sd := MeanSD(values)
	r := Replicates{Value: Value{V: mean}, N: len(xs), Within: within / math.Sqrt(n)}
	if sd > r.Within {
		r.Between = math.Sqrt((sd - r.Within) * (sd + r.Within))
	}
	r.U = max(r.Within, sd) / math.Sqrt(n)
	if r.Between > 0 {
		r.Free = DegreesOfFreedom([]float64{r.Within, r.Between}, []float64{0, n - 1})
	}
	return r
}

// A Disagreement is some of several replicates that do not agree with the rest.
type Disagreement struct {
	Members []int      // by index, ascending: one that stands out, or all that differ where none does
	Others  Replicates // that the one was set beside, or the one furthest out
	Apart   float64    // how far it is from them
	U       float64    // standard uncertainty of that
}

// Disagreements finds the replicates that lie apart from the others by more than
// allowed beyond twice the standard uncertainty of that: with nothing allowed, a
// normalised error En (ISO 13528, from memory) above 1.
//
// With three or more, each is set beside the others combined, and what the others
// scatter is held for it: a new result may scatter likewise. So one bad result
// stands out, and hides behind no mean that it has drawn towards itself. The one
// furthest out is named and the rest looked at again, as outliers are in ASTM
// E178. Without uncertainties the distance over its own is Grubbs' statistic in
// another dress. Results that are apart by what each is known to, but so that
// none stands out from the scatter, are told of together, and so are two: nothing
// says which is off. Nothing is dropped.
func Disagreements(xs []Value, allowed float64) []Disagreement {
	var out []Disagreement
	rest := make([]int, len(xs))
	for i := range rest {
		rest[i] = i
	}
	for len(rest) > 2 {
		worst, ok := furthest(xs, rest, allowed, true)
		if !ok {
			break
		}
		out = append(out, worst)
		rest = slices.DeleteFunc(rest, func(i int) bool { return i == worst.Members[0] })
	}
	if len(rest) > 1 {
		if d, ok := furthest(xs, rest, allowed, false); ok {
			d.Members = rest
			out = append(out, d)
		}
	}
	return out
}

// furthest is the one of xs that is furthest beyond what is allowed from the
// others of among; ok is false if none is. scatter says whether what the others
// scatter is part of the uncertainty.
func furthest(xs []Value, among []int, allowed float64, scatter bool) (worst Disagreement, ok bool) {
	most := 0.0
	for k, i := range among {
		var others []Value
		for n, j := range among {
			if n != k {
				others = append(others, xs[j])
			}
		}
		d := Disagreement{Members: []int{i}, Others: Combine(others)}
		d.Apart = math.Abs(xs[i].V - d.Others.V)
		if scatter {
			d.U = RootSum(xs[i].U, d.Others.Between, d.Others.U)
		} else {
			d.U = RootSum(xs[i].U, d.Others.Within/math.Sqrt(float64(d.Others.N)))
		}
		if beyond := d.Apart - 2*d.U - allowed; beyond > most {
			worst, most, ok = d, beyond, true
		}
	}
	return worst, ok
}
