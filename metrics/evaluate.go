package metrics

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"fmt"
	"maps"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"coldbench/metrics/edition"
	"coldbench/warehouse"
	"coldbench/warehouse/diag"
)

// hashOf is the SHA-256, in hex, of parts, each with its length before it.
func hashOf(parts ...string) string {
	var room [160]byte
	text := room[:0]
	for _, p := range parts {
		text = append(strconv.AppendInt(text, int64(len(p)), 10), ':')
		text = append(append(text, p...), ',')
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}

// Materialise makes the views of the given names, and all that they read, over
// the sessions in the workspace's scope: temporary tables, but for those that are
// worked out in place.
func (c *Catalogue) Materialise(ctx context.Context, w *warehouse.Workspace, names ...string) error {
	need := map[string]bool{}
	for _, name := range names {
		need[name] = true
		for table := range c.deepReads(c.views[name]) {
			need[table] = true
		}
	}
	return c.make(ctx, w, func(v *Definition) bool { return need[v.Name] })
}

// make makes the views for which need holds. What they read must be there, or
// among them.
func (c *Catalogue) make(ctx context.Context, w *warehouse.Workspace, need func(*Definition) bool) error {
	for _, v := range c.Views {
		if !need(v) {
			continue
		}
		if slices.ContainsFunc(v.Reads, func(r Read) bool { return r.Table == "reading" }) {
			if err := w.Hold(ctx); err != nil {
				return err
			}
		}
		head := "create or replace temp table " + v.Name + " as "
		if v.InPlace {
			head = "create or replace temp view " + v.Name + " as "
		}
		if err := w.Exec(ctx, head+v.Text); ctx.Err() != nil {
			return fmt.Errorf("metrics: view %s: %w", v.Name, ctx.Err())
		} else if err != nil {
			return fmt.Errorf("metrics: view %s: %w", v.Name, explain(ctx, w, err, v, head))
		}
	}
	return nil
}

// Named returns the names of the catalogue's views that stand in a query's text
// as words, sorted.
func (c *Catalogue) Named(query string) []string {
	words := strings.FieldsFunc(strings.ToLower(query), func(r rune) bool {
		return !(r == '_' || r >= 'a' && r <= 'z' || r >= '0' && r <= '9')
	})
	named := map[string]bool{}
	for _, w := range words {
		if c.views[w] != nil {
			named[w] = true
		}
	}
	return slices.Sorted(maps.Keys(named))
}

// viewNames are the views that definitions read.
func (c *Catalogue) viewNames(defs []*Definition) []string {
	need := map[string]bool{}
	for _, d := range defs {
		for table := range c.deepReads(d) {
			if c.views[table] != nil {
				need[table] = true
			}
		}
	}
	return slices.Sorted(maps.Keys(need))
}

// explain places an error of a definition's SQL that was sent after head.
func explain(ctx context.Context, w *warehouse.Workspace, err error, d *Definition, head string) *diag.Diagnostic {
	return w.Explain(ctx, err, d.File, d.Text, head)
}

// resultColumns are what a figure's query returns, each made the type it must
// have: a literal 0.1 is a decimal.
var resultColumns = []string{"session_id::varchar", "value::double", "uncertainty::double", "from_s::double", "to_s::double", "status::varchar", "note::varchar"}

// Check finds what is wrong with a figure's SQL and lineage against the
// workspace, whose views must have been made and whose schema is given. It needs
// no data.
func (c *Catalogue) Check(ctx context.Context, w *warehouse.Workspace, schema map[string][]string, d *Definition) diag.List {
	var l diag.List
	for _, r := range d.Reads {
		at := diag.Pos{File: d.File, Line: r.Line, Col: 4}
		have := schema[r.Table]
		if len(have) == 0 {
			l.Add(at, "reads: no table or view %q", r.Table).WithHint("%s", diag.DidYouMean(r.Table, c.tables()))
			continue
		}
		for _, col := range r.Columns {
			if !slices.Contains(have, col) {
				l.Add(at, "reads: %s has no column %q", r.Table, col).WithHint("%s", diag.DidYouMean(col, have))
			}
		}
	}
	head, tail := wrap(d)
	rows, err := w.Query(ctx, head+d.Text+tail+" limit 0")
	if err != nil {
		l = append(l, explain(ctx, w, err, d, head))
		return l
	}
	rows.Close()
	if l != nil {
		return l
	}
	// A value is computed again if what reads names changes, so it may depend on nothing else.
	head = c.named(d, schema) + ", figure as ("
	if rows, err = w.Query(ctx, head+d.Text+tail+" limit 0"); err != nil {
		hint := "reads names all that a figure reads, each table with its columns"
		for _, m := range from.FindAllStringSubmatch(remark.ReplaceAllString(d.Text, ""), -1) {
			table := strings.ToLower(m[1])
			if schema[table] != nil && !slices.ContainsFunc(d.Reads, func(r Read) bool { return r.Table == table }) {
				hint = "reads does not name " + table
			}
		}
		l = append(l, explain(ctx, w, err, d, head).WithHint("%s", hint))
		return l
	}
	rows.Close()
	return l
}

// from finds the tables of a query without its remarks.
var (
	from   = regexp.MustCompile(`(?i)\b(?:from|join)\s+([a-z_][a-z0-9_]*)`)
	remark = regexp.MustCompile(`(?s)--[^\n]*|/\*.*?\*/`)
)

// named is the beginning of a query in whose place tables have only what a
// definition's reads name of them, and others nothing.
func (c *Catalogue) named(d *Definition, schema map[string][]string) string {
	var parts []string
	reads := map[string]bool{}
	for _, r := range d.Reads {
		of := "main."
		if c.views[r.Table] != nil {
			of = "temp."
		}
		reads[r.Table] = true
		parts = append(parts, r.Table+" as (select "+strings.Join(r.Columns, ", ")+" from "+of+r.Table+")")
	}
	for _, table := range c.tables() {
		if !reads[table] && schema[table] != nil {
			parts = append(parts, table+` as (select 1 as "not named" where false)`)
		}
	}
	return "with " + strings.Join(parts, ", ")
}

func (c *Catalogue) tables() []string {
	names := []string{"vehicle", "protocol", "session", "source", "instrument", "reading", "event", "set_aside", "result"}
	for _, v := range c.Views {
		names = append(names, v.Name)
	}
	return names
}

// wrap surrounds a figure's text so that it can only be one query, with only
// the columns it must have, and in a fixed order.
func wrap(d *Definition) (head, tail string) {
	return "with figure as (", "\n) select " + strings.Join(resultColumns, ", ") + " from figure order by session_id::varchar"
}

// figureRows runs one figure over the sessions in scope. A List tells what is
// wrong with the figure itself; it then has no rows.
func (c *Catalogue) figureRows(ctx context.Context, w *warehouse.Workspace, d *Definition, sessions []sessionRow) ([]edition.Figure, diag.List) {
	head, tail := wrap(d)
	if d.Mine {
		limited, cancel := context.WithTimeout(ctx, c.TimeLimit)
		defer cancel()
		rows, l := c.resultRows(limited, w, d, sessions, head, tail)
		if l != nil && limited.Err() != nil && ctx.Err() == nil {
			l = diag.List{diag.New(diag.Pos{File: d.File, Line: 1, Col: 4}, "figure %s took longer than %v", d.Name, c.TimeLimit).
				WithHint("does it join every row with every other?")}
		}
		// DuckDB says so in several ways.
		if text := l.Error(); l != nil && (strings.Contains(text, "failed to pin block") || strings.Contains(text, "could not allocate block") || strings.Contains(text, "ut of memory")) {
			l = diag.List{diag.New(diag.Pos{File: d.File, Line: 1, Col: 4}, "figure %s takes more memory than there is for it", d.Name).WithHint("%s", text)}
		}
		return rows, l
	}
	return c.resultRows(ctx, w, d, sessions, head, tail)
}

func (c *Catalogue) resultRows(ctx context.Context, w *warehouse.Workspace, d *Definition, sessions []sessionRow, head, tail string) ([]edition.Figure, diag.List) {
	var l diag.List
	rows, err := w.Query(ctx, head+d.Text+tail)
	if err != nil {
		return nil, append(l, explain(context.WithoutCancel(ctx), w, err, d, head))
	}
	defer rows.Close()
	want := map[string]bool{}
	for _, s := range sessions {
		if slices.Contains(d.Procedures, s.procedure) {
			want[s.id] = true
		}
	}
	var out []edition.Figure
	at := diag.Pos{File: d.File, Line: 1, Col: 4}
	for rows.Next() {
		var f edition.Figure
		var value, u, from, to sql.NullFloat64
		var status, note sql.NullString
		if err := rows.Scan(&f.Session, &value, &u, &from, &to, &status, &note); err != nil {
			return nil, append(l, diag.New(at, "%v", err))
		}
		f.Figure, f.Unit, f.Status, f.Note = d.Name, d.Unit, edition.Status(status.String), note.String
		f.Value, f.U, f.From, f.To = result(value), result(u), result(from), result(to)
		if !want[f.Session] {
			l.Add(at, "figure %s has a row too many for session %q", d.Name, f.Session)
			return nil, l
		}
		delete(want, f.Session)
		if msg := f.Flaw(); msg != "" {
			l.Add(at, "figure %s, session %s: %s", d.Name, f.Session, msg)
			continue
		}
		out = append(out, f)
	}
	if err := rows.Err(); err != nil {
		return nil, append(l, explain(context.WithoutCancel(ctx), w, err, d, head))
	}
	for _, s := range sessions {
		if want[s.id] {
			l.Add(at, "figure %s has no row for session %q", d.Name, s.id).WithHint("every session of its procedures keeps its row")
		}
	}
	return out, l
}

// number is a float that is there and is one, or nil.
func number(v sql.NullFloat64) *float64 {
	if !v.Valid || math.IsNaN(v.Float64) || math.IsInf(v.Float64, 0) {
		return nil
	}
	return &v.Float64
}

// result is a number of a figure, to eight digits: the last ones are the order in
// which DuckDB happened to add, and an edition must not depend on it. With ten
// digits a sum of some thousand rows comes out otherwise about once in fifty
// thousand, which is once an edition of 500 sessions.
func result(v sql.NullFloat64) *float64 {
	p := number(v)
	if p == nil {
		return nil
	}
	r := digits(*p*lean, 8)
	return &r
}

// lean is more than the order of adding changes, and far less than is rounded
// off. What lies just between two numbers, as energies of whole seconds often do,
// is always rounded away from zero by it, whatever that order.
const lean = 1 + 1e-11

// rounded is what was worked out here, of results, where the order is one.
func rounded(v float64) float64 { return digits(v, 10) }

// digits is v in n digits.
func digits(v float64, n int) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'e', n-1, 64), 64)
	if err != nil {
		return v
	}
	return r
}

