package workbook

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"coldbench/metrics/edition"
	"coldbench/metrics/standings"
	"coldbench/metrics/uncertainty"
)

// hostile texts: what must come out of the workbook as text, whatever goes in.
var hostile = []string{
	`=HYPERLINK("http://example.invalid","click")`, "+1+1", "-2", "@SUM(1)", "\t=1", "\r=1",
	"a\x00b\x1bc\ufffe", "_x0041_", `<v>&amp;"'`, "שלום \u202egnp.exe", "🚗❄️", "\xff\xfe",
	strings.Repeat("long ", 60), strings.Repeat("€", 40000),
}

// sampleScales are worked with by hand in TestWorkedByHand.
var sampleScales = []edition.Scale{
	{Figure: "delay_to_onset", Category: "delay", Zero: 90, Full: 0, Weight: 3},
	{Figure: "energy_before_onset", Category: "heat", Zero: 8, Full: 0, Weight: 2},
	{Figure: "time_10_80", Category: "charge", Zero: 120, Full: 20, Weight: 3},
	{Figure: "energy_30min", Category: "charge", Zero: 0, Full: 50, Weight: 2},
}

type sampleCar struct {
	id, name string
	values   []float64 // NaN: none
	u        []float64
	reason   string
}

// sampleCars: alder and birch cannot be told apart, cedar's charge was not seen
// to its end, dogwood has a hostile name, elder fails a gate.
var sampleCars = []sampleCar{
	{"alder-60", "Alder 60", []float64{18, 2, 45, 30}, []float64{1, 0.1, 1, 0.5}, ""},
	{"birch-75", "Birch 75", []float64{19, 1.9, 44, 30.5}, []float64{2, 0.2, 2, 1}, ""},
	{"cedar-50", "Cedar 50", []float64{40, 4, math.NaN(), 55}, []float64{1, 0.1, math.NaN(), 1}, ""},
	{"dogwood-90", hostile[0], []float64{95, 5, 100, 10}, []float64{1, 0.1, 1, 0.5}, ""},
	{"elder-40", "Elder 40", []float64{10, 1, 30, 40}, []float64{1, 0.1, 1, 0.5}, "=fails the gate soak-length: soaked 4.0 h, the protocol asks for 12.0 h"},
}

// rank is the ranking of the sample's cars at other weights, nil for those of
// the scales, by the package that editions are made with.
func rank(weights []float64) []edition.Standing {
	var scales []standings.Scale
	for i, s := range sampleScales {
		w := s.Weight
		if weights != nil {
			w = weights[i]
		}
		scales = append(scales, standings.Scale{Figure: s.Figure, Zero: s.Zero, Full: s.Full, Weight: w})
	}
	var cars []standings.Car
	for _, c := range sampleCars {
		car := standings.Car{ID: c.id, Values: map[string]uncertainty.Value{}, Reason: c.reason}
		for i, v := range c.values {
			if !math.IsNaN(v) {
				car.Values[scales[i].Figure] = uncertainty.Value{V: v, U: c.u[i]}
			}
		}
		cars = append(cars, car)
	}
	var out []edition.Standing
	for _, p := range standings.Rank(cars, scales).Places {
		st := edition.Standing{Vehicle: p.ID, Place: p.Rank, Lowest: p.Lowest, Highest: p.Highest, Score: p.Score.V, U: p.Score.U, Reason: p.Reason}
		i := slices.IndexFunc(cars, func(c standings.Car) bool { return c.ID == p.ID })
		for k, s := range scales {
			c := edition.Counted{Figure: s.Figure, Points: p.Points[k].V, Note: "no value"}
			if v, ok := cars[i].Values[s.Figure]; ok {
				c.Value, c.U, c.Note = &v.V, &v.U, ""
			}
			st.Values = append(st.Values, c)
		}
		out = append(out, st)
	}
	return out
}

