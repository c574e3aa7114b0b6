// Package page writes an edition as one HTML file that needs nothing else: no
// network, no other file, under a content policy that lets nothing in. It is
// made for a viewer with a phone: the standings first, then what moved, the
// charges as charts, every figure with its uncertainty and evidence, the gates,
// the sources.
//
// It computes nothing that a figure could hold: it rounds numbers for show and
// draws the traces of the logs as they come. The same edition, logs and edition
// before give the same bytes.
package page

import (
	"bufio"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"slices"
	"strings"

	"coldbench/metrics/edition"
	"coldbench/reports/caution"
)

// uPlot 1.6.32, MIT, from the npm registry; its licence lies beside it.
var (
	//go:embed vendor/uPlot.iife.min.js
	plotScript string
	//go:embed vendor/uPlot.min.css
	plotStyle string
	//go:embed chart.js
	chartScript string
	//go:embed page.js
	pageScript string
	//go:embed page.css
	pageStyle string
	//go:embed page.html
	pageMarkup string
)

var (
	scripts = []template.JS{template.JS(plotScript), template.JS(chartScript + pageScript)}
	style   = template.CSS(plotStyle + pageStyle)
	markup  = template.Must(template.New("page").Funcs(template.FuncMap{
		"clean": clean, "unit": unit, "mixed": mixed, "short": short, "value": value, "thousands": thousands, "percent": percent, "fixed": fixed,
		"both": func(v, u float64) string { return value(&v, &u) }, "span": span, "gained": gained,
	}).Parse(tight(pageMarkup)))
)

// tight leaves out the indentation of the template, which every row would repeat.
func tight(s string) string {
	var b strings.Builder
	for line := range strings.Lines(s) {
		b.WriteString(strings.TrimLeft(line, "\t"))
	}
	return b.String()
}

// content is what the template takes.
type content struct {
	E         *edition.Edition
	Policy    template.HTMLAttr
	Style     template.CSS
	Scripts   []template.JS
	Since     string // the edition before, or ""
	Moved     []edition.Change
	Cars      string
	Tests     string
	Heads     []standingHead
	Rows      []standingRow
	Corrected bool        // some figure stands beside the one that earns points
	Out       [][2]string // cars that are not ranked, and why
	Weak      [][2]string // ranked cars, and what is to be said of them
	Partly    string      // of which sessions all is told, "" for all
	Groups    []group
	Sessions  []session
	Inputs    []edition.Input // that are no session's source
	Chart     chart
	Words     [][2]string
	Defer     string
	Cautions  []caution.Caution
}

// Write writes the page of an edition and its logs. before is the edition that
// went before it in the series, nil if there is none: the page then says nothing
// of what moved. asked are sessions of which it tells all however many there are.
func Write(w io.Writer, e *edition.Edition, logs []edition.Log, before *edition.Edition, asked []string) error {
	c := content{E: e, Policy: policy(), Style: style, Scripts: scripts, Words: words, Defer: caution.Defer, Cautions: caution.All()}
	if before != nil {
		c.Since, c.Moved = before.ID, edition.Compare(before, e)
	}
	c.Cars, c.Tests = cars(e), procedures(e)
	c.Heads, c.Rows = standingRows(e)
	c.Corrected = slices.ContainsFunc(c.Heads, func(h standingHead) bool { return h.Beside != "" })
	c.Out, c.Weak = remarks(e)
	c.Chart = newChart(e, logs)
	detailed := e.Detailed(asked)
	c.Partly = e.Partly(asked)
	c.Groups = groups(e, c.Chart, logs, detailed)
	c.Sessions = sessions(e, c.Chart, logs, detailed)
	c.Inputs = inputs(e)
	b := bufio.NewWriterSize(w, 1<<16)
	if err := markup.Execute(b, c); err != nil {
		return fmt.Errorf("page: %w", err)
	}
	if err := b.Flush(); err != nil {
		return fmt.Errorf("page: %w", err)
	}
	return nil
}

// policy lets these scripts run and this style hold, by their hashes, and nothing
// else: nothing from outside, and nothing that a name or a note could smuggle in.
func policy() template.HTMLAttr {
	var allowed []string
	for _, s := range scripts {
		allowed = append(allowed, hash(string(s)))
	}
	return template.HTMLAttr(fmt.Sprintf(`content="default-src 'none'; script-src %s; style-src %s; img-src data:; base-uri 'none'; form-action 'none'"`,
		strings.Join(allowed, " "), hash(string(style))))
}

func hash(text string) string {
	sum := sha256.Sum256([]byte(text))
	return "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
}
