package metrics

import (
	"maps"
	"math"
	"testing"

	"coldbench/metrics/edition"
)

// What a car's values share with its delay, by hand. At the reference: the delay is known
// to 0.5 min, sqrt(0.5² - 0.3²) = 0.4 of it by the correction; all of that is in a time
// known to 1 min, so 0.5. The correction is sqrt(0.05² - 0.03²) = 0.04 kWh of the energy's
// 0.05: 0.4*0.04/(0.5*0.05) = 0.64. As measured: 0.3 of a time's 0.5 min, 0.6. Energy over a
// time holds no delay, and a single value shares nothing.
func TestCommon(t *testing.T) {
	for _, c := range []struct {
		scales []string
		want   map[string]float64
	}{
		{[]string{"delay_at_reference", "energy_before_onset_at_reference", "time_window_at_reference", "energy_60min"},
			map[string]float64{"delay_at_reference": 1, "energy_before_onset_at_reference": 0.64, "time_window_at_reference": 0.5}},
		{[]string{"delay_to_onset", "energy_before_onset", "time_10_80_plug_in"}, map[string]float64{"delay_to_onset": 1, "time_10_80_plug_in": 0.6}},
		{[]string{"delay_to_onset", "energy_before_onset", "energy_60min"}, nil},
	} {
		e := &edition.Edition{Vehicles: []edition.Vehicle{{ID: "oak"}}, Sessions: []edition.Session{{ID: "s", Vehicle: "oak", Procedure: Ranked}}, Rules: rules(nil, nil)}
		for _, f := range c.scales {
			e.Scales = append(e.Scales, edition.Scale{Figure: f, Zero: 100, Full: 0, Weight: 1})
		}
		for figure, x := range map[string][2]float64{
			"delay_to_onset": {30, 0.3}, "delay_at_reference": {32, 0.5}, "energy_before_onset": {3, 0.03}, "energy_before_onset_at_reference": {3.2, 0.05},
			"time_window_at_reference": {80, 1}, "time_10_80_plug_in": {70, 0.5}, "energy_60min": {20, 0.4},
		} {
			e.Results = append(e.Results, edition.Figure{Session: "s", Figure: figure, Value: &x[0], U: &x[1], Status: edition.Measured})
		}
		sortFigures(e.Results)
		rank(e, []sessionRow{{id: "s", vehicle: "oak", procedure: Ranked}}, asRanked)
		got := map[string]float64{}
		for _, v := range e.Standings[0].Values {
			if v.Common != 0 {
				got[v.Figure] = math.Round(v.Common*1e6) / 1e6
			}
		}
		if !maps.Equal(got, c.want) {
			t.Errorf("%v: %v, want %v", c.scales, got, c.want)
		}
	}
}
