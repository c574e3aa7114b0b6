package infer

import (
	"slices"
	"strings"
	"unicode"

	"coldbench/warehouse/unit"
)

// words is what a column's name says.
type words struct {
	set      concept
	other    string   // a word that names what no channel holds
	unknown  []string // words of no meaning here
	unit     string   // as unit.Parse takes it, "" if none is stated
	stated   string   // the unit as the file has it
	noUnit   string   // a unit that no channel has
	numbered bool     // it has a number of its own, such as "Batt Temp 3"
}

// any reports whether a name says any of what c holds.
func (w words) any(c concept) bool { return w.set&c != 0 }

// read reads a column's name, with the cell of the row of units, "" if there is
// none.
func read(name, unitCell string) words {
	var w words
	rest := brackets(name, &w)
	chunks := strings.FieldsFunc(rest, func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r) && !strings.ContainsRune("°%℃℉º˚/Ω", r)
	})
	chunks = w.tail(chunks)
	var tokens []string
	for _, c := range chunks {
		tokens = append(tokens, tokenise(c)...)
	}
	if w.unit == "" && w.noUnit == "" && len(tokens) > 1 { // the unit of "packPowerKW"
		last := len(tokens) - 1
		if u, ok := spelled(tokens[last]); ok && tailUnits[tokens[last]] {
			w.unit, w.stated, tokens = u, tokens[last], tokens[:last]
		}
	}
	joined := phrases.Replace(" " + strings.Join(tokens, " ") + " ")
	tokens = strings.Fields(phrases.Replace(joined))
	for i, tok := range tokens {
		w.token(tok, i, len(tokens))
	}
	if c := strings.TrimSpace(unitCell); c != "" && c != "-" {
		if u, ok := unitRow(c); ok && u != "" {
			w.unit, w.stated = u, strings.Trim(c, "[](){} ")
		} else if ok {
			w.noUnit = c
		}
	}
	w.settle()
	return w
}

// settle decides what words mean only beside others.
func (w *words) settle() {
	q := w.set & quantities
	if w.any(isAmp) && q != isAmp { // "current SoC" is the SoC now
		w.set &^= isAmp
	}
	if w.any(isSoC) { // a display's or the management's
		w.set &^= asLevel
	}
	if len(w.unknown) == 1 && w.unknown[0] == "v" && (w.unit == "km/h" || w.unit == "mph" || w.unit == "m/s") {
		w.set |= isSpeed // its symbol
	}
	if w.unit == "min" && w.any(isTemp) { // "Temp (min)" is the coldest
		w.unit, w.stated = "", ""
		w.set |= asMin
	}
	if w.other == "regen" && (w.unit == "mm" || w.unit == "in") { // German and Dutch rain
		w.other = ""
		w.set = w.set&^isOther | isRain
	}
}

// brackets takes units in brackets, and behind "/", "," or "in", off a name. Words
// in brackets stay.
func brackets(name string, w *words) string {
	var rest strings.Builder
	for s := name; ; {
		i := strings.IndexAny(s, "([{")
		if i < 0 {
			rest.WriteString(s)
			break
		}
		j := strings.IndexAny(s[i:], ")]}")
		if j < 0 {
			rest.WriteString(s[:i] + " " + s[i+1:])
			break
		}
		inner := s[i+1 : i+j]
		rest.WriteString(s[:i] + " ")
		if u, ok := unitRow(inner); ok {
			if u != "" && w.unit == "" {
				w.unit, w.stated = u, strings.TrimSpace(inner)
			} else if u == "" {
				w.noUnit = strings.TrimSpace(inner)
			}
		} else {
			rest.WriteString(inner + " ")
		}
		s = s[i+j+1:]
	}
	name = rest.String()
	for _, sep := range []string{" / ", "/", ", ", " in ", " i ", " en "} {
		if i := strings.LastIndex(name, sep); i > 0 && w.unit == "" {
			if head := strings.Fields(name[:i]); sep == "/" && len(head) > 0 {
				if _, ok := spelled(head[len(head)-1]); ok { // "km/h" is one unit
					continue
				}
			}
			if u, ok := unitRow(name[i+len(sep):]); ok && u != "" {
				w.unit, w.stated = u, strings.TrimSpace(name[i+len(sep):])
				return name[:i]
			}
		}
	}
	return name
}

