// Package ingest brings a series folder into the warehouse: it decides what
// changed, has each source read by the reader of its kind, finds the zero of
// each session's clock, and loads a session in one transaction or not at all.
//
// It works out no figures. A session that cannot be read is kept as a row with
// its problem, and the rest of the series goes on.
package ingest

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"sync"
	"time"

	"github.com/pelletier/go-toml/v2"
	"golang.org/x/sync/errgroup"

	"coldbench/ingest/series"
	"coldbench/ingest/source"
	"coldbench/warehouse"
	"coldbench/warehouse/diag"
)

// Version is part of what decides whether a source must be read again. Raise it
// when a reader reads the same bytes differently than before.
const Version = "7"

// An Outcome tells what became of one session.
type Outcome struct {
	SessionID string
	Read      []string // paths of the sources read, in the order of reading
	Rows      int64    // kept, of the sources read
	Unchanged int      // sources that were not read again
	Aligned   []Alignment
	Overlaps  []Overlap
	Problems  diag.List // non-nil: the session was not loaded
}

// Load brings the warehouse up to date with the series. progress, if not nil,
// is called before each session.
func Load(ctx context.Context, store *warehouse.Store, s *series.Series, progress func(done, all int, sessionID string)) ([]Outcome, error) {
	if err := putSeries(ctx, store, s); err != nil {
		return nil, err
	}
	loaded, err := store.Loaded(ctx)
	if err != nil {
		return nil, err
	}
	rows := looked(ctx, s, loaded)
	var outcomes []Outcome
	for i, ses := range s.Sessions {
		if progress != nil {
			progress(i, len(s.Sessions), ses.ID)
		}
		o, err := loadSession(ctx, store, s, ses, rows[i], loaded[ses.ID])
		if err != nil {
			return nil, fmt.Errorf("ingest: %w", err)
		}
		outcomes = append(outcomes, o)
		delete(loaded, ses.ID)
	}
	for _, id := range slices.Sorted(maps.Keys(loaded)) {
		if err := store.LoadSession(ctx, id, func(l *warehouse.Load) error { return l.Remove(ctx) }); err != nil {
			return nil, fmt.Errorf("ingest: %w", err)
		}
	}
	if err := withdrawTwins(ctx, store, s, outcomes); err != nil {
		return nil, fmt.Errorf("ingest: %w", err)
	}
	return outcomes, nil
}

func putSeries(ctx context.Context, store *warehouse.Store, s *series.Series) error {
	var params []warehouse.Parameter
	for _, p := range s.Protocol.Parameters() {
		params = append(params, warehouse.Parameter(p))
	}
	var vehicles []warehouse.Vehicle
	for _, id := range slices.Sorted(maps.Keys(s.Vehicles)) {
		v := s.Vehicles[id]
		vehicles = append(vehicles, warehouse.Vehicle{ID: id, Name: v.Name, UsableKWh: v.UsableKWh, PackMassKg: v.PackMassKg,
			RatedWhKm: v.RatedWhKm, PeakChargeKW: v.PeakChargeKW, Heater: v.Heater, Remark: v.Remark, SHA256: v.Hash()})
	}
	return store.PutSeries(ctx, s.Protocol.Title, s.Protocol.Place, params, vehicles)
}

// refused carries what is wrong with a session out of its transaction.
type refused struct{ list diag.List }

func (r *refused) Error() string { return r.list.Error() }

