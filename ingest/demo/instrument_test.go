package demo

import (
	"maps"
	"math"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strconv"
	"testing"
	"time"

	"github.com/apache/arrow/go/v17/arrow/array"

	"coldbench/ingest/delimited"
	"coldbench/ingest/notes"
	"coldbench/ingest/series"
	"coldbench/ingest/source"
)

func number(t *testing.T, text string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// Worked out by hand: 7.46 kW read 2 % high is 7609.2 W, shown in tens as 7610;
// -20.3 °C is -4.54 °F, shown in tenths as -4.5; a display of 9.99 % shows 9.
func TestInstrumentShows(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	p := Point{HeaterKW: 7.46, MinC: -20.3, ShownSoC: 9.99}
	near(t, "W", instrument{of: heater, resolution: 10, gain: 1.02, scale: watts}.show(p, rng), 7610, 1e-9)
	near(t, "°F", instrument{of: minC, resolution: 0.1, gain: 1, scale: fahrenheit}.show(p, rng), -4.5, 1e-9)
	near(t, "%", instrument{of: soc, resolution: 1, gain: 1, floor: true}.show(p, rng), 9, 0)
	near(t, "off", instrument{of: pack, resolution: 0.01, gain: 1.02, noise: 5}.show(p, rng), 0, 0)
}

// Profiles state the step of a log where its last decimal is not it: a half
// degree is written with a decimal.
func TestProfilesStateTheStep(t *testing.T) {
	s := load(t, Write)
	rng := rand.New(rand.NewPCG(1, 1))
	all := []logger{chargerLog}
	for _, name := range slices.Sorted(maps.Keys(loggers)) {
		all = append(all, loggers[name])
	}
	for _, lg := range all {
		for _, in := range lg.instruments(Runs()["2026-01-12-alder-60"], rng) {
			i := slices.IndexFunc(s.Profiles[lg.profile].Columns, func(c series.Column) bool { return c.Name == in.header })
			if i < 0 {
				t.Errorf("%s: no column %q", lg.profile, in.header)
				continue
			}
			stated := s.Profiles[lg.profile].Columns[i].Resolution
			if stated == 0 {
				stated = min(1, math.Pow10(int(math.Floor(math.Log10(in.resolution)+1e-9))))
			}
			near(t, lg.profile+": step of "+in.header, stated, in.resolution, 1e-12)
		}
	}
}

// A value read back from a log, with its place on the run's clock.
type value struct {
	channel string
	t, v    float64
}

// readBack reads a source as a series would, and returns its values and the
// instruments that the reader knows of.
func readBack(t *testing.T, s *series.Series, ses *series.Session, src series.Source, plug time.Time) ([]value, map[string]source.Instrument) {
	t.Helper()
	kind := map[string]source.Kind{"delimited": delimited.Kind(), "notes": notes.Kind()}[src.Kind]
	in := source.Input{Path: filepath.Join(s.Dir, filepath.FromSlash(ses.Path(src))), Shown: ses.Path(src), Profile: s.Profiles[src.Profile],
		Session: ses, Source: src, Location: ses.Location}
	rdr, problems, err := kind.Open(in)
	if err != nil || problems != nil {
		t.Fatal(err, problems)
	}
	defer rdr.Release()
	var values []value
	for rdr.Next() {
		rec := rdr.Record()
		at := rec.Column(1).(*array.Timestamp)
		for c := 2; c < int(rec.NumCols()); c++ {
			col := rec.Column(c).(*array.Float64)
			for i := range col.Len() {
				if col.IsValid(i) {
					values = append(values, value{rec.ColumnName(c), float64(int64(at.Value(i))-plug.UnixMicro()) / 1e6, col.Value(i)})
				}
			}
		}
	}
	if rdr.Err() != nil {
		t.Fatal(rdr.Err())
	}
	report := rdr.Report()
	for _, a := range report.Aside {
		t.Errorf("%s:%d:%d: set aside: %s", in.Shown, a.Line, a.Col, a.Reason)
	}
	known := map[string]source.Instrument{}
	for _, i := range report.Instruments {
		known[i.Channel] = i
	}
	return values, known
}

// truthOf are the true values of the channels that logs of a run can show.
func truthOf(r *Run) map[string]func(t float64) float64 {
	of := func(f func(Point) float64) func(float64) float64 {
		return func(t float64) float64 { return f(r.at(t)) }
	}
	air := func(t float64) float64 { return r.Night.Ambient(t) }
	register := r.register()
	return map[string]func(float64) float64{
		"soc_pct": of(soc), "pack_power_kw": of(pack), "pack_voltage_v": of(volts), "pack_current_a": of(amps),
		"pack_temp_min_c": of(minC), "pack_temp_max_c": of(maxC), "heater_power_kw": of(heater), "accessory_power_kw": of(access),
		"charger_power_kw": of(charger), "charger_energy_kwh": of(register),
		"pack_temp_mean_c": of(meanC), "cabin_heater_power_kw": of(cabinHeater), "cabin_temp_c": of(cabinC), "speed_km_h": of(speed), "odometer_km": of(odo),
		"ambient_car_c": air, "ambient_station_c": air, "ambient_handheld_c": air,
	}
}

// span is the range of the truth around t, for clocks that are a little off.
func span(truth func(float64) float64, t, around float64) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for s := t - around; s <= t+around; s += Step {
		low, high = min(low, truth(s)), max(high, truth(s))
	}
	return low, high
}