// tail takes a unit off the end of a name's chunks, such as of "HV_Pwr_W".
func (w *words) tail(chunks []string) []string {
	n := len(chunks)
	if n == 0 {
		return chunks
	}
	last := chunks[n-1]
	for _, sign := range []string{"°C", "°F", "℃", "℉", "ºC", "ºF", "˚C", "˚F", "%"} { // "Temp°C"
		if head, ok := strings.CutSuffix(last, sign); ok && w.unit == "" {
			w.unit, _ = spelled(sign)
			w.stated = sign
			if head == "" {
				return chunks[:n-1]
			}
			return append(chunks[:n-1:n-1], head)
		}
	}
	if u, ok := spelled(last); ok && n == 1 && w.unit == "" && vocabulary[folded(last)] == 0 { // a column "kW"
		w.unit, w.stated = u, last
		return nil
	}
	if w.unit != "" || n < 2 {
		return chunks
	}
	if n > 1 && strings.Contains(last, "/") { // "Wind km/h"
		if u, ok := unitRow(last); ok && u != "" {
			w.unit, w.stated = u, last
			return chunks[:n-1]
		}
	}
	if n > 2 { // "km h" of "speed_km_h"
		if two := folded(chunks[n-2] + "/" + last); two == "km/h" || two == "m/s" || two == "mi/h" {
			w.unit, w.stated = two, two
			return chunks[:n-2]
		}
		if two := folded(chunks[n-2] + last); two == "degc" || two == "degf" || two == "gradc" {
			w.unit, _ = spelled(two)
			w.stated = two
			return chunks[:n-2]
		}
	}
	if u, ok := spelled(last); ok && tailUnits[folded(last)] {
		w.unit, w.stated = u, last
		return chunks[:n-1]
	}
	if noChannels[folded(last)] {
		w.noUnit = last
		return chunks[:n-1]
	}
	for i, c := range chunks { // "evse_kwh_total"
		if u, ok := spelled(c); ok && midUnits[folded(c)] {
			w.unit, w.stated = u, c
			return slices.Delete(slices.Clone(chunks), i, i+1)
		}
	}
	return chunks
}

// tailUnits are the units that may stand at a name's end without a sign that they
// are one.
var tailUnits = set("kw w kwh wh v a mv ma c f degc degf kelvin pct percent km mi kmh km/h kph mph mm ms s hpa volts amps watts celsius fahrenheit kn prozent volt watt ampere k")

// midUnits are those that may also stand amid a name.
var midUnits = set("kw kwh wh degc degf pct kmh kph mph")

// noChannels are units that no channel has.
var noChannels = set("ah mah rpm 1/min nm bar psi kpa mbar hpa ohm kohm mohm ω kω mω hz kg l l/min lpm v/cell w/m2 w/m² wh/km kwh/100km kwh/100 mi/kwh km/kwh €/kwh eur/kwh nok/kwh kr/kwh $/kwh ct/kwh eur € kr m/s2 m/s² ° deg lx db dbm k/s 1/h va kva var kvar mw gwh j/k")

func set(words string) map[string]bool {
	m := map[string]bool{}
	for _, w := range strings.Fields(words) {
		m[w] = true
	}
	return m
}

// spellings are units as people write them beside those that unit.Parse takes.
var spellings = map[string]string{
	"℃": "°C", "℉": "°F", "ºc": "°C", "ºf": "°F", "˚c": "°C", "˚f": "°F", "gradc": "°C", "gradcelsius": "°C", "deg.c": "°C", "deg.f": "°F", "°celsius": "°C", "°fahrenheit": "°F", "degreesc": "°C", "degreec": "°C",
	"degreesf": "°F", "prozent": "%", "procent": "%", "prosent": "%", "pourcent": "%", "%soc": "%", "amps": "A", "amp": "A", "ampere": "A", "amperes": "A", "volt": "V", "volts": "V", "vdc": "V", "adc": "A",
	"watt": "W", "watts": "W", "kilowatt": "kW", "kilowatts": "kW", "kilowattstunden": "kWh", "km/t": "km/h", "km/u": "km/h", "km/tim": "km/h", "kmph": "km/h", "km/std": "km/h",
	"kw·h": "kWh", "kw*h": "kWh", "kw.h": "kWh", "w·h": "Wh", "mile": "mi", "knots": "kn", "kts": "kn", "ms-1": "m/s", "kilometer": "km", "kilometers": "km", "sec": "s", "secs": "s", "seconds": "s", "second": "s", "sek": "s",
	"sekunden": "s", "secondes": "s", "sekunder": "s", "seconden": "s", "minutes": "min", "minuten": "min", "mins": "min", "minutter": "min", "hours": "h", "stunden": "h", "std": "h", "timer": "h",
	"msec": "ms", "millis": "ms", "milliseconds": "ms", "usec": "us",
}

// spelled finds the unit that a text is, as unit.Parse takes it.
func spelled(s string) (string, bool) {
	s = strings.Join(strings.Fields(s), "")
	if s == "K" {
		return "kelvin", true
	}
	key := strings.ToLower(s)
	if u, ok := spellings[key]; ok {
		return u, true
	}
	if s == "MW" || s == "mW" || s == "" {
		return "", false
	}
	if _, err := unit.Parse(s); err != nil {
		return "", false
	}
	if u, ok := written[key]; ok {
		return u, true
	}
	return key, true
}

