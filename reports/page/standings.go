package page

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"coldbench/metrics/edition"
)

// A standingRow is one car's row of the standings.
type standingRow struct {
	edition.Standing
	Order  int    // in which the edition lists it, from 1
	Car    string // cut for a table
	Place  string // "2", "1 =" where it is shared, "–" where it has none
	Range  string // of places
	Points string
	Bar    bar
	Cells  []standingCell // as the heads
}

// A standingHead is the column of a scale's figure, or of what stands beside it.
type standingHead struct{ Title, Unit, Beside string }

// A standingCell is a value for show; Points is "" where it is beside what earns them.
type standingCell struct {
	Value, Points string
	Sort          *float64
}

// A bar is where a car's points lie between 0 and 100, and how sure that is:
// numbers of a drawing 100 wide.
type bar struct{ From, At, Wide string }

func standingRows(e *edition.Edition) ([]standingHead, []standingRow) {
	besides := e.Besides()
	var heads []standingHead
	for i, s := range e.Scales {
		d := e.Definition(s.Figure)
		h := standingHead{Title: clean(cmp.Or(d.Title, d.Name, s.Figure)), Unit: unit(d.Unit)}
		heads = append(heads, h)
		if h.Beside = strings.ReplaceAll(besides[i], " -", " −"); h.Beside != "" {
			heads = append(heads, h)
		}
	}
	shared := map[int]int{}
	for _, s := range e.Standings {
		shared[s.Place]++
	}
	var out []standingRow
	for i, s := range e.Standings {
		r := standingRow{Standing: s, Order: i + 1, Car: short(e.Name(s.Vehicle)), Place: "–"}
		if s.Place > 0 {
			r.Place = fmt.Sprint(s.Place)
			if shared[s.Place] > 1 {
				r.Place += " ="
			}
			r.Range = span(s.Lowest, s.Highest)
			r.Points = value(&s.Score, &s.U)
			from, to := max(s.Score-2*s.U, 0), min(s.Score+2*s.U, 100)
			r.Bar = bar{fixed(from, 1), fixed(s.Score, 1), fixed(max(to-from, 0.5), 1)}
		}
		for i, v := range s.Values {
			c := standingCell{value(v.Value, v.U), "no points", v.Value}
			if v.Value != nil {
				c.Points = fixed(v.Points, 1) + " points"
			}
			r.Cells = append(r.Cells, c)
			if i < len(besides) && besides[i] != "" {
				var b edition.Counted
				if i < len(s.Beside) {
					b = s.Beside[i]
				}
				r.Cells = append(r.Cells, standingCell{Value: value(b.Value, b.U), Sort: b.Value})
			}
		}
		out = append(out, r)
	}
	return heads, out
}

// span is a range of places.
func span(lowest, highest int) string {
	if lowest == highest {
		return fmt.Sprint(lowest)
	}
	return fmt.Sprintf("%d–%d", lowest, highest)
}

// gained says what a window would do to a car's place.
func gained(places int) string {
	switch {
	case places > 0:
		return "wins " + plural(places, "place")
	case places < 0:
		return "loses " + plural(-places, "place")
	}
	return ""
}

// remarks lists why cars are not ranked, and what weakens the places of others.
func remarks(e *edition.Edition) (out, weak [][2]string) {
	for _, s := range e.Standings {
		car := short(e.Name(s.Vehicle))
		if s.Place == 0 {
			out = append(out, [2]string{car, clean(s.Reason)})
			continue
		}
		var why []string
		if s.Reason != "" {
			why = append(why, clean(s.Reason))
		}
		for _, v := range s.Values {
			if v.Note != "" {
				why = append(why, clean(e.Definition(v.Figure).Title+": "+v.Note))
			}
		}
		if why != nil {
			weak = append(weak, [2]string{car, strings.Join(why, "; ")})
		}
	}
	return out, weak
}

// cars counts the cars and how many of them are ranked.
func cars(e *edition.Edition) string {
	ranked := 0
	for _, s := range e.Standings {
		if s.Place > 0 {
			ranked++
		}
	}
	return fmt.Sprintf("%s, %d of them ranked", plural(len(e.Vehicles), "car"), ranked)
}

// procedures counts the sessions by what was done.
func procedures(e *edition.Edition) string {
	n := map[string]int{}
	var order []string
	for _, s := range e.Sessions {
		if n[s.Procedure]++; n[s.Procedure] == 1 {
			order = append(order, s.Procedure)
		}
	}
	slices.SortFunc(order, func(a, b string) int { return cmp.Or(n[b]-n[a], strings.Compare(a, b)) })
	var parts []string
	for _, p := range order {
		parts = append(parts, fmt.Sprintf("%d %s", n[p], clean(p)))
	}
	return plural(len(e.Sessions), "session") + ": " + strings.Join(parts, ", ")
}

func plural(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// inputs are the edition's files that are no session's source.
func inputs(e *edition.Edition) []edition.Input {
	sources := map[string]bool{}
	for _, s := range e.Sessions {
		for _, src := range s.Sources {
			sources[src.Path] = true
		}
	}
	return slices.DeleteFunc(slices.Clone(e.Inputs), func(in edition.Input) bool { return sources[in.Path] })
}
