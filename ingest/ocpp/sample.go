package ocpp

import (
	"bytes"
	"encoding/json"
	"math"
	"strconv"
	"strings"

	"coldbench/warehouse/channel"
	"coldbench/warehouse/diag"
	"coldbench/warehouse/unit"
)

// The channels of a charger's messages, in the order of channelNames.
const (
	powerKW = iota
	energyKWh
	voltageV
	currentA
	limitKW
	limitA
	gridKW
	gridKWh
	socPct
	temperatureC
	channelCount
)

var channelNames = [channelCount]string{"charger_power_kw", "charger_energy_kwh", "charger_voltage_v", "charger_current_a",
	"charger_limit_kw", "charger_limit_a", "grid_power_kw", "grid_energy_kwh", "soc_charger_pct", "charger_temp_c"}

// A place is where a value was sampled, as far as channels tell them apart.
type place int

const (
	carSide  place = iota // Outlet, the default, else Cable, else EV, else Body
	gridSide              // Inlet
	inside                // Body, of temperatures
	places
)

var locations = map[string]struct {
	place place
	rank  int // of two at one place the lower counts
}{
	"": {carSide, 0}, "Outlet": {carSide, 0}, "Cable": {carSide, 1}, "EV": {carSide, 2}, "Body": {carSide, 3}, "Inlet": {gridSide, 0},
}

// where finds the place of a value. Small chargers say Body of all that they
// measure; only a temperature is then of something else than the outlet.
func where(location string, q quantity) (p place, rank int, known bool) {
	l, known := locations[location]
	if location == "Body" && q == temperature {
		return inside, 0, known
	}
	return l.place, l.rank, known
}

// A quantity is what a measurand measures. Reactive and apparent power, power
// factor, frequency, fans and exported energy are not read.
type quantity int

const (
	powerImport quantity = iota
	powerExport
	powerOffered
	currentImport
	currentExport
	currentOffered
	voltage
	register
	interval
	soc
	temperature
	quantities
)

var measurands = map[string]struct {
	quantity quantity
	unit     unit.Unit
	assumed  string // where the message states none
}{
	"Power.Active.Import":           {powerImport, unit.Kilowatt, "W"},
	"Power.Active.Export":           {powerExport, unit.Kilowatt, "W"},
	"Power.Offered":                 {powerOffered, unit.Kilowatt, "W"},
	"Current.Import":                {currentImport, unit.Ampere, "A"},
	"Current.Export":                {currentExport, unit.Ampere, "A"},
	"Current.Offered":               {currentOffered, unit.Ampere, "A"},
	"Voltage":                       {voltage, unit.Volt, "V"},
	"Energy.Active.Import.Register": {register, unit.KilowattHour, "Wh"},
	"Energy.Active.Import.Interval": {interval, unit.KilowattHour, "Wh"},
	"SoC":                           {soc, unit.Percent, "Percent"},
	"Temperature":                   {temperature, unit.Celsius, "Celsius"},
}

const defaultMeasurand = "Energy.Active.Import.Register" // both versions

// A cell gathers one quantity at one place: an overall value, or phases.
type cell struct {
	rank                int
	overall             float64
	phase               [3]float64 // to neutral, or of a phase
	between             [3]float64 // of two phases
	context             string
	measurand, location string
	unit                string
	step                float64 // smallest, in the channel's unit
}

var emptyCell = cell{rank: math.MaxInt, overall: math.NaN(), phase: nan3, between: nan3, step: math.Inf(1)}

var nan3 = [3]float64{math.NaN(), math.NaN(), math.NaN()}

var phases = map[string]int{"L1": 0, "L2": 1, "L3": 2, "L1-N": 0, "L2-N": 1, "L3-N": 2}

var pairs = map[string]int{"L1-L2": 0, "L2-L3": 1, "L3-L1": 2}

// A sampling is all that was sampled at one moment.
type sampling [quantities][places]cell