// written is how people write units that names have in other cases.
var written = map[string]string{
	"kw": "kW", "w": "W", "kwh": "kWh", "wh": "Wh", "mj": "MJ", "kj": "kJ", "v": "V", "mv": "mV", "kv": "kV", "a": "A", "ma": "mA",
	"°c": "°C", "degc": "°C", "c": "°C", "celsius": "°C", "celcius": "°C", "°f": "°F", "degf": "°F", "f": "°F", "fahrenheit": "°F",
	"percent": "%", "pct": "%", "miles": "mi", "kmh": "km/h", "kph": "km/h", "mi/h": "mph", "kt": "kn", "hpa": "hPa", "pa": "Pa", "µs": "us",
}

// unitRow reads a text that is a unit and nothing else; "" is one that no channel
// has.
func unitRow(s string) (string, bool) {
	s = strings.TrimSpace(strings.Trim(strings.TrimSpace(s), "[](){}\"'"))
	if u, ok := spelled(s); ok {
		return u, true
	}
	key := strings.ToLower(strings.Join(strings.Fields(s), ""))
	if noChannels[key] || key == "hh:mm:ss" || key == "hh:mm" || key == "dd.mm.yyyy" || key == "yyyy-mm-dd" || key == "text" || key == "utc" && s != "" {
		return "", true
	}
	return "", false
}

// tokenise cuts a chunk of letters and digits into words, folded.
func tokenise(chunk string) []string {
	whole := folded(strings.Trim(chunk, "/°"))
	if whole == "" {
		return nil
	}
	if _, ok := vocabulary[whole]; ok {
		return []string{whole}
	}
	if strings.IndexFunc(whole, unicode.IsDigit) < 0 {
		if parts := compound(whole); parts != nil {
			return parts
		}
	}
	var tokens []string
	for _, part := range humps(strings.NewReplacer("SoC", "Soc", "SoH", "Soh", "kWh", "Kwh", "kW", "Kw").Replace(chunk)) {
		f := folded(part)
		if parts := compound(f); parts != nil && vocabulary[f] == 0 {
			tokens = append(tokens, parts...)
		} else {
			tokens = append(tokens, f)
		}
	}
	return tokens
}

// humps cuts "packTempMax3" at its capitals and digits.
func humps(s string) []string {
	var parts []string
	runes := []rune(s)
	from := 0
	for i := 1; i < len(runes); i++ {
		a, b := runes[i-1], runes[i]
		switch {
		case unicode.IsDigit(a) != unicode.IsDigit(b),
			!unicode.IsUpper(a) && unicode.IsUpper(b),
			unicode.IsUpper(a) && unicode.IsUpper(b) && i+1 < len(runes) && unicode.IsLower(runes[i+1]):
			parts = append(parts, string(runes[from:i]))
			from = i
		}
	}
	return append(parts, string(runes[from:]))
}

// compound cuts a word that is made of several, such as "batterietemperatur", or
// returns nil. Of several ways the one with the fewest parts is taken.
func compound(s string) []string {
	if len(s) < 4 || len(s) > 60 {
		return nil
	}
	best := make([][]string, len(s)+1)
	best[0] = []string{}
	for i := range len(s) {
		if best[i] == nil {
			continue
		}
		at := []int{i}
		if i > 0 { // letters that join words
			for _, join := range []string{"s", "n", "e", "en", "es"} {
				if strings.HasPrefix(s[i:], join) {
					at = append(at, i+len(join))
				}
			}
		}
		for _, from := range at {
			for to := from + 2; to <= len(s); to++ {
				part := s[from:to]
				if len(part) == 2 && !shortParts[part] || vocabulary[part] == 0 || vocabulary[part]&^foreign == neutral && len(part) < 4 {
					continue
				}
				if best[to] == nil || len(best[i])+1 < len(best[to]) {
					best[to] = append(slices.Clone(best[i]), part)
				}
			}
		}
	}
	if len(best[len(s)]) < 2 {
		return nil
	}
	return best[len(s)]
}

// shortParts are the words of two letters that compounds may have.
var shortParts = set("hv lv")

// token takes one word.
func (w *words) token(tok string, i, n int) {
	if strings.IndexFunc(tok, unicode.IsLetter) < 0 {
		w.numbered = true
		return
	}
	c, ok := vocabulary[tok]
	if !ok && len(tok) == 1 && n > 1 { // a quantity's symbol
		symbol := map[string]concept{"t": isTemp, "u": isVolt, "v": isVolt, "i": isAmp, "p": isPower, "e": isEnergy}[tok]
		sure := w.unit == "" // a unit bears it out
		if u, err := unit.Parse(w.unit); err == nil {
			sure = measured[u.Unit]&symbol != 0
		}
		if symbol != 0 && (i == 0 || i == n-1 || w.unit != "") && sure {
			w.set |= symbol
			return
		}
	}
	if !ok {
		w.unknown = append(w.unknown, tok)
		return
	}
	if c&isOther != 0 {
		w.other = tok
	}
	w.set |= c
}
