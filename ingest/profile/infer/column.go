package infer

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"coldbench/warehouse/channel"
	"coldbench/warehouse/unit"
)

// name proposes a channel and unit for every column, by its name, and holds it
// against the values.
func (p *Proposal) name(t *table) {
	s := settingOf(t.words)
	for i, name := range t.names {
		c := Column{Name: name, Values: t.cols[i].described()}
		switch {
		case i == t.clockCol || i == t.dateCol:
			c.Clock, c.Confidence, c.Reason = true, p.Clock.Confidence, "the clock"
		case i < t.signals:
			c.Reason = p.notSignal()
		case name == "":
			c.Reason = "it has no name, and a profile maps by name"
		case slices.Contains(t.names[:i], name) || slices.Contains(t.names[i+1:], name):
			c.Reason = "its name stands twice, and a profile cannot tell which is meant"
		case withUnit.MatchString(t.cols[i].first()):
			c.Reason = "its values have their unit behind them"
			p.ask("column %q holds values with their unit, such as %q, which are not read as numbers: can the logger write the unit in the header instead?", name, t.cols[i].first())
		case t.cols[i].filled > 0 && !t.cols[i].numeric():
			c.Reason = "it holds texts"
		case p.Profile.HeaderRow == 0 && p.Kind == "delimited" && t.signals == 0:
			c.Reason = "the file gives it no name"
		default:
			g := byName(t.words[i], s)
			c.Channel, c.Confidence, c.Reason, c.Rivals = g.channel, g.confidence, g.reason, g.rivals
			if c.Channel != "" {
				t.settleUnit(&c, i)
			}
		}
		p.Columns = append(p.Columns, c)
	}
}

// described tells what values a column has.
func (c *column) described() string {
	none := len(c.text) - c.filled
	var parts []string
	switch {
	case c.filled == 0:
		return "nothing"
	case c.numeric() && c.constant():
		parts = append(parts, "always "+format(c.lo))
	case c.numeric():
		parts = append(parts, format(c.lo)+".."+format(c.hi))
	default:
		s := c.first()
		if len(s) > 24 {
			s = strings.ToValidUTF8(s[:24], "") + "..."
		}
		parts = append(parts, fmt.Sprintf("texts, such as %q", s))
	}
	if none > 0 {
		parts = append(parts, fmt.Sprintf("%d none", none))
	}
	return strings.Join(parts, ", ")
}

// settleUnit states a column's unit, by its name or else by its values, and
// drops the channel where the values cannot be of it.
func (t *table) settleUnit(c *Column, i int) {
	ch, err := channel.Find(c.Channel)
	if err != nil {
		c.Channel, c.Confidence, c.Reason = "", None, err.Error()
		return
	}
	w, col := t.words[i], t.cols[i].without(full)
	if c.Unit = w.unit; c.Unit != "" {
		if _, err := unit.Between(c.Unit, ch.Unit); err != nil {
			c.drop("its unit, %s, is none of %s", w.stated, c.Channel)
			return
		}
		c.Reason += fmt.Sprintf("; in %s, as its name or the row of units says", w.stated)
	} else {
		g := t.unitByValues(ch, col, w)
		if g.unit == "" {
			c.drop("its values, %s, are of no unit of %s", col.described(), c.Channel)
			return
		}
		c.Unit = g.unit
		c.Confidence = min(c.Confidence, g.confidence)
		c.Reason += "; " + g.reason
	}
	if col.numbers == 0 {
		c.Reason += "; it holds no value that could bear it out"
		return
	}
	if share := col.possible(ch, c.Unit); share < 0.9 {
		c.drop("%.0f %% of its values, %s, are outside what %s can be in %s", 100*(1-share), col.described(), c.Channel, c.Unit)
		return
	}
	t.doubt(c, ch, col, w)
}

