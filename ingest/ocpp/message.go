package ocpp

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"coldbench/warehouse/diag"
)

// A text is one piece of the file that should hold a message.
type text struct {
	line int64 // where it starts, from 1
	col  int   // byte of the line
	raw  []byte
}

// split cuts a file into texts: the elements of one JSON array, or its lines. A
// JSON array that breaks off yields what stands before; rest is then the place
// and text of what cannot be told apart, why is its reason.
func split(file []byte) (texts []text, rest text, why string) {
	if !isArray(file) {
		line := int64(0)
		for raw := range bytes.Lines(file) {
			line++
			trimmed := bytes.TrimSpace(raw)
			if trimmed = bytes.TrimSuffix(trimmed, []byte(",")); len(trimmed) > 0 {
				texts = append(texts, text{line, bytes.Index(raw, trimmed) + 1, trimmed})
			}
		}
		return texts, text{}, ""
	}
	dec := json.NewDecoder(bytes.NewReader(file))
	place := placer{file: file, line: 1}
	_, err := dec.Token()
	for err == nil && dec.More() {
		var raw json.RawMessage
		if err = dec.Decode(&raw); err == nil {
			line, col := place.of(int(dec.InputOffset()) - len(raw))
			texts = append(texts, text{line, col, raw})
		}
	}
	if err == nil {
		_, err = dec.Token()
	}
	if err == nil {
		if _, more := dec.Token(); errors.Is(more, io.EOF) {
			return texts, text{}, ""
		}
	}
	at := min(int(dec.InputOffset()), len(file))
	at += len(file[at:]) - len(bytes.TrimLeft(file[at:], " \t\r\n,"))
	switch {
	case err == nil:
		why = "there is more behind the array"
	case errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF):
		why = "the array breaks off here"
	default:
		why = "cannot read the rest of the array as JSON"
	}
	line, col := place.of(at)
	return texts, text{line, col, file[at:]}, why
}

// isArray reports whether the file is one array of messages: of arrays or
// objects, where a single frame begins with a number.
func isArray(file []byte) bool {
	inner, ok := bytes.CutPrefix(bytes.TrimSpace(file), []byte("["))
	inner = bytes.TrimSpace(inner)
	return ok && (len(inner) == 0 || inner[0] == '[' || inner[0] == '{' || inner[0] == ']')
}

// A placer finds the lines of growing offsets.
type placer struct {
	file      []byte
	at, start int // bytes looked at, and where the line starts
	line      int64
}

func (p *placer) of(offset int) (line int64, col int) {
	for ; p.at < offset; p.at++ {
		if p.file[p.at] == '\n' {
			p.line++
			p.start = p.at + 1
		}
	}
	return p.line, offset - p.start + 1
}

// The kinds of frame of OCPP-J.
const (
	call       = 2
	callResult = 3
	callError  = 4
)

// A message is one frame, or what stands for one.
type message struct {
	text
	kind    int
	id      string // "" where the log leaves it out
	action  string // of a call
	payload json.RawMessage
	receipt json.RawMessage // when the message was logged, or nil
}

const shapes = "a frame is [2,\"id\",\"MeterValues\",{...}]; it may stand in {\"timestamp\": ..., \"message\": [...]}"

// unwrap reads a text as a message.
func unwrap(t text) (message, *diag.Diagnostic) {
	m := message{text: t}
	if !json.Valid(t.raw) {
		return m, diag.New(diag.Pos{}, "cannot read the message as JSON").WithHint("%s", shapes)
	}
	d := m.open(t.raw, true)
	return m, d
}

func (m *message) open(raw []byte, outer bool) *diag.Diagnostic {
	switch raw = bytes.TrimSpace(raw); {
	case len(raw) > 0 && raw[0] == '[':
		return m.frame(raw)
	case len(raw) > 0 && raw[0] == '{':
		return m.object(raw, outer)
	case len(raw) > 0 && raw[0] == '"' && !outer: // the frame as it went over the line
		var s string
		if json.Unmarshal(raw, &s) == nil && json.Valid([]byte(s)) && len(s) > 0 && s[0] != '"' {
			return m.open([]byte(s), false)
		}
	}
	return diag.New(diag.Pos{}, "there is no message in it").WithHint("%s", shapes)
}

func (m *message) frame(raw []byte) *diag.Diagnostic {
	var parts []json.RawMessage
	if err := json.Unmarshal(raw, &parts); err != nil || len(parts) < 3 || json.Unmarshal(parts[0], &m.kind) != nil || json.Unmarshal(parts[1], &m.id) != nil {
		return diag.New(diag.Pos{}, "the array is no frame").WithHint("%s", shapes)
	}
	switch {
	case m.kind == call && len(parts) == 4 && json.Unmarshal(parts[2], &m.action) == nil:
		m.payload = parts[3]
	case m.kind == callResult:
		m.payload = parts[2]
	case m.kind == callError:
	default:
		return diag.New(diag.Pos{}, "a frame of %d parts that starts with %s is none that OCPP-J knows", len(parts), parts[0]).WithHint("%s", shapes)
	}
	return nil
}

// object reads a frame in an object with the time of receipt, or a payload with
// its action.
func (m *message) object(raw []byte, outer bool) *diag.Diagnostic {
	var keys map[string]json.RawMessage
	if err := json.Unmarshal(raw, &keys); err != nil {
		return diag.New(diag.Pos{}, "cannot read the message as JSON").WithHint("%s", shapes)
	}
	first := func(names ...string) json.RawMessage {
		for _, n := range names {
			if v, ok := keys[n]; ok && string(v) != "null" {
				return v
			}
		}
		return nil
	}
	if outer {
		if inner := first("message", "frame"); inner != nil {
			m.receipt = first("timestamp", "time")
			return m.open(inner, false)
		}
	}
	if json.Unmarshal(first("action"), &m.action) != nil || m.action == "" {
		return diag.New(diag.Pos{}, "the object has neither a message nor an action").WithHint("%s", shapes)
	}
	m.kind = call
	if m.payload = first("payload"); m.payload == nil {
		m.payload = raw
	} else if at := first("timestamp", "time"); at != nil {
		m.receipt = at
	}
	return nil
}

// mistake says what is wrong with a JSON text of known form, in words of JSON.
func mistake(err error) string {
	var t *json.UnmarshalTypeError
	if !errors.As(err, &t) {
		return strings.TrimPrefix(err.Error(), "json: ")
	}
	if t.Field == "" {
		return fmt.Sprintf("it is a JSON %s", t.Value)
	}
	return fmt.Sprintf("%s is a JSON %s", t.Field, t.Value)
}
