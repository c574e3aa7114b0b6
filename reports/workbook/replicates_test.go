package workbook

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"coldbench/metrics/edition"
)

func TestReplicates(t *testing.T) {
	e, logs := sample()
	e.Standings = slices.Clone(e.Standings)
	e.Standings[0].Values = slices.Clone(e.Standings[0].Values)
	mean, u := 38.1, 0.7
	e.Standings[0].Values[0].Spread = &edition.Spread{Sessions: 2, Within: 0.2, Between: 2.75, Expanded: 24.5}
	e.Standings[0].Beside = []edition.Counted{{Figure: "own_figure", Value: &mean, U: &u, Spread: &edition.Spread{Sessions: 3, Within: 0.75, Between: 0.65, Expanded: 1.75}}}
	e.Variances = []edition.Variance{{Figure: "delay_to_onset", Cars: 4, Sessions: 5, Free: 1, Repeatability: 0.5, CarsSD: 6.5, F: 42.25, P: 0.03125}}
	e.Categories = []edition.Category{{Name: hostile[1], Cars: []edition.InCategory{{Vehicle: "alder-60", Place: 1, Lowest: 1, Highest: 2, Score: 57.25, U: 2.5}}}}
	rows := texts(t, opened(t, written(t, e, logs)), "Comparisons")
	var got []string
	for _, row := range rows {
		got = append(got, strings.Join(row, "|"))
	}
	value := *e.Standings[0].Values[0].Value
	for _, want := range []string{
		fmt.Sprintf("%s|Plug-in to charge|2|%v|0.2|2.75|24.5", e.Name(e.Standings[0].Vehicle), value),
		e.Name(e.Standings[0].Vehicle) + "|A figure of the user's own|3|38.1|0.75|0.65|1.75",
		clean(hostile[1]) + "|Alder 60|57.25|2.5|1|1 to 2",
		"Plug-in to charge|4 cars, 5 sessions|0.5|6.5|42.25|0.03125",
	} {
		if !slices.ContainsFunc(got, func(s string) bool { return strings.HasPrefix(s, want) }) {
			t.Errorf("no row %q in\n%s", want, strings.Join(got, "\n"))
		}
	}
	// An edition without replicates has no empty tables.
	e, logs = sample()
	for _, row := range texts(t, opened(t, written(t, e, logs)), "Comparisons") {
		if strings.HasPrefix(strings.Join(row, "|"), "car|figure") {
			t.Error(row)
		}
	}
}
