// Package metar reads METAR and SPECI reports of airfields (WMO-No. 306, FM 15
// and FM 16), one a line: the air of a soak, its wind, and whether snow or rain
// fell on the car.
//
// Times are UTC and show only the day of the month: month and year come from the
// source's start, else from the session's own dates, or from lines that hold only
// a date ("2026/01/16 19:50") before a report. Temperature and dew point are the
// remarks' T group, in tenths, where a report has one, else the body's whole °C.
// A report without a temperature is a row without one. The remarks' highest and
// lowest temperatures of six hours and of a day are notes. A report that was
// corrected gives way to its correction. Reports of other stations than the
// source's are no rows. Forecasts (trends), visibility, clouds and pressure are
// not read.
//
// Drifting and blowing snow, and weather in the vicinity, is no precipitation
// here: it does not fall on the car (the definition is ours).
package metar

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"coldbench/ingest/source"
	"coldbench/warehouse/channel"
	"coldbench/warehouse/diag"
)

// Kind is the kind of log that this package reads.
func Kind() source.Kind {
	return source.Kind{Name: "metar", Doc: "METAR reports of an airfield, one a line", Events: true, Open: open}
}

var channelNames = [...]string{temperature: "ambient_station_c", dewPoint: "dew_point_c", wind: "wind_km_h"}

// A row is a report that is kept.
type row struct {
	line int64
	at   time.Time // without the source's offset
	raw  []byte
	observation
}

type reader struct {
	channels []channel.Channel
	rows     []row
	next     int
	offset   time.Duration
}

// open reads all reports: a soak's are few, and whether a station must be
// named, or a report is corrected later on, only the whole file tells.
func open(in source.Input) (source.Reader, diag.List, error) {
	r := &reader{offset: time.Duration(math.Round(in.Source.OffsetS*1e6)) * time.Microsecond}
	for _, name := range channelNames {
		c, err := channel.Find(name)
		if err != nil {
			return nil, nil, fmt.Errorf("metar: %w", err)
		}
		r.channels = append(r.channels, c)
	}
	var l diag.List
	text, err := source.ReadText(in.Path)
	if errors.Is(err, source.ErrTooLarge) {
		l.Add(diag.Pos{File: in.Shown}, "the file has more than %d MiB of text", source.MaxText>>20).WithHint("cut it to the days of the session")
		return nil, l, nil
	} else if err != nil {
		return nil, nil, fmt.Errorf("metar: %s: %w", in.Shown, err)
	}
	if len(bytes.TrimSpace(text)) == 0 {
		l.Add(diag.Pos{File: in.Shown}, "the file is empty").WithHint("one report a line, such as \"ENGM 161950Z 02004KT 9999 -SN OVC012 M16/M18 Q1021\"")
		return nil, l, nil
	}
	report := &source.Report{}
	if d := r.read(in, text, report); d != nil {
		return nil, append(l, d), nil
	}
	r.replaceCorrected(report)
	report.RowsKept = int64(len(r.rows))
	slices.SortFunc(report.Aside, func(a, b source.Aside) int { return int(a.Line - b.Line) })
	r.precipitation(report)
	r.extremes(report)
	r.instruments(report)
	return source.Stream(r.channels, r, nil, report), nil, nil
}

// read gathers the rows of the source's station.
func (r *reader) read(in source.Input, text []byte, report *source.Report) *diag.Diagnostic {
	wanted := strings.ToUpper(strings.TrimSpace(in.Source.Station))
	cal := newCalendar(in)
	var stations []string
	line := int64(0)
	for raw := range bytes.Lines(text) {
		line++
		raw = bytes.TrimRight(raw, "\r\n")
		trimmed := strings.TrimSpace(string(raw))
		if trimmed == "" || cal.date(trimmed) {
			continue
		}
		o, col, d := parse(string(raw))
		if o.station != "" {
			if i, found := slices.BinarySearch(stations, o.station); !found {
				stations = slices.Insert(stations, i, o.station)
			}
			if wanted != "" && o.station != wanted {
				continue
			}
		}
		report.RowsRead++
		var at time.Time
		if d == nil {
			if cal.ref.IsZero() {
				return diag.New(diag.Pos{File: in.Shown, Line: int(line)}, "reports show no month and year").
					WithHint("at the source in session.toml state start = YYYY-MM-DDT00:00:00, the day of the first report")
			}
			var ok bool
			if at, ok = cal.resolve(o); !ok {
				col, d = 1, diag.New(diag.Pos{}, "there is no day %d in any month near the report before", o.day)
			} else {
				col, d = r.impossible(o)
			}
		}
		if d != nil {
			report.Aside = append(report.Aside, source.SetAside(line, col, raw, d.Msg, d.Hint))
			continue
		}
		r.rows = append(r.rows, row{line, at, raw, o})
	}
	switch {
	case wanted == "" && len(stations) > 1:
		return diag.New(diag.Pos{File: in.Shown}, "the file has reports of %d stations: %s", len(stations), some(stations)).
			WithHint("state station = %q at the session's source", stations[0])
	case wanted != "" && len(stations) > 0 && !slices.Contains(stations, wanted):
		d := diag.New(in.Session.At("source"), "%s has no report of station %q", in.Shown, wanted)
		if h := diag.DidYouMean(wanted, stations); h != "" {
			return d.WithHint("%s", h)
		}
		return d.WithHint("it has reports of %s", some(stations))
	}
	return nil
}

