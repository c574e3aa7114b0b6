package delimited

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"coldbench/ingest/clock"
	"coldbench/ingest/source"
	"coldbench/warehouse/channel"
	"coldbench/warehouse/diag"
	"coldbench/warehouse/unit"
)

// maxBelow is the number of lines below a header, units and the like, that are
// known again where a logger repeats its header.
const maxBelow = 2

// A header is what stands before the first record.
type header struct {
	in     source.Input
	text   *bufio.Reader
	line   int64 // physical lines read
	names  []string
	pos    diag.Pos
	layout *layout
	l      diag.List
}

func (h *header) add(pos diag.Pos, format string, args ...any) *diag.Diagnostic {
	return h.l.Add(pos, format, args...)
}

// readLine returns the next physical line with its end. It is the caller's.
func (h *header) readLine() ([]byte, error) {
	var line []byte
	for {
		part, err := h.text.ReadSlice('\n')
		line = append(line, part...)
		switch {
		case errors.Is(err, bufio.ErrBufferFull) && len(line) < maxRecord:
			continue
		case errors.Is(err, io.EOF) && len(line) > 0:
			err = nil
		case err != nil:
			return nil, err
		}
		h.line++
		return line, nil
	}
}

// openHeader opens a text and reads up to its first record. What is wrong is in the
// header's l then. The caller closes the closer.
func openHeader(in source.Input) (*header, io.Closer, error) {
	text, file, err := openText(in.Path, in.Profile.Encoding)
	if err != nil {
		return nil, nil, fmt.Errorf("delimited: %s: %w", in.Shown, err)
	}
	h := &header{in: in, text: text}
	if err := h.read(); err != nil {
		file.Close()
		return nil, nil, fmt.Errorf("delimited: %s: %w", in.Shown, err)
	}
	return h, file, nil
}

// read reads up to the first record and makes the layout, without its columns.
func (h *header) read() error {
	p := h.in.Profile
	h.pos = diag.Pos{File: h.in.Shown, Line: max(1, p.HeaderRow)}
	h.layout = &layout{profile: p.ID, mark: p.Decimal[0], like: "header"}
	if p.Delimiter != "" {
		if len(p.Delimiter) != 1 || !strings.Contains(delimiters, p.Delimiter) {
			h.add(p.At("delimiter"), "unknown delimiter %q", p.Delimiter).WithHint("one of: \",\", \";\", \"\\t\", \"|\"")
			return nil
		}
		h.layout.delim = p.Delimiter[0]
	}
	if p.FirstRow != 0 && p.FirstRow <= p.HeaderRow {
		h.add(p.At("first_row"), "the first row, line %d, is not below the header, line %d", p.FirstRow, p.HeaderRow)
		return nil
	}
	for _, m := range p.Missing {
		h.layout.missing = append(h.layout.missing, []byte(strings.TrimSpace(m)))
	}
	if _, err := h.text.Peek(1); errors.Is(err, io.EOF) {
		h.add(diag.Pos{File: h.in.Shown}, "the file is empty").WithHint("was the logger running?")
		return nil
	}
	if p.HeaderRow > 0 {
		if err := h.readNames(); err != nil || h.l != nil {
			return err
		}
	} else if p.Delimiter == "" {
		h.add(p.At("header_row"), "a log without a header needs its delimiter stated").WithHint("delimiter = \";\" in profiles/%s.toml", p.ID)
		return nil
	}
	if h.layout.fastMark = h.layout.mark; h.layout.mark == h.layout.delim {
		h.layout.fastMark = '0'
	}
	for h.line+1 < int64(p.FirstRow) {
		line, err := h.readLine()
		if errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			return err
		}
		if len(h.layout.skip) > 0 && len(h.layout.skip) <= maxBelow {
			h.layout.skip = append(h.layout.skip, trimEnd(line))
		}
	}
	return nil
}

// columns finds the columns that the profile names, and reads its clock.
func (h *header) columns() (*clock.Resolver, error) {
	p := h.in.Profile
	if err := h.mapColumns(); err != nil {
		return nil, err
	}
	resolver, d := clock.Of(h.in, p.Clock)
	if d != nil {
		h.l = append(h.l, d)
		return nil, nil
	}
	resolver.SetDecimal(h.layout.mark)
	return resolver, nil
}