// sample is a small edition made by hand, with all that is awkward in it.
func sample() (*edition.Edition, []edition.Log) {
	e := &edition.Edition{
		ID: "2026-02-01T0930Z", At: time.Date(2026, 2, 1, 9, 30, 0, 0, time.UTC), Program: "coldbench test",
		Title: "Winter & night <1>", Place: "Lake Hollow", Window: edition.Window{FromPct: 12, ToPct: 75, Why: "the largest that all compared cars cover"},
		Protocol: []edition.Parameter{{Name: "soak_min_h", Value: 12}, {Name: "onset_kw", Value: 1}}, Scales: sampleScales, Standings: rank(nil),
		Inputs: []edition.Input{{Path: "series.toml", SHA256: strings.Repeat("ab", 32)}},
		Figures: []edition.Defined{
			{Name: "ambient_at_plug_in", Title: "Air at plug-in", Unit: "°C", Better: "neither", Method: "definition is ours"},
			{Name: "delay_to_onset", Title: "Plug-in to charge", Unit: "min", Better: "lower", Method: "definition is ours"},
			{Name: "energy_30min", Title: "Energy into the pack in 30 min", Unit: "kWh", Better: "higher", Method: "definition is ours"},
			{Name: "energy_before_onset", Title: "Energy from the charger before charge", Unit: "kWh", Better: "lower", Method: "definition is ours"},
			{Name: "own_figure", Title: "A figure of the user's own", Unit: `"u"`, Better: "neither", Method: "=1+1"},
			{Name: "time_10_80", Title: "From 10 to 80 %", Unit: "min", Better: "lower", Method: "definition is ours"},
		},
		Pairs: []edition.Pair{{Before: "birch-75", After: "alder-60", Probability: 0.63}, {Before: "alder-60", After: "cedar-50", Probability: 1}},
	}
	var logs []edition.Log
	number := func(v float64) *float64 { return &v }
	for i, c := range sampleCars {
		id := "2026-01-1" + string(rune('2'+i)) + "-" + c.id
		e.Vehicles = append(e.Vehicles, edition.Vehicle{ID: c.id, Name: c.name})
		ses := edition.Session{ID: id, Vehicle: c.id, Procedure: "cold-charge", Zone: "Europe/Oslo", Zero: time.Date(2026, 1, 12+i, 19, 12, 30, 0, time.UTC), ZeroFrom: "notes.txt:7",
			Sources: []edition.Source{{Path: "sessions/" + id + "/car.csv", Kind: "delimited", Profile: "obd-wide", SHA256: strings.Repeat("0f", 32), Bytes: 123456, RowsRead: 100, RowsKept: 98, Aside: 2, OffsetS: -3.5}}}
		if i == 4 {
			ses.ID = "2026-01-16 a name too long / for [a] sheet: 'elder'"
			ses.Remark = hostile[12]
		}
		e.Sessions = append(e.Sessions, ses)
		for k, s := range sampleScales {
			f := edition.Figure{Session: ses.ID, Figure: s.Figure, Unit: e.Definition(s.Figure).Unit, Status: edition.Measured, From: number(0), To: number(3600)}
			if v := c.values[k]; math.IsNaN(v) {
				f.Value, f.Status, f.Note = number(61), edition.Beyond, "the log ends at 71 %, before 80 %"
			} else {
				f.Value, f.U = &v, &c.u[k]
			}
			if i == 3 && k == 0 {
				f.Status, f.Note = edition.Fallback, "from a note: "+hostile[1]
			}
			e.Results = append(e.Results, f)
		}
		e.Results = append(e.Results,
			edition.Figure{Session: ses.ID, Figure: "ambient_at_plug_in", Unit: "°C", Status: edition.Measured, Value: number(-20.5 - float64(i)), U: number(0.5)},
			edition.Figure{Session: ses.ID, Figure: "own_figure", Unit: `"u"`, Status: edition.None, Note: "not logged"})
		for k, g := range []string{"soak-length", "pack-near-ambient", "start-soc", "log-interval"} {
			verdict := []edition.Verdict{edition.Passed, edition.Passed, edition.Flagged, edition.CannotTell}[(k+i)%4]
			if i == 4 && k == 0 {
				verdict = edition.Failed
			}
			e.Gates = append(e.Gates, edition.Gate{Session: ses.ID, Gate: g, Verdict: verdict, Reason: "the reason of " + g})
		}
		if i == 2 {
			continue // a session without a log
		}
		logs = append(logs, sampleLog(ses.ID, c.values[0], i == 3))
		if i == 1 { // no logger on the heater
			for m := range logs[1].Minutes {
				logs[1].Minutes[m].HeaterKW = nil
			}
		}
	}
	sortResults(e)
	return e, logs
}

// sampleLog is a charge that begins delay minutes after plug-in.
func sampleLog(session string, delay float64, withHostile bool) edition.Log {
	number := func(v float64) *float64 { return &v }
	log := edition.Log{Session: session}
	soc, cold := 10.0, -20.0
	for m := -30; m < 100; m++ {
		min := edition.Minute{Minute: m, AmbientC: number(-21), PackMaxC: number(cold + 2), PackMinC: number(cold)}
		if m%7 != 0 {
			min.SoCPct = number(math.Floor(soc))
		}
		switch t := float64(m); {
		case m < 0:
			min.PackKW = number(-0.1)
		case t < delay:
			min.PackKW, min.ChargerKW, min.HeaterKW = number(0), number(7), number(6.5)
			cold += 0.8
		default:
			p := 90 * math.Min((t-delay)/10, 1) * math.Min((100-soc)/60, 1)
			min.PackKW, min.ChargerKW, min.HeaterKW = number(p), number(p+2), number(1)
			soc = math.Min(soc+p/60/60*100, 99)
			cold = math.Min(cold+0.6, 30)
		}
		log.Minutes = append(log.Minutes, min)
	}
	log.Events = []edition.Event{
		{T: 0, WidthS: 1, Kind: "plug-in", Text: "plugged in, latch clicked", Path: "sessions/" + session + "/notes.txt", Line: 7},
		{T: 60 * delay, WidthS: 60, Kind: "onset-seen", Text: "display shows a charge", Path: "sessions/" + session + "/notes.txt", Line: 9},
	}
	if withHostile {
		for i, text := range hostile {
			log.Events = append(log.Events, edition.Event{T: 4000, Kind: "note", Text: text, Path: text, Line: int64(i)})
		}
	}
	return log
}

// sortResults puts the results into the order that editions have.
func sortResults(e *edition.Edition) {
	slices.SortFunc(e.Results, func(a, b edition.Figure) int {
		return cmp.Or(strings.Compare(a.Session, b.Session), strings.Compare(a.Figure, b.Figure))
	})
}

func TestSampleIsInOrder(t *testing.T) {
	e, _ := sample()
	for _, f := range e.Results {
		if flaw := f.Flaw(); flaw != "" && f.Status != edition.Beyond {
			t.Errorf("%s %s: %s", f.Session, f.Figure, flaw)
		}
		if _, ok := e.Find(f.Session, f.Figure); !ok {
			t.Errorf("%s %s is not found", f.Session, f.Figure)
		}
	}
}
