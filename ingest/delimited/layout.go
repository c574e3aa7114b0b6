package delimited

import (
	"bytes"
	"fmt"
	"math"
	"slices"

	"coldbench/ingest/series"
	"coldbench/warehouse/channel"
	"coldbench/warehouse/unit"
)

// A column is one mapped column.
type column struct {
	series.Column
	index   int // in the record
	next    int // in layout.columns: another one mapped from the same place, or -1
	channel channel.Channel
	scale   unit.Scale
	simple  bool // no other column from the same place, nothing that stands for "no value"
}

// What a field of a record is for, beside the columns from 0.
const (
	forNothing = -1
	forClock   = -2
	forDate    = -3
)

// A layout is how records become rows. Once made, it only is read.
type layout struct {
	profile  string // its ID
	delim    byte
	mark     byte
	fastMark byte // mark, or a digit, which no mark can be, where it is also the delimiter
	width    int  // fields in a record
	like     string
	slots    []int // what each field is for, up to the last that is for anything
	columns  []column
	missing  [][]byte
	skip     [][]byte // records that are no rows: the header, and the lines below it
}

// A chunk is a block of text and the rows that it holds. Its memory is used
// again and again.
type chunk struct {
	buf  []byte // owns text
	text []byte // whole records
	line int64  // physical line on which text starts
	long bool   // text is the start of one line that is too long
	err  error  // the input broke here
	done chan struct{}

	rows     []row
	vals     []float64 // a row's columns, one row after another
	decimals []int     // most seen, a column; -1: no value seen
	problems []problem
	plain    []byte  // texts of fields that had quotes
	fields   []field // of one record, while it is split
	cols     []int32
}

// A row is a record whose values were read and whose time was not yet: that
// takes the rows before.
type row struct {
	line        int64
	record      field
	clock, date field // in the record, or in plain if it had quotes
	col         int32 // of the clock, in bytes from 1
	problem     int32 // 1 + its index in problems, 0: none
	quoted      bool
}

// A problem is why a row is set aside.
type problem struct {
	col          int32
	reason, hint string
	shape        bool // of the record's shape: it comes before a problem of the time
}

func (c *chunk) reset(columns int) {
	c.rows, c.vals, c.problems, c.plain = c.rows[:0], c.vals[:0], c.problems[:0], c.plain[:0]
	c.decimals = slices.Grow(c.decimals[:0], columns)[:columns]
	for i := range c.decimals {
		c.decimals[i] = -1
	}
}

// parse reads the rows of c.text.
func (l *layout) parse(c *chunk) {
	c.reset(len(l.columns))
	if c.long {
		l.add(c, row{line: c.line, record: field{0, int32(len(c.text))}}, tooLong())
		return
	}
	quotes := bytes.IndexByte(c.text, '"') >= 0
	line := c.line
	for at := 0; at < len(c.text); {
		rest := c.text[at:]
		n, lines, quoted, closed := bytes.IndexByte(rest, '\n')+1, int64(1), false, true
		if n == 0 {
			n = len(rest)
		}
		if quotes && bytes.IndexByte(rest[:n], '"') >= 0 {
			quoted = true
			n, closed = recordLen(rest, l.delim)
			lines = max(1, int64(bytes.Count(rest[:n], []byte{'\n'})))
		}
		rec := trimEnd(rest[:n])
		if !isBlank(rec, l.delim) && !l.skips(rec) {
			r := row{line: line, record: field{int32(at), int32(at + len(rec))}, quoted: quoted}
			if quoted {
				l.quotedRow(c, rec, r, closed)
			} else {
				l.plainRow(c, rec, r)
			}
		}
		at += n
		line += lines
	}
}

func (l *layout) skips(rec []byte) bool {
	for _, s := range l.skip {
		if bytes.Equal(rec, s) {
			return true
		}
	}
	return false
}

// add appends a row with its values, which the caller has put behind c.vals.
func (l *layout) add(c *chunk, r row, p *problem) {
	if p != nil {
		c.problems = append(c.problems, *p)
		r.problem = int32(len(c.problems))
	}
	c.rows = append(c.rows, r)
	c.vals = slices.Grow(c.vals, len(l.columns))[:len(c.vals)+len(l.columns)]
}

// plainRow reads a record without quotes.
func (l *layout) plainRow(c *chunk, rec []byte, r row) {
	base := len(c.vals)
	c.vals = slices.Grow(c.vals, len(l.columns))
	vals := c.vals[base : base+len(l.columns)]
	decs := c.decimals[:len(l.columns)]
	var bad *problem
	at, n := 0, 0
	for ; n < len(l.slots) && at <= len(rec); n++ {
		slot := l.slots[n]
		end := -1
		if slot >= 0 {
			v, decimals, e, ok := shortNumber(rec, at, l.fastMark)
			if !ok {
				v, decimals, e, ok = scanNumber(rec, at, l.fastMark)
			}
			var p *problem
			if ok && (e == len(rec) || rec[e] == l.delim) {
				end = e
				col := &l.columns[slot]
				if out := v*col.scale.Factor + col.scale.Offset; col.simple && out >= col.channel.Min && out <= col.channel.Max {
					vals[slot] = out
					decs[slot] = max(decs[slot], decimals)
				} else {
					p = l.put(c, vals, slot, v, decimals, rec[at:e])
				}
			} else {
				end = fieldEnd(rec, at, l.delim)
				p = l.value(c, vals, slot, rec[at:end])
			}
			if p != nil && bad == nil {
				bad = p
				bad.col = int32(at) + 1
			}
		} else {
			end = fieldEnd(rec, at, l.delim)
			switch slot {
			case forClock:
				r.clock, r.col = field{int32(at), int32(end)}, int32(at)+1
			case forDate:
				r.date = field{int32(at), int32(end)}
			}
		}
		at = end + 1
	}
	if at <= len(rec) {
		n += bytes.Count(rec[at:], []byte{l.delim}) + 1
	}
	if p := l.shape(n, rec[bytes.LastIndexByte(rec, l.delim)+1:]); p != nil {
		bad = p
	}
	l.add(c, r, bad)
}

