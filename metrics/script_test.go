package metrics

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/cockroachdb/datadriven"

	"coldbench/warehouse"
	"coldbench/warehouse/channel"
)

// scriptZero is the zero of every session's clock in scripts.
var scriptZero = time.Date(2026, 1, 12, 19, 0, 0, 0, time.UTC)

// parameters of scripts, unless a script sets others: the protocol's defaults.
var scriptProtocol = []warehouse.Parameter{
	{Name: "soak_min_h", Value: 12}, {Name: "soak_look_back_h", Value: 48}, {Name: "pack_ambient_k", Value: 3},
	{Name: "ambient_band_k", Value: 2.8}, {Name: "disagreement_k", Value: 2}, {Name: "start_soc_max_pct", Value: 15},
	{Name: "onset_kw", Value: 1}, {Name: "onset_sustained_s", Value: 60}, {Name: "window_from_pct"}, {Name: "window_to_pct"},
	{Name: "log_max_interval_s", Value: 60}, {Name: "reference_soak_c", Value: -20}, {Name: "reference_start_soc_pct", Value: 10},
	{Name: "cabin_target_c", Value: 20}, {Name: "drive_first_min", Value: 10}, {Name: "price_per_kwh"}, {Name: "price_per_min"},
}

// A script is the state of one .test file:
//
//	vehicle ID [usable_kwh=] [pack_mass_kg=] [rated_wh_km=]
//	session ID [vehicle=] [procedure=] [zero_u_s=] [charger_kw=] [soak_start_h=]
//	readings SESSION FILE [kind=] [offset_u_s=]     rows: t=0:60:10 soc_pct=10..16 pack_power_kw=5
//	instrument SESSION FILE CHANNEL [resolution=] [u_rel=] [u_abs=]
//	event SESSION KIND t= [width=] [text=(...)]
//	protocol NAME=VALUE ...
//	result SESSION FIGURE value= u= [status=]
//	eval FIGURE        view NAME COLUMN ...        reset
//
// A value a..b rises in a line over the rows; a..b/s is cut to steps of s.
type script struct {
	t        *testing.T
	cat      *Catalogue
	params   []warehouse.Parameter
	vehicles []warehouse.Vehicle
	sessions []warehouse.Session
	sources  []*scriptSource
	results  []warehouse.Result
	made     map[string]bool // views of w
	limits   warehouse.Limits
	w        *warehouse.Workspace
}

type scriptSource struct {
	row         warehouse.Source
	rows        []scriptRow
	events      []warehouse.Event
	instruments []warehouse.Instrument
	aside       int // rows set aside, beside rows
}

type scriptRow struct {
	t      float64
	values map[string]float64
}

// scripted is a script's beginning, over a catalogue.
func scripted(t *testing.T, cat *Catalogue) *script {
	s := &script{t: t, cat: cat}
	s.reset()
	t.Cleanup(s.close)
	return s
}

// builtIn is the catalogue without figures of one's own.
func builtIn(t *testing.T) *Catalogue {
	t.Helper()
	cat, l, err := Load("")
	if err != nil || l != nil {
		t.Fatal(l, err)
	}
	return cat
}

func TestScripts(t *testing.T) {
	cat := builtIn(t)
	files, err := filepath.Glob("sql/*.test")
	views, more := filepath.Glob("sql/views/*.test")
	if err != nil || more != nil || len(files) == 0 || len(views) == 0 {
		t.Fatal(files, views, err, more)
	}
	for _, file := range append(files, views...) {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".test"), func(t *testing.T) {
			s := scripted(t, cat)
			datadriven.RunTest(t, file, func(t *testing.T, d *datadriven.TestData) string {
				s.t = t
				return s.run(d)
			})
		})
	}
}

