package standings

import (
	"cmp"
	"math"
	"slices"
)

// A ranking is cars by some of the scales, while it is drawn.
type ranking struct {
	places  []Place
	car     []int      // of each ranked place
	n       int        // cars
	scores  []float64  // those of the part's draws, car by car
	ranks   []uint32   // likewise
	counts  [][]uint16 // by car, in how many draws it had each rank
	most    float64    // points, of the first part's draws
	bins    float64    // to a point
	crowded bool       // bins have many cars, as the first draw tells
}

// newRanking is of the cars that have places.
func newRanking(places []Place, cars []Car) *ranking {
	n := len(cars)
	r := &ranking{places: places, n: n, scores: make([]float64, n*part), ranks: make([]uint32, n*part)}
	at := map[string]int{}
	for i, c := range cars {
		at[c.ID] = i
		r.counts = append(r.counts, make([]uint16, n+1))
	}
	for _, p := range places[:n] {
		r.car = append(r.car, at[p.ID])
	}
	return r
}

const (
	tile  = 8     // draws that scores are fetched for at a time: a line of the processor's cache
	long  = 16    // cars that are too many in a bin to be put in order one by one
	apart = 0.999 // of a bin, which keeps all but the most points out of the first and all but the fewest out of the last
)

// A scratch is where a share of the draws is ranked.
type scratch struct {
	scores []float64 // a tile's, draw by draw
	bin    []int32   // by car
	ends   []int32   // of bins
	sorted []scored
}

type scored struct {
	score float64
	ranks int // where those of the car begin
}

func newScratch(n int) *scratch {
	return &scratch{make([]float64, tile*n), make([]int32, n), make([]int32, 2*n+1), make([]scored, n)}
}

// spread lays bins over the scores of the first part's draws, twice as many as cars,
// the most points first. At both ends many cars may have the same points, so these
// have the first and last bin nearly for themselves. Bins only save sorting: a score
// that comes later and lies beyond them is ranked as well.
func (r *ranking) spread() {
	low := slices.Min(r.scores)
	r.most = slices.Max(r.scores)
	r.bins = 2 * (float64(r.n) - apart) / (r.most - low)
	if math.IsInf(r.bins, 0) { // next to nothing between them: all in one
		r.bins = 0
	}
	cars := make([]int, 2*r.n)
	for i := range r.n {
		cars[r.bin(r.scores[i*part])]++
	}
	r.crowded = slices.ContainsFunc(cars[1:len(cars)-1], func(n int) bool { return n > long })
}

// bin is the one that a score belongs into.
func (r *ranking) bin(score float64) int32 {
	return int32(min(uint32((r.most-score)*r.bins+apart), uint32(2*r.n-1)))
}

// rank gives the cars their ranks in the draws from to to: in each, 1 and one more for
// each car with more points.
func (r *ranking) rank(from, to int, w *scratch) {
	n, bins := r.n, 2*r.n
	bin, ends, sorted := w.bin, w.ends, w.sorted
	for d := from; d < to; d++ {
		if d%tile == 0 {
			for i := range n {
				for k, score := range r.scores[i*part+d:][:tile] {
					w.scores[k*n+i] = score
				}
			}
		}
		scores := w.scores[d%tile*n:][:n]
		clear(ends) // counted one further on, so that their sums are where bins begin
		for i, score := range scores {
			b := r.bin(score)
			bin[i] = b
			ends[b+1]++
		}
		sum := int32(0)
		for b, k := range ends {
			sum += k
			ends[b] = sum
		}
		for i, b := range bin { // each bin's end moves from where it begins to where it ends
			sorted[ends[b]] = scored{scores[i], i * part}
			ends[b]++
		}
		if r.crowded {
			for b, end := range ends[1 : bins-1] {
				if in := sorted[ends[b]:end]; len(in) > long {
					slices.SortFunc(in, func(a, b scored) int { return cmp.Compare(b.score, a.score) })
				}
			}
		}
		inOrder(sorted)
		rank, last := 0, math.Inf(1)
		for k, c := range sorted {
			if c.score < last {
				rank = k + 1
			}
			last = c.score
			r.ranks[c.ranks+d] = uint32(rank)
		}
	}
}

// inOrder sorts what nearly is: the most points first.
func inOrder(all []scored) {
	last := all[0]
	for k, c := range all {
		if c.score <= last.score {
			last = c
			continue
		}
		for ; k > 0 && all[k-1].score < c.score; k-- {
			all[k] = all[k-1]
		}
		all[k] = c
	}
}

// ranksOf are a car's in the part's draws.
func (r *ranking) ranksOf(car int) []uint32 { return r.ranks[car*part:][:part] }

// count counts a car's ranks in the part's draws.
func (r *ranking) count(car int) {
	counts := r.counts[car]
	for _, rank := range r.ranksOf(car) {
		counts[rank]++
	}
}

// ranges fills in the places' ranges from the counts.
func (r *ranking) ranges() {
	for i, car := range r.car {
		// The rank that is k-th of all draws', the best first.
		at := func(k int) int {
			rank := 0
			for ; k >= int(r.counts[car][rank]); rank++ {
				k -= int(r.counts[car][rank])
			}
			return rank
		}
		p := &r.places[i]
		p.Lowest, p.Highest = min(at(draws*25/1000), p.Rank), max(at(draws*975/1000-1), p.Rank)
	}
}