// drop takes the channel off a column.
func (c *Column) drop(format string, args ...any) {
	c.Channel, c.Unit, c.Confidence, c.Rivals = "", "", None, nil
	c.Reason = fmt.Sprintf(format, args...)
}

// doubt lowers the confidence, or drops the channel, where the values are possible
// and yet not those of such a channel.
func (t *table) doubt(c *Column, ch channel.Channel, col column, w words) {
	scale, err := unit.Between(c.Unit, ch.Unit)
	if err != nil {
		return
	}
	hi := max(scale.Of(col.lo), scale.Of(col.hi))
	moves := col.rises + col.falls
	switch {
	case strings.HasSuffix(c.Channel, "_voltage_v") && hi < 60 && hi > 0:
		c.drop("at most %s V: the 12 V system's or a cell's, not the pack's", format(hi))
	case strings.HasSuffix(c.Channel, "_energy_kwh") && col.falls > 0 && col.falls*20 > moves:
		c.drop("it falls as well as rises, so it is no register that counts up")
	case strings.HasPrefix(c.Channel, "soc_") && c.Unit == "%" && col.hi <= 1 && col.hi > 0 && col.decimals > 0:
		if w.unit == "" {
			c.Unit = "fraction"
			c.Confidence = min(c.Confidence, Fair)
			c.Reason += "; its values lie within 0 and 1, so they are a fraction"
		} else {
			c.Confidence = Low
			c.Reason += "; its values lie within 0 and 1: a fraction, or a car that is all but empty?"
		}
	case (c.Channel == "heater_power_kw" || c.Channel == "cabin_heater_power_kw" || c.Channel == "accessory_power_kw") && w.unit == "kW" && hi > 30:
		c.Confidence = min(c.Confidence, Fair)
		c.Reason += "; more than such a part takes in most cars"
	}
}

// possible is the share of a column's numbers that a channel can hold, in a unit.
func (c column) possible(ch channel.Channel, u string) float64 {
	scale, err := unit.Between(u, ch.Unit)
	if err != nil || c.numbers == 0 {
		return 0
	}
	n, signed := 0, ch.Name == "pack_power_kw" || ch.Name == "pack_current_a" || strings.HasPrefix(ch.Name, "charger_power") || strings.HasPrefix(ch.Name, "charger_current")
	for _, v := range c.v {
		if x := scale.Of(v); !math.IsNaN(v) && (ch.Possible(x) || signed && ch.Possible(-x)) {
			n++
		}
	}
	return float64(n) / float64(c.numbers)
}

// A unitGuess is a unit by the values.
type unitGuess struct {
	unit       string
	confidence Confidence
	reason     string
}

// unitByValues finds the unit of a column that states none.
func (t *table) unitByValues(ch channel.Channel, col column, w words) unitGuess {
	most := max(math.Abs(col.lo), math.Abs(col.hi))
	if col.numbers == 0 {
		return unitGuess{string(ch.Unit), Fair, "no unit is stated, and there are no values to tell it"}
	}
	switch ch.Unit {
	case unit.Celsius:
		return t.degrees(ch, col)
	case unit.Percent:
		return unitGuess{"%", High, "a percentage"}
	case unit.Kilowatt:
		limit := 1000.0
		if ch.Max <= 50 {
			limit = 40
		}
		if most > limit {
			return unitGuess{"W", Fair, fmt.Sprintf("no unit is stated; up to %s is too much for kW, so W", format(most))}
		}
		if col.decimals == 0 && most > limit/2 {
			return unitGuess{"kW", Low, fmt.Sprintf("no unit is stated; up to %s without decimals may be kW or W", format(most))}
		}
		return unitGuess{"kW", Fair, fmt.Sprintf("no unit is stated; up to %s suits kW", format(most))}
	case unit.KilowattHour:
		if col.hi-col.lo > 500 {
			return unitGuess{"Wh", Fair, fmt.Sprintf("no unit is stated; a rise of %s is too much for kWh, so Wh", format(col.hi-col.lo))}
		}
		return unitGuess{"kWh", Fair, fmt.Sprintf("no unit is stated; a rise of %s suits kWh", format(col.hi-col.lo))}
	case unit.Volt:
		if most > 5000 {
			return unitGuess{"mV", Fair, fmt.Sprintf("no unit is stated; %s is too much for V, so mV", format(most))}
		}
		return unitGuess{"V", High, "volts"}
	case unit.Ampere:
		if most > 3000 {
			return unitGuess{"mA", Fair, fmt.Sprintf("no unit is stated; %s is too much for A, so mA", format(most))}
		}
		return unitGuess{"A", High, "amperes"}
	case unit.Kilometre, unit.KilometrePerHour:
		return t.distance(ch, w)
	case unit.Millimetre:
		return unitGuess{"mm", Fair, "no unit is stated; mm is usual"}
	}
	return unitGuess{}
}

