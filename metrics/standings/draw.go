package standings

import (
	"encoding/binary"
	"hash/fnv"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"gonum.org/v1/gonum/stat/distuv"
)

// draws of the Monte Carlo: a share of 95 % is then good to about half a percent.
const draws = 10000

// Beside is how many cars each is set beside in Before: those right after it. Of
// cars that are further apart the places tell, and all pairs of a thousand cars
// would be half a million.
const Beside = 20

// draw fills in the ranges and Before for the ranked cars, in the table's order.
func (t *Table) draw(cars []Car, scales []Scale) {
	n := len(cars)
	if n == 0 {
		return
	}
	scores := make([][]float64, n)
	each(n, func(i int) { scores[i] = scoresOf(cars[i], scales) })
	t.Before = make([][]float64, n)
	each(n, func(i int) {
		t.Before[i] = make([]float64, min(Beside, n-1-i))
		for k := range t.Before[i] {
			t.Before[i][k] = shareBefore(scores[i], scores[i+1+k])
		}
	})
	// From here on scores are ranks: in each draw, 1 + the cars with more points.
	const part = 500
	each(draws/part, func(p int) {
		sorted := make([]float64, n)
		for d := p * part; d < (p+1)*part; d++ {
			for i := range sorted {
				sorted[i] = scores[i][d]
			}
			slices.Sort(sorted)
			for i := range scores {
				scores[i][d] = float64(1 + n - upTo(sorted, scores[i][d]))
			}
		}
	})
	each(n, func(i int) {
		counts := make([]int, n+1)
		for _, rank := range scores[i] {
			counts[int(rank)]++
		}
		// The rank that is k-th of all draws', the best first.
		at := func(k int) int {
			rank := 0
			for ; k >= counts[rank]; rank++ {
				k -= counts[rank]
			}
			return rank
		}
		p := &t.Places[i]
		p.Lowest, p.Highest = min(at(draws*25/1000), p.Rank), max(at(draws*975/1000-1), p.Rank)
	})
}

// scoresOf are a car's weighted points, one a draw.
func scoresOf(c Car, scales []Scale) []float64 {
	out := make([]float64, draws)
	for _, s := range scales {
		v, ok := c.Values[s.Figure]
		if !ok {
			continue
		}
		src := rand.NewPCG(seed(c.ID, s.Figure))
		draw := rand.New(src).NormFloat64
		if free := c.Free[s.Figure]; free > 0 { // JCGM 101, 6.4.9: few degrees of freedom have longer tails
			draw = distuv.StudentsT{Mu: 0, Sigma: 1, Nu: free, Src: src}.Rand
		}
		for d := range out {
			out[d] += s.Weight * s.at(v.V+v.U*draw())
		}
	}
	return out
}

func shareBefore(a, b []float64) float64 {
	more, less := 0, 0
	for d, x := range a {
		if x > b[d] {
			more++
		}
		if x < b[d] {
			less++
		}
	}
	return (float64(more) + float64(draws-more-less)/2) / draws
}

// upTo is how many of sorted are not above x.
func upTo(sorted []float64, x float64) int {
	low, high := 0, len(sorted)
	for low < high {
		if mid := (low + high) / 2; sorted[mid] > x {
			high = mid
		} else {
			low = mid + 1
		}
	}
	return low
}

// each calls do with 0 to n-1, on all cores.
func each(n int, do func(i int)) {
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(n, runtime.GOMAXPROCS(0)) {
		wg.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				do(i)
			}
		})
	}
	wg.Wait()
}

func seed(id, figure string) (uint64, uint64) {
	h := fnv.New128a()
	h.Write([]byte(id + "\x00" + figure))
	sum := h.Sum(nil)
	return binary.BigEndian.Uint64(sum[:8]), binary.BigEndian.Uint64(sum[8:])
}
