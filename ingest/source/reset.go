package source

import "fmt"

// A fall is what is known of rows that go back: whether they are late ones, which
// belong between those above, or the clock was reset.
type fall struct {
	line  int64 // of the first of them
	first int64 // its time
	last  int64 // time of the latest
	aside []int // their places in Report.Aside, until it is known
	reset bool
}

// fallen looks at a row that went back and is the last set aside. A clock that
// was reset goes back to where the log began, or before it, and goes on from there.
func (o *Order) fallen(b *Batch, report *Report, row Row) {
	f := &o.fall
	switch {
	case len(f.aside) > 0 && row.At >= f.last && row.At <= f.last+jump:
	case o.last-row.At > jump && row.At <= o.first+jump:
		*f = fall{line: row.Line, first: row.At}
	default:
		*f = fall{}
		return
	}
	f.last, f.aside = row.At, append(f.aside, len(report.Aside)-1)
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

// reset sets a row aside that comes after a reset of the clock, whatever its time.
// Only where the log is back where it fell from, the old clock goes on.
func (o *Order) reset(report *Report, row Row) bool {
	f := &o.fall
	if !f.reset {
		return false
	}
	goesOn := row.At >= f.last && row.At <= f.last+jump
	if !goesOn && row.At >= o.last && row.At <= o.last+jump {
		*f = fall{}
		return false
	}
	f.last = row.At
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
