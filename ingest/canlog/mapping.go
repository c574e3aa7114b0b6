package canlog

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"coldbench/ingest/clock"
	"coldbench/ingest/series"
	"coldbench/ingest/source"
	"coldbench/warehouse/channel"
	"coldbench/warehouse/diag"
	"coldbench/warehouse/unit"
)

// A column is a signal that the profile maps.
type column struct {
	series.Column
	*signal
	channel channel.Channel
	scale   unit.Scale // from the signal's unit to the channel's, sign and all
}

// mapSignals finds the profile's columns in its DBC file.
func (r *reader) mapSignals() diag.List {
	p := r.in.Profile
	db, d := parseDBC(p.Signals, p.DBC)
	if d != nil {
		return diag.List{d}
	}
	var l diag.List
	for i, c := range p.Columns {
		n := fmt.Sprint(i)
		s, d := db.find(c.Name, p.DBC)
		if d != nil {
			l = append(l, diag.At(d, p.At("column", n, "name")))
			continue
		}
		ch, err := channel.Find(c.Channel) // the profile was checked for both when the series was read
		if err != nil {
			l = append(l, diag.At(err, p.At("column", n, "channel")))
			continue
		}
		if d := settleUnit(&c, s, ch, p.At("column", n, "unit").Line > 0); d != nil {
			l = append(l, diag.At(d, p.At("column", n, "unit")))
			continue
		}
		col := column{Column: c, signal: s, channel: ch}
		if col.scale, err = unit.Between(c.Unit, ch.Unit); err != nil {
			l = append(l, diag.At(err, p.At("column", n, "unit")))
			continue
		}
		if c.Invert {
			// 0 less, not minus: an offset of -0 would make "-0" of nothing.
			col.scale.Factor, col.scale.Offset = -col.scale.Factor, 0-col.scale.Offset
		}
		r.messages[s.message.id] = append(r.messages[s.message.id], len(r.columns))
		r.columns = append(r.columns, col)
	}
	r.vals = make([]float64, len(r.columns))
	l.Sort()
	return l
}

// settleUnit makes c.Unit the signal's unit: what the profile states, else what
// the DBC file does, else the channel's own. Two that contradict each other are
// refused, since only a look at the car tells which is right.
func settleUnit(c *series.Column, s *signal, ch channel.Channel, stated bool) *diag.Diagnostic {
	if s.unit == "" {
		return nil
	}
	theirs, err := unit.Parse(s.unit)
	switch {
	case err != nil && stated:
		return nil
	case err != nil:
		return diag.New(diag.Pos{}, "%s is in %q, which is no unit known here", s.name, s.unit).WithHint("state the column's unit")
	case !stated && theirs.Unit != ch.Unit:
		return diag.New(diag.Pos{}, "%s is in %q, which does not measure %s", s.name, s.unit, unit.Quantity(ch.Unit)).WithHint("%s is kept in %s", ch.Name, ch.Unit)
	case !stated:
		c.Unit = s.unit
		return nil
	}
	if ours, err := unit.Parse(c.Unit); err == nil && ours != theirs {
		return diag.New(diag.Pos{}, "the profile has %s in %q, the DBC file in %q", s.name, c.Unit, s.unit).WithHint("one of them is wrong; take the unit out of the one that is")
	}
	return nil
}

// setClock makes the clock, which counts seconds since 1970 unless stated.
func (r *reader) setClock() *diag.Diagnostic {
	p := r.in.Profile
	c := p.Clock
	c.Column, c.Date = "", ""
	switch c.Format {
	case "":
		c.Format = "epoch"
	case "delta":
		c.Format, r.deltas = "elapsed", true
	}
	var d *diag.Diagnostic
	if r.clock, d = clock.Of(r.in, c); d != nil || !r.deltas {
		return d
	}
	var err error
	if r.base, err = r.clock.Micros("0", ""); err == nil {
		r.clock, err = clock.New(series.Clock{Format: "epoch", Unit: c.Unit}, r.in.Location, r.in.Source.Start, 0)
	}
	if err != nil {
		d = diag.At(err, p.At("clock", "format"))
		d.Msg = r.in.Shown + ": " + d.Msg
	}
	return d
}

func (r *reader) listSeen() string {
	ids := slices.Sorted(maps.Keys(r.seen))
	const most = 8
	names := make([]string, 0, most)
	for _, id := range ids[:min(most, len(ids))] {
		names = append(names, spellID(id))
	}
	list := "it has frames of " + strings.Join(names, ", ")
	if more := len(ids) - most; more > 0 {
		list += fmt.Sprintf(" and %d more", more)
	}
	return list
}

// spellID writes an identifier as candump does.
func spellID(id uint32) string {
	if id&extended != 0 {
		return fmt.Sprintf("%08X", id&^extended)
	}
	return fmt.Sprintf("%03X", id)
}

// instruments tells what is known of each signal's values: its step is its
// factor, unless the profile states one or it is a float.
func (r *reader) instruments(report *source.Report) {
	for _, c := range r.columns {
		in := source.Typical(c.channel, c.name)
		in.Unit = c.Column.Unit
		factor := math.Abs(c.scale.Factor)
		step := math.Abs(c.factor)
		if c.float {
			step = 0
		}
		in.Resolution = cmp.Or(c.Resolution, step) * factor
		if c.URel > 0 || c.UAbs > 0 {
			in.URel, in.UAbs = c.URel, c.UAbs*factor
		}
		report.Instruments = append(report.Instruments, in)
	}
}
