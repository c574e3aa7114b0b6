package infer

import (
	"bytes"
	"fmt"
	"regexp"
	"strings"

	"coldbench/ingest/delimited"
	"coldbench/warehouse/diag"
)

// delimiters are those that delimited text may have.
var delimiters = []struct {
	mark  byte
	shown string
}{{';', "semicolon"}, {'\t', "tab"}, {',', "comma"}, {'|', "bar"}}

// A textLine is a physical line that is not blank.
type textLine struct {
	number int // from 1
	at     int // its first byte
	text   string
}

// sniffLines bounds the lines by which the layout is judged.
const sniffLines = 400

func firstLines(text []byte) []textLine {
	var lines []textLine
	at := 0
	for n := 1; at < len(text) && len(lines) < sniffLines; n++ {
		end := bytes.IndexByte(text[at:], '\n')
		if end < 0 {
			end = len(text) - at
		}
		if s := strings.TrimRight(string(text[at:at+end]), "\r"); strings.TrimSpace(s) != "" {
			lines = append(lines, textLine{n, at, s})
		}
		at += end + 1
	}
	return lines
}

// split cuts one line into fields.
func split(line string, delim byte) []string {
	var fields []string
	delimited.Records([]byte(line), delim, func(_ int, f []string) bool { fields = f; return false })
	return fields
}

// text proposes the layout of a text. A nil table tells that it is of a kind that
// has none.
func (p *Proposal) text(raw []byte) (*table, diag.List) {
	pos := diag.Pos{File: p.File}
	if len(bytes.TrimSpace(raw)) == 0 {
		return nil, diag.List{diag.New(pos, "the file is empty").WithHint("was the logger running?")}
	}
	text, enc, ok := decode(raw)
	if !ok {
		return nil, diag.List{diag.New(pos, "this is no text, nor a workbook, Parquet or Arrow file").
			WithHint("can the logger export text?")}
	}
	lines := firstLines(text)
	if p.other(lines) {
		return nil, nil
	}
	width, best := p.delimiter(lines)
	if best < 0 {
		hint := "a log has a column a channel, apart by ; , | or a tab"
		if w, share := widthOf(lines, func(s string) int { return len(strings.Fields(s)) }); w > 1 && share > 0.8 {
			hint = "its columns seem to stand apart by spaces; save it with ; or a tab between them"
		}
		return nil, diag.List{diag.New(pos, "no columns are found in the file").WithHint("%s", hint)}
	}
	p.Kind = "delimited"
	d := delimiters[best]
	p.fact("kind", p.Kind, High, "text with %d fields in a line", width)
	p.fact("encoding", enc.shown, enc.confidence, "%s", enc.reason)
	p.Profile.Encoding, p.Profile.Delimiter = enc.name, string(d.mark)
	_, share := widthOf(lines, func(s string) int { return len(split(s, d.mark)) })
	confidence := High
	if share < 0.9 {
		confidence = Fair
	}
	p.fact("delimiter", d.shown, confidence, "%.0f %% of the lines have %d fields by it", 100*share, width)

	grid := make([]gridRow, len(lines))
	for i, l := range lines {
		grid[i] = gridRow{l.number, split(l.text, d.mark)}
	}
	h := findHeader(grid, width)
	t := &table{names: h.names, units: h.units}
	p.Profile.HeaderRow, p.Profile.FirstRow = h.row, h.firstRow
	if h.data < 0 {
		return nil, diag.List{diag.New(pos, "no rows with values are found in the file").WithHint("was the logger running?")}
	}
	p.headerFacts(h)
	ragged := 0
	delimited.Records(text[lines[h.data].at:], d.mark, func(_ int, fields []string) bool {
		if n := len(fields); n != len(t.names) && !(n == len(t.names)+1 && strings.TrimSpace(fields[n-1]) == "") {
			ragged++
			return true
		}
		return t.add(fields)
	})
	if ragged > 0 {
		p.ask("%d rows have another number of fields than the header and will be set aside: was the log cut off, or a delimiter written within a text?", ragged)
	}
	t.findMark(p, d.mark)
	return t, nil
}

