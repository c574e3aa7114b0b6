package metrics

import (
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"coldbench/metrics/edition"
)

// A night is what one session of the test's cars came to: its figures, and the
// standard uncertainty of each is 0.5 unless stated under its name and " u".
type night struct {
	session, car string
	figures      map[string]float64
}

var testScales = []edition.Scale{{Figure: "delay_to_onset", Zero: 100, Full: 0, Weight: 3}, {Figure: "energy_60min", Zero: 0, Full: 50, Weight: 1}}

// series is an edition of nights, ranked.
func series(nights []night, settings ...GateSetting) *edition.Edition {
	e := &edition.Edition{Scales: testScales}
	var usable []sessionRow
	nights = slices.Clone(nights)
	slices.SortFunc(nights, func(a, b night) int { return strings.Compare(a.session, b.session) })
	for _, n := range nights {
		e.Sessions = append(e.Sessions, edition.Session{ID: n.session, Vehicle: n.car, Procedure: Ranked})
		usable = append(usable, sessionRow{id: n.session, vehicle: n.car, procedure: Ranked})
		for figure, v := range n.figures {
			if strings.HasSuffix(figure, " u") {
				continue
			}
			u, ok := n.figures[figure+" u"]
			if !ok {
				u = 0.5
			}
			e.Results = append(e.Results, edition.Figure{Session: n.session, Figure: figure, Value: &v, U: &u, Status: edition.Measured})
		}
	}
	sortFigures(e.Results)
	for _, name := range []string{"delay_to_onset", "delay_at_reference"} {
		e.Figures = append(e.Figures, edition.Defined{Name: name, Unit: "min"})
	}
	e.Figures = append(e.Figures, edition.Defined{Name: "energy_60min", Unit: "kWh"})
	slices.SortFunc(e.Sessions, func(a, b edition.Session) int { return strings.Compare(a.ID, b.ID) })
	e.Rules = rules(settings, nil)
	e.Gates = agreement(e, usable, asRanked, 2.8)
	slices.SortStableFunc(e.Gates, func(a, b edition.Gate) int { return strings.Compare(a.Session, b.Session) }) // as a run does
	e.Variances = variances(e, usable, asRanked, 2.8)
	rank(e, usable, asRanked)
	return e
}

func judged(e *edition.Edition) string {
	var out []string
	for _, g := range e.Gates {
		out = append(out, fmt.Sprintf("%s %s: %s", g.Session, g.Verdict, g.Reason))
	}
	return strings.Join(out, "\n")
}

// delays are nights of one car at one soak, each known to 0.5 min.
func delays(minutes ...float64) []night {
	var out []night
	for i, m := range minutes {
		out = append(out, night{fmt.Sprint("s", i+1), "oak", map[string]float64{"delay_to_onset": m, "pack_temp_at_plug_in": -20}})
	}
	return out
}

