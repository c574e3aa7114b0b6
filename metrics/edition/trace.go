package edition

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strconv"
)

// A Trace is a session as charts draw it: rows of one second, thinned, in
// columns of one length. NaN means that nothing was logged, or too long ago to
// stand for that second.
type Trace struct {
	T         []float64 `json:"t_s"`        // after the session's zero, rising
	PackKW    Column    `json:"pack_kw"`    // into the pack
	ChargerKW Column    `json:"charger_kw"` // from the charger
	HeaterKW  Column    `json:"heater_kw"`  // into the pack's heater
	SoCPct    Column    `json:"soc_pct"`    // as displayed
	PackMinC  Column    `json:"pack_min_c"` // coldest sensor
	PackKWh   Column    `json:"pack_kwh"`   // into the pack since the plug-in that the charge came from
	Whole     int       `json:"whole"`      // rows before thinning
}

// A Column is values of which NaN means that there is none; JSON has null for it.
type Column []float64

// MarshalJSON implements json.Marshaler.
func (c Column) MarshalJSON() ([]byte, error) {
	b := []byte{'['}
	for i, v := range c {
		if i > 0 {
			b = append(b, ',')
		}
		switch {
		case math.IsNaN(v):
			b = append(b, "null"...)
		case math.IsInf(v, 0):
			return nil, fmt.Errorf("value %v", v)
		default:
			b = strconv.AppendFloat(b, v, 'f', -1, 64)
		}
	}
	return append(b, ']'), nil
}

// UnmarshalJSON implements json.Unmarshaler. It takes what MarshalJSON writes, in
// one pass: an edition of many sessions has a million of these values.
func (c *Column) UnmarshalJSON(data []byte) error {
	*c = nil
	inside, ok := bytes.CutPrefix(bytes.TrimSpace(data), []byte("["))
	if !ok {
		if string(data) == "null" {
			return nil
		}
		return fmt.Errorf("column %.20q is no array", data)
	}
	inside = bytes.TrimSpace(bytes.TrimSuffix(inside, []byte("]")))
	if len(inside) == 0 {
		return nil
	}
	*c = make(Column, 0, 1+bytes.Count(inside, []byte(",")))
	for text := range bytes.SplitSeq(inside, []byte(",")) {
		text = bytes.TrimSpace(text)
		v := math.NaN()
		if string(text) != "null" {
			var err error
			if v, err = strconv.ParseFloat(string(text), 64); err != nil {
				return fmt.Errorf("column: %w", err)
			}
		}
		*c = append(*c, v)
	}
	return nil
}

// columns are what a trace holds beside its time.
func (t *Trace) columns() []*Column {
	return []*Column{&t.PackKW, &t.ChargerKW, &t.HeaterKW, &t.SoCPct, &t.PackMinC, &t.PackKWh}
}

// Thin returns the trace with at most rows rows, or about as many where rows is
// less than some fifty. Its time is cut into stretches of the same length, as
// many as fit; of each stretch the first and the last row stay, for each column
// but the energy the rows of its lowest and its highest value, for each power
// both rows of its greatest step, and the first row at which anything is
// missing. Nothing is averaged: every row that is left is a row that was there,
// so steps, peaks and gaps stay where they were.
func (t Trace) Thin(rows int) Trace {
	n := len(t.T)
	if t.Whole == 0 {
		t.Whole = n
	}
	if n <= rows || n < 3 {
		return t
	}
	// The more stretches, the more rows; halve the interval between too few and
	// too many.
	columns := t.columns()
	best, low, high := t.kept(1, columns[:5], nil), 1, rows
	var spare []int
	for low < high {
		mid := (low + high + 1) / 2
		if kept := t.kept(mid, columns[:5], spare[:0]); len(kept) <= rows {
			best, spare, low = kept, best, mid
		} else {
			spare, high = kept, mid-1
		}
	}
	out := Trace{T: pick(t.T, best), Whole: t.Whole}
	to := out.columns()
	for i, c := range columns {
		*to[i] = pick(*c, best)
	}
	return out
}

func pick(column []float64, at []int) []float64 {
	out := make([]float64, len(at))
	for i, k := range at {
		out[i] = column[k]
	}
	return out
}

// kept appends to out the rows that stay where the trace is cut into n stretches.
func (t *Trace) kept(n int, columns []*Column, out []int) []int {
	first, span := t.T[0], t.T[len(t.T)-1]-t.T[0]
	stretch := func(i int) int { return min(int((t.T[i]-first)/span*float64(n)), n-1) }
	for from := 0; from < len(t.T); {
		to, of := from+1, stretch(from)
		for to < len(t.T) && stretch(to) == of {
			to++
		}
		out = telling(columns, from, to, out)
		from = to
	}
	return out
}

// telling appends to out the rows of from..to that stay, in order.
func telling(columns []*Column, from, to int, out []int) []int {
	var room [2 + 5*5]int
	keep := append(room[:0], from, to-1)
	for i, column := range columns {
		c := *column
		lowest, highest, step, missing := -1, -1, -1, -1
		for k := from; k < to; k++ {
			v := c[k]
			if math.IsNaN(v) {
				if missing < 0 {
					missing = k
				}
				continue
			}
			if lowest < 0 || v < c[lowest] {
				lowest = k
			}
			if highest < 0 || v > c[highest] {
				highest = k
			}
			if k > from && (step < 0 || math.Abs(v-c[k-1]) > math.Abs(c[step]-c[step-1])) && !math.IsNaN(c[k-1]) {
				step = k
			}
		}
		for _, k := range []int{lowest, highest, missing} {
			if k >= 0 {
				keep = append(keep, k)
			}
		}
		// A step that is small beside the stretch's whole range is the wobble of a
		// measurement, which the lowest and the highest show.
		if i < 3 && step > 0 && math.Abs(c[step]-c[step-1]) > (c[highest]-c[lowest])/2 {
			keep = append(keep, step-1, step)
		}
	}
	slices.Sort(keep)
	return append(out, slices.Compact(keep)...)
}
