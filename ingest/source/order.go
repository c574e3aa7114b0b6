package source

import (
	"fmt"
	"math"
	"slices"
	"strconv"
)

const (
	// usualJump is how far ahead of the row above, in µs, a row's time is doubted: a
	// log has a row a minute, and one that skips less costs little. In one with
	// longer intervals it is two of them.
	usualJump = 60 * 1e6
	// maxHeld is how many rows a doubt may last, so how many stray stamps may
	// stand together.
	maxHeld = 8
	// farthest is how far behind the row above, in µs, a log's last rows may lie:
	// no row comes after them to tell a pause from a stray stamp.
	farthest = 30 * 86400 * 1e6
)

// An Order sees to it that the rows of a log are in order of time. A row that
// goes back is set aside. Where a single time, or a few, lie ahead of the row
// above and of the rows below by more than a minute, they are the stray ones:
// they are set aside, not all that comes after them. Where the clock falls back
// to where the log began and goes on from there, it was reset: all that comes
// after is set aside, for how long the logger stood still is not known.
type Order struct {
	profile string
	any     bool
	jump    int64
	first   int64 // of the rows that are kept
	last    int64
	until   int64  // up to where a row plainly follows; nowhere while rows are held, or behind a reset
	held    []held // a row that jumped, and those behind it until they tell whether it strayed
	lows    int    // of held: those more than a jump before the first
	fall    fall
}

// A Row is a row of which an Order is in doubt. Nothing in it is kept.
type Row struct {
	Line, At int64
	Vals     []float64
	Col      int    // of the time
	Name     string // of the time's cell, or ""
	Raw      []byte
}

type held struct {
	Row
	low bool
}

// NewOrder returns the order of a log read by a profile, or by none, "". With any,
// rows go into it as they come, to be sorted in.
func NewOrder(profile string, any bool) *Order {
	until := int64(math.MinInt64) // the first row may be a stray one
	if any {
		until = math.MaxInt64
	}
	return &Order{profile: profile, any: any, jump: usualJump, first: math.MaxInt64, last: math.MinInt64, until: until}
}

func (o *Order) hint() string {
	if o.profile == "" {
		return ""
	}
	return fmt.Sprintf("order = \"any\" in profiles/%s.toml has such rows sorted in", o.profile)
}

// Follows reports whether a row of that time plainly follows the rows so far, in
// which case it is the caller's to append. Else it is for Doubt.
func (o *Order) Follows(at int64) bool {
	if at < o.last || at > o.until {
		return false
	}
	if !o.any {
		o.last, o.until = at, at+o.jump
	}
	return true
}

// Back reports whether a time goes back behind a row that is kept, and says so.
func (o *Order) Back(at int64) (reason, hint string, back bool) {
	if o.any || at >= o.last {
		return "", "", false
	}
	return "time goes back by " + seconds(o.last-at) + " s", o.hint(), true
}

// Doubt appends a row to b, sets it aside, or keeps it until rows below tell.
// RowsKept and Aside of the report are seen to; RowsRead is the caller's.
func (o *Order) Doubt(b *Batch, report *Report, row Row) {
	if o.Follows(row.At) {
		o.keep(b, report, row)
		return
	}
	if o.reset(report, row) {
		return
	}
	if from := o.behind(row.At); row.At < from {
		o.aside(report, row, "time goes back by "+seconds(from-row.At)+" s", o.hint())
		o.fallen(b, report, row)
		return
	}
	h := held{Row: row, low: len(o.held) > 0 && row.At < o.held[0].At}
	h.Vals, h.Raw = slices.Clone(row.Vals), slices.Clone(row.Raw[:min(len(row.Raw), MaxRaw)])
	o.held, o.until = append(o.held, h), math.MinInt64
	if h.low {
		o.lows++
	}
	switch {
	case o.lows == 2:
		o.settle(b, report, true)
	case len(o.held)-o.lows > maxHeld:
		o.jump = max(o.jump, 2*o.step())
		o.settle(b, report, false)
	}
}

// End settles what is still in doubt. Call it behind the last row.
func (o *Order) End(b *Batch, report *Report) {
	o.settleAll(b, report)
	slices.SortStableFunc(report.Aside, func(a, b Aside) int { return int(a.Line - b.Line) })
}

func (o *Order) settleAll(b *Batch, report *Report) {
	for len(o.held) > 0 {
		o.settle(b, report, o.last != math.MinInt64 && o.held[0].At-o.last > farthest)
	}
}

// step is the shortest time between rows that are held.
func (o *Order) step() int64 {
	shortest := int64(math.MaxInt64)
	for i := 1; i < len(o.held); i++ {
		shortest = min(shortest, o.held[i].At-o.held[i-1].At)
	}
	return shortest
}

// behind is the time behind which a row of time t comes too late: of the row that
// is kept, or, by less than a jump, of the one that is in doubt.
func (o *Order) behind(t int64) int64 {
	if len(o.held) > 0 && t >= o.last && t < o.held[0].At && o.held[0].At-t <= o.jump {
		return o.held[0].At
	}
	return o.last
}

// settle ends the doubt about the first row that is held, and takes those behind
// it as if they came now. Strays are all that are not lower than the first.
func (o *Order) settle(b *Batch, report *Report, stray bool) {
	rows := o.held
	o.held, o.lows = nil, 0
	if !stray {
		o.last = rows[0].At
	}
	if o.last != math.MinInt64 {
		o.until = o.last + o.jump
	}
	if !stray {
		o.keep(b, report, rows[0].Row)
		rows = rows[1:]
	}
	below := int64(math.MaxInt64)
	for _, h := range rows {
		below = min(below, h.At)
	}
	for i, h := range rows {
		switch {
		case stray && below < rows[0].At && !h.low:
			o.aside(report, h.Row, "time lies "+seconds(h.At-below)+" s ahead of the rows below", "")
		case stray && i == 0:
			o.aside(report, h.Row, "time lies "+seconds(h.At-o.last)+" s ahead of the row above", "")
		default:
			o.Doubt(b, report, h.Row)
		}
	}
}

func (o *Order) keep(b *Batch, report *Report, row Row) {
	if o.first == math.MaxInt64 {
		o.first = row.At
	}
	report.RowsKept++
	b.Row(row.Line, row.At, row.Vals)
}

func (o *Order) aside(report *Report, row Row, reason, hint string) {
	if row.Name != "" {
		reason = "cell " + row.Name + ": " + reason
	}
	report.Aside = append(report.Aside, SetAside(row.Line, row.Col, row.Raw, reason, hint))
}

func seconds(us int64) string { return strconv.FormatFloat(float64(us)/1e6, 'f', -1, 64) }
