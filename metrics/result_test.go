package metrics

import (
	"database/sql"
	"math"
	"testing"
)

// Of powers in whole W at whole seconds, energies are multiples of 1/7200000 kWh;
// 26.5279525 is 191001258 of these, just between two numbers of eight digits. Sums
// that miss such a value by some bits, on either side, are the same result.
func TestResultIsNoMatterOfOrder(t *testing.T) {
	for exact, want := range map[float64]float64{26.5279525: 26.527953, -26.5279525: -26.527953, 60: 60, 0.1: 0.1, 191001258.5: 191001260, 1.0 / 3: 0.33333333, 0: 0} {
		low, high := exact, exact
		for range 100 { // of bits; a sum of 2400 rows misses by some ten
			low, high = math.Nextafter(low, math.Inf(-1)), math.Nextafter(high, math.Inf(1))
		}
		if exact == 0 {
			low, high = 0, 0
		}
		for _, v := range []float64{low, exact, high} {
			if got := result(sql.NullFloat64{Float64: v, Valid: true}); got == nil || *got != want {
				t.Errorf("%v came out as %v, want %v", v, got, want)
			}
		}
	}
}
