package clock

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"coldbench/warehouse/diag"
)

// A night is the power of one invented charge, in kW over s: heat alone, the step
// at the start, a rise, some drops, a fall, the end.
type night struct{ steps [][2]float64 }

func (n night) pack(t float64) float64 {
	if t < 0 {
		return 0
	}
	v := 0.0
	for _, s := range n.steps {
		if t >= s[0] {
			v = s[1]
		}
	}
	if v > 0 {
		v += 10 * math.Sin(t/900) // what rises and falls slowly
	}
	return v
}

func (n night) charger(t float64) float64 {
	switch {
	case t < 40 || t > 5400:
		return 0
	case t < 3000 && math.Mod(t, 700) < 600: // the heater, by its thermostat
		return n.pack(t)*1.02 + 6.3
	}
	return n.pack(t)*1.02 + 0.3
}

func drawNight(rng *rand.Rand) night {
	on := 600 + 1200*rng.Float64()
	n := night{[][2]float64{{on, 25}}}
	for t := on + 200 + 600*rng.Float64(); t < 5200; t += 300 + 900*rng.Float64() {
		n.steps = append(n.steps, [2]float64{t, 20 + 40*rng.Float64()})
	}
	return night{append(n.steps, [2]float64{5400, 0})}
}

// log is a log of a power, a row each interval from a random phase on.
func log(of func(float64) float64, from, to, interval, offset, noise float64, rng *rand.Rand) []Sample {
	var l []Sample
	for t := from + interval*rng.Float64(); t < to; t += interval {
		v := of(t)
		if v != 0 {
			v += noise * rng.NormFloat64()
		}
		l = append(l, Sample{t - offset, v})
	}
	return l
}

// The stated uncertainty must be the true one: of many offsets, about 68 of 100 lie
// within it and 95 within twice it (JCGM 100, table G.1).
func TestAlignCoverage(t *testing.T) {
	const each = 25
	within, twice, all := 0, 0, 0
	for i, c := range []struct{ car, charger, noise float64 }{
		{1, 1, 0.1}, {1, 5, 0.1}, {5, 1, 0.3}, {2, 10, 0.05}, {1, 30, 0.2}, {1, 60, 0.1}, {10, 60, 0.3}, {60, 30, 0.1},
	} {
		rng := rand.New(rand.NewPCG(7, uint64(i)))
		here := 0
		for range each {
			n := drawNight(rng)
			offset := 7200 * (rng.Float64() - 0.5)
			a, err := Align(log(n.pack, -120, 5600, c.car, 0, c.noise, rng), log(n.charger, 0, 5700, c.charger, offset, c.noise, rng))
			if err != nil {
				t.Fatalf("%+v: %v", c, err)
			}
			switch z := math.Abs(a.OffsetS-offset) / a.U; {
			case z <= 1:
				here++
				fallthrough
			case z <= 2:
				twice++
			case z > 6:
				t.Errorf("%+v: %.2f ± %.2f s, really %.2f", c, a.OffsetS, a.U, offset)
			}
			all++
		}
		if here < each*4/10 {
			t.Errorf("%+v: %d of %d offsets lie within their uncertainty", c, here, each)
		}
		within += here
	}
	one, two := float64(within)/float64(all), float64(twice)/float64(all)
	t.Logf("of %d offsets, %.0f %% lie within u and %.0f %% within 2 u", all, 100*one, 100*two)
	if one < 0.6 || one > 0.8 || two < 0.93 {
		t.Errorf("of %d offsets, %.2f lie within u and %.2f within 2 u", all, one, two)
	}
}

// rows are values at times from from on, every interval: low, and high from the
// time of the step on.
func rows(from, to, interval, step float64) []Sample {
	var l []Sample
	for t := from; t <= to; t += interval {
		v := 5.0
		if t >= step {
			v = 25
		}
		l = append(l, Sample{t, v})
	}
	return l
}

