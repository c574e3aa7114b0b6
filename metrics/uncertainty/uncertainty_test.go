package uncertainty

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"testing"
)

func near(t *testing.T, what string, got, want, relative float64) {
	t.Helper()
	if !(math.Abs(got-want) <= relative*math.Abs(want)) {
		t.Errorf("%s = %.16g, want %.16g", what, got, want)
	}
}

// Source: NIST StRD, Norris: certified values of the linear regression.
func TestFitAgainstStRD(t *testing.T) {
	f, err := os.Open("testdata/Norris.dat")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var x, y []float64
	s := bufio.NewScanner(f)
	for line := 1; s.Scan(); line++ {
		var a, b float64
		if line < 61 || line > 96 { // the file's own header says where the data is
			continue
		}
		if n, err := fmt.Sscan(s.Text(), &b, &a); n != 2 || err != nil {
			t.Fatalf("line %d: %q: %v", line, s.Text(), err)
		}
		x, y = append(x, a), append(y, b)
	}
	l, ok := Fit(x, y)
	if !ok || l.N != 36 {
		t.Fatalf("%+v", l)
	}
	near(t, "intercept", l.Intercept, -0.262323073774029, 1e-11)
	near(t, "its deviation", l.UIntercept, 0.232818234301152, 1e-11)
	near(t, "slope", l.Slope, 1.00211681802045, 1e-13)
	near(t, "its deviation", l.USlope, 0.429796848199937e-03, 1e-11)
	near(t, "residual deviation", l.Residual, 0.884796396144373, 1e-12)
	near(t, "R squared", l.R2, 0.999993745883712, 1e-14)
}

// Source: NIST StRD, univariate: NumAcc1 and NumAcc4 (certified: mean 10000002,
// deviation 1; mean 10000000.2, deviation 0.1). One pass over sums of squares
// gives NumAcc4 a negative variance.
func TestMeanSDAgainstStRD(t *testing.T) {
	mean, sd := MeanSD([]float64{10000001, 10000003, 10000002})
	near(t, "NumAcc1 mean", mean, 10000002, 0)
	near(t, "NumAcc1 deviation", sd, 1, 0)
	xs := []float64{10000000.2}
	for range 500 {
		xs = append(xs, 10000000.1, 10000000.3)
	}
	mean, sd = MeanSD(xs)
	near(t, "NumAcc4 mean", mean, 10000000.2, 1e-15)
	near(t, "NumAcc4 deviation", sd, 0.1, 1e-7) // the data themselves hold 7 digits of it
}

// Source: JCGM 100:2008, example H.1 (from memory; the arithmetic closes): parts
// of 25, 9.7, 2.9 and 16.6 nm with 18, 25.6, 50 and 2 degrees of freedom.
func TestGaugeBlock(t *testing.T) {
	parts := []float64{25, 9.7, 2.9, 16.6}
	near(t, "uc", RootSum(parts...), 31.67, 2e-4)
	near(t, "uc with the second-order part", RootSum(append(parts, 11.7)...), 34, 1e-2)
	v := DegreesOfFreedom([]float64{25, 9.7, 2.9, 16.6}, []float64{18, 25.6, 50, 2})
	near(t, "dof", math.Floor(v), 16, 0)
	near(t, "dof of next to nothing", DegreesOfFreedom([]float64{0, 1e-84}, []float64{0, 3}), 3, 1e-12)
	if v := DegreesOfFreedom([]float64{1, 0}, []float64{0, 3}); !math.IsInf(v, 1) {
		t.Errorf("%v degrees of freedom of what is known for good", v)
	}
	near(t, "t99(16)", Coverage(0.99, 16), 2.92, 2e-3)
	near(t, "U99", math.Round(Coverage(0.99, 16)*32), 93, 0)
	near(t, "k at 95 % of a normal", Coverage(0.95, math.Inf(1)), 1.959963985, 1e-9)
}

func TestApart(t *testing.T) {
	near(t, "En", Apart(Value{10, 1}, Value{14, 0}), 2, 1e-12)
	if Apart(Value{1, 0}, Value{1, 0}) != 0 || !math.IsInf(Apart(Value{1, 0}, Value{2, 0}), 1) {
		t.Error("two exact values are the same or not at all")
	}
}
