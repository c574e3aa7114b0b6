package delimited

import (
	"fmt"
	"strings"
	"testing"

	"coldbench/ingest/series"
)

// longProfile is logProfile with a row a value: its time, its signal, the value and
// its unit.
func longProfile() *series.Profile {
	p := logProfile()
	p.Layout, p.Signal, p.Value, p.Unit = "long", "id", "v", "u"
	return p
}

// A row of another signal, or without a value, is a row without one. A unit that a
// row names goes before the profile's. 14 °F is -10 °C (NIST SP 811, B.8).
func TestLong(t *testing.T) {
	const plain = "t,id,v,u\n0,P,5000,\n0,T,-10,°C\n1,P,5.5,kW\n2,door,shut,\n3,T,14,\n"
	const want = "2@0 5 -; 3@0 - -10; 4@1 5.5 -; 5@2 - -; 6@3 - -10"
	for _, c := range []struct {
		name, text string
		change     func(*series.Profile)
		want       string
	}{
		{"comma", plain, nil, want},
		{"tab, CRLF, no last line end", strings.NewReplacer(",", "\t", "\n", "\r\n").Replace(strings.TrimSpace(plain)), nil, want},
		{"other columns and order", "x;v;u;id;t\n?;5000,0;;P;0\n?;14;;T;1\n", func(p *series.Profile) { p.Decimal = "," }, "2@0 5 -; 3@1 - -10"},
		{"quotes", "t,id,v,u\n\"0\",\"P\",\"5000\",\"\"\n1,T,\"14\",\"\"\n", nil, "2@0 5 -; 3@1 - -10"},
		{"line end within quotes", "t,id,v,u,note\n0,P,5000,,\"a\n\"\"b\"\", c\"\n1,T,14,,\n", nil, "2@0 5 -; 4@1 - -10"},
		{"no unit column", "t,id,v\n0,P,5000\n1,T,14\n", func(p *series.Profile) { p.Unit = "" }, "2@0 5 -; 3@1 - -10"},
		{"header again, blank lines", "t,id,v,u\n0,P,5000,\n\nt,id,v,u\n1,T,14,\n", nil, "2@0 5 -; 5@1 - -10"},
		{"preamble", "logger 3\n\nt,id,v,u\n0,P,5000,\n1,T,14,\n", func(p *series.Profile) { p.HeaderRow = 3 }, "4@0 5 -; 5@1 - -10"},
		{"no header", "0;P;5000;\n1;T;14;°F\n", func(p *series.Profile) {
			p.HeaderRow, p.Delimiter, p.Clock.Column, p.Signal, p.Value, p.Unit = 0, ";", "1", "2", "3", "4"
		}, "1@0 5 -; 2@1 - -10"},
		{"missing values", "t,id,v,u\n0,P,--,\n1,T,255,\n2,T,14,\n", func(p *series.Profile) { p.Missing, p.Columns[1].Missing = []string{"--"}, []float64{255} }, "2@0 - -; 3@1 - -; 4@2 - -10"},
		{"a trailing delimiter", "t,id,v,u\n0,P,5000,,\n1,T,14,,\n", nil, "2@0 5 -; 3@1 - -10"},
		{"any order", "t,id,v,u\n1,P,5500,\n0,T,14,\n", func(p *series.Profile) { p.Order = "any" }, "2@1 5.5 -; 3@0 - -10"},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := longProfile()
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

// Many blocks: none of the rows between them is lost, and lines go on counting.
func TestLongBlocks(t *testing.T) {
	const n = 60000
	var b strings.Builder
	b.WriteString("t,id,v,u\n")
	for i := range n {
		fmt.Fprintf(&b, "%d,%s,%d,\n", i, []string{"P", "T"}[i%2], i%100)
	}
	rows, r, l := read(t, []byte(b.String()), longProfile())
	if l != nil || len(rows) != n || r.RowsRead != n || rows[n-1] != fmt.Sprintf("%d@%d - 37.2222", n+1, n-1) { // 99 °F, NIST SP 811, B.8
		t.Errorf("%v, %d rows, the last %s", l, len(rows), rows[len(rows)-1])
	}
}

func TestLongSetAside(t *testing.T) {
	for text, want := range map[string]string{
		"0,P\n":               `4:1 the row has 2 fields, the header 4 (was the logger cut off here?)`,
		"0,P,5O00,\n":         `4:5 P: "5O00" is not a number (add it to missing in profiles/log.toml if it means "no value")`,
		"0,P,Inf,\n":          `4:5 P: "Inf" is not a number (add it to missing in profiles/log.toml if it means "no value")`,
		"0,P,5,°C\n":          `4:7 P: unit "°C" does not measure power (the channel is kept in kW)`,
		"0,T,999,\n":          `4:5 T: 999 °F is outside what pack_temp_min_c can be, -60 to 90 °C (is the unit right in profiles/log.toml? a mark for "no value" goes into the column's missing)`,
		"x,P,5000,\n":         `4:1 cannot read "x" as a time (the clock counts in numbers)`,
		"-3,P,1,\n":           `4:1 time goes back by 3 s (order = "any" in profiles/log.toml has such rows sorted in)`,
		"0,\"P,5000,14\n3,P":  `4:3 a quote opens here and is not closed (was the logger cut off here?)`,
		"0,P,\"5\n0\",\n":     `4:5 P: "5\n0" is not a number (add it to missing in profiles/log.toml if it means "no value")`,
		"0,door,open,x,y,z\n": `4:1 the row has 6 fields, the header 4 (is a delimiter within a text without quotes?)`,
	} {
		_, r, l := read(t, []byte("t,id,v,u\n0,P,5000,\n0,T,14,\n"+text), longProfile())
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

func TestLongRefused(t *testing.T) {
	for _, c := range []struct {
		text, want string
		change     func(*series.Profile)
	}{
		{"", "car.csv: the file is empty (was the logger running?)", nil},
		{"t,id,v,u\n", "car.csv: the file has no rows (was the logger running?)", nil},
		{"t,id,value,u\n0,P,1,\n", `car.csv:1: no column "v", which profiles/log.toml maps (the header has: t, id, value, u)`, nil},
		{"t,id,v,u\n0,P,1,\n0,Q,1,\n", `car.csv: column "id" has no signal "T", which profiles/log.toml maps (it has: P, Q)`, nil},
		{"0;P;1\n", `car.csv:1: no column "4", which profiles/log.toml maps`, func(p *series.Profile) {
			p.HeaderRow, p.Delimiter, p.Clock.Column, p.Signal, p.Value, p.Unit = 0, ";", "1", "2", "3", "4"
		}},
	} {
		p := longProfile()
		if c.change != nil {
			c.change(p)
		}
		_, _, l := read(t, []byte(c.text), p)
		if l == nil || !strings.HasPrefix(l.Error(), c.want) {
			t.Errorf("%q: got %v, want %s", c.text, l, c.want)
		}
	}
}
