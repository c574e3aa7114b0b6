package workbook

import (
	"bytes"
	"fmt"
	"regexp"
	"strings"
	"testing"

	"coldbench/metrics/edition"
)

// A car known from notes alone, a reading now and then, still has a line.
func TestSeldom(t *testing.T) {
	var often, seldom []edition.Minute
	for m := range 60 {
		often = append(often, edition.Minute{Minute: m, PackKW: pointer(5.0)})
		if m%5 == 0 {
			seldom = append(seldom, edition.Minute{Minute: m, PackKW: pointer(5.0)})
		}
	}
	if sparse(often) || !sparse(seldom) {
		t.Errorf("sparse: %v for a reading a minute, %v for one in five", sparse(often), sparse(seldom))
	}
}

// Charts carry the numbers that they are drawn from, for readers that do not
// calculate: as many as the log has from ten minutes before plug-in on.
func TestChartNumbers(t *testing.T) {
	data := parts(t, sampled(t))
	text := data["xl/charts/chart1.xml"]
	for _, want := range []string{
		"<xVal><numRef><f>&#39;2026-01-12-alder-60&#39;!$A$", `<ptCount val="110"/><pt idx="0"><v>-10</v></pt>`, `<pt idx="109"><v>99</v></pt>`,
		"<strCache><ptCount val=\"1\"/><pt idx=\"0\"><v>power into pack</v></pt></strCache>",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the chart lacks %s", want)
		}
	}
	if strings.Contains(text, "<xVal><strRef>") || strings.Contains(text, "<formatCode></formatCode>") {
		t.Error("an x or y without its numbers is left")
	}
	if n := strings.Count(data["xl/charts/chart3.xml"], "<ser>"); n != 2 {
		t.Errorf("%d lines for the session whose heater was not logged, want 2", n)
	}
	charts := 0
	for name := range data {
		if strings.HasPrefix(name, "xl/charts/chart") {
			charts++
		}
	}
	if charts != 2*4 {
		t.Errorf("%d charts, want two for each of four logs", charts)
	}
}

// Charts lie over the rows that are left for them, and no others.
func TestChartsInPlace(t *testing.T) {
	e, logs := sample()
	b := filled(e, logs, nil, nil)
	var w bytes.Buffer
	if err := b.write(&w); err != nil {
		t.Fatal(err)
	}
	anchor := regexp.MustCompile(`<xdr:from><xdr:col>(\d+)</xdr:col>.*?<xdr:row>(\d+)</xdr:row>.*?<xdr:to><xdr:col>(\d+)</xdr:col><xdr:colOff>(\d+)</xdr:colOff><xdr:row>(\d+)</xdr:row><xdr:rowOff>(\d+)</xdr:rowOff>`)
	data, drawing, n := parts(t, w.Bytes()), 0, 0
	for _, s := range b.sheets {
		if len(s.charts) == 0 {
			continue
		}
		drawing++
		at := anchor.FindAllStringSubmatch(data[fmt.Sprintf("xl/drawings/drawing%d.xml", drawing)], -1)
		if len(at) != len(s.charts) {
			t.Errorf("%s: %d anchors of %d charts", s.name, len(at), len(s.charts))
			continue
		}
		for i, c := range s.charts {
			n++
			x := make([]int, 7)
			for k := range x[1:] {
				x[k+1] = int(number(t, at[i][k+1]))
			}
			// Anchors count columns and rows from 0, and end where the last two begin, and a bit more.
			endsIn := func(at, more int) int { return at + min(more, 1) }
			if x[1] != c.col-1 || x[2] != c.row-1 || endsIn(x[3], x[4]) > c.toCol || endsIn(x[5], x[6]) != c.toRow {
				t.Errorf("%s: %s lies from %d, %d to %v, not from %d, %d to %d, %d", s.name, c.title, x[1], x[2], x[3:], c.col, c.row, c.toCol, c.toRow)
			}
		}
	}
	if n < 8 {
		t.Errorf("only %d charts", n)
	}
}

// A parked car's power is some watts: neither its log nor its chart's axis may show 0.0 kW.
func TestWatts(t *testing.T) {
	e, logs := sample()
	for i := range logs[0].Minutes {
		logs[0].Minutes[i] = edition.Minute{Minute: i, PackKW: pointer(-0.035)}
	}
	data := written(t, e, logs)
	f := opened(t, data)
	for sheet, want := range map[string]string{"2026-01-12-alder-60": "-0.035 kW", "2026-01-13-birch-75": "-0.1 kW"} {
		tables, err := f.GetTables(sheet)
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range tables {
			if _, heads, _, _ := corners(t, x.Range); strings.HasPrefix(x.Name, "minutes_") {
				if got, err := f.GetCellValue(sheet, ref(packCol, heads+1)); err != nil || got != want {
					t.Errorf("%s: the log's first power shows as %q, want %q; %v", sheet, got, want, err)
				}
			}
		}
	}
	if text := parts(t, data)["xl/charts/chart1.xml"]; strings.Count(text, `<numFmt formatCode="General"`) != 1 {
		t.Error("the axis of power has a format that hides decimals")
	}
}
