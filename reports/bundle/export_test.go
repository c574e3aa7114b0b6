package bundle

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet/file"
)

// exported writes records in a format and returns the file's name.
func exported(t *testing.T, format string, records ...arrow.Record) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "x."+format)
	f, err := os.Create(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	w, err := NewWriter(f, format, records[0].Schema())
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range records {
		if err := w.Write(r); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return name
}

// By hand, from RFC 4180 and RFC 8259: a comma, a quote and the end of a line are
// quoted, no value is nothing or null, JSON has no number that is none.
func TestTextFormatsByHand(t *testing.T) {
	mem := memory.NewCheckedAllocator(memory.DefaultAllocator)
	defer mem.AssertSize(t, 0)
	b := array.NewRecordBuilder(mem, arrow.NewSchema([]arrow.Field{
		{Name: "text", Type: arrow.BinaryTypes.String, Nullable: true}, {Name: "x_kw", Type: arrow.PrimitiveTypes.Float64, Nullable: true},
		{Name: "line", Type: arrow.PrimitiveTypes.Int32}, {Name: "at", Type: &arrow.TimestampType{Unit: arrow.Microsecond, TimeZone: "UTC"}},
	}, nil))
	defer b.Release()
	at := time.Date(2026, 1, 12, 20, 12, 30, 250000000, time.UTC)
	for i, s := range []string{"a,\"b\"\n</c>", "=1+1"} {
		b.Field(0).(*array.StringBuilder).Append(s)
		b.Field(1).(*array.Float64Builder).Append([]float64{1.5, math.NaN()}[i])
		b.Field(2).(*array.Int32Builder).Append(int32(i))
		b.Field(3).(*array.TimestampBuilder).Append(arrow.Timestamp(at.Add(time.Duration(i) * 750 * time.Millisecond).UnixMicro()))
	}
	b.Field(0).AppendNull()
	b.Field(1).AppendNull()
	b.Field(2).(*array.Int32Builder).Append(2)
	b.Field(3).AppendNull()
	r := b.NewRecord()
	defer r.Release()
	for format, want := range map[string]string{
		"csv": "text,x_kw,line,at\r\n\"a,\"\"b\"\"\n</c>\",1.5,0,2026-01-12T20:12:30.25Z\r\n=1+1,NaN,1,2026-01-12T20:12:31Z\r\n,,2,\r\n",
		"json": "[\n" + `{"text":"a,\"b\"\n</c>","x_kw":1.5,"line":0,"at":"2026-01-12T20:12:30.25Z"},` + "\n" +
			`{"text":"=1+1","x_kw":"NaN","line":1,"at":"2026-01-12T20:12:31Z"},` + "\n" + `{"text":null,"x_kw":null,"line":2,"at":null}` + "\n]\n",
	} {
		data, err := os.ReadFile(exported(t, format, r))
		if err != nil {
			t.Fatal(err)
		}
		if string(data) != want {
			t.Errorf("%s:\n%s\nwant\n%s", format, data, want)
		}
	}
}

// Records go into Parquet in groups of rows, whole, whatever their memory becomes
// after they were written.
func TestParquetGroups(t *testing.T) {
	schema := arrow.NewSchema([]arrow.Field{{Name: "text", Type: arrow.BinaryTypes.String}}, nil)
	var records []arrow.Record
	for range 5 {
		b := array.NewRecordBuilder(memory.DefaultAllocator, schema)
		for range groupRows / 2 {
			b.Field(0).(*array.StringBuilder).Append("a long enough text")
		}
		records = append(records, b.NewRecord())
	}
	name := filepath.Join(t.TempDir(), "x.parquet")
	f, err := os.Create(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	w, err := NewWriter(f, "parquet", schema)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range records {
		if err := w.Write(r); err != nil {
			t.Fatal(err)
		}
		// As when the driver takes its memory back.
		clear(r.Column(0).Data().Buffers()[2].Buf())
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	r, err := file.OpenParquetFile(name, false)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	if r.NumRowGroups() != 3 || r.NumRows() != 5*groupRows/2 {
		t.Errorf("%d groups of %d rows", r.NumRowGroups(), r.NumRows())
	}
	for i := range r.NumRowGroups() {
		c, err := r.MetaData().RowGroup(i).ColumnChunk(0)
		if err != nil {
			t.Fatal(err)
		}
		s, err := c.Statistics()
		if err != nil || !strings.Contains(string(s.EncodeMin()), "long enough") {
			t.Errorf("group %d: least %q, %v", i, s.EncodeMin(), err)
		}
	}
}

// Where there is no value, an Arrow file holds nothing of what lay in the memory.
func TestArrowClean(t *testing.T) {
	b := array.NewFloat64Builder(memory.DefaultAllocator)
	b.AppendValues([]float64{1, 1.2345678e300, 3}, []bool{true, false, true})
	column := b.NewArray().(*array.Float64)
	junk := column.Data().Buffers()[1].Bytes()[8:16]
	copy(junk, "residual")
	schema := arrow.NewSchema([]arrow.Field{{Name: "x", Type: arrow.PrimitiveTypes.Float64, Nullable: true}}, nil)
	// A slice, as batches may be: its first row is the second.
	text, err := os.ReadFile(exported(t, "arrow", array.NewRecord(schema, []arrow.Array{column}, 3).NewSlice(1, 3)))
	if err != nil {
		t.Fatal(err)
	}
	if bytes.Contains(text, []byte("residual")) {
		t.Error("it holds what lay there")
	}
	if string(junk) != "residual" {
		t.Error("the record was changed")
	}
	r, err := ipc.NewFileReader(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	got, err := r.Record(0)
	if err != nil {
		t.Fatal(err)
	}
	if x := got.Column(0).(*array.Float64); x.Len() != 2 || x.IsValid(0) || x.Value(1) != 3 {
		t.Errorf("%v", x)
	}
}

// However the rows come cut, the file is the same.
func TestArrowBatches(t *testing.T) {
	schema := arrow.NewSchema([]arrow.Field{{Name: "n", Type: arrow.PrimitiveTypes.Int64}}, nil)
	b := array.NewRecordBuilder(memory.DefaultAllocator, schema)
	for i := range groupRows + 5000 {
		b.Field(0).(*array.Int64Builder).Append(int64(i))
	}
	all := b.NewRecord()
	var files [2][]byte
	for k, size := range []int64{2048, 1999} {
		var records []arrow.Record
		for from := int64(0); from < all.NumRows(); from += size {
			records = append(records, all.NewSlice(from, min(from+size, all.NumRows())))
		}
		var err error
		if files[k], err = os.ReadFile(exported(t, "arrow", records...)); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(files[0], files[1]) {
		t.Error("it depends on how the rows came")
	}
}
