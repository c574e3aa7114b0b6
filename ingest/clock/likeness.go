package clock

import (
	"math"
	"math/bits"

	"gonum.org/v1/gonum/dsp/fourier"
)

// changes are the changes of the samples' value over width s, at every second
// from the first sample's on; NaN where a gap hides it.
func changes(samples []Sample, width int) []float64 {
	start := math.Floor(samples[0].At)
	n := int(samples[len(samples)-1].At-start) + 1
	l := newLine(samples)
	grid := make([]float64, n)
	for i := range grid {
		grid[i] = l.at(start + float64(i))
	}
	d := make([]float64, max(0, n-width))
	for i := range d {
		d[i] = grid[i+width] - grid[i]
	}
	return d
}

// likeness finds the number of seconds by which y must be shifted to look most like
// x. Likeness is 1 less the square of their differences over that of both: as a
// correlation, but not blind to size, since a step of 20 kW in the one is about
// one of 20 kW in the other.
func likeness(x, y []float64) (shift, score float64, err error) {
	var size int
	if n := len(x) + len(y); n > 0 {
		size = 1 << bits.Len(uint(n))
	}
	if size == 0 || len(x) < leastOverlapS || len(y) < leastOverlapS {
		return 0, 0, unclear("the two logs of power overlap by less than %d min, too little to tell the clock by", leastOverlapS/60)
	}
	sx, sy := newSpectrum(x, size), newSpectrum(y, size)
	if sx.largest < leastStepKW || sy.largest < leastStepKW {
		return 0, 0, unclear("the power hardly changes, too little to tell the clock by")
	}
	fft := fourier.NewFFT(size)
	both := correlate(fft, sx.values, sy.values)
	ofX := correlate(fft, sx.squares, sy.known)
	ofY := correlate(fft, sx.known, sy.squares)
	overlap := correlate(fft, sx.known, sy.known)

	scores := make([]float64, len(x)+len(y)-1) // of lags from -(len(x)-1) on
	best, any := 0, false
	for i := range scores {
		lag := i - (len(x) - 1)
		k := (lag + size) % size
		// Where most of what moves lies outside, a little that moves inside must
		// not decide.
		if overlap[k] < leastOverlapS-0.5 || ofX[k] < sx.energy/2 && ofY[k] < sy.energy/2 {
			continue
		}
		any = true
		scores[i] = 2 * both[k] / (ofX[k] + ofY[k])
		if scores[i] > scores[best] {
			best = i
		}
	}
	score = scores[best]
	switch {
	case !any:
		return 0, 0, unclear("what moves in the two logs of power is not in both for %d min", leastOverlapS/60)
	case score < leastScore:
		return 0, 0, unclear("the two logs of power are too little alike to tell the clock by: %.2f of 1 at best", score)
	}
	from, to := best, best
	for from >= 0 && scores[from] > score/2 {
		from--
	}
	for to < len(scores) && scores[to] > score/2 {
		to++
	}
	rival := -1
	for i, s := range scores {
		if (i < from || i > to) && s > mostRival*score && (rival < 0 || s > scores[rival]) {
			rival = i
		}
	}
	if rival >= 0 {
		return 0, 0, unclear("two offsets fit the power about as well, %d s apart: %.2f and %.2f of 1", max(rival-best, best-rival), score, scores[rival])
	}
	return float64(-(best - (len(x) - 1))), score, nil
}

// A spectrum is a series of changes, made ready to be correlated.
type spectrum struct {
	values, squares, known []float64 // 0 where nothing is known
	energy, largest        float64
}

func newSpectrum(d []float64, size int) spectrum {
	s := spectrum{values: make([]float64, size), squares: make([]float64, size), known: make([]float64, size)}
	for i, v := range d {
		if math.IsNaN(v) {
			continue
		}
		s.values[i], s.squares[i], s.known[i] = v, v*v, 1
		s.energy += v * v
		s.largest = max(s.largest, math.Abs(v))
	}
	return s
}

// correlate returns the sum over t of x(t) y(t+lag), by lag, negative ones from
// the end.
func correlate(fft *fourier.FFT, x, y []float64) []float64 {
	cx, cy := fft.Coefficients(nil, x), fft.Coefficients(nil, y)
	for i, c := range cx {
		cx[i] = complex(real(c), -imag(c)) * cy[i]
	}
	out := fft.Sequence(nil, cx)
	for i := range out {
		out[i] /= float64(len(out))
	}
	return out
}
