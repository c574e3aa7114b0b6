// Package series reads and checks the hand-written part of a series folder:
// series.toml, vehicles/, profiles/ and each session's session.toml.
//
// It is strict: an unknown key is a diagnostic with file, line, column and a
// guess at what was meant. A session with a mistake in it is kept, with its
// problems, so that the rest of the series still runs. It opens no source.
package series

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"slices"
	"strings"
	"time"
	_ "time/tzdata" // zones must resolve on a machine without them
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"

	"coldbench/warehouse/diag"
)

// A Series is a folder of sessions under one protocol.
type Series struct {
	Dir      string
	Protocol *Protocol
	Vehicles map[string]*Vehicle // by file stem
	Profiles map[string]*Profile // by file stem
	Sessions []*Session          // by ID; some may have Problems
}

// A Vehicle is one car as tested: vehicles/ID.toml. Zero means "not stated".
type Vehicle struct {
	ID           string  `toml:"-"`
	Name         string  `toml:"name"`
	UsableKWh    float64 `toml:"usable_kwh"`
	PackMassKg   float64 `toml:"pack_mass_kg"`
	RatedWhKm    float64 `toml:"rated_wh_km"`
	PeakChargeKW float64 `toml:"peak_charge_kw"`
	Heater       string  `toml:"heater"`
	Remark       string  `toml:"remark"`

	file *file
}

// Heaters are the kinds of pack heater a vehicle may state.
var Heaters = []string{"coolant", "film", "heat-pump", "motor-loss", "none", "unknown"}

// A Profile says how one kind of log maps to channels: profiles/ID.toml.
type Profile struct {
	ID        string   `toml:"-"`
	Title     string   `toml:"title"`
	Kind      string   `toml:"kind"`
	Encoding  string   `toml:"encoding"`
	Delimiter string   `toml:"delimiter"`
	Decimal   string   `toml:"decimal"`
	HeaderRow int      `toml:"header_row"`    // line of the column names, from 1; 0: no header, columns are "1", "2", ...
	FirstRow  int      `toml:"first_row"`     // line of the first record; 0: the one after the header
	Missing   []string `toml:"missing"`       // texts that stand for "no value", beside the empty one
	Order     string   `toml:"order"`         // "strict" (default): a row earlier than the one before is set aside; "any": rows are sorted
	Layout    string   `toml:"layout"`        // "wide" (default): a column a channel; "long": a row a value, with the signal's name
	Signal    string   `toml:"signal_column"` // of the long layout: where the names stand that [[column]] maps,
	Value     string   `toml:"value_column"`  // their values,
	Unit      string   `toml:"unit_column"`   // and their units, or "" if each column states its own
	Sheet     string   `toml:"sheet"`         // of a spreadsheet; "": the first one
	Range     string   `toml:"range"`         // of cells, such as "B4:H500", header and all; "": all that is used
	Records   string   `toml:"records"`       // of a JSON document: path of the array of rows, such as "log.samples"
	DBC       string   `toml:"dbc"`           // of a CAN log: file of the signals, relative to the series folder
	Clock     Clock    `toml:"clock"`
	Columns   []Column `toml:"column"`

	Signals []byte `toml:"-"` // the DBC file's text, if it names one
	file    *file
}

// A Clock says where and how a log writes time.
type Clock struct {
	Column string `toml:"column"`
	Date   string `toml:"date_column"` // a separate column with the date, or ""
	Format string `toml:"format"`      // "elapsed", "epoch", "iso", "serial-day", or a strftime pattern
	Unit   string `toml:"unit"`        // of "elapsed" and "epoch": s, ms, us, min, h; default s
	Zone   string `toml:"zone"`        // IANA name; "": the session's
}

// A Column maps one column of a log to a channel.
type Column struct {
	Name       string    `toml:"name"`
	Channel    string    `toml:"channel"`
	Unit       string    `toml:"unit"`       // as the log has it; "": the channel's own
	Invert     bool      `toml:"invert"`     // the log's sign is opposite to the channel's
	Missing    []float64 `toml:"missing"`    // numbers that stand for "no value" in this column
	Resolution float64   `toml:"resolution"` // smallest step of the log, in its unit; 0: found from the data
	URel       float64   `toml:"u_rel"`      // standard uncertainty of the instrument, relative
	UAbs       float64   `toml:"u_abs"`      // and absolute, in the log's unit; both 0: the channel's typical ones
}

