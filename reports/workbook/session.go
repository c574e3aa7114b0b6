package workbook

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"coldbench/metrics/edition"
)

// The columns of a session's minute-by-minute log.
const (
	minuteCol = iota + 1
	packCol
	chargerCol
	heaterCol
	socCol
	notedCol
	coldestCol
	hottestCol
	ambientCol
	cabinCol
	logCols = cabinCol
)

// A chart lies over chartRows rows of 15 points, each of which the library takes for 18
// pixels.
const (
	chartRows   = 15
	chartHeight = 18 * chartRows
)

// lead is how many minutes before plug-in charts begin at the earliest; the
// night's soak would leave no room for the charge.
const lead = 10

func (b *book) fillSessions() {
	s := b.sessions
	s.widths = []float64{26, 24, 14, 21, 30, 22, 40}
	s.frozen = [2]int{1, 5}
	s.repeat = [2]int{5, 5}
	explain := "Each session has a sheet of its own: its figures, charts, events and minute-by-minute log. Zero is the moment that minutes are counted from."
	if len(b.bySession) < len(b.e.Sessions) {
		explain = fmt.Sprintf("%d of %d sessions have a sheet of their own: the first that a place rests on, and those that were asked for; the log of all lies beside this workbook. Zero is the moment that minutes are counted from.", len(b.bySession), len(b.e.Sessions))
	}
	row := s.heading("Sessions", explain, len(s.widths))
	if len(b.bySession) < len(b.e.Sessions) {
		s.leadOut(row-1, "data/minutes.csv")
	}
	heads := row
	s.heads(1, row, "session", "car", "procedure", "zero (UTC)", "zero on site", "zero from", "remark")
	for _, ses := range b.e.Sessions {
		row++
		s.linkTo(1, row, ses.ID, b.bySession[ses.ID], linked)
		s.put(2, row, b.carOf[ses.ID], wrapped)
		s.put(3, row, ses.Procedure, body)
		if !ses.Zero.IsZero() {
			s.put(4, row, ses.Zero.UTC().Format("2006-01-02 15:04:05"), body)
			s.put(5, row, onSite(ses), body)
		} else {
			s.put(4, row, nil, body)
			s.put(5, row, nil, body)
		}
		s.put(6, row, ses.ZeroFrom, wrapped)
		s.put(7, row, remark(ses), wrapped)
	}
	s.table("sessions", 1, heads, len(s.widths), row, true)
}

// onSite is the session's zero by the clocks of the place.
func onSite(ses edition.Session) string {
	loc, err := time.LoadLocation(ses.Zone)
	if err != nil || ses.Zone == "" {
		return ""
	}
	return ses.Zero.In(loc).Format("2006-01-02 15:04:05 ") + ses.Zone
}

func remark(ses edition.Session) string {
	switch {
	case ses.Problem != "" && ses.Remark != "":
		return "not read: " + ses.Problem + "\n" + ses.Remark
	case ses.Problem != "":
		return "not read: " + ses.Problem
	}
	return ses.Remark
}

