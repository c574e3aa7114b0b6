package reports

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"github.com/apache/arrow/go/v17/arrow"

	"coldbench/reports/bundle"
	"coldbench/warehouse"
)

// Export writes tables of the warehouse into the new folder to, each as a file in
// each of the formats. Its error is ErrThere if there is anything at to.
func Export(ctx context.Context, w *warehouse.Workspace, to string, tables, formats []string) error {
	if _, err := os.Lstat(to); err == nil {
		return ErrThere
	}
	return whole(ctx, to, func(dir string) error {
		for _, table := range tables {
			if err := export(ctx, w, dir, table, formats); err != nil {
				return fmt.Errorf("reports: export %s: %w", table, err)
			}
		}
		return nil
	})
}

func export(ctx context.Context, w *warehouse.Workspace, dir, table string, formats []string) (err error) {
	var out []bundle.Writer
	var files []*os.File
	defer func() {
		for _, f := range files {
			err = errors.Join(err, f.Close())
		}
	}()
	begin := func(schema *arrow.Schema) error {
		for _, format := range formats {
			f, err := os.Create(filepath.Join(dir, table+"."+format))
			if err != nil {
				return err
			}
			files = append(files, f)
			one, err := bundle.NewWriter(f, format, schema)
			if err != nil {
				return err
			}
			out = append(out, one)
		}
		return nil
	}
	err = w.Records(ctx, table, begin, func(r arrow.Record) error {
		for _, one := range out {
			if err := one.Write(r); err != nil {
				return err
			}
		}
		return nil
	})
	for _, one := range out {
		err = errors.Join(err, one.Close())
	}
	return err
}
