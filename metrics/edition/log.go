package edition

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
)

// A Log is what reports show of a session beside its figures. It is read from
// the warehouse when an edition is made, and kept beside the edition, so that
// its reports can be made again when the warehouse has moved on.
type Log struct {
	Session string   `json:"session"`
	Minutes []Minute `json:"minutes"` // in order
	Events  []Event  `json:"events"`  // in order of time
	Phases  []Phase  `json:"phases"`  // in order
	PlugS   float64  `json:"plug_s"`  // the plug-in that the charge came from, s after the session's zero
	Trace   Trace    `json:"trace"`   // empty where no power was logged

	line []byte // as WriteLogs writes it, if it was read from that
}

// Thin returns the log with its trace thinned to rows rows.
func (l Log) Thin(rows int) Log {
	l.Trace, l.line = l.Trace.Thin(rows), nil
	return l
}

// Line is the log as WriteLogs writes it.
func (l Log) Line() ([]byte, error) {
	if l.line != nil {
		return l.line, nil
	}
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(l); err != nil {
		return nil, fmt.Errorf("edition: log of session %s: %w", l.Session, err)
	}
	return b.Bytes(), nil
}

// ParseLog reads what Line returned. The log keeps that, to be written again as it is.
func ParseLog(line []byte) (Log, error) {
	l := Log{line: line}
	if err := json.Unmarshal(line, &l); err != nil {
		return Log{}, fmt.Errorf("edition: log: %w", err)
	}
	return l, nil
}

// WriteLogs writes logs as JSON, a session a line, the same bytes for the same logs.
func WriteLogs(w io.Writer, logs []Log) error {
	for _, l := range logs {
		line, err := l.Line()
		if err != nil {
			return err
		}
		if _, err := w.Write(line); err != nil {
			return fmt.Errorf("edition: log of session %s: %w", l.Session, err)
		}
	}
	return nil
}

// ReadLogs reads what WriteLogs wrote.
func ReadLogs(r io.Reader) ([]Log, error) {
	var logs []Log
	for dec := json.NewDecoder(r); ; {
		var l Log
		switch err := dec.Decode(&l); err {
		case nil:
			logs = append(logs, l)
		case io.EOF:
			return logs, nil
		default:
			return nil, fmt.Errorf("edition: logs: %w", err)
		}
	}
}

// A Phase is one part of a charge: soak, connect, heating-only, charging, pause,
// taper, after.
type Phase struct {
	Name string  `json:"name"`
	From float64 `json:"from_s"` // after the session's zero
	To   float64 `json:"to_s"`
	Rule string  `json:"rule"` // what ended it
}

// A Minute is one row of the minute-by-minute log: minute n is from 60n s to
// 60(n+1) s after the session's zero. nil means that nothing was logged.
type Minute struct {
	Minute    int      `json:"minute"`
	PackKW    *float64 `json:"pack_kw"`    // mean power into the pack
	ChargerKW *float64 `json:"charger_kw"` // mean power from the charger
	HeaterKW  *float64 `json:"heater_kw"`  // mean power into the pack's heater
	SoCPct    *float64 `json:"soc_pct"`    // last displayed
	PackMinC  *float64 `json:"pack_min_c"` // last, coldest sensor
	PackMaxC  *float64 `json:"pack_max_c"` // last, hottest sensor
	AmbientC  *float64 `json:"ambient_c"`  // last
	CabinC    *float64 `json:"cabin_c"`    // last
	PackKWh   *float64 `json:"pack_kwh"`   // into the pack by its end, since the log began
}

// An Event is something that happened in a session.
type Event struct {
	T      float64 `json:"t_s"` // after the session's zero, the middle of the interval
	WidthS float64 `json:"width_s"`
	Kind   string  `json:"kind"`
	Text   string  `json:"text"`
	Path   string  `json:"path"` // of the source
	Line   int64   `json:"line"`
}
