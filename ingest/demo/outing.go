package demo

import (
	"math"
	"math/rand/v2"
)

// A Body is the physics of an invented car beside its pack's.
type Body struct {
	MassKg     float64 // kg, with the driver
	DragM2     float64 // m², coefficient of drag times frontal area
	CabinKWhK  float64 // kWh/K of the cabin's air and what it warms
	CabinKWK   float64 // kW/K, cabin to air
	CabinKW    float64 // kW, electrical, of the cabin's heater at most
	CabinShare float64 // heat into the cabin per electricity; above 1 for a heat pump
	OutKW      float64 // kW that the warm pack gives at most
	RegenKW    float64 // kW that the warm pack takes at most while braking
	StandbyW   float64 // W, asleep
}

// An Outing is the circumstances of a session without a charge.
type Outing struct {
	Night    Night   // air, soak, pack and displayed charge at the start; its charge counts for nothing
	CabinC   float64 // °C of the cabin at the start
	Minutes  float64 // that the heater runs, the car is driven, or stands
	AfterMin float64 // min for which logging goes on after a drive
	Route    uint64  // drives of one route are driven alike
}

// What a body needs to be driven; common practice, no source.
const (
	gravity  = 9.81  // m/s²
	toWheels = 0.88  // of the pack's power
	toPack   = 0.7   // of the wheels' power while braking
	ready    = 0.25  // kW of lights and computers, beside the accessories
	cabinSet = 22.0  // °C at which the cabin's heater begins to give way
	warmAt   = 20.0  // °C of the pack at which it gives and takes all
	mildAir  = 1.292 // kg/m³ at 0 °C
)

// gives and takes are the pack's limits while driving, in kW, at its coldest sensor.
func (c Car) gives(minC float64) float64 {
	return c.Body.OutKW * min(1, max(0.3, 0.45+0.55*(minC+25)/(warmAt+25)))
}

func (c Car) takes(minC float64) float64 {
	return c.Body.RegenKW * min(1, max(0.02, (minC+22)/(warmAt+22)))
}

// warm is the cabin's heater, in kW: full after half a minute, and less and less as
// the cabin comes near what the driver set.
func (c Car) warm(t, cabinC float64) float64 {
	return c.Body.CabinKW * min(1, t/30) * min(1, max(0.1, (cabinSet+2-cabinC)/4))
}

// A ride is the state that Warm, Drive and Stand step.
type ride struct {
	car          Car
	temp, spread float64 // °C and K, of the pack
	stored       float64 // kWh
	cabin        float64 // °C
	run          *Run
}

func begin(c Car, o Outing) *ride {
	temp := c.soaked(o.Night)
	return &ride{car: c, temp: temp, cabin: o.CabinC, stored: c.UsableKWh * (o.Night.StartSoC + c.locked(temp)) / 100, run: &Run{Car: c, Night: o.Night}}
}

// point is the state at t s, with nothing flowing yet.
func (d *ride) point(t float64) Point {
	soc := 100 * d.stored / d.car.UsableKWh
	return Point{T: t, ShownSoC: soc - d.car.locked(d.temp-d.spread), MeanC: d.temp, MinC: d.temp - d.spread, MaxC: d.temp + d.spread,
		AmbientC: d.run.Night.Ambient(t), CabinC: d.cabin}
}

// pass keeps a point whose powers are known, and goes on by one step.
func (d *ride) pass(p Point) {
	c, h := d.car, d.run.step()/3600
	var joule float64
	p.VoltageV, joule = c.electrics(100*d.stored/c.UsableKWh, p.PackKW)
	d.run.Points = append(d.run.Points, p)
	heat := p.HeaterKW*c.HeaterShare + joule
	d.temp += (heat - c.LossKWPerK*(d.temp-p.AmbientC)) * h / c.HeatCapacity()
	d.spread += (0.6*p.HeaterKW*c.HeaterShare - d.spread) * h * 3600 / 480
	d.stored += (p.PackKW - joule) * h
	d.cabin += (p.CabinKW*c.Body.CabinShare - c.Body.CabinKWK*(d.cabin-p.AmbientC)) * h / c.Body.CabinKWhK
}

// Warm runs the cabin's heater of a car that stands, from its pack.
func Warm(c Car, o Outing) *Run {
	d := begin(c, o)
	for t := 0.0; t <= o.Minutes*60; t += Step {
		p := d.point(t)
		p.CabinKW, p.AccessKW = c.warm(t, d.cabin), c.AccessoryKW
		p.PackKW = -p.CabinKW - p.AccessKW
		d.pass(p)
	}
	d.run.End = o.Minutes * 60
	return d.run
}

