package picture

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/xml"
	"fmt"
	"image"
	"image/png"
	"io"
	"math"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/recorder"

	"coldbench/metrics/edition"
)

func ptr(v float64) *float64 { return &v }

// hostile names: what must neither break a picture nor vanish from it.
var hostile = []string{`</svg><script>alert(1)</script>`, "🚗❄️", "\u202egnp.exe", "=1+1\n\x00", strings.Repeat("Maplewood ", 30), "Ærlig Ålesund 40"}

// sample is cars of one session of an hour each; the second has a gap in its
// log and a hostile name, the last is not ranked.
func sample(names ...string) (*edition.Edition, []edition.Log) {
	e := &edition.Edition{ID: "2026-02-01T0930Z", Title: "Winter & nights <1>", Place: "Fellmoor"}
	var logs []edition.Log
	for i, name := range names {
		car, id := fmt.Sprintf("car-%d", i), fmt.Sprintf("2026-01-%02d-car-%d", 10+i, i)
		e.Vehicles = append(e.Vehicles, edition.Vehicle{ID: car, Name: name})
		e.Sessions = append(e.Sessions, edition.Session{ID: id, Vehicle: car, Procedure: "cold-charge"})
		delay := 20 + 3*float64(i)
		e.Results = append(e.Results,
			edition.Figure{Session: id, Figure: "delay_to_onset", Value: ptr(delay), U: ptr(0.5), Status: edition.Measured},
			edition.Figure{Session: id, Figure: "energy_before_onset", Value: ptr(delay / 10), U: ptr(0.1), Status: edition.Measured})
		st := edition.Standing{Vehicle: car, Place: i + 1, Lowest: i + 1, Highest: i + 2, Score: 90 - 10*float64(i), U: 2, Sessions: []string{id}}
		if i == len(names)-1 {
			st.Place = 0
		}
		e.Standings = append(e.Standings, st)
		l := edition.Log{Session: id, Phases: []edition.Phase{{Name: "heating-only", From: 0, To: 60 * delay}, {Name: "charging", From: 60 * delay, To: 3600}},
			Events: []edition.Event{{T: 0, Kind: "plug-in"}, {T: 5, Kind: "latch-failure"}, {T: 60 * delay, Kind: "note", Text: name}}}
		for s := -60; s <= 3600; s += 10 {
			kw, charger := 0.0, 5.0
			if float64(s) >= 60*delay {
				kw, charger = 60, 66
			}
			if i == 1 && s > 3000 && s < 3200 {
				kw = math.NaN()
			}
			t := &l.Trace
			t.T, t.PackKW, t.ChargerKW = append(t.T, float64(s)), append(t.PackKW, kw), append(t.ChargerKW, charger)
			t.HeaterKW, t.SoCPct = append(t.HeaterKW, math.NaN()), append(t.SoCPct, 10+max(0, float64(s)-60*delay)/60)
			t.PackMinC, t.PackKWh = append(t.PackMinC, -20+float64(s)/120), append(t.PackKWh, 0)
		}
		for m := range 60 {
			kw := 0.0
			if float64(m) >= delay {
				kw = 60
			}
			l.Minutes = append(l.Minutes, edition.Minute{Minute: m, PackKW: ptr(kw), SoCPct: ptr(10 + max(0, float64(m)-delay))})
		}
		logs = append(logs, l)
	}
	return e, logs
}

func ids(e *edition.Edition) []string {
	var out []string
	for _, s := range e.Sessions {
		out = append(out, s.ID)
	}
	return out
}

func decode(t *testing.T, p Picture, l Look, pixels int) image.Image {
	t.Helper()
	var b bytes.Buffer
	if err := p.PNG(&b, l, pixels); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	return img
}

