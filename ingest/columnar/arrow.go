package columnar

import (
	"bufio"
	"encoding/binary"
	"errors"
	"io"
	"os"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"

	"coldbench/ingest/profile"
)

// An arrowFile hands out columns of an Arrow file or stream.
type arrowFile struct {
	cols   []column
	paths  [][]int // of a column: its field, and those within structures
	chosen []int
	record func() (arrow.Record, error) // the caller's
	cur    arrow.Record
	closer func()
}

func openArrowFile(mem memory.Allocator, f *os.File) (container, error) {
	r, err := ipc.NewFileReader(f, ipc.WithAllocator(mem))
	if err != nil {
		return nil, err
	}
	a := &arrowFile{closer: func() { r.Close(); f.Close() }}
	next := 0
	a.record = func() (arrow.Record, error) {
		if next == r.NumRecords() {
			return nil, io.EOF
		}
		next++
		return r.RecordAt(next - 1)
	}
	a.flatten("", nil, r.Schema().Fields())
	return a, nil
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

func openArrowStream(mem memory.Allocator, f *os.File) (container, error) {
	if _, err := f.Seek(0, io.SeekStart); err != nil {
		return nil, err
	}
	in := &counter{r: bufio.NewReaderSize(f, 64<<10)}
	r, err := ipc.NewReaderFromMessageReader(&messages{ipc.NewMessageReader(in, ipc.WithAllocator(mem)), in}, ipc.WithAllocator(mem))
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

// A counter counts what is read and remembers its last four bytes.
type counter struct {
	r    io.Reader
	n    int64
	last [4]byte
}

func (c *counter) Read(b []byte) (int, error) {
	n, err := c.r.Read(b)
	c.n += int64(n)
	tail := append(c.last[:], b[max(0, n-4):n]...)
	copy(c.last[:], tail[len(tail)-4:])
	return n, err
}

// messages tells a stream that ends from one that breaks off: the library takes
// both for the end.
type messages struct {
	ipc.MessageReader
	in *counter
}

var errCut = errors.New("the stream ends within a message")

func (m *messages) Message() (*ipc.Message, error) {
	before := m.in.n
	msg, err := m.MessageReader.Message()
	if !errors.Is(err, io.EOF) {
		return msg, err
	}
	// An end is marked by a length of 0, or is no message at all.
	if read := m.in.n - before; read == 0 || read <= 8 && m.in.last == [4]byte{} {
		return nil, err
	}
	return nil, errCut
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
