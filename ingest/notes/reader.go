// Package notes reads timed notes as people type them on a phone: one line a
// moment, a time and then what happened or what a display showed.
//
//	2026-01-12
//	20:12 plugged in
//	20:13 charger 5 kW, soc 35 %
//	20:57 charging 23 kW
//
// A line is a time, then parts between commas or semicolons. A part is a
// reading (a word, a number, a unit that the channel may imply), an event, or
// free text, which is kept as an event of the kind "note". "20:12" means some
// moment within that minute: the middle is taken, and the minute is its width.
// A line that holds only a date sets the day; a time that falls by more than
// half a day passes midnight. Lines that start with # are no notes. A single time
// that was mistyped costs its own note (order.go), not all below it.
package notes

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"coldbench/ingest/clock"
	"coldbench/ingest/series"
	"coldbench/ingest/source"
	"coldbench/warehouse/diag"
)

// Kind is the kind of log that this package reads.
func Kind() source.Kind {
	return source.Kind{Name: "notes", Doc: "timed notes, one line a moment", Events: true, Open: open}
}

type reader struct {
	in       source.Input
	lines    []string
	line     int64 // of lines, from 1
	plugged  bool
	day      toml.LocalDate
	undated  bool // a date above could not be read
	clock    *clock.Resolver
	lastTOD  int
	above    int64 // local time of the note above, in seconds
	last     int64
	decimals []int // most seen, a channel; -1: channel not seen
	scales   []float64
	vals     []float64
}

func open(in source.Input) (source.Reader, diag.List, error) {
	text, f, err := source.OpenText(in.Path)
	if err != nil {
		return nil, nil, fmt.Errorf("notes: %s: %w", in.Shown, err)
	}
	var l diag.List
	if _, err := text.Peek(1); errors.Is(err, io.EOF) {
		f.Close()
		l.Add(diag.Pos{File: in.Shown}, "the file is empty").WithHint("one line a moment, such as \"20:12 plugged in\"")
		return nil, l, nil
	}
	defer f.Close()
	r := &reader{in: in, last: math.MinInt64, above: math.MinInt64, lastTOD: -1, vals: make([]float64, len(channels)),
		decimals: make([]int, len(channels)), scales: make([]float64, len(channels))}
	for i := range r.decimals {
		r.decimals[i] = -1
	}
	for _, t := range []toml.LocalDateTime{in.Source.Start, in.Session.PlugIn, in.Session.Start, in.Session.SoakStart} {
		if t != (toml.LocalDateTime{}) {
			r.day = t.LocalDate
			break
		}
	}
	if r.clock, err = clock.New(series.Clock{Format: "iso"}, in.Location, toml.LocalDateTime{}, in.Source.OffsetS); err != nil {
		return nil, nil, err
	}
	lines := bufio.NewScanner(text)
	lines.Buffer(nil, 1<<20)
	for lines.Scan() {
		r.lines = append(r.lines, lines.Text())
	}
	if err := lines.Err(); err != nil {
		return nil, nil, fmt.Errorf("notes: %s: line %d: %w", in.Shown, len(r.lines)+1, err)
	}
	return source.Stream(channels, r, nil, &source.Report{}), nil, nil
}

var (
	dateLine = regexp.MustCompile(`^([0-9]{4})-([0-9]{2})-([0-9]{2})(?:\s+|T)?`)
	timeOf   = regexp.MustCompile(`^([0-9]{1,2})(?:[:.h]([0-9]{2}))(?:[:.]([0-9]{2}))?(?:\s*([aApP])\.?[mM]\.?)?(?:\s+|$|:\s*|-\s+)`)
)

// Fill implements source.Filler.
func (r *reader) Fill(b *source.Batch, report *source.Report) (bool, error) {
	for !b.Full() {
		if int(r.line) == len(r.lines) {
			r.instruments(report)
			return false, nil
		}
		raw := r.lines[r.line]
		r.line++
		text := strings.TrimSpace(raw)
		if text == "" || text[0] == '#' {
			continue
		}
		lead := strings.Index(raw, text)
		rest := text
		if day, after, ok := cutDate(text); ok {
			r.day, r.lastTOD = day, -1
			if rest = after; rest == "" {
				continue
			}
		}
		report.RowsRead++
		at, width, events, col, d := r.note(rest)
		if d != nil {
			report.Aside = append(report.Aside, source.Aside{Line: r.line, Col: lead + len(text) - len(rest) + col, Raw: strings.ToValidUTF8(raw[:min(len(raw), source.MaxRaw)], "\uFFFD"),
				Reason: d.Msg, Hint: d.Hint})
			continue
		}
		report.RowsKept++
		r.last = at
		for _, p := range events {
			r.plugged = p.event == "plug-in" || r.plugged && p.event != "unplug"
			report.Events = append(report.Events, source.Event{Line: r.line, At: time.UnixMicro(at).UTC(), WidthS: width, Kind: p.event, Text: strings.ToValidUTF8(p.text, "\uFFFD")})
		}
		b.Row(r.line, at, r.vals)
	}
	return true, nil
}

