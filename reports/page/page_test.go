package page

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"coldbench/metrics/edition"
)

func written(t *testing.T, e *edition.Edition, logs []edition.Log, before *edition.Edition) string {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, e, logs, before, nil); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestSameBytes(t *testing.T) {
	e, logs := sample(6, 8)
	first := written(t, e, logs, nil)
	e, logs = sample(6, 8)
	if written(t, e, logs, nil) != first {
		t.Error("the same edition gave two pages")
	}
}

func TestSays(t *testing.T) {
	e, logs := sample(6, 8)
	before, _ := sample(5, 8)
	before.ID = "2026-01-20T0000Z"
	text := written(t, e, logs, before)
	for what, want := range map[string]string{
		"the count of cars":        "6 cars, 5 of them ranked; 6 sessions: 6 cold-charge.",
		"a shared place":           `data-v="1">1 =</td>`,
		"why a car is not ranked":  "fails soak-length: soaked 2.0 h",
		"a value":                  "40.00 ± 0.50",
		"a bound":                  "&gt; 34",
		"no value":                 "no value<td>",
		"why there is none":        "the heater was not logged",
		"evidence":                 `<button data-e="0,0,2400">0.0 to 40.0</button>`,
		"a gate's reason":          "soaked 30.0 h",
		"a hash":                   strings.Repeat("ab", 32),
		"an input's hash":          strings.Repeat("cd", 32),
		"local time":               "10 January 2026, 20:12:00 Europe/Oslo (19:12:00 UTC)",
		"what moved":               "What moved since edition 2026-01-20T0000Z",
		"a car that moved":         "not ranked to place 5", // the fifth car failed in the edition before
		"a caution":                "Never force a frozen connector",
		"whose word counts before": "do not replace the car maker&#39;s manual",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the page lacks %s: %q", what, want)
		}
	}
	if strings.Contains(written(t, e, logs, nil), "What moved since") {
		t.Error("the first edition says what moved")
	}
	if same := written(t, e, logs, e); !strings.Contains(same, "Nothing moved.") {
		t.Error("two editions that are the same moved")
	}
}

// Beside the standings: each category alone, and what another window of charge would do.
func TestOtherRankings(t *testing.T) {
	e, logs := sample(3, 3)
	if text := written(t, e, logs, nil); strings.Contains(text, "By category") || strings.Contains(text, "other windows") {
		t.Error("there are headings without anything below them")
	}
	e.Categories = []edition.Category{{Name: "heat <1>", Cars: []edition.InCategory{{Vehicle: "car-00", Place: 1, Lowest: 1, Highest: 2, Score: 57.2, U: 2.2}}}}
	e.Windows = []edition.Compared{{Title: "From 10 to 80 %", Times: []edition.Timed{{Vehicle: "car-00", Value: 27.7, U: 0.3, Place: 2, Gained: -1}, {Vehicle: "car-02", Value: 31, U: 0.3, Place: 3, Gained: 2}}}}
	text := written(t, e, logs, nil)
	for _, want := range []string{
		`<td>heat &lt;1&gt;</td><td class="n">1</td><th scope="row">Alder 40</th><td class="n">57.2 ± 2.2</td><td class="n">1–2</td>`,
		`<td>From 10 to 80 %</td><td class="n">2</td><th scope="row">Alder 40</th><td class="n">27.70 ± 0.30</td><td>loses 1 place</td>`,
		`<td class="n">31.00 ± 0.30</td><td>wins 2 places</td>`,
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the page lacks %s", want)
		}
	}
}

