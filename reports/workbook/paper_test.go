package workbook

import (
	"bytes"
	"fmt"
	"html"
	"math"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"coldbench/metrics/edition"
)

// broad is the sample as a long winter has it: more cars, scales, figures with long
// titles, and gates than stand side by side on paper.
func broad() (*edition.Edition, []edition.Log) {
	e, logs := driven()
	for i := range 12 {
		e.Sessions = append(e.Sessions, edition.Session{ID: fmt.Sprintf("2026-02-%02d-alder-60", i+1), Vehicle: "alder-60", Procedure: "cold-charge"})
	}
	for i := range 20 {
		name := fmt.Sprintf("more_%02d", i)
		e.Figures = append(e.Figures, edition.Defined{Name: name, Title: fmt.Sprintf("Energy from the charger before the charge, way %d", i), Unit: "kWh", Method: "definition is ours"})
		for _, s := range e.Sessions {
			e.Results = append(e.Results, edition.Figure{Session: s.ID, Figure: name, Unit: "kWh", Status: edition.Measured, Value: pointer(3.25), U: pointer(0.01), Note: "the charger's register of energy"})
		}
	}
	sortResults(e)
	for i := range 12 {
		for _, s := range e.Sessions {
			e.Gates = append(e.Gates, edition.Gate{Session: s.ID, Gate: fmt.Sprintf("Another gate %d", i), Verdict: edition.Passed, Reason: "as the protocol asks, and then some more of what it asks"})
		}
	}
	for i := range logs {
		logs[i].Events = logs[i].Events[:2] // the hostile ones are longer than pages
	}
	e.Vehicles[3].Name = "Dogwood 90"
	// More windows and categories than a page holds.
	for i := range 9 {
		w, c := edition.Compared{Title: fmt.Sprintf("From %d to 80 %%", 10+i)}, edition.Category{Name: fmt.Sprintf("way %d", i)}
		for k := range 7 {
			w.Times = append(w.Times, edition.Timed{Vehicle: "alder-60", Value: 27.5, U: 0.25, Place: k + 1})
			c.Cars = append(c.Cars, edition.InCategory{Vehicle: "birch-75", Place: k + 1, Lowest: 1, Highest: 7, Score: 50, U: 1})
		}
		e.Windows, e.Categories = append(e.Windows, w), append(e.Categories, c)
	}
	return e, logs
}

