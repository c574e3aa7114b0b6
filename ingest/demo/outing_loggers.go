package demo

import (
	"math/rand/v2"
	"time"
)

func cabinC(p Point) float64 { return p.CabinC }
func speed(p Point) float64  { return p.SpeedKMH }
func odo(p Point) float64    { return p.OdoKM + 18342.36 }
func meanC(p Point) float64  { return p.MeanC }

func localISO(at time.Time, _ float64) string { return at.Format("2006-01-02T15:04:05") }

// outingLoggers are the logs of sessions that charge nothing. Standard
// uncertainties are drawn as in loggers.
var outingLoggers = map[string]logger{
	"trip-log": {profile: "trip-log", startKey: true,
		layout: layout{delim: ",", decimal: ".", clock: "time_s", when: elapsed},
		instruments: func(_ *Run, rng *rand.Rand) []instrument {
			return []instrument{
				{header: "SOC disp", of: soc, resolution: 1, gain: 1, floor: true},
				instrument{header: "HV V", of: volts, resolution: 0.1}.draw(rng, 0.005, 0),
				instrument{header: "HV A", of: func(p Point) float64 { return -amps(p) }, resolution: 0.1, noise: 0.1}.draw(rng, 0.01, 0),
				instrument{header: "T min", of: minC, resolution: 0.5}.draw(rng, 0, 0.5),
				instrument{header: "T max", of: maxC, resolution: 0.5}.draw(rng, 0, 0.5),
				instrument{header: "Heater W", of: heater, resolution: 10, scale: watts, noise: 8}.draw(rng, 0.02, 0),
				instrument{header: "Cabin W", of: cabinHeater, resolution: 10, scale: watts, noise: 8}.draw(rng, 0.02, 0),
				instrument{header: "Aux W", of: access, resolution: 10, scale: watts, noise: 5}.draw(rng, 0.02, 0),
				instrument{header: "Cabin", of: cabinC, resolution: 0.1, noise: 0.05}.draw(rng, 0, 1),
				instrument{header: "km/h", of: speed, resolution: 0.1}.draw(rng, 0.01, 0),
				{header: "Odo", of: odo, resolution: 0.1, gain: 1, floor: true},
				instrument{header: "Outside", of: ambient, resolution: 0.5}.draw(rng, 0, 1),
			}
		}},
	// Power of the pack, and no heater.
	"shunt-log": {profile: "shunt-log",
		layout: layout{delim: ";", decimal: ",", clock: "time", when: localISO, missing: "-"},
		instruments: func(_ *Run, rng *rand.Rand) []instrument {
			return []instrument{
				{header: "charge", of: soc, resolution: 0.5, gain: 1, floor: true},
				instrument{header: "pack kW", of: pack, resolution: 0.01, noise: 0.02}.draw(rng, 0.01, 0),
				instrument{header: "head height", of: cabinC, resolution: 0.5}.draw(rng, 0, 1),
				instrument{header: "speed", of: speed, resolution: 1}.draw(rng, 0.01, 0),
			}
		}},
	// What the dashboard shows, and nothing else.
	"dash-log": {profile: "dash-log",
		layout: layout{delim: ",", decimal: ".", clock: "time", when: localISO},
		instruments: func(_ *Run, rng *rand.Rand) []instrument {
			return []instrument{
				{header: "charge", of: soc, resolution: 1, gain: 1, floor: true},
				instrument{header: "cabin", of: cabinC, resolution: 1}.draw(rng, 0, 1),
				instrument{header: "speed", of: speed, resolution: 1}.draw(rng, 0.01, 0),
				{header: "odometer", of: odo, resolution: 1, gain: 1, floor: true},
			}
		}},
	// A car that stands: seldom, so as not to keep it awake.
	"sleep-log": {profile: "sleep-log",
		layout: layout{delim: ",", decimal: ".", clock: "time", when: localISO},
		instruments: func(_ *Run, rng *rand.Rand) []instrument {
			return []instrument{
				{header: "charge", of: soc, resolution: 1, gain: 1, floor: true},
				instrument{header: "pack W", of: pack, resolution: 1, scale: watts}.draw(rng, 0.01, 0),
				instrument{header: "pack °C", of: meanC, resolution: 0.5}.draw(rng, 0, 0.5),
			}
		}},
}

// outingProfiles are the texts of profiles/ that only outings need, by ID.
var outingProfiles = map[string]string{
	"trip-log": `# A logger in the car for drives and the cabin: commas, seconds from its own start.
title = "trip log"
kind = "delimited"
header_row = 1

[clock]
column = "time_s"
format = "elapsed"
unit = "s"

[[column]]
name = "SOC disp"
channel = "soc_pct"

[[column]]
name = "HV V"
channel = "pack_voltage_v"

[[column]]
name = "HV A"
channel = "pack_current_a"
invert = true              # this logger calls current out of the pack positive

[[column]]
name = "T min"
channel = "pack_temp_min_c"
resolution = 0.5

[[column]]
name = "T max"
channel = "pack_temp_max_c"
resolution = 0.5

[[column]]
name = "Heater W"
channel = "heater_power_kw"
unit = "W"
resolution = 10

[[column]]
name = "Cabin W"
channel = "cabin_heater_power_kw"
unit = "W"
resolution = 10

[[column]]
name = "Aux W"
channel = "accessory_power_kw"
unit = "W"
resolution = 10

[[column]]
name = "Cabin"
channel = "cabin_temp_c"   # a probe at head height between the front seats

[[column]]
name = "km/h"
channel = "speed_km_h"

[[column]]
name = "Odo"
channel = "odometer_km"

[[column]]
name = "Outside"
channel = "ambient_car_c"
resolution = 0.5
`,
	"shunt-log": `# Power at the pack, and a probe in the cabin; no heater.
title = "shunt log"
kind = "delimited"
decimal = ","
header_row = 1
missing = ["-"]

[clock]
column = "time"
format = "iso"

[[column]]
name = "charge"
channel = "soc_pct"
resolution = 0.5

[[column]]
name = "pack kW"
channel = "pack_power_kw"

[[column]]
name = "head height"
channel = "cabin_temp_c"
resolution = 0.5

[[column]]
name = "speed"
channel = "speed_km_h"
`,
	"dash-log": `# What the dashboard shows.
title = "dash log"
kind = "delimited"
header_row = 1

[clock]
column = "time"
format = "iso"

[[column]]
name = "charge"
channel = "soc_pct"

[[column]]
name = "cabin"
channel = "cabin_temp_c"

[[column]]
name = "speed"
channel = "speed_km_h"

[[column]]
name = "odometer"
channel = "odometer_km"
`,
	"sleep-log": `# A parked car, looked at every few minutes.
title = "sleep log"
kind = "delimited"
header_row = 1

[clock]
column = "time"
format = "iso"

[[column]]
name = "charge"
channel = "soc_pct"

[[column]]
name = "pack W"
channel = "pack_power_kw"
unit = "W"

[[column]]
name = "pack °C"
channel = "pack_temp_mean_c"
resolution = 0.5
`,
}
