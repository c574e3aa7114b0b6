// Package workbook writes an edition as a spreadsheet workbook (Office Open
// XML): what a co-presenter opens, reads on a phone and prints.
//
// The standings are live formulas over weights that may be changed. Every
// formula carries the value that the edition holds, so that readers which do
// not calculate show the same numbers. All else is values: the package computes
// no figure, and takes nothing but the edition and its logs. The same edition
// and logs give the same bytes.
package workbook

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/xuri/excelize/v2"

	"coldbench/metrics/edition"
)

// Write writes the workbook. logs are in the order of the edition's sessions,
// some of which may have none. before is the edition that went before it in the
// series, nil if there is none. asked are sessions that have a sheet however many
// there are. A number that is NaN or infinite is an error.
func Write(w io.Writer, e *edition.Edition, logs []edition.Log, before *edition.Edition, asked []string) error {
	if err := filled(e, logs, before, asked).write(w); err != nil {
		return fmt.Errorf("workbook: %w", err)
	}
	return nil
}

// filled is the workbook with all its cells, not yet written.
func filled(e *edition.Edition, logs []edition.Log, before *edition.Edition, asked []string) *book {
	b := newBook(e, logs, asked)
	b.before = before
	for _, x := range []struct {
		sheet *sheet
		fill  func()
	}{
		{b.readMe, b.fillReadMe}, {b.standings, b.fillStandings}, {b.sessions, b.fillSessions}, {b.figures, b.fillFigures}, {b.allFigures, b.fillAllFigures},
		{b.gates, b.fillGates}, {b.reasons, b.fillReasons}, {b.controls, b.fillControls}, {b.comparisons, b.fillComparisons}, {b.curves, b.fillCurves},
	} {
		x.sheet.filledBy(x.fill)
	}
	for _, ses := range b.e.Sessions {
		if s := b.bySession[ses.ID]; s != nil {
			s.filledBy(func() { b.fillSession(s, ses) })
		}
	}
	b.sources.filledBy(b.fillSources)
	b.method.filledBy(b.fillMethod)
	return b
}

// A book is the workbook while it is made.
type book struct {
	e       *edition.Edition
	before  *edition.Edition
	logs    map[string]edition.Log
	title   string
	edition string

	file     *excelize.File
	looks    []look       // in the order in which they came
	styles   map[look]int // of which each is
	styleIDs []int        // of the looks, in the file
	formats  map[format]string
	shapes   map[string]shape   // of number formats
	units    map[string]float64 // how wide columns are for them
	sheets   []*sheet           // in their order

	carOf, titleOf map[string]string // names of sessions' cars and of figures
	groups         []figureGroup
	results        map[string][]edition.Figure // by session, each in the order of the edition
	charts         int                         // in the file

	readMe, standings, sessions, figures, allFigures, gates, reasons, controls, comparisons, curves, sources, method *sheet

	bySession map[string]*sheet // of those that have a sheet
	detailed  map[string]bool   // sessions of which all is told
	partly    string            // which these are, "" for all
}

// Colours of tabs: the answer, what it rests on, one for each session.
const (
	tabAnswer  = slate
	tabTables  = "8FA3B0"
	tabSession = "CFE0E8"
)

// newBook names all sheets, so that each can lead to any other. The fixed
// sheets are named first and keep their names, whatever sessions are called.
func newBook(e *edition.Edition, logs []edition.Log, asked []string) *book {
	b := &book{
		e: e, logs: map[string]edition.Log{}, title: e.Title, edition: e.ID,
		file: excelize.NewFile(), styles: map[look]int{}, formats: map[format]string{}, shapes: map[string]shape{}, units: map[string]float64{}, bySession: map[string]*sheet{},
		results: map[string][]edition.Figure{}, carOf: map[string]string{}, titleOf: map[string]string{},
	}
	for _, s := range e.Sessions {
		b.carOf[s.ID] = e.Name(s.Vehicle)
	}
	for _, d := range e.Figures {
		b.titleOf[d.Name] = d.Title
	}
	for results := e.Results; len(results) > 0; {
		n := 1
		for n < len(results) && results[n].Session == results[0].Session {
			n++
		}
		b.results[results[0].Session], results = results[:n], results[n:]
	}
	b.groups = b.figureGroups()
	for _, l := range logs {
		b.logs[l.Session] = l
	}
	names := sheetNames{}
	add := func(name, tab string) *sheet {
		return &sheet{book: b, name: names.take(name), tall: map[int]float64{}, tab: tab}
	}
	b.readMe, b.standings = add("Read me", tabAnswer), add("Standings", tabAnswer)
	b.sessions, b.figures = add("Sessions", tabTables), add("Figures", tabTables)
	b.allFigures, b.gates = add("All figures", tabTables), add("Gates", tabTables)
	b.reasons, b.controls = add("Reasons", tabTables), add("Cold and control", tabTables)
	b.comparisons, b.curves = add("Comparisons", tabTables), add("Curves", tabTables)
	b.sources, b.method = add("Sources", tabTables), add("Method", tabTables)
	b.sheets = []*sheet{b.readMe, b.standings, b.sessions, b.figures, b.allFigures, b.gates, b.reasons, b.controls, b.comparisons, b.curves}
	b.detailed, b.partly = e.Detailed(asked), e.Partly(asked)
	placed := e.Placed(asked)
	for _, s := range e.Sessions {
		if b.bySession[s.ID] == nil && placed[s.ID] {
			b.bySession[s.ID] = add(s.ID, tabSession)
			b.sheets = append(b.sheets, b.bySession[s.ID])
		}
	}
	b.sheets = append(b.sheets, b.sources, b.method)
	return b
}