// readNames reads the header's names, and the lines before it.
func (h *header) readNames() error {
	p := h.in.Profile
	var rec []byte
	for h.line < int64(p.HeaderRow) {
		line, err := h.readLine()
		if errors.Is(err, io.EOF) {
			h.add(h.pos, "the file ends before its header, line %d", p.HeaderRow).WithHint("header_row in profiles/%s.toml", p.ID)
			return nil
		} else if err != nil {
			return err
		}
		rec = line
	}
	if h.layout.delim == 0 {
		h.layout.delim = detect(rec)
	}
	for {
		n, closed := recordLen(rec, h.layout.delim)
		if closed && n == len(rec) {
			break
		}
		line, err := h.readLine()
		if errors.Is(err, io.EOF) || len(rec)+len(line) > maxQuoted {
			h.add(h.pos, "a quote in the header is not closed")
			return nil
		} else if err != nil {
			return err
		}
		rec = append(rec, line...)
	}
	rec = trimEnd(rec)
	h.layout.skip = append(h.layout.skip, rec)
	plain, fields, _ := splitQuoted(rec, h.layout.delim, nil, nil, nil)
	for _, f := range fields {
		h.names = append(h.names, strings.TrimSpace(string(f.of(plain))))
	}
	h.layout.width = len(h.names)
	if last := len(h.names) - 1; last > 0 && h.names[last] == "" {
		h.layout.width-- // a delimiter at the end
	}
	return nil
}

// find returns the place of a column in a record, or -1.
func (h *header) find(name string, at diag.Pos) int {
	p := h.in.Profile
	name = strings.TrimSpace(name)
	if p.HeaderRow == 0 {
		n, err := strconv.Atoi(name)
		if err != nil || n < 1 || n > maxRecord {
			h.add(at, "a log without a header has columns \"1\", \"2\", ..., not %q", name)
			return -1
		}
		return n - 1
	}
	i := slices.Index(h.names, name)
	if i < 0 || name == "" {
		hint := diag.DidYouMean(name, h.names)
		switch {
		case hint != "":
		case !utf8.ValidString(strings.Join(h.names, "")):
			hint = fmt.Sprintf("the header is not UTF-8; encoding = \"latin-1\" in profiles/%s.toml?", p.ID)
		default:
			hint = "the header has: " + strings.Join(h.names, ", ")
		}
		h.add(h.pos, "no column %q, which profiles/%s.toml maps", name, p.ID).WithHint("%s", hint)
		return -1
	}
	if slices.Contains(h.names[i+1:], name) {
		h.add(h.pos, "column %q stands twice in the header", name).WithHint("the profile cannot tell which is meant")
	}
	return i
}

// mapColumns finds the columns that the profile names.
func (h *header) mapColumns() error {
	p, lay := h.in.Profile, h.layout
	if len(p.Columns) == 0 {
		h.add(p.At("column"), "the profile maps no column")
	}
	use := func(i, what int, at diag.Pos) {
		if i < 0 {
			return
		}
		for len(lay.slots) <= i {
			lay.slots = append(lay.slots, forNothing)
		}
		switch was := lay.slots[i]; {
		case was == forNothing:
			lay.slots[i] = what
		case was >= 0 && what >= 0:
			lay.columns[what].next, lay.slots[i] = was, what
		default:
			h.add(at, "a column of the clock cannot be mapped twice")
		}
	}
	for i, c := range p.Columns {
		at := p.At("column", fmt.Sprint(i), "name")
		col := column{Column: c, next: -1, index: h.find(c.Name, at)}
		// The profile was checked for both when the series was read.
		var err error
		if col.channel, err = channel.Find(c.Channel); err != nil {
			return err
		}
		if col.scale, err = unit.Between(c.Unit, col.channel.Unit); err != nil {
			return err
		}
		if c.Invert {
			// 0 less, not minus: an offset of -0 would make "-0" of nothing.
			col.scale.Factor, col.scale.Offset = -col.scale.Factor, 0-col.scale.Offset
		}
		lay.columns = append(lay.columns, col)
		use(col.index, i, at)
	}
	at := p.At("clock", "column")
	use(h.find(p.Clock.Column, at), forClock, at)
	if p.Clock.Date != "" {
		at = p.At("clock", "date_column")
		use(h.find(p.Clock.Date, at), forDate, at)
	}
	for i := range lay.columns {
		c := &lay.columns[i]
		c.simple = c.next < 0 && len(c.Missing) == 0 && len(lay.missing) == 0
	}
	return nil
}
