package metrics

import (
	"reflect"
	"strings"
	"testing"

	"coldbench/metrics/edition"
)

// A scale for a figure that only cabins have counts the cabins' sessions, beside those
// of the charges; a car without one earns nothing for it, and its remark says why. A
// session that fails a gate of the soak does not count, nor does a warm control.
func TestRankCountsOtherProcedures(t *testing.T) {
	cat := builtIn(t)
	e := &edition.Edition{
		Vehicles: []edition.Vehicle{{ID: "oak", Name: "Oak"}, {ID: "elm", Name: "Elm"}, {ID: "ash", Name: "Ash"}},
		Scales: []edition.Scale{{Figure: "delay_to_onset", Category: "delay", Zero: 100, Full: 0, Weight: 1},
			{Figure: "cabin_time_to_target", Category: "cabin", Zero: 40, Full: 0, Weight: 1}},
		Gates: []edition.Gate{{Session: "oak-cabin-2", Gate: "soak-length", Verdict: edition.Failed, Reason: "soaked 2.0 h"}},
		Rules: rules(nil, nil),
	}
	var usable []sessionRow
	add := func(id, vehicle, procedure, figure string, v float64) {
		u := 1.0
		e.Sessions = append(e.Sessions, edition.Session{ID: id, Vehicle: vehicle, Procedure: procedure})
		e.Results = append(e.Results, edition.Figure{Session: id, Figure: figure, Value: &v, U: &u, Status: edition.Measured})
		usable = append(usable, sessionRow{id: id, vehicle: vehicle, procedure: procedure})
	}
	add("oak", "oak", "cold-charge", "delay_to_onset", 50)
	add("oak-cabin", "oak", "cabin-warmup", "cabin_time_to_target", 10)
	add("oak-cabin-2", "oak", "cabin-warmup", "cabin_time_to_target", 30)
	add("elm", "elm", "cold-charge", "delay_to_onset", 40)
	add("ash", "ash", "warm-charge", "delay_to_onset", 0)
	sortFigures(e.Results)
	rank(e, usable, cat.earns)
	// By hand: 50 and 75 points, the mean of them; 60 and 0.
	for i, want := range []struct {
		vehicle string
		place   int
		score   float64
		reason  string
	}{
		{"oak", 1, 62.5, "oak-cabin-2 fails soak-length: soaked 2.0 h"},
		{"elm", 2, 30, "no cabin_time_to_target: no cabin-warmup session"},
		{"ash", 0, 0, "no cold-charge or cabin-warmup session"},
	} {
		if s := e.Standings[i]; s.Vehicle != want.vehicle || s.Place != want.place || s.Score != want.score || !strings.Contains(s.Reason, want.reason) {
			t.Errorf("%+v, want %+v", s, want)
		}
	}
	// And each category alone, by hand: oak and elm differ by 10 points of delay, each
	// known to 1 (10 > 2*sqrt(2)); elm has no cabin, and ash is not ranked.
	want := []edition.Category{
		{Name: "delay", Weight: 1, Cars: []edition.InCategory{{Vehicle: "elm", Place: 1, Lowest: 1, Highest: 1, Score: 60, U: 1}, {Vehicle: "oak", Place: 2, Lowest: 2, Highest: 2, Score: 50, U: 1}}},
		{Name: "cabin", Weight: 1, Cars: []edition.InCategory{{Vehicle: "oak", Place: 1, Lowest: 1, Highest: 1, Score: 75, U: 2.5}, {Vehicle: "elm", Place: 2, Lowest: 2, Highest: 2}}},
	}
	if !reflect.DeepEqual(e.Categories, want) {
		t.Errorf("%+v\nwant %+v", e.Categories, want)
	}
	if got := e.Standings[0].Sessions; len(got) != 2 || got[1] != "oak-cabin" {
		t.Errorf("oak's sessions are %v", got)
	}
}

