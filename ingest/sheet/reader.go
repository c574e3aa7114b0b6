// Package sheet reads logs in .xlsx workbooks (ISO/IEC 29500) by a profile, row
// by row: one sheet, or a range of its cells, with the names of the columns in
// its first row.
//
// Numbers and texts that hold numbers both count; a formula is its value as it
// was last worked out, and one that never was sets its row aside. Where the profile's clock counts, "elapsed" or "epoch", a
// number is that count. With every other format a number is a day count of the
// workbook's own date system, 1900 or 1904, or below 61 a time of day, and a
// text is read by the format. A row without any cell is none. An error such as
// #N/A is no value only if the profile's missing says so.
//
// The point is the decimal mark of numbers, and of texts that a point makes
// numbers; the profile's is that of all others. TRUE and FALSE are 1 and 0.
//
// It does not look at number formats, so a duration that is shown as hh:mm:ss
// and kept as a fraction of a day needs the clock format "%H:%M:%S", nor at what
// merged, hidden or filtered cells look like. Lines are the sheet's rows, columns
// its columns.
package sheet

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/xuri/excelize/v2"

	"coldbench/ingest/profile"
	"coldbench/ingest/source"
	"coldbench/warehouse/diag"
)

// Kind is the kind of log that this package reads.
func Kind() source.Kind {
	return source.Kind{Name: "sheet", Doc: "a sheet of an .xlsx workbook with a column a channel, by a profile", Profile: true, Open: open}
}

func open(in source.Input) (source.Reader, diag.List, error) {
	if l := profile.NeedsProfile(in); l != nil {
		return nil, l, nil
	}
	l := diag.List(nil)
	area, d := parseRange(in.Profile.Range)
	if d != nil {
		return nil, append(l, diag.At(d, in.Profile.At("range"))), nil
	}
	pending, d, err := verify(in.Path)
	if err != nil {
		return nil, nil, fmt.Errorf("sheet: %s: %w", in.Shown, err)
	} else if d != nil {
		return nil, append(l, diag.At(d, diag.Pos{File: in.Shown})), nil
	}
	t, d, err := openTable(in, area, pending)
	if err != nil {
		return nil, nil, err
	}
	if d != nil {
		return nil, append(l, d), nil
	}
	header := diag.Pos{File: in.Shown, Line: t.row}
	m, l, err := profile.NewMapper(in, t.names, header, "the header has")
	t.Close()
	if l != nil || err != nil {
		return nil, l, err
	}
	clock, date := m.ClockSlots()
	return m.Open(func() (profile.Rows, error) {
		t, d, err := openTable(in, area, pending)
		if err != nil {
			return nil, err
		}
		if d != nil { // the file changed since
			return nil, fmt.Errorf("sheet: %w", d)
		}
		t.slots, t.counts = m.Slots(), counts(in.Profile.Clock.Format)
		t.times = []int{clock, date}
		return t, nil
	})
}

// counts reports whether a clock's numbers are counts, not days.
func counts(format string) bool { return format == "elapsed" || format == "epoch" }

// A table is a range of a sheet, with its header read.
type table struct {
	in    source.Input
	area  area
	file  *excelize.File
	rows  *excelize.Rows
	names []string // of the columns from area.left
	slots []int    // places in names, in the mapper's order
	times []int    // slots of the clock and its date, or -1

	counts   bool
	date1904 bool
	row      int // the present one, from 1
	cells    []string
	over     bool
	pending  []place // formulas without a value, from the present row on
}

// openTable opens the file and reads up to the header.
func openTable(in source.Input, area area, pending formulas) (t *table, d *diag.Diagnostic, err error) {
	p := in.Profile
	t = &table{in: in, area: area}
	defer func() {
		if t != nil && (d != nil || err != nil) {
			t.Close()
		}
	}()
	broken := func(err error) (*table, *diag.Diagnostic, error) {
		return t, diag.New(diag.Pos{File: in.Shown}, "the workbook is broken: %s", lower(err)).WithHint("can a spreadsheet program open it?"), nil
	}
	err = guard(func() (err error) {
		t.file, err = excelize.OpenFile(in.Path, excelize.Options{RawCellValue: true, UnzipSizeLimit: maxUnpacked})
		return err
	})
	if err != nil {
		return broken(err)
	}
	var sheets []string
	if err := guard(func() error {
		sheets = t.file.GetSheetList()
		props, err := t.file.GetWorkbookProps()
		t.date1904 = props.Date1904 != nil && *props.Date1904
		return err
	}); err != nil {
		return broken(err)
	}
	if len(sheets) == 0 {
		return broken(errors.New("it has no sheet"))
	}
	sheet := sheets[0]
	if p.Sheet != "" {
		i := slices.IndexFunc(sheets, func(s string) bool { return strings.EqualFold(s, p.Sheet) })
		if i < 0 {
			hint := diag.DidYouMean(p.Sheet, sheets)
			if hint == "" {
				hint = "it has: " + strings.Join(sheets[:min(len(sheets), 50)], ", ")
			}
			return t, diag.New(diag.Pos{File: in.Shown}, "no sheet %q, which profiles/%s.toml names", p.Sheet, p.ID).WithHint("%s", hint), nil
		}
		sheet = sheets[i]
	}
	if err := guard(func() (err error) { t.rows, err = t.file.Rows(sheet); return err }); err != nil {
		return broken(err)
	}
	if t.pending, err = pending.of(in.Path, sheet); err != nil {
		return t, nil, fmt.Errorf("sheet: %s: %w", in.Shown, err)
	}
	d = t.readHeader(sheet)
	return t, d, nil
}

