package demo

import (
	"math"
	"slices"
	"testing"
)

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s = %v, want %v within %v", what, got, want, within)
	}
}

// Source: the closed form of the lumped law, as in Incropera and other texts on
// heat transfer; T0 = 20, Ta = -15 °C, tau = 10 h, worked out from exp(-t/tau).
func TestCoolAgainstClosedForm(t *testing.T) {
	for h, want := range map[float64]float64{5: 6.2286, 10: -2.1242, 24: -11.8249, 36: -14.0437, 48: -14.7120} {
		near(t, "closed form", Cool(20, -15, h, 10), want, 5e-5)
	}
	// Within 2 K of the air after 2.8622 tau = ln(35/2), and 1 K after 3.5553 tau.
	near(t, "2 K above the air", Cool(20, -15, 28.622, 10), -13, 5e-4)
	near(t, "1 K above the air", Cool(20, -15, 35.553, 10), -14, 5e-4)
	// The simulated soak, under still air, must end where the closed form does.
	c := Cars()[0]
	c.LossKWPerK = c.HeatCapacity() / 10
	near(t, "simulated soak", c.soaked(Night{AmbientC: -15, StartC: 20, SoakH: 24}), -11.8249, 1e-3)
}

// Source: Q = m c dT. 480 kg x 1000 J/(kg K) x 30 K = 14.4 MJ = 4.000 kWh.
func TestHeatToWarmAPack(t *testing.T) {
	c := Car{PackMassKg: 480, SpecificHeat: 1000}
	near(t, "heat for 30 K", c.HeatCapacity()*30, 4.000, 1e-9)
	for specific, want := range map[float64]float64{830: 3.32, 1130: 4.52} { // the range of cells in the survey
		near(t, "heat for 30 K at the range's end", Car{PackMassKg: 480, SpecificHeat: specific}.HeatCapacity()*30, want, 1e-9)
	}
	// Without losses, 5 kW into the pack take 48 min for it, and 7 kW 34.3 min.
	for kw, want := range map[float64]float64{5: 48, 7: 34.3} {
		c.UsableKWh, c.HeaterKW, c.HeaterShare, c.OnsetC, c.WarmC, c.PackV, c.PackOhm = 60, kw, 1, 90, 91, 360, 0.08
		r := Simulate(c, Night{AmbientC: -20, StartC: -20, StartSoC: 8, EndSoC: 80, ChargerKW: 100, MaxH: 2})
		i := slices.IndexFunc(r.Points, func(p Point) bool { return p.MeanC >= 10 })
		if i < 0 {
			t.Fatal("never got warm")
		}
		near(t, "minutes of heating", (r.Points[i].T-Handshake)/60, want, 0.1)
	}
}

// Source: a survey of packs and cells (batterydesign.net): 80 Wh/kg in 2011 to 174 in
// 2022; 830 to 1130 J/(kg K).
func TestPacksAreLikeThoseBuilt(t *testing.T) {
	for _, c := range Cars() {
		if wh := c.UsableKWh * 1000 / c.PackMassKg; wh < 80 || wh > 174 {
			t.Errorf("%s: %.0f Wh/kg", c.ID, wh)
		}
		if c.SpecificHeat < 830 || c.SpecificHeat > 1130 {
			t.Errorf("%s: %g J/(kg K)", c.ID, c.SpecificHeat)
		}
	}
}

// Common practice, no source: a deep-soaked pack near -20 °C heated with 5 to 7
// kW takes about three quarters of an hour and about 4 kWh before a charge
// starts; power then steps from nothing to 20 kW or more; a display may gain a
// percent before any energy flows; near 80 % a healthy car is down to about 50 kW.
func TestModelLandsWherePracticeDoes(t *testing.T) {
	c := Cars()[0]
	if c.HeaterKW < 5 || c.HeaterKW > 7 {
		t.Fatalf("the first car's heater has %v kW", c.HeaterKW)
	}
	r := Simulate(c, Night{AmbientC: -20, SoakH: 40, StartC: 5, StartSoC: 8.5, EndSoC: 85, ChargerKW: 150, MaxH: 4})
	truth := r.Truth()
	near(t, "delay, min", truth["delay_to_onset"], 45, 10)
	near(t, "energy before onset, kWh", truth["energy_before_onset"], 4, 1)
	onset, ok := r.Onset()
	if !ok {
		t.Fatal("no onset")
	}
	i := int(onset / Step)
	if before, after := r.Points[i-1].PackKW, r.Points[i].PackKW; before != 0 || after < 20 {
		t.Errorf("power steps from %v to %v kW", before, after)
	}
	if gain := r.Points[i-1].ShownSoC - r.Points[0].ShownSoC; gain < 0.5 || gain > 4 {
		t.Errorf("the display gained %v %% before any energy flowed", gain)
	}
	for _, p := range r.Points {
		if p.ShownSoC >= 79.5 {
			near(t, "power near 80 %, kW", p.PackKW, 50, 10)
			break
		}
	}
}

