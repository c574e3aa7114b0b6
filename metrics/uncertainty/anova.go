package uncertainty

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// A Variance is a one-way analysis of variance: how far groups differ, beside how
// far the values of one group do.
type Variance struct {
	Groups, N               int
	Between, Within         float64 // sums of squares
	BetweenFree, WithinFree int     // their degrees of freedom
	F                       float64 // mean square between over mean square within; +Inf where nothing differs within
	P                       float64 // chance of such an F if the groups were all one
	R2                      float64
	Repeatability, GroupsSD float64 // standard deviation within a group; of the groups beyond what that explains
}

// Analyse is the one-way analysis of variance of groups. Empty groups do not
// count; ok is false with fewer than two others, or if none has two values.
//
// It works on values less the first one, and sums squares about means, since
// sums of squares as they come lose the digits that large values share. GroupsSD
// is the component of variance of ISO 5725-2, from memory: the mean square
// between less that within, over the mean size of a group, never below 0.
func Analyse(groups [][]float64) (v Variance, ok bool) {
	var shift, grand, squares float64
	var sets [][]float64
	for _, g := range groups {
		if len(g) == 0 {
			continue
		}
		if sets == nil {
			shift = g[0]
		}
		set := make([]float64, len(g))
		for i, x := range g {
			set[i] = x - shift
			v.N++
			grand += (set[i] - grand) / float64(v.N)
		}
		sets = append(sets, set)
		squares += float64(len(g)) * float64(len(g))
	}
	v.Groups, v.BetweenFree, v.WithinFree = len(sets), len(sets)-1, v.N-len(sets)
	if v.BetweenFree < 1 || v.WithinFree < 1 {
		return Variance{}, false
	}
	for _, set := range sets {
		mean, sd := MeanSD(set)
		n := float64(len(set))
		v.Between += n * (mean - grand) * (mean - grand)
		v.Within += (n - 1) * sd * sd
	}
	between, within := v.Between/float64(v.BetweenFree), v.Within/float64(v.WithinFree)
	switch {
	case v.Between == 0:
		v.P = 1
	case v.Within == 0:
		v.F, v.R2 = math.Inf(1), 1
	default:
		v.F, v.R2 = between/within, v.Between/(v.Between+v.Within)
		v.P = distuv.F{D1: float64(v.BetweenFree), D2: float64(v.WithinFree)}.Survival(v.F)
	}
	size := (float64(v.N) - squares/float64(v.N)) / float64(v.BetweenFree)
	v.Repeatability, v.GroupsSD = math.Sqrt(within), math.Sqrt(max(0, between-within)/size)
	return v, true
}
