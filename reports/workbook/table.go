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
	t := table{name: name, at: ref(col, heads) + ":" + ref(toCol, last), filtered: filtered}
	taken := map[string]bool{}
	for c := col; c <= toCol; c++ {
		h := s.cells[heads][c]
		text, _ := h.value.(string)
		if text == "" || h.formula != "" || h.across > 1 {
			s.fail(fmt.Errorf("table %s: no head in %s", name, ref(c, heads)))
			return
		}
		text = spelt.ReplaceAllString(oneLine(text, 200), "-$1")
		unique := text
		for n := 2; taken[strings.ToLower(unique)]; n++ {
			unique = fmt.Sprintf("%s (%d)", text, n)
		}
		taken[strings.ToLower(unique)] = true
		h.value = unique
		if filtered && h.look.align == "right" {
			h.look.indent = 2 // the button stands there
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

// tableParts are what tables add to the parts of a workbook, by the parts' names.
type tableParts struct {
	whole         map[string][]byte // parts of their own
	in, relations map[string]string // at the end of sheets, and of their relations
}

// tables numbers the tables of all sheets. The library names the sheets' parts in
// their order.
func (b *book) tables() *tableParts {
	p := &tableParts{map[string][]byte{}, map[string]string{}, map[string]string{}}
	for i, s := range b.sheets {
		if len(s.tables) == 0 {
			continue
		}
		var in, relations strings.Builder
		for _, t := range s.tables {
			id := len(p.whole) + 1
			p.whole[fmt.Sprintf("xl/tables/table%d.xml", id)] = t.part(id)
			fmt.Fprintf(&in, `<tablePart r:id="table%d"/>`, id)
			fmt.Fprintf(&relations, `<Relationship Id="table%d" Type="%s" Target="../tables/table%d.xml"/>`, id, tableRelation, id)
		}
		p.in[fmt.Sprintf("xl/worksheets/sheet%d.xml", i+1)] = fmt.Sprintf(`<tableParts count="%d">%s</tableParts>`, len(s.tables), in.String())
		p.relations[fmt.Sprintf("xl/worksheets/_rels/sheet%d.xml.rels", i+1)] = relations.String()
	}
	return p
}

// names are the parts that the workbook does not have yet.
func (p *tableParts) names(has loose) []string {
	names := slices.Collect(maps.Keys(p.whole))
	for name := range p.relations {
		if has[name] == nil {
			names = append(names, name)
		}
	}
	return names
}

// add returns the text of a part with what the tables add to it.
func (p *tableParts) add(name string, text []byte) []byte {
	before := func(end, more string) []byte {
		i := bytes.LastIndex(text, []byte(end))
		return slices.Concat(text[:i], []byte(more), text[i:])
	}
	switch {
	case p.whole[name] != nil:
		return p.whole[name]
	case p.in[name] != "":
		return before("</worksheet>", p.in[name])
	case p.relations[name] != "":
		if len(text) == 0 {
			text = []byte(noRelations)
		}
		return before("</Relationships>", p.relations[name])
	case name == contentTypes:
		var more strings.Builder
		for part := range p.whole {
			fmt.Fprintf(&more, `<Override PartName="/%s" ContentType="%s"/>`, part, tableType)
		}
		return before("</Types>", more.String())
	}
	return text
}
