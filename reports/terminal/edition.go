package terminal

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"coldbench/metrics"
	"coldbench/metrics/edition"
)

// Standings prints the ranking, the cars that are not ranked with the reason,
// and how to read it.
func Standings(w io.Writer, e *edition.Edition, columns int) {
	title := e.Title
	if e.Place != "" {
		title += ", " + e.Place
	}
	Fold(w, title+" — edition "+e.ID, columns)
	fmt.Fprintln(w)
	others := e.Besides()
	rows := ranked(e, others, false)
	var unranked [][]string
	for _, s := range e.Standings {
		if s.Place == 0 {
			unranked = append(unranked, []string{e.Name(s.Vehicle), s.Reason})
		}
	}
	spans := "of" // what the range of places is called
	if len(rows) == 1 {
		fmt.Fprintln(w, "No car can be ranked.")
	} else if columns > 0 && wide(rows) > columns {
		spans = "places"
		cards(w, ranked(e, others, true), columns)
	} else {
		Table(w, rows, columns)
	}
	if len(unranked) > 0 {
		fmt.Fprintln(w, "\nNot ranked")
		Table(w, append([][]string{{"car", "why"}}, unranked...), columns)
	}
	fmt.Fprintln(w)
	Fold(w, "± is one standard uncertainty. A car's place is one more than the number of cars that are ahead of it by more than twice their combined uncertainty, but never better than that of a car with more points; "+
		"\""+spans+"\" is the range of places that the uncertainties allow (95 %). A missing figure earns no points. Common window: "+e.Window.String()+
		" ("+e.Window.Why+").", columns)
	Fold(w, "Points come from fixed scales: "+e.Holds()+".", columns)
	if slices.ContainsFunc(others, func(s string) bool { return s != "" }) {
		Fold(w, "The points are of the protocol's figures; what stands beside one, as measured or at the reference soak, earns none.", columns)
	}
	if text := firmness(e); text != "" {
		Fold(w, text, columns)
	}
}

// ranked are the rows of the ranked cars, with a head. What stands beside a
// figure's value has a column of its own, or shares the value's where narrow.
func ranked(e *edition.Edition, others []string, narrow bool) [][]string {
	head := []string{"place", "of", "car", "points"}
	for i, s := range e.Scales {
		d := e.Definition(s.Figure)
		head = append(head, fmt.Sprintf("%s [%s]", strings.ToLower(d.Title), d.Unit))
		if others[i] != "" && !narrow {
			head = append(head, fmt.Sprintf("%s [%s]", others[i], d.Unit))
		}
	}
	rows := [][]string{append(head, "remark")}
	for _, s := range e.Standings {
		if s.Place == 0 {
			continue
		}
		row := []string{strconv.Itoa(s.Place), span(s.Lowest, s.Highest), e.Name(s.Vehicle), edition.Value(&s.Score, &s.U)}
		for i, v := range s.Values {
			value, beside := edition.Value(v.Value, v.U), edition.Value(nil, nil)
			if i < len(s.Beside) {
				beside = edition.Value(s.Beside[i].Value, s.Beside[i].U)
			}
			switch {
			case others[i] == "":
				row = append(row, value)
			case narrow:
				row = append(row, value+", "+others[i]+" "+beside)
			default:
				row = append(row, value, beside)
			}
		}
		rows = append(rows, append(row, s.Reason))
	}
	return rows
}

