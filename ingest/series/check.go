package series

import (
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"coldbench/warehouse/channel"
	"coldbench/warehouse/diag"
	"coldbench/warehouse/unit"
)

func (v *Vehicle) check() diag.List {
	var l diag.List
	if v.Name == "" {
		l.Add(v.At("name"), "the vehicle has no name").WithHint("name = \"...\" is what reports print")
	}
	// From what moves one person to a lorry; 0 is not stated.
	for _, n := range []struct {
		key          string
		v, low, high float64
	}{{"usable_kwh", v.UsableKWh, 1, 2000}, {"pack_mass_kg", v.PackMassKg, 5, 20000}, {"rated_wh_km", v.RatedWhKm, 20, 5000}, {"peak_charge_kw", v.PeakChargeKW, 1, 5000}} {
		if n.v != 0 && (n.v < n.low || n.v > n.high) {
			l.Add(v.At(n.key), "%s is %v, and a car's lies within %v to %v", n.key, n.v, n.low, n.high).WithHint("is the unit right?")
		}
	}
	if v.Heater != "" && !slices.Contains(Heaters, v.Heater) {
		l.Add(v.At("heater"), "unknown heater %q", v.Heater).WithHint("%s", diag.OneOf(v.Heater, Heaters))
	}
	return l
}

// check finds what is wrong with a profile by itself. It also fills in the
// units that columns leave out.
func (p *Profile) check(kinds []string) diag.List {
	var l diag.List
	if !slices.Contains(kinds, p.Kind) {
		l.Add(p.At("kind"), "unknown kind of log %q", p.Kind).WithHint("%s", diag.OneOf(p.Kind, kinds))
	}
	if p.Decimal == "" {
		p.Decimal = "."
	}
	if p.Decimal != "." && p.Decimal != "," {
		l.Add(p.At("decimal"), "decimal mark must be \".\" or \",\", not %q", p.Decimal)
	}
	if p.Order == "" {
		p.Order = "strict"
	}
	if p.Order != "strict" && p.Order != "any" {
		l.Add(p.At("order"), "unknown order %q", p.Order).WithHint("%s", diag.OneOf(p.Order, []string{"strict", "any"}))
	}
	l = append(l, p.checkKeys()...)
	seen := map[string]bool{}
	for i := range p.Columns {
		c, n := &p.Columns[i], fmt.Sprint(i)
		if c.Name == "" {
			l.Add(p.At("column", n), "a column without a name")
		}
		ch, err := channel.Find(c.Channel)
		if err != nil {
			l = append(l, diag.At(err, p.At("column", n, "channel")))
			continue
		}
		if seen[c.Channel] {
			l.Add(p.At("column", n, "channel"), "channel %q is taken by two columns", c.Channel)
		}
		seen[c.Channel] = true
		if c.Unit == "" {
			c.Unit = string(ch.Unit)
		}
		if _, err := unit.Between(c.Unit, ch.Unit); err != nil {
			l = append(l, diag.At(err, p.At("column", n, "unit")))
		}
		if c.URel < 0 || c.UAbs < 0 || c.Resolution < 0 {
			l.Add(p.At("column", n), "an uncertainty or resolution must not be negative")
		}
	}
	return l
}

// Layouts are the ways in which a log may lay out its channels.
var Layouts = []string{"wide", "long"}

// checkKeys checks the keys that only some kinds of log have.
func (p *Profile) checkKeys() diag.List {
	var l diag.List
	if p.Layout == "" {
		p.Layout = "wide"
	}
	if !slices.Contains(Layouts, p.Layout) {
		l.Add(p.At("layout"), "unknown layout %q", p.Layout).WithHint("%s", diag.OneOf(p.Layout, Layouts))
	}
	for _, k := range []struct {
		key, value string
		kinds      []string
	}{
		{"sheet", p.Sheet, []string{"sheet"}},
		{"range", p.Range, []string{"sheet"}},
		{"records", p.Records, []string{"json"}},
		{"dbc", p.DBC, []string{"canlog"}},
	} {
		if k.value != "" && !slices.Contains(k.kinds, p.Kind) {
			l.Add(p.At(k.key), "%s is of a profile of kind %s, not %q", k.key, strings.Join(k.kinds, " or "), p.Kind)
		}
	}
	for _, k := range []struct{ key, value string }{{"signal_column", p.Signal}, {"value_column", p.Value}} {
		if (k.value != "") != (p.Layout == "long") {
			l.Add(p.At(k.key), "signal_column and value_column belong to layout \"long\", and it needs both")
			break
		}
	}
	return l
}

