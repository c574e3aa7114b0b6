package jsonlines

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"coldbench/ingest/profile"
)

// lines are the records of JSON Lines.
type lines struct {
	text *bufio.Reader
	line int64
	buf  []byte
}

func (r *lines) next() (record, *profile.Problem, error) {
	for {
		text, long, err := r.read()
		if err != nil {
			return record{}, nil, err
		}
		r.line++
		rec := record{text: text, line: r.line, col: 1}
		trimmed := bytes.TrimSpace(text)
		switch {
		case long:
			return rec, tooLong("line"), nil
		case len(trimmed) == 0:
			continue
		case !json.Valid(text):
			var p *profile.Problem
			rec.col, p = broken(text)
			return rec, p, nil
		case trimmed[0] != '{':
			return rec, noObject(trimmed), nil
		}
		return rec, nil, nil
	}
}

// read reads a line, or the start of one that is too long.
func (r *lines) read() (line []byte, long bool, err error) {
	r.buf = r.buf[:0]
	for {
		part, err := r.text.ReadSlice('\n')
		if len(r.buf) <= maxRecord {
			r.buf = append(r.buf, part...)
		}
		switch {
		case errors.Is(err, bufio.ErrBufferFull):
			continue
		case errors.Is(err, io.EOF) && len(r.buf) > 0:
		case err != nil:
			return nil, false, err
		}
		return r.buf, len(r.buf) > maxRecord, nil
	}
}

func tooLong(what string) *profile.Problem {
	return &profile.Problem{Slot: -1, Reason: fmt.Sprintf("the %s is longer than %d KiB", what, maxRecord>>10), Hint: "is this a log?"}
}

func noObject(text []byte) *profile.Problem {
	what := "a value"
	if text[0] == '[' {
		what = "an array"
	}
	return &profile.Problem{Slot: -1, Reason: "a record is an object with a name a value, not " + what}
}

// broken tells at which byte, from 1, a text stops being JSON, and why.
func broken(text []byte) (int, *profile.Problem) {
	var syntax *json.SyntaxError
	if err := json.Unmarshal(text, new(json.RawMessage)); !errors.As(err, &syntax) {
		return 1, &profile.Problem{Slot: -1, Reason: "the record is not JSON"}
	}
	at := max(1, int(syntax.Offset))
	p := &profile.Problem{Slot: -1, Reason: syntax.Error()}
	switch rest := text[at-1:]; {
	case at >= len(bytes.TrimRight(text, "\r\n")):
		p.Hint = "was the logger cut off here?"
	case bytes.HasPrefix(rest, []byte("NaN")) || bytes.HasPrefix(rest, []byte("Inf")) || bytes.HasPrefix(rest, []byte("-Inf")):
		p.Hint = "JSON has no NaN and no Infinity; null is no value"
	}
	return at, p
}
