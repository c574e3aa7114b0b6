package infer

import (
	"fmt"

	"coldbench/warehouse/unit"
)

// A guess is what a column may be, by its name.
type guess struct {
	channel    string
	confidence Confidence
	reason     string
	rivals     []string
}

// A setting is what a file's names tell together.
type setting struct {
	car, charger, weather bool
	pack                  bool // car, and by more than a state of charge, which chargers show too
}

// settingOf looks at all names of a file.
func settingOf(all []words) setting {
	var s setting
	soc := false
	for _, w := range all {
		electric := w.any(isPower|isVolt|isAmp|isEnergy) || w.unit == "kW" || w.unit == "W" || w.unit == "kWh" || w.unit == "V" || w.unit == "A"
		switch {
		case w.any(isDew|isWind|isRain) || w.other == "humidity" || w.other == "gust":
			s.weather = true
		case w.any(ofCharger) && electric:
			s.charger = true
		case w.any(isSoC) && !w.any(ofCharger|asInternal|asDisplayed):
			soc = true // chargers show it too
		case w.any(ofPack|ofCell|isSoC) && !w.any(ofCharger), w.any(isOdo | isRange):
			s.car = true
		case w.any(ofHeater|ofCoolant|ofCabin|ofAux) && (electric || w.any(isTemp)):
			s.car = true
		}
	}
	s.pack = s.car
	s.car = s.car || soc && !s.charger
	return s
}

// measured is which quantities a unit measures.
var measured = map[unit.Unit]concept{
	unit.Kilowatt: isPower, unit.KilowattHour: isEnergy, unit.Volt: isVolt, unit.Ampere: isAmp, unit.Celsius: isTemp | isDew,
	unit.Percent: isSoC, unit.Kilometre: isRange | isOdo, unit.KilometrePerHour: isSpeed | isWind, unit.Millimetre: isRain,
}

// quantity finds which quantity a column has, by its name and its unit. why says
// what is wrong where there is none.
func (w words) quantity() (q concept, why string) {
	q = w.set & quantities
	if w.unit == "" {
		return q | w.implied(), ""
	}
	scale, err := unit.Parse(w.unit)
	if err != nil {
		return 0, "its unit is not known"
	}
	m, ok := measured[scale.Unit]
	switch {
	case !ok:
		return 0, fmt.Sprintf("no channel is in %s", w.stated)
	case q&m != 0:
		return q & m, ""
	case q == 0 && scale.Unit == unit.Percent && !w.any(ofPack|asCharge|asLevel|asDisplayed):
		return 0, "a percentage of what, its name does not say"
	case q == 0 && scale.Unit == unit.Celsius:
		return isTemp, ""
	case q == 0 && scale.Unit == unit.Kilometre && w.any(asRegister):
		return isOdo, ""
	case q == 0 && (scale.Unit == unit.Kilometre || scale.Unit == unit.KilometrePerHour) && !w.any(asRate):
		return 0, "a distance or speed of what, its name does not say"
	case q == 0:
		return m, ""
	case scale.Unit == unit.KilometrePerHour && w.any(asRate):
		return isSpeed, ""
	case q == isSpeed && scale.Unit == unit.Kilowatt && w.any(asCharge): // "charging speed (kW)"
		return isPower, ""
	case q == isWind && scale.Unit == unit.Celsius:
		return 0, "a temperature of the wind is no channel"
	}
	return 0, fmt.Sprintf("its name and its unit, %s, measure different things", w.stated)
}

// implied is the quantity of a name that only tells a place, such as "Outside" or
// "coldest cell".
func (w words) implied() concept {
	switch {
	case w.any(quantities):
		return 0
	case w.any(ofAmbient|ofCabin|ofCoolant) && !w.any(places&^(ofAmbient|ofCabin|ofCoolant|ofAir|ofStation)) && !w.any(asCharge|asLimit|isTime):
		return isTemp
	case w.any(ofPack|ofCell) && w.any(asMin|asMax) && !w.any(ofHeater|asCharge|asLimit|asRate):
		return isTemp
	case w.any(ofPack) && w.any(asLevel), w.any(asCharge) && w.any(asLevel|asDisplayed) && !w.any(asRate):
		return isSoC
	}
	return 0
}

func none(format string, args ...any) guess { return guess{reason: fmt.Sprintf(format, args...)} }