// Raw stands beside corrected, in a column of its own, and a car that has none says so.
func TestBesideTheValue(t *testing.T) {
	e, logs := sample(4, 2)
	e.Protocol = append(e.Protocol, edition.Parameter{Name: "reference_soak_c", Value: -20})
	for i := range e.Standings {
		e.Standings[i].Beside = []edition.Counted{{Figure: "delay_at_reference", Value: ptr(51.25 + float64(i)), U: ptr(0.7)}}
	}
	e.Standings[1].Beside[0] = edition.Counted{Figure: "delay_at_reference", Note: "no thermal model"}
	text := written(t, e, logs, nil)
	for _, want := range []string{
		`>Plug-in to charge [min]</th><th scope="col" class="n"><span class="away">Plug-in to charge, </span>at a soak of −20 °C [min]</th>`,
		`>40.00 ± 0.50<small>50.0 points</small></td><td class="n" data-v="51.25">51.25 ± 0.70</td>`, `<td class="n">none</td>`, "at the reference soak, earns none",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the page lacks %s", want)
		}
	}
	e, logs = sample(4, 2)
	if text := written(t, e, logs, nil); strings.Contains(text, "reference soak, earns none") || strings.Count(text, "Plug-in to charge [min]</th>") != 1 {
		t.Error("the page speaks of what stands beside nothing")
	}
}

// What charges nothing counts its minutes from its start.
func TestStart(t *testing.T) {
	e, logs := sample(4, 2)
	e.Sessions[2].Procedure = "cold-drive"
	text := written(t, e, logs, nil)
	for _, kind := range []string{"Phases", "Events"} {
		if n := strings.Count(text, kind+", in minutes since the start"); n != 1 {
			t.Errorf("%s of %d sessions count from the start, want 1", kind, n)
		}
		if n := strings.Count(text, kind+", in minutes since plug-in"); n != 3 {
			t.Errorf("%s of %d sessions count from plug-in, want 3", kind, n)
		}
	}
}

// Whatever is in a name or a note, the page holds only the scripts and elements
// that are its own, and only what its policy allows by hash can run.
func TestHostileTextStaysText(t *testing.T) {
	count := func(text string) map[string]int {
		n := map[string]int{}
		for _, m := range regexp.MustCompile(`<(script|img|b|style|iframe|link|meta)\b`).FindAllStringSubmatch(text, -1) {
			n[m[1]]++
		}
		return n
	}
	e, logs := sample(6, 8)
	tame := count(written(t, e, logs, nil))
	for _, h := range hostile {
		e, logs := sample(6, 8)
		e.Title, e.Place, e.Program, e.Window.Why = h, h, h, h
		for i := range e.Vehicles {
			e.Vehicles[i].Name = h
		}
		for i := range e.Sessions {
			e.Sessions[i].Remark, e.Sessions[i].Problem, e.Sessions[i].Sources[0].Path, e.Sessions[i].Procedure = h, h, h, h
		}
		for i := range e.Results {
			e.Results[i].Note = h
		}
		for i := range e.Figures {
			e.Figures[i].Title, e.Figures[i].Unit, e.Figures[i].Method = h, h, h
		}
		for i := range e.Standings {
			e.Standings[i].Reason = h
		}
		for i := range logs {
			logs[i].Events[0].Kind, logs[i].Events[0].Text = h, h
		}
		text := written(t, e, logs, nil)
		got := count(text)
		delete(got, "b") // cars with a remark are more
		want := map[string]int{"script": tame["script"], "style": tame["style"], "link": tame["link"], "meta": tame["meta"]}
		for k := range got {
			if got[k] != want[k] {
				t.Errorf("%q: %d of <%s>, want %d", h, got[k], k, want[k])
			}
		}
		if strings.ContainsAny(text, "\u202e\x00\x1b") {
			t.Errorf("%q: characters that control are left", h)
		}
	}
}

func TestPolicyNamesItsScripts(t *testing.T) {
	e, logs := sample(3, 2)
	text := written(t, e, logs, nil)
	policy := regexp.MustCompile(`Content-Security-Policy" content="([^"]*)"`).FindStringSubmatch(text)[1]
	if !strings.HasPrefix(policy, "default-src 'none';") || strings.Contains(policy, "unsafe") || strings.Contains(policy, "http") {
		t.Errorf("policy %q", policy)
	}
	n := 0
	for _, m := range regexp.MustCompile(`(?s)<(script|style)>(.*?)</(?:script|style)>`).FindAllStringSubmatch(text, -1) {
		n++
		if !strings.Contains(policy, hash(m[2])) {
			t.Errorf("the policy forbids the %s that begins %.40q", m[1], m[2])
		}
	}
	if n != 3 {
		t.Errorf("%d scripts and styles", n)
	}
	for _, outside := range regexp.MustCompile(`<[a-z]+ [^<>]*(?:src|href|action)="?([^"> ]+)`).FindAllStringSubmatch(text, -1) {
		if !strings.HasPrefix(outside[1], "#") && outside[1] != "data:," {
			t.Errorf("points outside: %s", outside[1])
		}
	}
}

