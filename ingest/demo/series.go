package demo

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"time"
	_ "time/tzdata" // the series' zone must resolve on a machine without them
)

const (
	zone  = "Europe/Oslo" // an IANA name is needed; the place itself is invented
	place = "Fellmoor"
)

// A plan is one session of the demo series.
type plan struct {
	id, procedure string
	car           Car
	plug          string // local, the plug-in that led to the charge
	night         Night
	logger        string // in the car; "": known only from notes
	interval      float64
	gap           [2]float64 // s since plug-in without rows
	charger       bool       // the charger's log is there
	chargerFast   float64    // s by which its clock is fast
	handheld      bool       // thermometer beside the car instead of the station
	statePlug     bool       // plug-in stated in session.toml, else in notes
	failedMin     int        // minutes before, a connection that failed; 0: none
	weather       string     // as noted before the plug-in; "": nobody looked
	remark        string
}

var plans = []plan{
	{id: "2026-01-12-alder-60", car: alder, procedure: "cold-charge", plug: "2026-01-12T20:12:24", logger: "wide-log", interval: 1, charger: true, statePlug: true,
		weather: "dry night",
		night:   Night{AmbientC: -19, SwingK: 2, SoakH: 46, StartC: 4, StartSoC: 8.4, EndSoC: 83, ChargerKW: 150, MaxH: 4, AfterMin: 4}},
	{id: "2026-01-14-birch-77", car: birch, procedure: "cold-charge", plug: "2026-01-14T19:40:10", logger: "semicolon-log", interval: 2, charger: true, chargerFast: 37,
		weather: "dry night",
		night:   Night{AmbientC: -23, SwingK: 1.5, SoakH: 44, StartC: 2, StartSoC: 6.7, EndSoC: 84, ChargerKW: 200, MaxH: 4, AfterMin: 3}},
	{id: "2026-01-17-cedar-50", car: cedar, procedure: "cold-charge", plug: "2026-01-17T21:03:51", logger: "stamp-log", interval: 5, charger: true, handheld: true, failedMin: 9, gap: [2]float64{2400, 2490},
		weather: "snow on the car",
		night:   Night{AmbientC: -14, SwingK: 2.5, SoakH: 50, StartC: 3, StartSoC: 7.2, EndSoC: 82, ChargerKW: 150, MaxH: 4, AfterMin: 5}},
	{id: "2026-01-20-larch-90", car: larch, procedure: "cold-charge", plug: "2026-01-20T18:25:33", logger: "dial-log", interval: 10, charger: true, chargerFast: -12, statePlug: true,
		weather: "no snow",
		night:   Night{AmbientC: -26, SwingK: 1.5, SoakH: 52, StartC: 0, StartSoC: 5.6, EndSoC: 81.5, ChargerKW: 250, MaxH: 4, AfterMin: 3}},
	{id: "2026-01-23-rowan-40", car: rowan, procedure: "cold-charge", plug: "2026-01-23T20:50:05", logger: "wide-log", interval: 2, charger: true, chargerFast: 5,
		weather: "dry night",
		night:   Night{AmbientC: -18, SwingK: 2, SoakH: 47, StartC: 5, StartSoC: 9.3, EndSoC: 85, ChargerKW: 50, MaxH: 5, AfterMin: 4},
		remark:  "only the 50 kW unit was free"},
	{id: "2026-01-26-spruce-82", car: spruce, procedure: "cold-charge", plug: "2026-01-26T19:15:40", logger: "semicolon-log", interval: 30, statePlug: true,
		weather: "no snow",
		night:   Night{AmbientC: -21, SwingK: 1, SoakH: 45, StartC: 1, StartSoC: 7.8, EndSoC: 70.6, ChargerKW: 150, MaxH: 4, AfterMin: 2},
		remark:  "had to leave before 80 %"},
	{id: "2026-01-29-willow-65", car: willow, procedure: "cold-charge", plug: "2026-01-29T20:05:18",
		night:  Night{AmbientC: -20, SwingK: 1.5, SoakH: 43, StartC: 2, StartSoC: 8.9, EndSoC: 82, ChargerKW: 150, MaxH: 4, AfterMin: 2},
		remark: "the logger's battery froze; notes only"},
	{id: "2026-02-02-alder-60", car: alder, procedure: "cold-charge", plug: "2026-02-02T20:31:02", logger: "wide-log", interval: 1, charger: true, handheld: true,
		weather: "dry night",
		night:   Night{AmbientC: -22, SwingK: 1.5, SoakH: 48, StartC: 0, StartSoC: 7.6, EndSoC: 82.5, ChargerKW: 150, MaxH: 4, AfterMin: 3}},
	{id: "2026-02-05-birch-77", car: birch, procedure: "cold-charge", plug: "2026-02-05T17:20:45", logger: "semicolon-log", interval: 2, charger: true, statePlug: true,
		weather: "no snow",
		night:   Night{AmbientC: -17, SwingK: 1, SoakH: 5, StartC: 14, StartSoC: 8.1, EndSoC: 81, ChargerKW: 200, MaxH: 4, AfterMin: 3},
		remark:  "driven in the afternoon; stood for five hours only"},
	{id: "2026-02-08-alder-60", car: alder, procedure: "warm-charge", plug: "2026-02-08T14:02:11", logger: "wide-log", interval: 1, charger: true, statePlug: true,
		night:  Night{AmbientC: 16, SoakH: 14, StartC: 21, StartSoC: 8.3, EndSoC: 83, ChargerKW: 150, MaxH: 3, AfterMin: 3},
		remark: "the control: from the heated hall"},
}

