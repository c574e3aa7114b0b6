package delimited

import (
	"math"
	"strconv"
)

var pow10 = [...]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// parseNumber reads a decimal number with the given decimal mark, and tells how
// many decimals it was written with. Nothing else is a number: no NaN, no Inf,
// no hex, no thousands marks.
func parseNumber(b []byte, mark byte) (v float64, decimals int, ok bool) {
	for len(b) > 0 && (b[0] == ' ' || b[0] == '\t') {
		b = b[1:]
	}
	for len(b) > 0 && (b[len(b)-1] == ' ' || b[len(b)-1] == '\t') {
		b = b[:len(b)-1]
	}
	i, neg := 0, false
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		neg = b[i] == '-'
		i++
	}
	var mant uint64
	digits, exact := 0, true
	for ; i < len(b) && b[i]-'0' < 10; i++ {
		if digits++; mant < 1e17 {
			mant = mant*10 + uint64(b[i]-'0')
		} else {
			exact = false
		}
	}
	if i < len(b) && b[i] == mark {
		for i++; i < len(b) && b[i]-'0' < 10; i++ {
			digits++
			decimals++
			if mant < 1e17 {
				mant = mant*10 + uint64(b[i]-'0')
			} else {
				exact = false
			}
		}
	}
	if digits == 0 {
		return 0, 0, false
	}
	exp := -decimals
	if i < len(b) && b[i]|0x20 == 'e' {
		i++
		eneg := false
		if i < len(b) && (b[i] == '-' || b[i] == '+') {
			eneg = b[i] == '-'
			i++
		}
		n, any := 0, false
		for ; i < len(b) && b[i]-'0' < 10; i++ {
			if any = true; n < 10000 {
				n = n*10 + int(b[i]-'0')
			}
		}
		if !any {
			return 0, 0, false
		}
		if eneg {
			n = -n
		}
		exp += n
		decimals = max(0, -exp)
	}
	if i != len(b) {
		return 0, 0, false
	}
	// Exact where mantissa and power of ten both are: Clinger 1990, the fast path.
	if exact && mant < 1<<53 && exp >= -22 && exp <= 22 {
		v = float64(mant)
		if exp < 0 {
			v /= pow10[-exp]
		} else {
			v *= pow10[exp]
		}
	} else {
		text := make([]byte, len(b))
		for j, c := range b {
			if c == mark {
				c = '.'
			}
			text[j] = c
		}
		var err error
		if v, err = strconv.ParseFloat(string(text), 64); err != nil || math.IsInf(v, 0) {
			return 0, 0, false
		}
		return v, decimals, true
	}
	if neg {
		v = -v
	}
	return v, decimals, true
}