// A point is a minute on the scale of the delay, 100 to 0.
func TestReplicates(t *testing.T) {
	for _, c := range []struct {
		what   string
		nights []night
		want   string
	}{
		{"one session has none beside it", delays(40), ""},
		// 6.4 - 2 sqrt(0.5^2 + 0.5^2) = 6.4 - 1.414 = 4.986, within 5.
		{"two that agree", delays(40, 46.4), `
s1 passed: agrees with the car's other sessions in delay_to_onset
s2 passed: agrees with the car's other sessions in delay_to_onset`},
		{"two that do not, flagged as a pair", delays(40, 46.5), `
s1 flagged: s1 and s2 differ, and which is off cannot be told: delay_to_onset as measured 40.00 and 46.50 min: 6.5 points apart, the protocol allows 5.0 beyond twice their uncertainty of 0.7
s2 flagged: s1 and s2 differ, and which is off cannot be told: delay_to_onset as measured 40.00 and 46.50 min: 6.5 points apart, the protocol allows 5.0 beyond twice their uncertainty of 0.7`},
		// The others' mean is 41, sd sqrt(2): between them sqrt(2 - 0.25) = 1.323, the
		// mean known to 1; with 0.5 of its own, sqrt(0.25 + 1.75 + 1) = 1.732. 59 is 18
		// off: 18 - 3.464 is 9.5 beyond the 5.
		{"one of three stands out", delays(40, 59, 42), `
s1 passed: agrees with the car's other sessions in delay_to_onset
s2 flagged: s2 stands out: delay_to_onset as measured 59.00 min, in the car's others 40.00 and 42.00: 18.0 points apart, the protocol allows 5.0 beyond twice their uncertainty of 1.7
s3 passed: agrees with the car's other sessions in delay_to_onset`},
		// 60 beside 40, 41 and 61: 12.667 from their mean, within what they scatter,
		// and so each; but by what each is known to, sqrt(0.25 + 0.25/3) = 0.577, not.
		// 61 beside 40, 41 and 60, 47, is the furthest, 14.
		{"none of four stands out", delays(40, 60, 41, 61), `
s1 flagged: s1, s2, s3 and s4 differ, and which is off cannot be told: delay_to_onset as measured 40.00, 60.00, 41.00 and 61.00 min: 14.0 points apart, the protocol allows 5.0 beyond twice their uncertainty of 0.6
s2 flagged: s1, s2, s3 and s4 differ, and which is off cannot be told: delay_to_onset as measured 40.00, 60.00, 41.00 and 61.00 min: 14.0 points apart, the protocol allows 5.0 beyond twice their uncertainty of 0.6
s3 flagged: s1, s2, s3 and s4 differ, and which is off cannot be told: delay_to_onset as measured 40.00, 60.00, 41.00 and 61.00 min: 14.0 points apart, the protocol allows 5.0 beyond twice their uncertainty of 0.6
s4 flagged: s1, s2, s3 and s4 differ, and which is off cannot be told: delay_to_onset as measured 40.00, 60.00, 41.00 and 61.00 min: 14.0 points apart, the protocol allows 5.0 beyond twice their uncertainty of 0.6`},
		// 100 beside 40, 40 and 50: mean 43.33, sd sqrt(33.33), so sqrt(33.33 + 11.11) =
		// 6.667. Without it, 50 beside 40 and 40, which do not scatter: to sqrt(0.25 + 0.125).
		{"one after another, each beside those that are left", delays(40, 100, 50, 40), `
s1 passed: agrees with the car's other sessions in delay_to_onset
s2 flagged: s2 stands out: delay_to_onset as measured 100.00 min, in the car's others 40.00, 50.00 and 40.00: 56.7 points apart, the protocol allows 5.0 beyond twice their uncertainty of 6.7
s3 flagged: s3 stands out: delay_to_onset as measured 50.00 min, in the car's others 40.00 and 40.00: 10.0 points apart, the protocol allows 5.0 beyond twice their uncertainty of 0.6
s4 passed: agrees with the car's other sessions in delay_to_onset`},
		// Raw, the colder night is 15 min behind; at the reference they are one.
		{"at the reference soak where both have it", []night{
			{"s1", "oak", map[string]float64{"delay_to_onset": 40, "delay_at_reference": 45, "pack_temp_at_plug_in": -17}},
			{"s2", "oak", map[string]float64{"delay_to_onset": 55, "delay_at_reference": 45, "pack_temp_at_plug_in": -25}}}, `
s1 passed: agrees with the car's other sessions in delay_at_reference
s2 passed: agrees with the car's other sessions in delay_at_reference`},
		// 2.8 K apart is a night alike, 2.9 K is not; a session without its pack's
		// temperature is judged by the air's.
		{"as measured on nights alike only", []night{
			{"s1", "oak", map[string]float64{"energy_60min": 20, "pack_temp_at_plug_in": -17.1}},
			{"s2", "oak", map[string]float64{"energy_60min": 24, "ambient_at_plug_in": -20}},
			{"s3", "oak", map[string]float64{"energy_60min": 30, "pack_temp_at_plug_in": -22.8}}}, `
s1 cannot tell: no figure that earns points has a value at the reference soak, or on a night alike, in another session of the car
s2 flagged: s2 and s3 differ, and which is off cannot be told: energy_60min as measured 24.00 and 30.00 kWh: 12.0 points apart, the protocol allows 5.0 beyond twice their uncertainty of 1.4
s3 flagged: s2 and s3 differ, and which is off cannot be told: energy_60min as measured 24.00 and 30.00 kWh: 12.0 points apart, the protocol allows 5.0 beyond twice their uncertainty of 1.4`},
	} {
		if got := judged(series(c.nights)); got != strings.TrimSpace(c.want) {
			t.Errorf("%s:\n%s", c.what, got)
		}
	}
}

// The protocol sets the limit, and may switch the gate off.
func TestReplicatesAsTheProtocolSays(t *testing.T) {
	two, twenty := 2.0, 20.0
	for setting, want := range map[*GateSetting]edition.Verdict{
		{Name: agreementGate, Limit: &two}: edition.Flagged, {Name: agreementGate, Limit: &twenty}: edition.Passed, {Name: agreementGate, Action: Off}: "",
	} {
		e := series(delays(40, 44), *setting)
		if len(e.Gates) == 0 && want == "" {
			continue
		}
		if e.Gates[0].Verdict != want {
			t.Errorf("%+v: %s", setting, e.Gates[0].Verdict)
		}
	}
}