// Variances prints how far the sessions of one car differ, beside how far cars do.
func Variances(w io.Writer, e *edition.Edition, columns int) {
	if len(e.Variances) == 0 {
		fmt.Fprintln(w)
		Fold(w, "No car has two sessions that can be set beside each other.", columns)
		return
	}
	fmt.Fprintln(w)
	Fold(w, "Sessions of one car beside cars", columns)
	rows := [][]string{{"figure", "unit", "cars", "sessions", "one car's sessions differ by", "cars differ by", "F", "p"}}
	for _, v := range e.Variances {
		d := e.Definition(v.Figure)
		rows = append(rows, []string{d.Title, d.Unit, strconv.Itoa(v.Cars), strconv.Itoa(v.Sessions),
			edition.Deviation(v.Repeatability), edition.Deviation(v.CarsSD), edition.Fixed(v.F, 1), edition.Chance(v.P)})
	}
	Table(w, rows, columns)
	Fold(w, "Standard deviations, by a one-way analysis of variance over the sessions that count; p is the chance of so large an F if all cars were alike. "+
		"A figure as measured holds the nights' differences too.", columns)
}

// firmness says how far each weight may move before another car leads.
func firmness(e *edition.Edition) string {
	var parts []string
	for _, s := range e.Shifts {
		title := strings.ToLower(e.Definition(s.Figure).Title)
		switch {
		case s.LowerTo != "" && s.HigherTo != "":
			parts = append(parts, fmt.Sprintf("%s, weight %g: below %s %s, above %s %s", title, s.Weight, edition.Fixed(s.Lower, 2), e.Name(s.LowerTo), edition.Fixed(s.Higher, 2), e.Name(s.HigherTo)))
		case s.LowerTo != "":
			parts = append(parts, fmt.Sprintf("%s, weight %g: below %s %s", title, s.Weight, edition.Fixed(s.Lower, 2), e.Name(s.LowerTo)))
		case s.HigherTo != "":
			parts = append(parts, fmt.Sprintf("%s, weight %g: above %s %s", title, s.Weight, edition.Fixed(s.Higher, 2), e.Name(s.HigherTo)))
		}
	}
	switch {
	case len(e.Shifts) == 0:
		return ""
	case len(parts) == 0:
		return "No single weight changes who has the most points."
	}
	return "Another car would have the most points with one weight moved: " + strings.Join(parts, "; ") + "."
}

// Windows prints what other windows of charge would make of the cars.
func Windows(w io.Writer, e *edition.Edition, columns int) {
	if len(e.Windows) == 0 {
		fmt.Fprintln(w, "No car has a time over any window of charge.")
		return
	}
	for _, c := range e.Windows {
		fmt.Fprintln(w)
		Fold(w, c.Title+" [min]", columns)
		rows := [][]string{{"place", "car", "time", "beside the common window"}}
		for _, t := range c.Times {
			gained := ""
			switch {
			case t.Gained > 0:
				gained = fmt.Sprintf("wins %d", t.Gained)
			case t.Gained < 0:
				gained = fmt.Sprintf("loses %d", -t.Gained)
			}
			rows = append(rows, []string{strconv.Itoa(t.Place), e.Name(t.Vehicle), edition.Value(&t.Value, &t.U), gained})
		}
		Table(w, rows, columns)
	}
	fmt.Fprintln(w)
	Fold(w, "The common window: "+e.Window.String()+" ("+e.Window.Why+").", columns)
}

// Categories prints the ranking within each category.
func Categories(w io.Writer, e *edition.Edition, columns int) {
	fmt.Fprintln(w)
	if len(e.Categories) == 0 {
		Fold(w, "The scales are not of two categories, so there is nothing to tell beside the standings.", columns)
		return
	}
	for i, c := range e.Categories {
		if i > 0 {
			fmt.Fprintln(w)
		}
		Fold(w, fmt.Sprintf("%s, weight %g", c.Name, c.Weight), columns)
		rows := [][]string{{"place", "of", "car", "points"}}
		for _, x := range c.Cars {
			rows = append(rows, []string{strconv.Itoa(x.Place), span(x.Lowest, x.Highest), e.Name(x.Vehicle), edition.Value(&x.Score, &x.U)})
		}
		Table(w, rows, columns)
	}
}

