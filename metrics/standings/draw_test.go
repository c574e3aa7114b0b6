package standings

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"syscall"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"coldbench/metrics/uncertainty"
)

// sevenScales are in five categories, three of them of one scale alone.
var sevenScales = []Scale{
	{Figure: "a", Zero: 90, Full: 0, Weight: 3, Category: "time"},
	{Figure: "b", Zero: 8, Full: 0, Weight: 2, Category: "energy"},
	{Figure: "c", Zero: 120, Full: 20, Weight: 3, Category: "time"},
	{Figure: "d", Zero: 0, Full: 45, Weight: 2, Category: "warmth"},
	{Figure: "e", Zero: 0.1, Full: 0.7, Weight: 1.1, Category: "energy"},
	{Figure: "f", Zero: 35, Full: 15, Weight: 0.7, Category: "range"},
	{Figure: "g", Zero: 0, Full: 1, Weight: 1, Category: "noise"},
}

// manyCars are made by a seed: a fifth of the points is at an end of its scale, a few
// values are missing, known exactly or with few degrees of freedom, and the last car
// is hardly known at all.
func manyCars(n int) []Car {
	r := rand.New(rand.NewPCG(1, uint64(n)))
	out := make([]Car, n)
	for i := range out {
		out[i] = Car{ID: fmt.Sprint("car", i), Values: map[string]uncertainty.Value{}, Free: map[string]float64{}}
		for _, s := range sevenScales {
			point := (s.Full - s.Zero) / 100
			x, u := s.Zero+point*(50+39*r.NormFloat64()), math.Abs(point)*(1+3*r.Float64())
			switch r.IntN(30) {
			case 0:
				continue
			case 1:
				u = 0
			case 2:
				out[i].Free[s.Figure] = float64(1 + r.IntN(4))
			}
			if i == n-1 {
				u *= 50
			}
			out[i].Values[s.Figure] = v(x, u)
		}
	}
	return out
}

// counted are a table's ranges and shares, filled in by counting: each value is
// drawn by itself, and in each draw each car looks at all others.
func counted(t Table, cars []Car, scales []Scale) Table {
	scoresOf := func(id string, category string) []float64 {
		c := cars[slices.IndexFunc(cars, func(c Car) bool { return c.ID == id })]
		out := make([]float64, draws)
		for _, s := range scales {
			v, ok := c.Values[s.Figure]
			if !ok || category != "" && s.Category != category {
				continue
			}
			src := rand.NewPCG(seed(c.ID, s.Figure))
			for d := range out {
				x := v.V
				if free := c.Free[s.Figure]; free > 0 {
					x += v.U * distuv.StudentsT{Sigma: 1, Nu: free, Src: src}.Rand()
				} else {
					x += v.U * rand.New(src).NormFloat64()
				}
				points := s.Weight * s.at(x)
				out[d] += points
			}
		}
		return out
	}
	ranges := func(places []Place, category string) (out []Place, scores [][]float64) {
		for _, p := range places {
			if p.Rank > 0 {
				scores = append(scores, scoresOf(p.ID, category))
			}
		}
		out = slices.Clone(places)
		for i, own := range scores {
			ranks := make([]int, draws)
			for _, other := range scores {
				for d := range ranks {
					if other[d] > own[d] {
						ranks[d]++
					}
				}
			}
			slices.Sort(ranks)
			out[i].Lowest, out[i].Highest = min(1+ranks[250], out[i].Rank), max(1+ranks[9749], out[i].Rank)
		}
		return out, scores
	}
	out := t
	var scores [][]float64
	out.Places, scores = ranges(t.Places, "")
	out.Before = nil
	for i := range scores {
		out.Before = append(out.Before, []float64{})
		for _, other := range scores[i+1 : min(i+1+Beside, len(scores))] {
			more, ties := 0.0, 0.0
			for d, x := range scores[i] {
				if x > other[d] {
					more++
				} else if x == other[d] {
					ties++
				}
			}
			out.Before[i] = append(out.Before[i], (more+ties/2)/draws)
		}
	}
	out.Categories = nil
	for _, c := range t.Categories {
		c.Places, _ = ranges(c.Places, c.Name)
		out.Categories = append(out.Categories, c)
	}
	return out
}

// Ranges of ranks and shares of draws are what counting gives, for values of all
// kinds: missing, exact, at an end and far beyond it, equal, with few degrees of
// freedom, of a car alone, in categories and in none.
func TestByCounting(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		scales := slices.Clone(sevenScales[:rapid.IntRange(1, 4).Draw(t, "scales")])
		for i := range scales {
			scales[i].Category = rapid.SampledFrom([]string{"", "x", "y"}).Draw(t, "category")
		}
		all := make([]Car, rapid.IntRange(1, 7).Draw(t, "n"))
		for i := range all {
			all[i] = Car{ID: fmt.Sprint("car", i), Values: map[string]uncertainty.Value{}, Free: map[string]float64{}}
			for _, s := range scales {
				if rapid.IntRange(0, 5).Draw(t, "has") == 0 {
					continue
				}
				points := rapid.OneOf(rapid.SampledFrom([]float64{-500, -100, 0, 50, 100, 200, 600}), rapid.Float64Range(-10, 110)).Draw(t, "points")
				u := rapid.OneOf(rapid.Just(0.0), rapid.Float64Range(0, 10), rapid.Float64Range(0, 500)).Draw(t, "u")
				point := (s.Full - s.Zero) / 100
				all[i].Values[s.Figure] = v(s.Zero+points*point, u*math.Abs(point))
				all[i].Free[s.Figure] = rapid.SampledFrom([]float64{0, 0, 0, 1, 2.5, 30}).Draw(t, "free")
			}
		}
		table := Rank(all, scales)
		if want := counted(table, all, scales); !reflect.DeepEqual(table, want) {
			t.Fatalf("got  %+v\nwant %+v", table, want)
		}
	})
}

