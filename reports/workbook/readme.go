package workbook

import (
	"fmt"
	"slices"
	"strings"

	"coldbench/metrics/edition"
	"coldbench/reports/caution"
)

const (
	readMeCols = 6
	textCol    = 2
)

func (b *book) fillReadMe() {
	s := b.readMe
	s.widths = []float64{36, 20, 22, 22, 22, 22}
	s.frozen = [2]int{0, 2}
	s.across(1, 1, readMeCols, b.title, title)
	s.across(1, 2, readMeCols, "How electric cars behave in the cold: "+b.of(), subtitle)
	row := 4
	entry := func(name, text string) {
		s.put(1, row, name, look{bold: true, ruled: true, wrap: true})
		s.across(textCol, row, readMeCols, text, wrapped)
		row++
	}
	part := func(name string) {
		row++
		s.across(1, row, readMeCols, name, section)
		row++
	}
	s.across(1, row, readMeCols, "What was tested, and how", section)
	row++
	entry("series", b.e.Title)
	if b.e.Place != "" {
		entry("place", b.e.Place)
	}
	when := b.e.ID
	if !b.e.At.IsZero() {
		when = b.e.At.UTC().Format("2 January 2006, 15:04 UTC") + " (" + b.e.ID + ")"
	}
	entry("edition", when)
	if b.e.Program != "" {
		entry("made by", b.e.Program)
	}
	entry("cars", b.cars())
	entry("sessions", b.procedures())
	entry("how", "Each car stood outside until its pack was as cold as the night, was plugged in at a low charge, and was logged until it was full enough or gave up. "+
		"Loggers, the charger, a weather station and timed notes were put on one clock that is zero at the first plug-in, or at the start of what charges nothing: a drive, a cabin that is warmed, a car that stands.")
	entry("window", windowText(b.e.Window))
	part("Where to look")
	for _, x := range []struct {
		to   *sheet
		text string
	}{
		{b.standings, "the ranking; change a weight in a yellow cell and the places follow"},
		{b.sessions, "all sessions, each with a sheet of its own: figures, charts, events, minute-by-minute log"},
		{b.figures, "every figure of every session, side by side"},
		{b.allFigures, "the same, one a row, with status, reason and the minutes that it came from; can be filtered"},
		{b.gates, "which sessions may fairly be compared"},
		{b.reasons, "why: each gate's verdict on each session, one a row; can be filtered"},
		{b.controls, "the cold beside each car's own control; can be filtered"},
		{b.comparisons, "other windows of charge, how firm the first place is, how far a car's sessions differ"},
		{b.curves, "the ranked cars' charges over each other: over minutes, charge and cold"},
		{b.sources, "the files behind all this, with their hashes"},
		{b.method, "definitions, scales, the numbers of the protocol"},
	} {
		s.linkTo(1, row, x.to.name, x.to, linked)
		s.across(textCol, row, readMeCols, x.text, wrapped)
		row++
	}
	part("Words")
	for _, x := range words {
		entry(x[0], x[1])
	}
	part("Cautions")
	s.across(1, row, readMeCols, caution.Defer, look{wrap: true, fill: warnFill})
	row++
	for _, c := range caution.All() {
		text := c.Text
		if len(c.Sources) > 0 {
			var titles []string
			for _, src := range c.Sources {
				titles = append(titles, src.String())
			}
			text += "\nSources: " + strings.Join(titles, "; ") + "."
		}
		entry(c.Title, text)
	}
	b.fillWindChill(row + 1)
}

