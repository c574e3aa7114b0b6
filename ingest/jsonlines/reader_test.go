package jsonlines

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"
	"github.com/pelletier/go-toml/v2"

	"coldbench/ingest/series"
	"coldbench/ingest/source"
	"coldbench/warehouse/diag"
)

// plain maps "t" (elapsed s), "P" (charger power, W) and "T" (coldest pack
// sensor, °F).
func plain() *series.Profile {
	return &series.Profile{ID: "log", Kind: "json", Decimal: ".", Order: "strict", Clock: series.Clock{Column: "t", Format: "elapsed"},
		Columns: []series.Column{{Name: "P", Channel: "charger_power_kw", Unit: "W"}, {Name: "T", Channel: "pack_temp_min_c", Unit: "°F"}}}
}

func read(t testing.TB, text []byte, p *series.Profile) (rows []string, r *source.Report, l diag.List) {
	t.Helper()
	name := filepath.Join(t.TempDir(), "car.json")
	if err := os.WriteFile(name, text, 0o644); err != nil {
		t.Fatal(err)
	}
	start := toml.LocalDateTime{LocalDate: toml.LocalDate{Year: 2026, Month: 1, Day: 12}}
	rdr, l, err := Kind().Open(source.Input{Path: name, Shown: "car.json", Profile: p, Session: &series.Session{}, Source: series.Source{Start: start}, Location: time.UTC})
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
	if rdr.Err() != nil {
		t.Fatal(rdr.Err())
	}
	return rows, rdr.Report(), nil
}

// 5000 W are 5 kW, 14 °F are -10 °C and 5 °F are -15 °C (NIST SP 811, B.8).
func TestRead(t *testing.T) {
	const two = `{"t":0,"P":5000,"T":14}` + "\n" + `{"t":1.5,"P":5500,"T":5}` + "\n"
	const want = "1@0 5 -10; 2@1.5 5.5 -15"
	var gz bytes.Buffer
	z := gzip.NewWriter(&gz)
	z.Write([]byte(two))
	z.Close()
	zs, err := zstd.NewWriter(nil)
	if err != nil {
		t.Fatal(err)
	}
	records := func(path string) func(*series.Profile) { return func(p *series.Profile) { p.Records = path } }
	nested := func(p *series.Profile) { p.Columns[0].Name, p.Columns[1].Name = "charger.W", "temps.1" }
	for _, c := range []struct {
		name, text string
		change     func(*series.Profile)
		want       string
	}{
		{"lines", two, nil, want},
		{"byte order mark, CRLF, blank lines, no last line end", "\ufeff" + strings.TrimSpace(strings.ReplaceAll(two, "\n", "\r\n\r\n")), nil, "1@0 5 -10; 3@1.5 5.5 -15"},
		{"gzip", gz.String(), nil, want},
		{"zstd", string(zs.EncodeAll([]byte(two), nil)), nil, want},
		{"other fields and order", `{"T":14,"x":{"P":1,"y":[{"t":"}"}]},"P":5000,"t":0}`, nil, "1@0 5 -10"},
		{"strings, null, absent", `{"t":"0","P":"5e3","T":null}` + "\n" + `{"t":1,"T":" 5.0 "}`, nil, "1@0 5 -; 2@1 - -15"},
		{"decimal comma in strings alone", `{"t":0.5,"P":"5000,0","T":14.0}`, func(p *series.Profile) { p.Decimal = "," }, "1@0.5 5 -10"},
		{"nested", `{"t":0,"charger":{"W":5000,"V":1},"temps":[1,14,3]}` + "\n" + `{"t":1,"charger":{},"temps":[1]}`, nested, "1@0 5 -10; 2@1 - -"},
		{"names with dots, escapes", `{"t":0,"charger.W":5000,"t\u0065mps":[0,14]}`, nested, "1@0 5 -10"},
		{"a field that comes late", `{"t":0,"P":1}` + "\n" + `{"t":1,"T":14}`, nil, "1@0 0.001 -; 2@1 - -10"},
		{"document", "[" + strings.ReplaceAll(strings.TrimSpace(two), "\n", ",") + "]", nil, "1@0 5 -10; 1@1.5 5.5 -15"},
		{"document, a record on several lines", "\n [\n{\"t\":0,\n\"P\":5000,\"T\":14}\n,\n{\"t\":1.5,\"P\":5500,\"T\":5}\n]\n", nil, "3@0 5 -10; 6@1.5 5.5 -15"},
		{"document within a document", `{"a":[1,{"x":"}"}],"log":{"n":1,"rows":[` + "\n" + `{"t":0,"P":5000,"T":14}],"more":[[]]},"z":{}}`, records("log.rows"), "2@0 5 -10"},
		{"document within an array", `[[],{"rows":[{"t":0,"P":5000,"T":14}]}]`, records("1.rows"), "1@0 5 -10"},
		{"iso", `{"t":"2026-01-12T00:00:07Z","P":1,"T":14}`, func(p *series.Profile) { p.Clock.Format = "iso" }, "1@7 0.001 -10"},
		{"epoch ms", `{"t":1768176001250,"P":1,"T":14}`, func(p *series.Profile) { p.Clock.Format, p.Clock.Unit = "epoch", "ms" }, "1@1.25 0.001 -10"},
		{"long", `{"t":0,"id":"P","v":5,"u":"kW"}` + "\n" + `{"t":1,"id":"x","v":"on"}` + "\n" + `{"t":2,"id":"T","v":14}`,
			func(p *series.Profile) { p.Layout, p.Signal, p.Value, p.Unit = "long", "id", "v", "u" }, "1@0 5 -; 2@1 - -; 3@2 - -10"},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := plain()
			if c.change != nil {
				c.change(p)
			}
			rows, r, l := read(t, []byte(c.text), p)
			if got := strings.Join(rows, "; "); l != nil || got != c.want || len(r.Aside) != 0 || int(r.RowsRead) != len(rows) {
				t.Errorf("got %s %v %+v, want %s", got, l, r, c.want)
			}
		})
	}
}

