package metrics

import (
	"testing"

	"coldbench/metrics/edition"
)

// The common window is what all that may be ranked cover, in whole percents, and says
// which session bounds it and what it would be without that one.
func TestCommonWindow(t *testing.T) {
	type covered struct {
		session  string
		from, to float64
	}
	for _, c := range []struct {
		name     string
		sessions []covered
		window   string
		why      string
	}{
		{"a mistyped end", []covered{{"alder", 5.5, 85.4}, {"birch", 10, 80}, {"cedar", 8, 50}, {"failed", 30, 40}}, "10..50 %",
			"the largest that all 3 sessions that may be ranked cover; birch begins last, without it 8..50 %; cedar ends first, without it 10..80 %"},
		{"one bounds both ends", []covered{{"alder", 5.5, 85.4}, {"birch", 20, 60}}, "20..60 %",
			"the largest that all 2 sessions that may be ranked cover; birch begins last and ends first, without it 6..85 %"},
		{"several bound it", []covered{{"alder", 10, 80}, {"birch", 9.2, 80}, {"cedar", 5, 90}}, "10..80 %",
			"the largest that all 3 sessions that may be ranked cover; alder and 1 more begin last; alder and 1 more end first"},
		{"nothing is shared", []covered{{"alder", 5, 40}, {"birch", 50, 90}, {"cedar", 5, 90}}, "none",
			"no span of charge is covered by every session that may be ranked; birch begins last, without it 5..40 %; alder ends first, without it 50..90 %"},
		{"nor without any one", []covered{{"alder", 5, 10}, {"birch", 20, 30}, {"cedar", 40, 50}}, "none",
			"no span of charge is covered by every session that may be ranked; cedar begins last, without it none either; alder ends first, without it none either"},
		{"one session", []covered{{"alder", 5, 80}}, "5..80 %", "the largest that the one session that may be ranked covers"},
		{"none", nil, "none", "no span of charge is covered by every session that may be ranked"},
	} {
		e := &edition.Edition{Gates: []edition.Gate{{Session: "failed", Gate: "start-soc", Verdict: edition.Failed}, {Session: "cedar", Gate: "dry", Verdict: edition.Flagged}}}
		usable := []sessionRow{{id: "control", procedure: "warm-charge"}}
		for _, s := range c.sessions {
			u := 0.3
			e.Results = append(e.Results, edition.Figure{Session: s.session, Figure: "end_soc", Value: &s.to, U: &u, Status: edition.Measured},
				edition.Figure{Session: s.session, Figure: "onset_soc", Value: &s.from, U: &u, Status: edition.Measured})
			usable = append(usable, sessionRow{id: s.session, procedure: Ranked})
		}
		if w := commonWindow(e, usable, nil); w.String() != c.window || w.Why != c.why {
			t.Errorf("%s: %s, %s", c.name, w, w.Why)
		}
		if w := commonWindow(e, usable, map[string]float64{"window_from_pct": 10, "window_to_pct": 70}); w.String() != "10..70 %" || w.Why != "stated in the protocol" {
			t.Errorf("%s: stated as %s, %s", c.name, w, w.Why)
		}
	}
}
