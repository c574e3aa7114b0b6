package canlog

import "bytes"

// maxData is the most that a frame holds: 64 bytes with CAN FD, 8 without.
const maxData = 64

// extended marks the identifier of an extended frame, which may have the same
// number as a standard one.
const extended = 1 << 31

// errorFlag marks frames that the interface itself makes of an error on the bus.
const errorFlag = 1 << 29

// A frame is one line of a log. Its parts point into the line.
type frame struct {
	clock []byte // between the brackets; empty: none
	iface []byte // such as can0
	id    uint32 // with the flag extended
	data  []byte // hexadecimals, in bytes with or without something between
	size  int    // in bytes as the line states it; -1: it states none
	empty bool   // it carries no data: a remote request, an error
	col   int    // of the data, in bytes from 1
}

// read reads a line in either form of candump: "(1436509052.249713) can0
// 044#2A366C2BBA", or in columns, " (0.249713)  can0  044   [5]  2A 36 6C 2B BA".
// It returns where and why it cannot; the data themselves are not looked at.
func (f *frame) read(line []byte) (col int, reason string) {
	*f = frame{size: -1}
	i := skip(line, 0)
	if i < len(line) && line[i] == '(' {
		end := bytes.IndexByte(line[i:], ')')
		if end < 0 {
			return i + 1, "the bracket of the time is not closed"
		}
		f.clock = bytes.TrimSpace(line[i+1 : i+end])
		i = skip(line, i+end+1)
	}
	from, i := word(line, i)
	if from == i {
		return from + 1, "the line holds no frame"
	}
	f.iface = line[from:i]
	// In columns flags may stand before the identifier; then the length follows.
	idFrom, idTo := 0, 0
	for range 8 {
		from, i = word(line, skip(line, i))
		switch {
		case from == i:
			return from + 1, "the line holds no frame"
		case line[from] == '[':
			if idTo == 0 {
				return from + 1, "the frame has no identifier"
			}
			return f.columns(line, idFrom, idTo, from, i)
		}
		if hash := bytes.IndexByte(line[from:i], '#'); hash >= 0 {
			return f.compact(line, from, from+hash, i)
		}
		idFrom, idTo = from, i
	}
	return idFrom + 1, "the line holds no frame"
}

func (f *frame) compact(line []byte, from, hash, to int) (int, string) {
	if !f.identifier(line[from:hash]) {
		return from + 1, "cannot read the identifier, of 3 or 8 hexadecimals"
	}
	rest := line[hash+1 : to]
	f.col = hash + 2
	switch {
	case len(rest) > 1 && rest[0] == '#': // CAN FD, with one digit of flags
		rest, f.col = rest[2:], f.col+2
	case len(rest) > 0 && rest[0]|0x20 == 'r':
		f.empty = true
	}
	if under := bytes.IndexByte(rest, '_'); under >= 0 { // a length code above 8
		rest = rest[:under]
	}
	f.data = rest
	f.empty = f.empty || f.id&^extended >= errorFlag
	return 0, ""
}

func (f *frame) columns(line []byte, idFrom, idTo, from, to int) (int, string) {
	if !f.identifier(line[idFrom:idTo]) {
		return idFrom + 1, "cannot read the identifier, of 3 or 8 hexadecimals"
	}
	f.size = 0
	digits := bytes.Trim(line[from:to], "[]")
	if len(digits) == 0 || len(digits) > 2 {
		return from + 1, "cannot read the length"
	}
	for _, c := range digits {
		if c < '0' || c > '9' {
			return from + 1, "cannot read the length"
		}
		f.size = f.size*10 + int(c-'0')
	}
	start := skip(line, to)
	f.data, f.col = line[start:], start+1
	f.empty = f.id&^extended >= errorFlag || bytes.HasPrefix(f.data, []byte("remote"))
	return 0, ""
}

// identifier reads an identifier: three digits are a standard one, eight an
// extended one.
func (f *frame) identifier(text []byte) bool {
	if len(text) != 3 && len(text) != 8 {
		return false
	}
	for _, c := range text {
		d := hex(c)
		if d < 0 {
			return false
		}
		f.id = f.id<<4 | uint32(d)
	}
	if len(text) == 8 {
		f.id |= extended
		return true
	}
	return f.id <= 0x7ff
}

// bytes reads the data into into, and says where and why it cannot.
func (f *frame) bytes(into *[maxData]byte) (n, col int, reason string) {
	text := f.data
	for i := 0; i < len(text) && n != f.size; n++ {
		for i < len(text) && (text[i] == ' ' || text[i] == '.') {
			i++
		}
		if i == len(text) {
			break
		}
		if n == maxData {
			return n, f.col + i, "the frame has more than 64 bytes"
		}
		if i+1 == len(text) || hex(text[i]) < 0 || hex(text[i+1]) < 0 {
			return n, f.col + i, "cannot read the data as pairs of hexadecimals"
		}
		into[n] = byte(hex(text[i])<<4 | hex(text[i+1]))
		i += 2
	}
	if f.size >= 0 && n < f.size {
		return n, f.col, "the frame breaks off"
	}
	return n, 0, ""
}

func hex(c byte) int {
	switch {
	case c >= '0' && c <= '9':
		return int(c - '0')
	case c|0x20 >= 'a' && c|0x20 <= 'f':
		return int(c|0x20-'a') + 10
	}
	return -1
}

func skip(line []byte, i int) int {
	for i < len(line) && (line[i] == ' ' || line[i] == '\t') {
		i++
	}
	return i
}

// word returns the ends of the word that starts at i.
func word(line []byte, i int) (from, to int) {
	from = i
	for i < len(line) && line[i] != ' ' && line[i] != '\t' {
		i++
	}
	return from, i
}