func TestSetAside(t *testing.T) {
	const good = `{"t":0,"P":1,"T":14}`
	const doc = "[" + good + ",\n"
	for text, want := range map[string]string{
		good + "\n" + `{"t":1,"P":50`:                                  `2:13 unexpected end of JSON input (was the logger cut off here?)`,
		good + "\n" + `{"t":1,"P":NaN,"T":3}`:                          `2:12 invalid character 'N' looking for beginning of value (JSON has no NaN and no Infinity; null is no value)`,
		good + "\n" + `{"t":1,"P":"NaN"}`:                              `2:12 P: "NaN" is not a number (add it to missing in profiles/log.toml if it means "no value")`,
		good + "\n" + `{"t":1,"P":1e999}`:                              `2:12 P: "1e999" is not a number (add it to missing in profiles/log.toml if it means "no value")`,
		good + "\n" + `{"t":1,"P":true}`:                               `2:12 P: "true" is not a number (add it to missing in profiles/log.toml if it means "no value")`,
		good + "\n" + `{"t":1,"P":{"v":3}}`:                            `2:12 P: "{\"v\":3}" is not a number (add it to missing in profiles/log.toml if it means "no value")`,
		good + "\n" + ` [1,2]`:                                         `2:1 a record is an object with a name a value, not an array ()`,
		good + "\n" + `{"P":1}`:                                        `2:1 cannot read "" as a time (the clock counts in numbers)`,
		good + "\n" + `{"t":1,"P":1,"P":2}`:                            `2:1 "P" stands twice in the record ()`,
		good + "\n" + `{"x":"` + strings.Repeat("a", maxRecord) + `"}`: `2:1 the line is longer than 1024 KiB (is this a log?)`,
		doc + ` {"t":1,"P":"x"}]`:                                      `2:13 P: "x" is not a number (add it to missing in profiles/log.toml if it means "no value")`,
		doc + ` 7]`:                                                    `2:2 a record is an object with a name a value, not a value ()`,
		doc + ` {"t":1,"P":50`:                                         `2:15 the document ends here, unfinished (was the logger cut off here?)`,
		doc:                                                            `2:1 the document ends here, unfinished (was the logger cut off here?)`,
		doc + "{\"t\":1,\n\"P\":5x}]":                                  `3:6 the document breaks here: invalid character 'x' after object key:value pair (nothing behind is read)`,
		doc + "\n  nope]":                                              `3:4 the document breaks here: invalid character 'o' in literal null (expecting 'u') (nothing behind is read)`,
		"[" + good + "\n  " + good + "]":                               `2:3 the document breaks here: expected comma after array element (nothing behind is read)`,
		"[" + good + "\n}":                                             `2:1 the document breaks here: invalid character '}' after array element (nothing behind is read)`,
		"[" + good + "]\n[" + good + "]":                               `2:1 the document has ended before this (nothing behind is read)`,
		doc + `{"x":"` + strings.Repeat("a", maxRecord) + `"}]`:        `2:1 the record is longer than 1024 KiB (nothing behind is read)`,
	} {
		rows, r, l := read(t, []byte(text), plain())
		if l != nil || len(r.Aside) != 1 || len(rows) != 1 || r.RowsRead != 2 {
			t.Errorf("%.80q: %v %v %+v", text, rows, l, r)
			continue
		}
		a := r.Aside[0]
		if got := fmt.Sprintf("%d:%d %s (%s)", a.Line, a.Col, a.Reason, a.Hint); got != want {
			t.Errorf("%.80q:\ngot  %s\nwant %s", text, got, want)
		}
		if a.Raw == "" && !strings.Contains(a.Reason, "ended") && !strings.Contains(a.Reason, "ends") || len(a.Raw) > source.MaxRaw {
			t.Errorf("%.80q: raw is %q", text, a.Raw)
		}
	}
}

