package workbook

import (
	"fmt"
	"math"
	"slices"
	"strconv"
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
	coldestCol
	hottestCol
	ambientCol
	cabinCol
	logCols = cabinCol
)

// chartRows are the rows that charts lie over.
const chartRows = 17

// lead is how many minutes before plug-in charts begin at the earliest; the
// night's soak would leave no room for the charge.
const lead = 10

func (b *book) fillSessions() {
	s := b.sessions
	s.widths = []float64{26, 24, 14, 21, 30, 22, 40}
	s.frozen = [2]int{1, 5}
	s.repeat = [2]int{5, 5}
	explain := "Each session has a sheet of its own: its figures, charts, events and minute-by-minute log. Zero is the moment that minutes are counted from."
	if len(b.e.Sessions) > mostSheets {
		explain = fmt.Sprintf("The first %d sessions that a place rests on have a sheet of their own; the log of all lies beside this workbook. Zero is the moment that minutes are counted from.", mostSheets)
	}
	row := s.heading("Sessions", explain, len(s.widths))
	if len(b.e.Sessions) > mostSheets {
		s.put(1, row-1, logOfAll, linkPlain)
		s.outside = ref(1, row-1)
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

func (b *book) fillLogs() {
	for _, ses := range b.e.Sessions {
		if s := b.bySession[ses.ID]; s != nil {
			b.fillSession(s, ses)
		}
	}
}

func (b *book) fillSession(s *sheet, ses edition.Session) {
	s.widths = []float64{13, 15, 15, 15, 15, 15, 15, 15, 15}
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
	log := b.logs[ses.ID]
	charts := row
	if len(log.Minutes) > 0 {
		row += chartRows + 1
	}
	row = b.fillKeyFigures(s, ses, row)
	row = fillEvents(s, log.Events, row)
	s.across(1, row, logCols, "Minute by minute", section)
	if len(log.Minutes) == 0 {
		s.across(1, row+1, logCols, "Nothing was logged.", para)
		return
	}
	s.breaks = append(s.breaks, row)
	fillMinutes(s, log.Minutes, row+1)
	s.table("minutes_"+strconv.Itoa(slices.Index(b.sheets, s)), 1, row+1, logCols, row+1+len(log.Minutes), false)
	s.repeat = [2]int{row + 1, row + 1}
	drawLog(s, ses, log.Minutes, row+2, charts)
}

// fillKeyFigures lists all figures of the session.
func (b *book) fillKeyFigures(s *sheet, ses edition.Session, row int) int {
	s.across(1, row, 3, "figure", head)
	s.put(4, row, "value", headNum)
	s.put(5, row, "standard uncertainty", headNum)
	s.put(6, row, "status", headNext)
	s.across(7, row, logCols, "note", head)
	for _, t := range b.groups {
		for _, name := range t.figures {
			f, ok := b.find(ses.ID, name)
			if !ok {
				continue
			}
			row++
			s.across(1, row, 3, b.figureTitle(name), wrapped)
			s.putResult(4, row, f)
			s.put(6, row, string(f.Status), next)
			s.across(7, row, logCols, f.Note, wrapped)
		}
	}
	return row + 2
}

func fillEvents(s *sheet, events []edition.Event, row int) int {
	if len(events) == 0 {
		return row
	}
	s.across(1, row, logCols, "Events", section)
	row++
	s.put(1, row, "after zero", headNum)
	s.put(2, row, "within", headNum)
	s.put(3, row, "event", headNext)
	s.across(4, row, 6, "as noted", head)
	s.across(7, row, logCols, "file and line", head)
	for _, ev := range events {
		row++
		s.put(1, row, ev.T/60, body.with(`0.0" min"`))
		s.put(2, row, ev.WidthS, body.with(`0" s"`))
		s.put(3, row, ev.Kind, next)
		s.across(4, row, 6, ev.Text, wrapped)
		s.across(7, row, logCols, fmt.Sprintf("%s:%d", ev.Path, ev.Line), look{ruled: true, wrap: true, size: 9, color: faint})
	}
	return row + 2
}

func fillMinutes(s *sheet, log []edition.Minute, row int) {
	heads := []string{"minute", "power into pack", "charger power", "heater power", "displayed charge", "coldest pack sensor", "hottest pack sensor", "ambient", "cabin"}
	for i, h := range heads {
		s.put(1+i, row, h, headNum)
	}
	usual := func(unit string) look { return body.with(s.book.format(digits(unit, nil), unit, "", "")) }
	minute, kw, pct, celsius := body.with(`0" min"`), usual("kW"), usual("%"), usual("°C")
	for _, m := range log {
		row++
		s.put(minuteCol, row, m.Minute, minute)
		s.put(packCol, row, m.PackKW, kw)
		s.put(chargerCol, row, m.ChargerKW, kw)
		s.put(heaterCol, row, m.HeaterKW, kw)
		s.put(socCol, row, m.SoCPct, pct)
		s.put(coldestCol, row, m.PackMinC, celsius)
		s.put(hottestCol, row, m.PackMaxC, celsius)
		s.put(ambientCol, row, m.AmbientC, celsius)
		s.put(cabinCol, row, m.CabinC, celsius)
	}
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
	c := chart{xTitle: "minutes since " + ses.Start(), row: top, toRow: top + chartRows - 1, width: 505, height: 300, x: minuteCol, head: heads, first: first, lastRow: last}
	for r := top; r < top+chartRows; r++ {
		s.tall[r] = 15
	}
	power, level := c, c
	power.title, power.yTitle, power.col, power.toCol = "Power", "kW", 1, 5
	power.series = []series{
		{name: "power into pack", color: lineBlue, col: packCol}, {name: "charger power", color: lineOrange, col: chargerCol}, {name: "heater power", color: lineRed, col: heaterCol, dash: true},
	}
	level.title, level.yTitle, level.col, level.toCol = "Charge and cold", "% and °C", 5, logCols
	level.offset = 70
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
