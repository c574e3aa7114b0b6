package demo

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"strconv"
	"strings"
	"time"
)

// WriteKinds writes a series of one night into the folder dir, which
// must not hold anything yet: a session for each kind of log, with the same values
// written in that kind, each with a car of its own, since one car has a night once. "wide" is the one to compare with: delimited text with a
// column a channel. In all but "messages" the car's log is of the kind; there the
// charger's is (OCPP), and the weather's (METAR). The same bytes every time.
func WriteKinds(dir string) error {
	files, err := kindFiles()
	if err != nil {
		return fmt.Errorf("demo: kinds: %w", err)
	}
	return write(dir, files)
}

// Kinds are the sessions that WriteKinds writes beside "wide".
var Kinds = []string{"long", "lines", "document", "workbook", "parquet", "arrow", "bus", "messages"}

func kindFiles() (map[string][]byte, error) {
	p := plan{id: "wide", car: alder, procedure: "cold-charge", plug: "2026-01-12T20:12:24", logger: "wide-log", interval: 5, charger: true, statePlug: true,
		night: Night{AmbientC: -19, SwingK: 2, SoakH: 46, StartC: 4, StartSoC: 8.4, EndSoC: 83, ChargerKW: 150, MaxH: 4, AfterMin: 4}}
	all, err := files([]plan{p}, nil, 20260112)
	if err != nil {
		return nil, err
	}
	delete(all, "truth.csv")
	loc, err := time.LoadLocation(zone)
	if err != nil {
		return nil, err
	}
	plug, err := time.ParseInLocation("2006-01-02T15:04:05", p.plug, loc)
	if err != nil {
		return nil, err
	}
	// The files again, to be written otherwise.
	own := p.files(p.run(), plug, rand.New(rand.NewPCG(20260112, 0)))
	car, err := tableOf(own["car.csv"], plug.Add(-120*time.Second), func(text string, start time.Time) (time.Time, error) {
		s, err := strconv.ParseFloat(text, 64)
		return start.Add(time.Duration(s * 1e9)), err
	})
	if err != nil {
		return nil, err
	}
	for _, k := range []struct {
		id, file, profile string
		write             func(table) ([]byte, error)
	}{
		{"long", "car.txt", longProfile, table.long},
		{"lines", "car.jsonl", linesProfile, table.lines},
		{"document", "car.json", documentProfile, table.document},
		{"workbook", "car.xlsx", workbookProfile, table.workbook},
		{"parquet", "car.parquet", columnarProfile, table.parquet},
		{"arrow", "car.arrow", columnarProfile, table.arrow},
		{"bus", "car.log", busProfile, table.frames},
	} {
		text, err := k.write(car)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", k.id, err)
		}
		folder := "sessions/" + k.id + "/"
		for _, name := range []string{"notes.txt", "charger.csv", "air.csv"} {
			all[folder+name] = own[name]
		}
		all[folder+k.file] = text
		all[folder+"session.toml"] = bytes.Replace(own["session.toml"], []byte("file = \"car.csv\"\nprofile = \"wide-log\"\n"), fmt.Appendf(nil, "file = %q\nprofile = %q\n", k.file, k.id), 1)
		all["profiles/"+k.id+".toml"] = []byte(k.profile + wideColumns())
	}
	all["profiles/bus.toml"] = []byte(busProfile + busNames.Replace(wideColumns()))
	all["profiles/bus.dbc"] = []byte(busSignals)
	if err := messages(all, own, plug); err != nil {
		return nil, err
	}
	for _, id := range Kinds {
		name := "sessions/" + id + "/session.toml"
		car := alder
		car.Name += " " + id
		all["vehicles/"+ownCar(id)+".toml"] = []byte(vehicleTOML(car))
		all[name] = bytes.Replace(all[name], fmt.Appendf(nil, "vehicle = %q", alder.ID), fmt.Appendf(nil, "vehicle = %q", ownCar(id)), 1)
	}
	return all, nil
}

// ownCar is the car of a kind's session.
func ownCar(id string) string { return alder.ID + "-" + id }

// wideColumns are the columns of the wide log's profile.
func wideColumns() string {
	text := profiles["wide-log"]
	return text[strings.Index(text, "[[column]]"):]
}

