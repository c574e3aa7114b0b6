package demo

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"
)

// An outing is one session of a demo series that charges nothing.
type outing struct {
	id, procedure string
	car           Car
	start         string // local, when the heat is switched on, the car is driven, or is left alone
	really        Outing
	logger        string
	interval      float64
	gap           [2]float64 // s since the start without rows
	stateStart    bool       // start stated in session.toml, else in notes
	weather       string     // as noted before the start; "": nobody looked
	remark        string
}

var outings = []outing{
	{id: "2026-01-16-alder-60-cabin", procedure: "cabin-warmup", car: alder, start: "2026-01-16T07:10:20", logger: "trip-log", interval: 2, stateStart: true,
		weather: "dry night",
		really:  Outing{Night: Night{AmbientC: -21, SwingK: 1.5, SoakH: 46, StartC: 3, StartSoC: 63.7}, CabinC: -21.8, Minutes: 35}},
	{id: "2026-01-19-birch-77-cabin", procedure: "cabin-warmup", car: birch, start: "2026-01-19T06:55:00", logger: "shunt-log", interval: 5,
		really: Outing{Night: Night{AmbientC: -24, SwingK: 1, SoakH: 48, StartC: 1, StartSoC: 58.2}, CabinC: -24.6, Minutes: 40},
		remark: "the heater was not logged, only what the pack gave"},
	{id: "2026-01-24-alder-60-drive", procedure: "cold-drive", car: alder, start: "2026-01-24T08:02:15", logger: "trip-log", interval: 1, stateStart: true,
		weather: "dry night",
		really:  Outing{Night: Night{AmbientC: -20, SwingK: 2, SoakH: 47, StartC: 2, StartSoC: 71.4}, CabinC: -21.5, Minutes: 28, AfterMin: 2, Route: 5}},
	{id: "2026-01-30-larch-90-parked", procedure: "standby", car: larch, start: "2026-01-30T21:00:00", logger: "sleep-log", interval: 300, stateStart: true,
		weather: "dry night",
		really:  Outing{Night: Night{AmbientC: -22, SwingK: 2, SoakH: 50, StartC: 1, StartSoC: 55.3}, CabinC: -22, Minutes: 60 * 60, Route: 1}},
	{id: "2026-02-09-alder-60-drive", procedure: "warm-drive", car: alder, start: "2026-02-09T14:20:40", logger: "trip-log", interval: 1, stateStart: true,
		really: Outing{Night: Night{AmbientC: 15, SoakH: 12, StartC: 20, StartSoC: 70.9}, CabinC: 18, Minutes: 28, AfterMin: 2, Route: 5},
		remark: "the control: from the heated hall, the same road"},
}

func (o outing) run() *Run {
	switch o.procedure {
	case "cabin-warmup":
		return Warm(o.car, o.really)
	case "standby":
		return Stand(o.car, o.really)
	}
	return Drive(o.car, o.really)
}

// unlogged are the figures that a logger's channels do not suffice for.
var unlogged = map[string][]string{
	"trip-log":  nil,
	"shunt-log": {"pack_temp_at_plug_in", "pack_minus_ambient", "drive_heating_share", "drive_heater_mean", "ambient_car_at_plug_in"},
	"dash-log": {"pack_temp_at_plug_in", "pack_minus_ambient", "drive_heating_share", "drive_heater_mean", "drive_power_first", "drive_regen_first",
		"cabin_peak_power", "ambient_car_at_plug_in"},
	"sleep-log": {"ambient_car_at_plug_in"},
}

// truth is what the session's figures should find.
func (o outing) truth(r *Run) map[string]float64 {
	values := r.TruthOf(o.procedure)
	for _, figure := range append(slices.Clone(unlogged[o.logger]), "ambient_handheld_at_plug_in") {
		delete(values, figure)
	}
	if o.interval > 5 {
		delete(values, "drive_power_first")
		delete(values, "drive_regen_first")
	}
	if o.logger == "shunt-log" { // shows half percents
		values["start_soc"] = math.Floor(2*r.Points[0].ShownSoC) / 2
	}
	if o.procedure == "warm-drive" {
		for _, figure := range []string{"soak_hours", "soak_ambient_mean", "soak_ambient_departure", "soak_excursion", "soak_ambient_low"} {
			delete(values, figure)
		}
	}
	return values
}

// files are the files of one session's folder, by name.
func (o outing) files(r *Run, start time.Time, rng *rand.Rand) map[string][]byte {
	const stamp = "2006-01-02T15:04:05"
	soak := start.Add(-time.Duration(o.really.Night.SoakH * float64(time.Hour)))
	toml := bytes.NewBufferString(fmt.Sprintf("# %s. Times here are local, in the zone below.\n\nvehicle = %q\nprocedure = %q\nzone = %q\nsoak_start = %s\n",
		o.id, o.car.ID, o.procedure, zone, soak.Format(stamp)))
	if o.stateStart {
		fmt.Fprintf(toml, "start = %s # by a watch, to a second; else the notes tell\n", start.Format(stamp))
	}
	toml.WriteString("tester = \"R. Fell\"\n")
	if o.remark != "" {
		fmt.Fprintf(toml, "remark = %q\n", o.remark)
	}
	source := func(file, profile, extra string) {
		fmt.Fprintf(toml, "\n[[source]]\nfile = %q\nprofile = %q\n%s", file, profile, extra)
	}
	fmt.Fprintf(toml, "\n[[source]]\nfile = \"notes.txt\"\nkind = \"notes\"\nstart = %s\n", soak.Format(stamp))

	lead := 120.0 // s before the start that the logger is started
	if o.procedure == "standby" {
		lead = 0
	}
	lg := outingLoggers[o.logger]
	files := map[string][]byte{
		"notes.txt": o.notes(r, soak, start),
		"car.csv":   lg.layout.write(r, start, -lead, o.interval, 0, o.gap, lg.instruments(r, rng), rng),
	}
	extra := ""
	if lg.startKey {
		extra = fmt.Sprintf("start = %s # what 0 on this logger's clock stands for\n", start.Add(-time.Duration(lead)*time.Second).Format(stamp))
	}
	source("car.csv", lg.profile, extra)
	files["air.csv"] = plan{night: o.really.Night}.air(soak, start, 10*time.Minute, "local time,air °C\n", func(at time.Time, c float64) string {
		return fmt.Sprintf("%s,%.1f\n", at.Format(stamp), c)
	}, rng)
	source("air.csv", "garden-station", "")
	files["session.toml"] = toml.Bytes()
	return files
}

// notes are what the person typed on a phone, which shows whole minutes.
func (o outing) notes(r *Run, soak, start time.Time) []byte {
	b := bytes.NewBufferString("# " + place + "\n")
	day := ""
	at := func(t time.Time, text string) {
		if d := t.Format("2006-01-02"); d != day {
			day = d
			b.WriteString(d + "\n")
		}
		fmt.Fprintf(b, "%s %s\n", t.Format("15:04"), text)
	}
	at(soak, "left outside")
	if o.weather != "" {
		at(start.Add(-2*time.Minute), o.weather)
	}
	switch o.procedure {
	case "cabin-warmup":
		at(start, "heater on")
	case "cold-drive", "warm-drive":
		at(start, "set off")
		at(start.Add(time.Duration(r.End*float64(time.Second))), "arrived")
	case "standby":
		at(start, "locked and left alone")
	}
	return b.Bytes()
}
