package demo

import (
	"fmt"
	"math/rand/v2"
	"time"
)

// A logger is a kind of log: how it writes, what it shows, and the profile that
// says so.
type logger struct {
	profile string // ID
	layout  layout
	// instruments of one session, with their errors drawn.
	instruments func(r *Run, rng *rand.Rand) []instrument
	startKey    bool // the session must state start: the clock shows no date
}

func elapsed(_ time.Time, since float64) string { return fmt.Sprintf("%.1f", since) }
func dayFirst(at time.Time, _ float64) string   { return at.Format("02.01.2006 15:04:05") }
func isoUTC(at time.Time, _ float64) string     { return at.UTC().Format("2006-01-02T15:04:05.000Z") }
func epochMS(at time.Time, _ float64) string    { return fmt.Sprint(at.UnixMilli()) }
func timeOnly(at time.Time, _ float64) string   { return at.Format("15:04:05") }

func soc(p Point) float64     { return p.ShownSoC }
func minC(p Point) float64    { return p.MinC }
func maxC(p Point) float64    { return p.MaxC }
func ambient(p Point) float64 { return p.AmbientC }
func pack(p Point) float64    { return p.PackKW }
func heater(p Point) float64  { return p.HeaterKW }
func access(p Point) float64  { return p.AccessKW }
func charger(p Point) float64 { return p.ChargerKW }
func volts(p Point) float64   { return p.VoltageV }
func amps(p Point) float64    { return p.PackKW * 1000 / p.VoltageV }

// loggers of cars. Standard uncertainties are drawn as the profiles below and
// the channel catalogue state them.
var loggers = map[string]logger{
	"wide-log": {profile: "wide-log", startKey: true,
		layout: layout{delim: ",", decimal: ".", clock: "time_s", when: elapsed},
		instruments: func(_ *Run, rng *rand.Rand) []instrument {
			return []instrument{
				{header: "SOC disp", of: soc, resolution: 1, gain: 1, floor: true},
				instrument{header: "HV V", of: volts, resolution: 0.1}.draw(rng, 0.005, 0),
				instrument{header: "HV A", of: func(p Point) float64 { return -amps(p) }, resolution: 0.1, noise: 0.1}.draw(rng, 0.01, 0),
				instrument{header: "T min", of: minC, resolution: 0.5}.draw(rng, 0, 0.5),
				instrument{header: "T max", of: maxC, resolution: 0.5}.draw(rng, 0, 0.5),
				instrument{header: "Heater W", of: heater, resolution: 10, scale: watts, noise: 8}.draw(rng, 0.02, 0),
				instrument{header: "Aux W", of: access, resolution: 10, scale: watts, noise: 5}.draw(rng, 0.02, 0),
				instrument{header: "Outside", of: ambient, resolution: 0.5}.draw(rng, 0, 1),
			}
		}},
	"semicolon-log": {profile: "semicolon-log",
		layout: layout{preamble: "unit 7, firmware 2\n\n", delim: ";", decimal: ",", clock: "Zeit", when: dayFirst, missing: "--"},
		instruments: func(_ *Run, rng *rand.Rand) []instrument {
			return []instrument{
				{header: "SoC (%)", of: soc, resolution: 1, gain: 1, floor: true},
				instrument{header: "Pack (kW)", of: pack, resolution: 0.01, noise: 0.02}.draw(rng, 0.01, 0),
				instrument{header: "Batt Temp min (°F)", of: minC, resolution: 0.1, scale: fahrenheit}.draw(rng, 0, 0.5),
				instrument{header: "Batt Temp max (°F)", of: maxC, resolution: 0.1, scale: fahrenheit}.draw(rng, 0, 0.5),
				instrument{header: "Heizung (kW)", of: heater, resolution: 0.01, noise: 0.01}.draw(rng, 0.02, 0),
				instrument{header: "Aussen (°F)", of: ambient, resolution: 1, scale: fahrenheit}.draw(rng, 0, 1),
			}
		}},
	"stamp-log": {profile: "stamp-log",
		layout: layout{delim: "\t", decimal: ".", clock: "stamp", when: epochMS},
		instruments: func(_ *Run, rng *rand.Rand) []instrument {
			return []instrument{
				{header: "soc", of: soc, resolution: 1, gain: 1, floor: true},
				instrument{header: "pack_w", of: pack, resolution: 1, scale: watts, noise: 15}.draw(rng, 0.01, 0),
				instrument{header: "tcold", of: minC, resolution: 0.1}.draw(rng, 0, 0.5),
				instrument{header: "thot", of: maxC, resolution: 0.1}.draw(rng, 0, 0.5),
				instrument{header: "heat_w", of: heater, resolution: 1, scale: watts, noise: 10}.draw(rng, 0.02, 0),
			}
		}},
	// No pack current: what the pack gets is the charger less heater and accessories.
	"dial-log": {profile: "dial-log",
		layout: layout{delim: "|", decimal: ".", clock: "when", when: isoUTC},
		instruments: func(_ *Run, rng *rand.Rand) []instrument {
			return []instrument{
				{header: "state of charge", of: soc, resolution: 1, gain: 1, floor: true},
				instrument{header: "coldest cell", of: minC, resolution: 1}.draw(rng, 0, 0.5),
				instrument{header: "warmest cell", of: maxC, resolution: 1}.draw(rng, 0, 0.5),
				instrument{header: "heater kW", of: heater, resolution: 0.1}.draw(rng, 0.02, 0),
				instrument{header: "rest kW", of: access, resolution: 0.05}.draw(rng, 0.02, 0),
			}
		}},
}

