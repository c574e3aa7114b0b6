package notes

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"coldbench/warehouse/channel"
	"coldbench/warehouse/diag"
	"coldbench/warehouse/unit"
)

// A quantity is a word that a note may put before a number, with the channels
// that it can mean: the unit decides which.
type quantity struct {
	words    []string
	channels []string
}

var quantities = []quantity{
	{[]string{"cabin heater"}, []string{"cabin_heater_power_kw"}},
	{[]string{"charger", "station"}, []string{"charger_power_kw", "charger_energy_kwh"}},
	{[]string{"charging"}, []string{"charger_power_kw"}},
	{[]string{"soc", "battery level", "display"}, []string{"soc_pct"}},
	{[]string{"ambient", "outside", "air"}, []string{"ambient_handheld_c"}},
	{[]string{"pack max", "battery max"}, []string{"pack_temp_max_c"}},
	{[]string{"pack mean", "battery mean"}, []string{"pack_temp_mean_c"}},
	{[]string{"pack min", "battery min", "pack", "battery"}, []string{"pack_temp_min_c", "pack_power_kw", "pack_energy_kwh"}},
	{[]string{"heater"}, []string{"heater_power_kw"}},
	{[]string{"cabin"}, []string{"cabin_temp_c"}},
	{[]string{"range"}, []string{"range_km"}},
	{[]string{"shown", "rate"}, []string{"shown_rate_km_h", "shown_power_kw"}},
	{[]string{"wind"}, []string{"wind_km_h"}},
	{[]string{"voltage"}, []string{"pack_voltage_v"}},
	{[]string{"current"}, []string{"pack_current_a"}},
	{[]string{"odometer"}, []string{"odometer_km"}},
}

// channels that notes can carry, in the order of the batch.
var channels = func() []channel.Channel {
	var out []channel.Channel
	seen := map[string]bool{}
	for _, q := range quantities {
		for _, name := range q.channels {
			if c, err := channel.Find(name); err == nil && !seen[name] {
				seen[name] = true
				out = append(out, c)
			}
		}
	}
	return out
}()

// phrases are what people write for an event, the longer before the shorter.
var phrases = []struct{ text, kind string }{
	{"plug in failed", "latch-failure"}, {"latch fail", "latch-failure"}, {"latch fails", "latch-failure"}, {"latch failed", "latch-failure"}, {"latch failure", "latch-failure"}, {"failed to latch", "latch-failure"}, {"not latch", "latch-failure"},
	{"unplugged", "unplug"}, {"disconnected", "unplug"},
	{"plugged in", "plug-in"}, {"plug in", "plug-in"}, {"connected", "plug-in"},
	{"authorised", "authorised"}, {"authorized", "authorised"}, {"card accepted", "authorised"},
	{"charge stopped", "charge-stop"}, {"charging stopped", "charge-stop"}, {"charge paused", "charge-stop"}, {"charge ended", "charge-stop"}, {"stopped charging", "charge-stop"},
	{"charging paused", "charge-stop"}, {"charging ended", "charge-stop"}, {"charging finished", "charge-stop"}, {"charging complete", "charge-stop"}, {"charging interrupted", "charge-stop"}, {"charging done", "charge-stop"},
	{"charge finished", "charge-stop"}, {"charge complete", "charge-stop"}, {"charge interrupted", "charge-stop"}, {"charge done", "charge-stop"},
	{"charge started", "onset-seen"}, {"charging", "onset-seen"},
	{"heater on", "heater-on"}, {"heater off", "heater-off"},
	{"left outside", "soak-start"}, {"parked outside", "soak-start"}, {"soak start", "soak-start"}, {"soak started", "soak-start"},
	{"set off", "drive-start"}, {"arrived", "drive-stop"},
}

// Words for precipitation on the car, by themselves: a battery is drained, and a train
// passes; snow tyres and a forecast are none, nor is the frost of any clear night, and what
// stopped was told of before. A
// denial is one only right before the word: "no rain but snow" tells of snow.
var (
	precipitation = regexp.MustCompile(`\b(?:snow|rain|hail|sleet|drizzle)(?:s|ed|ing|y|fall)?\b`)
	noneFell      = regexp.MustCompile(`\b(?:no|not|never|without|neither|stopped)\s+(?:(?:any|more|fresh|new)\s+)*(?:(?:snow|rain|hail|sleet|drizzle)[a-z]*\s+n?or\s+)*$`)
	otherSnow     = regexp.MustCompile(`^\s*(?:tyre|tire|chain|forecast|plough|plow|brush|shovel)|\?`)
)

// A part is what one piece of a line says: a reading, an event, or both.
type part struct {
	channel  int // index in channels, -1: no reading
	value    float64
	decimals int
	scale    unit.Scale
	event    string // kind, "": none
	text     string
	col      int // byte, from 1, in the line
}

var (
	separator = regexp.MustCompile(`[;]|,(?:\s|$)|,(?:[^0-9])`)
	numeral   = regexp.MustCompile(`^([+-]?[0-9]+(?:[.,][0-9]+)?)\s*(.*)$`)
)

// split cuts a line into parts at semicolons and at commas that are no decimal
// mark. It returns each with its byte offset.
func split(line string) (parts []string, offsets []int) {
	at := 0
	for at <= len(line) {
		end, next := len(line), len(line)+1
		if m := separator.FindStringIndex(line[at:]); m != nil {
			end, next = at+m[0], at+m[0]+1
		}
		text := line[at:end]
		trimmed := strings.TrimLeft(text, " \t")
		parts = append(parts, strings.TrimRight(trimmed, " \t"))
		offsets = append(offsets, at+len(text)-len(trimmed))
		at = next
	}
	return parts, offsets
}

