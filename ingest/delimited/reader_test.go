package delimited

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/klauspost/compress/zstd"
	"github.com/pelletier/go-toml/v2"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"coldbench/ingest/series"
	"coldbench/ingest/source"
	"coldbench/warehouse/diag"
)

// logProfile is a profile for columns "t" (elapsed s), "P" (charger power, W) and
// "T" (coldest pack sensor, °F).
func logProfile() *series.Profile {
	return &series.Profile{ID: "log", Kind: "delimited", HeaderRow: 1, Decimal: ".", Order: "strict",
		Clock: series.Clock{Column: "t", Format: "elapsed"},
		Columns: []series.Column{
			{Name: "P", Channel: "charger_power_kw", Unit: "W"},
			{Name: "T", Channel: "pack_temp_min_c", Unit: "°F"},
		}}
}

func newText(text []byte) *bufio.Reader { return bufio.NewReader(bytes.NewReader(text)) }

func read(t testing.TB, text []byte, p *series.Profile) (rows []string, r *source.Report, l diag.List) {
	t.Helper()
	rows, r, l, err := readable(t, text, p)
	if err != nil {
		t.Fatal(err)
	}
	return rows, r, l
}

// readable is read for what may be damaged: err is why it cannot be read at all.
func readable(t testing.TB, text []byte, p *series.Profile) (rows []string, r *source.Report, l diag.List, err error) {
	t.Helper()
	name := filepath.Join(t.TempDir(), "car.csv")
	if err := os.WriteFile(name, text, 0o644); err != nil {
		t.Fatal(err)
	}
	ses := &series.Session{}
	start := toml.LocalDateTime{LocalDate: toml.LocalDate{Year: 2026, Month: 1, Day: 12}}
	rdr, l, err := Kind().Open(source.Input{Path: name, Shown: "car.csv", Profile: p, Session: ses, Source: series.Source{Start: start}, Location: time.UTC})
	if err != nil || l != nil {
		return nil, nil, l, err
	}
	defer rdr.Release()
	zero := time.Date(2026, 1, 12, 0, 0, 0, 0, time.UTC).UnixMicro()
	for rdr.Next() {
		rec := rdr.Record()
		line, at := rec.Column(0).(*array.Int64), rec.Column(1).(*array.Timestamp)
		for i := range int(rec.NumRows()) {
			row := fmt.Sprintf("%d@%g", line.Value(i), float64(int64(at.Value(i))-zero)/1e6)
			for c := 2; c < int(rec.NumCols()); c++ {
				col := rec.Column(c).(*array.Float64)
				if col.IsNull(i) {
					row += " -"
				} else {
					row += " " + strconv.FormatFloat(col.Value(i), 'g', 6, 64)
				}
			}
			rows = append(rows, row)
		}
	}
	return rows, rdr.Report(), nil, rdr.Err()
}

