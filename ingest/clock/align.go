package clock

import (
	"cmp"
	"math"
	"slices"

	"coldbench/warehouse/diag"
)

// A Sample is one value of a log at a time of its clock, in s.
type Sample struct{ At, Value float64 }

// An Alignment is what Align found.
type Alignment struct {
	OffsetS float64 // to be added to the log's clock
	U       float64 // its standard uncertainty, in s
	Score   float64 // how alike the two are then: 1 if the same, 0 if they have nothing in common
}

// LeastSamples is the number of values that each of two logs must have for their
// clocks to be compared (ours).
const LeastSamples = 10

// What else it takes. The numbers are ours: ten minutes hold the step at the start
// of a charge, and a match that explains less than half of what moves, or hardly
// more than another does, is a guess.
const (
	leastOverlapS = 600
	leastStepKW   = 1
	leastScore    = 0.5
	mostRival     = 0.8
	longestS      = 14 * 86400 // what one log may span
)

// Align finds how far the clock of log is off that of ref, from the power that
// both saw, in kW and in order of time. The two need not be the same power, only
// move together: a charger's and a pack's do, for what the heater takes changes
// now and then, and every change of the rest is in both. Its error is a
// *diag.Diagnostic without a position.
//
// The rough offset is where changes over half a minute, or over the longer
// interval of the two logs, are most alike, step by step of one second. Around it,
// the values of the log with fewer rows are compared with those of the other at
// any fraction of a second. Each offset weighs as much as it is likely, given how
// far the two differ there: the mean is the offset, and the spread, with what the
// intervals of both leave open, its uncertainty. A value is taken to be of the
// moment that its row states.
//
// Note: a parabola through the three highest of the rough steps was tried instead.
// It knows nothing of a log's interval: with a row a minute, every offset within
// half a minute fits as well as the next.
func Align(ref, log []Sample) (Alignment, error) {
	ref, log = perSecond(ref), perSecond(log)
	for _, l := range [...][]Sample{ref, log} {
		if len(l) < LeastSamples {
			return Alignment{}, unclear("%d values of power are too few to tell the clock by", len(l))
		}
		if span := l[len(l)-1].At - l[0].At; span > longestS {
			return Alignment{}, unclear("%.0f days of power are too many to tell the clock by", span/86400)
		}
	}
	width := int(math.Ceil(max(30, interval(ref), interval(log))))
	rough, score, err := likeness(changes(ref, width), changes(log, width))
	if err != nil {
		return Alignment{}, err
	}
	rough += math.Floor(ref[0].At) - math.Floor(log[0].At)
	var offset, u float64
	if interval(log) < interval(ref) {
		offset, u = refine(log, ref, -rough, float64(width))
		offset = -offset
	} else {
		offset, u = refine(ref, log, rough, float64(width))
	}
	for _, l := range [...][]Sample{ref, log} {
		if wholeSeconds(l) {
			u = math.Hypot(u, 1/math.Sqrt(12)) // cut off or rounded, nobody says
		}
	}
	return Alignment{offset, u, score}, nil
}

const stateOffset = "read its clock against a watch and state offset_s and offset_u_s instead of clock = \"align\""

func unclear(format string, args ...any) error {
	return diag.New(diag.Pos{}, format, args...).WithHint("%s", stateOffset)
}

// perSecond puts the mean of the samples of each second in their place, at the
// mean of their times.
func perSecond(samples []Sample) []Sample {
	var out []Sample
	for i := 0; i < len(samples); {
		var at, v float64
		n, s := 0, math.Floor(samples[i].At)
		for ; i < len(samples) && math.Floor(samples[i].At) == s; i++ {
			at += samples[i].At - s
			v += samples[i].Value
			n++
		}
		out = append(out, Sample{s + at/float64(n), v / float64(n)})
	}
	return out
}

// interval is the median time between samples, in s.
func interval(samples []Sample) float64 {
	steps := make([]float64, len(samples)-1)
	for i := range steps {
		steps[i] = samples[i+1].At - samples[i].At
	}
	slices.SortFunc(steps, cmp.Compare[float64])
	return steps[len(steps)/2]
}

// gap is the time between samples, in s, over which there is no line.
func gap(samples []Sample) float64 { return max(120, 3*interval(samples)) }

func wholeSeconds(samples []Sample) bool {
	return !slices.ContainsFunc(samples, func(s Sample) bool { return s.At != math.Floor(s.At) })
}
