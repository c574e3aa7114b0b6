package edition

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// A Change is one thing that differs between two editions.
type Change struct {
	Kind string `json:"kind"` // "place", "car", "session", "figure", "gate", "protocol", "definition", "window", "input"
	What string `json:"what"` // what it is about: a car's name, a session, a parameter
	Text string `json:"text"` // one sentence part, such as "place 3 to 2"
	Why  string `json:"why,omitempty"`
}

// Compare tells what moved from edition a to edition b: first places, then the
// causes. Figures are compared only where they count for the standings.
func Compare(a, b *Edition) []Change {
	var out []Change
	add := func(kind, what, why, format string, args ...any) {
		out = append(out, Change{kind, what, fmt.Sprintf(format, args...), why})
	}
	causes := causes(a, b)
	comparePlaces(a, b, causes, add)
	compareSessions(a, b, add)
	compareResults(a, b, add)
	if a.Window.FromPct != b.Window.FromPct || a.Window.ToPct != b.Window.ToPct {
		add("window", "common window", b.Window.Why, "%s to %s", a.Window, b.Window)
	}
	old := map[string]float64{}
	for _, p := range a.Protocol {
		old[p.Name] = p.Value
	}
	for _, p := range b.Protocol {
		if v, ok := old[p.Name]; ok && v != p.Value && !strings.HasPrefix(p.Name, "window_") {
			add("protocol", p.Name, "series.toml", "%g to %g", v, p.Value)
		}
	}
	scales := map[string]Scale{}
	for _, s := range a.Scales {
		scales[s.Figure] = s
	}
	for _, s := range b.Scales {
		o, ok := scales[s.Figure]
		delete(scales, s.Figure)
		switch {
		case !ok:
			add("protocol", "points for "+s.Figure, "series.toml", "new, weight %g", s.Weight)
		case o != s:
			add("protocol", "points for "+s.Figure, "series.toml", "%g..%g weight %g to %g..%g weight %g", o.Zero, o.Full, o.Weight, s.Zero, s.Full, s.Weight)
		}
	}
	for _, f := range slices.Sorted(maps.Keys(scales)) {
		add("protocol", "points for "+f, "series.toml", "gone")
	}
	for _, r := range b.Rules {
		if o := a.RuleOf(r.Gate); o.Gate != "" && (o.Limit != r.Limit || o.Action != r.Action) {
			add("protocol", "gate "+r.Gate, "series.toml", "%g %s, %s to %g %s, %s", o.Limit, o.Unit, o.Action, r.Limit, r.Unit, r.Action)
		}
	}
	for _, d := range b.Figures {
		if o := a.Definition(d.Name); o.Name != "" && o.SHA256 != d.SHA256 {
			add("definition", d.Name, "", "is defined differently")
		}
	}
	return out
}

// String gives "10..75 %", or "none".
func (w Window) String() string {
	if w.FromPct == 0 && w.ToPct == 0 {
		return "none"
	}
	return fmt.Sprintf("%g..%g %%", w.FromPct, w.ToPct)
}

// causes names, by vehicle, the inputs of its sessions that changed.
func causes(a, b *Edition) map[string][]string {
	keys := func(e *Edition) map[string][]string {
		m := map[string][]string{}
		for _, s := range e.Sessions {
			for _, src := range s.Sources {
				m[s.ID] = append(m[s.ID], src.Path+" "+src.SHA256)
			}
		}
		return m
	}
	old, now := keys(a), keys(b)
	out := map[string][]string{}
	for _, s := range b.Sessions {
		if o, ok := old[s.ID]; !ok {
			out[s.Vehicle] = append(out[s.Vehicle], "new session "+s.ID)
		} else if !slices.Equal(o, now[s.ID]) {
			out[s.Vehicle] = append(out[s.Vehicle], "changed data of "+s.ID)
		}
	}
	for _, s := range a.Sessions {
		if _, ok := now[s.ID]; !ok && !slices.ContainsFunc(b.Sessions, func(x Session) bool { return x.ID == s.ID }) {
			out[s.Vehicle] = append(out[s.Vehicle], "session "+s.ID+" is gone")
		}
	}
	return out
}

