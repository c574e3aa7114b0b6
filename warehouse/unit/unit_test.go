package unit

import (
	"math"
	"strings"
	"testing"
)

// Source: NIST SP 811 (2008), appendix B.8; the decimal places are worked out
// from its exact factors. Knot: UCUM [kn_i], 1.852 km/h exactly.
func TestScaleAgainstSP811(t *testing.T) {
	for _, c := range []struct {
		v        float64
		spelling string
		want     float64
		unit     Unit
	}{
		{20, "°F", -6.6667, Celsius},
		{0, "degF", -17.7778, Celsius},
		{-40, "°F", -40, Celsius},
		{77, "F", 25, Celsius},
		{14, "°F", -10, Celsius},
		{1, "mi", 1.609344, Kilometre},
		{1, "kn", 1.852, KilometrePerHour},
		{3.6e6, "J", 1, KilowattHour},
		{3412.14163, "Btu", 1, KilowattHour},
		{7000, "W", 7, Kilowatt},
		{0.25, "fraction", 25, Percent},
	} {
		s, err := Parse(c.spelling)
		if err != nil {
			t.Fatal(err)
		}
		if s.Unit != c.unit || math.Abs(s.Of(c.v)-c.want) > 5e-5 {
			t.Errorf("%v %s = %v %s, want %v %s", c.v, c.spelling, s.Of(c.v), s.Unit, c.want, c.unit)
		}
	}
}

// A difference of temperatures must not take the offset: 20 °F of difference
// are 11.111 K (NIST SP 811, B.8: interval 1 °F = 5/9 K).
func TestIntervalIsNotTemperature(t *testing.T) {
	s, err := Parse("°F")
	if err != nil {
		t.Fatal(err)
	}
	if got := s.Of(20) - s.Of(0); math.Abs(got-11.1111) > 1e-4 {
		t.Errorf("20 °F apart = %v K", got)
	}
}

func TestParseErrors(t *testing.T) {
	for spelling, want := range map[string]string{
		"kWhh": `did you mean "kwh"?`,
		"":     `unknown unit ""`,
		"🔋":    "known units: kW",
	} {
		if _, err := Parse(spelling); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("Parse(%q) = %v, want it to say %q", spelling, err, want)
		}
	}
	if _, err := Between("kWh", Kilowatt); err == nil || !strings.Contains(err.Error(), "does not measure power") {
		t.Errorf("kWh taken as power: %v", err)
	}
}

func TestEverySpellingHasAQuantity(t *testing.T) {
	for _, s := range Spellings() {
		sc, err := Parse(s)
		if err != nil || sc.Factor <= 0 || Quantity(sc.Unit) == "" {
			t.Errorf("%q: %+v %v", s, sc, err)
		}
	}
}