// Write writes the invented series into the folder dir, which must not hold
// anything yet: the same bytes every time. truth.csv in it says what really
// happened: a line for every figure that has a true value in a session. An
// error means that the folder holds something, and nothing was written, or that
// it could not be written.
func Write(dir string) error {
	files, err := files(plans, outings, 20260112)
	if err != nil {
		return fmt.Errorf("demo: %w", err)
	}
	return write(dir, files)
}

func write(dir string, files map[string][]byte) error {
	if dir == "" {
		return errors.New("demo: the folder has no name; nothing was written")
	}
	entries, err := os.ReadDir(dir)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("demo: %w", err)
	}
	if len(entries) > 0 {
		return fmt.Errorf("demo: the folder %s is not empty; nothing was written", dir)
	}
	for _, name := range slices.Sorted(maps.Keys(files)) {
		full := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(full), 0o755); err != nil {
			return fmt.Errorf("demo: %w", err)
		}
		if err := os.WriteFile(full, files[name], 0o644); err != nil {
			return fmt.Errorf("demo: %w", err)
		}
	}
	return nil
}

// files makes the files of a series, by path, and truth.csv.
func files(plans []plan, outings []outing, seed uint64) (map[string][]byte, error) {
	loc, err := time.LoadLocation(zone)
	if err != nil {
		return nil, err
	}
	files := map[string][]byte{"series.toml": []byte(seriesTOML)}
	for id, text := range profiles {
		files["profiles/"+id+".toml"] = []byte(text)
	}
	for _, o := range outings {
		files["profiles/"+o.logger+".toml"] = []byte(outingProfiles[o.logger])
		files["vehicles/"+o.car.ID+".toml"] = []byte(vehicleTOML(o.car))
	}
	for _, p := range plans {
		files["vehicles/"+p.car.ID+".toml"] = []byte(vehicleTOML(p.car))
	}
	truth := [][]string{{"session", "figure", "value", "unit"}}
	add := func(session string, values map[string]float64) {
		for _, figure := range slices.Sorted(maps.Keys(values)) {
			truth = append(truth, []string{session, figure, strconv.FormatFloat(values[figure], 'g', 9, 64), truthUnit(figure)})
		}
	}
	for i, p := range plans {
		plug, err := time.ParseInLocation("2006-01-02T15:04:05", p.plug, loc)
		if err != nil {
			return nil, err
		}
		r := p.run()
		if p.gap[1] > r.End-120 {
			p.gap = [2]float64{} // a log that loses its end is another kind of session
		}
		for name, text := range p.files(r, plug, rand.New(rand.NewPCG(seed, uint64(i)))) {
			files["sessions/"+p.id+"/"+name] = text
		}
		values := r.Truth()
		values["charge_before_log"] = 0 // loggers run before the plug
		values["failed_connects_lost"] = float64(p.failedMin)
		values["failed_connects"] = min(1, float64(p.failedMin))
		if !p.charger || p.logger == "dial-log" {
			delete(values, "efficiency") // one of its two is worked out from the other
		}
		switch p.logger {
		case "": // nobody noted these
			for _, figure := range []string{"heat_before_onset", "heat_session", "heat_capacity", "heat_share", "warming_rate", "onset_pack_temp"} {
				delete(values, figure)
			}
		case "dial-log": // its power is the charger's, every 5 s
			values["log_interval"] = chargerInterval
		default:
			values["log_interval"] = p.interval
		}
		if p.procedure == "warm-charge" {
			delete(values, "soak_hours")
			delete(values, "soak_ambient_mean")
			delete(values, "soak_ambient_departure")
			delete(values, "soak_excursion")
			delete(values, "soak_ambient_low")
		}
		add(p.id, values)
	}
	for i, o := range outings {
		start, err := time.ParseInLocation("2006-01-02T15:04:05", o.start, loc)
		if err != nil {
			return nil, err
		}
		r := o.run()
		if o.gap[1] > r.End-120 {
			o.gap = [2]float64{}
		}
		// Streams after those of the charges.
		for name, text := range o.files(r, start, rand.New(rand.NewPCG(seed, uint64(len(plans)+i)))) {
			files["sessions/"+o.id+"/"+name] = text
		}
		add(o.id, o.truth(r))
	}
	var b bytes.Buffer
	if err := csv.NewWriter(&b).WriteAll(truth); err != nil {
		return nil, err
	}
	files["truth.csv"] = b.Bytes()
	return files, nil
}

