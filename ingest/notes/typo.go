package notes

import (
	"regexp"
	"strconv"
	"strings"

	"coldbench/warehouse/diag"
	"coldbench/warehouse/unit"
)

// leastTyped is the fewest letters of a word that another may be taken for: of
// shorter ones too many differ by a letter only.
const leastTyped = 5

var (
	number = regexp.MustCompile(`^([a-z]+(?: [a-z]+)?)\s*[ :=]\s*([+-]?[0-9]+(?:[.,][0-9]+)?)\s*(\S+)$`)
	word   = regexp.MustCompile(`[a-z]+`)

	// What is said of the cable in other words than an event's.
	plugged = regexp.MustCompile(`\b(?:(?:un|re)-?plug(?:s|ged|ging)?|plug(?:ged|ging)|plugin)\b`)

	// Words of their own that are a letter from one that says what happened.
	otherWords = map[string]bool{"changing": true, "arrives": true, "plug is": true}
)

// mistyped finds what a part of a line, in small letters, that is free text was meant to
// say: it begins as an event does but for a letter, or has a number with a unit after
// what is a quantity's word but for a letter, or tells of the cable in words of its own. It is nil where it may well be text.
// A note that is passed over in silence is a delay or an attempt that nobody knows of.
func mistyped(text string) *diag.Diagnostic {
	if m := number.FindStringSubmatch(text); m != nil {
		for _, q := range quantities {
			meant := diag.Nearest(m[1], long(q.words), 1)
			if meant == "" {
				continue
			}
			for _, name := range q.channels {
				if _, err := unit.Between(m[3], channels[indexOf(name)].Unit); err == nil {
					return diag.New(diag.Pos{}, "%q is no quantity that notes tell of", m[1]).WithHint("did you mean %q?", meant)
				}
			}
		}
	}
	words := word.FindAllStringIndex(text, -1)
	typed, meant := "", []string(nil)
	for _, ph := range phrases {
		n := strings.Count(ph.text, " ") + 1
		if n > len(words) || len(ph.text) < leastTyped {
			continue
		}
		said := text[words[0][0]:words[n-1][1]]
		if words[0][0] == 0 && (meant == nil || said == typed) && !otherWords[said] && diag.Nearest(said, []string{ph.text}, 1) != "" && !denied("", text[words[n-1][1]:]) {
			typed, meant = said, append(meant, strconv.Quote(ph.text))
		}
	}
	if at := plugged.FindStringIndex(text); meant == nil && at != nil && !denied(text[:at[0]], text[at[1]:]) && !elsewhere(text[:at[0]], text[at[1]:]) {
		typed, meant = text[at[0]:at[1]], []string{`"plugged in"`, `"unplugged"`}
	}
	if meant == nil {
		return nil
	}
	return diag.New(diag.Pos{}, "%q says nothing that notes tell of", typed).WithHint("did you mean %s?", strings.Join(meant, " or "))
}

func long(words []string) []string {
	var out []string
	for _, w := range words {
		if len(w) >= leastTyped {
			out = append(out, w)
		}
	}
	return out
}
