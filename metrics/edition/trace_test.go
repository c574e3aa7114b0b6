package edition

import (
	"encoding/json"
	"math"
	"slices"
	"testing"
)

// hour is an hour at 1 Hz: nothing, then at 2000 s a step to 80 kW, a spike of
// one second at 2500 s, a gap of 100 s at 3000 s.
func hour() Trace {
	var t Trace
	for s := range 3600 {
		kw := 0.0
		switch {
		case s == 2500:
			kw = 140
		case s >= 3000 && s < 3100:
			kw = math.NaN()
		case s >= 2000:
			kw = 80 + 0.1*float64(s%7)
		}
		t.T = append(t.T, float64(s))
		t.PackKW = append(t.PackKW, kw)
		t.ChargerKW = append(t.ChargerKW, 6)
		t.HeaterKW = append(t.HeaterKW, math.NaN())
		t.SoCPct = append(t.SoCPct, 10+float64(s/60))
		t.PackMinC = append(t.PackMinC, -20)
		t.PackKWh = append(t.PackKWh, math.Max(0, float64(s-2000))/45)
	}
	return t
}

func TestThinKeepsStepsPeaksAndGaps(t *testing.T) {
	whole := hour()
	got := whole.Thin(400)
	if n := len(got.T); n > 400 || n < 200 {
		t.Errorf("%d rows are left of 3600, wanted up to 400", n)
	}
	if got.Whole != 3600 {
		t.Errorf("the whole had %d rows", got.Whole)
	}
	// Both rows of the step, the spike, the first row of the gap; the row before
	// the gap or a later one of its stretch is all the same.
	for _, s := range []float64{0, 1999, 2000, 2500, 3000, 3599} {
		if !slices.Contains(got.T, s) {
			t.Errorf("the row at %g s is gone", s)
		}
	}
	if !slices.IsSorted(got.T) {
		t.Error("time goes back")
	}
	for i, s := range got.T {
		k := int(s)
		for c, column := range got.columns() {
			if have, want := (*column)[i], (*whole.columns()[c])[k]; have != want && !(math.IsNaN(have) && math.IsNaN(want)) {
				t.Fatalf("column %d at %g s is %g, was %g", c, s, have, want)
			}
		}
	}
	if again := got.Thin(400); !slices.Equal(again.T, got.T) || again.Whole != 3600 {
		t.Error("thinned again, differs")
	}
}

func TestThinLeavesWhatIsSmall(t *testing.T) {
	for _, n := range []int{0, 1, 2, 3600} {
		whole := hour()
		whole.T = whole.T[:n]
		for _, c := range whole.columns() {
			*c = (*c)[:n]
		}
		if got := whole.Thin(max(n, 2)); len(got.T) != n || got.Whole != n {
			t.Errorf("of %d rows %d are left, of %d", n, len(got.T), got.Whole)
		}
	}
}

// What is written comes back, to the bit; anything but numbers and nulls does not.
func TestColumnAsJSON(t *testing.T) {
	want := Column{0, math.Copysign(0, -1), -20.1, math.NaN(), 0.1 + 0.2, 1e21, 5e-324}
	text, err := json.Marshal(want)
	if err != nil {
		t.Fatal(err)
	}
	var got Column
	if err := json.Unmarshal(text, &got); err != nil || len(got) != len(want) {
		t.Fatal(len(got), err)
	}
	for i, v := range want {
		if math.Float64bits(got[i]) != math.Float64bits(v) && !math.IsNaN(v) || math.IsNaN(got[i]) != math.IsNaN(v) {
			t.Errorf("%v came back as %v", v, got[i])
		}
	}
	for text, n := range map[string]int{"null": 0, "[]": 0, " [ ] ": 0, "[ 1 ,\n null ]": 2} {
		if err := json.Unmarshal([]byte(text), &got); err != nil || len(got) != n {
			t.Errorf("%q gave %v, %v", text, got, err)
		}
	}
	for _, text := range []string{`{}`, `1`, `"1"`, `["1"]`, `[true]`, `[[1]]`, `[1e999]`, `[{"a":1}]`} {
		if err := json.Unmarshal([]byte(text), &got); err == nil {
			t.Errorf("%s was taken as %v", text, got)
		}
	}
}
