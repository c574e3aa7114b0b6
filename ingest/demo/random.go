package demo

import (
	"fmt"
	"math/rand/v2"
	"time"
)

// WriteRandom writes a series of n random cold charges into the folder dir,
// which must not hold anything yet: random cars, nights, loggers, intervals,
// gaps and clocks, the same for the same seed. truth.csv says what really
// happened. It is for checking figures and their uncertainty in bulk.
func WriteRandom(dir string, n int, seed uint64) error {
	rng := rand.New(rand.NewPCG(seed, 0))
	files, err := files(randomPlans(n, rng), nil, seed)
	if err != nil {
		return fmt.Errorf("demo: %w", err)
	}
	return write(dir, files)
}

func randomPlans(n int, rng *rand.Rand) []plan {
	between := func(low, high float64) float64 { return low + (high-low)*rng.Float64() }
	cars := Cars()
	kinds := []string{"wide-log", "semicolon-log", "stamp-log", "dial-log"}
	intervals := []float64{1, 2, 5, 10, 30}
	var out []plan
	for i := range n {
		c := cars[rng.IntN(len(cars))]
		c.ID = fmt.Sprintf("car-%04d", i)
		c.Name = fmt.Sprintf("Car %04d", i)
		for _, v := range []*float64{&c.PackMassKg, &c.SpecificHeat, &c.LossKWPerK, &c.HeaterKW, &c.StepKW, &c.PeakKW, &c.PackOhm} {
			*v *= between(0.85, 1.15)
		}
		c.SpecificHeat = min(max(c.SpecificHeat, 830), 1130)
		c.HeaterShare = min(c.HeaterShare*between(0.9, 1.1), 1.1)
		plug := time.Date(2026, 1, 10, 18, 0, 0, 0, time.UTC).AddDate(0, 0, i%40).Add(time.Duration(rng.IntN(4*3600)) * time.Second)
		p := plan{
			id: fmt.Sprintf("night-%04d", i), car: c, procedure: "cold-charge", plug: plug.Format("2006-01-02T15:04:05"),
			logger: kinds[rng.IntN(len(kinds))], interval: intervals[rng.IntN(len(intervals))],
			charger: true, handheld: rng.IntN(2) == 0, statePlug: rng.IntN(2) == 0,
			night: Night{AmbientC: between(-28, -8), SwingK: between(0, 3), SoakH: between(20, 60), StartC: between(-5, 15),
				StartSoC: between(3, 9), EndSoC: between(65, 88), ChargerKW: []float64{50, 100, 150, 250}[rng.IntN(4)], MaxH: 5, AfterMin: between(1, 5)},
		}
		if rng.IntN(2) == 0 {
			p.chargerFast = float64(rng.IntN(120) - 60)
		}
		if rng.IntN(4) == 0 {
			from := between(300, 4000)
			p.gap = [2]float64{from, from + between(30, 300)}
		}
		if rng.IntN(6) == 0 {
			p.failedMin = 4 + rng.IntN(10)
		}
		out = append(out, p)
	}
	return out
}