// byName guesses the channel of a name, in a file's setting.
func byName(w words, s setting) guess {
	if w.other != "" {
		return none("%q names what no channel holds", w.other)
	}
	if w.noUnit != "" {
		return none("no channel is in %s", w.noUnit)
	}
	q, why := w.quantity()
	if why != "" {
		return none("%s", why)
	}
	if w.any(ofStation) && q&(isPower|isVolt|isAmp|isEnergy|isSoC) != 0 {
		w.set |= ofCharger
	}
	var g guess
	switch {
	case w.any(isTime) && q == 0:
		return none("it names a time")
	case q&isSoC != 0:
		g = socByName(w, s)
	case (w.any(asRate) || w.any(asCharge)) && q&(isSpeed|isRange) != 0 && w.any(asRate|isSpeed):
		g = guess{"shown_rate_km_h", High, "range gained in a time", nil}
	case q&isDew != 0:
		g = guess{"dew_point_c", High, "its name says so", nil}
	case q&isTemp != 0:
		g = tempByName(w, s)
	case q&isWind != 0:
		g = guess{"wind_km_h", High, "its name says so", nil}
	case q&isRain != 0:
		g = guess{"precipitation_mm", High, "its name says so", nil}
	case q&isPower != 0:
		g = powerByName(w, s)
	case q&isEnergy != 0:
		g = energyByName(w, s)
	case q&isVolt != 0:
		g = voltsByName(w, s)
	case q&isAmp != 0:
		g = ampsByName(w, s)
	case q&isOdo != 0 && q&isRange == 0:
		g = guess{"odometer_km", High, "its name says so", nil}
	case q&isRange != 0:
		g = guess{"range_km", High, "its name says so", nil}
	case q&isSpeed != 0:
		if w.any(ofMotor | ofAir | ofCoolant | ofHeater) {
			return none("the speed of a part, not of the car")
		}
		g = guess{"speed_km_h", High, "its name says so", nil}
	default:
		return none("its name says nothing of what it measures")
	}
	if g.channel != "" && w.unit == "" && w.implied() != 0 {
		g.confidence = min(g.confidence, Fair)
		g.reason += "; what is measured there its name does not say, and this is usual"
	}
	if g.channel != "" && len(w.unknown) > 0 && g.confidence == High {
		g.confidence = Fair
		g.reason += fmt.Sprintf("; %q is not understood", w.unknown)
	}
	return g
}

func socByName(w words, s setting) guess {
	switch {
	case w.any(asRemaining):
		return none("what is left of a charge is not its state")
	case w.any(ofCharger):
		return guess{"soc_charger_pct", High, "a state of charge, of the charger", nil}
	case w.any(asDisplayed):
		return guess{"soc_pct", High, "a state of charge, as displayed", nil}
	case w.any(asMin | asMax | asMean | ofCell | asLimit):
		return none("a state of charge of cells, or a limit")
	case w.any(asInternal):
		return guess{"soc_bms_pct", High, "a state of charge, inside the battery management", nil}
	case s.charger && !s.car:
		return guess{"soc_charger_pct", Fair, "a state of charge, in a charger's log", []string{"soc_pct"}}
	}
	return guess{"soc_pct", Fair, "a state of charge; no word says whether displayed or inside, and displayed is usual", []string{"soc_bms_pct"}}
}

