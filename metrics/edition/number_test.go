package edition

import (
	"math"
	"math/big"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
)

// LibreOffice 7.4 prints the same of cells with the number formats 0, 0.0 and 0.00.
func TestFixed(t *testing.T) {
	for _, c := range []struct {
		v    float64
		n    int
		want string
	}{
		{96.25, 1, "96.3"}, // a tie that a double holds
		{96.35, 1, "96.4"}, // one that it does not: a little more
		{0.15, 1, "0.2"},   // or a little less
		{1.005, 2, "1.01"},
		{2.5, 0, "3"},
		{-2.5, 0, "-3"},
		{-0.04, 1, "0.0"}, // not -0.0
		{0.1 + 0.2, 1, "0.3"},
		{96.24999999, 1, "96.2"},
		{65.825, 2, "65.83"},
		{2.675, 2, "2.68"},
		{0, 2, "0.00"},
	} {
		if got := Fixed(c.v, c.n); got != c.want {
			t.Errorf("Fixed(%v, %d) = %q, want %q", c.v, c.n, got, c.want)
		}
	}
}

// Any number is rounded as the decimal number that it is written as, by math/big.
func TestFixedIsExact(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 20000 {
		digits, places, n := rng.IntN(10), rng.IntN(8), rng.IntN(6)
		v := math.Round((rng.Float64()-0.5)*math.Pow10(digits)) / math.Pow10(places)
		r, _ := new(big.Rat).SetString(strconv.FormatFloat(v, 'g', -1, 64))
		want := r.FloatString(n)
		if strings.Trim(want, "-0.") == "" {
			want = strings.TrimPrefix(want, "-")
		}
		if got := Fixed(v, n); got != want {
			t.Fatalf("Fixed(%v, %d) = %q, want %q", v, n, got, want)
		}
	}
}

func BenchmarkValue(b *testing.B) {
	v, u := 38.491667, 0.29
	for b.Loop() {
		Value(&v, &u)
	}
}

// JCGM 100, 7.2.6: an uncertainty of two digits, and the value to the same place.
func TestValueInDigits(t *testing.T) {
	at := func(x float64) *float64 { return &x }
	for _, c := range []struct {
		v, u *float64
		want string
	}{
		{nil, at(1), "none"},
		{at(38.4567), at(2.04), "38.5 ± 2.0"},
		{at(96.25), at(1.25), "96.3 ± 1.3"},
		{at(1234.5), at(28), "1235 ± 28"},
		{at(1234.5), at(280), "1235 ± 280"},
		{at(54.563), at(0.996), "54.6 ± 1.0"}, // 0.996 is 1.0
		{at(54.563), at(0.0996), "54.56 ± 0.10"},
		{at(0.0490234), at(0.00042), "0.0490 ± 0.0004"},
		{at(0), at(0.000004), "0 ± < 0.0001"},
		{at(12.5), at(0.000004), "12.5 ± < 0.0001"},
		{at(3), at(0), "3"},
		{at(2.85714), at(0), "2.857"},
		{at(2.85714), nil, "2.857"},
		{at(10), nil, "10"},
	} {
		if got := Value(c.v, c.u); got != c.want {
			t.Errorf("got %q, want %q", got, c.want)
		}
	}
	beyond := Figure{Value: at(45.96), U: at(0.27), Status: Beyond}
	if got := beyond.Shown(); got != "> 45.96" {
		t.Errorf("a bound is %q", got)
	}
}

func TestSureness(t *testing.T) {
	for _, c := range []struct {
		p    float64
		want string
	}{{1, "> 99"}, {0.995, "> 99"}, {0.994, "99"}, {0.5, "50"}, {0.005, "1"}, {0.0049, "< 1"}, {0, "< 1"}} {
		if got := Sureness(c.p); got != c.want {
			t.Errorf("%v is %q, want %q", c.p, got, c.want)
		}
	}
}
