package columnar

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
	"github.com/apache/arrow/go/v17/parquet/compress"
	"github.com/apache/arrow/go/v17/parquet/pqarrow"
	"github.com/pelletier/go-toml/v2"

	"coldbench/ingest/series"
	"coldbench/ingest/source"
	"coldbench/warehouse/diag"
)

// plain maps "t" (elapsed s), "P" (charger power, W) and "T" (coldest pack
// sensor, °F).
func plain() *series.Profile {
	return &series.Profile{ID: "log", Kind: "columnar", Decimal: ".", Order: "strict", Clock: series.Clock{Column: "t", Format: "elapsed"},
		Columns: []series.Column{{Name: "P", Channel: "charger_power_kw", Unit: "W"}, {Name: "T", Channel: "pack_temp_min_c", Unit: "°F"}}}
}

var formats = []string{"parquet", "arrow", "stream"}

// write writes records in a format. Parquet's row groups have groupRows.
func write(t testing.TB, format string, groupRows int64, recs ...arrow.Record) []byte {
	t.Helper()
	schema := recs[0].Schema()
	var b bytes.Buffer
	var w interface {
		Write(arrow.Record) error
		Close() error
	}
	var err error
	switch format {
	case "parquet":
		props := parquet.NewWriterProperties(parquet.WithMaxRowGroupLength(groupRows), parquet.WithDictionaryDefault(true), parquet.WithCompression(compress.Codecs.Snappy))
		w, err = pqarrow.NewFileWriter(schema, &b, props, pqarrow.NewArrowWriterProperties(pqarrow.WithStoreSchema()))
	case "arrow":
		f := &seeker{}
		w, err = ipc.NewFileWriter(f, ipc.WithSchema(schema), ipc.WithZstd())
		defer func() { b.Write(f.b) }()
		for _, r := range recs {
			if err := w.Write(r); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		return f.b
	case "stream":
		w = ipc.NewWriter(&b, ipc.WithSchema(schema), ipc.WithLZ4())
	}
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range recs {
		if err := w.Write(r); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// seeker is a file in memory, as far as the writer of Arrow files needs one.
type seeker struct{ b []byte }

func (s *seeker) Write(p []byte) (int, error) { s.b = append(s.b, p...); return len(p), nil }
func (s *seeker) Seek(int64, int) (int64, error) {
	return int64(len(s.b)), nil
}

// table makes a record of a schema from JSON, as array.RecordFromJSON reads it.
func table(t testing.TB, rows string, fields ...arrow.Field) arrow.Record {
	t.Helper()
	rec, _, err := array.RecordFromJSON(memory.DefaultAllocator, arrow.NewSchema(fields, nil), strings.NewReader(rows))
	if err != nil {
		t.Fatal(err)
	}
	return rec
}

func field(name string, t arrow.DataType) arrow.Field {
	return arrow.Field{Name: name, Type: t, Nullable: true}
}

func read(t testing.TB, file []byte, p *series.Profile) (rows []string, r *source.Report, l diag.List) {
	t.Helper()
	name := filepath.Join(t.TempDir(), "car.log")
	if err := os.WriteFile(name, file, 0o644); err != nil {
		t.Fatal(err)
	}
	mem := memory.NewCheckedAllocator(memory.DefaultAllocator)
	defer mem.AssertSize(t, 0)
	start := toml.LocalDateTime{LocalDate: toml.LocalDate{Year: 2026, Month: 1, Day: 12}}
	rdr, l, err := open(mem, source.Input{Path: name, Shown: "car.log", Profile: p, Session: &series.Session{}, Source: series.Source{Start: start}, Location: time.UTC})
	if err != nil {
		t.Fatal(err)
	}
	if l != nil {
		return nil, nil, l
	}
	defer rdr.Release()
	zero := time.Date(2026, 1, 12, 0, 0, 0, 0, time.UTC).UnixMicro()
	for rdr.Next() {
		rec := rdr.Record()
		line, at := rec.Column(0).(*array.Int64), rec.Column(1).(*array.Timestamp)
		for i := range int(rec.NumRows()) {
			row := fmt.Sprintf("%d@%g", line.Value(i), float64(int64(at.Value(i))-zero)/1e6)
			for c := 2; c < int(rec.NumCols()); c++ {
				if col := rec.Column(c).(*array.Float64); col.IsNull(i) {
					row += " -"
				} else {
					row += fmt.Sprintf(" %.6g", col.Value(i))
				}
			}
			rows = append(rows, row)
		}
	}
	r = rdr.Report()
	if rdr.Err() != nil || r.RowsRead != r.RowsKept+int64(len(r.Aside)) || int(r.RowsKept) != len(rows) {
		t.Errorf("%v: %+v, %d handed out", rdr.Err(), r, len(rows))
	}
	return rows, r, nil
}

var (
	f64 = arrow.PrimitiveTypes.Float64
	str = arrow.BinaryTypes.String
)

// 5000 W are 5 kW, 14 °F are -10 °C and 5 °F are -15 °C (NIST SP 811, B.8).
// 2026-01-12 00:00 UTC is 1768176000 s after 1970: 20465 days.
func TestRead(t *testing.T) {
	iso := func(p *series.Profile) { p.Clock.Format = "iso" }
	oslo := func(p *series.Profile) { p.Clock.Zone = "" }
	nested := func(p *series.Profile) { p.Columns[0].Name, p.Columns[1].Name = "charger.W", "pack.cold.T" }
	at := func(unit arrow.TimeUnit, zone string) arrow.DataType {
		return &arrow.TimestampType{Unit: unit, TimeZone: zone}
	}
	dict := func(v arrow.DataType) arrow.DataType {
		return &arrow.DictionaryType{IndexType: arrow.PrimitiveTypes.Int8, ValueType: v}
	}
	for _, c := range []struct {
		name   string
		rec    arrow.Record
		change func(*series.Profile)
		want   string
		but    string // a format that cannot write it
	}{
		{"doubles", table(t, `[{"t":0,"P":5000,"T":14,"x":"?"},{"t":1.5,"P":null,"T":5}]`, field("x", str), field("T", f64), field("t", f64), field("P", f64)), nil, "1@0 5 -10; 2@1.5 - -15", ""},
		{"bytes and singles", table(t, `[{"t":0,"P":50,"T":14},{"t":255,"P":-50,"T":5}]`, field("t", arrow.PrimitiveTypes.Uint8), field("P", arrow.PrimitiveTypes.Int8), field("T", arrow.PrimitiveTypes.Float32)), nil, "1@0 0.05 -10; 2@255 -0.05 -15", ""},
		{"shorts", table(t, `[{"t":7,"P":5000,"T":14}]`, field("t", arrow.PrimitiveTypes.Uint16), field("P", arrow.PrimitiveTypes.Int16), field("T", arrow.FixedWidthTypes.Float16)), nil, "1@7 5 -10", "parquet"},
		{"ints", table(t, `[{"t":7,"P":5000,"T":14}]`, field("t", arrow.PrimitiveTypes.Uint32), field("P", arrow.PrimitiveTypes.Int32), field("T", arrow.PrimitiveTypes.Int64)), nil, "1@7 5 -10", ""},
		{"epoch µs", table(t, `[{"t":1768176000000001,"P":5000,"T":14}]`, field("t", arrow.PrimitiveTypes.Int64), field("P", arrow.PrimitiveTypes.Uint64), field("T", f64)),
			func(p *series.Profile) { p.Clock.Format, p.Clock.Unit = "epoch", "us" }, "1@1e-06 5 -10", ""},
		{"decimals", table(t, `[{"t":"0.5","P":"5000.25","T":"14.0"}]`, field("t", &arrow.Decimal128Type{Precision: 9, Scale: 1}), field("P", &arrow.Decimal128Type{Precision: 30, Scale: 2}), field("T", &arrow.Decimal256Type{Precision: 50, Scale: 1})), nil, "1@0.5 5.00025 -10", ""},
		{"texts", table(t, `[{"t":"0","P":"5e3","T":""},{"t":"1","P":null,"T":" 14.0"}]`, field("t", str), field("P", arrow.BinaryTypes.LargeString), field("T", str)), nil, "1@0 5 -; 2@1 - -10", ""},
		{"views", table(t, `[{"t":"0","P":"5000","T":"a text that is too long for a view itself","x":"y"},{"t":"1","P":null,"T":"5"}]`, field("t", arrow.BinaryTypes.StringView), field("P", arrow.BinaryTypes.StringView), field("x", dict(str)), field("T", arrow.BinaryTypes.StringView)),
			func(p *series.Profile) { p.Missing = []string{"a text that is too long for a view itself"} }, "1@0 5 -; 2@1 - -15", "parquet"},
		{"dictionaries", table(t, `[{"t":0,"P":5000,"T":"14"},{"t":1,"P":null,"T":"5"},{"t":2,"P":5000,"T":"14"}]`, field("t", f64), field("P", dict(f64)), field("T", dict(str))), nil, "1@0 5 -10; 2@1 - -15; 3@2 5 -10", "parquet"},
		{"a dictionary of texts", table(t, `[{"t":0,"P":5000,"T":"14"},{"t":1,"P":null,"T":"5"},{"t":2,"P":5000,"T":"14"}]`, field("t", f64), field("P", f64), field("T", dict(str))), nil, "1@0 5 -10; 2@1 - -15; 3@2 5 -10", ""},
		{"moments, µs", table(t, `[{"t":"2026-01-12T00:00:01.5","P":5000}]`, field("t", at(arrow.Microsecond, "UTC")), field("P", f64), field("T", f64)), iso, "1@1.5 5 -", ""},
		{"moments, ms, of a zone", table(t, `[{"t":"2026-01-12T00:00:01.5","P":5000}]`, field("t", at(arrow.Millisecond, "Europe/Oslo")), field("P", f64), field("T", f64)), nil, "1@1.5 5 -", ""},
		{"moments, ns", table(t, `[{"t":"2026-01-12T00:00:01.5","P":5000}]`, field("t", at(arrow.Nanosecond, "UTC")), field("P", f64), field("T", f64)), oslo, "1@1.5 5 -", ""},
		{"wall time, s", table(t, `[{"t":"2026-01-12 00:00:01","P":5000}]`, field("t", at(arrow.Second, "")), field("P", f64), field("T", f64)), iso, "1@1 5 -", "parquet"},
		{"wall time, µs", table(t, `[{"t":"2026-01-12 00:00:01","P":5000}]`, field("t", at(arrow.Microsecond, "")), field("P", f64), field("T", f64)), iso, "1@1 5 -", ""},
		{"date and time of day", table(t, `[{"d":"2026-01-12","t":"00:00:02.5","P":5000}]`, field("d", arrow.PrimitiveTypes.Date32), field("t", arrow.FixedWidthTypes.Time32ms), field("P", f64), field("T", f64)),
			func(p *series.Profile) { p.Clock.Format, p.Clock.Date = "iso", "d" }, "1@2.5 5 -", ""},
		{"time of day", table(t, `[{"t":"23:59:59","P":5000},{"t":"00:00:01"}]`, field("t", arrow.FixedWidthTypes.Time64us), field("P", f64), field("T", f64)),
			func(p *series.Profile) { p.Clock.Format = "%H:%M:%S" }, "1@86399 5 -; 2@86401 - -", ""},
		{"durations", table(t, `[{"t":"1500ms","P":5000}]`, field("t", arrow.FixedWidthTypes.Duration_ms), field("P", f64), field("T", f64)), nil, "1@1.5 5 -", "parquet"},
		{"structures", table(t, `[{"t":0,"charger":{"W":5000},"pack":{"cold":{"T":14,"n":1}}},{"t":1,"charger":{"W":null},"pack":{"cold":null}},{"t":2,"charger":null,"pack":null},{"t":3,"pack":{"cold":{"T":5}}}]`,
			field("t", f64), field("charger", arrow.StructOf(field("W", f64))), field("pack", arrow.StructOf(field("cold", arrow.StructOf(field("n", f64), field("T", f64)))))), nested, "1@0 5 -10; 2@1 - -; 3@2 - -; 4@3 - -15", ""},
		{"a list beside", table(t, `[{"x":[1,2],"t":0,"P":5000},{"x":null,"t":1},{"x":[3],"t":2}]`, field("x", arrow.ListOf(f64)), field("t", f64), field("P", f64), field("T", f64)), nil, "1@0 5 -; 2@1 - -; 3@2 - -", ""},
		{"long", table(t, `[{"t":0,"id":"P","v":5,"u":"kW"},{"t":1,"id":"rpm","v":3},{"t":2,"id":"T","v":14}]`, field("t", f64), field("id", str), field("v", f64), field("u", str)),
			func(p *series.Profile) { p.Layout, p.Signal, p.Value, p.Unit = "long", "id", "v", "u" }, "1@0 5 -; 2@1 - -; 3@2 - -10", ""},
	} {
		for _, format := range formats {
			if format == c.but {
				continue
			}
			t.Run(c.name+", "+format, func(t *testing.T) {
				p := plain()
				if c.change != nil {
					c.change(p)
				}
				rows, r, l := read(t, write(t, format, 2, c.rec), p)
				if got := strings.Join(rows, "; "); l != nil || got != c.want || len(r.Aside) != 0 {
					t.Errorf("got %s %v %+v, want %s", got, l, r, c.want)
				}
			})
		}
	}
}

// many makes rows of three batches: t counts, P is 1000 W and 1 a row, T is null
// in every third.
func many(t testing.TB, rows int) []arrow.Record {
	schema := arrow.NewSchema([]arrow.Field{field("t", f64), field("P", f64), field("T", f64)}, nil)
	b := array.NewRecordBuilder(memory.DefaultAllocator, schema)
	var recs []arrow.Record
	for i := range rows {
		b.Field(0).(*array.Float64Builder).Append(float64(i))
		b.Field(1).(*array.Float64Builder).Append(1000 + float64(i))
		if i%3 == 2 {
			b.Field(2).AppendNull()
		} else {
			b.Field(2).(*array.Float64Builder).Append(14)
		}
		if i%(rows/3+1) == rows/3 || i == rows-1 {
			recs = append(recs, b.NewRecord())
		}
	}
	return recs
}

// Batches of the file are none of the reader's: row groups of 3000 rows, and
// records of 6667, in batches of 8192 and 16384.
func TestManyRows(t *testing.T) {
	const n = 20000
	for _, format := range formats {
		rows, r, l := read(t, write(t, format, 3000, many(t, n)...), plain())
		if l != nil || len(rows) != n || len(r.Aside) > 0 {
			t.Fatalf("%s: %v, %d rows, %+v", format, l, len(rows), r.Aside)
		}
		for i, row := range rows {
			want := fmt.Sprintf("%d@%g %.6g -10", i+1, float64(i), 1+float64(i)/1000)
			if i%3 == 2 {
				want = strings.TrimSuffix(want, "-10") + "-"
			}
			if row != want {
				t.Fatalf("%s: got %s, want %s", format, row, want)
			}
		}
	}
}

func TestSetAside(t *testing.T) {
	rec := table(t, `[{"t":0,"P":"5000","T":14},{"t":1,"P":"5O00","T":14},{"t":2,"P":"","T":999.5},{"t":0,"P":"","T":14}]`, field("T", f64), field("t", f64), field("P", str))
	for _, format := range formats {
		rows, r, _ := read(t, write(t, format, 100, rec), plain())
		if len(rows) != 2 {
			t.Errorf("%s: %v", format, rows)
		}
		for i, want := range []string{
			`2:3 P: "5O00" is not a number (add it to missing in profiles/log.toml if it means "no value") T=14, t=1, P=5O00`,
			`3:1 T: 999.5 °F is outside what pack_temp_min_c can be, -60 to 90 °C (is the unit right in profiles/log.toml? a mark for "no value" goes into the column's missing) T=999.5, t=2, P=`,
		} {
			if a := r.Aside[i]; fmt.Sprintf("%d:%d %s (%s) %s", a.Line, a.Col, a.Reason, a.Hint, a.Raw) != want {
				t.Errorf("%s: got %+v, want %s", format, a, want)
			}
		}
		// The row of 2 s was set aside, so 0 s is not before the last that was kept.
		if r.RowsRead != 4 || len(r.Aside) != 2 {
			t.Errorf("%s: %+v", format, r)
		}
	}
}

func TestRefused(t *testing.T) {
	rec := table(t, `[{"t":0,"P":1,"T":2,"L":[1]}]`, field("t", f64), field("P", f64), field("T", f64), field("L", arrow.ListOf(f64)))
	none := table(t, `[]`, field("t", f64), field("P", f64), field("T", f64))
	for _, format := range formats {
		for _, c := range []struct {
			file   []byte
			want   string
			change func(*series.Profile)
		}{
			{write(t, format, 9, rec), `car.log: no column "Tt", which profiles/log.toml maps (did you mean "t"?)`, func(p *series.Profile) { p.Columns[1].Name = "Tt" }},
			{write(t, format, 9, rec), `car.log: column "L" holds list<`, func(p *series.Profile) { p.Columns[1].Name = "L" }},
			{write(t, format, 9, none), `car.log: the file has no rows (was the logger running?)`, nil},
		} {
			p := plain()
			if c.change != nil {
				c.change(p)
			}
			if _, _, l := read(t, c.file, p); !strings.Contains(l.Error(), c.want) {
				t.Errorf("%s: got  %s\nwant %s", format, l.Error(), c.want)
			}
		}
	}
	for file, want := range map[string]string{
		"":                              `car.log: the file is empty (was the logger running?)`,
		"t,P,T\n0,1,2\n":                `car.log: the file is neither Parquet nor Arrow (kind in profiles/log.toml)`,
		"PARE1234PARE":                  `car.log: the Parquet file is encrypted (write it without)`,
		"PAR1" + "\xff\xff\xff\x7fPAR1": `car.log: the Parquet file is broken: file is smaller than indicated metadata size (is it cut off?)`,
	} {
		if _, _, l := read(t, []byte(file), plain()); l.Error() != want {
			t.Errorf("%q: got  %s\nwant %s", file, l.Error(), want)
		}
	}
}

// A stream or file of Arrow that is cut off keeps its whole batches; a Parquet
// file says at its end what is in it, and without it there is nothing to go by.
func TestCutOff(t *testing.T) {
	recs := many(t, 30) // batches of 11, 11 and 8 rows
	for _, format := range []string{"arrow", "stream"} {
		whole := write(t, format, 0, recs...)
		for n := 8; n < len(whole); n += 17 {
			// Each cut is of a whole file, so that the allocator is checked too.
			rows, r, l := read(t, whole[:n], plain())
			if l != nil {
				if rows != nil || !strings.Contains(l.Error(), "is broken") && !strings.Contains(l.Error(), "neither") && !strings.Contains(l.Error(), "no rows") {
					t.Errorf("%s cut at %d: %v %s", format, n, rows, l.Error())
				}
				continue
			}
			if k := len(rows); k != 0 && k != 11 && k != 22 && k != 30 {
				t.Errorf("%s cut at %d: %d rows", format, n, k)
			}
			if len(r.Aside) > 1 || len(r.Aside) == 1 && !strings.HasPrefix(r.Aside[0].Reason, "the file breaks here: ") {
				t.Errorf("%s cut at %d: %+v", format, n, r.Aside)
			}
		}
	}
	// In the last batch's body: the first two are kept.
	stream := write(t, "stream", 0, recs...)
	rows, r, l := read(t, stream[:len(stream)-60], plain())
	if l != nil || len(rows) != 22 || len(r.Aside) != 1 || r.Aside[0].Line != 23 || r.Aside[0].Hint != "nothing behind is read" {
		t.Errorf("%v: %d rows, %+v", l, len(rows), r)
	}
	whole := write(t, "parquet", 10, recs...)
	if _, _, l := read(t, whole[:len(whole)-20], plain()); !strings.Contains(l.Error(), "is broken") {
		t.Error(l)
	}
}

// FuzzReader holds what must be true of any file: no row is lost, no value is no
// number, no panic.
func FuzzReader(f *testing.F) {
	for _, file := range seeds(f) {
		f.Add(file)
	}
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, file []byte) {
		name := filepath.Join(dir, fmt.Sprint(os.Getpid()))
		if err := os.WriteFile(name, file, 0o644); err != nil {
			t.Fatal(err)
		}
		rdr, l, err := open(memory.DefaultAllocator, source.Input{Path: name, Shown: "car.log", Profile: plain(), Session: &series.Session{}, Location: time.UTC,
			Source: series.Source{Start: toml.LocalDateTime{LocalDate: toml.LocalDate{Year: 2026, Month: 1, Day: 12}}}})
		if err != nil {
			t.Fatal(err)
		}
		if l != nil {
			return
		}
		defer rdr.Release()
		rows := int64(0)
		for rdr.Next() && rows < 1e6 {
			out := rdr.Record()
			rows += out.NumRows()
			for c := 2; c < int(out.NumCols()); c++ {
				for i, v := range out.Column(c).(*array.Float64).Float64Values() {
					if out.Column(c).IsValid(i) && v-v != 0 {
						t.Errorf("let through %v", v)
					}
				}
			}
		}
		r := rdr.Report()
		if rdr.Err() != nil || rows < 1e6 && (r.RowsRead != r.RowsKept+int64(len(r.Aside)) || r.RowsKept != rows) {
			t.Errorf("%v: %d read, %d kept, %d set aside, %d handed out", rdr.Err(), r.RowsRead, r.RowsKept, len(r.Aside), rows)
		}
	})
}
