// Package reports writes an edition's folder: the workbook, the page and the data. It
// writes beside the place where the edition will lie and moves it there when it
// is whole, so that an edition is there completely or not at all, and it never
// changes one that is there.
package reports

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"coldbench/metrics/edition"
	"coldbench/reports/bundle"
	"coldbench/reports/page"
	"coldbench/reports/workbook"
)

// PageFile is the page's name in an edition's folder.
const PageFile = "report.html"

// WorkbookFile is the workbook's name in an edition's folder.
const WorkbookFile = "ranking.xlsx"

// ErrExists means that an edition of that name is there already.
var ErrExists = errors.New("the edition is there already; editions are never changed")

// Write writes the edition into the folder editions/ID below dir and returns
// that folder. Its files are made read-only. The page says what moved since the
// newest edition that is there.
func Write(dir string, e *edition.Edition, logs []edition.Log) (string, error) {
	final := filepath.Join(dir, "editions", e.ID)
	names, err := Editions(dir)
	if err != nil {
		return "", err
	}
	var before *edition.Edition
	if len(names) > 0 {
		if before, err = Read(dir, names[len(names)-1]); err != nil {
			return "", err
		}
	}
	if err := write(final, e, logs, before); err != nil {
		return "", fmt.Errorf("reports: edition %s: %w", e.ID, err)
	}
	return final, nil
}

func write(final string, e *edition.Edition, logs []edition.Log, before *edition.Edition) error {
	if _, err := os.Lstat(final); err == nil {
		return ErrExists
	}
	parent := filepath.Dir(final)
	if err := os.MkdirAll(parent, 0o755); err != nil {
		return err
	}
	tmp, err := os.MkdirTemp(parent, ".making-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(tmp)
	data := filepath.Join(tmp, "data")
	if err := os.Mkdir(data, 0o755); err != nil {
		return err
	}
	if err := bundle.Write(data, e, logs); err != nil {
		return err
	}
	if err := create(filepath.Join(tmp, WorkbookFile), func(w io.Writer) error { return workbook.Write(w, e, logs) }); err != nil {
		return err
	}
	if err := create(filepath.Join(tmp, PageFile), func(w io.Writer) error { return page.Write(w, e, logs, before) }); err != nil {
		return err
	}
	err = filepath.WalkDir(tmp, func(name string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			err = os.Chmod(name, 0o444)
		}
		return err
	})
	if err != nil {
		return err
	}
	if err := os.Chmod(tmp, 0o755); err != nil {
		return err
	}
	return os.Rename(tmp, final)
}

func create(name string, write func(io.Writer) error) error {
	f, err := os.Create(name)
	if err != nil {
		return err
	}
	if err := write(f); err != nil {
		f.Close()
		return err
	}
	return f.Close()
}

// Editions returns the names of the editions in the series folder dir, oldest
// first.
func Editions(dir string) ([]string, error) {
	entries, err := os.ReadDir(filepath.Join(dir, "editions"))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("reports: %w", err)
	}
	var names []string
	for _, entry := range entries {
		name := entry.Name()
		if _, err := os.Stat(filepath.Join(dir, "editions", name, "data", bundle.EditionFile)); err == nil && name[0] != '.' {
			names = append(names, name)
		}
	}
	return names, nil // ReadDir sorts, and names sort by date
}

// Read reads an edition of the series folder dir back.
func Read(dir, name string) (*edition.Edition, error) {
	f, err := os.Open(filepath.Join(dir, "editions", name, "data", bundle.EditionFile))
	if err != nil {
		return nil, fmt.Errorf("reports: %w", err)
	}
	defer f.Close()
	e, err := edition.Read(f)
	if err != nil {
		return nil, fmt.Errorf("reports: %s: %w", f.Name(), err)
	}
	return e, nil
}
