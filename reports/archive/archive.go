// Package archive writes ZIP archives whose members are made and compressed on all
// cores. The same members give the same bytes.
package archive

import (
	"bytes"
	"fmt"
	"io"
	"iter"
	"runtime"
	"time"

	"github.com/klauspost/compress/zip" // as the standard library's, in half the time
)

// A Member is one file of an archive.
type Member struct {
	Name     string
	Modified time.Time
	Stored   bool                   // as it is, since it is compressed already
	Content  func() ([]byte, error) // called once, while other members' are
}

// Write writes an archive of the members, in their order, as they come. Only a few are
// in memory at a time.
func Write(w io.Writer, members iter.Seq[Member]) error {
	type packed struct {
		member *zip.File
		err    error
	}
	next, stop := make(chan chan packed, 2*runtime.GOMAXPROCS(0)), make(chan struct{})
	defer func() {
		close(stop)
		for range next { // until no more come
		}
	}()
	go func() {
		defer close(next)
		for m := range members {
			made := make(chan packed, 1)
			select {
			case next <- made:
			case <-stop:
				return
			}
			go func() {
				f, err := m.pack()
				made <- packed{f, err}
			}()
		}
	}()
	out := zip.NewWriter(w)
	for made := range next {
		p := <-made
		if p.err != nil {
			return p.err
		}
		if err := out.Copy(p.member); err != nil {
			return err
		}
	}
	return out.Close()
}

// pack makes an archive of the member alone, from which it can be copied as it is.
func (m Member) pack() (*zip.File, error) {
	content, err := m.Content()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", m.Name, err)
	}
	h, size := &zip.FileHeader{Name: m.Name, Method: zip.Deflate, Modified: m.Modified}, len(content)/4
	if m.Stored {
		h.Method, size = zip.Store, len(content)
	}
	var b bytes.Buffer
	b.Grow(size + 1024)
	z := zip.NewWriter(&b)
	to, err := z.CreateHeader(h)
	if err != nil {
		return nil, err
	}
	if _, err := to.Write(content); err != nil {
		return nil, err
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	r, err := zip.NewReader(bytes.NewReader(b.Bytes()), int64(b.Len()))
	if err != nil {
		return nil, err
	}
	return r.File[0], nil
}