func (b *book) fillSession(s *sheet, ses edition.Session) {
	// All tables share them: names stand in the first, long texts in the sixth.
	s.widths = []float64{38, 12, 12, 10, 10, 38, 10.5, 10.5, 9, 9}
	s.frozen = [2]int{0, 3}
	facts := ses.Procedure
	if !ses.Zero.IsZero() {
		facts += " · zero at " + ses.Zero.UTC().Format("2006-01-02 15:04:05 UTC")
		if local := onSite(ses); local != "" {
			facts += " (" + local + ")"
		}
		if ses.ZeroFrom != "" {
			facts += ", from " + ses.ZeroFrom
		}
	}
	s.across(1, 1, logCols, b.carOf[ses.ID]+" — "+ses.ID, title)
	s.across(1, 2, logCols, facts, subtitle)
	s.linkTo(1, 3, "← Sessions", b.sessions, linkPlain)
	s.linkTo(2, 3, "Standings", b.standings, linkPlain)
	s.linkTo(3, 3, "Gates", b.gates, linkPlain)
	row := 5
	if text := remark(ses); text != "" {
		s.across(1, row, logCols, text, look{wrap: true, fill: warnFill})
		row += 2
	}
	log, n := b.logs[ses.ID], slices.Index(b.sheets, s)
	if log.PlugS != 0 {
		s.across(1, row, logCols, "The charge came from the plug-in "+edition.Fixed(log.PlugS/60, 1)+" min after the first. "+
			"Here minutes count from the first; figures, Curves, the page and the pictures count from that one.", wrapped)
		row += 2
	}
	charts := row
	if len(log.Minutes) > 0 {
		for range chartRows {
			s.tall[row] = 15
			row++
		}
		row++
	}
	row = b.fillKeyFigures(s, ses, row, n)
	row = fillEvents(s, ses, log.Events, row, n)
	s.across(1, row, logCols, "Minute by minute", section)
	if len(log.Minutes) == 0 {
		s.across(1, row+1, logCols, "Nothing was logged.", para)
		return
	}
	heads, last := row+1, row+1+len(log.Minutes)
	fillMinutes(s, log, heads)
	s.table(fmt.Sprintf("minutes_%d", n), 1, heads, logCols, last, false)
	// The longest table: its heads are those that print repeats.
	s.repeat = [2]int{heads, heads}
	s.blocks = append(s.blocks, [2]int{row, min(last, heads+fewRows)})
	drawLog(s, ses, log.Minutes, heads+1, charts)
}

// fillKeyFigures lists all figures of the session, a table a group, which is named by
// the head of its figures.
func (b *book) fillKeyFigures(s *sheet, ses edition.Session, row, sheet int) int {
	minute := body.with(minuteFormat)
	n := 0
	for _, g := range b.groups {
		heads := row
		for _, name := range g.figures {
			f, ok := b.find(ses.ID, name)
			if !ok {
				continue
			}
			row++
			s.put(1, row, b.figureTitle(name), wrapped)
			s.putResult(2, row, f)
			s.putUnit(4, row, f.Unit)
			s.put(5, row, string(f.Status), body)
			s.put(6, row, f.Note, wrapped)
			s.put(7, row, minutes(f.From), minute)
			s.put(8, row, minutes(f.To), minute)
		}
		if row == heads {
			continue
		}
		n++
		s.heads(1, heads, g.title, ">value", ">uncertainty", "unit", "status", "note", ">from", ">to")
		s.put(4, heads, "unit", headNext)
		row = 2 + s.paged(long{name: fmt.Sprintf("session_%d_%d", sheet, n), top: heads, again: heads, heads: heads, toCol: 8, last: row, title: continued(g.title)})
	}
	return row
}

// fillEvents lists what happened, with the file and line that say so.
func fillEvents(s *sheet, ses edition.Session, events []edition.Event, row, sheet int) int {
	if len(events) == 0 {
		return row
	}
	heads := row
	s.heads(1, heads, "event", ">after zero", ">within", "file", ">line", "as noted")
	s.put(4, heads, "file", headNext)
	s.put(6, heads, "as noted", headNext)
	place := look{ruled: true, wrap: true, align: "left", indent: 1, size: 9, color: faint}
	for _, ev := range events {
		row++
		s.put(1, row, ev.Kind, wrapped)
		s.put(2, row, ev.T/60, body.with(minuteFormat))
		s.put(3, row, ev.WidthS, body.with(`0" s"`))
		s.put(4, row, strings.TrimPrefix(ev.Path, "sessions/"+ses.ID+"/"), place)
		s.put(5, row, ev.Line, body.with("0"))
		s.put(6, row, ev.Text, look{ruled: true, wrap: true, align: "left", indent: 1})
	}
	return 2 + s.paged(long{name: fmt.Sprintf("events_%d", sheet), top: heads, again: heads, heads: heads, toCol: 6, last: row})
}

// mostNoted is how much of what was noted in a minute stands beside it.
const mostNoted = 80

