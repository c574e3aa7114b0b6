package demo

import (
	"math"
	"testing"
)

// trace makes a run of points from stretches of constant power; the display
// rises in a line over each.
func trace(stretches ...stretch) *Run {
	r := &Run{Car: Car{RatedWhKm: 200}}
	t := 0.0
	for _, s := range stretches {
		for n := range int(s.seconds / Step) {
			share := float64(n) * Step / s.seconds
			r.Points = append(r.Points, Point{T: t, PackKW: s.pack, HeaterKW: s.heater, ChargerKW: s.charger,
				ShownSoC: s.from + (s.to-s.from)*share, MeanC: s.meanC, MinC: s.meanC - 1, AmbientC: -20})
			t += Step
		}
	}
	r.End = t
	return r
}

type stretch struct {
	seconds               float64
	charger, heater, pack float64 // kW
	from, to              float64 // displayed, %
	meanC                 float64
}

// Definition is ours; worked out by hand. Ten minutes of heating at 6 kW, 5 of
// them into the heater: 1 and 5/6 kWh. Half a minute at 2 kW does not last. Then
// 20 kW into the pack, 26 from the charger: the onset is at 630 s. The display
// stands at 10 % when the charge begins and gains 0.02 % a second: 80 % come after
// 3500 s, 20 % after 500 s. The session has 4000 s of it: 22.222 kWh.
func TestTruthByHand(t *testing.T) {
	r := trace(
		stretch{600, 6, 5, 0, 8.5, 10, -19},
		stretch{29.5, 6, 4, 2, 10, 10, -9}, // 2 kW for less than 60 s
		stretch{0.5, 6, 5, 0, 10, 10, -9},
		stretch{4000, 26, 5, 20, 10, 90, -9},
	)
	truth := r.Truth()
	want := map[string]float64{
		"delay_to_onset":       630.0 / 60,
		"energy_before_onset":  6 * 630.0 / 3600,
		"heat_before_onset":    (5*600.5 + 4*29.5) / 3600,
		"heat_session":         (5*4600.5 + 4*29.5) / 3600,
		"energy_into_pack":     (2*29.5 + 20*4000) / 3600,
		"energy_30min":         (2*29.5 + 20*(1800-630)) / 3600,
		"start_soc":            8,
		"end_soc":              89,
		"onset_soc":            10,
		"peak_power":           20,
		"pack_temp_at_plug_in": -20,
		"ambient_at_plug_in":   -20,
		"pack_minus_ambient":   0,
		"time_10_80":           3500.0 / 60,
		"time_10_80_plug_in":   (3500.0 + 630) / 60,
	}
	for figure, v := range want {
		got, ok := truth[figure]
		if !ok {
			t.Errorf("%s has no true value, want %v", figure, v)
			continue
		}
		near(t, figure, got, v, 1e-9)
	}
	if d, ok := r.Between(20, 80); !ok {
		t.Error("20 to 80 % was covered")
	} else {
		near(t, "20 to 80 %, min", d, 50, 1e-9)
	}
}

// The boundary of the onset, at 1 kW for 60 s: 59.5 s are too short, a hair
// under 1 kW is too weak, and a break starts the run again.
func TestOnsetBoundary(t *testing.T) {
	for _, c := range []struct {
		name      string
		stretches []stretch
		want      float64 // s; NaN: none
	}{
		{"just long enough", []stretch{{seconds: 30}, {seconds: 60, pack: 1}, {seconds: 30}}, 30},
		{"half a second short", []stretch{{seconds: 30}, {seconds: 59.5, pack: 1}, {seconds: 30}}, math.NaN()},
		{"too weak", []stretch{{seconds: 30}, {seconds: 300, pack: 0.999}}, math.NaN()},
		{"a break of one step", []stretch{{seconds: 40, pack: 30}, {seconds: 0.5}, {seconds: 60, pack: 30}}, 40.5},
	} {
		got, ok := trace(c.stretches...).Onset()
		if ok != !math.IsNaN(c.want) || ok && got != c.want {
			t.Errorf("%s: onset at %v s, %v; want %v", c.name, got, ok, c.want)
		}
	}
}

// A range of the display that the charge did not cover has no time: never
// guessed, whichever end is missing.
func TestBetweenUncovered(t *testing.T) {
	for _, c := range []struct {
		name     string
		from, to float64 // shown at the onset and at the end
	}{
		{"begins above", 11, 90},
		{"ends below", 8, 79.9},
	} {
		r := trace(stretch{60, 6, 5, 0, c.from, c.from, -19}, stretch{3000, 26, 5, 20, c.from, c.to, -9})
		if d, ok := r.Between(10, 80); ok {
			t.Errorf("%s: 10 to 80 %% took %v min", c.name, d)
		}
		if _, ok := r.Truth()["time_10_80"]; ok {
			t.Errorf("%s: there is a true time from 10 to 80 %%", c.name)
		}
	}
}

// What never began has no delay, and all of its heat was for nothing.
func TestTruthWithoutOnset(t *testing.T) {
	truth := trace(stretch{3600, 6, 5, 0, 8, 9, -19}).Truth()
	for _, figure := range []string{"delay_to_onset", "energy_before_onset", "time_10_80", "time_10_80_plug_in"} {
		if v, ok := truth[figure]; ok {
			t.Errorf("%s = %v of a charge that never began", figure, v)
		}
	}
	near(t, "heat, kWh", truth["heat_session"], 5, 1e-9)
	near(t, "into the pack, kWh", truth["energy_into_pack"], 0, 0)
}
