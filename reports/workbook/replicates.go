package workbook

import (
	"fmt"

	"coldbench/metrics/edition"
)

// fillReplicates writes, below the gates, what the sessions of one car scatter: of
// each car that has several, and of all beside how far cars differ.
func (b *book) fillReplicates(row int) {
	s := b.gates
	toCol := len(s.widths)
	type line struct {
		car string
		edition.Counted
	}
	var lines []line
	for _, st := range b.e.Standings {
		for i, v := range st.Values {
			if v.Spread != nil && v.Value != nil {
				lines = append(lines, line{b.e.Name(st.Vehicle), v})
			}
			if i < len(st.Beside) && st.Beside[i].Spread != nil && st.Beside[i].Value != nil {
				lines = append(lines, line{b.e.Name(st.Vehicle), st.Beside[i]})
			}
		}
	}
	if len(lines) > 0 {
		s.across(1, row, toCol, "Sessions of one car, combined", section)
		row++
		s.heads(1, row, "car", "figure", ">sessions", ">mean", ">uncertainty of one session", ">what sessions add to that")
		for _, l := range lines {
			row++
			unit := b.e.Definition(l.Figure).Unit
			digits := digits(unit, l.U)
			s.put(1, row, l.car, wrapped)
			s.put(2, row, b.figureTitle(l.Figure), wrapped)
			s.put(3, row, l.Spread.Sessions, body.with("0"))
			s.put(4, row, l.Value, body.with(unitFormat(digits, unit, "", "")))
			s.put(5, row, l.Spread.Within, body.with(unitFormat(digits, unit, "± ", "")))
			s.put(6, row, l.Spread.Between, body.with(unitFormat(digits, unit, "± ", "")))
		}
		row += 2
	}
	if len(b.e.Variances) == 0 {
		return
	}
	s.across(1, row, toCol, "Sessions of one car beside cars: standard deviations, by a one-way analysis of variance", section)
	row++
	s.heads(1, row, "figure", "of", ">one car's sessions differ by", ">cars differ by", ">F", ">chance of such an F if all cars were alike")
	for _, v := range b.e.Variances {
		row++
		unit := b.e.Definition(v.Figure).Unit
		digits := digits(unit, &v.Repeatability)
		s.put(1, row, b.figureTitle(v.Figure), wrapped)
		s.put(2, row, fmt.Sprintf("%d cars, %d sessions", v.Cars, v.Sessions), wrapped)
		s.put(3, row, v.Repeatability, body.with(unitFormat(digits, unit, "± ", "")))
		s.put(4, row, v.CarsSD, body.with(unitFormat(digits, unit, "± ", "")))
		s.put(5, row, v.F, body.with("0.0"))
		s.put(6, row, v.P, body.with("0.000"))
	}
}
