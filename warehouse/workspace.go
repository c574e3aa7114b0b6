package warehouse

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/marcboeker/go-duckdb"

	"coldbench/warehouse/diag"
)

// A Workspace reads a warehouse. It is an in-memory DuckDB with the file
// attached read-only: every table is there under its own name, and temporary
// tables and views may be made beside them. It is for one goroutine.
type Workspace struct {
	connector *duckdb.Connector
	db        *sql.DB
	conn      *sql.Conn
	name      string
	scopes    int             // made so far
	held      bool            // the readings of the scope are in memory
	kept      map[string]bool // tables of which rows were kept
}

// Limits bound what queries in a workspace may use.
type Limits struct {
	Memory  string // such as "2GB"; "": DuckDB's default
	Threads int    // 0: as many as there are cores
}

// tables are those that a scope cuts down to some sessions, and the others.
var (
	scoped = []string{"session", "source", "instrument", "reading", "event", "set_aside"}
	whole  = []string{"vehicle", "edition", "figure", "gate", "standing"}
)

// seen is a query for a table of the warehouse as it is shown, with columns
// replaced. Numbers of sources and editions and the like are the warehouse's own affair.
func seen(table, replaced string) string {
	switch table {
	case "source":
		replaced = ` exclude (source_no, continues_after, joined_u_s)` + replaced
	case "reading":
		replaced = ` exclude (source_no)` + replaced
	case "edition":
		replaced = ` exclude (edition_no)` + replaced
	case "figure", "gate": // the file's own view of that name finds its tables only where no other database is
		return `select edition_id, s.* exclude (first_no, last_no)` + replaced + ` from series.` + table + `_span s join series.edition on edition_no between first_no and last_no`
	}
	return `select *` + replaced + ` from series.` + table
}

// OpenWorkspace opens the warehouse in the file name for reading. A workspace
// can reach no other file and no network.
func OpenWorkspace(ctx context.Context, name string, limits Limits) (*Workspace, error) {
	w := &Workspace{name: name, kept: map[string]bool{}}
	err := w.open(ctx, name, limits)
	if err != nil {
		w.Close()
		return nil, fmt.Errorf("warehouse: open %s for reading: %w", name, meant(err, "read"))
	}
	return w, nil
}

func (w *Workspace) open(ctx context.Context, name string, limits Limits) (err error) {
	if err := readable(name); err != nil {
		return err
	}
	if w.connector, err = duckdb.NewConnector("", nil); err != nil {
		return err
	}
	w.db = sql.OpenDB(w.connector)
	if w.conn, err = w.db.Conn(ctx); err != nil {
		return err
	}
	// A setting cannot be bound.
	setup := []string{attach(name) + ` (read_only)`}
	if limits.Memory != "" {
		setup = append(setup, `set memory_limit = '`+strings.ReplaceAll(limits.Memory, `'`, `''`)+`'`)
	}
	if limits.Threads > 0 {
		setup = append(setup, `set threads = `+strconv.Itoa(limits.Threads))
	}
	setup = append(setup, `set preserve_insertion_order = true`, `set enable_external_access = false`, `set errors_as_json = true`, `set lock_configuration = true`)
	for _, table := range append(append([]string{}, scoped...), whole...) {
		setup = append(setup, `create view `+table+` as `+seen(table, ""))
	}
	setup = append(setup, `create view source_key as select source_no, session_id, coalesce(continues, source_id) as source_id, continues_after from series.source`)
	setup = append(setup, `create table protocol as select * from series.protocol`,
		`create type quantity as enum ('pack', 'inlet', 'heater', 'cabin', 'accessory')`,
		`create table result (session_id varchar, figure varchar, value double, uncertainty double, status varchar)`)
	if _, err := w.conn.ExecContext(ctx, setup[0]); err != nil {
		return err
	}
	if err := w.fits(ctx); err != nil {
		return err
	}
	for _, q := range setup[1:] {
		if _, err := w.conn.ExecContext(ctx, q); err != nil {
			return err
		}
	}
	return nil
}

