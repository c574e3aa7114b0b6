// Package diag holds positions and diagnostics.
//
// A Diagnostic is data. Readers hand it on beside good records and keep going;
// only a failure of the machine itself (disk, database) is an error that stops
// a run. The package formats and orders diagnostics; it prints nothing.
package diag

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// A Pos is a place in a named text. Line and Col count from 1, Col in bytes.
// Zero means "not known" and is not printed.
type Pos struct {
	File      string `json:"file"`
	Line, Col int
}

// String gives "file:line:col", leaving out what is not known.
func (p Pos) String() string {
	var b strings.Builder
	b.WriteString(p.File)
	for _, n := range []int{p.Line, p.Col} {
		if n == 0 {
			break
		}
		fmt.Fprintf(&b, ":%d", n)
	}
	return b.String()
}

// A Diagnostic is one problem of the input at one place.
type Diagnostic struct {
	Pos  Pos
	Msg  string // lower case, no full stop
	Hint string // what the reader may do about it, or ""
	Err  error  // underlying cause for errors.Is, or nil
}

// New returns a diagnostic at pos with a formatted message and no hint.
func New(pos Pos, format string, args ...any) *Diagnostic {
	return &Diagnostic{Pos: pos, Msg: fmt.Sprintf(format, args...)}
}

// WithHint sets the hint and returns d.
func (d *Diagnostic) WithHint(format string, args ...any) *Diagnostic {
	d.Hint = fmt.Sprintf(format, args...)
	return d
}

// Error gives "file:line:col: message (hint)" in one line. Messages quote what
// files hold, which may be anything: a character that is not for reading is
// written as Go writes it, and of a message or hint that is too long the middle
// is left out.
func (d *Diagnostic) Error() string {
	s := plain(d.Msg)
	if d.Pos.File != "" {
		s = plain(d.Pos.String()) + ": " + s
	}
	if d.Hint != "" {
		s += " (" + plain(d.Hint) + ")"
	}
	return s
}

// What is shown of a text that is longer than longest runes: the start and the end.
const longest, startShown, endShown = 600, 400, 150

// plain makes a text fit to be shown on one line of a terminal.
func plain(s string) string {
	if n := utf8.RuneCountInString(s); n > longest {
		runes := []rune(s)
		s = string(runes[:startShown]) + " ... " + string(runes[n-endShown:])
	}
	if utf8.ValidString(s) && strings.IndexFunc(s, hidden) < 0 {
		return s
	}
	var b strings.Builder
	for len(s) > 0 {
		r, n := utf8.DecodeRuneInString(s)
		if hidden(r) || r == utf8.RuneError && n == 1 {
			quoted := strconv.Quote(s[:n])
			b.WriteString(quoted[1 : len(quoted)-1])
		} else {
			b.WriteString(s[:n])
		}
		s = s[n:]
	}
	return b.String()
}

// hidden reports whether a rune would not be seen, or would move what is: control
// and format characters, such as those that turn the direction of writing.
func hidden(r rune) bool { return !unicode.IsPrint(r) && !unicode.Is(unicode.Zs, r) }

// ErrNoRows is the cause of a diagnostic that finds nothing wrong with a log but that
// no row is in it.
var ErrNoRows = errors.New("no rows")

// NoRows says of d that it finds no more than that, and returns it.
func (d *Diagnostic) NoRows() *Diagnostic {
	d.Err = ErrNoRows
	return d.WithHint("was the logger running?")
}

// Unwrap returns the underlying cause, or nil.
func (d *Diagnostic) Unwrap() error { return d.Err }

// A List is a set of diagnostics. A nil List means that the input is fine.
type List []*Diagnostic

// Add appends a diagnostic made as by New and returns it, so that a hint can
// be hung on it.
func (l *List) Add(pos Pos, format string, args ...any) *Diagnostic {
	d := New(pos, format, args...)
	*l = append(*l, d)
	return d
}

// Sort orders l by file, line, column; equal places keep their order.
func (l List) Sort() {
	slices.SortStableFunc(l, func(a, b *Diagnostic) int {
		return cmp.Or(
			cmp.Compare(a.Pos.File, b.Pos.File),
			cmp.Compare(a.Pos.Line, b.Pos.Line),
			cmp.Compare(a.Pos.Col, b.Pos.Col),
		)
	})
}

// Error gives one diagnostic a line.
func (l List) Error() string {
	lines := make([]string, len(l))
	for i, d := range l {
		lines[i] = d.Error()
	}
	return strings.Join(lines, "\n")
}

// DidYouMean returns a hint naming the entry of known closest to word, or ""
// if none is within two edits. Ties go to the earlier entry, so callers pass
// known in a fixed order.
func DidYouMean(word string, known []string) string {
	best := Nearest(word, known, 2)
	if best == "" {
		return ""
	}
	return fmt.Sprintf("did you mean %q?", best)
}

// Nearest returns the entry of known closest to word, or "" if none is within so many
// edits. Ties go to the earlier entry.
func Nearest(word string, known []string, within int) string {
	best, nearest := "", min(within+1, len(word)) // a rewrite of the whole word is no typo
	for _, k := range known {
		if d := edits(word, k); d < nearest {
			best, nearest = k, d
		}
	}
	return best
}

// most is how many names OneOf lists.
const most = 16

// OneOf returns the hint of DidYouMean, or what is known if nothing is near.
func OneOf(word string, known []string) string {
	if h := DidYouMean(word, known); h != "" {
		return h
	}
	if len(known) == 0 {
		return "there is none yet"
	}
	list := "one of: " + strings.Join(known[:min(len(known), most)], ", ")
	if more := len(known) - most; more > 0 {
		list += fmt.Sprintf(" and %d more", more)
	}
	return list
}

// edits counts the insertions, deletions, substitutions and swaps of
// neighbouring bytes that turn a into b (optimal string alignment).
func edits(a, b string) int {
	prev2, prev, row := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range prev {
		prev[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			row[j] = min(prev[j]+1, row[j-1]+1, prev[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], prev2[j-2]+1)
			}
		}
		prev2, prev, row = prev, row, prev2
	}
	return prev[len(b)]
}

// At returns err as a diagnostic at pos. A diagnostic that has a place keeps it;
// an error that is none becomes one with its text.
func At(err error, pos Pos) *Diagnostic {
	var d *Diagnostic
	if !errors.As(err, &d) {
		return &Diagnostic{Pos: pos, Msg: err.Error(), Err: err}
	}
	if d.Pos.File != "" {
		return d
	}
	placed := *d
	placed.Pos = pos
	return &placed
}
