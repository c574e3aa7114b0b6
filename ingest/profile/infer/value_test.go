package infer

import (
	"fmt"
	"strings"
	"testing"
)

// charge is a log of a charge, a row every 30 s: what each column holds at row i
// of n.
func charge(n int, names []string, value func(i int) []any) string {
	var b strings.Builder
	b.WriteString("time (s);" + strings.Join(names, ";") + "\n")
	for i := range n {
		fmt.Fprintf(&b, "%d", 30*i)
		for _, v := range value(i) {
			fmt.Fprintf(&b, ";%v", v)
		}
		b.WriteString("\n")
	}
	return b.String()
}

func find(t *testing.T, p *Proposal, name string) Column {
	t.Helper()
	for _, c := range p.Columns {
		if c.Name == name {
			return c
		}
	}
	t.Fatalf("no column %q", name)
	return Column{}
}

func TestSign(t *testing.T) {
	for _, c := range []struct {
		what, name    string
		soc, power    func(i int) any
		invert, taken bool
		says          string
	}{
		{"charging is positive", "Pack Power (kW)", func(i int) any { return 10 + i }, func(i int) any { return 20 + i%3 }, false, true, "positive when that rises"},
		{"charging is negative", "Pack Power (kW)", func(i int) any { return 10 + i }, func(i int) any { return -20 - i%3 }, true, true, "negative when that rises"},
		// A drive: the charge falls while power is positive.
		{"driving is positive", "Pack Power (kW)", func(i int) any { return 80 - i }, func(i int) any { return 20 + i%3 }, true, true, "negative when that rises"},
		{"nothing rises, both signs", "Pack Power (kW)", func(int) any { return 40 }, func(i int) any { return 5 - i%9 }, false, false, "nothing in the log shows"},
		{"nothing rises, all negative", "Pack Power (kW)", func(int) any { return 40 }, func(i int) any { return -5 - i%9 }, false, false, "never is positive"},
		{"nothing rises, all positive", "Pack Power (kW)", func(int) any { return 40 }, func(i int) any { return 5 + i%9 }, false, true, "taken to count into the pack"},
		{"as often one as the other", "Pack Power (kW)", func(i int) any { return 10 + i }, func(i int) any { return 20 - i%2*40 }, false, false, "nothing in the log shows"},
		{"a charger gives", "Charger Power (kW)", func(int) any { return 40 }, func(i int) any { return -5 - i%9 }, true, true, "a charger gives power"},
		{"zero", "Pack Power (kW)", func(int) any { return 40 }, func(int) any { return 0 }, false, true, "zero throughout"},
	} {
		p := propose(t, charge(30, []string{"SoC Displayed (%)", c.name}, func(i int) []any { return []any{c.soc(i), c.power(i)} }))
		got := find(t, p, c.name)
		if got.Invert != c.invert || got.Taken() != c.taken || !strings.Contains(got.Sign, c.says) {
			t.Errorf("%s: inverted %v, taken %v: %s", c.what, got.Invert, got.Taken(), got.Sign)
		}
		if asked := strings.Contains(strings.Join(p.Questions, "\n"), "does it count charging as positive"); asked == c.taken {
			t.Errorf("%s: questions %q", c.what, p.Questions)
		}
	}
}

// Two columns for one channel: neither is taken, both are written with the question.
func TestContest(t *testing.T) {
	p := propose(t, charge(20, []string{"Pack Voltage (V)", "HV Battery Voltage (V)", "SoC Displayed (%)"}, func(i int) []any { return []any{350 + i, 349 + i, 10 + i} }))
	for _, name := range []string{"Pack Voltage (V)", "HV Battery Voltage (V)"} {
		if c := find(t, p, name); c.Taken() || c.Channel != "pack_voltage_v" {
			t.Errorf("%+v", c)
		}
		if text := string(p.TOML("x")); !strings.Contains(text, "\n# name = \""+name+"\"\n") || strings.Contains(text, "\nname = \""+name+"\"\n") {
			t.Errorf("%q is not commented out:\n%s", name, text)
		}
	}
	if len(p.Profile.Columns) != 1 || len(p.Questions) != 1 || !strings.Contains(p.Questions[0], "could each be it") {
		t.Errorf("%d columns, questions %q", len(p.Profile.Columns), p.Questions)
	}
}