// 14 °F is -10 °C and 5 °F is -15 °C (NIST SP 811, B.8).
func TestShapes(t *testing.T) {
	encode := func(e interface{ String(string) (string, error) }, s string) string {
		out, err := e.String(s)
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	pack := func(s string) string {
		var b bytes.Buffer
		w := gzip.NewWriter(&b)
		w.Write([]byte(s))
		w.Close()
		return b.String()
	}
	zpack := func(s string) string {
		var b bytes.Buffer
		w, err := zstd.NewWriter(&b)
		if err != nil {
			t.Fatal(err)
		}
		w.Write([]byte(s))
		w.Close()
		return b.String()
	}
	const plain = "t,P,T\n0,5000,14\n1,5500,5\n"
	want := "2@0 5 -10; 3@1 5.5 -15"
	for _, c := range []struct {
		name, text string
		change     func(*series.Profile)
		want       string
	}{
		{"comma", plain, nil, want},
		{"semicolon, decimal comma", "t;P;T\n0;5000,0;14\n1;5500,0;5\n", func(p *series.Profile) { p.Decimal = "," }, want},
		{"tab, no last line end", strings.ReplaceAll(strings.TrimSpace(plain), ",", "\t"), nil, want},
		{"pipe, CRLF", strings.ReplaceAll(strings.ReplaceAll(plain, ",", "|"), "\n", "\r\n"), nil, want},
		{"line ends of \\r alone", strings.ReplaceAll(plain, "\n", "\r"), nil, want},
		{"other columns and order", "x,T,P,t\n?,14,5000,0\n?,5,5500,1\n", nil, want},
		{"quotes", "\"t\",P,T\n0,\"5000\",14\n\"1\",\"5500\",\"5\"\n", nil, want},
		{"line end within quotes", "t,P,T,note\n0,5000,14,\"a \"\"b\"\"\nc, d\"\n1,5500,5,\n", nil, "2@0 5 -10; 4@1 5.5 -15"},
		{"an inch is no quote", "t,P,T,note\n0,5000,14,5\" screen\n1,5500,5,\n", nil, want},
		{"byte order mark", "\ufeff" + plain, nil, want},
		{"utf-16", encode(unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewEncoder(), plain), nil, want},
		{"latin-1", encode(charmap.ISO8859_1.NewEncoder(), strings.ReplaceAll(plain, "T\n", "T °F\n")), func(p *series.Profile) { p.Encoding, p.Columns[1].Name = "latin-1", "T °F" }, want},
		{"gzip", pack(plain), nil, want},
		{"zstd", zpack(plain), nil, want},
		{"preamble and units row", "logger 3\n\nt,P,T\ns,W,F\n0,5000,14\n1,5500,5\n", func(p *series.Profile) { p.HeaderRow, p.FirstRow = 3, 5 }, "5@0 5 -10; 6@1 5.5 -15"},
		{"header again, blank lines", "t,P,T\n0,5000,14\n\nt,P,T\n1,5500,5\n", nil, "2@0 5 -10; 5@1 5.5 -15"},
		{"no header", "0;5000;14\n1;5500;5\n", func(p *series.Profile) {
			p.HeaderRow, p.Delimiter, p.Clock.Column, p.Columns[0].Name, p.Columns[1].Name = 0, ";", "1", "2", "3"
		}, "1@0 5 -10; 2@1 5.5 -15"},
		{"trailing delimiter", "t,P,T\n0,5000,14,\n1,5500,5,\n", nil, want},
		{"missing values", "t,P,T\n0,--,14\n1,,255\n", func(p *series.Profile) { p.Missing, p.Columns[1].Missing = []string{"--"}, []float64{255} }, "2@0 - -10; 3@1 - -"},
		{"inverted sign", "t,P,T\n0,-5000,14\n", func(p *series.Profile) { p.Columns[0].Invert = true }, "2@0 5 -10"},
		{"any order", "t,P,T\n1,5500,5\n0,5000,14\n", func(p *series.Profile) { p.Order = "any" }, "2@1 5.5 -15; 3@0 5 -10"},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := logProfile()
			if c.change != nil {
				c.change(p)
			}
			rows, r, l := read(t, []byte(c.text), p)
			if got := strings.Join(rows, "; "); l != nil || got != c.want {
				t.Errorf("got %s %v, want %s", got, l, c.want)
			}
			if r != nil && (len(r.Aside) != 0 || r.RowsRead != r.RowsKept || int(r.RowsKept) != len(rows) || r.Unsorted != (c.name == "any order")) {
				t.Errorf("%+v", r)
			}
		})
	}
}

