package metrics

import (
	"bytes"
	"math"
	"reflect"
	"testing"

	"coldbench/metrics/edition"
)

// A log comes out of the warehouse as it went in, thinned as it would be had it
// never been there: from its whole trace or from the fewest rows, and as the same line.
func TestKeptLogIsTheLog(t *testing.T) {
	kw := 11.5
	l := edition.Log{
		Session: "2026-01-12-alder-60", PlugS: 42,
		Minutes: []edition.Minute{{Minute: -1}, {Minute: 0, PackKW: &kw}},
		Events:  []edition.Event{{T: 7.5, WidthS: 60, Kind: "remark", Text: "windscreen < 0 °C & \"white\"", Path: "notes.txt", Line: 3}},
		Phases:  []edition.Phase{{Name: "soak", From: -3600, To: 0, Rule: "plugged in"}},
	}
	const n = traceRowsMost - 1
	columns := []*edition.Column{&l.Trace.PackKW, &l.Trace.ChargerKW, &l.Trace.HeaterKW, &l.Trace.SoCPct, &l.Trace.PackMinC, &l.Trace.PackKWh}
	for i := range n {
		l.Trace.T = append(l.Trace.T, float64(i))
		for c, column := range columns {
			v := math.Round(1e4*math.Sin(float64(i)*float64(c+1)/50)) / 1e4
			if i%97 == c {
				v = math.NaN()
			}
			*column = append(*column, v)
		}
	}
	l.Trace.Whole = 7 * n
	k, err := packed(&l)
	if err != nil {
		t.Fatal(err)
	}
	for _, rows := range []int{traceRowsLeast, 3 * traceRowsLeast, traceRowsMost} {
		want := l.Thin(rows)
		wantLine, err := want.Line()
		if err != nil {
			t.Fatal(err)
		}
		from := k
		from.Least = nil
		if rows == traceRowsLeast {
			from.Body, from.Least = nil, k.Least
		}
		got, err := unpacked(from, rows)
		if err != nil {
			t.Fatal(err)
		}
		line, err := got.Line()
		if err != nil || !bytes.Equal(line, wantLine) {
			t.Errorf("%d rows: another line, %v", rows, err)
		}
		// NaN differs from itself: what is drawn of the trace is told by its line.
		again, err := edition.ParseLog(line)
		if err != nil || len(again.Trace.T) != len(want.Trace.T) || len(got.Trace.T) != len(want.Trace.T) || len(got.Trace.T) > rows {
			t.Errorf("%d rows: %d of trace, read again %d, want %d, %v", rows, len(got.Trace.T), len(again.Trace.T), len(want.Trace.T), err)
		}
		if !reflect.DeepEqual(got.Minutes, want.Minutes) || !reflect.DeepEqual(got.Events, want.Events) || !reflect.DeepEqual(got.Phases, want.Phases) {
			t.Errorf("%d rows: %+v\nwant %+v", rows, got, want)
		}
	}
}