func TestRefused(t *testing.T) {
	records := func(path string) func(*series.Profile) { return func(p *series.Profile) { p.Records = path } }
	for _, c := range []struct {
		text, want string
		change     func(*series.Profile)
	}{
		{" \n", `car.json: the file is empty (was the logger running?)`, nil},
		{"[]", `car.json: the file has no records (was the logger running?)`, nil},
		{`{"t":1,"P":2,"battery":{"temp":1}}`, `car.json: no column "T", which profiles/log.toml maps (the records have: t, P, battery.temp)`, nil},
		{`{"t":1,"P":2,"battery":{"temp":1}}`, `car.json: no column "batery.temp", which profiles/log.toml maps (did you mean "battery.temp"?)`, func(p *series.Profile) { p.Columns[1].Name = "batery.temp" }},
		{"{\n\"rows\": [\n{\"t\": 1}]}", `car.json:1:2: unexpected end of JSON input (no line is a JSON object; records = "..." in profiles/log.toml says where a document has its records)`, nil},
		{`{"log":{"row":[]}}`, `car.json: no "log.rows" in the document, which records = "log.rows" in profiles/log.toml leads to (did you mean "row"?)`, records("log.rows")},
		{`{"log":{"rows":{}}}`, `car.json:1:16: records "log.rows" is an object, not an array (records in profiles/log.toml is the path of the array of rows)`, records("log.rows")},
		{"{\"log\":{\n\"x\" 1", `car.json:2:5: the document breaks here: invalid character '1' after object key`, records("log.rows")},
		{`[1,2]`, `car.json:1:2: a record is an object with a name a value, not a value`, nil},
		{`{}`, `JSON is UTF-8, not "latin-1" (leave encoding out)`, func(p *series.Profile) { p.Encoding = "latin-1" }},
	} {
		p := plain()
		if c.change != nil {
			c.change(p)
		}
		if _, _, l := read(t, []byte(c.text), p); !strings.Contains(l.Error(), c.want) {
			t.Errorf("%q:\ngot  %s\nwant %s", c.text, l.Error(), c.want)
		}
	}
}

// FuzzReader holds what must be true of any file: no row is lost, no value is no
// number, every complaint has a place.
func FuzzReader(f *testing.F) {
	f.Add([]byte("{\"t\":0,\"P\":1,\"T\":14}\n{\"t\":1,\"P\":[{\"x\":null}]}\n"), "")
	f.Add([]byte("[{\"t\":0,\"P\":1,\"T\":14},\n{\"t\":1,\"\\u0050\":\"5\"},{\"t\":0}]"), "")
	f.Add([]byte("{\"a\":[0,{\"b\":[{\"t\":0,\"P\":1,\"T\":14},7]}]}"), "a.1.b")
	f.Add([]byte("{\"t\":0,\"P\":NaN}\n[]\n\"\\ud800\"\n{\"P\":1,\"T\":2,\"t\":-0e9}"), "")
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, text []byte, path string) {
		p := plain()
		p.Records = path
		name := filepath.Join(dir, fmt.Sprint(os.Getpid()))
		if err := os.WriteFile(name, text, 0o644); err != nil {
			t.Fatal(err)
		}
		rdr, l, err := Kind().Open(source.Input{Path: name, Shown: "car.json", Profile: p, Session: &series.Session{}, Location: time.UTC,
			Source: series.Source{Start: toml.LocalDateTime{LocalDate: toml.LocalDate{Year: 2026, Month: 1, Day: 12}}}})
		if err != nil || l != nil {
			return
		}
		defer rdr.Release()
		rows := int64(0)
		for rdr.Next() {
			rec := rdr.Record()
			rows += rec.NumRows()
			for c := 2; c < int(rec.NumCols()); c++ {
				for i, v := range rec.Column(c).(*array.Float64).Float64Values() {
					if rec.Column(c).IsValid(i) && (v != v || v-v != 0) {
						t.Errorf("let through %v", v)
					}
				}
			}
		}
		r := rdr.Report()
		if rdr.Err() == nil && (r.RowsRead != r.RowsKept+int64(len(r.Aside)) || r.RowsKept != rows) {
			t.Errorf("%d read, %d kept, %d set aside, %d handed out", r.RowsRead, r.RowsKept, len(r.Aside), rows)
		}
		last := int64(0)
		for _, a := range r.Aside {
			if a.Reason == "" || a.Col < 1 || a.Line < max(1, last) {
				t.Errorf("%+v", a)
			}
			last = a.Line
		}
	})
}