func TestSetAside(t *testing.T) {
	for text, want := range map[string]string{
		"0,5000\n":           `2:1 the row has 2 fields, the header 3 (was the logger cut off here?)`,
		"0,5000,14,9\n":      `2:1 the row has 4 fields, the header 3 (is a delimiter within a text without quotes?)`,
		"0,5O00,14\n":        `2:3 P: "5O00" is not a number (add it to missing in profiles/log.toml if it means "no value")`,
		"0,NaN,14\n":         `2:3 P: "NaN" is not a number (add it to missing in profiles/log.toml if it means "no value")`,
		"0,0x10,14\n":        `2:3 P: "0x10" is not a number (add it to missing in profiles/log.toml if it means "no value")`,
		"0,\"5000,5\",14\n":  `2:3 P: "5000,5" is not a number (is the decimal mark a comma? decimal = "," in profiles/log.toml)`,
		"0,5000,999\n":       `2:8 T: 999 °F is outside what pack_temp_min_c can be, -60 to 90 °C (is the unit right in profiles/log.toml? a mark for "no value" goes into the column's missing)`,
		"x,5000,14\n":        `2:1 cannot read "x" as a time (the clock counts in numbers)`,
		"5,1,14\n2,1,14\n":   `3:1 time goes back by 3 s (order = "any" in profiles/log.toml has such rows sorted in)`,
		"0,1e999,14\n":       `2:3 P: "1e999" is not a number (add it to missing in profiles/log.toml if it means "no value")`,
		"0,\"50\n00\",14\n3": `2:3 P: "50\n00" is not a number (add it to missing in profiles/log.toml if it means "no value")`,
	} {
		_, r, l := read(t, []byte("t,P,T\n"+text), logProfile())
		if l != nil || len(r.Aside) == 0 {
			t.Errorf("%q: %v %+v", text, l, r)
			continue
		}
		a := r.Aside[0]
		if got := fmt.Sprintf("%d:%d %s (%s)", a.Line, a.Col, a.Reason, a.Hint); got != want {
			t.Errorf("%q:\ngot  %s\nwant %s", text, got, want)
		}
		if r.RowsRead != r.RowsKept+int64(len(r.Aside)) {
			t.Errorf("%q: a row was lost: %+v", text, r)
		}
	}
}

func TestRefused(t *testing.T) {
	for _, c := range []struct {
		text, want string
		change     func(*series.Profile)
	}{
		{"", "car.csv: the file is empty (was the logger running?)", nil},
		{"t,P\n0,1\n", `car.csv:1: no column "T", which profiles/log.toml maps (the header has: t, P)`, nil},
		{"t,P,T\n", `car.csv:1: no column "Tt", which profiles/log.toml maps (did you mean "t"?)`, func(p *series.Profile) { p.Columns[1].Name = "Tt" }},
		{"t,P,T,T\n", `car.csv:1: column "T" stands twice in the header (the profile cannot tell which is meant)`, nil},
		{"one\n", `car.csv:3: the file ends before its header, line 3 (header_row in profiles/log.toml)`, func(p *series.Profile) { p.HeaderRow = 3 }},
		{"t,P,T\n", `unknown clock format "elapsd" (did you mean "elapsed"?)`, func(p *series.Profile) { p.Clock.Format = "elapsd" }},
		{"t,P,T\n", `unknown encoding "utf8"`, func(p *series.Profile) { p.Encoding = "utf8" }},
	} {
		p := logProfile()
		if c.change != nil {
			c.change(p)
		}
		if _, _, l := read(t, []byte(c.text), p); !strings.Contains(l.Error(), c.want) {
			t.Errorf("%q: got %q, want %q", c.text, l.Error(), c.want)
		}
	}
}

func TestInstruments(t *testing.T) {
	p := logProfile()
	p.Columns[1].UAbs = 1.8 // °F of difference: 1 K
	_, r, _ := read(t, []byte("t,P,T\n0,5000,14.5\n1,4999.5,14\n"), p)
	// The last decimal of P is 0.1 W, of T 0.1 °F, which is 0.1/1.8 K.
	want := []source.Instrument{
		{Channel: "charger_power_kw", Column: "P", Unit: "W", Resolution: 1e-4, URel: 0.01},
		{Channel: "pack_temp_min_c", Column: "T", Unit: "°F", Resolution: 0.1 / 1.8, UAbs: 1},
	}
	for i, in := range r.Instruments {
		w := want[i]
		if in.Channel != w.Channel || in.Column != w.Column || in.Unit != w.Unit || math.Abs(in.Resolution-w.Resolution) > 1e-12 || in.URel != w.URel || math.Abs(in.UAbs-w.UAbs) > 1e-12 {
			t.Errorf("got %+v, want %+v", in, w)
		}
	}
}

