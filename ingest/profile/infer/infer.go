// Package infer proposes a profile for a log that nobody has described yet: its
// kind and layout, its clock, and which column is which channel, in which unit and
// with which sign. Every part of the proposal has a confidence and a reason.
//
// It never is sure in silence. Where the file allows two readings (two columns for
// one channel, a date that may be day-first or month-first, a sign that nothing in
// the log shows) it takes neither, and asks.
//
// Names are read by a vocabulary of several languages, values by their range and
// shape and by what must hold between channels. It knows no product's format.
package infer

import (
	"encoding/json"
	"fmt"

	"coldbench/ingest/series"
	"coldbench/warehouse/diag"
)

// A Confidence says how far a part of a proposal may be trusted.
type Confidence int

const (
	None Confidence = iota // nothing is proposed
	Low                    // a guess: written commented out, for a person to decide
	Fair                   // what a careful reader would take it for
	High                   // the file says so
)

// String is the confidence as people read it.
func (c Confidence) String() string {
	switch c {
	case Low:
		return "low"
	case Fair:
		return "fair"
	case High:
		return "high"
	}
	return "none"
}

// MarshalJSON writes the confidence as people read it.
func (c Confidence) MarshalJSON() ([]byte, error) { return json.Marshal(c.String()) }

// A Fact is something that was found of the file as a whole.
type Fact struct {
	What, Value string
	Confidence  Confidence
	Reason      string
}

// A Column is what was found of one column of the file.
type Column struct {
	Name       string
	Values     string // what is in it, such as "-12.5..31, 4 empty"
	Channel    string // "": none
	Unit       string // as the profile is to state it
	Invert     bool
	Missing    []float64
	Resolution float64
	Confidence Confidence
	Reason     string
	Sign       string   // how its sign was found, or ""
	Rivals     []string // other channels that it may be, where the name allows several
	Open       bool     // it waits for an answer: written commented out, even if its channel is clear
	Clock      bool     // it is the clock's, or its date
}

// Taken reports whether the profile maps the column: what is not certain enough,
// or waits for an answer, it only suggests.
func (c Column) Taken() bool { return c.Channel != "" && !c.Open && c.Confidence >= Fair }

// A Reading is one way to read the clock.
type Reading struct {
	Clock   series.Clock
	Example string // what the first time is, read so
}

// A Proposal is a profile for one file, with what it rests on.
type Proposal struct {
	File      string
	Kind      string
	Needs     bool   // whether that kind of log needs a profile; if not, Advice says how to list it
	Advice    string // for the session's [[source]], or ""
	Profile   series.Profile
	Facts     []Fact
	Clock     Fact
	Readings  []Reading // more than one: the clock's format is left out
	NeedsDate bool      // the session must state start: the clock shows no date, or counts from an unknown one
	Columns   []Column
	Questions []string // what a person must answer
	Rows      int      // looked at
}

func (p *Proposal) fact(what, value string, c Confidence, format string, args ...any) {
	p.Facts = append(p.Facts, Fact{what, value, c, fmt.Sprintf(format, args...)})
}

func (p *Proposal) ask(format string, args ...any) {
	p.Questions = append(p.Questions, fmt.Sprintf(format, args...))
}

// File looks at a file and proposes a profile. shown is what the proposal and
// diagnostics call it. The List says that there is nothing to propose a profile
// for; an error, that the file could not be read.
func File(path, shown string) (*Proposal, diag.List, error) {
	p := &Proposal{File: shown, Needs: true}
	t, l, err := p.open(path)
	if err != nil {
		return nil, nil, fmt.Errorf("infer: %w", err)
	}
	if l != nil {
		return nil, l, nil
	}
	if t != nil {
		p.columns(p.long(t))
	}
	return p, nil, nil
}

// Text is File for a text that is in memory, such as one of a delimited log.
func Text(text []byte, shown string) (*Proposal, diag.List) {
	p := &Proposal{File: shown, Needs: true}
	t, l := p.text(text)
	if l != nil {
		return nil, l
	}
	if t != nil {
		p.columns(p.long(t))
	}
	return p, nil
}

// columns proposes what the columns of a table are.
func (p *Proposal) columns(t *table) {
	p.Profile.Kind = p.Kind
	p.Rows = t.seen
	t.measure()
	p.marks(t)
	p.clock(t)
	p.name(t)
	p.shapes(t)
	p.contest()
	p.signs(t)
	p.sentinels(t)
	p.profile()
}
