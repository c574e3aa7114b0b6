package workbook

import (
	"fmt"
	"slices"
	"strings"

	"coldbench/metrics/edition"
	"coldbench/metrics/standings"
	"coldbench/metrics/uncertainty"
)

// The columns of every table of the sheet Standings. The scales' columns stand
// below each other in all of them, so that one row of weights serves all.
const (
	placeCol = iota + 1
	carCol
	pointsCol
	uCol
	beforeCol // place in the edition, which does not move
	rangeCol
	scaleCol // of the first scale
)

// A ranking is where the parts of the live standings lie.
type ranking struct {
	*sheet
	scales                             []edition.Scale
	cars                               []edition.Standing
	weights, zero, full                int   // rows
	sorted                             []int // rows of cars, by the order in which they stand
	working, values, uncertain, spread int   // first rows of cars; the last is of the points' uncertainties
	common                             int   // likewise, of what of these is in common; 0: nothing is
}

func (r *ranking) lastScale() int { return scaleCol + len(r.scales) - 1 }
func (r *ranking) orderCol() int  { return r.lastScale() + 1 }
func (r *ranking) aheadCol() int  { return r.lastScale() + 2 } // cars clearly ahead

// scaleRow is a row of the scales' columns.
func (r *ranking) scaleRow(row int) string { return fixed(scaleCol, row, r.lastScale(), row) }

// cars' column in the working.
func (r *ranking) carsIn(col int) string {
	return fixed(col, r.working, col, r.working+len(r.cars)-1)
}

// pageOfCars are as many as a page holds of the working, however few scales there are.
const pageOfCars = 24

func (b *book) fillStandings() {
	s := b.standings
	r := &ranking{sheet: s, scales: b.e.Scales}
	var unranked []edition.Standing
	for _, st := range b.e.Standings {
		if st.Place > 0 {
			r.cars = append(r.cars, st)
		} else {
			unranked = append(unranked, st)
		}
	}
	s.widths = []float64{8, 26, 11, 11, 12, 12}
	for range r.scales {
		s.widths = append(s.widths, 15)
	}
	s.widths = append(s.widths, 8, 8)
	toCol := max(r.lastScale(), rangeCol+2)
	s.frozen = [2]int{2, 3}
	row := s.heading("Standings", "Change a weight in a yellow cell and the places follow. Points come from fixed scales: "+b.e.Holds()+". "+
		"A car's place is one more than the number of cars that are ahead of it by more than twice their combined standard uncertainty, and never better than that of a car with more points.", toCol)
	live := len(r.cars) > 0 && len(r.scales) > 0
	if live {
		row = b.fillScales(r, row)
		row = b.fillSorted(r, row)
		row = b.fillNotes(r, row, unranked, toCol)
		row = b.fillMoved(s, row, toCol)
		many := len(r.cars) > pageOfCars
		working := row
		if many {
			working = b.fillPairs(r, row)
			// It is there for the formulas, and would take four times the pages.
			s.printed = [2]int{len(s.widths), working - 1}
		}
		pairs := b.fillWorking(r, working)
		if !many {
			s.blocks = append(s.blocks, [2]int{working, r.values - 2}, [2]int{r.values - 1, r.uncertain - 2}, [2]int{r.uncertain - 1, r.spread - 2}, [2]int{r.spread - 1, r.spread + len(r.cars) - 1})
			if r.common > 0 {
				s.blocks = append(s.blocks, [2]int{r.common - 1, r.common + len(r.cars) - 1})
			}
			b.fillPairs(r, pairs)
		}
		b.followWorking(r)
		return
	}
	why := "No car can be ranked."
	if len(r.scales) == 0 {
		why = "The protocol has no scales to rank by."
	}
	s.across(1, row, toCol, why, section)
	row = b.fillNotes(r, row+2, unranked, toCol)
	row = b.fillMoved(s, row, toCol)
	b.fillPairs(r, row)
}

// fillScales writes the weights and the scales.
func (b *book) fillScales(r *ranking, row int) int {
	s := r.sheet
	s.across(1, row, rangeCol, "Weights and scales", head)
	r.weights, r.zero, r.full = row+1, row+2, row+3
	s.across(1, r.weights, rangeCol, "weight", label)
	s.across(1, r.zero, rangeCol, "value that earns 0 points", body)
	s.across(1, r.full, rangeCol, "value that earns 100 points", body)
	for i, sc := range r.scales {
		col := scaleCol + i
		unit := b.e.Definition(sc.Figure).Unit
		text := b.figureTitle(sc.Figure)
		if sc.Category != "" {
			text += "\n(" + sc.Category + ")"
		}
		s.put(col, row, text, headNum)
		s.put(col, r.weights, sc.Weight, look{bold: true, fill: entry, boxed: true, align: "right"})
		s.put(col, r.zero, sc.Zero, body.with(b.valued(sc.Zero, nil, unit)))
		s.put(col, r.full, sc.Full, body.with(b.valued(sc.Full, nil, unit)))
	}
	s.entries = ref(scaleCol, r.weights) + ":" + ref(r.lastScale(), r.weights)
	return row + 5
}

