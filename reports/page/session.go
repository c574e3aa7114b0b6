package page

import (
	"fmt"
	"time"

	"coldbench/metrics/edition"
)

// A session is one session's part of the page.
type session struct {
	edition.Session
	Car    string // whole
	Facts  [][2]string
	Gates  []gate
	Phases []phase
	Events []event
}

type gate struct {
	Title, Verdict, Reason string
	Class, Mark            string
}

type phase struct{ Name, From, To, Rule string }

type event struct{ At, Kind, Text, Where string }

// verdictMarks tell verdicts apart without their colours.
var verdictMarks = map[edition.Verdict]string{edition.Passed: "✓", edition.Flagged: "!", edition.Failed: "✗", edition.CannotTell: "?"}

// classes are the verdicts as the style knows them.
var classes = map[edition.Verdict]string{edition.Passed: "passed", edition.Flagged: "flagged", edition.Failed: "failed", edition.CannotTell: "unknown"}

func sessions(e *edition.Edition, c chart, logs []edition.Log) []session {
	byID := map[string]edition.Log{}
	for _, l := range logs {
		byID[l.Session] = l
	}
	gates := map[string][]gate{}
	for _, g := range e.Gates {
		title := e.RuleOf(g.Gate).Title
		if title == "" {
			title = g.Gate
		}
		gates[g.Session] = append(gates[g.Session], gate{title, string(g.Verdict), clean(g.Reason), classes[g.Verdict], verdictMarks[g.Verdict]})
	}
	var out []session
	for _, s := range e.Sessions {
		l := byID[s.ID]
		x := session{Session: s, Car: clean(e.Name(s.Vehicle)), Facts: facts(s, l), Gates: gates[s.ID]}
		if i := c.index(s.ID); i >= 0 && c.Runs[i].Whole > len(c.Runs[i].T) {
			x.Facts = append(x.Facts, [2]string{"chart", fmt.Sprintf("%s of %s rows of one second", count(int64(len(c.Runs[i].T))), count(int64(c.Runs[i].Whole)))})
		}
		for _, p := range l.Phases {
			x.Phases = append(x.Phases, phase{p.Name, minute(p.From - l.PlugS), minute(p.To - l.PlugS), p.Rule})
		}
		for _, ev := range l.Events {
			x.Events = append(x.Events, event{minute(ev.T - l.PlugS), clean(ev.Kind), clean(ev.Text), fmt.Sprintf("%s:%d", clean(ev.Path), ev.Line)})
		}
		out = append(out, x)
	}
	return out
}

// facts say of a session what it was and what its clock rests on.
func facts(s edition.Session, l edition.Log) [][2]string {
	var out [][2]string
	add := func(name, text string) {
		if text != "" {
			out = append(out, [2]string{name, clean(text)})
		}
	}
	add("not read", s.Problem)
	add("remark", s.Remark)
	if !s.Zero.IsZero() {
		text := s.Zero.UTC().Format("2 January 2006, 15:04:05 UTC")
		if loc, err := time.LoadLocation(s.Zone); err == nil && s.Zone != "" {
			text = s.Zero.In(loc).Format("2 January 2006, 15:04:05 ") + s.Zone + " (" + s.Zero.UTC().Format("15:04:05 UTC") + ")"
		}
		add("plugged in", text)
	}
	add("known from", s.ZeroFrom)
	if l.PlugS != 0 {
		add("minutes", fmt.Sprintf("count from the plug-in that the charge came from, %s min after the first", minute(l.PlugS)))
	}
	return out
}
