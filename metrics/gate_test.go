package metrics

import (
	"strings"
	"testing"

	"coldbench/metrics/edition"
)

func TestGates(t *testing.T) {
	set := rules(nil, map[string]float64{"soak_min_h": 12, "pack_ambient_k": 3, "start_soc_max_pct": 15, "log_max_interval_s": 60, "ambient_band_k": 2.8})
	for _, c := range []struct {
		gate, figure string
		value, u     float64
		verdict      edition.Verdict
		reason       string
	}{
		{"soak-length", "soak_hours", 14, 0, edition.Passed, "soaked 14.0 h, the protocol asks for 12.0 h"},
		{"soak-length", "soak_hours", 12, 0, edition.Passed, "soaked 12.0 h, the protocol asks for 12.0 h"}, // the boundary
		{"soak-length", "soak_hours", 11.9, 0.2, edition.Flagged, "soaked 11.9 h, the protocol asks for 12.0 h; but that is uncertain by 0.4 (k = 2)"},
		{"soak-length", "soak_hours", 5, 0.2, edition.Failed, "soaked 5.0 h, the protocol asks for 12.0 h"},
		{"pack-near-ambient", "pack_minus_ambient", -2.9, 0.5, edition.Passed, "pack 2.9 K from the air, the protocol allows 3.0 K"},
		{"pack-near-ambient", "pack_minus_ambient", -3.4, 0.5, edition.Flagged, "pack 3.4 K from the air, the protocol allows 3.0 K; but that is uncertain by 1.0 (k = 2)"},
		{"pack-near-ambient", "pack_minus_ambient", 4, 0.5, edition.Flagged, "pack 4.0 K from the air, the protocol allows 3.0 K; but that is uncertain by 1.0 (k = 2)"}, // 3 + 2 x 0.5, the boundary
		{"pack-near-ambient", "pack_minus_ambient", 4.01, 0.5, edition.Failed, "pack 4.0 K from the air, the protocol allows 3.0 K"},
		{"plug-in", "energy_before_plug_in", 0.51, 0.2, edition.Failed, "0.51 kWh flowed before the plug-in, the protocol allows 0.10 kWh: is the plug-in or a clock wrong?"},
		{"pack-near-ambient", "pack_minus_ambient", 9, 0.5, edition.Failed, "pack 9.0 K from the air, the protocol allows 3.0 K"},
		{"start-soc", "start_soc", 15, 0.3, edition.Passed, "started at 15 %, the protocol allows 15 %"},
		{"start-soc", "start_soc", 35, 0.3, edition.Failed, "started at 35 %, the protocol allows 15 %"},
		{"air-steady", "soak_ambient_departure", 2.8, 0.3, edition.Passed, "the air went 2.8 K from its mean, the protocol allows 2.8 K"},      // the boundary
		{"air-steady", "soak_ambient_departure", 9, 0.3, edition.Flagged, "the air went 9.0 K from its mean, the protocol allows 2.8 K"},       // only flags
		{"air-excursion", "soak_excursion", 3, 0.3, edition.Passed, "the air was off its mean for 3 min at a time, the protocol allows 3 min"}, // the boundary
		{"air-excursion", "soak_excursion", 64, 0.3, edition.Flagged, "the air was off its mean for 64 min at a time, the protocol allows 3 min"},
		{"dry", "precipitation_spells", 0, 0, edition.Passed, "0 reports of precipitation in the soak, the protocol allows 0"},
		{"dry", "precipitation_spells", 1, 0, edition.Flagged, "1 report of precipitation in the soak, the protocol allows 0"},
		{"dry", "precipitation_spells", 2, 0, edition.Flagged, "2 reports of precipitation in the soak, the protocol allows 0"},
		{"pack-even", "pack_spread_at_plug_in", 5, 0.7, edition.Flagged, "sensors 5.0 K apart, the protocol allows 4.0 K"},
		{"cabin-off", "cabin_heat_session", 1.5, 0.1, edition.Flagged, "the cabin's heater took 1.50 kWh, the protocol allows 0.10 kWh"},
		{"not-warmed", "heat_before_plug_in", 0.1, 0, edition.Passed, "heaters took 0.10 kWh in the ten minutes before plug-in, the protocol allows 0.10 kWh"}, // the boundary
		{"not-warmed", "heat_before_plug_in", 0.9, 0.02, edition.Flagged, "heaters took 0.90 kWh in the ten minutes before plug-in, the protocol allows 0.10 kWh"},
		{"charger-enough", "charger_limited", 19, 0.2, edition.Flagged, "the charger held the power for 19.0 min, the protocol allows 1.0 min"},
		{"energy-balance", "energy_balance", -7, 1.5, edition.Passed, "7.0 % of the energy is not accounted for, the protocol allows 5.0 %; but that is uncertain by 3.0 (k = 2)"},
		{"energy-balance", "energy_balance", 12, 1.5, edition.Flagged, "12.0 % of the energy is not accounted for, the protocol allows 5.0 %"},
		{"registers", "charger_register_off", -5.8, 1.4, edition.Passed, "the charger's register and its power are 5.8 % apart, the protocol allows 3.0 %; but that is uncertain by 2.8 (k = 2)"}, // 3 + 2 x 1.4, the boundary
		{"registers", "charger_register_off", -9, 1.4, edition.Flagged, "the charger's register and its power are 9.0 % apart, the protocol allows 3.0 %"},
		{"clocks", "clock_doubt", 61, 0, edition.Flagged, "a clock is taken to be right to 61 s, the protocol asks for 60 s"},
		{"plug-in-noted", "plug_in_apart", 154, 17, edition.Passed, "the nearest plug-in that was noted is 154 s away, the protocol allows 120 s; but that is uncertain by 34 (k = 2)"}, // 120 + 2 x 17, the boundary
		{"plug-in-noted", "plug_in_apart", 570, 17, edition.Flagged, "the nearest plug-in that was noted is 570 s away, the protocol allows 120 s: is the stated one right?"},
		{"rows-taken", "rows_set_aside", 1, 0, edition.Passed, "1.0 % of a log's rows were set aside, the protocol allows 1.0 %"},
		{"rows-taken", "rows_set_aside", 21, 0, edition.Flagged, "21.0 % of a log's rows were set aside, the protocol allows 1.0 %: is a unit, a sign or a clock wrong?"},
		{"sensors-move", "stuck_time", 0, 0, edition.Passed, "a channel held one value for 0 min while others moved, the protocol allows 0 min"},
		{"sensors-move", "stuck_time", 15, 0, edition.Flagged, "a channel held one value for 15 min while others moved, the protocol allows 0 min: is a sensor stuck, or does the logger repeat an old value?"},
		{"in-step", "out_of_step", 0.75, 0.125, edition.Passed, "charger and pack tell of 0.75 kWh at different times, the protocol allows 0.50 kWh; but that is uncertain by 0.25 (k = 2)"}, // 0.5 + 2 x 0.125, the boundary
		{"in-step", "out_of_step", 2.7, 0.1, edition.Flagged, "charger and pack tell of 2.70 kWh at different times, the protocol allows 0.50 kWh: is a clock or an instrument wrong?"},
		{"onset-noted", "onset_apart", 126, 3, edition.Passed, "the charge was noted 126 s before the log shows it, the protocol allows 120 s; but that is uncertain by 6 (k = 2)"}, // 120 + 2 x 3, the boundary
		{"onset-noted", "onset_apart", 174, 0.3, edition.Flagged, "the charge was noted 174 s before the log shows it, the protocol allows 120 s: did a logger's clock leap?"},
		{"plug-in", "energy_before_plug_in", 0.5, 0.2, edition.Passed, "0.50 kWh flowed before the plug-in, the protocol allows 0.10 kWh; but that is uncertain by 0.40 (k = 2)"}, // the boundary
		{"plug-in", "energy_before_plug_in", 1, 0.02, edition.Failed, "1.00 kWh flowed before the plug-in, the protocol allows 0.10 kWh: is the plug-in or a clock wrong?"},
		{"direction", "energy_into_pack", -0.9, 0.25, edition.Flagged, "the pack took -0.9 kWh, the protocol asks for no less than -0.5 kWh; but that is uncertain by 0.5 (k = 2): is the sign of its current turned round (invert)?"},
		{"direction", "energy_into_pack", -44, 0.5, edition.Failed, "the pack took -44.0 kWh, the protocol asks for no less than -0.5 kWh: is the sign of its current turned round (invert)?"},
		{"log-begun", "charge_before_log", 1, 0, edition.Passed, "1.0 min of charge may have gone before the log began, the protocol allows 1.0 min"}, // the boundary
		{"log-begun", "charge_before_log", 40, 0, edition.Failed, "40.0 min of charge may have gone before the log began, the protocol allows 1.0 min"},
		{"onset-known", "delay_to_onset", 44, 2, edition.Passed, "the time to the charge is known to 2.0 min only, the protocol asks for 2.0 min"}, // the boundary
		{"onset-known", "delay_to_onset", 44, 7.2, edition.Flagged, "the time to the charge is known to 7.2 min only, the protocol asks for 2.0 min: was the log silent when the charge began?"},
		{"log-whole", "unlogged_time", 10, 0, edition.Passed, "the log of power was silent for 10.0 min before the end of the charge, the protocol allows 10.0 min"},                                               // the boundary
		{"log-whole", "unlogged_time", 10.017, 0, edition.Flagged, "the log of power was silent for 10.02 min before the end of the charge, the protocol allows 10.00 min: did a logger stop, or its clock leap?"}, // a digit more tells them apart
		{"soak-length", "soak_hours", 11.9996, 0.2, edition.Flagged, "soaked 11.9996 h, the protocol asks for 12.0000 h; but that is uncertain by 0.4000 (k = 2)"},
		{"soak-length", "soak_hours", 12.01, 0, edition.Passed, "soaked 12.0 h, the protocol asks for 12.0 h"},
		{"log-whole", "unlogged_time", 60.2, 0, edition.Flagged, "the log of power was silent for 60.2 min before the end of the charge, the protocol allows 10.0 min: did a logger stop, or its clock leap?"},
		{"log-interval", "log_interval", 61, 0, edition.Failed, "a row every 61 s, the protocol asks for one every 60 s"},
	} {
		f := edition.Figure{Figure: c.figure, Value: &c.value, U: &c.u, Status: edition.Measured}
		for _, g := range judge("s1", true, func(name string) (edition.Figure, bool) { return f, name == c.figure }, set) {
			switch {
			case g.Gate == c.gate && (g.Verdict != c.verdict || g.Reason != c.reason):
				t.Errorf("%s of %v: %s, %q", c.gate, c.value, g.Verdict, g.Reason)
			case g.Gate != c.gate && g.Verdict != edition.CannotTell:
				t.Errorf("%s was judged without its figure: %s", g.Gate, g.Verdict)
			}
		}
	}
}

