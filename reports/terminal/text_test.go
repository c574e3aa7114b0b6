package terminal

import (
	"bytes"
	"strings"
	"testing"
	"unicode"

	"coldbench/metrics"
	"coldbench/metrics/edition"
)

// hostile names: what may stand in a log, and must not do more than be read.
var hostile = []string{
	"</script>", "=1+1", "\x1b[31mred\x1b[0m", "\x1b]0;title\x07", "back\x08\x08\x7f", "\u009b2J", "\u202egnp.exe", "\u2066a\u2069", "שלום\u200f", "a\u2028b", "\xff\xfe",
	"🚗❄️", "車両 e\u0301", strings.Repeat("long ", 60), strings.Repeat("W", 300), "two\nlines\tand a tab", "sessions/2026-01-12-" + strings.Repeat("x", 40) + "/car.csv",
}

// UAX #11 (East Asian Width) and, for marks, emoji and their presentation, what the
// package wcwidth 0.7.0 of PyPI says.
func TestCells(t *testing.T) {
	for s, want := range map[string]int{"": 0, "abc": 3, "車両": 4, "e\u0301": 1, "שלום": 4, "🚗": 2, "❄": 1, "❄️": 2, "ａ": 2, "±": 1, "👩\u200d🚀": 2, "한": 2} {
		if got := cells(s); got != want {
			t.Errorf("%q takes %d, want %d", s, got, want)
		}
	}
}

// isHarmless reports what in a text could do more than be read, by Unicode's categories.
func isHarmless(s string) bool {
	return !strings.ContainsFunc(s, func(r rune) bool {
		return r != '\n' && (unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r) || r == 0x2028 || r == 0x2029 || r == unicode.ReplacementChar)
	})
}

// Whatever stands in a table: at every width its columns are aligned, no line is longer
// than the terminal is wide, nothing harmful is left, and no letter is lost.
func TestHostileTable(t *testing.T) {
	rows := [][]string{{"car", "points", "remark"}}
	for i, h := range hostile {
		rows = append(rows, []string{h, "65.8 ± 1.7", hostile[len(hostile)-1-i]})
	}
	letters := func(s string) (n int) {
		for _, r := range clean(s) {
			if r > ' ' {
				n++
			}
		}
		return n
	}
	for _, columns := range []int{0, 24, 60, 80, 120} {
		var b bytes.Buffer
		Table(&b, rows, columns)
		if !isHarmless(b.String()) {
			t.Errorf("at %d columns: something harmful in %q", columns, b.String())
		}
		points, total := -1, 0
		for line := range strings.Lines(b.String()) {
			line = strings.TrimSuffix(line, "\n")
			if columns > 0 && cells(line) > columns {
				t.Errorf("at %d columns: %d in %q", columns, cells(line), line)
			}
			if i := strings.Index(line, "65.8 ±"); i >= 0 && columns != 24 {
				if at := cells(line[:i]); points >= 0 && at != points {
					t.Errorf("at %d columns: the points stand at %d, and before at %d: %q", columns, at, points, line)
				} else {
					points = at
				}
			}
			if strings.Trim(line, "-") != "" {
				total += letters(line)
			}
		}
		if columns == 24 { // one row under another, each cell after its head
			total -= (len(rows) - 1) * letters("points:remark:")
		} else {
			total -= letters("carpointsremark")
		}
		want := 0
		for _, row := range rows[1:] {
			want += letters(strings.Join(row, ""))
		}
		if total != want {
			t.Errorf("at %d columns: %d letters of %d", columns, total, want)
		}
	}
}

func TestText(t *testing.T) {
	for _, h := range hostile {
		var b bytes.Buffer
		if n, err := (Text{&b}).Write([]byte(h)); n != len(h) || err != nil {
			t.Errorf("%q: %d written, %v", h, n, err)
		}
		if got := strings.ReplaceAll(b.String(), "\t", ""); !isHarmless(got) {
			t.Errorf("%q comes out as %q", h, got)
		}
	}
	var b bytes.Buffer
	Text{&b}.Write([]byte("− 5 °C\n\tשלום 🚗\x1b[2J"))
	if got := b.String(); got != "− 5 °C\n\tשלום 🚗 [2J" {
		t.Errorf("%q", got)
	}
}

// The evidence of a figure fits every terminal, whatever its session is called.
func TestWhyFits(t *testing.T) {
	var values []*float64
	for i := range 60 {
		values = append(values, p(float64(i)))
	}
	for _, name := range hostile {
		ev := &metrics.Evidence{
			Figure:     edition.Figure{Session: name, Figure: "delay_to_onset", Unit: "min", Status: edition.Measured, Value: p(36.5), U: p(0.2), From: p(0), To: p(2190), Note: name},
			Definition: &metrics.Definition{Name: "delay_to_onset", Title: "Plug-in to charge", Unit: "min"}, Start: "the first plug-in",
			Events:  []edition.Event{{Kind: "plug-in", Text: name, Path: name, Line: 5}},
			Stretch: &metrics.Stretch{From: -200, To: 2400, Lines: []metrics.Line{{Title: "into the pack", Unit: "kW", Values: values}}},
			Sources: []metrics.SourceEvidence{{Path: name, First: 1, Last: 9, Rows: 9, Columns: []string{"accessory_power_kw", "heater_power_kw", "pack_current_a", "soc_pct"},
				Near: []metrics.Reading{{Line: 1, Values: []*float64{p(1), p(2), nil, p(4)}}}}},
		}
		for _, columns := range []int{40, 60, 80, 120} {
			var b bytes.Buffer
			Why(&b, ev, columns)
			if !isHarmless(b.String()) {
				t.Errorf("%q at %d columns: something harmful in %q", name, columns, b.String())
			}
			for line := range strings.Lines(b.String()) {
				if line = strings.TrimSuffix(line, "\n"); cells(line) > columns {
					t.Errorf("%q at %d columns: %d in %q", name, columns, cells(line), line)
				}
			}
			for _, c := range ev.Sources[0].Columns {
				if strings.Count(b.String(), c) != 1 {
					t.Errorf("%q at %d columns: the column %s does not stand there once", name, columns, c)
				}
			}
		}
	}
}

// A number and its degree or percent sign stand on one line.
func TestFoldKeepsUnits(t *testing.T) {
	for _, c := range []struct {
		text string
		n    int
		want string
	}{
		{"at a soak of -20 °C [min]", 15, "at a soak of|-20 °C [min]"},
		{"from 8 % to 81 %", 6, "from|8 % to|81 %"},
		{"stall % of", 7, "stall %|of"},
		{"stall % of", 6, "stall|% of"},
	} {
		if got := strings.Join(fold(c.text, c.n, true), "|"); got != c.want {
			t.Errorf("%q in %d: %q, want %q", c.text, c.n, got, c.want)
		}
	}
}
