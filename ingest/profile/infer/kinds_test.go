package infer

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
	"github.com/klauspost/compress/gzip"
	"github.com/xuri/excelize/v2"
)

// One log, written as every tabular kind: 40 rows with a time, the state of
// charge, the coldest temperature in °F, and power counted negative into the pack.
type sample struct {
	at         time.Time
	soc, power float64
	temp       float64
}

func samples() []sample {
	var s []sample
	for i := range 40 {
		s = append(s, sample{time.Date(2026, 1, 13, 20, 0, 30*i, 0, time.UTC), float64(8 + i), -float64(20 + i%5), float64(-4 + i/2)})
	}
	return s
}

var sampleNames = []string{"when", "SoC displayed (%)", "Battery Temp Min (°F)", "Pack Power (kW)"}

func asText(*testing.T) []byte {
	var b bytes.Buffer
	b.WriteString(strings.Join(sampleNames, ";") + "\n")
	for _, r := range samples() {
		fmt.Fprintf(&b, "%s;%v;%v;%v\n", r.at.Format("02.01.2006 15:04:05"), r.soc, r.temp, r.power)
	}
	return b.Bytes()
}

func asGzip(t *testing.T) []byte {
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	if _, err := z.Write(asText(t)); err != nil || z.Close() != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func asLines(*testing.T) []byte {
	var b bytes.Buffer
	for _, r := range samples() {
		fmt.Fprintf(&b, `{"when":%q,"pack":{"SoC displayed (%%)":%v,"Battery Temp Min (°F)":%v},"Pack Power (kW)":%v}`+"\n", r.at.Format(time.RFC3339), r.soc, r.temp, r.power)
	}
	return b.Bytes()
}

func asDocument(t *testing.T) []byte {
	return []byte(`{"logger":{"name":"x","marks":[1,2]},"log":{"rows":[` + strings.ReplaceAll(strings.TrimSpace(string(asLines(t))), "\n", ",\n") + `]}}`)
}

// asLong is a line a value.
func asLong(*testing.T) []byte {
	var b bytes.Buffer
	units := []string{"", "%", "°F", "kW"}
	for _, r := range samples() {
		for i, v := range []float64{r.soc, r.temp, r.power} {
			name, _, _ := strings.Cut(sampleNames[i+1], " (")
			fmt.Fprintf(&b, `{"when":%q,"signal":%q,"value":%v,"unit":%q}`+"\n", r.at.Format(time.RFC3339), name, v, units[i+1])
		}
	}
	return b.Bytes()
}

func asLongText(*testing.T) []byte {
	var b bytes.Buffer
	b.WriteString("when;signal;value;unit\n")
	for _, r := range samples() {
		for i, v := range []string{fmt.Sprint(r.soc), fmt.Sprint(r.temp), fmt.Sprintf("%.0f,0", r.power)} {
			name, _, _ := strings.Cut(sampleNames[i+1], " (")
			fmt.Fprintf(&b, "%s;%s;%s;%s\n", r.at.Format("02.01.2006 15:04:05"), name, v, []string{"%", "°F", "kW"}[i])
		}
	}
	return b.Bytes()
}

// asLongBare has no header, and its units in the names.
func asLongBare(*testing.T) []byte {
	var b bytes.Buffer
	for _, r := range samples() {
		for i, v := range []float64{r.soc, r.temp, r.power} {
			fmt.Fprintf(&b, "%s,%s,%v\n", r.at.Format(time.RFC3339), sampleNames[i+1], v)
		}
	}
	return b.Bytes()
}

func asLongArrow(t *testing.T) []byte {
	text := arrow.BinaryTypes.String
	b := array.NewRecordBuilder(memory.DefaultAllocator, arrow.NewSchema([]arrow.Field{
		{Name: "when", Type: arrow.FixedWidthTypes.Timestamp_ms}, {Name: "signal", Type: text}, {Name: "value", Type: arrow.PrimitiveTypes.Float64},
	}, nil))
	defer b.Release()
	for _, r := range samples() {
		for i, v := range []float64{r.soc, r.temp, r.power} {
			b.Field(0).(*array.TimestampBuilder).Append(arrow.Timestamp(r.at.UnixMilli()))
			b.Field(1).(*array.StringBuilder).Append(sampleNames[i+1])
			b.Field(2).(*array.Float64Builder).Append(v)
		}
	}
	rec := b.NewRecord()
	defer rec.Release()
	var out bytes.Buffer
	w := ipc.NewWriter(&out, ipc.WithSchema(rec.Schema()))
	if err := w.Write(rec); err != nil || w.Close() != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func asSheet(t *testing.T) []byte {
	f := excelize.NewFile()
	defer f.Close()
	if _, err := f.NewSheet("Night"); err != nil {
		t.Fatal(err)
	}
	set := func(col, row int, v any) {
		name, err := excelize.CoordinatesToCellName(col, row)
		if err == nil {
			err = f.SetCellValue("Night", name, v)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	set(1, 1, "A night in the fells")
	for i, n := range sampleNames {
		set(i+1, 3, n)
	}
	for i, r := range samples() {
		set(1, i+4, r.at)
		set(2, i+4, r.soc)
		set(3, i+4, r.temp)
		set(4, i+4, r.power)
	}
	b, err := f.WriteToBuffer()
	if err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func asArrow(t *testing.T) []byte {
	b := array.NewRecordBuilder(memory.DefaultAllocator, arrow.NewSchema([]arrow.Field{
		{Name: sampleNames[0], Type: arrow.FixedWidthTypes.Timestamp_ms},
		{Name: sampleNames[1], Type: arrow.PrimitiveTypes.Int32},
		{Name: sampleNames[2], Type: arrow.PrimitiveTypes.Float64},
		{Name: sampleNames[3], Type: arrow.PrimitiveTypes.Float64},
	}, nil))
	defer b.Release()
	for _, r := range samples() {
		b.Field(0).(*array.TimestampBuilder).Append(arrow.Timestamp(r.at.UnixMilli()))
		b.Field(1).(*array.Int32Builder).Append(int32(r.soc))
		b.Field(2).(*array.Float64Builder).Append(r.temp)
		b.Field(3).(*array.Float64Builder).Append(r.power)
	}
	rec := b.NewRecord()
	defer rec.Release()
	var out bytes.Buffer
	w := ipc.NewWriter(&out, ipc.WithSchema(rec.Schema()))
	if err := w.Write(rec); err != nil || w.Close() != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// Whatever the log was written as, the same channels are proposed, and the written
// profile reads all of it.
func TestKinds(t *testing.T) {
	for _, c := range []struct {
		what  string
		write func(*testing.T) []byte
		kind  string
	}{
		{"text", asText, "delimited"}, {"gzip", asGzip, "delimited"}, {"lines", asLines, "json"}, {"document", asDocument, "json"}, {"a line a value", asLong, "json"},
		{"a row a value", asLongText, "delimited"}, {"a row a value, without heads", asLongBare, "delimited"}, {"a row a value in Arrow", asLongArrow, "columnar"},
		{"workbook", asSheet, "sheet"}, {"Arrow stream", asArrow, "columnar"},
	} {
		log := filepath.Join(t.TempDir(), "log")
		if err := os.WriteFile(log, c.write(t), 0o644); err != nil {
			t.Fatal(err)
		}
		p, l, err := File(log, "log")
		if err != nil || l != nil {
			t.Errorf("%s: %v %v", c.what, l, err)
			continue
		}
		var got []string
		for _, col := range p.Profile.Columns {
			got = append(got, fmt.Sprintf("%s %s %v", col.Channel, col.Unit, col.Invert))
		}
		if s := strings.Join(got, ", "); p.Kind != c.kind || s != "soc_pct % false, pack_temp_min_c °F false, pack_power_kw kW true" {
			t.Errorf("%s: kind %q, %s\n%+v", c.what, p.Kind, s, p.Columns)
			continue
		}
		_, in := load(t, p, log)
		rows := int64(40)
		if p.Profile.Layout == "long" {
			rows *= 3
		}
		if kept, aside := count(t, in); kept != rows || len(aside) > 0 {
			t.Errorf("%s: %d rows kept, %d set aside: %+v", c.what, kept, len(aside), aside[:min(1, len(aside))])
		}
		v, l, err := p.Preview(log, 3)
		if err != nil || l != nil || len(v.Rows) != 3 || v.Kept != rows {
			t.Errorf("%s: preview %+v %v %v", c.what, v, l, err)
			continue
		}
		// -4 °F is -20 °C; 20 kW into the pack.
		if row := strings.Join(v.Rows[0][1:], "|"); !strings.HasPrefix(row, "2026-01-13 20:00:00") || rows == 40 && !strings.HasSuffix(row, "|8|-20|20") {
			t.Errorf("%s: first row %s", c.what, row)
		}
	}
}