// widthOf is the most common number of fields, and how many lines have it. Lines
// at the start, which may be a preamble, count less.
func widthOf(lines []textLine, fields func(string) int) (width int, share float64) {
	count, all := map[int]int{}, 0
	for i, l := range lines {
		if i*4 < len(lines) && len(lines) > 8 {
			continue
		}
		count[fields(l.text)]++
		all++
	}
	for w, n := range count {
		if n > count[width] || n == count[width] && w > width {
			width = w
		}
	}
	return width, float64(count[width]) / float64(max(1, all))
}

// delimiter chooses the delimiter by which lines have as many fields as each
// other, and fields are values.
func (p *Proposal) delimiter(lines []textLine) (width, best int) {
	best = -1
	most := 0.0
	for i, d := range delimiters {
		w, share := widthOf(lines, func(s string) int { return len(split(s, d.mark)) })
		if w < 2 {
			continue
		}
		values, all := 0, 0
		for _, l := range lines {
			f := split(l.text, d.mark)
			if len(f) != w {
				continue
			}
			for _, s := range f {
				if s = strings.TrimSpace(s); s != "" {
					all++
					if isValue(s) {
						values++
					}
				}
			}
		}
		if score := share * (0.1 + float64(values)/float64(max(1, all))); score > most && (values > 0 && share > 0.3) {
			width, best, most = w, i, score
		}
	}
	return width, best
}

var timeLike = regexp.MustCompile(`^["']?[0-9]{1,4}([./:-][0-9]{1,2}){1,2}([T _,;.:-]+[0-9]|[ ]?(Z|[AaPp][Mm])|$)`)

// withUnit is a number with its unit behind it. The readers take none.
var withUnit = regexp.MustCompile(`^[-+]?[0-9]+([.,][0-9]+)? ?(°[CF]|℃|℉|%|kWh?|Wh?|k?V|m?A|km|km/h|mi|mph|[CF])$`)

// isValue reports whether a field is a number, with its unit or without, or looks
// like a time.
func isValue(s string) bool { return isNumber(s) || timeLike.MatchString(s) || withUnit.MatchString(s) }

// A gridRow is a row of cells with its place in the file, from 1.
type gridRow struct {
	number int
	cells  []string
}

// A header is where a table's names and rows are.
type header struct {
	names    []string
	units    []string
	row      int // of the names, from 1; 0: none
	firstRow int // as the profile has it
	data     int // index of the first row with values, -1: none
	preamble int // rows above the names
	between  int // rows between names and values
	doubtful bool
}

// findHeader finds the first row with values and the names above it.
func findHeader(grid []gridRow, width int) header {
	h := header{data: -1}
	for i, r := range grid {
		if isData(r.cells, width) && (i+1 == len(grid) || isData(grid[i+1].cells, width) || i+2 < len(grid) && isData(grid[i+2].cells, width)) {
			h.data = i
			break
		}
	}
	if h.data < 0 {
		return h
	}
	name, most := -1, 0
	for i := h.data - 1; i >= max(0, h.data-3) && isNames(grid[i].cells, width); i-- {
		if n := likeNames(grid[i].cells); name < 0 || n >= most {
			name, most = i, n
		}
		if isUnits(grid[i].cells) {
			h.units = grid[i].cells
		}
	}
	if name < 0 {
		for i := range grid[h.data].cells {
			h.names = append(h.names, fmt.Sprint(i+1))
		}
		if n := len(h.names); n > 1 && strings.TrimSpace(grid[h.data].cells[n-1]) == "" {
			h.names = h.names[:n-1] // a delimiter at the end
		}
		if h.preamble = h.data; h.data > 0 {
			h.firstRow = grid[h.data].number
		}
		return h
	}
	h.row, h.preamble, h.between = grid[name].number, name, h.data-name-1
	for _, c := range grid[name].cells {
		h.names = append(h.names, strings.TrimSpace(c))
	}
	if n := len(h.names); n > 1 && h.names[n-1] == "" {
		h.names = h.names[:n-1]
	}
	if h.between > 0 {
		h.firstRow = grid[h.data].number
	}
	if isUnits(grid[name].cells) { // columns that are named by nothing but units
		h.units = nil
	}
	for _, c := range h.names {
		h.doubtful = h.doubtful || c == "" || isNumber(c)
	}
	return h
}

// fits reports whether a row has the table's width, or one empty cell more, or
// lacks some at the end.
func fits(cells []string, width int) bool {
	return len(cells) == width || len(cells) == width+1 && strings.TrimSpace(cells[width]) == "" || len(cells) == width-1
}

