package infer

import (
	"math"
	"strconv"
	"strings"
)

// A table is what a file holds, as cells of text.
type table struct {
	names             []string // as the profile must call the columns
	units             []string // of a row of units below the names, or nil
	rows              [][]string
	seen              int // rows of the file, of which rows are those kept
	mark              byte
	signals           int   // of the long layout: the first column that is a signal
	at                []int // of the rows, which each is of the file's
	step              int   // one of so many rows is kept, a power of two
	odd               []map[string]int
	cols              []column
	words             []words // of the names
	clockCol, dateCol int     // -1: none
}

// maxRows bounds the rows kept, and maxOdd the texts of a column that are no
// numbers and are remembered.
const (
	maxRows = 16384
	maxOdd  = 40
)

// chosen reports whether a row of the file, from 0, is one of those kept: one of step
// rows, spread evenly, but not every step-th, since in a log of a row a value rows of
// one signal stand at equal distances. The multiples of the golden ratio do that (Knuth,
// The Art of Computer Programming, 6.4: Fibonacci hashing), and what is chosen of more
// steps is chosen of fewer.
func chosen(row, step int) bool {
	const golden = 0x9e3779b97f4a7c15 // of 2^64
	return uint64(row)*golden <= math.MaxUint64/uint64(step)
}

// add takes a row. Of more rows than are kept about every second one goes, again and
// again, so that those left stand for the whole file; a row with a text that its
// column has not held before is taken in any case.
func (t *table) add(cells []string) bool {
	t.step = max(t.step, 1)
	t.seen++
	novel := false
	for i, c := range cells {
		for len(t.odd) <= i {
			t.odd = append(t.odd, map[string]int{})
		}
		if c = strings.TrimSpace(c); c == "" || isNumber(c) {
			continue
		}
		if t.odd[i][c]++; t.odd[i][c] == 1 {
			if len(t.odd[i]) > maxOdd {
				delete(t.odd[i], c)
				continue
			}
			novel = true
		}
	}
	row := t.seen - 1
	if !novel && !chosen(row, t.step) {
		return true
	}
	t.rows, t.at = append(t.rows, cells), append(t.at, row)
	if len(t.rows) >= maxRows {
		t.step *= 2
		n := 0
		for i, row := range t.at {
			if chosen(row, t.step) {
				t.rows[n], t.at[n] = t.rows[i], row
				n++
			}
		}
		t.rows, t.at = t.rows[:n], t.at[:n]
	}
	return true
}

// isNumber reports whether a text is a number by either decimal mark.
func isNumber(s string) bool {
	if _, ok := number(s, '.'); ok {
		return true
	}
	_, ok := number(s, ',')
	return ok
}

// number reads a decimal number as the readers do: no NaN, no Inf, no hex, no
// thousands marks.
func number(s string, mark byte) (float64, bool) {
	digits := false
	for i := range len(s) {
		switch c := s[i]; {
		case c-'0' <= 9:
			digits = true
		case c == mark, c == '-', c == '+':
		case (c == 'e' || c == 'E') && digits:
		default:
			return 0, false
		}
	}
	if !digits {
		return 0, false
	}
	if mark != '.' {
		s = strings.Replace(s, string(mark), ".", 1)
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil
}

// A column is one column's values.
type column struct {
	text     []string // trimmed, by row
	v        []float64
	filled   int // rows with anything in them but a mark for "no value"
	numbers  int
	decimals int // most written
	distinct int // of numbers, counted up to many
	lo, hi   float64
	falls    int // numbers below the one before
	rises    int
}

const many = 1000

// numeric reports whether a column holds numbers, but for a few texts.
func (c *column) numeric() bool { return c.numbers > 0 && c.numbers*5 >= c.filled*3 }

// constant reports whether all numbers are one.
func (c *column) constant() bool { return c.numbers > 0 && c.lo == c.hi }

// measure reads the names and takes the numbers.
func (t *table) measure() {
	t.clockCol, t.dateCol = -1, -1
	t.cols = make([]column, len(t.names))
	for i := range t.cols {
		unitCell := ""
		if i < len(t.units) {
			unitCell = t.units[i]
		}
		t.words = append(t.words, read(t.names[i], unitCell))
		c := &t.cols[i]
		c.text, c.v = make([]string, len(t.rows)), make([]float64, len(t.rows))
		for r, row := range t.rows {
			c.v[r] = math.NaN()
			if i >= len(row) {
				continue
			}
			s := strings.TrimSpace(row[i])
			if c.text[r] = s; s == "" {
				continue
			}
			if isMark(s) {
				continue
			}
			c.filled++
			if v, ok := number(s, t.mark); ok {
				c.v[r] = v
				c.decimals = max(c.decimals, decimalsOf(s, t.mark))
			}
		}
		c.count()
	}
}

// count takes stock of a column's numbers.
func (c *column) count() {
	c.numbers, c.rises, c.falls, c.lo, c.hi = 0, 0, 0, math.Inf(1), math.Inf(-1)
	last, seen := math.NaN(), map[float64]bool{}
	for _, v := range c.v {
		if math.IsNaN(v) {
			continue
		}
		c.numbers++
		c.lo, c.hi = min(c.lo, v), max(c.hi, v)
		if v > last {
			c.rises++
		} else if v < last {
			c.falls++
		}
		last = v
		if len(seen) < many {
			seen[v] = true
		}
	}
	c.distinct = len(seen)
}

// without is the column without numbers that stand for "no value".
func (c *column) without(marks []float64) column {
	d := *c
	d.v = make([]float64, len(c.v))
	copy(d.v, c.v)
	for _, m := range marks {
		for i, v := range d.v {
			if v == m {
				d.v[i] = math.NaN()
			}
		}
	}
	d.count()
	return d
}

func decimalsOf(s string, mark byte) int {
	i := strings.IndexByte(s, mark)
	if i < 0 {
		return 0
	}
	n := 0
	for _, c := range []byte(s[i+1:]) {
		if c-'0' > 9 {
			break
		}
		n++
	}
	return n
}

// format writes a number for people: with eight digits, or all of a whole number.
func format(v float64) string {
	if math.Abs(v) >= 1e7 && math.Abs(v) < 1e16 {
		return strconv.FormatFloat(v, 'f', 0, 64)
	}
	return strconv.FormatFloat(v, 'g', 8, 64)
}
