package metar

import (
	"math"
	"regexp"
	"strconv"
	"strings"

	"coldbench/warehouse/diag"
)

// An observation is what one report says of the air, as far as coldbench needs it.
type observation struct {
	station           string
	day, hour, minute int
	corrected         bool // it takes the place of an earlier report of the same moment
	values            [3]float64
	steps             [3]float64 // the report's resolution of each value
	windUnit          string     // as the report has it
	precipitation     string     // the groups of present weather that name some, or ""
	unseen            bool       // whether there is weather was not observed
	six, day24        span       // of the temperature
}

// A span is the highest and the lowest temperature of the hours before a report,
// in °C, NaN where it states none.
type span struct{ high, low float64 }

func (s span) stated() bool { return !math.IsNaN(s.high) || !math.IsNaN(s.low) }

// The values of an observation, in the order of channelNames. NaN: not reported.
const (
	temperature = iota // °C
	dewPoint           // °C
	wind               // km/h
)

// A group is one word of a report, without spaces.
type group struct {
	text string
	col  int // byte of the line, from 1
}

func groups(line string) []group {
	var out []group
	for i := 0; i < len(line); {
		if c := line[i]; c == ' ' || c == '\t' || c == '\r' {
			i++
			continue
		}
		j := i
		for j < len(line) && line[j] != ' ' && line[j] != '\t' && line[j] != '\r' {
			j++
		}
		if text := strings.TrimSuffix(line[i:j], "="); text != "" {
			out = append(out, group{text, i + 1})
		}
		i = j
	}
	return out
}

var (
	stationGroup = regexp.MustCompile(`^[A-Z][A-Z0-9]{3}$`)
	timeGroup    = regexp.MustCompile(`^([0-9]{2})([0-9]{2})([0-9]{2})Z$`)
	correction   = regexp.MustCompile(`^(?:COR|CC[A-Z])$`)
	windGroup    = regexp.MustCompile(`^(?:[0-9]{3}|VRB|///)(P?[0-9]{2,3}|//)(?:G(?:P?[0-9]{2,3}|//))?(KT|MPS|KMH)$`)
	airGroup     = regexp.MustCompile(`^(M?[0-9]{2}|//)/(M?[0-9]{2}|//)?(?:Q[0-9]{4})?$`)
	tenthsGroup  = regexp.MustCompile(`^T([01][0-9]{3})([01][0-9]{3})?$`)
	// Of the last six hours and of the last day: AFMAN 15-111 (2019), remarks 31 to 33.
	highGroup     = regexp.MustCompile(`^1([01][0-9]{3})$`)
	lowGroup      = regexp.MustCompile(`^2([01][0-9]{3})$`)
	dayGroup      = regexp.MustCompile(`^4([01][0-9]{3})([01][0-9]{3})$`)
	weatherGroup  = regexp.MustCompile(`^(?:[+-])?(?:MI|PR|BC|SH|TS|FZ)?(?:(?:DZ|RA|SN|SG|IC|PL|GR|GS|UP)+)(?:BR|FG|FU|VA|DU|SA|HZ|PY|SQ)?$`)
	pressureGroup = regexp.MustCompile(`^[AQ](?:[0-9]{4}|////)$`)
	trendGroup    = regexp.MustCompile(`^(?:NOSIG|BECMG|TEMPO|INTER|FM[0-9]{4})$`)
)

// kmH is the length of one unit of wind speed; the knot is exact (NIST SP 811
// (2008), appendix B.8).
var kmH = map[string]float64{"KT": 1.852, "MPS": 3.6, "KMH": 1}

