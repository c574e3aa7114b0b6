package canlog

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
	"github.com/klauspost/compress/zstd"

	"coldbench/ingest/series"
	"coldbench/ingest/source"
	"coldbench/warehouse/diag"
)

// signals is a DBC file of what logs are made of below.
const signals = `VERSION ""
NS_ :
	CM_
	BA_DEF_
BS_:
BU_: Car
BO_ 291 Pack: 8 Car
 SG_ Volts : 0|16@1+ (0.1,0) [0|0] "V" Vector__XXX
 SG_ Amps : 23|16@0- (0.1,0) [0|0] "A" Vector__XXX
 SG_ Charge : 39|10@0+ (0.1,0) [0|0] "%" Vector__XXX
 SG_ Limit : 52|12@1+ (100,0) [0|0] "W" Vector__XXX
BO_ 2566869221 Temps: 8 Car
 SG_ Page M : 0|4@1+ (1,0) [0|0] "" Vector__XXX
 SG_ Low m0 : 8|8@1- (0.5,0) [0|0] "degC" Vector__XXX
 SG_ High m1 : 8|8@1+ (0.5,-40) [0|0] "degC" Vector__XXX
 SG_ Other m2 : 8|8@1+ (1,0) [0|0] "degC" Vector__XXX
BO_ 768 Heater: 4 Car
 SG_ Heat : 0|32@1- (1,0) [0|0] "W" Vector__XXX
BO_ 512 Wide: 64 Car
 SG_ Far : 511|8@0+ (1,0) [0|0] "km/h" Vector__XXX
 SG_ Odd : 0|8@1+ (1,0) [0|0] "furlong" Vector__XXX
BO_ 513 Deep: 8 Car
 SG_ A M : 0|8@1+ (1,0) [0|0] "" Vector__XXX
 SG_ B m1M : 8|8@1+ (1,0) [0|0] "" Vector__XXX
 SG_ C m2 : 16|8@1+ (1,0) [0|0] "km" Vector__XXX
 SG_ Out : 60|8@1+ (1,0) [0|0] "km" Vector__XXX
BO_ 514 Beyond: 64 Car
 SG_ Out : 508|8@1+ (1,0) [0|0] "km" Vector__XXX
 SG_ None : 508|8@1+ (0,0) [0|0] "km" Vector__XXX
CM_ BO_ 291 "a remark that looks like a definition:
BO_ 291 Fake: 8 Car
";
SG_MUL_VAL_ 513 C B 2-2;
SIG_GROUP_ 291 All 1 : Volts Amps;
SIG_VALTYPE_ 768 Heat : 1;
`

// mapped is a [[column]] of a profile.
func mapped(name, channel, more string) string {
	return fmt.Sprintf("[[column]]\nname = %q\nchannel = %q\n%s\n", name, channel, more)
}

var allColumns = mapped("Pack.Volts", "pack_voltage_v", "missing = [6553.5]") + mapped("Pack.Amps", "pack_current_a", "invert = true") +
	mapped("Pack.Charge", "soc_pct", "") + mapped("Pack.Limit", "pack_limit_kw", "") +
	mapped("Temps.Low", "pack_temp_min_c", "") + mapped("Temps.High", "pack_temp_max_c", "") +
	mapped("Heater.Heat", "heater_power_kw", "") + mapped("Wide.Far", "speed_km_h", "")