// Stand leaves the car alone: asleep, but for some minutes every few hours. Points
// are a minute apart.
func Stand(c Car, o Outing) *Run {
	d, rng := begin(c, o), rand.New(rand.NewPCG(o.Route, 3))
	d.run.stride = 60
	next, awake := 3600*(1+2*rng.Float64()), 0.0
	for t := 0.0; t <= o.Minutes*60; t += d.run.stride {
		if t >= next {
			next, awake = t+3600*(3+3*rng.Float64()), t+60*(10+10*rng.Float64())
		}
		p := d.point(t)
		p.AccessKW = c.Body.StandbyW / 1000
		if t < awake {
			p.AccessKW = 0.15
		}
		p.PackKW = -p.AccessKW
		d.pass(p)
	}
	d.run.End = o.Minutes * 60
	return d.run
}

// A leg of a route: a speed to be held for a while.
type leg struct {
	kmh, seconds float64
	how          int
}

const (
	gently = iota // as people drive
	fully         // all the power that there is
	regen         // no brake but what the pack takes
)

// route draws legs of a drive: standing, a town, once full power and once no brake
// but the pack's, then town and country until the time is up.
func route(minutes float64, seed uint64) []leg {
	rng := rand.New(rand.NewPCG(seed, 2))
	between := func(low, high float64) float64 { return low + (high-low)*rng.Float64() }
	legs := []leg{{0, between(30, 50), gently}, {50, between(60, 120), gently}, {140, 16, fully}, {90, between(10, 20), gently}, {20, 16, regen}}
	left := minutes * 60
	for _, l := range legs {
		left -= l.seconds
	}
	for left > 60 {
		l := leg{between(25, 100), between(40, 200), gently}
		if rng.IntN(4) == 0 {
			l = leg{0, between(10, 40), gently}
		}
		l.seconds = min(l.seconds, left)
		left -= l.seconds
		legs = append(legs, l)
	}
	return append(legs, leg{0, 45, gently})
}

// Drive drives the route, stands for AfterMin with everything on, and ends.
func Drive(c Car, o Outing) *Run {
	d, rng := begin(c, o), rand.New(rand.NewPCG(o.Route, 1))
	speed, odo, wander, t := 0.0, 0.0, 0.0, 0.0 // m/s, km, m/s, s
	for _, l := range append(route(o.Minutes, o.Route), leg{0, o.AfterMin * 60, gently}) {
		for end := t + l.seconds; t < end; t += Step {
			p := d.point(t)
			p.SpeedKMH, p.OdoKM = speed*3.6, odo
			p.CabinKW, p.AccessKW = c.warm(t, d.cabin), c.AccessoryKW+ready
			if p.MinC < c.OnsetC-10 {
				p.HeaterKW = c.HeaterKW * 0.4
			}
			loads := p.CabinKW + p.AccessKW + p.HeaterKW
			// A driver's foot and the traffic: a wander of 1 m/s, gone in 15 s.
			wander += -wander*Step/15 + math.Sqrt(2*Step/15)*rng.NormFloat64()
			force := c.resists(speed, p.AmbientC)
			wanted := min(1.3, max(-2, (l.kmh/3.6+wander-speed)/3))
			switch {
			case l.kmh == 0 && speed < 0.5:
				wanted = -speed / Step
			case l.kmh == 0:
				wanted = min(-0.3, (0-speed)/6)
			case l.how == fully:
				wanted = 5
			case l.how == regen:
				wanted = -max(0.2, (force+(c.takes(p.MinC)+loads)*1000/toPack/max(speed, 3))/c.Body.MassKg)
			}
			most := ((c.gives(p.MinC)-loads)*1000*toWheels/max(speed, 3) - force) / c.Body.MassKg
			wanted = min(wanted, most)
			wheel := (c.Body.MassKg*wanted + force) * speed / 1000 // kW
			motor := wheel / toWheels
			if wheel < 0 {
				motor = wheel * toPack
			}
			p.PackKW = min(c.takes(p.MinC), -motor-loads) // the rest is the friction brakes'
			d.pass(p)
			speed = max(0, speed+wanted*Step)
			odo += (p.SpeedKMH/3.6 + speed) / 2 * Step / 1000
			if speed*3.6 >= 1 {
				d.run.End = t + Step
			}
		}
	}
	return d.run
}

// resists is the force against the car, in N, standing or moving.
func (c Car) resists(speed, ambientC float64) float64 {
	if speed <= 0 {
		return 0
	}
	rolling := 0.010 + 0.00006*(20-ambientC)
	return c.Body.MassKg*gravity*rolling + 0.5*mildAir*273/(273+ambientC)*c.Body.DragM2*speed*speed
}
