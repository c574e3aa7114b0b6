package infer

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"coldbench/warehouse/channel"
	"coldbench/warehouse/unit"
)

// shapes looks at what values do where names are open: power must be voltage times
// current, and a column without any name may look like a state of charge.
func (p *Proposal) shapes(t *table) {
	p.products(t)
	p.nameless(t)
}

// A product is three columns of which one is the power of the other two.
type product struct {
	power, volts, amps int
	unit               string // of the power
	rows               int
}

// product reports whether a column is the product of two others, in kW or W, up to
// its sign.
func (t *table) product(power, volts, amps int) (product, bool) {
	p, v, a := &t.cols[power], &t.cols[volts], &t.cols[amps]
	for _, c := range []struct {
		unit  string
		scale float64
	}{{"kW", 1e-3}, {"W", 1}} {
		n, near := 0, 0
		lo, hi := math.Inf(1), math.Inf(-1)
		for r := range t.rows {
			want := math.Abs(v.v[r] * a.v[r] * c.scale)
			if math.IsNaN(want) || math.IsNaN(p.v[r]) || math.Abs(v.v[r]*a.v[r]) < 1000 {
				continue
			}
			n++
			lo, hi = min(lo, want), max(hi, want)
			if math.Abs(math.Abs(p.v[r])-want) <= 0.03*want+math.Pow10(-p.decimals) {
				near++
			}
		}
		if n >= 5 && near*10 >= n*9 && hi > 1.05*lo {
			return product{power, volts, amps, c.unit, n}, true
		}
	}
	return product{}, false
}

// products settles powers whose place or unit is open by the voltage and current of
// which they are the product.
func (p *Proposal) products(t *table) {
	for _, place := range []struct{ power, volts, amps, what string }{
		{"pack_power_kw", "pack_voltage_v", "pack_current_a", "pack's"},
		{"charger_power_kw", "charger_voltage_v", "charger_current_a", "charger's"},
	} {
		v, a := p.column(place.volts), p.column(place.amps)
		if v < 0 || a < 0 {
			continue
		}
		for i := range p.Columns {
			c := &p.Columns[i]
			if c.Channel != place.power && !slices.Contains(c.Rivals, place.power) {
				continue
			}
			pr, ok := t.product(i, v, a)
			switch {
			case !ok:
			case t.words[i].unit != "" && !strings.EqualFold(t.words[i].unit, pr.unit):
				p.ask("column %q is, in %d rows, the %s voltage times its current in %s, and its name says %s. Which is right?", c.Name, pr.rows, place.what, pr.unit, t.words[i].stated)
				c.Open = true
			default:
				if t.words[i].unit == "" {
					c.Unit = pr.unit
				}
				if c.Channel != place.power || c.Confidence < Fair {
					c.Confidence = Fair
				}
				c.Channel, c.Rivals = place.power, nil
				c.Reason += fmt.Sprintf("; in %d rows it is the %s voltage times its current, in %s", pr.rows, place.what, pr.unit)
			}
		}
	}
}

// column is the one column that may be a channel, or -1.
func (p *Proposal) column(name string) int {
	at := -1
	for i, c := range p.Columns {
		if c.Channel == name && c.Confidence >= Fair {
			if at >= 0 {
				return -1
			}
			at = i
		}
	}
	return at
}

