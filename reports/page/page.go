// Package page writes an edition as one HTML file that needs nothing else: no
// network, no other file, under a content policy that lets nothing in. It shows
// the standings, the figures with their uncertainty and evidence, the gates, and
// the charges as charts.
//
// It computes nothing that a figure could hold: its charts are the edition's
// minute-by-minute logs. The same edition gives the same bytes.
package page

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"math"
	"strconv"

	"coldbench/metrics/edition"
	"coldbench/reports/caution"
)

//go:embed page.html
var markup string

//go:embed page.css
var style string

//go:embed page.js
var script string

// uPlot 1.6.32, MIT, from the npm registry; its licence lies beside it.
var (
	//go:embed vendor/uPlot.iife.min.js
	plotScript string
	//go:embed vendor/uPlot.min.css
	plotStyle string
)

var tmpl = template.Must(template.New("page").Funcs(template.FuncMap{"value": value}).Parse(markup))

// A run is one session as the charts take it: columns of its minutes, null where
// nothing was logged.
type run struct {
	ID      string     `json:"id"`
	Car     string     `json:"car"`
	Ranked  bool       `json:"ranked"`
	Min     []*float64 `json:"min"`
	Pack    []*float64 `json:"pack"`
	Charger []*float64 `json:"charger"`
	Heater  []*float64 `json:"heater"`
	SoC     []*float64 `json:"soc"`
	Cold    []*float64 `json:"cold"`
	KWh     []*float64 `json:"kwh"`
}

type content struct {
	E        *edition.Edition
	Policy   template.HTMLAttr
	Style    template.CSS
	Plot     template.JS
	Script   template.JS
	Runs     []run
	Cautions []caution.Caution
}

// Write writes the page of an edition and its logs.
func Write(w io.Writer, e *edition.Edition, logs []edition.Log) error {
	c := content{E: e, Style: template.CSS(plotStyle + style), Plot: template.JS(plotScript), Script: template.JS(script), Cautions: caution.All()}
	ranked := map[string]bool{}
	for _, s := range e.Standings {
		for _, id := range s.Sessions {
			ranked[id] = s.Place > 0
		}
	}
	car := map[string]string{}
	for _, s := range e.Sessions {
		car[s.ID] = e.Name(s.Vehicle)
	}
	for _, l := range logs {
		if len(l.Minutes) > 0 {
			c.Runs = append(c.Runs, columns(l, car[l.Session], ranked[l.Session]))
		}
	}
	// Only these scripts run and only this style holds: nothing from outside, and
	// nothing that a name or a note could smuggle in. The library places its
	// pieces by style attributes.
	c.Policy = template.HTMLAttr(fmt.Sprintf(`content="default-src 'none'; script-src %s %s; style-src 'unsafe-inline'; img-src data:"`, hash(plotScript), hash(script)))
	var b bytes.Buffer
	if err := tmpl.Execute(&b, c); err != nil {
		return fmt.Errorf("page: %w", err)
	}
	if _, err := b.WriteTo(w); err != nil {
		return fmt.Errorf("page: %w", err)
	}
	return nil
}

func hash(text string) string {
	sum := sha256.Sum256([]byte(text))
	return "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
}

func columns(l edition.Log, car string, ranked bool) run {
	r := run{ID: l.Session, Car: car, Ranked: ranked}
	for _, m := range l.Minutes {
		at := float64(m.Minute)
		r.Min = append(r.Min, &at)
		r.Pack = append(r.Pack, short(m.PackKW))
		r.Charger = append(r.Charger, short(m.ChargerKW))
		r.Heater = append(r.Heater, short(m.HeaterKW))
		r.SoC = append(r.SoC, short(m.SoCPct))
		r.Cold = append(r.Cold, short(m.PackMinC))
		r.KWh = append(r.KWh, short(m.PackKWh))
	}
	return r
}

// short rounds a number to what a chart shows.
func short(v *float64) *float64 {
	if v == nil {
		return nil
	}
	r := math.Round(*v*100) / 100
	return &r
}

// value is a figure for people: its digits are those that its uncertainty allows.
func value(v, u *float64) string {
	if v == nil {
		return "none"
	}
	if u == nil || *u <= 0 {
		return strconv.FormatFloat(*v, 'g', 4, 64)
	}
	digits := min(max(1-int(math.Floor(math.Log10(*u))), 0), 4)
	return strconv.FormatFloat(*v, 'f', digits, 64) + " ± " + strconv.FormatFloat(*u, 'f', digits, 64)
}