// degrees tells °C from °F, by what other columns of the file state, else by what
// is possible.
func (t *table) degrees(ch channel.Channel, col column) unitGuess {
	units := map[string]bool{}
	for _, w := range t.words {
		if s, err := unit.Parse(w.unit); err == nil && s.Unit == unit.Celsius {
			units[w.unit] = true
		}
	}
	if len(units) == 1 {
		for u := range units {
			if col.possible(ch, u) >= 0.98 {
				return unitGuess{u, Fair, fmt.Sprintf("no unit is stated; other temperatures of the file are in %s", u)}
			}
		}
	}
	hot, cold := 60.0, -50.0
	if strings.HasPrefix(ch.Name, "ambient") || ch.Name == "cabin_temp_c" {
		hot = 50
	}
	if ch.Name == "coolant_temp_c" || ch.Name == "charger_temp_c" {
		hot = 100
	}
	switch {
	case col.lo > 200 && col.hi < 350:
		return unitGuess{"kelvin", Fair, "no unit is stated; the values suit kelvins only"}
	case col.lo >= cold && col.hi <= hot && t.miles():
		return unitGuess{"°C", Low, "no unit is stated, and the file counts in miles: °C or °F?"}
	case col.lo >= cold && col.hi <= hot:
		return unitGuess{"°C", Fair, "no unit is stated; the values suit °C"}
	case col.possible(ch, "°F") >= 0.9:
		return unitGuess{"°F", Fair, fmt.Sprintf("no unit is stated; %s would be odd in °C, and suits °F", col.described())}
	case col.possible(ch, "°C") >= 0.9:
		return unitGuess{"°C", Fair, "no unit is stated; the values are possible in °C only"}
	}
	return unitGuess{}
}

// miles reports whether the file has anything in miles.
func (t *table) miles() bool {
	return slices.ContainsFunc(t.words, func(w words) bool { return w.unit == "mi" || w.unit == "mph" })
}

// distance tells kilometres from miles, which values do not.
func (t *table) distance(ch channel.Channel, w words) unitGuess {
	km := slices.ContainsFunc(t.words, func(w words) bool { return w.unit == "km" || w.unit == "km/h" })
	miles := t.miles()
	u, other := "km", "mi"
	if ch.Unit == unit.KilometrePerHour {
		u, other = "km/h", "mph"
	}
	switch {
	case ch.Name == "wind_km_h":
		return unitGuess{u, Low, "no unit is stated: km/h, m/s, mph or knots?"}
	case km && !miles:
		return unitGuess{u, Fair, "no unit is stated; the file has kilometres elsewhere"}
	case miles && !km:
		return unitGuess{other, Fair, "no unit is stated; the file has miles elsewhere"}
	case w.any(foreign) && !miles:
		return unitGuess{u, Fair, "no unit is stated; its language counts in kilometres"}
	}
	return unitGuess{u, Low, fmt.Sprintf("no unit is stated: %s or %s?", u, other)}
}
