package channel

import (
	"math"
	"strings"
	"testing"

	"coldbench/warehouse/unit"
)

var suffixes = map[unit.Unit]string{
	unit.Kilowatt: "_kw", unit.KilowattHour: "_kwh", unit.Volt: "_v", unit.Ampere: "_a", unit.Celsius: "_c",
	unit.Percent: "_pct", unit.Kilometre: "_km", unit.KilometrePerHour: "_km_h", unit.Millimetre: "_mm",
}

func TestCatalogue(t *testing.T) {
	seen := map[string]bool{}
	for _, c := range All() {
		if seen[c.Name] {
			t.Errorf("%s stands twice", c.Name)
		}
		seen[c.Name] = true
		if suf := suffixes[c.Unit]; suf == "" || !strings.HasSuffix(c.Name, suf) {
			t.Errorf("%s does not end in its unit %s", c.Name, c.Unit)
		}
		if c.Min >= c.Max || c.HoldS <= 0 || c.Doc == "" {
			t.Errorf("%+v", c)
		}
		if c.Possible(math.NaN()) || c.Possible(math.Inf(1)) || !c.Possible(c.Min) {
			t.Errorf("%s takes what is no number, or refuses its own limit", c.Name)
		}
	}
}

func TestFind(t *testing.T) {
	if _, err := Find("pack_powr_kw"); err == nil || err.Error() != `unknown channel "pack_powr_kw" (did you mean "pack_power_kw"?)` {
		t.Errorf("got %v", err)
	}
}

func TestSchemaMatchesColumns(t *testing.T) {
	s := Schema(All())
	if got, want := len(s.Fields())-2, strings.Count(Columns(), " double"); got != want {
		t.Errorf("schema has %d channels, DDL %d", got, want)
	}
}
