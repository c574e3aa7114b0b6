package main

import (
	"context"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansitalic"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
)

// The demo's workbook on paper, as LibreOffice prints it and poppler reads it: no number
// is wider than its column, which would be shown as ###.
func TestDemoPrinted(t *testing.T) {
	soffice, err := exec.LookPath("soffice")
	if err != nil {
		t.Fatal("soffice is not installed; `make deps` installs it")
	}
	dir, e := runDemo(t)
	out := t.TempDir()
	for name, data := range map[string][]byte{"regular": liberationsansregular.TTF, "bold": liberationsansbold.TTF, "italic": liberationsansitalic.TTF} {
		file := filepath.Join(out, "fonts", name+".ttf")
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	ctx, cancel := context.WithTimeout(t.Context(), 120*time.Second)
	defer cancel()
	cmd := exec.CommandContext(ctx, soffice, "-env:UserInstallation="+(&url.URL{Scheme: "file", Path: filepath.Join(out, "profile")}).String(),
		"--headless", "--convert-to", "pdf", "--outdir", out, filepath.Join(dir, "editions", e.ID, "ranking.xlsx"))
	cmd.Env = append(os.Environ(), "XDG_DATA_HOME="+out)
	if said, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("soffice: %v\n%s", err, said)
	}
	text, err := exec.CommandContext(t.Context(), "pdftotext", "-layout", filepath.Join(out, "ranking.pdf"), "-").Output()
	if err != nil {
		t.Fatalf("pdftotext: %v; `make deps` installs it", err)
	}
	if n := strings.Count(string(text), "\f"); n < 50 || !strings.Contains(string(text), "kWh/100 km") {
		t.Errorf("%d pages, or nothing of drives on them", n)
	}
	for i, page := range strings.Split(string(text), "\f") {
		for line := range strings.Lines(page) {
			if strings.Contains(line, "##") {
				t.Errorf("page %d: %s", i+1, strings.TrimSpace(line))
			}
		}
	}
}