// Every way of reading a number gives the one that is nearest to the text.
func TestNumbers(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 4))
	for range 200000 {
		digits := fmt.Sprintf("%020d", rnd.Uint64())[:1+rnd.IntN(17)]
		at := rnd.IntN(len(digits) + 1)
		text := []string{"", "-"}[rnd.IntN(2)] + digits[:at] + []string{".", ""}[rnd.IntN(2)] + digits[at:]
		want, err := strconv.ParseFloat(text, 64)
		if err != nil {
			t.Fatal(err)
		}
		_, frac, _ := strings.Cut(text, ".")
		for name, read := range map[string]func([]byte, int, byte) (float64, int, int, bool){"short": shortNumber, "plain": scanNumber} {
			// What stands before and behind is none of the number.
			b := []byte("9" + text + ";9999999999")
			v, decimals, end, ok := read(b, 1, '.')
			ok = ok && b[end] == ';' // as the reader asks
			if must := len(text) <= 7 || name == "plain" && len(digits) <= 15; ok != must && must || ok && (v != want || decimals != len(frac) || end != 1+len(text)) {
				t.Fatalf("%s %q = %v with %d decimals to %d %v, want %v", name, text, v, decimals, end, ok, want)
			}
			b = b[:1+len(text)]
			if v, _, end, ok := read(append(b, "77777777"...)[:len(b)], 1, '.'); ok && (end > len(b) || end == len(b) && v != want) {
				t.Fatalf("%s %q = %v to %d: read on behind the end", name, text, v, end)
			}
		}
		if v, decimals, ok := parseNumber([]byte(text), '.'); !ok || v != want || decimals != len(frac) {
			t.Fatalf("%q = %v with %d decimals %v, want %v", text, v, decimals, ok, want)
		}
	}
}

func TestNumberAgainstStrconv(t *testing.T) {
	for _, s := range []string{"0", "-0.5", "1e-7", "123456789012345678901", "0.1234567890123456789", "9007199254740993", "1.7976931348623157e308", "4.9e-324", "3.", ".5", "+7e2"} {
		got, _, ok := parseNumber([]byte(s), '.')
		want, err := strconv.ParseFloat(s, 64)
		if !ok || err != nil || got != want {
			t.Errorf("%s = %v %v, want %v", s, got, ok, want)
		}
	}
	for _, s := range []string{"", "-", ".", "1e", "1 2", "NaN", "Inf", "1,000", "0x1p3", "1_0"} {
		if v, _, ok := parseNumber([]byte(s), '.'); ok {
			t.Errorf("%q was taken as %v", s, v)
		}
	}
}

// FuzzReader holds what must be true of any log: no row is lost, no value is no
// number, lines count up.
func FuzzReader(f *testing.F) {
	f.Add("t,P,T\n0,5000,14\n1,\"55\n00\",5\n")
	f.Add("t;P;T\n0;5;1\n\n0;;\n-1;NaN;Inf\n")
	f.Add("t,P,T\n\"\n\"\"\",\n")
	f.Add("\x1f\x8b\xff\x99")
	f.Fuzz(func(t *testing.T, text string) {
		held(t, text, logProfile())
	})
}

// FuzzLong is FuzzReader of the long layout.
func FuzzLong(f *testing.F) {
	f.Add("t,id,v,u\n0,P,5000,\n1,T,\"55\n00\",°C\n")
	f.Add("t;id;v;u\n0;P;1;kW\n\n0;;T;\n-1;T;Inf;K\n")
	f.Fuzz(func(t *testing.T, text string) { held(t, text, longProfile()) })
}

func held(t *testing.T, text string, p *series.Profile) {
	rows, r, l, err := readable(t, []byte(text), p)
	if l != nil || err != nil { // of a packed file that is damaged
		return
	}
	if r.RowsRead != r.RowsKept+int64(len(r.Aside)) || int(r.RowsKept) != len(rows) {
		t.Errorf("%d read, %d kept, %d set aside, %d handed out", r.RowsRead, r.RowsKept, len(r.Aside), len(rows))
	}
	if all := strings.Join(rows, " "); strings.Contains(all, "NaN") || strings.Contains(all, "Inf") {
		t.Error(all)
	}
	for i, a := range r.Aside {
		if a.Reason == "" || a.Col < 1 || i > 0 && a.Line <= r.Aside[i-1].Line {
			t.Errorf("%+v", a)
		}
	}
}
