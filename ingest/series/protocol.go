package series

import (
	"fmt"

	"coldbench/warehouse/diag"
)

// A Protocol is what a series fixes for all of its sessions: series.toml.
// Every key has a default, so an empty file is a valid protocol.
type Protocol struct {
	Title string `toml:"title"`
	Place string `toml:"place"`

	Soak struct {
		MinH          float64 `toml:"min_h"`
		PackAmbientK  float64 `toml:"pack_ambient_k"`
		AmbientBandK  float64 `toml:"ambient_band_k"`
		LookBackH     float64 `toml:"look_back_h"`
		DisagreementK float64 `toml:"disagreement_k"`
	} `toml:"soak"`
	Start struct {
		SoCMaxPct float64 `toml:"soc_max_pct"`
	} `toml:"start"`
	Onset struct {
		PowerKW    float64 `toml:"power_kw"`
		SustainedS float64 `toml:"sustained_s"`
	} `toml:"onset"`
	Window struct {
		FromPct float64 `toml:"from_pct"` // 0 and 0: the largest window that all compared cars cover
		ToPct   float64 `toml:"to_pct"`
	} `toml:"window"`
	Log struct {
		MaxIntervalS float64 `toml:"max_interval_s"`
	} `toml:"log"`
	Reference struct {
		SoakC       float64 `toml:"soak_c"`
		StartSoCPct float64 `toml:"start_soc_pct"`
	} `toml:"reference"`
	Cabin struct {
		TargetC float64 `toml:"target_c"`
	} `toml:"cabin"`
	Drive struct {
		FirstMin float64 `toml:"first_min"`
	} `toml:"drive"`
	Price struct {
		PerKWh float64 `toml:"per_kwh"` // 0 and 0: no cost is worked out
		PerMin float64 `toml:"per_min"`
	} `toml:"price"`
	Gates  []GateSetting `toml:"gate"`
	Points []Points      `toml:"points"`

	file *file
}

// A GateSetting tightens, loosens or switches a gate.
type GateSetting struct {
	Name   string   `toml:"name"`
	Limit  *float64 `toml:"limit"`  // in the gate's unit; left out: as it comes
	Action string   `toml:"action"` // "fail", "flag" or "off"; "": as it comes
}

// Points is a fixed scale that turns a figure into 0 to 100 points, and the
// weight of those points in the overall score. It is fixed so that a new car
// never changes an old car's points.
type Points struct {
	Figure   string  `toml:"figure"`
	Category string  `toml:"category"`
	Zero     float64 `toml:"zero"` // the value that earns 0
	Full     float64 `toml:"full"` // the value that earns 100
	Weight   float64 `toml:"weight"`
}

// defaultProtocol returns the protocol of an empty series.toml.
//
// Soak of 12 h and rows at least every 60 s: precedent 40 CFR 86.132 (from
// memory) and 1066.710. Pack within 3 K of the air: precedent the +/-3 K soak
// band of UN GTR 15 (from memory). Ambient within 2.8 K of its mean: 40 CFR
// 1066.710(b). Onset of 1 kW sustained for 60 s, start SoC and the points
// scales: definition is ours. A warm cabin of 20 °C and the first 10 min of a
// drive: definition is ours.
func defaultProtocol() *Protocol {
	p := &Protocol{Title: "Cold charging"}
	p.Soak.MinH, p.Soak.PackAmbientK, p.Soak.AmbientBandK = 12, 3, 2.8
	p.Soak.LookBackH, p.Soak.DisagreementK = 48, 2
	p.Start.SoCMaxPct = 15
	p.Onset.PowerKW, p.Onset.SustainedS = 1, 60
	p.Log.MaxIntervalS = 60
	p.Reference.SoakC, p.Reference.StartSoCPct = -20, 10
	p.Cabin.TargetC, p.Drive.FirstMin = 20, 10
	return p
}

var defaultPoints = []Points{
	{"delay_to_onset", "delay", 90, 0, 3},
	{"energy_before_onset", "heat", 8, 0, 2},
	{"time_10_80", "charge", 120, 20, 3},
	{"energy_30min", "charge", 0, 50, 2},
}

// At returns the place of a key in series.toml, such as "points", "0", "figure".
func (p *Protocol) At(path ...string) diag.Pos { return p.file.at(path...) }

