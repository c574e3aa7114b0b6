// Package delimited reads delimited text (RFC 4180 with any of four
// delimiters) by a profile, in constant memory: block by block, several at a
// time, and only the columns that the profile names. In the long layout, a row a
// value, it reads row by row.
//
// It guesses nothing but, where the profile leaves them out, the delimiter and
// a byte order mark's encoding. Blank lines are no rows, nor is a header that a
// logger writes again, with the units below it. A row without a single value is
// one: that nothing was measured then is worth keeping. Everything else that
// stands below the header is kept or set aside. Lines are physical ones, where a
// record starts; columns are bytes of the record, decoded to UTF-8.
package delimited

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"coldbench/ingest/clock"
	"coldbench/ingest/source"
	"coldbench/warehouse/channel"
	"coldbench/warehouse/diag"
)

// Kind is the kind of log that this package reads.
func Kind() source.Kind {
	return source.Kind{Name: "delimited", Doc: "text with a column a channel, or a row a value, by a profile", Profile: true, Open: open}
}

// A reader resolves the times of rows in their order and hands them on.
type reader struct {
	in       source.Input
	layout   *layout
	clock    *clock.Resolver
	cutter   *cutter
	pipeline *pipeline // nil until the first block is used up
	file     io.Closer
	order    *source.Order

	cur      *chunk
	row      int // of cur, the next
	decimals []int
}

// open reads the header, checks the profile against it, and makes sure that
// there is a row.
func open(in source.Input) (source.Reader, diag.List, error) {
	var l diag.List
	p := in.Profile
	if p == nil {
		l.Add(in.Session.At("source"), "source %q needs a profile", in.Source.File).WithHint("profile = \"...\", a file in profiles/")
		return nil, l, nil
	}
	if _, ok := encodings[p.Encoding]; !ok && p.Encoding != "" {
		l.Add(p.At("encoding"), "unknown encoding %q", p.Encoding).WithHint("%s", diag.OneOf(p.Encoding, encodingNames))
		return nil, l, nil
	}
	if p.Layout == "long" {
		return openLong(in)
	}
	h, file, err := openHeader(in)
	if err != nil {
		return nil, nil, err
	}
	r := &reader{in: in, file: file, order: source.NewOrder(p.ID, p.Order == "any")}
	if h.l == nil {
		r.clock, err = h.columns()
	}
	if err == nil && h.l == nil {
		r.layout = h.layout
		r.cutter = &cutter{r: h.text, delim: r.layout.delim, line: h.line + 1}
		r.cur, err = first(r.cutter, r.layout)
		if errors.Is(err, io.EOF) {
			err = nil
			h.noRows()
		}
	}
	if err == nil && h.l == nil {
		h.tooNarrow()
	}
	if err != nil {
		err = fmt.Errorf("delimited: %s: %w", in.Shown, err)
	}
	if err != nil || h.l != nil {
		file.Close()
		h.l.Sort()
		return nil, h.l, err
	}
	channels := make([]channel.Channel, len(r.layout.columns))
	r.decimals = make([]int, len(channels))
	for i, c := range r.layout.columns {
		channels[i], r.decimals[i] = c.channel, -1
	}
	return source.Stream(channels, r, r, &source.Report{}), nil, nil
}

func (h *header) noRows() {
	if h.in.Profile.HeaderRow > 0 {
		h.add(h.pos, "no rows below the header").NoRows()
	} else {
		h.add(diag.Pos{File: h.in.Shown}, "the file has no rows").NoRows()
	}
}

// tooNarrow finds columns that the first record of a log without a header does
// not have.
func (h *header) tooNarrow() {
	p := h.in.Profile
	if width := h.layout.width; len(h.layout.slots) > width {
		h.add(diag.Pos{File: h.in.Shown, Line: max(1, p.FirstRow)}, "no column \"%d\", which profiles/%s.toml maps", len(h.layout.slots), p.ID).
			WithHint("the first row has %d", width)
	}
}

// Close implements io.Closer.
func (r *reader) Close() error {
	if r.pipeline != nil {
		r.pipeline.stop()
	}
	return r.file.Close()
}

// Fill implements source.Filler.
func (r *reader) Fill(b *source.Batch, report *source.Report) (more bool, err error) {
	for {
		n := len(r.layout.columns)
		for c := r.cur; r.row < len(c.rows); r.row++ {
			if b.Full() {
				return true, nil
			}
			w := &c.rows[r.row]
			report.RowsRead++
			at, p := r.time(c, w)
			if p != nil {
				raw := w.record.of(c.text)
				report.Aside = append(report.Aside, source.Aside{Line: w.line, Col: int(p.col),
					Raw: strings.ToValidUTF8(string(raw[:min(len(raw), source.MaxRaw)]), "\uFFFD"), Reason: p.reason, Hint: p.hint})
				continue
			}
			vals := c.vals[r.row*n : (r.row+1)*n]
			if r.order.Follows(at) {
				report.RowsKept++
				b.Row(w.line, at, vals)
				continue
			}
			r.order.Doubt(b, report, source.Row{Line: w.line, At: at, Vals: vals, Col: int(w.col), Raw: w.record.of(c.text)})
		}
		for i, d := range r.cur.decimals {
			r.decimals[i] = max(r.decimals[i], d)
		}
		if r.pipeline == nil {
			r.pipeline = start(r.cutter, r.layout)
		}
		c, err := r.pipeline.next(r.cur)
		if errors.Is(err, io.EOF) {
			r.cur = &chunk{}
			r.order.End(b, report)
			r.instruments(report)
			return false, nil
		}
		if err != nil {
			return false, fmt.Errorf("delimited: %s: line %d: %w", r.in.Shown, c.line, err)
		}
		r.cur, r.row = c, 0
	}
}

// time resolves a row's time, or says why the row is set aside: for its shape,
// its time, a value, in this order.
func (r *reader) time(c *chunk, w *row) (int64, *problem) {
	var p *problem
	if w.problem > 0 {
		if p = &c.problems[w.problem-1]; p.shape {
			return 0, p
		}
	}
	text := w.record.of(c.text)
	if w.quoted {
		text = c.plain
	}
	at, err := r.clock.Resolve(w.clock.of(text), w.date.of(text))
	if err != nil {
		d := diag.At(err, diag.Pos{})
		return 0, &problem{col: w.col, reason: d.Msg, hint: d.Hint}
	}
	if p != nil { // else it is for the order to say
		if reason, hint, back := r.order.Back(at); back {
			return 0, &problem{col: w.col, reason: reason, hint: hint}
		}
	}
	return at, p
}

// instruments tells what is known of each column's values. The resolution, if
// the profile states none, is the last decimal written.
func (r *reader) instruments(report *source.Report) {
	for i, c := range r.layout.columns {
		in := source.Typical(c.channel, c.Name)
		in.Unit = c.Unit
		factor := math.Abs(c.scale.Factor)
		switch {
		case c.Resolution > 0:
			in.Resolution = c.Resolution * factor
		case r.decimals[i] >= 0:
			in.Resolution = factor * math.Pow10(-min(r.decimals[i], 12))
		}
		if c.URel > 0 || c.UAbs > 0 {
			in.URel, in.UAbs = c.URel, c.UAbs*factor
		}
		report.Instruments = append(report.Instruments, in)
	}
}