// By hand, apart being twice the root of the sum of squares: the second is 1 behind the
// first (0.28); the third 1.25 behind the first (1.22), but only 0.25 behind the second;
// nobody is clearly ahead of the fourth (4.0), which stands no better than the third for
// that; all are clearly ahead of the last.
func TestPlacedByTime(t *testing.T) {
	times := []edition.Timed{{Value: 30, U: 0.1}, {Value: 31, U: 0.1}, {Value: 31.25, U: 0.6}, {Value: 31.35, U: 2}, {Value: 40, U: 0.1}}
	placed(times)
	for i, want := range []int{1, 2, 2, 2, 5} {
		if times[i].Place != want {
			t.Errorf("%+v, want place %d", times[i], want)
		}
	}
}

// What only controls have cannot be ranked; what cabins, drives or parked cars have can.
func TestRankable(t *testing.T) {
	cat := builtIn(t)
	for _, figure := range []string{"delay_to_onset", "cabin_energy", "drive_consumption", "standby_power", "penalty_regen"} {
		if err := cat.Rankable(figure); err != nil {
			t.Error(err)
		}
	}
	cat.Figure("drive_distance").Procedures = []string{"warm-drive"}
	err := cat.Rankable("drive_distance")
	if err == nil || err.Error() != `figure "drive_distance" is not for a procedure in the cold: cold-charge, cabin-warmup, cold-drive, standby` {
		t.Errorf("got %v", err)
	}
}

// A session that is no charge is judged by the gates of its soak alone.
func TestGatesOfTheSoak(t *testing.T) {
	v, u := 0.0, 0.0
	find := func(name string) (edition.Figure, bool) {
		return edition.Figure{Figure: name, Value: &v, U: &u, Status: edition.Measured}, true
	}
	var names []string
	for _, g := range judge("s1", false, find, rules(nil, nil)) {
		names = append(names, g.Gate)
	}
	if got := strings.Join(names, " "); got != "soak-length air-steady air-excursion dry pack-near-ambient clocks rows-taken" {
		t.Errorf("judged by %s", got)
	}
}

// A mean of 0.1 and 0.2 is 0.15, and not the sum of two doubles that are a little more,
// halved: reports would round that otherwise than what they read.
func TestWhatIsToldIsRounded(t *testing.T) {
	e := &edition.Edition{Vehicles: []edition.Vehicle{{ID: "oak"}}, Scales: []edition.Scale{{Figure: "delay_to_onset", Zero: 3, Full: 0, Weight: 1}}, Rules: rules(nil, nil)}
	var usable []sessionRow
	for id, v := range map[string]float64{"a": 0.1, "b": 0.2} {
		u := 0.1
		e.Sessions = append(e.Sessions, edition.Session{ID: id, Vehicle: "oak", Procedure: "cold-charge"})
		e.Results = append(e.Results, edition.Figure{Session: id, Figure: "delay_to_onset", Value: &v, U: &u, Status: edition.Measured})
		usable = append(usable, sessionRow{id: id, vehicle: "oak", procedure: "cold-charge"})
	}
	sortFigures(e.Results)
	rank(e, usable, builtIn(t).earns)
	// By hand: 0.15 of 3 min gone is 95 points.
	st := e.Standings[0]
	if *st.Values[0].Value != 0.15 || st.Values[0].Points != 95 || st.Score != 95 {
		t.Errorf("%v min, %v and %v points", *st.Values[0].Value, st.Values[0].Points, st.Score)
	}
}

// Of two nights that are weak for one reason the remark gives it once, and what they
// scatter in the digits of an uncertainty.
func TestNotesOfSeveralNights(t *testing.T) {
	e := &edition.Edition{}
	for id, v := range map[string]float64{"a": 44, "b": 61} {
		u := 0.2
		e.Results = append(e.Results, edition.Figure{Session: id, Figure: "delay_to_onset", Value: &v, U: &u, Unit: "min", Status: edition.Fallback, Note: "a note"},
			edition.Figure{Session: id, Figure: "energy_before_onset", Status: edition.None, Note: "known only from notes"})
	}
	sortFigures(e.Results)
	// By hand: 44 and 61 have the variance 144.5, each is known to 0.2.
	if _, note, _ := combined(e, []string{"a", "b"}, "delay_to_onset"); note != "a note; its 2 sessions scatter by 12 min beyond their uncertainty of 0.20 min" {
		t.Error(note)
	}
	if _, note, _ := combined(e, []string{"a", "b"}, "energy_before_onset"); note != "known only from notes" {
		t.Error(note)
	}
}
