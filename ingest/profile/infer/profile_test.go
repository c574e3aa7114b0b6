package infer

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/txtar"

	"coldbench/ingest/columnar"
	"coldbench/ingest/delimited"
	"coldbench/ingest/jsonlines"
	"coldbench/ingest/series"
	"coldbench/ingest/sheet"
	"coldbench/ingest/source"
)

var kinds = []source.Kind{delimited.Kind(), jsonlines.Kind(), sheet.Kind(), columnar.Kind()}

// load writes the proposal as a series' profile and reads the series, as a user
// who took it as it is would have it.
func load(t *testing.T, p *Proposal, log string) (*series.Profile, source.Input) {
	t.Helper()
	dir := t.TempDir()
	text := p.TOML("proposed")
	for name, data := range map[string][]byte{"series.toml": []byte("title = \"x\"\n"), "profiles/p.toml": text} {
		name = filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	s, l, err := series.Load(dir, []string{"delimited", "json", "sheet", "columnar"})
	if err != nil || l != nil {
		t.Fatalf("the written profile does not load: %v %v\n%s", l, err, text)
	}
	in := source.Input{Path: log, Shown: "log", Profile: s.Profiles["p"], Session: &series.Session{}, Location: time.UTC}
	if p.NeedsDate {
		in.Source.Start = start
	}
	return s.Profiles["p"], in
}

// count reads a file by a profile and returns the rows kept and set aside.
func count(t *testing.T, in source.Input) (kept int64, aside []source.Aside) {
	t.Helper()
	i := slices.IndexFunc(kinds, func(k source.Kind) bool { return k.Name == in.Profile.Kind })
	r, l, err := kinds[i].Open(in)
	if err != nil || l != nil {
		t.Fatalf("the file cannot be read by the written profile: %v %v", l, err)
	}
	defer r.Release()
	for r.Next() {
	}
	if r.Err() != nil {
		t.Fatal(r.Err())
	}
	return r.Report().RowsKept, r.Report().Aside
}

// Every profile written for a log of the table of headers loads, is the proposal,
// and reads all rows.
func TestWrittenProfilesRead(t *testing.T) {
	files, err := filepath.Glob("testdata/headers/*.txtar")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range files {
		ar, err := txtar.ParseFile(name)
		if err != nil {
			t.Fatal(err)
		}
		log := filepath.Join(t.TempDir(), "log.csv")
		if err := os.WriteFile(log, ar.Files[0].Data, 0o644); err != nil {
			t.Fatal(err)
		}
		p, l, err := File(log, "log.csv")
		if err != nil || l != nil {
			t.Fatal(name, l, err)
		}
		got, in := load(t, p, log)
		if len(got.Columns) != len(p.Profile.Columns) || got.HeaderRow != p.Profile.HeaderRow || got.Delimiter != p.Profile.Delimiter || got.Clock != p.Profile.Clock {
			t.Errorf("%s: wrote %+v, read %+v", name, p.Profile, got)
		}
		for i, c := range got.Columns {
			if fmt.Sprint(c) != fmt.Sprint(p.Profile.Columns[i]) {
				t.Errorf("%s: wrote %+v, read %+v", name, p.Profile.Columns[i], c)
			}
		}
		if len(p.Readings) > 0 {
			if got.Clock.Format != "" || !strings.Contains(string(p.TOML("x")), "\n# format = ") {
				t.Errorf("%s: the clock was guessed: %+v", name, got.Clock)
			}
			in.Profile.Clock.Format = p.Readings[0].Clock.Format
		}
		if kept, aside := count(t, in); kept != 40 || len(aside) > 0 {
			t.Errorf("%s: %d rows kept, %d set aside: %+v", name, kept, len(aside), aside[:min(1, len(aside))])
		}
	}
}