// Hash is the SHA-256 of series.toml as it stands, in hex.
func (p *Protocol) Hash() string { return hash(p.file.bytes) }

// A Parameter is one number of the protocol, named as figures read it.
type Parameter struct {
	Name  string
	Value float64
}

// Parameters are the protocol's numbers in a fixed order: the columns of the
// table "protocol" that figures read.
func (p *Protocol) Parameters() []Parameter {
	return []Parameter{
		{"soak_min_h", p.Soak.MinH},
		{"soak_look_back_h", p.Soak.LookBackH},
		{"pack_ambient_k", p.Soak.PackAmbientK},
		{"ambient_band_k", p.Soak.AmbientBandK},
		{"disagreement_k", p.Soak.DisagreementK},
		{"start_soc_max_pct", p.Start.SoCMaxPct},
		{"onset_kw", p.Onset.PowerKW},
		{"onset_sustained_s", p.Onset.SustainedS},
		{"window_from_pct", p.Window.FromPct},
		{"window_to_pct", p.Window.ToPct},
		{"log_max_interval_s", p.Log.MaxIntervalS},
		{"reference_soak_c", p.Reference.SoakC},
		{"reference_start_soc_pct", p.Reference.StartSoCPct},
		{"cabin_target_c", p.Cabin.TargetC},
		{"drive_first_min", p.Drive.FirstMin},
		{"price_per_kwh", p.Price.PerKWh},
		{"price_per_min", p.Price.PerMin},
	}
}

func (p *Protocol) check() diag.List {
	var l diag.List
	positive := func(v float64, path ...string) {
		if !(v > 0) {
			l.Add(p.At(path...), "%s must be above 0, not %v", path[len(path)-1], v)
		}
	}
	positive(p.Soak.MinH, "soak", "min_h")
	positive(p.Soak.LookBackH, "soak", "look_back_h")
	positive(p.Soak.PackAmbientK, "soak", "pack_ambient_k")
	positive(p.Soak.AmbientBandK, "soak", "ambient_band_k")
	positive(p.Onset.PowerKW, "onset", "power_kw")
	positive(p.Onset.SustainedS, "onset", "sustained_s")
	positive(p.Log.MaxIntervalS, "log", "max_interval_s")
	positive(p.Start.SoCMaxPct, "start", "soc_max_pct")
	positive(p.Drive.FirstMin, "drive", "first_min")
	if w := p.Window; (w.FromPct != 0 || w.ToPct != 0) && !(0 <= w.FromPct && w.FromPct < w.ToPct && w.ToPct <= 100) {
		l.Add(p.At("window", "to_pct"), "window from %v %% to %v %% is no window", w.FromPct, w.ToPct).
			WithHint("leave both out to have it chosen")
	}
	for i, g := range p.Gates {
		n := fmt.Sprint(i)
		if g.Action != "" && g.Action != "fail" && g.Action != "flag" && g.Action != "off" {
			l.Add(p.At("gate", n, "action"), "a gate's action must be fail, flag or off, not %q", g.Action)
		}
		if g.Limit == nil && g.Action == "" {
			l.Add(p.At("gate", n), "the gate %q is set to nothing", g.Name).WithHint("limit = 5, or action = \"off\"")
		}
	}
	seen := map[string]bool{}
	total := 0.0
	for i, pt := range p.Points {
		n := fmt.Sprint(i)
		switch {
		case pt.Figure == "":
			l.Add(p.At("points", n), "a points scale without a figure").WithHint("`coldbench figures` lists them")
		case seen[pt.Figure]:
			l.Add(p.At("points", n, "figure"), "figure %q has two points scales", pt.Figure)
		}
		seen[pt.Figure] = true
		if pt.Zero == pt.Full {
			l.Add(p.At("points", n, "zero"), "the value for 0 points and for 100 points are the same, %v", pt.Zero)
		}
		if pt.Weight < 0 {
			l.Add(p.At("points", n, "weight"), "weight must not be negative, not %v", pt.Weight)
		}
		total += pt.Weight
	}
	if len(p.Points) > 0 && !(total > 0) {
		l.Add(p.At("points"), "the weights add up to nothing")
	}
	return l
}