// Views read no more than they name, since a figure is computed again if what they
// name changes.
func TestViewsReadWhatTheyName(t *testing.T) {
	cat := builtIn(t)
	s := scripted(t, cat)
	var names []string
	for _, v := range cat.Views {
		names = append(names, v.Name)
	}
	s.need(names...)
	schema, err := s.w.Schema(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range cat.Views {
		rows, err := s.w.Query(t.Context(), cat.named(v, schema)+", view as (\n"+v.Text+"\n) select * from view limit 0")
		if err != nil {
			t.Errorf("%s: %v", v.Name, err)
			continue
		}
		rows.Close()
	}
}

// Every figure has its script beside it, and every script its figure.
func TestEveryFigureHasAScript(t *testing.T) {
	cat := builtIn(t)
	for _, d := range cat.Figures {
		text, err := os.ReadFile("sql/" + d.Name + ".test")
		if err != nil {
			t.Error(err)
		} else if !strings.Contains(string(text), "eval "+d.Name) {
			t.Errorf("%s.test does not evaluate it", d.Name)
		}
	}
	files, err := filepath.Glob("sql/*.test")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if cat.Figure(strings.TrimSuffix(filepath.Base(f), ".test")) == nil {
			t.Errorf("%s has no figure", f)
		}
	}
}

func (s *script) reset() {
	s.close()
	s.params, s.vehicles, s.sessions, s.sources, s.results = slices.Clone(scriptProtocol), nil, nil, nil, nil
}

func (s *script) close() {
	if s.w != nil {
		s.w.Close()
		s.w = nil
	}
}

func (s *script) run(d *datadriven.TestData) string {
	switch d.Cmd {
	case "eval":
		return s.eval(d.CmdArgs[0].Key)
	case "view":
		return s.view(d.CmdArgs)
	}
	s.close() // what was loaded no longer holds
	switch d.Cmd {
	case "reset":
		s.reset()
	case "protocol":
		for _, a := range d.CmdArgs {
			i := slices.IndexFunc(s.params, func(p warehouse.Parameter) bool { return p.Name == a.Key })
			if i < 0 {
				d.Fatalf(s.t, "no parameter %s", a.Key)
			}
			s.params[i].Value = s.number(d, a)
		}
	case "vehicle":
		v := warehouse.Vehicle{ID: d.CmdArgs[0].Key, Name: d.CmdArgs[0].Key}
		for _, a := range d.CmdArgs[1:] {
			switch a.Key {
			case "usable_kwh":
				v.UsableKWh = s.number(d, a)
			case "pack_mass_kg":
				v.PackMassKg = s.number(d, a)
			case "rated_wh_km":
				v.RatedWhKm = s.number(d, a)
			default:
				d.Fatalf(s.t, "unknown %s", a.Key)
			}
		}
		s.vehicles = append(s.vehicles, v)
	case "session":
		ses := warehouse.Session{ID: d.CmdArgs[0].Key, VehicleID: "car", Procedure: "cold-charge", Zero: scriptZero, ZeroFrom: "script"}
		for _, a := range d.CmdArgs[1:] {
			switch a.Key {
			case "vehicle":
				ses.VehicleID = a.Vals[0]
			case "procedure":
				ses.Procedure = a.Vals[0]
			case "zero_u_s":
				ses.ZeroU = s.number(d, a)
			case "charger_kw":
				ses.ChargerKW = s.number(d, a)
			case "soak_start_h":
				ses.SoakStart = scriptZero.Add(time.Duration(s.number(d, a) * float64(time.Hour)))
			default:
				d.Fatalf(s.t, "unknown %s", a.Key)
			}
		}
		s.sessions = append(s.sessions, ses)
	case "readings":
		src := s.source(d.CmdArgs[0].Key, d.CmdArgs[1].Key)
		for _, a := range d.CmdArgs[2:] {
			switch a.Key {
			case "kind":
				src.row.Kind = a.Vals[0]
			case "offset_u_s":
				src.row.OffsetU = s.number(d, a)
			case "aside":
				src.aside = int(s.number(d, a))
			default:
				d.Fatalf(s.t, "unknown %s", a.Key)
			}
		}
		for _, line := range strings.Split(d.Input, "\n") {
			src.rows = append(src.rows, s.rows(d, line)...)
		}
		slices.SortStableFunc(src.rows, func(a, b scriptRow) int { return int(math.Copysign(1, a.t-b.t)) })
	case "instrument":
		src := s.source(d.CmdArgs[0].Key, d.CmdArgs[1].Key)
		in := warehouse.Instrument{Channel: d.CmdArgs[2].Key}
		for _, a := range d.CmdArgs[3:] {
			switch a.Key {
			case "resolution":
				in.Resolution = s.number(d, a)
			case "u_rel":
				in.URel = s.number(d, a)
			case "u_abs":
				in.UAbs = s.number(d, a)
			default:
				d.Fatalf(s.t, "unknown %s", a.Key)
			}
		}
		src.instruments = append(src.instruments, in)
	case "result":
		r := warehouse.Result{SessionID: d.CmdArgs[0].Key, Figure: d.CmdArgs[1].Key, Status: "measured"}
		for _, a := range d.CmdArgs[2:] {
			switch a.Key {
			case "value":
				v := s.number(d, a)
				r.Value = &v
			case "u":
				u := s.number(d, a)
				r.U = &u
			case "status":
				r.Status = a.Vals[0]
			default:
				d.Fatalf(s.t, "unknown %s", a.Key)
			}
		}
		s.results = append(s.results, r)
	case "event":
		src := s.source(d.CmdArgs[0].Key, "notes.txt")
		src.row.Kind = "notes"
		e := warehouse.Event{Line: int64(len(src.events) + 1), Kind: d.CmdArgs[1].Key, Text: d.CmdArgs[1].Key}
		for _, a := range d.CmdArgs[2:] {
			switch a.Key {
			case "t":
				e.At = scriptZero.Add(time.Duration(s.number(d, a) * 1e9))
			case "width":
				e.WidthS = s.number(d, a)
			case "text":
				e.Text = a.Vals[0]
			default:
				d.Fatalf(s.t, "unknown %s", a.Key)
			}
		}
		src.events = append(src.events, e)
	default:
		d.Fatalf(s.t, "unknown command %s", d.Cmd)
	}
	return ""
}

