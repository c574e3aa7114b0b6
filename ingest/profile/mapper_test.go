package profile

import (
	"fmt"
	"io"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/pelletier/go-toml/v2"

	"coldbench/ingest/series"
	"coldbench/ingest/source"
	"coldbench/warehouse/diag"
)

// wide maps "t" (elapsed s), "P" (charger power, W) and "T" (coldest pack
// sensor, °F).
func wide() *series.Profile {
	return &series.Profile{ID: "log", Decimal: ".", Order: "strict", Clock: series.Clock{Column: "t", Format: "elapsed"},
		Columns: []series.Column{{Name: "P", Channel: "charger_power_kw", Unit: "W"}, {Name: "T", Channel: "pack_temp_min_c", Unit: "°F"}}}
}

// long is the same with a row a value.
func long() *series.Profile {
	p := wide()
	p.Layout, p.Signal, p.Value, p.Unit = "long", "name", "v", "u"
	return p
}

func input(p *series.Profile) source.Input {
	return source.Input{Shown: "car.x", Profile: p, Session: &series.Session{}, Location: time.UTC,
		Source: series.Source{Start: toml.LocalDateTime{LocalDate: toml.LocalDate{Year: 2026, Month: 1, Day: 12}}}}
}

// midnight is the start, in µs.
var midnight = time.Date(2026, 1, 12, 0, 0, 0, 0, time.UTC).UnixMicro()

// table is a file of records in memory.
type table struct {
	records [][]Cell
	slots   []int
	n       int
	closed  *int
}

func (r *table) Next(cells []Cell) (int64, *Problem, error) {
	if r.n == len(r.records) {
		return 0, nil, io.EOF
	}
	r.n++
	if rec := r.records[r.n-1]; rec != nil {
		for i, s := range r.slots {
			cells[i] = rec[s]
		}
		return int64(r.n), nil, nil
	}
	return int64(r.n), &Problem{-1, "no record", ""}, nil
}

func (r *table) Place(slot int) (int, string) {
	if slot < 0 {
		return 1, ""
	}
	return r.slots[slot] + 1, fmt.Sprintf("%c%d", 'A'+r.slots[slot], r.n)
}
func (r *table) Raw() []byte  { return []byte("raw") }
func (r *table) Close() error { *r.closed++; return nil }