func loadSession(ctx context.Context, store *warehouse.Store, s *series.Series, ses *series.Session, looked func() ([]warehouse.Source, error), have *warehouse.Loaded) (Outcome, error) {
	o := Outcome{SessionID: ses.ID, Problems: ses.Problems}
	row := warehouse.Session{ID: ses.ID, VehicleID: ses.Vehicle, Procedure: ses.Procedure, Zone: ses.Zone, SoakStart: local(ses.SoakStart, ses.Location),
		Charger: ses.Charger, ChargerKW: ses.ChargerKW, Tester: ses.Tester, Remark: ses.Remark, SHA256: ses.Hash()}
	refuse := func() (Outcome, error) {
		return o, store.LoadSession(ctx, ses.ID, func(l *warehouse.Load) error { return l.Refuse(ctx, row, o.Problems[0].Error()) })
	}
	if o.Problems != nil {
		return refuse()
	}

	var changed, byZero []job
	stale := map[string]bool{} // sources that the warehouse holds and the session does not, or not so
	if have != nil {
		for id := range have.Sources {
			stale[id] = true
		}
	}
	rows, err := looked()
	var broken *refused
	if errors.As(err, &broken) {
		o.Problems = broken.list
		return refuse()
	}
	if err != nil {
		return o, err
	}
	for i, src := range ses.Sources {
		j := job{row: rows[i], kind: kind(src.Kind), at: ses.At("source", fmt.Sprint(i), "file")}
		j.input = input(s, ses, src)
		if have != nil && !have.Refused && have.Sources[j.row.ID] == j.row.Key() {
			delete(stale, j.row.ID)
			o.Unchanged++
			if have.ByZero[j.row.ID] {
				byZero = append(byZero, j)
			}
			continue
		}
		changed = append(changed, j)
	}
	if have != nil && !have.Refused && len(changed) == 0 && len(stale) == 0 && have.SHA256 == row.SHA256 {
		return o, nil
	}
	// The zero may move, and with it what was set aside of these.
	changed, o.Unchanged = append(changed, byZero...), o.Unchanged-len(byZero)
	if o.Aligned, o.Problems = alignAll(s, ses, changed); o.Problems != nil {
		o.Unchanged = 0
		return refuse()
	}
	// Sources with events come first, since the zero of the clock may be in one.
	slices.SortStableFunc(changed, func(a, b job) int { return before(a.kind.Events) - before(b.kind.Events) })

	err = store.LoadSession(ctx, ses.ID, func(l *warehouse.Load) error {
		for _, id := range slices.Sorted(maps.Keys(stale)) {
			if err := l.RemoveSource(ctx, id); err != nil {
				return err
			}
		}
		zeroKnown := false
		nothing := map[string]*diag.Diagnostic{}
		var aside diag.List // the first row of each source with events, since the zero may have been in it
		for _, j := range changed {
			if !j.kind.Events && !zeroKnown {
				problem, err := findZero(ctx, l, ses, &row)
				if err == nil && problem != nil {
					// Notes without a line are why there is none.
					var empty *diag.Diagnostic
					if empty, err = unaccompanied(ctx, l, nothing); empty != nil {
						problem = empty
					}
				}
				if err != nil || problem != nil {
					return orRefused(err, problem, aside...)
				}
				zeroKnown = true
			}
			done, err := j.load(ctx, l, row.Zero)
			if err != nil {
				return err
			}
			nothing[j.row.Path] = done.nothing
			if done.aside != nil && j.kind.Events {
				aside = append(aside, done.aside)
			}
			o.Rows += done.rows
			o.Read = append(o.Read, j.row.Path)
		}
		if problem, err := unaccompanied(ctx, l, nothing); err != nil || problem != nil {
			return orRefused(err, problem)
		}
		if problem, err := findZero(ctx, l, ses, &row); err != nil || problem != nil {
			return orRefused(err, problem, aside...)
		}
		spans, err := l.Spans(ctx)
		if err != nil {
			return err
		}
		spans, list, err := doubts(ctx, l, s, ses, row, spans)
		if err != nil {
			return err
		}
		if list != nil {
			return &refused{list}
		}
		var chains [][]warehouse.Span
		chains, o.Overlaps = continued(ses, spans)
		if err := l.Continues(ctx, chains); err != nil {
			return err
		}
		return l.Session(ctx, row)
	})
	var r *refused
	if errors.As(err, &r) {
		o.Problems, o.Read, o.Rows, o.Aligned, o.Overlaps, o.Unchanged = r.list, nil, 0, nil, nil, 0
		return refuse()
	}
	return o, err
}

func before(events bool) int {
	if events {
		return 0
	}
	return 1
}

func orRefused(err error, problem *diag.Diagnostic, more ...*diag.Diagnostic) error {
	if err != nil {
		return err
	}
	return &refused{append(diag.List{problem}, more...)}
}

// A job is one source to be read.
type job struct {
	kind  source.Kind
	input source.Input
	row   warehouse.Source
	at    diag.Pos
}

// A taking is what became of a source that was read.
type taking struct {
	rows    int64            // kept
	nothing *diag.Diagnostic // that no row is in it, if so: it is kept as one of none
	aside   *diag.Diagnostic // what is wrong with the first row that was set aside, if any
}