// Pairs prints how sure it is that one car is before another, at the weights as they
// are: of each car and those right after it.
func Pairs(w io.Writer, e *edition.Edition, columns int) {
	fmt.Fprintln(w)
	if len(e.Pairs) == 0 {
		Fold(w, "No two cars are ranked.", columns)
		return
	}
	Fold(w, "How sure it is that one car is before another", columns)
	rows := [][]string{{"", "is before", "how sure [%]"}}
	for _, p := range e.Pairs {
		rows = append(rows, []string{e.Name(p.Before), e.Name(p.After), edition.Sureness(p.Probability)})
	}
	Table(w, rows, columns)
}

// wide is how many columns of a terminal the table of rows takes, its last column,
// which is remarks, folded.
func wide(rows [][]string) int {
	g := newGrid(rows)
	last := &g.widths[len(g.widths)-1]
	*last = min(*last, 20)
	return g.total()
}

// cards prints one car under another, for terminals too narrow for the table.
func cards(w io.Writer, rows [][]string, columns int) {
	for i, row := range rows[1:] {
		if i > 0 {
			fmt.Fprintln(w)
		}
		places := "places"
		if !strings.Contains(row[1], "-") {
			places = "place"
		}
		Fold(w, fmt.Sprintf("%s. %s, %s points, %s %s", row[0], row[2], row[3], places, row[1]), columns)
		for c := 4; c < len(row); c++ {
			if row[c] != "" {
				for _, line := range fold(clean(rows[0][c]+": "+row[c]), columns-3, true) {
					fmt.Fprintf(w, "   %s\n", line)
				}
			}
		}
	}
}

func span(a, b int) string {
	if a == b {
		return strconv.Itoa(a)
	}
	return fmt.Sprintf("%d-%d", a, b)
}

// Changes prints what moved, or that nothing did.
func Changes(w io.Writer, changes []edition.Change, columns int) {
	if len(changes) == 0 {
		fmt.Fprintln(w, "Nothing moved.")
		return
	}
	rows := [][]string{{"", "what", "how", "why"}}
	for _, c := range changes {
		rows = append(rows, []string{c.Kind, c.What, c.Text, c.Why})
	}
	Table(w, rows, columns)
}

// Result prints a figure's value as its status allows.
func Result(f edition.Figure) string {
	if f.Value == nil {
		return f.Shown()
	}
	return edition.WithUnit(f.Shown(), f.Unit)
}

// Why prints the evidence of a figure, down to file and lines.
func Why(w io.Writer, ev *metrics.Evidence, columns int) {
	f, d := ev.Figure, ev.Definition
	Fold(w, fmt.Sprintf("%s of %s: %s", d.Title, f.Session, Result(f)), columns)
	status := "status: " + string(f.Status)
	if f.Note != "" {
		status += " (" + f.Note + ")"
	}
	Fold(w, status, columns)
	Fold(w, d.Prose, columns)
	if f.From == nil || f.To == nil {
		if ev.Of != nil {
			fmt.Fprintf(w, "\nIt is made of %s.\n", ev.Of.Definition.Name)
			Why(w, ev.Of, columns)
		}
		return
	}
	fmt.Fprintln(w)
	Fold(w, fmt.Sprintf("from %s to %s after %s", Clock(*f.From), Clock(*f.To), ev.Start), columns)
	if ev.Stretch != nil {
		fmt.Fprintln(w)
		chart(w, ev.Stretch, *f.From, *f.To, columns)
	}
	if len(ev.Events) > 0 {
		rows := [][]string{{"time", "event", "where", "as noted"}}
		for _, x := range ev.Events {
			rows = append(rows, []string{Clock(x.T), x.Kind, fmt.Sprintf("%s:%d", x.Path, x.Line), x.Text})
		}
		fmt.Fprintln(w)
		Table(w, rows, columns)
	}
	for _, s := range ev.Sources {
		fmt.Fprintln(w)
		Fold(w, fmt.Sprintf("%s lines %d to %d, %d rows; those at its ends:", s.Path, s.First, s.Last, s.Rows), columns)
		readings(w, s, columns)
	}
}