// Pictures have the sizes of a video, a ground unless asked for none, and the
// same bytes for the same edition.
func TestPNG(t *testing.T) {
	e, logs := sample("Alder 60", "Birch 77", "Cedar 50")
	for _, p := range All(e, logs, ids(e)) {
		img := decode(t, p, Look{}, FullHD)
		if got := img.Bounds().Size(); got != image.Pt(1920, 1080) {
			t.Errorf("%s: %v, want 1920 x 1080", p.Name, got)
		}
		if _, _, _, a := img.At(3, 3).RGBA(); a != 0xffff {
			t.Errorf("%s: the ground has alpha %d, want it opaque", p.Name, a)
		}
		clear := decode(t, p, Look{Transparent: true, Dark: true}, FullHD)
		if _, _, _, a := clear.At(3, 3).RGBA(); a != 0 {
			t.Errorf("%s: a transparent ground has alpha %d", p.Name, a)
		}
		drawn := 0
		for y := 0; y < 1080; y += 2 {
			for x := 0; x < 1920; x += 2 {
				if _, _, _, a := clear.At(x, y).RGBA(); a > 0 {
					drawn++
				}
			}
		}
		if drawn < 3000 {
			t.Errorf("%s: only %d of 518,400 points are drawn on", p.Name, drawn)
		}
		var one, two bytes.Buffer
		if err := p.SVG(&one, Look{}); err != nil {
			t.Fatal(err)
		}
		if err := p.SVG(&two, Look{}); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(one.Bytes(), two.Bytes()) {
			t.Errorf("%s: its SVG differs from itself", p.Name)
		}
	}
	if got := decode(t, All(e, logs, nil)[2], Look{}, UHD).Bounds().Size(); got != image.Pt(3840, 2160) {
		t.Errorf("4K is %v, want 3840 x 2160", got)
	}
}

// What is drawn is known by its hash: text at its places, lines, colours. A
// change of a picture has to be looked at, then written here.
func TestShapes(t *testing.T) {
	e, logs := sample("Alder 60", "Birch 77", "Cedar 50")
	want := map[string]string{
		"power-over-minutes":       "26e3f908b95149d5",
		"power-over-charge":        "faa45da412899eda",
		"standings":                "cfde0293b70614cd",
		"heat-against-delay":       "b25fd3889759c706",
		"session-2026-01-11-car-1": "13b083706af01372",
	}
	seen := 0
	for _, p := range All(e, logs, []string{"2026-01-11-car-1"}) {
		sum := sha256.New()
		for _, line := range calls(p, Look{}) {
			fmt.Fprintln(sum, line)
		}
		got := hex.EncodeToString(sum.Sum(nil)[:8])
		if w, ok := want[p.Name]; !ok || got != w {
			t.Errorf("%s: shapes %s, want %s", p.Name, got, w)
		}
		seen++
	}
	if seen != len(want) {
		t.Errorf("%d pictures, want %d", seen, len(want))
	}
}

// calls are what a picture draws, a line each.
func calls(p Picture, l Look) []string {
	var c recorder.Canvas
	p.on(sized{&c}, l)
	var out []string
	for _, a := range c.Actions {
		out = append(out, a.Call())
	}
	return out
}

// sized gives a recorder the size that a canvas has.
type sized struct{ *recorder.Canvas }

func (sized) Size() (x, y vg.Length) { return width, height }

// The capitals of every text are at least 2.2 % of the picture's height:
// Liberation Sans' are 1409 of 2048 units high (its OS/2 table, sCapHeight).
func TestTextIsReadable(t *testing.T) {
	e, logs := sample("Alder 60", "Birch 77", "Cedar 50")
	texts := 0
	for _, p := range All(e, logs, ids(e)) {
		var c recorder.Canvas
		p.on(sized{&c}, Look{})
		for _, a := range c.Actions {
			if f, ok := a.(*recorder.FillString); ok {
				texts++
				if part := float64(f.Size) * 1409 / 2048 / height; part < 0.022 {
					t.Errorf("%s: %q is %.2f %% of the height", p.Name, f.String, 100*part)
				}
			}
		}
	}
	if texts < 50 {
		t.Errorf("only %d texts", texts)
	}
}

