package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet/file"
	"github.com/apache/arrow/go/v17/parquet/pqarrow"

	"coldbench/warehouse"
)

// What is exported is, in each format, what query gives of the same table: the one
// goes through Arrow, the other through SQL's rows.
func TestExportIsWhatQueryGives(t *testing.T) {
	dir, _ := runDemo(t)
	// Text that is hard on every format, in a row that is set aside.
	name := filepath.Join(dir, "sessions", "2026-01-14-birch-77", "air.csv")
	f, err := os.OpenFile(name, os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	fmt.Fprint(f, "never;\"=1+1, \"\"öç\n</script>\";x\n")
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	if code := run([]string{"run", dir}, io.Discard, io.Discard); code != 1 {
		t.Fatalf("exit status %d", code)
	}
	to := filepath.Join(t.TempDir(), "out")
	var errs bytes.Buffer
	if code := run([]string{"export", dir, "--format", "parquet,arrow,csv,json", "--to", to}, io.Discard, &errs); code != 0 {
		t.Fatal(errs.String())
	}
	for _, table := range warehouse.Tables() {
		want, heads := queried(t, dir, table)
		if len(want) == 0 {
			t.Errorf("%s is empty, which proves nothing", table)
		}
		for format, read := range map[string]func(*testing.T, string, []string) []string{"csv": readCSV, "json": readJSON, "arrow": readArrow, "parquet": readParquet} {
			got := read(t, filepath.Join(to, table+"."+format), heads)
			if len(got) != len(want) {
				t.Errorf("%s as %s: %d rows, want %d", table, format, len(got), len(want))
				continue
			}
			for i := range want {
				if got[i] != want[i] {
					t.Errorf("%s as %s, row %d:\n%s\nwant\n%s", table, format, i+1, got[i], want[i])
					break
				}
			}
		}
	}
}

// queried are a table's rows, a text each, and its columns.
func queried(t *testing.T, dir, table string) (rows, heads []string) {
	t.Helper()
	order := "all"
	if table == "reading" {
		order = "session_id, source_id, t_s, line"
	}
	var out, errs bytes.Buffer
	if code := run([]string{"query", "--json", dir, "from " + table + " order by " + order}, &out, &errs); code != 0 {
		t.Fatal(errs.String())
	}
	var all [][]any
	if err := json.Unmarshal(out.Bytes(), &all); err != nil {
		t.Fatal(err)
	}
	for _, h := range all[0] {
		heads = append(heads, h.(string))
	}
	for _, row := range all[1:] {
		rows = append(rows, line(row))
	}
	return rows, heads
}

// line is a row as text, numbers as floating point has them.
func line(row []any) string {
	for i, v := range row {
		if n, ok := v.(int64); ok {
			row[i] = float64(n)
		}
		if at, ok := v.(time.Time); ok {
			row[i] = at.UTC().Format(time.RFC3339Nano)
		}
	}
	return fmt.Sprintf("%#v", row)
}

// readCSV reads numbers as texts, so it makes the wanted rows' numbers of them where
// they are.
func readCSV(t *testing.T, name string, heads []string) []string {
	t.Helper()
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.HasSuffix(data, []byte("\r\n")) {
		t.Errorf("%s: a line does not end in CRLF", name)
	}
	r := csv.NewReader(bytes.NewReader(data))
	records, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if fmt.Sprint(records[0]) != fmt.Sprint(heads) {
		t.Errorf("%s: columns %q", name, records[0])
	}
	// Types are the Parquet file's: CSV has none.
	typed := readerOf(t, name[:len(name)-len("csv")]+"parquet")
	defer typed.Release()
	var out []string
	for _, rec := range records[1:] {
		row := make([]any, len(rec))
		for i, text := range rec {
			switch typed.Schema().Field(i).Type.ID() {
			case arrow.FLOAT64, arrow.INT64, arrow.INT32:
				var v float64
				if text == "" {
					continue
				}
				if _, err := fmt.Sscan(text, &v); err != nil {
					t.Fatal(err)
				}
				row[i] = v
			default:
				if text != "" {
					row[i] = text
				}
			}
		}
		out = append(out, line(row))
	}
	return out
}

func readJSON(t *testing.T, name string, heads []string) []string {
	t.Helper()
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	var objects []map[string]any
	if err := json.Unmarshal(data, &objects); err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, o := range objects {
		row := make([]any, len(heads))
		for i, h := range heads {
			v, ok := o[h]
			if !ok || len(o) != len(heads) {
				t.Fatalf("%s: %v", name, o)
			}
			row[i] = v
		}
		out = append(out, line(row))
	}
	return out
}

func readArrow(t *testing.T, name string, _ []string) []string {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r, err := ipc.NewFileReader(f)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	var out []string
	for i := range r.NumRecords() {
		rec, err := r.Record(i)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, linesOf(t, rec)...)
	}
	return out
}

func readParquet(t *testing.T, name string, _ []string) []string {
	t.Helper()
	r := readerOf(t, name)
	defer r.Release()
	var out []string
	for r.Next() {
		out = append(out, linesOf(t, r.Record())...)
	}
	if err := r.Err(); err != nil && err != io.EOF {
		t.Fatal(err)
	}
	return out
}

func readerOf(t *testing.T, name string) pqarrow.RecordReader {
	t.Helper()
	f, err := file.OpenParquetFile(name, false)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	ar, err := pqarrow.NewFileReader(f, pqarrow.ArrowReadProperties{BatchSize: 1 << 16}, memory.DefaultAllocator)
	if err != nil {
		t.Fatal(err)
	}
	r, err := ar.GetRecordReader(context.Background(), nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func linesOf(t *testing.T, rec arrow.Record) []string {
	t.Helper()
	var out []string
	for n := range int(rec.NumRows()) {
		row := make([]any, rec.NumCols())
		for i, c := range rec.Columns() {
			switch c := c.(type) {
			case *array.String:
				row[i] = c.Value(n)
			case *array.Float64:
				row[i] = c.Value(n)
			case *array.Int64:
				row[i] = c.Value(n)
			case *array.Int32:
				row[i] = int64(c.Value(n))
			case *array.Timestamp:
				row[i] = c.Value(n).ToTime(c.DataType().(*arrow.TimestampType).Unit)
			default:
				t.Fatalf("a column of %s", c.DataType())
			}
			if c.IsNull(n) {
				row[i] = nil
			}
		}
		out = append(out, line(row))
	}
	return out
}