// Of a value of which only the least is known, what is surely beyond the limit is told
// of, and no more.
func TestGateOfTheLeast(t *testing.T) {
	set := rules(nil, map[string]float64{"soak_min_h": 12})
	for _, c := range []struct {
		gate, figure string
		value        float64
		verdict      edition.Verdict
		reason       string
	}{
		{"cabin-off", "cabin_heat_session", 0.5, edition.Flagged, "the cabin's heater took 0.50 kWh, the protocol allows 0.10 kWh, and its log ends 15 min before the charge did"},
		{"cabin-off", "cabin_heat_session", 0.1, edition.CannotTell, "its log ends 15 min before the charge did"}, // the boundary
		{"soak-length", "soak_hours", 5, edition.CannotTell, "its log ends 15 min before the charge did"},         // it may have been 12
	} {
		f := edition.Figure{Figure: c.figure, Value: &c.value, Status: edition.Beyond, Note: "its log ends 15 min before the charge did"}
		for _, g := range judge("s1", true, func(name string) (edition.Figure, bool) { return f, name == c.figure }, set) {
			if g.Gate == c.gate && (g.Verdict != c.verdict || g.Reason != c.reason) {
				t.Errorf("%s of at least %v: %s, %q", c.gate, c.value, g.Verdict, g.Reason)
			}
		}
	}
}