// Hostile names stay names, in whole XML; what the font lacks is a box, not a
// hole; nothing is drawn beside the canvas.
func TestHostileNames(t *testing.T) {
	e, logs := sample(hostile...)
	for _, p := range All(e, logs, ids(e)) {
		var b bytes.Buffer
		if err := p.SVG(&b, Look{}); err != nil {
			t.Fatal(err)
		}
		if bytes.Contains(b.Bytes(), []byte("<script")) {
			t.Errorf("%s: a name became markup", p.Name)
		}
		d := xml.NewDecoder(&b)
		for {
			if _, err := d.Token(); err == io.EOF {
				break
			} else if err != nil {
				t.Fatalf("%s: %v", p.Name, err)
			}
		}
	}
	for in, want := range map[string]string{"🚗❄️": "□□", "\u202egnp.exe": "gnp.exe", "a\n\x00b": "a □b", "Ærlig Ålesund 40": "Ærlig Ålesund 40"} {
		if got := fit(in, textSize, 900); got != want {
			t.Errorf("fit(%q) = %q, want %q", in, got, want)
		}
	}
	if got := fit(hostile[4], textSize, 200); !strings.HasSuffix(got, "…") {
		t.Errorf("a long name became %q", got)
	}
	// All that fits of a name, however long it is: of 300,000 letters as of 200.
	short := fit(strings.Repeat("W", 200), textSize, 900)
	if got := fit(strings.Repeat("W", 300000), textSize, 900); got != short || len(short) < 40 || fit(short, textSize, 900) != short {
		t.Errorf("%d letters are left, and %d", len(got), len(short))
	}
}

// An edition without anything to draw says so in each picture.
func TestNothingToDraw(t *testing.T) {
	for _, p := range All(&edition.Edition{}, nil, []string{"gone"}) {
		said := false
		for _, line := range calls(p, Look{}) {
			said = said || strings.Contains(line, "No ")
		}
		if !said {
			t.Errorf("%s is empty", p.Name)
		}
	}
}

// A session that charges nothing is drawn as long as the pack gives power, from
// its own start.
func TestDrive(t *testing.T) {
	e, logs := sample("Alder 60")
	e.Sessions[0].Procedure = "cold-drive"
	for i := range logs[0].Trace.T {
		logs[0].Trace.PackKW[i], logs[0].Trace.ChargerKW[i] = -12, math.NaN()
	}
	if got := lastActive(logs[0]); got != 60 {
		t.Errorf("drawn to minute %v, want 60", got)
	}
	all := strings.Join(calls(All(e, logs, ids(e))[4], Look{}), "\n")
	if !strings.Contains(all, "minutes since the start") || strings.Contains(all, "since plug-in") {
		t.Error("a drive is drawn from a plug-in")
	}
}

// A car that stands is drawn to the end of its log, though next to nothing flows.
func TestStandby(t *testing.T) {
	e, logs := sample("Alder 60")
	e.Sessions[0].Procedure = "standby"
	l := &logs[0].Trace
	for i := range l.T {
		l.T[i] = 600 * float64(i) // ten minutes a row
		l.PackKW[i], l.ChargerKW[i], l.HeaterKW[i] = -0.04, math.NaN(), math.NaN()
	}
	all := strings.Join(calls(All(e, logs, ids(e))[4], Look{}), "\n")
	if want := fmt.Sprintf("%q", fmt.Sprint(len(l.T)/100*1000)); !strings.Contains(all, want) || !strings.Contains(all, `"−0.02"`) {
		t.Errorf("no axis to minute %s, or down to -0.04 kW", want)
	}
}

func TestSteps(t *testing.T) {
	check := func(from, to float64, n int, first, last, step float64) {
		t.Helper()
		a, b, c := steps(from, to, n)
		if math.Abs(a-first)+math.Abs(b-last)+math.Abs(c-step) > 1e-9 {
			t.Errorf("steps(%v, %v, %d) = %v, %v, %v; want %v, %v, %v", from, to, n, a, b, c, first, last, step)
		}
	}
	check(0, 100, 10, 0, 100, 10)
	check(0, 87, 10, 0, 90, 10)
	check(-23, 34, 6, -40, 40, 20)
	check(0, 172, 6, 0, 200, 50)
	check(0.1, 0.35, 6, 0.1, 0.35, 0.05)
	check(5, 5, 6, 5, 6, 0.2)
}