// A sessionRow is what evaluation needs of a session.
type sessionRow struct {
	id, vehicle, procedure string
	problem                string // non-empty: refused, out of scope
	content                string // hash of all that its figures may depend on but protocol and definitions
	rows                   int64  // readings
}

func sessions(ctx context.Context, w *warehouse.Workspace) ([]sessionRow, error) {
	rows, err := w.Query(ctx, `
		with contents as (
			select session_id, string_agg(source_id || ' ' || sha256 || ' ' || settings, ' ' order by source_id) as content, sum(rows_kept) as rows_kept
			from source
			group by session_id
		)
		select
			s.session_id, s.vehicle_id, s.procedure, coalesce(s.problem, ''),
			concat_ws(' ', s.sha256, v.sha256, c.content), coalesce(c.rows_kept, 0)::bigint
		from session s
		left join vehicle v using (vehicle_id)
		left join contents c using (session_id)
		order by s.session_id`)
	if err != nil {
		return nil, fmt.Errorf("metrics: sessions: %w", err)
	}
	defer rows.Close()
	var all []sessionRow
	for rows.Next() {
		var s sessionRow
		if err := rows.Scan(&s.id, &s.vehicle, &s.procedure, &s.problem, &s.content, &s.rows); err != nil {
			return nil, fmt.Errorf("metrics: sessions: %w", err)
		}
		s.content = hashOf(s.content)
		all = append(all, s)
	}
	if err := rows.Err(); err != nil {
		return nil, fmt.Errorf("metrics: sessions: %w", err)
	}
	return all, nil
}

