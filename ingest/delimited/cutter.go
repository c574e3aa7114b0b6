package delimited

import (
	"bytes"
	"errors"
	"io"
)

const (
	blockBytes = 256 << 10 // of text parsed at a time: it stays in the cache
	maxRecord  = 1 << 20   // a longer line is no row of a log
)

// A cutter cuts text into blocks of whole records.
type cutter struct {
	r     io.Reader
	delim byte
	line  int64  // physical line of the next block's start, from 1
	rest  []byte // read, but not of a block yet
	err   error  // from r
}

// next reads the next block into c, reusing its memory. It returns io.EOF
// behind the last.
func (k *cutter) next(c *chunk) error {
	if c.buf == nil {
		c.buf = make([]byte, blockBytes)
	}
	for len(c.buf) < len(k.rest) {
		c.buf = append(c.buf, make([]byte, len(c.buf))...)
	}
	c.line, c.long = k.line, false
	n := copy(c.buf, k.rest)
	for {
		for n < len(c.buf) && k.err == nil {
			var m int
			m, k.err = k.r.Read(c.buf[n:])
			n += m
		}
		// What a broken file gave before it broke is whole records at best, and
		// the error tells that there was more.
		if k.err != nil && !errors.Is(k.err, io.EOF) {
			return k.err
		}
		if n == 0 {
			return io.EOF
		}
		cut := n
		if k.err == nil {
			cut = k.lastEnd(c.buf[:n])
		}
		switch {
		case cut > 0:
			c.text = c.buf[:cut]
			k.rest = append(k.rest[:0], c.buf[cut:n]...)
			k.line += int64(bytes.Count(c.text, []byte{'\n'}))
			return nil
		case len(c.buf) < maxRecord:
			c.buf = append(c.buf, make([]byte, len(c.buf))...)
		default:
			c.text, c.long = c.buf[:n], true
			k.line += int64(bytes.Count(c.text, []byte{'\n'})) + 1
			k.rest = k.rest[:0]
			return k.skipLine()
		}
	}
}

// lastEnd is the length of the whole records in b, which more text follows.
func (k *cutter) lastEnd(b []byte) int {
	if bytes.IndexByte(b, '"') < 0 {
		return bytes.LastIndexByte(b, '\n') + 1
	}
	for at := 0; ; {
		n, closed := recordLen(b[at:], k.delim)
		if at+n == len(b) && b[len(b)-1] != '\n' || !closed && len(b)-at <= maxQuoted+1 {
			return at
		}
		if at += n; at == len(b) {
			// A quote at the very end might be the first of two.
			return at
		}
	}
}

// skipLine reads to behind the next line end.
func (k *cutter) skipLine() error {
	buf := make([]byte, 4096)
	for k.err == nil {
		var n int
		n, k.err = k.r.Read(buf)
		if i := bytes.IndexByte(buf[:n], '\n'); i >= 0 {
			k.rest = append(k.rest, buf[i+1:n]...)
			return nil
		}
	}
	if !errors.Is(k.err, io.EOF) {
		return k.err
	}
	return nil
}
