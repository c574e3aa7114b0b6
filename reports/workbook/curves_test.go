package workbook

import (
	"slices"
	"strings"
	"testing"

	"coldbench/metrics/edition"
)

// Of a car with several sessions of a kind the curves are of one, and say of which.
func TestCurvesSayWhichNight(t *testing.T) {
	e, logs := sample()
	first := e.Sessions[0]
	for i := range e.Standings {
		for _, s := range e.Sessions {
			if s.Vehicle == e.Standings[i].Vehicle {
				e.Standings[i].Sessions = append(e.Standings[i].Sessions, s.ID)
			}
		}
	}
	e.Sessions = append(e.Sessions, edition.Session{ID: "another", Vehicle: first.Vehicle, Procedure: first.Procedure})
	data := written(t, e, logs)
	var all []string
	for _, row := range texts(t, opened(t, data), "Curves") {
		all = append(all, row...)
	}
	keys := 0
	for name, text := range parts(t, data) {
		if strings.HasPrefix(name, "xl/charts/chart") && strings.Contains(text, "<v>"+e.Name(first.Vehicle)+", "+first.ID+"</v>") {
			keys++
		}
	}
	if keys != 3 {
		t.Errorf("%d charts say so in their key", keys)
	}
	for _, st := range e.Standings {
		if st.Place > 0 && slices.Contains(all, e.Name(st.Vehicle)+", "+first.ID) != (st.Vehicle == first.Vehicle) {
			t.Errorf("%s: %q", st.Vehicle, all)
		}
	}
}