// sample reads the values of one moment.
func sample(values []sampledValue) (*sampling, *diag.Diagnostic) {
	s := new(sampling)
	for q := range s {
		for p := range s[q] {
			s[q][p] = emptyCell
		}
	}
	for i := range values {
		if d := s.add(&values[i]); d != nil {
			return nil, d
		}
	}
	return s, nil
}

func (s *sampling) add(v *sampledValue) *diag.Diagnostic {
	name := v.Measurand
	if name == "" {
		name = v.Mesurand
	}
	if name == "" {
		name = defaultMeasurand
	}
	m, used := measurands[name]
	at, rank, known := where(v.Location, m.quantity)
	if !used || !known || v.Format == "SignedData" {
		return nil
	}
	spelled := v.Unit
	if spelled == "" {
		spelled = v.UnitOfMeasure.Unit
	}
	if spelled == "" || spelled == "Wh" && m.unit != unit.KilowattHour && v.UnitOfMeasure.Unit == "Wh" {
		spelled = m.assumed // a default that is written out is still one
	}
	if spelled == "K" {
		spelled = "kelvin" // a temperature here, not a difference
	}
	scale, err := unit.Between(spelled, m.unit)
	if err != nil {
		d := diag.At(err, diag.Pos{})
		d.Msg = name + ": " + d.Msg
		if v.Measurand == "" && v.Mesurand == "" {
			d.Hint = "the message leaves the measurand out, which stands for " + defaultMeasurand
		}
		return d
	}
	number, step, ok := decimal(v.Value)
	mult := v.UnitOfMeasure.Multiplier
	if !ok || mult < -30 || mult > 30 {
		return diag.New(diag.Pos{}, "%s: %s is not a number", name, brief(v.Value))
	}
	c := &s[m.quantity][at]
	if rank > c.rank {
		return nil
	}
	if rank < c.rank {
		*c = emptyCell
		c.rank, c.measurand, c.location = rank, name, v.Location
	}
	power := math.Pow10(mult)
	x := scale.Of(number * power)
	switch i, isPhase := phases[v.Phase]; {
	case v.Phase == "":
		c.overall = x
	case isPhase:
		c.phase[i] = x
	default:
		i, isPair := pairs[v.Phase]
		if !isPair {
			return nil // the neutral
		}
		c.between[i] = x
	}
	c.unit, c.context = spelled, v.Context
	c.step = min(c.step, step*power*math.Abs(scale.Factor))
	return nil
}

// toGrid moves what the meter of the whole charger sampled to the grid's side.
func (s *sampling) toGrid() {
	for q := range s {
		if s[q][gridSide].rank == emptyCell.rank {
			s[q][gridSide] = s[q][carSide]
		}
		s[q][carSide] = emptyCell
	}
}

// total is a cell's value: the overall one, else the sum of the phases.
func (c *cell) total() float64 {
	if !math.IsNaN(c.overall) {
		return c.overall
	}
	v, _ := sum(c.phase)
	return v
}

// mean is a voltage: the overall one, else the mean from phase to neutral, so
// that it and the sum of the phases' currents make the power. A phase without
// voltage is one that is not connected.
func (c *cell) mean() float64 {
	if !math.IsNaN(c.overall) {
		return c.overall
	}
	if v, n := sum(connected(c.phase)); n > 0 {
		return v / float64(n)
	}
	if v, n := sum(connected(c.between)); n > 0 {
		return v / float64(n) / math.Sqrt(3)
	}
	return c.total() // 0, or none
}

func connected(v [3]float64) [3]float64 {
	for i := range v {
		if v[i] == 0 {
			v[i] = math.NaN()
		}
	}
	return v
}

// sum adds up the numbers among v, NaN if there are none.
func sum(v [3]float64) (total float64, n int) {
	for _, x := range v {
		if !math.IsNaN(x) {
			total += x
			n++
		}
	}
	if n == 0 {
		return math.NaN(), 0
	}
	return total, n
}