// chargerLog is the charger's own log, on its own clock.
var chargerLog = logger{profile: "charger-log", startKey: true,
	layout: layout{delim: ",", decimal: ".", clock: "clock", when: timeOnly},
	instruments: func(r *Run, rng *rand.Rand) []instrument {
		return []instrument{
			instrument{header: "output_kw", of: charger, resolution: 0.1}.draw(rng, 0.01, 0),
			instrument{header: "delivered_kwh", of: r.register(), resolution: 0.01}.draw(rng, 0.01, 0),
		}
	}}

// profiles are the texts of profiles/, by ID.
var profiles = map[string]string{
	"wide-log": `# A logger in the car: commas, seconds from its own start.
title = "wide log"
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
resolution = 0.5           # written with a decimal, but in steps of a half

[[column]]
name = "T max"
channel = "pack_temp_max_c"
resolution = 0.5

[[column]]
name = "Heater W"
channel = "heater_power_kw"
unit = "W"
resolution = 10            # in W, as the log has it

[[column]]
name = "Aux W"
channel = "accessory_power_kw"
unit = "W"
resolution = 10

[[column]]
name = "Outside"
channel = "ambient_car_c"
resolution = 0.5
`,
	"semicolon-log": `# A logger with semicolons, decimal commas, wall-clock times and °F.
title = "semicolon log"
kind = "delimited"
decimal = ","
header_row = 3             # below two lines about the unit
missing = ["--"]

[clock]
column = "Zeit"
format = "%d.%m.%Y %H:%M:%S"

[[column]]
name = "SoC (%)"
channel = "soc_pct"

[[column]]
name = "Pack (kW)"
channel = "pack_power_kw"

[[column]]
name = "Batt Temp min (°F)"
channel = "pack_temp_min_c"
unit = "°F"

[[column]]
name = "Batt Temp max (°F)"
channel = "pack_temp_max_c"
unit = "°F"

[[column]]
name = "Heizung (kW)"
channel = "heater_power_kw"

[[column]]
name = "Aussen (°F)"
channel = "ambient_car_c"
unit = "°F"
`,
	"stamp-log": `# A logger with tabs, epoch milliseconds and watts.
title = "stamp log"
kind = "delimited"
header_row = 1

[clock]
column = "stamp"
format = "epoch"
unit = "ms"

[[column]]
name = "soc"
channel = "soc_pct"

[[column]]
name = "pack_w"
channel = "pack_power_kw"
unit = "W"

[[column]]
name = "tcold"
channel = "pack_temp_min_c"

[[column]]
name = "thot"
channel = "pack_temp_max_c"

[[column]]
name = "heat_w"
channel = "heater_power_kw"
unit = "W"
`,
	"dial-log": `# A logger that knows no pack current: power into the pack is worked out from
# the charger less the heater and the rest.
title = "dial log"
kind = "delimited"
header_row = 1

[clock]
column = "when"
format = "iso"

[[column]]
name = "state of charge"
channel = "soc_pct"

[[column]]
name = "coldest cell"
channel = "pack_temp_min_c"

[[column]]
name = "warmest cell"
channel = "pack_temp_max_c"

[[column]]
name = "heater kW"
channel = "heater_power_kw"

[[column]]
name = "rest kW"
channel = "accessory_power_kw"
resolution = 0.05
`,
	"charger-log": `# The charger's own log: times of day without a date.
title = "charger log"
kind = "delimited"
header_row = 1

[clock]
column = "clock"
format = "%H:%M:%S"

[[column]]
name = "output_kw"
channel = "charger_power_kw"

[[column]]
name = "delivered_kwh"
channel = "charger_energy_kwh"
`,
	"garden-station": `# A weather station in the yard: a row every ten minutes.
title = "garden station"
kind = "delimited"
header_row = 1

[clock]
column = "local time"
format = "iso"

[[column]]
name = "air °C"
channel = "ambient_station_c"
`,
	"yard-thermometer": `# A thermometer beside the car, in °F.
title = "yard thermometer"
kind = "delimited"
delimiter = ";"
header_row = 1

[clock]
column = "t"
format = "%d/%m/%y %I:%M %p"

[[column]]
name = "F"
channel = "ambient_handheld_c"
unit = "F"
`,
}
