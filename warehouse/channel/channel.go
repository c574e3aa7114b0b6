// Package channel is the catalogue of channels: every physical quantity that a
// log may carry, with its one unit, the range of what is possible, and how far
// a value may be trusted in time. The reading table's columns and the schema
// of Arrow batches both come from it.
//
// It reads no logs and knows no database; it only describes.
package channel

import (
	"fmt"
	"math"
	"strings"

	"github.com/apache/arrow/go/v17/arrow"

	"coldbench/warehouse/diag"
	"coldbench/warehouse/unit"
)

// A Channel is one physical quantity at one place.
type Channel struct {
	Name     string    // column name; ends in the unit
	Unit     unit.Unit // of every value past ingest
	Min, Max float64   // what is possible; a value outside is set aside
	HoldS    float64   // seconds for which a value may stand for the present
	URel     float64   // standard uncertainty of a typical instrument, relative
	UAbs     float64   // the same, absolute, in Unit; both are combined
	Doc      string    // one line, for people
}

// Typical instrument uncertainties are common practice, no source; a profile
// states better ones. Ranges are what a road car, a charger or the weather can
// do, with room to spare.
var catalogue = []Channel{
	{"ambient_car_c", unit.Celsius, -60, 60, 900, 0, 1.0, "outside air by the car's own sensor"},
	{"ambient_station_c", unit.Celsius, -90, 60, 5400, 0, 0.5, "outside air by a weather station"},
	{"ambient_handheld_c", unit.Celsius, -60, 60, 3600, 0, 0.5, "outside air by a thermometer beside the car"},
	{"dew_point_c", unit.Celsius, -95, 40, 5400, 0, 0.5, "dew point by a weather station"},
	{"wind_km_h", unit.KilometrePerHour, 0, 400, 5400, 0.05, 1, "wind speed by a weather station"},
	{"precipitation_mm", unit.Millimetre, 0, 500, 5400, 0.1, 0.2, "precipitation in the reporting period"},

	{"soc_pct", unit.Percent, 0, 100, 600, 0, 0, "state of charge that the car displays"},
	{"soc_bms_pct", unit.Percent, 0, 100, 600, 0, 0, "state of charge inside the battery management, not displayed"},
	{"soc_charger_pct", unit.Percent, 0, 100, 600, 0, 0, "state of charge that the car tells the charger"},
	{"range_km", unit.Kilometre, 0, 2000, 600, 0, 0, "range that the car displays"},
	{"shown_rate_km_h", unit.KilometrePerHour, 0, 3000, 120, 0, 0, "charge rate that the car displays, in range per hour"},
	{"shown_power_kw", unit.Kilowatt, 0, 1000, 120, 0, 0, "charging power that the car displays"},

	{"pack_power_kw", unit.Kilowatt, -1500, 1000, 60, 0.01, 0, "power into the pack at its terminals; negative while driving"},
	{"pack_voltage_v", unit.Volt, 0, 1500, 60, 0.005, 0, "pack voltage"},
	{"pack_current_a", unit.Ampere, -3000, 2000, 60, 0.01, 0, "current into the pack; negative while driving"},
	{"pack_energy_kwh", unit.KilowattHour, 0, 1e6, 60, 0.01, 0, "register of energy into the pack, counting up"},
	{"pack_temp_min_c", unit.Celsius, -60, 90, 120, 0, 0.5, "coldest pack sensor"},
	{"pack_temp_max_c", unit.Celsius, -60, 90, 120, 0, 0.5, "hottest pack sensor"},
	{"pack_temp_mean_c", unit.Celsius, -60, 90, 120, 0, 0.5, "mean of the pack's sensors"},
	{"pack_limit_kw", unit.Kilowatt, 0, 1000, 60, 0.01, 0, "charging power that the car allows"},

	{"charger_power_kw", unit.Kilowatt, -50, 1000, 60, 0.01, 0, "power from the charger into the car at the inlet"},
	{"charger_voltage_v", unit.Volt, 0, 1500, 60, 0.005, 0, "voltage at the charger's outlet"},
	{"charger_current_a", unit.Ampere, -100, 2000, 60, 0.01, 0, "current from the charger into the car"},
	{"charger_energy_kwh", unit.KilowattHour, 0, 1e7, 60, 0.01, 0, "register of energy from the charger into the car, counting up"},
	{"charger_limit_kw", unit.Kilowatt, 0, 1000, 120, 0, 0, "power that the charger offers"},
	{"charger_limit_a", unit.Ampere, 0, 2000, 120, 0, 0, "current that the charger offers"},
	{"charger_temp_c", unit.Celsius, -60, 150, 600, 0, 2, "temperature inside the charger, its cable or its connector"},
	{"grid_power_kw", unit.Kilowatt, 0, 2000, 60, 0.01, 0, "power from the grid into the charger"},
	{"grid_energy_kwh", unit.KilowattHour, 0, 1e7, 60, 0.01, 0, "register of energy from the grid into the charger"},

	{"heater_power_kw", unit.Kilowatt, 0, 50, 60, 0.02, 0, "power of the pack's heater"},
	{"cabin_heater_power_kw", unit.Kilowatt, 0, 30, 60, 0.02, 0, "power of the cabin's heater"},
	{"accessory_power_kw", unit.Kilowatt, 0, 30, 60, 0.02, 0, "power of everything else: pumps, fans, the 12 V system"},
	{"coolant_temp_c", unit.Celsius, -60, 130, 120, 0, 1, "coolant at the pack's inlet"},
	{"cabin_temp_c", unit.Celsius, -60, 90, 120, 0, 1, "cabin air at the stated probe"},

	{"speed_km_h", unit.KilometrePerHour, 0, 400, 10, 0.01, 0, "road speed"},
	{"odometer_km", unit.Kilometre, 0, 5e6, 600, 0, 0, "odometer"},
}

