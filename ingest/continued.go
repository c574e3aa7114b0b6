package ingest

import (
	"slices"

	"coldbench/ingest/series"
	"coldbench/warehouse"
)

// A logger is known by how its logs are read.
type logger struct {
	kind, profile, station string
	connector              int
}

// continued finds logs that a logger wrote in several files: of one profile (or
// kind, where it needs none), each beginning once the one before has ended. It
// gives the first of them for each of the others, by ID. Logs of one profile that
// overlap are of two loggers. Chargers that log a register are told apart by it:
// each has its own.
func continued(ses *series.Session, spans []warehouse.Span) map[string]string {
	groups := map[logger][]warehouse.Span{}
	for _, span := range spans {
		i := slices.IndexFunc(ses.Sources, func(src series.Source) bool { return ses.ID+"/"+src.File == span.SourceID })
		if i >= 0 && !span.Register {
			src := ses.Sources[i]
			of := logger{src.Kind, src.Profile, src.Station, src.Connector}
			groups[of] = append(groups[of], span)
		}
	}
	from := map[string]string{}
	for _, group := range groups {
		slices.SortFunc(group, func(a, b warehouse.Span) int { return a.First.Compare(b.First) })
		overlap := false
		for i := 1; i < len(group); i++ {
			overlap = overlap || group[i].First.Before(group[i-1].Last)
		}
		for i := 1; i < len(group) && !overlap; i++ {
			from[group[i].SourceID] = group[0].SourceID
		}
	}
	return from
}
