// Package metrics computes figures: it reads their definitions (SQL with front
// matter), checks what they read against the catalogues, runs them over a
// warehouse opened for reading, judges gates and makes the standings.
//
// It writes nothing: an edition is data that the caller stores and reports.
package metrics

import (
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strings"

	"coldbench/warehouse/channel"
	"coldbench/warehouse/diag"
)

// A Definition is one figure or view as its file defines it.
type Definition struct {
	Name       string
	View       bool
	InPlace    bool // a view that is worked out by each that reads it, not made a table once
	Title      string
	Unit       string   // figures only, as the next three
	Better     string   // "lower", "higher" or "neither"
	Procedures []string // of the sessions that have the figure
	Method     string   // a published source, or that the definition is ours
	Reads      []Read
	Prose      string // what counts, what does not, when there is no value
	File       string // as diagnostics call it
	Text       string // the whole file
	Mine       bool   // of the user's folder: bounded in time
	line       map[string]int
}

// A Read is a table or view that a definition reads, with the columns it names.
type Read struct {
	Table   string
	Columns []string
	Line    int // in the file
}

// Query is the definition's SQL without its front matter and prose.
func (d *Definition) Query() string {
	lines := strings.Split(d.Text, "\n")
	for len(lines) > 0 && (strings.HasPrefix(lines[0], "--") || strings.TrimSpace(lines[0]) == "") {
		lines = lines[1:]
	}
	return strings.Join(lines, "\n")
}

// Hash is the SHA-256 of the definition's text, in hex.
func (d *Definition) Hash() string {
	sum := sha256.Sum256([]byte(d.Text))
	return hex.EncodeToString(sum[:])
}

var (
	figureKeys = []string{"figure", "title", "unit", "better", "procedure", "reads", "method"}
	viewKeys   = []string{"view", "title", "made", "reads"}
)

// made is how a view may be made; what it does not say is the first.
var made = []string{"a table", "in place"}

// parse reads a definition. The file's stem must be its name.
func parse(file, stem, text string) (*Definition, diag.List) {
	d := &Definition{File: file, Text: text, line: map[string]int{}}
	var l diag.List
	keys := figureKeys
	if strings.HasPrefix(text, "-- view:") {
		d.View, keys = true, viewKeys
	}
	values := map[string]string{}
	lines := strings.Split(text, "\n")
	next, current, n := 0, "", 0
	for n = 0; n < len(lines) && strings.HasPrefix(lines[n], "--"); n++ {
		body := lines[n][2:]
		if strings.TrimSpace(body) == "" {
			break
		}
		if current != "" && strings.HasPrefix(body, "    ") {
			values[current] += " " + strings.TrimSpace(body)
			continue
		}
		key, value, ok := strings.Cut(body, ":")
		key = strings.TrimSpace(key)
		at := diag.Pos{File: file, Line: n + 1, Col: 4}
		switch {
		case !ok:
			l.Add(at, "front matter needs \"key: value\"").WithHint("prose comes after a line \"--\"")
		case !slices.Contains(keys, key):
			h := diag.DidYouMean(key, keys)
			if h == "" {
				h = "known here: " + strings.Join(keys, ", ")
			}
			l.Add(at, "unknown key %q", key).WithHint("%s", h)
		case d.line[key] > 0:
			l.Add(at, "key %q stands twice", key)
		case next < len(keys) && key != keys[next] && slices.Index(keys, key) < next:
			l.Add(at, "key %q is out of order", key).WithHint("the order is %s", strings.Join(keys, ", "))
		default:
			next = slices.Index(keys, key) + 1
		}
		current, d.line[key], values[key] = key, n+1, strings.TrimSpace(value)
	}
	if d.View && d.line["made"] == 0 {
		values["made"] = made[0]
	}
	for _, key := range keys {
		if values[key] == "" && l == nil {
			l.Add(diag.Pos{File: file, Line: 1, Col: 1}, "key %q is missing", key).WithHint("the front matter is %s", strings.Join(keys, ", "))
		}
	}
	for ; n < len(lines) && strings.HasPrefix(lines[n], "--"); n++ {
		d.Prose += strings.TrimPrefix(strings.TrimPrefix(lines[n], "--"), " ") + "\n"
	}
	d.Prose = strings.TrimSpace(d.Prose)
	if l != nil {
		return d, l
	}
	d.Name, d.Title, d.Unit, d.Better, d.Method = values[keys[0]], values["title"], values["unit"], values["better"], values["method"]
	at := func(key string) diag.Pos { return diag.Pos{File: file, Line: d.line[key], Col: 4} }
	if d.Name != stem {
		l.Add(at(keys[0]), "%s %q must have its file's name, %q", keys[0], d.Name, stem)
	}
	if d.Prose == "" {
		l.Add(at(keys[len(keys)-1]), "no prose after the front matter").WithHint("say what counts, what does not, and when there is no value")
	}
	d.Reads = parseReads(values["reads"], at("reads"), &l)
	for i, line := range lines {
		code, _, _ := strings.Cut(strings.ToLower(line), "--")
		if col := strings.Index(code, "distinct on"); col >= 0 {
			l.Add(diag.Pos{File: file, Line: i + 1, Col: col + 1}, "\"distinct on\" cannot be trusted here: DuckDB 1.1 may move a where past it").
				WithHint("qualify row_number() over (partition by ... order by ...) = 1 does the same")
		}
	}
	if d.View {
		if !slices.Contains(made, values["made"]) {
			l.Add(at("made"), "made must be %q or %q, not %q", made[0], made[1], values["made"])
		}
		d.InPlace = values["made"] == made[1]
		return d, l
	}
	if !slices.Contains([]string{"lower", "higher", "neither"}, d.Better) {
		l.Add(at("better"), "better must be lower, higher or neither, not %q", d.Better)
	}
	for _, p := range strings.Split(values["procedure"], ",") {
		p = strings.TrimSpace(p)
		if !slices.Contains(channel.Procedures, p) {
			l.Add(at("procedure"), "unknown procedure %q", p).WithHint("%s", diag.DidYouMean(p, channel.Procedures))
		}
		d.Procedures = append(d.Procedures, p)
	}
	return d, l
}

// parseReads reads "table(column, column), table(column)".
func parseReads(s string, at diag.Pos, l *diag.List) []Read {
	var reads []Read
	for s != "" {
		table, rest, ok := strings.Cut(s, "(")
		columns, after, closed := strings.Cut(rest, ")")
		if !ok || !closed || strings.Trim(strings.TrimSpace(table), "abcdefghijklmnopqrstuvwxyz0123456789_") != "" {
			l.Add(at, "reads needs table(column, ...), not %q", s)
			return reads
		}
		r := Read{Table: strings.TrimSpace(table), Line: at.Line}
		for _, c := range strings.Split(columns, ",") {
			r.Columns = append(r.Columns, strings.TrimSpace(c))
		}
		if slices.ContainsFunc(reads, func(o Read) bool { return o.Table == r.Table }) {
			l.Add(at, "reads names %s twice", r.Table)
			return reads
		}
		reads = append(reads, r)
		s = strings.TrimSpace(after)
		if s != "" && !strings.HasPrefix(s, ",") {
			l.Add(at, "reads needs a comma before %q", s)
			return reads
		}
		s = strings.TrimSpace(strings.TrimPrefix(s, ","))
	}
	return reads
}
