package page

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"coldbench/metrics/edition"
)

// A viewer is Chromium with a page open, and what it did that no page should.
type viewer struct {
	*testing.T
	ctx context.Context
	url string

	mu      sync.Mutex
	asked   []string // requests beside the page itself
	trouble []string // errors, and what the policy forbade
}

// open writes the edition's page and opens it in a window of width x height.
func open(t *testing.T, e *edition.Edition, logs []edition.Log, width, height int64) *viewer {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		t.Fatal("chromium is not installed; `make deps` installs it")
	}
	name := filepath.Join(t.TempDir(), "report.html")
	before, _ := sample(5, 3)
	before.ID = "2026-01-20T0000Z"
	if err := os.WriteFile(name, []byte(written(t, e, logs, before)), 0o644); err != nil {
		t.Fatal(err)
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.Flag("disable-background-networking", true))
	alloc, cancel := chromedp.NewExecAllocator(t.Context(), opts...)
	t.Cleanup(cancel)
	ctx, cancel := chromedp.NewContext(alloc)
	t.Cleanup(cancel)
	ctx, cancel = context.WithTimeout(ctx, 2*time.Minute)
	t.Cleanup(cancel)
	v := &viewer{T: t, ctx: ctx, url: "file://" + name}
	chromedp.ListenTarget(ctx, func(ev any) {
		v.mu.Lock()
		defer v.mu.Unlock()
		switch ev := ev.(type) {
		case *network.EventRequestWillBeSent:
			if ev.Request.URL != v.url && !strings.HasPrefix(ev.Request.URL, "data:") {
				v.asked = append(v.asked, ev.Request.URL)
			}
		case *runtime.EventExceptionThrown:
			v.trouble = append(v.trouble, ev.ExceptionDetails.Error())
		case *log.EventEntryAdded:
			v.trouble = append(v.trouble, ev.Entry.Text)
		}
	})
	v.do(network.Enable(), log.Enable(), emulation.SetDeviceMetricsOverride(width, height, 1, width < 500),
		emulation.SetTouchEmulationEnabled(width < 500),
		emulation.SetEmulatedMedia().WithFeatures([]*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: "light"}, {Name: "prefers-reduced-motion", Value: "reduce"}}),
		chromedp.Navigate(v.url))
	t.Cleanup(func() {
		v.mu.Lock()
		defer v.mu.Unlock()
		if v.asked != nil || v.trouble != nil {
			t.Errorf("asked for %q, in trouble with %q", v.asked, v.trouble)
		}
	})
	return v
}

func (v *viewer) do(actions ...chromedp.Action) {
	v.Helper()
	if err := chromedp.Run(v.ctx, actions...); err != nil {
		v.Fatal(err)
	}
}

// is holds what an expression gives, as text, against want; the page may need a
// moment to get there.
func (v *viewer) is(what, expression, want string) {
	v.Helper()
	var got string
	for range 40 {
		v.do(chromedp.Evaluate("String("+expression+")", &got))
		if got == want {
			return
		}
		time.Sleep(25 * time.Millisecond)
	}
	v.Errorf("%s: %q, want %q", what, got, want)
}

// key types a key wherever the focus is.
func (v *viewer) key(keys string) {
	v.Helper()
	v.do(chromedp.KeyEvent(keys))
}

// chart is the place in the window of a part of the chart, from 0 to 1 across.
func (v *viewer) chart(part float64) (x, y float64) {
	v.Helper()
	var at struct{ X, Y, W, H float64 }
	v.do(chromedp.Evaluate(`(() => { document.getElementById("chart").scrollIntoView({block: "center"}); const r = document.querySelector(".u-over").getBoundingClientRect(); return {X: r.x, Y: r.y, W: r.width, H: r.height}; })()`, &at))
	return at.X + part*at.W, at.Y + at.H/2
}

const (
	column1 = `Array.from(document.querySelectorAll(".rank tbody th"), (t) => t.textContent.slice(0, 8)).join()`
	shown   = `document.querySelectorAll("#legend input:checked").length`
	values  = `Array.from(document.querySelectorAll("#legend td.n"), (t) => t.textContent).filter(Boolean).join()`
	where   = `document.getElementById("where").textContent`
	label   = `document.getElementById("chart").getAttribute("aria-label")`
)