// messages writes the session whose charger and weather write messages.
func messages(all, own map[string][]byte, plug time.Time) error {
	const folder = "sessions/messages/"
	charger, err := tableOf(own["charger.csv"], plug, func(text string, start time.Time) (time.Time, error) {
		at, err := time.ParseInLocation("2006-01-02 15:04:05", start.Format("2006-01-02 ")+text, start.Location())
		if at.Before(start) {
			at = at.AddDate(0, 0, 1) // its clock shows no date
		}
		return at, err
	})
	if err != nil {
		return err
	}
	air, err := tableOf(own["air.csv"], plug, func(text string, start time.Time) (time.Time, error) {
		return time.ParseInLocation("2006-01-02T15:04:05", text, start.Location())
	})
	if err != nil {
		return err
	}
	var b bytes.Buffer
	for i, r := range charger.rows {
		type sampled struct {
			Value     string `json:"value"`
			Measurand string `json:"measurand"`
			Unit      string `json:"unit"`
			Location  string `json:"location"`
		}
		type metered struct {
			Timestamp    string    `json:"timestamp"`
			SampledValue []sampled `json:"sampledValue"`
		}
		text, err := json.Marshal([]any{2, fmt.Sprint(i + 1), "MeterValues", map[string]any{"connectorId": 1, "transactionId": 1, "meterValue": []metered{{
			r.at.UTC().Format(time.RFC3339),
			[]sampled{{r.cells[0], "Power.Active.Import", "kW", "Outlet"}, {r.cells[1], "Energy.Active.Import.Register", "kWh", "Outlet"}}}}}})
		if err != nil {
			return err
		}
		b.Write(append(text, '\n'))
	}
	all[folder+"charger.json"] = b.Bytes()
	b = bytes.Buffer{}
	for _, r := range air.rows {
		c, err := strconv.ParseFloat(r.cells[0], 64)
		if err != nil {
			return err
		}
		// Dry air: the dew point three degrees below.
		fmt.Fprintf(&b, "METAR XFEL %sZ AUTO 00000KT 9999 NSC %s/%s Q1021 RMK T%s%s\n", r.at.UTC().Format("021504"), whole(c), whole(c-3), tenths(c), tenths(c-3))
	}
	all[folder+"air.metar"] = b.Bytes()
	all[folder+"car.csv"], all[folder+"notes.txt"] = own["car.csv"], own["notes.txt"]
	text := string(own["session.toml"])
	from := strings.Index(text, "\n[[source]]\nfile = \"charger.csv\"")
	all[folder+"session.toml"] = fmt.Appendf(nil, "%s\n[[source]]\nfile = \"charger.json\"\nkind = \"ocpp\"\n\n[[source]]\nfile = \"air.metar\"\nkind = \"metar\"\nstart = %s\n",
		text[:from], air.rows[0].at.Format("2006-01-02T15:04:05"))
	return nil
}

// whole is a temperature in a report's body, tenths one in its remarks.
func whole(c float64) string {
	n := int(roundHalfUp(c))
	if n < 0 || n == 0 && c < 0 {
		return fmt.Sprintf("M%02d", -n)
	}
	return fmt.Sprintf("%02d", n)
}

func tenths(c float64) string {
	n := int(roundHalfUp(c * 10))
	if n < 0 {
		return fmt.Sprintf("1%03d", -n)
	}
	return fmt.Sprintf("0%03d", n)
}

// A table is a log as its texts stand, with the moments of its rows.
type table struct {
	names []string // without the clock's
	rows  []tableRow
}

type tableRow struct {
	at    time.Time
	cells []string
}

// tableOf reads a log with commas whose clock is the first column.
func tableOf(text []byte, start time.Time, moment func(string, time.Time) (time.Time, error)) (table, error) {
	records, err := csv.NewReader(bytes.NewReader(text)).ReadAll()
	if err != nil {
		return table{}, err
	}
	t := table{names: records[0][1:]}
	for _, rec := range records[1:] {
		at, err := moment(rec[0], start)
		if err != nil {
			return table{}, err
		}
		t.rows = append(t.rows, tableRow{at, rec[1:]})
	}
	return t, nil
}