// crowded is a winter of more sessions and cars than a page has rows, all alike.
func crowded() (*edition.Edition, []edition.Log) {
	e, _ := awkward()
	cars, results, places := e.Vehicles[:1], e.Results, e.Standings[:1]
	e.Vehicles, e.Sessions, e.Results, e.Gates, e.Standings, e.Categories, e.Windows, e.Pairs = nil, nil, nil, nil, nil, nil, nil, nil
	category, window := edition.Category{Name: "delay"}, edition.Compared{Title: "10 to 80 %"}
	for i := range 64 {
		car, st := cars[0], places[0]
		car.ID, car.Name = fmt.Sprintf("car-%02d", i), fmt.Sprintf("Alder %d", 100+i)
		ses := edition.Session{ID: fmt.Sprintf("2026-02-01-car-%02d", i), Vehicle: car.ID, Procedure: "cold-charge"}
		st.Vehicle, st.Sessions = car.ID, []string{ses.ID}
		e.Vehicles, e.Sessions, e.Standings = append(e.Vehicles, car), append(e.Sessions, ses), append(e.Standings, st)
		for _, f := range results {
			if f.Session == "2026-01-12-alder-60" {
				f.Session = ses.ID
				e.Results = append(e.Results, f)
			}
		}
		for k := range 7 {
			e.Gates = append(e.Gates, edition.Gate{Session: ses.ID, Gate: fmt.Sprintf("gate-%d", k), Verdict: edition.Passed, Reason: "as the protocol asks"})
		}
		category.Cars = append(category.Cars, edition.InCategory{Vehicle: car.ID, Place: 1, Lowest: 1, Highest: 64, Score: 50, U: 1})
		window.Times = append(window.Times, edition.Timed{Vehicle: car.ID, Value: 27.5, U: 0.25, Place: 1})
		e.Shifts = append(e.Shifts, edition.Shift{Figure: "delay_to_onset", Weight: 3})
		e.Protocol = append(e.Protocol, edition.Parameter{Name: fmt.Sprintf("number_%d", i), Value: 1})
		e.Inputs = append(e.Inputs, edition.Input{Path: fmt.Sprintf("sessions/%s/notes.txt", ses.ID), SHA256: strings.Repeat("ab", 32)})
		e.Figures = append(e.Figures, edition.Defined{Name: fmt.Sprintf("more_%02d", i), Title: fmt.Sprintf("Another way %d", i), Unit: "kWh", Method: "definition is ours"})
	}
	// As many that are not ranked, and pairs.
	for i := range 64 {
		car, st := cars[0], edition.Standing{Vehicle: fmt.Sprintf("parked-%02d", i), Reason: "soak-length failed: soaked 5.0 h, the protocol asks for 12.0 h"}
		car.ID, car.Name = st.Vehicle, fmt.Sprintf("Birch %d", 100+i)
		e.Vehicles, e.Standings = append(e.Vehicles, car), append(e.Standings, st)
		e.Standings[i].Reason = "dry flagged: 2 reports of precipitation in the soak, the protocol allows 0"
		e.Pairs = append(e.Pairs, edition.Pair{Before: "car-00", After: fmt.Sprintf("car-%02d", i), Probability: 0.75})
	}
	e.Scales, e.Categories, e.Windows = sampleScales, []edition.Category{category}, []edition.Compared{window}
	e.Shifts = e.Shifts[:len(e.Scales)]
	// And a session with more figures, events and minutes than that.
	log := edition.Log{Session: e.Sessions[0].ID}
	for i := range 64 {
		e.Results = append(e.Results, edition.Figure{Session: log.Session, Figure: fmt.Sprintf("more_%02d", i), Unit: "kWh", Status: edition.Measured, Value: pointer(3.25), U: pointer(0.01)})
		log.Events = append(log.Events, edition.Event{T: 300 * float64(i), WidthS: 60, Kind: "note", Text: fmt.Sprintf("the display shows %d", i), Path: "notes.txt", Line: int64(i)})
	}
	for m := range 300 {
		log.Minutes = append(log.Minutes, edition.Minute{Minute: m, PackKW: pointer(50.0), SoCPct: pointer(10.0)})
	}
	sortResults(e)
	return e, []edition.Log{log}
}

// A page is what stands on a page of paper: its words, how often each, and how high
// most of them are.
type page struct {
	width, height float64
	words         map[string]int
	high          float64
	head          string
}

var (
	pageOf = regexp.MustCompile(`(?s)<page width="([0-9.]+)" height="([0-9.]+)">(.*?)</page>`)
	wordOf = regexp.MustCompile(`<word xMin="([-0-9.]+)" yMin="([-0-9.]+)" xMax="([-0-9.]+)" yMax="([-0-9.]+)">([^<]*)</word>`)
)

// printed are the pages of a PDF file, read by poppler.
func printed(t *testing.T, file string) []page {
	t.Helper()
	out, err := exec.CommandContext(t.Context(), "pdftotext", "-bbox", file, "-").Output()
	if err != nil {
		t.Fatalf("pdftotext: %v; `make deps` installs it", err)
	}
	var pages []page
	for _, m := range pageOf.FindAllStringSubmatch(string(out), -1) {
		p := page{width: number(t, m[1]), height: number(t, m[2]), words: map[string]int{}}
		var heights []float64
		var head []string
		for _, w := range wordOf.FindAllStringSubmatch(m[3], -1) {
			x, y, toX, toY, text := number(t, w[1]), number(t, w[2]), number(t, w[3]), number(t, w[4]), html.UnescapeString(w[5])
			if y < 36 { // the sheet's header, from 0.3 in on
				head = append(head, text)
				continue
			}
			if x < 72*marginSide-1 || toX > p.width-72*marginSide+1 {
				t.Errorf("%s: %q stands in the margin of page %d, at %v to %v of %v", filepath.Base(file), text, len(pages)+1, x, toX, p.width)
			}
			if strings.Contains(text, "##") {
				t.Errorf("%s: page %d, %s: a number is wider than its column", filepath.Base(file), len(pages)+1, strings.Join(head, " "))
			}
			p.words[text]++
			heights = append(heights, toY-y)
		}
		slices.Sort(heights)
		if len(heights) > 0 {
			p.high = heights[len(heights)/2]
		}
		p.head = strings.Join(head, " ")
		pages = append(pages, p)
	}
	return pages
}

