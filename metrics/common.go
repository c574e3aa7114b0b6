package metrics

import (
	"math"

	"coldbench/metrics/edition"
	"coldbench/metrics/standings"
)

// withDelay are the figures that hold the delay: its error is in theirs.
var withDelay = map[string]bool{
	"delay_to_onset": true, "time_10_80_plug_in": true, "time_20_80_plug_in": true, "time_window_plug_in": true,
	"delay_at_reference": true, "time_10_80_at_reference": true, "time_window_at_reference": true,
	"energy_before_onset_at_reference": true, "heat_at_reference": true,
}

// common is how far the errors of a car's values are one and the same: those of its
// delay, which is in all times from the plug-in, and whose correction to the reference
// soak is in heat and energy, too. Taken as independent they would seem to cancel where
// they add up (JCGM 100, 5.2.2). What correlates with the delay is in the uncertainty of
// both: the whole of the delay's in a time that holds it, and in heat and energy what they
// have beyond the raw figure's. It holds nothing where fewer than two values do.
func common(e *edition.Edition, sessions func(figure string) []string, car standings.Car) standings.Common {
	delay, holding := "delay_to_onset", 0
	for figure := range car.Values {
		if withDelay[figure] {
			holding++
		}
		if withDelay[figure] && atReference(figure) {
			delay = "delay_at_reference"
		}
	}
	if holding < 2 {
		return standings.Common{}
	}
	nights := sessions(delay)
	d, _, ok := combined(e, nights, delay)
	raw, _, _ := combined(e, nights, "delay_to_onset")
	if !ok || d.U == 0 {
		return standings.Common{}
	}
	c := standings.Common{Of: map[string]float64{}, Free: d.Free}
	for figure, v := range car.Values {
		shared := d.U * d.U // covariance of the value and the delay
		switch {
		case !withDelay[figure] || v.U == 0:
			continue
		case figure == "energy_before_onset_at_reference" || figure == "heat_at_reference":
			shared = 0
			for _, id := range nights {
				shared += beyondRaw(e, id, figure) * beyondRaw(e, id, delay) / float64(len(nights)*len(nights))
			}
		case !atReference(figure):
			shared = raw.U * raw.U
		}
		c.Of[figure] = min(1, shared/(v.U*d.U))
	}
	return c
}

// beyondRaw is what the correction to the reference soak adds to the uncertainty of a
// session's figure; 0 where it has none.
func beyondRaw(e *edition.Edition, session, figure string) float64 {
	f, ok1 := e.Find(session, figure)
	raw, ok2 := e.Find(session, uncorrected[figure])
	if !ok1 || !ok2 || !f.Ranked() || !raw.Ranked() {
		return 0
	}
	return math.Sqrt(math.Max(0, (*f.U-*raw.U)*(*f.U+*raw.U)))
}