// nameless proposes, to be confirmed, channels of columns whose names say nothing.
func (p *Proposal) nameless(t *table) {
	var open []int
	for i, c := range p.Columns {
		if c.Channel == "" && !c.Clock && c.Name != "" && t.cols[i].numeric() && t.words[i].silent() && !strings.Contains(c.Reason, "twice") {
			open = append(open, i)
		}
	}
	suggest := func(i int, name, u, why string, rivals ...string) {
		c := &p.Columns[i]
		ch, err := channel.Find(name)
		if err != nil || c.Channel != "" || t.cols[i].possible(ch, u) < 0.9 {
			return
		}
		c.Channel, c.Unit, c.Confidence, c.Rivals = name, u, Low, rivals
		c.Reason = "its name says nothing; " + why
	}
	for _, v := range open {
		if c := &t.cols[v]; c.lo < 150 || c.hi > 1000 {
			continue
		}
		for _, a := range open {
			for _, w := range open {
				if v == a || a == w || v == w {
					continue
				}
				if pr, ok := t.product(w, v, a); ok {
					suggest(v, "pack_voltage_v", "V", fmt.Sprintf("%q is its product with %q", t.names[w], t.names[a]), "charger_voltage_v")
					suggest(a, "pack_current_a", "A", fmt.Sprintf("%q is its product with %q", t.names[w], t.names[v]), "charger_current_a")
					suggest(w, "pack_power_kw", pr.unit, fmt.Sprintf("it is the product of %q and %q in %s", t.names[v], t.names[a], pr.unit), "charger_power_kw")
				}
			}
		}
	}
	if slices.ContainsFunc(p.Columns, func(c Column) bool { return strings.HasPrefix(c.Channel, "soc_") }) {
		return
	}
	for _, i := range open {
		c := &t.cols[i]
		last, jump, least := math.NaN(), 0.0, math.Inf(1)
		for _, v := range c.v {
			if !math.IsNaN(v) && !math.IsNaN(last) {
				jump, least = max(jump, v-last), min(least, v-last)
			}
			if !math.IsNaN(v) {
				last = v
			}
		}
		if p.Columns[i].Channel == "" && c.lo >= 0 && c.hi <= 100 && c.hi-c.lo >= 5 && c.falls*50 <= c.rises && c.rises >= 5 && jump <= 2 && jump > least+1e-9 { // a counter rises by one
			suggest(i, "soc_pct", "%", "it rises in small steps within 0 and 100, as a state of charge does", "soc_bms_pct", "soc_charger_pct", "charger_energy_kwh")
		}
	}
}

// silent reports whether a name says nothing of what a column measures.
func (w words) silent() bool {
	return w.set&(places|quantities|isOther|isTime) == 0 && w.unit == "" && w.noUnit == ""
}

// contest finds channels for which there are several columns. None of them is
// taken then: the profile has both, commented out, with the question.
func (p *Proposal) contest() {
	for _, ch := range channel.All() {
		var rivals []int
		for i, c := range p.Columns {
			if c.Channel == ch.Name && c.Confidence >= Fair {
				rivals = append(rivals, i)
			}
		}
		if len(rivals) < 2 {
			continue
		}
		var names []string
		for _, i := range rivals {
			names = append(names, p.Columns[i].Name)
			p.Columns[i].Open = true
		}
		p.ask("%s: columns %s could each be it. Which one is? Take the comment signs off that one, and say what the others are", ch.Name, quoted(names))
	}
	for _, c := range p.Columns {
		if c.Channel == "" || c.Confidence != Low {
			continue
		}
		if len(c.Rivals) > 0 {
			p.ask("column %q: is it %s or %s?", c.Name, c.Channel, strings.Join(c.Rivals, " or "))
		} else {
			p.ask("column %q: is it %s, in %s?", c.Name, c.Channel, c.Unit)
		}
	}
}

// of is a column's numbers in its channel's unit, as the profile has it so far.
func (p *Proposal) of(t *table, i int) []float64 {
	c := p.Columns[i]
	ch, err := channel.Find(c.Channel)
	if err != nil {
		return nil
	}
	scale, err := unit.Between(c.Unit, ch.Unit)
	if err != nil {
		return nil
	}
	vs := make([]float64, len(t.rows))
	for r, v := range t.cols[i].v {
		if vs[r] = scale.Of(v); !ch.Possible(vs[r]) && !ch.Possible(-vs[r]) {
			vs[r] = math.NaN()
		}
	}
	return vs
}
