// Package isd reads hourly weather observations of NOAA's Integrated Surface
// Database, in its fixed-width format or as comma-separated values, gzip or zstd
// or not: the air of a soak.
//
// Positions, scaling and missing marks are those of the format document
// "Federal Climate Complex Data Documentation for Integrated Surface Data"
// (from memory, and checked against real files): 16-27 date and time UTC,
// 66-69 wind speed in 0.1 m/s, 70 its quality, 88-92 air temperature in 0.1 °C,
// 93 its quality, 94-98 dew point, 99 its quality. The columns DATE, WND, TMP and
// DEW of the comma-separated form hold the same, as in "-0123,1". A value that
// the data's own quality code calls erroneous (3 or 7) is no value; a suspect
// one (2 or 6) is kept. Additional data sections are not read.
package isd

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"coldbench/ingest/source"
	"coldbench/warehouse/channel"
	"coldbench/warehouse/diag"
)

// Kind is the kind of log that this package reads.
func Kind() source.Kind {
	return source.Kind{Name: "isd", Doc: "hourly weather observations, NOAA ISD fixed width or CSV", Open: open}
}

var channelNames = []string{"ambient_station_c", "dew_point_c", "wind_km_h"}

// A field is one value of a record: a signed number and its quality code.
type field struct {
	text    string
	quality string
	missing string  // what text is for no value
	factor  float64 // to the channel's unit
	col     int     // byte of the record, from 1
}

// A record is one observation as it stands: its time, and the values of the
// channels in their order.
type record struct {
	time    string
	layout  string // of time, for time.Parse
	timeCol int
	fields  [3]field
}

// tenthsMPS is the factor from 0.1 m/s to km/h.
const tenthsMPS = 0.36

type reader struct {
	in       source.Input
	s        *bufio.Scanner
	line     int64
	order    *source.Order
	channels []channel.Channel
	offset   time.Duration
	// cut takes a line apart. A diagnostic's column is col; other is a record of
	// another station than the source's, which is no row.
	cut func(text string) (rec record, col int, d *diag.Diagnostic, other bool)
}

func open(in source.Input) (source.Reader, diag.List, error) {
	r := &reader{in: in, order: source.NewOrder("", false), offset: time.Duration(in.Source.OffsetS * float64(time.Second)), cut: cutFixed}
	for _, name := range channelNames {
		c, err := channel.Find(name)
		if err != nil {
			return nil, nil, err
		}
		r.channels = append(r.channels, c)
	}
	text, file, err := source.OpenText(in.Path)
	if err != nil {
		return nil, nil, fmt.Errorf("isd: %s: %w", in.Shown, err)
	}
	first, err := text.Peek(1)
	if len(first) == 0 {
		file.Close()
		if err != nil && !errors.Is(err, io.EOF) {
			return nil, nil, fmt.Errorf("isd: %s: %w", in.Shown, err)
		}
		var l diag.List
		l.Add(diag.Pos{File: in.Shown}, "the file is empty")
		return nil, l, nil
	}
	r.s = bufio.NewScanner(text)
	r.s.Buffer(nil, 1<<20)
	// A fixed-width record starts with its length, a CSV file with column names.
	if bytes.IndexFunc(first, func(c rune) bool { return c == '"' || c|0x20 >= 'a' && c|0x20 <= 'z' }) == 0 {
		h, d, err := r.header()
		if err != nil || d != nil {
			file.Close()
			if err != nil {
				return nil, nil, err
			}
			return nil, diag.List{d}, nil
		}
		r.cut = h.cut
	}
	return source.Stream(r.channels, r, file, &source.Report{}), nil, nil
}

// Fill implements source.Filler.
func (r *reader) Fill(b *source.Batch, report *source.Report) (bool, error) {
	for !b.Full() {
		if !r.s.Scan() {
			if err := r.s.Err(); err != nil {
				return false, fmt.Errorf("isd: %s: line %d: %w", r.in.Shown, r.line+1, err)
			}
			r.order.End(b, report)
			for _, c := range r.channels {
				in := source.Typical(c, "observation")
				in.Resolution = 0.1
				if c.Name == "wind_km_h" {
					in.Resolution = tenthsMPS
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
		rec, col, d, other := r.cut(text)
		if other {
			continue
		}
		report.RowsRead++
		var at int64
		var vals []float64
		if d == nil {
			at, vals, col, d = r.row(rec)
		}
		if d != nil {
			report.Aside = append(report.Aside, source.SetAside(r.line, col, []byte(text), d.Msg, d.Hint))
			continue
		}
		if !r.order.Follows(at) {
			r.order.Doubt(b, report, source.Row{Line: r.line, At: at, Vals: vals, Col: rec.timeCol, Raw: []byte(text)})
			continue
		}
		report.RowsKept++
		b.Row(r.line, at, vals)
	}
	return true, nil
}

func (r *reader) row(rec record) (at int64, vals []float64, col int, d *diag.Diagnostic) {
	t, err := time.Parse(rec.layout, rec.time)
	if err != nil {
		return 0, nil, rec.timeCol, diag.New(diag.Pos{}, "cannot read %q as a date and time", rec.time)
	}
	at = t.Add(r.offset).UnixMicro()
	for _, f := range rec.fields {
		if f.text == f.missing || f.quality == "3" || f.quality == "7" {
			vals = append(vals, math.NaN())
			continue
		}
		n, err := strconv.Atoi(f.text)
		if err != nil {
			return 0, nil, f.col, diag.New(diag.Pos{}, "cannot read %q as a number", f.text)
		}
		c := r.channels[len(vals)]
		v := float64(n) * f.factor
		if f.factor == 0.1 {
			v = float64(n) / 10 // -266 * 0.1 is not -26.6 to the last bit
		}
		if !c.Possible(v) {
			return 0, nil, f.col, diag.New(diag.Pos{}, "%.1f %s is outside what %s can be, %g to %g %s", v, c.Unit, c.Name, c.Min, c.Max, c.Unit)
		}
		vals = append(vals, v)
	}
	return at, vals, 0, nil
}

// mandatory is the length of the part that every fixed-width record has.
const mandatory = 105

func cutFixed(text string) (rec record, col int, d *diag.Diagnostic, other bool) {
	if len(text) < mandatory {
		return rec, 1, diag.New(diag.Pos{}, "the record has %d characters, an observation at least %d", len(text), mandatory), false
	}
	return record{text[15:27], "200601021504", 16, [3]field{
		{text[87:92], text[92:93], "+9999", 0.1, 88},
		{text[93:98], text[98:99], "+9999", 0.1, 94},
		{text[65:69], text[69:70], "9999", tenthsMPS, 66},
	}}, 0, nil, false
}
