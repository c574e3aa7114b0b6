//go:build unix

package ingest

import (
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// A pipe in a file's place is told of where the session lists it, and not waited for;
// one in the place of a session's own file too.
func TestPipe(t *testing.T) {
	for file, want := range map[string]string{
		"sessions/night/a.csv":        `sessions/night/session.toml:5:8: source "a.csv" is no file but a pipe, a device or the like`,
		"sessions/night/session.toml": "sessions/night/session.toml: it is no file but a pipe, a device or the like",
	} {
		f := newFolder(t)
		name := filepath.Join(f.dir, file)
		if err := os.Remove(name); err != nil {
			t.Fatal(err)
		}
		if err := syscall.Mkfifo(name, 0o600); err != nil {
			t.Fatal(err)
		}
		if got, _, _ := strings.Cut(f.refusal(), "\n"); got != want {
			t.Errorf("%s: %q", file, got)
		}
	}
}