// readings prints the rows at the ends of an interval, as many columns side by side as
// the terminal has room for.
func readings(w io.Writer, s metrics.SourceEvidence, columns int) {
	for from := 0; ; {
		var rows [][]string
		to := from
		for to < len(s.Columns) {
			more := readingRows(s, from, to+1)
			if to > from && columns > 0 && newGrid(more).total() > columns {
				break
			}
			rows, to = more, to+1
		}
		if rows == nil {
			return
		}
		Table(w, rows, columns)
		if from = to; from < len(s.Columns) {
			fmt.Fprintln(w)
		}
	}
}

func readingRows(s metrics.SourceEvidence, from, to int) [][]string {
	rows := [][]string{append([]string{"line", "time", ""}, s.Columns[from:to]...)}
	for _, r := range s.Near {
		where := "outside"
		if r.Inside {
			where = "inside"
		}
		row := []string{strconv.FormatInt(r.Line, 10), Clock(r.T), where}
		for _, v := range r.Values[from:to] {
			if v == nil {
				row = append(row, "")
			} else {
				row = append(row, strconv.FormatFloat(*v, 'g', 6, 64))
			}
		}
		rows = append(rows, row)
	}
	return rows
}

// chart draws each quantity of a stretch as a row of bars, from its lowest to its
// highest value, with the evidence interval marked below them. Where the terminal is
// too narrow for all of that side by side, what a row is stands above it.
func chart(w io.Writer, s *metrics.Stretch, from, to float64, columns int) {
	const bars = "▁▂▃▄▅▆▇█"
	steps := []rune(bars)
	wide := 0
	for _, l := range s.Lines {
		wide = max(wide, cells(l.Title))
	}
	n, every := len(s.Lines[0].Values), 1
	if columns > 0 {
		every = (n + columns - 1) / columns
		n /= every
	}
	const spanCells = 22 // "-24.15 to -12.65 kW", and some
	narrow := columns > 0 && wide+n+2*between+spanCells > columns
	for _, l := range s.Lines {
		low, high := math.Inf(1), math.Inf(-1)
		for _, v := range l.Values {
			if v != nil {
				low, high = min(low, *v), max(high, *v)
			}
		}
		var row strings.Builder
		for i := range n {
			switch v := l.Values[i*every]; {
			case v == nil:
				row.WriteByte(' ')
			case high == low:
				row.WriteRune(steps[0])
			default:
				row.WriteRune(steps[min(int((*v-low)/(high-low)*float64(len(steps))), len(steps)-1)])
			}
		}
		span := fmt.Sprintf("%.4g to %.4g %s", low, high, l.Unit)
		if narrow {
			Fold(w, l.Title+", "+span, columns)
			fmt.Fprintln(w, strings.TrimRight(row.String(), " "))
			continue
		}
		fmt.Fprintf(w, "%-*s  %s  %s\n", wide, l.Title, row.String(), span)
	}
	at := func(t float64) int { return min(max(int((t-s.From)/(s.To-s.From)*float64(n)), 0), n-1) }
	mark := []rune(strings.Repeat(" ", n))
	for i := at(from); i <= at(to); i++ {
		mark[i] = '-'
	}
	mark[at(from)], mark[at(to)] = '|', '|'
	if narrow {
		fmt.Fprintf(w, "counted\n%s\n", strings.TrimRight(string(mark), " "))
		return
	}
	fmt.Fprintf(w, "%-*s  %s\n", wide, "counted", strings.TrimRight(string(mark), " "))
}

// Clock prints seconds on the session clock as h:mm:ss, with tenths where there
// are any.
func Clock(t float64) string {
	sign := ""
	if t < 0 {
		sign, t = "-", -t
	}
	tenths := int64(math.Round(t * 10))
	s := fmt.Sprintf("%s%d:%02d:%02d", sign, tenths/36000, tenths/600%60, tenths/10%60)
	if tenths%10 != 0 {
		s += fmt.Sprintf(".%d", tenths%10)
	}
	return s
}
