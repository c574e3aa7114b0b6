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
		case o.Category != s.Category:
			add("protocol", "points for "+s.Figure, "series.toml", "%s in %q to %s in %q", o, o.Category, s, s.Category)
		case o != s:
			add("protocol", "points for "+s.Figure, "series.toml", "%s to %s", o, s)
		}
	}
	for _, f := range slices.Sorted(maps.Keys(scales)) {
		add("protocol", "points for "+f, "series.toml", "gone")
	}
	for _, r := range b.Rules {
		switch o := a.RuleOf(r.Gate); {
		case o.Gate == "":
			add("protocol", "gate "+r.Gate, c.program, "new: %s", r)
		case c.rules[r.Gate]:
			add("protocol", "gate "+r.Gate, "series.toml", "%s to %s", o, r)
		}
	}
	compareDefinitions(a, b, c, add)
	if c.program != "" {
		add("program", "coldbench", "", "%s to %s", a.Program, b.Program)
	}
	return out
}

// String gives "90..0 weight 3".
func (s Scale) String() string { return fmt.Sprintf("%g..%g weight %g", s.Zero, s.Full, s.Weight) }

// String gives "3 K, flag".
func (r Rule) String() string { return WithUnit(fmt.Sprint(r.Limit), r.Unit) + ", " + r.Action }

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
			add("car", name, own(c, s.Vehicle), "new, at place %d with %s points", s.Place, s.points(0))
		case !ok:
			add("car", name, own(c, s.Vehicle), "new, not ranked: %s", s.Reason)
		case o.Place > 0 && s.Place == 0:
			add("place", name, why, "place %d to not ranked: %s", o.Place, s.Reason)
		case o.Place == 0 && s.Place > 0:
			add("place", name, why, "not ranked to place %d with %s points", s.Place, s.points(0))
		case o.Place != s.Place:
			add("place", name, why, "place %d to %d, %s points", o.Place, s.Place, pointsMoved(o, s))
		case o.Score != s.Score:
			add("place", name, why, "stays at place %d, %s points", s.Place, pointsMoved(o, s))
		}
	}
	for _, v := range slices.Sorted(maps.Keys(old)) {
		add("car", a.Name(v), own(c, v), "gone")
	}
}

// points are a car's, as the standings show them, with some more digits.
func (s Standing) points(more int) string { return Fixed(s.Score, Decimals(s.Score, &s.U)+more) }

// pointsMoved is from how many points to how many, with as many digits more than usual
// as it takes to tell them apart.
func pointsMoved(o, s Standing) string {
	from, to := o.points(0), s.points(0)
	for more := 1; from == to && more <= mostDecimals && o.Score != s.Score; more++ {
		from, to = o.points(more), s.points(more)
	}
	if from == to {
		return "still " + to
	}
	return from + " to " + to
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
	if f.Value == nil {
		return "none (" + f.Note + ")"
	}
	return WithUnit(f.Shown(), f.Unit)
}