// pointsFormat is that of the points of one scale, which are the working.
const pointsFormat = "0.0"

// fillWorking writes the tables that the places are worked out in: points,
// values and uncertainties, one car a row, in the edition's order.
func (b *book) fillWorking(r *ranking, row int) int {
	s, n := r.sheet, len(r.cars)
	s.across(1, row, rangeCol, "The working", section)
	r.working = row + 2
	r.values = r.working + n + 2
	r.uncertain = r.values + n + 2
	r.spread = r.uncertain + n + 2
	b.tableHead(r, row+1, "points")
	s.put(r.orderCol(), row+1, "order", headNum)
	s.put(r.aheadCol(), row+1, "clearly ahead", headNum)
	b.bandHead(r, r.values-1, "Values")
	b.bandHead(r, r.uncertain-1, "Standard uncertainties")
	b.bandHead(r, r.spread-1, "Standard uncertainties of the points")
	last := r.spread
	if slices.ContainsFunc(r.cars, inCommon) {
		r.common = r.spread + n + 2
		b.bandHead(r, r.common-1, "Of these in common (correlation)")
		last = r.common
	}
	w := r.scaleRow(r.weights)
	for k, car := range r.cars {
		at := r.working + k
		points := r.scaleRow(at)
		score, su, place := fixed(pointsCol, at, pointsCol, at), fixed(uCol, at, uCol, at), fixed(placeCol, at, placeCol, at)
		s.formula(r.aheadCol(), at, fmt.Sprintf("SUMPRODUCT(--((%s-%s)>2*SQRT(%s^2+%s^2)))", r.carsIn(pointsCol), score, r.carsIn(uCol), su), ahead(r.cars, car), body.with("0"))
		s.formula(placeCol, at, fmt.Sprintf("1+SUMPRODUCT(MAX((%s>=%s)*%s))", r.carsIn(pointsCol), score, r.carsIn(r.aheadCol())), car.Place, look{ruled: true, format: "0", align: "center"})
		s.put(carCol, at, b.e.Name(car.Vehicle), wrapped)
		s.formula(pointsCol, at, fmt.Sprintf("IF(SUM(%s)>0,SUMPRODUCT(%s,%s)/SUM(%s),0)", w, w, points, w), car.Score, body.with(b.valued(car.Score, &car.U, "")))
		s.formula(uCol, at, fmt.Sprintf("IF(SUM(%s)>0,SQRT(%s)/SUM(%s),0)", w, r.variance(k), w), car.U, body.with(b.uncertain(car.Score, &car.U, "")))
		s.put(beforeCol, at, car.Place, body.with("0"))
		s.put(rangeCol, at, placeRange(car), look{ruled: true, align: "right"})
		s.formula(r.orderCol(), at, fmt.Sprintf("1+SUMPRODUCT((%s<%s)+(%s=%s)*((%s>%s)+(%s=%s)*(ROW(%s)<ROW(%s))))",
			r.carsIn(placeCol), place, r.carsIn(placeCol), place,
			r.carsIn(pointsCol), score, r.carsIn(pointsCol), score, r.carsIn(pointsCol), score), k+1, body.with("0"))
		for _, first := range []int{r.values, r.uncertain, r.spread, r.common} {
			if first > 0 {
				s.across(placeCol, first+k, rangeCol, b.e.Name(car.Vehicle), wrapped)
			}
		}
		for i, sc := range r.scales {
			col, unit := scaleCol+i, b.e.Definition(sc.Figure).Unit
			v := counted(car, i)
			value, u := fixed(col, r.values+k, col, r.values+k), fixed(col, r.uncertain+k, col, r.uncertain+k)
			zero, full := fixed(col, r.zero, col, r.zero), fixed(col, r.full, col, r.full)
			earns := func(x string) string { return fmt.Sprintf("MAX(0,MIN(100,100*(%s-%s)/(%s-%s)))", x, zero, full, zero) }
			s.formula(col, at, fmt.Sprintf("IF(ISNUMBER(%s),%s,0)", value, earns(value)), v.Points, body.with(pointsFormat))
			spread := pointsU(sc, v)
			s.formula(col, r.spread+k, fmt.Sprintf("IF(ISNUMBER(%s),ABS(%s-%s)/2,0)", value, earns(value+"+"+u), earns(value+"-"+u)), spread, body.with(b.uncertain(v.Points, &spread, "")))
			s.comment(col, r.values+k, b.evidence(car, sc.Figure))
			if v.Value == nil {
				s.put(col, r.values+k, "none", look{ruled: true, align: "right", color: faint})
				s.put(col, r.uncertain+k, nil, body)
				if r.common > 0 {
					s.put(col, r.common+k, nil, body)
				}
				continue
			}
			s.put(col, r.values+k, v.Value, body.with(b.valued(*v.Value, v.U, unit)))
			s.put(col, r.uncertain+k, v.U, body.with(b.uncertain(*v.Value, v.U, unit)))
			if r.common > 0 {
				s.put(col, r.common+k, v.Common, body.with("0.00"))
			}
		}
	}
	return last + n + 1
}

