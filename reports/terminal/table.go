// Package terminal prints editions for people who read them in a terminal:
// aligned tables that fold to its width, without colours.
package terminal

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/width"
)

// cells is how many columns of a terminal a text takes.
func cells(s string) int {
	n := 0
	for _, r := range s {
		switch width.LookupRune(r).Kind() {
		case width.EastAsianWide, width.EastAsianFullwidth:
			n += 2
		default:
			n++
		}
	}
	return n
}

// clean takes control characters out, so that a name in a log cannot move the
// cursor.
func clean(s string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f || r >= 0x80 && r < 0xa0 || r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069 || r == utf8.RuneError {
			return ' '
		}
		return r
	}, s)
}

// Table prints rows, the first of which is the head, in aligned columns. The
// last column is folded to fit columns, the terminal's width; numbers are
// aligned right. columns 0 means "as wide as it takes".
func Table(w io.Writer, rows [][]string, columns int) {
	if len(rows) == 0 {
		return
	}
	n := len(rows[0])
	widths := make([]int, n)
	numeric := make([]bool, n)
	for c := range n {
		numeric[c] = len(rows) > 1
		for i, row := range rows {
			widths[c] = max(widths[c], cells(clean(row[c])))
			if i > 0 && row[c] != "" && !strings.ContainsRune("0123456789+-−>.", rune(row[c][0])) {
				numeric[c] = false
			}
		}
	}
	left := 0
	for _, x := range widths[:n-1] {
		left += x + 2
	}
	last := widths[n-1]
	if columns > 0 {
		last = max(20, columns-left)
	}
	for i, row := range rows {
		var b strings.Builder
		for c, cell := range row[:n-1] {
			cell = clean(cell)
			pad := strings.Repeat(" ", widths[c]-cells(cell))
			if numeric[c] {
				cell = pad + cell
			} else {
				cell += pad
			}
			b.WriteString(cell + "  ")
		}
		for j, part := range fold(clean(row[n-1]), last) {
			if j > 0 {
				b.WriteString("\n" + strings.Repeat(" ", left))
			}
			if numeric[n-1] && j == 0 {
				b.WriteString(strings.Repeat(" ", max(0, min(last, widths[n-1])-cells(part))))
			}
			b.WriteString(part)
		}
		fmt.Fprintln(w, strings.TrimRight(b.String(), " "))
		if i == 0 {
			fmt.Fprintln(w, strings.Repeat("-", left+min(last, widths[n-1])))
		}
	}
}

// fold breaks s at spaces into lines of at most n cells; a longer word stays
// whole.
func fold(s string, n int) []string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(s) {
		switch {
		case line == "":
			line = word
		case cells(line)+1+cells(word) <= n:
			line += " " + word
		default:
			lines = append(lines, line)
			line = word
		}
	}
	return append(lines, line)
}

// Fold prints s as a paragraph that fits columns.
func Fold(w io.Writer, s string, columns int) {
	if columns <= 0 {
		columns = 1 << 20
	}
	for _, line := range fold(clean(s), columns) {
		fmt.Fprintln(w, line)
	}
}
