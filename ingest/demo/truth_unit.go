package demo

import "strings"

// truthUnit is the unit of a figure that has a true value, as truth.csv shows
// it; "" if it is not known.
func truthUnit(figure string) string {
	// Figures after so many minutes have one unit for all of them.
	if stem, after, ok := strings.Cut(figure, "_added_"); ok && strings.HasSuffix(after, "min") {
		return map[string]string{"range": "km", "soc": "%"}[stem]
	}
	if unit := truthUnits[figure]; unit != "" {
		return unit
	}
	if strings.HasPrefix(figure, "time_") {
		return "min"
	}
	if strings.HasPrefix(figure, "energy_") {
		return "kWh"
	}
	return ""
}

var truthUnits = map[string]string{
	"ambient_car_at_plug_in":      "°C",
	"ambient_handheld_at_plug_in": "°C",
	"ambient_station_at_plug_in":  "°C",
	"cabin_at_start":              "°C",
	"cabin_energy":                "kWh",
	"cabin_energy_per_k":          "kWh/K",
	"cabin_peak_power":            "kW",
	"cabin_time_to_target":        "min",
	"cabin_warming_rate":          "K/min",
	"charger_limited":             "min",
	"charger_register_off":        "%",
	"energy_before_plug_in":       "kWh",
	"heat_before_plug_in":         "kWh",
	"delay_to_10kw":               "min",
	"delay_to_charger_power":      "min",
	"delay_to_half_peak":          "min",
	"charge_before_log":           "min",
	"drive_consumption":           "kWh/100 km",
	"drive_distance":              "km",
	"drive_heater_mean":           "kW",
	"drive_heating_share":         "%",
	"drive_mean_speed":            "km/h",
	"drive_power_first":           "kW",
	"drive_regen_first":           "kW",
	"energy_balance":              "%",
	"failed_connects":             "1",
	"heat_warming_share":          "%",
	"heater_mean_before_onset":    "kW",
	"heater_peak":                 "kW",
	"mean_power":                  "kW",
	"onset_step":                  "kW",
	"pack_mean_at_plug_in":        "°C",
	"pack_spread_at_plug_in":      "K",
	"pack_spread_before_onset":    "K",
	"pause_time":                  "min",
	"peak_c_rate":                 "1/h",
	"peak_power_soc":              "%",
	"power_at_50":                 "kW",
	"power_at_80":                 "kW",
	"soak_ambient_departure":      "K",
	"soak_excursion":              "min",
	"standby_energy_day":          "kWh/d",
	"standby_power":               "W",
	"standby_soc_loss":            "%/d",
	"taper_soc":                   "%",
	"time_20_80_plug_in":          "min",
	"ambient_at_plug_in":          "°C",
	"delay_to_onset":              "min",
	"efficiency":                  "%",
	"end_soc":                     "%",
	"failed_connects_lost":        "min",
	"heat_before_onset":           "kWh",
	"heat_capacity":               "kWh/K",
	"heat_session":                "kWh",
	"heat_share":                  "%",
	"log_interval":                "s",
	"onset_pack_temp":             "°C",
	"onset_soc":                   "%",
	"pack_minus_ambient":          "K",
	"pack_temp_at_plug_in":        "°C",
	"peak_power":                  "kW",
	"soak_ambient_low":            "°C",
	"soak_ambient_mean":           "°C",
	"soak_hours":                  "h",
	"soc_without_energy":          "%",
	"start_soc":                   "%",
	"thermometer_disagreement":    "K",
	"time_10_80":                  "min",
	"time_10_80_plug_in":          "min",
	"time_20_80":                  "min",
	"warming_rate":                "K/h",
}
