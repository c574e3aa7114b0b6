package infer

import (
	"fmt"
	"time"

	"github.com/apache/arrow/go/v17/arrow/array"

	"coldbench/ingest/columnar"
	"coldbench/ingest/delimited"
	"coldbench/ingest/jsonlines"
	"coldbench/ingest/sheet"
	"coldbench/ingest/source"
	"coldbench/warehouse/diag"
)

// A Preview is the start of a file as it would be read by a profile.
type Preview struct {
	Head       []string   // line, time, then a channel each
	Rows       [][]string // "" for no value
	Read, Kept int64      // of the first batch
	Aside      []source.Aside
}

// Preview reads the start of the file by the proposed profile: rows rows to show,
// and a batch to count. Times without a zone are local; a clock that shows no date
// is shown by itself. The List says why nothing can be read.
func (p *Proposal) Preview(path string, rows int) (*Preview, diag.List, error) {
	in := source.NewSample(path, p.File)
	profile := p.Profile
	profile.ID = "NAME"
	if profile.Order == "" {
		profile.Order = "strict"
	}
	in.Profile = &profile
	if p.NeedsDate {
		in.Source.Start = start
	}
	var kind source.Kind
	for _, k := range []source.Kind{delimited.Kind(), jsonlines.Kind(), sheet.Kind(), columnar.Kind()} {
		if k.Name == p.Kind {
			kind = k
		}
	}
	switch {
	case kind.Open == nil || profile.Clock.Column == "" || len(p.Readings) > 0 || p.Clock.Confidence == Low:
		return nil, diag.List{diag.New(diag.Pos{File: p.File}, "no rows can be read before the clock is settled")}, nil
	case len(profile.Columns) == 0:
		return nil, diag.List{diag.New(diag.Pos{File: p.File}, "no rows can be read before a column is mapped")}, nil
	}
	r, l, err := kind.Open(in)
	if l != nil || err != nil {
		return nil, l, err
	}
	defer r.Release()
	v := &Preview{Head: []string{"line", "time"}}
	for _, f := range r.Schema().Fields()[2:] {
		v.Head = append(v.Head, f.Name)
	}
	if r.Next() {
		rec := r.Record()
		line, at := rec.Column(0).(*array.Int64), rec.Column(1).(*array.Timestamp)
		for i := range min(rows, int(rec.NumRows())) {
			row := []string{fmt.Sprint(line.Value(i)), p.shown(int64(at.Value(i)))}
			for _, c := range rec.Columns()[2:] {
				text := ""
				if x := c.(*array.Float64); x.IsValid(i) {
					text = format(x.Value(i))
				}
				row = append(row, text)
			}
			v.Rows = append(v.Rows, row)
		}
	}
	if err := r.Err(); err != nil {
		return nil, nil, fmt.Errorf("infer: %w", err)
	}
	report := r.Report()
	v.Read, v.Kept, v.Aside = report.RowsRead, report.RowsKept, report.Aside
	return v, nil, nil
}

// shown writes a time as far as the clock knows it.
func (p *Proposal) shown(us int64) string {
	at := time.UnixMicro(us).UTC()
	switch {
	case p.Profile.Clock.Format == "elapsed":
		return "start + " + format(at.Sub(time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)).Seconds()) + " s"
	case p.NeedsDate:
		return at.Format("15:04:05.999")
	case p.Profile.Clock.Format == "epoch" || p.Profile.Clock.Zone == "UTC":
		return at.Format("2006-01-02 15:04:05.999") + " UTC"
	}
	return at.Format("2006-01-02 15:04:05.999")
}
