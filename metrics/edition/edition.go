// Package edition holds the result of a run as data: what was read, every
// figure with its evidence, gates and standings. An edition is written once and
// never changed; two of them can be compared.
//
// It computes nothing and opens no file; reports print it, the warehouse keeps it.
package edition

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"
	"sync"
	"time"
)

// An Edition is one dated result. All slices are in a fixed order, so that the
// same edition always prints the same.
type Edition struct {
	ID        string      `json:"id"`     // 2026-02-01T0930Z
	At        time.Time   `json:"at"`     // UTC, whole seconds
	Before    string      `json:"before"` // ID of the edition before it in the series, "" for the first
	Program   string      `json:"program"`
	Title     string      `json:"title"`
	Place     string      `json:"place"`
	Inputs    []Input     `json:"inputs"`      // by path
	Protocol  []Parameter `json:"protocol"`    // as used, the chosen window filled in
	Window    Window      `json:"window"`      // the common SoC window
	Scales    []Scale     `json:"scales"`      // in the protocol's order
	Figures   []Defined   `json:"definitions"` // by name
	Vehicles  []Vehicle   `json:"vehicles"`    // by ID
	Sessions  []Session   `json:"sessions"`    // by ID
	Results   []Figure    `json:"figures"`     // by session, figure
	Rules     []Rule      `json:"gate_rules"`  // in the order in which gates are judged
	Gates     []Gate      `json:"gates"`       // by session, gate
	Penalties []Penalty   `json:"penalties"`   // by session, figure
	Standings []Standing  `json:"standings"`   // ranked first, by place, then score; then the unranked
	Variances []Variance  `json:"variances"`   // of figures that earn points, in the scales' order
	Pairs     []Pair      `json:"pairs"`       // of ranked vehicles, each with the twenty after it, in the standings' order
	Shifts    []Shift     `json:"shifts"`      // how firm the first place is, in the scales' order
	Windows   []Compared  `json:"windows"`     // what other windows of charge would make of the cars

	Categories []Category `json:"categories"` // the ranking within each of the scales' categories, in their order; none where there are not two
}

// An Input is a file that the edition was made from.
type Input struct {
	Path   string `json:"path"`
	SHA256 string `json:"sha256"`
}

// A Parameter is one number of the protocol.
type Parameter struct {
	Name  string  `json:"name"`
	Value float64 `json:"value"`
}

// A Window is a span of SoC in percent, and how it was come by.
type Window struct {
	FromPct float64 `json:"from_pct"` // From and To both 0: there is none
	ToPct   float64 `json:"to_pct"`
	Why     string  `json:"why"`
}

// A Scale turns a figure into points: Zero earns 0, Full earns 100.
type Scale struct {
	Figure   string  `json:"figure"`
	Category string  `json:"category"`
	Zero     float64 `json:"zero"`
	Full     float64 `json:"full"`
	Weight   float64 `json:"weight"`
}

// A Defined is what an edition says of a figure's definition.
type Defined struct {
	Name   string `json:"name"`
	Title  string `json:"title"`
	Unit   string `json:"unit"`
	Better string `json:"better"`
	Method string `json:"method"`
	SHA256 string `json:"sha256"` // of the definition and all views it reads
}

// A Vehicle is a car of the edition.
type Vehicle struct {
	ID   string `json:"id"`
	Name string `json:"name"`
}

// A Session is a session of the edition, one that was refused too.
type Session struct {
	ID        string    `json:"id"`
	Vehicle   string    `json:"vehicle"`
	Procedure string    `json:"procedure"`
	Zone      string    `json:"zone,omitempty"`
	Zero      time.Time `json:"zero,omitzero"`
	ZeroFrom  string    `json:"zero_from,omitempty"`
	Problem   string    `json:"problem,omitempty"` // why nothing was read
	Remark    string    `json:"remark,omitempty"`
	Sources   []Source  `json:"sources"` // by path
}

// Charges reports whether the session is a charge; else nothing is plugged in.
func (s Session) Charges() bool { return strings.HasSuffix(s.Procedure, "-charge") }

// Origin is what people call the session's zero. The charge may have come from a later
// plug-in.
func (s Session) Origin() string {
	if s.Charges() {
		return "the first plug-in"
	}
	return s.Start()
}

