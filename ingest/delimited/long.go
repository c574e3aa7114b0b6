package delimited

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strconv"

	"coldbench/ingest/profile"
	"coldbench/ingest/source"
	"coldbench/warehouse/diag"
)

// openLong opens a log of the long layout: a row a value. Its rows are mapped as
// those of every other kind are, one after another, not in blocks side by side:
// which signal a row has, and in which unit, only the row tells.
func openLong(in source.Input) (source.Reader, diag.List, error) {
	h, file, err := openHeader(in)
	if err != nil {
		return nil, nil, err
	}
	r := newRecords(in, h, file, nil)
	pos, has, names := h.pos, "the header has", h.names
	if h.l == nil && in.Profile.HeaderRow == 0 {
		pos, has = diag.Pos{File: in.Shown, Line: max(1, in.Profile.FirstRow)}, "the first row has"
		if _, _, err = r.Next(nil); errors.Is(err, io.EOF) {
			err = nil
			h.noRows()
		}
		for i := range r.fields {
			names = append(names, strconv.Itoa(i+1))
		}
	}
	r.Close()
	if err != nil || h.l != nil {
		h.l.Sort()
		return nil, h.l, err
	}
	m, l, err := profile.NewMapper(in, names, pos, has)
	if l != nil || err != nil {
		return nil, l, err
	}
	return m.Open(func() (profile.Rows, error) {
		h, file, err := openHeader(in)
		if err != nil {
			return nil, err
		}
		return newRecords(in, h, file, m.Slots()), nil
	})
}

// records are the records of a text below its header. They implement
// profile.Rows.
type records struct {
	in     source.Input
	file   io.Closer
	cutter *cutter
	layout *layout
	slots  []int // the field of each

	chunk  chunk
	at     int   // in chunk.text, of the next record
	line   int64 // of the next record
	rec    []byte
	plain  []byte
	fields []field
	cols   []int32
	col    int // of what is wrong with the record
}

func newRecords(in source.Input, h *header, file io.Closer, slots []int) *records {
	return &records{in: in, file: file, cutter: &cutter{r: h.text, delim: h.layout.delim, line: h.line + 1}, layout: h.layout, slots: slots}
}

// Next implements profile.Rows.
func (r *records) Next(cells []profile.Cell) (int64, *profile.Problem, error) {
	for {
		if r.at == len(r.chunk.text) || r.chunk.long {
			if err := r.cutter.next(&r.chunk); errors.Is(err, io.EOF) {
				return 0, nil, err
			} else if err != nil {
				return 0, nil, fmt.Errorf("delimited: %s: line %d: %w", r.in.Shown, r.cutter.line, err)
			}
			r.at, r.line = 0, r.chunk.line
			if r.chunk.long {
				r.rec, r.col = r.chunk.text, 1
				p := tooLong()
				return r.line, &profile.Problem{Slot: -1, Reason: p.reason, Hint: p.hint}, nil
			}
		}
		rest := r.chunk.text[r.at:]
		n, closed := recordLen(rest, r.layout.delim)
		line := r.line
		r.at += n
		r.line += max(1, int64(bytes.Count(rest[:n], []byte{'\n'})))
		if r.rec = trimEnd(rest[:n]); isBlank(r.rec, r.layout.delim) || r.layout.skips(r.rec) {
			continue
		}
		r.plain, r.fields, r.cols = splitQuoted(r.rec, r.layout.delim, r.plain[:0], r.fields[:0], r.cols[:0])
		last := len(r.fields) - 1
		p := r.layout.shape(last+1, r.fields[last].of(r.plain))
		if !closed {
			p = unclosed(r.cols[last])
		}
		if p != nil {
			r.col = int(p.col)
			return line, &profile.Problem{Slot: -1, Reason: p.reason, Hint: p.hint}, nil
		}
		for i, f := range r.slots {
			cells[i] = profile.Text(r.fields[f].of(r.plain))
		}
		return line, nil, nil
	}
}

// Place implements profile.Rows.
func (r *records) Place(slot int) (int, string) {
	if slot < 0 {
		return r.col, ""
	}
	return int(r.cols[r.slots[slot]]), ""
}

// Raw implements profile.Rows.
func (r *records) Raw() []byte { return r.rec }

// Close implements profile.Rows.
func (r *records) Close() error { return r.file.Close() }
