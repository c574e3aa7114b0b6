package ocpp

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/pelletier/go-toml/v2"

	"coldbench/ingest/series"
	"coldbench/ingest/source"
	"coldbench/warehouse/diag"
)

func input(t testing.TB, text string) source.Input {
	t.Helper()
	name := filepath.Join(t.TempDir(), "x")
	if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return source.Input{Path: name, Shown: "x", Session: &series.Session{}, Location: time.UTC}
}

// read gives each row as "line time channel=value ...", and the report.
func read(t testing.TB, in source.Input) ([]string, *source.Report, diag.List) {
	t.Helper()
	rdr, l, err := Kind().Open(in)
	if err != nil {
		t.Fatal(err)
	}
	if l != nil {
		return nil, nil, l
	}
	defer rdr.Release()
	var rows []string
	for rdr.Next() {
		rec := rdr.Record()
		for i := range int(rec.NumRows()) {
			at := time.UnixMicro(int64(rec.Column(1).(*array.Timestamp).Value(i))).UTC()
			s := fmt.Sprintf("%d %s", rec.Column(0).(*array.Int64).Value(i), at.Format("15:04:05"))
			for c := range channelCount {
				if col := rec.Column(2 + c).(*array.Float64); col.IsValid(i) {
					if math.IsNaN(col.Value(i)) || math.IsInf(col.Value(i), 0) {
						t.Errorf("row %s: %s is %g", s, channelNames[c], col.Value(i))
					}
					s += " " + channelNames[c] + "=" + strconv.FormatFloat(math.Round(col.Value(i)*1e6)/1e6, 'f', -1, 64)
				}
			}
			rows = append(rows, s)
		}
	}
	if rdr.Err() != nil {
		t.Fatal(rdr.Err())
	}
	r := rdr.Report()
	if r.RowsRead != r.RowsKept+int64(len(r.Aside)) || int(r.RowsKept) != len(rows) || r.Unsorted {
		t.Errorf("%d read, %d kept, %d set aside, %d handed out, unsorted %v", r.RowsRead, r.RowsKept, len(r.Aside), len(rows), r.Unsorted)
	}
	return rows, r, nil
}

func events(r *source.Report) []string {
	var out []string
	for _, e := range r.Events {
		out = append(out, fmt.Sprintf("%d %s %g %s %s", e.Line, e.At.Format("15:04:05.0"), e.WidthS, e.Kind, e.Text))
	}
	return out
}

func asides(r *source.Report) []string {
	var out []string
	for _, a := range r.Aside {
		out = append(out, fmt.Sprintf("%d:%d %s", a.Line, a.Col, a.Reason))
	}
	return out
}