// style returns the number of a look in the book.
func (b *book) style(l look) int {
	n, ok := b.styles[l]
	if !ok {
		n = len(b.looks)
		b.looks, b.styles[l] = append(b.looks, l), n
	}
	return n
}

// define gives a sheet a name of the file format's own. The library's setter goes
// through all sheets for each name that there is, so it is asked for the first alone.
func (b *book) define(name string, s *sheet, refersTo string) error {
	if b.file.WorkBook == nil || b.file.WorkBook.DefinedNames == nil {
		return b.file.SetDefinedName(&excelize.DefinedName{Name: name, Scope: s.name, RefersTo: refersTo})
	}
	names := b.file.WorkBook.DefinedNames
	d := names.DefinedName[0]
	d.Name, d.Data, d.LocalSheetID = name, refersTo, pointer(slices.Index(b.sheets, s))
	names.DefinedName = append(names.DefinedName, d)
	return nil
}

func (b *book) write(w io.Writer) error {
	defer b.file.Close()
	if err := b.file.SetDefaultFont(family); err != nil {
		return err
	}
	for _, l := range b.looks {
		id, err := b.file.NewStyle(l.style())
		if err != nil {
			return err
		}
		b.styleIDs = append(b.styleIDs, id)
	}
	for _, s := range b.sheets {
		s.target = escape(s.quotedName() + "!A1")
	}
	// Each sheet is written before the next is there, since the library looks through
	// the names of all there are, many times a chart and a comment.
	for i, s := range b.sheets {
		if i == 0 {
			if err := b.file.SetSheetName("Sheet1", s.name); err != nil {
				return err
			}
			b.file.SetActiveSheet(0)
		} else if _, err := b.file.NewSheet(s.name); err != nil {
			return err
		}
		if err := s.write(b.file); err != nil {
			return err
		}
	}
	if err := b.file.SetCalcProps(&excelize.CalcPropsOptions{FullCalcOnLoad: pointer(true)}); err != nil {
		return err
	}
	properties(b.file, b.title, b.e.At)
	return pack(w, b.file, b.additions())
}

// heading writes the lines that every sheet starts with: what it is, of which
// series and edition, and how to read it. It returns the first row after them.
func (s *sheet) heading(text, explain string, toCol int) int {
	s.across(1, 1, toCol, text, title)
	s.across(1, 2, toCol, s.book.of(), subtitle)
	s.across(1, 3, toCol, explain, para)
	return 5
}

// partlyHeading is the heading of a sheet that may tell of some sessions only: it then
// says of which, and leads to the file beside the workbook that tells of all.
func (s *sheet) partlyHeading(text, explain, file string) int {
	if s.book.partly == "" {
		return s.heading(text, explain, len(s.widths))
	}
	row := s.heading(text, explain+" "+s.book.partly+" All lie beside this workbook.", len(s.widths))
	s.leadOut(row-1, file)
	return row
}

// of says which series, where and which edition.
func (b *book) of() string {
	text := b.e.Title
	if b.e.Place != "" {
		text += ", " + b.e.Place
	}
	if !b.e.At.IsZero() {
		text += " · edition of " + b.e.At.UTC().Format("2 January 2006, 15:04 UTC")
	}
	return text
}

// find returns the result of a session's figure, and whether there is one. It is the
// edition's Find, but among one session's results.
func (b *book) find(session, figure string) (edition.Figure, bool) {
	of := b.results[session]
	i, ok := slices.BinarySearchFunc(of, figure, func(f edition.Figure, name string) int { return strings.Compare(f.Figure, name) })
	if !ok {
		return edition.Figure{}, false
	}
	return of[i], true
}

// figureTitle is a figure's title, or its name where the edition does not define it.
func (b *book) figureTitle(name string) string {
	return cmp.Or(b.titleOf[name], name)
}
