package source

import (
	"io"
	"math"
	"sync/atomic"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"coldbench/warehouse/channel"
)

// BatchRows is the number of rows in a full batch: a few of DuckDB's vectors,
// and with 20 channels about 3 MB.
const BatchRows = 16384

// A Filler appends rows to b until b is full or its input ends. It reports
// whether there is more to come. Problems of the input go into the report; an
// error means that the input could not be read.
type Filler interface {
	Fill(b *Batch, report *Report) (more bool, err error)
}

// Stream makes a Reader of a Filler. It closes closer, if not nil, on release.
func Stream(channels []channel.Channel, f Filler, closer io.Closer, report *Report) Reader {
	return streamIn(memory.DefaultAllocator, channels, f, closer, report)
}

func streamIn(mem memory.Allocator, channels []channel.Channel, f Filler, closer io.Closer, report *Report) Reader {
	s := &stream{schema: channel.Schema(channels), filler: f, closer: closer, report: report, more: true}
	s.refs.Store(1)
	s.batch = newBatch(mem, s.schema)
	return s
}

// A Batch gathers rows into columns.
type Batch struct {
	b    *array.RecordBuilder
	line *array.Int64Builder
	at   *array.TimestampBuilder
	vals []*array.Float64Builder
	rows int
	last int64 // time of the row before
	back bool  // whether a row was earlier than the row before
}

func newBatch(mem memory.Allocator, schema *arrow.Schema) *Batch {
	b := array.NewRecordBuilder(mem, schema)
	batch := &Batch{b: b, last: math.MinInt64, line: b.Field(0).(*array.Int64Builder), at: b.Field(1).(*array.TimestampBuilder)}
	for i := 2; i < schema.NumFields(); i++ {
		batch.vals = append(batch.vals, b.Field(i).(*array.Float64Builder))
	}
	return batch
}

// slack is how many rows an Order may append at once, and once more at the end.
const slack = 2 * (maxHeld + 2)

// Full reports whether the batch is to be handed on.
func (b *Batch) Full() bool { return b.rows >= BatchRows }

// Row appends a row: its line, its time in µs since 1970 UTC, and a value a
// channel in the stream's order, NaN for none. vals is not kept.
func (b *Batch) Row(line, atMicros int64, vals []float64) {
	if b.rows == 0 {
		b.b.Reserve(BatchRows + slack)
	}
	if atMicros < b.last {
		b.back = true
	}
	b.last = atMicros
	b.line.UnsafeAppend(line)
	b.at.UnsafeAppend(arrow.Timestamp(atMicros))
	for i, v := range vals {
		if math.IsNaN(v) {
			b.vals[i].UnsafeAppendBoolToBitmap(false)
		} else {
			b.vals[i].UnsafeAppend(v)
		}
	}
	b.rows++
}

type stream struct {
	schema *arrow.Schema
	filler Filler
	closer io.Closer
	report *Report
	batch  *Batch
	cur    arrow.Record
	more   bool
	err    error
	refs   atomic.Int64
}

func (s *stream) Schema() *arrow.Schema { return s.schema }
func (s *stream) Record() arrow.Record  { return s.cur }
func (s *stream) Err() error            { return s.err }
func (s *stream) Report() *Report       { return s.report }
func (s *stream) Retain()               { s.refs.Add(1) }

// Next makes the next batch. The record before is released.
func (s *stream) Next() bool {
	if s.cur != nil {
		s.cur.Release()
		s.cur = nil
	}
	for s.more && s.err == nil {
		s.more, s.err = s.filler.Fill(s.batch, s.report)
		s.report.Unsorted = s.batch.back
		if s.err != nil {
			return false
		}
		if s.batch.rows > 0 {
			s.cur = s.batch.b.NewRecord()
			s.batch.rows = 0
			return true
		}
	}
	return false
}

func (s *stream) Release() {
	if s.refs.Add(-1) != 0 {
		return
	}
	if s.cur != nil {
		s.cur.Release()
		s.cur = nil
	}
	s.batch.b.Release()
	if s.closer != nil {
		s.closer.Close()
	}
}