// note reads one line into vals. col is where a problem lies, in bytes from 1.
func (r *reader) note(line string) (at int64, widthS float64, events []part, col int, d *diag.Diagnostic) {
	if d := otherDate(line); d != nil {
		r.day, r.lastTOD, r.undated = toml.LocalDate{}, -1, true // the notes below are of a day that nobody knows
		return 0, 0, nil, 1, d
	}
	m := timeOf.FindStringSubmatch(line)
	if m == nil {
		return 0, 0, nil, 1, diag.New(diag.Pos{}, "the note does not start with a time").WithHint("such as \"20:12 plugged in\"; # starts a remark")
	}
	if r.undated && r.day == (toml.LocalDate{}) {
		return 0, 0, nil, 1, diag.New(diag.Pos{}, "the note's day is not known, since the date above could not be read").WithHint("write that as year-month-day, such as 2026-12-31")
	}
	if r.day == (toml.LocalDate{}) {
		return 0, 0, nil, 1, diag.New(diag.Pos{}, "the note has no date").WithHint("put a line such as 2026-01-12 before it, or state start at the session's source")
	}
	at, widthS, d = r.moment(m)
	if d != nil {
		return 0, 0, nil, 1, d
	}
	for i := range r.vals {
		r.vals[i] = math.NaN()
	}
	body := line[len(m[0]):]
	parts, offsets := split(body)
	for i, text := range parts {
		if text == "" {
			continue
		}
		p, d := parsePart(text)
		p.col = len(m[0]) + offsets[i] + 1
		if d != nil {
			return 0, 0, nil, p.col, d
		}
		if p.event != "" {
			events = append(events, p)
		}
		if p.channel < 0 {
			continue
		}
		if !math.IsNaN(r.vals[p.channel]) {
			return 0, 0, nil, p.col, diag.New(diag.Pos{}, "%q: the line has %s twice", text, channels[p.channel].Name)
		}
		r.vals[p.channel] = p.value
		r.decimals[p.channel] = max(r.decimals[p.channel], p.decimals)
		r.scales[p.channel] = p.scale.Factor
	}
	return at, widthS, events, 0, nil
}

// moment resolves a time to the middle of the minute, or second, that it names.
func (r *reader) moment(m []string) (int64, float64, *diag.Diagnostic) {
	c, ok := clockOf(m)
	if !ok {
		return 0, 0, diag.New(diag.Pos{}, "there is no %s o'clock on a 12-hour clock", m[1])
	}
	tod := c.tod()
	day := r.dayOf(tod)
	at, err := r.clock.Micros(fmt.Sprintf("%s %02d:%02d:%02d", day, c.h, c.min, c.s), "")
	if err != nil {
		return 0, 0, diag.At(err, diag.Pos{})
	}
	at += int64(c.widthS * 1e6 / 2)
	if at < r.last {
		return 0, 0, diag.New(diag.Pos{}, "time goes back by %.6g s", float64(r.last-at)/1e6).WithHint("notes go from early to late; a line such as 2026-01-13 starts a new day")
	}
	if d := r.stray(day, tod); d != nil {
		return 0, 0, d
	}
	r.day, r.lastTOD, r.above = day, tod, wall(day, tod)
	return at, c.widthS, nil
}

// instruments states, for the channels seen, the last decimal that was typed.
func (r *reader) instruments(report *source.Report) {
	for i, c := range channels {
		if r.decimals[i] < 0 {
			continue
		}
		in := source.Typical(c, "as noted")
		in.Resolution = math.Pow10(-r.decimals[i]) * r.scales[i]
		report.Instruments = append(report.Instruments, in)
	}
}
