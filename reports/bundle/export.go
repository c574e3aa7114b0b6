package bundle

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/compress"
	"github.com/apache/arrow/go/v17/parquet/pqarrow"
)

// Formats are those that a table can be exported in; each is also the ending of
// its files' names.
func Formats() []string { return []string{"parquet", "arrow", "csv", "json"} }

// A Writer writes records of one schema to a file in one format. The file is whole
// only after Close, which leaves the underlying writer open.
type Writer interface {
	Write(arrow.Record) error
	Close() error
}

// NewWriter returns a Writer in one of Formats. CSV is RFC 4180 with the columns'
// names as header, nothing where there is no value; JSON is an array of objects, a
// line each; times are RFC 3339 in UTC in both.
func NewWriter(w io.WriteSeeker, format string, schema *arrow.Schema) (Writer, error) {
	switch format {
	case "parquet":
		pw, err := pqarrow.NewFileWriter(schema, keepOpen{w}, parquet.NewWriterProperties(parquet.WithCompression(compress.Codecs.Snappy)),
			pqarrow.NewArrowWriterProperties(pqarrow.WithStoreSchema()))
		if err != nil {
			return nil, err
		}
		return newGrouped(schema, pw.Write, pw.Close), nil
	case "arrow":
		out, err := ipc.NewFileWriter(w, ipc.WithSchema(schema))
		return newGrouped(schema, out.Write, out.Close), err
	case "csv":
		out := &csvWriter{lines: newLines(w)}
		head := make([]any, schema.NumFields())
		for i, f := range schema.Fields() {
			head[i] = f.Name
		}
		return out, out.lines.write(head)
	case "json":
		out := &jsonWriter{out: bufio.NewWriter(w)}
		for i, f := range schema.Fields() {
			key, err := quoted(f.Name)
			if err != nil {
				return nil, err
			}
			if i > 0 {
				key = append([]byte{','}, key...)
			}
			out.keys = append(out.keys, append(key, ':'))
		}
		_, err := out.out.WriteString("[")
		return out, err
	}
	return nil, fmt.Errorf("bundle: unknown format %q", format)
}

// groupRows is how many rows make a group of a Parquet file, or a batch of an Arrow one.
const groupRows = 100_000

// grouped gathers records into groups of rows, since a session is too little for
// one, and a database cuts records where it likes. It copies them: the library, asked to
// gather them itself, still reads texts of earlier records when their memory is gone.
type grouped struct {
	take    func(arrow.Record) error
	end     func() error
	schema  *arrow.Schema
	columns [][]arrow.Array
	rows    int64
}

func newGrouped(schema *arrow.Schema, take func(arrow.Record) error, end func() error) *grouped {
	return &grouped{take: take, end: end, schema: schema, columns: make([][]arrow.Array, schema.NumFields())}
}

func (g *grouped) Write(r arrow.Record) error {
	for from := int64(0); from < r.NumRows(); {
		to := min(r.NumRows(), from+groupRows-g.rows)
		for i, c := range r.Columns() {
			part := array.NewSlice(c, from, to)
			own, err := array.Concatenate([]arrow.Array{part}, memory.DefaultAllocator)
			part.Release()
			if err != nil {
				return err
			}
			g.columns[i] = append(g.columns[i], own)
		}
		g.rows, from = g.rows+to-from, to
		if g.rows == groupRows {
			if err := g.flush(); err != nil {
				return err
			}
		}
	}
	return nil
}

func (g *grouped) flush() error {
	if g.rows == 0 {
		return nil
	}
	whole := make([]arrow.Array, len(g.columns))
	for i, parts := range g.columns {
		c, err := array.Concatenate(parts, memory.DefaultAllocator)
		if err != nil {
			return err
		}
		defer c.Release()
		for _, p := range parts {
			p.Release()
		}
		wipe(c)
		whole[i], g.columns[i] = c, nil
	}
	r := array.NewRecord(g.schema, whole, g.rows)
	defer r.Release()
	g.rows = 0
	return g.take(r)
}

// wipe clears what stands where an array that is ours has no value, if its values are of
// one width in bytes: a database hands out there whatever its memory held.
func wipe(a arrow.Array) {
	width, fixed := a.DataType().(arrow.FixedWidthDataType)
	if !fixed || a.NullN() == 0 || width.BitWidth()%8 != 0 {
		return
	}
	values, size := a.Data().Buffers()[1].Bytes(), width.BitWidth()/8
	for i := range a.Len() {
		if at := (a.Data().Offset() + i) * size; a.IsNull(i) {
			clear(values[at : at+size])
		}
	}
}

