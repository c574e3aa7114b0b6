package page

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"coldbench/metrics/edition"
)

// hostile names a car: what must stay text.
const hostile = `</script><script>document.title="taken"</script><b onmouseover="document.title='taken'">=1+1 ` + "\u202eסוס 🚗"

// sample is three cars: the second has a hostile name, the third is not ranked.
func sample() (*edition.Edition, []edition.Log) {
	f := func(v float64) *float64 { return &v }
	e := &edition.Edition{ID: "2026-02-01T0930Z", At: time.Date(2026, 2, 1, 9, 30, 0, 0, time.UTC), Program: "test", Title: "Winter nights", Place: "Fellmoor",
		Window:   edition.Window{FromPct: 10, ToPct: 70, Why: "the largest"},
		Scales:   []edition.Scale{{Figure: "delay_to_onset", Category: "delay", Zero: 90, Full: 0, Weight: 1}},
		Figures:  []edition.Defined{{Name: "delay_to_onset", Title: "Plug-in to charge", Unit: "min", Better: "lower"}},
		Vehicles: []edition.Vehicle{{ID: "alder", Name: "Alder 60"}, {ID: "birch", Name: hostile}, {ID: "cedar", Name: strings.Repeat("Cedar ", 50)}},
		Rules:    []edition.Rule{{Gate: "soak-length", Title: "Soak long enough", Action: "fail"}},
	}
	var logs []edition.Log
	for i, car := range []string{"alder", "birch", "cedar"} {
		id := "2026-01-1" + fmt.Sprint(i) + "-" + car
		delay := float64(40 - 10*i)
		e.Sessions = append(e.Sessions, edition.Session{ID: id, Vehicle: car, Procedure: "cold-charge", Remark: hostile,
			Sources: []edition.Source{{Path: "sessions/" + id + "/car.csv", SHA256: strings.Repeat("ab", 32), RowsRead: 100, RowsKept: 99, Aside: 1}}})
		e.Results = append(e.Results, edition.Figure{Session: id, Figure: "delay_to_onset", Value: f(delay), U: f(0.5), Unit: "min", Status: edition.Fallback, Note: hostile})
		e.Gates = append(e.Gates, edition.Gate{Session: id, Gate: "soak-length", Verdict: edition.Passed, Reason: "soaked 30.0 h"})
		st := edition.Standing{Vehicle: car, Place: 2 - i, Lowest: 1, Highest: 2, Score: 50 + float64(10*i), U: 1, Sessions: []string{id},
			Values: []edition.Counted{{Figure: "delay_to_onset", Value: f(delay), U: f(0.5), Points: 50}}}
		if i == 2 {
			st.Place, st.Reason, st.Sessions = 0, "fails soak-length: soaked 2.0 h", nil
		}
		e.Standings = append(e.Standings, st)
		l := edition.Log{Session: id}
		for m := range 70 {
			kw := 0.0
			if float64(m) >= delay {
				kw = 60
			}
			l.Minutes = append(l.Minutes, edition.Minute{Minute: m, PackKW: f(kw), ChargerKW: f(kw + 6), SoCPct: f(10 + max(0, float64(m)-delay)), PackMinC: f(-20 + float64(m)/2), PackKWh: f(max(0, float64(m)-delay))})
		}
		logs = append(logs, l)
	}
	e.Standings[0], e.Standings[1] = e.Standings[1], e.Standings[0]
	return e, logs
}

func TestSameBytes(t *testing.T) {
	var a, b bytes.Buffer
	for _, w := range []*bytes.Buffer{&a, &b} {
		e, logs := sample()
		if err := Write(w, e, logs); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Error("the same edition gave two pages")
	}
	if strings.Contains(a.String(), `</script><script>document.title`) || strings.Contains(a.String(), "<b onmouseover") {
		t.Error("a name became markup")
	}
	for _, want := range []string{"Alder 60", "40.00 ± 0.50", "is not ranked", "soaked 2.0 h", strings.Repeat("ab", 32), "Cold injury"} {
		if !strings.Contains(a.String(), want) {
			t.Errorf("the page lacks %q", want)
		}
	}
}

// A browser for the page: Debian's, which `make deps` installs.
func browser(t *testing.T) (context.Context, string) {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		t.Fatal("chromium is not installed; `make deps` installs it")
	}
	e, logs := sample()
	name := filepath.Join(t.TempDir(), "report.html")
	f, err := os.Create(name)
	if err != nil {
		t.Fatal(err)
	}
	if err := Write(f, e, logs); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.Flag("disable-background-networking", true), chromedp.WindowSize(1100, 900))
	alloc, cancel := chromedp.NewExecAllocator(context.Background(), opts...)
	t.Cleanup(cancel)
	ctx, cancel := chromedp.NewContext(alloc)
	t.Cleanup(cancel)
	ctx, cancel = context.WithTimeout(ctx, time.Minute)
	t.Cleanup(cancel)
	return ctx, "file://" + name
}

