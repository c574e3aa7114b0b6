package ingest

import (
	"cmp"
	"fmt"
	"math"
	"path"
	"slices"

	"github.com/apache/arrow/go/v17/arrow/array"

	"coldbench/ingest/clock"
	"coldbench/ingest/series"
	"coldbench/ingest/source"
	"coldbench/warehouse/channel"
	"coldbench/warehouse/diag"
)

// An Alignment tells what was found of a source whose clock was to be aligned.
type Alignment struct {
	Path, Reference string // the source's, and of that whose power it was compared with
	OffsetS, U      float64
}

// Of the clock of a source.
const align = "align"

// alignAll finds the offset of every changed source that asks for it, against the
// session's reference: of the sources whose clocks are taken as they are, the one
// with the most rows of power. It reads them for this alone, ahead of the loading,
// since an event of the source may be the zero of the session's clock.
func alignAll(s *series.Series, ses *series.Session, changed []job) ([]Alignment, diag.List) {
	if !slices.ContainsFunc(changed, func(j job) bool { return j.input.Source.Clock == align }) {
		return nil, nil
	}
	var found []Alignment
	for i := range changed {
		j := &changed[i]
		if j.input.Source.Clock != align {
			continue
		}
		at := ses.At("source", fmt.Sprint(slices.IndexFunc(ses.Sources, func(src series.Source) bool { return src.File == j.input.Source.File })), "clock")
		ref, l := findReference(s, ses, loggerOf(j.input.Source))
		if l != nil {
			return nil, l
		}
		if ref == nil {
			return nil, diag.List{diag.New(at, "no other source of the session has power to align %q with", j.input.Source.File).
				WithHint("it needs charger or pack power, or voltage and current, from a source whose clock is right")}
		}
		p, l := readPower(j.kind, j.input)
		if l != nil {
			return nil, l
		}
		theirs, ours := ref.power.comparable(p)
		a, err := clock.Align(theirs, ours)
		if err != nil {
			d := diag.At(err, at)
			d.Msg = fmt.Sprintf("%s against %s: %s", j.input.Source.File, path.Base(ref.input.Shown), d.Msg)
			return nil, diag.List{d}
		}
		u := math.Hypot(a.U, ref.input.Source.OffsetU)
		j.row.OffsetS, j.row.OffsetU = a.OffsetS, u
		j.input.Source.OffsetS, j.input.Source.OffsetU = a.OffsetS, u
		found = append(found, Alignment{j.row.Path, ref.input.Shown, a.OffsetS, u})
	}
	return found, nil
}

// A reference is a source with its power.
type reference struct {
	input source.Input
	power power
}

// findReference prefers logs of other loggers: another file of the same one mostly
// goes on where this one ends, and has nothing in common with it.
func findReference(s *series.Series, ses *series.Session, of logger) (*reference, diag.List) {
	var best, own *reference
	for _, src := range ses.Sources {
		if src.Clock == align {
			continue
		}
		in := input(s, ses, src)
		p, l := readPower(kind(src.Kind), in)
		if l != nil {
			return nil, l
		}
		better := &best
		if loggerOf(src) == of {
			better = &own
		}
		if p.rows() >= clock.LeastSamples && (*better == nil || p.rows() > (*better).power.rows()) {
			*better = &reference{in, p}
		}
	}
	if best == nil {
		return own, nil
	}
	return best, nil
}

// A power is what one source has of it, in kW over s since 1970.
type power struct{ charger, pack []clock.Sample }

func (p power) rows() int { return max(len(p.charger), len(p.pack)) }

// comparable returns the power of both on one side, the charger's or the pack's, or
// on a side each where that has more than twice the rows.
func (p power) comparable(q power) (ours, theirs []clock.Sample) {
	least := -1
	for _, pair := range []struct {
		ours, theirs []clock.Sample
		worth        int
	}{{p.charger, q.charger, 2}, {p.pack, q.pack, 2}, {p.pack, q.charger, 1}, {p.charger, q.pack, 1}} {
		if n := pair.worth * min(len(pair.ours), len(pair.theirs)); n > least {
			ours, theirs, least = pair.ours, pair.theirs, n
		}
	}
	return ours, theirs
}

// sides are the channels that tell the power of a side: itself, or by voltage and
// current.
var sides = []struct{ power, voltage, current string }{
	{"charger_power_kw", "charger_voltage_v", "charger_current_a"},
	{"pack_power_kw", "pack_voltage_v", "pack_current_a"},
}

// readPower reads a source for its power alone. The List says why it cannot be read.
func readPower(k source.Kind, in source.Input) (power, diag.List) {
	rdr, l, err := k.Open(in)
	if err != nil {
		return power{}, diag.List{Unread(err, in.Shown)}
	}
	if l != nil {
		return power{}, l
	}
	defer rdr.Release()
	names := map[string]int{}
	for i, f := range rdr.Schema().Fields() {
		names[f.Name] = i
	}
	var tellers []*teller
	for _, side := range sides {
		t := &teller{volts: math.NaN()}
		for i, name := range []string{side.power, side.voltage, side.current} {
			t.columns[i] = -1
			if c, ok := names[name]; ok {
				t.columns[i] = c
			}
		}
		tellers = append(tellers, t)
	}
	if !slices.ContainsFunc(tellers, (*teller).any) {
		return power{}, nil
	}
	for rdr.Next() {
		rec := rdr.Record()
		at := rec.Column(names[channel.AtColumn]).(*array.Timestamp)
		for _, t := range tellers {
			if !t.any() {
				continue
			}
			var cols [3]*array.Float64
			for i, c := range t.columns {
				if c >= 0 {
					cols[i] = rec.Column(c).(*array.Float64)
				}
			}
			for row := range int(rec.NumRows()) {
				t.add(float64(at.Value(row))/1e6, cell(cols[0], row), cell(cols[1], row), cell(cols[2], row))
			}
		}
	}
	if err := rdr.Err(); err != nil {
		return power{}, diag.List{Unread(err, in.Shown)}
	}
	return power{tellers[0].samples(), tellers[1].samples()}, nil
}

func cell(c *array.Float64, row int) float64 {
	if c == nil || c.IsNull(row) {
		return math.NaN()
	}
	return c.Value(row)
}

// A teller gathers the power of one side.
type teller struct {
	columns         [3]int // of power, voltage and current; -1: none
	stated, product []clock.Sample
	volts, voltsAt  float64 // last seen, for rows with the current alone, as on a bus
}

func (t *teller) any() bool { return t.columns[0] >= 0 || t.columns[1] >= 0 && t.columns[2] >= 0 }

// holdS is how long a voltage stands for the present, as in the catalogue.
const holdS = 60

func (t *teller) add(at, kw, volts, amps float64) {
	if !math.IsNaN(kw) {
		t.stated = append(t.stated, clock.Sample{At: at, Value: kw})
	}
	if !math.IsNaN(volts) {
		t.volts, t.voltsAt = volts, at
	}
	if !math.IsNaN(amps) && !math.IsNaN(t.volts) && at-t.voltsAt <= holdS {
		t.product = append(t.product, clock.Sample{At: at, Value: t.volts * amps / 1000})
	}
}

// samples are the power as stated, or by voltage and current if that has more rows,
// in order of time.
func (t *teller) samples() []clock.Sample {
	best := t.stated
	if len(t.product) > len(best) {
		best = t.product
	}
	slices.SortStableFunc(best, func(a, b clock.Sample) int { return cmp.Compare(a.At, b.At) })
	return best
}
