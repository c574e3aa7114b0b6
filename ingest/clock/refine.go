package clock

import (
	"math"
	"sort"
)

// A line joins samples by straight lines, but not over gaps.
type line struct {
	samples []Sample
	gap     float64
	i       int // of the last sample at or before the last time asked for
}

func newLine(samples []Sample) *line { return &line{samples: samples, gap: gap(samples)} }

// at is the value at a time, NaN in a gap. Times that go up cost least.
func (l *line) at(t float64) float64 {
	s := l.samples
	if t < s[0].At || t > s[len(s)-1].At {
		return math.NaN()
	}
	if s[l.i].At > t {
		l.i = max(0, sort.Search(len(s), func(i int) bool { return s[i].At > t })-1)
	}
	for l.i+1 < len(s) && s[l.i+1].At <= t {
		l.i++
	}
	a := s[l.i]
	if a.At == t {
		return a.Value
	}
	b := s[l.i+1]
	if b.At-a.At > l.gap {
		return math.NaN()
	}
	return a.Value + (b.Value-a.Value)*(t-a.At)/(b.At-a.At)
}

// refine finds the offset of sparse's clock, within reach of a rough one, at which
// its values agree best with those of dense: its mean over all that are likely, and
// its standard uncertainty.
//
// The one is fitted to the other as a multiple plus a constant, after what a
// difference keeps of the one before is taken out (Cochrane and Orcutt 1949), so
// that differences which last, such as a heater's power, count once. With what is
// left taken as normal, an offset's likelihood goes with the sum of its squares to
// the power of -n/2 (Box and Tiao 1973). Here it is -n/4: what is left has a few
// large values, where a heater switches, and they must not decide as if they were
// normal (ours; the coverage is tested).
func refine(dense, sparse []Sample, rough, reach float64) (offset, u float64) {
	f := fit{dense: newLine(dense), sparse: sparse, gap: gap(sparse)}
	f.keep = f.kept(rough)
	const side = 60
	offset = rough
	var logs, at [2*side + 1]float64
	for range 8 {
		step, best := reach/side, math.Inf(-1)
		for i := range logs {
			at[i] = offset + float64(i-side)*step
			logs[i] = f.likelihood(at[i])
			best = max(best, logs[i])
		}
		var weight, mean, square float64
		for i, l := range logs {
			if w := math.Exp(l - best); w > 0 {
				weight += w
				mean += w * at[i]
			}
		}
		if weight == 0 {
			break // nothing to compare: the rough offset stands
		}
		mean /= weight
		for i, l := range logs {
			square += math.Exp(l-best) * (at[i] - mean) * (at[i] - mean)
		}
		offset, u = mean, math.Sqrt(square/weight)
		if u > 4*step || step < 0.001 {
			break
		}
		reach = max(6*u, 2*step)
	}
	// A step lies anywhere between two rows. Where one log has a row far oftener,
	// the likelihood says so; of two alike, their lines hide it. For one step the
	// two together are uniform in both intervals: (a²+b²)/12, of which (b-a)²/12
	// shows. Several steps share it out.
	a, b := interval(dense), interval(sparse)
	return offset, math.Sqrt(u*u + a*b/6/f.steps(offset))
}

// A fit compares the values of sparse with those of dense at the same moments.
type fit struct {
	dense  *line
	sparse []Sample
	gap    float64
	keep   float64 // of a difference that is left in the next row
}

// pairs calls fn with the values of both, of each row and the one before it.
func (f *fit) pairs(offset float64, fn func(x0, x, y0, y float64)) {
	x0 := math.NaN()
	for i, s := range f.sparse {
		x := f.dense.at(s.At + offset)
		if i > 0 && s.At-f.sparse[i-1].At <= f.gap && !math.IsNaN(x0) && !math.IsNaN(x) {
			fn(x0, x, f.sparse[i-1].Value, s.Value)
		}
		x0 = x
	}
}

// kept is how much of a difference between the two is left in the next row, 0 to 1.
func (f *fit) kept(offset float64) float64 {
	var l leastSquares
	f.pairs(offset, func(_, x, _, y float64) { l.add(x, y) })
	gain, base := l.line()
	var same, next float64
	f.pairs(offset, func(x0, x, y0, y float64) {
		e0, e := y0-base-gain*x0, y-base-gain*x
		same += e0 * e0
		next += e0 * e
	})
	if same == 0 {
		return 0
	}
	return max(0, min(next/same, 1))
}

// likelihood is the logarithm of how likely an offset is, without what all share.
func (f *fit) likelihood(offset float64) float64 {
	var l leastSquares
	f.pairs(offset, func(x0, x, y0, y float64) { l.add(x-f.keep*x0, y-f.keep*y0) })
	if l.n < 3 {
		return math.Inf(-1)
	}
	return -l.n / 4 * math.Log(l.left()/l.n)
}

// steps is the number of steps of one size that would tell the offset as well as
// what both saw move.
func (f *fit) steps(offset float64) float64 {
	var sum, square float64
	f.pairs(offset, func(x0, x, y0, y float64) {
		e := (x - x0) * (y - y0)
		sum += e
		square += e * e
	})
	if square == 0 {
		return 1
	}
	return max(1, sum*sum/square)
}

// leastSquares fits y = gain x + base.
type leastSquares struct{ n, x, y, xx, xy, yy float64 }

func (l *leastSquares) add(x, y float64) {
	l.n++
	l.x += x
	l.y += y
	l.xx += x * x
	l.xy += x * y
	l.yy += y * y
}

func (l *leastSquares) line() (gain, base float64) {
	if sxx := l.xx - l.x*l.x/l.n; l.n > 0 && sxx > 0 {
		gain = (l.xy - l.x*l.y/l.n) / sxx
		base = (l.y - gain*l.x) / l.n
	}
	return gain, base
}

// left is the sum of squares that the fit leaves, at least what a display's last
// digit leaves.
func (l *leastSquares) left() float64 {
	gain, _ := l.line()
	return max(l.yy-l.y*l.y/l.n-gain*(l.xy-l.x*l.y/l.n), l.n*0.01*0.01/12)
}