// variance is a formula of the variance of a car's weighted points: what they have in
// common adds up, with the sign that its scale gives it.
func (r *ranking) variance(car int) string {
	w, u := r.scaleRow(r.weights), r.scaleRow(r.spread+car)
	if r.common == 0 {
		return fmt.Sprintf("SUMPRODUCT((%s*%s)^2)", w, u)
	}
	c := r.scaleRow(r.common + car)
	return fmt.Sprintf("SUMPRODUCT((%s*%s)^2*(1-%s^2))+SUMPRODUCT(%s*%s*%s*SIGN(%s-%s))^2", w, u, c, w, u, c, r.scaleRow(r.full), r.scaleRow(r.zero))
}

// inCommon reports whether a car's values have errors in common.
func inCommon(car edition.Standing) bool {
	return slices.ContainsFunc(car.Values, func(c edition.Counted) bool { return c.Common != 0 })
}

// pointsU is the standard uncertainty of the points that a value earns.
func pointsU(sc edition.Scale, c edition.Counted) float64 {
	if c.Value == nil || c.U == nil {
		return 0
	}
	return standings.Scale{Zero: sc.Zero, Full: sc.Full}.Points(uncertainty.Value{V: *c.Value, U: *c.U}).U
}

// ahead counts the cars that are clearly ahead of one.
func ahead(cars []edition.Standing, car edition.Standing) int {
	n := 0
	for _, o := range cars {
		if standings.ClearlyAhead(uncertainty.Value{V: o.Score, U: o.U}, uncertainty.Value{V: car.Score, U: car.U}) {
			n++
		}
	}
	return n
}

// fillSorted writes the table that people look at: the working, sorted. It holds what the
// edition does until followWorking, since the working stands below it.
func (b *book) fillSorted(r *ranking, heads int) int {
	s := r.sheet
	b.tableHead(r, heads, "points")
	for k, car := range r.cars {
		at := heads + 1 + k
		s.put(placeCol, at, car.Place, look{ruled: true, bold: true, size: 12, format: "0", align: "center", middle: true})
		s.put(carCol, at, b.e.Name(car.Vehicle), look{ruled: true, bold: true, wrap: true, middle: true})
		s.put(pointsCol, at, car.Score, look{ruled: true, bold: true, format: b.valued(car.Score, &car.U, ""), middle: true})
		s.put(uCol, at, car.U, body.with(b.uncertain(car.Score, &car.U, "")))
		s.put(beforeCol, at, car.Place, body.with("0"))
		s.put(rangeCol, at, placeRange(car), look{ruled: true, align: "right"})
		for i := range r.scales {
			s.put(scaleCol+i, at, counted(car, i).Points, body.with(pointsFormat))
		}
	}
	before := len(s.tables)
	last := s.paged(long{name: "standings", top: heads, again: heads, heads: heads, toCol: r.lastScale(), last: heads + len(r.cars)})
	for _, t := range s.tables[before:] {
		for row := t.heads + 1; row <= t.last; row++ {
			r.sorted = append(r.sorted, row)
		}
	}
	// Heads and what lies between two tables hold no number.
	first := r.sorted[0]
	s.moved = [2]string{ref(placeCol, first) + ":" + ref(carCol, last), fmt.Sprintf("AND(ISNUMBER($%s),$%s<>$%s)", ref(placeCol, first), ref(placeCol, first), ref(beforeCol, first))}
	return last + 2
}

// followWorking makes formulas of the sorted table that pick from the working.
func (b *book) followWorking(r *ranking) {
	for k, at := range r.sorted {
		for col := placeCol; col <= r.lastScale(); col++ {
			r.cells[at][col].formula = fmt.Sprintf("INDEX(%s,MATCH(%d,%s,0))", r.carsIn(col), k+1, r.carsIn(r.orderCol()))
		}
	}
}

// tableHead is the head of a table with one car a row and points a scale.
func (b *book) tableHead(r *ranking, row int, of string) {
	s := r.sheet
	s.heads(1, row, "place", "car", ">points", ">standard uncertainty", ">place in the edition", ">places, 95 %, at the edition's weights")
	for i, sc := range r.scales {
		s.put(scaleCol+i, row, b.figureTitle(sc.Figure)+", "+of, headNum)
	}
}

