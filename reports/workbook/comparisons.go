package workbook

import (
	"fmt"

	"coldbench/metrics/edition"
)

// fillComparisons sets beside each other what the standings do not show: what
// other windows of charge would make of the cars, the cold beside each car's own
// control, how firm the first place is, and how far a car's nights differ.
func (b *book) fillComparisons() {
	s := b.comparisons
	s.widths = []float64{26, 30, 16, 14, 16, 14, 16, 14}
	toCol := len(s.widths)
	s.frozen = [2]int{0, 3}
	row := s.heading("Comparisons", "Other ways to look at the same results. None of them moves a place.", toCol)
	for _, part := range []struct {
		title, explain string
		fill           func(row int) int
	}{
		{"Cold beside the car's own control", "Each figure of a session in the cold, less the mean of the same car's control sessions.", b.fillPenalties},
		{"Other windows of charge", "What each window would make of the ranked cars. Places gained are against the common window.", b.fillWindows},
		{"How firm the first place is", "How far one weight may move, the others as they are, before another car has the most points.", b.fillShifts},
		{"One car's nights beside cars", "The standard deviation between nights of one car, and between cars beyond that (one-way analysis of variance); p is the chance of such an F if all cars were alike.", b.fillVariances},
	} {
		s.across(1, row, toCol, part.title, section)
		s.across(1, row+1, toCol, part.explain, para)
		if next := part.fill(row + 2); next > row+2 {
			row = next + 1
		} else {
			s.across(1, row+2, toCol, "Nothing to compare.", body)
			row += 4
		}
	}
}

func (b *book) fillPenalties(row int) int {
	s := b.comparisons
	if len(b.e.Penalties) == 0 {
		return row
	}
	s.heads(1, row, "session", "figure", ">cold", ">standard uncertainty", ">control", ">standard uncertainty", ">cold less control", ">standard uncertainty")
	for _, p := range b.e.Penalties {
		row++
		s.linkTo(1, row, p.Session, b.bySession[p.Session], linked)
		s.put(2, row, b.figureTitle(p.Figure), wrapped)
		unit := b.e.Definition(p.Figure).Unit
		for i, v := range []struct{ v, u float64 }{{p.Cold, p.ColdU}, {p.Control, p.ControlU}, {p.Difference, p.U}} {
			d := digits(unit, &v.u)
			s.put(3+2*i, row, v.v, body.with(unitFormat(d, unit, "", "")))
			s.put(4+2*i, row, v.u, body.with(unitFormat(d, unit, "± ", "")))
		}
	}
	return row + 1
}

func (b *book) fillWindows(row int) int {
	s := b.comparisons
	first := row
	for _, w := range b.e.Windows {
		s.across(1, row, 2, w.Title, label)
		s.heads(3, row, ">time", ">standard uncertainty", ">place by it", ">places gained")
		for _, t := range w.Times {
			row++
			d := digits("min", &t.U)
			s.across(1, row, 2, b.e.Name(t.Vehicle), wrapped)
			s.put(3, row, t.Value, body.with(unitFormat(d, "min", "", "")))
			s.put(4, row, t.U, body.with(unitFormat(d, "min", "± ", "")))
			s.put(5, row, t.Place, body.with("0"))
			s.put(6, row, t.Gained, body.with("+0;-0;0"))
		}
		row += 2
	}
	return max(first, row)
}

func (b *book) fillShifts(row int) int {
	s := b.comparisons
	if len(b.e.Shifts) == 0 {
		return row
	}
	s.heads(1, row, "figure", "", ">weight", ">may fall to", "then leads", ">may rise to", "then leads")
	for _, x := range b.e.Shifts {
		row++
		s.across(1, row, 2, b.figureTitle(x.Figure), wrapped)
		s.put(3, row, x.Weight, body.with("0.##"))
		for i, y := range []struct {
			to   float64
			lead string
		}{{x.Lower, x.LowerTo}, {x.Higher, x.HigherTo}} {
			if y.lead == "" {
				s.across(4+2*i, row, 5+2*i, "any", look{ruled: true, align: "right", color: faint})
				continue
			}
			s.put(4+2*i, row, y.to, body.with("0.00"))
			s.put(5+2*i, row, b.e.Name(y.lead), wrapped)
		}
	}
	return row + 1
}

func (b *book) fillVariances(row int) int {
	s := b.comparisons
	if len(b.e.Variances) == 0 {
		return row
	}
	s.heads(1, row, "figure", "of", ">between nights", ">between cars", ">F", ">p")
	for _, v := range b.e.Variances {
		row++
		unit := b.e.Definition(v.Figure).Unit
		s.put(1, row, b.figureTitle(v.Figure), wrapped)
		s.put(2, row, fmt.Sprintf("%d cars, %d sessions", v.Cars, v.Sessions), body)
		s.put(3, row, v.Repeatability, body.with(unitFormat(2, unit, "", "")))
		s.put(4, row, v.CarsSD, body.with(unitFormat(2, unit, "", "")))
		s.put(5, row, v.F, body.with("0.0"))
		s.put(6, row, v.P, body.with("0.000"))
	}
	return row + 1
}

// fillMoved lists what moved since the edition before.
func (b *book) fillMoved(s *sheet, row, toCol int) int {
	if b.before == nil {
		return row
	}
	s.across(1, row, toCol, "What moved since edition "+b.before.ID, label)
	changes := edition.Compare(b.before, b.e)
	if len(changes) == 0 {
		s.across(1, row+1, toCol, "Nothing that counts.", wrapped)
		return row + 3
	}
	for _, c := range changes {
		row++
		s.across(1, row, carCol, c.What, look{ruled: true, bold: true, wrap: true})
		text := c.Text
		if c.Why != "" {
			text += " (" + c.Why + ")"
		}
		s.across(pointsCol, row, toCol, text, wrapped)
	}
	return row + 2
}
