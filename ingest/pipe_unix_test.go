//go:build unix

package ingest

import (
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// A pipe in a file's place is told of, and not waited for.
func TestPipe(t *testing.T) {
	f := newFolder(t)
	name := filepath.Join(f.dir, "sessions", "night", "a.csv")
	if err := os.Remove(name); err != nil {
		t.Fatal(err)
	}
	if err := syscall.Mkfifo(name, 0o600); err != nil {
		t.Fatal(err)
	}
	if got := f.refusal(); !strings.HasPrefix(got, "sessions/night/a.csv: the file cannot be read: it is no file but a pipe, a device or the like") {
		t.Error(got)
	}
}
