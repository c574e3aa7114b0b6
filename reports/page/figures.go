package page

import (
	"fmt"
	"html/template"
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
	Rows template.HTML
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
func groups(e *edition.Edition, c chart, logs []edition.Log, detailed map[string]bool) []group {
	rows := rows(e, c, logs, detailed)
	taken := map[string]bool{}
	var out []group
	add := func(title string, fits func(name string) bool) {
		g := group{Title: title}
		for _, d := range e.Figures {
			if !taken[d.Name] && fits(d.Name) {
				taken[d.Name] = true
				g.Figures = append(g.Figures, figure{d, template.HTML(rows[d.Name])})
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

// rows are the rows of each figure's table: car and session, value, status and note,
// and the minutes of the evidence since the plug-in that the charge came from, or the
// start. They are most of the page, and written here: the template takes five times as long.
func rows(e *edition.Edition, c chart, logs []edition.Log, detailed map[string]bool) map[string][]byte {
	type known struct {
		head template.HTML
		run  int
		plug float64
	}
	of := map[string]known{}
	for _, s := range e.Sessions {
		of[s.ID] = known{mixed(short(e.Name(s.Vehicle))) + "<small>" + mixed(short(s.ID)) + "</small>", c.index(s.ID), 0}
	}
	for _, l := range logs {
		k := of[l.Session]
		k.plug = l.PlugS
		of[l.Session] = k
	}
	out := map[string][]byte{}
	for _, f := range e.Results {
		if !detailed[f.Session] {
			continue
		}
		k := of[f.Session]
		row := append(append(out[f.Figure], "<tr><th scope=row>"...), k.head...)
		row = append(row, "<td"...)
		if f.Value != nil { // which the table is sorted by
			row = append(strconv.AppendFloat(append(row, ` data-v="`...), *f.Value, 'g', 8, 64), '"')
		}
		row = append(row, '>')
		shown, status := value(f.Value, f.U), ""
		switch f.Status {
		case edition.Beyond:
			shown, status = minus(f.Shown()), string(f.Status)
		case edition.Fallback:
			status = string(f.Status)
		case edition.None:
			shown = "no value"
		}
		row = append(append(row, template.HTMLEscapeString(shown)...), "<td>"...)
		note := mixed(clean(f.Note))
		if status != "" {
			row = append(append(append(row, "<em>"...), status...), "</em>"...)
			if note != "" {
				row = append(row, ": "...)
			}
		}
		row = append(append(row, note...), "<td>"...)
		if f.From != nil && f.To != nil && f.Status != edition.None {
			from, to := *f.From-k.plug, *f.To-k.plug
			minutes := minute(from) + " to " + minute(to)
			// The soak is not drawn.
			if k.run >= 0 && to >= 0 && from >= -300 {
				row = fmt.Appendf(row, `<button data-e="%d,%.0f,%.0f">%s</button>`, k.run, from, to, minutes)
			} else {
				row = append(row, minutes...)
			}
		}
		out[f.Figure] = append(row, '\n')
	}
	return out
}
