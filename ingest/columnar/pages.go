package columnar

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"

	"github.com/apache/arrow/go/v17/parquet/file"
	"github.com/apache/arrow/go/v17/parquet/metadata"
	"github.com/apache/thrift/lib/go/thrift"
)

// What a page of a Parquet file may be, and where the values of its header stand:
// numbers of parquet.thrift, version 2.
const (
	dataPage, indexPage, dictionaryPage, dataPageV2 = 0, 1, 2, 3

	headType, headSize            = 1, 3 // of a PageHeader
	headData, headDataV2, headNum = 5, 8, 1
)

// maxHeader bounds a page's header, in bytes: it may hold the least and the
// greatest value of its page, which a writer cuts off.
const maxHeader = 1 << 24

// checkPages walks the pages of a column from header to header, since the library
// that decodes them takes what lies behind the last for a page, without end, where
// there are fewer values than the file says of itself.
func checkPages(r io.ReaderAt, f *file.Reader, leaf int) error {
	for g := range f.NumRowGroups() {
		chunk, err := f.MetaData().RowGroup(g).ColumnChunk(leaf)
		if err != nil {
			return err
		}
		if err := checkChunk(r, chunk); err != nil {
			return fmt.Errorf("row group %d, column %d: %w", g+1, leaf+1, err)
		}
	}
	return nil
}

func checkChunk(r io.ReaderAt, chunk *metadata.ColumnChunkMetaData) error {
	at := chunk.DataPageOffset()
	if chunk.HasDictionaryPage() && chunk.DictionaryPageOffset() > 0 && chunk.DictionaryPageOffset() < at {
		at = chunk.DictionaryPageOffset()
	}
	end := at + chunk.TotalCompressedSize()
	if at < 0 || end < at {
		return errors.New("its place in the file is none")
	}
	for values := int64(0); values < chunk.NumValues(); {
		if at >= end {
			return fmt.Errorf("it ends after %d of %d values", values, chunk.NumValues())
		}
		h, n, err := pageHead(r, at, end)
		if err != nil {
			return err
		}
		switch h.kind {
		case dataPage, dataPageV2:
			values += h.values
		case dictionaryPage:
		case indexPage:
			// The library does not skip what such a page holds.
			return errors.New("it has an index page, which is not read")
		default:
			return fmt.Errorf("it has a page of the unknown kind %d", h.kind)
		}
		if h.size < 0 || h.values < 0 || h.size > end-at-n {
			return fmt.Errorf("a page of %d bytes does not fit into it", h.size)
		}
		at += n + h.size
	}
	return nil
}

// A pageStart is what a page's header says.
type pageStart struct {
	kind         int32
	size, values int64 // bytes that follow the header; values, 0 but for pages of data
}

// pageHead reads the header at a place before end, and tells its length.
func pageHead(r io.ReaderAt, at, end int64) (h pageStart, n int64, err error) {
	for size := int64(4096); ; size *= 8 {
		size = min(size, end-at)
		b := make([]byte, size)
		got, err := r.ReadAt(b, at)
		if err != nil && !errors.Is(err, io.EOF) {
			return h, 0, err
		}
		from := &thrift.TMemoryBuffer{Buffer: bytes.NewBuffer(b[:got])}
		h, err := readHead(thrift.NewTCompactProtocolConf(from, &thrift.TConfiguration{MaxMessageSize: maxHeader}))
		if err == nil {
			return h, int64(got - from.Len()), nil
		}
		if int64(got) < size || size >= min(end-at, maxHeader) {
			return h, 0, fmt.Errorf("a page's header is broken: %w", err)
		}
	}
}

func readHead(p thrift.TProtocol) (h pageStart, err error) {
	err = fields(p, func(id int16, kind thrift.TType) error {
		var v int32
		switch {
		case (id == headType || id == headSize) && kind == thrift.I32:
			if v, err = p.ReadI32(context.Background()); id == headType {
				h.kind = v
			} else {
				h.size = int64(v)
			}
			return err
		case (id == headData || id == headDataV2) && kind == thrift.STRUCT:
			return fields(p, func(id int16, kind thrift.TType) error {
				if id != headNum || kind != thrift.I32 {
					return p.Skip(context.Background(), kind)
				}
				v, err = p.ReadI32(context.Background())
				h.values = int64(v)
				return err
			})
		}
		return p.Skip(context.Background(), kind)
	})
	return h, err
}

// fields calls read for each field of the structure that comes next.
func fields(p thrift.TProtocol, read func(id int16, kind thrift.TType) error) error {
	ctx := context.Background()
	if _, err := p.ReadStructBegin(ctx); err != nil {
		return err
	}
	for {
		_, kind, id, err := p.ReadFieldBegin(ctx)
		if err != nil {
			return err
		}
		if kind == thrift.STOP {
			return p.ReadStructEnd(ctx)
		}
		if err := read(id, kind); err != nil {
			return err
		}
		if err := p.ReadFieldEnd(ctx); err != nil {
			return err
		}
	}
}
