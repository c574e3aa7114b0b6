package delimited

import (
	"fmt"
	"testing"
)

// Records are cut as the reader cuts them: RFC 4180, blank lines passed over, lines
// physical ones.
func TestRecords(t *testing.T) {
	for text, want := range map[string]string{
		"":                         "",
		"a;b\n\n1;2":               "1[a b] 3[1 2] ",
		"a;b;\r\n1;2;\r\n":         "1[a b ] 2[1 2 ] ",
		"\"a\nb\";\"c\"\"d\"\n1;2": "1[a\nb c\"d] 3[1 2] ",
		"a;\"open\n1;2\n":          "1[a open] 2[1 2] ", // a quote that is not closed ends with its line
	} {
		got := ""
		Records([]byte(text), ';', func(line int, fields []string) bool {
			got += fmt.Sprintf("%d%v ", line, fields)
			return true
		})
		if got != want {
			t.Errorf("%q: got %q, want %q", text, got, want)
		}
	}
	n := 0
	Records([]byte("a\nb\nc\n"), ';', func(int, []string) bool { n++; return n < 2 })
	if n != 2 {
		t.Errorf("went on for %d records", n)
	}
}
