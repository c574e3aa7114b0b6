package edition

import (
	"bytes"
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"
)

func p(v float64) *float64 { return &v }

func sample() *Edition {
	return &Edition{
		ID: "2026-02-01T0930Z", At: time.Date(2026, 2, 1, 9, 30, 0, 0, time.UTC), Program: "1", Title: "Winter",
		Window:   Window{10, 75, "stated in the protocol"},
		Protocol: []Parameter{{"onset_kw", 1}},
		Scales:   []Scale{{"delay_to_onset", "delay", 90, 0, 3}},
		Figures:  []Defined{{Name: "delay_to_onset", Title: "Plug-in to charge", Unit: "min", SHA256: "a"}},
		Vehicles: []Vehicle{{"alder", "Alder 60"}, {"birch", "Birch 77"}},
		Sessions: []Session{{ID: "s1", Vehicle: "alder", Procedure: "cold-charge", Sources: []Source{{Path: "sessions/s1/car.csv", Profile: "log", SHA256: "x"}}}},
		Inputs:   []Input{{"sessions/s1/session.toml", "1"}, {"vehicles/alder.toml", "1"}, {"profiles/log.toml", "1"}},
		Rules:    []Rule{{Gate: "soak-length", Figure: "soak_hours", Limit: 12, Unit: "h", Action: "fail"}},
		Results:  []Figure{{Session: "s1", Figure: "delay_to_onset", Value: p(40), U: p(0.5), Unit: "min", Status: Measured}},
		Gates:    []Gate{{"s1", "soak-length", Passed, "soaked 14.0 h"}},
		Standings: []Standing{
			{Vehicle: "alder", Place: 1, Score: 55.6, Sessions: []string{"s1"}, Values: []Counted{{Figure: "delay_to_onset", Value: p(40), U: p(0.5)}, {Figure: "time_window", Value: p(20), U: p(0.5)}}},
			{Vehicle: "birch", Reason: "no cold-charge session"},
		},
	}
}

// slower makes the delay 44 min, for 51 points.
func slower(e *Edition) {
	e.Results[0].Value, e.Standings[0].Values[0].Value, e.Standings[0].Score = p(44), p(44), 51
}

func TestWriteRead(t *testing.T) {
	var a, b bytes.Buffer
	e := sample()
	if err := e.Write(&a); err != nil {
		t.Fatal(err)
	}
	back, err := Read(bytes.NewReader(a.Bytes()))
	if err != nil || !reflect.DeepEqual(e, back) {
		t.Fatalf("%v\n%+v\n%+v", err, e, back)
	}
	if err := back.Write(&b); err != nil || a.String() != b.String() {
		t.Errorf("written twice, differs: %v", err)
	}
}

func TestSameButForItsDate(t *testing.T) {
	a, b := sample(), sample()
	b.ID, b.At = "2030-01-01T0000Z", time.Date(2030, 1, 1, 0, 0, 0, 0, time.UTC)
	if !Same(a, b) {
		t.Error("a date makes no difference")
	}
	b.Results[0].Value = p(41)
	if Same(a, b) {
		t.Error("a value does")
	}
}

