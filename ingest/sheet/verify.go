package sheet

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"syscall"

	"coldbench/warehouse/diag"
)

// maxUnpacked bounds a workbook, in bytes once unpacked, and maxPart what of it
// is read into memory at once: a small file may unpack to more than the machine
// holds. A sheet of a million rows and ten columns has about 500 MB.
const (
	maxUnpacked = 1 << 30
	maxPart     = 128 << 20
)

// inside reads a file at places that a broken archive names: one before its start is
// the archive's mistake, not the machine's.
type inside struct{ io.ReaderAt }

// ReadAt implements io.ReaderAt.
func (r inside) ReadAt(p []byte, off int64) (int, error) {
	if off < 0 {
		return 0, errors.New("a part lies before the file's start")
	}
	return r.ReaderAt.ReadAt(p, off)
}

// verify reads the whole file and says what is wrong with it. The library that
// reads the rows takes a sheet that breaks off, or whose checksum does not
// match, for one that ends there, and a formula without a stored value for an
// empty cell: those of every sheet are returned.
func verify(path string) (formulas, *diag.Diagnostic, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, nil, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return nil, nil, err
	}
	return verifyParts(f, info.Size())
}

func verifyParts(f io.ReaderAt, bytesLong int64) (formulas, *diag.Diagnostic, error) {
	head := make([]byte, 8)
	n, err := f.ReadAt(head, 0)
	switch {
	case err != nil && !errors.Is(err, io.EOF):
		return nil, nil, err
	case n == 0:
		return nil, diag.New(diag.Pos{}, "the file is empty"), nil
	case bytes.HasPrefix(head, []byte{0xd0, 0xcf, 0x11, 0xe0}):
		return nil, diag.New(diag.Pos{}, "the file is an .xls workbook, or has a password").WithHint("save it as .xlsx without one"), nil
	}
	z, err := zip.NewReader(inside{f}, bytesLong)
	if isMachine(err) {
		return nil, nil, err
	} else if err != nil {
		return nil, diag.New(diag.Pos{}, "the file is no .xlsx workbook: %s", lower(err)).WithHint("is it cut off, or another kind of file?"), nil
	}
	size, workbook := uint64(0), false
	for _, part := range z.File {
		size += min(part.UncompressedSize64, maxUnpacked+1)
		limit := uint64(maxUnpacked)
		if !isSheet(part.Name) {
			limit = maxPart
		}
		if size > maxUnpacked || part.UncompressedSize64 > limit {
			return nil, diag.New(diag.Pos{}, "the workbook unpacks to more than %d MiB, the most that is read of %s", limit>>20, part.Name).WithHint("write it as delimited text instead"), nil
		}
		workbook = workbook || strings.EqualFold(part.Name, "xl/workbook.xml")
	}
	if !workbook {
		return nil, diag.New(diag.Pos{}, "the file is no .xlsx workbook: it has no xl/workbook.xml").WithHint("save it as .xlsx"), nil
	}
	pending := formulas{}
	for _, part := range z.File {
		found, err := wellFormed(part)
		if err != nil {
			if isMachine(err) {
				return nil, nil, err
			}
			return nil, diag.New(diag.Pos{}, "the workbook is broken: %s: %s", part.Name, lower(err)).WithHint("is the file cut off?"), nil
		}
		if len(found) > 0 {
			pending[strings.ToLower(part.Name)] = found
		}
	}
	return pending, nil, nil
}

// isMachine reports whether an error is the machine's, not the file's. A file
// may have a place read that is negative, which is invalid.
func isMachine(err error) bool {
	var errno syscall.Errno
	return errors.As(err, &errno) && errno != syscall.EINVAL
}

func isSheet(name string) bool {
	name = strings.ToLower(name)
	return strings.HasPrefix(name, "xl/worksheets/sheet") || name == "xl/sharedstrings.xml"
}

// wellFormed reads one part to its end, and finds the formulas in it that have no
// value stored.
func wellFormed(part *zip.File) (pending []place, err error) {
	r, err := part.Open()
	if err != nil {
		return nil, err
	}
	defer r.Close()
	if isSheet(part.Name) {
		if pending, err = readFormulas(r); err != nil {
			return nil, err
		}
	}
	_, err = io.Copy(io.Discard, r)
	return pending, err
}

var errPanic = errors.New("it cannot be parsed")

// guard calls fn and makes an error of a panic. The workbook is parsed by a
// library, and a workbook that no program writes may have it index past an end.
func guard(fn func() error) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("%w: %v", errPanic, p)
		}
	}()
	return fn()
}

// lower is an error's text as diagnostics write it.
func lower(err error) string { return strings.TrimPrefix(err.Error(), "zip: ") }
