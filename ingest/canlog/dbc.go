package canlog

import (
	"bytes"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"go.einride.tech/can/pkg/dbc"
	"golang.org/x/text/encoding/charmap"

	"coldbench/warehouse/diag"
)

// A database is what a DBC file says, as far as decoding goes.
type database struct {
	messages map[string]*message
	twice    map[string]bool // names that two messages have
	names    []string        // MESSAGE.SIGNAL, in the file's order
}

// nestedSwitch is a multiplexor that is itself multiplexed: "m3M".
var nestedSwitch = regexp.MustCompile(`^(\s*SG_\s+\w+\s+m[0-9]+)M(\s*:)`)

// parseDBC reads a DBC file's messages and signals. shown is what diagnostics
// call it.
func parseDBC(text []byte, shown string) (*database, *diag.Diagnostic) {
	if !utf8.Valid(text) { // the editors of these files write Windows-1252
		decoded, err := charmap.Windows1252.NewDecoder().Bytes(text)
		if err != nil {
			return nil, diag.New(diag.Pos{File: shown}, "cannot read the DBC file as text")
		}
		text = decoded
	}
	kept, nested := essentials(text)
	p := dbc.NewParser(shown, kept)
	if err := p.Parse(); err != nil {
		pos := err.Position()
		return nil, diag.New(diag.Pos{File: shown, Line: pos.Line, Col: pos.Column}, "cannot read the DBC file: %s", err.Reason())
	}
	db := &database{messages: map[string]*message{}, twice: map[string]bool{}}
	byID := map[dbc.MessageID]*message{}
	for _, def := range p.Defs() {
		switch def := def.(type) {
		case *dbc.MessageDef:
			m := newMessage(def, nested)
			if m == nil {
				continue
			}
			if _, ok := db.messages[m.name]; ok {
				db.twice[m.name] = true
				continue
			}
			db.messages[m.name], byID[def.MessageID] = m, m
			for _, s := range m.signals {
				db.names = append(db.names, s.name)
			}
		case *dbc.SignalValueTypeDef:
			if m := byID[def.MessageID]; m != nil && def.SignalValueType != dbc.SignalValueTypeInt {
				for _, s := range m.signals {
					if s.name == m.name+"."+string(def.SignalName) {
						s.float = true
					}
				}
			}
		}
	}
	return db, nil
}

// essentials keeps the definitions of messages, signals and their floats, and
// puts spaces for all else, so that places stay. It returns the lines of nested
// multiplexors too.
//
// Note: comments, attributes and the like are not left to the parser, for it
// refuses a file for any of them, and takes lines that it does not know along
// with their neighbours.
func essentials(text []byte) (kept []byte, nested map[int]bool) {
	nested = map[int]bool{}
	kept = slices.Clone(text)
	quoted := false // within a string of what is not kept
	n := 0
	for line := range bytes.Lines(kept) {
		n++
		if !quoted {
			words := bytes.Fields(line)
			if len(words) == 0 {
				continue
			}
			switch string(words[0]) {
			case "BO_", "SIG_VALTYPE_":
				continue
			case "SG_":
				if m := nestedSwitch.FindSubmatchIndex(line); m != nil {
					nested[n] = true
					line[m[3]] = ' '
				}
				continue
			}
		}
		for i, c := range line {
			if c == '"' {
				quoted = !quoted
			}
			if c != '\n' {
				line[i] = ' '
			}
		}
	}
	return kept, nested
}

func newMessage(def *dbc.MessageDef, nested map[int]bool) *message {
	if def.MessageID.Validate() != nil || def.Name == "VECTOR__INDEPENDENT_SIG_MSG" {
		return nil // signals of no message
	}
	m := &message{id: def.MessageID.ToCAN(), name: string(def.Name)}
	if def.MessageID.IsExtended() {
		m.id |= extended
	}
	for _, d := range def.Signals {
		s := &signal{name: m.name + "." + string(d.Name), start: int(min(d.StartBit, 8*maxData)), size: int(min(d.Size, 65)), big: d.IsBigEndian, signed: d.IsSigned,
			factor: d.Factor, offset: d.Offset, muxed: d.IsMultiplexed, mux: d.MultiplexerSwitch, unit: d.Unit, message: m}
		m.signals = append(m.signals, s)
		if d.IsMultiplexerSwitch {
			m.toggle = s
		}
		m.nested = m.nested || nested[d.Pos.Line]
	}
	return m
}

// find looks a signal up by MESSAGE.SIGNAL. What is wrong with it is a
// diagnostic without a position.
func (db *database) find(name, shown string) (*signal, *diag.Diagnostic) {
	messageName, _, dotted := strings.Cut(name, ".")
	if !dotted {
		return nil, diag.New(diag.Pos{}, "%q is no signal's name", name).WithHint("a signal is MESSAGE.SIGNAL, as in %s", shown)
	}
	m := db.messages[messageName]
	var s *signal
	if m != nil {
		if i := slices.IndexFunc(m.signals, func(s *signal) bool { return s.name == name }); i >= 0 {
			s = m.signals[i]
		}
	}
	switch {
	case s == nil:
		d := diag.New(diag.Pos{}, "%s has no signal %q", shown, name)
		if h := diag.DidYouMean(name, db.names); h != "" {
			return nil, d.WithHint("%s", h)
		}
		return nil, d.WithHint("%s", db.list(m))
	case db.twice[messageName]:
		return nil, diag.New(diag.Pos{}, "%s has two messages %q", shown, messageName).WithHint("rename one of them there")
	case m.nested:
		return nil, diag.New(diag.Pos{}, "%s: multiplexors within multiplexed signals are not read", name)
	case s.muxed && m.toggle == nil:
		return nil, diag.New(diag.Pos{}, "%s is multiplexed, but its message has no multiplexor", name)
	case s.float && s.size != 32 && s.size != 64:
		return nil, diag.New(diag.Pos{}, "%s is a float of %d bits, which there is not", name, s.size)
	case s.factor == 0:
		return nil, diag.New(diag.Pos{}, "%s has the factor 0", name)
	}
	for _, s := range []*signal{s, m.toggle} {
		if s != nil && (s.size < 1 || s.size > 64 || s.needs() > maxData) {
			return nil, diag.New(diag.Pos{}, "%s lies outside a frame: %d bits from bit %d", s.name, s.size, s.start)
		}
	}
	return s, nil
}

func (db *database) list(m *message) string {
	names := db.names
	if m != nil {
		names = nil
		for _, s := range m.signals {
			names = append(names, s.name)
		}
	}
	const most = 8
	if len(names) == 0 {
		return "it has none"
	}
	if more := len(names) - most; more > 0 {
		return fmt.Sprintf("it has %s and %d more", strings.Join(names[:most], ", "), more)
	}
	return "it has " + strings.Join(names, ", ")
}
