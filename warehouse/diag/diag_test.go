package diag

import (
	"strings"
	"testing"
)

func TestDiagnosticError(t *testing.T) {
	check := func(d *Diagnostic, want string) {
		t.Helper()
		if got := d.Error(); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
	at := Pos{File: "car.csv", Line: 3, Col: 7}
	check(New(at, "unknown unit %q", "kv"), `car.csv:3:7: unknown unit "kv"`)
	check(New(at, "unknown unit %q", "kv").WithHint("did you mean %q?", "kW"), `car.csv:3:7: unknown unit "kv" (did you mean "kW"?)`)
	check(New(Pos{File: "car.csv"}, "the file is empty"), "car.csv: the file is empty")
	check(New(Pos{}, "no place"), "no place")

	// What a file holds may be anything: an escape sequence that clears the
	// terminal, a turned direction of writing, half a character, a line end.
	check(New(at, "it has: %s", "a\x1b[2J, \u202Ekw, \xc3, 20\u00a0°C, \ufffd").WithHint("%s", "a\nb\r\tc"),
		`car.csv:3:7: it has: a\x1b[2J, \u202ekw, \xc3, 20`+"\u00a0"+`°C, `+"\ufffd"+` (a\nb\r\tc)`)
	check(New(Pos{File: "a\x1bb"}, "x"), `a\x1bb: x`)
	// Of 10,000 characters, 400 and 150 are shown.
	check(New(at, "no column %q here", strings.Repeat("å", 10000)), `car.csv:3:7: no column "`+strings.Repeat("å", 389)+" ... "+strings.Repeat("å", 144)+`" here`)
	check(New(at, "%s", strings.Repeat("x", 600)), "car.csv:3:7: "+strings.Repeat("x", 600))
}

func TestListSort(t *testing.T) {
	var l List
	l.Add(Pos{"b", 1, 1}, "3")
	l.Add(Pos{"a", 2, 1}, "2")
	l.Add(Pos{"a", 1, 9}, "1")
	l.Sort()
	if got := l.Error(); got != "a:1:9: 1\na:2:1: 2\nb:1:1: 3" {
		t.Errorf("got %s", got)
	}
}

func TestDidYouMean(t *testing.T) {
	known := []string{"title", "unit", "usable_kwh", "zone"}
	for word, want := range map[string]string{
		"uint":       `did you mean "unit"?`,
		"usefull_kw": "", // three edits away
		"usable_kw":  `did you mean "usable_kwh"?`,
		"zz":         "",
		"":           "",
	} {
		if got := DidYouMean(word, known); got != want {
			t.Errorf("DidYouMean(%q) = %q, want %q", word, got, want)
		}
	}
}

func TestOneOf(t *testing.T) {
	many := []string{"a1", "b2", "c3", "d4", "e5", "f6", "g7", "h8", "i9", "j10", "k11", "l12", "m13", "n14", "o15", "p16", "q17", "r18"}
	for _, c := range []struct {
		word  string
		known []string
		want  string
	}{
		{"night-1", []string{"night-2", "day"}, `did you mean "night-2"?`},
		{"xyz", []string{"night-2", "day"}, "one of: night-2, day"},
		{"xyz", many[:16], "one of: a1, b2, c3, d4, e5, f6, g7, h8, i9, j10, k11, l12, m13, n14, o15, p16"},
		{"xyz", many, "one of: a1, b2, c3, d4, e5, f6, g7, h8, i9, j10, k11, l12, m13, n14, o15, p16 and 2 more"},
		{"xyz", nil, "there is none yet"},
	} {
		if got := OneOf(c.word, c.known); got != c.want {
			t.Errorf("OneOf(%q, %q) = %q, want %q", c.word, c.known, got, c.want)
		}
	}
}

func FuzzDidYouMean(f *testing.F) {
	f.Add("unit", "uint")
	f.Fuzz(func(t *testing.T, a, b string) {
		d := edits(a, b)
		if d != edits(b, a) || (d == 0) != (a == b) || d > max(len(a), len(b)) {
			t.Errorf("edits(%q, %q) = %d is no distance", a, b, d)
		}
	})
}
