package ingest

import (
	"cmp"
	"slices"
	"time"

	"coldbench/ingest/series"
	"coldbench/warehouse"
)

// An Overlap is of two logs of the car or the charger that are read alike, and can
// neither be one logger's, since both go on at a time, nor be told apart: figures
// take the one that tells more.
type Overlap struct {
	Path, Of string
	From, To time.Time
}

// A logger is known by how its logs are read.
type logger struct {
	kind, profile, station string
	connector              int
}

func loggerOf(src series.Source) logger {
	return logger{src.Kind, src.Profile, src.Station, src.Connector}
}

// overlapping is how long a logger's file may go on after its next one begins: a
// row or two that both have, or as far as their clocks may be off.
const overlapping = time.Minute

// continued finds logs that a logger wrote in several files, each beginning once
// the one before has ended: chains in order of time. Logs of one logger that
// overlap are of two loggers that are read alike, and told of as such. Chargers
// whose registers do not go on from each other are two chargers.
func continued(ses *series.Session, spans []warehouse.Span) (chains [][]warehouse.Span, overlaps []Overlap) {
	groups := map[logger][]warehouse.Span{}
	for _, span := range spans {
		if i := sourceAt(ses, span); i >= 0 {
			of := loggerOf(ses.Sources[i])
			groups[of] = append(groups[of], span)
		}
	}
	for _, group := range groups {
		slices.SortFunc(group, func(a, b warehouse.Span) int { return cmp.Or(a.First.Compare(b.First), a.Last.Compare(b.Last)) })
		if len(group) < 2 {
			continue
		}
		whole := true
		for i := 1; i < len(group); i++ {
			a, b := group[i-1], group[i]
			if goesOnFrom(a, b) {
				continue
			}
			whole = false
			if a.Car && b.Car && b.First.Before(a.Last) {
				to := a.Last
				if b.Last.Before(to) {
					to = b.Last
				}
				overlaps = append(overlaps, Overlap{"sessions/" + b.SourceID, "sessions/" + a.SourceID, b.First, to})
			}
		}
		if whole {
			chains = append(chains, group)
		}
	}
	slices.SortFunc(overlaps, func(a, b Overlap) int { return cmp.Compare(a.Path, b.Path) })
	return chains, overlaps
}

// goesOnFrom reports whether b can be what a logger wrote after a.
func goesOnFrom(a, b warehouse.Span) bool {
	slack := overlapping + time.Duration(2*(a.OffsetU+b.OffsetU)*float64(time.Second))
	if a.Last.Sub(b.First) > min(slack, b.Last.Sub(b.First)/2, a.Last.Sub(a.First)/2) {
		return false
	}
	if a.Register == nil || b.Register == nil {
		return a.Register == nil && b.Register == nil
	}
	// No charger gives more than a megawatt (common practice, no source).
	gained := b.Register[0] - a.Register[1]
	return gained >= -0.01 && gained <= 0.1+1000*max(b.First.Sub(a.Last), 0).Hours()
}
