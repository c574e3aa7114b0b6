// Package unit owns the units of the warehouse and the spellings that logs may
// use for them.
//
// Every number past ingest is in the one unit of its channel, and the channel's
// name says which (pack_power_kw). Conversion happens once, at ingest; scaling
// for people happens in reports and nowhere else.
package unit

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"coldbench/warehouse/diag"
)

// A Unit is a unit of the warehouse, written as people read it.
type Unit string

// The units of the warehouse, one a quantity.
const (
	Kilowatt         Unit = "kW"
	KilowattHour     Unit = "kWh"
	Volt             Unit = "V"
	Ampere           Unit = "A"
	Celsius          Unit = "°C"
	Kelvin           Unit = "K" // a difference of temperatures
	Percent          Unit = "%"
	Kilometre        Unit = "km"
	KilometrePerHour Unit = "km/h"
	Second           Unit = "s"
	Hectopascal      Unit = "hPa"
	Millimetre       Unit = "mm"
)

// A Scale turns a value in some spelling's unit into the warehouse's:
// v*Factor + Offset.
type Scale struct {
	Unit           Unit
	Factor, Offset float64
}

// Of converts v.
func (s Scale) Of(v float64) float64 { return v*s.Factor + s.Offset }

// Factors are exact by definition except where a comment says otherwise:
// NIST SP 811 (2008), appendix B.8 (mile 1609.344 m, knot 1852 m/h,
// t/°C = (t/°F - 32)/1.8, kW h 3.6 MJ, Btu_IT 1055.05585262 J,
// inch of mercury 3386.389 Pa, rounded there).
var spellings = map[string]Scale{
	"kw": {Kilowatt, 1, 0}, "w": {Kilowatt, 1e-3, 0}, "hp": {Kilowatt, 0.73549875, 0},
	"kwh": {KilowattHour, 1, 0}, "wh": {KilowattHour, 1e-3, 0}, "mj": {KilowattHour, 1 / 3.6, 0}, "kj": {KilowattHour, 1 / 3600.0, 0},
	"j": {KilowattHour, 1 / 3.6e6, 0}, "ws": {KilowattHour, 1 / 3.6e6, 0}, "btu": {KilowattHour, 1055.05585262 / 3.6e6, 0},
	"v": {Volt, 1, 0}, "mv": {Volt, 1e-3, 0}, "kv": {Volt, 1e3, 0},
	"a": {Ampere, 1, 0}, "ma": {Ampere, 1e-3, 0},
	"°c": {Celsius, 1, 0}, "degc": {Celsius, 1, 0}, "c": {Celsius, 1, 0}, "celsius": {Celsius, 1, 0}, "celcius": {Celsius, 1, 0},
	"°f": {Celsius, 1 / 1.8, -32 / 1.8}, "degf": {Celsius, 1 / 1.8, -32 / 1.8}, "f": {Celsius, 1 / 1.8, -32 / 1.8}, "fahrenheit": {Celsius, 1 / 1.8, -32 / 1.8},
	"kelvin": {Celsius, 1, -273.15},
	"%":      {Percent, 1, 0}, "percent": {Percent, 1, 0}, "pct": {Percent, 1, 0}, "fraction": {Percent, 100, 0},
	"km": {Kilometre, 1, 0}, "m": {Kilometre, 1e-3, 0}, "mi": {Kilometre, 1.609344, 0}, "miles": {Kilometre, 1.609344, 0},
	"km/h": {KilometrePerHour, 1, 0}, "kmh": {KilometrePerHour, 1, 0}, "kph": {KilometrePerHour, 1, 0}, "m/s": {KilometrePerHour, 3.6, 0},
	"mph": {KilometrePerHour, 1.609344, 0}, "mi/h": {KilometrePerHour, 1.609344, 0}, "kn": {KilometrePerHour, 1.852, 0}, "kt": {KilometrePerHour, 1.852, 0},
	"s": {Second, 1, 0}, "ms": {Second, 1e-3, 0}, "us": {Second, 1e-6, 0}, "µs": {Second, 1e-6, 0}, "min": {Second, 60, 0}, "h": {Second, 3600, 0},
	"hpa": {Hectopascal, 1, 0}, "mbar": {Hectopascal, 1, 0}, "pa": {Hectopascal, 1e-2, 0}, "inhg": {Hectopascal, 33.86389, 0},
	"mm": {Millimetre, 1, 0}, "in": {Millimetre, 25.4, 0},
}

// Spellings lists every accepted spelling, lower case, sorted.
func Spellings() []string { return slices.Sorted(maps.Keys(spellings)) }

// Parse finds the scale of a unit as a log spells it, without regard to case
// and spaces. Its error is a *diag.Diagnostic without a position.
//
// Note: no prefix grammar. A table says exactly what is understood, and
// mW and MW differ only in case, which loggers get wrong; neither is taken.
func Parse(spelling string) (Scale, error) {
	key := strings.ToLower(strings.Join(strings.Fields(spelling), ""))
	s, ok := spellings[key]
	if !ok {
		return Scale{}, diag.New(diag.Pos{}, "unknown unit %q", spelling).WithHint("%s", hint(key))
	}
	return s, nil
}

func hint(key string) string {
	if h := diag.DidYouMean(key, Spellings()); h != "" {
		return h
	}
	return "known units: kW, W, kWh, Wh, V, A, °C, °F, %, km, mi, km/h, mph, m/s, s, ms"
}

// Between finds the scale from a log's spelling to the unit want. Its error is
// a *diag.Diagnostic without a position: an unknown spelling, or a unit of
// another quantity.
func Between(spelling string, want Unit) (Scale, error) {
	s, err := Parse(spelling)
	if err != nil {
		return Scale{}, err
	}
	if s.Unit != want {
		return Scale{}, diag.New(diag.Pos{}, "unit %q does not measure %s", spelling, Quantity(want)).
			WithHint("the channel is kept in %s", want)
	}
	return s, nil
}

// Quantity names what a unit measures.
func Quantity(u Unit) string {
	switch u {
	case Kilowatt:
		return "power"
	case KilowattHour:
		return "energy"
	case Volt:
		return "voltage"
	case Ampere:
		return "current"
	case Celsius:
		return "temperature"
	case Kelvin:
		return "a difference of temperatures"
	case Percent:
		return "a percentage"
	case Kilometre:
		return "distance"
	case KilometrePerHour:
		return "speed"
	case Second:
		return "time"
	case Hectopascal:
		return "pressure"
	case Millimetre:
		return "a depth"
	}
	panic(fmt.Sprintf("unit: no quantity for %q", string(u)))
}