// A Session is one occasion with one vehicle: sessions/ID/session.toml.
type Session struct {
	ID        string             `toml:"-"`
	Vehicle   string             `toml:"vehicle"`
	Procedure string             `toml:"procedure"`
	Zone      string             `toml:"zone"`
	SoakStart toml.LocalDateTime `toml:"soak_start"`
	PlugIn    toml.LocalDateTime `toml:"plug_in"` // stated by hand; "" leaves it to notes and charger
	PlugInU   float64            `toml:"plug_in_u_s"`
	Start     toml.LocalDateTime `toml:"start"` // zero of the clock for procedures without a plug-in
	Charger   string             `toml:"charger"`
	ChargerKW float64            `toml:"charger_kw"`
	Tester    string             `toml:"tester"`
	Remark    string             `toml:"remark"`
	Sources   []Source           `toml:"source"`

	Location *time.Location `toml:"-"`
	Problems diag.List      `toml:"-"` // non-nil: the session cannot be read
	file     *file
}

// A Source is one raw file of a session.
type Source struct {
	File      string             `toml:"file"`
	Kind      string             `toml:"kind"`    // "": the profile's
	Profile   string             `toml:"profile"` // stem of a file in profiles/, for kinds that need one
	Zone      string             `toml:"zone"`    // "": the profile's, else the session's
	Start     toml.LocalDateTime `toml:"start"`   // of "elapsed" clocks, and the date of clocks without one
	OffsetS   float64            `toml:"offset_s"`
	OffsetU   float64            `toml:"offset_u_s"`
	Clock     string             `toml:"clock"`     // "align": the offset is found from the power that this and another source saw; "": as stated
	Station   string             `toml:"station"`   // of weather reports: whose, where a file has several
	Connector int                `toml:"connector"` // of a charger's messages: which outlet, where it has several; 0: the only one
}

// Path is the source's file, relative to the series folder, with slashes.
func (s *Session) Path(src Source) string { return path.Join("sessions", s.ID, src.File) }

// At returns the place of a key in session.toml, such as "source", "0", "file".
func (s *Session) At(path ...string) diag.Pos { return s.file.at(path...) }

// Hash is the SHA-256 of session.toml as it stands, in hex.
func (s *Session) Hash() string { return hash(s.file.bytes) }

// At returns the place of a key in the vehicle's file.
func (v *Vehicle) At(path ...string) diag.Pos { return v.file.at(path...) }

// Hash is the SHA-256 of the vehicle's file as it stands, in hex.
func (v *Vehicle) Hash() string { return hash(v.file.bytes) }

// At returns the place of a key in the profile's file, such as "column", "0", "unit".
func (p *Profile) At(path ...string) diag.Pos { return p.file.at(path...) }

// Hash is the SHA-256 of the profile's file as it stands, with its DBC file if
// it names one, in hex.
func (p *Profile) Hash() string {
	if p.file == nil {
		return hash(nil)
	}
	return hash(append(slices.Clip(p.file.bytes), p.Signals...))
}

// An Input is one of the series' hand-written files, as it was read.
type Input struct {
	Path   string // relative to the series folder
	SHA256 string
}

// Inputs returns the hand-written files that decide a result, by path. Sources
// are not among them.
func (s *Series) Inputs() []Input {
	in := []Input{{s.Protocol.file.path, s.Protocol.Hash()}}
	for _, v := range s.Vehicles {
		in = append(in, Input{v.file.path, v.Hash()})
	}
	for _, p := range s.Profiles {
		in = append(in, Input{p.file.path, p.Hash()})
		if p.DBC != "" {
			in = append(in, Input{p.DBC, hash(p.Signals)})
		}
	}
	for _, ses := range s.Sessions {
		in = append(in, Input{ses.file.path, ses.Hash()})
	}
	slices.SortFunc(in, func(a, b Input) int { return strings.Compare(a.Path, b.Path) })
	return slices.Compact(in) // two profiles may name one DBC file
}

