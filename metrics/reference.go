package metrics

import "cmp"

// corrected names, for each raw figure that has one, the figure that is the same
// at the reference soak. It is what the view at_reference corrects.
var corrected = map[string]string{
	"delay_to_onset":      "delay_at_reference",
	"energy_before_onset": "energy_before_onset_at_reference",
	"heat_before_onset":   "heat_at_reference",
	"time_10_80_plug_in":  "time_10_80_at_reference",
	"time_window_plug_in": "time_window_at_reference",
}

// uncorrected is the same the other way round.
var uncorrected = func() map[string]string {
	m := map[string]string{}
	for figure, other := range corrected {
		m[other] = figure
	}
	return m
}()

// beside is the figure to show beside another: that at the reference soak beside
// a raw one, and the other way round; "" where there is none.
func beside(figure string) string { return cmp.Or(corrected[figure], uncorrected[figure]) }

// atReference reports whether a figure is one at the reference soak.
func atReference(figure string) bool { return uncorrected[figure] != "" }