// ErrOlder means that an earlier version of the program wrote the warehouse.
var ErrOlder = errors.New("the warehouse was written by an older coldbench; `coldbench run` brings it up to date")

// fits sees to it that the warehouse is laid out as this program writes it.
func (w *Workspace) fits(ctx context.Context) error {
	var have int
	if err := w.conn.QueryRowContext(ctx, `select coalesce(max(version), 0) from series.schema_version`).Scan(&have); err != nil {
		return err
	}
	newest, err := newestVersion()
	switch {
	case err != nil:
		return err
	case have < newest:
		return ErrOlder
	case have > newest:
		return ErrNewer
	}
	return nil
}

// Scope cuts the tables of sessions and their sources down to the sessions
// given, for all queries after it. Their session_id and source_id are then
// enumerations of these, in alphabetical order: sorting and joining millions of
// rows by a small number takes half the time that it takes by a name.
func (w *Workspace) Scope(ctx context.Context, sessionIDs []string) error {
	if err := w.scope(ctx, sessionIDs); err != nil {
		return fmt.Errorf("warehouse: scope: %w", err)
	}
	return nil
}

func (w *Workspace) scope(ctx context.Context, ids []string) error {
	w.scopes++ // a type cannot be replaced while tables of the scope before use it
	w.held = false
	n := strconv.Itoa(w.scopes)
	session, source := `session_key_`+n, `source_key_`+n
	setup := []string{
		`create type ` + session + ` as enum (select session_id from temp.scope order by session_id)`,
		`create type ` + source + ` as enum (
			select distinct source_id from series.source where session_id in (from temp.scope) order by source_id)`,
	}
	for _, table := range scoped {
		keys := `session_id::` + session + ` as session_id`
		if table != "session" {
			keys += `, source_id::` + source + ` as source_id`
		}
		if table == "source" {
			keys += `, coalesce(joined_u_s, offset_u_s) as offset_u_s`
		}
		setup = append(setup, `create or replace view `+table+` as `+seen(table, ` replace (`+keys+`)`)+` where session_id in (from temp.scope)`)
	}
	setup = append(setup, `create or replace view source_key as
		select source_no, session_id::`+session+` as session_id, coalesce(continues, source_id)::`+source+` as source_id, continues_after
		from series.source where session_id in (from temp.scope)`)
	if err := w.named(ctx, "scope", ids); err != nil {
		return err
	}
	for _, q := range setup {
		if _, err := w.conn.ExecContext(ctx, q); err != nil {
			return err
		}
	}
	return nil
}

// Keep adds the rows of a table made over the scope to those that Recall brings
// back in another scope.
func (w *Workspace) Keep(ctx context.Context, table string) error {
	verb := `create temp table kept_` + table + ` as`
	if w.kept[table] {
		verb = `insert into temp.kept_` + table
	}
	if _, err := w.conn.ExecContext(ctx, verb+` select * replace (session_id::varchar as session_id) from `+table); err != nil {
		return fmt.Errorf("warehouse: keep %s: %w", table, err)
	}
	w.kept[table] = true
	return nil
}

// Recall makes a table again from the rows that were kept of it, of the sessions
// in the scope.
func (w *Workspace) Recall(ctx context.Context, table string) error {
	_, err := w.conn.ExecContext(ctx, `create or replace temp table `+table+` as
		select * replace (session_id::session_key_`+strconv.Itoa(w.scopes)+` as session_id) from temp.kept_`+table+` where session_id in (from temp.scope)`)
	if err != nil {
		return fmt.Errorf("warehouse: recall %s: %w", table, err)
	}
	return nil
}