// The same of a series, whose cars are many more than those each is set beside.
func TestManyByCounting(t *testing.T) {
	all := manyCars(150)
	table := Rank(all, sevenScales)
	if want := counted(table, all, sevenScales); !reflect.DeepEqual(table, want) {
		t.Fatalf("got  %+v\nwant %+v", table, want)
	}
}

// sequence is a source of given numbers.
type sequence []uint64

func (s *sequence) Uint64() uint64 {
	x := (*s)[0]
	*s = (*s)[1:]
	return x
}

// By hand: a first number whose lower half is the largest there is and whose strip is
// 0 leads into the generator's tail; then 1 is 2^-53, the least above 0, and 0 has the
// tail taken however far out: 3.442619855899 + 53 ln 2 / 3.442619855899 = 14.1138.
func TestFarthest(t *testing.T) {
	if x := rand.New(&sequence{1<<31 - 1, 1, 0}).NormFloat64(); math.Abs(x-14.1138) > 1e-4 || x > farthest {
		t.Errorf("a draw of %v", x)
	}
}

// Of ranks that lie side by side in a word each is compared by itself, up to the
// largest that has room.
func TestTwiceAhead(t *testing.T) {
	for cars, want := range map[int]int{1: 16, 32767: 16, 32768: 32} { // 32767 is 15 bits of 1
		if got := widthOf(cars); got != want {
			t.Errorf("ranks of %d cars have %d bits, want %d", cars, got, want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		width := rapid.SampledFrom([]int{16, 32}).Draw(t, "width")
		rank := rapid.OneOf(rapid.Uint32Range(1, 4), rapid.Uint32Range(1, 1<<(width-1)-1), rapid.Just(uint32(1<<(width-1)-1)))
		two := &ranking{n: 2, car: []int{1, 0}, ranks: rapid.SliceOfN(rank, 2*part, 2*part).Draw(t, "ranks")}
		b := newBefore(two)
		b.width = width
		for i := range b.words {
			b.words[i] = make([]uint64, part*width/64)
			b.pack(i)
		}
		b.compare(0)
		want := 0
		for d := range part {
			want += 1 + cmp.Compare(two.ranks[d], two.ranks[part+d])
		}
		if got := b.twice[0][0]; got != want {
			t.Fatalf("%d, counted %d", got, want)
		}
	})
}

// Whatever lies where, in one heap, beyond what the bins were laid over or at next to
// nothing from others: ranks are counted ones.
func TestRanksByCounting(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 60).Draw(t, "n")
		r := newRanking(make([]Place, n), make([]Car, n))
		score := rapid.OneOf(rapid.SampledFrom([]float64{0, 0, 50, 100, 100}), rapid.Float64Range(0, 100), rapid.Float64Range(50, 50.001), rapid.Float64Range(0, 1e-320))
		laid := rapid.SliceOfN(score, n, n).Draw(t, "laid over")
		for i := range r.scores {
			r.scores[i] = laid[i/part]
		}
		r.spread()
		for i, score := range rapid.SliceOfN(score, n*tile, n*tile).Draw(t, "ranked") {
			r.scores[i/tile*part+i%tile] = score
		}
		r.rank(0, tile, newScratch(n))
		for d := range tile {
			for i := range n {
				want := uint32(1)
				for j := range n {
					if r.scores[j*part+d] > r.scores[i*part+d] {
						want++
					}
				}
				if got := r.ranks[i*part+d]; got != want {
					t.Fatalf("draw %d, car %d: %d, counted %d", d, i, got, want)
				}
			}
		}
	})
}

// BenchmarkRank also tells the processors' time, which other work on the machine
// does not lengthen as it does the clock's.
func BenchmarkRank(b *testing.B) {
	busy := func() float64 {
		var u syscall.Rusage
		if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
			b.Fatal(err)
		}
		return float64(u.Utime.Nano()+u.Stime.Nano()) / 1e6
	}
	for _, n := range []int{50, 500, 1000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			all := manyCars(n)
			began := busy()
			for b.Loop() {
				Rank(all, sevenScales)
			}
			b.ReportMetric((busy()-began)/float64(b.N), "cpu-ms/op")
		})
	}
}

// Scores that differ by next to nothing still have their order, and of equal ones
// all have the same rank: what the bins are by must not overflow.
func TestRankOfNextToNothing(t *testing.T) {
	tiny := math.SmallestNonzeroFloat64
	for _, c := range []struct {
		scores [3]float64
		want   [3]uint32
	}{{[3]float64{0, tiny, 2 * tiny}, [3]uint32{3, 2, 1}}, {[3]float64{7, 7, 7}, [3]uint32{1, 1, 1}}, {[3]float64{100, 0, 50}, [3]uint32{1, 3, 2}}, {[3]float64{0, tiny, 0}, [3]uint32{2, 1, 2}}} {
		r := newRanking(make([]Place, 3), make([]Car, 3))
		for i, score := range c.scores {
			for d := range part {
				r.scores[i*part+d] = score
			}
		}
		r.spread()
		r.rank(0, share, newScratch(3))
		if got := [3]uint32{r.ranks[0], r.ranks[part], r.ranks[2*part]}; got != c.want {
			t.Errorf("%v, want %v", got, c.want)
		}
	}
}
