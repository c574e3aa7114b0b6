package series

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// write lays files out in a folder, by name.
func write(t *testing.T, files map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	for name, text := range files {
		name = filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

func good() map[string]string {
	return map[string]string{
		"series.toml":            "title = \"Winter\"\n",
		"vehicles/alder-60.toml": "name = \"Alder 60\"\nusable_kwh = 58.0\n",
		"profiles/obd.toml":      "kind = \"delimited\"\nheader_row = 1\n[clock]\ncolumn = \"t\"\nformat = \"elapsed\"\n[[column]]\nname = \"T\"\nchannel = \"pack_temp_min_c\"\nunit = \"°F\"\n",
		"sessions/night/session.toml": "vehicle = \"alder-60\"\nprocedure = \"cold-charge\"\nzone = \"Europe/Oslo\"\n" +
			"plug_in = 2026-01-12T20:12:30\n[[source]]\nfile = \"car.csv\"\nprofile = \"obd\"\n",
		"sessions/night/car.csv": "t,T\n0,1\n",
	}
}

var kinds = []string{"delimited", "notes"}

func TestLoad(t *testing.T) {
	s, l, err := Load(write(t, good()), kinds)
	if err != nil || l != nil || s.Sessions[0].Problems != nil {
		t.Fatal(s, l, err)
	}
	ses := s.Sessions[0]
	if ses.Sources[0].Kind != "delimited" || ses.PlugIn.AsTime(ses.Location).UTC().Format("15:04:05") != "19:12:30" {
		t.Errorf("%+v", ses)
	}
	if s.Protocol.Soak.MinH != 12 || len(s.Protocol.Points) != 4 {
		t.Errorf("defaults: %+v", s.Protocol)
	}
	if got := ses.At("source", "0", "profile").String(); got != "sessions/night/session.toml:7:11" {
		t.Errorf("place of the profile: %s", got)
	}
}

// Each mistake is told of with its place, and nothing else is lost for it.
func TestMistakes(t *testing.T) {
	for _, c := range []struct{ name, file, old, new, want string }{
		{"unknown key", "vehicles/alder-60.toml", "usable_kwh", "useable_kwh", `vehicles/alder-60.toml:2:1: unknown key "useable_kwh" (did you mean "usable_kwh"?)`},
		{"unknown key in an array", "sessions/night/session.toml", "profile =", "profil =", `sessions/night/session.toml:7:1: unknown key "profil" (did you mean "profile"?)`},
		{"syntax", "vehicles/alder-60.toml", "58.0", "58 0", `vehicles/alder-60.toml:2:17: `},
		{"a decimal comma", "vehicles/alder-60.toml", "58.0", "58,0", `vehicles/alder-60.toml:2:14: 58,0 is no number (numbers are written with a point and no other mark, such as 58.0)`},
		{"a decimal comma and thousands", "vehicles/alder-60.toml", "58.0", "-1.058,0 # kWh", `vehicles/alder-60.toml:2:14: -1.058,0 is no number (numbers are written with a point and no other mark, such as 12.5)`},
		{"a decimal comma in a table", "series.toml", "title", "gate = [{name = \"dry\", limit = 2,5}]\n#", `series.toml:1:32: 2,5 is no number (numbers are written with a point and no other mark, such as 2.5)`},
		{"a number in quotes", "vehicles/alder-60.toml", "58.0", `"58.0"`, `vehicles/alder-60.toml:2:14: usable_kwh must be a number, and is the text "58.0" (write 58.0 without quotes)`},
		{"a number in quotes with its unit", "series.toml", "title", "[soak]\nmin_h = \"12,5 h\"\n#", `series.toml:2:9: min_h must be a number, and is the text "12,5 h" (write 12.5 without quotes and unit)`},
		{"a number in quotes above a mistake of syntax", "vehicles/alder-60.toml", "58.0", "\"58\"\nheater = coolant", `vehicles/alder-60.toml:2:14: usable_kwh must be a number, and is the text "58" (write 58 without quotes)`},
		{"in a list in one line", "sessions/night/session.toml", "[[source]]\nfile = \"car.csv\"\nprofile = \"obd\"\n", `source = [{file = "car.csv", profile = "obd"}, {file = "nix.csv", profile = "obd"}]`,
			`sessions/night/session.toml:5:56: source "nix.csv" not found (it must lie in sessions/night)`},
		{"a number in words", "series.toml", "title", "soak.min_h = \"twelve\"\n#", `series.toml:1:14: min_h must be a number, and is the text "twelve"`},
		{"a list for a number", "series.toml", "title", "[soak]\nmin_h = [12]\n#", `series.toml:2:1: min_h must be a number, and is a list`},
		{"a table for a number", "series.toml", "title", "[soak.min_h.h]\n#", `series.toml:1:7: min_h must be a number, and is a table`},
		{"a number for a table", "series.toml", "title", "soak = 12\n#", `series.toml:1:8: soak must be a table, and is the number 12 (write [soak] on a line of its own, and its keys below)`},
		{"a table many times", "series.toml", "title", "[[soak]]\n#", `series.toml:1:3: soak must be a table, and is a list of tables (write [soak] on`},
		{"a text for tables", "series.toml", "title", "gate = \"dry\"\n#", `series.toml:1:8: gate must be a list of tables, and is the text "dry" (write [[gate]] on a line of its own, and its keys below)`},
		{"within a list of tables", "series.toml", "title", "gate = [{name = \"dry\", limit = \"2\"}]\n#", `series.toml:1:32: limit must be a number, and is the text "2" (write 2 without quotes)`},
		{"a number for a text", "vehicles/alder-60.toml", `"Alder 60"`, "60", `vehicles/alder-60.toml:1:8: name must be a text, and is the number 60 (write "60", in quotes)`},
		{"a text for a list", "profiles/obd.toml", "header_row = 1", `missing = "-"`, `profiles/obd.toml:2:11: missing must be a list of texts, and is the text "-" (write missing = ["-"])`},
		{"a number in a list of texts", "profiles/obd.toml", "header_row = 1", `missing = ["-", -99]`, `profiles/obd.toml:2:17: missing must be a list of texts, and holds the number -99 (write "-99", in quotes)`},
		{"a part of a row", "profiles/obd.toml", "header_row = 1", "header_row = 1.5", `profiles/obd.toml:2:14: header_row must be a whole number, and is the number 1.5`},
		{"true in quotes", "profiles/obd.toml", "unit =", "invert = \"true\"\nunit =", `profiles/obd.toml:9:10: invert must be true or false, and is the text "true" (write true without quotes)`},
		{"no time", "sessions/night/session.toml", "2026-01-12T20:12:30", `"12.1.2026 20:12"`, `sessions/night/session.toml:4:11: plug_in must be a date and time, and is the text "12.1.2026 20:12" (such as`},
		{"a time with its zone", "sessions/night/session.toml", "2026-01-12T20:12:30", "2026-01-12T20:12:30Z", `sessions/night/session.toml:4:11: plug_in must be a date and time, and is the date and time 2026-01-12T20:12:30Z of a zone (such as 2026-01-31T20:15:00, local and without a zone)`},
		{"a day for a time", "sessions/night/session.toml", "2026-01-12T20:12:30", "2026-01-12", `sessions/night/session.toml:4:11: plug_in must be a date and time, and is the date 2026-01-12 (such as`},
		{"a key in capitals", "vehicles/alder-60.toml", "usable_kwh = 58.0", `Usable_kWh = "58"`, `vehicles/alder-60.toml:2:14: Usable_kWh must be a number, and is the text "58" (write 58 without quotes)`},
		{"unknown vehicle", "sessions/night/session.toml", `"alder-60"`, `"adler-60"`, `sessions/night/session.toml:1:11: unknown vehicle "adler-60" (did you mean "alder-60"?)`},
		{"unknown procedure", "sessions/night/session.toml", "cold-charge", "cold-charg", `sessions/night/session.toml:2:13: unknown procedure "cold-charg" (did you mean "cold-charge"?)`},
		{"unknown zone", "sessions/night/session.toml", "Europe/Oslo", "Europe/Olso", `sessions/night/session.toml:3:8: unknown time zone "Europe/Olso"`},
		{"missing source", "sessions/night/session.toml", "car.csv", "cra.csv", `sessions/night/session.toml:6:8: source "cra.csv" not found`},
		{"source elsewhere", "sessions/night/session.toml", "car.csv", "../car.csv", `source file "../car.csv" is not a file of the session's folder`},
		{"wrong unit", "profiles/obd.toml", "°F", "kW", `profiles/obd.toml:9:8: unit "kW" does not measure temperature (the channel is kept in °C)`},
		{"unknown unit", "profiles/obd.toml", "°F", "°G", `profiles/obd.toml:9:8: unknown unit "°G"`},
		{"unknown channel", "profiles/obd.toml", "pack_temp_min_c", "pack_temp_mni_c", `profiles/obd.toml:8:11: unknown channel "pack_temp_mni_c" (did you mean "pack_temp_min_c"?)`},
		{"unknown layout", "profiles/obd.toml", "kind = \"delimited\"", "kind = \"delimited\"\nlayout = \"tall\"", `unknown layout "tall"`},
		{"long without its value", "profiles/obd.toml", "kind = \"delimited\"", "kind = \"delimited\"\nlayout = \"long\"\nsignal_column = \"s\"", `signal_column and value_column belong to layout "long", and it needs both`},
		{"another kind's key", "profiles/obd.toml", "kind = \"delimited\"", "kind = \"delimited\"\nsheet = \"Log\"", `sheet is of a profile of kind sheet, not "delimited"`},
		{"gate set to nothing", "series.toml", "title", "[[gate]]\nname = \"dry\"\n#", `the gate "dry" is set to nothing`},
		{"unknown action", "series.toml", "title", "[[gate]]\nname = \"dry\"\naction = \"stop\"\n#", `a gate's action must be fail, flag or off, not "stop"`},
		{"no number", "vehicles/alder-60.toml", "58.0", "nan", `vehicles/alder-60.toml:2:14: usable_kwh is nan, and must be a number of a sensible size`},
		{"in Wh", "vehicles/alder-60.toml", "58.0", "58000.0", `vehicles/alder-60.toml:2:14: usable_kwh is 58000, and a car's lies within 1 to 2000 (is the unit right?)`},
		{"below 0", "vehicles/alder-60.toml", "58.0", "-58.0", `vehicles/alder-60.toml:2:14: usable_kwh is -58, and a car's lies within 1 to 2000 (is the unit right?)`},
		{"in kWh a km", "vehicles/alder-60.toml", "usable_kwh = 58.0", "rated_wh_km = 0.16", `vehicles/alder-60.toml:2:15: rated_wh_km is 0.16, and a car's lies within 20 to 5000 (is the unit right?)`},
		{"beyond sense", "vehicles/alder-60.toml", "58.0", "1e308", `vehicles/alder-60.toml:2:14: usable_kwh is 1e308, and must be`},
		{"a time left out", "sessions/night/session.toml", "2026-01-12T20:12:30", "2026-03-29T02:30:00", `there is no 2026-03-29T02:30:00 in Europe/Oslo`},
		{"bad window", "series.toml", "title", "[window]\nfrom_pct = 80\nto_pct = 10\n#", `series.toml:3:10: window from 80 % to 10 % is no window`},
		{"scale of one value", "series.toml", "title", "[[points]]\nfigure = \"x\"\nzero = 1\nfull = 1\nweight = 1\n#", `series.toml:3:8: the value for 0 points and for 100 points are the same, 1`},
	} {
		t.Run(c.name, func(t *testing.T) {
			files := good()
			text := strings.Replace(files[c.file], c.old, c.new, 1)
			if text == files[c.file] {
				t.Fatal("the mistake was not made")
			}
			files[c.file] = text
			s, l, err := Load(write(t, files), kinds)
			if err != nil {
				t.Fatal(err)
			}
			if s != nil {
				for _, ses := range s.Sessions {
					l = append(l, ses.Problems...)
				}
			}
			if !strings.Contains(l.Error(), c.want) {
				t.Errorf("got  %s\nwant %s", l.Error(), c.want)
			}
		})
	}
}

// Cars of one name are told of, and kept; a name may be part of another.
func TestNamesTwice(t *testing.T) {
	files := good()
	files["vehicles/birch.toml"] = "usable_kwh = 58.0\nname = \" ALDER 60 \"\n"
	files["vehicles/cedar.toml"] = "name = \"Alder 60 long\"\n"
	files["vehicles/elm.toml"] = "name = \"alder 60\"\n"
	s, l, err := Load(write(t, files), kinds)
	const hint = " (in standings they could not be told apart; give each car a name of its own)"
	want := "vehicles/birch.toml:2:8: vehicles/alder-60.toml has the name \"Alder 60\" too" + hint + "\n" +
		"vehicles/elm.toml:1:8: vehicles/alder-60.toml has the name \"Alder 60\" too" + hint
	if err != nil || l.Error() != want || len(s.Vehicles) != 4 || s.Sessions[0].Problems != nil {
		t.Errorf("%v %v %d vehicles\nwant %s", err, l, len(s.Vehicles), want)
	}
}

// One broken session leaves the other whole.
func TestRestStillLoads(t *testing.T) {
	files := good()
	files["sessions/other/session.toml"] = "vehicle = 3\n"
	s, l, err := Load(write(t, files), kinds)
	if err != nil || l != nil || len(s.Sessions) != 2 {
		t.Fatal(s, l, err)
	}
	if s.Sessions[0].Problems != nil || s.Sessions[1].Problems == nil {
		t.Errorf("%v, %v", s.Sessions[0].Problems, s.Sessions[1].Problems)
	}
}

// What LayOut writes can be loaded as it is, and equals the defaults.
func TestLayOut(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "winter")
	for _, x := range [][2]string{{"series", dir}, {"vehicle", filepath.Join(dir, "vehicles", "alder-60.toml")}, {"session", filepath.Join(dir, "sessions", "2026-01-12-alder-60")}} {
		if _, err := LayOut(x[0], x[1]); err != nil {
			t.Fatal(err)
		}
		if _, err := LayOut(x[0], x[1]); err == nil || !strings.Contains(err.Error(), "is there already") {
			t.Errorf("%s written twice: %v", x[0], err)
		}
	}
	s, l, err := Load(dir, kinds)
	if err != nil || l != nil {
		t.Fatal(l, err)
	}
	if s.Vehicles["alder-60"].Name != "Alder 60" {
		t.Errorf("%+v", s.Vehicles)
	}
	if ses := s.Sessions[0]; ses.Problems != nil || ses.Vehicle != "alder-60" {
		t.Errorf("%+v", ses)
	}
	want := defaultProtocol()
	want.Points = defaultPoints
	if !slices.Equal(s.Protocol.Parameters(), want.Parameters()) || !slices.Equal(s.Protocol.Points, want.Points) {
		t.Errorf("the template differs from the defaults: %+v", s.Protocol)
	}
}

func FuzzDecode(f *testing.F) {
	f.Add("title = \"x\"\n[soak]\nmin_h = 3\n[[points]]\nfigure = {a = 1}\n")
	f.Add("[points]\n[[points]]\n")
	f.Fuzz(func(t *testing.T, text string) {
		dir := write(t, map[string]string{"series.toml": text})
		s, l, err := Load(dir, kinds)
		if err != nil || (s == nil) == (l == nil) {
			t.Fatalf("%v %v %v", s, l, err)
		}
	})
}

// What an editor of Windows writes before the text is none of it; what is no text,
// or cannot be read, is one file's matter.
func TestFiles(t *testing.T) {
	files := good()
	for name, text := range files {
		if strings.HasSuffix(name, ".toml") {
			files[name] = "\ufeff" + text
		}
	}
	s, l, err := Load(write(t, files), kinds)
	if err != nil || l != nil || s.Sessions[0].Problems != nil || s.Sessions[0].At("source", "0", "profile").String() != "sessions/night/session.toml:7:11" {
		t.Errorf("with byte order marks: %v %v", l, err)
	}

	files = good()
	files["vehicles/alder-60.toml"] = "name = \"Alder\"\nremark = \"-20 \xb0C\"\n"
	files["vehicles/birch.toml/x"] = ""
	files["profiles/obd.toml"] = "\xff\xfek\x00"
	dir := write(t, files)
	if err := os.Symlink("nowhere", filepath.Join(dir, "sessions", "gone")); err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(filepath.Join(dir, "sessions", "night"), filepath.Join(dir, "elsewhere")); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("../elsewhere", filepath.Join(dir, "sessions", "night")); err != nil {
		t.Fatal(err)
	}
	s, l, err = Load(dir, kinds)
	if err != nil {
		t.Fatal(err)
	}
	want := "profiles/obd.toml:1: the file is not UTF-8 (save it as UTF-8)\n" +
		"vehicles/alder-60.toml:2: the file is not UTF-8 (save it as UTF-8)\n" +
		"vehicles/birch.toml: the file cannot be read: is a directory"
	if l.Error() != want {
		t.Errorf("got  %v\nwant %s", l, want)
	}
	var got []string
	for _, ses := range s.Sessions {
		got = append(got, ses.ID+": "+ses.Problems[0].Error())
	}
	if want := "gone: sessions/gone/session.toml: file not found (`coldbench new` lays it out); " +
		"night: sessions/night/session.toml:1:11: unknown vehicle \"alder-60\" (vehicles/alder-60.toml has mistakes in it)"; strings.Join(got, "; ") != want {
		t.Errorf("got  %s\nwant %s", strings.Join(got, "; "), want)
	}

	files = good()
	files["sessions/night/session.toml"] += "[[source]]\nfile = \"./car.csv\"\nprofile = \"obd\"\n"
	if s, _, err = Load(write(t, files), kinds); err != nil || s.Sessions[0].Problems.Error() != `sessions/night/session.toml:9:8: source "./car.csv" is listed twice` {
		t.Errorf("%v %v", s.Sessions[0].Problems, err)
	}
}
