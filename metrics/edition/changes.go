package edition

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// A Change is one thing that differs between two editions.
type Change struct {
	Kind string `json:"kind"` // "place", "car", "session", "figure", "gate", "protocol", "definition", "window", "input", "program"
	What string `json:"what"` // what it is about: a car's name, a session, a parameter
	Text string `json:"text"` // one sentence part, such as "place 3 to 2"
	Why  string `json:"why,omitempty"`
}

// Compare tells what moved from edition a to edition b: first places, then the
// causes. Figures are compared only where they count for the standings. Two
// editions that were made from different inputs never read as if nothing moved.
func Compare(a, b *Edition) []Change {
	var out []Change
	add := func(kind, what, why, format string, args ...any) {
		out = append(out, Change{kind, what, fmt.Sprintf(format, args...), why})
	}
	c := causesOf(a, b)
	comparePlaces(a, b, c, add)
	compareSessions(a, b, add)
	compareResults(a, b, c, add)
	if !a.Window.same(b.Window) {
		add("window", "common window", b.Window.Why, "%s to %s", a.Window, b.Window)
	}
	for _, m := range movedParameters(a, b) {
		add("protocol", m.name, "series.toml", "%g to %g", m.old, m.now)
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
		switch o := a.RuleOf(r.Gate); {
		case o.Gate == "":
			add("protocol", "gate "+r.Gate, c.program, "new: %g %s, %s", r.Limit, r.Unit, r.Action)
		case c.rules[r.Gate]:
			add("protocol", "gate "+r.Gate, "series.toml", "%g %s, %s to %g %s, %s", o.Limit, o.Unit, o.Action, r.Limit, r.Unit, r.Action)
		}
	}
	compareDefinitions(a, b, c, add)
	if c.program != "" {
		add("program", "coldbench", "", "%s to %s", a.Program, b.Program)
	}
	return out
}

func compareDefinitions(a, b *Edition, c *causes, add func(kind, what, why, format string, args ...any)) {
	for _, d := range b.Figures {
		switch {
		case a.Definition(d.Name).Name == "":
			add("definition", d.Name, "", "new")
		case c.figure[d.Name]:
			add("definition", d.Name, "", "is defined differently")
		}
	}
	for _, d := range a.Figures {
		if b.Definition(d.Name).Name == "" {
			add("definition", d.Name, "", "gone")
		}
	}
	for _, in := range changedInputs(a, b) {
		add("input", in.path, "", "%s", in.how)
	}
}

// String gives "10..75 %", or "none".
func (w Window) String() string {
	if w.FromPct == 0 && w.ToPct == 0 {
		return "none"
	}
	return fmt.Sprintf("%g..%g %%", w.FromPct, w.ToPct)
}

func (w Window) same(o Window) bool { return w.FromPct == o.FromPct && w.ToPct == o.ToPct }

func comparePlaces(a, b *Edition, c *causes, add func(kind, what, why, format string, args ...any)) {
	old := map[string]Standing{}
	for _, s := range a.Standings {
		old[s.Vehicle] = s
	}
	for _, s := range b.Standings {
		o, ok := old[s.Vehicle]
		delete(old, s.Vehicle)
		why := strings.Join(c.ofPlace(o, s), ", ")
		name := b.Name(s.Vehicle)
		switch {
		case !ok && s.Place > 0:
			add("car", name, own(c, s.Vehicle), "new, at place %d with %.1f points", s.Place, s.Score)
		case !ok:
			add("car", name, own(c, s.Vehicle), "new, not ranked: %s", s.Reason)
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
		add("car", a.Name(v), own(c, v), "gone")
	}
}

// own is what changed of a car's own files.
func own(c *causes, vehicle string) string { return strings.Join(c.vehicle[vehicle], ", ") }

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

func compareResults(a, b *Edition, c *causes, add func(kind, what, why, format string, args ...any)) {
	vehicle := map[string]string{}
	for _, s := range b.Sessions {
		vehicle[s.ID] = s.Vehicle
	}
	counts := map[string]bool{}
	for _, s := range b.Scales {
		counts[s.Figure] = true
	}
	for _, f := range b.Results {
		if !counts[f.Figure] {
			continue
		}
		o, ok := a.Find(f.Session, f.Figure)
		if !ok {
			continue
		}
		if x, y := text(o), text(f); x != y {
			add("figure", f.Session+" "+f.Figure, strings.Join(c.ofFigure(f.Session, vehicle[f.Session], f.Figure), ", "), "%s to %s", x, y)
		}
	}
	verdicts := map[[2]string]Gate{}
	for _, g := range a.Gates {
		verdicts[[2]string{g.Session, g.Gate}] = g
	}
	for _, g := range b.Gates {
		if o, ok := verdicts[[2]string{g.Session, g.Gate}]; ok && o.Verdict != g.Verdict {
			why := append([]string{g.Reason}, c.ofGate(g.Session, vehicle[g.Session], g.Gate)...)
			add("gate", g.Session+" "+g.Gate, strings.Join(why, "; "), "%s to %s", o.Verdict, g.Verdict)
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
