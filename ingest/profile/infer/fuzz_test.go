package infer

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/pelletier/go-toml/v2"
	"github.com/rogpeppe/go-internal/txtar"

	"coldbench/ingest/series"
	"coldbench/warehouse/channel"
	"coldbench/warehouse/unit"
)

// FuzzText holds what must be true of any text: no panic; a profile that TOML
// reads back; channels that exist, each taken once, in units of theirs; a reason for
// everything.
func FuzzText(f *testing.F) {
	files, err := filepath.Glob("testdata/headers/*.txtar")
	if err != nil {
		f.Fatal(err)
	}
	for _, name := range files {
		ar, err := txtar.ParseFile(name)
		if err != nil {
			f.Fatal(err)
		}
		// A few rows: long seeds take long to be made small.
		rows := bytes.SplitAfterN(ar.Files[0].Data, []byte{'\n'}, 8)
		f.Add(bytes.Join(rows[:7], nil))
	}
	for _, s := range []string{"", "a,b\n1,2\n", "t;x\n0;NaN\n1;Inf\n", "\"a\n;", "time,soc\n1e999,5\n2,6\n", "a|\"b\x00\\|\n1|2\n", "\xff\xfea\x00", "(°C),[,]\n1,2\n", "when,\"so\"\"c\"\n01/02/03 1:2:3,1\n"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		if len(text) > 1<<16 {
			return
		}
		p, l := Text(text, "log")
		if l != nil {
			return
		}
		var got series.Profile
		if err := toml.NewDecoder(bytes.NewReader(p.TOML("x"))).DisallowUnknownFields().Decode(&got); err != nil {
			t.Fatalf("%v\n%s", err, p.TOML("x"))
		}
		if len(got.Columns) != len(p.Profile.Columns) {
			t.Errorf("wrote %d columns, read %d", len(p.Profile.Columns), len(got.Columns))
		}
		seen := map[string]bool{}
		for i, c := range p.Profile.Columns {
			if i < len(got.Columns) && (got.Columns[i].Name != c.Name || got.Columns[i].Channel != c.Channel) {
				t.Errorf("wrote %+v, read %+v", c, got.Columns[i])
			}
			ch, err := channel.Find(c.Channel)
			if err != nil || seen[c.Channel] {
				t.Errorf("%+v: %v, taken before: %v", c, err, seen[c.Channel])
				continue
			}
			seen[c.Channel] = true
			if _, err := unit.Between(c.Unit, ch.Unit); err != nil {
				t.Errorf("%+v: %v", c, err)
			}
			for _, m := range append([]float64{c.Resolution}, c.Missing...) {
				if math.IsNaN(m) || math.IsInf(m, 0) {
					t.Errorf("%+v", c)
				}
			}
		}
		for _, c := range p.Columns {
			if strings.TrimSpace(c.Reason) == "" {
				t.Errorf("no reason for %+v", c)
			}
		}
	})
}

// FuzzFile holds that no file of whatever kind makes it panic.
func FuzzFile(f *testing.F) {
	f.Add([]byte(`{"a":1}` + "\n" + `{"a":2}`))
	f.Add([]byte(`{"log":[{"t":0,"soc":1},{"t":1,"soc":2}]}`))
	f.Add([]byte(`[{"t":0,"x":[1,{"y":2}]}]`))
	f.Add([]byte("[1,2]"))
	f.Add([]byte("{"))
	f.Add([]byte("PK\x03\x04"))
	f.Add([]byte("PAR1"))
	f.Add([]byte("ARROW1\x00\x00"))
	f.Add([]byte("\x1f\x8b"))
	f.Fuzz(func(t *testing.T, data []byte) {
		name := filepath.Join(t.TempDir(), "log")
		if err := os.WriteFile(name, data, 0o644); err != nil {
			t.Fatal(err)
		}
		p, l, err := File(name, "log")
		if err != nil || l != nil {
			return
		}
		if _, _, err := p.Preview(name, 3); err != nil {
			t.Error(err)
		}
	})
}