// chargerInterval is that of the charger's log, in s.
const chargerInterval = 5

func (p plan) run() *Run { return Simulate(p.car, p.night) }

// Runs returns what really happened in each charge of the demo series.
func Runs() map[string]*Run {
	runs := map[string]*Run{}
	for _, p := range plans {
		runs[p.id] = p.run()
	}
	return runs
}

const seriesTOML = `# The invented demo series: cars, place and nights do not exist. What is
# left out has its default, as in a series newly laid out.
title = "Fellmoor winter nights"
place = "Fellmoor"

[soak]
min_h = 24                 # a pack needs more than a night to follow the air

[reference]
soak_c = -20
start_soc_pct = 10

# Points go in a line from 0 at zero to 100 at full, whatever the other cars do.

[[points]]
figure = "delay_to_onset"
category = "delay"
zero = 90                  # min that earn nothing
full = 0
weight = 3

[[points]]
figure = "energy_before_onset"
category = "heat"
zero = 8
full = 0
weight = 2

[[points]]
figure = "time_window"
category = "charge"
zero = 120
full = 20
weight = 3

[[points]]
figure = "energy_60min"
category = "charge"
zero = 0
full = 50
weight = 2
`

func vehicleTOML(c Car) string {
	return fmt.Sprintf(`# An invented car. A fact that you do not know may be left out.

name = %q
usable_kwh = %.1f      # between 0 and 100 %% on the display
pack_mass_kg = %.0f     # to compare the heat used with the heat needed
rated_wh_km = %.0f      # to tell charge in range
peak_charge_kw = %.0f   # what it takes at best
heater = %q
`, c.Name, c.UsableKWh, c.PackMassKg, c.RatedWhKm, c.PeakKW, c.Heater)
}

// files are the files of one session's folder, by name.
func (p plan) files(r *Run, plug time.Time, rng *rand.Rand) map[string][]byte {
	const stamp = "2006-01-02T15:04:05"
	files := map[string][]byte{}
	soak := plug.Add(-time.Duration(p.night.SoakH * float64(time.Hour)))
	head := fmt.Sprintf("# %s. Times here are local, in the zone below.\n\nvehicle = %q\nprocedure = %q\nzone = %q\nsoak_start = %s\n", p.id, p.car.ID, p.procedure, zone, soak.Format(stamp))
	first := plug.Add(-time.Duration(p.failedMin) * time.Minute)
	if p.statePlug {
		head += fmt.Sprintf("plug_in = %s # by a watch, to a second; else the notes tell\nplug_in_u_s = 1\n", first.Format(stamp))
	}
	head += fmt.Sprintf("charger = \"hall yard\"\ncharger_kw = %.0f\ntester = \"R. Fell\"\n", p.night.ChargerKW)
	if p.remark != "" {
		head += fmt.Sprintf("remark = %q\n", p.remark)
	}
	toml := bytes.NewBufferString(head)
	source := func(file, profile, extra string) {
		fmt.Fprintf(toml, "\n[[source]]\nfile = %q\nprofile = %q\n%s", file, profile, extra)
	}
	fmt.Fprintf(toml, "\n[[source]]\nfile = \"notes.txt\"\nkind = \"notes\"\nstart = %s\n", soak.Format(stamp))
	files["notes.txt"] = p.notes(r, soak, first, plug)

	if lg, ok := loggers[p.logger]; ok {
		const lead = 120 // s before the plug-in that the logger is started
		from := -float64(lead)
		files["car.csv"] = lg.layout.write(r, plug, from, p.interval, 0, p.gap, lg.instruments(r, rng), rng)
		extra := ""
		if lg.startKey {
			extra = fmt.Sprintf("start = %s # what 0 on this logger's clock stands for\n", plug.Add(-lead*time.Second).Format(stamp))
		}
		source("car.csv", lg.profile, extra)
	}
	if p.charger {
		// The clock's error was measured once, to a second.
		fast := p.chargerFast
		if fast != 0 {
			fast += rng.NormFloat64()
		}
		files["charger.csv"] = chargerLog.layout.write(r, plug, 0, chargerInterval, fast, [2]float64{}, chargerLog.instruments(r, rng), rng)
		extra := fmt.Sprintf("start = %s # its clock shows no date\n", plug.Format(stamp))
		if p.chargerFast != 0 {
			extra += fmt.Sprintf("offset_s = %g # added to this clock, which was read against a watch\noffset_u_s = 1\n", -p.chargerFast)
		}
		source("charger.csv", chargerLog.profile, extra)
	}
	if p.handheld {
		files["air.csv"] = p.air(soak, plug, 30*time.Minute, "t;F\n", func(at time.Time, c float64) string {
			return fmt.Sprintf("%s;%.1f\n", at.Format("02/01/06 03:04 PM"), fahrenheit(c))
		}, rng)
		source("air.csv", "yard-thermometer", "")
	} else {
		files["air.csv"] = p.air(soak, plug, 10*time.Minute, "local time,air °C\n", func(at time.Time, c float64) string {
			return fmt.Sprintf("%s,%.1f\n", at.Format("2006-01-02T15:04:05"), c)
		}, rng)
		source("air.csv", "garden-station", "")
	}
	files["session.toml"] = toml.Bytes()
	return files
}

