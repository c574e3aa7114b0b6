package ingest

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"strings"
	"testing"
)

// A source that breaks off, or is another kind of file, is its own session's
// matter: it is told of, and the other session is read.
func TestUnread(t *testing.T) {
	var packed bytes.Buffer
	z := gzip.NewWriter(&packed)
	log := "t,kW\n"
	for i := range 5000 {
		log += fmt.Sprintf("%d,%d\n", i, i*i%97)
	}
	if _, err := z.Write([]byte(log)); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	half := packed.String()[:packed.Len()/2]
	const align = "profile = \"log\"\nclock = \"align\"\nstart = 2026-01-12T20:00:00\n[[source]]\nfile = \"b.csv\""
	for _, c := range []struct{ name, file, text, settings, want string }{
		{"a packed log that breaks off", "a.csv", half, "", "sessions/night/a.csv: the file cannot be read: unexpected EOF (is it cut off or damaged?)"},
		{"what only starts like one", "a.csv", "\x1f\x8b\x00nothing", "", "sessions/night/a.csv: the file cannot be read: gzip: gzip: invalid header (is it cut off or damaged?)"},
		{"a header of 5 MB", "a.csv", "t,kW" + strings.Repeat("x", 5<<20) + "\n0,5\n", "", "sessions/night/a.csv: the file cannot be read: a line of it is longer than any in a log (is it another kind of file?)"},
		{"a note of 3 MB", "notes.txt", "2026-01-12\n20:00 plugged in\n20:01 " + strings.Repeat("x", 3<<20), "", "sessions/night/notes.txt: the file cannot be read: a line of it is longer than any in a log (is it another kind of file?)"},
		{"while it is aligned", "a.csv", "\x1f\x8b\x00nothing", align, "sessions/night/a.csv: the file cannot be read: gzip: gzip: invalid header (is it cut off or damaged?)"},
	} {
		f := newFolder(t)
		f.write("sessions/other/session.toml", strings.Replace(session, "[[source]]\nfile = \"b.csv\"\nprofile = \"log\"\nstart = 2026-01-12T20:00:00\n", "", 1))
		f.write("sessions/other/a.csv", "t,kW\n0,5\n10,6\n")
		f.write("sessions/other/notes.txt", "2026-01-12\n20:10 plugged in\n")
		f.write("sessions/night/b.csv", log)
		f.write("sessions/night/"+c.file, c.text)
		if c.settings != "" {
			f.write("sessions/night/session.toml", strings.Replace(session, "profile = \"log\"\nstart = 2026-01-12T20:00:00\n[[source]]\nfile = \"b.csv\"", c.settings, 1))
		}
		got := f.load()
		_, why, _ := strings.Cut(got, "refused: ")
		if !strings.HasPrefix(got, "night read [] unchanged 0 refused: ") || !strings.HasPrefix(why, c.want) || !strings.Contains(got, "\nother read [notes.txt a.csv] unchanged 0\n") {
			t.Errorf("%s: %.400s\nwant %s", c.name, got, c.want)
		}
	}
}
