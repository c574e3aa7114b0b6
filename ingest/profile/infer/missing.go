package infer

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"coldbench/warehouse/channel"
	"coldbench/warehouse/unit"
)

// marks are the texts that loggers write where they have no value. They are
// common practice; no source lists them.
var marks = func() map[string]bool {
	m := set("- -- --- ---- ----- n/a na nan null none nil #n/a #na ? ?? ??? * ** *** invalid err error void unavailable unknown k.a. n.v. nodata (null) undefined . .. ... / x _ #value! #num! #div/0! inf -inf")
	m["no data"], m["not available"], m["–"], m["—"] = true, true, true, true
	return m
}()

func isMark(s string) bool { return marks[strings.ToLower(s)] }

// marks lists the marks for "no value" that stand in columns of numbers.
func (p *Proposal) marks(t *table) {
	seen := map[string]int{}
	for i := range t.cols {
		if i >= len(t.odd) || !t.cols[i].numeric() {
			continue
		}
		for s, n := range t.odd[i] {
			if isMark(s) {
				seen[s] += n
			}
		}
	}
	if len(seen) == 0 {
		return
	}
	p.Profile.Missing = slices.Sorted(maps.Keys(seen))
	var shown []string
	for _, s := range p.Profile.Missing {
		shown = append(shown, fmt.Sprintf("%q (%s)", s, times(seen[s])))
	}
	p.fact("missing", strings.Join(shown, ", "), High, "texts in columns of numbers that loggers write for \"no value\"")
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

// full are numbers that counters hold when all their bits are set, or one below,
// and other numbers by which loggers mean "no value". Common practice, no source.
var full = []float64{-9999, -999.9, -999, -99.9, -99, -128, -127, -32768, -3276.8, -327.68, 99.9, 127, 254, 255, 327.67, 999, 999.9, 1023, 3276.7, 6553.5, 6553.4, 9999, 32767, 65534, 65535, 4294967295, 429496729.5, 2147483647}

// sentinels finds numbers that stand for "no value", in columns that are mapped:
// impossible ones that loggers are known to use or that come again and again.
// Possible ones are asked about.
func (p *Proposal) sentinels(t *table) {
	for i := range p.Columns {
		c := &p.Columns[i]
		if c.Channel == "" {
			continue
		}
		ch, err := channel.Find(c.Channel)
		if err != nil {
			continue
		}
		scale, err := unit.Between(c.Unit, ch.Unit)
		if err != nil {
			continue
		}
		if c.Invert {
			scale.Factor = -scale.Factor
		}
		impossible := map[float64]int{}
		for _, v := range t.cols[i].v {
			if !math.IsNaN(v) && !ch.Possible(scale.Of(v)) {
				impossible[v]++
			}
		}
		rest := 0
		for _, v := range slices.Sorted(maps.Keys(impossible)) {
			if n := impossible[v]; slices.Contains(full, v) || n > 2 && len(impossible) <= 2 {
				c.Missing = append(c.Missing, v)
				c.Reason += fmt.Sprintf("; %s stands for no value (%s, and impossible)", format(v), times(n))
			} else {
				rest += n
			}
		}
		if rest > 0 && c.Taken() {
			p.ask("column %q has %d values that %s cannot have; their rows will be set aside. Is the unit %s, and the channel right?", c.Name, rest, c.Channel, c.Unit)
		}
		p.alone(t, i, c)
		p.texts(t, i, c)
		c.Resolution = t.cols[i].without(c.Missing).resolution()
		if c.Resolution > 0 {
			c.Reason += fmt.Sprintf("; written finer than its steps of %s", format(c.Resolution))
		}
	}
}

// alone asks about a number that is possible, but far from all others, such as a
// temperature of -40 of a sensor that had not answered yet.
func (p *Proposal) alone(t *table, i int, c *Column) {
	col := t.cols[i].without(c.Missing)
	if !c.Taken() || col.numbers < 20 {
		return
	}
	for _, v := range []float64{-40, 215, 127, 254, 255, 99.9, 102.3, 125, 85, 0} {
		if v != col.lo && v != col.hi || v == 0 && !strings.Contains(c.Channel, "temp") && !strings.Contains(c.Channel, "voltage") {
			continue
		}
		others := col.without([]float64{v})
		n := col.numbers - others.numbers
		gap := max(others.lo-v, v-others.hi)
		if others.numbers > n && gap > 15 && gap > others.hi-others.lo {
			p.ask("column %q is %s in %d rows and %s to %s in all others: does it stand for no value there? Then its column needs missing = [%s]", c.Name, format(v), n, format(others.lo), format(others.hi), format(v))
			return
		}
	}
}

// texts asks about texts in a column that is mapped.
func (p *Proposal) texts(t *table, i int, c *Column) {
	if !c.Taken() || i >= len(t.odd) {
		return
	}
	var odd []string
	for _, s := range slices.Sorted(maps.Keys(t.odd[i])) {
		if !isMark(s) && len(odd) < 3 {
			odd = append(odd, s)
		}
	}
	if len(odd) > 0 {
		p.ask("column %q holds texts beside its numbers, such as %s: if they stand for no value, add them to missing; else their rows are set aside", c.Name, quoted(odd))
	}
}

// resolution is the step of a column that is written finer than it counts, such as
// a half written as 0.5 and 1.0, or tens; 0 where its last digit is the step.
func (c column) resolution() float64 {
	if c.distinct < 12 || c.distinct >= many {
		return 0
	}
	last := math.Pow10(-c.decimals)
	for _, k := range []float64{100, 50, 25, 20, 10, 5, 2.5, 2} {
		step := k * last
		if (c.hi-c.lo)/step < 6 {
			continue
		}
		fits := true
		for _, v := range c.v {
			if !math.IsNaN(v) && math.Abs(v/step-math.Round(v/step)) > 1e-6 {
				fits = false
				break
			}
		}
		if fits {
			// Not 0.30000000000000004 but what people would write.
			return math.Round(step*1e9) / 1e9
		}
	}
	return 0
}