// load reads the source into the warehouse.
func (j job) load(ctx context.Context, l *warehouse.Load, zero time.Time) (taking, error) {
	refuse := func(list ...*diag.Diagnostic) (taking, error) { return taking{}, &refused{list} }
	rdr, problems, err := j.kind.Open(j.input)
	if err != nil {
		return refuse(Unread(err, j.row.Path))
	}
	if len(problems) == 1 && errors.Is(problems[0], diag.ErrNoRows) {
		return taking{nothing: problems[0]}, l.Nothing(ctx, j.row)
	}
	if problems != nil {
		return refuse(problems...)
	}
	defer rdr.Release()
	rows, err := l.Readings(ctx, j.row.ID, rdr, zero)
	if rdr.Err() != nil {
		return refuse(Unread(rdr.Err(), j.row.Path))
	}
	if err != nil {
		return taking{}, err
	}
	r := rdr.Report()
	if r.RowsKept != rows || r.RowsRead != r.RowsKept+int64(len(r.Aside)) {
		return taking{}, fmt.Errorf("%s: %d rows read, %d kept, %d set aside, but %d loaded", j.row.Path, r.RowsRead, r.RowsKept, len(r.Aside), rows)
	}
	first := func(text string) *diag.Diagnostic {
		a := r.Aside[0]
		return diag.New(diag.Pos{File: j.row.Path, Line: int(a.Line), Col: a.Col}, "%s: %s", text, a.Reason).WithHint("%s", a.Hint)
	}
	switch {
	case r.RowsKept == 0 && len(r.Aside) > 0:
		return refuse(first(fmt.Sprintf("no row of %d could be used; the first", r.RowsRead)))
	case r.RowsKept == 0:
		return taking{nothing: noRow(j.row.Path)}, l.Nothing(ctx, j.row)
	}
	done := taking{rows: rows}
	if len(r.Aside) > 0 {
		done.aside = first("row set aside")
	}
	return done, l.Source(ctx, j.row, report(r))
}

func noRow(path string) *diag.Diagnostic {
	return diag.New(diag.Pos{File: path}, "no row could be used").NoRows()
}

// unaccompanied finds a source of the session without a row where no other of its kind
// and profile has any. A logger that begins a file every hour may leave one with its
// heads alone, which takes nothing from what stands in the others. nothing says of the
// sources that were just read what was found instead of rows.
func unaccompanied(ctx context.Context, l *warehouse.Load, nothing map[string]*diag.Diagnostic) (*diag.Diagnostic, error) {
	empty, err := l.Empty(ctx)
	for _, e := range empty {
		if !e.Accompanied {
			return cmp.Or(nothing[e.Path], noRow(e.Path)), nil
		}
	}
	return nil, err
}

func report(r *source.Report) *warehouse.Report {
	out := &warehouse.Report{RowsRead: r.RowsRead, RowsKept: r.RowsKept, Unsorted: r.Unsorted}
	for _, in := range r.Instruments {
		out.Instruments = append(out.Instruments, warehouse.Instrument(in))
	}
	for _, e := range r.Events {
		out.Events = append(out.Events, warehouse.Event(e))
	}
	for _, a := range r.Aside {
		out.Aside = append(out.Aside, warehouse.Aside(a))
	}
	return out
}

// starts are the events with which procedures begin that charge nothing, and what
// people type for them.
var starts = map[string]struct{ kind, typed string }{
	"cabin-warmup": {"heater-on", "heater on"}, "cold-drive": {"drive-start", "set off"}, "warm-drive": {"drive-start", "set off"},
}

// findZero finds the zero of the session's clock: what session.toml states,
// else the earliest plug-in that a source reported. Procedures that charge
// nothing start at session.toml's start, else with the event of theirs that a
// source reported.
func findZero(ctx context.Context, l *warehouse.Load, ses *series.Session, row *warehouse.Session) (*diag.Diagnostic, error) {
	charging := ses.Procedure == "cold-charge" || ses.Procedure == "warm-charge"
	stated, key := ses.PlugIn, "plug_in"
	if stated == (toml.LocalDateTime{}) && !charging {
		stated, key = ses.Start, "start"
	}
	if stated != (toml.LocalDateTime{}) {
		row.Zero, row.ZeroU, row.ZeroFrom = local(stated, ses.Location), ses.PlugInU, ses.At(key).String()
		return nil, nil
	}
	var plugs []warehouse.PlugIn
	var err error
	begins, ok := starts[ses.Procedure]
	if ok {
		plugs, err = l.Moments(ctx, begins.kind)
	}
	if err == nil && len(plugs) == 0 {
		plugs, err = l.PlugIns(ctx)
	}
	if err != nil {
		return nil, err
	}
	if len(plugs) > 0 {
		p := plugs[0]
		// The moment lies anywhere in the interval: rectangular, JCGM 100, 4.3.7.
		row.Zero, row.ZeroU = p.At, math.Hypot(p.WidthS/math.Sqrt(12), p.OffsetU)
		row.ZeroFrom = fmt.Sprintf("sessions/%s:%d", p.SourceID, p.Line)
		return nil, nil
	}
	if charging {
		return diag.New(ses.At("plug_in"), "the session has no plug-in").
			WithHint("note it as \"20:12 plugged in\" in notes.txt, or state plug_in = 2026-01-12T20:12:00"), nil
	}
	hint := "state start = 2026-01-12T20:12:00"
	if ok {
		hint += fmt.Sprintf(", or note it as \"20:12 %s\"", begins.typed)
	}
	return diag.New(ses.At("start"), "the session has no start").WithHint("%s", hint), nil
}