func TestSorting(t *testing.T) {
	e, logs := sample(4, 3)
	v := open(t, e, logs, 1100, 900)
	head := func(n string) string { return ".rank thead th:nth-child(" + n + ") button" }
	v.is("as the edition has it", column1, "Alder 40,</script,Alder 42,Alder 43")
	v.is("is said", `document.querySelector(".rank th:nth-child(1)").getAttribute("aria-sort")`, "ascending")
	v.do(chromedp.Click(head("6"), chromedp.ByQuery))
	v.is("by delay, no value last", column1, "Alder 42,</script,Alder 40,Alder 43")
	v.is("is said", `document.querySelector(".rank th:nth-child(6)").getAttribute("aria-sort")`, "ascending")
	v.is("of one column only", `document.querySelectorAll(".rank [aria-sort]").length`, "1")
	v.do(chromedp.Focus(head("6"), chromedp.ByQuery))
	v.key(kb.Enter)
	v.is("by the keyboard the other way round, no value last", column1, "Alder 40,</script,Alder 42,Alder 43")
	v.do(chromedp.Focus(head("5"), chromedp.ByQuery))
	v.key("\t")
	v.is("tab goes on to the next column", `document.activeElement.textContent`, "Plug-in to charge [min]")
	v.do(chromedp.Click(".rank thead th:nth-child(2) button", chromedp.ByQuery))
	v.is("by name", column1, "</script,Alder 40,Alder 42,Alder 43")
}

func TestCharts(t *testing.T) {
	e, logs := sample(4, 3)
	v := open(t, e, logs, 1100, 900)
	v.is("drawn", label, "power into the pack [kW] over minutes since plug-in, 3 sessions")
	v.is("only ranked sessions", shown, "3")
	v.do(chromedp.Click("#all", chromedp.ByQuery))
	v.is("all", shown, "4")
	v.do(chromedp.Click("#legend tr:nth-child(4) input", chromedp.ByQuery))
	v.is("one less", label, "power into the pack [kW] over minutes since plug-in, 3 sessions")
	v.do(chromedp.Click("#legend tr:nth-child(3) input", chromedp.ByQuery), chromedp.Click("#legend tr:nth-child(2) input", chromedp.ByQuery))

	// Hovering: 141 kW for one second at minute 50 of 62 shown (-1 to 60 and 2 %).
	x, y := v.chart((50 + 1.0) / (59.98 + 1 + 0.02*60.98))
	v.do(chromedp.MouseEvent(input.MouseMoved, x, y))
	v.is("read-out", where, "At 50.0 min:")
	v.is("value", values, "141.0 kW")

	// Dragging makes a part larger, the button brings the whole back.
	a, y := v.chart(0.5)
	b, _ := v.chart(0.75)
	v.do(chromedp.MouseEvent(input.MousePressed, a, y, chromedp.ButtonLeft), chromedp.MouseEvent(input.MouseMoved, (a+b)/2, y, chromedp.ButtonLeft),
		chromedp.MouseEvent(input.MouseMoved, b, y, chromedp.ButtonLeft), chromedp.MouseEvent(input.MouseReleased, b, y, chromedp.ButtonLeft))
	x, y = v.chart(0.001)
	v.do(chromedp.MouseEvent(input.MouseMoved, x, y))
	v.is("left edge after a drag", where, "At 30.1 min:")
	v.do(chromedp.Click("#whole", chromedp.ByQuery))
	x, y = v.chart(0.001)
	v.do(chromedp.MouseEvent(input.MouseMoved, x+1, y), chromedp.MouseEvent(input.MouseMoved, x, y))
	v.is("left edge of the whole", where, "At −1.0 min:")

	// The keyboard: read, zoom, back.
	v.do(chromedp.Focus("#chart", chromedp.ByQuery))
	v.key("0" + kb.End)
	v.is("right end", where, "At 61.2 min:")
	v.key(kb.Home + "+")
	v.key(kb.End)
	v.is("right end after zooming in at the left", where, "At 30.1 min:")
	v.key("0" + kb.End)
	v.is("right end of the whole", where, "At 61.2 min:")

	// Other axes.
	choose := func(id, k string) {
		v.do(chromedp.SetValue("#"+id, k, chromedp.ByQuery), chromedp.Evaluate(`document.getElementById("`+id+`").dispatchEvent(new Event("change"))`, nil))
	}
	for k, name := range map[string]string{"soc": "displayed charge [%]", "kwh": "energy into the pack [kWh]", "cold": "coldest pack temperature [°C]"} {
		choose("x", k)
		v.is("axis", label, "power into the pack [kW] over "+name+", 1 session")
		v.is("nothing is read yet", values, "")
		x, y := v.chart(0.6)
		v.do(chromedp.MouseEvent(input.MouseMoved, x, y-1), chromedp.MouseEvent(input.MouseMoved, x, y))
		v.is("a value over "+k, values+`.endsWith(" kW")`, "true")
	}
	choose("x", "soc")
	choose("y", "cold")
	v.is("pack temperature", label, "coldest pack temperature [°C] over displayed charge [%], 1 session")

	// Evidence is shown in the chart: minutes, the session, the stretch.
	v.do(chromedp.Click("#none", chromedp.ByQuery))
	v.is("none", shown, "0")
	v.do(chromedp.Click("#figures ~ details.group details.figure summary", chromedp.ByQuery), chromedp.Click("details.figure [data-e]", chromedp.ByQuery))
	v.is("its session alone", shown, "1")
	v.is("power over minutes", label, "power into the pack [kW] over minutes since plug-in, 1 session")
	v.is("the chart has the focus", "document.activeElement.id", "chart")
	v.key(kb.End)
	v.is("to the end of the stretch and 15 % on", where, "At 46.0 min:")
}

