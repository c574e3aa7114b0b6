package profile_test

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/pqarrow"
	"github.com/xuri/excelize/v2"

	"coldbench/ingest/columnar"
	"coldbench/ingest/delimited"
	"coldbench/ingest/jsonlines"
	"coldbench/ingest/series"
	"coldbench/ingest/sheet"
	"coldbench/ingest/source"
)

// A sample is one row of the log that every kind is given: a moment in ms, power
// in W and a temperature in °F, "" for none.
type sample struct {
	ms          int64
	power, temp string
}

func samples(n int) []sample {
	var s []sample
	for i := range n {
		r := sample{ms: time.Date(2026, 1, 12, 22, 58, 0, 0, time.UTC).UnixMilli() + int64(i)*250, power: fmt.Sprintf("%d.%d", 4000+37*(i%1000), i%10), temp: fmt.Sprint(i%40 - 20)}
		switch {
		case i%7 == 3:
			r.temp = ""
		case i == 100:
			r.temp = "999" // impossible
		case i == 200:
			r.ms -= 60_000 // goes back
		case i == 250:
			r.power = "-999" // the mark for no value
		}
		s = append(s, r)
	}
	return s
}

func (s sample) time() time.Time { return time.UnixMilli(s.ms).UTC() }

func (s sample) iso() string { return s.time().Format("2006-01-02T15:04:05.000Z") }

func orNull(text string) string {
	if text == "" {
		return "null"
	}
	return text
}

func asText(t testing.TB, s []sample) []byte {
	var b bytes.Buffer
	b.WriteString("T;when;P\n")
	for _, r := range s {
		fmt.Fprintf(&b, "%s;%s;%s\n", r.temp, r.iso(), r.power)
	}
	return b.Bytes()
}

func asLines(t testing.TB, s []sample) []byte {
	var b bytes.Buffer
	b.WriteByte('\n')
	for i, r := range s {
		power := orNull(r.power)
		if i%2 > 0 {
			power = `"` + power + `"` // numbers as texts count too
		}
		fmt.Fprintf(&b, `{"T":%s,"when":"%s","P":%s}`+"\n", orNull(r.temp), r.iso(), power)
	}
	return b.Bytes()
}

func asDocument(t testing.TB, s []sample) []byte {
	lines := strings.TrimSpace(string(asLines(t, s)))
	return []byte("{\"log\":{\"rows\":[\n" + strings.ReplaceAll(lines, "\n", ",\n") + "]}}")
}