// Beside opens another workspace of the same warehouse that works with one thread
// and, at most, a share of the memory that w may use.
func (w *Workspace) Beside(ctx context.Context, share float64) (*Workspace, error) {
	limits := Limits{Threads: 1}
	var text, unit string
	var size float64
	if err := w.conn.QueryRowContext(ctx, `select current_setting('memory_limit')`).Scan(&text); err != nil {
		return nil, fmt.Errorf("warehouse: memory limit: %w", err)
	}
	if _, err := fmt.Sscanf(text, "%g %s", &size, &unit); err != nil {
		return nil, fmt.Errorf("warehouse: memory limit %q: %w", text, err)
	}
	limits.Memory = strconv.FormatFloat(size*share, 'f', 3, 64) + unit
	return OpenWorkspace(ctx, w.name, limits)
}

// named makes the temporary table name of the sessions given.
func (w *Workspace) named(ctx context.Context, name string, ids []string) error {
	if _, err := w.conn.ExecContext(ctx, `create or replace temp table `+name+` (session_id varchar)`); err != nil {
		return err
	}
	return w.conn.Raw(func(dc any) error {
		a, err := duckdb.NewAppenderFromConn(dc.(driver.Conn), "", name)
		if err != nil {
			return err
		}
		for _, id := range ids {
			if err := a.AppendRow(id); err != nil {
				return errors.Join(err, a.Close())
			}
		}
		return a.Close()
	})
}

// SetWindow puts the SoC window that was chosen, in percent, into the
// workspace's copy of the protocol.
func (w *Workspace) SetWindow(ctx context.Context, fromPct, toPct float64) error {
	if _, err := w.conn.ExecContext(ctx, `update protocol set window_from_pct = ?, window_to_pct = ?`, fromPct, toPct); err != nil {
		return fmt.Errorf("warehouse: set window: %w", err)
	}
	return nil
}

// A Result is one figure's value, for figures that compare sessions. A nil
// Value or U is none.
type Result struct {
	SessionID, Figure string
	Value, U          *float64
	Status            string
}

// PutResults replaces the table result, which the workspace alone has.
func (w *Workspace) PutResults(ctx context.Context, results []Result) error {
	if _, err := w.conn.ExecContext(ctx, `delete from result`); err != nil {
		return fmt.Errorf("warehouse: put results: %w", err)
	}
	err := w.conn.Raw(func(dc any) error {
		a, err := duckdb.NewAppenderFromConn(dc.(driver.Conn), "", "result")
		if err != nil {
			return err
		}
		number := func(p *float64) driver.Value {
			if p == nil {
				return nil
			}
			return *p
		}
		for _, r := range results {
			if err := a.AppendRow(r.SessionID, r.Figure, number(r.Value), number(r.U), r.Status); err != nil {
				return errors.Join(err, a.Close())
			}
		}
		return a.Close()
	})
	if err != nil {
		return fmt.Errorf("warehouse: put results: %w", err)
	}
	return nil
}

// Close ends the workspace. It may be called more than once.
func (w *Workspace) Close() error {
	if w.connector == nil {
		return nil
	}
	var errs []error
	if w.conn != nil {
		errs = append(errs, w.conn.Close())
	}
	if w.db != nil {
		errs = append(errs, w.db.Close())
	}
	if w.connector != nil {
		errs = append(errs, w.connector.Close())
	}
	w.conn, w.db, w.connector = nil, nil, nil
	return errors.Join(errs...)
}

// Exec runs statements that return nothing.
func (w *Workspace) Exec(ctx context.Context, query string, args ...any) error {
	_, err := w.conn.ExecContext(ctx, query, args...)
	return err
}

// Query runs a query. The caller closes the rows before the next call.
// Parameters are bound by name, with sql.Named, or by place.
func (w *Workspace) Query(ctx context.Context, query string, args ...any) (*sql.Rows, error) {
	return w.conn.QueryContext(ctx, query, args...)
}

