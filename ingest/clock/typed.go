package clock

import (
	"bytes"
	"strconv"
	"time"
)

// Number resolves a time that a typed file holds as a number: of a count or a
// serial day, that number; of the other formats, its digits, such as
// 20260112201230 for "%Y%m%d%H%M%S". Its error is as Resolve's.
func (r *Resolver) Number(v float64) (int64, error) {
	var buf [32]byte
	text := strconv.AppendFloat(buf[:0], v, 'f', -1, 64)
	if i := bytes.IndexByte(text, '.'); i >= 0 {
		text[i] = r.mark
	}
	return r.Resolve(text, nil)
}

// Moment takes a time that a typed file holds as a moment, in µs since 1970
// UTC. The clock's format does not matter then. Its error is as Resolve's.
func (r *Resolver) Moment(us int64) (int64, error) {
	if us < earliest || us > latest {
		return 0, bad(typed(us), "the time lies outside 1900 to 2200; is the file's unit of time right?")
	}
	return r.pass(us), nil
}

// Wall is Moment for local wall time without a zone, in µs since 1970 as the
// local clock would count them.
func (r *Resolver) Wall(us int64) (int64, error) {
	if us < earliest || us > latest {
		return 0, bad(typed(us), "the time lies outside 1900 to 2200; is the file's unit of time right?")
	}
	wall := floorDiv(us, second)
	us, err := r.local(wall, us-wall*second)
	if err != nil {
		return 0, err
	}
	return r.pass(us), nil
}

// Span takes a time that a typed file holds without a day, in µs: what has
// elapsed of an elapsed clock, the time of day of a clock that shows no date.
// Its error is as Resolve's.
func (r *Resolver) Span(us int64) (int64, error) {
	switch {
	case r.elapsed && us >= -latest && us <= latest:
		if us += r.base; us < earliest || us > latest {
			return 0, bad(typed(us), "the time lies outside 1900 to 2200")
		}
	case r.pattern != nil && r.shows == noDate && us >= 0:
		us %= 24 * 60 * minute
		tod := us / second
		var err error
		if us, err = r.local(r.passMidnight(tod)*86400+tod, us%second); err != nil {
			return 0, err
		}
	default:
		return 0, bad(strconv.AppendFloat(nil, float64(us)/1e6, 'f', -1, 64),
			"it is a time of day, in s, without a date; the clock's format says how to take it: \"elapsed\", or \"%H:%M:%S\"")
	}
	return r.pass(us), nil
}

func typed(us int64) []byte {
	return time.UnixMicro(us).UTC().AppendFormat(nil, "2006-01-02T15:04:05.999999")
}