// The page as a viewer uses it: sorting, choosing, another axis, dark, the
// keyboard, zoom, a phone; and nothing asked of anybody.
func TestInChromium(t *testing.T) {
	ctx, url := browser(t)
	var mu sync.Mutex
	var asked, trouble []string
	chromedp.ListenTarget(ctx, func(ev any) {
		mu.Lock()
		defer mu.Unlock()
		switch ev := ev.(type) {
		case *network.EventRequestWillBeSent:
			if ev.Request.URL != url && !strings.HasPrefix(ev.Request.URL, "data:") {
				asked = append(asked, ev.Request.URL)
			}
		case *runtime.EventExceptionThrown:
			trouble = append(trouble, ev.ExceptionDetails.Error())
		case *runtime.EventConsoleAPICalled:
			trouble = append(trouble, fmt.Sprint(ev.Type))
		}
	})
	text := func(js string, want any) chromedp.Action {
		return chromedp.ActionFunc(func(ctx context.Context) error {
			var got any
			if err := chromedp.Evaluate(js, &got).Do(ctx); err != nil {
				return fmt.Errorf("%s: %w", js, err)
			}
			if fmt.Sprint(got) != fmt.Sprint(want) {
				t.Errorf("%s is %v, want %v", js, got, want)
			}
			return nil
		})
	}
	const first = `document.querySelector("#standings tbody tr th").textContent.slice(0, 5)`
	const label = `document.getElementById("chart").getAttribute("aria-label").slice(0, 60)`
	err := chromedp.Run(ctx,
		network.Enable(), runtime.Enable(),
		chromedp.Navigate(url),
		chromedp.WaitVisible("#chart canvas"),
		text(`document.title`, "Winter nights, edition 2026-02-01T0930Z"),
		text(`document.querySelectorAll("script").length`, 3), // the data, the library, ours: no name became one
		text(first, "</scr"),
		// Sort by the delay, lowest first, then highest first; the headers say so.
		chromedp.Click("#standings thead th:nth-child(5) button"),
		text(first, "</scr"),
		text(`document.querySelector("#standings th:nth-child(5)").getAttribute("aria-sort")`, "ascending"),
		chromedp.Click("#standings thead th:nth-child(5) button"),
		text(first, "Alder"),
		text(`document.querySelectorAll("[aria-sort]").length`, 1),
		// The ranked sessions are drawn; one more, or one less, is a box away.
		text(`document.querySelectorAll("#cars input:checked").length`, 2),
		text(`document.querySelectorAll(".u-legend .u-series").length`, 3),
		chromedp.Click("#cars label:nth-of-type(3) input"),
		text(`document.querySelectorAll(".u-legend .u-series").length`, 4),
		// Another axis, by the keyboard.
		text(label, "Chart: power into the pack [kW] over minutes since plug-in, "),
		chromedp.Focus(`input[name=x][value=min]`),
		chromedp.KeyEvent("\u0303"), // arrow right, as chromedp names it
		text(label, "Chart: power into the pack [kW] over displayed charge [%], A"),
		chromedp.Click(`input[name=x][value=cold]`),
		text(label, "Chart: power into the pack [kW] over coldest pack temperature"[:60]),
		chromedp.Click(`input[name=x][value=min]`),
		chromedp.Click(`input[name=y][value=soc]`),
		text(label, "Chart: displayed charge [%] over minutes since plug-in, Alde"),
		// Dark and light.
		text(`document.documentElement.classList.contains("dark")`, false),
		text(`(() => { scrollTo(0, 0); const r = document.getElementById("shade").getBoundingClientRect(); return document.elementFromPoint(r.x + 5, r.y + 5).id })()`, "shade"),
		chromedp.Evaluate(`document.getElementById("shade").focus()`, nil),
		chromedp.KeyEvent(" "), // by the keyboard
		text(`document.documentElement.classList.contains("dark") && getComputedStyle(document.body).backgroundColor`, "rgb(20, 25, 31)"),
		text(`document.getElementById("shade").getAttribute("aria-pressed")`, "true"),
		// A drag over the chart makes a part of it larger.
		chromedp.ScrollIntoView("#chart"),
		chromedp.Evaluate(`(() => { const o = document.querySelector(".u-over"), r = o.getBoundingClientRect();
			const at = (type, x) => o.dispatchEvent(new MouseEvent(type, {bubbles: true, clientX: r.left + x, clientY: r.top + 50, button: 0}));
			at("mouseenter", 50); at("mousemove", 50); at("mousedown", 50); })()`, nil),
		chromedp.Evaluate(`(() => { const o = document.querySelector(".u-over"), r = o.getBoundingClientRect();
			for (const type of ["mousemove", "mouseup"]) document.dispatchEvent(new MouseEvent(type, {bubbles: true, clientX: r.left + 250, clientY: r.top + 50, button: 0})); })()`, nil),
		// Evidence on demand.
		chromedp.Click("details summary"),
		text(`document.querySelector("details").open`, true),
		// A phone: the page itself does not scroll sideways.
		emulation.SetDeviceMetricsOverride(360, 740, 2, true),
		chromedp.Sleep(200*time.Millisecond),
		text(`document.documentElement.scrollWidth <= 360`, true),
	)
	if err != nil {
		t.Fatal(err)
	}
	mu.Lock()
	defer mu.Unlock()
	if asked != nil || trouble != nil {
		t.Errorf("asked for %v, in trouble with %v", asked, trouble)
	}
}

// BenchmarkWrite writes the page of 20 sessions of 100 minutes.
func BenchmarkWrite(b *testing.B) {
	e, logs := sample()
	for i := range 17 {
		l := logs[i%3]
		l.Session = fmt.Sprint("extra-", i)
		logs = append(logs, l)
	}
	for b.Loop() {
		var out bytes.Buffer
		if err := Write(&out, e, logs); err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(out.Len()), "bytes")
	}
}
