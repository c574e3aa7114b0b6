package columnar

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"coldbench/ingest/profile"
)

// maxBatch bounds the rows of a batch: runs may be of any length, and take no
// room in the file.
const maxBatch = 1 << 26

// An arrowFile hands out columns of an Arrow file or stream. Neither says how
// many rows it has.
type arrowFile struct {
	cols   []column
	paths  [][]int // of a column: its field, and those within structures
	chosen []int
	record func() (arrow.Record, error) // the caller's
	cur    arrow.Record
	closer func()
}

// footer finds where an Arrow file's footer starts, or 0 if there is none: its
// length and "ARROW1" end the file.
func footer(f *os.File, size int64) (int64, error) {
	end := make([]byte, 10)
	if size < int64(len(magic)+len(end)) {
		return 0, nil
	}
	if _, err := f.ReadAt(end, size-int64(len(end))); err != nil {
		return 0, err
	}
	at := size - int64(len(end)) - int64(binary.LittleEndian.Uint32(end))
	if string(end[4:]) != magic[:6] || at < int64(len(magic)) {
		return 0, nil
	}
	return at, nil
}

// isStream reports whether a file may start an Arrow stream: with the marker of
// a message, or, before version 0.15 of the format, with its length.
func isStream(head []byte) bool {
	const longest = 64 << 20 // of a schema
	if len(head) < 8 {
		return false
	}
	n := binary.LittleEndian.Uint32(head)
	if n == 0xffffffff {
		n = binary.LittleEndian.Uint32(head[4:])
	}
	return n > 0 && n <= longest && n%4 == 0
}

// magic starts an Arrow file: its name, and two bytes of padding.
const magic = "ARROW1\x00\x00"

// openArrow opens a stream, or a file, which is a stream between the magic and a
// footer. The footer tells where in the file each batch is, which takes a whole
// file; read as a stream, one that was cut off still has its first batches.
func openArrow(mem memory.Allocator, f *os.File, isFile bool) (container, error) {
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	start, end, whole := int64(0), info.Size(), true
	if isFile {
		start = int64(len(magic))
		at, err := footer(f, end)
		if err != nil {
			return nil, err
		}
		if whole = at > 0; whole {
			end = at
		}
	}
	text := io.NewSectionReader(f, start, end-start)
	first, err := message(text, text.Size())
	if err != nil {
		return nil, err
	}
	if err := checkSchema(first); err != nil {
		return nil, err
	}
	in := &counter{Reader: bufio.NewReaderSize(text, 64<<10), left: text.Size()}
	m := &messages{MessageReader: ipc.NewMessageReader(in, ipc.WithAllocator(mem)), in: in, text: text, marked: !whole, views: viewsOf(first)}
	r, err := ipc.NewReaderFromMessageReader(m, ipc.WithAllocator(mem))
	if err != nil {
		return nil, err
	}
	a := &arrowFile{closer: func() { r.Release(); f.Close() }}
	a.record = func() (arrow.Record, error) {
		if !r.Next() {
			if r.Err() != nil {
				return nil, r.Err()
			}
			return nil, io.EOF
		}
		r.Record().Retain()
		return r.Record(), nil
	}
	a.flatten("", nil, r.Schema().Fields())
	return a, nil
}

// A counter knows how many bytes are left.
type counter struct {
	*bufio.Reader
	left int64
}

func (c *counter) Read(b []byte) (int, error) {
	n, err := c.Reader.Read(b)
	c.left -= int64(n)
	return n, err
}

// messages tells a stream that ends from one that breaks off, which the library
// does not, and keeps it from allocating what a broken length says.
type messages struct {
	ipc.MessageReader
	in     *counter
	text   *io.SectionReader // what in reads
	marked bool              // whether the end must be
	views  views
}

var (
	errCut    = errors.New("it is cut off within a batch")
	errCutEnd = errors.New("it is cut off: it has no end mark")
)

func (m *messages) Message() (*ipc.Message, error) {
	head, err := m.in.Peek(8)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, err
	}
	if len(head) == 0 && !m.marked {
		return nil, io.EOF
	} else if len(head) == 0 {
		return nil, errCutEnd
	}
	length := append(head[:len(head):len(head)], make([]byte, 8)...) // a short one ends in a mark, or is cut
	n := binary.LittleEndian.Uint32(length)
	if n == 0xffffffff {
		n = binary.LittleEndian.Uint32(length[4:])
	}
	switch {
	case n == 0 && (len(head) == 4 || len(head) == 8):
		return nil, io.EOF // marked
	case n == 0 || int64(n) > m.in.left:
		return nil, errCut
	}
	at := m.text.Size() - m.in.left
	if b, err := message(io.NewSectionReader(m.text, at, m.in.left), m.in.left); err == nil {
		if err := checkBatch(b, m.views); err != nil {
			return nil, err
		}
	} // else the reader says what is wrong
	msg, err := m.MessageReader.Message()
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		err = errCut
	}
	return msg, err
}

// flatten makes fields of structures columns of their own.
func (a *arrowFile) flatten(prefix string, path []int, fields []arrow.Field) {
	for i, f := range fields {
		name, here := prefix+f.Name, append(path[:len(path):len(path)], i)
		if t, ok := f.Type.(*arrow.StructType); ok {
			a.flatten(name+".", here, t.Fields())
			continue
		}
		a.cols, a.paths = append(a.cols, column{name, f.Type}), append(a.paths, here)
	}
}

func (a *arrowFile) columns() []column { return a.cols }
func (a *arrowFile) rows() int64       { return -1 }

func (a *arrowFile) choose(columns []int) error {
	a.chosen = columns
	return nil
}

func (a *arrowFile) next() ([][]chunk, error) {
	a.release()
	var err error
	if a.cur, err = a.record(); err != nil {
		return nil, err
	}
	if n := a.cur.NumRows(); n < 0 || n > maxBatch {
		return nil, fmt.Errorf("a batch of %d rows", n)
	}
	cols := make([][]chunk, len(a.chosen))
	for i, c := range a.chosen {
		path := a.paths[c]
		arr := a.cur.Column(path[0])
		var parents []arrow.Array
		for _, j := range path[1:] {
			parents = append(parents, arr)
			arr = arr.(*array.Struct).Field(j)
		}
		cols[i] = []chunk{{arr.Len(), within(parents, cells(arr))}}
	}
	return cols, nil
}

// within is at for rows whose structures are not null.
func within(parents []arrow.Array, at func(int) profile.Cell) func(int) profile.Cell {
	if len(parents) == 0 {
		return at
	}
	return func(i int) profile.Cell {
		for _, p := range parents {
			if p.IsNull(i) {
				return profile.Cell{}
			}
		}
		return at(i)
	}
}

func (a *arrowFile) release() {
	if a.cur != nil {
		a.cur.Release()
		a.cur = nil
	}
}

func (a *arrowFile) close() {
	a.release()
	a.closer()
}