// A protocol may tighten, loosen and switch gates, and the rules say so.
func TestGateSettings(t *testing.T) {
	one, twenty := 1.0, 20.0
	set := rules([]GateSetting{{Name: "soak-length", Limit: &twenty}, {Name: "dry", Action: Fail}, {Name: "clocks", Action: Off}, {Name: "start-soc", Limit: &one, Action: Flag}},
		map[string]float64{"soak_min_h": 12, "start_soc_max_pct": 15})
	find := func(name string) (edition.Figure, bool) {
		v, u := 15.0, 0.0
		return edition.Figure{Figure: name, Value: &v, U: &u, Status: edition.Measured}, true
	}
	got := map[string]edition.Verdict{}
	for _, g := range judge("s1", true, find, set) {
		got[g.Gate] = g.Verdict
	}
	for gate, want := range map[string]edition.Verdict{"soak-length": edition.Failed, "dry": edition.Failed, "start-soc": edition.Flagged, "clocks": "", "air-steady": edition.Flagged} {
		if got[gate] != want {
			t.Errorf("%s: %q, want %q", gate, got[gate], want)
		}
	}
	for _, r := range set {
		if r.Changed != (r.Gate == "soak-length" || r.Gate == "dry" || r.Gate == "clocks" || r.Gate == "start-soc") {
			t.Errorf("%+v", r)
		}
	}
}

