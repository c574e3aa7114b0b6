package profile

import (
	"bytes"
	"math"
	"strconv"
	"time"
)

// A Cell is one value of a record, as its file holds it. The zero Cell is none.
type Cell struct {
	kind     cellKind
	decimals int8   // of a number: as written, or one of the two below
	text     []byte // not kept
	num      float64
	us       int64
}

type cellKind int8

const (
	cellNone   cellKind = iota
	cellNumber          // num
	cellText            // text
	cellMoment          // us since 1970, UTC
	cellWall            // us since 1970, local
	cellSpan            // us without a date
)

// How many decimals a number was written with is not known of a double or a
// single: its value tells.
const (
	ofDouble = -1
	ofSingle = -2
)

// Text is a text. It may hold a number, with the profile's decimal mark. The
// cell is good for as long as b is.
func Text(b []byte) Cell { return Cell{kind: cellText, text: b} }

// Float is a number of a file that keeps doubles.
func Float(v float64) Cell { return Cell{kind: cellNumber, num: v, decimals: ofDouble} }

// Single is a number of a file that keeps 32-bit floats.
func Single(v float32) Cell { return Cell{kind: cellNumber, num: float64(v), decimals: ofSingle} }

// Fixed is a number written with so many decimals; 0 for an integer.
func Fixed(v float64, decimals int) Cell {
	return Cell{kind: cellNumber, num: v, decimals: int8(max(0, min(decimals, 100)))}
}

// Digits is a number as JSON writes it, whatever the profile's decimal mark. One
// that no double can hold is a text.
func Digits(b []byte) Cell {
	v, decimals, ok := readNumber(b, '.')
	if !ok {
		return Text(b)
	}
	return Fixed(v, decimals)
}

// Moment is a time, in µs since 1970 UTC.
func Moment(us int64) Cell { return Cell{kind: cellMoment, us: us} }

// Wall is a local time without a zone, in µs since 1970 as its clock counts.
func Wall(us int64) Cell { return Cell{kind: cellWall, us: us} }

// Span is a time without a date, in µs: of day, or since the start.
func Span(us int64) Cell { return Cell{kind: cellSpan, us: us} }

// IsNone reports whether the cell holds nothing.
func (c Cell) IsNone() bool { return c.kind == cellNone }

// Append appends the cell as people read it.
func (c Cell) Append(b []byte) []byte {
	switch c.kind {
	case cellNumber:
		bits := 64
		if c.decimals == ofSingle {
			bits = 32
		}
		return strconv.AppendFloat(b, c.num, 'g', -1, bits)
	case cellText:
		return append(b, c.text...)
	case cellMoment:
		return time.UnixMicro(c.us).UTC().AppendFormat(b, "2006-01-02T15:04:05.999999Z")
	case cellWall:
		return time.UnixMicro(c.us).UTC().AppendFormat(b, "2006-01-02T15:04:05.999999")
	case cellSpan:
		if c.us >= 0 && c.us < dayMicros {
			return time.UnixMicro(c.us).UTC().AppendFormat(b, "15:04:05.999999")
		}
		return append(strconv.AppendFloat(b, float64(c.us)/1e6, 'f', -1, 64), " s"...)
	}
	return b
}

const dayMicros = 86400 * int64(1e6)

// written is the cell as text that a clock may read: digits without an
// exponent, a text as it is.
func (c Cell) written() []byte {
	if c.kind == cellNumber {
		return strconv.AppendFloat(nil, c.num, 'f', -1, 64)
	}
	return bytes.TrimSpace(c.Append(nil))
}

// decimalsOf tells how many decimals it takes to write v, at least from, for a
// float of the given precision, relative: beyond it digits are noise.
func decimalsOf(v float64, from int, precision float64) int {
	const most = 12
	for d := from; d < most; d++ {
		x := math.Abs(v) * powers[d]
		if math.Abs(x-math.RoundToEven(x)) <= precision*x {
			return d
		}
	}
	return most
}

var powers = [...]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12}

// Spreadsheets and logs written from doubles are good for 15 digits; a single is
// good to 2^-24 and the product's rounding.
const (
	doublePrecision = 1e-15
	singlePrecision = 1e-7
)

// readNumber reads a decimal number with the given decimal mark, and tells how
// many decimals it was written with. Nothing else is a number: no NaN, no Inf,
// no hex, no thousands marks.
func readNumber(b []byte, mark byte) (v float64, decimals int, ok bool) {
	i, digits, at := 0, 0, -1
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		i++
	}
	for ; i < len(b); i++ {
		if b[i] == mark && at < 0 {
			at = i
			continue
		}
		if b[i]-'0' > 9 {
			break
		}
		digits++
		if at >= 0 {
			decimals++
		}
	}
	if digits == 0 {
		return 0, 0, false
	}
	if i < len(b) && b[i]|0x20 == 'e' {
		power, err := strconv.Atoi(string(b[i+1:]))
		if err != nil {
			return 0, 0, false
		}
		decimals, i = max(0, decimals-max(-9999, min(power, 9999))), len(b)
	}
	if i != len(b) {
		return 0, 0, false
	}
	if at >= 0 && mark != '.' {
		b = bytes.Clone(b)
		b[at] = '.'
	}
	v, err := strconv.ParseFloat(string(b), 64)
	return v, decimals, err == nil
}

// cut cuts a text that is quoted in a message.
func cut(b []byte) []byte {
	const most = 60
	if len(b) > most {
		return append(bytes.Clone(b[:most]), "..."...)
	}
	return b
}

// Texts are cells as people read them, "" for none, digits without an exponent.
// They are the caller's.
func Texts(cells []Cell) []string {
	texts := make([]string, len(cells))
	for i, c := range cells {
		texts[i] = string(c.written())
	}
	return texts
}