// air is a log of the air from half an hour before the soak to the plug-in,
// by a thermometer that is out by a draw of its standard uncertainty, 0.5 K.
func (p plan) air(soak, plug time.Time, every time.Duration, head string, row func(time.Time, float64) string, rng *rand.Rand) []byte {
	b := bytes.NewBufferString(head)
	zero := 0.5 * rng.NormFloat64()
	for at := soak.Add(-30 * time.Minute).Truncate(every); !at.After(plug.Add(every)); at = at.Add(every) {
		b.WriteString(row(at, p.night.Ambient(at.Sub(plug).Seconds())+zero))
	}
	return b.Bytes()
}

// notes are what the person typed on a phone, which shows whole minutes.
func (p plan) notes(r *Run, soak, first, plug time.Time) []byte {
	var b bytes.Buffer
	b.WriteString("# " + place + "\n")
	day := ""
	at := func(t time.Time, format string, args ...any) {
		if d := t.Format("2006-01-02"); d != day {
			day = d
			b.WriteString(d + "\n")
		}
		fmt.Fprintf(&b, "%s %s\n", t.Format("15:04"), fmt.Sprintf(format, args...))
	}
	after := func(s float64) time.Time { return plug.Add(time.Duration(s * float64(time.Second))) }
	shown := func(s float64) float64 { return math.Floor(r.at(s).ShownSoC) }
	at(soak, "left outside")
	if p.weather != "" {
		at(first.Add(-2*time.Minute), "%s", p.weather)
	}
	if p.failedMin > 0 {
		at(first, "plugged in")
		at(first.Add(2*time.Minute), "latch failed, frost in the socket, moved to stall 4")
	}
	at(plug, "plugged in, ambient %.0f °C, soc %.0f %%", r.at(0).AmbientC, shown(0))
	onset, ok := r.Onset()
	notesOnly := p.logger == ""
	if notesOnly {
		at(after(1), "pack %.0f °C", r.at(0).MinC)
		for s := 120.0; s < onset-60; s += 600 {
			at(after(s), "charger %.1f kW, soc %.0f %%", r.at(s).ChargerKW, shown(s))
		}
	} else if onset > 150 {
		at(after(90), "charger %.1f kW", r.at(90).ChargerKW)
	}
	if ok {
		at(after(onset), "charging %.0f kW, soc %.0f %%", r.at(onset+5).ChargerKW, shown(onset))
	}
	if notesOnly {
		for s := onset + 300; s < r.End; s += 300 {
			at(after(s), "charger %.0f kW, soc %.0f %%", r.at(s).ChargerKW, shown(s))
		}
	}
	at(after(r.End), "charge stopped, soc %.0f %%", shown(r.End))
	at(after(r.End+60), "unplugged")
	return b.Bytes()
}
