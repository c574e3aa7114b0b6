// Package terminal prints editions for people who read them in a terminal:
// aligned tables that fold to its width, without colours.
package terminal

import (
	"fmt"
	"io"
	"slices"
	"strings"
)

const (
	// headCells is the width that a column's head may take where its cells are
	// narrower; a longer head is folded.
	headCells = 14
	// leastCells is the width below which no column of text is folded.
	leastCells = 14
	// between is how far columns stand apart.
	between = 2
)

// A grid is a table as it will be printed.
type grid struct {
	rows   [][]string // clean, the head first
	head   [][]string // of each column, folded
	widths []int
	right  []bool // numbers
}

func newGrid(rows [][]string) *grid {
	n := len(rows[0])
	g := &grid{head: make([][]string, n), widths: make([]int, n), right: make([]bool, n)}
	for _, row := range rows {
		g.rows = append(g.rows, slices.Clone(row))
	}
	for c := range n {
		g.right[c] = len(rows) > 1
		for r, row := range g.rows {
			row[c] = clean(row[c])
			if r > 0 {
				g.widths[c] = max(g.widths[c], cells(row[c]))
				g.right[c] = g.right[c] && (row[c] == "none" || strings.Trim(row[c], "0123456789+-−>.:± e") == "")
			}
		}
		g.head[c] = fold(g.rows[0][c], max(g.widths[c], headCells), false)
		for _, part := range g.head[c] {
			g.widths[c] = max(g.widths[c], cells(part))
		}
	}
	return g
}

// total is how many columns of a terminal the table takes.
func (g *grid) total() int {
	sum := between * (len(g.widths) - 1)
	for _, w := range g.widths {
		sum += w
	}
	return sum
}

// narrow folds the widest columns of text until the table fits, at spaces first and
// then within words, and reports whether it does.
func (g *grid) narrow(columns int) bool {
	longest := make([]int, len(g.widths))
	for _, row := range g.rows {
		for c, cell := range row {
			for _, word := range words(cell) {
				longest[c] = max(longest[c], cells(word))
			}
		}
	}
	for _, least := range [][]int{longest, make([]int, len(longest))} {
		for g.total() > columns {
			widest := -1
			for c, w := range g.widths {
				if !g.right[c] && w > max(least[c], leastCells) && (widest < 0 || w >= g.widths[widest]) {
					widest = c
				}
			}
			if widest < 0 {
				break
			}
			g.widths[widest]--
		}
	}
	if g.total() > columns {
		return false
	}
	for c, h := range g.head {
		if !g.right[c] {
			g.head[c] = fold(strings.Join(h, " "), g.widths[c], true)
		}
	}
	return true
}

func (g *grid) print(w io.Writer) {
	tall := 0
	for _, h := range g.head {
		tall = max(tall, len(h))
	}
	for c, h := range g.head {
		g.head[c] = append(make([]string, tall-len(h)), h...)
	}
	g.lines(w, g.head)
	fmt.Fprintln(w, strings.Repeat("-", g.total()))
	for _, row := range g.rows[1:] {
		parts := make([][]string, len(row))
		for c, cell := range row {
			parts[c] = fold(cell, g.widths[c], true)
		}
		g.lines(w, parts)
	}
}

// lines prints cells side by side, each of its lines below the other.
func (g *grid) lines(w io.Writer, parts [][]string) {
	tall := 0
	for _, p := range parts {
		tall = max(tall, len(p))
	}
	for i := range tall {
		var b strings.Builder
		for c, p := range parts {
			part := ""
			if i < len(p) {
				part = p[i]
			}
			pad := strings.Repeat(" ", max(0, g.widths[c]-cells(part)))
			if g.right[c] {
				part = pad + part
			} else {
				part += pad
			}
			b.WriteString(part + strings.Repeat(" ", between))
		}
		fmt.Fprintln(w, strings.TrimRight(b.String(), " "))
	}
}

// list prints one row under another, for terminals too narrow for the table.
func (g *grid) list(w io.Writer, columns int) {
	for _, row := range g.rows[1:] {
		for c, cell := range row {
			indent := ""
			if c > 0 {
				if cell == "" {
					continue
				}
				cell, indent = strings.TrimSpace(g.rows[0][c]+": "+cell), "   "
			}
			for _, line := range fold(cell, columns-len(indent), true) {
				fmt.Fprintln(w, indent+line)
			}
		}
	}
}

// Table prints rows, the first of which is the head, in aligned columns. Heads
// are folded, numbers are aligned right. columns is the terminal's width, to which
// columns of text are folded; where numbers alone are wider, one row is printed under
// another. columns 0 means "as wide as it takes".
func Table(w io.Writer, rows [][]string, columns int) {
	if len(rows) == 0 {
		return
	}
	g := newGrid(rows)
	if columns > 0 && !g.narrow(columns) {
		g.list(w, columns)
		return
	}
	g.print(w)
}

// Fold prints s as a paragraph that fits columns.
func Fold(w io.Writer, s string, columns int) {
	if columns <= 0 {
		columns = 1 << 20
	}
	for _, line := range fold(clean(s), columns, true) {
		fmt.Fprintln(w, line)
	}
}
