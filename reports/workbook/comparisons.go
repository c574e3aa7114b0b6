package workbook

import (
	"fmt"
	"strings"

	"coldbench/metrics/edition"
)

// fillControls sets the cold beside each car's own control.
func (b *book) fillControls() {
	s := b.controls
	s.widths = []float64{26, 34, 14, 14, 14, 14, 14, 14}
	s.frozen = [2]int{0, 5}
	s.repeat = [2]int{5, 5}
	row := s.heading("Cold and control", "Each figure of a session in the cold, less the mean of the same car's control sessions. None of it moves a place.", len(s.widths))
	if len(b.e.Penalties) == 0 {
		s.across(1, row, len(s.widths), "No car has a session in the cold and a control.", body)
		return
	}
	heads := row
	s.heads(1, row, "session", "figure", ">cold", ">± cold", ">control", ">± control", ">cold less control", ">± cold less control")
	for _, p := range b.e.Penalties {
		row++
		s.linkTo(1, row, p.Session, b.bySession[p.Session], linked)
		s.put(2, row, b.figureTitle(p.Figure), wrapped)
		unit := b.e.Definition(p.Figure).Unit
		for i, v := range []struct{ v, u float64 }{{p.Cold, p.ColdU}, {p.Control, p.ControlU}, {p.Difference, p.U}} {
			s.put(3+2*i, row, v.v, body.with(b.valued(v.v, &v.u, unit)))
			s.put(4+2*i, row, v.u, body.with(b.uncertain(v.v, &v.u, unit)))
		}
	}
	s.table("control", 1, heads, len(s.widths), row, true)
}

// fillComparisons sets beside each other what the standings do not show: the ranking
// by category, what other windows of charge would make of the cars, how firm the first
// place is, and how far a car's nights differ.
func (b *book) fillComparisons() {
	s := b.comparisons
	s.widths = []float64{30, 26, 16, 16, 18, 18, 18}
	toCol := len(s.widths)
	s.frozen = [2]int{0, 3}
	row := s.heading("Comparisons", "Other ways to look at the same results. None of them moves a place.", toCol)
	for _, part := range []struct {
		title, explain string
		fill           func(row int) int
	}{
		{"By category", "The ranking by the points of each category alone, at the edition's weights.", b.fillCategories},
		{"How firm the first place is", "How far one weight may move, the others as they are, before another car has the most points.", b.fillShifts},
		{"Sessions of one car, combined", "The mean of a car's sessions, what one of them is uncertain by, and what they differ by beyond that. Two or three sessions tell little of how far they scatter, so the range in which the mean lies with 95 % is wide then (Student's t).", b.fillReplicates},
		{"One car's nights beside cars", "The standard deviation between sessions of one car, and between cars beyond that (one-way analysis of variance); p is the chance of such an F if all cars were alike.", b.fillVariances},
		{"Other windows of charge", "What each window would make of the ranked cars. Places gained are against the common window.", b.fillWindows},
	} {
		s.across(1, row, toCol, part.title, section)
		s.across(1, row+1, toCol, part.explain, para)
		next := part.fill(row + 2)
		if next == row+2 {
			s.across(1, next, toCol, "Nothing to compare.", body)
			s.blocks = append(s.blocks, [2]int{row, next})
			next++
		}
		row = next + 1
	}
}

// compared makes a table of heads and rows, below two lines of what it is.
func (b *book) compared(name string, heads, toCol, last int) int {
	return 1 + b.comparisons.paged(long{name: name, top: heads - 2, again: heads, heads: heads, toCol: toCol, last: last})
}

func (b *book) fillCategories(row int) int {
	s, heads := b.comparisons, row
	for _, c := range b.e.Categories {
		for _, x := range c.Cars {
			row++
			s.put(1, row, c.Name, wrapped)
			s.put(2, row, b.e.Name(x.Vehicle), wrapped)
			s.put(3, row, x.Score, body.with(b.valued(x.Score, &x.U, "")))
			s.put(4, row, x.U, body.with(b.uncertain(x.Score, &x.U, "")))
			s.put(5, row, x.Place, body.with("0"))
			s.put(6, row, placeRange(edition.Standing{Lowest: x.Lowest, Highest: x.Highest}), look{ruled: true, align: "right"})
		}
	}
	if row == heads {
		return row
	}
	s.heads(1, heads, "category", "car", ">points", ">standard uncertainty", ">place in it", ">places, 95 %")
	return b.compared("categories", heads, 6, row)
}

func (b *book) fillWindows(row int) int {
	s, heads := b.comparisons, row
	for _, w := range b.e.Windows {
		for _, t := range w.Times {
			row++
			s.put(1, row, w.Title, wrapped)
			s.put(2, row, b.e.Name(t.Vehicle), wrapped)
			s.put(3, row, t.Value, body.with(b.valued(t.Value, &t.U, "min")))
			s.put(4, row, t.U, body.with(b.uncertain(t.Value, &t.U, "min")))
			s.put(5, row, t.Place, body.with("0"))
			s.put(6, row, t.Gained, body.with("+0;-0;0"))
		}
	}
	if row == heads {
		return row
	}
	s.heads(1, heads, "window", "car", ">time", ">standard uncertainty", ">place by it", ">places gained")
	return b.compared("windows", heads, 6, row)
}

