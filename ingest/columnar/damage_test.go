package columnar

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/pelletier/go-toml/v2"

	"coldbench/ingest/series"
	"coldbench/ingest/source"
)

// seeds are small files of every format, with texts, dictionaries, structures,
// lists, decimals and times in them.
func seeds(t testing.TB) [][]byte {
	one := table(t, `[{"t":0,"P":"5000","T":14},{"t":1,"P":"5O00","T":null}]`,
		field("t", f64), field("P", &arrow.DictionaryType{IndexType: arrow.PrimitiveTypes.Int8, ValueType: str}), field("T", f64))
	two := table(t, `[{"t":"2026-01-12","x":{"T":[1],"y":2},"P":"7","T":1},{"t":null}]`,
		field("t", &arrow.TimestampType{Unit: arrow.Millisecond}), field("x", arrow.StructOf(field("T", arrow.ListOf(f64)), field("y", f64))),
		field("P", &arrow.Decimal128Type{Precision: 9, Scale: 2}), field("T", arrow.PrimitiveTypes.Float32))
	var files [][]byte
	for _, format := range formats {
		files = append(files, write(t, format, 1, one), write(t, format, 1, two))
	}
	return files
}

// A file with bytes changed is refused, or read with every row accounted for;
// it neither panics nor asks for more memory than there is.
func TestDamaged(t *testing.T) {
	files := seeds(t)
	name := filepath.Join(t.TempDir(), "car.log")
	rnd := rand.New(rand.NewPCG(5, 6))
	for i := range 600 {
		file := append([]byte(nil), files[i%len(files)]...)
		for range 1 + rnd.IntN(4) {
			at := rnd.IntN(len(file))
			switch rnd.IntN(3) {
			case 0:
				file[at] = byte(rnd.IntN(256))
			case 1:
				file[at] ^= 1 << rnd.IntN(8)
			case 2:
				copy(file[at:], "\xff\xff\xff\x7f") // the largest length
			}
		}
		if err := os.WriteFile(name, file, 0o644); err != nil {
			t.Fatal(err)
		}
		rdr, l, err := open(memory.DefaultAllocator, source.Input{Path: name, Shown: "car.log", Profile: plain(), Session: &series.Session{}, Location: time.UTC,
			Source: series.Source{Start: toml.LocalDateTime{LocalDate: toml.LocalDate{Year: 2026, Month: 1, Day: 12}}}})
		if err != nil {
			t.Fatalf("file %d: %v", i, err)
		}
		if l != nil {
			continue
		}
		rows := int64(0)
		for rdr.Next() {
			rows += rdr.Record().NumRows()
		}
		if r := rdr.Report(); rdr.Err() != nil || r.RowsRead != r.RowsKept+int64(len(r.Aside)) || r.RowsKept != rows {
			t.Errorf("file %d: %v: %d read, %d kept, %d set aside, %d handed out", i, rdr.Err(), r.RowsRead, r.RowsKept, len(r.Aside), rows)
		}
		rdr.Release()
	}
}

// Counts that a schema's fields cannot have. The schema of one field is written
// by hand: a message (slot 2, its header) with a schema (slot 1, its fields) with
// a field (slot 5, its children).
func TestCheckSchema(t *testing.T) {
	vtable := func(slots ...uint16) []byte {
		b := []byte{byte(4 + 2*len(slots)), 0, 8, 0}
		for _, s := range slots {
			b = append(b, byte(s), 0)
		}
		return b
	}
	message := func(children uint32) []byte {
		b := []byte{16, 0, 0, 0}                                   // the root is at 16
		b = append(b, vtable(0, 0, 4)...)                          // 4 to 14
		b = append(b, 0, 0)                                        // 16:
		b = append(b, 12, 0, 0, 0, 16, 0, 0, 0)                    // vtable at 4; header at 20+16
		b = append(b, vtable(0, 4)...)                             // 24 to 32
		b = append(b, 0, 0, 0, 0)                                  // 36:
		b = append(b, 12, 0, 0, 0, 4, 0, 0, 0)                     // vtable at 24; fields at 40+4
		b = append(b, 1, 0, 0, 0, 20, 0, 0, 0)                     // one, at 48+20
		b = append(b, vtable(0, 0, 0, 0, 0, 4)...)                 // 52 to 68
		b = append(b, 16, 0, 0, 0, 4, 0, 0, 0)                     // 68: vtable at 52; children at 72+4
		return append(b, byte(children), 0, 0, byte(children>>24)) // 76
	}
	if err := checkSchema(message(0)); err != nil {
		t.Errorf("a field without children: %v", err)
	}
	for _, n := range []uint32{1, 255, 0x7f0000ff} {
		if err := checkSchema(message(n)); err != errSchema {
			t.Errorf("%d children and no room for them: %v", n, err)
		}
	}
}
