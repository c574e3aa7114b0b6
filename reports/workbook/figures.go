package workbook

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"coldbench/metrics/edition"
)

// groups put the figures that people look for into tables narrow enough to be
// read on paper. A scale's category puts a figure that is in none into a group of that name.
var groups = []struct {
	name, title string
	figures     []string
}{
	// Raw beside corrected, in pairs.
	{"reference", "As measured, and at the reference soak", []string{"delay_to_onset", "delay_at_reference", "energy_before_onset", "energy_before_onset_at_reference",
		"heat_before_onset", "heat_at_reference", "time_window_plug_in", "time_window_at_reference", "time_10_80_plug_in", "time_10_80_at_reference", "delay_shift"}},
	{"soak", "Soak", []string{"soak_hours", "soak_ambient_mean", "soak_ambient_low", "soak_ambient_departure", "soak_excursion", "soak_soc_loss", "precipitation_spells", "ambient_at_plug_in",
		"ambient_station_at_plug_in", "ambient_handheld_at_plug_in", "ambient_car_at_plug_in", "thermometer_disagreement",
		"pack_temp_at_plug_in", "pack_mean_at_plug_in", "pack_spread_at_plug_in", "pack_minus_ambient", "start_soc"}},
	{"delay", "Delay", []string{"delay_to_charger_power", "delay_to_10kw", "delay_to_half_peak", "onset_step", "failed_connects", "failed_connects_lost",
		"soc_without_energy", "onset_soc", "onset_pack_temp", "log_interval", "unlogged_time", "charge_before_log", "clock_doubt", "rows_set_aside", "stuck_time", "plug_in_apart", "onset_apart", "out_of_step"}},
	{"heat", "Heat", []string{"heat_session", "heat_share", "heater_mean_before_onset", "heater_peak", "warming_rate", "pack_spread_before_onset",
		"heat_capacity", "heat_warming_share", "cabin_heat_session"}},
	{"charge", "Charge", []string{"time_10_80", "time_20_80", "time_20_80_plug_in", "time_window", "time_10_50", "time_20_60", "time_50_80", "peak_power", "mean_power", "peak_c_rate",
		"peak_power_soc", "taper_soc", "power_at_50", "power_at_80", "efficiency", "energy_into_pack", "end_soc", "pause_time", "charger_limited", "cost"}},
	{"cabin", "Cabin", []string{"cabin_time_to_target", "cabin_energy", "cabin_peak_power", "cabin_warming_rate", "cabin_energy_per_k", "cabin_at_start"}},
	{"drive", "Drive", []string{"drive_consumption", "penalty_consumption", "drive_heating_share", "drive_heater_mean", "drive_power_first", "penalty_drive_power",
		"drive_regen_first", "penalty_regen", "drive_distance", "drive_mean_speed"}},
	{"standby", "Parked", []string{"standby_soc_loss", "standby_power", "standby_energy_day"}},
	{"checks", "Checks", []string{"energy_balance", "charger_register_off", "pack_register_off"}},
	{"display", "Displayed charge rate", []string{"shown_rate_power", "shown_rate_excess"}},
	{"penalty", "Penalty: the cold beside the car's own control session", []string{"penalty_delay", "penalty_time_window", "penalty_time_window_plug_in", "penalty_time_10_80",
		"penalty_energy_30min", "penalty_energy_before_onset", "penalty_peak_power", "penalty_efficiency"}},
	{"energy", "Energy into the pack after plug-in", []string{"energy_5min", "energy_10min", "energy_15min", "energy_20min", "energy_30min", "energy_45min", "energy_60min"}},
	{"shown", "Charge shown as added after plug-in", []string{"soc_added_5min", "soc_added_10min", "soc_added_15min", "soc_added_20min", "soc_added_30min", "soc_added_45min", "soc_added_60min"}},
	{"range", "Range added after plug-in", []string{"range_added_5min", "range_added_10min", "range_added_15min", "range_added_20min", "range_added_30min", "range_added_45min", "range_added_60min"}},
}

// perTable is the most figures that stand side by side.
const perTable = 4

// A figureGroup are figures that stand in tables of their own.
type figureGroup struct {
	title   string
	figures []string
}

// figureGroups sorts the edition's figures into groups; what is in none comes last.
func (b *book) figureGroups() []figureGroup {
	category := map[string]string{}
	for _, g := range groups {
		for _, f := range g.figures {
			category[f] = g.name
		}
	}
	for _, s := range b.e.Scales {
		if s.Category != "" && category[s.Figure] == "" {
			category[s.Figure] = s.Category
		}
	}
	names, titles := []string{}, map[string]string{"": "Other figures"}
	for _, g := range groups {
		names, titles[g.name] = append(names, g.name), g.title
	}
	members := map[string][]string{}
	for _, d := range b.e.Figures {
		c := category[d.Name]
		if c != "" && !slices.Contains(names, c) {
			names, titles[c] = append(names, c), c
		}
		members[c] = append(members[c], d.Name)
	}
	var out []figureGroup
	for _, c := range append(names, "") {
		if len(members[c]) > 0 {
			slices.SortStableFunc(members[c], func(x, y string) int { return cmp.Compare(rankIn(c, x), rankIn(c, y)) })
			out = append(out, figureGroup{titles[c], members[c]})
		}
	}
	return out
}

