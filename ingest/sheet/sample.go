package sheet

import (
	"fmt"
	"slices"

	"github.com/xuri/excelize/v2"

	"coldbench/ingest/source"
	"coldbench/warehouse/diag"
)

// Sheets lists the sheets of a workbook that no profile describes yet. The List
// says what is wrong with the workbook.
func Sheets(path, shown string) (sheets []string, l diag.List, err error) {
	_, d, err := verify(path)
	if err != nil {
		return nil, nil, fmt.Errorf("sheet: %s: %w", shown, err)
	}
	if d != nil {
		return nil, diag.List{diag.At(d, diag.Pos{File: shown})}, nil
	}
	if err := guard(func() error {
		f, err := excelize.OpenFile(path, excelize.Options{RawCellValue: true, UnzipSizeLimit: maxUnpacked})
		if err != nil {
			return err
		}
		defer f.Close()
		sheets = f.GetSheetList()
		return nil
	}); err != nil {
		return nil, diag.List{diag.New(diag.Pos{File: shown}, "the workbook is broken: %s", lower(err)).WithHint("can a spreadsheet program open it?")}, nil
	}
	return sheets, nil, nil
}

// Sample reads a sheet of such a workbook: visit is called with every row that
// holds anything, counted from 1, its cells as the file keeps them. The cells are
// the visitor's to keep. It ends where visit returns false, or where the sheet
// breaks. The List says that there is nothing in it.
func Sample(path, shown, sheet string, visit func(row int64, cells []string) bool) (diag.List, error) {
	in := source.NewSample(path, shown)
	in.Profile.Sheet = sheet
	t, d, err := openTable(in, area{}, nil)
	if err != nil {
		return nil, err
	}
	if d != nil {
		return diag.List{d}, nil
	}
	defer t.Close()
	for {
		if !isEmpty(t.cells) && !visit(int64(t.row), slices.Clone(t.cells)) {
			return nil, nil
		}
		if err := t.read(); err != nil { // the end, or a break
			return nil, nil
		}
	}
}