// some lists stations, not more than fit on a line.
func some(stations []string) string {
	const most = 12
	if more := len(stations) - most; more > 0 {
		return fmt.Sprintf("%s and %d more", strings.Join(stations[:most], ", "), more)
	}
	return strings.Join(stations, ", ")
}

func (r *reader) impossible(o observation) (int, *diag.Diagnostic) {
	for i, v := range o.values {
		if c := r.channels[i]; !math.IsNaN(v) && !c.Possible(v) {
			return 1, diag.New(diag.Pos{}, "%g %s is outside what %s can be, %g to %g %s", v, c.Unit, c.Name, c.Min, c.Max, c.Unit)
		}
	}
	return 0, nil
}

// replaceCorrected sets aside the reports that a later one of the same moment
// corrects.
func (r *reader) replaceCorrected(report *source.Report) {
	correction := map[time.Time]int64{} // line of the last one of a moment
	for _, w := range r.rows {
		if w.corrected {
			correction[w.at] = w.line
		}
	}
	r.rows = slices.DeleteFunc(r.rows, func(w row) bool {
		by, ok := correction[w.at]
		if !ok || w.line >= by {
			return false
		}
		report.Aside = append(report.Aside, source.SetAside(w.line, 1, w.raw, fmt.Sprintf("the report is corrected by that of line %d", by), ""))
		return true
	})
}

// precipitation reports the beginning of each spell: between the report before
// and the first that has some. A report that could not see the weather neither
// begins nor ends one.
func (r *reader) precipitation(report *source.Report) {
	inOrder := slices.Clone(r.rows)
	slices.SortStableFunc(inOrder, func(a, b row) int { return a.at.Compare(b.at) })
	falling := false
	for i, w := range inOrder {
		if w.precipitation == "" {
			falling = falling && w.unseen
			continue
		}
		if !falling {
			e := source.Event{Line: w.line, At: w.at.Add(r.offset), WidthS: 60, Kind: "precipitation", Text: w.precipitation}
			if i > 0 && w.at.After(inOrder[i-1].at) {
				between := w.at.Sub(inOrder[i-1].at)
				e.At, e.WidthS = e.At.Add(-between/2), between.Seconds()
			}
			report.Events = append(report.Events, e)
		}
		falling = true
	}
}

// extremes notes the highest and lowest temperatures that reports state of the hours
// before them. They are no readings: nobody says when they were.
func (r *reader) extremes(report *source.Report) {
	for _, w := range r.rows {
		for _, e := range []struct {
			span
			hours time.Duration
		}{{w.six, 6}, {w.day24, 24}} {
			if !e.stated() || !r.possible(e.high) || !r.possible(e.low) {
				continue
			}
			text := fmt.Sprintf("air of the last %d h:", e.hours)
			if !math.IsNaN(e.low) {
				text += fmt.Sprintf(" at least %g °C", e.low)
			}
			if !math.IsNaN(e.high) {
				text += fmt.Sprintf(" at most %g °C", e.high)
			}
			length := e.hours * time.Hour
			report.Events = append(report.Events, source.Event{Line: w.line, At: w.at.Add(r.offset - length/2), WidthS: length.Seconds(), Kind: "note", Text: text})
		}
	}
}

// possible reports whether the air may have that temperature, NaN being none.
func (r *reader) possible(c float64) bool {
	return math.IsNaN(c) || r.channels[temperature].Possible(c)
}

// instruments states the coarsest step that any kept report has: a source in
// which some reports have whole degrees is no source of tenths.
func (r *reader) instruments(report *source.Report) {
	groups := [...]string{temperature: "temperature", dewPoint: "dew point", wind: "wind"}
	for i, c := range r.channels {
		in := source.Typical(c, groups[i])
		for _, w := range r.rows {
			if math.IsNaN(w.values[i]) || w.steps[i] <= in.Resolution {
				continue
			}
			in.Resolution = w.steps[i]
			if i == wind {
				in.Unit = w.windUnit
			}
		}
		report.Instruments = append(report.Instruments, in)
	}
}

// Fill implements source.Filler.
func (r *reader) Fill(b *source.Batch, _ *source.Report) (bool, error) {
	for ; r.next < len(r.rows); r.next++ {
		if b.Full() {
			return true, nil
		}
		w := &r.rows[r.next]
		b.Row(w.line, w.at.Add(r.offset).UnixMicro(), w.values[:])
	}
	return false, nil
}
