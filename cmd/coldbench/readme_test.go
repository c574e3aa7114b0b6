package main

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"coldbench/metrics"
)

var rewrite = flag.Bool("rewrite", false, "write the README's generated parts")

// The README's table of figures is the catalogue's.
func TestReadmeFigures(t *testing.T) {
	cat, l, err := metrics.Load("")
	if err != nil || l != nil {
		t.Fatal(l, err)
	}
	var table strings.Builder
	table.WriteString("| figure | what it is | unit | better |\n| --- | --- | --- | --- |\n")
	for _, d := range cat.Figures {
		fmt.Fprintf(&table, "| `%s` | %s | %s | %s |\n", d.Name, d.Title, d.Unit, d.Better)
	}
	between(t, "<!-- figures -->\n", "<!-- /figures -->", table.String())
}

// The README's standings are what the demo prints.
func TestReadmeStandings(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "demo")
	var out, discard bytes.Buffer
	if code := run([]string{"demo", dir}, &discard, &discard); code != 0 {
		t.Fatalf("exit status %d: %s", code, discard.String())
	}
	if code := run([]string{"standings", dir}, &out, &discard); code != 0 {
		t.Fatalf("exit status %d", code)
	}
	table, _, ok := strings.Cut(out.String(), "\n\n±")
	if !ok {
		t.Fatal(out.String())
	}
	table = regexp.MustCompile(`edition \S+`).ReplaceAllString(table, "edition 2026-02-10T1200Z")
	between(t, "$ coldbench standings build/demo\n", "```", table+"\n")
}

// between holds the README's text between two marks to want.
func between(t *testing.T, from, to, want string) {
	t.Helper()
	const name = "../../README.md"
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	head, rest, ok := strings.Cut(string(text), from)
	got, tail, ok2 := strings.Cut(rest, to)
	if !ok || !ok2 {
		t.Fatalf("the README has no %q", from)
	}
	if *rewrite {
		if err := os.WriteFile(name, []byte(head+from+want+to+tail), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if got != want {
		t.Errorf("the README is out of date (-rewrite mends it):\n%s", want)
	}
}

// The README's table has every command.
func TestReadmeHasEveryCommand(t *testing.T) {
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range (&app{}).root().Commands() {
		if !strings.Contains(string(text), "\n| `coldbench "+c.Name()) {
			t.Errorf("the README does not tell of %q", c.Name())
		}
	}
}

// Every command that the README shows runs, in its order, on a fresh folder.
func TestReadmeCommands(t *testing.T) {
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	notes := regexp.MustCompile("(?s)```notes\n(.*?)```").FindSubmatch(text)
	if notes == nil {
		t.Fatal("the README shows no notes")
	}
	t.Chdir(t.TempDir())
	var out bytes.Buffer
	if code := run([]string{"demo", "build/demo"}, &out, &out); code != 0 {
		t.Fatal(out.String())
	}
	n := 0
	for _, line := range strings.Split(string(text), "\n") {
		command, ok := strings.CutPrefix(line, "$ coldbench ")
		if !ok {
			continue
		}
		n++
		out.Reset()
		if code := run(strings.Fields(command), &out, &out); code != 0 {
			t.Fatalf("%s: exit status %d\n%s", command, code, out.String())
		}
		if strings.HasPrefix(command, "new session ") {
			name := filepath.Join(strings.Fields(command)[2], "notes.txt")
			if err := os.WriteFile(name, notes[1], 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
	if n < 6 {
		t.Errorf("the README shows %d commands", n)
	}
}

// The protocol that new series lays out names every gate that it may set.
func TestTemplateNamesEveryGate(t *testing.T) {
	text, err := os.ReadFile("../../ingest/series/templates/series.toml")
	if err != nil {
		t.Fatal(err)
	}
	_, list, _ := strings.Cut(string(text), "# [[gate]]\n")
	list, _, _ = strings.Cut(list, "# limit")
	var names []string
	for _, g := range metrics.Gates() {
		names = append(names, g.Name)
	}
	_, list, _ = strings.Cut(list, "# ") // past the example's key, to the names behind it
	_, list, _ = strings.Cut(list, "# ")
	if got := strings.FieldsFunc(strings.ReplaceAll(list, "#", ""), func(r rune) bool { return strings.ContainsRune(" ,\n", r) }); strings.Join(got, " ") != strings.Join(names, " ") {
		t.Errorf("the template names %v,\ngates are %v", got, names)
	}
}
