package columnar

import (
	"encoding/binary"
	"errors"
	"io"
)

// A schema of a log has a handful of fields.
const (
	maxFields = 10000
	maxDepth  = 32
)

var errSchema = errors.New("its schema makes no sense")

// checkSchema reads a message with a schema as far as the counts in it. The
// library that decodes it allocates what they say before it looks at what is
// there, and what cannot be allocated ends the program.
//
// Of the format (Schema.fbs and Message.fbs, and the FlatBuffers internals) only
// the fields and their metadata are looked at; reading past the end panics, as
// the caller expects.
func checkSchema(message []byte) error {
	m := root(message)
	if body := m.slot(3); body != 0 && binary.LittleEndian.Uint64(message[body:]) != 0 {
		return errSchema // a schema has no body
	}
	schema, ok := m.table(2)
	if !ok {
		return errSchema
	}
	c := schemaCheck{left: maxFields}
	return c.fields(schema, 1, 2, maxDepth)
}

// message is the first message of a stream.
func message(stream io.ReaderAt, size int64) ([]byte, error) {
	head := make([]byte, 8)
	if _, err := stream.ReadAt(head, 0); err != nil {
		return nil, err
	}
	n, at := int64(binary.LittleEndian.Uint32(head)), int64(4)
	if n == 0xffffffff {
		n, at = int64(binary.LittleEndian.Uint32(head[4:])), 8
	}
	if n > size-at {
		return nil, io.ErrUnexpectedEOF
	}
	b := make([]byte, n)
	_, err := stream.ReadAt(b, at)
	return b, err
}

type schemaCheck struct{ left int }

// fields checks a vector of fields and one of metadata, which stand in slots of
// a table.
func (c *schemaCheck) fields(t fbTable, fields, metadata, depth int) error {
	c.left -= t.count(metadata)
	n := t.count(fields)
	if c.left -= n; c.left < 0 || depth == 0 {
		return errSchema
	}
	for i := range n {
		f := t.item(fields, i)
		if err := c.fields(f, 5, 6, depth-1); err != nil {
			return err
		}
	}
	return nil
}

// An fbTable is a table in a FlatBuffer.
type fbTable struct {
	b  []byte
	at int
}

func root(b []byte) fbTable { return fbTable{b, int(binary.LittleEndian.Uint32(b))} }

// slot is the place of a table's field, or 0 if it is absent: the table starts
// with how far before it its vtable is, which has two sizes, then a place a slot.
func (t fbTable) slot(n int) int {
	vtable := t.at - int(int32(binary.LittleEndian.Uint32(t.b[t.at:])))
	if 4+2*n >= int(binary.LittleEndian.Uint16(t.b[vtable:])) { // as the library has it, odd sizes and all
		return 0
	}
	if off := int(binary.LittleEndian.Uint16(t.b[vtable+4+2*n:])); off > 0 {
		return t.at + off
	}
	return 0
}

// follow follows the offset at a place.
func (t fbTable) follow(at int) int { return at + int(binary.LittleEndian.Uint32(t.b[at:])) }

func (t fbTable) table(n int) (fbTable, bool) {
	at := t.slot(n)
	if at == 0 {
		return fbTable{}, false
	}
	return fbTable{t.b, t.follow(at)}, true
}

// count is the length of a vector of tables; one that reaches past the end
// counts as more than may be.
func (t fbTable) count(n int) int {
	at := t.slot(n)
	if at == 0 {
		return 0
	}
	at = t.follow(at)
	count := int64(binary.LittleEndian.Uint32(t.b[at:]))
	if count*4 > int64(len(t.b)-at-4) {
		return maxFields + 1
	}
	return int(count)
}

func (t fbTable) item(n, i int) fbTable {
	at := t.follow(t.slot(n)) + 4 + 4*i
	return fbTable{t.b, t.follow(at)}
}
