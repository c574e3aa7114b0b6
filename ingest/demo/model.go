// Package demo makes an invented series of cold nights: a small physical model
// of a charge from a frozen pack, the logs that uneven instruments would have
// written of it, and what really happened, so that figures can be checked.
//
// It is a model for tests and demonstrations. No car, place or person in it
// exists, and its numbers are no claim about any real one.
package demo

import (
	"cmp"
	"math"
)

// A Car is the physics of one invented car.
type Car struct {
	ID, Name     string
	UsableKWh    float64 // kWh between 0 and 100 % of the true charge
	PackMassKg   float64 // kg, all of which is warmed
	SpecificHeat float64 // J/(kg K), above 0; cells are 830 to 1130 (batterydesign.net survey)
	LossKWPerK   float64 // kW/K, pack to air, above 0
	Heater       string  // kind, as in series.Heaters
	HeaterKW     float64 // kW, electrical, all or nothing
	HeaterShare  float64 // heat into the pack per electricity; above 1 for a heat pump alone
	AccessoryKW  float64 // kW, pumps and control while plugged in
	OnsetC       float64 // °C of the coldest sensor at which the pack takes energy
	WarmC        float64 // °C of the coldest sensor at which it takes all it can, above OnsetC
	StepKW       float64 // kW that it takes just after the onset
	PeakKW       float64 // kW that it takes at best
	ReservePct   float64 // % of the charge that the display hides at -25 °C and below
	PackV        float64 // V, open circuit at half charge
	PackOhm      float64 // ohm, above 0
	RatedWhKm    float64 // Wh/km, a fact for the vehicle's file; the model has no use for it
	Body         Body    // what moves and what is warmed beside the pack; no charge needs it
}

// HeatCapacity is the pack's, in kWh/K: m c. 1 kWh is 3.6e6 J.
func (c Car) HeatCapacity() float64 { return c.PackMassKg * c.SpecificHeat / 3.6e6 }

// TimeConstant is that of the pack cooling by itself, in h.
func (c Car) TimeConstant() float64 { return c.HeatCapacity() / c.LossKWPerK }

// A Night is the circumstances of one charge.
type Night struct {
	AmbientC  float64 // °C, mean air of the soak
	SwingK    float64 // K, amplitude of a daily swing about it
	SoakH     float64 // h outside before plug-in
	StartC    float64 // °C of the pack when the soak began
	StartSoC  float64 // %, displayed at plug-in, before rounding down
	EndSoC    float64 // %, displayed, at which the person unplugs
	ChargerKW float64 // kW that the charger can give
	MaxH      float64 // h after which the person gives up
	AfterMin  float64 // min for which logging goes on after the charge
}

// A Point is the state at one moment. Powers are constant from it to the next,
// so that sums over points are exact.
type Point struct {
	T          float64 // s since plug-in
	PackKW     float64 // net, into the pack at its terminals
	ChargerKW  float64 // from the charger into the car
	HeaterKW   float64 // electrical, into the pack's heater
	AccessKW   float64 // into pumps and control
	LossKW     float64 // between the inlet's meter and all of these
	ShownSoC   float64 // displayed, before rounding down, %
	MeanC      float64 // °C of the pack
	MinC, MaxC float64 // °C of its coldest and hottest sensor
	AmbientC   float64 // °C of the air
	VoltageV   float64 // at the pack's terminals
	CabinKW    float64 // electrical, into the cabin's heater
	CabinC     float64 // °C of the cabin's air
	SpeedKMH   float64
	OdoKM      float64 // since the start
}

// Step is the model's, in s: half of the shortest interval of a log, so that
// what a log misses between its rows is there.
const Step = 0.5

// Handshake is how long car and charger talk before power flows, in s.
const Handshake = 42.0

// inletLoss is the share of the charger's power lost on the way into the car.
const inletLoss = 0.004

// Cool is the lumped law of cooling, (T-Ta)/(T0-Ta) = exp(-t/tau), for a body
// that loses heat in proportion to its difference from constant air (Incropera
// and other texts on heat transfer; good while the Biot number is below 0.1).
// t and tau in the same unit.
func Cool(t0, ta, t, tau float64) float64 { return ta + (t0-ta)*math.Exp(-t/tau) }

