package jsonlines

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"coldbench/ingest/profile"
	"coldbench/ingest/source"
	"coldbench/warehouse/diag"
)

// A document is an array of records somewhere in a JSON text.
type document struct {
	dec   *json.Decoder
	in    *window
	raw   json.RawMessage
	depth int // brackets open around the array
	over  bool
}

func newDocument(text io.Reader) *document {
	in := &window{r: text, line: 1}
	return &document{dec: json.NewDecoder(in), in: in}
}

// errLong is what a window returns instead of more of one record.
var errLong = errors.New("the record is too long")

// A window reads a text no further than a decoder may need, and knows the lines
// of what it has read.
type window struct {
	r     io.Reader
	read  int64 // bytes
	limit int64 // of read

	line  int64   // of place, from 1
	start int64   // where that line starts
	ends  []int64 // where lines start that were read behind place
}

func (w *window) Read(b []byte) (int, error) {
	if w.read >= w.limit {
		return 0, errLong
	}
	b = b[:min(int64(len(b)), w.limit-w.read)]
	n, err := w.r.Read(b)
	for i := 0; ; i++ {
		j := bytes.IndexByte(b[i:n], '\n')
		if j < 0 {
			break
		}
		i += j
		w.ends = append(w.ends, w.read+int64(i)+1)
	}
	w.read += int64(n)
	return n, err
}

// place is the line and column of a byte, counted from 0. Places only go forward.
func (w *window) place(at int64) (line int64, col int) {
	n := 0
	for n < len(w.ends) && w.ends[n] <= at {
		w.start = w.ends[n]
		n++
	}
	w.line += int64(n)
	w.ends = append(w.ends[:0], w.ends[n:]...)
	return w.line, int(at-w.start) + 1
}

// token reads a token, of bounded length.
func (d *document) token() (json.Token, error) {
	d.in.limit = d.dec.InputOffset() + maxRecord
	d.in.place(d.dec.InputOffset())
	return d.dec.Token()
}

// seek reads up to the first record.
func (d *document) seek(in source.Input) (diag.List, error) {
	var l diag.List
	p := in.Profile
	var path []string
	if p.Records != "" {
		path = strings.Split(p.Records, ".")
	}
	for depth := 0; ; depth++ {
		t, err := d.token()
		if err != nil {
			return d.refuse(in, err)
		}
		var found bool
		var names []string
		switch {
		case depth == len(path) && t == json.Delim('['):
			d.depth = depth
			return nil, nil
		case depth == len(path):
			what := "a value"
			if t == json.Delim('{') {
				what = "an object"
			}
			d.add(in, &l, "records %q is %s, not an array", p.Records, what).WithHint("records in profiles/%s.toml is the path of the array of rows", p.ID)
			return l, nil
		case t == json.Delim('{'):
			found, names, err = d.seekName(path[depth])
		case t == json.Delim('['):
			found, err = d.seekIndex(path[depth])
		}
		if err != nil {
			return d.refuse(in, err)
		}
		if !found {
			hint := diag.DidYouMean(path[depth], names)
			if hint == "" && len(names) > 0 {
				hint = "there is: " + strings.Join(names, ", ")
			}
			l.Add(diag.Pos{File: in.Shown}, "no %q in the document, which records = %q in profiles/%s.toml leads to", strings.Join(path[:depth+1], "."), p.Records, p.ID).
				WithHint("%s", hint)
			return l, nil
		}
	}
}

func (d *document) add(in source.Input, l *diag.List, format string, args ...any) *diag.Diagnostic {
	line, col := d.in.place(max(0, d.dec.InputOffset()-1))
	return l.Add(diag.Pos{File: in.Shown, Line: int(line), Col: col}, format, args...)
}

// seekName reads an object up to the value of a name.
func (d *document) seekName(name string) (found bool, names []string, err error) {
	const most = 50
	for {
		t, err := d.token()
		if err != nil || t == json.Delim('}') {
			return false, names, err
		}
		if t == name {
			return true, nil, nil
		}
		if key, ok := t.(string); ok && len(names) < most {
			names = append(names, key)
		}
		if err := d.skip(); err != nil {
			return false, nil, err
		}
	}
}

