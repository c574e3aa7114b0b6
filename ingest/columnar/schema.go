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

// views are how many columns of texts or bytes that lie in buffers of their own (of
// the types Utf8View and BinaryView) a record has, and each dictionary, by its ID.
type views struct {
	record     int
	dictionary map[uint64]int
}

// viewsOf reads them from a message with a schema that has been checked.
func viewsOf(message []byte) views {
	v := views{dictionary: map[uint64]int{}}
	if schema, ok := root(message).table(2); ok {
		for i := range schema.count(1) {
			v.record += v.of(schema.item(1, i))
		}
	}
	return v
}

func (v *views) of(field fbTable) (n int) {
	const binaryView, utf8View = 23, 24 // of Type
	if kind := field.slot(2); kind != 0 && (field.b[kind] == binaryView || field.b[kind] == utf8View) {
		n = 1
	}
	for i := range field.count(5) {
		n += v.of(field.item(5, i))
	}
	encoding, ok := field.table(4)
	if !ok {
		return n
	}
	id := uint64(0)
	if at := encoding.slot(0); at != 0 {
		id = binary.LittleEndian.Uint64(field.b[at:])
	}
	v.dictionary[id] = max(v.dictionary[id], n)
	return 0
}

var errBatch = errors.New("a batch makes no sense")

// checkBatch reads a message with a batch, or the batch of a dictionary, as far as
// the counts of buffers that views have (variadicBufferCounts). The library takes as
// many counts as the schema has views, whether they are there or not, and allocates
// what they say: none can be more than the batch has buffers in all. What is neither
// a batch nor a schema has no place in a log.
func checkBatch(message []byte, v views) error {
	const schema, dictionaryBatch, recordBatch = 1, 2, 3 // of MessageHeader
	m := root(message)
	kind := m.slot(1)
	batch, ok := m.table(2)
	if kind == 0 || !ok {
		return errBatch
	}
	need := v.record
	switch message[kind] {
	case schema:
		return nil
	case recordBatch:
	case dictionaryBatch:
		id := uint64(0)
		if at := batch.slot(0); at != 0 {
			id = binary.LittleEndian.Uint64(message[at:])
		}
		need = v.dictionary[id]
		if batch, ok = batch.table(1); !ok {
			return errBatch
		}
	default: // the library takes it for what it waits for
		return errBatch
	}
	of, counts := batch.slot(2), batch.slot(4)
	if counts == 0 || need == 0 {
		return nil
	}
	var buffers uint64
	if of != 0 {
		buffers = uint64(binary.LittleEndian.Uint32(message[batch.follow(of):]))
	}
	at := batch.follow(counts) + 4
	for i := range need {
		if binary.LittleEndian.Uint64(message[at+8*i:]) > min(buffers, uint64(len(message))) {
			return errBatch
		}
	}
	return nil
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