func comparePlaces(a, b *Edition, causes map[string][]string, add func(kind, what, why, format string, args ...any)) {
	old := map[string]Standing{}
	for _, s := range a.Standings {
		old[s.Vehicle] = s
	}
	newcomers := false
	for _, s := range b.Standings {
		if o, ok := old[s.Vehicle]; s.Place > 0 && (!ok || o.Place == 0) {
			newcomers = true
		}
	}
	for _, s := range b.Standings {
		o, ok := old[s.Vehicle]
		delete(old, s.Vehicle)
		why := strings.Join(causes[s.Vehicle], ", ")
		if why == "" && newcomers && s.Score == o.Score {
			why = "another car came in"
		}
		name := b.Name(s.Vehicle)
		switch {
		case !ok && s.Place > 0:
			add("car", name, why, "new, at place %d with %.1f points", s.Place, s.Score)
		case !ok:
			add("car", name, why, "new, not ranked: %s", s.Reason)
		case o.Place > 0 && s.Place == 0:
			add("place", name, why, "place %d to not ranked: %s", o.Place, s.Reason)
		case o.Place == 0 && s.Place > 0:
			add("place", name, why, "not ranked to place %d with %.1f points", s.Place, s.Score)
		case o.Place != s.Place:
			add("place", name, why, "place %d to %d, %.1f to %.1f points", o.Place, s.Place, o.Score, s.Score)
		case o.Score != s.Score:
			add("place", name, why, "stays at place %d, %.1f to %.1f points", s.Place, o.Score, s.Score)
		}
	}
	for _, v := range slices.Sorted(maps.Keys(old)) {
		add("car", a.Name(v), strings.Join(causes[v], ", "), "gone")
	}
}

func compareSessions(a, b *Edition, add func(kind, what, why, format string, args ...any)) {
	old := map[string]Session{}
	for _, s := range a.Sessions {
		old[s.ID] = s
	}
	for _, s := range b.Sessions {
		o, ok := old[s.ID]
		delete(old, s.ID)
		switch {
		case !ok && s.Problem != "":
			add("session", s.ID, s.Problem, "new, but could not be read")
		case !ok:
			add("session", s.ID, "", "new, %s of %s", s.Procedure, b.Name(s.Vehicle))
		case o.Problem != s.Problem && s.Problem != "":
			add("session", s.ID, s.Problem, "can no longer be read")
		case o.Problem != s.Problem:
			add("session", s.ID, "", "can be read now")
		}
		if !ok {
			continue
		}
		hashes := map[string]string{}
		for _, src := range o.Sources {
			hashes[src.Path] = src.SHA256
		}
		for _, src := range s.Sources {
			h, had := hashes[src.Path]
			delete(hashes, src.Path)
			if !had {
				add("input", src.Path, "", "new")
			} else if h != src.SHA256 {
				add("input", src.Path, "", "changed")
			}
		}
		for _, p := range slices.Sorted(maps.Keys(hashes)) {
			add("input", p, "", "gone")
		}
	}
	for _, id := range slices.Sorted(maps.Keys(old)) {
		add("session", id, "", "gone")
	}
}

func compareResults(a, b *Edition, add func(kind, what, why, format string, args ...any)) {
	counts := map[string]bool{}
	for _, s := range b.Scales {
		counts[s.Figure] = true
	}
	for _, f := range b.Results {
		o, ok := a.Find(f.Session, f.Figure)
		if !counts[f.Figure] || !ok {
			continue
		}
		if x, y := text(o), text(f); x != y {
			add("figure", f.Session+" "+f.Figure, "", "%s to %s", x, y)
		}
	}
	verdicts := map[[2]string]Gate{}
	for _, g := range a.Gates {
		verdicts[[2]string{g.Session, g.Gate}] = g
	}
	for _, g := range b.Gates {
		if o, ok := verdicts[[2]string{g.Session, g.Gate}]; ok && o.Verdict != g.Verdict {
			add("gate", g.Session+" "+g.Gate, g.Reason, "%s to %s", o.Verdict, g.Verdict)
		}
	}
}

func text(f Figure) string {
	switch {
	case f.Value == nil:
		return "none (" + f.Note + ")"
	case f.Status == Beyond:
		return fmt.Sprintf("> %.4g %s", *f.Value, f.Unit)
	case f.U == nil:
		return fmt.Sprintf("%.4g %s", *f.Value, f.Unit)
	}
	return fmt.Sprintf("%.4g ± %.2g %s", *f.Value, *f.U, f.Unit)
}
