package demo

import (
	"fmt"
	"math/rand/v2"
	"time"
)

// WriteOutings writes a series of n random sessions that charge nothing, cabins
// warmed, drives cold and warm, and cars that stand, as WriteRandom does of cold
// charges.
func WriteOutings(dir string, n int, seed uint64) error {
	rng := rand.New(rand.NewPCG(seed, 0))
	files, err := files(nil, randomOutings(n, rng), seed)
	if err != nil {
		return fmt.Errorf("demo: %w", err)
	}
	return write(dir, files)
}

func randomOutings(n int, rng *rand.Rand) []outing {
	between := func(low, high float64) float64 { return low + (high-low)*rng.Float64() }
	pick := func(of ...float64) float64 { return of[rng.IntN(len(of))] }
	cars := Cars()
	procedures := []string{"cabin-warmup", "cold-drive", "standby", "cabin-warmup", "warm-drive", "cold-drive", "standby"}
	var out []outing
	for i := range n {
		c := cars[rng.IntN(len(cars))]
		c.ID, c.Name = fmt.Sprintf("car-%04d", i), fmt.Sprintf("Car %04d", i)
		for _, v := range []*float64{&c.PackMassKg, &c.LossKWPerK, &c.HeaterKW, &c.PackOhm, &c.Body.MassKg, &c.Body.DragM2, &c.Body.CabinKWhK, &c.Body.CabinKWK, &c.Body.CabinKW,
			&c.Body.OutKW, &c.Body.RegenKW, &c.Body.StandbyW} {
			*v *= between(0.85, 1.15)
		}
		start := time.Date(2026, 1, 10, 6, 0, 0, 0, time.UTC).AddDate(0, 0, i%40).Add(time.Duration(rng.IntN(4*3600)) * time.Second)
		o := outing{id: fmt.Sprintf("outing-%04d", i), procedure: procedures[i%len(procedures)], car: c, start: start.Format("2006-01-02T15:04:05"), stateStart: rng.IntN(2) == 0,
			really: Outing{Night: Night{AmbientC: between(-28, -8), SwingK: between(0, 3), SoakH: between(24, 60), StartC: between(-5, 15), StartSoC: between(50, 80)},
				Minutes: between(25, 45), AfterMin: between(1, 3), Route: rng.Uint64()}}
		switch rng.IntN(4) {
		case 0:
			o.logger, o.interval = "shunt-log", pick(1, 2, 5, 10)
		case 1:
			o.logger, o.interval = "dash-log", pick(5, 10, 30)
		default:
			o.logger, o.interval = "trip-log", pick(1, 2, 5, 10)
		}
		o.really.CabinC = o.really.Night.Ambient(0) + between(0, 1)
		switch o.procedure {
		case "standby":
			o.really.Minutes, o.stateStart = between(20, 90)*60, true
			o.logger, o.interval = "sleep-log", 300
			if rng.IntN(3) == 0 {
				o.logger, o.interval = "dash-log", 1800
			}
			if rng.IntN(2) == 0 { // left warm
				o.really.Night.SoakH, o.really.Night.StartC = 1, between(0, 10)
			}
		case "warm-drive":
			o.really.Night.AmbientC, o.really.Night.SwingK, o.really.Night.StartC, o.really.CabinC = between(10, 22), 0, between(15, 22), between(15, 22)
		}
		if from := between(700, 1200); o.procedure != "standby" && rng.IntN(4) == 0 {
			o.gap = [2]float64{from, from + between(30, 200)}
		}
		out = append(out, o)
	}
	return out
}
