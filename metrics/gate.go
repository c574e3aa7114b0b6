package metrics

import (
	"fmt"
	"math"

	"coldbench/metrics/edition"
)

// What becomes of a session that does not keep a gate's rule.
const (
	Fail = "fail" // it is not ranked
	Flag = "flag" // it is ranked, with the reason beside it
	Off  = "off"  // the gate is not judged
)

// A Gate is a rule that decides whether a session's figures may be ranked.
type Gate struct {
	Name   string
	Title  string
	Figure string  // that it judges; "": it sets a car's sessions beside each other, and only flags
	Param  string  // the protocol's parameter that is its limit, or ""
	Limit  float64 // where Param is ""
	Unit   string  // of the limit
	Action string  // Fail or Flag
	Rule   string  // one sentence, for people, with the precedent
	beyond func(value, limit float64) float64
	reason string // a format of value and limit, each behind its digits
	ask    string // what to look into where the rule is not kept, or ""
	digits int    // after the point
	one    string // the same for a value that is shown as a whole 1; "": no different

	eitherWay bool // a value below zero is as far off as one above
	lenient   bool // a value passes whose expanded uncertainty reaches the limit
	sureness  bool // it is the figure's uncertainty that is judged
	soak      bool // of how the car soaked: not of charges alone
}

// A GateSetting is what a protocol says of a gate. Limit nil and Action "" leave
// it as it is.
type GateSetting struct {
	Name   string
	Limit  *float64
	Action string
}

// gated are the procedures whose sessions are judged; those that charge nothing by
// the gates of the soak. A car that just stands is soaking all the while.
var gated = []string{Ranked, "cabin-warmup", "cold-drive"}