func tempByName(w words, s setting) guess {
	extreme := w.set & (asMin | asMax | asMean)
	ofBattery := map[concept]string{asMin: "pack_temp_min_c", asMax: "pack_temp_max_c", asMean: "pack_temp_mean_c"}
	switch {
	case w.any(ofMotor | asLimit | ofAux | ofGrid):
		return none("a temperature of a part that has no channel")
	case w.any(ofCoolant):
		if w.any(asOut) {
			return none("the channel is the coolant at the pack's inlet")
		}
		return guess{"coolant_temp_c", High, "a temperature of the coolant", nil}
	case w.any(ofCabin) && !w.any(ofAmbient): // "climate.outside" is outside
		return guess{"cabin_temp_c", High, "a temperature of the cabin", nil}
	case w.any(ofPack | ofCell):
		if w.any(ofHeater | ofAmbient) {
			return none("a temperature of a part of the pack that has no channel")
		}
		if channel, ok := ofBattery[extreme]; ok {
			return guess{channel, High, "a temperature of the pack", nil}
		}
		if extreme != 0 {
			return none("its name says both coldest and hottest")
		}
		if w.numbered {
			return none("one sensor of several; channels hold the coldest, the hottest and the mean")
		}
		return guess{"pack_temp_mean_c", Fair, "a temperature of the pack; no word says coldest, hottest or mean", []string{"pack_temp_min_c", "pack_temp_max_c"}}
	case w.any(ofHeater):
		return none("a temperature of a heater has no channel")
	case w.any(ofCharger):
		return guess{"charger_temp_c", High, "a temperature of the charger or its connector", nil}
	case w.any(ofAmbient|ofAir|ofStation|ofHandheld) && extreme != 0:
		return none("an extreme of the air over a period, not the air now")
	case w.any(ofHandheld) && w.any(ofAmbient|ofAir):
		return guess{"ambient_handheld_c", High, "outside air, by hand", nil}
	case w.any(ofStation):
		return guess{"ambient_station_c", High, "a temperature of a weather station", nil}
	case w.any(ofAmbient | ofAir):
		return airByName(w, s)
	case w.any(ofHandheld):
		return none("a probe, but where it is its name does not say")
	case ofBattery[extreme] != "" && s.car && !w.numbered:
		return guess{ofBattery[extreme], Fair, "a coldest, hottest or mean temperature in a car's log is most often the pack's", nil}
	case extreme != 0 || w.numbered:
		return none("a temperature of what, its name does not say")
	case s.weather && !s.car:
		return guess{"ambient_station_c", Fair, "a temperature, in a log of the weather", nil}
	}
	return guess{"ambient_car_c", Low, "a temperature of what, its name does not say", []string{"pack_temp_mean_c", "cabin_temp_c", "ambient_handheld_c"}}
}

func airByName(w words, s setting) guess {
	sure := High
	if !w.any(ofAmbient) {
		sure = Fair
	}
	switch {
	case s.weather && !s.car:
		return guess{"ambient_station_c", sure, "outside air, in a log of the weather", nil}
	case s.car && !s.weather:
		return guess{"ambient_car_c", sure, "outside air, in a car's log", nil}
	}
	return guess{"ambient_car_c", Low, "outside air, but by whose thermometer neither its name nor the other columns say", []string{"ambient_station_c", "ambient_handheld_c"}}
}

// atPackOrCharger guesses the place of an electric quantity whose name has none,
// by the file's setting.
func atPackOrCharger(s setting, what, pack, charger string) guess {
	switch {
	case s.pack && !s.charger:
		return guess{pack, Fair, what + " without a place, in a log that has the pack's values and none of a charger", []string{charger}}
	case s.charger && !s.car:
		return guess{charger, Fair, what + " without a place, in a charger's log", []string{pack}}
	}
	return guess{pack, Low, what + " of the pack or of the charger, its name does not say", []string{charger}}
}