func (s *script) number(d *datadriven.TestData, a datadriven.CmdArg) float64 {
	v, err := strconv.ParseFloat(a.Vals[0], 64)
	if err != nil {
		d.Fatalf(s.t, "%v", err)
	}
	return v
}

func (s *script) source(session, file string) *scriptSource {
	id := session + "/" + file
	for _, src := range s.sources {
		if src.row.ID == id {
			return src
		}
	}
	src := &scriptSource{row: warehouse.Source{ID: id, SessionID: session, Path: "sessions/" + id, Kind: "delimited", SHA256: id}}
	s.sources = append(s.sources, src)
	return src
}

// rows reads "t=0:60:10 a=1 b=10..16/1".
func (s *script) rows(d *datadriven.TestData, line string) []scriptRow {
	num := func(text string) float64 {
		v, err := strconv.ParseFloat(text, 64)
		if err != nil {
			d.Fatalf(s.t, "%q: %v", line, err)
		}
		return v
	}
	var out []scriptRow
	for i, word := range strings.Fields(line) {
		key, val, _ := strings.Cut(word, "=")
		if i == 0 {
			parts := strings.Split(val, ":")
			from, to, step := num(parts[0]), num(parts[0]), 1.0
			if len(parts) == 3 {
				to, step = num(parts[1]), num(parts[2])
			}
			for n := 0; from+float64(n)*step <= to+1e-9; n++ {
				out = append(out, scriptRow{t: from + float64(n)*step, values: map[string]float64{}})
			}
			continue
		}
		val, cut, stepped := strings.Cut(val, "/")
		a, b, ramp := strings.Cut(val, "..")
		if !ramp {
			b = a
		}
		for n := range out {
			v := num(a)
			if len(out) > 1 {
				v += (num(b) - num(a)) * float64(n) / float64(len(out)-1)
			}
			if stepped {
				v = math.Floor(v/num(cut)+1e-9) * num(cut)
			}
			out[n].values[key] = v
		}
	}
	return out
}