func TestMissing(t *testing.T) {
	names := []string{"SoC Displayed (%)", "Battery Temp Min (°C)", "Battery Temp Max (°C)", "Heater Power (W)"}
	p := propose(t, charge(40, names, func(i int) []any {
		row := []any{10 + i, -20.5 + float64(i)/2, -19.5 + float64(i)/2, 5000}
		switch {
		case i == 5 || i == 6:
			row[0] = 255 // all bits set, and no percentage
		case i == 7:
			row[1] = "n/a"
		case i < 3:
			row[2] = -60 // possible, but far from all others
		case i == 9:
			row[3] = "off"
		}
		return row
	}))
	if got := p.Profile.Missing; len(got) != 1 || got[0] != "n/a" {
		t.Errorf("missing texts %q", got)
	}
	if c := find(t, p, names[0]); len(c.Missing) != 1 || c.Missing[0] != 255 || c.Channel != "soc_pct" {
		t.Errorf("255 %%: %+v", c)
	}
	if q := strings.Join(p.Questions, "\n"); !strings.Contains(q, `column "Heater Power (W)" holds texts beside its numbers, such as "off"`) {
		t.Errorf("questions %q", q)
	}
	// -40 may be what a sensor says before it answers: it is possible, so it is asked.
	p = propose(t, charge(40, names[:2], func(i int) []any {
		row := []any{10 + i, -10 + i/4}
		if i < 3 {
			row[1] = -40
		}
		return row
	}))
	if c := find(t, p, names[1]); len(c.Missing) > 0 || !strings.Contains(strings.Join(p.Questions, "\n"), "is -40 in 3 rows") {
		t.Errorf("-40 °C: %+v, questions %q", c, p.Questions)
	}
}

// Where a name states no unit, values tell it, or what the other columns state.
func TestUnitByValues(t *testing.T) {
	for _, c := range []struct {
		name    string
		value   func(i int) any
		channel string
		unit    string
	}{
		{"Battery Temp Min", func(i int) any { return -20 + i }, "pack_temp_min_c", "°C"},
		{"Battery Temp Min", func(i int) any { return 250 + i }, "pack_temp_min_c", "kelvin"},
		{"Battery Temp Min", func(i int) any { return 45 + i }, "pack_temp_min_c", "°F"}, // to 84
		{"Battery Voltage", func(i int) any { return 350 + i }, "pack_voltage_v", "V"},
		{"Battery Voltage", func(i int) any { return 350000 + i }, "pack_voltage_v", "mV"},
		{"Battery Power", func(i int) any { return 80.5 + float64(i) }, "pack_power_kw", "kW"},
		{"Battery Power", func(i int) any { return 80500 + i }, "pack_power_kw", "W"},
		{"Battery Energy In Total", func(i int) any { return 0.5 * float64(i) }, "pack_energy_kwh", "kWh"},
		{"Battery Energy In Total", func(i int) any { return 500 * i }, "pack_energy_kwh", "Wh"},
		{"Battery Voltage", func(i int) any { return 12.1 + float64(i)/100 }, "", ""},                    // the 12 V battery
		{"Battery Temp Min", func(i int) any { return 5000 + i }, "", ""},                                // no temperature at all
		{"Battery Energy Counter (kWh)", func(i int) any { return 40 - float64(i)/2 }, "", ""},           // falls
		{"SoC Displayed", func(i int) any { return fmt.Sprintf("0.%02d", 10+i) }, "soc_pct", "fraction"}, // within 0 and 1
		{"SoC Displayed (%)", func(i int) any { return fmt.Sprintf("%d.5", 10+i) }, "soc_pct", "%"},
		{"Battery Temp Max [K]", func(i int) any { return 260 + i }, "pack_temp_max_c", "kelvin"},
		{"Battery Temp Max (°F)", func(i int) any { return 10 + i }, "pack_temp_max_c", "°F"},
		{"Battery Power (kWh)", func(i int) any { return 10 + i }, "", ""},            // name and unit disagree
		{"Reichweite", func(i int) any { return 30 + i }, "range_km", "km"},           // German
		{"Battery Power", func(i int) any { return "text " + fmt.Sprint(i) }, "", ""}, // no numbers
		{"Wind (Beaufort)", func(i int) any { return 3 + i%2 }, "wind_km_h", "km/h"},  // low: asked
		{"Odometer", func(i int) any { return 10000 + i }, "odometer_km", "km"},       // low: km or mi
		{"Battery Current", func(i int) any { return -120000 - i }, "pack_current_a", "mA"},
		{"Battery Current (A)", func(i int) any { return "-" }, "pack_current_a", "A"}, // never filled
		{"Heater Power", func(i int) any { return 5800 + i }, "heater_power_kw", "W"},
		{"Charge Rate (km/h)", func(i int) any { return 300 + i }, "shown_rate_km_h", "km/h"},
		{"Charger Limit (A)", func(i int) any { return 400 }, "charger_limit_a", "A"},
		{"Außentemperatur in °C", func(i int) any { return -20 + float64(i)/10 }, "ambient_car_c", "°C"}, // low where nothing says it is a car's log
		{"Batterietemperatur (min) / °C", func(i int) any { return -20 + i }, "pack_temp_min_c", "°C"},
		{"Température batterie maximale en °C", func(i int) any { return -20 + i }, "pack_temp_max_c", "°C"},
	} {
		p := propose(t, charge(40, []string{"Pack Voltage Check", c.name}, func(i int) []any { return []any{"x", c.value(i)} }))
		got := find(t, p, c.name)
		if got.Channel != c.channel || got.Unit != c.unit {
			t.Errorf("%s: got %q in %q: %s", c.name, got.Channel, got.Unit, got.Reason)
		}
	}
}

