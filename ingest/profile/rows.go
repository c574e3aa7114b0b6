package profile

import (
	"errors"
	"io"
	"maps"
	"math"
	"slices"

	"coldbench/ingest/source"
	"coldbench/warehouse/diag"
)

// Rows are the records of one file, read one after another.
type Rows interface {
	// Next reads the next record into cells, one a slot of the mapper's, all of
	// them set; they are good until the next call. The line counts from 1. A
	// record that cannot be read is a Problem, and reading goes on behind it;
	// an error means that the file could not be read. io.EOF ends the file.
	Next(cells []Cell) (line int64, p *Problem, err error)
	// Place tells where the record just read has a slot's cell: its column in
	// bytes from 1, 0 if there is none, and its name if it has one, such as
	// "C17". Slot -1 is the record.
	Place(slot int) (col int, name string)
	// Raw is the record just read as it stood, or as people read it.
	Raw() []byte
	// Close closes the file.
	Close() error
}

// Open makes a Reader of the rows that open opens. In the long layout it calls
// open twice, to look for the profile's signals first. The List says that there
// are no rows, or no such signal; an error is open's or the rows'.
func (m *Mapper) Open(open func() (Rows, error)) (source.Reader, diag.List, error) {
	if m.signals != nil {
		rows, err := open()
		if err != nil {
			return nil, nil, err
		}
		l, err := m.findSignals(rows)
		rows.Close()
		if l != nil || err != nil {
			return nil, l, err
		}
	}
	rows, err := open()
	if err != nil {
		return nil, nil, err
	}
	f := &filler{m: m, rows: rows, cells: make([]Cell, len(m.index))}
	f.line, f.problem, err = rows.Next(f.cells)
	if err != nil {
		rows.Close()
		if errors.Is(err, io.EOF) {
			return nil, diag.List{m.noRows()}, nil
		}
		return nil, nil, err
	}
	return source.Stream(m.Channels(), f, rows, &source.Report{}), nil, nil
}

func (m *Mapper) noRows() *diag.Diagnostic {
	return diag.New(diag.Pos{File: m.in.Shown}, "the file has no rows").NoRows()
}

// maxSignals bounds the names remembered of a file's signals.
const maxSignals = 10000

// findSignals looks for the profile's signals among the rows', as far as it
// takes to find all.
func (m *Mapper) findSignals(rows Rows) (diag.List, error) {
	missing := maps.Clone(m.signals)
	seen := map[string]bool{}
	cells := make([]Cell, len(m.index))
	for len(missing) > 0 {
		_, p, err := rows.Next(cells)
		if errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			return nil, err
		}
		if p != nil {
			continue
		}
		if name := cells[m.signalSlot].written(); len(name) > 0 && !seen[string(name)] && len(seen) < maxSignals {
			seen[string(name)] = true
			delete(missing, string(name))
		}
	}
	if len(seen) == 0 {
		return diag.List{m.noRows()}, nil
	}
	var l diag.List
	names := slices.Sorted(maps.Keys(seen))
	for _, name := range slices.Sorted(maps.Keys(missing)) {
		hint := diag.DidYouMean(name, names)
		if hint == "" {
			hint = "it has: " + listed(names)
		}
		l.Add(diag.Pos{File: m.in.Shown}, "column %q has no signal %q, which profiles/%s.toml maps", m.in.Profile.Signal, name, m.in.Profile.ID).WithHint("%s", hint)
	}
	return l, nil
}

// A filler fills batches with the rows of a file.
type filler struct {
	m       *Mapper
	rows    Rows
	cells   []Cell
	line    int64 // of the record in cells
	problem *Problem
}

// Fill implements source.Filler.
func (f *filler) Fill(b *source.Batch, report *source.Report) (bool, error) {
	for !b.Full() {
		p := f.problem
		var at int64
		var vals []float64
		if p == nil {
			at, vals, p = f.m.Row(f.cells)
		}
		report.RowsRead++
		switch {
		case p == nil && f.m.order.Follows(at):
			report.RowsKept++
			b.Row(f.line, at, vals)
		case p == nil:
			col, name := f.rows.Place(f.m.clockSlot)
			f.m.order.Doubt(b, report, source.Row{Line: f.line, At: at, Vals: vals, Col: col, Name: name, Raw: f.rows.Raw()})
		default:
			col, name := f.rows.Place(p.Slot)
			reason := p.Reason
			if name != "" {
				reason = "cell " + name + ": " + reason
			}
			report.Aside = append(report.Aside, source.SetAside(f.line, col, f.rows.Raw(), reason, p.Hint))
		}
		var err error
		if f.line, f.problem, err = f.rows.Next(f.cells); errors.Is(err, io.EOF) {
			f.m.order.End(b, report)
			f.m.instruments(report)
			return false, nil
		} else if err != nil {
			return false, err
		}
	}
	return true, nil
}

// instruments tells what is known of each column's values. The resolution, if
// the profile states none, is the last decimal written, in the finest of the
// units that it was written in.
func (m *Mapper) instruments(report *source.Report) {
	for _, c := range m.columns {
		in := source.Typical(c.channel, c.Name)
		in.Unit = c.Unit
		factor := math.Abs(c.units[0].scale.Factor)
		for _, w := range c.units {
			if w.decimals < 0 {
				continue
			}
			if step := math.Abs(w.scale.Factor) * math.Pow10(-min(w.decimals, 12)); in.Resolution == 0 || step < in.Resolution {
				in.Resolution = step
				in.Unit = w.spelling
			}
		}
		if c.Resolution > 0 {
			in.Resolution = c.Resolution * factor
		}
		if c.URel > 0 || c.UAbs > 0 {
			in.URel, in.UAbs = c.URel, c.UAbs*factor
		}
		report.Instruments = append(report.Instruments, in)
	}
}
