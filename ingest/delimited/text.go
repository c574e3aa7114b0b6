package delimited

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/klauspost/compress/gzip"
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
		r = bufio.NewReader(transform.NewReader(r, e.NewDecoder()))
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
	r := bufio.NewReader(f)
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
		return bufio.NewReader(z), f, nil
	case bytes.Equal(magic, []byte{0x28, 0xb5, 0x2f, 0xfd}):
		z, err := zstd.NewReader(r)
		if err != nil {
			return nil, nil, fmt.Errorf("zstd: %w", err)
		}
		return bufio.NewReader(z), closers{z.IOReadCloser(), f}, nil
	}
	return r, f, nil
}

// closers are closed in order.
type closers []io.Closer

func (cs closers) Close() error {
	var errs []error
	for _, c := range cs {
		errs = append(errs, c.Close())
	}
	return errors.Join(errs...)
}
