package series

import (
	"time"

	"github.com/pelletier/go-toml/v2"
)

// Wall is the moment of a wall time in a zone. Of the two that autumn's repeated
// hour gives it is the earlier, as it is in notes; ok is false where spring's
// change leaves the time out.
func Wall(t toml.LocalDateTime, loc *time.Location) (at time.Time, ok bool) {
	at = t.AsTime(loc)
	same := func(u time.Time) bool { return u.Hour() == t.Hour && u.Minute() == t.Minute && u.Day() == t.Day }
	// No zone repeats more than three hours, and all do so in half hours.
	for back := 3 * time.Hour; back > 0; back -= 30 * time.Minute {
		if earlier := at.Add(-back); same(earlier) {
			return earlier, true
		}
	}
	return at, same(at)
}
