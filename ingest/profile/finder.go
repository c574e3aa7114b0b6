package profile

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"coldbench/ingest/series"
	"coldbench/ingest/source"
	"coldbench/warehouse/channel"
	"coldbench/warehouse/diag"
)

// Wanted returns the names of the columns that a profile needs, each once.
func Wanted(p *series.Profile) []string {
	names := []string{p.Clock.Column, p.Clock.Date}
	if p.Layout == "long" {
		names = append(names, p.Signal, p.Value, p.Unit)
	} else {
		for _, c := range p.Columns {
			names = append(names, c.Name)
		}
	}
	var wanted []string
	for _, n := range names {
		if n = strings.TrimSpace(n); n != "" && !slices.Contains(wanted, n) {
			wanted = append(wanted, n)
		}
	}
	return wanted
}

// A finder finds columns by name.
type finder struct {
	in    source.Input
	names []string
	pos   diag.Pos
	has   string
	l     diag.List
	uses  []columnUse
}

// A columnUse is what a column is for: a channel from 0, or one of those below.
type columnUse struct{ index, what int }

const (
	forClock  = -1
	forDate   = -2
	forSignal = -3
	forValue  = -4
	forUnit   = -5
)

// find returns the place of a column, or -1.
func (f *finder) find(name string) int {
	name = strings.TrimSpace(name)
	i := slices.Index(f.names, name)
	if i < 0 || name == "" {
		hint := diag.DidYouMean(name, f.names)
		if hint == "" {
			hint = f.has + ": " + listed(f.names)
		}
		f.l.Add(f.pos, "no column %q, which profiles/%s.toml maps", name, f.in.Profile.ID).WithHint("%s", hint)
		return -1
	}
	if slices.Contains(f.names[i+1:], name) {
		f.l.Add(f.pos, "column %q stands twice in the header", name).WithHint("the profile cannot tell which is meant")
	}
	return i
}

// listed lists names, not more than fit on a screen.
func listed(names []string) string {
	const most = 50
	if len(names) > most {
		return fmt.Sprintf("%s and %d more", strings.Join(names[:most], ", "), len(names)-most)
	}
	return strings.Join(names, ", ")
}

func (f *finder) use(name string, what int, at diag.Pos) {
	i := f.find(name)
	if i < 0 {
		return
	}
	for _, u := range f.uses {
		if u.index == i && (u.what < 0 || what < 0) {
			f.l.Add(at, "column %q cannot be mapped twice: it is the clock's, or names the signal, its value or its unit", f.names[i])
			return
		}
	}
	f.uses = append(f.uses, columnUse{i, what})
}

func (m *Mapper) mapColumns(f *finder) error {
	p := m.in.Profile
	if len(p.Columns) == 0 {
		f.l.Add(p.At("column"), "the profile maps no column")
	}
	long := p.Layout == "long"
	f.use(p.Clock.Column, forClock, p.At("clock", "column"))
	if p.Clock.Date != "" {
		f.use(p.Clock.Date, forDate, p.At("clock", "date_column"))
	}
	if long {
		m.signals = map[string]int{}
		f.use(p.Signal, forSignal, p.At("signal_column"))
		f.use(p.Value, forValue, p.At("value_column"))
		if p.Unit != "" {
			f.use(p.Unit, forUnit, p.At("unit_column"))
		}
	}
	for i, c := range p.Columns {
		col := mapped{Column: c, next: -1}
		// The profile was checked for both when the series was read.
		var err error
		if col.channel, err = channel.Find(c.Channel); err != nil {
			return err
		}
		if err := col.measure(c.Unit); err != nil {
			return err
		}
		if name := strings.TrimSpace(c.Name); long {
			if j, ok := m.signals[name]; ok {
				col.next = j
			}
			m.signals[name] = i
		} else {
			f.use(c.Name, i, p.At("column", fmt.Sprint(i), "name"))
		}
		m.columns = append(m.columns, col)
	}
	// By place, so that of several problems of a row the leftmost is told.
	slices.SortStableFunc(f.uses, func(a, b columnUse) int { return cmp.Compare(a.index, b.index) })
	for _, u := range f.uses {
		slot := len(m.index) - 1
		if slot < 0 || m.index[slot] != u.index {
			m.index, m.first = append(m.index, u.index), append(m.first, -1)
			slot++
		}
		switch u.what {
		case forClock:
			m.clockSlot = slot
		case forDate:
			m.dateSlot = slot
		case forSignal:
			m.signalSlot = slot
		case forValue:
			m.valueSlot = slot
		case forUnit:
			m.unitSlot = slot
		default:
			m.columns[u.what].next, m.first[slot] = m.first[slot], u.what
		}
	}
	return nil
}