// The one that stands out is flagged where the car stands, and counts all the same.
func TestReplicatesAreNotDropped(t *testing.T) {
	st := series(delays(40, 59, 42)).Standings[0]
	if len(st.Sessions) != 3 || *st.Values[0].Value != 47 {
		t.Errorf("%+v", st)
	}
	if strings.Count(st.Reason, "s2 stands out") != 1 || !strings.Contains(st.Reason, "mean of 3 sessions") {
		t.Error(st.Reason)
	}
	if strings.Count(series(delays(40, 59)).Standings[0].Reason, "s1 and s2 differ") != 1 {
		t.Error("a pair is told of once")
	}
	// By hand: 40, 42 and 59 have the variance 109, each is known to 0.5.
	if s := st.Values[0].Spread; s == nil || s.Sessions != 3 || math.Abs(s.Within-0.5) > 1e-8 || math.Abs(s.Between-math.Sqrt(109-0.25)) > 1e-8 {
		t.Errorf("%+v", s)
	}
	if math.Abs(*st.Values[0].U-math.Sqrt(109.0/3)) > 1e-8 {
		t.Error(*st.Values[0].U)
	}
	// 109² / (108.75²/2) is 2.009 degrees of freedom; of 2 and of 3, Student's t for 95 %
	// is 4.30 and 3.18 (JCGM 100, table G.2), so between 25.9 and 19.2, and close to 25.9.
	if x := st.Values[0].Spread.Expanded; x > 4.303*math.Sqrt(109.0/3) || x < 4.28*math.Sqrt(109.0/3) {
		t.Error(x)
	}
}

// By hand: 40 and 44 of one car, 50 and 54 of another. Within, 8 + 8 with 2 degrees
// of freedom: a repeatability of sqrt(8). Between, 4 (5)^2 = 100 with 1: F = 12.5,
// and the cars' variance is (100 - 8)/2.
func TestVariances(t *testing.T) {
	nights := delays(40, 44, 50, 54)
	nights[2].car, nights[3].car = "pine", "pine"
	e := series(nights)
	if len(e.Variances) != 1 {
		t.Fatalf("%+v", e.Variances)
	}
	v := e.Variances[0]
	if v.Figure != "delay_to_onset" || v.Cars != 2 || v.Sessions != 4 || v.Free != 2 || math.Abs(v.Repeatability-math.Sqrt(8)) > 1e-9 ||
		math.Abs(v.CarsSD-math.Sqrt(46)) > 1e-8 || v.F != 12.5 || v.P < 0.05 || v.P > 0.1 { // F(1, 2) = 18.51 at 5 %, 8.526 at 10 %: tables, from memory
		t.Errorf("%+v", v)
	}
	if v := series(delays(40, 44)).Variances; v != nil {
		t.Errorf("of one car: %+v", v)
	}
}

// Where a figure and what it is at the reference both earn points, they are judged
// and analysed once, at the reference.
func TestRawAndCorrectedAreOne(t *testing.T) {
	was := testScales
	defer func() { testScales = was }()
	testScales = append(slices.Clone(was), edition.Scale{Figure: "delay_at_reference", Zero: 100, Full: 0, Weight: 1})
	nights := delays(40, 44, 50, 54)
	for i := range nights {
		nights[i].figures["delay_at_reference"] = nights[i].figures["delay_to_onset"] + 1
	}
	nights[2].car, nights[3].car = "pine", "pine"
	e := series(nights)
	if want := "agrees with the car's other sessions in delay_at_reference"; e.Gates[0].Reason != want {
		t.Errorf("%q, want %q", e.Gates[0].Reason, want)
	}
	if len(e.Variances) != 1 || e.Variances[0].Figure != "delay_at_reference" {
		t.Errorf("%+v", e.Variances)
	}
}

// What is taken for a pair of raw and corrected is what the view corrects.
func TestCorrectedFigures(t *testing.T) {
	text, err := os.ReadFile("sql/views/at_reference.sql")
	if err != nil {
		t.Fatal(err)
	}
	cat := builtIn(t)
	n := 0
	for _, d := range cat.Figures {
		if !strings.HasSuffix(d.Name, "_at_reference") {
			continue
		}
		n++
		raw := beside(d.Name)
		if !atReference(d.Name) || beside(raw) != d.Name || !strings.Contains(d.Query(), "a.figure = '"+raw+"'") || !strings.Contains(string(text), "('"+raw+"', '"+d.Unit+"')") {
			t.Errorf("%s corrects %q", d.Name, raw)
		}
	}
	if n != len(corrected) || beside("soak_hours") != "" {
		t.Errorf("%d figures at the reference, %d pairs", n, len(corrected))
	}
}