func (g *grouped) Close() error { return errors.Join(g.flush(), g.end()) }

type csvWriter struct{ lines *lines }

func (c *csvWriter) Write(r arrow.Record) error { return each(r, c.lines.write) }

func (c *csvWriter) Close() error { return c.lines.out.Flush() }

type jsonWriter struct {
	out  *bufio.Writer
	keys [][]byte // with all that stands before the value
	rows int
}

func (j *jsonWriter) Write(r arrow.Record) error {
	return each(r, func(row []any) error {
		before := "\n{"
		if j.rows > 0 {
			before = ",\n{"
		}
		j.rows++
		j.out.WriteString(before)
		for i, v := range row {
			text, err := jsonCell(v)
			if err != nil {
				return err
			}
			j.out.Write(j.keys[i])
			j.out.Write(text)
		}
		return j.out.WriteByte('}')
	})
}

func (j *jsonWriter) Close() error {
	j.out.WriteString("\n]\n")
	return j.out.Flush()
}

func jsonCell(v any) ([]byte, error) {
	switch v := v.(type) {
	case string:
		return quoted(v)
	case float64:
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return quoted(strconv.FormatFloat(v, 'g', -1, 64)) // JSON has no number for it
		}
	case time.Time:
		return quoted(v.UTC().Format(time.RFC3339Nano))
	}
	return json.Marshal(v)
}

// quoted is a string as JSON, with no more escaped than must be.
func quoted(s string) ([]byte, error) {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	err := enc.Encode(s)
	return bytes.TrimSuffix(b.Bytes(), []byte("\n")), err
}

// each calls do with the cells of each row, which do must not keep.
func each(r arrow.Record, do func([]any) error) error {
	row := make([]any, r.NumCols())
	for n := range int(r.NumRows()) {
		for i, column := range r.Columns() {
			v, err := cell(column, n)
			if err != nil {
				return fmt.Errorf("column %s: %w", r.ColumnName(i), err)
			}
			row[i] = v
		}
		if err := do(row); err != nil {
			return err
		}
	}
	return nil
}

// cell is the value of a row of a column: a string, an int64, a float64, a bool, a
// time.Time, or nil.
func cell(column arrow.Array, n int) (any, error) {
	if column.IsNull(n) {
		return nil, nil
	}
	switch c := column.(type) {
	case *array.String:
		return c.Value(n), nil
	case *array.Int64:
		return c.Value(n), nil
	case *array.Int32:
		return int64(c.Value(n)), nil
	case *array.Float64:
		return c.Value(n), nil
	case *array.Boolean:
		return c.Value(n), nil
	case *array.Timestamp:
		unit := c.DataType().(*arrow.TimestampType).Unit
		return c.Value(n).ToTime(unit), nil
	case *array.Null:
		return nil, nil
	}
	return nil, fmt.Errorf("cannot write values of type %s", column.DataType())
}

// lines writes CSV as RFC 4180 has it: lines end in CRLF. Texts keep the ends of
// lines that they have; asked for CRLF itself, the library would change those too.
type lines struct {
	out  *bufio.Writer
	b    bytes.Buffer
	cw   *csv.Writer
	line []string
}

func newLines(w io.Writer) *lines {
	l := &lines{out: bufio.NewWriter(w)}
	l.cw = csv.NewWriter(&l.b)
	return l
}

func (l *lines) write(cells []any) error {
	l.line = l.line[:0]
	for i, v := range cells {
		text := ""
		switch v := v.(type) {
		case nil:
		case string:
			text = strings.ToValidUTF8(v, "\ufffd")
		case int64:
			text = strconv.FormatInt(v, 10)
		case float64:
			text = strconv.FormatFloat(v, 'g', -1, 64)
		case bool:
			text = strconv.FormatBool(v)
		case time.Time:
			text = v.UTC().Format(time.RFC3339Nano)
		default:
			return fmt.Errorf("column %d: cell of type %T", i+1, v)
		}
		l.line = append(l.line, text)
	}
	l.b.Reset()
	l.cw.Write(l.line) // into memory; an error comes with Flush
	if l.cw.Flush(); l.cw.Error() != nil {
		return l.cw.Error()
	}
	l.out.Write(bytes.TrimSuffix(l.b.Bytes(), []byte("\n")))
	_, err := l.out.WriteString("\r\n")
	return err
}
