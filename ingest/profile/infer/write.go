package infer

import (
	"bytes"
	"fmt"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"coldbench/ingest/clock"
	"coldbench/ingest/series"
)

// profile puts what is certain enough into the profile.
func (p *Proposal) profile() {
	if p.Clock.Confidence == Low && len(p.Readings) == 0 {
		p.ask("is column %q the clock? %s", p.Profile.Clock.Column, p.Clock.Reason)
	}
	for _, c := range p.Columns {
		if c.Taken() {
			p.Profile.Columns = append(p.Profile.Columns, series.Column{Name: c.Name, Channel: c.Channel, Unit: c.Unit, Invert: c.Invert, Missing: c.Missing, Resolution: c.Resolution})
		}
	}
}

// TOML is the profile as a file of profiles/, with the reasons as comments. What
// waits for an answer is commented out, with its question.
func (p *Proposal) TOML(title string) []byte {
	var b bytes.Buffer
	f := func(format string, args ...any) { fmt.Fprintf(&b, format, args...) }
	f("# Proposed by `coldbench inspect` from %s. Look it over before you trust it:\n", line(filepath.Base(p.File)))
	f("# what waits for an answer is commented out.\n\n")
	reasons := map[string]Fact{}
	for _, fact := range p.Facts {
		reasons[fact.What] = fact
	}
	key := func(name, value, what string) {
		if value == "" {
			return
		}
		text := fmt.Sprintf("%s = %s", name, value)
		if r, ok := reasons[what]; ok {
			text = fmt.Sprintf("%-26s # %s: %s", text, r.Confidence, line(r.Reason))
		}
		f("%s\n", text)
	}
	str := func(s string) string {
		if s == "" {
			return ""
		}
		return quote(s)
	}
	pr := p.Profile
	key("title", quote(title), "")
	key("kind", quote(p.Kind), "kind")
	key("encoding", str(pr.Encoding), "encoding")
	key("delimiter", str(pr.Delimiter), "delimiter")
	key("decimal", str(pr.Decimal), "decimal mark")
	key("sheet", str(pr.Sheet), "sheet")
	key("records", str(pr.Records), "records")
	if p.Kind == "delimited" || pr.HeaderRow > 0 {
		key("header_row", fmt.Sprint(pr.HeaderRow), "names")
	}
	if pr.FirstRow > 0 {
		key("first_row", fmt.Sprint(pr.FirstRow), "first values")
	}
	if len(pr.Missing) > 0 {
		key("missing", list(pr.Missing, quote), "missing")
	}
	key("order", str(pr.Order), "order")
	key("layout", str(pr.Layout), "layout")
	key("signal_column", str(pr.Signal), "")
	key("value_column", str(pr.Value), "")
	key("unit_column", str(pr.Unit), "")
	if p.Kind == "canlog" {
		f("# dbc = \"profiles/BUS.dbc\"  # the file that describes the bus's signals\n")
	}
	p.writeClock(f)
	var unmapped []Column
	for _, c := range p.Columns {
		switch {
		case c.Clock:
		case c.Channel == "":
			unmapped = append(unmapped, c)
		default:
			p.writeColumn(f, c)
		}
	}
	if len(unmapped) > 0 {
		f("\n# Columns that are not mapped:\n")
		for _, c := range unmapped {
			f("#   %s: %s\n", quote(c.Name), line(c.Reason))
		}
	}
	if len(p.Questions) > 0 {
		f("\n# Questions that the log leaves open:\n")
		for i, q := range p.Questions {
			f("#   %d. %s\n", i+1, line(q))
		}
	}
	return b.Bytes()
}

func (p *Proposal) writeClock(f func(string, ...any)) {
	f("\n[clock]\n")
	c := p.Profile.Clock
	if p.Kind == "canlog" {
		f("format = \"epoch\"\n")
		return
	}
	if c.Column == "" {
		f("# column = \"...\"  # %s\n", line(p.Clock.Reason))
		return
	}
	f("# %s: %s\n", p.Clock.Confidence, line(p.Clock.Reason))
	mark := ""
	if p.Clock.Confidence == Low && len(p.Readings) == 0 {
		mark = "# "
	}
	f("%scolumn = %s\n", mark, quote(c.Column))
	if c.Date != "" {
		f("%sdate_column = %s\n", mark, quote(c.Date))
	}
	for _, r := range p.Readings {
		f("# format = %s  # the first time would be %s\n", quote(r.Clock.Format), r.Example)
	}
	if c.Format != "" {
		f("%sformat = %s\n", mark, quote(c.Format))
	}
	if c.Unit != "" {
		f("%sunit = %s\n", mark, quote(c.Unit))
	}
	if c.Zone != "" {
		f("%szone = %s\n", mark, quote(c.Zone))
	}
	if p.NeedsDate {
		f("# It shows no date: the session's [[source]] must state\n# %s.\n", clock.Start(c, toml.LocalDate{}))
	}
}

func (p *Proposal) writeColumn(f func(string, ...any), c Column) {
	mark := ""
	if !c.Taken() {
		mark = "# "
	}
	f("\n# %s: %s\n", c.Confidence, line(c.Reason))
	if c.Sign != "" {
		f("# Sign: %s.\n", line(c.Sign))
	}
	if len(c.Rivals) > 0 {
		f("# It may also be %s.\n", strings.Join(c.Rivals, " or "))
	}
	if !c.Taken() {
		f("# Waits for an answer; take the comment signs off if it is right.\n")
	}
	f("%s[[column]]\n%sname = %s\n%schannel = %s\n%sunit = %s\n", mark, mark, quote(c.Name), mark, quote(c.Channel), mark, quote(c.Unit))
	if c.Invert {
		f("%sinvert = true\n", mark)
	}
	if len(c.Missing) > 0 {
		f("%smissing = %s\n", mark, list(c.Missing, tomlFloat))
	}
	if c.Resolution > 0 {
		f("%sresolution = %s\n", mark, tomlFloat(c.Resolution))
	}
}

// tomlFloat writes a number as a TOML float, which has a point or an exponent.
func tomlFloat(v float64) string {
	s := strconv.FormatFloat(v, 'g', -1, 64)
	if !strings.ContainsAny(s, ".e") {
		s += ".0"
	}
	return s
}

func list[T any](items []T, one func(T) string) string {
	texts := make([]string, len(items))
	for i, v := range items {
		texts[i] = one(v)
	}
	return "[" + strings.Join(texts, ", ") + "]"
}

// quote writes a TOML basic string.
func quote(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\t':
			b.WriteString(`\t`)
		case r < 0x20 || r == 0x7f:
			fmt.Fprintf(&b, `\u%04X`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}

// line is a text fit for a comment: on one line, without control characters.
func line(s string) string {
	return strings.Map(func(r rune) rune {
		if r < 0x20 || r == 0x7f || r == '\u2028' || r == '\u2029' {
			return ' '
		}
		return r
	}, s)
}