// load writes a series with one log and gives the source as ingest would.
func load(t testing.TB, dbc, profile, src, log string) (source.Input, diag.List) {
	t.Helper()
	dir := t.TempDir()
	for name, text := range map[string]string{
		"series.toml": "title = \"x\"\n", "vehicles/car.toml": "name = \"Car\"\n", "profiles/can.dbc": dbc,
		"profiles/can.toml":       "title = \"x\"\nkind = \"canlog\"\ndbc = \"profiles/can.dbc\"\n" + profile,
		"sessions/s/session.toml": "vehicle = \"car\"\nprocedure = \"standby\"\nzone = \"UTC\"\n[[source]]\nfile = \"x.log\"\nprofile = \"can\"\n" + src,
		"sessions/s/x.log":        log,
	} {
		name = filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	s, l, err := series.Load(dir, []string{"canlog"})
	if err != nil {
		t.Fatal(err)
	}
	if l != nil {
		return source.Input{}, l
	}
	ses := s.Sessions[0]
	if ses.Problems != nil {
		t.Fatal(ses.Problems)
	}
	return source.Input{Path: filepath.Join(dir, "sessions/s/x.log"), Shown: "x.log", Profile: s.Profiles["can"], Session: ses, Source: ses.Sources[0], Location: time.UTC}, nil
}

// read gives each row as "line seconds channel=value ...", and the report.
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
			s := fmt.Sprintf("%d %s", rec.Column(0).(*array.Int64).Value(i), at.Format("05.000"))
			for c := 2; c < int(rec.NumCols()); c++ {
				if col := rec.Column(c).(*array.Float64); col.IsValid(i) {
					if math.IsNaN(col.Value(i)) || math.IsInf(col.Value(i), 0) {
						t.Errorf("row %s: %g", s, col.Value(i))
					}
					s += fmt.Sprintf(" %s=%s", rec.ColumnName(c), strconv.FormatFloat(math.Round(col.Value(i)*1e6)/1e6, 'f', -1, 64))
				}
			}
			rows = append(rows, s)
		}
	}
	if rdr.Err() != nil {
		t.Fatal(rdr.Err())
	}
	r := rdr.Report()
	if r.RowsRead != r.RowsKept+int64(len(r.Aside)) || int(r.RowsKept) != len(rows) {
		t.Errorf("%d read, %d kept, %d set aside, %d handed out", r.RowsRead, r.RowsKept, len(r.Aside), len(rows))
	}
	for _, a := range r.Aside {
		rows = append(rows, fmt.Sprintf("aside %d:%d %s", a.Line, a.Col, a.Reason))
	}
	return rows, r, nil
}