func (s *Series) checkSession(fsys fs.FS, ses *Session, kinds []string, bad map[string]bool) diag.List {
	var l diag.List
	if _, ok := s.Vehicles[ses.Vehicle]; !ok {
		d := l.Add(ses.At("vehicle"), "unknown vehicle %q", ses.Vehicle)
		if name := path.Join("vehicles", ses.Vehicle+".toml"); bad[name] {
			d.WithHint("%s has mistakes in it", name)
		} else {
			d.WithHint("%s", diag.OneOf(ses.Vehicle, slices.Sorted(maps.Keys(s.Vehicles))))
		}
	}
	if !slices.Contains(channel.Procedures, ses.Procedure) {
		l.Add(ses.At("procedure"), "unknown procedure %q", ses.Procedure).WithHint("%s", diag.OneOf(ses.Procedure, channel.Procedures))
	}
	if ses.Zone == "" {
		l.Add(ses.At("zone"), "the session has no time zone").WithHint("such as zone = \"Europe/Oslo\" or \"UTC\"")
	} else if loc, err := time.LoadLocation(ses.Zone); err != nil || ses.Zone == "Local" {
		l.Add(ses.At("zone"), "unknown time zone %q", ses.Zone).WithHint("an IANA name such as \"Europe/Oslo\" or \"UTC\"")
	} else {
		ses.Location = loc
		for _, t := range []struct {
			key string
			at  toml.LocalDateTime
		}{{"soak_start", ses.SoakStart}, {"plug_in", ses.PlugIn}, {"start", ses.Start}} {
			if _, ok := Wall(t.at, loc); !ok && t.at != (toml.LocalDateTime{}) {
				l.Add(ses.At(t.key), "there is no %s in %s", t.at, ses.Zone).WithHint("the clocks went forward over it; is the zone right?")
			}
		}
	}
	if len(ses.Sources) == 0 {
		l.Add(ses.At("source"), "the session has no sources").WithHint("[[source]] with file = \"...\"")
	}
	for i := range ses.Sources {
		src, n := &ses.Sources[i], fmt.Sprint(i)
		at := func(key string) diag.Pos {
			if pos := ses.At("source", n, key); pos.Line > 0 {
				return pos
			}
			return ses.At("source", n)
		}
		if src.File == "" || !filepath.IsLocal(src.File) {
			l.Add(at("file"), "source file %q is not a file of the session's folder", src.File)
			continue
		}
		if slices.ContainsFunc(ses.Sources[:i], func(o Source) bool { return path.Clean(o.File) == path.Clean(src.File) }) {
			l.Add(at("file"), "source %q is listed twice", src.File)
		}
		var denied *fs.PathError
		if info, err := fs.Stat(fsys, ses.Path(*src)); errors.As(err, &denied) && !errors.Is(err, fs.ErrNotExist) {
			l.Add(at("file"), "source %q cannot be read: %v", src.File, denied.Err)
		} else if err != nil {
			l.Add(at("file"), "source %q not found", src.File).WithHint("it must lie in %s", path.Dir(ses.Path(*src)))
		} else if info.IsDir() {
			l.Add(at("file"), "source %q is a folder", src.File)
		} else if diag.IsPipe(fsys, ses.Path(*src)) {
			l.Add(at("file"), "source %q is %s", src.File, diag.Pipe)
		}
		if src.Profile != "" {
			p, ok := s.Profiles[src.Profile]
			if !ok {
				d := l.Add(at("profile"), "unknown profile %q", src.Profile)
				if name := path.Join("profiles", src.Profile+".toml"); bad[name] {
					d.WithHint("%s has mistakes in it", name)
				} else {
					d.WithHint("%s", diag.OneOf(src.Profile, slices.Sorted(maps.Keys(s.Profiles))))
				}
				continue
			}
			if src.Kind == "" {
				src.Kind = p.Kind
			}
		}
		if src.Clock != "" && src.Clock != "align" {
			l.Add(at("clock"), "unknown clock %q", src.Clock).WithHint("\"align\" finds its offset from the power that another source saw too")
		}
		if src.Clock == "align" && (src.OffsetS != 0 || src.OffsetU != 0) {
			l.Add(at("clock"), "the source states an offset and asks for one").WithHint("leave out either clock = \"align\" or offset_s and offset_u_s")
		}
		if !slices.Contains(kinds, src.Kind) {
			l.Add(at("kind"), "unknown kind of log %q", src.Kind).WithHint("%s", diag.OneOf(src.Kind, kinds))
		}
		if src.Zone != "" {
			if _, err := time.LoadLocation(src.Zone); err != nil {
				l.Add(at("zone"), "unknown time zone %q", src.Zone).WithHint("an IANA name such as \"Europe/Oslo\" or \"UTC\"")
			}
		}
	}
	l.Sort()
	return l
}