// Columns whose names say nothing are only suggested: voltage and current by their
// product, the state of charge by its shape.
func TestNameless(t *testing.T) {
	text := charge(60, []string{"CH1", "CH2", "CH3", "CH4", "CH5"}, func(i int) []any {
		v, a := 340+float64(i), -50-2*float64(i)
		return []any{fmt.Sprintf("%.1f", v), fmt.Sprintf("%.1f", a), fmt.Sprintf("%.3f", v*a/1000), 8 + i/2, 17}
	})
	p := propose(t, text)
	for name, want := range map[string]string{"CH1": "pack_voltage_v", "CH2": "pack_current_a", "CH3": "pack_power_kw", "CH4": "soc_pct", "CH5": ""} {
		if c := find(t, p, name); c.Channel != want || c.Taken() {
			t.Errorf("%s: %+v", name, c)
		}
	}
	if len(p.Profile.Columns) != 0 || len(p.Questions) < 4 {
		t.Errorf("%d columns taken, questions %q", len(p.Profile.Columns), p.Questions)
	}
}

// A power without a place or a unit is the pack's, in W, if it is the pack's
// voltage times its current in W.
func TestProduct(t *testing.T) {
	p := propose(t, charge(30, []string{"SoC Displayed (%)", "Pack Voltage (V)", "Pack Current (A)", "Charge Power"}, func(i int) []any {
		v, a := 340+i, 20+5*i
		return []any{10 + i, v, a, v * a}
	}))
	if c := find(t, p, "Charge Power"); c.Channel != "pack_power_kw" || c.Unit != "W" || !c.Taken() {
		t.Errorf("%+v", c)
	}
	// One that states kW and is W is asked about.
	p = propose(t, charge(30, []string{"SoC Displayed (%)", "Pack Voltage (V)", "Pack Current (A)", "Pack Power (kW)"}, func(i int) []any {
		v, a := 340+i, float64(i%3)
		return []any{10 + i, v, a * 3, float64(v) * a * 3}
	}))
	if c := find(t, p, "Pack Power (kW)"); c.Taken() {
		t.Errorf("%+v", c)
	}
}
