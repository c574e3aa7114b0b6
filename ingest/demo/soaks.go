package demo

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"
)

// WriteSoaks writes a series of one car, charged once after a long soak in the
// air of each of the given temperatures, in °C, into the folder dir, which must
// not hold anything yet. Nothing else differs between the nights but the errors
// of the instruments, so that what a correction for the soak's temperature must
// undo is all there is. The same arguments give the same bytes; truth.csv says
// what really happened.
func WriteSoaks(dir string, c Car, soaksC []float64, seed uint64) error {
	nights := make([]CarNight, len(soaksC))
	for i, ambient := range soaksC {
		nights[i] = CarNight{c, ambient}
	}
	return WriteFleet(dir, nights, seed)
}

// A CarNight is one car, soaked through in air of a temperature in °C.
type CarNight struct {
	Car      Car
	AmbientC float64
}

// WriteFleet is WriteSoaks for cars that differ: one session a night, in its order.
func WriteFleet(dir string, nights []CarNight, seed uint64) error {
	var plans []plan
	first := time.Date(2026, 1, 5, 19, 30, 0, 0, time.UTC)
	for i, n := range nights {
		if !(math.Abs(n.AmbientC) <= 60) {
			return fmt.Errorf("demo: a soak at %v °C is none", n.AmbientC)
		}
		plans = append(plans, plan{
			id: fmt.Sprintf("soak-%02d", i+1), car: n.Car, procedure: "cold-charge", plug: first.AddDate(0, 0, 5*i).Format("2006-01-02T15:04:05"),
			logger: "wide-log", interval: 2, charger: true, statePlug: true,
			night: Night{AmbientC: n.AmbientC, SoakH: 72, StartC: n.AmbientC + 10, StartSoC: 8.5, EndSoC: 82.5, ChargerKW: 250, MaxH: 6, AfterMin: 3},
		})
	}
	// A stream of its own: WriteRandom's first night draws from (seed, 0) too.
	files, err := files(plans, nil, rand.NewPCG(seed, 1<<32).Uint64())
	if err != nil {
		return fmt.Errorf("demo: %w", err)
	}
	return write(dir, files)
}