// Start is what people call the moment from which they count the session's minutes: of
// a charge, the plug-in that it came from.
func (s Session) Start() string {
	if s.Charges() {
		return "plug-in"
	}
	return "the start"
}

// A Source is a raw file of a session.
type Source struct {
	Path     string  `json:"path"`
	Kind     string  `json:"kind"`
	Profile  string  `json:"profile,omitempty"`
	SHA256   string  `json:"sha256"`
	Bytes    int64   `json:"bytes"`
	RowsRead int64   `json:"rows_read"`
	RowsKept int64   `json:"rows_kept"`
	Aside    int64   `json:"rows_set_aside"`
	OffsetS  float64 `json:"offset_s"`

	// Path of the file that this one goes on from: of one logger, and for figures one source.
	Continues string `json:"continues,omitempty"`
}

// A Penalty sets a figure of a session in the cold beside the same car's
// control, the mean of its control sessions.
type Penalty struct {
	Session    string  `json:"session"`
	Figure     string  `json:"figure"`
	Cold       float64 `json:"cold"`
	ColdU      float64 `json:"cold_uncertainty"`
	Control    float64 `json:"control"`
	ControlU   float64 `json:"control_uncertainty"`
	Controls   string  `json:"controls"`   // session IDs, a comma between
	Difference float64 `json:"difference"` // cold less control
	U          float64 `json:"uncertainty"`
}

// A Status says how a figure's value was come by.
type Status string

const (
	Measured Status = "measured" // from the source that the definition asks for
	Fallback Status = "fallback" // from a worse source; the note says which
	Beyond   Status = "beyond"   // censored: the true value is larger than the value
	None     Status = "none"     // no value; the note is the reason
)

// A Figure is one standardised result of one session.
type Figure struct {
	Session string   `json:"session"`
	Figure  string   `json:"figure"`
	Value   *float64 `json:"value"`
	U       *float64 `json:"uncertainty"` // standard uncertainty
	Unit    string   `json:"unit"`
	From    *float64 `json:"from_s"` // evidence interval on the session clock
	To      *float64 `json:"to_s"`
	Status  Status   `json:"status"`
	Note    string   `json:"note,omitempty"`
	Basis   string   `json:"basis"` // hash of all that the value depends on
}

// Ranked reports whether the figure's value may earn points.
func (f Figure) Ranked() bool { return f.Status == Measured || f.Status == Fallback }

// Flaw says what contradicts itself in a figure, or "".
func (f Figure) Flaw() string {
	switch f.Status {
	case Measured, Fallback:
		switch {
		case f.Value == nil:
			return fmt.Sprintf("status %s without a value", f.Status)
		case f.U == nil:
			return fmt.Sprintf("status %s without an uncertainty", f.Status)
		case *f.U < 0:
			return fmt.Sprintf("uncertainty %v is negative", *f.U)
		}
	case Beyond:
		if f.Value == nil {
			return "status beyond without the bound"
		}
	case None:
		if f.Value != nil {
			return "status none with a value"
		}
	default:
		return fmt.Sprintf("unknown status %q", f.Status)
	}
	if f.Note == "" && f.Status != Measured {
		return fmt.Sprintf("status %s without a note", f.Status)
	}
	return ""
}

// A Verdict is a gate's. Its zero value is none of these: a gate nobody judged
// can never read as passed.
type Verdict string

const (
	CannotTell Verdict = "cannot tell"
	Passed     Verdict = "passed"
	Flagged    Verdict = "flagged" // may be ranked, with the reason beside it
	Failed     Verdict = "failed"  // may not be ranked
)

// A Rule is a gate as the edition judged it.
type Rule struct {
	Gate    string  `json:"gate"`
	Title   string  `json:"title"`
	Figure  string  `json:"figure"` // that it judges
	Limit   float64 `json:"limit"`
	Unit    string  `json:"unit"`
	Action  string  `json:"action"`  // of a session beyond it: "fail", "flag"; "off": not judged
	Changed bool    `json:"changed"` // the protocol set it otherwise than it comes
	Text    string  `json:"rule"`    // for people, with the precedent
}

// RuleOf returns a gate's rule; its zero value has an empty name.
func (e *Edition) RuleOf(gate string) Rule {
	for _, r := range e.Rules {
		if r.Gate == gate {
			return r
		}
	}
	return Rule{}
}

