package columnar

import (
	"bytes"
	"context"
	"encoding/base64"
	"io"
	"os"
	"strings"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/file"
	"github.com/apache/arrow/go/v17/parquet/pqarrow"
)

// batchRows is the number of rows that are decoded at a time.
const batchRows = 8192

// A parquetFile hands out columns of a Parquet file.
type parquetFile struct {
	raw     io.ReaderAt
	file    *file.Reader
	arrow   *pqarrow.FileReader
	cols    []column
	readers []*pqarrow.ColumnReader
	cur     []*arrow.Chunked
}

func openParquet(mem memory.Allocator, f *os.File) (container, error) {
	r, err := file.NewParquetReader(f, file.WithReadProps(parquet.NewReaderProperties(mem)))
	if err != nil {
		return nil, err
	}
	if err := checkStored(r); err != nil {
		return nil, err
	}
	p := &parquetFile{raw: f, file: r}
	if p.arrow, err = pqarrow.NewFileReader(r, pqarrow.ArrowReadProperties{BatchSize: batchRows}, mem); err != nil {
		return nil, err
	}
	// Fields of structures are made columns of their own. Their levels tell where
	// a structure is null, and no goroutine is started to read them, in which a
	// panic would end the program.
	flat := *p.arrow.Manifest
	flat.Fields = nil
	var walk func(prefix string, fields []pqarrow.SchemaField)
	walk = func(prefix string, fields []pqarrow.SchemaField) {
		for _, f := range fields {
			name := prefix + f.Field.Name
			if f.Field.Type.ID() == arrow.STRUCT {
				walk(name+".", f.Children)
				continue
			}
			flat.Fields = append(flat.Fields, f)
			p.cols = append(p.cols, column{name, f.Field.Type})
		}
	}
	walk("", p.arrow.Manifest.Fields)
	p.arrow.Manifest = &flat
	return p, nil
}

// checkStored checks the Arrow schema that a writer may have stored in the
// file's metadata: a message of a stream, in base64.
func checkStored(r *file.Reader) error {
	stored := r.MetaData().KeyValueMetadata().FindValue("ARROW:schema")
	if stored == nil {
		return nil
	}
	b, err := base64.RawStdEncoding.DecodeString(strings.TrimRight(*stored, "="))
	if err != nil {
		return err
	}
	first, err := message(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		return err
	}
	return checkSchema(first)
}

func (p *parquetFile) columns() []column { return p.cols }
func (p *parquetFile) rows() int64       { return p.file.NumRows() }

func (p *parquetFile) choose(columns []int) error {
	for _, i := range columns {
		for _, leaf := range leaves(p.arrow.Manifest.Fields[i]) {
			if err := checkPages(p.raw, p.file, leaf); err != nil {
				return err
			}
		}
		r, err := p.arrow.GetColumn(context.Background(), i)
		if err != nil {
			return err
		}
		p.readers = append(p.readers, r)
	}
	return nil
}

// leaves are the columns of the file that a field is made of.
func leaves(f pqarrow.SchemaField) []int {
	if f.ColIndex >= 0 && len(f.Children) == 0 {
		return []int{f.ColIndex}
	}
	var all []int
	for _, c := range f.Children {
		all = append(all, leaves(c)...)
	}
	return all
}

func (p *parquetFile) next() ([][]chunk, error) {
	p.release()
	cols := make([][]chunk, len(p.readers))
	rows := 0
	for i, r := range p.readers {
		data, err := r.NextBatch(batchRows)
		if err != nil {
			return nil, err
		}
		p.cur = append(p.cur, data)
		rows = max(rows, data.Len())
		for _, a := range data.Chunks() {
			cols[i] = append(cols[i], chunk{a.Len(), cells(a)})
		}
	}
	if rows == 0 {
		return nil, io.EOF
	}
	return cols, nil
}

func (p *parquetFile) release() {
	for _, c := range p.cur {
		c.Release()
	}
	p.cur = p.cur[:0]
}

func (p *parquetFile) close() {
	p.release()
	for _, r := range p.readers {
		r.Release()
	}
	p.file.Close()
}