// load brings the state into a warehouse and opens it.
func (s *script) load() {
	if s.w != nil {
		return
	}
	ctx := context.Background()
	name := filepath.Join(s.t.TempDir(), "w.duckdb")
	store, err := warehouse.Open(ctx, name)
	if err != nil {
		s.t.Fatal(err)
	}
	if err := store.PutSeries(ctx, "script", "", s.params, s.vehicles); err != nil {
		s.t.Fatal(err)
	}
	var ids []string
	for _, ses := range s.sessions {
		ids = append(ids, ses.ID)
		err := store.LoadSession(ctx, ses.ID, func(l *warehouse.Load) error {
			for _, src := range s.sources {
				if src.row.SessionID != ses.ID {
					continue
				}
				r := &warehouse.Report{RowsRead: int64(len(src.rows) + src.aside), RowsKept: int64(len(src.rows)), Events: src.events, Instruments: src.instruments}
				for range src.aside {
					r.Aside = append(r.Aside, warehouse.Aside{Line: 1, Reason: "script"})
				}
				rdr := src.reader(s.t)
				if _, err := l.Readings(ctx, src.row.ID, rdr, ses.Zero); err != nil {
					return err
				}
				rdr.Release()
				if err := l.Source(ctx, src.row, r); err != nil {
					return err
				}
			}
			return l.Session(ctx, ses)
		})
		if err != nil {
			s.t.Fatal(err)
		}
	}
	if err := store.Close(); err != nil {
		s.t.Fatal(err)
	}
	if s.w, err = warehouse.OpenWorkspace(ctx, name, warehouse.Limits{Threads: 1, Memory: s.limits.Memory}); err != nil {
		s.t.Fatal(err)
	}
	if err := s.w.Scope(ctx, ids); err != nil {
		s.t.Fatal(err)
	}
	if err := s.w.PutResults(ctx, s.results); err != nil {
		s.t.Fatal(err)
	}
	s.made = map[string]bool{}
}

func (src *scriptSource) reader(t *testing.T) array.RecordReader {
	var names []string
	for _, c := range channel.Names() {
		if slices.ContainsFunc(src.rows, func(r scriptRow) bool { _, ok := r.values[c]; return ok }) {
			names = append(names, c)
		}
	}
	for _, r := range src.rows {
		for c := range r.values {
			if _, err := channel.Find(c); err != nil {
				t.Fatal(err)
			}
		}
	}
	var channels []channel.Channel
	for _, n := range names {
		c, _ := channel.Find(n)
		channels = append(channels, c)
	}
	schema := channel.Schema(channels)
	b := array.NewRecordBuilder(memory.DefaultAllocator, schema)
	defer b.Release()
	for i, r := range src.rows {
		b.Field(0).(*array.Int64Builder).Append(int64(i + 2))
		b.Field(1).(*array.TimestampBuilder).Append(arrow.Timestamp(scriptZero.UnixMicro() + int64(math.Round(r.t*1e6))))
		for c, n := range names {
			if v, ok := r.values[n]; ok {
				b.Field(c + 2).(*array.Float64Builder).Append(v)
			} else {
				b.Field(c + 2).(*array.Float64Builder).AppendNull()
			}
		}
	}
	rec := b.NewRecord()
	defer rec.Release()
	rdr, err := array.NewRecordReader(schema, []arrow.Record{rec})
	if err != nil {
		t.Fatal(err)
	}
	return rdr
}