var byName = func() map[string]Channel {
	m := make(map[string]Channel, len(catalogue))
	for _, c := range catalogue {
		m[c.Name] = c
	}
	return m
}()

// All returns the catalogue in its fixed order. The caller owns the slice.
func All() []Channel { return append([]Channel(nil), catalogue...) }

// Names returns the names of all channels in the catalogue's order.
func Names() []string {
	names := make([]string, len(catalogue))
	for i, c := range catalogue {
		names[i] = c.Name
	}
	return names
}

// Find looks a channel up. Its error is a *diag.Diagnostic without a position.
func Find(name string) (Channel, error) {
	c, ok := byName[name]
	if !ok {
		h := diag.DidYouMean(name, Names())
		if h == "" {
			h = "`coldbench channels` lists them"
		}
		return Channel{}, diag.New(diag.Pos{}, "unknown channel %q", name).WithHint("%s", h)
	}
	return c, nil
}

// Possible reports whether v, in the channel's unit, is a number that the
// channel can hold.
func (c Channel) Possible(v float64) bool {
	return !math.IsNaN(v) && v >= c.Min && v <= c.Max
}

// Columns is the channel part of the reading table's DDL: one "name double"
// a channel, each on a line of its own.
func Columns() string {
	var b strings.Builder
	for _, c := range catalogue {
		fmt.Fprintf(&b, ",\n    %s double", c.Name)
	}
	return b.String()
}

// The columns of a batch that are not channels.
const (
	LineColumn = "line" // int64: 1-based line, row or record in the source
	AtColumn   = "at"   // timestamp in µs, UTC
)

// Schema is the schema of a batch that carries the given channels, in their
// order: line, at, then a nullable float64 a channel.
func Schema(channels []Channel) *arrow.Schema {
	fields := make([]arrow.Field, 0, 2+len(channels))
	fields = append(fields,
		arrow.Field{Name: LineColumn, Type: arrow.PrimitiveTypes.Int64},
		arrow.Field{Name: AtColumn, Type: &arrow.TimestampType{Unit: arrow.Microsecond, TimeZone: "UTC"}},
	)
	for _, c := range channels {
		fields = append(fields, arrow.Field{Name: c.Name, Type: arrow.PrimitiveTypes.Float64, Nullable: true})
	}
	return arrow.NewSchema(fields, nil)
}