func TestCompare(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*Edition)
		want   string
	}{
		{"nothing", func(*Edition) {}, ""},
		{"a new car", func(e *Edition) {
			e.Sessions = append(e.Sessions, Session{ID: "s2", Vehicle: "birch", Procedure: "cold-charge"})
			e.Standings = []Standing{{Vehicle: "birch", Place: 1, Score: 70}, {Vehicle: "alder", Place: 2, Score: 55.6}}
		}, "place|Birch 77|not ranked to place 1 with 70 points|new session s2; " +
			"place|Alder 60|place 1 to 2, still 55.6 points|another car came in; session|s2|new, cold-charge of Birch 77|"},
		{"changed data", func(e *Edition) {
			e.Sessions[0].Sources[0].SHA256 = "y"
			e.Results[0].Value = p(44)
			e.Standings[0].Score = 51
		}, "place|Alder 60|stays at place 1, 55.6 to 51 points|changed data of s1; input|sessions/s1/car.csv|changed|; " +
			"figure|s1 delay_to_onset|40.00 ± 0.50 min to 44.00 ± 0.50 min|changed data of s1"},
		{"a weight", func(e *Edition) { e.Scales[0].Weight, e.Standings[0].Score = 5, 60 },
			"place|Alder 60|stays at place 1, 55.6 to 60 points|changed points in series.toml; protocol|points for delay_to_onset|90..0 weight 3 to 90..0 weight 5|series.toml"},
		{"a threshold", func(e *Edition) { e.Protocol[0].Value = 2 }, "protocol|onset_kw|1 to 2|series.toml"},
		{"points that move by less than is shown", func(e *Edition) { e.Standings[0].Score, e.Standings[0].U = 55.601, 1.2 },
			"place|Alder 60|stays at place 1, 55.600 to 55.601 points|"},
		{"a category", func(e *Edition) { e.Scales[0].Category = "onset" }, `protocol|points for delay_to_onset|90..0 weight 3 in "delay" to 90..0 weight 3 in "onset"|series.toml`},
		{"a gate that counts", func(e *Edition) { e.Rules[0].Unit, e.Rules[0].Limit = "1", 2 },
			"protocol|gate soak-length|12 h, fail to 2, fail|series.toml"},
		{"a threshold that moves a figure", func(e *Edition) { e.Protocol[0].Value = 2; slower(e) },
			"place|Alder 60|stays at place 1, 55.6 to 51 points|changed protocol: onset_kw; figure|s1 delay_to_onset|40.00 ± 0.50 min to 44.00 ± 0.50 min|changed protocol: onset_kw; " +
				"protocol|onset_kw|1 to 2|series.toml"},
		{"a definition", func(e *Edition) { e.Figures[0].SHA256 = "b"; slower(e) },
			"place|Alder 60|stays at place 1, 55.6 to 51 points|changed definition of delay_to_onset; " +
				"figure|s1 delay_to_onset|40.00 ± 0.50 min to 44.00 ± 0.50 min|changed definition of delay_to_onset; definition|delay_to_onset|is defined differently|"},
		{"a new definition", func(e *Edition) { e.Figures = append(e.Figures, Defined{Name: "mine"}) }, "definition|mine|new|"},
		{"a vehicle's facts", func(e *Edition) { e.Inputs[1].SHA256 = "2"; slower(e) },
			"place|Alder 60|stays at place 1, 55.6 to 51 points|changed vehicles/alder.toml; " +
				"figure|s1 delay_to_onset|40.00 ± 0.50 min to 44.00 ± 0.50 min|changed vehicles/alder.toml; input|vehicles/alder.toml|changed|"},
		{"a session's facts", func(e *Edition) { e.Inputs[0].SHA256 = "2"; slower(e) },
			"place|Alder 60|stays at place 1, 55.6 to 51 points|changed sessions/s1/session.toml; " +
				"figure|s1 delay_to_onset|40.00 ± 0.50 min to 44.00 ± 0.50 min|changed sessions/s1/session.toml; input|sessions/s1/session.toml|changed|"},
		{"another profile", func(e *Edition) { e.Inputs[2].SHA256 = "2"; slower(e) },
			"place|Alder 60|stays at place 1, 55.6 to 51 points|changed profiles/log.toml; " +
				"figure|s1 delay_to_onset|40.00 ± 0.50 min to 44.00 ± 0.50 min|changed profiles/log.toml; input|profiles/log.toml|changed|"},
		{"a profile of another name", func(e *Edition) {
			e.Inputs[2].Path, e.Sessions[0].Sources = "profiles/mine.toml", []Source{e.Sessions[0].Sources[0]}
			e.Sessions[0].Sources[0].Profile = "mine"
			slower(e)
		}, "place|Alder 60|stays at place 1, 55.6 to 51 points|new profiles/mine.toml; " +
			"figure|s1 delay_to_onset|40.00 ± 0.50 min to 44.00 ± 0.50 min|new profiles/mine.toml; input|profiles/mine.toml|new|; input|profiles/log.toml|gone|"},
		{"a remark in the protocol", func(e *Edition) { e.Inputs = append(e.Inputs, Input{"series.toml", "2"}) }, "input|series.toml|new|"},
		{"another program", func(e *Edition) { e.Program = "2"; slower(e) },
			"place|Alder 60|stays at place 1, 55.6 to 51 points|coldbench 2, was 1; figure|s1 delay_to_onset|40.00 ± 0.50 min to 44.00 ± 0.50 min|coldbench 2, was 1; program|coldbench|1 to 2|"},
		{"a stricter gate", func(e *Edition) {
			e.Rules[0].Limit = 24
			e.Gates[0] = Gate{"s1", "soak-length", Failed, "soaked 14.0 h"}
			e.Standings[0] = Standing{Vehicle: "alder", Reason: "s1 fails soak-length"}
		}, "place|Alder 60|place 1 to not ranked: s1 fails soak-length|changed protocol: gate soak-length; " +
			"gate|s1 soak-length|passed to failed|soaked 14.0 h; changed protocol: gate soak-length; protocol|gate soak-length|12 h, fail to 24 h, fail|series.toml"},
		{"a window that moves a figure", func(e *Edition) {
			e.Window = Window{12, 75, "why"}
			e.Standings[0].Values[1].Value, e.Standings[0].Score = p(21), 54
		}, "place|Alder 60|stays at place 1, 55.6 to 54 points|the common window is 12..75 %, was 10..75 %; window|common window|10..75 % to 12..75 %|why"},
		{"a window", func(e *Edition) { e.Window = Window{12, 75, "why"} }, "window|common window|10..75 % to 12..75 %|why"},
		{"a gate", func(e *Edition) { e.Gates[0] = Gate{"s1", "soak-length", Failed, "soaked 5.0 h"} }, "gate|s1 soak-length|passed to failed|soaked 5.0 h"},
		{"a session that cannot be read any more", func(e *Edition) { e.Sessions[0].Problem = "x" }, "session|s1|can no longer be read|x"},
		{"gone", func(e *Edition) { e.Sessions, e.Standings = nil, e.Standings[1:] }, "car|Alder 60|gone|session s1 is gone; session|s1|gone|"},
	} {
		b := sample()
		c.change(b)
		var got []string
		for _, x := range Compare(sample(), b) {
			got = append(got, fmt.Sprintf("%s|%s|%s|%s", x.Kind, x.What, x.Text, x.Why))
		}
		if g := strings.Join(got, "; "); g != c.want {
			t.Errorf("%s:\ngot  %s\nwant %s", c.name, g, c.want)
		}
	}
}

