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

// headCells is the width that a column's head may take where its cells are
// narrower; a longer head is folded.
const headCells = 14

// Table prints rows, the first of which is the head, in aligned columns. Heads
// are folded, and the last column is folded to fit columns, the terminal's
// width; numbers are aligned right. columns 0 means "as wide as it takes".
func Table(w io.Writer, rows [][]string, columns int) {
	if len(rows) == 0 {
		return
	}
	n := len(rows[0])
	widths, right := make([]int, n), make([]bool, n)
	head := make([][]string, n)
	for c := range n {
		right[c] = len(rows) > 1
		for _, row := range rows[1:] {
			widths[c] = max(widths[c], cells(clean(row[c])))
			right[c] = right[c] && (row[c] == "none" || strings.Trim(row[c], "0123456789+-−>.:± e") == "")
		}
		head[c] = fold(clean(rows[0][c]), max(widths[c], headCells))
		for _, part := range head[c] {
			widths[c] = max(widths[c], cells(part))
		}
	}
	left := 0
	for _, x := range widths[:n-1] {
		left += x + 2
	}
	if columns > 0 {
		widths[n-1] = min(widths[n-1], max(20, columns-left))
	}
	line := func(parts []string) {
		var b strings.Builder
		for c, part := range parts {
			pad := strings.Repeat(" ", max(0, widths[c]-cells(part)))
			if right[c] {
				part = pad + part
			} else {
				part += pad
			}
			b.WriteString(part + "  ")
		}
		fmt.Fprintln(w, strings.TrimRight(b.String(), " "))
	}
	tall := 0
	for _, h := range head {
		tall = max(tall, len(h))
	}
	for i := range tall {
		parts := make([]string, n)
		for c, h := range head {
			if j := i - (tall - len(h)); j >= 0 {
				parts[c] = h[j]
			}
		}
		line(parts)
	}
	fmt.Fprintln(w, strings.Repeat("-", left+widths[n-1]))
	for _, row := range rows[1:] {
		parts := make([]string, n)
		for c, cell := range row {
			parts[c] = clean(cell)
		}
		for j, part := range fold(parts[n-1], widths[n-1]) {
			if j > 0 {
				parts = make([]string, n)
			}
			parts[n-1] = part
			line(parts)
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
