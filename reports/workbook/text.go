package workbook

import (
	"fmt"
	"strings"
	"unicode/utf16"
	"unicode/utf8"
)

// maxText is the most UTF-16 units of text that a cell may hold, less room for
// the remark that the rest was cut.
const maxText = 32767 - 60

// clean makes any text safe for a cell: what XML cannot hold and what would
// turn the direction of the text around it becomes U+FFFD, and text that is too
// long for a cell is cut, saying so.
func clean(s string) string {
	if fine(s) {
		return s
	}
	units, runes := 0, 0
	var b strings.Builder
	for _, r := range s {
		if !legible(r) {
			r = utf8.RuneError
		}
		runes++
		units += utf16.RuneLen(r)
		if units <= maxText {
			b.WriteRune(r)
		}
	}
	if units > maxText {
		fmt.Fprintf(&b, "… (cut; %d characters in all)", runes)
	}
	return b.String()
}

// fine reports whether a text is clean already, as nearly all are.
func fine(s string) bool {
	if len(s) > maxText {
		return false
	}
	for _, r := range s {
		if r == utf8.RuneError || !legible(r) {
			return false
		}
	}
	return true
}

func legible(r rune) bool {
	switch {
	case r == '\t' || r == '\n':
		return true
	case r < 0x20, r >= 0x7f && r < 0xa0, r == 0xfffe, r == 0xffff, r == 0x2028, r == 0x2029:
		return false
	case r >= 0x202a && r <= 0x202e, r >= 0x2066 && r <= 0x2069:
		return false
	}
	return true
}

// oneLine is clean text without line breaks, of at most n characters.
func oneLine(s string, n int) string {
	s = strings.Join(strings.Fields(clean(s)), " ")
	if utf8.RuneCountInString(s) > n {
		s = strings.TrimSpace(string([]rune(s)[:n-1])) + "…"
	}
	return s
}

// maxSheetName is the longest name of a sheet, in UTF-16 units.
const maxSheetName = 31

// sheetNames hands out names for sheets, each once, whatever their letters' case.
type sheetNames map[string]bool

// take returns a name like want that is free and allowed.
func (names sheetNames) take(want string) string {
	want = strings.Map(func(r rune) rune {
		if strings.ContainsRune(`[]:*?/\`, r) {
			return '-'
		}
		return r
	}, oneLine(want, maxSheetName))
	want = strings.Trim(want, "' ")
	if want == "" || strings.EqualFold(want, "History") {
		want = "Session"
	}
	name := cut(want, maxSheetName)
	for n := 2; names[strings.ToLower(name)]; n++ {
		tail := fmt.Sprintf("~%d", n)
		name = cut(want, maxSheetName-len(tail)) + tail
	}
	names[strings.ToLower(name)] = true
	return name
}

// cut shortens s to at most n UTF-16 units.
func cut(s string, n int) string {
	units := 0
	for i, r := range s {
		if units += max(utf16.RuneLen(r), 1); units > n {
			return strings.TrimRight(s[:i], "' ")
		}
	}
	return s
}

// lines counts the lines that s takes in a cell that is width characters wide,
// breaking at spaces as a spreadsheet program does.
func lines(s string, width float64) int {
	n := 0
	for para := range strings.SplitSeq(s, "\n") {
		n++
		x := 0.0
		for word := range strings.FieldsSeq(para) {
			w := breadth(word)
			if x > 0 && x+1+w > width {
				n++
				x = 0
			} else if x > 0 {
				x++
			}
			for x += w; x > width && width > 0; x -= width {
				n++
			}
		}
	}
	return n
}

// breadth is about how many digits wide a text is, rather too many than too few.
func breadth(s string) float64 {
	w := 0.0
	for _, r := range s {
		switch {
		case r < utf8.RuneSelf:
			w += breadths[r]
		case r >= 0x1100:
			w += 2
		default:
			w++
		}
	}
	return w
}

// breadths are those of ASCII's characters.
var breadths = func() (w [utf8.RuneSelf]float64) {
	for r := range w {
		switch {
		case strings.ContainsRune("ijlIf.,:;'|![] ", rune(r)):
			w[r] = 0.55
		case strings.ContainsRune("()", rune(r)):
			w[r] = 0.6
		case strings.ContainsRune("W%@", rune(r)):
			w[r] = 1.85
		case strings.ContainsRune("mwM", rune(r)):
			w[r] = 1.5
		case strings.ContainsRune("CDGHNOQRU", rune(r)):
			w[r] = 1.4
		case r >= 'A' && r <= 'Z', r == '&':
			w[r] = 1.2
		case strings.ContainsRune("+<=>~", rune(r)):
			w[r] = 1.1
		default:
			w[r] = 1
		}
	}
	return w
}()
