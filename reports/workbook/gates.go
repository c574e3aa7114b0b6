package workbook

import (
	"slices"

	"coldbench/metrics/edition"
)

// A verdict's mark is read without its colour, too.
var verdicts = map[edition.Verdict]look{
	edition.Passed:     {ruled: true, fill: goodFill, align: "center"},
	edition.Flagged:    {ruled: true, fill: warnFill, align: "center", italic: true},
	edition.Failed:     {ruled: true, fill: badFill, align: "center", bold: true},
	edition.CannotTell: {ruled: true, fill: unknownFill, align: "center", color: faint},
}

func (b *book) fillGates() {
	s := b.gates
	var names []string
	for _, g := range b.e.Gates {
		if !slices.Contains(names, g.Gate) {
			names = append(names, g.Gate)
		}
	}
	s.widths = []float64{24, 24}
	for range max(len(names), 4) {
		s.widths = append(s.widths, 19)
	}
	toCol := len(s.widths)
	s.frozen = [2]int{2, 3}
	row := s.heading("Gates", "A gate decides whether a session may be ranked: passed; flagged may be ranked, with the reason beside it; failed may not; "+
		"cannot tell: what it needs was not logged. The rules stand in the sheet Method.", toCol)
	s.heads(1, row, "session", "car")
	for i, name := range names {
		l := head
		l.align = "center"
		s.put(3+i, row, b.gateTitle(name), l)
	}
	judged := map[[2]string]edition.Gate{}
	for _, g := range b.e.Gates {
		judged[[2]string{g.Session, g.Gate}] = g
	}
	row++
	for _, ses := range b.e.Sessions {
		s.linkTo(1, row, ses.ID, b.bySession[ses.ID], linked)
		s.put(2, row, b.e.Name(ses.Vehicle), wrapped)
		for i, name := range names {
			g, ok := judged[[2]string{ses.ID, name}]
			if !ok {
				s.put(3+i, row, "not judged", look{ruled: true, align: "center", color: faint})
				continue
			}
			s.put(3+i, row, string(g.Verdict), verdicts[g.Verdict])
		}
		row++
	}
	row++
	s.across(1, row, toCol, "Reasons", section)
	row++
	s.heads(1, row, "session", "gate", "verdict")
	s.across(4, row, toCol, "reason", head)
	for _, g := range b.e.Gates {
		row++
		s.put(1, row, g.Session, wrapped)
		s.put(2, row, b.gateTitle(g.Gate), wrapped)
		s.put(3, row, string(g.Verdict), verdicts[g.Verdict])
		s.across(4, row, toCol, g.Reason, wrapped)
	}
	b.fillReplicates(row + 2)
}

// gateTitle is a gate's title, or its name where the edition has no such rule.
func (b *book) gateTitle(name string) string {
	if r := b.e.RuleOf(name); r.Title != "" {
		return r.Title
	}
	return name
}