// A Run is one simulated charge.
type Run struct {
	Car    Car
	Night  Night
	Points []Point // every Step from plug-in, or the start, on
	End    float64 // s at which the charge, or the drive, ended

	stride float64 // s between points, where it is not Step
}

func (r *Run) step() float64 { return cmp.Or(r.stride, Step) }

// Ambient is the air at t s after plug-in; before it, t is negative. The swing
// is lowest at plug-in, as on a clear night.
func (n Night) Ambient(t float64) float64 {
	return n.AmbientC - n.SwingK*math.Cos(2*math.Pi*t/86400)
}

// soaked is the pack's mean temperature at plug-in: the lumped law under the
// swinging air, stepped by the minute.
func (c Car) soaked(n Night) float64 {
	temp, tau := n.StartC, c.TimeConstant()*3600
	for t := -n.SoakH * 3600; t < 0; t += 60 {
		temp = Cool(temp, n.Ambient(t+30), min(60, -t), tau)
	}
	return temp
}

// locked is how much charge the display hides, in %.
func (c Car) locked(minC float64) float64 {
	return c.ReservePct * min(1, max(0, (5-minC)/30))
}

// accepts is the power that the pack takes, in kW.
func (c Car) accepts(minC, soc float64) float64 {
	if minC < c.OnsetC || soc >= 100 {
		return 0
	}
	warm := min(1, (minC-c.OnsetC)/(c.WarmC-c.OnsetC))
	kw := c.StepKW + (c.PeakKW-c.StepKW)*warm
	// Full power to half charge, then down in a line: common practice, no source.
	limit := c.PeakKW
	if soc > 50 {
		limit = c.PeakKW * (1 - (soc-50)/50*0.95)
	}
	return max(0, min(kw, limit))
}

// electrics are the voltage at the pack's terminals, and the power that it loses in
// itself, in kW, with kw into it.
func (c Car) electrics(soc, kw float64) (volts, joule float64) {
	ocv := c.PackV * (0.92 + 0.16*soc/100)
	// P = V I with V = ocv + I R.
	amp := (math.Sqrt(ocv*ocv+4*c.PackOhm*kw*1000) - ocv) / (2 * c.PackOhm)
	return ocv + amp*c.PackOhm, amp * amp * c.PackOhm / 1000
}

// Simulate runs the model from plug-in until the person unplugs and the
// logging ends. Where the charger cannot give both, heater and accessories come
// before the pack; what heats the pack is the heater and the current in it.
func Simulate(c Car, n Night) *Run {
	r := &Run{Car: c, Night: n}
	temp, spread := c.soaked(n), 0.0
	stored := c.UsableKWh * (n.StartSoC + c.locked(temp)) / 100
	charging, began := true, false
	for t := 0.0; ; t += Step {
		minC, maxC := temp-spread, temp+spread
		soc := 100 * stored / c.UsableKWh
		p := Point{T: t, ShownSoC: soc - c.locked(minC), MeanC: temp, MinC: minC, MaxC: maxC, AmbientC: n.Ambient(t)}
		if charging && (p.ShownSoC >= n.EndSoC || t > n.MaxH*3600) {
			charging, r.End = false, t
		}
		if !charging && t > r.End+n.AfterMin*60 {
			return r
		}
		if charging && t >= Handshake {
			p.AccessKW = c.AccessoryKW
			if minC < c.OnsetC || minC < c.WarmC && began {
				p.HeaterKW = c.HeaterKW
			}
			room := n.ChargerKW*(1-inletLoss) - p.HeaterKW - p.AccessKW
			p.PackKW = max(0, min(c.accepts(minC, soc), room))
			began = began || p.PackKW > 0
			p.ChargerKW = (p.PackKW + p.HeaterKW + p.AccessKW) / (1 - inletLoss)
			p.LossKW = p.ChargerKW * inletLoss
		}
		var joule float64
		p.VoltageV, joule = c.electrics(soc, p.PackKW)
		r.Points = append(r.Points, p)

		heat := p.HeaterKW*c.HeaterShare + joule
		temp += (heat - c.LossKWPerK*(temp-p.AmbientC)) * Step / 3600 / c.HeatCapacity()
		// Where heat comes in, the far cells lag: about 0.6 K per kW, settling in 8 min.
		spread += (0.6*p.HeaterKW*c.HeaterShare - spread) * Step / 480
		stored += (p.PackKW - joule) * Step / 3600
	}
}