func input(s *series.Series, ses *series.Session, src series.Source) source.Input {
	in := source.Input{Path: filepath.Join(s.Dir, filepath.FromSlash(ses.Path(src))), Shown: ses.Path(src),
		Profile: s.Profiles[src.Profile], Session: ses, Source: src, Location: ses.Location}
	zone := src.Zone
	if zone == "" && in.Profile != nil {
		zone = in.Profile.Clock.Zone
	}
	if zone != "" {
		if loc, err := time.LoadLocation(zone); err == nil { // series.Load has refused unknown zones
			in.Location = loc
		}
	}
	return in
}

// looked returns, of each session in their order, what gives the rows of its sources.
// The files of sessions that the warehouse has are looked at on all cores before they
// are asked for: of a series to which a session was added, that is most of what there
// is to do. Files that are to be read are looked at just before that, since a logger
// may still write into them.
func looked(ctx context.Context, s *series.Series, have map[string]*warehouse.Loaded) []func() ([]warehouse.Source, error) {
	out := make([]func() ([]warehouse.Source, error), len(s.Sessions))
	var known []func() ([]warehouse.Source, error)
	for i, ses := range s.Sessions {
		out[i] = sync.OnceValues(func() ([]warehouse.Source, error) { return sourceRows(s, ses) })
		if have[ses.ID] != nil && ses.Problems == nil {
			known = append(known, out[i])
		}
	}
	go func() {
		var all errgroup.Group
		all.SetLimit(runtime.GOMAXPROCS(0))
		for _, look := range known {
			if ctx.Err() != nil {
				return
			}
			all.Go(func() error { look(); return nil })
		}
	}()
	return out
}

// sourceRows are the rows of the session's sources, in their order. What decides
// how a source with an aligned clock is read is all the others too.
func sourceRows(s *series.Series, ses *series.Session) ([]warehouse.Source, error) {
	rows := make([]warehouse.Source, len(ses.Sources))
	others := sha256.New()
	for i, src := range ses.Sources {
		var err error
		if rows[i], err = sourceRow(s, ses, src); err != nil {
			return nil, &refused{diag.List{Unread(err, ses.Path(src))}}
		}
		if src.Clock != align {
			fmt.Fprintln(others, src.File, rows[i].Key())
		}
	}
	for i, src := range ses.Sources {
		if src.Clock == align {
			rows[i].Settings += " " + hex.EncodeToString(others.Sum(nil))
		}
	}
	return rows, nil
}

func sourceRow(s *series.Series, ses *series.Session, src series.Source) (warehouse.Source, error) {
	row := warehouse.Source{ID: ses.ID + "/" + src.File, SessionID: ses.ID, Path: ses.Path(src), Kind: src.Kind, Profile: src.Profile,
		OffsetS: src.OffsetS, OffsetU: src.OffsetU}
	f, err := os.Open(filepath.Join(s.Dir, filepath.FromSlash(row.Path)))
	if err != nil {
		return row, err
	}
	defer f.Close()
	h := sha256.New()
	if row.Bytes, err = io.Copy(h, f); err != nil {
		return row, err
	}
	row.SHA256 = hex.EncodeToString(h.Sum(nil))
	profile := ""
	if p := s.Profiles[src.Profile]; p != nil {
		profile = p.Hash()
	}
	// All that decides how the bytes are read, beside the bytes.
	settings := fmt.Sprintf("%s %s %+v %s %v %v %v", Version, profile, src, ses.Zone, ses.SoakStart, ses.PlugIn, ses.Start)
	sum := sha256.Sum256([]byte(settings))
	row.Settings = hex.EncodeToString(sum[:])
	return row, nil
}

// local is a wall time in a zone; the zero LocalDateTime stays the zero time.
func local(t toml.LocalDateTime, loc *time.Location) time.Time {
	if t == (toml.LocalDateTime{}) || loc == nil {
		return time.Time{}
	}
	// A time that spring's change leaves out was refused with the session.
	at, _ := series.Wall(t, loc)
	return at
}
