package columnar

import (
	"errors"
	"io"

	"github.com/apache/arrow/go/v17/arrow/memory"

	"coldbench/ingest/profile"
	"coldbench/ingest/source"
	"coldbench/warehouse/diag"
)

// Sample reads a file that no profile describes yet: the names of its columns
// with one value a row, and visit is called with every row, counted from 1, its
// cells as people read them, "" for none. The cells are the visitor's to keep.
// It ends where visit returns false, or where the file breaks. The List says
// that it is no such file.
func Sample(path, shown string, visit func(line int64, cells []string) bool) (names []string, l diag.List, err error) {
	in := source.NewSample(path, shown)
	f, d, err := openFile(memory.DefaultAllocator, in)
	if err != nil {
		return nil, nil, err
	}
	if d != nil {
		return nil, diag.List{d}, nil
	}
	r := &rows{in: in, file: f}
	defer r.Close()
	for i, c := range f.columns() {
		r.names = append(r.names, c.name)
		if readable(c.typ) {
			r.slots = append(r.slots, i)
			names = append(names, c.name)
		}
	}
	if len(names) == 0 {
		return nil, diag.List{diag.New(diag.Pos{File: shown}, "the file has no column with one value a row")}, nil
	}
	r.broken = guard(func() error { return f.choose(r.slots) })
	cells := make([]profile.Cell, len(names))
	for {
		line, p, err := r.Next(cells)
		if errors.Is(err, io.EOF) || p != nil {
			return names, nil, nil
		}
		if err != nil {
			return nil, nil, err
		}
		if !visit(line, profile.Texts(cells)) {
			return names, nil, nil
		}
	}
}
