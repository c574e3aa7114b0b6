// Package delimited reads delimited text (RFC 4180 with any of four
// delimiters) by a profile, row by row, in constant memory.
//
// It maps the columns that the profile names and leaves the others alone. It
// guesses nothing but, where the profile leaves them out, the delimiter and a
// byte order mark's encoding.
package delimited

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"coldbench/ingest/clock"
	"coldbench/ingest/series"
	"coldbench/ingest/source"
	"coldbench/warehouse/channel"
	"coldbench/warehouse/diag"
	"coldbench/warehouse/unit"
)

// Kind is the kind of log that this package reads.
func Kind() source.Kind {
	return source.Kind{Name: "delimited", Doc: "text with a column a channel, by a profile", Profile: true, Open: open}
}

// A column is one mapped column.
type column struct {
	series.Column
	index    int // in the record
	channel  channel.Channel
	scale    unit.Scale
	decimals int // most seen
}

type reader struct {
	in        source.Input
	s         *splitter
	clock     *clock.Resolver
	clockAt   int
	dateAt    int // -1: none
	width     int // fields in the header; 0: not known
	header    []byte
	firstLine int64
	columns   []column
	mark      byte
	missing   [][]byte
	strict    bool
	last      int64
	vals      []float64
}

// open reads the header and checks the profile against it.
func open(in source.Input) (source.Reader, diag.List, error) {
	var l diag.List
	p := in.Profile
	if p == nil {
		l.Add(in.Session.At("source"), "source %q needs a profile", in.Source.File).WithHint("profile = \"...\", a file in profiles/")
		return nil, l, nil
	}
	if _, ok := encodings[p.Encoding]; !ok && p.Encoding != "" {
		l.Add(p.At("encoding"), "unknown encoding %q", p.Encoding).WithHint("one of: %s", strings.Join(encodingNames, ", "))
		return nil, l, nil
	}
	text, closer, err := openText(in.Path, p.Encoding)
	if err != nil {
		return nil, nil, err
	}
	r := &reader{in: in, s: newSplitter(text), strict: p.Order != "any", last: math.MinInt64, mark: p.Decimal[0]}
	for _, m := range p.Missing {
		r.missing = append(r.missing, []byte(m))
	}
	if l, err = r.start(); l != nil || err != nil {
		closer.Close()
		return nil, l, err
	}
	channels := make([]channel.Channel, len(r.columns))
	for i, c := range r.columns {
		channels[i] = c.channel
	}
	r.vals = make([]float64, len(r.columns))
	return source.Stream(channels, r, closer, &source.Report{}), nil, nil
}

