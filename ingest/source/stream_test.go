package source

import (
	"errors"
	"math"
	"testing"

	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"coldbench/warehouse/channel"
)

// A counter hands out n rows: line i, time t(i), value i or none.
type counter struct {
	n, i int64
	t    func(int64) int64
	fail error
}

func (c *counter) Fill(b *Batch, r *Report) (bool, error) {
	for !b.Full() {
		if c.i == c.n {
			return false, c.fail
		}
		c.i++
		v := float64(c.i)
		if c.i%2 == 0 {
			v = math.NaN()
		}
		r.RowsRead++
		r.RowsKept++
		b.Row(c.i, c.t(c.i), []float64{v})
	}
	return true, nil
}

type closer struct{ closed int }

func (c *closer) Close() error { c.closed++; return nil }

func channels(t *testing.T) []channel.Channel {
	c, err := channel.Find("soc_pct")
	if err != nil {
		t.Fatal(err)
	}
	return []channel.Channel{c}
}

func TestStream(t *testing.T) {
	for _, n := range []int64{0, 1, BatchRows - 1, BatchRows, BatchRows + 1, 3*BatchRows + 7} {
		mem := memory.NewCheckedAllocator(memory.DefaultAllocator)
		cl := &closer{}
		r := streamIn(mem, channels(t), &counter{n: n, t: func(i int64) int64 { return i }}, cl, &Report{})
		rows := int64(0)
		for r.Next() {
			rec := r.Record()
			line, v := rec.Column(0).(*array.Int64), rec.Column(2).(*array.Float64)
			for i := range int(rec.NumRows()) {
				rows++
				if line.Value(i) != rows || v.IsNull(i) != (rows%2 == 0) || v.IsValid(i) && v.Value(i) != float64(rows) {
					t.Fatalf("n %d: row %d is line %d, %v", n, rows, line.Value(i), v.IsNull(i))
				}
			}
		}
		if rows != n || r.Err() != nil || r.Report().RowsKept != n || r.Report().Unsorted {
			t.Errorf("n %d: %d rows, %v, %+v", n, rows, r.Err(), r.Report())
		}
		r.Retain()
		r.Release()
		if cl.closed != 0 {
			t.Error("closed while it was held")
		}
		r.Release()
		if cl.closed != 1 {
			t.Errorf("closed %d times", cl.closed)
		}
		mem.AssertSize(t, 0)
	}
}

// A reader that is let go in the middle, or fails, holds nothing.
func TestStreamLetGo(t *testing.T) {
	mem := memory.NewCheckedAllocator(memory.DefaultAllocator)
	defer mem.AssertSize(t, 0)
	r := streamIn(mem, channels(t), &counter{n: 2 * BatchRows, t: func(i int64) int64 { return i }}, nil, &Report{})
	if !r.Next() {
		t.Fatal("no batch")
	}
	r.Release()

	broken := errors.New("disk")
	r = streamIn(mem, channels(t), &counter{n: 10, t: func(i int64) int64 { return i }, fail: broken}, nil, &Report{})
	if r.Next() || !errors.Is(r.Err(), broken) {
		t.Errorf("err %v", r.Err())
	}
	r.Release()
}

func TestStreamNotesDisorder(t *testing.T) {
	r := streamIn(memory.DefaultAllocator, channels(t), &counter{n: 5, t: func(i int64) int64 { return -i }}, nil, &Report{})
	defer r.Release()
	for r.Next() {
	}
	if !r.Report().Unsorted {
		t.Error("rows that go back in time were not noticed")
	}
}
