// Package profile is what logs with a column a channel have in common: how a
// profile's columns are found among those that a file has, and how a record's
// cells become a row in the channels' units; and, for a file that no profile
// describes yet, a proposal for one.
//
// It knows no file format: a kind of log hands it names and cells. Delimited text
// with a column a channel, which has rows by the million and knows its cells'
// places in a block of bytes, maps for itself by the same rules.
package profile

import (
	"bytes"
	"fmt"
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

// A Mapper turns the records of one file into rows. It is not safe for
// concurrent use.
//
// In the wide layout, a record has a cell a channel. In the long one it has the
// name of one signal and its value, perhaps with a unit, which may be another
// than the profile's; signals that the profile does not map are rows without a
// value.
type Mapper struct {
	in      source.Input
	clock   *clock.Resolver
	mark    byte
	order   *source.Order
	missing []missingMark

	index   []int // a slot: the place of its column among the file's
	first   []int // a slot: the first channel mapped from it, or -1
	columns []mapped

	clockSlot, dateSlot, signalSlot, valueSlot, unitSlot int // -1: none

	signals map[string]int // of the long layout: a signal's first channel
	vals    []float64
}

// A mapped column is one [[column]] of the profile.
type mapped struct {
	series.Column
	next    int // another one mapped from the same place, or -1
	channel channel.Channel
	units   []measure // the profile's, then those that rows name
}

// A measure is a unit in which values of a channel were written.
type measure struct {
	spelling string
	scale    unit.Scale
	decimals int              // most seen; -1: no value seen
	bad      *diag.Diagnostic // it is no unit of the channel
}

// A missingMark stands for "no value".
type missingMark struct {
	text []byte
	num  float64 // NaN: it is no number
}

// A Problem is why a record is set aside.
type Problem struct {
	Slot         int // in whose cell it is; -1: in none
	Reason, Hint string
}

// NeedsProfile says that a source has none, or nil.
func NeedsProfile(in source.Input) diag.List {
	if in.Profile != nil {
		return nil
	}
	return diag.List{diag.New(in.Session.At("source"), "source %q needs a profile", in.Source.File).WithHint("profile = \"...\", a file in profiles/")}
}

// NewMapper finds the columns that in's profile names among those that a file
// has. pos is where the names stand, and has what to call them, such as "the
// header has". The List says what is missing; an error, that the profile was
// not checked.
func NewMapper(in source.Input, names []string, pos diag.Pos, has string) (*Mapper, diag.List, error) {
	p := in.Profile
	m := &Mapper{in: in, order: source.NewOrder(p.ID, p.Order == "any"), mark: '.',
		clockSlot: -1, dateSlot: -1, signalSlot: -1, valueSlot: -1, unitSlot: -1}
	if p.Decimal != "" {
		m.mark = p.Decimal[0]
	}
	for _, t := range p.Missing {
		k := missingMark{text: bytes.TrimSpace([]byte(t)), num: math.NaN()}
		if v, _, ok := readNumber(k.text, m.mark); ok {
			k.num = v
		}
		m.missing = append(m.missing, k)
	}
	f := finder{in: in, names: make([]string, len(names)), pos: pos, has: has}
	for i, n := range names {
		f.names[i] = strings.TrimSpace(n)
	}
	if err := m.mapColumns(&f); err != nil {
		return nil, nil, fmt.Errorf("profile: %w", err)
	}
	var d *diag.Diagnostic
	if m.clock, d = clock.Of(in, p.Clock); d != nil {
		f.l = append(f.l, d)
	}
	if f.l != nil {
		f.l.Sort()
		return nil, f.l, nil
	}
	m.clock.SetDecimal(m.mark)
	m.vals = make([]float64, len(m.columns))
	return m, nil, nil
}

// measure adds a unit in which the column's values may be written.
func (c *mapped) measure(spelling string) error {
	scale, err := unit.Between(spelling, c.channel.Unit)
	if c.Invert {
		// 0 less, not minus: an offset of -0 would make "-0" of nothing.
		scale.Factor, scale.Offset = -scale.Factor, 0-scale.Offset
	}
	w := measure{spelling: spelling, scale: scale, decimals: -1}
	if err != nil {
		w.bad = diag.At(err, diag.Pos{})
	}
	c.units = append(c.units, w)
	return err
}

// Slots tells which of the file's columns are used: the places of their names.
// A record's cells come in this order. It is the mapper's.
func (m *Mapper) Slots() []int { return m.index }

// ClockSlots are the slots of the clock and, or -1, its date.
func (m *Mapper) ClockSlots() (clock, date int) { return m.clockSlot, m.dateSlot }

// Channels are those of a row's values, in their order. They are the caller's.
func (m *Mapper) Channels() []channel.Channel {
	channels := make([]channel.Channel, len(m.columns))
	for i, c := range m.columns {
		channels[i] = c.channel
	}
	return channels
}

// Row turns a record's cells, one a slot, into its time, in µs since 1970 UTC,
// and a value a channel, NaN for none; or tells why it is set aside, for its time
// before a value. Whether the time of others follows those before is for the
// caller's order. The values are good until the next call.
func (m *Mapper) Row(cells []Cell) (at int64, vals []float64, p *Problem) {
	at, err := m.time(cells)
	if err != nil {
		d := diag.At(err, diag.Pos{})
		return 0, nil, &Problem{m.clockSlot, d.Msg, d.Hint}
	}
	for i := range m.vals {
		m.vals[i] = math.NaN()
	}
	if m.signals != nil {
		p = m.reading(cells)
	} else {
		for slot, col := range m.first {
			if col >= 0 {
				if p = m.value(cells[slot], slot, col, ""); p != nil {
					break
				}
			}
		}
	}
	if p != nil {
		if reason, hint, back := m.order.Back(at); back {
			return 0, nil, &Problem{m.clockSlot, reason, hint}
		}
		return 0, nil, p
	}
	return at, m.vals, nil
}

// reading reads a record of the long layout.
func (m *Mapper) reading(cells []Cell) *Problem {
	col, ok := m.signals[string(cells[m.signalSlot].written())]
	if !ok {
		return nil
	}
	spelling := ""
	if m.unitSlot >= 0 {
		spelling = string(cells[m.unitSlot].written())
	}
	return m.value(cells[m.valueSlot], m.valueSlot, col, spelling)
}

// time resolves a record's time.
func (m *Mapper) time(cells []Cell) (int64, error) {
	c := cells[m.clockSlot]
	if m.dateSlot >= 0 {
		return m.dated(c, cells[m.dateSlot])
	}
	switch c.kind {
	case cellNumber:
		return m.clock.Number(c.num)
	case cellMoment:
		return m.clock.Moment(c.us)
	case cellWall:
		return m.clock.Wall(c.us)
	case cellSpan:
		return m.clock.Span(c.us)
	}
	return m.clock.Resolve(c.text, nil)
}

// dated resolves a time whose date stands in a column of its own. Of two that a
// typed file holds as times, the one gives the day, the other the time of day.
func (m *Mapper) dated(c, date Cell) (int64, error) {
	if date.kind == cellWall && (c.kind == cellWall || c.kind == cellSpan) {
		return m.clock.Wall(floored(date.us) + c.us - floored(c.us))
	}
	text, day := c.written(), date.written()
	if c.kind == cellWall {
		text = Span(c.us - floored(c.us)).written()
	}
	if date.kind == cellWall && len(day) > len("2006-01-02") {
		day = day[:len("2006-01-02")]
	}
	return m.clock.Resolve(text, day)
}

// floored is the start of a time's day.
func floored(us int64) int64 { return us - ((us%dayMicros)+dayMicros)%dayMicros }

// value reads one cell for the channels mapped from it, in the unit that the
// row names, or the profile's.
func (m *Mapper) value(c Cell, slot, col int, spelling string) *Problem {
	v, decimals := c.num, int(c.decimals)
	switch c.kind {
	case cellNone:
		return nil
	case cellText:
		t := bytes.TrimSpace(c.text)
		if len(t) == 0 || m.isMissingText(t) {
			return nil
		}
		var ok bool
		if v, decimals, ok = readNumber(t, m.mark); !ok {
			return m.notANumber(slot, col, t)
		}
	case cellNumber:
		if m.isMissingNumber(c) {
			return nil
		}
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return m.notANumber(slot, col, c.Append(nil))
		}
	default:
		return &Problem{slot, fmt.Sprintf("%s: %s is a time, not a number", m.columns[col].Name, c.Append(nil)), ""}
	}
	for ; col >= 0; col = m.columns[col].next {
		if p := m.put(c, slot, col, v, decimals, spelling); p != nil {
			return p
		}
	}
	return nil
}

