package uncertainty

import (
	"bufio"
	"fmt"
	"math"
	"math/big"
	"os"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

// A certified analysis is a data set of NIST StRD with what its file certifies.
type certified struct {
	groups                             [][]float64
	between, within, f, r2, residual   float64
	betweenFree, withinFree, dataFirst int
}

// readStRD reads a file as its own header says where data and values stand.
func readStRD(t *testing.T, name string) certified {
	t.Helper()
	f, err := os.Open("testdata/" + name + ".dat")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	c := certified{dataFirst: 61}
	last := math.MaxInt
	s := bufio.NewScanner(f)
	scan := func(text, format string, to ...any) {
		if n, err := fmt.Sscanf(strings.TrimSpace(text), format, to...); n != len(to) {
			t.Fatalf("%s: %q: %v", name, text, err)
		}
	}
	var mean float64
	var treatment string
	for line := 1; s.Scan(); line++ {
		switch text := s.Text(); {
		case strings.Contains(text, "Data   ") && line < 10:
			scan(text, "Data (lines %d to %d)", &c.dataFirst, &last)
		case strings.HasPrefix(text, "Between "):
			scan(text, "Between %s %d %g %g %g", &treatment, &c.betweenFree, &c.between, &mean, &c.f)
		case strings.HasPrefix(text, "Within "):
			scan(text, "Within %s %d %g %g", &treatment, &c.withinFree, &c.within, &mean)
		case strings.Contains(text, "Certified R-Squared"):
			scan(text, "Certified R-Squared %g", &c.r2)
		case strings.Contains(text, "Standard Deviation") && line < c.dataFirst:
			scan(text, "Standard Deviation %g", &c.residual)
		case line >= c.dataFirst && line <= last:
			var group int
			var value float64
			scan(text, "%d %g", &group, &value)
			for len(c.groups) < group {
				c.groups = append(c.groups, nil)
			}
			c.groups[group-1] = append(c.groups[group-1], value)
		}
	}
	return c
}

// Source: NIST StRD, analysis of variance: certified values. How near the last
// sets can come is bounded by their data: at seven leading digits that all values
// share, a float64 holds nine of what differs, at thirteen only three.
func TestAnalyseAgainstStRD(t *testing.T) {
	for name, tolerance := range map[string]float64{"SiRstv": 1e-12, "AtmWtAg": 1e-8, "SmLs01": 1e-14, "SmLs04": 1e-8, "SmLs07": 2e-3} {
		c := readStRD(t, name)
		v, ok := Analyse(c.groups)
		if !ok || v.BetweenFree != c.betweenFree || v.WithinFree != c.withinFree || c.f == 0 || c.residual == 0 {
			t.Fatalf("%s: %+v, certified %+v", name, v, c)
		}
		near(t, name+" between", v.Between, c.between, tolerance)
		near(t, name+" within", v.Within, c.within, tolerance)
		near(t, name+" F", v.F, c.f, tolerance)
		near(t, name+" R squared", v.R2, c.r2, tolerance)
		near(t, name+" residual deviation", v.Repeatability, c.residual, tolerance)
		// And no more is lost than the data had lost: the exact F of the values as
		// a float64 holds them.
		near(t, name+" exact F", v.F, exactF(c.groups), 1e-9)
	}
}

// exactF is F in exact fractions.
func exactF(groups [][]float64) float64 {
	n, all := new(big.Rat), new(big.Rat)
	one := big.NewRat(1, 1)
	for _, g := range groups {
		for _, x := range g {
			n.Add(n, one)
			all.Add(all, new(big.Rat).SetFloat64(x))
		}
	}
	grand := new(big.Rat).Quo(all, n)
	between, within := new(big.Rat), new(big.Rat)
	square := func(a, b *big.Rat) *big.Rat { d := new(big.Rat).Sub(a, b); return d.Mul(d, d) }
	for _, g := range groups {
		size, sum := big.NewRat(int64(len(g)), 1), new(big.Rat)
		for _, x := range g {
			sum.Add(sum, new(big.Rat).SetFloat64(x))
		}
		mean := new(big.Rat).Quo(sum, size)
		between.Add(between, new(big.Rat).Mul(size, square(mean, grand)))
		for _, x := range g {
			within.Add(within, square(new(big.Rat).SetFloat64(x), mean))
		}
	}
	k := big.NewRat(int64(len(groups)), 1)
	between.Quo(between, new(big.Rat).Sub(k, one))
	within.Quo(within, new(big.Rat).Sub(n, k))
	f, _ := between.Quo(between, within).Float64()
	return f
}

// By hand: groups 1 2 3, 5 7 and 4. The grand mean is 22/6, the means are 2, 6, 4:
// between 3 (5/3)^2 + 2 (7/3)^2 + (1/3)^2 = 25/3 + 98/9 + 1/9 = 58/3, within
// 2 + 2 = 4; F = (58/3/2)/(4/3) = 7.25. The mean size of a group is
// (6 - (9+4+1)/6)/2 = 11/6, so the groups vary by (29/3 - 4/3)/(11/6) = 50/11.
func TestAnalyseByHand(t *testing.T) {
	v, ok := Analyse([][]float64{{1, 2, 3}, {}, {5, 7}, {4}})
	if !ok || v.Groups != 3 || v.N != 6 {
		t.Fatalf("%+v", v)
	}
	near(t, "between", v.Between, 58.0/3, 1e-14)
	near(t, "within", v.Within, 4, 1e-14)
	near(t, "F", v.F, 7.25, 1e-14)
	near(t, "repeatability", v.Repeatability, math.Sqrt(4.0/3), 1e-14)
	near(t, "of the groups", v.GroupsSD, math.Sqrt(50.0/11), 1e-14)
	// Source: tables of F, 5 %: F(2, 3) = 9.552 (from memory).
	near(t, "table", distuv.F{D1: 2, D2: 3}.Survival(9.552), 0.05, 1e-3)
	if v.P < 0.05 || v.P > 0.1 {
		t.Errorf("P = %v", v.P)
	}
	for _, none := range [][][]float64{nil, {{1, 2}}, {{1}, {2}}, {{1, 2}, {}}} {
		if v, ok := Analyse(none); ok {
			t.Errorf("%v: %+v", none, v)
		}
	}
	if v, _ := Analyse([][]float64{{1, 1}, {2, 2}}); !math.IsInf(v.F, 1) || v.P != 0 || v.R2 != 1 {
		t.Errorf("%+v", v)
	}
	if v, _ := Analyse([][]float64{{1, 1}, {1, 1}}); v.F != 0 || v.P != 1 || v.GroupsSD != 0 {
		t.Errorf("%+v", v)
	}
}

// With two groups F is the square of Student's t, so their chances agree.
func TestTwoGroupsAreStudents(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Map(rapid.IntRange(-1000, 1000), func(i int) float64 { return float64(i) / 8 }), 2, 9)
		a, b := values.Draw(t, "a"), values.Draw(t, "b")
		v, ok := Analyse([][]float64{a, b})
		if !ok || v.Within == 0 {
			return
		}
		ma, _ := MeanSD(a)
		mb, _ := MeanSD(b)
		student := math.Abs(ma-mb) / (v.Repeatability * math.Sqrt(1/float64(len(a))+1/float64(len(b))))
		want := 2 * distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(v.WithinFree)}.Survival(student)
		if math.Abs(v.P-want) > 1e-9 {
			t.Fatalf("%v and %v: P = %v, by Student %v", a, b, v.P, want)
		}
	})
}