func powerByName(w words, s setting) guess {
	limit := w.any(asLimit) || w.any(asMax) && w.any(asCharge)
	switch {
	case w.any(ofMotor | ofCoolant | ofAir | ofAmbient | ofCell):
		return none("a power of a part that has no channel")
	case limit && w.any(ofHeater|ofCabin|ofAux|ofGrid):
		return none("a limit of a part that has no channel")
	case limit && w.any(ofCharger):
		return guess{"charger_limit_kw", High, "a limit of the charger", nil}
	case limit && w.any(ofPack):
		return guess{"pack_limit_kw", High, "a limit of the pack", nil}
	case limit && w.any(asCharge) && s.charger && !s.car:
		return guess{"charger_limit_kw", Fair, "a limit of the charge, in a charger's log", []string{"pack_limit_kw"}}
	case limit && w.any(asCharge):
		return guess{"pack_limit_kw", Fair, "a limit of the charge, in a car's log", []string{"charger_limit_kw"}}
	case limit:
		g := atPackOrCharger(s, "a limit of power", "pack_limit_kw", "charger_limit_kw")
		return g
	case w.any(asMax) && w.any(ofCharger):
		return guess{"charger_limit_kw", Fair, "the most that the charger gives", nil}
	case w.any(asMax | asMin | asMean):
		return none("a power over a period, not the power now")
	case w.any(ofHeater) && w.any(ofCabin):
		return guess{"cabin_heater_power_kw", High, "a power of the cabin's heater", nil}
	case w.any(ofHeater) && w.any(ofPack):
		return guess{"heater_power_kw", High, "a power of the pack's heater", nil}
	case w.any(ofCabin):
		return guess{"cabin_heater_power_kw", Fair, "a power of the cabin's climate", nil}
	case w.any(ofHeater):
		return guess{"heater_power_kw", Fair, "a power of a heater; no word says the cabin's", []string{"cabin_heater_power_kw"}}
	case w.any(ofAux):
		return guess{"accessory_power_kw", High, "a power of the accessories", nil}
	case w.any(ofGrid):
		return guess{"grid_power_kw", High, "a power from the grid", nil}
	case w.any(asDisplayed) && !w.any(ofCharger):
		return guess{"shown_power_kw", High, "a power that the car displays", nil}
	case w.any(ofPack) && w.any(ofCharger):
		return guess{"pack_power_kw", Low, "a power of the pack or of the charger, its name says both", []string{"charger_power_kw"}}
	case w.any(ofCharger) && w.any(asOut):
		return guess{"charger_power_kw", Fair, "a power put out, as a charger does", nil}
	case w.any(ofCharger):
		return guess{"charger_power_kw", High, "a power of the charger", nil}
	case w.any(ofPack):
		return guess{"pack_power_kw", High, "a power of the pack", nil}
	case w.any(asRemaining):
		return guess{"accessory_power_kw", Low, "a power of all that is left", nil}
	case w.any(asCharge) && s.charger && !s.car:
		return guess{"charger_power_kw", Fair, "a power of the charge, in a charger's log", nil}
	case w.any(asCharge):
		return guess{"pack_power_kw", Low, "a power of the charge: into the pack, from the charger or only displayed, its name does not say", []string{"charger_power_kw", "shown_power_kw"}}
	}
	return atPackOrCharger(s, "a power", "pack_power_kw", "charger_power_kw")
}

func energyByName(w words, s setting) guess {
	switch {
	case w.any(asRemaining | asLimit | asMax | asMin | ofCell):
		return none("not a register of energy that counts up")
	case w.any(ofHeater | ofCabin | ofAux | ofMotor | ofCoolant):
		return none("an energy of a part that has no channel")
	case w.any(ofGrid):
		return guess{"grid_energy_kwh", High, "a register of energy from the grid", nil}
	case w.any(ofCharger):
		return guess{"charger_energy_kwh", High, "a register of energy from the charger", nil}
	case w.any(ofPack) && w.any(asCharge|asRegister):
		return guess{"pack_energy_kwh", High, "a register of energy into the pack", nil}
	case w.any(ofPack):
		return guess{"pack_energy_kwh", Fair, "an energy of the pack that counts up", nil}
	case s.charger && !s.car:
		return guess{"charger_energy_kwh", Fair, "a register of energy, in a charger's log", nil}
	}
	return guess{"pack_energy_kwh", Low, "an energy into the pack or from the charger, its name does not say", []string{"charger_energy_kwh", "grid_energy_kwh"}}
}

func voltsByName(w words, s setting) guess {
	switch {
	case w.any(ofCell | ofAux | ofMotor | ofHeater | ofGrid | ofCabin | ofCoolant | asLimit | asMax | asMin | asLow):
		return none("a voltage of a part that has no channel, or a limit")
	case w.any(ofCharger):
		return guess{"charger_voltage_v", High, "a voltage of the charger", nil}
	case w.any(ofPack):
		return guess{"pack_voltage_v", High, "a voltage of the pack", nil}
	}
	return atPackOrCharger(s, "a voltage", "pack_voltage_v", "charger_voltage_v")
}

func ampsByName(w words, s setting) guess {
	switch {
	case w.any(asLimit) && w.any(ofCharger):
		return guess{"charger_limit_a", High, "a limit of the charger", nil}
	case w.any(asMax) && w.any(ofCharger):
		return guess{"charger_limit_a", Fair, "the most that the charger gives", nil}
	case w.any(ofCell | ofAux | ofMotor | ofHeater | ofGrid | ofCabin | ofCoolant | asLimit | asMax | asMin):
		return none("a current of a part that has no channel, or a limit")
	case w.any(ofPack):
		return guess{"pack_current_a", High, "a current of the pack", nil}
	case w.any(ofCharger):
		return guess{"charger_current_a", High, "a current of the charger", nil}
	}
	return atPackOrCharger(s, "a current", "pack_current_a", "charger_current_a")
}