// Every value of the demo series' logs, read back through profile, clock and
// units, lies where the truth does, within 3.5 standard uncertainties that the
// reader knows of, and a step of the log. Nothing is set aside.
func TestLogsReadBack(t *testing.T) {
	s := load(t, Write)
	starts, runs := map[string]string{}, map[string]*Run{}
	for _, p := range plans {
		starts[p.id], runs[p.id] = p.plug, p.run()
	}
	for _, o := range outings {
		starts[o.id], runs[o.id] = o.start, o.run()
	}
	seen := map[string]int{}
	for _, ses := range s.Sessions {
		plug, err := time.ParseInLocation("2006-01-02T15:04:05", starts[ses.ID], ses.Location)
		if err != nil {
			t.Fatal(err)
		}
		truth := truthOf(runs[ses.ID])
		for _, src := range ses.Sources {
			// The charger's clock shows whole seconds and is known to 1 s; a note is within its minute.
			around := map[string]float64{"charger.csv": 4, "notes.txt": 30}[src.File]
			values, known := readBack(t, s, ses, src, plug)
			if len(values) == 0 && src.File != "notes.txt" {
				t.Errorf("%s: nothing read", ses.Path(src))
			}
			wrong := 0
			for _, v := range values {
				seen[v.channel]++
				in := known[v.channel]
				low, high := span(truth[v.channel], v.t, around)
				slack := 3.5*math.Hypot(in.URel*max(-low, high), in.UAbs) + in.Resolution
				// Noise of 0.1 A, 20 W and less, four times.
				slack += map[string]float64{"pack_current_a": 0.4, "pack_power_kw": 0.08, "heater_power_kw": 0.04, "accessory_power_kw": 0.02,
					"cabin_heater_power_kw": 0.04, "cabin_temp_c": 0.2}[v.channel]
				if v.channel == "soc_pct" {
					slack = 1 // whole percents, cut
				}
				if !(v.v >= low-slack && v.v <= high+slack) {
					if wrong++; wrong < 4 {
						t.Errorf("%s at %v s: %s = %v, really %v to %v, slack %v", ses.Path(src), v.t, v.channel, v.v, low, high, slack)
					}
				}
			}
		}
	}
	for channel := range truthOf(Runs()["2026-01-12-alder-60"]) {
		if seen[channel] == 0 {
			t.Errorf("no log shows %s", channel)
		}
	}
}

// The errors that logs have are as large as profiles and the channel catalogue
// say: over many random nights, the mean error of a channel in a session, in
// standard uncertainties, has a standard deviation of 1.
func TestErrorsAreAsStated(t *testing.T) {
	const n, seed = 40, 3
	s := load(t, func(dir string) error { return WriteRandom(dir, n, seed) })
	sums := map[string][]float64{}
	for i, p := range randomPlans(n, rand.New(rand.NewPCG(seed, 0))) {
		ses := s.Sessions[i]
		if ses.ID != p.id {
			t.Fatalf("session %d is %s, not %s", i, ses.ID, p.id)
		}
		plug, err := time.ParseInLocation("2006-01-02T15:04:05", p.plug, ses.Location)
		if err != nil {
			t.Fatal(err)
		}
		truth := truthOf(p.run())
		for _, src := range ses.Sources {
			if src.Kind == "notes" {
				continue // rounded by hand, on a clock of whole minutes
			}
			values, known := readBack(t, s, ses, src, plug)
			count, total := map[string]float64{}, map[string]float64{}
			for _, v := range values {
				really, in := truth[v.channel](v.t), known[v.channel]
				// Where one of two clocks is already on and the other not yet is no error of size.
				if u := math.Hypot(in.URel*really, in.UAbs); u > 0 && really != 0 && v.v != 0 {
					count[v.channel]++
					total[v.channel] += (v.v - really) / u
				}
			}
			for channel, c := range count {
				sums[channel] = append(sums[channel], total[channel]/c)
			}
		}
	}
	var all []float64
	for channel, zs := range sums {
		all = append(all, zs...)
		// Chance is 1/sqrt(2 n) of the deviation.
		if d := deviation(zs); math.Abs(d-1) > 3.5/math.Sqrt(2*float64(len(zs))) {
			t.Errorf("%s: errors of %.2f standard uncertainties in %d sessions", channel, d, len(zs))
		}
	}
	if d := deviation(all); len(all) < 200 || math.Abs(d-1) > 3/math.Sqrt(2*float64(len(all))) {
		t.Errorf("errors of %.3f standard uncertainties over %d", d, len(all))
	}
}

// deviation is the root of the mean square.
func deviation(xs []float64) float64 {
	sum := 0.0
	for _, x := range xs {
		sum += x * x
	}
	return math.Sqrt(sum / float64(len(xs)))
}
