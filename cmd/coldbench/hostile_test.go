package main

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode"
)

// A name that would do more to a terminal than be read is harmless in all that is
// printed for people, in what is said of mistakes too, and whole in what is printed for
// programs.
func TestHostileNames(t *testing.T) {
	const name = "=1+1 </script> \x1b[31m\u202egnp.exe \u200f🚗"
	dir := t.TempDir()
	if err := writeHours(dir, 2); err != nil {
		t.Fatal(err)
	}
	for car, text := range map[string]string{
		"car-00": fmt.Sprintf("name = \"%s\"\nusable_kwh = 80\n", strings.ReplaceAll(name, "\x1b", `\u001b`)),
		"car-01": "name = \"" + strings.Repeat("Maplewood ", 30) + "\"\nusable_kwh = 80\n\"un\\u001b[31mknown\" = 1\n",
	} {
		if err := os.WriteFile(filepath.Join(dir, "vehicles", car+".toml"), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, args := range [][]string{
		{"run", dir}, {"check", dir}, {"standings", dir}, {"why", dir, "2026-01-01-car-00", "delay_to_onset"}, {"query", dir, "select name from vehicle"},
		{"standings", dir + "\x1b[31m"},
	} {
		var out, errs bytes.Buffer
		run(args, &out, &errs)
		for what, text := range map[string]string{"output": out.String(), "errors": errs.String()} {
			if strings.ContainsFunc(text, func(r rune) bool { return r != '\n' && unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r) }) {
				t.Errorf("%s: something harmful in the %s: %q", args[0], what, text)
			}
		}
		if args[0] == "run" && (!strings.Contains(out.String(), "=1+1 </script> [31m gnp.exe 🚗") || !strings.Contains(errs.String(), "unknown")) {
			t.Errorf("the name or the mistake is not told of:\n%s\n%s", out.String(), errs.String())
		}
	}
	var out, errs bytes.Buffer
	if code := run([]string{"query", "--csv", dir, "select name from vehicle where vehicle_id = 'car-00'"}, &out, &errs); code != 0 {
		t.Fatal(errs.String())
	}
	if rows, err := csv.NewReader(&out).ReadAll(); err != nil || len(rows) != 2 || rows[1][0] != name {
		t.Errorf("for a program the name is %q; %v", rows, err)
	}
}
