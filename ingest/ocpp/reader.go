// Package ocpp reads a charger's own account of a session: the messages of OCPP
// 1.6 and 2.0.1 in their JSON form, as a management system logs them.
//
// A file is one JSON array of frames, or a frame a line; a frame may stand in an
// object with the time of receipt ({"timestamp": ..., "message": [...]}), or be
// reduced to an action and its payload. A row is what was sampled at one moment;
// a message without samples, and an answer, is a row without values, at its own
// time, else that of its receipt, else that of the message before it. Rows are
// sorted by time, for chargers send late what they could not send at once. A
// message that is logged twice is read once.
//
// What is sampled at the Inlet is the grid's side; at the Outlet, else the Cable,
// the EV or in the Body, the car's. Phases are summed where there is no overall value. Energies of
// intervals add up to a register where no register is sent. The context of a
// value (periodic, at the clock, at the beginning of a transaction) is not kept.
// Connector 0 is the charger as a whole: its meter is the grid's side where the
// file has one connector, and is not read where it has several.
//
// When the cable was plugged in, only 2.0.1 says. The status Preparing of 1.6 (a
// card, a cable or a bay in use) and Occupied of 2.0.1 are notes, unless the
// session has neither notes nor a stated plug-in: then the plug-in lies between
// that status and the first that needs a cable.
package ocpp

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"github.com/pelletier/go-toml/v2"

	"coldbench/ingest/clock"
	"coldbench/ingest/series"
	"coldbench/ingest/source"
	"coldbench/warehouse/channel"
	"coldbench/warehouse/diag"
)

// Kind is the kind of log that this package reads.
func Kind() source.Kind {
	return source.Kind{Name: "ocpp", Doc: "a charger's messages, OCPP 1.6 or 2.0.1 in JSON", Events: true, Open: open}
}

// A row is what was sampled at one moment, or a message without samples.
type row struct {
	line     int64
	at       int64 // µs since 1970
	vals     [channelCount]float64
	interval [2]float64 // kWh since the interval before, on the car's and the grid's side; NaN: none
	context  string     // of interval
}

type reader struct {
	in       source.Input
	channels []channel.Channel
	own      *clock.Resolver
	receipt  *clock.Resolver
	report   *source.Report
	rows     []row
	next     int

	whose    *whose
	timeless []timeless // messages before the first that has a time
	last     int64      // time of the message before; meaningless before the first
	timed    bool
	moments  []moment
	seen     map[[sha256.Size]byte]int64 // calls with an id and a time of their own, and their lines
	others   map[string]bool             // ids of calls of other connectors
	asked    map[string]bool             // ids of Authorize calls
	used     [channelCount]cell
}

// A timeless message is a row whose time is that of the message after it.
type timeless struct {
	line int64
	raw  []byte
}

// open reads the whole file: what belongs to a connector, and in which order,
// only all messages tell.
func open(in source.Input) (source.Reader, diag.List, error) {
	r := &reader{in: in, report: &source.Report{}, seen: map[[sha256.Size]byte]int64{}, others: map[string]bool{}, asked: map[string]bool{}}
	for i, name := range channelNames {
		c, err := channel.Find(name)
		if err != nil {
			return nil, nil, fmt.Errorf("ocpp: %w", err)
		}
		r.channels = append(r.channels, c)
		r.used[i] = emptyCell
	}
	for _, c := range []**clock.Resolver{&r.own, &r.receipt} {
		var err error
		if *c, err = clock.New(series.Clock{Format: "iso"}, in.Location, toml.LocalDateTime{}, in.Source.OffsetS); err != nil {
			return nil, nil, fmt.Errorf("ocpp: %w", err)
		}
	}
	var l diag.List
	file, err := source.ReadText(in.Path)
	if errors.Is(err, source.ErrTooLarge) {
		l.Add(diag.Pos{File: in.Shown}, "the file has more than %d MiB of text", source.MaxText>>20).WithHint("cut it to the messages of the session")
		return nil, l, nil
	} else if err != nil {
		return nil, nil, fmt.Errorf("ocpp: %s: %w", in.Shown, err)
	}
	if len(bytes.TrimSpace(file)) == 0 {
		l.Add(diag.Pos{File: in.Shown}, "the file is empty").WithHint("%s", shapes)
		return nil, l, nil
	}
	texts, rest, why := split(file)
	messages := make([]parsed, 0, len(texts))
	for _, t := range texts {
		messages = append(messages, parse(t))
	}
	r.whose = owners(messages)
	if d := r.whose.choose(in); d != nil {
		return nil, append(l, d), nil
	}
	for i := range messages {
		r.message(&messages[i])
	}
	if why != "" {
		r.report.RowsRead++
		r.aside(rest, diag.New(diag.Pos{}, "%s", why))
	}
	r.settle()
	return source.Stream(r.channels, r, nil, r.report), nil, nil
}