// The axis says from what minutes count, of the sessions that are shown.
func TestAxisOfADrive(t *testing.T) {
	e, logs := sample(4, 3)
	e.Sessions[0].Procedure = "cold-drive"
	v := open(t, e, logs, 1100, 900)
	v.is("both", label, "power into the pack [kW] over minutes since plug-in or the start, 3 sessions")
	v.do(chromedp.Click("#legend tr:nth-child(1) input", chromedp.ByQuery))
	v.is("charges", label, "power into the pack [kW] over minutes since plug-in, 2 sessions")
	v.do(chromedp.Click("#none", chromedp.ByQuery), chromedp.Click("#legend tr:nth-child(1) input", chromedp.ByQuery))
	v.is("a drive", label, "power into the pack [kW] over minutes since the start, 1 session")
	v.is("the choice of axes", `document.getElementById("x").options[0].textContent`, "minutes")
}

func TestThemes(t *testing.T) {
	e, logs := sample(4, 3)
	v := open(t, e, logs, 1100, 900)
	ground := `getComputedStyle(document.body).backgroundColor`
	v.is("light, as the device is", ground, "rgb(255, 255, 255)")
	v.do(chromedp.Focus("#shade", chromedp.ByQuery))
	v.key(" ")
	v.is("dark", ground, "rgb(18, 24, 30)")
	v.is("is said", `document.getElementById("shade").getAttribute("aria-pressed")`, "true")
	v.is("focus is seen", `getComputedStyle(document.activeElement).outlineStyle`, "solid")
	v.do(chromedp.Click("#shade", chromedp.ByQuery))
	v.is("light again", ground, "rgb(255, 255, 255)")
	v.do(emulation.SetEmulatedMedia().WithFeatures([]*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: "dark"}}))
	v.is("follows the device", ground, "rgb(18, 24, 30)")
	// Paper is white all the same.
	var pdf []byte
	v.do(chromedp.ActionFunc(func(ctx context.Context) (err error) { pdf, _, err = page.PrintToPDF().Do(ctx); return err }))
	if len(pdf) < 10000 {
		t.Errorf("a print of %d bytes", len(pdf))
	}
	v.is("dark after printing", ground, "rgb(18, 24, 30)")
}

