package page

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"coldbench/metrics/edition"
)

// A group is figures that belong together.
type group struct {
	Title   string
	Figures []figure
}

// A figure is one definition and what every session has of it.
type figure struct {
	edition.Defined
	Rows []result
}

// A result is a figure of one session for show.
type result struct {
	Session string
	Car     string
	Status  string // "" for measured
	Value   string
	Sort    string // the value itself, "" where there is none
	Note    string
	Minutes string // of the evidence, since the plug-in that the charge came from, or the start
	Show    string // run, from and to in s since that plug-in, where the chart can show it
}

// subjects put figures into groups by the beginnings of their names. The first
// that fits counts.
var subjects = []struct {
	title  string
	starts []string
}{
	{title: "Soak and start", starts: []string{"soak_", "ambient_", "pack_", "thermometer_", "start_soc"}},
	{title: "Delay", starts: []string{"delay_", "failed_", "onset_", "pause_"}},
	{title: "Heat", starts: []string{"heat", "energy_before", "warming_", "cabin_heat"}},
	{title: "Energy after plug-in", starts: []string{"energy_5min", "energy_10min", "energy_15min", "energy_20min", "energy_30min", "energy_45min", "energy_60min"}},
	{title: "Charge shown as added", starts: []string{"soc_added"}},
	{title: "Range added", starts: []string{"range_added"}},
	{title: "Cold against the car's own control", starts: []string{"penalty_"}},
	{title: "Power and time", starts: []string{"time_", "peak_", "mean_power", "power_at", "taper", "efficiency", "energy_into", "end_soc", "charger_limited", "cost"}},
}

// groups lists all figures: those that earn points first, then by subject, then
// the rest. A figure stands once.
func groups(e *edition.Edition, c chart, logs []edition.Log) []group {
	rows := results(e, c, logs)
	taken := map[string]bool{}
	var out []group
	add := func(title string, fits func(name string) bool) {
		g := group{Title: title}
		for _, d := range e.Figures {
			if !taken[d.Name] && fits(d.Name) {
				taken[d.Name] = true
				g.Figures = append(g.Figures, figure{d, rows[d.Name]})
			}
		}
		if g.Figures != nil {
			out = append(out, g)
		}
	}
	add("What earns points", func(name string) bool {
		return slices.ContainsFunc(e.Scales, func(s edition.Scale) bool { return s.Figure == name })
	})
	for _, s := range subjects {
		add(s.title, func(name string) bool {
			return slices.ContainsFunc(s.starts, func(start string) bool { return strings.HasPrefix(name, start) })
		})
	}
	add("Other", func(string) bool { return true })
	return out
}

// results sorts the edition's results by figure.
func results(e *edition.Edition, c chart, logs []edition.Log) map[string][]result {
	type known struct {
		car, name string
		run       int
		plug      float64
	}
	of := map[string]known{}
	for _, s := range e.Sessions {
		of[s.ID] = known{short(e.Name(s.Vehicle)), short(s.ID), c.index(s.ID), 0}
	}
	for _, l := range logs {
		k := of[l.Session]
		k.plug = l.PlugS
		of[l.Session] = k
	}
	out := map[string][]result{}
	for _, f := range e.Results {
		k := of[f.Session]
		r := result{Session: k.name, Car: k.car, Note: clean(f.Note), Value: value(f.Value, f.U)}
		if f.Value != nil {
			r.Sort = strconv.FormatFloat(*f.Value, 'g', 8, 64)
		}
		switch f.Status {
		case edition.Beyond:
			r.Value, r.Status = "> "+value(f.Value, nil), string(f.Status)
		case edition.Fallback:
			r.Status = string(f.Status)
		case edition.None:
			r.Value = "no value"
		}
		if f.From != nil && f.To != nil && f.Status != edition.None {
			from, to := *f.From-k.plug, *f.To-k.plug
			r.Minutes = minute(from) + " to " + minute(to)
			// The soak is not drawn.
			if k.run >= 0 && to >= 0 && from >= -300 {
				r.Show = fmt.Sprintf("%d,%.0f,%.0f", k.run, from, to)
			}
		}
		out[f.Figure] = append(out[f.Figure], r)
	}
	return out
}