// bandHead is a pale head across a table of the working.
func (b *book) bandHead(r *ranking, row int, text string) {
	r.across(1, row, rangeCol, text, label)
	for i, sc := range r.scales {
		l := label
		l.align = "right"
		r.put(scaleCol+i, row, b.figureTitle(sc.Figure), l)
	}
}

// fillNotes lists the cars that are not ranked and what weakens a place.
func (b *book) fillNotes(r *ranking, row int, unranked []edition.Standing, toCol int) int {
	var not, weak [][2]string
	for _, st := range unranked {
		not = append(not, [2]string{b.e.Name(st.Vehicle), st.Reason})
	}
	for _, st := range r.cars {
		var why []string
		if st.Reason != "" {
			why = append(why, st.Reason)
		}
		for i := range r.scales {
			if v := counted(st, i); v.Note != "" {
				why = append(why, b.figureTitle(r.scales[i].Figure)+": "+v.Note)
			}
		}
		if len(why) > 0 {
			weak = append(weak, [2]string{b.e.Name(st.Vehicle), strings.Join(why, "\n")})
		}
	}
	row = r.list(row, toCol, "Not ranked, and why", not)
	return r.list(row, toCol, "What weakens a place", weak)
}

// list writes what is said of cars, below a head that is there again on each of its
// pages. Without anything to say there is no list.
func (s *sheet) list(row, toCol int, text string, said [][2]string) int {
	if len(said) == 0 {
		return row
	}
	s.across(1, row, toCol, text, label)
	for i, x := range said {
		s.across(1, row+1+i, carCol, x[0], look{ruled: true, bold: true, wrap: true})
		s.across(pointsCol, row+1+i, toCol, x[1], wrapped)
	}
	return 2 + s.paged(long{top: row, again: row, heads: row, last: row + len(said), title: continued(text)})
}

// fillPairs lists how sure it is that one car is before another: of many cars, where
// that is in doubt, since nobody reads thousands of rows that say what the places say.
// An edition holds no pairs that are further apart than standings.Beside.
func (b *book) fillPairs(r *ranking, row int) int {
	pairs, text := b.e.Pairs, "Who is before whom, at the edition's weights"
	if len(r.cars) > pageOfCars {
		pairs = slices.DeleteFunc(slices.Clone(pairs), func(p edition.Pair) bool { return p.Probability < 0.01 || p.Probability > 0.99 })
		text = fmt.Sprintf("Who is before whom, at the edition's weights, of each car and the %d after it, where it is not 99 %% sure", standings.Beside)
	}
	if len(pairs) == 0 {
		return row
	}
	s, heads := r.sheet, row
	s.across(1, row, rangeCol+1, text, label)
	for _, p := range pairs {
		row++
		s.across(1, row, carCol, b.e.Name(p.Before), wrapped)
		s.across(pointsCol, row, pointsCol+1, "is before", look{ruled: true, color: faint, align: "center"})
		s.put(beforeCol, row, p.Probability, look{ruled: true, format: sureness(p.Probability), align: "center"})
		s.across(rangeCol, row, rangeCol+1, b.e.Name(p.After), wrapped)
	}
	return 2 + s.paged(long{top: heads, again: heads, heads: heads, last: row, title: continued(text)})
}

// sureness is the number format of how sure an order is, which is never called certain.
func sureness(p float64) string {
	if said := edition.Sureness(p); strings.ContainsAny(said, "<>") {
		return quoted(said + " %")
	}
	return "0 %"
}

// evidence says which sessions a car's value came from, from which minutes of
// each, and how it was come by.
func (b *book) evidence(car edition.Standing, figure string) string {
	var lines []string
	for _, id := range car.Sessions {
		f, ok := b.find(id, figure)
		if !ok {
			continue
		}
		line := id + ": " + string(f.Status)
		if f.Value != nil {
			line = fmt.Sprintf("%s: %s, %s", id, edition.WithUnit(f.Shown(), f.Unit), f.Status)
		}
		if f.From != nil && f.To != nil {
			line += fmt.Sprintf(", from minute %s to %s after the session's zero", edition.Fixed(*f.From/60, 1), edition.Fixed(*f.To/60, 1))
		}
		if f.Note != "" {
			line += ": " + f.Note
		}
		lines = append(lines, line)
	}
	return strings.Join(lines, "\n")
}

// counted is what scale i gave a car; its zero value earns nothing.
func counted(st edition.Standing, i int) edition.Counted {
	if i < len(st.Values) {
		return st.Values[i]
	}
	return edition.Counted{}
}

func placeRange(st edition.Standing) string {
	if st.Lowest == st.Highest {
		return fmt.Sprint(st.Lowest)
	}
	return fmt.Sprintf("%d to %d", st.Lowest, st.Highest)
}