// start finds the header, the clock and the mapped columns.
func (r *reader) start() (diag.List, error) {
	var l diag.List
	p := r.in.Profile
	r.firstLine = int64(p.FirstRow)
	if r.firstLine == 0 {
		r.firstLine = int64(p.HeaderRow) + 1
	}
	if p.Delimiter != "" {
		if len(p.Delimiter) != 1 {
			l.Add(p.At("delimiter"), "delimiter must be one character, not %q", p.Delimiter)
			return l, nil
		}
		r.s.delim = p.Delimiter[0]
	}
	var names []string
	headerPos := diag.Pos{File: r.in.Shown, Line: max(1, p.HeaderRow)}
	for int64(p.HeaderRow) >= r.s.next {
		if err := r.s.read(); errors.Is(err, io.EOF) {
			if r.s.next == 1 {
				l.Add(diag.Pos{File: r.in.Shown}, "the file is empty").WithHint("was the logger running?")
			} else {
				l.Add(headerPos, "the file ends before its header, line %d", p.HeaderRow).WithHint("header_row in profiles/%s.toml", p.ID)
			}
			return l, nil
		} else if err != nil {
			return nil, err
		}
	}
	if p.HeaderRow > 0 {
		if p.Delimiter == "" {
			r.s.delim = detect(r.s.raw)
		}
		r.header = slices.Clone(r.s.raw)
		r.s.split()
		for _, f := range r.s.fields {
			names = append(names, strings.TrimSpace(string(f)))
		}
		r.width = len(names)
	} else {
		first, err := r.s.r.Peek(1)
		if len(first) == 0 {
			if err != nil && !errors.Is(err, io.EOF) {
				return nil, err
			}
			l.Add(diag.Pos{File: r.in.Shown}, "the file is empty").WithHint("was the logger running?")
			return l, nil
		}
		if p.Delimiter == "" {
			l.Add(p.At("header_row"), "a log without a header needs its delimiter stated").WithHint("delimiter = \";\" in profiles/%s.toml", p.ID)
			return l, nil
		}
	}
	find := func(name string, at diag.Pos) int {
		if p.HeaderRow == 0 {
			n := 0
			if _, err := fmt.Sscanf(name, "%d", &n); err != nil || n < 1 {
				l.Add(at, "a log without a header has columns \"1\", \"2\", ..., not %q", name)
			}
			return n - 1
		}
		i := slices.Index(names, strings.TrimSpace(name))
		if i < 0 {
			h := diag.DidYouMean(name, names)
			if h == "" {
				h = "the header has: " + strings.Join(names, ", ")
			}
			l.Add(headerPos, "no column %q, which profiles/%s.toml maps", name, p.ID).WithHint("%s", h)
			return -1
		}
		if slices.Index(names[i+1:], names[i]) >= 0 {
			l.Add(headerPos, "column %q stands twice in the header", name).WithHint("the profile cannot tell which is meant")
		}
		return i
	}
	r.clockAt, r.dateAt = find(p.Clock.Column, p.At("clock", "column")), -1
	if p.Clock.Date != "" {
		r.dateAt = find(p.Clock.Date, p.At("clock", "date_column"))
	}
	var err error
	if r.clock, err = clock.New(p.Clock, r.in.Location, r.in.Source.Start, r.in.Source.OffsetS); err != nil {
		d := diag.At(err, p.At("clock", "format"))
		d.Msg = r.in.Shown + ": " + d.Msg
		l = append(l, d)
	}
	for i, c := range p.Columns {
		col := column{Column: c, index: find(c.Name, p.At("column", fmt.Sprint(i), "name"))}
		// series.Load has checked both.
		if col.channel, err = channel.Find(c.Channel); err != nil {
			return nil, err
		}
		if col.scale, err = unit.Between(c.Unit, col.channel.Unit); err != nil {
			return nil, err
		}
		if c.Invert {
			// 0 less, not minus: an offset of -0 would make "-0" of nothing.
			col.scale.Factor, col.scale.Offset = -col.scale.Factor, 0-col.scale.Offset
		}
		r.columns = append(r.columns, col)
	}
	if len(p.Columns) == 0 {
		l.Add(p.At("column"), "the profile maps no column")
	}
	return l, nil
}

// Fill implements source.Filler.
func (r *reader) Fill(b *source.Batch, report *source.Report) (more bool, err error) {
	for !b.Full() {
		if err := r.s.read(); errors.Is(err, io.EOF) {
			r.instruments(report)
			return false, nil
		} else if err != nil {
			return false, fmt.Errorf("%s: line %d: %w", r.in.Shown, r.s.line, err)
		}
		// A blank line and a header that a logger writes again are no rows.
		if r.s.line < r.firstLine || len(bytes.TrimSpace(r.s.raw)) == 0 || r.header != nil && bytes.Equal(r.s.raw, r.header) {
			continue
		}
		report.RowsRead++
		at, col, d := r.row()
		if d != nil {
			raw := r.s.raw[:min(len(r.s.raw), source.MaxRaw)]
			report.Aside = append(report.Aside, source.Aside{Line: r.s.line, Col: col, Raw: strings.ToValidUTF8(string(raw), "\uFFFD"), Reason: d.Msg, Hint: d.Hint})
			continue
		}
		report.RowsKept++
		r.last = at
		b.Row(r.s.line, at, r.vals)
	}
	return true, nil
}

