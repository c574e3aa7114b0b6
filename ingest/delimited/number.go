package delimited

import (
	"encoding/binary"
	"math"
	"math/bits"
	"strconv"
)

var pow10 = [...]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// shortNumber is scanNumber for numbers of at most seven bytes, which most are:
// it takes eight bytes as one word and has hardly a branch that depends on them.
// What follows b up to its capacity is looked at, but not trusted.
func shortNumber(b []byte, i int, mark byte) (v float64, decimals, end int, ok bool) {
	if i+8 > cap(b) {
		return 0, 0, i, false
	}
	w := binary.LittleEndian.Uint64(b[i : i+8])
	neg := 0
	if byte(w) == '-' {
		neg = 1
	}
	w >>= 8 * neg
	w ^= 0x3030303030303030 // digits are 0 to 9 now
	// The high bit of each byte that is no digit; a shifted-in 0 is one, being '0'.
	stops := ((w & 0x7f7f7f7f7f7f7f7f) + 0x7676767676767676 | w) & 0x8080808080808080
	at := bits.TrailingZeros64(stops) &^ 7 // in bits, as what follows
	n := at
	if stops != 0 && byte(w>>at) == mark^'0' {
		stops &= stops - 1
		n = bits.TrailingZeros64(stops) &^ 7
		low := uint64(1)<<at - 1
		w = w&low | w>>8&^low
		n -= 8
		decimals = (n - at) / 8
		end = i + neg + n/8 + 1
	} else {
		end = i + neg + n/8
	}
	if stops == 0 || n == 0 || end > len(b) {
		return 0, 0, i, false
	}
	// Two, then four, then eight digits side by side, the first in the lowest byte.
	w <<= 64 - n
	w = w*10 + w>>8
	w = ((w&0x000000ff000000ff)*(100+1000000<<32) + (w>>16&0x000000ff000000ff)*(1+10000<<32)) >> 32
	v = float64(int64(w))
	if decimals > 0 {
		v /= pow10[decimals]
	}
	if neg > 0 {
		v = -v
	}
	return v, decimals, end, true
}

// scanNumber reads the number that b holds from i on, up to the first byte that
// is not of it, if it is a plain one: no plus, no exponent, 15 digits at most.
// Both mantissa and power of ten are exact then, and so is the quotient's
// rounding: Clinger 1990, the fast path.
func scanNumber(b []byte, i int, mark byte) (v float64, decimals, end int, ok bool) {
	neg := i < len(b) && b[i] == '-'
	if neg {
		i++
	}
	from, mant := i, int64(0)
	for i < len(b) {
		d := b[i] - '0'
		if d > 9 {
			break
		}
		mant = mant*10 + int64(d)
		i++
	}
	digits := i - from
	if i < len(b) && b[i] == mark {
		i++
		from = i
		for i < len(b) {
			d := b[i] - '0'
			if d > 9 {
				break
			}
			mant = mant*10 + int64(d)
			i++
		}
		decimals = i - from
		digits += decimals
	}
	if digits == 0 || digits > 15 {
		return 0, 0, i, false
	}
	v = float64(mant)
	if decimals > 0 {
		v /= pow10[decimals]
	}
	if neg {
		v = -v
	}
	return v, decimals, i, true
}

// parseNumber reads a decimal number with the given decimal mark, and tells how
// many decimals it was written with. Nothing else is a number: no NaN, no Inf,
// no hex, no thousands marks.
func parseNumber(b []byte, mark byte) (v float64, decimals int, ok bool) {
	i := 0
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		i++
	}
	digits := 0
	for ; i < len(b) && b[i]-'0' < 10; i++ {
		digits++
	}
	at := -1
	if i < len(b) && b[i] == mark {
		at = i
		for i++; i < len(b) && b[i]-'0' < 10; i++ {
			digits++
			decimals++
		}
	}
	if digits == 0 {
		return 0, 0, false
	}
	if i < len(b) && b[i]|0x20 == 'e' {
		i++
		down := i < len(b) && b[i] == '-'
		if i < len(b) && (b[i] == '-' || b[i] == '+') {
			i++
		}
		n, from := 0, i
		for ; i < len(b) && b[i]-'0' < 10; i++ {
			n = min(n*10+int(b[i]-'0'), 9999)
		}
		if i == from {
			return 0, 0, false
		}
		if down {
			n = -n
		}
		decimals = max(0, decimals-n)
	}
	if i != len(b) {
		return 0, 0, false
	}
	// Within 32 bytes, what a number has, neither string leaves the stack.
	var err error
	if at >= 0 && mark != '.' {
		var text [32]byte
		t := append(text[:0], b...)
		t[at] = '.'
		v, err = strconv.ParseFloat(string(t), 64)
	} else {
		v, err = strconv.ParseFloat(string(b), 64)
	}
	if err != nil || math.IsInf(v, 0) {
		return 0, 0, false
	}
	return v, decimals, true
}
