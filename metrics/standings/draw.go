package standings

import (
	"cmp"
	"encoding/binary"
	"hash/fnv"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"gonum.org/v1/gonum/stat/distuv"

	"coldbench/metrics/uncertainty"
)

// draws of the Monte Carlo: a share of 95 % is then good to about half a percent.
const draws = 10000

// Draws that are made and ranked at a time, so that those of all cars stay in the
// processor's cache, and of these what one core ranks in one go.
const (
	part  = 200
	share = 50
)

// Beside is how many cars each is set beside in Before: those right after it. Of
// cars that are further apart the places tell, and all pairs of a thousand cars
// would be half a million.
const Beside = 20

// A ranking is cars by some of the scales, while it is drawn.
type ranking struct {
	places []Place
	car    []int       // of each ranked place
	scores [][]float64 // by car, one a draw of the part; once they are ranked, the ranks
	counts [][]uint16  // by car, in how many draws it had each rank
}

// draw fills in the ranges and Before for the ranked cars. The scores of all
// rankings come from the same draws.
func (t *Table) draw(cars []Car, scales []Scale) {
	n := len(cars)
	if n == 0 {
		return
	}
	first := newRanking(t.Places, cars)
	all, of := []*ranking{first}, map[string]*ranking{}
	for _, c := range t.Categories {
		of[c.Name] = newRanking(c.Places, cars)
		all = append(all, of[c.Name])
	}
	values := make([][]*value, n)
	for i, c := range cars {
		values[i] = valuesOf(c, scales)
	}
	before := make([][]balance, n)
	for i := range before {
		before[i] = make([]balance, min(Beside, n-1-i))
	}
	for range draws / part {
		each(n, func(i int) {
			for _, r := range all {
				clear(r.scores[i])
			}
			var nowhere [part]float64
			for _, v := range values[i] {
				category := nowhere[:]
				if r := of[v.scale.Category]; r != nil {
					category = r.scores[i]
				}
				v.draw(first.scores[i], category)
			}
		})
		each(n, func(i int) {
			for k := range before[i] {
				before[i][k].add(first.scores[first.car[i]], first.scores[first.car[i+1+k]])
			}
		})
		each(len(all)*part/share, func(k int) {
			from := k % (part / share) * share
			all[k/(part/share)].rank(from, from+share)
		})
		each(n, func(i int) {
			for _, r := range all {
				for _, rank := range r.scores[i] {
					r.counts[i][int(rank)]++
				}
			}
		})
	}
	t.Before = make([][]float64, n)
	for i := range before {
		t.Before[i] = make([]float64, len(before[i]))
		for k, b := range before[i] {
			t.Before[i][k] = (float64(b.more) + float64(draws-b.more-b.less)/2) / draws
		}
	}
	for _, r := range all {
		r.ranges()
	}
}

// newRanking is of the cars that have places.
func newRanking(places []Place, cars []Car) *ranking {
	r := &ranking{places: places}
	at := map[string]int{}
	for i, c := range cars {
		at[c.ID] = i
		r.scores, r.counts = append(r.scores, make([]float64, part)), append(r.counts, make([]uint16, len(cars)+1))
	}
	for _, p := range places[:len(cars)] {
		r.car = append(r.car, at[p.ID])
	}
	return r
}

// rank makes the scores of draws from to to into ranks: in each, 1 and one more for
// each car with more points. Cars are put into bins by points, the most first, which
// leaves little to sort.
func (r *ranking) rank(from, to int) {
	type scored struct {
		score float64
		car   int32
	}
	n := len(r.scores)
	all, sorted, bin, ends := make([]float64, n), make([]scored, n), make([]int32, n), make([]int32, n+1)
	for d := from; d < to; d++ {
		low, high := r.scores[0][d], r.scores[0][d]
		for i, s := range r.scores {
			score := s[d]
			all[i], low, high = score, min(low, score), max(high, score)
		}
		span := high - low
		if span == 0 {
			span = 1
		}
		clear(ends)
		for i, score := range all {
			bin[i] = int32((high - score) / span * float64(n-1)) // first divided: span may be next to nothing
			ends[bin[i]+1]++
		}
		for b := range n {
			ends[b+1] += ends[b]
		}
		for i, score := range all { // each bin's end moves from where it begins to where it ends
			sorted[ends[bin[i]]] = scored{score, int32(i)}
			ends[bin[i]]++
		}
		begin := int32(0)
		for _, end := range ends[:n] {
			if end > begin+1 {
				slices.SortFunc(sorted[begin:end], func(a, b scored) int { return cmp.Compare(b.score, a.score) })
			}
			begin = end
		}
		rank, last := 0, 0.0
		for k, c := range sorted {
			if k == 0 || c.score < last {
				rank, last = k+1, c.score
			}
			r.scores[c.car][d] = float64(rank)
		}
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

// A value is a car's on a scale, while it is drawn.
type value struct {
	uncertainty.Value
	scale   Scale
	sure    bool // earns the same whatever is drawn
	normal  *rand.Rand
	student *distuv.StudentsT // nil: normal
}

// farthest is more than a normal draw is from its mean, in standard deviations: the
// generator's tail begins at 3.44 and goes on by -ln(x)/3.44, x being 2^-53 or more
// but for two noughts in a row, of which there is one in 2^106.
const farthest = 15

// valuesOf are those that a car has.
func valuesOf(c Car, scales []Scale) []*value {
	var out []*value
	for _, s := range scales {
		v, ok := c.Values[s.Figure]
		if !ok {
			continue
		}
		src := rand.NewPCG(seed(c.ID, s.Figure))
		to := &value{Value: v, scale: s, normal: rand.New(src), sure: v.U == 0}
		if free := c.Free[s.Figure]; free > 0 { // JCGM 101, 6.4.9: few degrees of freedom have longer tails
			to.student = &distuv.StudentsT{Mu: 0, Sigma: 1, Nu: free, Src: src}
		} else if s.at(v.V-farthest*v.U) == s.at(v.V+farthest*v.U) {
			to.sure = true
		}
		out = append(out, to)
	}
	return out
}

// draw adds the weighted points of a part's draws to two sums.
func (v *value) draw(one, other []float64) {
	one, other = one[:part], other[:part]
	weight, zero, span := v.scale.Weight, v.scale.Zero, v.scale.Full-v.scale.Zero
	if v.sure {
		points := weight * v.scale.at(v.V)
		for d := range one {
			one[d] += points
			other[d] += points
		}
		return
	}
	var drawn [part]float64 // first all of them, since calls keep what follows from overlapping
	if v.student != nil {
		for d := range drawn {
			drawn[d] = v.student.Rand()
		}
	} else {
		for d := range drawn {
			drawn[d] = v.normal.NormFloat64()
		}
	}
	mean, u := v.V, v.U
	for d, x := range drawn {
		points := weight * earned(mean+u*x, zero, span)
		one[d] += points
		other[d] += points
	}
}

// A balance is in how many draws one car had more points than another, and less.
type balance struct{ more, less int }

func (b *balance) add(one, other []float64) {
	other = other[:len(one)]
	for d, x := range one {
		more, less := 0, 0 // added in any case: nobody foretells which it is
		if x > other[d] {
			more = 1
		}
		if x < other[d] {
			less = 1
		}
		b.more, b.less = b.more+more, b.less+less
	}
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
