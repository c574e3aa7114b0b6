package source

import "fmt"

// A fall is what is known of rows that go back one after the other: whether they
// are late ones, which belong between those above, or the clock was reset.
type fall struct {
	line  int64 // of the first of them
	first int64 // its time
	last  int64 // time of the latest
	step  int64 // the longest between two of them that follow each other
	spent int64 // how long the log has gone on since, by the new clock
	kept  int64 // rows that were kept before them
	aside []int // their places in Report.Aside, until it is known
	reset bool
}

// fallen looks at a row that went back and is the last set aside. A clock that was
// reset goes back to where the log began, or before it, and goes on from there:
// more rows than may be strays, none of the old clock among them. A log may begin
// with rows that are late by up to a jump.
func (o *Order) fallen(b *Batch, report *Report, row Row) {
	f := &o.fall
	switch {
	case len(f.aside) > 0 && f.kept == report.RowsKept && row.At >= f.last:
		f.goOn(row.At)
	case row.At <= o.first || o.last-row.At > o.jump && row.At <= o.first+o.jump:
		*f = fall{line: row.Line, first: row.At, last: row.At, kept: report.RowsKept}
	default:
		*f = fall{}
		return
	}
	f.aside = append(f.aside, len(report.Aside)-1)
	if len(f.aside) <= maxHeld {
		return
	}
	was := *f
	o.settleAll(b, report) // they came before the reset
	*f = was
	f.reset = true
	o.until = o.last - 1 // no row plainly follows any more
	for i, at := range f.aside {
		a := &report.Aside[at]
		if a.Reason, a.Hint = f.behind(), ""; i == 0 {
			a.Reason, a.Hint = fmt.Sprintf("the clock is reset here: time goes back by %s s and goes on from there", seconds(o.last-f.first)), o.resetHint()
		}
	}
}

// goOn takes a row of the new clock.
func (f *fall) goOn(at int64) {
	f.step = max(f.step, at-f.last)
	f.spent += at - f.last
	f.last = at
}

// reset sets a row aside that comes after a reset of the clock, whatever its time.
// Only where the log is back where it fell from, or where the old clock would now
// be, does that go on.
func (o *Order) reset(report *Report, row Row) bool {
	f := &o.fall
	if !f.reset {
		return false
	}
	switch ahead := row.At - o.last; {
	case row.At >= f.last && row.At <= f.last+max(o.jump, 2*f.step):
		f.goOn(row.At)
	case ahead >= 0 && (ahead <= o.jump || ahead >= f.spent-o.jump && ahead <= f.spent+o.jump):
		*f = fall{}
		return false
	case row.At < f.last: // reset again
		f.last = row.At
	}
	o.aside(report, row, f.behind(), "")
	return true
}

func (f *fall) behind() string {
	return fmt.Sprintf("comes after the clock's reset in line %d", f.line)
}

func (o *Order) resetHint() string {
	hint := fmt.Sprintf("put what comes from line %d on into a file of its own, a source with its own start or offset_s", o.fall.line)
	if o.profile != "" {
		hint += fmt.Sprintf("; only if these rows belong between those above, order = \"any\" in profiles/%s.toml", o.profile)
	}
	return hint
}