func TestHolds(t *testing.T) {
	e := sample()
	for _, c := range []struct{ figure, why, want string }{
		{"delay_to_onset", "the largest that all 2 sessions cover", "never"},
		{"time_window", "stated in the protocol", "never"},
		{"time_window", "the largest that all 2 sessions cover", "only if it covers less"},
		{"time_window_at_reference", "the largest that all 2 sessions cover", "only if it covers less"},
	} {
		e.Scales[0].Figure, e.Window.Why = c.figure, c.why
		if got := e.Holds(); !strings.Contains(got, c.want) {
			t.Errorf("%s, %s: %s", c.figure, c.why, got)
		}
	}
}

func TestFlaw(t *testing.T) {
	for _, f := range []Figure{
		{Status: Measured}, {Status: Measured, Value: p(1)}, {Status: Measured, Value: p(1), U: p(-1)}, {Status: Fallback, Value: p(1), U: p(1)},
		{Status: Beyond, Note: "x"}, {Status: None, Value: p(1), Note: "x"}, {Status: None}, {Status: "maybe", Note: "x"},
	} {
		if f.Flaw() == "" {
			t.Errorf("%+v was let through", f)
		}
	}
	if f := (Figure{Status: Measured, Value: p(1), U: p(0)}); f.Flaw() != "" {
		t.Error(f.Flaw())
	}
}