func asSheet(t testing.TB, s []sample) []byte {
	f := excelize.NewFile()
	defer f.Close()
	set := func(col, row int, v any) {
		name, err := excelize.CoordinatesToCellName(col, row)
		if err == nil {
			err = f.SetCellValue("Sheet1", name, v)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	set(1, 1, "T")
	set(2, 1, "when")
	set(3, 1, "P")
	for i, r := range s {
		if r.temp != "" {
			set(1, i+2, number(t, r.temp))
		}
		set(2, i+2, r.time())
		set(3, i+2, number(t, r.power))
	}
	b, err := f.WriteToBuffer()
	if err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func number(t testing.TB, text string) float64 {
	var v float64
	if _, err := fmt.Sscan(text, &v); err != nil {
		t.Fatal(err)
	}
	return v
}

func record(t testing.TB, s []sample) arrow.Record {
	b := array.NewRecordBuilder(memory.DefaultAllocator, arrow.NewSchema([]arrow.Field{
		{Name: "T", Type: arrow.PrimitiveTypes.Int32, Nullable: true},
		{Name: "when", Type: arrow.FixedWidthTypes.Timestamp_ms},
		{Name: "P", Type: arrow.PrimitiveTypes.Float64},
	}, nil))
	for _, r := range s {
		if r.temp == "" {
			b.Field(0).AppendNull()
		} else {
			b.Field(0).(*array.Int32Builder).Append(int32(number(t, r.temp)))
		}
		b.Field(1).(*array.TimestampBuilder).Append(arrow.Timestamp(r.ms))
		b.Field(2).(*array.Float64Builder).Append(number(t, r.power))
	}
	return b.NewRecord()
}

func asColumns(format string) func(testing.TB, []sample) []byte {
	return func(t testing.TB, s []sample) []byte {
		rec := record(t, s)
		name := filepath.Join(t.TempDir(), "x")
		f, err := os.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		var w interface {
			Write(arrow.Record) error
			Close() error
		}
		switch format {
		case "parquet":
			w, err = pqarrow.NewFileWriter(rec.Schema(), f, parquet.NewWriterProperties(parquet.WithMaxRowGroupLength(max(64, int64(len(s)/4)))), pqarrow.DefaultWriterProps())
		case "file":
			w, err = ipc.NewFileWriter(f, ipc.WithSchema(rec.Schema()))
		default:
			w = ipc.NewWriter(f, ipc.WithSchema(rec.Schema()))
		}
		if err == nil {
			err = w.Write(rec)
		}
		if err == nil {
			err = w.Close()
		}
		if err != nil {
			t.Fatal(err)
		}
		b, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
}

// kinds are the ways in which the log is written, and the line of its first row.
var kinds = []struct {
	name  string
	kind  source.Kind
	write func(testing.TB, []sample) []byte
	line  int64
}{
	{"delimited", delimited.Kind(), asText, 2},
	{"JSON Lines", jsonlines.Kind(), asLines, 2},
	{"JSON document", jsonlines.Kind(), asDocument, 2},
	{"workbook", sheet.Kind(), asSheet, 2},
	{"Parquet", columnar.Kind(), asColumns("parquet"), 1},
	{"Arrow file", columnar.Kind(), asColumns("file"), 1},
	{"Arrow stream", columnar.Kind(), asColumns("stream"), 1},
}

// input writes the log as a kind has it.
func input(t testing.TB, name string, kind source.Kind, text []byte) source.Input {
	p := &series.Profile{ID: "log", Kind: kind.Name, HeaderRow: 1, Decimal: ".", Order: "strict", Clock: series.Clock{Column: "when", Format: "iso"},
		Columns: []series.Column{{Name: "P", Channel: "charger_power_kw", Unit: "W", Missing: []float64{-999}}, {Name: "T", Channel: "pack_temp_min_c", Unit: "°F"}}}
	if name == "JSON document" {
		p.Records = "log.rows"
	}
	path := filepath.Join(t.TempDir(), "log")
	if err := os.WriteFile(path, text, 0o644); err != nil {
		t.Fatal(err)
	}
	return source.Input{Path: path, Shown: "log", Profile: p, Session: &series.Session{}, Source: series.Source{OffsetS: 1.5}, Location: time.UTC}
}

// One log gives the same batches, the same rows set aside and the same
// instruments, whatever it was written as.
func TestKindsAgree(t *testing.T) {
	var first []arrow.Record
	var firstReport *source.Report
	for _, c := range kinds {
		rdr, l, err := c.kind.Open(input(t, c.name, c.kind, c.write(t, samples(300))))
		if err != nil || l != nil {
			t.Fatalf("%s: %v %v", c.name, err, l)
		}
		var recs []arrow.Record
		for rdr.Next() {
			rec := rdr.Record()
			rec.Retain()
			recs = append(recs, rec)
		}
		report := rdr.Report()
		if rdr.Err() != nil || report.RowsRead != 300 || len(report.Aside) != 2 || report.RowsKept != 298 {
			t.Errorf("%s: %v %+v", c.name, rdr.Err(), report)
		}
		rdr.Release()
		if first == nil {
			first, firstReport = recs, report
			continue
		}
		if len(recs) != len(first) {
			t.Fatalf("%s: %d batches, want %d", c.name, len(recs), len(first))
		}
		for i, rec := range recs {
			if !rec.Schema().Equal(first[i].Schema()) || rec.NumRows() != first[i].NumRows() {
				t.Fatalf("%s: %v", c.name, rec)
			}
			for col := 1; col < int(rec.NumCols()); col++ {
				if got, want := rec.Column(col), first[i].Column(col); !array.Equal(got, want) {
					t.Errorf("%s, %s:\ngot  %v\nwant %v", c.name, rec.ColumnName(col), got, want)
				}
			}
			for row := range int(rec.NumRows()) {
				if got, want := rec.Column(0).(*array.Int64).Value(row)-c.line, first[i].Column(0).(*array.Int64).Value(row)-2; got != want {
					t.Fatalf("%s: row %d is of line %d, want %d", c.name, row, got, want)
				}
			}
		}
		for i, a := range report.Aside {
			want := firstReport.Aside[i]
			if !strings.HasSuffix(a.Reason, want.Reason) || a.Hint != want.Hint || a.Line-c.line != want.Line-2 || a.Col < 1 {
				t.Errorf("%s: got %+v, want %+v", c.name, a, want)
			}
		}
		for i, in := range report.Instruments {
			if in != firstReport.Instruments[i] {
				t.Errorf("%s: got %+v, want %+v", c.name, in, firstReport.Instruments[i])
			}
		}
	}
}

func BenchmarkKinds(b *testing.B) {
	const rows = 20000
	s := samples(rows)
	for _, c := range kinds {
		in := input(b, c.name, c.kind, c.write(b, s))
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				rdr, l, err := c.kind.Open(in)
				if err != nil || l != nil {
					b.Fatal(err, l)
				}
				for rdr.Next() {
				}
				if r := rdr.Report(); rdr.Err() != nil || r.RowsRead != rows {
					b.Fatal(rdr.Err(), r.RowsRead)
				}
				rdr.Release()
			}
			b.ReportMetric(float64(rows*b.N)/b.Elapsed().Seconds(), "rows/s")
		})
	}
}