// plain are words that paper shows as they are; longer ones may be broken.
var plain = regexp.MustCompile(`^[A-Za-z0-9.,:%-]{1,12}$`)

// wordsIn counts the words of the texts in rows of a sheet, as far as they are printed.
func (s *sheet) wordsIn(from, to int) map[string]int {
	words := map[string]int{}
	for row := from; row <= to; row++ {
		if row >= len(s.cells) {
			break
		}
		for col, c := range s.cells[row] {
			if c.holds == isText && (s.printed == [2]int{} || col <= s.printed[0] && row <= s.printed[1]) {
				for w := range strings.FieldsSeq(c.text) {
					if plain.MatchString(w) {
						words[w]++
					}
				}
			}
		}
	}
	return words
}

// holds reports whether the words are all on the page.
func (p page) holds(words map[string]int) bool {
	for w, n := range words {
		if p.words[w] < n {
			return false
		}
	}
	return true
}

// take takes words from the page, if it holds them.
func (p page) take(words map[string]int) bool {
	if !p.holds(words) {
		return false
	}
	for w, n := range words {
		p.words[w] -= n
	}
	return true
}

// pagesOf finds the page, from 0, of each row of a sheet. Words are taken from pages, so
// that no row is found in what is another's.
func (s *sheet) pagesOf(t *testing.T, paper string, pages []page) map[int]int {
	t.Helper()
	on, at := map[int]int{}, 0
	_, last := s.last()
	for row := 1; row <= last; row++ {
		words := s.wordsIn(row, row)
		if len(words) == 0 {
			continue
		}
		for at < len(pages) && !pages[at].take(words) {
			at++
			if s.repeat[0] > 0 && row > s.repeat[1] && at < len(pages) && !pages[at].take(s.wordsIn(s.repeat[0], s.repeat[1])) {
				t.Errorf("%s: %s: its page %d has no heads", paper, s.name, at+1)
			}
		}
		if at == len(pages) {
			t.Errorf("%s: %s: row %d is not whole on any of %d pages", paper, s.name, row, len(pages))
			break
		}
		on[row] = at
	}
	return on
}

// few is the sample with so many cars and so much said of them that the ranking's working,
// which belongs together, comes near the end of a page.
func few() (*edition.Edition, []edition.Log) {
	e, logs := driven()
	for i := range e.Standings {
		e.Standings[i].Reason = strings.TrimSuffix(strings.Repeat("mean of 2 sessions\n", 4), "\n")
	}
	return e, logs[:1]
}

// On A4 and on Letter, each sheet is one page wide: every row stands whole on one page,
// and so do charts and what belongs together; each page that shows rows of a table shows
// its heads; no page is empty; and no sheet is so wide that its text is smaller than 6
// points.
func TestPaper(t *testing.T) {
	papers := []struct {
		name          string
		size          int // ECMA-376, part 1, 18.3.1.63: paperSize
		width, height float64
	}{
		{"a4", 9, 841.89, 595.28}, {"letter", 1, 792, 612}, // 297 x 210 mm, 11 x 8.5 in
		// 420 x 297 mm. It holds more rows, as the others do where no font is as narrow as
		// the one that the workbook asks for, and columns are wider.
		{"a3", 8, 1190.55, 841.89},
	}
	books, files := map[string]*book{}, map[string][]byte{}
	on := map[string][]int{"broad": {0, 1}, "crowded": {0, 1}, "few": {0, 2}} // of papers
	for name, made := range map[string]func() (*edition.Edition, []edition.Log){"broad": broad, "crowded": crowded, "few": few} {
		e, logs := made()
		b := filled(e, logs, nil, nil)
		var w bytes.Buffer
		if err := b.write(&w); err != nil {
			t.Fatal(err)
		}
		books[name] = b
		for _, i := range on[name] {
			p := papers[i]
			f := opened(t, w.Bytes())
			for _, sheet := range f.GetSheetList() {
				if err := f.SetPageLayout(sheet, &excelize.PageLayoutOptions{Size: &p.size}); err != nil {
					t.Fatal(err)
				}
			}
			var out bytes.Buffer
			if err := pack(&out, f, nil); err != nil {
				t.Fatal(err)
			}
			files[name+"-"+p.name] = out.Bytes()
		}
	}
	dir := convert(t, "pdf", files)
	for name, b := range books {
		for _, i := range on[name] {
			p := papers[i]
			paper := name + ", " + p.name
			pages := printed(t, filepath.Join(dir, name+"-"+p.name+".pdf"))
			for i, x := range pages {
				if math.Abs(x.width-p.width) > 1 || math.Abs(x.height-p.height) > 1 {
					t.Errorf("%s: page %d is %v x %v points", paper, i+1, x.width, x.height)
				}
			}
			for _, s := range b.sheets {
				s.onPaper(t, paper, slices.DeleteFunc(slices.Clone(pages), func(x page) bool { return !strings.HasSuffix(x.head, " "+oneLine(s.name, 60)) }))
			}
		}
	}
}

