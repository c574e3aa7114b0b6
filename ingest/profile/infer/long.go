package infer

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// maxSignals bounds the signals of the long layout.
const maxSignals = 400

// long finds out whether a table has a row a value: one column names the signal,
// another holds its value, perhaps a third its unit. If so, it returns the table
// with a column a signal.
func (p *Proposal) long(t *table) *table {
	if len(t.names) > 8 {
		return t
	}
	signal, value, unitCol := -1, -1, -1
	var signals []string
	var unnamed []int // columns of numbers that fall somewhere, which a clock does not
	for i := range t.names {
		names, unitRows, numbers, filled := []string{}, 0, 0, 0
		for _, row := range t.rows {
			if i >= len(row) || strings.TrimSpace(row[i]) == "" {
				continue
			}
			s := strings.TrimSpace(row[i])
			filled++
			if isNumber(s) {
				numbers++
			} else if _, ok := unitRow(s); ok {
				unitRows++
			}
			if !slices.Contains(names, s) && len(names) <= maxSignals {
				names = append(names, s)
			}
		}
		switch {
		case filled == 0:
		case unitRows*10 >= filled*9:
			unitCol = i
		case numbers == 0 && len(names) <= maxSignals && len(names)*3 <= filled && meaningful(names):
			signal, signals = i, names
		case numbers*10 >= filled*9 && slices.Contains([]string{"value", "val", "v", "wert", "verdi", "waarde", "varde", "valeur", "reading"}, folded(t.names[i])):
			value = i
		case numbers*10 >= filled*9 && t.fall(i):
			unnamed = append(unnamed, i)
		}
	}
	if value < 0 && len(unnamed) == 1 && p.Kind == "delimited" && p.Profile.HeaderRow == 0 {
		value = unnamed[0]
	}
	if signal < 0 || value < 0 {
		return t
	}
	var rest []int // columns of which one is the clock
	w := &table{mark: t.mark}
	for i, name := range t.names {
		if i != signal && i != value && i != unitCol {
			rest, w.names = append(rest, i), append(w.names, name)
		}
	}
	at := map[string]int{}
	for _, s := range signals {
		at[s] = len(w.names)
		w.names = append(w.names, s)
	}
	w.units = make([]string, len(w.names))
	for _, row := range t.rows {
		cell := func(i int) string {
			if i < 0 || i >= len(row) {
				return ""
			}
			return strings.TrimSpace(row[i])
		}
		cells := make([]string, len(w.names))
		for k, i := range rest {
			cells[k] = cell(i)
		}
		if k, ok := at[cell(signal)]; ok {
			cells[k] = cell(value)
			if w.units[k] == "" {
				w.units[k] = cell(unitCol)
			}
		}
		w.add(cells)
	}
	w.seen = t.seen
	w.signals = len(rest)
	p.Profile.Layout, p.Profile.Signal, p.Profile.Value = "long", t.names[signal], t.names[value]
	if unitCol >= 0 {
		p.Profile.Unit = t.names[unitCol]
	}
	p.fact("layout", "long", High, "a row a value: %q names %d signals, %q holds their values", t.names[signal], len(signals), t.names[value])
	return w
}

// fall reports whether a column's numbers fall somewhere.
func (t *table) fall(i int) bool {
	last := math.Inf(-1)
	for _, row := range t.rows {
		if i >= len(row) {
			continue
		}
		if v, ok := number(strings.TrimSpace(row[i]), t.mark); ok {
			if v < last {
				return true
			}
			last = v
		}
	}
	return false
}

// meaningful reports whether texts name what is measured, at least two of them.
func meaningful(names []string) bool {
	n := 0
	for _, s := range names {
		if w := read(s, ""); w.any(quantities) {
			n++
		}
	}
	return n >= 2 || n == 1 && len(names) == 1
}

// notSignal says why a column of the long layout beside its signals is not mapped.
func (p *Proposal) notSignal() string {
	return fmt.Sprintf("in the long layout only the signals that %q names are mapped", p.Profile.Signal)
}