// row reads the current record into vals. A diagnostic, with the byte column,
// says why it cannot be used.
func (r *reader) row() (at int64, col int, d *diag.Diagnostic) {
	s := r.s
	s.split()
	n := len(s.fields)
	if r.width == 0 {
		r.width = n
	}
	if n != r.width && !(n == r.width+1 && len(bytes.TrimSpace(s.fields[n-1])) == 0) {
		return 0, 1, diag.New(diag.Pos{}, "the row has %d fields, the header %d", n, r.width).WithHint("was the logger cut off here?")
	}
	date := ""
	if r.dateAt >= 0 {
		date = string(s.fields[r.dateAt])
	}
	if r.clockAt >= n {
		return 0, 1, diag.New(diag.Pos{}, "the row has no column %d", r.clockAt+1)
	}
	at, err := r.clock.Micros(string(s.fields[r.clockAt]), date)
	if err != nil {
		return 0, s.cols[r.clockAt], diag.At(err, diag.Pos{})
	}
	if at < r.last && r.strict {
		back := float64(r.last-at) / 1e6
		return 0, s.cols[r.clockAt], diag.New(diag.Pos{}, "time goes back by %.6g s", back).
			WithHint("order = \"any\" in profiles/%s.toml has such rows sorted in", r.in.Profile.ID)
	}
	for i := range r.columns {
		c := &r.columns[i]
		if c.index >= n {
			return 0, 1, diag.New(diag.Pos{}, "the row has no column %d", c.index+1)
		}
		v, d := r.value(c, s.fields[c.index])
		if d != nil {
			return 0, s.cols[c.index], d
		}
		r.vals[i] = v
	}
	return at, 0, nil
}

// value reads one field: a number in the channel's unit, NaN where it says that
// there is none.
func (r *reader) value(c *column, f []byte) (float64, *diag.Diagnostic) {
	f = bytes.TrimSpace(f)
	if len(f) == 0 {
		return math.NaN(), nil
	}
	v, decimals, ok := parseNumber(f, r.mark)
	for _, m := range r.missing {
		if bytes.Equal(f, m) {
			return math.NaN(), nil
		}
	}
	if !ok {
		h := fmt.Sprintf("add it to missing in profiles/%s.toml if it means \"no value\"", r.in.Profile.ID)
		if r.mark == '.' && bytes.IndexByte(f, ',') >= 0 {
			h = fmt.Sprintf("is the decimal mark a comma? decimal = \",\" in profiles/%s.toml", r.in.Profile.ID)
		}
		return 0, diag.New(diag.Pos{}, "%s: %q is not a number", c.Name, f).WithHint("%s", h)
	}
	if slices.Contains(c.Missing, v) {
		return math.NaN(), nil
	}
	out := c.scale.Of(v)
	if !c.channel.Possible(out) {
		return 0, diag.New(diag.Pos{}, "%s: %s %s is outside what %s can be, %g to %g %s", c.Name, f, c.Unit, c.channel.Name, c.channel.Min, c.channel.Max, c.channel.Unit).
			WithHint("is the unit right in profiles/%s.toml? a mark for \"no value\" goes into the column's missing", r.in.Profile.ID)
	}
	c.decimals = max(c.decimals, decimals)
	return out, nil
}

// instruments tells what is known of each column's values. The resolution, if
// the profile states none, is the last decimal written.
func (r *reader) instruments(report *source.Report) {
	for _, c := range r.columns {
		in := source.Typical(c.channel, c.Name)
		in.Unit = c.Unit
		factor := math.Abs(c.scale.Factor)
		in.Resolution = c.Resolution * factor
		if in.Resolution == 0 {
			in.Resolution = factor * math.Pow10(-min(c.decimals, 12))
		}
		if c.URel > 0 || c.UAbs > 0 {
			in.URel, in.UAbs = c.URel, c.UAbs*factor
		}
		report.Instruments = append(report.Instruments, in)
	}
}