func same(t *testing.T, what string, got, want []string) {
	t.Helper()
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("%s: got\n%s\nwant\n%s", what, strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

// Worked out by hand from the frame A4 0F FF 38 C8 40 F1 02, bits numbered as in
// the package's signal.raw:
//
//	Volts  0|16@1+   bytes 0 and 1, the low one first: 0x0FA4 = 4004, 400.4 V
//	Amps   23|16@0-  bytes 2 and 3, the high one first: 0xFF38 = 65336 - 65536 = -200, -20 A
//	Charge 39|10@0+  byte 4, then the top two bits of byte 5: 11001000 01 = 801, 80.1 %
//	Limit  52|12@1+  bits 52 to 63: the top half of byte 6, 0xF, under byte 7, 0x02: 0x02F = 47, 4700 W
//
// The current counts the other way: 20 A into the pack. A page's temperature is
// there in its own frames only: 0xD8 = -40, -20 °C; 0x1E = 30, 15 - 40 = -25 °C.
// 0x447A0000 is 1000 as an IEEE 754 float.
var log = `(100.000000) can0 123#A40FFF38C840F102
(100.100000) can0 7FF#00
(100.200000) can0 123#FFFF0000C840F102
(100.300000) can0 18FF50E5#00D8000000000000
(100.400000) can0 18FF50E5#F11E000000000000
(100.500000) can0 18FF50E5#0264000000000000
(100.600000) can0 300#00007A44
(100.700000) can0 200##1` + zeros63 + `5A
(100.800000) can0 123#R8
(100.900000) can0 20000004#0000000000000000
(101.000000) can0 123#A40FFF38C840F1
(101.100000) can0 123#A40FFF38C8 R
(101.200000) can0 123#A40FFF38FFC0F102

(101.300000) can0 300#0000C07F
(101.400000) can0 300#0000807F
(101.500000) can0 300#00007A4
(101.6 can0 300#00007A44
(101.700000) can0 30#00007A44
(101.800000) can0
(101.900000) can0 18FF50E5#00
can0 300#00007A44
(soon) can0 300#00007A44
(101.000000) can0 300#00007A44
`

var zeros63 = strings.Repeat("00", 63)

var want = []string{
	"1 40.000 pack_voltage_v=400.4 pack_current_a=20 soc_pct=80.1 pack_limit_kw=4.7",
	"3 40.200 pack_current_a=0 soc_pct=80.1 pack_limit_kw=4.7",
	"4 40.300 pack_temp_min_c=-20",
	"5 40.400 pack_temp_max_c=-25",
	"7 40.600 heater_power_kw=1",
	"8 40.700 speed_km_h=90",
	"15 41.300", // a float that is no number is no value
	"aside 11:23 the frame has 7 bytes, Pack.Limit needs 8",
	"aside 12:23 the frame has 5 bytes, Pack.Charge needs 6",
	"aside 13:23 Pack.Charge: 102.3 % is outside what soc_pct can be, 0 to 100 %",
	"aside 16:23 Heater.Heat: +Inf kW is outside what heater_power_kw can be, 0 to 50 kW",
	"aside 17:29 cannot read the data as pairs of hexadecimals",
	"aside 18:1 the bracket of the time is not closed",
	"aside 19:19 cannot read the identifier, of 3 or 8 hexadecimals",
	"aside 20:18 the line holds no frame",
	"aside 21:28 the frame has 1 bytes, Temps.Low needs 2",
	"aside 22:1 the frame has no time",
	"aside 23:1 cannot read \"soon\" as a time",
	"aside 24:1 time goes back by 0.3 s",
}

func TestLog(t *testing.T) {
	in, l := load(t, signals, allColumns, "", log)
	if l != nil {
		t.Fatal(l)
	}
	rows, r, l := read(t, in)
	if l != nil {
		t.Fatal(l)
	}
	same(t, "rows", rows, want)
	if i := r.Instruments[0]; i.Column != "Pack.Volts" || i.Unit != "V" || i.Resolution != 0.1 || i.URel != 0.005 {
		t.Errorf("%+v", i)
	}
	// 100 W a step; a float has none; W from the DBC file, where the profile states no unit.
	if r.Instruments[3].Resolution != 0.1 || r.Instruments[6].Resolution != 0 || r.Instruments[6].Unit != "W" {
		t.Errorf("%+v", r.Instruments)
	}

	in, _ = load(t, signals, "order = \"any\"\n"+allColumns, "", log)
	rows, r, _ = read(t, in)
	if !r.Unsorted || len(rows) != len(want) || rows[7] != "24 41.000 heater_power_kw=1" {
		t.Errorf("order any: unsorted %v, %q", r.Unsorted, rows)
	}
}

func TestClocksAndColumns(t *testing.T) {
	heat := mapped("Heater.Heat", "heater_power_kw", "")
	for _, c := range []struct{ name, profile, source, log, want string }{
		{"columns", heat, "", " (100.5)  can0  300   [4]  00 00 7A 44\n", "1 40.500 heater_power_kw=1"},
		{"columns with ASCII", heat, "", " (100.5)  can0  300   [4]  00 00 7A 44   '..zD'\n", "1 40.500 heater_power_kw=1"},
		{"columns with flags", heat, "", " (100.5)  can0  RX - -  300   [4]  00 00 7A 44\n", "1 40.500 heater_power_kw=1"},
		{"FD in columns", heat, "", " (100.5)  can0  300  [04]  00 00 7A 44\r\n", "1 40.500 heater_power_kw=1"},
		{"dots", heat, "", "(100.5) can0 300#00.00.7A.44\n", "1 40.500 heater_power_kw=1"},
		{"a length code", heat, "", "(100.5) can0 300#00007A4400000000_9\n", "1 40.500 heater_power_kw=1"},
		{"cut off", heat, "", " (100.5)  can0  300   [4]  00 00 7A\n", "aside 1:28 the frame breaks off"},
		{"no length", heat, "", " (100.5)  can0  300   [x]  00 00 7A\n", "aside 1:23 cannot read the length"},
		{"no identifier", heat, "", " (100.5)  can0  [4]  00 00 7A\n", "aside 1:17 the frame has no identifier"},
		{"remote", heat, "", " (100.4)  can0  300   [0]  remote request\n(100.5) can0 300#00007A44\n", "2 40.500 heater_power_kw=1"},
		{"elapsed", "[clock]\nformat = \"elapsed\"\n" + heat, "start = 2026-01-12T20:00:05\n", " (000.000000) can0 7FF [1] 00\n (003.500000) can0 300 [4] 00 00 7A 44\n", "2 08.500 heater_power_kw=1"},
		// 0 + 1.5 + 2 s after the start.
		{"delta", "[clock]\nformat = \"delta\"\n" + heat, "start = 2026-01-12T20:00:05\noffset_s = 1\n",
			" (000.000000) can0 7FF [1] 00\n (001.500000) can0 7FF [1] 00\n (002.000000) can0 300 [4] 00 00 7A 44\n", "3 09.500 heater_power_kw=1"},
		{"dates", "[clock]\nformat = \"iso\"\n" + heat, "", " (2026-01-12 20:00:05.250000) can0 300 [4] 00 00 7A 44\n", "1 05.250 heater_power_kw=1"},
		{"offset", heat, "offset_s = -2.5\n", "(100.5) can0 300#00007A44\n", "1 38.000 heater_power_kw=1"},
		{"elapsed without start", "[clock]\nformat = \"elapsed\"\n" + heat, "", log, "sessions/s/session.toml:4:3: x.log: by profiles/can.toml the clock counts from an unknown start (at the source in session.toml state start = YYYY-MM-DDThh:mm:ss, the moment at which the clock showed 0)"},
		{"no such frame", heat, "", "(1.0) can0 123#00\n(1.0) can0 18FF50E5#00\n", "x.log: the log has no frame of a message that profiles/can.toml maps (it has frames of 123, 18FF50E5)"},
		{"empty", heat, "", "", "x.log: the file is empty (was the logger running?)"},
		{"another interface", heat, "", "(1.0) can0 300#00007A44\n(1.0) can1 300#00007A44\n", "1 01.000 heater_power_kw=1; aside 2:1 the message Heater is on can0 and on can1"},
		{"a long line", heat, "", "(1.0) can0 300#" + strings.Repeat("0", 100_000) + "\n(2.0) can0 300#00007A44\n", "2 02.000 heater_power_kw=1; aside 1:144 the frame has more than 64 bytes"},
	} {
		in, l := load(t, signals, c.profile, c.source, c.log)
		if l != nil {
			t.Errorf("%s: %v", c.name, l)
			continue
		}
		rows, _, l := read(t, in)
		for _, d := range l {
			rows = append(rows, d.Error())
		}
		if got := strings.Join(rows, "; "); got != c.want {
			t.Errorf("%s: got %q, want %q", c.name, got, c.want)
		}
	}
}

func TestProfiles(t *testing.T) {
	for _, c := range []struct{ name, dbc, profile, want string }{
		{"no signal", signals, mapped("Pack.Vols", "pack_voltage_v", ""), `profiles/can.toml:5:8: profiles/can.dbc has no signal "Pack.Vols" (did you mean "Pack.Volts"?)`},
		{"no message", signals, mapped("Pakc", "pack_voltage_v", ""), `profiles/can.toml:5:8: "Pakc" is no signal's name (a signal is MESSAGE.SIGNAL, as in profiles/can.dbc)`},
		{"no such", signals, mapped("Heater.Else", "pack_voltage_v", ""), `profiles/can.toml:5:8: profiles/can.dbc has no signal "Heater.Else" (it has Heater.Heat)`},
		{"contradiction", signals, mapped("Heater.Heat", "heater_power_kw", "unit = \"kW\""), `profiles/can.toml:7:8: the profile has Heater.Heat in "kW", the DBC file in "W" (one of them is wrong; take the unit out of the one that is)`},
		{"another quantity", signals, mapped("Heater.Heat", "pack_voltage_v", ""), `profiles/can.toml: Heater.Heat is in "W", which does not measure voltage (pack_voltage_v is kept in V)`},
		{"unknown unit", signals, mapped("Wide.Odd", "speed_km_h", ""), `profiles/can.toml: Wide.Odd is in "furlong", which is no unit known here (state the column's unit)`},
		{"nested", signals, mapped("Deep.C", "odometer_km", ""), `profiles/can.toml:5:8: Deep.C: multiplexors within multiplexed signals are not read`},
		{"beyond the end", signals, mapped("Beyond.Out", "odometer_km", ""), `profiles/can.toml:5:8: Beyond.Out lies outside a frame: 8 bits from bit 508`},
		{"factor 0", signals, mapped("Beyond.None", "odometer_km", ""), `profiles/can.toml:5:8: Beyond.None has the factor 0`},
		{"two messages", signals + "BO_ 9 Pack: 8 Car\n", mapped("Pack.Volts", "pack_voltage_v", ""), `profiles/can.toml:5:8: profiles/can.dbc has two messages "Pack" (rename one of them there)`},
		{"no columns", signals, "", `profiles/can.toml: the profile maps no signal`},
		{"broken", "BO_ 291 Pack: 8 Car\n SG_ Volts : 0|16@1+ (0.1,0 [0|0] \"V\" X\n", allColumns, `profiles/can.dbc:2:30: cannot read the DBC file: expected token: ")", found: "[" ([)`},
		{"empty", "", mapped("Pack.Volts", "pack_voltage_v", ""), `profiles/can.toml:5:8: profiles/can.dbc has no signal "Pack.Volts" (it has none)`},
	} {
		in, l := load(t, c.dbc, c.profile, "", log)
		if l == nil {
			_, _, l = read(t, in)
		}
		if len(l) != 1 || l[0].Error() != c.want {
			t.Errorf("%s: got %v, want %s", c.name, l, c.want)
		}
	}
	// A stated unit stands where the DBC file's is none that is known; Latin-1 is read too.
	in, l := load(t, strings.Replace(signals, `"degC"`, "\"\xb0C\"", 1), mapped("Wide.Odd", "speed_km_h", "unit = \"mph\"")+mapped("Temps.Low", "pack_temp_min_c", "unit = \"°C\""), "",
		"(1.0) can0 200#64\n(2.0) can0 18FF50E5#00D8\n")
	if l != nil {
		t.Fatal(l)
	}
	rows, _, l := read(t, in)
	// 100 mph = 160.9344 km/h exactly (NIST SP 811, B.8).
	if same(t, "stated unit", rows, []string{"1 01.000 speed_km_h=160.9344", "2 02.000 pack_temp_min_c=-20"}); l != nil {
		t.Error(l)
	}
}

// The frames of a real car; testdata/PROVENANCE.md says where the sums are from.
func TestRealFrames(t *testing.T) {
	dbc, err := os.ReadFile("testdata/frames.dbc")
	if err != nil {
		t.Fatal(err)
	}
	profile := "[clock]\nformat = \"elapsed\"\n" + mapped("Pack.Voltage", "pack_voltage_v", "") + mapped("Pack.Current", "pack_current_a", "") + mapped("Pack.Charge", "soc_pct", "")
	for _, c := range []struct{ file, want string }{
		{"midpoint.log.gz", "887 frames, 8.86 s, 0.10857 kWh, peak 44.12 kW, charge 45.9 to 46.1 %"},
		{"end.log.gz", "1236 frames, 12.35 s, 0.08754 kWh, peak 44.83 kW, charge 54.0 to 54.2 %"},
		{"all-frames.log.gz", "758 frames, 7.57 s, 0.09496 kWh, peak 45.56 kW, charge 48.2 to 48.4 %"},
	} {
		in, l := load(t, string(dbc), profile, "start = 2019-01-01T00:00:00\n", "")
		if l != nil {
			t.Fatal(l)
		}
		in.Path = filepath.Join("testdata", c.file)
		rdr, l, err := Kind().Open(in)
		if err != nil || l != nil {
			t.Fatal(err, l)
		}
		var at, kw, soc []float64
		for rdr.Next() {
			rec := rdr.Record()
			for i := range int(rec.NumRows()) {
				at = append(at, float64(rec.Column(1).(*array.Timestamp).Value(i))/1e6)
				kw = append(kw, rec.Column(2).(*array.Float64).Value(i)*rec.Column(3).(*array.Float64).Value(i)/1000)
				soc = append(soc, rec.Column(4).(*array.Float64).Value(i))
			}
		}
		rdr.Release()
		n, kwh, peak := len(at), 0.0, 0.0
		for i := range n {
			peak = max(peak, kw[i])
			if i > 0 {
				kwh += (at[i] - at[i-1]) * (kw[i] + kw[i-1]) / 2 / 3600
			}
		}
		got := fmt.Sprintf("%d frames, %.2f s, %.5f kWh, peak %.2f kW, charge %.1f to %.1f %%", n, at[n-1]-at[0], kwh, peak, soc[0], soc[n-1])
		if got != c.want || len(rdr.Report().Aside) != 0 {
			t.Errorf("%s: got %s, want %s", c.file, got, c.want)
		}
	}
}

// Real logs with what goes wrong in real logs: a clock that starts again 72.477995 s
// before, frames of nothing but ones where some were lost, and counts in place of
// times. testdata/PROVENANCE.md says where the numbers are from.
func TestRealFaults(t *testing.T) {
	dbc, err := os.ReadFile("testdata/frames.dbc")
	if err != nil {
		t.Fatal(err)
	}
	profile := "[clock]\nformat = \"elapsed\"\n" + mapped("Pack.Voltage", "pack_voltage_v", "") + mapped("Pack.Current", "pack_current_a", "") + mapped("Pack.Charge", "soc_pct", "")
	for _, c := range []struct {
		file                          string
		read, kept                    int64
		first, last, aside, lastAside string
	}{
		{"clock-back.log.gz", 760, 17, "1 12.487 pack_voltage_v=0 pack_current_a=-0.2 soc_pct=25", "68 12.647 pack_voltage_v=0 pack_current_a=-0.2 soc_pct=25",
			"aside 70:1 the clock is reset here: time goes back by 72.477995 s and goes on from there", "aside 2999:1 comes after the clock's reset in line 70"},
		{"lost-frames.log.gz", 223, 219, "", "", "aside 115:23 Pack.Voltage: 6553.5 V is outside what pack_voltage_v can be, 0 to 1500 V", ""},
		{"no-times.log.gz", 362, 362, "", "", "", ""},
	} {
		in, l := load(t, string(dbc), profile, "start = 2019-01-01T00:00:00\n", "")
		if l != nil {
			t.Fatal(l)
		}
		in.Path = filepath.Join("testdata", c.file)
		rows, r, l := read(t, in)
		if l != nil || r.RowsRead != c.read || r.RowsKept != c.kept {
			t.Errorf("%s: %d read, %d kept %v", c.file, r.RowsRead, r.RowsKept, l)
			continue
		}
		for i, want := range map[int]string{0: c.first, int(c.kept) - 1: c.last, int(c.kept): c.aside, len(rows) - 1: c.lastAside} {
			if want != "" && rows[i] != want {
				t.Errorf("%s: row %d is %q, want %q", c.file, i, rows[i], want)
			}
		}
	}
}

func TestZstd(t *testing.T) {
	in, _ := load(t, signals, allColumns, "", "")
	z, err := zstd.NewWriter(nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(in.Path, z.EncodeAll([]byte(log), nil), 0o644); err != nil {
		t.Fatal(err)
	}
	rows, _, _ := read(t, in)
	same(t, "rows", rows, want)
}

// FuzzReader holds that every row is accounted for and every number is one.
func FuzzReader(f *testing.F) {
	f.Add(log, uint8(0))
	f.Add(" (000.1) can0 300 [4] 00 00 7A 44\n (9999999999.1) can0 300 [4] 00 00 7A 44", uint8(1))
	f.Add("(1) c 123#\n(1) c 123#[4]\n(2 [", uint8(2))
	var inputs [3]source.Input
	for i, clock := range []string{"", "[clock]\nformat = \"elapsed\"\n", "[clock]\nformat = \"delta\"\n"} {
		var l diag.List
		if inputs[i], l = load(f, signals, clock+allColumns, "start = 2026-01-12T20:00:05\n", ""); l != nil {
			f.Fatal(l)
		}
	}
	f.Fuzz(func(t *testing.T, text string, which uint8) {
		if strings.HasPrefix(text, "\x1f\x8b") || strings.HasPrefix(text, "\x28\xb5") {
			return
		}
		in := inputs[int(which)%len(inputs)]
		in.Path = filepath.Join(t.TempDir(), "x")
		if err := os.WriteFile(in.Path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		_, r, l := read(t, in)
		if l == nil && r.Unsorted {
			t.Error("rows went back in time")
		}
	})
}

// FuzzDBC holds that a signal that may be mapped can be read from any frame.
func FuzzDBC(f *testing.F) {
	f.Add(signals)
	f.Add("BO_ 1 A: 8 X\n SG_ B m1M : 7|64@0- (1,0) [0|0] \"\xb0\" X\nSIG_VALTYPE_ 1 B : 2;")
	f.Fuzz(func(t *testing.T, text string) {
		db, d := parseDBC([]byte(text), "x.dbc")
		if d != nil {
			if d.Pos.File != "x.dbc" {
				t.Errorf("placed at %v", d.Pos)
			}
			return
		}
		var data [maxData]byte
		for _, name := range db.names {
			if s, d := db.find(name, "x.dbc"); d == nil {
				s.value(data[:s.needs()])
				if s.muxed {
					s.message.toggle.raw(data[:s.message.toggle.needs()])
				}
			}
		}
	})
}
