package edition

import (
	"fmt"
	"slices"
	"strings"
)

// causes are what differs between the inputs of two editions, told by what it can
// have moved.
type causes struct {
	a, b     *Edition
	vehicle  map[string][]string // by vehicle: its own file, and all of its sessions
	session  map[string][]string // by session
	figure   map[string]bool     // defined differently
	protocol string              // numbers of the protocol that changed, ""
	rules    map[string]bool     // gates that the protocol sets otherwise
	points   bool                // scales or weights changed
	window   string              // how the common window moved, ""
	program  string              // how the program changed, ""
	newcomer bool                // a car is ranked that was not
}

func causesOf(a, b *Edition) *causes {
	c := &causes{a: a, b: b, vehicle: map[string][]string{}, session: map[string][]string{}, figure: map[string]bool{}, rules: map[string]bool{}}
	c.ofSessions()
	for _, in := range changedInputs(a, b) {
		if id, ok := strings.CutPrefix(in.path, "vehicles/"); ok {
			id = strings.TrimSuffix(id, ".toml")
			c.vehicle[id] = append([]string{in.String()}, c.vehicle[id]...)
		}
	}
	for _, d := range b.Figures {
		if o := a.Definition(d.Name); o.Name != "" && o.SHA256 != d.SHA256 {
			c.figure[d.Name] = true
		}
	}
	var names []string
	for _, m := range movedParameters(a, b) {
		names = append(names, m.name)
	}
	if len(names) > 0 {
		c.protocol = "changed protocol: " + strings.Join(names, ", ")
	}
	for _, r := range b.Rules {
		if o := a.RuleOf(r.Gate); o.Gate != "" && (o.Limit != r.Limit || o.Action != r.Action) {
			c.rules[r.Gate] = true
		}
	}
	c.points = !slices.Equal(a.Scales, b.Scales)
	if !a.Window.same(b.Window) {
		c.window = fmt.Sprintf("the common window is %s, was %s", b.Window, a.Window)
	}
	if a.Program != b.Program {
		c.program = fmt.Sprintf("coldbench %s, was %s", b.Program, a.Program)
	}
	was := map[string]bool{}
	for _, s := range a.Standings {
		was[s.Vehicle] = s.Place > 0
	}
	c.newcomer = slices.ContainsFunc(b.Standings, func(s Standing) bool { return s.Place > 0 && !was[s.Vehicle] })
	return c
}

// ofSessions finds what changed of each session: its files, its description, the
// profiles that its files are read by.
func (c *causes) ofSessions() {
	inputs := map[string]string{}
	for _, in := range changedInputs(c.a, c.b) {
		inputs[in.path] = in.String()
	}
	old, now := sourcesOf(c.a), sourcesOf(c.b)
	add := func(s Session, text string) {
		if !slices.Contains(c.session[s.ID], text) {
			c.session[s.ID], c.vehicle[s.Vehicle] = append(c.session[s.ID], text), append(c.vehicle[s.Vehicle], text)
		}
	}
	for _, s := range c.b.Sessions {
		o, ok := old[s.ID]
		if !ok {
			add(s, "new session "+s.ID)
			continue
		}
		if !slices.Equal(o, now[s.ID]) {
			add(s, "changed data of "+s.ID)
		}
		if how := inputs["sessions/"+s.ID+"/session.toml"]; how != "" {
			add(s, how)
		}
		for _, src := range s.Sources {
			if how := inputs["profiles/"+src.Profile+".toml"]; how != "" {
				add(s, how)
			}
		}
	}
	for _, s := range c.a.Sessions {
		if _, ok := now[s.ID]; !ok {
			add(s, "session "+s.ID+" is gone")
		}
	}
}

// sourcesOf are the sources of each session that an edition has.
func sourcesOf(e *Edition) map[string][]string {
	m := map[string][]string{}
	for _, s := range e.Sessions {
		m[s.ID] = []string{}
		for _, src := range s.Sources {
			m[s.ID] = append(m[s.ID], src.Path+" "+src.SHA256)
		}
	}
	return m
}

// An inputChange is an input that is new, changed or gone.
type inputChange struct{ path, how string }

func (c inputChange) String() string { return c.how + " " + c.path }