// words are what a reader meets in the other sheets.
var words = [][2]string{
	{"soak", "the hours that a car stood outside before it was plugged in"},
	{"onset", "the first moment from which net power flows into the pack and keeps flowing; a charger may deliver for long before, to heat the pack"},
	{"session", "one occasion with one car: a soak, then a charge, a drive, a cabin that is warmed, or the car left to stand"},
	{"figure", "one standardised result of one session, with its unit and uncertainty"},
	{"gate", "a rule that decides whether a session may be ranked"},
	{"standings", "the ranking; a car's place is one more than the number of cars clearly ahead of it, and never better than that of a car with more points"},
	{"± standard uncertainty", "one standard deviation of what the value could be; the truth lies within twice that, about 19 times out of 20, but for means of two or three nights: what these are worth stands in Comparisons"},
	{"measured", "from the source that the definition asks for"},
	{"fallback (*)", "from a worse source, such as a note; the note says which, and the uncertainty is larger"},
	{"beyond (>)", "the log ends before it happened: the true value is larger than the one shown"},
	{"none", "no value; the note is the reason. Nothing is guessed"},
	{"charge", "state of charge, in percent, as the car displays it"},
}

// cars lists all cars, and how many of them are ranked.
func (b *book) cars() string {
	var names []string
	for _, v := range b.e.Vehicles {
		names = append(names, b.e.Name(v.ID))
	}
	ranked := 0
	for _, st := range b.e.Standings {
		if st.Place > 0 {
			ranked++
		}
	}
	return fmt.Sprintf("%d, of which %d ranked: %s", len(names), ranked, strings.Join(names, ", "))
}

// procedures counts sessions by what was done.
func (b *book) procedures() string {
	count := map[string]int{}
	var order []string
	for _, s := range b.e.Sessions {
		if count[s.Procedure]++; count[s.Procedure] == 1 {
			order = append(order, s.Procedure)
		}
	}
	slices.Sort(order)
	var parts []string
	for _, p := range order {
		parts = append(parts, fmt.Sprintf("%d %s", count[p], p))
	}
	return fmt.Sprintf("%d: %s", len(b.e.Sessions), strings.Join(parts, ", "))
}

// winds, in km/h, are a breeze, a windy night and a gale.
var winds = []float64{10, 20, 30, 50, 70}

// fillWindChill shows what the coldest air of each session feels like on skin.
// Sessions have no figure for wind, so it is shown for several winds.
func (b *book) fillWindChill(row int) {
	s := b.readMe
	type cold struct {
		session string
		c       float64
	}
	var rows []cold
	for _, ses := range b.e.Sessions {
		if c, ok := b.coldest(ses.ID); ok {
			if _, ok := caution.WindChill(c, winds[0]); ok {
				rows = append(rows, cold{ses.ID, c})
			}
		}
	}
	if len(rows) == 0 {
		return
	}
	const what = "What the coldest air of a session feels like on bare skin"
	top, heads := row, row+1
	s.across(1, top, readMeCols, what, section)
	row = heads
	s.put(1, row, "session, and its coldest air", head)
	for i, w := range winds {
		s.put(textCol+i, row, fmt.Sprintf("in a wind of %g km/h", w), headNum)
	}
	for _, x := range rows {
		row++
		s.put(1, row, x.session+": "+edition.Fixed(x.c, 1)+" °C", wrapped)
		for i, w := range winds {
			v, _ := caution.WindChill(x.c, w)
			s.put(textCol+i, row, v, body.with(`0" °C"`))
		}
	}
	row = 1 + s.paged(long{name: "wind_chill", top: top, again: top, heads: heads, toCol: textCol + len(winds) - 1, last: row, title: continued(what)})
	s.across(1, row, readMeCols, fmt.Sprintf("By the %s, with the wind as measured 10 m above the ground; it holds for air at or below %g °C and wind above %g km/h.",
		caution.WindChillSource, caution.WindChillMaxC, caution.WindChillMinKmH), small)
}

// coldest is the lowest ambient temperature that a session knows, in °C.
func (b *book) coldest(session string) (float64, bool) {
	lowest, known := 0.0, false
	take := func(v *float64) {
		if v != nil && (!known || *v < lowest) {
			lowest, known = *v, true
		}
	}
	for _, name := range []string{"ambient_at_plug_in", "soak_ambient_mean"} {
		if f, ok := b.e.Find(session, name); ok && f.Status != edition.None {
			take(f.Value)
		}
	}
	for _, m := range b.logs[session].Minutes {
		take(m.AmbientC)
	}
	return lowest, known
}
