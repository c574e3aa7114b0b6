package source

import (
	"time"

	"coldbench/ingest/series"
)

// NewSample is the input of a file that no profile describes yet: with an empty
// profile of its own, of no session.
func NewSample(path, shown string) Input {
	return Input{Path: path, Shown: shown, Profile: &series.Profile{ID: "NAME", Decimal: ".", Order: "strict"}, Session: &series.Session{}, Location: time.UTC}
}