func (b *book) fillShifts(row int) int {
	s, heads := b.comparisons, row
	if len(b.e.Shifts) == 0 {
		return row
	}
	s.heads(1, row, "figure", "category", ">weight", ">may fall to", "below it leads", ">may rise to", "above it leads")
	s.put(5, row, "below it leads", headNext)
	s.put(7, row, "above it leads", headNext)
	for i, x := range b.e.Shifts {
		row++
		s.put(1, row, b.figureTitle(x.Figure), wrapped)
		s.put(2, row, b.e.Scales[i].Category, body)
		s.put(3, row, x.Weight, body.with(b.valued(x.Weight, nil, "")))
		for i, y := range []struct {
			to   float64
			lead string
		}{{x.Lower, x.LowerTo}, {x.Higher, x.HigherTo}} {
			if y.lead == "" {
				s.put(4+2*i, row, "any", look{ruled: true, align: "right", color: faint})
				s.put(5+2*i, row, nil, body)
				continue
			}
			s.put(4+2*i, row, y.to, body.with("0.00"))
			s.put(5+2*i, row, b.e.Name(y.lead), next)
		}
	}
	return b.compared("first_place", heads, 7, row)
}

func (b *book) fillVariances(row int) int {
	s, heads := b.comparisons, row
	if len(b.e.Variances) == 0 {
		return row
	}
	s.heads(1, row, "figure", "of", ">one car's sessions differ by", ">cars differ by", ">F", ">p")
	for _, v := range b.e.Variances {
		row++
		unit := b.e.Definition(v.Figure).Unit
		ofSD := func(sd float64) look { return body.with(b.uncertain(sd, &sd, unit)) }
		s.put(1, row, b.figureTitle(v.Figure), wrapped)
		s.put(2, row, fmt.Sprintf("%d cars, %d sessions", v.Cars, v.Sessions), body)
		s.put(3, row, v.Repeatability, ofSD(v.Repeatability))
		s.put(4, row, v.CarsSD, ofSD(v.CarsSD))
		s.put(5, row, v.F, body.with("0.0"))
		s.put(6, row, v.P, body.with(chance(v.P)))
	}
	return b.compared("variances", heads, 6, row)
}

// chance is the number format of a probability that may be too small to be written.
func chance(p float64) string {
	if said := edition.Chance(p); strings.Contains(said, "<") {
		return quoted(said)
	}
	return "0.000"
}

// fillReplicates writes what the sessions of each car that has several scatter.
func (b *book) fillReplicates(row int) int {
	s, heads := b.comparisons, row
	line := func(car string, v edition.Counted) {
		if v.Spread == nil || v.Value == nil {
			return
		}
		row++
		unit := b.e.Definition(v.Figure).Unit
		s.put(1, row, car, wrapped)
		s.put(2, row, b.figureTitle(v.Figure), wrapped)
		s.put(3, row, v.Spread.Sessions, body.with("0"))
		s.put(4, row, v.Value, body.with(b.valued(*v.Value, v.U, unit)))
		for i, u := range []float64{v.Spread.Within, v.Spread.Between, v.Spread.Expanded} {
			s.put(5+i, row, u, body.with(b.uncertain(*v.Value, &u, unit)))
		}
	}
	for _, st := range b.e.Standings {
		for i, v := range st.Values {
			line(b.e.Name(st.Vehicle), v)
			if i < len(st.Beside) {
				line(b.e.Name(st.Vehicle), st.Beside[i])
			}
		}
	}
	if row == heads {
		return row
	}
	s.heads(1, heads, "car", "figure", ">sessions", ">mean", ">uncertainty of one session", ">what sessions add to that", ">95 % range of the mean")
	return b.compared("combined", heads, 7, row)
}

// fillMoved lists what moved since the edition before.
func (b *book) fillMoved(s *sheet, row, toCol int) int {
	if b.before == nil {
		return row
	}
	title := "What moved since edition " + b.before.ID
	changes := edition.Compare(b.before, b.e)
	if len(changes) == 0 {
		s.across(1, row, toCol, title, label)
		s.across(1, row+1, toCol, "Nothing that counts.", wrapped)
		s.blocks = append(s.blocks, [2]int{row, row + 1})
		return row + 3
	}
	var said [][2]string
	for _, c := range changes {
		text := c.Text
		if c.Why != "" {
			text += " (" + c.Why + ")"
		}
		said = append(said, [2]string{c.What, text})
	}
	return s.list(row, toCol, title, said)
}
