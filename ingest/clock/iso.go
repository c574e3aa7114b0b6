package clock

// iso reads ISO 8601, extended or basic: a date, "T" or a space, a time with
// seconds and fraction optional, and "Z" or an offset or nothing, which means
// local.
func (r *Resolver) iso(text []byte) (int64, error) {
	var f fields
	if !readISO(text, &f) {
		return 0, bad(text, "ISO 8601, such as 2026-01-12T20:12:30")
	}
	return r.resolve(text, &f)
}

func readISO(b []byte, f *fields) (ok bool) {
	if f.year, b, ok = number(b, 4, 4); !ok || len(b) == 0 {
		return false
	}
	f.shows = fullDate
	extended := b[0] == '-'
	if extended {
		b = b[1:]
	}
	if f.month, b, ok = number(b, 2, 2); !ok {
		return false
	}
	if extended {
		if len(b) == 0 || b[0] != '-' {
			return false
		}
		b = b[1:]
	}
	if f.day, b, ok = number(b, 2, 2); !ok || len(b) == 0 || b[0]|0x20 != 't' && b[0] != ' ' {
		return false
	}
	if f.hour, b, ok = number(b[1:], 2, 2); !ok {
		return false
	}
	if extended {
		if len(b) == 0 || b[0] != ':' {
			return false
		}
		b = b[1:]
	}
	if f.minute, b, ok = number(b, 2, 2); !ok {
		return false
	}
	if len(b) > 0 && (b[0] == ':' && extended || b[0]-'0' < 10 && !extended) {
		if extended {
			b = b[1:]
		}
		if f.second, b, ok = number(b, 2, 2); !ok {
			return false
		}
		if len(b) > 0 && (b[0] == '.' || b[0] == ',') {
			if f.micros, b, ok = fraction(b[1:]); !ok {
				return false
			}
		}
	}
	if len(b) == 0 {
		return true
	}
	if b[0] == ' ' { // RFC 3339 as people read it: a space before the offset
		b = b[1:]
	}
	f.offset, f.zoned = zoneOffset(b)
	return f.zoned
}

// number reads low to high decimal digits off the front of b.
func number(b []byte, low, high int) (n int, rest []byte, ok bool) {
	i := 0
	for i < len(b) && i < high && b[i]-'0' < 10 {
		n = n*10 + int(b[i]-'0')
		i++
	}
	return n, b[i:], i >= low
}

// fraction reads the decimals of a second off the front of b, in µs, cut after
// the sixth.
func fraction(b []byte) (us int64, rest []byte, ok bool) {
	i, place := 0, int64(100000)
	for ; i < len(b) && b[i]-'0' < 10; i++ {
		us += int64(b[i]-'0') * place
		place /= 10
	}
	return us, b[i:], i > 0
}

// zoneOffset reads Z, +01:00, +0100 or +01, in s east of UTC.
func zoneOffset(b []byte) (int, bool) {
	if len(b) == 1 && b[0]|0x20 == 'z' {
		return 0, true
	}
	if len(b) == 0 || b[0] != '+' && b[0] != '-' {
		return 0, false
	}
	west := b[0] == '-'
	h, b, ok := number(b[1:], 2, 2)
	m := 0
	if ok && len(b) > 0 {
		if b[0] == ':' {
			b = b[1:]
		}
		m, b, ok = number(b, 2, 2)
	}
	n := h*3600 + m*60
	if !ok || len(b) > 0 || m > 59 || n > 14*3600 {
		return 0, false
	}
	if west {
		n = -n
	}
	return n, true
}
