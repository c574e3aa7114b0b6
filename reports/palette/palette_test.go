package palette

import (
	"fmt"
	"os"
	"strings"
	"testing"
)

// The page's style, which cannot take a Go constant, has the same colours.
func TestPageHasTheSame(t *testing.T) {
	css, err := os.ReadFile("../page/page.css")
	if err != nil {
		t.Fatal(err)
	}
	for name, lines := range map[string][]uint32{"light": Lines, "dark": LinesDark} {
		for i, c := range lines {
			if want := fmt.Sprintf("--c%d: #%06x;", i, c); !strings.Contains(string(css), want) {
				t.Errorf("%s: page.css has no %q", name, want)
			}
		}
	}
}