// What a place is reads the same wherever the page tells it.
func TestPlaceIsToldWhole(t *testing.T) {
	e, logs := sample(4, 2)
	var b bytes.Buffer
	if err := Write(&b, e, logs, nil, nil); err != nil {
		t.Fatal(err)
	}
	if ahead, never := strings.Count(b.String(), "by more than twice"), strings.Count(b.String(), "never better than that of a car with more points"); ahead != 2 || never != ahead {
		t.Errorf("%d times who is ahead, %d times who is not better", ahead, never)
	}
}

// Nothing is plugged in where a car is driven.
func TestFactsOfADrive(t *testing.T) {
	zero := time.Date(2026, 1, 24, 9, 30, 0, 0, time.UTC)
	for procedure, want := range map[string]string{"cold-charge": "plugged in", "cold-drive": "started", "standby": "started"} {
		got := facts(edition.Session{Procedure: procedure, Zero: zero}, edition.Log{})
		if len(got) != 1 || got[0][0] != want || got[0][1] != "24 January 2026, 09:30:00 UTC" {
			t.Errorf("%s: %q", procedure, got)
		}
	}
}

func TestCurvesAreWhatWasLogged(t *testing.T) {
	e, logs := sample(4, 2)
	logs[0].PlugS = 30
	c := newChart(e, logs)
	if len(c.Runs) != 4 || c.Whole != 3*3660+60 {
		t.Fatalf("%d runs of %d rows", len(c.Runs), c.Whole)
	}
	decode := func(steps []*int, scale float64) []float64 {
		var out []float64
		sum := 0
		for _, s := range steps {
			if s == nil {
				out = append(out, math.NaN())
				continue
			}
			sum += *s
			out = append(out, float64(sum)/scale)
		}
		return out
	}
	at, kw := decode(c.Runs[0].T, 1), decode(c.Runs[0].Pack, 10)
	k := slices.Index(at, 3000-30)
	if at[0] != -90 || k < 0 || kw[k] != 141 {
		t.Errorf("begins at %g s; the spike is at row %d", at[0], k)
	}
	for i := range kw {
		if math.Abs(kw[i]-logs[0].Trace.PackKW[i]) > 0.0501 {
			t.Fatalf("row %d is %g kW, was %g", i, kw[i], logs[0].Trace.PackKW[i])
		}
	}
	// Notes: a point in the middle of each minute, and no heater.
	notes := c.Runs[2]
	if got := decode(notes.T, 1); len(got) != 60 || got[1] != 90 || notes.Heater != nil || decode(notes.SoC, 10)[59] != 69 {
		t.Errorf("from minutes: %v", got)
	}
	if b, err := json.Marshal(c.Runs[3].On); err != nil || string(b) != "false" {
		t.Errorf("a session that is not ranked is shown at first: %s, %v", b, err)
	}
}

func TestStepsOverGaps(t *testing.T) {
	got, err := json.Marshal(steps([]float64{math.NaN(), 1.25, math.NaN(), 1, math.Inf(1), -1}, 10))
	if err != nil || string(got) != "[null,13,null,-3,null,-20]" {
		t.Errorf("%s, %v", got, err)
	}
	if steps([]float64{math.NaN()}, 10) != nil {
		t.Error("a column of nothing is a column")
	}
}