// A target says which cell a channel is read from, and how.
var targets = []struct {
	channel int
	of      func(*sampling) (float64, *cell)
}{
	{powerKW, net(powerImport, powerExport, carSide)},
	{currentA, net(currentImport, currentExport, carSide)},
	{gridKW, net(powerImport, powerExport, gridSide)},
	{energyKWh, one(register, carSide)},
	{gridKWh, one(register, gridSide)},
	{limitKW, one(powerOffered, carSide, gridSide)},
	{limitA, one(currentOffered, carSide, gridSide)},
	{socPct, one(soc, carSide, gridSide)},
	{temperatureC, chargerTemperature},
	{voltageV, func(s *sampling) (float64, *cell) { c := &s[voltage][carSide]; return c.mean(), c }},
}

func one(q quantity, from ...place) func(*sampling) (float64, *cell) {
	return func(s *sampling) (float64, *cell) {
		for _, p := range from {
			if c := &s[q][p]; !math.IsNaN(c.total()) {
				return c.total(), c
			}
		}
		return math.NaN(), nil
	}
}

// net is import less export. An export of 0 alone says nothing of the import.
func net(in, out quantity, p place) func(*sampling) (float64, *cell) {
	return func(s *sampling) (float64, *cell) {
		i, o := s[in][p].total(), s[out][p].total()
		switch {
		case !math.IsNaN(i) && !math.IsNaN(o):
			return i - o, &s[in][p]
		case o > 0:
			return -o, &s[out][p]
		}
		return i, &s[in][p]
	}
}

// chargerTemperature is that of the outlet or cable, else of the body. What a
// charger calls the temperature of the EV is none of the charger.
func chargerTemperature(s *sampling) (float64, *cell) {
	for _, p := range []place{carSide, inside, gridSide} {
		if c := &s[temperature][p]; c.location != "EV" && !math.IsNaN(c.total()) {
			return c.total(), c
		}
	}
	return math.NaN(), nil
}

// values are the channels' values of a sampling, NaN for none. used, if not
// nil, is told the cell of each.
func (s *sampling) values(channels []channel.Channel, used func(int, *cell)) ([channelCount]float64, *diag.Diagnostic) {
	vals := none
	for _, t := range targets {
		v, c := t.of(s)
		if math.IsNaN(v) {
			continue
		}
		if ch := channels[t.channel]; !ch.Possible(v) {
			return none, diag.New(diag.Pos{}, "%.6g %s is outside what %s can be, %g to %g %s", v, ch.Unit, ch.Name, ch.Min, ch.Max, ch.Unit)
		}
		vals[t.channel] = v
		used(t.channel, c)
	}
	return vals, nil
}

var none = func() (v [channelCount]float64) {
	for i := range v {
		v[i] = math.NaN()
	}
	return v
}()

// decimal reads a JSON number, or a string that holds one, and its last decimal.
func decimal(raw json.RawMessage) (v, step float64, ok bool) {
	s := string(bytes.TrimSpace(raw))
	if strings.HasPrefix(s, "\"") {
		if json.Unmarshal(raw, &s) != nil {
			return 0, 0, false
		}
		s = strings.TrimSpace(s)
	}
	if strings.Trim(s, "0123456789+-.eE") != "" {
		return 0, 0, false // hexadecimals, NaN, Inf and underscores
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsInf(v, 0) {
		return 0, 0, false
	}
	mantissa, exponent, _ := strings.Cut(strings.ToLower(s), "e")
	_, frac, _ := strings.Cut(mantissa, ".")
	e, _ := strconv.Atoi(exponent)
	return v, math.Pow10(e - len(frac)), true
}

// brief is a JSON text, cut for a message.
func brief(raw json.RawMessage) string {
	const most = 60
	switch {
	case len(raw) == 0:
		return "nothing"
	case len(raw) > most:
		return string(raw[:most]) + "..."
	}
	return string(raw)
}