// onPaper holds a sheet against its pages.
func (s *sheet) onPaper(t *testing.T, paper string, pages []page) {
	t.Helper()
	if len(pages) == 0 {
		t.Errorf("%s: %s has no page", paper, s.name)
		return
	}
	for i, x := range pages {
		const lineOfFont = 1.117 // Liberation Sans, ascent and descent
		if x.high > 0 && x.high < 6*lineOfFont {
			t.Errorf("%s: %s: the text of its page %d is %.1f points high", paper, s.name, i+1, x.high/lineOfFont)
		}
		if len(x.words) <= len(strings.Fields("edition page 1 of 1"))+1 {
			t.Errorf("%s: %s: nothing stands on its page %d", paper, s.name, i+1)
		}
	}
	for _, c := range s.charts {
		words := map[string]int{}
		for _, text := range append([]string{c.title, c.xTitle}, names(c.series)...) {
			for w := range strings.FieldsSeq(text) {
				if plain.MatchString(w) {
					words[w] = 1
				}
			}
		}
		if !slices.ContainsFunc(pages, func(x page) bool { return x.holds(words) }) {
			t.Errorf("%s: %s: chart %q is not whole on any of %d pages", paper, s.name, c.title, len(pages))
		}
	}
	on := s.pagesOf(t, paper, pages)
	// cut is the first of the rows that stands on another page than the first of them.
	cut := func(first, last int) int {
		at, known := 0, false
		for row := first; row <= last; row++ {
			if p, ok := on[row]; ok && !known {
				at, known = p, true
			} else if ok && p != at {
				return row
			}
		}
		return 0
	}
	for _, x := range s.blocks {
		if cut(x[0], x[1]) != 0 {
			t.Errorf("%s: %s: what stands in rows %d to %d is cut", paper, s.name, x[0], x[1])
		}
	}
	// What stands below a head within a sheet, down to the next row of nothing.
	band := 0
	for row, cells := range s.cells {
		switch {
		case len(cells) < 2 || cells[1].holds == absent:
			band = 0
		case s.book.looks[cells[1].style] == label && cells[1].across > 2:
			band = row
		case band > 0:
			at, known := on[row]
			if under, ok := on[band]; !known || !ok || at == under {
				break
			}
			t.Errorf("%s: %s: row %d stands on another page than its head %q", paper, s.name, row, s.at(1, band).text)
		}
	}
	for _, x := range s.tables {
		if _, last := s.last(); s.repeat == [2]int{x.heads, x.heads} && s != s.book.sources && last > x.last {
			t.Errorf("%s: %s: the heads of table %s are repeated above what is not in it, down to row %d", paper, s.name, x.name, last)
		}
		_, first, _, last := corners(t, x.at)
		if row := cut(first, last); row != 0 && s.repeat != [2]int{first, first} {
			t.Errorf("%s: %s: table %s goes on in row %d on a page without its heads", paper, s.name, x.name, row)
		}
	}
}

func names(of []series) (out []string) {
	for _, x := range of {
		out = append(out, x.name)
	}
	return out
}