func TestValue(t *testing.T) {
	for _, c := range []struct {
		v, u float64
		want string
	}{
		{36.5416, 0.0173, "36.542 ± 0.017"}, {38.5, 1.95, "38.5 ± 2.0"}, {412.4, 31, "412 ± 31"}, {-0.001, 0.5, "0.00 ± 0.50"}, {-21.5, 0, "−21.5"}, {12, 0, "12"},
	} {
		if got := value(&c.v, &c.u); got != c.want {
			t.Errorf("%g ± %g is %q, want %q", c.v, c.u, got, c.want)
		}
	}
}

// The smallest contrast that WCAG 2.1 asks for: 4.5 for text (1.4.3), 3 for
// graphics (1.4.11), by its relative luminance.
func TestContrast(t *testing.T) {
	for _, theme := range []string{`:root {`, `:root[data-theme="dark"] {`} {
		_, block, _ := strings.Cut(pageStyle, theme)
		block, _, _ = strings.Cut(block, "}")
		colour := map[string]float64{}
		for _, m := range regexp.MustCompile(`--([a-z0-9]+): #([0-9a-f]{6})`).FindAllStringSubmatch(block, -1) {
			colour[m[1]] = luminance(t, m[2])
		}
		for name, least := range map[string]float64{"ink": 4.5, "soft": 4.5, "link": 4.5, "good": 4.5, "warn": 4.5, "bad": 4.5, "focus": 3} {
			if got := contrast(colour[name], colour["ground"]); got < least {
				t.Errorf("%s %s: contrast %.2f, want %g", theme, name, got, least)
			}
		}
		for i := range hues {
			if got := contrast(colour["c"+strconv.Itoa(i)], colour["ground"]); got < 3 {
				t.Errorf("%s line %d: contrast %.2f, want 3", theme, i, got)
			}
		}
	}
}

func luminance(t *testing.T, hex string) float64 {
	t.Helper()
	n, err := strconv.ParseUint(hex, 16, 32)
	if err != nil {
		t.Fatal(err)
	}
	part := func(shift int) float64 {
		c := float64(n>>shift&255) / 255
		if c <= 0.03928 {
			return c / 12.92
		}
		return math.Pow((c+0.055)/1.055, 2.4)
	}
	return 0.2126*part(16) + 0.7152*part(8) + 0.0722*part(0)
}

func contrast(a, b float64) float64 { return (max(a, b) + 0.05) / (min(a, b) + 0.05) }

// Beyond 200 sessions the page tells all of 200, among them those that a place rests on
// and that are asked for, and of those that could not be read why; it says so.
func TestManySessions(t *testing.T) {
	e := &edition.Edition{ID: "x", Vehicles: []edition.Vehicle{{ID: "a"}}, Figures: []edition.Defined{{Name: "f", Title: "F"}},
		Standings: []edition.Standing{{Vehicle: "a", Place: 1, Sessions: []string{"s007"}}}}
	for i := range 201 {
		id := fmt.Sprintf("s%03d", i)
		e.Sessions = append(e.Sessions, edition.Session{ID: id, Vehicle: "a"})
		e.Results = append(e.Results, edition.Figure{Session: id, Figure: "f", Status: edition.None})
		e.Gates = append(e.Gates, edition.Gate{Session: id, Gate: "g", Verdict: edition.Passed})
	}
	e.Sessions[199].Problem = "no log"
	var b bytes.Buffer
	if err := Write(&b, e, nil, nil, []string{"s200"}); err != nil {
		t.Fatal(err)
	}
	// A figure's row, the gates and the session itself; of one that could not be read no figure.
	for id, times := range map[string]int{"s007": 3, "s009": 3, "s198": 3, "s200": 3, "s199": 2} {
		if n := strings.Count(b.String(), "<small>"+id+"<") + strings.Count(b.String(), `<span class="soft">`+id); n != times {
			t.Errorf("%s stands there %d times, not %d", id, n, times)
		}
	}
	if n := strings.Count(b.String(), "200 of 201 sessions are here: those that a place rests on first, from the first place down."); n != 3 {
		t.Errorf("said %d times", n)
	}
}
