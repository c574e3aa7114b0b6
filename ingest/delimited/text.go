package delimited

import (
	"bufio"
	"io"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/transform"

	"coldbench/ingest/source"
)

// Encodings that a profile may name; "" is utf-8. UTF-16 is known by its bytes.
var encodings = map[string]encoding.Encoding{
	"utf-8":        nil,
	"utf-16":       nil,
	"latin-1":      charmap.ISO8859_1,
	"windows-1252": charmap.Windows1252,
}

var encodingNames = []string{"utf-8", "utf-16", "latin-1", "windows-1252"}

// openText opens a file and decodes it to UTF-8 without a byte order mark.
func openText(name, enc string) (*bufio.Reader, io.Closer, error) {
	r, closer, err := source.OpenText(name)
	if err != nil {
		return nil, nil, err
	}
	if e := encodings[enc]; e != nil {
		r = bufio.NewReader(transform.NewReader(r, e.NewDecoder()))
	}
	return r, closer, nil
}