// parameters reads the protocol's numbers.
func parameters(ctx context.Context, w *warehouse.Workspace) (map[string]float64, error) {
	rows, err := w.Query(ctx, `
		unpivot (select columns(* exclude (title, place))::double from protocol)
		on columns(*) into name parameter value number`)
	if err != nil {
		return nil, fmt.Errorf("metrics: protocol: %w", err)
	}
	defer rows.Close()
	params := map[string]float64{}
	for rows.Next() {
		var name string
		var v float64
		if err := rows.Scan(&name, &v); err != nil {
			return nil, fmt.Errorf("metrics: protocol: %w", err)
		}
		params[name] = v
	}
	return params, rows.Err()
}

// basis returns what makes, of a session, the hash of all that its figure depends
// on: half of one, for 128 bits are enough to tell apart, and an edition has one for
// each figure of each session.
func (c *Catalogue) basis(d *Definition, params map[string]float64) func(sessionRow) string {
	parts := []string{c.deepHash(d)}
	cols := c.deepReads(d)["protocol"]
	for name, v := range params {
		if cols[name] {
			parts = append(parts, fmt.Sprintf("%s=%v", name, v))
		}
	}
	slices.Sort(parts[1:])
	defined := hashOf(parts...)
	return func(s sessionRow) string { return hashOf(defined, s.content)[:32] }
}