func isData(cells []string, width int) bool {
	values, filled := 0, 0
	for _, c := range cells {
		if c = strings.TrimSpace(c); c != "" {
			filled++
			if isValue(c) {
				values++
			}
		}
	}
	return fits(cells, width) && values > 0 && values*3 >= filled
}

func isNames(cells []string, width int) bool {
	values, filled := 0, 0
	for _, c := range cells {
		if c = strings.TrimSpace(c); c != "" {
			filled++
			if isValue(c) {
				values++
			}
		}
	}
	return fits(cells, width) && filled > 0 && values*2 < filled
}

// isUnits reports whether a row's cells are units.
func isUnits(cells []string) bool {
	units, filled := 0, 0
	for _, c := range cells {
		if c = strings.TrimSpace(c); c == "" || c == "-" {
			continue
		}
		filled++
		if _, ok := unitRow(c); ok {
			units++
		}
	}
	return units > 0 && units*3 >= filled*2
}

// likeNames tells how much a row is like names, of several above the values: its
// cells differ, are no units, and hold words that names have.
func likeNames(cells []string) int {
	n, seen := 0, map[string]bool{}
	for _, c := range cells {
		if c = strings.TrimSpace(c); c == "" || seen[c] {
			continue
		}
		seen[c] = true
		n++
		if _, ok := unitRow(c); ok {
			n -= 2
		} else if w := read(c, ""); w.any(places | quantities | isTime | isOther) {
			n += 2
		}
	}
	return n
}

func (p *Proposal) headerFacts(h header) {
	confidence := High
	if h.doubtful {
		confidence = Fair
	}
	switch {
	case h.row == 0:
		p.fact("names", "none", Fair, "the first row with as many fields holds values; columns are called \"1\", \"2\", ...")
	case h.preamble > 0:
		p.fact("names", fmt.Sprintf("row %d", h.row), confidence, "the row of texts above the first values; %d above it are none of the table", h.preamble)
	default:
		p.fact("names", fmt.Sprintf("row %d", h.row), confidence, "the row of texts above the first values")
	}
	switch {
	case h.units != nil:
		p.fact("units", "a row of their own", High, "its cells are units")
	case h.between > 0:
		p.fact("first values", fmt.Sprintf("row %d", h.firstRow), Fair, "%d rows below the names hold none", h.between)
	}
}

var thousands = regexp.MustCompile(`^[-+]?[0-9]{1,3}([.,' ][0-9]{3})+([.,][0-9]+)?$`)

// findMark finds the decimal mark.
func (t *table) findMark(p *Proposal, delim byte) {
	dots, commas, three, grouped := 0, 0, 0, ""
	for _, row := range t.rows {
		for _, s := range row {
			if s = strings.TrimSpace(s); s == "" {
				continue
			}
			_, dot := number(s, '.')
			_, comma := number(s, ',')
			switch {
			case comma && !dot:
				commas++
				if i := strings.IndexByte(s, ','); decimalsOf(s, ',') == 3 && i <= 4 && strings.TrimLeft(s[:i], "+-") != "0" {
					three++
				}
			case dot && strings.Contains(s, "."):
				dots++
			case !dot && !comma && thousands.MatchString(s):
				grouped = s
			}
		}
	}
	t.mark = '.'
	switch {
	case commas > dots:
		t.mark = ','
		confidence, reason := High, fmt.Sprintf("%d numbers have one", commas)
		if dots > 0 {
			confidence = Fair
			reason += fmt.Sprintf("; %d have a point", dots)
		}
		if three == commas && commas > 0 {
			confidence = Low
			p.ask("every number with a comma has three digits behind it: is it the decimal mark (then decimal = \",\") or does it group thousands (then the log must be written without)?")
		}
		p.fact("decimal mark", "comma", confidence, "%s", reason)
	case dots > 0:
		confidence, reason := High, fmt.Sprintf("%d numbers have one", dots)
		if commas > 0 {
			confidence = Fair
			reason += fmt.Sprintf("; %d have a comma", commas)
		}
		p.fact("decimal mark", "point", confidence, "%s", reason)
	default:
		p.fact("decimal mark", "point", Fair, "no number has decimals")
	}
	if grouped != "" {
		p.ask("some numbers have marks between thousands, such as %q: the readers take none, and set such rows aside; can the logger write them without?", grouped)
	}
	p.Profile.Decimal = string(t.mark)
}
