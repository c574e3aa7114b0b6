package demo

import (
	"math"
	"slices"
)

// What the protocol of the demo says, by default.
const (
	cabinTarget   = 20.0 // °C
	driveFirstMin = 10.0
)

// TruthOf is what really happened in a session of a procedure that charges
// nothing, as Truth is of a charge.
func (r *Run) TruthOf(procedure string) map[string]float64 {
	truth := r.soak()
	switch procedure {
	case "cabin-warmup":
		r.cabin(truth)
	case "cold-drive", "warm-drive":
		r.drive(truth)
	case "standby":
		r.standby(truth)
	}
	return truth
}

func (r *Run) cabin(truth map[string]float64) {
	first := r.Points[0]
	truth["cabin_at_start"] = first.CabinC
	i := slices.IndexFunc(r.Points, func(p Point) bool { return p.CabinC >= cabinTarget })
	if i <= 0 {
		truth["cabin_peak_power"] = r.highest(math.Inf(1), cabinHeater)
		return
	}
	end := r.Points[i].T
	kwh := r.energy(0, end, cabinHeater)
	truth["cabin_time_to_target"] = end / 60
	truth["cabin_energy"] = kwh
	truth["cabin_peak_power"] = r.highest(end, cabinHeater)
	truth["cabin_warming_rate"] = (cabinTarget - first.CabinC) / end * 60
	truth["cabin_energy_per_k"] = kwh / (cabinTarget - first.CabinC)
}

func (r *Run) drive(truth map[string]float64) {
	given := -r.energy(0, r.End, pack)
	heat := r.energy(0, r.End, func(p Point) float64 { return p.HeaterKW + p.CabinKW })
	km := r.at(r.End).OdoKM
	truth["drive_distance"] = km
	truth["drive_mean_speed"] = km / r.End * 3600
	truth["drive_consumption"] = 100 * given / km
	truth["drive_heating_share"] = 100 * heat / given
	truth["drive_heater_mean"] = heat / r.End * 3600
	truth["drive_power_first"] = r.highest(driveFirstMin*60, func(p Point) float64 { return -p.PackKW })
	truth["drive_regen_first"] = max(0, r.highest(driveFirstMin*60, pack))
}

func (r *Run) standby(truth map[string]float64) {
	kw := -r.energy(0, r.End, pack) / r.End * 3600
	truth["standby_soc_loss"] = (r.Points[0].ShownSoC - r.at(r.End).ShownSoC) / r.End * 86400
	truth["standby_power"] = 1000 * kw
	truth["standby_energy_day"] = 24 * kw
}

// highest is the highest mean over 10 s, until to.
func (r *Run) highest(to float64, kw func(Point) float64) float64 {
	const rows = int(10 / Step)
	sum, top := 0.0, math.Inf(-1)
	for i, p := range r.Points {
		if p.T >= to {
			break
		}
		sum += kw(p)
		if i >= rows {
			sum -= kw(r.Points[i-rows])
		}
		if i >= rows-1 {
			top = max(top, sum/float64(rows))
		}
	}
	return top
}

func cabinHeater(p Point) float64 { return p.CabinKW }
