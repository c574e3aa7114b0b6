package archive

import (
	stdzip "archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"testing"
	"time"
)

// The standard library reads what was written: all members, in their order, dated
// and compressed as asked, and writing them again gives the same bytes.
func TestWrite(t *testing.T) {
	at := time.Date(2026, 2, 1, 9, 30, 15, 0, time.UTC)
	var members []Member
	text := func(i int) string { return strings.Repeat(fmt.Sprintln("row", i), i*i*10) }
	for i := range 50 {
		members = append(members, Member{Name: fmt.Sprintf("data/ä-%d.csv", i), Modified: at, Stored: i%7 == 0,
			Content: func() ([]byte, error) { return []byte(text(i)), nil }})
	}
	var b, again bytes.Buffer
	for _, w := range []io.Writer{&b, &again} {
		if err := Write(w, slices.Values(members)); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(b.Bytes(), again.Bytes()) {
		t.Error("other bytes the second time")
	}
	z, err := stdzip.NewReader(bytes.NewReader(b.Bytes()), int64(b.Len()))
	if err != nil {
		t.Fatal(err)
	}
	if len(z.File) != len(members) {
		t.Fatalf("%d members", len(z.File))
	}
	for i, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		got, err := io.ReadAll(r) // which checks the sum
		if err != nil || string(got) != text(i) {
			t.Errorf("%s: %d bytes, %v", f.Name, len(got), err)
		}
		if f.Name != members[i].Name || !f.Modified.Equal(at) || (f.Method == stdzip.Store) != members[i].Stored {
			t.Errorf("%+v", f.FileHeader)
		}
	}
}

func TestWriteFails(t *testing.T) {
	lost := errors.New("the sheet is gone")
	members := []Member{{Name: "a", Content: func() ([]byte, error) { return []byte("a"), nil }}, {Name: "b", Content: func() ([]byte, error) { return nil, lost }}}
	for range 100 {
		members = append(members, members[0])
	}
	if err := Write(io.Discard, slices.Values(members)); !errors.Is(err, lost) || !strings.HasPrefix(err.Error(), "b: ") {
		t.Error(err)
	}
}