func read(t *testing.T, p *series.Profile, names []string, records [][]Cell) (rows []string, r *source.Report, l diag.List) {
	t.Helper()
	m, l, err := NewMapper(input(p), names, diag.Pos{File: "car.x", Line: 1}, "it has")
	if err != nil {
		t.Fatal(err)
	}
	if l != nil {
		return nil, nil, l
	}
	opened, closed := 0, 0
	rdr, l, err := m.Open(func() (Rows, error) {
		opened++
		return &table{records: records, slots: m.Slots(), closed: &closed}, nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if l == nil {
		for rdr.Next() {
			rec := rdr.Record()
			line, at := rec.Column(0).(*array.Int64), rec.Column(1).(*array.Timestamp)
			for i := range int(rec.NumRows()) {
				row := fmt.Sprintf("%d@%g", line.Value(i), float64(int64(at.Value(i))-midnight)/1e6)
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
		rdr.Release()
		if rdr.Err() != nil || r.RowsRead != r.RowsKept+int64(len(r.Aside)) || int(r.RowsKept) != len(rows) {
			t.Errorf("%v %+v", rdr.Err(), r)
		}
	}
	if opened != closed {
		t.Errorf("opened %d, closed %d", opened, closed)
	}
	return rows, r, l
}

func txt(s string) Cell { return Text([]byte(s)) }

// 5000 W are 5 kW, 14 °F are -10 °C and 5 °F are -15 °C (NIST SP 811, B.8).
func TestWide(t *testing.T) {
	names := []string{"t", "x", "P", "T"}
	for _, c := range []struct {
		name    string
		change  func(*series.Profile)
		records [][]Cell
		want    string
	}{
		{"numbers", nil, [][]Cell{{Float(0), {}, Float(5000), Float(14)}, {Float(1.5), {}, {}, Single(5)}}, "1@0 5 -10; 2@1.5 - -15"},
		{"texts", nil, [][]Cell{{txt("0"), txt("?"), txt(" 5000"), txt("14.0")}, {txt("1"), txt(""), txt(""), txt("5e0")}}, "1@0 5 -10; 2@1 - -15"},
		{"decimal comma of texts, not of numbers", func(p *series.Profile) { p.Decimal = "," }, [][]Cell{{Float(0.5), {}, txt("5000,0"), Float(14)}}, "1@0.5 5 -10"},
		{"moments need no start", func(p *series.Profile) { p.Clock.Format = "" }, [][]Cell{{Moment(midnight + 7e6), {}, Fixed(5000, 0), {}}, {Wall(midnight + 8e6), {}, {}, {}}}, "1@7 5 -; 2@8 - -"},
		{"spans", nil, [][]Cell{{Span(90e6), {}, Float(5000), {}}}, "1@90 5 -"},
		{"missing marks", func(p *series.Profile) { p.Missing, p.Columns[1].Missing = []string{"--", "-1", "NaN"}, []float64{255} },
			[][]Cell{{Float(0), {}, txt("--"), Float(255)}, {Float(1), {}, Float(-1), txt("255")}, {Float(2), {}, Float(math.NaN()), Fixed(-1, 2)}}, "1@0 - -; 2@1 - -; 3@2 - -"},
		{"inverted", func(p *series.Profile) { p.Columns[0].Invert = true }, [][]Cell{{Float(0), {}, Float(-5000), {}}}, "1@0 5 -"},
		{"two channels of one column", func(p *series.Profile) { p.Columns[1] = series.Column{Name: "P", Channel: "grid_power_kw", Unit: "kW"} }, [][]Cell{{Float(0), {}, Float(5), {}}}, "1@0 0.005 5"},
		{"any order", func(p *series.Profile) { p.Order = "any" }, [][]Cell{{Float(1), {}, {}, {}}, {Float(0), {}, {}, {}}}, "1@1 - -; 2@0 - -"},
		{"date and time, typed", func(p *series.Profile) { p.Clock = series.Clock{Column: "t", Date: "x", Format: "iso"} },
			[][]Cell{{Span(3e6), Wall(midnight), {}, {}}, {Wall(-25569*dayMicros + 4e6), Wall(midnight), {}, {}}, {txt("00:00:05"), Wall(midnight), {}, {}}, {Span(6e6), txt("2026-01-12"), {}, {}}}, "1@3 - -; 2@4 - -; 3@5 - -; 4@6 - -"},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := wide()
			if c.change != nil {
				c.change(p)
			}
			rows, r, l := read(t, p, names, c.records)
			if got := strings.Join(rows, "; "); l != nil || got != c.want || len(r.Aside) > 0 {
				t.Errorf("got %s %v %+v, want %s", got, l, r, c.want)
			}
		})
	}
}

func TestLong(t *testing.T) {
	names := []string{"t", "name", "v", "u"}
	rows, r, l := read(t, long(), names, [][]Cell{
		{Float(0), txt("P"), Float(5), txt("kW")},
		{Float(1), txt("P"), txt("5000"), {}},
		{Float(2), txt("rpm"), Float(900), txt("1/min")},
		{Float(3), txt("T"), Float(-10.5), txt("°C")},
		{Float(4), txt("T"), Float(-10), txt("kW")},
		{Float(5), txt("T"), {}, txt("°F")},
		{Float(6), txt("P"), Float(5), txt("kWs")},
		nil,
	})
	if got, want := strings.Join(rows, "; "), "1@0 5 -; 2@1 5 -; 3@2 - -; 4@3 - -10.5; 6@5 - -"; l != nil || got != want {
		t.Fatalf("got %s %v, want %s", got, l, want)
	}
	for i, want := range []string{
		`5:4 cell D5: T: unit "kW" does not measure temperature (the channel is kept in °C)`,
		`7:4 cell D7: P: unknown unit "kWs" (did you mean "kw"?)`,
		`8:1 no record ()`,
	} {
		if a := r.Aside[i]; fmt.Sprintf("%d:%d %s (%s)", a.Line, a.Col, a.Reason, a.Hint) != want {
			t.Errorf("got %+v, want %s", a, want)
		}
	}
	// P was written in whole W, the finer of its units; T in tenths of °C.
	if in := r.Instruments; in[0].Resolution != 1e-3 || in[0].Unit != "W" || in[1].Resolution != 0.1 || in[1].Unit != "°C" {
		t.Errorf("%+v", in)
	}

	for want, records := range map[string][][]Cell{
		`car.x: column "name" has no signal "Temp", which profiles/log.toml maps (it has: P, speed)`:      {{Float(0), txt("P"), {}, {}}, {Float(0), txt("speed"), {}, {}}},
		`car.x: column "name" has no signal "Temp", which profiles/log.toml maps (did you mean "Temp1"?)`: {{Float(0), txt("P"), {}, {}}, {Float(0), txt("Temp1"), {}, {}}},
		`car.x: the file has no rows (was the logger running?)`:                                           nil,
	} {
		p := long()
		p.Columns[1].Name = "Temp"
		if _, _, l := read(t, p, names, records); l.Error() != want {
			t.Errorf("got %s, want %s", l.Error(), want)
		}
	}
}

func TestSetAside(t *testing.T) {
	for _, c := range []struct {
		t, p, temp Cell
		want       string
	}{
		{Float(0), txt("5O00"), Cell{}, `1:2 cell B1: P: "5O00" is not a number (add it to missing in profiles/log.toml if it means "no value")`},
		{Float(0), Float(math.NaN()), Cell{}, `1:2 cell B1: P: "NaN" is not a number (add it to missing in profiles/log.toml if it means "no value")`},
		{Float(0), Single(float32(math.Inf(-1))), Cell{}, `1:2 cell B1: P: "-Inf" is not a number (add it to missing in profiles/log.toml if it means "no value")`},
		{Float(0), txt("1e999"), Cell{}, `1:2 cell B1: P: "1e999" is not a number (add it to missing in profiles/log.toml if it means "no value")`},
		{Float(0), txt("5,5"), Cell{}, `1:2 cell B1: P: "5,5" is not a number (is the decimal mark a comma? decimal = "," in profiles/log.toml)`},
		{Float(0), Float(5000), Float(999.5), `1:3 cell C1: T: 999.5 °F is outside what pack_temp_min_c can be, -60 to 90 °C (is the unit right in profiles/log.toml? a mark for "no value" goes into the column's missing)`},
		{Float(0), Moment(midnight), Cell{}, `1:2 cell B1: P: 2026-01-12T00:00:00Z is a time, not a number ()`},
		{Cell{}, Float(1), Cell{}, `1:1 cell A1: cannot read "" as a time (the clock counts in numbers)`},
		{Float(math.NaN()), Float(1), Cell{}, `1:1 cell A1: cannot read "NaN" as a time (the clock counts in numbers)`},
		{Moment(math.MaxInt64), Float(1), Cell{}, `1:1 cell A1: cannot read "294247-01-10T04:00:54.775807" as a time (the time lies outside 1900 to 2200; is the file's unit of time right?)`},
	} {
		rows, r, l := read(t, wide(), []string{"t", "P", "T"}, [][]Cell{{c.t, c.p, c.temp}, {Float(9), {}, {}}})
		if l != nil || len(r.Aside) != 1 || len(rows) != 1 {
			t.Errorf("%s: %v %v %+v", c.want, rows, l, r)
			continue
		}
		a := r.Aside[0]
		if got := fmt.Sprintf("%d:%d %s (%s)", a.Line, a.Col, a.Reason, a.Hint); got != c.want || a.Raw != "raw" {
			t.Errorf("got  %s\nwant %s", got, c.want)
		}
	}
	// A row that goes back is set aside, and the next is measured by the one kept.
	rows, r, _ := read(t, wide(), []string{"t", "P", "T"}, [][]Cell{{Float(5), {}, {}}, {Float(2.5), {}, {}}, {Float(4), {}, {}}, {Float(5), {}, {}}})
	if strings.Join(rows, "; ") != "1@5 - -; 4@5 - -" || r.Aside[0].Reason != "cell A2: time goes back by 2.5 s" {
		t.Errorf("%v %+v", rows, r.Aside)
	}
}

func TestRefused(t *testing.T) {
	for _, c := range []struct {
		names, want string
		change      func(*series.Profile)
	}{
		{"t P", `car.x:1: no column "T", which profiles/log.toml maps (it has: t, P)`, nil},
		{"t P temp_of_pack", `car.x:1: no column "temp_of_pak", which profiles/log.toml maps (did you mean "temp_of_pack"?)`, func(p *series.Profile) { p.Columns[1].Name = "temp_of_pak" }},
		{"t P T P", `car.x:1: column "P" stands twice in the header (the profile cannot tell which is meant)`, nil},
		{"t P T", `car.x: unknown clock format "elapsd" (did you mean "elapsed"?)`, func(p *series.Profile) { p.Clock.Format = "elapsd" }},
		{"t P T", `column "t" cannot be mapped twice: it is the clock's, or names the signal, its value or its unit`, func(p *series.Profile) { p.Columns[1].Name = "t" }},
		{"t P T", `the profile maps no column`, func(p *series.Profile) { p.Columns = nil }},
		{"t name v", `car.x:1: no column "u", which profiles/log.toml maps (it has: t, name, v)`, func(p *series.Profile) { *p = *long() }},
	} {
		p := wide()
		if c.change != nil {
			c.change(p)
		}
		if _, _, l := read(t, p, strings.Fields(c.names), nil); !strings.Contains(l.Error(), c.want) {
			t.Errorf("%s: got %q, want %q", c.names, l.Error(), c.want)
		}
	}
	if _, _, l := read(t, wide(), []string{"t", "P", "T"}, nil); l.Error() != "car.x: the file has no rows (was the logger running?)" {
		t.Error(l)
	}
}

// The last decimal of P is 0.5 W, written 4999.5: 0.1 W. 14.25 °F show
// hundredths, 0.01/1.8 K. Doubles carry noise in their last digits.
func TestInstruments(t *testing.T) {
	p := wide()
	p.Columns[1].UAbs = 1.8 // °F of difference: 1 K
	_, r, _ := read(t, p, []string{"t", "P", "T"}, [][]Cell{{Float(0), Float(5000), Single(14.25)}, {Float(1), Float(4999.500000000001), txt("14")}})
	if in := r.Instruments[0]; in.Channel != "charger_power_kw" || in.Column != "P" || in.Unit != "W" || in.Resolution != 1e-4 || in.URel != 0.01 {
		t.Errorf("%+v", in)
	}
	if in := r.Instruments[1]; math.Abs(in.Resolution-0.01/1.8) > 1e-15 || math.Abs(in.UAbs-1) > 1e-15 {
		t.Errorf("%+v", in)
	}
	p.Columns[0].Resolution = 10
	_, r, _ = read(t, p, []string{"t", "P", "T"}, [][]Cell{{Float(0), Fixed(5000, 3), {}}})
	if in := r.Instruments; in[0].Resolution != 0.01 || in[1].Resolution != 0 {
		t.Errorf("%+v", in)
	}
}

func TestDecimals(t *testing.T) {
	for _, c := range []struct {
		c    Cell
		want int
	}{
		{Float(0), 0}, {Float(-17), 0}, {Float(1e15), 0}, {Float(14.1), 1}, {Float(0.1 + 0.2), 1}, {Float(44784.981249999997), 5}, {Float(1.0 / 3), 12}, {Float(-3.333), 3},
		{Single(14.1), 1}, {Single(123456.7), 1}, {Single(16777216), 0}, {Single(-0.025), 3},
	} {
		precision := float64(doublePrecision)
		if c.c.decimals == ofSingle {
			precision = singlePrecision
		}
		if got := decimalsOf(c.c.num, 0, precision); got != c.want {
			t.Errorf("%s: %d decimals, want %d", c.c.Append(nil), got, c.want)
		}
	}
}

func TestReadNumber(t *testing.T) {
	for s, want := range map[string]string{"0": "0 0", "-0.50": "-0.5 2", "+7e2": "700 0", "1.25e-3": "0.00125 5", "3.": "3 0", ".5": "0.5 1",
		"": "no", "-": "no", ".": "no", "1e": "no", "1 2": "no", "NaN": "no", "Inf": "no", "1,000": "no", "0x1p3": "no", "1_0": "no", "1e1_0": "no", "1e400": "no", "1.2.3": "no"} {
		v, d, ok := readNumber([]byte(s), '.')
		got := "no"
		if ok {
			got = fmt.Sprintf("%g %d", v, d)
		}
		if got != want {
			t.Errorf("%q = %s, want %s", s, got, want)
		}
	}
	if v, d, ok := readNumber([]byte("-1,25"), ','); !ok || v != -1.25 || d != 2 {
		t.Error(v, d, ok)
	}
}
