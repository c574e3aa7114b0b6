package clock

import (
	"fmt"
	"slices"

	"github.com/pelletier/go-toml/v2"

	"coldbench/ingest/series"
	"coldbench/ingest/source"
	"coldbench/warehouse/diag"
)

// Of makes the resolver of a source whose profile's clock is c. Its diagnostic
// points at the source if that lacks a start, else at the profile's format.
func Of(in source.Input, c series.Clock) (*Resolver, *diag.Diagnostic) {
	r, err := New(c, in.Location, in.Source.Start, in.Source.OffsetS)
	if err == nil {
		return r, nil
	}
	d := diag.At(err, in.Profile.At("clock", "format"))
	if d.Err == errNoStart {
		d.Msg = "by profiles/" + in.Profile.ID + ".toml " + d.Msg
		d.WithHint("at the source in session.toml state %s", Start(c, sessionDay(in.Session)))
		i := slices.IndexFunc(in.Session.Sources, func(s series.Source) bool { return s.File == in.Source.File })
		if pos := in.Session.At("source", fmt.Sprint(i)); pos.Line > 0 {
			d.Pos = pos
		}
	}
	d.Msg = in.Shown + ": " + d.Msg
	return nil, d
}

// Start is the key that a source of a clock without a date must state, and what of;
// day is a likely one, zero if none is known.
func Start(c series.Clock, day toml.LocalDate) string {
	date := "YYYY-MM-DD"
	if day != (toml.LocalDate{}) {
		date = day.String()
	}
	switch {
	case c.Format == "elapsed":
		return fmt.Sprintf("start = %sThh:mm:ss, the moment at which the clock showed 0", date)
	case date == day.String():
		return fmt.Sprintf("start = %sT00:00:00, if that is the day of the first row", date)
	}
	return fmt.Sprintf("start = %sT00:00:00, the day of the first row", date)
}

// sessionDay is a day that session.toml states, zero if none: rather the one of the
// charge or drive, which most logs are of, than the one before it.
func sessionDay(s *series.Session) toml.LocalDate {
	for _, at := range []toml.LocalDateTime{s.PlugIn, s.Start, s.SoakStart} {
		if at != (toml.LocalDateTime{}) {
			return at.LocalDate
		}
	}
	return toml.LocalDate{}
}