func fillMinutes(s *sheet, log edition.Log, row int) {
	s.heads(1, row, ">minute", ">power into pack", ">charger power", ">heater power", ">displayed charge", "noted",
		">coldest pack sensor", ">hottest pack sensor", ">ambient", ">cabin")
	s.put(notedCol, row, "noted", headNext)
	noted := map[int]string{}
	for _, ev := range log.Events {
		at := int(math.Floor(ev.T / 60))
		if noted[at] != "" {
			noted[at] += "; "
		}
		noted[at] += ev.Text
	}
	minute, kw, pct, celsius := body.with(`0" min"`), s.book.logged("kW"), s.book.logged("%"), s.book.logged("°C")
	if !slices.ContainsFunc(log.Minutes, atLeastKW) {
		kw = body.with(s.book.format(3, "kW", "", "")) // a parked car's watts
	}
	said := next
	said.wrap = true
	for _, m := range log.Minutes {
		row++
		s.put(minuteCol, row, m.Minute, minute)
		s.put(packCol, row, m.PackKW, kw)
		s.put(chargerCol, row, m.ChargerKW, kw)
		s.put(heaterCol, row, m.HeaterKW, kw)
		s.put(socCol, row, m.SoCPct, pct)
		if text := noted[m.Minute]; text != "" {
			s.put(notedCol, row, oneLine(text, mostNoted), said)
		} else {
			s.put(notedCol, row, nil, body)
		}
		s.put(coldestCol, row, m.PackMinC, celsius)
		s.put(hottestCol, row, m.PackMaxC, celsius)
		s.put(ambientCol, row, m.AmbientC, celsius)
		s.put(cabinCol, row, m.CabinC, celsius)
	}
}

// atLeastKW reports whether any power of a minute reaches 1 kW.
func atLeastKW(m edition.Minute) bool {
	return slices.ContainsFunc([]*float64{m.PackKW, m.ChargerKW, m.HeaterKW}, func(kw *float64) bool { return kw != nil && math.Abs(*kw) >= 1 })
}

// drawLog puts the two charts of a session over the rows from top on. first is
// the row of the log's first minute.
func drawLog(s *sheet, ses edition.Session, log []edition.Minute, first, top int) {
	heads, last := first-1, first+len(log)-1
	for _, m := range log {
		if m.Minute >= -lead {
			break
		}
		first++
	}
	if first > last {
		first = heads + 1
	}
	c := chart{xTitle: "minutes since " + ses.Origin(), row: top, toRow: top + chartRows - 1, height: chartHeight, x: minuteCol, head: heads, first: first, lastRow: last}
	power, level := c, c
	power.title, power.yTitle, power.col, power.toCol, power.width = "Power", "kW", 1, socCol, 585
	power.series = []series{
		{name: "power into pack", color: lineBlue, col: packCol}, {name: "charger power", color: lineOrange, col: chargerCol}, {name: "heater power", color: lineRed, col: heaterCol, dash: true},
	}
	level.title, level.yTitle, level.col, level.toCol, level.width = "Charge and cold", "% and °C", notedCol, logCols, 560
	level.series = []series{
		{name: "displayed charge", color: lineGreen, col: socCol}, {name: "coldest pack sensor", color: lineBlue, col: coldestCol, dash: true},
	}
	level.top = pointer(100.0)
	// Charge and temperature may be written now and then, and do not leap.
	// Power may: a hole in its log stays one, unless it is all holes.
	level.bridged, power.bridged = true, sparse(log)
	for _, c := range []chart{power, level} {
		c.series = slices.DeleteFunc(c.series, func(x series) bool { return !s.known(x.col, c) })
		if len(c.series) > 0 {
			s.charts = append(s.charts, c)
		}
	}
}

// sparse reports whether power was logged so seldom that a line with its holes
// would be invisible.
func sparse(log []edition.Minute) bool {
	known, joined, last := 0, 0, math.MinInt
	for _, m := range log {
		if m.PackKW == nil && m.ChargerKW == nil {
			continue
		}
		known++
		if last == m.Minute-1 {
			joined++
		}
		last = m.Minute
	}
	return joined < known/2
}
