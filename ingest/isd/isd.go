// Package isd reads hourly weather observations in the fixed-width format of
// NOAA's Integrated Surface Database, gzip or not: the air of a soak.
//
// Positions, scaling and missing marks are those of the format document
// "Federal Climate Complex Data Documentation for Integrated Surface Data"
// (from memory, and checked against real files): 16-27 date and time UTC,
// 66-69 wind speed in 0.1 m/s, 70 its quality, 88-92 air temperature in 0.1 °C,
// 93 its quality, 94-98 dew point, 99 its quality. A value that the data's own
// quality code calls erroneous (3 or 7) is no value; a suspect one (2 or 6) is
// kept. Additional data sections are not read.
package isd

import (
	"bufio"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strconv"
	"strings"
	"time"

	"coldbench/ingest/source"
	"coldbench/warehouse/channel"
	"coldbench/warehouse/diag"
)

// Kind is the kind of log that this package reads.
func Kind() source.Kind {
	return source.Kind{Name: "isd", Doc: "hourly weather observations, NOAA ISD fixed width", Open: open}
}

var channelNames = []string{"ambient_station_c", "dew_point_c", "wind_km_h"}

// mandatory is the length of the part that every record has.
const mandatory = 105

type reader struct {
	in       source.Input
	s        *bufio.Scanner
	line     int64
	last     int64
	channels []channel.Channel
	offset   time.Duration
}

func open(in source.Input) (source.Reader, diag.List, error) {
	r := &reader{in: in, last: math.MinInt64, offset: time.Duration(in.Source.OffsetS * float64(time.Second))}
	for _, name := range channelNames {
		c, err := channel.Find(name)
		if err != nil {
			return nil, nil, err
		}
		r.channels = append(r.channels, c)
	}
	f, err := os.Open(in.Path)
	if err != nil {
		return nil, nil, err
	}
	text := bufio.NewReader(f)
	magic, err := text.Peek(2)
	if len(magic) == 0 {
		f.Close()
		if err != nil && !errors.Is(err, io.EOF) {
			return nil, nil, err
		}
		var l diag.List
		l.Add(diag.Pos{File: in.Shown}, "the file is empty")
		return nil, l, nil
	}
	if string(magic) == "\x1f\x8b" {
		z, err := gzip.NewReader(text)
		if err != nil {
			f.Close()
			return nil, nil, fmt.Errorf("%s: gzip: %w", in.Shown, err)
		}
		text = bufio.NewReader(z)
	}
	r.s = bufio.NewScanner(text)
	r.s.Buffer(nil, 1<<20)
	return source.Stream(r.channels, r, f, &source.Report{}), nil, nil
}

// Fill implements source.Filler.
func (r *reader) Fill(b *source.Batch, report *source.Report) (bool, error) {
	for !b.Full() {
		if !r.s.Scan() {
			if err := r.s.Err(); err != nil {
				return false, fmt.Errorf("%s: line %d: %w", r.in.Shown, r.line+1, err)
			}
			for _, c := range r.channels {
				in := source.Typical(c, "observation")
				in.Resolution = 0.1
				if c.Name == "wind_km_h" {
					in.Resolution = 0.36
				}
				report.Instruments = append(report.Instruments, in)
			}
			return false, nil
		}
		r.line++
		text := r.s.Text()
		if strings.TrimSpace(text) == "" {
			continue
		}
		report.RowsRead++
		at, vals, col, d := r.row(text)
		if d != nil {
			report.Aside = append(report.Aside, source.Aside{Line: r.line, Col: col, Raw: strings.ToValidUTF8(text[:min(len(text), source.MaxRaw)], "\uFFFD"), Reason: d.Msg, Hint: d.Hint})
			continue
		}
		report.RowsKept++
		r.last = at
		b.Row(r.line, at, vals)
	}
	return true, nil
}

func (r *reader) row(text string) (at int64, vals []float64, col int, d *diag.Diagnostic) {
	if len(text) < mandatory {
		return 0, nil, 1, diag.New(diag.Pos{}, "the record has %d characters, an observation at least %d", len(text), mandatory)
	}
	t, err := time.Parse("200601021504", text[15:27])
	if err != nil {
		return 0, nil, 16, diag.New(diag.Pos{}, "cannot read %q as a date and time", text[15:27])
	}
	at = t.Add(r.offset).UnixMicro()
	if at < r.last {
		return 0, nil, 16, diag.New(diag.Pos{}, "time goes back by %.6g s", float64(r.last-at)/1e6)
	}
	for _, f := range []struct {
		from, to int
		missing  string
		quality  byte
		factor   float64 // to the channel's unit
	}{
		{88, 92, "+9999", text[92], 0.1},
		{94, 98, "+9999", text[98], 0.1},
		{66, 69, "9999", text[69], 0.36}, // 0.1 m/s in km/h
	} {
		field := text[f.from-1 : f.to]
		if field == f.missing || f.quality == '3' || f.quality == '7' {
			vals = append(vals, math.NaN())
			continue
		}
		n, err := strconv.Atoi(field)
		if err != nil {
			return 0, nil, f.from, diag.New(diag.Pos{}, "cannot read %q as a number", field)
		}
		c := r.channels[len(vals)]
		v := float64(n) * f.factor
		if !c.Possible(v) {
			return 0, nil, f.from, diag.New(diag.Pos{}, "%.1f %s is outside what %s can be, %g to %g %s", v, c.Unit, c.Name, c.Min, c.Max, c.Unit)
		}
		vals = append(vals, v)
	}
	return at, vals, 0, nil
}
