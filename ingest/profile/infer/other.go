package infer

import (
	"fmt"
	"regexp"
)

// others are the kinds of log that are no table, by what their lines look like.
var others = []struct {
	kind, doc string
	line      *regexp.Regexp
	needs     bool
	advice    string
}{
	{"metar", "weather reports in METAR", regexp.MustCompile(`^(METAR |SPECI )?(COR )?[A-Z][A-Z0-9]{3} [0-9]{6}Z `), false,
		"start = YYYY-MM-DDT00:00:00 gives the day of the first, station = \"...\" says whose, where the file has several"},
	{"ocpp", "a charger's messages", regexp.MustCompile(`^\s*\[?\s*\[\s*[234]\s*,\s*"`), false, ""},
	{"canlog", "a bus log", regexp.MustCompile(`^\([0-9]+\.[0-9]+\) \S+ [0-9A-Fa-f]{3,8}##?[0-9A-Fa-f]*`), true,
		"the profile needs dbc = \"...\", the file that describes the bus's signals, and a [[column]] a signal"},
	{"isd", "hourly weather observations", regexp.MustCompile(`^[0-9]{4}[0-9A-Z]{6}[0-9]{5}[0-9]{8}[0-9]{4}.[+-][0-9]{5}[+-][0-9]{6}`), false, ""},
	{"isd", "hourly weather observations", regexp.MustCompile(`^"?STATION"?,"?DATE"?,"?SOURCE"?,`), false, ""},
	{"notes", "timed notes", regexp.MustCompile(`^[0-9]{1,2}:[0-9]{2}(:[0-9]{2})? +[^0-9\s;,|]*\p{L}{3}`), false,
		"start = YYYY-MM-DDT00:00:00 gives the day of the first, unless the notes do"},
}

// other reports whether the lines are of a kind that is no table, and proposes it.
func (p *Proposal) other(lines []textLine) bool {
	for _, o := range others {
		n, head := 0, lines[:min(len(lines), 50)]
		for _, l := range head {
			if o.line.MatchString(l.text) {
				n++
			}
		}
		first := o.kind == "isd" && len(head) > 0 && o.line.MatchString(head[0].text)
		if !first && n*5 < len(head)*3 || n == 0 {
			continue
		}
		p.Kind, p.Needs, p.Advice, p.Profile.Kind = o.kind, o.needs, o.advice, o.kind
		p.fact("kind", o.kind, High, "%d of the first %d lines are %s", n, len(head), o.doc)
		if !o.needs {
			p.fact("profile", "none", High, "%s", fmt.Sprintf("this kind says itself what is what; list it in session.toml with kind = %q", o.kind))
		}
		return true
	}
	return false
}