// A figure without a value cannot be judged, and its note says why.
func TestGateWithoutValue(t *testing.T) {
	f := edition.Figure{Figure: "soak_hours", Status: edition.None, Note: "nothing says when the soak began"}
	g := judge("s1", true, func(string) (edition.Figure, bool) { return f, true }, rules(nil, nil))[0]
	if g.Verdict != edition.CannotTell || g.Reason != f.Note {
		t.Errorf("%+v", g)
	}
}

// A gate judges a figure that the catalogue has, for the procedure that is ranked.
func TestGatesFit(t *testing.T) {
	cat := builtIn(t)
	for _, g := range Gates() {
		if err := cat.Rankable(g.Figure); err != nil && g.Name != agreementGate {
			t.Errorf("%s: %v", g.Name, err)
		}
		if g.Rule == "" || g.Title == "" || g.Unit == "" || g.Action != Fail && g.Action != Flag {
			t.Errorf("%+v", g)
		}
	}
}

// A session of which a clock or a sign is wrong is refused for that, not for what it
// makes of the night.
func TestFailureOfInputFirst(t *testing.T) {
	e := &edition.Edition{Gates: []edition.Gate{
		{Session: "a", Gate: "pack-near-ambient", Verdict: edition.Failed, Reason: "27 K"}, {Session: "a", Gate: "plug-in", Verdict: edition.Failed, Reason: "5 kWh"}, {Session: "a", Gate: "direction", Verdict: edition.Failed, Reason: "-5 kWh"},
		{Session: "b", Gate: "pack-near-ambient", Verdict: edition.Failed, Reason: "27 K"}, {Session: "b", Gate: "start-soc", Verdict: edition.Failed, Reason: "50 %"}, {Session: "b", Gate: "plug-in", Verdict: edition.Passed},
	}}
	if got := failures(e); len(got) != 2 || got["a"] != "plug-in: 5 kWh" || got["b"] != "pack-near-ambient: 27 K" {
		t.Errorf("%q", got)
	}
}

// A gate rounds as reports round the figure that it judges: a half goes away from zero.
func TestGatesRoundAsReportsDo(t *testing.T) {
	for _, g := range Gates() {
		if g.Name == "charger-enough" {
			if got := g.said(31.25, 0.01, 1, edition.Flagged, Flag); !strings.Contains(got, "for 31.3 min, the protocol allows 1.0 min") {
				t.Error(got)
			}
		}
	}
}
