//go:build unix

package ingest

import (
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"

	"coldbench/ingest/series"
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

// A folder that the program cannot name, and a link that leads back to itself, are told
// of for what they are.
func TestOddNames(t *testing.T) {
	f := newFolder(t)
	log := filepath.Join(f.dir, "sessions/night/a.csv")
	if err := errors.Join(os.Remove(log), os.Symlink("a.csv", log)); err != nil {
		t.Fatal(err)
	}
	if got, _, _ := strings.Cut(f.refusal(), "\n"); !strings.HasPrefix(got, `sessions/night/session.toml:5:8: source "a.csv" cannot be read: `) {
		t.Error(got)
	}
	if err := os.Mkdir(filepath.Join(f.dir, "sessions", "x\xff"), 0o755); err != nil {
		if runtime.GOOS != "linux" {
			t.Skip("this system has no such names: ", err)
		}
		t.Fatal(err)
	}
	_, l, err := series.Load(f.dir, KindNames())
	if want := `sessions: the name of "x\xff" is not UTF-8, so it is not read (give it another name)`; err != nil || l.Error() != want {
		t.Errorf("%v, %v", l, err)
	}
}
