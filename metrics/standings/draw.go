package standings

import (
	"encoding/binary"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"runtime"
	"sync"
	"sync/atomic"

	"gonum.org/v1/gonum/stat/distuv"

	"coldbench/metrics/uncertainty"
)

// draws of the Monte Carlo: a share of 95 % is then good to about half a percent.
const draws = 10000

// Draws that are made and ranked at a time, so that those of all cars stay in the
// processor's cache, and of these what one core ranks in one go, whole tiles.
const (
	part  = 200
	share = 40
)

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
	values, common := make([][]*value, n), make([]*factor, n)
	for i, c := range cars {
		values[i], common[i] = valuesOf(c, scales)
	}
	before := newBefore(first)
	spare := sync.Pool{New: func() any { return newScratch(n) }}
	for p := range draws / part {
		each(n, func(i int) {
			for _, r := range all {
				clear(r.scores[i*part:][:part])
			}
			if common[i] != nil {
				common[i].draw()
			}
			var nowhere [part]float64
			for _, v := range values[i] {
				category := nowhere[:]
				if r := of[v.scale.Category]; r != nil {
					category = r.scores[i*part:][:part]
				}
				v.draw(first.scores[i*part:][:part], category)
			}
		})
		if p == 0 {
			for _, r := range all {
				r.spread()
			}
		}
		each(len(all)*part/share, func(k int) {
			w := spare.Get().(*scratch)
			from := k % (part / share) * share
			all[k/(part/share)].rank(from, from+share, w)
			spare.Put(w)
		})
		each(n, func(i int) {
			for _, r := range all {
				r.count(i)
			}
			before.pack(i)
		})
		each(n, before.compare)
	}
	t.Before = before.shares()
	for _, r := range all {
		r.ranges()
	}
}

// A drawer draws errors of standard deviation 1.
type drawer struct {
	normal  *rand.Rand
	student *distuv.StudentsT // nil: normal
}

// newDrawer is the one of a car and figure; free degrees of freedom, 0 for many.
func newDrawer(id, figure string, free float64) drawer {
	src := rand.NewPCG(seed(id, figure))
	d := drawer{normal: rand.New(src)}
	if free > 0 { // JCGM 101, 6.4.9: few degrees of freedom have longer tails
		d.student = &distuv.StudentsT{Mu: 0, Sigma: 1, Nu: free, Src: src}
	}
	return d
}

func (d drawer) draw(into *[part]float64) {
	if d.student != nil {
		for k := range into {
			into[k] = d.student.Rand()
		}
		return
	}
	for k := range into {
		into[k] = d.normal.NormFloat64()
	}
}

// A factor is what a car's values have in common, while it is drawn.
type factor struct {
	drawer
	drawn [part]float64
}

func (f *factor) draw() { f.drawer.draw(&f.drawn) }

// A value is a car's on a scale, while it is drawn.
type value struct {
	uncertainty.Value
	drawer
	scale    Scale
	sure     bool    // earns the same whatever is drawn
	common   *factor // nil: has nothing in common
	in, rest float64 // how much of the common error and of its own is in its error
}

// farthest is more than a normal draw is from its mean, in standard deviations: the
// generator's tail begins at 3.44 and goes on by -ln(x)/3.44, x being 2^-53 or more
// but for two noughts in a row, of which there is one in 2^106.
const farthest = 15

// valuesOf are those that a car has, and what they have in common, or nil.
func valuesOf(c Car, scales []Scale) ([]*value, *factor) {
	var out []*value
	var common *factor
	for _, s := range scales {
		v, ok := c.Values[s.Figure]
		if !ok {
			continue
		}
		free, in := c.Free[s.Figure], c.Common.Of[s.Figure]
		to := &value{Value: v, scale: s, drawer: newDrawer(c.ID, s.Figure, free), sure: v.U == 0}
		if free == 0 && (in == 0 || c.Common.Free == 0) && s.at(v.V-farthest*v.U) == s.at(v.V+farthest*v.U) {
			to.sure = true
		}
		if in != 0 {
			if common == nil {
				common = &factor{drawer: newDrawer(c.ID, "", c.Common.Free)}
			}
			to.common, to.in, to.rest = common, in, math.Sqrt(1-in*in)
		}
		out = append(out, to)
	}
	return out, common
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
	v.drawer.draw(&drawn)
	if v.common != nil {
		for d, x := range v.common.drawn {
			drawn[d] = v.in*x + v.rest*drawn[d]
		}
	}
	mean, u := v.V, v.U
	for d, x := range drawn {
		points := weight * earned(mean+u*x, zero, span)
		one[d] += points
		other[d] += points
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
