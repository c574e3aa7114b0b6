package main

import (
	"cmp"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"coldbench/ingest/demo"
)

// One car at soaks from -10 to -30 °C: its raw delays differ by far more than their
// uncertainty, those at the reference soak of -20 °C do not, and agree with what the
// car really does there.
func TestReferenceSoak(t *testing.T) {
	car := demo.Car{ID: "hazel-70", Name: "Hazel 70", UsableKWh: 68, PackMassKg: 450, SpecificHeat: 1000, LossKWPerK: 0.014, Heater: "coolant", HeaterKW: 6, HeaterShare: 0.9,
		AccessoryKW: 0.3, OnsetC: 2, WarmC: 22, StepKW: 25, PeakKW: 130, ReservePct: 4, PackV: 360, PackOhm: 0.06, RatedWhKm: 165}
	soaks := []float64{-10, -13, -16, -19, -22, -25, -28, -30}
	dir := filepath.Join(t.TempDir(), "soaks")
	if err := demo.WriteSoaks(dir, car, soaks, 3); err != nil {
		t.Fatal(err)
	}
	e := figuresOf(t, dir)
	// The truth at the reference: the same car after the same soak in air of -20 °C.
	really := demo.Simulate(car, demo.Night{AmbientC: -20, SoakH: 24 * 14, StartC: -20, StartSoC: 8.5, EndSoC: 82.5, ChargerKW: 250, MaxH: 6, AfterMin: 3}).Truth()
	var raw, corrected, u []float64
	for _, s := range e.Sessions {
		r, ok1 := e.Find(s.ID, "delay_to_onset")
		c, ok2 := e.Find(s.ID, "delay_at_reference")
		if !ok1 || !ok2 || !r.Ranked() || !c.Ranked() {
			t.Errorf("%s: %s", s.ID, c.Note)
			continue
		}
		t.Logf("%s: raw %.2f ± %.2f, at the reference %.2f ± %.2f min (%s); really %.2f", s.ID, *r.Value, *r.U, *c.Value, *c.U, c.Note, really["delay_to_onset"])
		raw, corrected, u = append(raw, *r.Value), append(corrected, *c.Value), append(u, *c.U)
		if d := math.Abs(*c.Value - really["delay_to_onset"]); d > 2.5**c.U {
			t.Errorf("%s: %.2f ± %.2f at the reference, really %.2f", s.ID, *c.Value, *c.U, really["delay_to_onset"])
		}
		for figure, true := range map[string]string{"energy_before_onset_at_reference": "energy_before_onset", "heat_at_reference": "heat_before_onset", "time_10_80_at_reference": "time_10_80_plug_in"} {
			f, _ := e.Find(s.ID, figure)
			if want, ok := really[true]; ok && (!f.Ranked() || math.Abs(*f.Value-want) > 3**f.U) {
				t.Errorf("%s %s: %+v, really %v", s.ID, figure, f, want)
			}
		}
	}
	if len(raw) < 6 {
		t.Fatal("too few sessions")
	}
	spread := func(v []float64) float64 {
		low, high := v[0], v[0]
		for _, x := range v {
			low, high = min(low, x), max(high, x)
		}
		return high - low
	}
	if spread(raw) < 10 || spread(corrected) > spread(raw)/5 {
		t.Errorf("raw delays spread over %.1f min, corrected ones over %.1f", spread(raw), spread(corrected))
	}
}

// A fleet of four cars on four nights: the raw ranking, by delay, puts the cars in the
// order of their nights, which is wrong; at the reference soak they stand as they would
// if all had been tested on the same night.
func TestFleetAtReference(t *testing.T) {
	base := demo.Car{UsableKWh: 68, PackMassKg: 450, SpecificHeat: 1000, LossKWPerK: 0.014, Heater: "coolant", HeaterKW: 6, HeaterShare: 0.9,
		AccessoryKW: 0.3, OnsetC: 2, WarmC: 22, StepKW: 25, PeakKW: 130, ReservePct: 4, PackV: 360, PackOhm: 0.06, RatedWhKm: 165}
	var nights []demo.CarNight
	sameNight := map[string]float64{}
	for _, c := range []struct {
		id               string
		heaterKW, soakC  float64
		massKg, onsetAtC float64
	}{
		{"ash-1", 8.0, -29, 450, 2}, {"beech-2", 7.0, -24, 450, 2}, {"elm-3", 6.0, -17, 450, 2}, {"fir-4", 5.2, -12, 450, 2},
	} {
		car := base
		car.ID, car.Name, car.HeaterKW, car.PackMassKg, car.OnsetC = c.id, c.id, c.heaterKW, c.massKg, c.onsetAtC
		nights = append(nights, demo.CarNight{Car: car, AmbientC: c.soakC})
		night := demo.Night{AmbientC: -20, SoakH: 24 * 14, StartC: -20, StartSoC: 8.5, EndSoC: 82.5, ChargerKW: 250, MaxH: 6, AfterMin: 3}
		sameNight[c.id] = demo.Simulate(car, night).Truth()["delay_to_onset"]
	}
	dir := filepath.Join(t.TempDir(), "fleet")
	if err := demo.WriteFleet(dir, nights, 5); err != nil {
		t.Fatal(err)
	}
	order := func(figure string) []string {
		protocol := "title = \"Fleet\"\n[[points]]\nfigure = \"" + figure + "\"\ncategory = \"delay\"\nzero = 90\nfull = 0\nweight = 1\n"
		if err := os.WriteFile(filepath.Join(dir, "series.toml"), []byte(protocol), 0o644); err != nil {
			t.Fatal(err)
		}
		var ids []string
		for _, s := range figuresOf(t, dir).Standings {
			t.Logf("%s: place %d, %s, %.1f ± %.1f points; on the same night really %.1f min", figure, s.Place, s.Vehicle, s.Score, s.U, sameNight[s.Vehicle])
			ids = append(ids, s.Vehicle)
		}
		return ids
	}
	right := []string{"ash-1", "beech-2", "elm-3", "fir-4"}
	if !slices.IsSortedFunc(right, func(a, b string) int { return cmp.Compare(sameNight[a], sameNight[b]) }) {
		t.Fatal("the fleet is not what the test is about:", sameNight)
	}
	if got := order("delay_to_onset"); slices.Equal(got, right) {
		t.Error("the raw ranking is right, so that the test proves nothing")
	}
	if got := order("delay_at_reference"); !slices.Equal(got, right) {
		t.Errorf("at the reference soak the order is %v, really %v", got, right)
	}
}
