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
		if f.ReaderVersion != 20 || f.CreatorVersion&0xff != 20 { // as the standard library's own writer says
			t.Errorf("%s: version %d by %d", f.Name, f.ReaderVersion, f.CreatorVersion)
		}
		if f.Name != members[i].Name || !f.Modified.Equal(at) || (f.Method == stdzip.Store) != members[i].Stored {
			t.Errorf("%+v", f.FileHeader)
		}
	}
}

// A date that the format cannot tell is the nearest year's that it can.
func TestDates(t *testing.T) {
	for at, want := range map[string]string{"1979-06-01T10:00:00Z": "1979-06-01 10:00 as 1980", "2000-02-29T23:59:58Z": "2000-02-29 23:59 as 2000",
		"2107-12-31T10:00:00Z": "2107-12-31 10:00 as 2107", "2200-03-04T10:00:00Z": "2107-03-04 10:00 as 2107", "0001-01-01T00:00:00Z": "1980-01-01 00:00 as 1980"} {
		m, err := time.Parse(time.RFC3339, at)
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		if err := Write(&b, slices.Values([]Member{{Name: "a", Modified: m, Content: func() ([]byte, error) { return nil, nil }}})); err != nil {
			t.Fatal(err)
		}
		z, err := stdzip.NewReader(bytes.NewReader(b.Bytes()), int64(b.Len()))
		if err != nil {
			t.Fatal(err)
		}
		f := z.File[0]
		if got := fmt.Sprintf("%s as %d", f.Modified.UTC().Format("2006-01-02 15:04"), 1980+f.ModifiedDate>>9); got != want {
			t.Errorf("%s: %s, want %s", at, got, want)
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
