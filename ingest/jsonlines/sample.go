package jsonlines

import (
	"errors"
	"io"

	"coldbench/ingest/profile"
	"coldbench/ingest/source"
	"coldbench/warehouse/diag"
)

// Sample reads a file that no profile describes yet, with the path of its array
// of records, "" for lines or an array at the top: the names of the records'
// values, and visit is called with the line of every record that is one, and its
// cells as people read them, "" for none. The cells are the visitor's to keep. It
// ends where visit returns false. The List says that there are no records.
func Sample(path, shown, where string, visit func(line int64, cells []string) bool) (names []string, l diag.List, err error) {
	in := source.NewSample(path, shown)
	in.Profile.Records = where
	// A name that no record has makes it look through the whole file.
	in.Profile.Clock.Column = "\x00"
	if names, l, err = findNames(in); l != nil || err != nil {
		return nil, l, err
	}
	rs, closer, l, err := openRecords(in)
	if l != nil || err != nil {
		return nil, l, err
	}
	defer closer.Close()
	w := &walker{slots: map[string]int{}, within: map[string]bool{}, cols: make([]int, len(names))}
	for i, n := range names {
		w.want(n, i)
	}
	w.cells = make([]profile.Cell, len(names))
	for {
		rec, p, err := rs.next()
		if errors.Is(err, io.EOF) {
			return names, nil, nil
		}
		if err != nil {
			return nil, nil, wrap(in, err)
		}
		if p != nil {
			continue
		}
		clear(w.cells)
		clear(w.cols)
		w.walk(rec.text)
		if !visit(rec.line, profile.Texts(w.cells)) {
			return names, nil, nil
		}
	}
}