// seekIndex reads an array up to an item.
func (d *document) seekIndex(index string) (found bool, err error) {
	n, err := strconv.Atoi(index)
	if err != nil || n < 0 {
		return false, nil
	}
	for ; n > 0 && d.more(); n-- {
		if err := d.skip(); err != nil {
			return false, err
		}
	}
	return d.more(), nil
}

func (d *document) more() bool {
	d.in.limit = d.dec.InputOffset() + maxRecord
	return d.dec.More()
}

// skip reads a value, however large.
func (d *document) skip() error {
	for depth := 0; ; {
		t, err := d.token()
		if err != nil {
			return err
		}
		switch t {
		case json.Delim('{'), json.Delim('['):
			depth++
		case json.Delim('}'), json.Delim(']'):
			depth--
		}
		if depth == 0 {
			return nil
		}
	}
}

// refuse says that the document breaks before its first record.
func (d *document) refuse(in source.Input, err error) (diag.List, error) {
	rec, p, err := d.broken(err, false)
	if err != nil {
		return nil, err
	}
	return diag.List{diag.New(diag.Pos{File: in.Shown, Line: int(rec.line), Col: rec.col}, "%s", p.Reason).WithHint("%s", p.Hint)}, nil
}

func (d *document) next() (record, *profile.Problem, error) {
	if d.over {
		return record{}, nil, io.EOF
	}
	if !d.more() {
		if _, err := d.token(); err != nil {
			return d.broken(err, false)
		}
		return d.end()
	}
	if err := d.dec.Decode(&d.raw); err != nil {
		return d.broken(err, true)
	}
	line, col := d.in.place(d.dec.InputOffset() - int64(len(d.raw)))
	rec := record{text: d.raw, line: line, col: col}
	if d.raw[0] != '{' {
		return rec, noObject(d.raw), nil
	}
	return rec, nil, nil
}

// end reads what stands behind the records. A break there, or a second
// document, tells that more was meant to be there.
func (d *document) end() (record, *profile.Problem, error) {
	d.over = true
	for depth := d.depth; ; {
		t, err := d.token()
		switch {
		case errors.Is(err, io.EOF) && depth == 0:
			return record{}, nil, io.EOF
		case err != nil:
			return d.broken(err, false)
		case depth == 0:
			line, col := d.in.place(d.dec.InputOffset() - 1)
			return record{line: line, col: col}, &profile.Problem{Slot: -1, Reason: "the document has ended before this", Hint: nothingBehind}, nil
		case t == json.Delim('{'), t == json.Delim('['):
			depth++
		case t == json.Delim('}'), t == json.Delim(']'):
			depth--
		}
	}
}

const nothingBehind = "nothing behind is read"

// broken makes of an error where and why the document breaks; nothing behind
// that is read. decoding tells that a value was being read, not a token. An
// error of the file stays one.
func (d *document) broken(err error, decoding bool) (record, *profile.Problem, error) {
	d.over = true
	at := d.dec.InputOffset()
	rest, rerr := io.ReadAll(io.LimitReader(d.dec.Buffered(), maxRecord))
	if rerr != nil {
		return record{}, nil, rerr
	}
	p := &profile.Problem{Slot: -1, Hint: nothingBehind}
	var syntax *json.SyntaxError
	switch {
	case errors.Is(err, errLong):
		p.Reason = tooLong("record").Reason
		start := bytes.TrimLeft(rest, " \t\r\n")
		at, rest = at+int64(len(rest)-len(start)), start
	case errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF):
		p.Reason, p.Hint = "the document ends here, unfinished", "was the logger cut off here?"
		at = d.in.read
	case errors.As(err, &syntax):
		p.Reason = fmt.Sprintf("the document breaks here: %s", syntax)
		if strings.HasPrefix(syntax.Error(), "expected") {
			break // at a comma or a colon, not within the value
		}
		// The decoder's own count of bytes leaves tokens out.
		if decoding && errors.As(json.Unmarshal(rest, new(json.RawMessage)), &syntax) {
			at += max(0, syntax.Offset-1)
		}
	default:
		return record{}, nil, err
	}
	line, col := d.in.place(at)
	return record{text: rest[:min(len(rest), source.MaxRaw)], line: line, col: col}, p, nil
}
