package terminal

import (
	"bytes"
	"strings"
	"testing"

	"coldbench/metrics/edition"
)

func p(v float64) *float64 { return &v }

// A count has no unit.
func TestResult(t *testing.T) {
	for want, f := range map[string]edition.Figure{
		"2":                {Value: p(2), U: p(0), Unit: "1", Status: edition.Measured},
		"36.50 ± 0.20 min": {Value: p(36.5), U: p(0.2), Unit: "min", Status: edition.Measured},
		"> 61 min":         {Value: p(61), Unit: "min", Status: edition.Beyond},
		"none":             {Unit: "min", Status: edition.None},
	} {
		if got := Result(f); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

func TestClock(t *testing.T) {
	for s, want := range map[float64]string{0: "0:00:00", 2193: "0:36:33", -90: "-0:01:30", 2192.5: "0:36:32.5", 36000: "10:00:00"} {
		if got := Clock(s); got != want {
			t.Errorf("%v s = %s, want %s", s, got, want)
		}
	}
}

func TestTable(t *testing.T) {
	var b bytes.Buffer
	Table(&b, [][]string{
		{"car", "energy from the charger", "remark"},
		{"Alder 60", "3.75", "one two three four five six seven"},
		{"Östra 車", "12", "a\x1b[31mb\u202ec"},
	}, 52)
	want := `
          energy from
car       the charger  remark
----------------------------------------------------
Alder 60         3.75  one two three four five six
                       seven
Östra 車           12  a [31mb c
`
	if got := "\n" + b.String(); got != want {
		t.Errorf("got:%s\nwant:%s", got, want)
	}
}

// A narrow terminal gets one car under another, and loses nothing.
func TestStandingsFitTheTerminal(t *testing.T) {
	e := &edition.Edition{ID: "2026-02-01T0930Z", Title: "Winter",
		Scales:   []edition.Scale{{Figure: "delay_to_onset"}, {Figure: "energy_60min"}, {Figure: "time_window"}},
		Figures:  []edition.Defined{{Name: "delay_to_onset", Title: "Plug-in to charge", Unit: "min"}, {Name: "energy_60min", Title: "Energy into the pack", Unit: "kWh"}, {Name: "time_window", Title: "Time", Unit: "min"}},
		Vehicles: []edition.Vehicle{{ID: "alder", Name: "Alder 60"}, {ID: "oak", Name: "Oak 1"}},
		Protocol: []edition.Parameter{{Name: "reference_soak_c", Value: -20}},
		Standings: []edition.Standing{
			{Vehicle: "alder", Place: 1, Lowest: 1, Highest: 2, Score: 65.8, U: 1.7, Reason: "mean of 2 sessions",
				Values: []edition.Counted{{Figure: "delay_to_onset", Value: p(38.5), U: p(2)}, {Figure: "energy_60min"}, {Figure: "time_window", Value: p(27.7), U: p(0.27)}},
				Beside: []edition.Counted{{Figure: "delay_at_reference", Value: p(41.25), U: p(0.7)}, {}, {}}},
			{Vehicle: "pine", Place: 2, Lowest: 1, Highest: 2, Score: 60, U: 2, Reason: "replicates flagged: s1 and s2 differ",
				Values: []edition.Counted{{Figure: "delay_to_onset", Value: p(44), U: p(2)}, {Figure: "energy_60min"}, {Figure: "time_window"}},
				Beside: []edition.Counted{{Figure: "delay_at_reference", Note: "no thermal model"}, {}, {}}},
			{Vehicle: "oak", Reason: "soaked 5.0 h"},
		}}
	for _, columns := range []int{0, 20, 40, 80, 200} {
		var b bytes.Buffer
		Standings(&b, e, columns)
		for _, want := range []string{"Alder 60", "65.8 ± 1.7", "38.5 ± 2.0", "27.70 ± 0.27", "none", "1-2", "mean of 2 sessions", "Oak 1", "soaked 5.0 h",
			"at a soak of", "-20 °C", "41.25 ± 0.70", "s1 and s2 differ"} {
			// Folds move, words do not.
			if !strings.Contains(strings.Join(strings.Fields(b.String()), " "), want) {
				t.Errorf("at %d columns: no %q in\n%s", columns, want, b.String())
			}
		}
		if strings.Contains(b.String(), "\x1b") {
			t.Errorf("at %d columns: an escape sequence", columns)
		}
		for _, line := range strings.Split(b.String(), "\n") {
			if columns > 0 && cells(line) > columns {
				t.Errorf("at %d columns: %q", columns, line)
			}
		}
		// The foot calls the range of places what the table, or the card, calls it.
		called := map[bool]string{true: `"places" is the range`, false: `"of" is the range`}[strings.Contains(b.String(), "points, places 1-2")]
		if !strings.Contains(strings.Join(strings.Fields(b.String()), " "), called) {
			t.Errorf("at %d columns: the foot does not say %s\n%s", columns, called, b.String())
		}
	}
}

// What stands beside the standings, if asked for.
func TestCategoriesAndPairs(t *testing.T) {
	e := &edition.Edition{Vehicles: []edition.Vehicle{{ID: "alder", Name: "Alder 60"}},
		Categories: []edition.Category{{Name: "delay", Weight: 3, Cars: []edition.InCategory{{Vehicle: "alder", Place: 1, Lowest: 1, Highest: 2, Score: 57.2, U: 2.2}, {Vehicle: "oak", Place: 1, Lowest: 1, Highest: 2, Score: 57, U: 1}}},
			{Name: "heat", Weight: 2, Cars: []edition.InCategory{{Vehicle: "oak", Place: 1, Lowest: 1, Highest: 1, Score: 80}}}},
		Pairs: []edition.Pair{{Before: "alder", After: "oak", Probability: 0.93}, {Before: "alder", After: "elm", Probability: 0.9999}, {Before: "oak", After: "elm", Probability: 1}}}
	var b bytes.Buffer
	Categories(&b, e, 0)
	Pairs(&b, e, 0)
	want := `
delay, weight 3
place   of  car           points
--------------------------------
    1  1-2  Alder 60  57.2 ± 2.2
    1  1-2  oak       57.0 ± 1.0

heat, weight 2
place  of  car  points
----------------------
    1   1  oak      80

How sure it is that one car is before another
          is before  how sure [%]
---------------------------------
Alder 60  oak                  93
Alder 60  elm                > 99
oak       elm                > 99
`
	if got := b.String(); got != want {
		t.Errorf("got:\n%s\nwant:\n%s", got, want)
	}
}

// Raw beside corrected: in a column of its own, or on the same line of a card.
func TestBesideTheValue(t *testing.T) {
	e := &edition.Edition{ID: "x", Title: "Winter", Scales: []edition.Scale{{Figure: "delay_at_reference"}},
		Figures:  []edition.Defined{{Name: "delay_at_reference", Title: "Delay", Unit: "min"}},
		Protocol: []edition.Parameter{{Name: "reference_soak_c", Value: -20}},
		Standings: []edition.Standing{
			{Vehicle: "oak", Place: 1, Lowest: 1, Highest: 1, Score: 60, Values: []edition.Counted{{Figure: "delay_at_reference", Value: p(40), U: p(2)}},
				Beside: []edition.Counted{{Figure: "delay_to_onset", Value: p(36.5), U: p(0.2)}}},
			{Vehicle: "pine", Place: 2, Lowest: 2, Highest: 2, Score: 50, Values: []edition.Counted{{Figure: "delay_at_reference", Value: p(50), U: p(2)}},
				Beside: []edition.Counted{{Figure: "delay_to_onset"}}},
		}}
	for columns, want := range map[int]string{
		0: `
                                       as measured
place  of  car   points  delay [min]         [min]  remark
----------------------------------------------------------
    1   1  oak       60   40.0 ± 2.0  36.50 ± 0.20
    2   2  pine      50   50.0 ± 2.0          none
`,
		30: `
1. oak, 60 points, place 1
   delay [min]: 40.0 ± 2.0, as
   measured 36.50 ± 0.20

2. pine, 50 points, place 2
   delay [min]: 50.0 ± 2.0, as
   measured none
`,
	} {
		var b bytes.Buffer
		Standings(&b, e, columns)
		if !strings.Contains(b.String(), want) {
			t.Errorf("at %d columns:%s", columns, b.String())
		}
	}
}

func TestVariances(t *testing.T) {
	e := &edition.Edition{Figures: []edition.Defined{{Name: "delay_to_onset", Title: "Plug-in to charge", Unit: "min"}},
		Variances: []edition.Variance{{Figure: "delay_to_onset", Cars: 2, Sessions: 4, Free: 2, Repeatability: 2.828427, CarsSD: 6.78233, F: 12.5, P: 0.0716}}}
	for _, columns := range []int{0, 24, 80} {
		var b bytes.Buffer
		Variances(&b, e, columns)
		for _, want := range []string{"Plug-in to charge", "2.8", "6.8", "12.5", "0.072"} {
			if !strings.Contains(b.String(), want) {
				t.Errorf("at %d columns: no %q in\n%s", columns, want, b.String())
			}
		}
		for _, line := range strings.Split(b.String(), "\n") {
			if columns > 0 && cells(line) > columns {
				t.Errorf("at %d columns: %q", columns, line)
			}
		}
	}
	var b bytes.Buffer
	Variances(&b, &edition.Edition{}, 0)
	if !strings.Contains(b.String(), "No car has two sessions") {
		t.Error(b.String())
	}
}