func same(t *testing.T, what string, got, want []string) {
	t.Helper()
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("%s: got\n%s\nwant\n%s", what, strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

func fixture(t *testing.T, name string) source.Input {
	return source.Input{Path: filepath.Join("testdata", name), Shown: name, Session: &series.Session{}, Location: time.UTC}
}

// Source of the fields' meanings: the OCPP 2.0.1 schemas in testdata. 4, kWh is
// 4, Wh, multiplier 3: both are 4 kWh. Connector 0 is the charger's main meter.
func TestSession201(t *testing.T) {
	rows, r, l := read(t, fixture(t, "session-2.0.1.json"))
	if l != nil {
		t.Fatal(l)
	}
	same(t, "rows", rows, []string{
		"2 06:00:00",
		"3 06:00:00", // an answer has no time: that of the message before
		"4 06:00:01",
		"5 06:00:01",
		"6 06:00:20",
		"7 06:00:45",
		"16 06:01:00 charger_energy_kwh=4 charger_voltage_v=380.5 charger_current_a=11", // sent late
		"8 06:02:00 charger_power_kw=4.4 charger_energy_kwh=4 charger_limit_kw=50 grid_power_kw=5 soc_charger_pct=13",
		"21 06:05:00",
		"22 06:06:00",
		"23 06:07:00 grid_energy_kwh=90.21",
		"24 06:07:00",
		"25 06:30:00",
		"26 06:30:05",
	})
	same(t, "events", events(r), []string{
		"2 06:00:00.0 1 note Occupied",
		"4 06:00:01.0 1 plug-in CablePluggedIn",
		"4 06:00:01.0 1 note EVConnected",
		"6 06:00:20.0 1 authorised Authorized",
		"7 06:00:45.0 1 charge-start Charging",
		"21 06:05:00.0 1 charge-stop SuspendedEV: the charger offers energy, the car takes none",
		"22 06:06:00.0 1 charge-start Charging",
		"25 06:30:00.0 1 charge-stop EVDeparted",
		"25 06:30:00.0 1 unplug EVDeparted",
	})
	same(t, "asides", asides(r), nil)
	var got []string
	for _, in := range r.Instruments {
		got = append(got, fmt.Sprintf("%s %s %s %.6g", in.Channel, in.Column, in.Unit, in.Resolution))
	}
	same(t, "instruments", got, []string{
		"charger_power_kw Power.Active.Import Outlet kW 0.1",
		"charger_energy_kwh Energy.Active.Import.Register Wh 1",
		"charger_voltage_v Voltage V 0.1",
		"charger_current_a Current.Import A 1",
		"charger_limit_kw Power.Offered kW 1",
		"grid_power_kw Power.Active.Import Inlet W 1",
		"grid_energy_kwh Energy.Active.Import.Register Wh 0.001",
		"soc_charger_pct SoC EV Percent 1",
	})
}

// The value is a string in 1.6; +01:00 is an hour less in UTC; 14 °F is -10 °C
// (NIST SP 811, B.8); the phases L1 and L3 are 1.25 + 1.5 = 2.75 kW.
func TestSession16(t *testing.T) {
	rows, r, l := read(t, fixture(t, "session-1.6.jsonl"))
	if l != nil {
		t.Fatal(l)
	}
	same(t, "rows", rows, []string{
		"1 06:00:00",
		"2 06:00:00",
		"3 06:00:20",
		"4 06:00:21",
		"5 06:00:40 charger_energy_kwh=3",
		"6 06:00:42",
		"7 06:00:45",
		"8 06:01:00 charger_power_kw=1.83 charger_energy_kwh=3.02 soc_charger_pct=12",
		"8 06:02:00 charger_power_kw=2.75 charger_energy_kwh=3.055 charger_temp_c=-10",
		"9 06:04:00",
		"10 06:05:00",
		"11 06:20:00 charger_energy_kwh=4.1",
		"11 06:20:00 charger_energy_kwh=4.1",
		"12 06:20:05",
		"13 06:22:00",
	})
	// Preparing is no clean plug-in: the cable came between 06:00:00.2 and the
	// transaction at 06:00:40.
	same(t, "events", events(r), []string{
		"1 06:00:00.2 1 note Preparing: a card, a cable or a bay",
		"1 06:00:20.1 39.8 plug-in Preparing: a card, a cable or a bay, and some time later a cable",
		"4 06:00:21.0 1 authorised Authorize: Accepted",
		"7 06:00:45.0 1 charge-start Charging",
		"9 06:04:00.0 1 charge-stop SuspendedEVSE: the charger offers none",
		"13 06:22:00.0 1 unplug Available",
	})
	same(t, "asides", asides(r), nil)

	// Whoever writes notes, or states the plug-in, knows better.
	in := fixture(t, "session-1.6.jsonl")
	in.Session = &series.Session{Sources: []series.Source{{File: "notes.txt", Kind: "notes"}}}
	stated := fixture(t, "session-1.6.jsonl")
	stated.Session = &series.Session{PlugIn: toml.LocalDateTime{LocalDate: toml.LocalDate{Year: 2026, Month: 1, Day: 12}}}
	for _, in := range []source.Input{in, stated} {
		_, r, _ = read(t, in)
		for _, e := range r.Events {
			if e.Kind == "plug-in" {
				t.Errorf("a plug-in: %+v", e)
			}
		}
	}
}

func mv(connector int, at, samples string) string {
	return fmt.Sprintf(`[2,"","MeterValues",{"connectorId":%d,"meterValue":[{"timestamp":"2026-01-12T%sZ","sampledValue":[%s]}]}]`, connector, at, samples)
}

func TestSamples(t *testing.T) {
	for _, c := range []struct{ samples, want string }{
		{`{"value":"1830","measurand":"Power.Active.Import"}`, "charger_power_kw=1.83"},
		{`{"value":" 1830 ","mesurand":"Power.Active.Import","unit":"W"}`, "charger_power_kw=1.83"},
		{`{"value":1.83e3,"measurand":"Power.Active.Import","unit":"W"}`, "charger_power_kw=1.83"},
		{`{"value":"500","measurand":"Power.Active.Import"},{"value":"200","measurand":"Power.Active.Export"}`, "charger_power_kw=0.3"},
		{`{"value":"200","measurand":"Power.Active.Export"}`, "charger_power_kw=-0.2"},
		{`{"value":"0","measurand":"Power.Active.Export"}`, ""},
		// The overall value counts, if there is one beside the phases.
		{`{"value":"3","measurand":"Power.Active.Import","unit":"kW"},{"value":"1","measurand":"Power.Active.Import","unit":"kW","phase":"L1"}`, "charger_power_kw=3"},
		// 3 x 230 V x 16 A = 11.04 kW: voltages are averaged, currents summed.
		{phased("Voltage", "230", "L1-N", "L2-N", "L3-N") + "," + phased("Current.Import", "16", "L1", "L2", "L3", "N"), "charger_voltage_v=230 charger_current_a=48"},
		// 400 V / sqrt(3) = 230.940108 V.
		{phased("Voltage", "400", "L1-L2", "L2-L3", "L3-L1"), "charger_voltage_v=230.940108"},
		// Of two places on the car's side the outlet counts.
		{`{"value":"9","measurand":"Current.Import","location":"EV"},{"value":"10","measurand":"Current.Import"},{"value":"11","measurand":"Current.Import","location":"Cable"}`, "charger_current_a=10"},
		{`{"value":"9","measurand":"Current.Import","location":"EV"}`, "charger_current_a=9"},
		{`{"value":"9","measurand":"Current.Import","location":"Inlet"}`, ""},
		{`{"value":"9","measurand":"Current.Import","location":"Body"}`, "charger_current_a=9"},
		{`{"value":"9","measurand":"Current.Import","location":"Body"},{"value":"8","measurand":"Current.Import","location":"Cable"}`, "charger_current_a=8"},
		// A charger of one phase that has all three in its messages.
		{`{"value":"225.10","measurand":"Voltage","phase":"L1-N"},` + phased("Voltage", "0.00", "L2-N", "L3-N"), "charger_voltage_v=225.1"},
		{phased("Voltage", "0.00", "L1-N", "L2-N", "L3-N"), "charger_voltage_v=0"},
		{`{"value":"12","unit":"A"}`, `aside 1:1 Energy.Active.Import.Register: unit "A" does not measure energy`},
		{`{"value":"32","measurand":"Current.Offered","unit":"A"}`, "charger_limit_a=32"},
		{`{"value":"263.15","measurand":"Temperature","unit":"K","location":"Body"}`, "charger_temp_c=-10"},
		{`{"value":"-10","measurand":"Temperature","unit":"Celcius","location":"Outlet"}`, "charger_temp_c=-10"},
		{`{"value":"-10","measurand":"Temperature","unit":"Celsius","location":"EV"}`, ""},
		{`{"value":"7","unit":"kWh","location":"Inlet"}`, "grid_energy_kwh=7"},
		{`{"value":"AbC=","format":"SignedData"},{"value":"7000"}`, "charger_energy_kwh=7"},
		{`{"value":50,"measurand":"SoC","unitOfMeasure":{"unit":"Wh"}}`, "soc_charger_pct=50"}, // the schema's default, written out
		{`{"value":"1","measurand":"Power.Reactive.Import","unit":"kvar"}`, ""},
		{`{"value":"NaN","measurand":"Power.Active.Import"}`, `aside 1:1 Power.Active.Import: "NaN" is not a number`},
		{`{"value":"0x10","measurand":"SoC"}`, `aside 1:1 SoC: "0x10" is not a number`},
		{`{"measurand":"SoC"}`, `aside 1:1 SoC: nothing is not a number`},
		{`{"value":"1e999","measurand":"SoC"}`, `aside 1:1 SoC: "1e999" is not a number`},
		{`{"value":"12,5","measurand":"SoC"}`, `aside 1:1 SoC: "12,5" is not a number`},
		{`{"value":"1","measurand":"Power.Active.Import","unit":"Wh"}`, `aside 1:1 Power.Active.Import: unit "Wh" does not measure power`},
		{`{"value":"101","measurand":"SoC"}`, "aside 1:1 101 % is outside what soc_charger_pct can be, 0 to 100 %"},
		{`{"value":1,"measurand":"SoC","unitOfMeasure":{"multiplier":400}}`, "aside 1:1 SoC: 1 is not a number"},
		{`{"value":1,"measurand":5}`, "aside 1:1 cannot read the meter value: sampledValue.measurand is a JSON number"},
	} {
		rows, r, l := read(t, input(t, mv(1, "06:00:00", c.samples)))
		if l != nil {
			t.Fatal(l)
		}
		got := ""
		if len(rows) == 1 {
			got = strings.TrimSpace(strings.TrimPrefix(rows[0], "1 06:00:00"))
		}
		if a := asides(r); len(a) == 1 {
			got += "aside " + a[0]
		}
		if got != c.want {
			t.Errorf("%s: got %q, want %q", c.samples, got, c.want)
		}
	}
}

func phased(measurand, value string, phases ...string) string {
	var out []string
	for _, p := range phases {
		out = append(out, fmt.Sprintf(`{"value":%q,"measurand":%q,"phase":%q}`, value, measurand, p))
	}
	return strings.Join(out, ",")
}

// 100 + 200 + 300 Wh make a register of 0.1, 0.3 and 0.6 kWh in order of time;
// the clock's intervals hold the same energy again, and so does a moment that is
// sent twice.
func TestIntervals(t *testing.T) {
	energy := func(at, value, context string) string {
		return mv(1, at, fmt.Sprintf(`{"value":%q,"measurand":"Energy.Active.Import.Interval","unit":"Wh","context":%q}`, value, context))
	}
	lines := []string{energy("06:03:00", "300", "Sample.Periodic"), energy("06:01:00", "100", "Sample.Periodic"), energy("06:02:00", "200", "Sample.Periodic"),
		energy("06:02:00", "200", "Sample.Periodic"), energy("06:02:30", "500", "Sample.Clock")}
	rows, _, _ := read(t, input(t, strings.Join(lines, "\n")))
	same(t, "rows", rows, []string{"2 06:01:00 charger_energy_kwh=0.1", "3 06:02:00 charger_energy_kwh=0.3", "4 06:02:00", "5 06:02:30", "1 06:03:00 charger_energy_kwh=0.6"})
	rows, _, _ = read(t, input(t, lines[4]))
	same(t, "only the clock's", rows, []string{"1 06:02:30 charger_energy_kwh=0.5"})
	rows, _, _ = read(t, input(t, lines[0]+"\n"+mv(1, "06:04:00", `{"value":"9000"}`)))
	same(t, "a register beside", rows, []string{"1 06:03:00", "2 06:04:00 charger_energy_kwh=9"})
	_, r, _ := read(t, input(t, energy("06:03:00", "-1", "Sample.Periodic")))
	same(t, "negative", asides(r), []string{"1:1 an interval's energy of -0.001 kWh is negative"})
}

func TestShapes(t *testing.T) {
	p := `{"connectorId":1,"meterValue":[{"timestamp":"2026-01-12T06:00:00Z","sampledValue":[{"value":"1000"}]}]}`
	frame := `[2,"x","MeterValues",` + p + `]`
	row := "06:00:00 charger_energy_kwh=1"
	for _, c := range []struct{ name, text, want string }{
		{"one frame", frame, "1 " + row},
		{"a line", "\ufeff\n" + frame + ",\r\n", "2 " + row},
		{"an array", "\n[\n" + frame + "]", "3 " + row},
		{"an array of objects", "[" + `{"action":"MeterValues","payload":` + p + `}` + "]", "1 " + row},
		{"action and payload", `{"action":"MeterValues","payload":` + p + `}`, "1 " + row},
		{"flat", `{"action":"MeterValues",` + p[1:], "1 " + row},
		{"in an object", `{"time":1768197600,"frame":` + frame + `}`, "1 " + row},
		{"as a string", `{"time":1768197600,"frame":` + strconv.Quote(frame) + `}`, "1 " + row},
		{"an empty array", "[]", ""},
		{"cut off", "[\n" + frame + ",\n" + frame[:20], "2 " + row + " aside 3:1 the array breaks off here"},
		{"broken", "[" + frame + ",nonsense]", "1 " + row + " aside 1:" + fmt.Sprint(len(frame)+3) + " cannot read the rest of the array as JSON"},
		{"more behind", "[" + frame + "] x", "1 " + row + " aside 1:" + fmt.Sprint(len(frame)+4) + " there is more behind the array"},
		{"a bad line", "nonsense\n" + frame, "2 " + row + " aside 1:1 cannot read the message as JSON"},
		{"twice", frame + "\n" + frame, "1 " + row + " aside 2:1 the message of line 1 again"},
		{"no frame", `[2,"x","MeterValues"]`, " aside 1:1 a frame of 3 parts that starts with 2 is none that OCPP-J knows"},
		{"no message", `{"x":1}`, " aside 1:1 the object has neither a message nor an action"},
		{"message within message", `{"message":{"message":1}}`, " aside 1:1 the object has neither a message nor an action"},
		{"nothing in it", `{"message":5}`, " aside 1:1 there is no message in it"},
		{"bad time", strings.Replace(frame, "T06", "T26", 1), ` aside 1:1 cannot read "2026-01-12T26:00:00Z" as a time`},
		{"bad payload", `[2,"x","MeterValues",[]]`, " aside 1:1 cannot read the payload of MeterValues: it is a JSON array"},
		{"no time at all", `[3,"x",{}]`, " aside 1:1 nothing tells when the message was sent"},
		{"time later on", `[3,"w",{}]` + "\n" + frame, "1 06:00:00 2 " + row},
		{"time before", frame + "\n" + `[3,"w",{}]`, "1 " + row + " 2 06:00:00"},
		{"no timestamp", `[2,"x","StatusNotification",{"connectorId":1,"errorCode":"NoError","status":"Charging"}]`, " aside 1:1 StatusNotification has no timestamp"},
		{"time of receipt", `{"time":1768197600000,"frame":[2,"x","StatusNotification",{"connectorId":1,"errorCode":"NoError","status":"Charging"}]}`, "1 06:00:00"},
		{"bad receipt", `{"time":"soon","frame":[2,"x","Heartbeat",{}]}`, ` aside 1:1 cannot read "soon" as a time`},
	} {
		rows, r, l := read(t, input(t, c.text))
		if l != nil {
			t.Errorf("%s: %v", c.name, l)
			continue
		}
		got := strings.Join(rows, " ")
		for _, a := range asides(r) {
			got += " aside " + a
		}
		if got != c.want {
			t.Errorf("%s: got %q, want %q", c.name, got, c.want)
		}
	}
}

func TestConnectors(t *testing.T) {
	text := strings.Join([]string{
		`[2,"1","StartTransaction",{"connectorId":2,"idTag":"a","meterStart":5000,"timestamp":"2026-01-12T06:00:00Z"}]`,
		`[3,"1",{"transactionId":41,"idTagInfo":{"status":"Accepted"}}]`,
		mv(1, "06:01:00", `{"value":"1000"}`),
		mv(2, "06:02:00", `{"value":"6000"}`),
		mv(0, "06:03:00", `{"value":"9000"}`),
		`[2,"2","StopTransaction",{"transactionId":41,"meterStop":7000,"timestamp":"2026-01-12T06:04:00Z"}]`,
		`[2,"3","Heartbeat",{}]`,
	}, "\n")
	for _, c := range []struct {
		connector int
		want      []string
	}{
		{0, []string{"x: the file has messages of 2 connectors: 1, 2 (state connector = 1 at the session's source)"}},
		{3, []string{"x has no message of connector 3 (it has messages of 1, 2)"}},
		// The charger's main meter serves both connectors, so it is neither's.
		{1, []string{"3 06:01:00 charger_energy_kwh=1", "5 06:03:00", "7 06:03:00"}},
		{2, []string{"1 06:00:00 charger_energy_kwh=5", "2 06:00:00", "4 06:02:00 charger_energy_kwh=6", "5 06:03:00", "6 06:04:00 charger_energy_kwh=7", "7 06:04:00"}},
	} {
		in := input(t, text)
		in.Source.Connector = c.connector
		rows, _, l := read(t, in)
		for _, d := range l {
			rows = append(rows, d.Error())
		}
		same(t, fmt.Sprint("connector ", c.connector), rows, c.want)
	}
	if _, _, l := read(t, input(t, " \n")); len(l) != 1 || !strings.Contains(l.Error(), "x: the file is empty") {
		t.Error(l)
	}
}

// FuzzReader holds that every row is accounted for and every number is one.
func FuzzReader(f *testing.F) {
	for _, name := range []string{"session-1.6.jsonl", "session-2.0.1.json"} {
		text, err := os.ReadFile(filepath.Join("testdata", name))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(string(text))
	}
	f.Add(mv(1, "06:00:00", `{"value":"1e308","measurand":"Voltage","phase":"L1"},{"value":"1e308","measurand":"Voltage","phase":"L2"}`))
	f.Add(`[[3,"x",{}],{"time":1e300,"frame":"[2]"}`)
	f.Fuzz(func(t *testing.T, text string) {
		if strings.HasPrefix(text, "\x1f\x8b") || strings.HasPrefix(text, "\x28\xb5") {
			return
		}
		_, r, l := read(t, input(t, text))
		if l != nil {
			return
		}
		for i, e := range r.Events {
			if i > 0 && e.At.Before(r.Events[i-1].At) || !(e.WidthS >= 1) {
				t.Errorf("event %d: %+v", i, e)
			}
		}
		for _, a := range r.Aside {
			if a.Line < 1 || a.Reason == "" {
				t.Errorf("%+v", a)
			}
		}
	})
}