// A Gate is one rule's verdict on one session.
type Gate struct {
	Session string  `json:"session"`
	Gate    string  `json:"gate"`
	Verdict Verdict `json:"verdict"`
	Reason  string  `json:"reason"`
}

// A Standing is one vehicle's place.
type Standing struct {
	Vehicle  string    `json:"vehicle"`
	Place    int       `json:"place"`       // one more than the cars clearly ahead, so maybe shared; 0: not ranked
	Lowest   int       `json:"best_place"`  // best and worst place that the
	Highest  int       `json:"worst_place"` // uncertainty allows (95 %)
	Score    float64   `json:"score"`       // 0 to 100
	U        float64   `json:"uncertainty"`
	Sessions []string  `json:"sessions"`         // that count, by ID
	Values   []Counted `json:"values"`           // one a scale, in the scales' order
	Beside   []Counted `json:"beside,omitempty"` // as Values: the same at the reference soak, or as measured where the scale is of that; "" as figure where there is none
	Reason   string    `json:"reason,omitempty"` // why it is not ranked, or what weakens its place
}

// A Counted is what one scale gave one vehicle.
type Counted struct {
	Figure string   `json:"figure"`
	Value  *float64 `json:"value"` // over all sessions that count; nil: missing, and earns 0 points
	U      *float64 `json:"uncertainty"`
	Points float64  `json:"points"`
	Note   string   `json:"note,omitempty"`
	Spread *Spread  `json:"spread,omitempty"` // nil: of fewer than two sessions
	Common float64  `json:"common,omitempty"` // correlation of its error with what the vehicle's values have in common, the delay's; 0: none
}

// A Spread is what the sessions of one car scatter, in the figure's unit.
type Spread struct {
	Sessions int     `json:"sessions"`
	Within   float64 `json:"within"`  // standard uncertainty of one session's value, root mean square
	Between  float64 `json:"between"` // standard deviation that sessions add to that
	// Expanded is the expanded uncertainty of their mean for 95 %, which is large where few
	// sessions tell how far they scatter (JCGM 100, G.3).
	Expanded float64 `json:"expanded"`
}

// A Variance is how far the sessions of one car differ in a figure, all cars
// taken together, beside how far cars do: a one-way analysis of variance.
type Variance struct {
	Figure        string  `json:"figure"`
	Cars          int     `json:"cars"`
	Sessions      int     `json:"sessions"`
	Free          int     `json:"degrees_of_freedom"` // of the repeatability
	Repeatability float64 `json:"repeatability"`      // standard deviation between sessions of one car
	CarsSD        float64 `json:"between_cars"`       // standard deviation between cars, beyond that
	F             float64 `json:"f"`
	P             float64 `json:"p"` // chance of such an F if all cars were alike
}

// A Pair is how sure it is that one vehicle is before another.
type Pair struct {
	Before      string  `json:"before"`
	After       string  `json:"after"`
	Probability float64 `json:"probability"`
}

// A Shift is how far one scale's weight may move, the others as they are, before
// another car has the most points. Where To is "" there is no such weight.
type Shift struct {
	Figure   string  `json:"figure"`
	Weight   float64 `json:"weight"`
	Lower    float64 `json:"lower"`
	LowerTo  string  `json:"lower_to,omitempty"` // leads below Lower
	Higher   float64 `json:"higher"`
	HigherTo string  `json:"higher_to,omitempty"` // leads above Higher
}

// A Category is the ranking of the ranked cars by the scales of one category alone.
type Category struct {
	Name   string       `json:"name"`
	Weight float64      `json:"weight"` // of all its scales together
	Cars   []InCategory `json:"cars"`   // by place, then points
}

// An InCategory is one car's place in a category, by the rules of the standings.
type InCategory struct {
	Vehicle string  `json:"vehicle"`
	Place   int     `json:"place"`
	Lowest  int     `json:"lowest"`
	Highest int     `json:"highest"`
	Score   float64 `json:"score"`
	U       float64 `json:"uncertainty"`
}

// A Compared is one window of charge and the ranked cars' times over it.
type Compared struct {
	Figure string  `json:"figure"`
	Title  string  `json:"title"`
	Times  []Timed `json:"times"` // fastest first
}

