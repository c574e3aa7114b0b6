package workbook

import (
	"bytes"
	"cmp"
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
	e, logs := awkward()
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
	slices.SortFunc(e.Results, func(a, b edition.Figure) int {
		return cmp.Or(strings.Compare(a.Session, b.Session), strings.Compare(a.Figure, b.Figure))
	})
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

// On A4 and on Letter, each sheet is one page wide: every row stands whole on one page,
// and so do charts and the tables that a page can hold; long tables have their heads on
// every page; and no sheet is so wide that its text is smaller than 6 points.
func TestPaper(t *testing.T) {
	e, logs := broad()
	b := filled(e, logs, nil, nil)
	var w bytes.Buffer
	if err := b.write(&w); err != nil {
		t.Fatal(err)
	}
	papers := []struct {
		name          string
		size          int // ECMA-376, part 1, 18.3.1.63: paperSize
		width, height float64
	}{{"a4", 9, 841.89, 595.28}, {"letter", 1, 792, 612}} // 297 x 210 mm, 11 x 8.5 in
	books := map[string][]byte{}
	for _, p := range papers {
		f := opened(t, w.Bytes())
		for _, name := range f.GetSheetList() {
			if err := f.SetPageLayout(name, &excelize.PageLayoutOptions{Size: &p.size}); err != nil {
				t.Fatal(err)
			}
		}
		var out bytes.Buffer
		if err := pack(&out, f, nil); err != nil {
			t.Fatal(err)
		}
		books[p.name] = out.Bytes()
	}
	dir := convert(t, "pdf", books)
	for _, p := range papers {
		pages := printed(t, filepath.Join(dir, p.name+".pdf"))
		for i, x := range pages {
			if math.Abs(x.width-p.width) > 1 || math.Abs(x.height-p.height) > 1 {
				t.Errorf("%s: page %d is %v x %v points", p.name, i+1, x.width, x.height)
			}
		}
		for _, s := range b.sheets {
			mine := slices.DeleteFunc(slices.Clone(pages), func(x page) bool { return !strings.HasSuffix(x.head, " "+oneLine(s.name, 60)) })
			if len(mine) == 0 {
				t.Errorf("%s: %s has no page", p.name, s.name)
				continue
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
				if !slices.ContainsFunc(mine, func(x page) bool { return x.holds(words) }) {
					t.Errorf("%s: %s: chart %q is not whole on any of %d pages", p.name, s.name, c.title, len(mine))
				}
			}
			on := s.pagesOf(t, p.name, mine)
			for _, x := range s.blocks {
				of := map[int]bool{}
				for row := x[0]; row <= x[1]; row++ {
					if at, ok := on[row]; ok {
						of[at] = true
					}
				}
				if len(of) > 1 {
					t.Errorf("%s: %s: the table in rows %d to %d is cut", p.name, s.name, x[0], x[1])
				}
			}
			for i, x := range mine {
				const lineOfFont = 1.117 // Liberation Sans, ascent and descent
				if x.high > 0 && x.high < 6*lineOfFont {
					t.Errorf("%s: %s: the text of its page %d is %.1f points high", p.name, s.name, i+1, x.high/lineOfFont)
				}
			}
		}
	}
}

func names(of []series) (out []string) {
	for _, x := range of {
		out = append(out, x.name)
	}
	return out
}