// One step, at 1000 s by a log with a row a second: between 999.5 and 1000.5. The
// other has a row a minute and is 137 s fast; it has the step between 1107.25 and
// 1167.25 of its clock, 970.25 and 1030.25 of the right one. So all of -107.25 less
// 60 to -107.25 fits, less half a second: -137.25, and 60/sqrt(12) s uncertain.
func TestAlignOneStep(t *testing.T) {
	a, err := Align(rows(0.5, 3000, 1, 1000), rows(147.25, 3200, 60, 1137))
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(a.OffsetS - -137.25) > 0.6 || math.Abs(a.U-60/math.Sqrt(12)) > 0.6 {
		t.Errorf("offset %.2f ± %.2f s, want -137.25 ± 17.32", a.OffsetS, a.U)
	}
	// The other way round, the sign turns.
	b, err := Align(rows(147.25, 3200, 60, 1137), rows(0.5, 3000, 1, 1000))
	if err != nil || math.Abs(b.OffsetS+a.OffsetS) > 1e-9 || math.Abs(b.U-a.U) > 1e-9 {
		t.Errorf("swapped: %+v, %v; want the opposite of %+v", b, err, a)
	}
	// Two rows a second each, of times without a fraction in the one: the step lies
	// in one second of each, sqrt(1/12+1/12), and what was cut off is 1/sqrt(12).
	c, err := Align(rows(0, 3000, 1, 1000), rows(86400.5, 89400, 1, 87400))
	if want := math.Sqrt(3. / 12); err != nil || math.Abs(c.OffsetS - -86400) > 0.6 || math.Abs(c.U-want) > 0.05 {
		t.Errorf("%+v, %v; want -86400 ± %.2f", c, err, want)
	}
}

// A logger that did not run all the time, and one that wrote ten times a second,
// tell the same.
func TestAlignGap(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	n := drawNight(rng)
	car := log(n.pack, -120, 5600, 0.1, 0, 0.1, rng)
	var charger []Sample
	for _, s := range log(n.charger, 0, 5700, 2, -3600, 0.1, rng) {
		if s.At < 3600+2400 || s.At > 3600+3000 {
			charger = append(charger, s)
		}
	}
	a, err := Align(car, charger)
	if err != nil || math.Abs(a.OffsetS - -3600) > 3*a.U || a.U > 0.5 {
		t.Errorf("%+v, %v; want -3600", a, err)
	}
}

func TestAlignRefuses(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	step := rows(0, 3000, 1, 1000)
	var flat, cycle, noise, down []Sample
	for i := range 3000 {
		s := float64(i)
		flat = append(flat, Sample{s, 7})
		cycle = append(cycle, Sample{s, 20 * math.Floor(math.Mod(s, 600)/300)})
		noise = append(noise, Sample{s, 30 * rng.Float64()})
		down = append(down, Sample{s, -step[i].Value})
	}
	for _, c := range []struct {
		what     string
		ref, log []Sample
		want     string
	}{
		{"nothing", step, nil, "0 values of power are too few to tell the clock by"},
		{"few", step[:9], step, "9 values of power are too few to tell the clock by"},
		{"flat", step, flat, "the power hardly changes, too little to tell the clock by"},
		{"short", step[700:1200], step, "the two logs of power overlap by less than 10 min, too little to tell the clock by"},
		{"years", step, append(append([]Sample{}, step...), Sample{4e8, 0}), "4630 days of power are too many to tell the clock by"},
		{"cycle", cycle, cycle, "two offsets fit the power about as well, "},
		{"upside down", step, down, "the two logs of power are too little alike to tell the clock by: 0.00 of 1 at best"},
		{"unlike", step, noise, "the two logs of power are too little alike to tell the clock by: "},
	} {
		_, err := Align(c.ref, c.log)
		d, ok := err.(*diag.Diagnostic)
		if !ok || !strings.HasPrefix(d.Msg, c.want) || d.Hint == "" {
			t.Errorf("%s: %v, want %q and a hint", c.what, err, c.want)
		}
	}
}