// gates are judged in this order. A figure without a value cannot be judged;
// the session may then be ranked, and its standing says so.
var gates = []Gate{
	{Name: "soak-length", Title: "Soak long enough", Figure: "soak_hours", Param: "soak_min_h", Unit: "h", soak: true, Action: Fail,
		Rule:   "The car stood outside for at least the protocol's hours. Precedent for 12 h: the cold soak of 40 CFR 86.132 (from memory).",
		beyond: below, digits: 1, reason: "soaked %s h, the protocol asks for %s h"},
	{Name: "air-steady", Title: "Night steady enough", Figure: "soak_ambient_departure", Param: "ambient_band_k", Unit: "K", soak: true, Action: Flag,
		Rule:   "Over the soak the air stayed within the protocol's band about its mean. Precedent for 2.8 K: 40 CFR 1066.710(b), for a test cell; a real night is seldom so steady, so it only flags.",
		beyond: above, digits: 1, reason: "the air went %s K from its mean, the protocol allows %s K"},
	{Name: "air-excursion", Title: "Never off its mean for long", Figure: "soak_excursion", Limit: 3, Unit: "min", soak: true, Action: Flag,
		Rule:   "In the soak the air was never outside of the protocol's band about its mean for more than 3 min at a time. Precedent: 40 CFR 1066.710(b), for a test cell; a real night only flags.",
		beyond: above, reason: "the air was off its mean for %s min at a time, the protocol allows %s min"},
	{Name: "dry", Title: "No snow or rain on the car", Figure: "precipitation_spells", Limit: 0, Unit: "1", soak: true, Action: Flag,
		Rule:   "No precipitation was reported in the soak. Precedent: 40 CFR 1066.710(a)(3).",
		beyond: above, reason: "%s reports of precipitation in the soak, the protocol allows %s", one: "%s report of precipitation in the soak, the protocol allows %s"},
	{Name: "pack-near-ambient", Title: "Pack as cold as the night", Figure: "pack_minus_ambient", Param: "pack_ambient_k", Unit: "K", soak: true, Action: Fail,
		Rule:   "At plug-in the coldest pack sensor was within the protocol's band of the air. Precedent for 3 K: the soak band of UN GTR 15 (from memory).",
		beyond: away, eitherWay: true, digits: 1, reason: "pack %s K from the air, the protocol allows %s K"},
	{Name: "pack-even", Title: "Pack frozen through", Figure: "pack_spread_at_plug_in", Limit: 4, Unit: "K", Action: Flag,
		Rule:   "At plug-in the hottest and the coldest pack sensor were close. Precedent for 4 K: a stable pack has all sensors within 2 K of the test temperature (ISO 12405-4, from memory).",
		beyond: above, digits: 1, reason: "sensors %s K apart, the protocol allows %s K"},
	{Name: "start-soc", Title: "Started low enough", Figure: "start_soc", Param: "start_soc_max_pct", Unit: "%", Action: Fail,
		Rule:   "The displayed state of charge at plug-in was at most the protocol's. Definition is ours.",
		beyond: above, reason: "started at %s %%, the protocol allows %s %%"},
	{Name: "cabin-off", Title: "Cabin heater off", Figure: "cabin_heat_session", Limit: 0.1, Unit: "kWh", Action: Flag,
		Rule:   "The cabin's heater took next to nothing in the session: somebody who sits in the warm takes from the charger what the pack does not get. Definition is ours.",
		beyond: above, digits: 2, reason: "the cabin's heater took %s kWh, the protocol allows %s kWh"},
	{Name: "not-warmed", Title: "Not warmed beforehand", Figure: "heat_before_plug_in", Limit: 0.1, Unit: "kWh", Action: Flag,
		Rule:   "In the ten minutes before plug-in the pack's and the cabin's heaters took next to nothing: a car that was preconditioned, or sat in, is not as cold as the night, even where its sensors still are. Definition is ours.",
		beyond: above, digits: 2, reason: "heaters took %s kWh in the ten minutes before plug-in, the protocol allows %s kWh"},
	{Name: "log-interval", Title: "Logged often enough", Figure: "log_interval", Param: "log_max_interval_s", Unit: "s", Action: Fail,
		Rule:   "The log that power came from has a row at least as often as the protocol asks. Precedent for 60 s: 40 CFR 1066.710.",
		beyond: above, reason: "a row every %s s, the protocol asks for one every %s s"},
	{Name: "log-whole", Title: "Logged without a break", Figure: "unlogged_time", Limit: 10, Unit: "min", Action: Flag,
		Rule:   "From the plug-in to the end of the charge the log of power was silent for ten minutes at most, all breaks together: in a longer one the charge may have stood still, and a clock that leaps ahead looks the same and makes every time longer. Definition is ours.",
		beyond: above, digits: 1, reason: "the log of power was silent for %s min before the end of the charge, the protocol allows %s min", ask: "did a logger stop, or its clock leap?"},
	{Name: "charger-enough", Title: "Charger not the limit", Figure: "charger_limited", Limit: 1, Unit: "min", Action: Flag,
		Rule:   "The charger, not the car, held the power for next to no time. Where it did for longer, times and powers are the charger's, and flatter or wrong nobody else. Definition is ours.",
		beyond: above, digits: 1, reason: "the charger held the power for %s min, the protocol allows %s min"},
	{Name: "energy-balance", Title: "Energy adds up", Figure: "energy_balance", Limit: 5, Unit: "%", Action: Flag,
		Rule:   "What the charger delivered went into pack, heaters and accessories, but for a few percent; its expanded uncertainty, k = 2, is not held against it. Definition is ours.",
		beyond: away, eitherWay: true, lenient: true, digits: 1, reason: "%s %% of the energy is not accounted for, the protocol allows %s %%"},
	{Name: "registers", Title: "Register and power agree", Figure: "charger_register_off", Limit: 3, Unit: "%", Action: Flag,
		Rule:   "The charger's register of energy and the integral of its power tell the same, but for a few percent beyond their expanded uncertainty, k = 2. Definition is ours.",
		beyond: away, eitherWay: true, lenient: true, digits: 1, reason: "the charger's register and its power are %s %% apart, the protocol allows %s %%"},
	{Name: "clocks", Title: "Clocks agree", Figure: "clock_doubt", Limit: 60, Unit: "s", soak: true, Action: Flag,
		Rule:   "Every log's clock is known to a minute against the session's. Definition is ours.",
		beyond: above, reason: "a clock is taken to be right to %s s, the protocol asks for %s s"},
	{Name: "rows-taken", Title: "Log could be read", Figure: "rows_set_aside", Limit: 1, Unit: "%", soak: true, Action: Flag,
		Rule:   "Of no log more than a percent of the rows had to be set aside: where many are wrong, those that are left may be. Definition is ours.",
		beyond: above, digits: 1, reason: "%s %% of a log's rows were set aside, the protocol allows %s %%", ask: "is a unit, a sign or a clock wrong?"},
	{Name: "sensors-move", Title: "No sensor stuck", Figure: "stuck_time", Limit: 0, Unit: "min", Action: Flag,
		Rule:   "No channel of a log held one value for ten minutes or more while others show that it must have moved: what it tells of that time is not so. Definition is ours.",
		beyond: above, reason: "a channel held one value for %s min while others moved, the protocol allows %s min", ask: "is a sensor stuck, or does the logger repeat an old value?"},
	{Name: "in-step", Title: "Charger and pack in step", Figure: "out_of_step", Limit: 0.5, Unit: "kWh", Action: Flag,
		Rule:   "The charger gave what the pack took when the pack took it, but for a minute: where they tell of it at different times, a clock is wrong, and with it what is counted from the plug-in or up to the charge; or an instrument is. Its expanded uncertainty, k = 2, is not held against it. Definition is ours.",
		beyond: above, lenient: true, digits: 2, reason: "charger and pack tell of %s kWh at different times, the protocol allows %s kWh", ask: "is a clock or an instrument wrong?"},
	{Name: "plug-in-noted", Title: "Plug-in as noted", Figure: "plug_in_apart", Limit: 120, Unit: "s", Action: Flag,
		Rule:   "The plug-in that times count from is one that was noted, or a charger told of, but for two minutes; its expanded uncertainty, k = 2, is not held against it. Definition is ours.",
		beyond: above, lenient: true, reason: "the nearest plug-in that was noted is %s s away, the protocol allows %s s", ask: "is the stated one right?"},
	{Name: "onset-noted", Title: "Charge not noted before", Figure: "onset_apart", Limit: 120, Unit: "s", Action: Flag,
		Rule:   "Nobody saw the charge begin more than two minutes before the log shows it: people see late and not early, so the log's clock leapt or is wrong, or the charger's power was taken for the charge. Its expanded uncertainty, k = 2, is not held against it. Definition is ours.",
		beyond: above, lenient: true, reason: "the charge was noted %s s before the log shows it, the protocol allows %s s", ask: "did a logger's clock leap?"},
	{Name: "plug-in", Title: "Nothing flows before plug-in", Figure: "energy_before_plug_in", Limit: 0.1, Unit: "kWh", Action: Fail,
		Rule:   "Next to no energy flowed in the hour before the session's plug-in: what does says that the plug-in or a clock is wrong, and with it every time that counts from there. Its expanded uncertainty, k = 2, is not held against it. Definition is ours.",
		beyond: above, lenient: true, digits: 2, reason: "%s kWh flowed before the plug-in, the protocol allows %s kWh", ask: "is the plug-in or a clock wrong?"},
	{Name: "log-begun", Title: "Logged from the start", Figure: "charge_before_log", Limit: 1, Unit: "min", Action: Fail,
		Rule:   "The log of power began before the charge did: where its first row shows the charge running, the delay is only known to be shorter, and what flowed before is not known at all. Definition is ours; the minute is that of the log's interval.",
		beyond: above, digits: 1, reason: "%s min of charge may have gone before the log began, the protocol allows %s min"},
	{Name: "onset-known", Title: "Begin of the charge seen", Figure: "delay_to_onset", Limit: 2, Unit: "min", Action: Flag,
		Rule:   "The time from the plug-in to the charge is known to two minutes of standard uncertainty: where the log was silent when the charge began, or nobody noted the plug-in, it is only known that it lies between. Definition is ours.",
		beyond: above, sureness: true, digits: 1, reason: "the time to the charge is known to %s min only, the protocol asks for %s min", ask: "was the log silent when the charge began?"},
	{Name: "direction", Title: "The pack took energy", Figure: "energy_into_pack", Limit: -0.5, Unit: "kWh", Action: Fail,
		Rule:   "Over the session the pack gave away next to nothing: a charge that it gives has its current's sign turned round. Definition is ours.",
		beyond: below, digits: 1, reason: "the pack took %s kWh, the protocol asks for no less than %s kWh", ask: "is the sign of its current turned round (invert)?"},
	{Name: agreementGate, Title: "Nights of one car agree", Limit: 5, Unit: "points", Action: Flag,
		Rule: "In no figure that earns points is a session further from the car's other sessions, combined, than a few points beyond twice the uncertainty of that, which holds what the others scatter: " +
			"the normalised error of ISO 13528 (from memory), one session left out at a time, as outliers are looked for in ASTM E178. " +
			"It is judged at the reference soak where all have that, else between nights within the protocol's band of each other. The one that stands out is named, and where none does all that differ are. It only flags: no night is left out for what came out of it. The limit is ours."},
}

