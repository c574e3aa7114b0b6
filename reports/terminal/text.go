package terminal

import (
	"io"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/width"
)

// cells is how many columns of a terminal a text takes: none for marks that stand on
// the letter before them, two for wide letters and pictures.
func cells(s string) int {
	n, last, joined := 0, 0, false
	for _, r := range s {
		before := joined
		joined = r == 0x200d // what follows is drawn into the letter before
		switch {
		case before:
		case r == 0xfe0f && last == 1: // makes a picture of the sign before it
			n++
			last = 0
		case unicode.In(r, unicode.Mn, unicode.Me, unicode.Cf):
		default:
			last = 1
			switch width.LookupRune(r).Kind() {
			case width.EastAsianWide, width.EastAsianFullwidth:
				last = 2
			}
			n += last
		}
	}
	return n
}

// harmful characters could move the cursor, colour what follows, or turn its direction.
// Those that only join letters may stay.
func harmful(r rune) bool {
	return unicode.In(r, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp, unicode.Co) && r != 0x200c && r != 0x200d || r == utf8.RuneError
}

// clean puts spaces for harmful characters, so that a name in a log cannot do more to
// a terminal than be read.
func clean(s string) string {
	return strings.Map(func(r rune) rune {
		if harmful(r) {
			return ' '
		}
		return r
	}, s)
}

// A Text is a writer to a terminal: whatever is written, it gets lines of clean text.
type Text struct{ io.Writer }

func (t Text) Write(p []byte) (int, error) {
	_, err := io.WriteString(t.Writer, strings.Map(func(r rune) rune {
		if harmful(r) && r != '\n' && r != '\t' {
			return ' '
		}
		return r
	}, string(p)))
	return len(p), err
}

// fold breaks s at spaces into lines of at most n cells. A longer word stays whole, or
// is cut where it must be.
func fold(s string, n int, cut bool) []string {
	var lines []string
	line := ""
	for _, word := range words(s) {
		if line != "" && cells(line)+1+cells(word) <= n {
			line += " " + word
			continue
		}
		if line != "" {
			lines = append(lines, line)
		}
		for line = word; cut && cells(line) > n; {
			at := cutAt(line, n)
			lines = append(lines, line[:at])
			line = line[at:]
		}
	}
	return append(lines, line)
}

// words are the words of a text; a degree sign or a percent sign stays with its number.
func words(s string) []string {
	all := strings.Fields(s)
	out := all[:0]
	for _, w := range all {
		if n := len(out); n > 0 && (strings.HasPrefix(w, "°") || strings.HasPrefix(w, "%")) && strings.ContainsAny(out[n-1][len(out[n-1])-1:], "0123456789") {
			out[n-1] += " " + w
			continue
		}
		out = append(out, w)
	}
	return out
}

// cutAt is where to cut a word that is longer than n cells: behind the last sign that
// fits of those that join the words of a path or a name, or else as late as possible.
func cutAt(word string, n int) int {
	at, joint := 0, 0
	for i, r := range word {
		end := i + utf8.RuneLen(r)
		if i > 0 && cells(word[:end]) > n {
			break
		}
		if at = end; strings.ContainsRune("/-_", r) {
			joint = end
		}
	}
	if joint > 0 {
		return joint
	}
	return at
}
