package delimited

import "bytes"

// maxQuoted bounds a record that goes on over line ends within quotes, in
// bytes, so that one stray quote does not swallow the log.
const maxQuoted = 64 << 10

// recordLen returns the length of the record that b starts with, its line end
// included, by RFC 4180: a quote is one only at the start of a field, and a line
// end within quotes belongs to the field. Where the quotes are not closed within
// maxQuoted or b, the record is its first line.
func recordLen(b []byte, delim byte) (n int, closed bool) {
	i := 0
	for {
		if i < len(b) && b[i] == '"' {
			if i = closing(b, i); i < 0 || i > maxQuoted {
				if n = bytes.IndexByte(b, '\n') + 1; n == 0 {
					n = len(b)
				}
				return n, false
			}
		}
		for i < len(b) && b[i] != delim && b[i] != '\n' {
			i++
		}
		if i == len(b) {
			return i, true
		}
		i++
		if b[i-1] == '\n' {
			return i, true
		}
	}
}

// closing returns the place behind the quote that closes the one at b[i], or -1.
func closing(b []byte, i int) int {
	for i++; ; {
		j := bytes.IndexByte(b[i:], '"')
		if j < 0 {
			return -1
		}
		if i += j + 1; i == len(b) || b[i] != '"' {
			return i
		}
		i++
	}
}

// A field is a part of a text.
type field struct{ from, to int32 }

func (f field) of(b []byte) []byte { return b[f.from:f.to] }

// splitQuoted cuts a record with quotes in it into fields, appending their texts
// without quotes to plain, their places there to fields, and the byte columns
// where they start in the record, from 1, to cols.
func splitQuoted(rec []byte, delim byte, plain []byte, fields []field, cols []int32) ([]byte, []field, []int32) {
	for i := 0; ; i++ {
		cols = append(cols, int32(i)+1)
		from := int32(len(plain))
		if i < len(rec) && rec[i] == '"' {
			end := closing(rec, i)
			if end < 0 {
				end = len(rec)
			}
			for i++; i < end; i++ {
				if rec[i] == '"' {
					i++ // the first of two, or the last
				}
				if i < end {
					plain = append(plain, rec[i])
				}
			}
			i = end
		}
		for ; i < len(rec) && rec[i] != delim; i++ {
			plain = append(plain, rec[i])
		}
		fields = append(fields, field{from, int32(len(plain))})
		if i >= len(rec) {
			return plain, fields, cols
		}
	}
}

// trimEnd cuts the line end off a record.
func trimEnd(rec []byte) []byte {
	return bytes.TrimSuffix(bytes.TrimSuffix(rec, []byte{'\n'}), []byte{'\r'})
}

// isBlank reports whether a record holds nothing but spaces.
func isBlank(rec []byte, delim byte) bool {
	for _, c := range rec {
		if c != ' ' && c != '\r' && (c != '\t' || delim == '\t') {
			return false
		}
	}
	return true
}

// detect finds the delimiter of a header: of the four in use, the one that it
// has most of outside quotes.
func detect(header []byte) byte {
	best, most := byte(','), 0
	for _, d := range []byte(delimiters) {
		n, quoted := 0, false
		for _, c := range header {
			switch c {
			case '"':
				quoted = !quoted
			case d:
				if !quoted {
					n++
				}
			}
		}
		if n > most {
			best, most = d, n
		}
	}
	return best
}

// delimiters are those that a profile may name.
const delimiters = ";\t,|"
