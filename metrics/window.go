package metrics

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"coldbench/metrics/edition"
)

// A coverage is the whole percents of charge that a session covers, from what the
// display shows when the charge begins to the highest it shows.
type coverage struct {
	session  string
	from, to float64
}

// commonWindow is the protocol's SoC window, or where it states none the
// largest whole percents that every ranked session without a failed gate
// covers. A session that cannot be ranked does not narrow it.
func commonWindow(e *edition.Edition, usable []sessionRow, params map[string]float64) edition.Window {
	if from, to := params["window_from_pct"], params["window_to_pct"]; from != 0 || to != 0 {
		return edition.Window{FromPct: from, ToPct: to, Why: "stated in the protocol"}
	}
	failed := failures(e)
	var all []coverage
	for _, s := range usable {
		if s.procedure != Ranked || failed[s.id] != "" {
			continue
		}
		start, ok1 := e.Find(s.id, "onset_soc")
		end, ok2 := e.Find(s.id, "end_soc")
		if !ok1 || !ok2 || !start.Ranked() || !end.Ranked() || *end.Value <= *start.Value {
			continue
		}
		all = append(all, coverage{s.id, math.Ceil(*start.Value), math.Floor(*end.Value)})
	}
	from, to := shared(all, "")
	w := edition.Window{FromPct: from, ToPct: to, Why: fmt.Sprintf("the largest that all %d sessions that may be ranked cover", len(all))}
	switch {
	case len(all) == 1:
		w.Why = "the largest that the one session that may be ranked covers"
	case len(all) == 0 || from >= to:
		w = edition.Window{Why: "no span of charge is covered by every session that may be ranked"}
	}
	if bounds := bounding(all, from, to); bounds != "" {
		w.Why += "; " + bounds
	}
	return w
}

// shared is what all but one session cover; from is not below to where they share nothing.
func shared(all []coverage, but string) (from, to float64) {
	from, to = 0, 100
	for _, c := range all {
		if c.session != but {
			from, to = max(from, c.from), min(to, c.to)
		}
	}
	return from, to
}

// bounding names the sessions that begin last and end first, and says what the window would
// be without each: one mistyped percent narrows it for all.
func bounding(all []coverage, from, to float64) string {
	if len(all) < 2 {
		return ""
	}
	var begin, end []string
	for _, c := range all {
		if c.from == from {
			begin = append(begin, c.session)
		}
		if c.to == to {
			end = append(end, c.session)
		}
	}
	if len(begin) == 1 && slices.Equal(begin, end) {
		return begin[0] + " begins last and ends first" + without(all, begin[0])
	}
	var out []string
	for _, b := range []struct {
		sessions      []string
		verb, several string
	}{{begin, "begins last", "begin last"}, {end, "ends first", "end first"}} {
		switch len(b.sessions) {
		case 0: // the display's own 0 or 100 %
		case 1:
			out = append(out, b.sessions[0]+" "+b.verb+without(all, b.sessions[0]))
		default:
			out = append(out, fmt.Sprintf("%s and %d more %s", b.sessions[0], len(b.sessions)-1, b.several))
		}
	}
	return strings.Join(out, "; ")
}

func without(all []coverage, session string) string {
	from, to := shared(all, session)
	if from >= to {
		return ", without it none either"
	}
	return fmt.Sprintf(", without it %s", edition.Window{FromPct: from, ToPct: to})
}