// parsePart reads one part. What is no reading and no known event is free text.
func parsePart(text string) (part, *diag.Diagnostic) {
	p := part{channel: -1, text: text}
	lower := strings.ToLower(strings.NewReplacer("−", "-", "n't", " not", "n’t", " not").Replace(text))
	for _, ph := range phrases {
		if before, after, ok := said(lower, ph.text); ok {
			p.event = ph.kind
			if denied(before, after) || elsewhere(before, after) {
				p.event = "note"
			}
			break
		}
	}
	if p.event == "" {
		for _, at := range precipitation.FindAllStringIndex(lower, -1) {
			if !noneFell.MatchString(lower[:at[0]]) && !otherSnow.MatchString(lower[at[1]:]) {
				p.event = "precipitation"
			}
		}
	}
	for _, q := range quantities {
		for _, word := range q.words {
			rest, ok := strings.CutPrefix(lower, word)
			if !ok || rest != "" && rest[0] != ' ' && rest[0] != ':' && rest[0] != '=' {
				continue
			}
			m := numeral.FindStringSubmatch(strings.TrimLeft(rest, " :="))
			filled := filler.FindString(rest)
			if m == nil && filled != "" {
				m = numeral.FindStringSubmatch(rest[len(filled):])
			}
			if m == nil {
				continue
			}
			if d := p.reading(q, m[1], m[2]); d != nil && filled != "" {
				continue // "charging at 10 %" tells of the charge, if not of a power
			} else if d != nil {
				return p, d
			}
			// "charging 0.3 kW" is a display before the onset, not the onset.
			if p.event == "onset-seen" && channels[p.channel].Unit == "kW" && p.value < leastOnset {
				p.event = "note"
			}
			if word == "heater" && p.event != "heater-on" && p.event != "heater-off" {
				p.event = ""
			}
			return p, nil
		}
	}
	if p.event == "" {
		p.event = "note"
		return p, mistyped(lower)
	}
	return p, nil
}

// filler is what people write between a quantity and its number; a charger that "is 150 kW" is
// called so.
var filler = regexp.MustCompile(`^(?:\s+(?:temp|temperature|at|with|shows|says|reads|now))+[ :=]+`)

// said cuts text about a phrase in it: what is "unconnected" was not connected, and
// "heater one" is no heater on.
func said(text, phrase string) (before, after string, ok bool) {
	for at := 0; ; {
		i := strings.Index(text[at:], phrase)
		if i < 0 {
			return "", "", false
		}
		before, after = text[:at+i], text[at+i+len(phrase):]
		if !undone.MatchString(before) && !goesOn.MatchString(after) {
			return before, after, true
		}
		at += i + len(phrase)
	}
}

var (
	undone = regexp.MustCompile(`\bun$`)
	goesOn = regexp.MustCompile(`^[a-z]`)

	// What else is connected, or plugged in, on such a night.
	links     = `(?:obd|bluetooth|phone|wi-?fi|app|logger|laptop|dongle|adapter|internet|network)\b`
	linkFirst = regexp.MustCompile(`\b` + links + `\s+(?:is\s+|was\s+|got\s+)?$`)
	linkAfter = regexp.MustCompile(`^\s+(?:to\s+)?(?:the\s+|my\s+|an?\s+)?` + links)
)

// elsewhere reports whether the words around a phrase say that something else than the
// car's cable is meant: "phone connected", "connected to the logger".
func elsewhere(before, after string) bool {
	return linkFirst.MatchString(before) || linkAfter.MatchString(after)
}

// leastOnset is the power in kW below which a display of it is no onset: the
// protocol's default. A protocol that asks for more has the reading to judge by.
const leastOnset = 1

var (
	denies = regexp.MustCompile(`\b(no|not|never|without|will|(?:going|about|ready) to|waiting|until|before|if|should|cannot)\b`)
	doubts = regexp.MustCompile(`\?|\byet\b|^\s*(?:failed|failure|error|fault)\b|^\w*\s+(not|will|should|has not|does not|did not|is not|was not)\b`)
)

// denied reports whether the words around a phrase say that it did not happen,
// or not yet, or that somebody only asks: "not charging", "charging?".
func denied(before, after string) bool {
	return denies.MatchString(before) || doubts.MatchString(after)
}

// reading fills in the channel and value of a number with a unit.
func (p *part) reading(q quantity, number, spelled string) *diag.Diagnostic {
	var first *diag.Diagnostic
	for _, name := range q.channels {
		i := indexOf(name)
		c := channels[i]
		scale := unit.Scale{Unit: c.Unit, Factor: 1}
		if spelled != "" {
			var err error
			if scale, err = unit.Between(spelled, c.Unit); err != nil {
				if first == nil {
					first = diag.At(err, diag.Pos{})
				}
				continue
			}
		}
		v, err := strconv.ParseFloat(strings.Replace(number, ",", ".", 1), 64)
		if err != nil || math.IsInf(v, 0) {
			return diag.New(diag.Pos{}, "%q is not a number", number)
		}
		out := scale.Of(v)
		if !c.Possible(out) {
			return diag.New(diag.Pos{}, "%q is outside what %s can be, %g to %g %s", p.text, c.Name, c.Min, c.Max, c.Unit)
		}
		if _, frac, ok := strings.Cut(strings.Replace(number, ",", ".", 1), "."); ok {
			p.decimals = len(frac)
		}
		p.channel, p.value, p.scale = i, out, scale
		return nil
	}
	if first != nil {
		first.Msg = fmt.Sprintf("%q: %s", p.text, first.Msg)
	}
	return first
}

func indexOf(name string) int {
	for i, c := range channels {
		if c.Name == name {
			return i
		}
	}
	return -1
}