// wrongInput are the gates that fail where a plug-in, a clock or a sign is wrong, not
// the night.
var wrongInput = map[string]bool{"plug-in": true, "direction": true}

// Gates returns the gates in the order in which they are judged.
func Gates() []Gate { return append([]Gate(nil), gates...) }

// How far a value lies beyond its limit, in its unit; up to 0 it keeps it.
func below(v, limit float64) float64 { return limit - v }
func above(v, limit float64) float64 { return v - limit }
func away(v, limit float64) float64  { return math.Abs(v) - limit }

// within judges how far a value lies beyond its limit: what is beyond it by more than its
// expanded uncertainty, k = 2, fails, as in JCGM 106, 8.3.3 (guarded rejection; from
// memory); by less it is flagged, or passes where the gate is lenient.
func (g Gate) within(beyond, u float64) edition.Verdict {
	switch {
	case beyond <= 0 || g.lenient && beyond <= 2*u:
		return edition.Passed
	case beyond <= 2*u:
		return edition.Flagged
	}
	return edition.Failed
}

// said is a gate's reason. Of a value beyond the limit it has as many digits more as it
// takes to tell the two apart, and asks what is wrong, or says that it passes, or does not
// fail, for its uncertainty alone.
func (g Gate) said(value, u, limit float64, verdict edition.Verdict, action string) string {
	digits := g.digits
	beyond := g.beyond(value, limit) > 0
	for most := digits + 4; beyond && digits < most && edition.Fixed(value, digits) == edition.Fixed(limit, digits); {
		digits++
	}
	says := g.reason
	if g.one != "" && edition.Fixed(value, digits) == "1" {
		says = g.one
	}
	text := fmt.Sprintf(says, edition.Fixed(value, digits), edition.Fixed(limit, digits))
	if beyond && (verdict == edition.Passed || verdict == edition.Flagged && action == Fail) {
		text += fmt.Sprintf("; but that is uncertain by %s (k = 2)", edition.Fixed(2*u, digits))
	}
	if verdict != edition.Passed && g.ask != "" {
		text += ": " + g.ask
	}
	return text
}

