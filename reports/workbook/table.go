package workbook

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"

	"github.com/xuri/excelize/v2"
)

// A table is a range that spreadsheet programs know as a table by name: they sort
// and filter it, and formulas and other programs may ask for its columns.
//
// Its part of the workbook is written here. The library's streams know one table a
// sheet, and its tables without streams take longer the more there are.
type table struct {
	name     string
	at       string // the range, its heads included
	heads    int    // their row
	last     int
	columns  []string
	filtered bool // has buttons to filter by
}

// spelt is what readers take for the code of a character.
var spelt = regexp.MustCompile(`_(x[0-9A-Fa-f]{4}_)`)

// table makes a table of the row of heads and all rows down to last. Its heads
// become single lines that differ, as the file format asks. Without rows there is none.
func (s *sheet) table(name string, col, heads, toCol, last int, filtered bool) {
	if last <= heads {
		return
	}
	t := table{name: name, at: ref(col, heads) + ":" + ref(toCol, last), heads: heads, last: last, filtered: filtered}
	taken := map[string]bool{}
	for c := col; c <= toCol; c++ {
		h := s.at(c, heads)
		if h.holds != isText || h.text == "" || h.formula != "" || h.across > 1 {
			s.fail(fmt.Errorf("table %s: no head in %s", name, ref(c, heads)))
			return
		}
		plain := spelt.ReplaceAllString(oneLine(h.text, 200), "-$1")
		unique := plain
		for n := 2; taken[strings.ToLower(unique)]; n++ {
			unique = fmt.Sprintf("%s (%d)", plain, n)
		}
		taken[strings.ToLower(unique)] = true
		if h.text != unique {
			h.text = unique
			if heads < len(s.heights) {
				s.heights[heads] = unknown
			}
		}
		if l := s.book.looks[h.style]; filtered && l.align == "right" {
			l.indent = 2 // the button stands there
			h.style = s.book.style(l)
		}
		s.cells[heads][c] = h
		t.columns = append(t.columns, unique)
	}
	s.tables = append(s.tables, t)
}

// part is the table as the file format has it; id is its number in the workbook.
// It has no style of its own: its cells have their looks.
func (t table) part(id int) []byte {
	var b strings.Builder
	fmt.Fprintf(&b, `<table xmlns="%s" id="%d" name="%s" displayName="%s" ref="%s" totalsRowShown="0">`, excelize.NameSpaceSpreadSheet.Value, id, t.name, t.name, t.at)
	if t.filtered {
		fmt.Fprintf(&b, `<autoFilter ref="%s"/>`, t.at)
	}
	fmt.Fprintf(&b, `<tableColumns count="%d">`, len(t.columns))
	for i, c := range t.columns {
		fmt.Fprintf(&b, `<tableColumn id="%d" name="%s"/>`, i+1, escape(c))
	}
	b.WriteString(`</tableColumns><tableStyleInfo showFirstColumn="0" showLastColumn="0" showRowStripes="0" showColumnStripes="0"/></table>`)
	return []byte(xml.Header + b.String())
}

const (
	tableType     = "application/vnd.openxmlformats-officedocument.spreadsheetml.table+xml"
	tableRelation = "http://schemas.openxmlformats.org/officeDocument/2006/relationships/table"
	noRelations   = xml.Header + `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"></Relationships>`
)

// additions are what the library's workbook lacks, by the names of parts.
type additions struct {
	whole     map[string][]byte // parts of their own
	sheets    map[string]*sheet
	relations map[string]string // at the end of sheets' relations
}

// additions numbers the tables of all sheets. The library names the sheets' parts in
// their order.
func (b *book) additions() *additions {
	a := &additions{map[string][]byte{}, map[string]*sheet{}, map[string]string{}}
	for i, s := range b.sheets {
		a.sheets[fmt.Sprintf("xl/worksheets/sheet%d.xml", i+1)] = s
		var in, relations strings.Builder
		for _, t := range s.tables {
			id := len(a.whole) + 1
			a.whole[fmt.Sprintf("xl/tables/table%d.xml", id)] = t.part(id)
			fmt.Fprintf(&in, `<tablePart r:id="table%d"/>`, id)
			fmt.Fprintf(&relations, `<Relationship Id="table%d" Type="%s" Target="../tables/table%d.xml"/>`, id, tableRelation, id)
		}
		if len(s.tables) > 0 {
			s.tablesIn = fmt.Sprintf(`<tableParts count="%d">%s</tableParts>`, len(s.tables), in.String())
		}
		if s.outside[0] != "" {
			fmt.Fprintf(&relations, `<Relationship Id="%s" Type="%s" Target="%s" TargetMode="External"/>`, outsideID, excelize.SourceRelationshipHyperLink, s.outside[1])
		}
		if relations.Len() > 0 {
			a.relations[fmt.Sprintf("xl/worksheets/_rels/sheet%d.xml.rels", i+1)] = relations.String()
		}
	}
	return a
}

// names are the parts that the workbook does not have yet.
func (a *additions) names(has loose) []string {
	names := slices.Collect(maps.Keys(a.whole))
	for name := range a.relations {
		if has[name] == nil {
			names = append(names, name)
		}
	}
	return names
}

// to returns the text of a part with what is to be added to it.
func (a *additions) to(name string, text []byte) ([]byte, error) {
	before := func(end, more string) ([]byte, error) {
		i := bytes.LastIndex(text, []byte(end))
		if i < 0 {
			return nil, fmt.Errorf("the part has no %s", end)
		}
		return slices.Concat(text[:i], []byte(more), text[i:]), nil
	}
	switch {
	case a.whole[name] != nil:
		return a.whole[name], nil
	case a.sheets[name] != nil:
		return a.sheets[name].filled(text)
	case a.relations[name] != "":
		if len(text) == 0 {
			text = []byte(noRelations)
		}
		return before("</Relationships>", a.relations[name])
	case name == contentTypes:
		var more strings.Builder
		for part := range a.whole {
			fmt.Fprintf(&more, `<Override PartName="/%s" ContentType="%s"/>`, part, tableType)
		}
		return before("</Types>", more.String())
	}
	return text, nil
}
