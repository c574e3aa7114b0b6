package workbook

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"coldbench/metrics/edition"
)

// The numbers of the sample, worked out by hand from its scales.
//
// Alder: delay 18 min of 90..0 is 80 points, 2 kWh of 8..0 is 75, 45 min of
// 120..20 is 75, 30 kWh of 0..50 is 60: (3*80+2*75+3*75+2*60)/10 = 73.5. Its
// uncertainty: sqrt((3*100/90*1)²+(2*100/8*0.1)²+(3*1*1)²+(2*2*0.5)²)/10 = 0.55101.
// Birch: 73.9167 ± sqrt(6.6667²+5²+6²+4²)/10 = 1.10202, so 0.4167 apart where 2*1.2321 is needed: both are first.
// Cedar: no time, and more than a full scale in 30 min: (3*55.5556+2*50+0+2*100)/10
// = 46.6667 ± sqrt(3.3333²+2.5²)/10 = 0.41667.
func TestWorkedByHand(t *testing.T) {
	f := opened(t, sampled(t))
	rows := texts(t, f, "Standings")
	at := slices.IndexFunc(rows, func(r []string) bool { return len(r) > 1 && r[0] == "place" }) + 1
	for i, want := range []struct {
		place, car string
		score, u   float64
	}{
		{"1", "Birch 75", 73.9166667, 1.1020183}, {"1", "Alder 60", 73.5, 0.5510092}, {"3", "Cedar 50", 46.6666667, 0.4166667}, {"4", hostile[0], 17.5, 0.4387482},
	} {
		row := rows[at+i]
		if row[0] != want.place || row[1] != want.car || math.Abs(number(t, row[2])-want.score) > 1e-6 || math.Abs(number(t, row[3])-want.u) > 1e-6 {
			t.Errorf("row %d: %q, want %+v", i, row, want)
		}
	}
	if row := rows[at+4]; len(row) > 0 && row[0] != "" {
		t.Errorf("a car too many: %q", row)
	}
}

// Of few cars every pair is told, of many those in doubt.
func TestPairs(t *testing.T) {
	for n, want := range map[int][]string{pageOfCars: {">99%", "75%", "<1%"}, pageOfCars + 1: {"75%"}} {
		e := &edition.Edition{ID: "x", Scales: sampleScales[:1], Figures: []edition.Defined{{Name: sampleScales[0].Figure, Unit: "min"}}}
		for i := range n {
			id := fmt.Sprintf("car-%02d", i)
			e.Vehicles = append(e.Vehicles, edition.Vehicle{ID: id, Name: id})
			e.Standings = append(e.Standings, edition.Standing{Vehicle: id, Place: i + 1, Lowest: i + 1, Highest: i + 1})
		}
		for i, p := range []float64{1, 0.75, 0} {
			e.Pairs = append(e.Pairs, edition.Pair{Before: "car-00", After: fmt.Sprintf("car-%02d", i+1), Probability: p})
		}
		var b bytes.Buffer
		if err := Write(&b, e, nil, nil, nil); err != nil {
			t.Fatal(err)
		}
		rows, err := opened(t, b.Bytes()).GetRows("Standings")
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, row := range rows {
			if slices.Contains(row, "is before") {
				got = append(got, strings.ReplaceAll(row[beforeCol-1], " ", "")) // the library misplaces it
			}
		}
		if !slices.Equal(got, want) {
			t.Errorf("%d cars: %q, want %q", n, got, want)
		}
	}
}
