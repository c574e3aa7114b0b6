package ingest

import (
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"coldbench/ingest/clock"
	"coldbench/warehouse"
)

// A bus has voltage and current in rows of their own: 400 V and 50 A are 20 kW. A
// voltage of more than a minute before is none.
func TestTeller(t *testing.T) {
	none := math.NaN()
	tell := teller{volts: none}
	for _, r := range [][4]float64{{0, none, none, 10}, {1, none, 400, none}, {2, none, none, 50}, {61, none, none, 50}, {62, none, none, 50}, {70, none, 500, 20}, {5, 7, none, none}} {
		tell.add(r[0], r[1], r[2], r[3])
	}
	if got, want := tell.samples(), []clock.Sample{{At: 2, Value: 20}, {At: 61, Value: 20}, {At: 70, Value: 10}}; !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
	// Stated power goes before as many products.
	stated := teller{volts: none}
	stated.add(3, 6, 400, 10)
	stated.add(1, 5, none, none)
	if got, want := stated.samples(), []clock.Sample{{At: 1, Value: 5}, {At: 3, Value: 6}}; !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

// The same side of the inlet is compared if both know it, unless the other has more
// than twice the rows.
func TestComparable(t *testing.T) {
	rows := func(n int) []clock.Sample { return make([]clock.Sample, n) }
	for _, c := range []struct {
		ref, log     power
		theirs, ours int
	}{
		{ref: power{pack: rows(100)}, log: power{charger: rows(90)}, theirs: 100, ours: 90},
		{ref: power{charger: rows(60), pack: rows(100)}, log: power{charger: rows(90)}, theirs: 60, ours: 90},
		{ref: power{charger: rows(40), pack: rows(100)}, log: power{charger: rows(90)}, theirs: 100, ours: 90},
		{ref: power{charger: rows(50)}, log: power{pack: rows(70)}, theirs: 50, ours: 70},
		{ref: power{pack: rows(50)}, log: power{}, theirs: 0, ours: 0},
	} {
		theirs, ours := c.ref.comparable(c.log)
		if len(theirs) != c.theirs || len(ours) != c.ours {
			t.Errorf("%d and %d rows, want %d and %d", len(theirs), len(ours), c.theirs, c.ours)
		}
	}
}

// A plug-in that only a charger with a wrong clock tells of moves with its clock: the
// zero is right, and as uncertain as the offset.
func TestAlignedPlugIn(t *testing.T) {
	f := newFolder(t)
	f.write("profiles/car.toml", "kind = \"delimited\"\nheader_row = 1\n[clock]\ncolumn = \"t\"\nformat = \"elapsed\"\n[[column]]\nname = \"kW\"\nchannel = \"pack_power_kw\"\n")
	f.write("sessions/night/session.toml", "vehicle = \"alder\"\nprocedure = \"cold-charge\"\nzone = \"UTC\"\n[[source]]\nfile = \"car.csv\"\nprofile = \"car\"\nstart = 2026-01-12T20:00:00\noffset_u_s = 3\n"+
		"[[source]]\nfile = \"charger.json\"\nkind = \"ocpp\"\nclock = \"align\"\n")
	var car, charger strings.Builder
	car.WriteString("t,kW\n")
	// 137 s slow: the plug-in, really at 20:01:00, is at 19:58:43 on its clock.
	charger.WriteString(`[2,"1","TransactionEvent",{"eventType":"Started","timestamp":"2026-01-12T19:58:43Z","triggerReason":"CablePluggedIn","seqNo":0,"transactionInfo":{"transactionId":"t1","chargingState":"EVConnected"}}]` + "\n")
	for s := 0; s < 3600; s += 10 {
		kw := 0.0
		if s >= 1205 {
			kw = 20 + float64(s/600)
		}
		fmt.Fprintf(&car, "%d.5,%g\n", s, kw)
		if s >= 60 {
			at := s - 137 + 5
			fmt.Fprintf(&charger, `[2,"%d","MeterValues",{"evseId":1,"meterValue":[{"timestamp":"2026-01-12T%02d:%02d:%02d.5Z","sampledValue":[{"value":%g,"measurand":"Power.Active.Import","location":"Outlet","unitOfMeasure":{"unit":"kW"}}]}]}]`+"\n",
				s, 19+(at+3600)/3600, (at+3600)/60%60, (at+3600)%60, kw+6)
		}
	}
	f.write("sessions/night/car.csv", car.String())
	f.write("sessions/night/charger.json", charger.String())
	got := f.load()
	if !strings.Contains(got, "night read [charger.json car.csv] unchanged 0\n") || !strings.Contains(got, "event plug-in 0.0\n") {
		t.Fatal(got)
	}
	if aligned := f.value(`offset_s - 137 between -8 and 8 and offset_u_s between 3 and 8`, "source where kind = 'ocpp'"); aligned != "true" {
		t.Error("the offset is " + f.value(`format('{} ± {}', offset_s, offset_u_s)`, "source where kind = 'ocpp'"))
	}
	if zero := f.value(`abs(epoch_us(zero) - epoch_us(timestamptz '2026-01-12 20:01:00+00')) < 8e6 and zero_u_s between 3 and 8`, "session"); zero != "true" {
		t.Error("the zero is " + f.value(`format('{} ± {}', zero::varchar, zero_u_s)`, "session"))
	}
	if again := f.load(); !strings.Contains(again, "unchanged 2\n") {
		t.Error(again)
	}
}

// value is one value of a table of the folder's warehouse.
func (f folder) value(expr, from string) string {
	f.t.Helper()
	w, err := warehouse.OpenWorkspace(f.t.Context(), filepath.Join(f.dir, "series.duckdb"), warehouse.Limits{})
	if err != nil {
		f.t.Fatal(err)
	}
	defer w.Close()
	rows, err := w.Query(f.t.Context(), "select ("+expr+")::varchar from "+from)
	if err != nil {
		f.t.Fatal(err)
	}
	defer rows.Close()
	var text string
	if !rows.Next() {
		f.t.Fatal("no row")
	}
	if err := rows.Scan(&text); err != nil {
		f.t.Fatal(err)
	}
	return text
}
