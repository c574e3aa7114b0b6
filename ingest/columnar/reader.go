// Package columnar reads logs in Apache Parquet files and in Apache Arrow's IPC
// files and streams by a profile, batch by batch. Which of the three a file is,
// its first bytes tell.
//
// Values keep their types: integers, floats and decimals of every width, texts,
// and timestamps, which are moments if their type names a zone and local times
// of the source if it does not; dictionaries and runs are resolved, and null is
// no value. Not-a-number is not null: the profile's missing may name "NaN".
// Fields of structures are dotted names ("battery.temp"). Lists, maps and unions
// are not read. A file that breaks off gives the rows before the break, and one
// row set aside that tells where. Lines are rows, columns are columns, both from
// 1.
package columnar

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"coldbench/ingest/profile"
	"coldbench/ingest/source"
	"coldbench/warehouse/diag"
)

// Kind is the kind of log that this package reads.
func Kind() source.Kind {
	return source.Kind{Name: "columnar", Doc: "a Parquet file, or an Arrow file or stream, by a profile", Profile: true, Open: func(in source.Input) (source.Reader, diag.List, error) {
		return open(memory.DefaultAllocator, in)
	}}
}

// A column is one that a file has.
type column struct {
	name string
	typ  arrow.DataType
}

// A container is an opened file.
type container interface {
	columns() []column
	// choose opens the columns that next hands out.
	choose(columns []int) error
	// next reads on. Each of the chosen columns is one or more chunks, which are
	// good until the next call. io.EOF ends the file.
	next() ([][]chunk, error)
	// rows is the number of all rows, or -1 if the file does not say.
	rows() int64
	close()
}

// A chunk is a part of a column.
type chunk struct {
	n  int
	at func(i int) profile.Cell
}

func open(mem memory.Allocator, in source.Input) (source.Reader, diag.List, error) {
	if l := profile.NeedsProfile(in); l != nil {
		return nil, l, nil
	}
	f, d, err := openFile(mem, in)
	if err != nil {
		return nil, nil, err
	}
	if d != nil {
		return nil, diag.List{d}, nil
	}
	columns := f.columns()
	f.close()
	names := make([]string, len(columns))
	for i, c := range columns {
		names[i] = c.name
	}
	m, l, err := profile.NewMapper(in, names, diag.Pos{File: in.Shown}, "the file has")
	if l != nil || err != nil {
		return nil, l, err
	}
	clock, _ := m.ClockSlots()
	for slot, i := range m.Slots() {
		// A column of nothing but null is one that a car never filled, but no clock.
		if c := columns[i]; !readable(c.typ) || slot == clock && c.typ.ID() == arrow.NULL {
			l.Add(diag.Pos{File: in.Shown}, "column %q holds %s, not one value a row", c.name, c.typ)
		}
	}
	if l != nil {
		return nil, l, nil
	}
	return m.Open(func() (profile.Rows, error) {
		f, d, err := openFile(mem, in)
		if err == nil && d != nil { // the file changed since
			err = fmt.Errorf("columnar: %w", d)
		}
		if err != nil {
			return nil, err
		}
		r := &rows{in: in, file: f, slots: m.Slots(), names: names}
		r.broken = guard(func() error { return f.choose(r.slots) })
		return r, nil
	})
}