// The value at the reference soak stands beside the one that earns points, and the
// other way round.
func TestBeside(t *testing.T) {
	nights := []night{{"s1", "oak", map[string]float64{"delay_to_onset": 40, "delay_at_reference": 45}}}
	st := series(nights).Standings[0]
	if len(st.Beside) != 2 || st.Beside[0].Figure != "delay_at_reference" || *st.Beside[0].Value != 45 || st.Beside[1].Figure != "" {
		t.Errorf("%+v", st.Beside)
	}
	delete(nights[0].figures, "delay_at_reference")
	if b := series(nights).Standings[0].Beside[0]; b.Value != nil || b.Figure != "delay_at_reference" || b.Note == "" {
		t.Errorf("%+v", b)
	}
}

// fleet draws nights of a few cars.
func fleet(t *rapid.T) []night {
	var out []night
	for i := range rapid.IntRange(1, 9).Draw(t, "sessions") {
		n := night{fmt.Sprintf("s%d", i), "car" + rapid.SampledFrom([]string{"a", "b", "c"}).Draw(t, "car"), map[string]float64{}}
		for _, figure := range []string{"delay_to_onset", "delay_at_reference", "energy_60min", "pack_temp_at_plug_in"} {
			if rapid.IntRange(0, 5).Draw(t, "has") > 0 {
				n.figures[figure], n.figures[figure+" u"] = rapid.Float64Range(-30, 110).Draw(t, "v"), rapid.Float64Range(0, 4).Draw(t, "u")
			}
		}
		out = append(out, n)
	}
	return out
}

// of is what an edition says of one car.
func of(e *edition.Edition, car string) string {
	var b strings.Builder
	for _, s := range e.Standings {
		if s.Vehicle != car {
			continue
		}
		fmt.Fprintln(&b, s.Score, s.U, s.Sessions, s.Reason)
		for _, v := range append(slices.Clone(s.Values), s.Beside...) {
			fmt.Fprintln(&b, v.Figure, v.Points, v.Note)
			for _, x := range []*float64{v.Value, v.U} {
				if x != nil {
					fmt.Fprintln(&b, *x)
				}
			}
			if v.Spread != nil {
				fmt.Fprintln(&b, *v.Spread)
			}
		}
		for _, g := range e.Gates {
			if slices.Contains(s.Sessions, g.Session) {
				fmt.Fprintln(&b, g)
			}
		}
	}
	return b.String()
}

// Adding a car, with all its sessions, changes nothing that is said of another:
// neither points, values and spreads, nor what its gate says of its replicates.
func TestAddingACarChangesNoOther(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := fleet(t)
		without := slices.DeleteFunc(slices.Clone(all), func(n night) bool { return n.car == "carc" })
		before, after := series(without), series(all)
		for _, car := range []string{"cara", "carb"} {
			if a, b := of(before, car), of(after, car); a != b {
				t.Fatalf("%s without the other:\n%swith it:\n%s", car, a, b)
			}
		}
	})
}

// Sessions may come in any order of their names: places, points, values and
// who stands out stay the same, to the last bit.
func TestOrderOfSessionsIsNoMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		nights := fleet(t)
		names := map[string]string{} // new to old
		other := slices.Clone(nights)
		for i, j := range rapid.Permutation(indices(len(nights))).Draw(t, "order") {
			other[i].session = nights[j].session
			names[other[i].session] = nights[i].session
		}
		a, b := series(nights), series(other)
		for i, s := range a.Standings {
			o := b.Standings[i]
			if s.Vehicle != o.Vehicle || s.Place != o.Place || s.Lowest != o.Lowest || s.Highest != o.Highest || s.Score != o.Score || s.U != o.U {
				t.Fatalf("%+v\n%+v", s, o)
			}
			for k := range s.Values {
				if x, y := s.Values[k], o.Values[k]; x.Points != y.Points || (x.Spread == nil) != (y.Spread == nil) || x.Spread != nil && *x.Spread != *y.Spread {
					t.Fatalf("%+v\n%+v", x, y)
				}
			}
		}
		verdicts := func(e *edition.Edition, name func(string) string) []string {
			var out []string
			for _, g := range e.Gates {
				out = append(out, name(g.Session)+" "+string(g.Verdict))
			}
			slices.Sort(out)
			return out
		}
		x, y := verdicts(a, func(s string) string { return s }), verdicts(b, func(s string) string { return names[s] })
		if !slices.Equal(x, y) {
			t.Fatalf("%v\n%v", x, y)
		}
	})
}

func indices(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

// asRanked counts every figure over the ranked procedure.
func asRanked(string) []string { return []string{Ranked} }
