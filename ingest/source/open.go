package source

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"
)

// OpenText opens a raw file, unpacks gzip and zstd, which it knows by their
// first bytes, decodes UTF-16, which it knows by its byte order mark or the zero in
// the first character, passes over a UTF-8 byte order mark, and ends lines with \n
// where all end with \r alone. The caller closes the closer, which ends the reader too.
func OpenText(path string) (*bufio.Reader, io.Closer, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, nil, err
	}
	r := bufio.NewReaderSize(f, 64<<10)
	closer := io.Closer(f)
	magic, err := r.Peek(4)
	switch {
	case err != nil && !errors.Is(err, io.EOF):
	case bytes.HasPrefix(magic, []byte{0x1f, 0x8b}):
		var z *gzip.Reader
		if z, err = gzip.NewReader(r); err == nil {
			r = bufio.NewReaderSize(z, 64<<10)
		} else {
			err = fmt.Errorf("gzip: %w", err)
		}
	case bytes.Equal(magic, []byte{0x28, 0xb5, 0x2f, 0xfd}):
		var z *zstd.Decoder
		if z, err = zstd.NewReader(r, zstd.WithDecoderConcurrency(1)); err == nil {
			r, closer = bufio.NewReaderSize(z, 64<<10), closers{z.IOReadCloser(), f}
		} else {
			err = fmt.Errorf("zstd: %w", err)
		}
	default:
		err = nil
	}
	if err == nil {
		// Fewer bytes than these are no text in UTF-16.
		head, _ := r.Peek(4)
		if order, ok := wide(head); ok {
			decoder := unicode.UTF16(order, unicode.UseBOM).NewDecoder()
			r = bufio.NewReaderSize(transform.NewReader(r, decoder), 64<<10)
		}
		var bom []byte
		if bom, err = r.Peek(3); err == nil && bytes.Equal(bom, []byte("\xef\xbb\xbf")) {
			_, err = r.Discard(3)
		} else if errors.Is(err, io.EOF) {
			err = nil
		}
	}
	if err != nil {
		closer.Close()
		return nil, nil, err
	}
	// What keeps it from being read is told of when it is.
	if head, _ := r.Peek(r.Size()); bytes.IndexByte(head, '\r') >= 0 && bytes.IndexByte(head, '\n') < 0 {
		r = bufio.NewReaderSize(returns{r}, 64<<10)
	}
	return r, closer, nil
}

// returns reads every \r as \n.
type returns struct{ r io.Reader }

func (t returns) Read(p []byte) (int, error) {
	n, err := t.r.Read(p)
	for i, c := range p[:n] {
		if c == '\r' {
			p[i] = '\n'
		}
	}
	return n, err
}

// wide tells whether a text that starts with head is UTF-16, and in which order
// its bytes are: no other text has a zero in it.
func wide(head []byte) (unicode.Endianness, bool) {
	switch {
	case len(head) < 4:
		return unicode.LittleEndian, false
	case head[0] == 0xff && head[1] == 0xfe, head[1] == 0 && head[3] == 0 && head[0] != 0:
		return unicode.LittleEndian, true
	case head[0] == 0xfe && head[1] == 0xff, head[0] == 0 && head[2] == 0 && head[1] != 0:
		return unicode.BigEndian, true
	}
	return unicode.LittleEndian, false
}

// ErrTooLarge is what ReadText returns for a text of more than MaxText bytes.
var ErrTooLarge = errors.New("the text is too large to be read at once")

// MaxText bounds what ReadText reads, in bytes once unpacked: a small file may
// unpack to more than the machine holds.
const MaxText = 128 << 20

// ReadText reads a whole file as OpenText opens it.
func ReadText(path string) ([]byte, error) {
	r, closer, err := OpenText(path)
	if err != nil {
		return nil, err
	}
	defer closer.Close()
	text, err := io.ReadAll(io.LimitReader(r, MaxText+1))
	if err == nil && len(text) > MaxText {
		err = ErrTooLarge
	}
	return text, err
}

// SetAside is a row that is not used: where it stands, as it stood, and why.
func SetAside(line int64, col int, raw []byte, reason, hint string) Aside {
	return Aside{Line: line, Col: col, Raw: string(bytes.ToValidUTF8(raw[:min(len(raw), MaxRaw)], []byte("\uFFFD"))), Reason: reason, Hint: hint}
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