func hash(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

// Load reads the series folder dir. The List holds what is wrong outside
// sessions (protocol, vehicles, profiles); what is wrong with a session is in
// its Problems. The series is nil only if dir holds no readable series.toml.
func Load(dir string, kinds []string) (*Series, diag.List, error) {
	fsys := os.DirFS(dir)
	s := &Series{Dir: dir, Vehicles: map[string]*Vehicle{}, Profiles: map[string]*Profile{}}
	p := defaultProtocol()
	f, problems := decode(fsys, "series.toml", "series.toml", p)
	if problems != nil {
		return nil, problems, nil
	}
	p.file = f
	if len(p.Points) == 0 {
		p.Points = slices.Clone(defaultPoints)
	}
	s.Protocol = p
	if problems = p.check(); problems != nil {
		return nil, problems, nil
	}

	var named []*Vehicle     // the first of each name
	bad := map[string]bool{} // vehicles and profiles that stand in a file but cannot be used
	err := each(fsys, "vehicles", func(id, name string) error {
		v := &Vehicle{ID: id}
		f, l := decode(fsys, name, name, v)
		v.file = f
		if l == nil {
			l = v.check()
		}
		problems = append(problems, l...)
		if l == nil {
			// Both are kept: what was measured of them does not depend on their names.
			same := func(o *Vehicle) bool { return strings.EqualFold(spaced(o.Name), spaced(v.Name)) }
			if i := slices.IndexFunc(named, same); i >= 0 {
				problems.Add(v.At("name"), "%s has the name %q too", named[i].file.path, named[i].Name).
					WithHint("in standings they could not be told apart; give each car a name of its own")
			} else {
				named = append(named, v)
			}
			s.Vehicles[id] = v
		} else {
			bad[name] = true
		}
		return nil
	})
	if err != nil {
		return nil, nil, fmt.Errorf("series: %w", err)
	}
	err = each(fsys, "profiles", func(id, name string) error {
		p := &Profile{ID: id}
		f, l := decode(fsys, name, name, p)
		p.file = f
		if l == nil {
			if l = p.check(kinds); l == nil && p.DBC != "" {
				var err error
				var denied *fs.PathError
				if diag.IsPipe(fsys, path.Clean(p.DBC)) {
					l.Add(p.At("dbc"), "%q is %s", p.DBC, diag.Pipe)
				} else if p.Signals, err = fs.ReadFile(fsys, path.Clean(p.DBC)); errors.Is(err, fs.ErrNotExist) || errors.Is(err, fs.ErrInvalid) {
					l.Add(p.At("dbc"), "no file %q in the series folder", p.DBC)
				} else if errors.As(err, &denied) {
					l.Add(p.At("dbc"), "file %q cannot be read: %v", p.DBC, denied.Err)
				} else if err != nil {
					return err
				}
			}
		}
		problems = append(problems, l...)
		if l == nil {
			s.Profiles[id] = p
		} else {
			bad[name] = true
		}
		return nil
	})
	if err != nil {
		return nil, nil, fmt.Errorf("series: %w", err)
	}

	entries, err := fs.ReadDir(fsys, "sessions")
	var denied *fs.PathError
	if errors.As(err, &denied) && !errors.Is(err, fs.ErrNotExist) {
		problems.Add(diag.Pos{File: "sessions"}, "the folder cannot be read: %v", denied.Err)
	} else if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, nil, fmt.Errorf("series: %w", err)
	}
	for _, e := range entries {
		if !utf8.ValidString(e.Name()) {
			problems.Add(diag.Pos{File: "sessions"}, "the name of %q is not UTF-8, so it is not read", e.Name()).WithHint("give it another name")
			continue
		}
		// A link to a folder is one; a link that leads nowhere is told of below.
		if info, err := fs.Stat(fsys, path.Join("sessions", e.Name())); err == nil && !info.IsDir() || err != nil && e.Type()&fs.ModeSymlink == 0 || strings.HasPrefix(e.Name(), ".") {
			continue
		}
		ses := &Session{ID: e.Name(), PlugInU: 1}
		name := path.Join("sessions", ses.ID, "session.toml")
		f, l := decode(fsys, name, name, ses)
		ses.file = f
		if l == nil {
			l = s.checkSession(fsys, ses, kinds, bad)
		}
		ses.Problems = l
		s.Sessions = append(s.Sessions, ses)
	}
	problems.Sort()
	return s, problems, nil
}

// spaced is a name with one blank where it has some.
func spaced(name string) string { return strings.Join(strings.Fields(name), " ") }

// each calls fn for every .toml file of a folder, in name order.
func each(fsys fs.FS, dir string, fn func(id, name string) error) error {
	names, err := fs.Glob(fsys, dir+"/*.toml")
	if err != nil {
		return err
	}
	for _, name := range names {
		if err := fn(strings.TrimSuffix(path.Base(name), ".toml"), name); err != nil {
			return err
		}
	}
	return nil
}
