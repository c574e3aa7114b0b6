package demo

import (
	"fmt"
	"math"
)

// Truth is what really happened, by figure, in the figures' units, worked out
// from the trace and not from any log. A figure that has no value is absent.
// t is counted from the plug-in that led to the charge. Definitions are those
// of the figures: onset is 1 kW into the pack that lasts 60 s.
func (r *Run) Truth() map[string]float64 {
	first := r.Points[0]
	truth := r.soak()
	truth["energy_into_pack"] = r.energy(0, math.Inf(1), pack)
	truth["heat_session"] = r.energy(0, math.Inf(1), heater)
	truth["heat_share"] = 100 * truth["heat_session"] / r.energy(0, math.Inf(1), charger)
	truth["efficiency"] = 100 * truth["energy_into_pack"] / r.energy(0, math.Inf(1), charger)
	for _, m := range []float64{5, 10, 15, 20, 30, 45, 60} { // the person unplugs at the end: nothing flows from then on
		kwh := r.energy(0, 60*m, pack)
		truth[fmt.Sprintf("energy_%gmin", m)] = kwh
		truth[fmt.Sprintf("range_added_%gmin", m)] = kwh * 1000 / math.Round(r.Car.RatedWhKm)
		truth[fmt.Sprintf("soc_added_%gmin", m)] = math.Floor(r.at(60*m).ShownSoC) - math.Floor(first.ShownSoC)
	}
	top, peak := 0.0, 0.0
	for _, p := range r.Points {
		top, peak = max(top, p.ShownSoC), max(peak, p.PackKW)
	}
	truth["end_soc"], truth["peak_power"] = math.Floor(top), peak
	defer r.charge(truth)
	onset, ok := r.Onset()
	if !ok {
		return truth
	}
	truth["delay_to_onset"] = onset / 60
	truth["energy_before_onset"] = r.energy(0, onset, charger)
	truth["heat_before_onset"] = r.energy(0, onset, heater)
	truth["onset_soc"] = math.Floor(r.at(onset - Step).ShownSoC)
	before := r.at(onset - Step)
	truth["soc_without_energy"] = math.Floor(before.ShownSoC) - math.Floor(first.ShownSoC)
	truth["onset_pack_temp"] = before.MinC
	if onset >= 300 {
		truth["warming_rate"] = (before.MinC - first.MinC) / onset * 3600
	}
	if rise := before.MeanC - first.MeanC; rise >= 5 {
		truth["heat_capacity"] = truth["heat_before_onset"] / rise
	}
	if d, ok := r.Between(20, 80); ok {
		truth["time_20_80"] = d
	}
	if d, ok := r.Between(10, 80); ok {
		truth["time_10_80"] = d
		truth["time_10_80_plug_in"] = d + onset/60
	}
	return truth
}

// soak is what the soak left behind, as found at the plug-in or the start.
func (r *Run) soak() map[string]float64 {
	first := r.Points[0]
	truth := map[string]float64{
		"ambient_at_plug_in":   first.AmbientC,
		"pack_temp_at_plug_in": first.MinC,
		"pack_minus_ambient":   first.MinC - first.AmbientC,
		"start_soc":            math.Floor(first.ShownSoC),
	}
	for _, where := range []string{"station", "handheld", "car"} {
		truth["ambient_"+where+"_at_plug_in"] = first.AmbientC
	}
	if r.Night.SoakH > 0 {
		truth["soak_hours"] = r.Night.SoakH
		// Mean of the swing over the soak: the integral of its cosine.
		w := 2 * math.Pi / 86400
		t := r.Night.SoakH * 3600
		truth["soak_ambient_low"] = r.Night.AmbientC - r.Night.SwingK
		truth["soak_ambient_departure"] = r.Night.departure()
		truth["soak_excursion"] = r.Night.excursion()
		truth["soak_ambient_mean"] = r.Night.AmbientC - r.Night.SwingK*math.Sin(w*t)/(w*t)
	}
	return truth
}

func (r *Run) energy(from, to float64, kw func(Point) float64) float64 {
	sum := 0.0
	for _, p := range r.Points {
		if dt := min(p.T+r.step(), to) - max(p.T, from); dt > 0 {
			sum += kw(p) * dt
		}
	}
	return sum / 3600
}

// Onset is when net power into the pack first reached 1 kW for 60 s, in s.
func (r *Run) Onset() (float64, bool) {
	run := 0.0
	for i, p := range r.Points {
		if p.PackKW < 1 {
			run = 0
			continue
		}
		if run += Step; run >= 60 {
			return r.Points[i].T + Step - run, true
		}
	}
	return 0, false
}

// Between is the time from one displayed state of charge to another, in min,
// both whole percents, while the pack takes energy. It is not ok if the charge
// did not cover them. Where the display shows just the lower one when the
// charge begins, the time counts from there.
func (r *Run) Between(from, to float64) (float64, bool) {
	onset, ok := r.Onset()
	if !ok {
		return 0, false
	}
	a, b := -1.0, -1.0
	for _, p := range r.Points {
		if p.T < onset {
			continue
		}
		shown := math.Floor(p.ShownSoC)
		if p.T == onset && shown > from {
			return 0, false
		}
		if a < 0 && shown >= from {
			a = p.T
		}
		if b < 0 && shown >= to {
			b = p.T
		}
	}
	return (b - a) / 60, a >= 0 && b >= 0
}