// One is Query for a text that must be one statement: of several, Query would run
// all and hand out the last one's rows.
func (w *Workspace) One(ctx context.Context, query string) (*sql.Rows, error) {
	stmt, err := w.conn.PrepareContext(ctx, query)
	if err != nil {
		return nil, err
	}
	if err := stmt.Close(); err != nil {
		return nil, err
	}
	return w.Query(ctx, query)
}

// Schema returns the columns, sorted, of every table and view that queries see.
func (w *Workspace) Schema(ctx context.Context) (map[string][]string, error) {
	rows, err := w.conn.QueryContext(ctx, `
		select distinct table_name, column_name from duckdb_columns()
		where database_name <> 'series' and not internal order by all`)
	if err != nil {
		return nil, fmt.Errorf("warehouse: schema: %w", err)
	}
	defer rows.Close()
	schema := map[string][]string{}
	for rows.Next() {
		var table, column string
		if err := rows.Scan(&table, &column); err != nil {
			return nil, fmt.Errorf("warehouse: schema: %w", err)
		}
		schema[table] = append(schema[table], column)
	}
	return schema, rows.Err()
}

// Explain makes a diagnostic of a query's error: file is what the query's text
// is called. Errors that are not about the text keep their message, without a
// line.
//
// The query that was sent is head, then text, then whatever closes head.
func (w *Workspace) Explain(ctx context.Context, err error, file, text, head string) *diag.Diagnostic {
	d := &diag.Diagnostic{Pos: diag.Pos{File: file}, Msg: firstLine(err.Error()), Err: err}
	var de *duckdb.Error
	if errors.As(err, &de) {
		d.Msg = firstLine(de.Msg)
	}
	var e struct {
		Message    string `json:"exception_message"`
		Position   string `json:"position"`
		Candidates string `json:"candidates"`
	}
	if start := strings.IndexByte(err.Error(), '{'); start >= 0 {
		if json.NewDecoder(strings.NewReader(err.Error()[start:])).Decode(&e) != nil || e.Message == "" {
			return d
		}
	} else if !w.parse(ctx, text, len(head), &e.Message, &e.Position) {
		return d
	}
	d.Msg = lowerFirst(strings.TrimSuffix(firstLine(e.Message), "!"))
	if pos, err := strconv.Atoi(e.Position); err == nil && pos >= len(head) && pos <= len(head)+len(text) {
		pos -= len(head)
		before := text[:pos]
		d.Pos.Line = 1 + strings.Count(before, "\n")
		d.Pos.Col = pos - strings.LastIndexByte(before, '\n')
	}
	if first, _, _ := strings.Cut(e.Candidates, ","); first != "" {
		_, column, qualified := strings.Cut(first, ".")
		if !qualified {
			column = first
		}
		d.Hint = fmt.Sprintf("did you mean %q?", column)
		if table, ok := strings.CutSuffix(column, "_span"); ok { // the file's own view of it cannot be reached from here
			d.Hint = fmt.Sprintf("ask for %q, without \"series.\"", table)
		}
	}
	return d
}

// parse finds where the parser gave up on text. The driver drops that place,
// but DuckDB's own function from SQL to JSON tells it.
func (w *Workspace) parse(ctx context.Context, text string, shift int, msg, pos *string) bool {
	var broken bool
	err := w.conn.QueryRowContext(ctx, `
		with parsed as (select json_serialize_sql(?::varchar) as j)
		select (j->>'$.error')::boolean, coalesce(j->>'$.error_message', ''), coalesce(j->>'$.position', '') from parsed`, text).Scan(&broken, msg, pos)
	at, perr := strconv.Atoi(*pos)
	*pos = strconv.Itoa(at + shift)
	return err == nil && broken && perr == nil
}

func firstLine(s string) string {
	s, _, _ = strings.Cut(s, "\n")
	return s
}

// lowerFirst makes a sentence a clause; a word in capitals stays one.
func lowerFirst(s string) string {
	if len(s) < 2 || s[1] >= 'A' && s[1] <= 'Z' {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}