// cached returns the figures of the latest edition by session and figure.
func cached(ctx context.Context, w *warehouse.Workspace) (map[[2]string]edition.Figure, error) {
	all, err := w.Figures(ctx)
	if err != nil {
		return nil, fmt.Errorf("metrics: %w", err)
	}
	known := make(map[[2]string]edition.Figure, len(all))
	for _, f := range all {
		known[[2]string{f.Session, f.Figure}] = edition.Figure{Session: f.Session, Figure: f.Figure, Value: f.Value, U: f.U, From: f.From, To: f.To,
			Status: edition.Status(f.Status), Note: f.Note, Basis: f.Basis}
	}
	return known, nil
}

// unknown returns the sessions that lack a current result of any of the figures.
func (c *Catalogue) unknown(defs []*Definition, all []sessionRow, known map[[2]string]edition.Figure, params map[string]float64) []sessionRow {
	var todo []sessionRow
	bases := make([]func(sessionRow) string, len(defs))
	for i, d := range defs {
		bases[i] = c.basis(d, params)
	}
	for _, s := range all {
		for i, d := range defs {
			if !slices.Contains(d.Procedures, s.procedure) {
				continue
			}
			if f, ok := known[[2]string{s.id, d.Name}]; !ok || f.Basis != bases[i](s) {
				todo = append(todo, s)
				break
			}
		}
	}
	return todo
}

// unchanged are the results of figures, from known, for the sessions that are not
// among todo.
func (c *Catalogue) unchanged(defs []*Definition, all, todo []sessionRow, known map[[2]string]edition.Figure) []edition.Figure {
	again := map[string]bool{}
	for _, s := range todo {
		again[s.id] = true
	}
	var out []edition.Figure
	for _, d := range defs {
		for _, s := range all {
			if f, ok := known[[2]string{s.id, d.Name}]; ok && !again[s.id] && slices.Contains(d.Procedures, s.procedure) {
				f.Unit = d.Unit
				out = append(out, f)
			}
		}
	}
	return out
}

// evaluate computes a figure for the sessions todo, whose views must have been
// made. A List says what is wrong with the definition.
func (c *Catalogue) evaluate(ctx context.Context, w *warehouse.Workspace, d *Definition, todo []sessionRow, params map[string]float64) ([]edition.Figure, diag.List) {
	byID := map[string]sessionRow{}
	for _, s := range todo {
		byID[s.id] = s
	}
	rows, l := c.figureRows(ctx, w, d, todo)
	basis := c.basis(d, params)
	for i := range rows {
		rows[i].Basis = basis(byID[rows[i].Session])
	}
	return rows, l
}
