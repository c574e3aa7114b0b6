package sheet

import (
	"errors"
	"fmt"
	"io"
	"slices"

	"coldbench/ingest/source"
	"coldbench/warehouse/diag"
)

// Sample reads a sheet, "" for the first, of a workbook that no profile describes
// yet: the names of all its sheets, and visit is called with every row of the
// sheet that holds anything, counted from 1, its cells as the file keeps them. The
// cells are the visitor's to keep. It ends where visit returns false, or where the
// sheet breaks. The List says what is wrong with the workbook.
func Sample(path, shown, sheet string, visit func(row int64, cells []string) bool) (sheets []string, l diag.List, err error) {
	in := source.NewSample(path, shown)
	in.Profile.Sheet = sheet
	if d, err := verify(path); err != nil {
		return nil, nil, fmt.Errorf("sheet: %s: %w", shown, err)
	} else if d != nil {
		return nil, diag.List{diag.At(d, diag.Pos{File: shown})}, nil
	}
	t, d, err := openTable(in, area{})
	if err != nil {
		return nil, nil, err
	}
	if d != nil {
		return nil, diag.List{d}, nil
	}
	defer t.Close()
	if err := guard(func() error { sheets = t.file.GetSheetList(); return nil }); err != nil {
		return nil, nil, fmt.Errorf("sheet: %s: %w", shown, err)
	}
	for {
		if !isEmpty(t.cells) && !visit(int64(t.row), slices.Clone(t.cells)) {
			return sheets, nil, nil
		}
		err := t.read()
		if errors.Is(err, io.EOF) || err != nil {
			return sheets, nil, nil
		}
	}
}
