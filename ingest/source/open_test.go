package source

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/klauspost/compress/gzip"
	"github.com/klauspost/compress/zstd"
)

func packed(t *testing.T, text string) map[string][]byte {
	t.Helper()
	var gz bytes.Buffer
	z := gzip.NewWriter(&gz)
	if _, err := io.WriteString(z, text); err != nil || z.Close() != nil {
		t.Fatal(err)
	}
	w, err := zstd.NewWriter(nil)
	if err != nil {
		t.Fatal(err)
	}
	return map[string][]byte{"plain": []byte(text), "gzip": gz.Bytes(), "zstd": w.EncodeAll([]byte(text), nil)}
}

func TestReadText(t *testing.T) {
	name := filepath.Join(t.TempDir(), "x")
	for _, c := range []struct{ text, want string }{{"", ""}, {"a", "a"}, {"\ufeffa\n", "a\n"}, {"ab\ufeff", "ab\ufeff"},
		{"a\rb\r", "a\nb\n"}, {"a\r\nb\r", "a\r\nb\r"}, {strings.Repeat("a,b\r", 50000), strings.Repeat("a,b\n", 50000)}} {
		for how, b := range packed(t, c.text) {
			if err := os.WriteFile(name, b, 0o644); err != nil {
				t.Fatal(err)
			}
			if got, err := ReadText(name); err != nil || string(got) != c.want {
				t.Errorf("%q, %s: got %q, %v", c.text, how, got, err)
			}
		}
	}
	// As Windows' notepad writes "Unicode", with and without the mark, both ways
	// round (Unicode 16, 3.10, D98): "a°" is 0061 00B0.
	for _, b := range []string{"\xff\xfea\x00\xb0\x00", "\xfe\xff\x00a\x00\xb0", "a\x001\x00\xb0\x00", "\x00a\x001\x00\xb0"} {
		for how, packed := range packed(t, b) {
			if err := os.WriteFile(name, packed, 0o644); err != nil {
				t.Fatal(err)
			}
			if got, err := ReadText(name); err != nil || strings.Replace(string(got), "1", "", 1) != "a°" {
				t.Errorf("%q, %s: got %q, %v", b, how, got, err)
			}
		}
	}
	if _, err := ReadText(name + "y"); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("no file: %v", err)
	}
	for how, b := range packed(t, "a text that is cut off") {
		if how == "plain" {
			continue
		}
		for _, n := range []int{4, len(b) - 1} {
			if err := os.WriteFile(name, b[:n], 0o644); err != nil {
				t.Fatal(err)
			}
			if got, err := ReadText(name); err == nil {
				t.Errorf("%s cut off after %d bytes: got %q", how, n, got)
			}
		}
	}
}

func TestSetAside(t *testing.T) {
	long := append(bytes.Repeat([]byte("a"), MaxRaw-1), 0xff, 'b')
	if a := SetAside(3, 2, long, "why", "how"); len(a.Raw) != MaxRaw-1+len("\uFFFD") || a.Line != 3 || a.Col != 2 || a.Reason != "why" || a.Hint != "how" {
		t.Errorf("%d bytes, %+v", len(a.Raw), a.Line)
	}
}