func fieldEnd(rec []byte, at int, delim byte) int {
	if i := bytes.IndexByte(rec[at:], delim); i >= 0 {
		return at + i
	}
	return len(rec)
}

// quotedRow reads a record with quotes.
func (l *layout) quotedRow(c *chunk, rec []byte, r row, closed bool) {
	c.plain, c.fields, c.cols = splitQuoted(rec, l.delim, c.plain, c.fields[:0], c.cols[:0])
	base := len(c.vals)
	c.vals = slices.Grow(c.vals, len(l.columns))
	vals := c.vals[base : base+len(l.columns)]
	var bad *problem
	for i, f := range c.fields[:min(len(c.fields), len(l.slots))] {
		switch slot := l.slots[i]; slot {
		case forNothing:
		case forClock:
			r.clock, r.col = f, c.cols[i]
		case forDate:
			r.date = f
		default:
			if p := l.value(c, vals, slot, f.of(c.plain)); p != nil && bad == nil {
				bad = p
				bad.col = c.cols[i]
			}
		}
	}
	last := len(c.fields) - 1
	if !closed {
		bad = unclosed(c.cols[last])
	} else if p := l.shape(last+1, c.fields[last].of(c.plain)); p != nil {
		bad = p
	}
	l.add(c, r, bad)
}

func tooLong() *problem {
	return &problem{col: 1, reason: fmt.Sprintf("the line is longer than %d KiB", maxRecord>>10), hint: "is this a text file?", shape: true}
}

func unclosed(col int32) *problem {
	return &problem{col: col, reason: "a quote opens here and is not closed", hint: "was the logger cut off here?", shape: true}
}

// shape checks the number of a record's fields. One empty field too many is a
// delimiter at the end.
func (l *layout) shape(n int, last []byte) *problem {
	if l.width == 0 {
		l.width = n // the first record of a log without a header, before any other is read
	}
	if n == l.width || n == l.width+1 && len(bytes.TrimSpace(last)) == 0 {
		return nil
	}
	hint := "was the logger cut off here?"
	if n > l.width {
		hint = "is a delimiter within a text without quotes?"
	}
	return &problem{col: 1, reason: fmt.Sprintf("the row has %d fields, the %s %d", n, l.like, l.width), hint: hint, shape: true}
}

// value reads one field, in whatever form, for the columns mapped from it.
func (l *layout) value(c *chunk, vals []float64, slot int, f []byte) *problem {
	f = bytes.TrimSpace(f)
	if len(f) == 0 {
		for ; slot >= 0; slot = l.columns[slot].next {
			vals[slot] = math.NaN()
		}
		return nil
	}
	v, decimals, ok := parseNumber(f, l.mark)
	if ok {
		return l.put(c, vals, slot, v, decimals, f)
	}
	if l.isMissing(f) {
		for ; slot >= 0; slot = l.columns[slot].next {
			vals[slot] = math.NaN()
		}
		return nil
	}
	hint := fmt.Sprintf("add it to missing in profiles/%s.toml if it means \"no value\"", l.profile)
	if l.mark == '.' && bytes.IndexByte(f, ',') >= 0 {
		hint = fmt.Sprintf("is the decimal mark a comma? decimal = \",\" in profiles/%s.toml", l.profile)
	}
	if l.mark == ',' && bytes.IndexByte(f, '.') >= 0 {
		hint = fmt.Sprintf("is the decimal mark a point? decimal = \".\" in profiles/%s.toml", l.profile)
	}
	return &problem{reason: fmt.Sprintf("%s: %q is not a number", l.columns[slot].Name, short(f)), hint: hint}
}

func (l *layout) isMissing(f []byte) bool {
	for _, m := range l.missing {
		if bytes.Equal(f, m) {
			return true
		}
	}
	return false
}

// put puts a number, as the log has it, into the columns mapped from it, in the
// channels' units; NaN if it stands for "no value".
func (l *layout) put(c *chunk, vals []float64, slot int, v float64, decimals int, f []byte) *problem {
	if len(l.missing) > 0 && l.isMissing(f) {
		v = math.NaN()
	}
	for ; slot >= 0; slot = l.columns[slot].next {
		col := &l.columns[slot]
		if v != v || len(col.Missing) > 0 && slices.Contains(col.Missing, v) {
			vals[slot] = math.NaN()
			continue
		}
		out := col.scale.Of(v)
		if !(out >= col.channel.Min && out <= col.channel.Max) {
			return &problem{
				reason: fmt.Sprintf("%s: %s %s is outside what %s can be, %g to %g %s", col.Name, short(f), col.Unit, col.channel.Name, col.channel.Min, col.channel.Max, col.channel.Unit),
				hint:   fmt.Sprintf("is the unit right in profiles/%s.toml? a mark for \"no value\" goes into the column's missing", l.profile)}
		}
		c.decimals[slot] = max(c.decimals[slot], decimals)
		vals[slot] = out
	}
	return nil
}

// short cuts a text that is quoted in a message.
func short(f []byte) string {
	const most = 60
	if len(f) > most {
		return string(f[:most]) + "..."
	}
	return string(f)
}
