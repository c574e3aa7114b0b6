// Package jsonlines reads logs in JSON by a profile: JSON Lines, an object a
// line, and documents that hold an array of objects, at the top or where the
// profile's records says. Either is read record by record, in constant memory,
// gzip or zstd or not.
//
// A value's name is the path to it: "battery.temp" within an object, "temps.0"
// within an array. Strings that hold numbers count as numbers; null and an
// absent name are no value. Names are looked for as far into the file as it
// takes to find all that the profile maps.
//
// A line that is no JSON object is set aside. A document that breaks off gives
// the records before the break, and one row set aside that tells where it is.
// Lines are those on which a record starts, columns bytes from the start of that
// line. JSON is UTF-8 (RFC 8259); no other encoding is read, nor arrays of
// arrays, nor a document with an array a column.
package jsonlines

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"

	"coldbench/ingest/profile"
	"coldbench/ingest/source"
	"coldbench/warehouse/diag"
)

// Kind is the kind of log that this package reads.
func Kind() source.Kind {
	return source.Kind{Name: "json", Doc: "JSON Lines, or a JSON document with an array of records, by a profile", Profile: true, Open: open}
}

// maxRecord bounds one record, in bytes: a larger one is none of a log.
const maxRecord = 1 << 20

// records are a file's records, one after another.
type records interface {
	// next returns the next record's text, valid JSON, where it starts, or why
	// it is none. io.EOF ends the file. The text is good until the next call.
	next() (record, *profile.Problem, error)
}

// A record is one record's text and place.
type record struct {
	text []byte
	line int64
	col  int // of its first byte; of a problem, where that is
}

func open(in source.Input) (source.Reader, diag.List, error) {
	if l := profile.NeedsProfile(in); l != nil {
		return nil, l, nil
	}
	p := in.Profile
	var l diag.List
	if p.Encoding != "" && p.Encoding != "utf-8" {
		l.Add(p.At("encoding"), "JSON is UTF-8, not %q", p.Encoding).WithHint("leave encoding out")
		return nil, l, nil
	}
	names, l, err := findNames(in)
	if l != nil || err != nil {
		return nil, l, err
	}
	m, l, err := profile.NewMapper(in, names, diag.Pos{File: in.Shown}, "the records have")
	if l != nil || err != nil {
		return nil, l, err
	}
	return m.Open(func() (profile.Rows, error) {
		rs, closer, l, err := openRecords(in)
		if l != nil { // findNames would have said so: the file changed since
			return nil, fmt.Errorf("jsonlines: %w", l[0])
		}
		if err != nil {
			return nil, err
		}
		w := &walker{slots: map[string]int{}, within: map[string]bool{}, cols: make([]int, len(m.Slots()))}
		for slot, i := range m.Slots() {
			w.want(names[i], slot)
		}
		return &rows{in: in, records: rs, closer: closer, walker: w}, nil
	})
}

// openRecords opens the file and finds out which of the two forms it has.
func openRecords(in source.Input) (records, io.Closer, diag.List, error) {
	text, closer, err := source.OpenText(in.Path)
	if err != nil {
		return nil, nil, nil, wrap(in, err)
	}
	first, err := firstByte(text)
	if err != nil && !errors.Is(err, io.EOF) {
		closer.Close()
		return nil, nil, nil, wrap(in, err)
	}
	var l diag.List
	switch {
	case err != nil:
		err = nil
		l.Add(diag.Pos{File: in.Shown}, "the file is empty").WithHint("was the logger running?")
	case in.Profile.Records != "" || first == '[':
		doc := newDocument(text)
		if l, err = doc.seek(in); l == nil && err == nil {
			return doc, closer, nil, nil
		}
	default:
		return &lines{text: text}, closer, nil, nil
	}
	closer.Close()
	if err != nil {
		err = wrap(in, err)
	}
	return nil, nil, l, err
}

func wrap(in source.Input, err error) error { return fmt.Errorf("jsonlines: %s: %w", in.Shown, err) }

// firstByte is the first byte that is no space, which it leaves in r, as far as
// the buffer goes.
func firstByte(r *bufio.Reader) (byte, error) {
	for n := 1; ; n++ {
		b, err := r.Peek(n)
		if errors.Is(err, bufio.ErrBufferFull) {
			return ' ', nil
		} else if err != nil {
			return 0, err
		}
		if c := b[n-1]; !isSpace(c) {
			return c, nil
		}
	}
}

// maxNames bounds the names remembered of a file's values.
const maxNames = 10000

// findNames lists the names of the records' values in the order in which they
// first stand in the file, up to the record by which all are found that the
// profile wants.
func findNames(in source.Input) ([]string, diag.List, error) {
	rs, closer, l, err := openRecords(in)
	if l != nil || err != nil {
		return nil, l, err
	}
	defer closer.Close()
	missing := map[string]bool{}
	for _, n := range profile.Wanted(in.Profile) {
		missing[n] = true
	}
	var names []string
	known := map[string]bool{}
	w := &walker{visit: func(name []byte, leaf bool) {
		if !known[string(name)] && (missing[string(name)] || leaf && len(known) < maxNames) {
			known[string(name)] = true
			names = append(names, string(name))
			delete(missing, string(name))
		}
	}}
	_, isLines := rs.(*lines)
	read := false
	var first *diag.Diagnostic // what is wrong with the first record
	for len(missing) > 0 {
		rec, p, err := rs.next()
		if errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			return nil, nil, wrap(in, err)
		}
		if p == nil {
			w.walk(rec.text)
			read = true
		} else if first == nil {
			first = diag.New(diag.Pos{File: in.Shown, Line: int(rec.line), Col: rec.col}, "%s", p.Reason)
			if first.Hint = p.Hint; isLines {
				first.WithHint("no line is a JSON object; records = \"...\" in profiles/%s.toml says where a document has its records", in.Profile.ID)
			}
		}
	}
	if !read {
		if first == nil {
			first = diag.New(diag.Pos{File: in.Shown}, "the file has no records").NoRows()
		}
		return nil, diag.List{first}, nil
	}
	return names, nil, nil
}

// rows are records as the mapper takes them.
type rows struct {
	in      source.Input
	records records
	closer  io.Closer
	walker  *walker
	record  record
}

func (r *rows) Next(cells []profile.Cell) (int64, *profile.Problem, error) {
	rec, p, err := r.records.next()
	if err != nil {
		if !errors.Is(err, io.EOF) {
			err = wrap(r.in, err)
		}
		return 0, nil, err
	}
	r.record = rec
	clear(r.walker.cols)
	if p != nil {
		return rec.line, p, nil
	}
	clear(cells)
	r.walker.cells, r.walker.twice = cells, ""
	r.walker.walk(rec.text)
	if r.walker.twice != "" {
		return rec.line, &profile.Problem{Slot: -1, Reason: fmt.Sprintf("%q stands twice in the record", r.walker.twice)}, nil
	}
	return rec.line, nil, nil
}

func (r *rows) Place(slot int) (int, string) {
	if slot < 0 || r.walker.cols[slot] == 0 {
		return r.record.col, ""
	}
	return r.record.col + r.walker.cols[slot] - 1, ""
}

func (r *rows) Raw() []byte { return bytes.TrimRight(r.record.text, "\r\n") }

func (r *rows) Close() error { return r.closer.Close() }
