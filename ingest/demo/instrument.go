package demo

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"time"
)

// An instrument is one channel as one logger shows it: each session it has an
// error of its own, drawn from the standard uncertainty that its profile states.
type instrument struct {
	header     string
	of         func(Point) float64
	resolution float64 // of the log, in its unit
	gain, zero float64 // drawn: reading = value*gain + zero
	noise      float64 // standard deviation of each reading, in the log's unit
	scale      func(float64) float64
	floor      bool // cut to the resolution, not rounded
}

// draw sets the error of an instrument whose standard uncertainty is relative
// uRel and absolute uAbs, in the value's unit.
func (in instrument) draw(rng *rand.Rand, uRel, uAbs float64) instrument {
	in.gain, in.zero = 1+uRel*rng.NormFloat64(), uAbs*rng.NormFloat64()
	return in
}

func (in instrument) show(p Point, rng *rand.Rand) float64 {
	v := in.of(p)
	// What is off reads nothing, whatever the gain.
	if v != 0 || in.zero != 0 {
		v = v*in.gain + in.zero
	}
	if in.scale != nil {
		v = in.scale(v)
	}
	if v != 0 {
		v += in.noise * rng.NormFloat64()
	}
	if in.floor {
		return math.Floor(v/in.resolution+1e-9) * in.resolution
	}
	return math.Round(v/in.resolution) * in.resolution
}

func fahrenheit(c float64) float64 { return c*1.8 + 32 }
func watts(kw float64) float64     { return kw * 1000 }

// A layout is how a logger writes a file.
type layout struct {
	preamble string
	delim    string
	decimal  string
	clock    string // header of the clock's column
	when     func(at time.Time, since float64) string
	missing  string // written now and then for a reading that failed; "": never
}

// write writes a log of the run: a row every interval s from the session's
// logging start (s relative to plug-in) on, on a clock that is fast by fastS.
func (lay layout) write(r *Run, plug time.Time, from, interval, fastS float64, gap [2]float64, ins []instrument, rng *rand.Rand) []byte {
	var b bytes.Buffer
	b.WriteString(lay.preamble)
	head := []string{lay.clock}
	for _, in := range ins {
		head = append(head, in.header)
	}
	b.WriteString(strings.Join(head, lay.delim) + "\n")
	last := r.Points[len(r.Points)-1].T
	for t := from; t <= last; t += interval {
		if t >= gap[0] && t < gap[1] {
			continue
		}
		p := r.at(t)
		at := plug.Add(time.Duration(math.Round((t + fastS) * 1e9)))
		row := []string{lay.when(at, t-from)}
		for _, in := range ins {
			if lay.missing != "" && rng.IntN(400) == 0 {
				row = append(row, lay.missing)
				continue
			}
			v := in.show(p, rng)
			decimals := max(0, int(math.Ceil(-math.Log10(in.resolution)-1e-9)))
			if v == 0 {
				v = 0 // no "-0"
			}
			row = append(row, strings.Replace(fmt.Sprintf("%.*f", decimals, v), ".", lay.decimal, 1))
		}
		b.WriteString(strings.Join(row, lay.delim) + "\n")
	}
	return b.Bytes()
}

// at is the state at t s; before plug-in nothing flows.
func (r *Run) at(t float64) Point {
	i := int(math.Floor(t/r.step() + 1e-9))
	if i >= 0 {
		return r.Points[min(i, len(r.Points)-1)]
	}
	p := r.Points[0]
	p.T, p.AmbientC = t, r.Night.Ambient(t)
	p.ChargerKW, p.PackKW, p.HeaterKW, p.AccessKW, p.CabinKW = 0, 0, 0, 0, 0
	return p
}

// register returns the charger's energy register at t s, in kWh.
func (r *Run) register() func(p Point) float64 {
	sums := make([]float64, len(r.Points)+1)
	for i, p := range r.Points {
		sums[i+1] = sums[i] + p.ChargerKW*Step/3600
	}
	return func(p Point) float64 {
		return sums[min(max(0, int(p.T/Step+1e-9)), len(r.Points))]
	}
}
