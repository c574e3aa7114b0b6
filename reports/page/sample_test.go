package page

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"coldbench/metrics/edition"
)

// hostile texts: what must stay text, whatever goes in.
var hostile = []string{
	`</script><script>document.title="taken"</script><b onmouseover="document.title='taken'">`,
	"=1+1", "\u202egnp.exe \u200fסוס", "🚗❄️ \x00\x1b", `"><img src=x onerror=alert(1)>`, "{{.}} ${1}", strings.Repeat("Maplewood ", 30), strings.Repeat("W", 300),
}

func ptr(v float64) *float64 { return &v }

// trace is an hour at 1 Hz from 60 s before plug-in: nothing, then a step to 60 kW
// after delay minutes, and a spike of one second at minute 50.
func trace(delay float64) edition.Trace {
	var t edition.Trace
	for s := -60; s < 3600; s++ {
		min := float64(s) / 60
		kw, kwh := 0.0, max(0, min-delay)
		if min >= delay {
			kw = 60 + 3*math.Sin(float64(s)/200)
		}
		if s == 3000 {
			kw = 141
		}
		t.T = append(t.T, float64(s))
		t.PackKW = append(t.PackKW, kw)
		t.ChargerKW = append(t.ChargerKW, kw+6)
		t.HeaterKW = append(t.HeaterKW, max(0, 5-kw))
		t.SoCPct = append(t.SoCPct, 10+math.Floor(kwh*1.5))
		t.PackMinC = append(t.PackMinC, math.Floor(-20+min/2))
		t.PackKWh = append(t.PackKWh, kwh)
	}
	return t
}

// sample is an edition of n cars of one session each, with all that is awkward:
// the second car's name and notes are hostile, the last but one is known from
// minutes only and the last fails a gate. Each session has figures figures.
func sample(n, figures int) (*edition.Edition, []edition.Log) {
	e := &edition.Edition{
		ID: "2026-02-01T0930Z", At: time.Date(2026, 2, 1, 9, 30, 0, 0, time.UTC), Program: "test", Title: "Winter & nights <1>", Place: "Fellmoor",
		Window:   edition.Window{FromPct: 10, ToPct: 70, Why: "the largest"},
		Protocol: []edition.Parameter{{Name: "soak_min_h", Value: 24}},
		Inputs:   []edition.Input{{Path: "series.toml", SHA256: strings.Repeat("cd", 32)}},
		Scales:   []edition.Scale{{Figure: "delay_to_onset", Category: "delay", Zero: 90, Full: 0, Weight: 1}},
		Figures:  []edition.Defined{{Name: "delay_to_onset", Title: "Plug-in to charge", Unit: "min", Better: "lower", Method: "definition is ours"}},
		Rules:    []edition.Rule{{Gate: "soak-length", Title: "Soak long enough", Action: "fail", Limit: 24, Unit: "h", Text: "The car stood outside."}},
	}
	for i := 1; i < figures; i++ {
		e.Figures = append(e.Figures, edition.Defined{Name: fmt.Sprintf("figure_%02d", i), Title: fmt.Sprintf("A figure of the charge, number %d", i), Unit: "kWh", Method: "definition is ours"})
	}
	var logs []edition.Log
	for i := range n {
		car, name := fmt.Sprintf("car-%02d", i), fmt.Sprintf("Alder %d", 40+i)
		note := "pack voltage times current"
		if i == 1 {
			name, note = hostile[0], strings.Join(hostile, " ")
		}
		id := fmt.Sprintf("2026-01-%02d-%s", 10+i, car)
		delay := float64(40 - 3*i%30)
		e.Vehicles = append(e.Vehicles, edition.Vehicle{ID: car, Name: name})
		e.Sessions = append(e.Sessions, edition.Session{
			ID: id, Vehicle: car, Procedure: "cold-charge", Remark: note, Zone: "Europe/Oslo", Zero: time.Date(2026, 1, 10+i, 19, 12, 0, 0, time.UTC), ZeroFrom: "notes.txt:5",
			Sources: []edition.Source{{Path: "sessions/" + id + "/car.csv", Kind: "delimited", SHA256: strings.Repeat("ab", 32), Bytes: 1234567, RowsRead: 3660, RowsKept: 3659, Aside: 1}},
		})
		for k, d := range e.Figures {
			f := edition.Figure{Session: id, Figure: d.Name, Unit: d.Unit, Value: ptr(delay), U: ptr(0.5), Status: edition.Measured, Note: note, From: ptr(0), To: ptr(60 * delay)}
			switch {
			case k == 0 && i == 2:
				f.U, f.Status, f.Note = nil, edition.Beyond, "the log ends before"
			case k > 0 && (k+i)%4 == 0:
				f.Value, f.U, f.Status, f.Note = nil, nil, edition.None, "the heater was not logged"
			}
			e.Results = append(e.Results, f)
		}
		verdict := edition.Passed
		st := edition.Standing{Vehicle: car, Place: 1 + i/2*2, Lowest: 1, Highest: i + 1, Score: 90 - 2*float64(i), U: 1.5, Sessions: []string{id},
			Values: []edition.Counted{{Figure: "delay_to_onset", Value: ptr(delay), U: ptr(0.5), Points: 50}}}
		if i == n-1 {
			verdict = edition.Failed
			st = edition.Standing{Vehicle: car, Reason: "fails soak-length: soaked 2.0 h", Values: []edition.Counted{{Figure: "delay_to_onset", Note: "no session"}}}
		}
		e.Standings = append(e.Standings, st)
		e.Gates = append(e.Gates, edition.Gate{Session: id, Gate: "soak-length", Verdict: verdict, Reason: "soaked 30.0 h; " + note})
		l := edition.Log{Session: id, Trace: trace(delay),
			Phases: []edition.Phase{{Name: "heating-only", From: 0, To: 60 * delay, Rule: "the pack took lasting energy"}},
			Events: []edition.Event{{T: 5, WidthS: 60, Kind: "plug-in", Text: note, Path: "notes.txt", Line: 5}}}
		if i == n-2 {
			l.Trace = edition.Trace{}
			for m := range 60 {
				l.Minutes = append(l.Minutes, edition.Minute{Minute: m, SoCPct: ptr(10 + float64(m)), PackKW: ptr(50)})
			}
		}
		logs = append(logs, l)
	}
	slices.SortStableFunc(e.Results, func(a, b edition.Figure) int {
		return cmp.Or(strings.Compare(a.Session, b.Session), strings.Compare(a.Figure, b.Figure))
	})
	return e, logs
}

// BenchmarkWrite writes the page of 20 sessions of an hour at 1 Hz with 90
// figures each: 72,000 rows thinned and written.
func BenchmarkWrite(b *testing.B) {
	e, logs := sample(20, 90)
	var size int
	for b.Loop() {
		thinned := slices.Clone(logs)
		for i := range thinned {
			thinned[i].Trace = thinned[i].Trace.Thin(800)
		}
		var w counter
		if err := Write(&w, e, thinned, nil, nil); err != nil {
			b.Fatal(err)
		}
		size = int(w)
	}
	b.ReportMetric(float64(size), "bytes")
}

type counter int

func (c *counter) Write(p []byte) (int, error) { *c += counter(len(p)); return len(p), nil }
