// Package archive writes ZIP archives whose members are made and compressed on all
// cores. The same members give the same bytes.
package archive

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"io"
	"iter"
	"runtime"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"github.com/klauspost/compress/flate" // as the standard library's, in half the time
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
			go func() { made <- m.pack() }()
		}
	}()
	out := zip.NewWriter(w)
	for made := range next {
		p := <-made
		if p.err != nil {
			return p.err
		}
		to, err := out.CreateRaw(&p.header)
		if err != nil {
			return err
		}
		if _, err := to.Write(p.body); err != nil {
			return err
		}
	}
	return out.Close()
}

// A packed member is as it stands in the archive.
type packed struct {
	header zip.FileHeader
	body   []byte
	err    error
}

// compressors are kept, since each has large tables.
var compressors = sync.Pool{New: func() any {
	w, err := flate.NewWriter(nil, flate.DefaultCompression)
	if err != nil {
		panic(err) // which only a level can cause
	}
	return w
}}

func (m Member) pack() (p packed) {
	content, err := m.Content()
	if err != nil {
		p.err = fmt.Errorf("%s: %w", m.Name, err)
		return p
	}
	p.header = m.header()
	p.header.CRC32, p.header.UncompressedSize64 = crc32.ChecksumIEEE(content), uint64(len(content))
	p.body = content
	if !m.Stored {
		b := bytes.NewBuffer(make([]byte, 0, len(content)/4+64))
		w := compressors.Get().(*flate.Writer)
		defer compressors.Put(w)
		w.Reset(b)
		if _, p.err = w.Write(content); p.err == nil {
			p.err = w.Close()
		}
		p.body = b.Bytes()
	}
	p.header.CompressedSize64 = uint64(len(p.body))
	return p
}

// version 2.0 of the format brought deflate (APPNOTE 4.4.3.2).
const version = 20

// header is what does not depend on the content.
func (m Member) header() zip.FileHeader {
	h := zip.FileHeader{Name: m.Name, Method: zip.Deflate, CreatorVersion: version, ReaderVersion: version}
	if m.Stored {
		h.Method = zip.Store
	}
	if strings.ContainsFunc(m.Name, func(r rune) bool { return r >= utf8.RuneSelf }) {
		h.Flags = 0x800 // the name is UTF-8 (APPNOTE 4.4.4, bit 11)
	}
	// The format's own date has no zone, is good to two seconds, and ends with 2107.
	// Readers that know better take the second one (APPNOTE 4.6.1; 0x5455: the extended
	// timestamp of Info-ZIP's extrafld.txt), where it can tell the date.
	at := m.Modified.UTC()
	h.SetModTime(time.Date(min(max(at.Year(), 1980), 2107), at.Month(), at.Day(), at.Hour(), at.Minute(), at.Second(), 0, time.UTC))
	if s := m.Modified.Unix(); s == int64(uint32(s)) {
		h.Extra = binary.LittleEndian.AppendUint32([]byte{0x55, 0x54, 5, 0, 1}, uint32(s))
	}
	return h
}