func BenchmarkPNG(b *testing.B) {
	e, logs := sample("Alder 60", "Birch 77", "Cedar 50")
	p := All(e, logs, nil)[0]
	for _, pixels := range []int{FullHD, UHD} {
		b.Run(fmt.Sprint(pixels), func(b *testing.B) {
			for b.Loop() {
				if err := p.PNG(io.Discard, Look{}, pixels); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// Of a car with several sessions one is drawn, and its key says which. The
// points stand beside their bar with the digits that they have elsewhere.
func TestWhichNight(t *testing.T) {
	e, logs := sample("Alder 60", "Birch 77", "Cedar 50")
	e.Sessions = append(e.Sessions, edition.Session{ID: "2026-01-20-car-0", Vehicle: "car-0", Procedure: "cold-charge"},
		edition.Session{ID: "2026-01-21-car-1", Vehicle: "car-1", Procedure: "cold-drive"})
	e.Standings[0].Score, e.Standings[0].U = 96.25, 0.25
	for _, p := range All(e, logs, nil) {
		all := strings.Join(calls(p, Look{}), "\n")
		says := strings.HasPrefix(p.Name, "power-over-")
		if strings.Contains(all, "2026-01-10-car-0") != says || strings.Contains(all, "2026-01-11-car-1") || strings.Contains(all, "2026-01-20") {
			t.Errorf("%s does not say which night of which car it shows, or of a car that has but one:\n%s", p.Name, all)
		}
		if p.Name == "standings" && !strings.Contains(all, `"96.25"`) {
			t.Errorf("no 96.25 in %s", all)
		}
	}
}

// A ranked car that a picture cannot show is counted there.
func TestLeftOut(t *testing.T) {
	e, logs := sample("Alder 60", "Birch 77", "Cedar 50", "Dogwood 90")
	logs[1].Trace = edition.Trace{}
	e.Results[5].Value, e.Results[5].Status = nil, edition.None // Cedar's energy before onset
	for name, want := range map[string]string{"power-over-minutes": "and 1 more ranked", "power-over-charge": "and 1 more ranked", "heat-against-delay": "1 more ranked, without both figures"} {
		for _, p := range All(e, logs, nil) {
			if p.Name == name && !strings.Contains(strings.Join(calls(p, Look{}), "\n"), want) {
				t.Errorf("%s does not say %q", name, want)
			}
		}
	}
}

// Of a logged charge the minutes that lie within it are drawn, of a noted one all that
// was noted, to the last.
func TestPowerOverSoC(t *testing.T) {
	at := func(minutes ...int) edition.Log {
		l := edition.Log{Phases: []edition.Phase{{Name: "heating-only", To: 120}, {Name: "charging", From: 120, To: 300}, {Name: "taper", From: 300, To: 600}}}
		for _, m := range minutes {
			soc, kw := float64(m), 50.0
			l.Minutes = append(l.Minutes, edition.Minute{Minute: m, SoCPct: &soc, PackKW: &kw})
		}
		return l
	}
	for _, c := range []struct{ minutes, want []int }{
		{[]int{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10}, []int{2, 3, 4, 5, 6, 7, 8, 9}},
		{[]int{0, 2, 6, 10, 12}, []int{2, 6, 10}},
	} {
		soc, kw := powerOverSoC(at(c.minutes...))
		var got []int
		for _, x := range soc {
			got = append(got, int(x))
		}
		if !slices.Equal(got, c.want) || len(kw) != len(soc) {
			t.Errorf("of minutes %v %v are drawn, want %v", c.minutes, got, c.want)
		}
	}
}
