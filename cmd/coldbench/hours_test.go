package main

import (
	"bytes"
	"fmt"
	"io"
	"io/fs"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"coldbench/reports"
)

const hoursSeries = `title = "Hours"
place = "Fellmoor"
[soak]
min_h = 12
[[points]]
figure = "delay_to_onset"
category = "delay"
zero = 90
full = 0
weight = 3
[[points]]
figure = "energy_60min"
category = "charge"
zero = 0
full = 50
weight = 2
`

const hoursProfile = `kind = "delimited"
header_row = 1
[clock]
column = "time_s"
format = "elapsed"
unit = "s"
`

// hoursChannels are logged in every second.
var hoursChannels = []string{"soc_pct", "pack_voltage_v", "pack_current_a", "charger_power_kw", "heater_power_kw", "pack_temp_min_c", "pack_temp_max_c", "ambient_car_c"}

// writeHours writes a series of n cars of one session each that were logged for exactly
// an hour from plug-in on, once a second, by instruments that are never still.
func writeHours(dir string, n int) error {
	files := map[string][]byte{"series.toml": []byte(hoursSeries)}
	profile := hoursProfile
	for _, c := range hoursChannels {
		profile += fmt.Sprintf("[[column]]\nname = %q\nchannel = %q\n", c, c)
	}
	files["profiles/car.toml"] = []byte(profile)
	rng := rand.New(rand.NewPCG(7, 0))
	for i := range n {
		car, id := fmt.Sprintf("car-%02d", i), fmt.Sprintf("sessions/2026-01-%02d-car-%02d", i+1, i)
		files["vehicles/"+car+".toml"] = fmt.Appendf(nil, "name = \"Car %02d\"\nusable_kwh = 80\npack_mass_kg = 400\nrated_wh_km = 160\n", i)
		files[id+"/session.toml"] = fmt.Appendf(nil, "vehicle = %q\nprocedure = \"cold-charge\"\nzone = \"UTC\"\nsoak_start = 2026-01-%02dT20:00:00\nplug_in = 2026-01-%02dT20:00:00\n"+
			"[[source]]\nfile = \"car.csv\"\nprofile = \"car\"\nstart = 2026-01-%02dT20:00:00\n", car, i+1, i+2, i+2)
		var log bytes.Buffer
		log.WriteString("time_s," + strings.Join(hoursChannels, ",") + "\n")
		kwh, cold, delay := 0.08*80, -22.0, 60*(15+25*rng.Float64())
		for t := range 3601 {
			volts, heater, amps := 330+20*kwh/80+rng.NormFloat64(), 0.0, rng.NormFloat64()*0.05
			if float64(t) < delay {
				heater = 5.6 + 0.1*rng.NormFloat64()
				cold += 0.011
			} else {
				kw := 90*math.Min(1, 0.3+(float64(t)-delay)/900) + 1.5*rng.NormFloat64()
				amps = kw * 1000 / volts
				cold += 0.008
			}
			kw := volts * amps / 1000
			kwh += kw / 3600
			fmt.Fprintf(&log, "%d,%.0f,%.1f,%.2f,%.2f,%.2f,%.1f,%.1f,%.1f\n", t, math.Floor(kwh/80*100), volts, amps, kw*1.04+heater+0.3, heater, cold, cold+2, -24+0.1*rng.NormFloat64())
		}
		files[id+"/car.csv"] = log.Bytes()
	}
	for name, data := range files {
		name = filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
			return err
		}
		if err := os.WriteFile(name, data, 0o644); err != nil {
			return err
		}
	}
	return nil
}

// The page of an edition of 20 sessions of an hour at 1 Hz, as a run writes it, is below
// a megabyte, and says how its lines were thinned.
func TestPageOfTwentyHours(t *testing.T) {
	dir := t.TempDir()
	if err := writeHours(dir, 20); err != nil {
		t.Fatal(err)
	}
	var out, errs bytes.Buffer
	if code := run([]string{"run", dir}, &out, &errs); code != 0 {
		t.Fatal(code, errs.String())
	}
	pages, err := filepath.Glob(filepath.Join(dir, "editions", "*", reports.PageFile))
	if err != nil || len(pages) != 1 {
		t.Fatal(pages, err)
	}
	text, err := os.ReadFile(pages[0])
	if err != nil {
		t.Fatal(err)
	}
	if len(text) >= 1e6 {
		t.Errorf("the page has %d bytes", len(text))
	}
	// 20 sessions of 3,601 rows: a second each, and the moment of plug-in.
	for _, want := range []string{"of 72\u202f020 rows ", "20 cars, 20 of them ranked", "of each short stretch of time the first, the last, the lowest and the highest"} {
		if !strings.Contains(string(text), want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	t.Logf("%d bytes", len(text))
}

// held runs the program, then prints the most memory that it held, in kB. What the
// system says of a child that has ended may be the memory of its parent.
func held() {
	code := run(os.Args[1:], io.Discard, os.Stderr)
	status, err := os.ReadFile("/proc/self/status")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(2)
	}
	_, most, _ := strings.Cut(string(status), "VmHWM:")
	fmt.Println(strings.Fields(most)[0])
	os.Exit(code)
}

// BenchmarkReports makes the reports of an edition of 20 sessions of an hour at 1 Hz
// again, each by itself and all, as the program does: what it takes, the most memory that
// it holds meanwhile, and what it writes.
func BenchmarkReports(b *testing.B) {
	dir := filepath.Join(b.TempDir(), "series")
	if err := writeHours(dir, 20); err != nil {
		b.Fatal(err)
	}
	var out, errs bytes.Buffer
	if code := run([]string{"run", dir}, &out, &errs); code != 0 {
		b.Fatal(errs.String())
	}
	for _, part := range append(reports.Parts(), "all") {
		b.Run(part, func(b *testing.B) {
			var size, peak int64
			for b.Loop() {
				to := filepath.Join(b.TempDir(), "again")
				args := []string{"report", dir, "--to", to}
				if part != "all" {
					args = append(args, "--only", part)
				}
				out, err := exec.Command("coldbench-held", args...).Output()
				if err != nil {
					b.Fatalf("%v\n%s", err, out)
				}
				var kB int64
				if _, err := fmt.Sscan(string(out), &kB); err != nil {
					b.Fatal(err)
				}
				peak = max(peak, kB*1024)
				size = 0
				err = filepath.WalkDir(to, func(_ string, d fs.DirEntry, err error) error {
					if err != nil || d.IsDir() {
						return err
					}
					info, err := d.Info()
					size += info.Size()
					return err
				})
				if err != nil {
					b.Fatal(err)
				}
				if err := os.RemoveAll(to); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(peak)/1e6, "MB-peak")
			b.ReportMetric(float64(size)/1e6, "MB-written")
		})
	}
}