// parse reads one report. A problem has its byte column, from 1; the station is
// known unless the report breaks off before it.
func parse(line string) (o observation, col int, d *diag.Diagnostic) {
	for i := range o.values {
		o.values[i] = math.NaN()
	}
	o.six, o.day24 = span{math.NaN(), math.NaN()}, span{math.NaN(), math.NaN()}
	g := groups(line)
	for len(g) > 0 && (g[0].text == "METAR" || g[0].text == "SPECI" || correction.MatchString(g[0].text)) {
		o.corrected = o.corrected || correction.MatchString(g[0].text)
		g = g[1:]
	}
	if len(g) < 2 || !stationGroup.MatchString(g[0].text) {
		return o, 1, diag.New(diag.Pos{}, "the report does not start with a station and a time").WithHint("such as \"ENGM 161950Z\"")
	}
	m := timeGroup.FindStringSubmatch(g[1].text)
	if m == nil {
		return o, g[1].col, diag.New(diag.Pos{}, "cannot read %q as a day and time", short(g[1].text)).WithHint("it is the day of the month, hour and minute, such as \"161950Z\"")
	}
	o.station = g[0].text
	o.day, _ = strconv.Atoi(m[1])
	o.hour, _ = strconv.Atoi(m[2])
	o.minute, _ = strconv.Atoi(m[3])
	if o.day < 1 || o.day > 31 || o.hour > 23 || o.minute > 59 {
		return o, g[1].col, diag.New(diag.Pos{}, "there is no moment %q in a month", g[1].text)
	}
	o.read(g[2:])
	return o, 0, nil
}

// read reads the groups behind the time. A group that it does not know is none
// of its affair: reports hold far more than the air.
func (o *observation) read(g []group) {
	var precipitation []string
	var seenAir, remarks, trend bool
	for _, g := range g {
		switch text := g.text; {
		case text == "RMK":
			remarks = true
		case tenthsGroup.MatchString(text) && (seenAir || remarks):
			// Some stations leave RMK out; a group of this form means nothing else.
			m := tenthsGroup.FindStringSubmatch(text)
			o.put(temperature, tenths(m[1]), 0.1)
			if m[2] != "" {
				o.put(dewPoint, tenths(m[2]), 0.1)
			}
		case remarks:
			o.remark(text)
		case trendGroup.MatchString(text):
			trend = true // what follows is a forecast
		case trend:
		case correction.MatchString(text):
			o.corrected = true
		case o.steps[wind] == 0 && windGroup.MatchString(text):
			m := windGroup.FindStringSubmatch(text)
			o.steps[wind], o.windUnit = kmH[m[2]], m[2]
			if n, err := strconv.Atoi(m[1]); err == nil { // P99KT is more than the group can say
				o.values[wind] = float64(n) * kmH[m[2]]
			}
		case !seenAir && airGroup.MatchString(text):
			for i, v := range airGroup.FindStringSubmatch(text)[1:3] {
				if v != "" && v != "//" {
					seenAir = true // "/////" may be the wind or the clouds
					o.put(i, whole(v), 1)
				}
			}
		case pressureGroup.MatchString(text):
			seenAir = true
		case seenAir: // present weather stands before; what follows is past or to come
		case text == "//":
			o.unseen = true
		case weatherGroup.MatchString(text):
			precipitation = append(precipitation, text)
		}
	}
	o.precipitation = strings.Join(precipitation, " ")
}

// remark reads a group of the remarks, which hold far more than temperatures.
func (o *observation) remark(text string) {
	if m := highGroup.FindStringSubmatch(text); m != nil {
		o.six.high = tenths(m[1])
	} else if m := lowGroup.FindStringSubmatch(text); m != nil {
		o.six.low = tenths(m[1])
	} else if m := dayGroup.FindStringSubmatch(text); m != nil {
		o.day24 = span{tenths(m[1]), tenths(m[2])}
	}
}

func (o *observation) put(i int, v, step float64) { o.values[i], o.steps[i] = v, step }

// whole reads a body's "M05": whole °C, M for minus.
func whole(s string) float64 {
	digits, minus := strings.CutPrefix(s, "M")
	n, _ := strconv.Atoi(digits)
	if minus {
		n = -n
	}
	return float64(n)
}

// tenths reads "1022": 0.1 °C, a leading 1 for minus.
func tenths(s string) float64 {
	n, _ := strconv.Atoi(s[1:])
	if s[0] == '1' {
		n = -n
	}
	return float64(n) / 10
}

// short is s, cut for a message.
func short(s string) string {
	const most = 60
	if len(s) > most {
		return s[:most] + "..."
	}
	return s
}
