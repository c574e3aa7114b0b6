package infer

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Of a log of more rows than are looked at, with six signals in turn, each signal is
// found, and the clock that counts milliseconds is not taken for one of seconds since six
// rows share a time.
func TestLongOfManyRows(t *testing.T) {
	var b bytes.Buffer
	b.WriteString("t,signal,value,unit\n")
	const times = 20000
	for i := range times {
		for k, s := range []struct{ name, unit string }{{"SoC displayed", "%"}, {"HV voltage", "V"}, {"HV current", "A"}, {"pack temp min", "°C"}, {"pack temp max", "°C"}, {"PTC heater power", "W"}} {
			v := []float64{8 + float64(i/300), 350, 40 + float64(i%3), -20 + float64(i/400), -18 + float64(i/400), 5000 - float64(i%7)}[k]
			fmt.Fprintf(&b, "%d,%s,%v,%s\n", 1000*i, s.name, v, s.unit)
		}
	}
	log := filepath.Join(t.TempDir(), "log")
	if err := os.WriteFile(log, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	p, l, err := File(log, "log")
	if err != nil || l != nil {
		t.Fatal(l, err)
	}
	got := map[string]bool{}
	for _, c := range p.Profile.Columns {
		got[c.Channel+" "+c.Unit] = true
	}
	for _, want := range strings.Split("soc_pct %, pack_voltage_v V, pack_current_a A, pack_temp_min_c °C, pack_temp_max_c °C, heater_power_kw W", ", ") {
		if !got[want] {
			t.Errorf("no %s among %v", want, got)
		}
	}
	if c := p.Profile.Clock; c.Format != "elapsed" || c.Unit != "ms" || p.Clock.Confidence < Fair {
		t.Errorf("clock %+v, %+v", c, p.Clock)
	}
	_, in := load(t, p, log)
	if kept, aside := count(t, in); kept != 6*times || len(aside) > 0 {
		t.Errorf("%d rows kept, %d set aside: %+v", kept, len(aside), aside[:min(1, len(aside))])
	}
}

// The rows that are kept of many are one of so many, and as evenly spread at any
// distance that a log's signals may take turns at.
func TestChosen(t *testing.T) {
	const rows = 1 << 20
	for _, step := range []int{1, 2, 8, 64} {
		for _, every := range []int{1, 2, 3, 6, 8, 64, 100} {
			n, all := 0, 0
			for row := every - 1; row < rows; row += every {
				if all++; chosen(row, step) {
					n++
				}
				if chosen(row, 2*step) && !chosen(row, step) {
					t.Fatalf("row %d is chosen of %d and not of %d", row, 2*step, step)
				}
			}
			if share := float64(n) * float64(step) / float64(all); share < 0.95 || share > 1.05 {
				t.Errorf("one of %d, of every row %d: %d of %d", step, every, n, all)
			}
		}
	}
}
