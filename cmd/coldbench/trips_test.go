package main

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Two real winter drives at 10 Hz, in semicolons and Latin-1. Nobody states their
// licence, so they are no part of this tree: they are read where they lie beside it.
const trips = "../../../shared/data/i3-winter-trips"

const tripProfile = `kind = "delimited"
encoding = "latin-1"
delimiter = ";"
header_row = 1
[clock]
column = "Time [s]"
format = "elapsed"
`

// What the drives come to was summed without coldbench, in Python: trapezoids over
// rows with both values, up to where the car last moves. TripB13 does so to its end;
// TripB33 stops 4.75 s before, so its figures are a little less than its whole log.
func TestRealDrives(t *testing.T) {
	if _, err := os.Stat(trips); err != nil {
		t.Skip("the drives do not lie beside the tree: ", err)
	}
	dir := t.TempDir()
	write := func(name, text string) {
		full := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(full), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(full, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	profile := tripProfile
	for _, c := range [][2]string{{"Velocity [km/h]", "speed_km_h"}, {"Battery Voltage [V]", "pack_voltage_v"}, {"Battery Current [A]", "pack_current_a"}, {"displayed SoC [%]", "soc_pct"},
		{"Battery Temperature [°C]", "pack_temp_mean_c"}, {"Heating Power CAN [kW]", "cabin_heater_power_kw"}, {"Ambient Temperature [°C]", "ambient_car_c"}, {"Cabin Temperature Sensor [°C]", "cabin_temp_c"}} {
		profile += fmt.Sprintf("[[column]]\nname = %q\nchannel = %q\n", c[0], c[1])
	}
	write("series.toml", "title = \"Drives\"\n")
	write("vehicles/car.toml", "name = \"Car\"\n")
	write("profiles/trip.toml", profile)
	for name, start := range map[string]string{"TripB13": "2020-01-21T09:00:00", "TripB33": "2020-01-22T09:00:00"} {
		text, err := os.ReadFile(filepath.Join(trips, name+".csv"))
		if err != nil {
			t.Fatal(err)
		}
		write("sessions/"+name+"/car.csv", string(text))
		write("sessions/"+name+"/session.toml", "vehicle = \"car\"\nprocedure = \"cold-drive\"\nzone = \"UTC\"\nstart = "+start+"\n"+
			"[[source]]\nfile = \"car.csv\"\nprofile = \"trip\"\nstart = "+start+"\n")
	}
	e := figuresOf(t, dir)
	query := func(sql string) string {
		var out bytes.Buffer
		if code := run([]string{"query", "--csv", dir, sql}, &out, &out); code != 0 {
			t.Fatal(out.String())
		}
		_, rows, _ := strings.Cut(strings.TrimSpace(out.String()), "\n")
		return rows
	}
	if got, want := query(`select session_id, count(*), max(t_s), arg_min(soc_pct, t_s), arg_max(soc_pct, t_s), count(soc_pct), min(ambient_car_c), max(ambient_car_c),
			min(cabin_temp_c), max(cabin_temp_c) from reading group by all order by all`),
		"TripB13,3545,354.4,62,59.5,3532,4.5,6,20.5,24.84\nTripB33,5480,547.9,89.5,82,5480,3.5,5,12.84,25.17"; got != want {
		t.Errorf("got %s\nwant %s", got, want)
	}
	if got, want := query(`select session_id, printf('%.5f %.5f %.4f', sum(s * kw) / 3600, sum(s * heat) / 3600, sum(s * v) / 3600) from (
			select session_id, t_s - lag(t_s) over w as s, (kw + lag(kw) over w) / 2 as kw, (heat + lag(heat) over w) / 2 as heat, (v + lag(v) over w) / 2 as v
			from (select session_id, t_s, pack_voltage_v * pack_current_a / 1000 as kw, cabin_heater_power_kw as heat, speed_km_h as v from reading)
			window w as (partition by session_id order by t_s)) group by all order by all`),
		"TripB13,-0.44623 0.14453 2.7823\nTripB33,-1.34417 0.37142 7.0335"; got != want {
		t.Errorf("got %s\nwant %s", got, want)
	}
	for figure, want := range map[string][2]float64{
		"drive_distance":      {2.7823201, 7.0333586},
		"drive_consumption":   {16.038108, 19.083190},
		"drive_heater_mean":   {1.4681574, 2.4528510},
		"drive_heating_share": {100 * 0.14453194 / 0.44623152, 100 * 0.37007389 / 1.3421892},
		"drive_mean_speed":    {28.262846, 46.617124},
	} {
		for i, name := range []string{"TripB13", "TripB33"} {
			seen := false
			for _, f := range e.Results {
				if f.Session != name || f.Figure != figure {
					continue
				}
				if seen = true; f.Value == nil || math.Abs(*f.Value-want[i]) > 1e-5*want[i] {
					t.Errorf("%s %s: %s %v, want %v (%s)", name, figure, f.Status, f.Value, want[i], f.Note)
				}
			}
			if !seen {
				t.Errorf("%s has no %s", name, figure)
			}
		}
	}
}
