package metrics

import (
	"fmt"
	"math"

	"coldbench/metrics/edition"
)

// A Gate is a rule that decides whether a session's figures may be ranked.
type Gate struct {
	Name   string
	Title  string
	Figure string // that it judges
	Limit  string // the protocol's parameter it holds the figure against
	Rule   string // one sentence, for people, with the precedent
	judge  func(value, u, limit float64) (edition.Verdict, string)
}

// gates are judged in this order. A figure without a value cannot be judged;
// the session may then be ranked, and its standing says so.
var gates = []Gate{
	{
		"soak-length", "Soak long enough", "soak_hours", "soak_min_h",
		"The car stood outside for at least the protocol's hours. Precedent for 12 h: the cold soak of 40 CFR 86.132 (from memory).",
		func(v, u, limit float64) (edition.Verdict, string) {
			return atLeast(v, u, limit, "soaked %.1f h, the protocol asks for %.1f h")
		},
	},
	{
		"pack-near-ambient", "Pack as cold as the night", "pack_minus_ambient", "pack_ambient_k",
		"At plug-in the coldest pack sensor was within the protocol's band of the air. Precedent for 3 K: the soak band of UN GTR 15 (from memory).",
		func(v, u, limit float64) (edition.Verdict, string) {
			return atMost(math.Abs(v), u, limit, "pack %.1f K from the air, the protocol allows %.1f K")
		},
	},
	{
		"start-soc", "Started low enough", "start_soc", "start_soc_max_pct",
		"The displayed state of charge at plug-in was at most the protocol's. Definition is ours.",
		func(v, u, limit float64) (edition.Verdict, string) {
			return atMost(v, u, limit, "started at %.0f %%, the protocol allows %.0f %%")
		},
	},
	{
		"log-interval", "Logged often enough", "log_interval", "log_max_interval_s",
		"The log that power came from has a row at least as often as the protocol asks. Precedent for 60 s: 40 CFR 1066.710.",
		func(v, u, limit float64) (edition.Verdict, string) {
			return atMost(v, u, limit, "a row every %.0f s, the protocol asks for one every %.0f s")
		},
	},
}

// Gates returns the gates in the order in which they are judged.
func Gates() []Gate { return append([]Gate(nil), gates...) }

func atLeast(v, u, limit float64, format string) (edition.Verdict, string) {
	return within(limit-v, u), fmt.Sprintf(format, v, limit)
}

func atMost(v, u, limit float64, format string) (edition.Verdict, string) {
	return within(v-limit, u), fmt.Sprintf(format, v, limit)
}

// within judges how far a value lies beyond its limit: not at all passes, less
// than its standard uncertainty is flagged, more fails.
func within(beyond, u float64) edition.Verdict {
	switch {
	case beyond <= 0:
		return edition.Passed
	case beyond <= u:
		return edition.Flagged
	}
	return edition.Failed
}

// judge applies every gate to a session of a procedure that is ranked.
func judge(session string, find func(figure string) (edition.Figure, bool), params map[string]float64) []edition.Gate {
	var out []edition.Gate
	for _, g := range gates {
		verdict := edition.Gate{Session: session, Gate: g.Name, Verdict: edition.CannotTell}
		f, ok := find(g.Figure)
		switch {
		case !ok:
			verdict.Reason = "the figure " + g.Figure + " could not be computed"
		case !f.Ranked():
			verdict.Reason = f.Note
		default:
			verdict.Verdict, verdict.Reason = g.judge(*f.Value, *f.U, params[g.Limit])
		}
		out = append(out, verdict)
	}
	return out
}