func (m *Mapper) isMissingText(t []byte) bool {
	for _, k := range m.missing {
		if bytes.Equal(t, k.text) {
			return true
		}
	}
	return false
}

func (m *Mapper) isMissingNumber(c Cell) bool {
	if len(m.missing) == 0 {
		return false
	}
	// NaN equals no number, but may be a mark by its name.
	t := c.Append(nil)
	for _, k := range m.missing {
		if c.num == k.num || bytes.Equal(t, k.text) {
			return true
		}
	}
	return false
}

func (m *Mapper) notANumber(slot, col int, t []byte) *Problem {
	id := m.in.Profile.ID
	hint := fmt.Sprintf("add it to missing in profiles/%s.toml if it means \"no value\"", id)
	if m.mark == '.' && bytes.IndexByte(t, ',') >= 0 {
		hint = fmt.Sprintf("is the decimal mark a comma? decimal = \",\" in profiles/%s.toml", id)
	}
	if m.mark == ',' && bytes.IndexByte(t, '.') >= 0 {
		hint = fmt.Sprintf("is the decimal mark a point? decimal = \".\" in profiles/%s.toml", id)
	}
	return &Problem{slot, fmt.Sprintf("%s: %q is not a number", m.columns[col].Name, cut(t)), hint}
}

// put puts a number, as the log has it, into a channel, in the channel's unit.
func (m *Mapper) put(c Cell, slot, col int, v float64, decimals int, spelling string) *Problem {
	k := &m.columns[col]
	if slices.Contains(k.Missing, v) {
		return nil
	}
	w, p := k.in(spelling)
	if p != nil {
		return &Problem{m.unitSlot, p.Msg, p.Hint}
	}
	out := w.scale.Of(v)
	if !k.channel.Possible(out) {
		return &Problem{slot,
			fmt.Sprintf("%s: %s %s is outside what %s can be, %g to %g %s", k.Name, cut(c.Append(nil)), w.spelling, k.channel.Name, k.channel.Min, k.channel.Max, k.channel.Unit),
			fmt.Sprintf("is the unit right in profiles/%s.toml? a mark for \"no value\" goes into the column's missing", m.in.Profile.ID)}
	}
	switch decimals {
	case ofDouble:
		decimals = decimalsOf(v, max(0, w.decimals), doublePrecision)
	case ofSingle:
		decimals = decimalsOf(v, max(0, w.decimals), singlePrecision)
	}
	w.decimals = max(w.decimals, decimals)
	m.vals[col] = out
	return nil
}

// maxUnits bounds the units that the rows of one signal may name: a log has a
// handful, and any more are no units.
const maxUnits = 64

// in finds the unit in which a row has the column's value.
func (c *mapped) in(spelling string) (*measure, *diag.Diagnostic) {
	if spelling == "" {
		return &c.units[0], nil
	}
	i := slices.IndexFunc(c.units, func(w measure) bool { return w.spelling == spelling })
	if i < 0 {
		if len(c.units) == maxUnits {
			c.units = slices.DeleteFunc(c.units, func(w measure) bool { return w.bad != nil })
		}
		i = len(c.units)
		_ = c.measure(spelling) // kept in bad
	}
	w := &c.units[i]
	if w.bad != nil {
		return nil, diag.New(diag.Pos{}, "%s: %s", c.Name, w.bad.Msg).WithHint("%s", w.bad.Hint)
	}
	return w, nil
}
