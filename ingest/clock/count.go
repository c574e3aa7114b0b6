package clock

import "math/bits"

// Times outside the years 1900 to 2200, in µs since 1970, are mistakes.
const earliest, latest = -2208988800 * second, 7258118400 * second

// count reads a count of the clock's unit since its base.
func (r *Resolver) count(text []byte) (int64, error) {
	neg, mant, decimals, ok := decimal(text, r.mark)
	if !ok {
		return 0, bad(text, "the clock counts in numbers")
	}
	us, ok := scale(mant, uint64(r.unit), decimals)
	if neg {
		us = -us
	}
	if us += r.base; !ok || us < earliest || us > latest {
		return 0, bad(text, "the time lies outside 1900 to 2200; is the clock's unit right?")
	}
	return us, nil
}

// serial reads a spreadsheet's day count in the 1900 system: 25569 is
// 1970-01-01. Days before 61, 1900-03-01, are refused, for the system counts a
// 29 February that 1900 did not have.
func (r *Resolver) serial(text []byte) (int64, error) {
	const dayTenths = 86400 * 10000 // of a millisecond
	neg, mant, decimals, ok := decimal(text, r.mark)
	// Serial days are local wall time. Spreadsheets keep them as doubles, which
	// resolve about 1 µs here, and round on writing: tenths of a millisecond are
	// as good as it gets.
	tenths, fits := scale(mant, dayTenths, decimals)
	if !ok || !fits || neg || tenths < 61*dayTenths || tenths >= 109575*dayTenths {
		return 0, bad(text, "a serial day is a number such as 44784.98")
	}
	tenths -= 25569 * dayTenths
	wall := floorDiv(tenths, 10000)
	return r.local(wall, (tenths-wall*10000)*100)
}

// decimal reads a decimal number as mant / 10^decimals. Digits of a fraction
// past the eighteenth are dropped.
func decimal(b []byte, mark byte) (neg bool, mant uint64, decimals int, ok bool) {
	i := 0
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		neg = b[i] == '-'
		i++
	}
	digits := 0
	for ; i < len(b) && b[i]-'0' < 10; i++ {
		if mant >= 1e17 {
			return false, 0, 0, false
		}
		mant = mant*10 + uint64(b[i]-'0')
		digits++
	}
	if i < len(b) && b[i] == mark {
		for i++; i < len(b) && b[i]-'0' < 10; i++ {
			if digits++; mant < 1e17 {
				mant = mant*10 + uint64(b[i]-'0')
				decimals++
			}
		}
	}
	if digits == 0 {
		return false, 0, 0, false
	}
	if i < len(b) && b[i]|0x20 == 'e' {
		i++
		down := i < len(b) && b[i] == '-'
		if i < len(b) && (b[i] == '-' || b[i] == '+') {
			i++
		}
		n, rest, fits := number(b[i:], 1, 2)
		if !fits {
			return false, 0, 0, false
		}
		if b = rest; down {
			n = -n
		}
		decimals -= n
		i = 0
	}
	return neg, mant, decimals, i == len(b)
}

// scale is mant * unit / 10^decimals, rounded to the nearest, and whether it fits.
func scale(mant, unit uint64, decimals int) (int64, bool) {
	for ; decimals > 18; decimals-- {
		mant /= 10
	}
	for ; decimals < 0; decimals++ {
		hi, lo := bits.Mul64(mant, 10)
		if hi > 0 {
			return 0, false
		}
		mant = lo
	}
	div := uint64(1)
	for range decimals {
		div *= 10
	}
	hi, lo := bits.Mul64(mant, unit)
	lo, carry := bits.Add64(lo, div/2, 0)
	if hi += carry; hi >= div {
		return 0, false
	}
	q, _ := bits.Div64(hi, lo, div)
	return int64(q), q < 1<<62
}
