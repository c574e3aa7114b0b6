package ingest

import (
	"bufio"
	"errors"
	"io/fs"
	"strings"

	"coldbench/warehouse/diag"
)

// Unread makes a diagnostic of the error for which a source could not be read to
// its end. What is in one file, or keeps it from being read, stops one session, not
// the series.
func Unread(err error, shown string) *diag.Diagnostic {
	why := err.Error()
	if _, after, ok := strings.Cut(why, shown+": "); ok { // behind the package that read it
		why = after
	}
	why = strings.TrimPrefix(why, "infer: ")
	hint := "is it cut off or damaged?"
	var denied *fs.PathError
	switch {
	case errors.As(err, &denied):
		why, hint = denied.Err.Error(), ""
	case errors.Is(err, bufio.ErrTooLong), errors.Is(err, bufio.ErrBufferFull):
		why, hint = "a line of it is longer than any in a log", "is it another kind of file?"
	}
	return diag.New(diag.Pos{File: shown}, "the file cannot be read: %s", why).WithHint("%s", hint)
}