// openFile opens the file as what its first bytes say it is.
func openFile(mem memory.Allocator, in source.Input) (c container, d *diag.Diagnostic, err error) {
	f, err := os.Open(in.Path)
	if err != nil {
		return nil, nil, fmt.Errorf("columnar: %w", err)
	}
	defer func() {
		if c == nil {
			f.Close()
		}
	}()
	pos := diag.Pos{File: in.Shown}
	head := make([]byte, 8)
	n, err := io.ReadFull(f, head)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return nil, nil, fmt.Errorf("columnar: %s: %w", in.Shown, err)
	}
	head = head[:n]
	mem = &bounded{Allocator: mem}
	what := ""
	switch {
	case n == 0:
		return nil, diag.New(pos, "the file is empty").WithHint("was the logger running?"), nil
	case bytes.HasPrefix(head, []byte("PARE")):
		return nil, diag.New(pos, "the Parquet file is encrypted").WithHint("write it without"), nil
	case bytes.HasPrefix(head, []byte("PAR1")):
		what = "Parquet file"
		err = guard(func() error { c, err = openParquet(mem, f); return err })
	case bytes.HasPrefix(head, []byte(magic)):
		what = "Arrow file"
		err = guard(func() error { c, err = openArrow(mem, f, true); return err })
	case isStream(head):
		what = "Arrow stream"
		err = guard(func() error { c, err = openArrow(mem, f, false); return err })
	default:
		return nil, diag.New(pos, "the file is neither Parquet nor Arrow").WithHint("kind in profiles/%s.toml", in.Profile.ID), nil
	}
	if err == nil {
		return c, nil, nil
	}
	c = nil
	if isMachine(err) {
		return nil, nil, fmt.Errorf("columnar: %s: %w", in.Shown, err)
	}
	return nil, diag.New(pos, "the %s is broken: %s", what, text(err)).WithHint("is it cut off?"), nil
}

// rows are a file's rows as the mapper takes them.
type rows struct {
	in     source.Input
	file   container
	slots  []int // of the file's columns, in the mapper's order
	names  []string
	broken error // what ended the file early

	cols  [][]chunk
	first []int // by slot, of the present batch: the row at which its first chunk starts
	row   int   // of the present batch, the next
	n     int   // rows in it
	line  int64
	cells []profile.Cell
	over  bool
}

// Next implements profile.Rows.
func (r *rows) Next(cells []profile.Cell) (int64, *profile.Problem, error) {
	if r.over {
		return 0, nil, io.EOF
	}
	r.line++
	r.cells = cells
	err := r.broken
	if err == nil {
		err = guard(func() error { return r.read(cells) })
	}
	if err == nil {
		return r.line, nil, nil
	}
	r.over = true
	clear(cells)
	switch all := r.file.rows(); {
	case isMachine(err):
		return 0, nil, fmt.Errorf("columnar: %s: %w", r.in.Shown, err)
	case !errors.Is(err, io.EOF):
		reason := "the file breaks here: " + text(err)
		if all > 0 {
			reason = fmt.Sprintf("the file breaks here, at row %d of %d: %s", r.line, all, text(err))
		}
		return r.line, &profile.Problem{Slot: -1, Reason: reason, Hint: "nothing behind is read"}, nil
	case all >= 0 && r.line-1 != all:
		return r.line, &profile.Problem{Slot: -1, Reason: fmt.Sprintf("the file says that it has %d rows, and has %d", all, r.line-1)}, nil
	}
	return 0, nil, io.EOF
}

// read reads the next row.
func (r *rows) read(cells []profile.Cell) error {
	for r.row == r.n {
		var err error
		r.row, r.n = 0, 0
		if r.cols, err = r.file.next(); err != nil {
			return err
		}
		for slot, chunks := range r.cols {
			n := 0
			for _, c := range chunks {
				n += c.n
			}
			if slot > 0 && n != r.n {
				return fmt.Errorf("columns %q and %q have not as many rows", r.names[r.slots[0]], r.names[r.slots[slot]])
			}
			r.n = n
		}
		r.first = append(r.first[:0], make([]int, len(r.cols))...)
	}
	for slot := range cells {
		for r.row-r.first[slot] == r.cols[slot][0].n {
			r.first[slot] += r.cols[slot][0].n
			r.cols[slot] = r.cols[slot][1:]
		}
		cells[slot] = r.cols[slot][0].at(r.row - r.first[slot])
	}
	r.row++
	return nil
}

// Place implements profile.Rows.
func (r *rows) Place(slot int) (int, string) {
	if slot < 0 {
		return 0, ""
	}
	return r.slots[slot] + 1, ""
}

// Raw implements profile.Rows.
func (r *rows) Raw() []byte {
	var b []byte
	for slot, c := range r.cells {
		if c.IsNone() {
			continue
		}
		if len(b) > 0 {
			b = append(b, ", "...)
		}
		b = append(append(b, r.names[r.slots[slot]]...), '=')
		b = c.Append(b)
	}
	return b
}

// Close implements profile.Rows.
func (r *rows) Close() error {
	r.file.close()
	return nil
}
