package infer

import (
	"fmt"
	"math"
)

// signed are the channels whose sign loggers differ about: positive here is into
// the pack, or out of the charger into the car.
var signed = map[string]bool{"pack_power_kw": true, "pack_current_a": true, "charger_power_kw": true, "charger_current_a": true}

// witnesses are the channels that rise only while energy flows into the pack or
// the car, from the best one, with the rise that it takes to be heard.
var witnesses = []struct {
	channel, what string
	rise          float64
}{
	{"soc_pct", "state of charge", 2}, {"soc_bms_pct", "state of charge", 2}, {"soc_charger_pct", "state of charge", 2},
	{"pack_energy_kwh", "energy register", 0.5}, {"charger_energy_kwh", "energy register", 0.5},
}

// signs finds how the log counts power and current: by what they are while the
// state of charge, or a register of energy, rises. Where nothing shows it, the
// column waits for an answer.
func (p *Proposal) signs(t *table) {
	for i := range p.Columns {
		c := &p.Columns[i]
		if !signed[c.Channel] || t.cols[i].numbers == 0 {
			continue
		}
		v := p.of(t, i)
		lo, hi := 0.0, 0.0
		for _, x := range v {
			if !math.IsNaN(x) {
				lo, hi = min(lo, x), max(hi, x)
			}
		}
		if lo == 0 && hi == 0 {
			c.Sign = "it is zero throughout, which shows no sign"
			continue
		}
		if p.witnessed(t, c, v, max(hi, -lo)) {
			continue
		}
		charger := c.Channel == "charger_power_kw" || c.Channel == "charger_current_a"
		switch {
		case lo >= -0.01*hi:
			c.Sign = "it never is negative, so it is taken to count into the pack; nothing else in the log shows it"
			if charger {
				c.Sign = "it never is negative"
			}
		case hi <= -0.01*lo && charger:
			c.Invert = true
			c.Sign = "it never is positive, and a charger gives power: the log counts it as negative"
		default:
			c.Open = true
			c.Sign = "nothing in the log shows which sign is into the pack"
			if hi <= 0 {
				c.Sign = "it never is positive, and nothing in the log shows whether that is charge or discharge"
			}
			p.ask("column %q: does it count charging as positive (leave invert out) or as negative (invert = true)? %s", c.Name, c.Sign)
		}
	}
}

// witnessed lets the best witness say what sign a column has.
func (p *Proposal) witnessed(t *table, c *Column, v []float64, most float64) bool {
	for _, w := range witnesses {
		for i, wc := range p.Columns {
			if wc.Channel != w.channel || wc.Confidence < Fair {
				continue
			}
			e := testify(p.of(t, i), v, most)
			if e.change < w.rise || e.with+e.against < 3 {
				continue
			}
			switch {
			case e.with >= 9*e.against:
				c.Sign = fmt.Sprintf("while the %s in %q changes by %s, it is positive when that rises: it counts into the pack as positive", w.what, wc.Name, format(round(e.change)))
			case e.against >= 9*e.with:
				c.Invert = true
				c.Sign = fmt.Sprintf("while the %s in %q changes by %s, it is negative when that rises: it counts into the pack as negative", w.what, wc.Name, format(round(e.change)))
			default:
				continue
			}
			if e.change < 2.5*w.rise {
				c.Confidence = min(c.Confidence, Fair)
			}
			return true
		}
	}
	return false
}

func round(v float64) float64 { return math.Round(v*10) / 10 }

// A testimony is what a witness tells of a column: in how many rows its sign was
// with the witness's change, or against it, and how much the witness changed.
type testimony struct {
	with, against int
	change        float64
}

// testify counts the rows between two changes of the witness in which the column
// holds more than a few percent of its most.
func testify(witness, v []float64, most float64) testimony {
	var e testimony
	from, last := 0, math.NaN()
	for r, w := range witness {
		if math.IsNaN(w) || w == last {
			continue
		}
		if !math.IsNaN(last) {
			e.change += math.Abs(w - last)
			for _, x := range v[from:r] {
				switch {
				case math.IsNaN(x) || math.Abs(x) < 0.03*most:
				case (x > 0) == (w > last):
					e.with++
				default:
					e.against++
				}
			}
		}
		last, from = w, r
	}
	return e
}