// A phone, and names as bad as they get: nothing is wider than the screen but what
// scrolls in itself, and no name becomes more than text.
func TestPhoneWithHostileNames(t *testing.T) {
	e, logs := sample(12, 3)
	e.Title, e.Place = hostile[7], hostile[2]
	for i := range e.Vehicles {
		e.Vehicles[i].Name = hostile[i%len(hostile)]
	}
	for i := range e.Results {
		e.Results[i].Note = hostile[i%len(hostile)]
	}
	for i := range e.Standings {
		for range e.Scales {
			e.Standings[i].Beside = append(e.Standings[i].Beside, edition.Counted{Figure: "delay_at_reference", Value: ptr(51.25), U: ptr(0.7)})
		}
	}
	e.Categories = []edition.Category{{Name: hostile[1], Cars: []edition.InCategory{{Vehicle: e.Vehicles[1].ID, Place: 1, Lowest: 1, Highest: 12, Score: 57.2, U: 2.2}}}}
	e.Windows = []edition.Compared{{Title: hostile[2], Times: []edition.Timed{{Vehicle: e.Vehicles[2].ID, Value: 27.7, U: 0.3, Place: 2, Gained: -1}}}}
	v := open(t, e, logs, 360, 740)
	narrow := `document.documentElement.scrollWidth <= 360`
	v.is("no wider than the phone", narrow, "true")
	v.do(chromedp.Evaluate(`document.querySelectorAll("details").forEach((d) => { d.open = true; })`, nil))
	v.is("nor with everything open", narrow, "true")
	v.is("nothing sticks out", `Array.from(document.querySelectorAll("main *")).filter((x) => !x.closest(".wide, svg, .away, .uplot") && x.getBoundingClientRect().right > 361).length`, "0")
	v.is("what is wide scrolls", `(() => { const w = document.querySelector(".wide"); return w.scrollWidth > w.clientWidth; })()`, "true")
	v.is("no script of a name ran", `document.title.includes("taken") || document.querySelectorAll("img, [onmouseover]").length > 0`, "false")
	v.is("formulas are text", `document.querySelector(".rank").textContent.includes("=1+1")`, "true")
	// A finger reads values.
	x, y := v.chart(0.8)
	v.do(input.DispatchTouchEvent(input.TouchStart, []*input.TouchPoint{{X: x, Y: y}}), input.DispatchTouchEvent(input.TouchEnd, []*input.TouchPoint{}))
	v.is("a touch reads", where+`.startsWith("At ")`, "true")
	v.is("a value", values+`.includes("kW")`, "true")
	// Two fingers zoom: from 40 % apart to all of it.
	a, _ := v.chart(0.3)
	b, _ := v.chart(0.7)
	c, _ := v.chart(0.02)
	d, _ := v.chart(0.98)
	v.do(input.DispatchTouchEvent(input.TouchStart, []*input.TouchPoint{{X: a, Y: y}, {X: b, Y: y}}),
		input.DispatchTouchEvent(input.TouchMove, []*input.TouchPoint{{X: c, Y: y}, {X: d, Y: y}}), input.DispatchTouchEvent(input.TouchEnd, []*input.TouchPoint{}))
	v.do(chromedp.Focus("#chart", chromedp.ByQuery))
	v.key(kb.End)
	v.is("the right end is nearer", `parseFloat(`+where+`.slice(3)) < 50`, "true")
}

// With scripts off the tables are all there.
func TestWithoutScripts(t *testing.T) {
	e, logs := sample(4, 3)
	v := open(t, e, logs, 1100, 900)
	v.do(emulation.SetScriptExecutionDisabled(true), chromedp.Navigate(v.url))
	var text string
	v.do(chromedp.Text("main", &text, chromedp.ByQuery))
	for _, want := range []string{"The charts need scripts", "Alder 40", "fails soak-length", "What moved"} {
		if !strings.Contains(text, want) {
			t.Errorf("lacks %q", want)
		}
	}
}

// Finding a figure among many, and what a screen reader needs: a caption for every
// table, a name for every control.
func TestFindingAndNames(t *testing.T) {
	e, logs := sample(4, 30)
	v := open(t, e, logs, 1100, 900)
	v.do(chromedp.SendKeys("#find", "number 17", chromedp.ByQuery))
	v.is("found", `Array.from(document.querySelectorAll("details.figure"), (f) => f.checkVisibility() ? f.querySelector("summary").textContent : "").filter(Boolean).join()`, "A figure of the charge, number 17 [kWh]")
	v.is("is said", `document.getElementById("found").textContent`, "1 found")
	v.is("tables without a caption", `Array.from(document.querySelectorAll("main table")).filter((t) => !t.caption || !t.caption.textContent.trim()).length`, "0")
	v.is("controls without a name", `Array.from(document.querySelectorAll("button, input, select")).filter((c) => !(c.getAttribute("aria-label") || c.textContent.trim() || c.labels && c.labels.length)).length`, "0")
	v.is("regions that scroll can be reached", `Array.from(document.querySelectorAll(".wide")).filter((w) => w.tabIndex !== 0 || !w.getAttribute("aria-label")).length`, "0")
	v.is("headings", `document.querySelectorAll("h1").length`, "1")
	v.is("links within the page lead somewhere", `Array.from(document.querySelectorAll('a[href^="#"]')).filter((a) => !document.getElementById(a.getAttribute("href").slice(1))).length`, "0")
}