// A parsed text is a message with its payload, or what is wrong with it.
type parsed struct {
	message
	payload payload
	d       *diag.Diagnostic
}

func parse(t text) parsed {
	m, d := unwrap(t)
	p := parsed{message: m, d: d}
	if d != nil || m.kind == callError || m.kind == call && !actions[m.action] {
		return p
	}
	if err := json.Unmarshal(m.payload, &p.payload); err != nil && m.kind == call {
		p.d = diag.New(diag.Pos{}, "cannot read the payload of %s: %s", m.action, mistake(err))
	}
	return p
}

// actions are the calls whose payload is read.
var actions = map[string]bool{"MeterValues": true, "StatusNotification": true, "StartTransaction": true, "StopTransaction": true, "TransactionEvent": true}

func (r *reader) aside(t text, d *diag.Diagnostic) {
	r.report.Aside = append(r.report.Aside, source.SetAside(t.line, t.col, t.raw, d.Msg, d.Hint))
}

// message reads one message into rows and moments.
func (r *reader) message(p *parsed) {
	t := p.text
	if p.d == nil && r.whose.foreign(p) {
		if p.kind == call && p.id != "" {
			r.others[p.id] = true
		}
		return // of another connector: no row
	}
	if p.kind != call && r.others[p.id] {
		return
	}
	if p.d != nil {
		r.report.RowsRead++
		r.aside(t, p.d)
		return
	}
	if dated := p.payload.Timestamp != "" || len(p.payload.MeterValue) > 0; p.kind == call && p.id != "" && dated {
		key := sha256.Sum256([]byte(p.id + "\n" + p.action + "\n" + string(p.message.payload)))
		if first, again := r.seen[key]; again {
			r.report.RowsRead++
			r.aside(t, diag.New(diag.Pos{}, "the message of line %d again", first))
			return
		}
		r.seen[key] = t.line
	}
	if values := append(slices.Clip(p.payload.MeterValue), p.payload.TransactionData...); len(values) > 0 && actions[p.action] {
		for _, v := range values {
			r.sampled(p, v)
		}
		if p.action == "MeterValues" {
			return
		}
		at, sure, d := r.time(p, p.payload.Timestamp)
		if d == nil && !sure {
			d = untimed(p.action)
		}
		switch {
		case d != nil:
			r.report.RowsRead++
			r.aside(t, d)
		case p.payload.MeterStop != nil:
			r.report.RowsRead++
			r.counter(p, at)
			fallthrough
		default:
			r.reported(p, at)
		}
		return
	}
	r.report.RowsRead++
	at, sure, d := r.time(p, p.payload.Timestamp)
	switch {
	case d != nil:
		r.aside(t, d)
	case !sure && (p.kind != call || !actions[p.action]) && !r.timed:
		r.timeless = append(r.timeless, timeless{t.line, t.raw})
	case !sure && p.kind == call && actions[p.action]:
		r.aside(t, untimed(p.action))
	default:
		r.reported(p, at)
		r.counter(p, at)
	}
}

func untimed(action string) *diag.Diagnostic {
	return diag.New(diag.Pos{}, "%s has no timestamp", action).
		WithHint("a log that keeps the time of receipt beside each message could be read: {\"timestamp\": ..., \"message\": [...]}")
}

func (r *reader) keep(w row) {
	r.report.RowsKept++
	r.rows = append(r.rows, w)
}

// Fill implements source.Filler.
func (r *reader) Fill(b *source.Batch, _ *source.Report) (bool, error) {
	for ; r.next < len(r.rows); r.next++ {
		if b.Full() {
			return true, nil
		}
		w := &r.rows[r.next]
		b.Row(w.line, w.at, w.vals[:])
	}
	return false, nil
}