// Energy is conserved: what the charger gave is in the pack, the heaters, the
// accessories and the loss; and the pack's heat is what warmed it or left it.
func TestEnergyIsConserved(t *testing.T) {
	for _, c := range Cars() {
		r := Simulate(c, Night{AmbientC: -18, SwingK: 3, SoakH: 30, StartC: 5, StartSoC: 8, EndSoC: 80, ChargerKW: 100, MaxH: 4, AfterMin: 3})
		all := math.Inf(1)
		in := r.energy(0, all, func(p Point) float64 { return p.ChargerKW })
		out := r.energy(0, all, func(p Point) float64 { return p.PackKW + p.HeaterKW + p.AccessKW + p.LossKW })
		near(t, c.ID+": energy", out, in, 1e-6*in)
		heat := r.energy(0, all, func(p Point) float64 {
			ocv := p.VoltageV - p.PackKW*1000/p.VoltageV*c.PackOhm
			amp := (p.VoltageV - ocv) / c.PackOhm
			return p.HeaterKW*c.HeaterShare + amp*amp*c.PackOhm/1000 - c.LossKWPerK*(p.MeanC-p.AmbientC)
		})
		last := r.Points[len(r.Points)-1]
		near(t, c.ID+": warming, K", last.MeanC-r.Points[0].MeanC, heat/c.HeatCapacity(), 0.02)
	}
}

// A warmer car takes less time and heat, whatever the car.
func TestColderIsSlower(t *testing.T) {
	for _, c := range Cars() {
		last := -1.0
		for _, ambient := range []float64{-5, -12, -20, -28} {
			d := Simulate(c, Night{AmbientC: ambient, SoakH: 60, StartC: 0, StartSoC: 8, EndSoC: 80, ChargerKW: 150, MaxH: 5}).Truth()["delay_to_onset"]
			if d <= last {
				t.Errorf("%s at %v °C: %v min, at the warmer soak %v", c.ID, ambient, d, last)
			}
			last = d
		}
	}
}

// What holds at every moment, whatever the car and the charger: nobody gives more
// than they can, a pack below its onset takes nothing, and voltage times current
// is power.
func TestLimits(t *testing.T) {
	for _, c := range Cars() {
		for _, charger := range []float64{50, 250} {
			r := Simulate(c, Night{AmbientC: -18, SwingK: 2, SoakH: 40, StartC: 0, StartSoC: 8, EndSoC: 85, ChargerKW: charger, MaxH: 5, AfterMin: 3})
			limited := false
			for i, p := range r.Points {
				switch ocv := c.PackV * 0.92; {
				case p.ChargerKW > charger*(1+1e-12):
					t.Fatalf("%s at %v s: %v kW from a charger of %v kW", c.ID, p.T, p.ChargerKW, charger)
				case p.PackKW > c.PeakKW || p.PackKW < 0:
					t.Fatalf("%s at %v s: %v kW into a pack that takes %v kW", c.ID, p.T, p.PackKW, c.PeakKW)
				case p.PackKW > 0 && p.MinC < c.OnsetC:
					t.Fatalf("%s at %v s: charging at %v °C", c.ID, p.T, p.MinC)
				case p.MinC > p.MeanC || p.MeanC > p.MaxC:
					t.Fatalf("%s at %v s: coldest, mean, hottest are %v, %v, %v °C", c.ID, p.T, p.MinC, p.MeanC, p.MaxC)
				case p.VoltageV < ocv || p.VoltageV > c.PackV*1.3:
					t.Fatalf("%s at %v s: %v V", c.ID, p.T, p.VoltageV)
				case i > 0 && math.Abs(p.ShownSoC-r.Points[i-1].ShownSoC) > 0.1:
					t.Fatalf("%s at %v s: the display jumps from %v to %v %%", c.ID, p.T, r.Points[i-1].ShownSoC, p.ShownSoC)
				}
				near(t, "V I, kW", p.VoltageV*amps(p)/1000, p.PackKW, 1e-9)
				limited = limited || p.ChargerKW > charger*0.9999
			}
			if want := charger < c.PeakKW; limited != want {
				t.Errorf("%s at a charger of %v kW: limited by it: %v", c.ID, charger, limited)
			}
		}
	}
}