// readHeader reads up to the header and takes its names.
func (t *table) readHeader(sheet string) *diag.Diagnostic {
	p := t.in.Profile
	pos := diag.Pos{File: t.in.Shown}
	first := max(1, t.area.top)
	if p.HeaderRow > 0 {
		first = p.HeaderRow
		if !t.area.holds(first) {
			return diag.New(p.At("header_row"), "the header, row %d, is not within range %q", first, p.Range)
		}
	}
	if p.FirstRow != 0 && p.FirstRow <= p.HeaderRow {
		return diag.New(p.At("first_row"), "the first row, %d, is not below the header, row %d", p.FirstRow, p.HeaderRow)
	}
	for {
		err := t.read()
		switch {
		case errors.Is(err, io.EOF):
			if t.row == 0 {
				return diag.New(pos, "sheet %q is empty", sheet).WithHint("sheet in profiles/%s.toml names another", p.ID)
			}
			return diag.New(pos, "sheet %q ends before its header, row %d", sheet, first).WithHint("header_row or range in profiles/%s.toml", p.ID)
		case err != nil:
			pos.Line = t.row
			return diag.New(pos, "the workbook is broken: %s", lower(err)).WithHint("can a spreadsheet program open it?")
		}
		// Without a row stated, the header is the first that holds anything.
		if t.row < first || isEmpty(t.cells) && p.HeaderRow == 0 && t.area.top == 0 {
			continue
		}
		for _, c := range t.cells {
			t.names = append(t.names, strings.TrimSpace(c))
		}
		return nil
	}
}

// read reads the next row of the sheet within the range, empty or not.
func (t *table) read() error {
	return guard(func() error {
		if t.over || !t.rows.Next() {
			t.over = true
			if err := t.rows.Error(); err != nil {
				return err
			}
			return io.EOF
		}
		t.row++
		cells, err := t.rows.Columns(excelize.Options{RawCellValue: true})
		t.cells = t.area.cut(cells)
		return err
	})
}

func isEmpty(cells []string) bool {
	for _, c := range cells {
		if strings.TrimSpace(c) != "" {
			return false
		}
	}
	return true
}

// Next implements profile.Rows.
func (t *table) Next(cells []profile.Cell) (int64, *profile.Problem, error) {
	for {
		err := t.read()
		if errors.Is(err, io.EOF) || t.area.bottom > 0 && t.row > t.area.bottom {
			return 0, nil, io.EOF
		}
		if err != nil {
			t.over = errors.Is(err, errPanic) // it might panic at every row
			return int64(t.row), &profile.Problem{Slot: -1, Reason: "the row cannot be read: " + lower(err), Hint: "can a spreadsheet program open the workbook?"}, nil
		}
		pending := t.pendingIn(t.row)
		if t.row < t.in.Profile.FirstRow {
			continue
		}
		for slot, i := range t.slots {
			if slices.Contains(pending, max(1, t.area.left)+i) {
				return int64(t.row), &profile.Problem{Slot: slot, Reason: "the formula has no value stored", Hint: "open the workbook in a spreadsheet program and save it there"}, nil
			}
		}
		// A logger's header stands again where two logs were joined.
		if isEmpty(t.cells) || t.isHeader() {
			continue
		}
		for slot, i := range t.slots {
			text := ""
			if i < len(t.cells) {
				text = t.cells[i]
			}
			cells[slot] = t.cell(slot, text)
		}
		return int64(t.row), nil, nil
	}
}

func (t *table) isHeader() bool {
	return slices.EqualFunc(t.cells, t.names, func(c, name string) bool { return strings.TrimSpace(c) == name })
}

// Place implements profile.Rows.
func (t *table) Place(slot int) (int, string) {
	col := max(1, t.area.left)
	if slot < 0 {
		return col, ""
	}
	col += t.slots[slot]
	name, err := excelize.CoordinatesToCellName(col, t.row)
	if err != nil {
		return col, ""
	}
	return col, name
}

// Raw implements profile.Rows.
func (t *table) Raw() []byte { return []byte(strings.Join(t.cells, "\t")) }

// Close implements profile.Rows.
func (t *table) Close() error {
	var errs []error
	if t.rows != nil {
		errs = append(errs, t.rows.Close())
	}
	if t.file != nil {
		errs = append(errs, t.file.Close())
	}
	return errors.Join(errs...)
}
