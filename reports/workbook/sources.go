package workbook

import (
	"fmt"
	"path"
	"strings"

	"coldbench/metrics/edition"
)

func (b *book) fillSources() {
	s := b.sources
	s.widths = []float64{22, 40, 11, 17, 52, 10, 9, 8, 9, 11}
	s.frozen = [2]int{0, 5}
	s.repeat = [2]int{5, 5}
	row := s.heading("Sources", "Every file that figures came from, kept untouched and known by its SHA-256. Rows read are rows kept and rows set aside, always.", len(s.widths))
	s.heads(1, row, "session", "file", "kind", "profile", "SHA-256", ">bytes", ">rows read", ">kept", ">set aside", ">clock offset")
	first := row
	for _, ses := range b.e.Sessions {
		for _, src := range ses.Sources {
			row++
			s.put(1, row, ses.ID, wrapped)
			s.put(2, row, src.Path, wrapped)
			kind := src.Kind
			if src.Continues != "" {
				kind += ", goes on from " + path.Base(src.Continues)
			}
			s.put(3, row, kind, wrapped)
			s.put(4, row, src.Profile, wrapped)
			s.put(5, row, src.SHA256, hash)
			s.put(6, row, src.Bytes, body.with("#,##0"))
			s.put(7, row, src.RowsRead, body.with("#,##0"))
			s.put(8, row, src.RowsKept, body.with("#,##0"))
			aside := body.with("#,##0")
			if src.Aside > 0 {
				aside.fill = warnFill
			}
			s.put(9, row, src.Aside, aside)
			s.put(10, row, src.OffsetS, body.with(`0.0" s"`))
		}
	}
	s.table("sources", 1, first, len(s.widths), row, true)
	if len(b.e.Inputs) == 0 {
		return
	}
	row += 2
	s.across(1, row, len(s.widths), "All files of the edition", section)
	for _, in := range b.e.Inputs {
		row++
		s.put(1, row, nil, body)
		s.put(2, row, in.Path, wrapped) // below the heads that print repeats
		s.put(3, row, nil, body)
		s.put(4, row, nil, body)
		s.put(5, row, in.SHA256, hash)
	}
}

func (b *book) fillMethod() {
	s := b.method
	s.widths = []float64{26, 34, 10, 12, 62, 16}
	toCol := len(s.widths)
	s.frozen = [2]int{0, 3}
	row := s.heading("Method", "What every figure means, and the numbers of the protocol that it was worked out with.", toCol)
	s.across(1, row, toCol, "Rules", section)
	for _, r := range b.rules() {
		row++
		s.put(1, row, r[0], look{bold: true, ruled: true, wrap: true})
		s.across(2, row, toCol, r[1], wrapped)
	}
	row += 2
	s.across(1, row, toCol, "Gates", section)
	for _, r := range b.e.Rules {
		row++
		s.put(1, row, r.Title, look{bold: true, ruled: true, wrap: true})
		judged := "the car's other sessions"
		if r.Figure != "" {
			judged = b.figureTitle(r.Figure)
		}
		s.across(2, row, toCol, fmt.Sprintf("%s Judges %s by %s; beyond it: %s.%s", r.Text, judged, strings.TrimSuffix(fmt.Sprintf("%g %s", r.Limit, r.Unit), " 1"), actions[r.Action], changed(r)), wrapped)
	}
	row += 2
	part := func(name string, toCol, last int) {
		row = 2 + s.paged(long{name: name, top: row, again: row + 1, heads: row + 1, toCol: toCol, last: last})
	}
	s.across(1, row, toCol, "Scales", section)
	s.heads(1, row+1, "figure", "title", "unit", "category", "points")
	last := row + 1
	for _, sc := range b.e.Scales {
		last++
		d := b.e.Definition(sc.Figure)
		s.put(1, last, sc.Figure, body)
		s.put(2, last, b.figureTitle(sc.Figure), wrapped)
		s.put(3, last, d.Unit, wrapped)
		s.put(4, last, sc.Category, body)
		s.put(5, last, fmt.Sprintf("%g %s earns 0 points, %g %s earns 100, a straight line between; weight %g", sc.Zero, d.Unit, sc.Full, d.Unit, sc.Weight), wrapped)
	}
	part("scales", 5, last)
	s.across(1, row, toCol, "Protocol", section)
	s.heads(1, row+1, "parameter", ">value")
	last = row + 1
	for _, p := range b.e.Protocol {
		last++
		s.put(1, last, p.Name, body)
		s.put(2, last, p.Value, body)
	}
	part("protocol", 2, last)
	s.across(1, row, toCol, "Figures", section)
	s.heads(1, row+1, "figure", "title", "unit", "better", "method", "definition")
	last = row + 1
	for _, d := range b.e.Figures {
		last++
		s.put(1, last, d.Name, body)
		s.put(2, last, d.Title, wrapped)
		s.put(3, last, d.Unit, wrapped)
		s.put(4, last, d.Better, body)
		s.put(5, last, d.Method, wrapped)
		s.put(6, last, cut(d.SHA256, 12), hash)
	}
	// The last table and the longest: its heads are those that print repeats.
	s.table("definitions", 1, row+1, toCol, last, false)
	s.repeat = [2]int{row + 1, row + 1}
	s.blocks = append(s.blocks, [2]int{row, min(last, row+1+fewRows)})
}

// rules say how results become places.
func (b *book) rules() [][2]string {
	return [][2]string{
		{"uncertainty", "Every value has a standard uncertainty from the sampling interval, the resolution of the display, the offset between clocks and the " +
			"instrument, combined as in JCGM 100 (root of the sum of squares)."},
		{"points", "A value earns points on a fixed scale: 0 at one value, 100 at another, a straight line between, never below 0 or above 100. A value that is " +
			"missing earns 0 points, and so does one that is only known to be beyond what was logged."},
		{"overall points", "The mean of a car's points, weighted. Their standard uncertainty is the root of the sum of squares of weight × the points' own, " +
			"over the sum of weights. That is half of what lies between the points of the value with its standard uncertainty more and less (JCGM 100, 5.1.3): " +
			"a value far beyond an end of the scale has none."},
		{"place", "1, plus the number of ranked cars whose points exceed this car's by more than 2 × the root of the sum of the squares of both standard " +
			"uncertainties; and never better than the place of a car with more points, for being known less well is no merit. Cars that cannot be told apart so mostly share a place."},
		{"places, 95 %", "The range of places that the uncertainties allow, at the edition's weights. It does not move when a weight is changed here."},
		{"window", windowText(b.e.Window)},
		{"not ranked", "A car that fails a gate is listed without a place, with the reason. A flagged one is ranked, with the reason beside it; what is beyond a limit by no more than 2 × its standard uncertainty is flagged, not failed."},
	}
}

func windowText(w edition.Window) string {
	text := w.String()
	if w.Why != "" {
		text += ": " + w.Why
	}
	return text
}

// actions are what becomes of a session beyond a gate's limit, for people.
var actions = map[string]string{"fail": "not ranked", "flag": "ranked, with the reason beside it", "off": "not judged"}

func changed(r edition.Rule) string {
	if r.Changed {
		return " The protocol sets this gate otherwise than it comes."
	}
	return ""
}
