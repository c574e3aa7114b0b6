package page

import (
	"cmp"
	"fmt"
	"html/template"
	"time"

	"coldbench/metrics/edition"
)

// A session is one session's part of the page. The rows of its tables are written
// here, as those of figures are.
type session struct {
	edition.Session
	Car    string // whole
	Facts  [][2]string
	Gates  gates
	Phases template.HTML
	Events template.HTML
	Files  template.HTML
}

// gates are those of a session: their marks, in words those that were not passed, and rows.
type gates struct {
	Marks template.HTML
	Words string
	Rows  template.HTML
}

// verdictMarks tell verdicts apart without their colours.
var verdictMarks = map[edition.Verdict]string{edition.Passed: "✓", edition.Flagged: "!", edition.Failed: "✗", edition.CannotTell: "?"}

// classes are the verdicts as the style knows them.
var classes = map[edition.Verdict]string{edition.Passed: "passed", edition.Flagged: "flagged", edition.Failed: "failed", edition.CannotTell: "unknown"}

// sessions are those of which all is told, and those that could not be read.
func sessions(e *edition.Edition, c chart, logs []edition.Log, detailed map[string]bool) []session {
	byID := map[string]edition.Log{}
	for _, l := range logs {
		byID[l.Session] = l
	}
	var out []session
	for _, s := range e.Sessions {
		if !detailed[s.ID] && s.Problem == "" {
			continue
		}
		l := byID[s.ID]
		x := session{Session: s, Car: clean(e.Name(s.Vehicle)), Facts: facts(s, l), Gates: gatesOf(e, s.ID)}
		if i := c.index(s.ID); i >= 0 && c.Runs[i].Whole > len(c.Runs[i].T) {
			x.Facts = append(x.Facts, [2]string{"chart", fmt.Sprintf("%s of %s rows of one second", count(int64(len(c.Runs[i].T))), count(int64(c.Runs[i].Whole)))})
		}
		for _, p := range l.Phases {
			x.Phases += row(th("", plain(p.Name)), td("n", plain(minute(p.From-l.PlugS))), td("n", plain(minute(p.To-l.PlugS))), td("", plain(p.Rule)))
		}
		for _, ev := range l.Events {
			x.Events += row(td("n", plain(minute(ev.T-l.PlugS))), td("", plain(ev.Kind)), td("", mixed(clean(ev.Text))), td("file", mixed(fmt.Sprintf("%s:%d", clean(ev.Path), ev.Line))))
		}
		for _, f := range s.Sources {
			x.Files += row(th("file", mixed(clean(f.Path))), td("", plain(f.Kind)), td("n", plain(count(f.Bytes))), td("n", plain(count(f.RowsRead))), td("n", plain(count(f.RowsKept))),
				td("n", plain(count(f.Aside))), td("n", plain(seconds(f.OffsetS))), td("hash", plain(f.SHA256)))
		}
		out = append(out, x)
	}
	return out
}

func gatesOf(e *edition.Edition, session string) gates {
	var out gates
	for _, g := range e.GatesOf(session) {
		title, class := cmp.Or(e.RuleOf(g.Gate).Title, g.Gate), classes[g.Verdict]
		span := func(text string) template.HTML {
			return `<span class="` + template.HTML(class) + `">` + plain(text) + `</span>`
		}
		out.Marks += " " + span(verdictMarks[g.Verdict])
		if g.Verdict != edition.Passed {
			out.Words += ", " + title + ": " + string(g.Verdict)
		}
		out.Rows += row(th("", plain(title)), td("", span(string(g.Verdict))), td("", mixed(clean(g.Reason))))
	}
	return out
}

func row(cells ...template.HTML) template.HTML {
	b := "<tr>"
	for _, c := range cells {
		b += string(c)
	}
	return template.HTML(b + "</tr>")
}

func td(class string, content template.HTML) template.HTML {
	if class != "" {
		class = ` class="` + class + `"`
	}
	return "<td" + template.HTML(class) + ">" + content + "</td>"
}

func th(class string, content template.HTML) template.HTML {
	if class != "" {
		class = ` class="` + class + `"`
	}
	return `<th scope="row"` + template.HTML(class) + ">" + content + "</th>"
}

// plain is a text as it is.
func plain(s string) template.HTML { return template.HTML(template.HTMLEscapeString(clean(s))) }

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
		if s.Charges() {
			add("plugged in", text)
		} else {
			add("started", text)
		}
	}
	add("known from", s.ZeroFrom)
	if l.PlugS != 0 {
		add("minutes", fmt.Sprintf("count from the plug-in that the charge came from, %s min after the first", minute(l.PlugS)))
	}
	return out
}
