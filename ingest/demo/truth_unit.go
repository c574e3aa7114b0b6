package demo

import "strings"

// truthUnit is the unit of a figure that has a true value, as truth.csv shows
// it; "" if it is not known.
func truthUnit(figure string) string {
	// Figures after so many minutes have one unit for all of them.
	if stem, after, ok := strings.Cut(figure, "_added_"); ok && strings.HasSuffix(after, "min") {
		return map[string]string{"range": "km", "soc": "%"}[stem]
	}
	if strings.HasPrefix(figure, "energy_") {
		return "kWh"
	}
	return truthUnits[figure]
}

var truthUnits = map[string]string{
	"ambient_at_plug_in":       "°C",
	"delay_to_onset":           "min",
	"efficiency":               "%",
	"end_soc":                  "%",
	"failed_connects_lost":     "min",
	"heat_before_onset":        "kWh",
	"heat_capacity":            "kWh/K",
	"heat_session":             "kWh",
	"heat_share":               "%",
	"log_interval":             "s",
	"onset_pack_temp":          "°C",
	"onset_soc":                "%",
	"pack_minus_ambient":       "K",
	"pack_temp_at_plug_in":     "°C",
	"peak_power":               "kW",
	"soak_ambient_low":         "°C",
	"soak_ambient_mean":        "°C",
	"soak_hours":               "h",
	"soc_without_energy":       "%",
	"start_soc":                "%",
	"thermometer_disagreement": "K",
	"time_10_80":               "min",
	"time_10_80_plug_in":       "min",
	"time_20_80":               "min",
	"warming_rate":             "K/h",
}