// A Timed is one car's time over a window, in min, its place by it, and how many
// places that is better than by the common window; 0 where it has no time over that.
type Timed struct {
	Vehicle string  `json:"vehicle"`
	Value   float64 `json:"value"`
	U       float64 `json:"uncertainty"`
	Place   int     `json:"place"`
	Gained  int     `json:"gained"`
}

// Find returns the result of a session's figure, and whether there is one.
func (e *Edition) Find(session, figure string) (Figure, bool) {
	i, ok := slices.BinarySearchFunc(e.Results, [2]string{session, figure}, func(f Figure, k [2]string) int {
		return cmp.Or(strings.Compare(f.Session, k[0]), strings.Compare(f.Figure, k[1]))
	})
	if !ok {
		return Figure{}, false
	}
	return e.Results[i], true
}

// GatesOf returns what the gates say of a session. Gates lie in order of session.
func (e *Edition) GatesOf(session string) []Gate {
	before := func(g Gate, session string) int { return strings.Compare(g.Session, session) }
	from, _ := slices.BinarySearchFunc(e.Gates, session, before)
	n, _ := slices.BinarySearchFunc(e.Gates[from:], session+"\x00", before)
	return e.Gates[from : from+n]
}

// Besides are, for each scale, what to call the value that stands beside the one
// that earns points; "" where no ranked car has one.
func (e *Edition) Besides() []string {
	out := make([]string, len(e.Scales))
	for _, s := range e.Standings {
		for i, b := range s.Beside {
			if s.Place == 0 || i >= len(out) || b.Value == nil || b.Figure == "" {
				continue
			}
			out[i] = "as measured"
			if strings.HasSuffix(b.Figure, "_at_reference") {
				out[i] = "at the reference soak"
				for _, p := range e.Protocol {
					if p.Name == "reference_soak_c" {
						out[i] = fmt.Sprintf("at a soak of %g °C", p.Value)
					}
				}
			}
		}
	}
	return out
}

// Holds says, as part of a sentence, what a new car does to the points of others:
// nothing, unless a figure over the common window earns some and the window was
// chosen from what the cars cover.
func (e *Edition) Holds() string {
	for _, s := range e.Scales {
		if strings.HasPrefix(e.Window.Why, "the largest") && strings.Contains(s.Figure, "time_window") {
			return "a new car changes another's points only if it covers less of the common window, which is then made smaller for all ([window] in series.toml fixes it)"
		}
	}
	return "a new car never changes another's points"
}

// Name returns a vehicle's name, or its ID where it has none.
func (e *Edition) Name(vehicle string) string {
	for _, v := range e.Vehicles {
		if v.ID == vehicle && v.Name != "" {
			return v.Name
		}
	}
	return vehicle
}

// Definition returns what the edition says of a figure; its zero value has an
// empty name.
func (e *Edition) Definition(figure string) Defined {
	for _, d := range e.Figures {
		if d.Name == figure {
			return d
		}
	}
	return Defined{}
}

// Write writes the edition as JSON, a line for each session, figure and so on, the
// same bytes for the same edition.
func (e *Edition) Write(w io.Writer) error {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(e); err != nil {
		return err
	}
	_, err := w.Write(lined(b.Bytes()))
	return err
}

// Read reads what Write wrote.
func Read(r io.Reader) (*Edition, error) {
	e := &Edition{}
	if err := json.NewDecoder(r).Decode(e); err != nil {
		return nil, fmt.Errorf("edition: %w", err)
	}
	return e, nil
}

// Same reports whether two editions say the same but for their date and what went before.
func Same(a, b *Edition) bool {
	if len(a.Sessions) != len(b.Sessions) || len(a.Results) != len(b.Results) {
		return false // without telling all that both say
	}
	x, y := *a, *b
	x.ID, x.At, x.Before, y.ID, y.At, y.Before = "", time.Time{}, "", "", time.Time{}, ""
	var p []byte
	var err error
	var wg sync.WaitGroup
	wg.Go(func() { p, err = json.Marshal(x) })
	q, qerr := json.Marshal(y)
	wg.Wait()
	return err == nil && qerr == nil && bytes.Equal(p, q)
}
