package main

import (
	"os/exec"
	"strings"
	"testing"
)

// A shell hands on a word as it was, whatever is in it; plain paths stay plain.
func TestShellWord(t *testing.T) {
	for _, c := range []struct{ text, word string }{
		{"winter/2026-01", "winter/2026-01"},
		{"my winter", "'my winter'"},
		{"", "''"},
		{"it's", `'it'\''s'`},
		{"~/logs", "'~/logs'"},
		{"$HOME `id` \"x\" \\ * ? # ; & | < > ( ) { } [ ] ! = \n'", "'$HOME `id` \"x\" \\ * ? # ; & | < > ( ) { } [ ] ! = \n'\\'''"},
		{"vinternätter", "'vinternätter'"},
	} {
		word := shellWord(c.text)
		if word != c.word {
			t.Errorf("%q is written %s, want %s", c.text, word, c.word)
		}
		out, err := exec.CommandContext(t.Context(), "sh", "-c", "printf '%s.' "+word).Output()
		if got := strings.TrimSuffix(string(out), "."); err != nil || got != c.text {
			t.Errorf("sh takes %s for %q (%v)", word, got, err)
		}
	}
}
