package main

import (
	"context"
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"coldbench/ingest/demo"
	"coldbench/warehouse"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"coldbench":      func() { os.Exit(run(os.Args[1:], os.Stdout, os.Stderr)) },
		"coldbench-held": held,
	})
}

// Each script runs the program as a user would; the open data lies in its
// folder as open-data. "logs DIR" writes one night in every kind of log, for those
// that no script can hold; "hold FILE" keeps a warehouse open until the script ends.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "../../testdata/scripts",
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"logs": func(ts *testscript.TestScript, neg bool, args []string) {
				if neg || len(args) != 1 {
					ts.Fatalf("usage: logs DIR")
				}
				ts.Check(demo.WriteKinds(ts.MkAbs(args[0])))
			},
			"hold": func(ts *testscript.TestScript, neg bool, args []string) {
				if neg || len(args) != 1 {
					ts.Fatalf("usage: hold FILE")
				}
				store, err := warehouse.Open(context.Background(), ts.MkAbs(args[0]))
				ts.Check(err)
				ts.Defer(func() { ts.Check(store.Close()) })
			},
		},
		Setup: func(env *testscript.Env) error {
			return copyTree("../../testdata/open-data", filepath.Join(env.WorkDir, "open-data"))
		},
	})
}

func copyTree(from, to string) error {
	return filepath.WalkDir(from, func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(from, name)
		if err != nil {
			return err
		}
		if d.IsDir() {
			return os.MkdirAll(filepath.Join(to, rel), 0o755)
		}
		data, err := os.ReadFile(name)
		if err != nil {
			return err
		}
		return os.WriteFile(filepath.Join(to, rel), data, 0o644)
	})
}