// changedInputs are the files beside the logs that differ. Those of sessions and
// vehicles that only one of the editions has are not among them: the session and
// the car are told of themselves.
func changedInputs(a, b *Edition) []inputChange {
	var out []inputChange
	kept := func(path string) bool {
		return strings.HasPrefix(path, "sessions/") || strings.HasPrefix(path, "vehicles/")
	}
	was := map[string]string{}
	for _, in := range a.Inputs {
		was[in.Path] = in.SHA256
	}
	now := map[string]bool{}
	for _, in := range b.Inputs {
		now[in.Path] = true
		switch sum, ok := was[in.Path]; {
		case !ok && !kept(in.Path):
			out = append(out, inputChange{in.Path, "new"})
		case ok && sum != in.SHA256:
			out = append(out, inputChange{in.Path, "changed"})
		}
	}
	for _, in := range a.Inputs {
		if !now[in.Path] && !kept(in.Path) {
			out = append(out, inputChange{in.Path, "gone"})
		}
	}
	return out
}

// A moved is a parameter of the protocol whose number changed.
type moved struct {
	name     string
	old, now float64
}

// movedParameters leaves the common window out, which has a line of its own.
func movedParameters(a, b *Edition) []moved {
	old := map[string]float64{}
	for _, p := range a.Protocol {
		old[p.Name] = p.Value
	}
	var out []moved
	for _, p := range b.Protocol {
		if v, ok := old[p.Name]; ok && v != p.Value && !strings.HasPrefix(p.Name, "window_") {
			out = append(out, moved{p.Name, v, p.Value})
		}
	}
	return out
}

// ofFigure is why a figure of a session may have moved: what changed of the session,
// else of its car, then the figure's definition, the window, the protocol, and where
// none of these did, the program.
func (c *causes) ofFigure(session, vehicle, figure string) []string {
	out := c.session[session]
	if len(out) == 0 {
		out = c.vehicle[vehicle]
	}
	out = append(slices.Clone(out), c.ofDefinition(figure)...)
	return c.orProgram(out)
}

func (c *causes) ofDefinition(figure string) []string {
	var out []string
	if c.figure[figure] {
		out = append(out, "changed definition of "+figure)
	}
	if c.window != "" && strings.Contains(figure, "time_window") {
		out = append(out, c.window)
	}
	if c.protocol != "" {
		out = append(out, c.protocol)
	}
	return out
}

func (c *causes) orProgram(out []string) []string {
	if len(out) == 0 && c.program != "" {
		return []string{c.program}
	}
	return out
}

// ofGate is why a gate's verdict on a session may have moved.
func (c *causes) ofGate(session, vehicle, gate string) []string {
	figure := c.b.RuleOf(gate).Figure
	if c.rules[gate] {
		return append([]string{"changed protocol: gate " + gate}, c.session[session]...)
	}
	return c.ofFigure(session, vehicle, figure)
}

// ofPlace is why a car stands elsewhere, or with other points.
func (c *causes) ofPlace(o, s Standing) []string {
	out := slices.Clone(c.vehicle[s.Vehicle])
	add := func(texts ...string) {
		for _, t := range texts {
			if !slices.Contains(out, t) {
				out = append(out, t)
			}
		}
	}
	was := map[string]Counted{}
	for _, v := range o.Values {
		was[v.Figure] = v
	}
	for _, v := range s.Values {
		if w, ok := was[v.Figure]; ok && (!equal(v.Value, w.Value) || !equal(v.U, w.U)) {
			add(c.ofDefinition(v.Figure)...)
		}
	}
	// Which sessions count follows from the gates.
	if !slices.Equal(o.Sessions, s.Sessions) || (o.Place > 0) != (s.Place > 0) {
		for _, r := range c.b.Rules {
			if c.rules[r.Gate] {
				add("changed protocol: gate " + r.Gate)
			} else if c.figure[r.Figure] {
				add("changed definition of " + r.Figure)
			}
		}
	}
	if c.points && s.Score != o.Score {
		add("changed points in series.toml")
	}
	if len(out) == 0 && s.Score == o.Score {
		if c.newcomer {
			return []string{"another car came in"}
		}
		return []string{"other cars moved"}
	}
	return c.orProgram(out)
}

func equal(a, b *float64) bool {
	if a == nil || b == nil {
		return a == b
	}
	return *a == *b
}
