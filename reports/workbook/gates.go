package workbook

import (
	"fmt"
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

// gatesPerTable is the most gates that stand side by side; more could not be read on paper.
const gatesPerTable = 6

func (b *book) fillGates() {
	s := b.gates
	var names []string
	for _, g := range b.e.Gates {
		if !slices.Contains(names, g.Gate) {
			names = append(names, g.Gate)
		}
	}
	s.widths = []float64{28, 24}
	for range gatesPerTable {
		s.widths = append(s.widths, 16)
	}
	toCol := len(s.widths)
	s.frozen = [2]int{2, 3}
	row := s.heading("Gates", "A gate decides whether a session may be ranked: passed; flagged may be ranked, with the reason in the sheet Reasons; failed may not; "+
		"cannot tell, as what it needs was not logged, may too. The rules stand in the sheet Method.", toCol)
	judged := map[[2]string]edition.Verdict{}
	for _, g := range b.e.Gates {
		judged[[2]string{g.Session, g.Gate}] = g.Verdict
	}
	n := 0
	for chunk := range slices.Chunk(names, gatesPerTable) {
		n++
		top := row
		s.heads(1, row, "session", "car")
		for i, name := range chunk {
			l := head
			l.align = "center"
			s.put(3+i, row, b.gateTitle(name), l)
		}
		for _, ses := range b.e.Sessions {
			if !slices.ContainsFunc(chunk, func(name string) bool { return judged[[2]string{ses.ID, name}] != "" }) {
				continue // gates of another procedure
			}
			row++
			s.linkTo(1, row, ses.ID, b.bySession[ses.ID], linked)
			s.put(2, row, b.carOf[ses.ID], wrapped)
			for i, name := range chunk {
				v := judged[[2]string{ses.ID, name}]
				if v == "" {
					s.put(3+i, row, "not judged", look{ruled: true, align: "center", color: faint})
					continue
				}
				s.put(3+i, row, string(v), verdicts[v])
			}
		}
		row = 2 + s.paged(long{name: fmt.Sprintf("gates_%d", n), top: top, again: top, heads: top, toCol: 2 + len(chunk), last: row})
	}
}

// fillReasons lists every gate's verdict on every session with its reason.
func (b *book) fillReasons() {
	s := b.reasons
	s.widths = []float64{28, 22, 30, 14, 70}
	s.frozen = [2]int{0, 5}
	s.repeat = [2]int{5, 5}
	row := s.partlyHeading("Reasons", "Why a session passed a gate or did not.", "data/gates.csv")
	heads := row
	s.heads(1, row, "session", "car", "gate", "verdict", "reason")
	for _, g := range b.e.Gates {
		if !b.detailed[g.Session] {
			continue
		}
		row++
		s.put(1, row, g.Session, wrapped)
		s.put(2, row, b.carOf[g.Session], wrapped)
		s.put(3, row, b.gateTitle(g.Gate), wrapped)
		s.put(4, row, string(g.Verdict), verdicts[g.Verdict])
		s.put(5, row, g.Reason, wrapped)
	}
	s.table("reasons", 1, heads, len(s.widths), row, true)
}

// gateTitle is a gate's title, or its name where the edition has no such rule.
func (b *book) gateTitle(name string) string {
	if r := b.e.RuleOf(name); r.Title != "" {
		return r.Title
	}
	return name
}
