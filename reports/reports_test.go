package reports

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"coldbench/metrics/edition"
	"coldbench/reports/bundle"
	"coldbench/warehouse/diag"
)

// Editions of one minute are in the order of their numbers, and one whose data is
// broken or gone is told of with its place.
func TestEditions(t *testing.T) {
	dir := t.TempDir()
	want := []string{"2026-02-01T0929Z", "2026-02-01T0930Z", "2026-02-01T0930Z-2", "2026-02-01T0930Z-9", "2026-02-01T0930Z-10", "2026-02-01T0931Z"}
	for _, id := range want {
		data := filepath.Join(dir, "editions", id, DataFolder)
		if err := os.MkdirAll(data, 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(data, bundle.EditionFile), []byte(`{"id": `), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, id := range []string{"2026-02-01T0932Z", "notes", ".making-123", "2026-02-01T0930Z-x", "2026-02-01T0930Z-final"} { // the first lost its data
		if err := os.MkdirAll(filepath.Join(dir, "editions", id), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "editions", "2026-02-01T0933Z"), nil, 0o644); err != nil { // a file is none
		t.Fatal(err)
	}
	got, err := Editions(dir)
	if want := append(want, "2026-02-01T0932Z"); err != nil || !slices.Equal(got, want) {
		t.Errorf("%q, %v", got, err)
	}
	var d *diag.Diagnostic
	for _, id := range []string{want[0], "2026-02-01T0932Z"} {
		if _, err := Read(dir, id); !errors.As(err, &d) || d.Hint == "" {
			t.Errorf("a broken edition: %v", err)
		}
	}
}

// An edition whose making is interrupted is not there, and nothing is left of it; one
// that is whole stays.
func TestInterrupted(t *testing.T) {
	dir := t.TempDir()
	e := &edition.Edition{ID: "2026-02-01T0930Z", Title: "t"}
	ctx, interrupt := context.WithCancel(context.Background())
	publish := func() error { return nil }
	if _, err := Write(ctx, dir, e, nil, nil, publish); err != nil {
		t.Fatal(err)
	}
	interrupt()
	e.ID = "2026-02-01T0931Z"
	if _, err := Write(ctx, dir, e, nil, nil, publish); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	left, err := os.ReadDir(filepath.Join(dir, "editions"))
	if err != nil || len(left) != 1 || left[0].Name() != "2026-02-01T0930Z" {
		t.Errorf("%v, %v", left, err)
	}
}
