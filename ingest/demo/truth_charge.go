package demo

import (
	"fmt"
	"math"
)

// charge adds what the figures of the charge itself find: how it began, what it
// reached, where it fell, and what was lost.
func (r *Run) charge(truth map[string]float64) {
	first := r.Points[0]
	truth["pack_mean_at_plug_in"] = first.MeanC
	truth["pack_spread_at_plug_in"] = first.MaxC - first.MinC
	truth["delay_to_charger_power"] = Handshake / 60
	truth["energy_balance"] = 100 * r.energy(0, math.Inf(1), loss) / r.energy(0, math.Inf(1), charger)
	truth["charger_register_off"] = 0
	truth["energy_before_plug_in"] = 0
	truth["heat_before_plug_in"] = 0
	truth["peak_c_rate"] = truth["peak_power"] / r.Car.UsableKWh
	hottest := 0.0
	for _, p := range r.Points {
		hottest = max(hottest, p.HeaterKW)
	}
	truth["heater_peak"] = hottest

	onset, ok := r.Onset()
	if !ok {
		return
	}
	spread := 0.0
	for _, p := range r.Points {
		if p.T < onset {
			spread = max(spread, p.MaxC-p.MinC)
		}
	}
	truth["pack_spread_before_onset"] = spread
	truth["pause_time"] = 0
	truth["onset_step"] = r.energy(onset, onset+60, pack) * 60
	if onset >= 300 {
		truth["heater_mean_before_onset"] = truth["heat_before_onset"] / onset * 3600
	}
	before := r.at(onset - Step)
	if rise := before.MeanC - first.MeanC; rise >= 5 {
		truth["heat_warming_share"] = 100 * r.Car.HeatCapacity() * rise / truth["heat_before_onset"]
	}
	if d, ok := r.Between(20, 80); ok {
		truth["time_20_80_plug_in"] = d + onset/60
	}
	for _, w := range [][2]float64{{10, 50}, {20, 60}, {50, 80}} {
		if d, ok := r.Between(w[0], w[1]); ok {
			truth[fmt.Sprintf("time_%g_%g", w[0], w[1])] = d
		}
	}

	// Means over the 10 s before, as figures take them.
	mean, peak := make([]float64, len(r.Points)), 0.0
	const rows = int(10 / Step)
	sum := 0.0
	for i, p := range r.Points {
		sum += p.PackKW
		if i >= rows {
			sum -= r.Points[i-rows].PackKW
		}
		mean[i] = sum / float64(min(i+1, rows))
		peak = max(peak, mean[i])
	}
	end, taper, low, high, limited, held := 0.0, 0, 100.0, 0.0, 0.0, 0.0
	for i, p := range r.Points {
		if p.T < onset {
			continue
		}
		shown := math.Floor(p.ShownSoC)
		set := func(name string, v float64) {
			if _, there := truth[name]; !there {
				truth[name] = v
			}
		}
		if mean[i] >= 10 {
			set("delay_to_10kw", p.T/60)
		}
		if mean[i] >= peak/2 {
			set("delay_to_half_peak", p.T/60)
		}
		if mean[i] >= 1 {
			end = p.T + Step
		}
		if mean[i] >= 0.8*peak {
			taper = i
		}
		if mean[i] >= 0.97*peak {
			low, high = min(low, shown), max(high, shown)
		}
		if p.ChargerKW >= 0.97*r.Night.ChargerKW {
			held += Step
		} else {
			if held >= 60 {
				limited += held
			}
			held = 0
		}
		if i > 0 && r.Points[i-1].T >= onset {
			for _, mark := range []float64{50, 80} {
				if shown >= mark && math.Floor(r.Points[i-1].ShownSoC) < mark {
					set(map[float64]string{50: "power_at_50", 80: "power_at_80"}[mark], p.PackKW)
				}
			}
		}
	}
	truth["taper_soc"] = math.Floor(r.Points[taper].ShownSoC)
	truth["peak_power_soc"] = (low + high) / 2
	truth["charger_limited"] = limited / 60
	if end-onset >= 300 {
		truth["mean_power"] = r.energy(onset, end, pack) / (end - onset) * 3600
	}
}

// departure is how far the air goes from its mean over the soak, in K. The swing
// is lowest at plug-in and highest half a day before.
func (n Night) departure() float64 {
	w, t := 2*math.Pi/86400, n.SoakH*3600
	mean := -n.SwingK * math.Sin(w*t) / (w * t)
	high := n.SwingK
	if n.SoakH < 12 {
		high = -n.SwingK * math.Cos(w*t)
	}
	return max(high-mean, mean+n.SwingK)
}

// excursion is the longest time, in min, that the air is more than the usual 2.8 K
// above its mean over the soak, or below.
func (n Night) excursion() float64 {
	w, t := 2*math.Pi/86400, n.SoakH*3600
	mean := -n.SwingK * math.Sin(w*t) / (w * t)
	longest := 0
	for _, way := range []float64{1, -1} {
		for run, s := 0, -int(t); s <= 0; s++ {
			if way*(-n.SwingK*math.Cos(w*float64(s))-mean) <= 2.8 {
				run = 0
				continue
			}
			run++
			longest = max(longest, run)
		}
	}
	return float64(longest) / 60
}

func loss(p Point) float64 { return p.LossKW }
