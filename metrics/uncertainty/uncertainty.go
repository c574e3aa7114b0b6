// Package uncertainty combines standard uncertainties as JCGM 100:2008 does:
// of independent parts, of replicate results, and of a fitted line.
//
// All functions are pure. Quantities carry no units here; what goes in together
// must be in one unit.
package uncertainty

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// A Value is a result with its standard uncertainty U, in the same unit.
type Value struct {
	V, U float64
}

// Rectangular is the standard uncertainty of a value of which only an interval
// of the given width is known (JCGM 100, 4.3.7).
func Rectangular(width float64) float64 { return width / math.Sqrt(12) }

// RootSum is the combined standard uncertainty of independent parts, each
// already times its sensitivity (JCGM 100, eq. 10).
func RootSum(parts ...float64) float64 {
	sum := 0.0
	for _, p := range parts {
		sum = math.Hypot(sum, p)
	}
	return sum
}

// DegreesOfFreedom are the effective ones of a combined uncertainty, by
// Welch-Satterthwaite (JCGM 100, eq. G.2b). parts and dof are of one length; a
// dof of 0 means that the part is known for good.
func DegreesOfFreedom(parts, dof []float64) float64 {
	u, sum := RootSum(parts...), 0.0
	for i, p := range parts {
		if dof[i] > 0 && p > 0 {
			sum += math.Pow(p/u, 4) / dof[i] // as shares, whose fourth powers are numbers whatever the unit
		}
	}
	return 1 / sum // infinite where all is known for good
}

// Coverage is the factor by which a standard uncertainty of so many degrees of
// freedom is expanded to a two-sided level such as 0.95 (JCGM 100, G.3).
func Coverage(level, dof float64) float64 {
	if math.IsInf(dof, 1) {
		return distuv.UnitNormal.Quantile(0.5 + level/2)
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: dof}.Quantile(0.5 + level/2)
}

// Apart is how far two results lie apart in units of their expanded
// uncertainties with k = 2: the number En of ISO 13528 (from memory). Above 1
// they cannot be called the same. It is 0 for two equal values, however sure.
func Apart(a, b Value) float64 {
	d := math.Abs(a.V - b.V)
	if d == 0 {
		return 0
	}
	return d / (2 * math.Hypot(a.U, b.U))
}

// MeanSD is the mean and the standard deviation (n-1) of xs, by Welford's
// updating, which keeps its digits where sums of squares lose them. The
// deviation of fewer than two is 0.
func MeanSD(xs []float64) (mean, sd float64) {
	m2 := 0.0
	for i, x := range xs {
		d := x - mean
		mean += d / float64(i+1)
		m2 += d * (x - mean)
	}
	if len(xs) > 1 {
		sd = math.Sqrt(m2 / float64(len(xs)-1))
	}
	return mean, sd
}

// A Line is a straight line fitted to points by least squares.
type Line struct {
	Intercept, Slope   float64
	UIntercept, USlope float64 // standard uncertainties
	Covariance         float64 // of the two
	Residual           float64 // standard deviation, n-2 degrees of freedom
	R2                 float64
	N                  int
}

// Fit fits y = Intercept + Slope x. It wants at least three points of at least
// two different x; ok is false without.
func Fit(x, y []float64) (l Line, ok bool) {
	n := len(x)
	if n < 3 || n != len(y) {
		return Line{}, false
	}
	mx, _ := MeanSD(x)
	my, _ := MeanSD(y)
	var sxx, sxy, syy float64
	for i := range x {
		dx, dy := x[i]-mx, y[i]-my
		sxx += dx * dx
		sxy += dx * dy
		syy += dy * dy
	}
	if sxx == 0 {
		return Line{}, false
	}
	l = Line{Slope: sxy / sxx, N: n}
	l.Intercept = my - l.Slope*mx
	sse := 0.0
	for i := range x {
		r := (y[i] - my) - l.Slope*(x[i]-mx)
		sse += r * r
	}
	l.Residual = math.Sqrt(sse / float64(n-2))
	l.USlope = l.Residual / math.Sqrt(sxx)
	l.UIntercept = l.Residual * math.Sqrt(1/float64(n)+mx*mx/sxx)
	l.Covariance = -mx * l.USlope * l.USlope
	if l.R2 = 1; syy > 0 {
		l.R2 = 1 - sse/syy
	}
	return l, true
}
