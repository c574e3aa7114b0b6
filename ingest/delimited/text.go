package delimited

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/klauspost/compress/zstd"
	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"
)

// Encodings that a profile may name; "" is utf-8, or utf-16 where the file
// starts with that byte order mark.
var encodings = map[string]encoding.Encoding{
	"utf-8":        nil,
	"utf-16":       unicode.UTF16(unicode.LittleEndian, unicode.UseBOM),
	"latin-1":      charmap.ISO8859_1,
	"windows-1252": charmap.Windows1252,
}

var encodingNames = []string{"utf-8", "utf-16", "latin-1", "windows-1252"}

const blockBytes = 1 << 18

// openText opens a file, unpacks gzip and zstd, and decodes it to UTF-8 without
// a byte order mark.
func openText(name, enc string) (*bufio.Reader, io.Closer, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, nil, err
	}
	r, closer, err := unpack(f)
	if err != nil {
		f.Close()
		return nil, nil, err
	}
	head, err := r.Peek(2)
	if err != nil && !errors.Is(err, io.EOF) {
		closer.Close()
		return nil, nil, err
	}
	e := encodings[enc]
	if enc == "" && (bytes.Equal(head, []byte{0xff, 0xfe}) || bytes.Equal(head, []byte{0xfe, 0xff})) {
		e = encodings["utf-16"]
	}
	if e != nil {
		r = bufio.NewReaderSize(transform.NewReader(r, e.NewDecoder()), blockBytes)
	}
	if bom, err := r.Peek(3); err == nil && bytes.Equal(bom, []byte("\xef\xbb\xbf")) {
		if _, err := r.Discard(3); err != nil {
			closer.Close()
			return nil, nil, err
		}
	}
	return r, closer, nil
}

func unpack(f *os.File) (*bufio.Reader, io.Closer, error) {
	r := bufio.NewReaderSize(f, blockBytes)
	magic, err := r.Peek(4)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, nil, err
	}
	switch {
	case bytes.HasPrefix(magic, []byte{0x1f, 0x8b}):
		z, err := gzip.NewReader(r)
		if err != nil {
			return nil, nil, fmt.Errorf("gzip: %w", err)
		}
		return bufio.NewReaderSize(z, blockBytes), f, nil
	case bytes.Equal(magic, []byte{0x28, 0xb5, 0x2f, 0xfd}):
		z, err := zstd.NewReader(r)
		if err != nil {
			return nil, nil, fmt.Errorf("zstd: %w", err)
		}
		return bufio.NewReaderSize(z, blockBytes), closers{z.IOReadCloser(), f}, nil
	}
	return r, f, nil
}

type closers []io.Closer

func (cs closers) Close() error {
	var errs []error
	for _, c := range cs {
		errs = append(errs, c.Close())
	}
	return errors.Join(errs...)
}

// A splitter cuts text into records and fields as RFC 4180 does, with any one
// byte as delimiter. What it returns is good until its next call.
type splitter struct {
	r      *bufio.Reader
	delim  byte
	line   int64 // physical line on which the last record starts, from 1
	next   int64 // physical line of the next record
	raw    []byte
	fields [][]byte
	cols   []int  // byte column of each field within the record, from 1
	plain  []byte // text of a quoted record's fields, one after another
	ends   []int  // where each of them ends in it
}

func newSplitter(r *bufio.Reader) *splitter { return &splitter{r: r, next: 1} }

// read reads the next record into raw, without its line end. A line end within
// quotes belongs to the record. It returns io.EOF at the end of the text.
func (s *splitter) read() error {
	s.raw = s.raw[:0]
	s.line = s.next
	for {
		part, err := s.r.ReadSlice('\n')
		s.raw = append(s.raw, part...)
		if errors.Is(err, bufio.ErrBufferFull) {
			continue
		}
		if err != nil && !errors.Is(err, io.EOF) {
			return err
		}
		if len(part) == 0 && len(s.raw) == 0 {
			return io.EOF
		}
		s.next++
		// A quote left open goes on in the next line; within reason, so that one
		// stray quote does not swallow the file.
		if err == nil && bytes.Count(s.raw, []byte{'"'})%2 == 1 && s.quoted() && len(s.raw) < maxRecord && s.next-s.line < maxRecordLines {
			continue
		}
		s.raw = bytes.TrimSuffix(bytes.TrimSuffix(s.raw, []byte{'\n'}), []byte{'\r'})
		return nil
	}
}

const (
	maxRecord      = 1 << 20
	maxRecordLines = 20
)

// quoted reports whether the record has a field that starts with a quote, which
// is what makes an open quote one of RFC 4180 and not an inch or a second.
func (s *splitter) quoted() bool {
	return len(s.raw) > 0 && s.raw[0] == '"' || bytes.Contains(s.raw, []byte{s.delim, '"'})
}

// split cuts raw into fields.
func (s *splitter) split() {
	s.fields, s.cols = s.fields[:0], s.cols[:0]
	if bytes.IndexByte(s.raw, '"') >= 0 {
		s.splitQuoted()
		return
	}
	rest, col := s.raw, 1
	for {
		i := bytes.IndexByte(rest, s.delim)
		if i < 0 {
			s.fields, s.cols = append(s.fields, rest), append(s.cols, col)
			return
		}
		s.fields, s.cols = append(s.fields, rest[:i]), append(s.cols, col)
		rest, col = rest[i+1:], col+i+1
	}
}

func (s *splitter) splitQuoted() {
	s.plain, s.ends = s.plain[:0], s.ends[:0]
	raw := s.raw
	for i := 0; ; i++ {
		s.cols = append(s.cols, i+1)
		if i < len(raw) && raw[i] == '"' {
			for i++; i < len(raw); i++ {
				if raw[i] == '"' {
					i++
					if i == len(raw) || raw[i] != '"' {
						break
					}
				}
				s.plain = append(s.plain, raw[i])
			}
		}
		for ; i < len(raw) && raw[i] != s.delim; i++ {
			s.plain = append(s.plain, raw[i])
		}
		s.ends = append(s.ends, len(s.plain))
		if i >= len(raw) {
			break
		}
	}
	// plain may have moved while it grew, so fields are cut at the end.
	at := 0
	for _, end := range s.ends {
		s.fields = append(s.fields, s.plain[at:end:end])
		at = end
	}
}

// detect finds the delimiter of a header line: of the four in use, the one that
// it has most of.
func detect(header []byte) byte {
	best, most := byte(','), 0
	for _, d := range []byte{';', '\t', ',', '|'} {
		if n := bytes.Count(header, []byte{d}); n > most {
			best, most = d, n
		}
	}
	return best
}