// rankIn is a figure's place in its group; what the group does not name comes last.
func rankIn(group, figure string) int {
	for _, g := range groups {
		if g.name != group {
			continue
		}
		if at := slices.Index(g.figures, figure); at >= 0 {
			return at
		}
	}
	return math.MaxInt
}

func (b *book) fillFigures() {
	s := b.figures
	s.widths = []float64{24, 22}
	for range perTable {
		s.widths = append(s.widths, 16, 17)
	}
	toCol := len(s.widths)
	s.frozen = [2]int{2, 3}
	row := s.heading("Figures", "Each value is as measured, with its standard uncertainty. * taken from a worse source, such as a note; > the true value is larger, "+
		"the log ends before it; none: no value. The reasons stand in the sheet All figures.", toCol)
	uHead := headNum
	uHead.size, uHead.bold = 8, false
	n := 0
	for _, g := range b.groups {
		title := g.title
		for figures := range slices.Chunk(g.figures, perTable) {
			n++
			top, heads := row, row+1
			s.across(1, top, toCol, title, section)
			title = continued(g.title)
			s.heads(1, heads, "session", "car")
			for i, f := range figures {
				s.put(3+2*i, heads, b.figureTitle(f), headNum)
				s.put(4+2*i, heads, "± "+b.figureTitle(f), uHead)
			}
			row = heads
			for _, ses := range b.e.Sessions {
				if !slices.ContainsFunc(figures, func(name string) bool { _, ok := b.find(ses.ID, name); return ok }) {
					continue // another procedure's
				}
				row++
				s.linkTo(1, row, ses.ID, b.bySession[ses.ID], linked)
				s.put(2, row, b.carOf[ses.ID], wrapped)
				for i, name := range figures {
					f, ok := b.find(ses.ID, name)
					if !ok {
						s.put(3+2*i, row, nil, body)
						s.put(4+2*i, row, nil, body)
						continue
					}
					s.putResult(3+2*i, row, f)
				}
			}
			row = 2 + s.paged(long{name: fmt.Sprintf("figures_%d", n), top: top, again: top, heads: heads, toCol: 2 + 2*len(figures), last: row, title: title})
		}
	}
}

// continued is the title of what goes on.
func continued(title string) string { return title + ", continued" }

// putResult writes a figure's value and uncertainty into two cells, as its
// status allows.
func (s *sheet) putResult(col, row int, f edition.Figure) {
	if f.Value == nil {
		s.put(col, row, "none", look{ruled: true, align: "right", color: faint, italic: true})
		s.put(col+1, row, nil, body)
		return
	}
	digits := edition.Decimals(*f.Value, f.U)
	switch {
	case f.Status == edition.Beyond:
		s.put(col, row, f.Value, look{ruled: true, italic: true, format: s.book.format(digits, f.Unit, "> ", "")})
	case f.Status == edition.Fallback:
		s.put(col, row, f.Value, look{ruled: true, italic: true, format: s.book.format(digits, f.Unit, "", " *")})
	default:
		s.put(col, row, f.Value, body.with(s.book.format(digits, f.Unit, "", "")))
	}
	s.put(col+1, row, f.U, look{ruled: true, color: faint, format: s.book.uncertain(*f.Value, f.U, f.Unit)})
}

func (b *book) fillAllFigures() {
	s := b.allFigures
	s.widths = []float64{22, 20, 34, 12, 15, 9, 11, 44, 11, 11}
	s.frozen = [2]int{0, 5}
	row := s.partlyHeading("All figures", "One figure of one session a row, to sort and filter. The rows do not print: a session's own sheet does. "+
		"From and to are the minutes that the value was worked out from, after the session's zero: the first plug-in, or the start where nothing was charged.", "data/figures.csv")
	s.heads(1, row, "session", "car", "figure", ">value", ">standard uncertainty", "unit", "status", "note", ">from", ">to")
	s.put(6, row, "unit", headNext)
	first := row
	minute := body.with(minuteFormat)
	for _, f := range b.e.Results {
		if !b.detailed[f.Session] {
			continue
		}
		row++
		s.put(1, row, f.Session, wrapped)
		s.put(2, row, b.carOf[f.Session], wrapped)
		s.put(3, row, b.figureTitle(f.Figure), wrapped)
		s.putResult(4, row, f)
		s.putUnit(6, row, f.Unit)
		s.put(7, row, string(f.Status), body)
		s.put(8, row, f.Note, wrapped)
		s.put(9, row, minutes(f.From), minute)
		s.put(10, row, minutes(f.To), minute)
	}
	s.printed = [2]int{len(s.widths), first - 1}
	s.table("all_figures", 1, first, len(s.widths), row, true)
}

const minuteFormat = `0.0" min"`

// minutes are seconds for people.
func minutes(seconds *float64) *float64 {
	if seconds == nil {
		return nil
	}
	return pointer(*seconds / 60)
}