// rules are the gates as a protocol sets them.
func rules(settings []GateSetting, params map[string]float64) []edition.Rule {
	var out []edition.Rule
	for _, g := range gates {
		r := edition.Rule{Gate: g.Name, Title: g.Title, Figure: g.Figure, Limit: g.Limit, Unit: g.Unit, Action: g.Action, Text: g.Rule}
		if g.Param != "" {
			r.Limit = params[g.Param]
		}
		usual := r
		for _, s := range settings {
			if s.Name != g.Name {
				continue
			}
			if s.Limit != nil {
				r.Limit = *s.Limit
			}
			if s.Action != "" {
				r.Action = s.Action
			}
		}
		r.Changed = r != usual
		out = append(out, r)
	}
	return out
}

// surely reports whether a value of which only the least is known is beyond the limit
// even so.
func (g Gate) surely(f edition.Figure, limit float64) bool {
	if f.Status != edition.Beyond || f.Value == nil || g.eitherWay || g.sureness {
		return false
	}
	by := g.beyond(*f.Value, limit)
	return by > 0 && g.beyond(*f.Value+1, limit) > by
}

// judge applies every gate that judges a figure to a session; to one that is no
// charge, those of the soak.
func judge(session string, charge bool, find func(figure string) (edition.Figure, bool), set []edition.Rule) []edition.Gate {
	var out []edition.Gate
	for i, g := range gates {
		r := set[i]
		if r.Action == Off || g.Figure == "" || !charge && !g.soak {
			continue
		}
		verdict := edition.Gate{Session: session, Gate: g.Name, Verdict: edition.CannotTell}
		f, ok := find(g.Figure)
		switch {
		case !ok:
			verdict.Reason = "the figure " + g.Figure + " could not be computed"
		case !f.Ranked() && !g.surely(f, r.Limit):
			verdict.Reason = f.Note
		default:
			v, u := *f.Value, 0.0
			if f.U != nil {
				u = *f.U
			}
			if g.sureness {
				v, u = u, 0
			}
			shown := v
			if g.eitherWay {
				shown = math.Abs(v)
			}
			verdict.Verdict = g.within(g.beyond(v, r.Limit), u)
			verdict.Reason = g.said(shown, u, r.Limit, verdict.Verdict, r.Action)
			if f.Status == edition.Beyond {
				verdict.Reason += ", and " + f.Note
			}
			if verdict.Verdict == edition.Failed && r.Action == Flag {
				verdict.Verdict = edition.Flagged
			}
		}
		out = append(out, verdict)
	}
	return out
}
