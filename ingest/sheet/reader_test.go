package sheet

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/pelletier/go-toml/v2"

	"coldbench/ingest/series"
	"coldbench/ingest/source"
	"coldbench/warehouse/diag"
)

// plain maps "t" (elapsed s), "P" (charger power, W) and "T" (coldest pack
// sensor, °F).
func plain() *series.Profile {
	return &series.Profile{ID: "log", Kind: "sheet", Decimal: ".", Order: "strict", Clock: series.Clock{Column: "t", Format: "elapsed"},
		Columns: []series.Column{{Name: "P", Channel: "charger_power_kw", Unit: "W"}, {Name: "T", Channel: "pack_temp_min_c", Unit: "°F"}}}
}

// A book is the parts of a workbook that a reader needs, written by hand: what
// ISO/IEC 29500 asks for, not what one library writes.
type book struct {
	props   string
	sheets  map[string]string // sheetData by name, in order of names
	strings []string
	damage  func(name, text string) string
}

func (b book) bytes(t testing.TB) []byte {
	t.Helper()
	const head = `<?xml version="1.0" encoding="UTF-8" standalone="yes"?>` + "\n"
	const mainNS = `xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"`
	const docRel = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
	var sheets, rels, types strings.Builder
	parts := [][2]string{}
	n := 0
	for _, name := range []string{"Notes", "Log", "Z"} {
		data, ok := b.sheets[name]
		if !ok {
			continue
		}
		n++
		fmt.Fprintf(&sheets, `<sheet name="%s" sheetId="%d" r:id="rId%d"/>`, name, n, n)
		fmt.Fprintf(&rels, `<Relationship Id="rId%d" Type="%s/worksheet" Target="worksheets/sheet%d.xml"/>`, n, docRel, n)
		fmt.Fprintf(&types, `<Override PartName="/xl/worksheets/sheet%d.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/>`, n)
		parts = append(parts, [2]string{fmt.Sprintf("xl/worksheets/sheet%d.xml", n), head + `<worksheet ` + mainNS + `><sheetData>` + data + `</sheetData></worksheet>`})
	}
	var sst strings.Builder
	for _, s := range b.strings {
		fmt.Fprintf(&sst, "<si><t>%s</t></si>", s)
	}
	parts = append(parts,
		[2]string{"[Content_Types].xml", head + `<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/>` + types.String() + `</Types>`},
		[2]string{"_rels/.rels", head + `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="` + docRel + `/officeDocument" Target="xl/workbook.xml"/></Relationships>`},
		[2]string{"xl/workbook.xml", head + `<workbook ` + mainNS + ` xmlns:r="` + docRel + `"><workbookPr` + b.props + `/><sheets>` + sheets.String() + `</sheets></workbook>`},
		[2]string{"xl/_rels/workbook.xml.rels", head + `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">` + rels.String() + `</Relationships>`},
		[2]string{"xl/sharedStrings.xml", head + `<sst ` + mainNS + `>` + sst.String() + `</sst>`},
	)
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	for _, p := range parts {
		w, err := z.Create(p[0])
		if err != nil {
			t.Fatal(err)
		}
		if b.damage != nil {
			p[1] = b.damage(p[0], p[1])
		}
		if _, err := io.WriteString(w, p[1]); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// data makes sheetData of rows "A1=0 B1=s:text": a number, or a text ("s:"), a
// formula's number ("f:") or none stored ("f0:"), a formula's text ("fs:"), an
// error ("e:").
func data(rows string) string {
	var b strings.Builder
	last := ""
	for _, cell := range strings.Fields(rows) {
		ref, v, _ := strings.Cut(cell, "=")
		row := strings.TrimLeft(ref, "ABCDEFGHIJKLMNOPQRSTUVWXYZ")
		if row != last {
			if last != "" {
				b.WriteString("</row>")
			}
			fmt.Fprintf(&b, `<row r="%s">`, row)
			last = row
		}
		switch kind, text, ok := strings.Cut(v, ":"); {
		case ok && kind == "s":
			fmt.Fprintf(&b, `<c r="%s" t="inlineStr"><is><t>%s</t></is></c>`, ref, text)
		case ok && kind == "f":
			fmt.Fprintf(&b, `<c r="%s"><f>A1+1</f><v>%s</v></c>`, ref, text)
		case ok && kind == "f0": // as programs write it that work nothing out: without <v>, or with an empty one
			fmt.Fprintf(&b, `<c r="%s"><f>A1+1</f>%s</c>`, ref, strings.Repeat("<v></v>", len(text)))
		case ok && kind == "fs":
			fmt.Fprintf(&b, `<c r="%s" t="str"><f>A1</f><v>%s</v></c>`, ref, text)
		case ok && kind == "e":
			fmt.Fprintf(&b, `<c r="%s" t="e"><v>%s</v></c>`, ref, text)
		default:
			fmt.Fprintf(&b, `<c r="%s"><v>%s</v></c>`, ref, v)
		}
	}
	if last != "" {
		b.WriteString("</row>")
	}
	return b.String()
}

func log(rows string) book { return book{sheets: map[string]string{"Log": data(rows)}} }

const header = "A1=s:t B1=s:P C1=s:T "

func read(t testing.TB, file []byte, p *series.Profile) (rows []string, r *source.Report, l diag.List) {
	t.Helper()
	name := filepath.Join(t.TempDir(), "car.xlsx")
	if err := os.WriteFile(name, file, 0o644); err != nil {
		t.Fatal(err)
	}
	start := toml.LocalDateTime{LocalDate: toml.LocalDate{Year: 2026, Month: 1, Day: 12}}
	rdr, l, err := Kind().Open(source.Input{Path: name, Shown: "car.xlsx", Profile: p, Session: &series.Session{}, Source: series.Source{Start: start}, Location: time.UTC})
	if err != nil {
		t.Fatal(err)
	}
	if l != nil {
		return nil, nil, l
	}
	defer rdr.Release()
	zero := time.Date(2026, 1, 12, 0, 0, 0, 0, time.UTC).UnixMicro()
	for rdr.Next() {
		rec := rdr.Record()
		line, at := rec.Column(0).(*array.Int64), rec.Column(1).(*array.Timestamp)
		for i := range int(rec.NumRows()) {
			row := fmt.Sprintf("%d@%g", line.Value(i), float64(int64(at.Value(i))-zero)/1e6)
			for c := 2; c < int(rec.NumCols()); c++ {
				if col := rec.Column(c).(*array.Float64); col.IsNull(i) {
					row += " -"
				} else {
					row += fmt.Sprintf(" %.6g", col.Value(i))
				}
			}
			rows = append(rows, row)
		}
	}
	r = rdr.Report()
	if rdr.Err() != nil || r.RowsRead != r.RowsKept+int64(len(r.Aside)) || int(r.RowsKept) != len(rows) {
		t.Errorf("%v: %+v, %d handed out", rdr.Err(), r, len(rows))
	}
	return rows, r, nil
}

// 5000 W are 5 kW, 14 °F are -10 °C and 5 °F are -15 °C (NIST SP 811, B.8).
// 2026-01-12 is day 46034 of the 1900 system: 25569 and the 20465 days since
// 1970, 56 years of 365, 14 leap days and 11. It is day 44572 of the 1904 system.
// 30 s are 0.000347222... of a day.
func TestRead(t *testing.T) {
	const want = "2@0 5 -10; 3@1.5 5.5 -15"
	iso := func(p *series.Profile) { p.Clock.Format = "iso" }
	for _, c := range []struct {
		name   string
		book   book
		change func(*series.Profile)
		want   string
	}{
		{"numbers", log(header + "A2=0 B2=5000 C2=14 A3=1.5 B3=5500 C3=5"), nil, want},
		{"texts, formulas, exponents", log(header + "A2=s:0 B2=f:5E3 C2=s:14.0 A3=fs:1.5 B3=5500 C3=5"), nil, want},
		{"shared strings", book{strings: []string{"T", "t", "P", " 5500 "}, sheets: map[string]string{"Log": `<row r="1"><c r="A1" t="s"><v>1</v></c><c r="B1" t="s"><v>2</v></c><c r="C1" t="s"><v>0</v></c></row>` + data("A2=0 B2=5000 C2=14") + `<row r="3"><c r="A3"><v>1.5</v></c><c r="B3" t="s"><v>3</v></c><c r="C3"><v>5</v></c></row>`}}, nil, want},
		{"cells without references", book{sheets: map[string]string{"Log": `<row><c t="str"><v>t</v></c><c t="str"><v>P</v></c><c t="str"><v>T</v></c></row><row><c><v>0</v></c><c><v>5000</v></c><c/></row>`}}, nil, "2@0 5 -"},
		{"rows left out and blank, header again", log(header + "A3=0 B3=5000 A5=s:t B5=s:P C5=s:T B7=s: A9=2 C9=14"), nil, "3@0 5 -; 9@2 - -10"},
		{"header is the first row with anything", log("A3=s:t B3=s:T C3=s:P A4=0 B4=14 C4=5000"), nil, "4@0 5 -10"},
		{"header and first row stated", log("A1=s:Logger A3=s:t B3=s:P C3=s:T A4=s:s B4=s:W C4=s:F A5=0 B5=5000 C5=14"), func(p *series.Profile) { p.HeaderRow, p.FirstRow = 3, 5 }, "5@0 5 -10"},
		{"range", log("A1=s:P C4=s:t D4=s:P E4=s:T F4=s:P A5=9 C5=0 D5=5000 E5=14 F5=1 C6=1 D6=5500 E6=5 C7=s:mean D7=9"), func(p *series.Profile) { p.Range = "$C$4:E6" }, "5@0 5 -10; 6@1 5.5 -15"},
		{"range of columns", log("A1=s:t B1=s:t C1=s:P D1=s:T B2=0 C2=5000 D2=14"), func(p *series.Profile) { p.Range = "B:D" }, "2@0 5 -10"},
		{"second sheet, by name", book{sheets: map[string]string{"Notes": data("A1=s:hello"), "Log": data(header + "A2=0 B2=5000 C2=14 A3=1.5 B3=5500 C3=5")}}, func(p *series.Profile) { p.Sheet = "log" }, want},
		{"dates", log(header + "A2=46034 B2=5000 A3=46034.00034722222 B3=5000"), iso, "2@0 5 -; 3@30 5 -"},
		{"dates of 1904", book{props: ` date1904="1"`, sheets: log(header + "A2=44572 B2=5000 A3=44572.00034722222 B3=5000").sheets}, iso, "2@0 5 -; 3@30 5 -"},
		{"serial days of 1904", book{props: ` date1904="1"`, sheets: log(header + "A2=44572.00034722222 B2=5000").sheets}, func(p *series.Profile) { p.Clock.Format = "serial-day" }, "2@30 5 -"},
		{"dates as text", log(header + "A2=s:12.01.2026_00:00:30 B2=5000"), func(p *series.Profile) { p.Clock.Format = "%d.%m.%Y_%H:%M:%S" }, "2@30 5 -"},
		{"dates as digits", log(header + "A2=20260112000030 B2=5000"), func(p *series.Profile) { p.Clock.Format = "%Y%m%d%H%M%S" }, "2@30 5 -"},
		{"time of day", log(header + "A2=0.00034722222 B2=5000 A3=0.00069444444"), func(p *series.Profile) { p.Clock.Format = "%H:%M:%S" }, "2@30 5 -; 3@60 - -"},
		{"date and time of day", log("A1=s:d B1=s:t C1=s:P D1=s:T A2=46034 B2=0.00034722222 C2=5000"), func(p *series.Profile) { p.Clock.Format, p.Clock.Date = "iso", "d" }, "2@30 5 -"},
		{"decimal comma of texts", log(header + "A2=1.5 B2=s:5000,0 C2=14.0"), func(p *series.Profile) { p.Decimal = "," }, "2@1.5 5 -10"},
		{"missing", log(header + "A2=0 B2=e:#N/A C2=255 A3=1 B3=s:-- C3=14"), func(p *series.Profile) {
			p.Missing, p.Columns[1].Missing = []string{"#N/A", "--"}, []float64{255}
		}, "2@0 - -; 3@1 - -10"},
		{"formulas that give an empty text, and one that nobody asks for", log(header + "A2=0 B2=5000 C2=fs: D2=f0: A3=1.5 B3=5500 C3=5"), nil, "2@0 5 -; 3@1.5 5.5 -15"},
		{"long", log("A1=s:t B1=s:id C1=s:v D1=s:u A2=0 B2=s:P C2=5 D2=s:kW A3=1 B3=s:T C3=14"),
			func(p *series.Profile) { p.Layout, p.Signal, p.Value, p.Unit = "long", "id", "v", "u" }, "2@0 5 -; 3@1 - -10"},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := plain()
			if c.change != nil {
				c.change(p)
			}
			rows, r, l := read(t, c.book.bytes(t), p)
			if got := strings.Join(rows, "; "); l != nil || got != c.want || len(r.Aside) != 0 {
				t.Errorf("got %s %v %+v, want %s", got, l, r, c.want)
			}
		})
	}
}

func TestSetAside(t *testing.T) {
	for cells, want := range map[string]string{
		"A3=1 B3=e:#DIV/0!": `3:2 cell B3: P: "#DIV/0!" is not a number (add it to missing in profiles/log.toml if it means "no value") 1	#DIV/0!`,
		"A3=s:mean B3=5000": `3:1 cell A3: cannot read "mean" as a time (the clock counts in numbers) mean	5000`,
		"B3=5000":           `3:1 cell A3: cannot read "" as a time (the clock counts in numbers) 	5000`,
		"A3=1 C3=999":       `3:3 cell C3: T: 999 °F is outside what pack_temp_min_c can be, -60 to 90 °C (is the unit right in profiles/log.toml? a mark for "no value" goes into the column's missing) 1		999`,
		"A3=-1 C3=1":        `3:1 cell A3: time goes back by 1 s (order = "any" in profiles/log.toml has such rows sorted in) -1		1`,
		"A3=1 B3=s:NaN":     `3:2 cell B3: P: "NaN" is not a number (add it to missing in profiles/log.toml if it means "no value") 1	NaN`,
		"A3=1 B3=s:0x1F":    `3:2 cell B3: P: "0x1F" is not a number (add it to missing in profiles/log.toml if it means "no value") 1	0x1F`,
		// ISO/IEC 29500-1, 18.3.1.96: v is the value as it was last worked out.
		"A3=1 B3=f0:":     `3:2 cell B3: the formula has no value stored (open the workbook in a spreadsheet program and save it there) 1` + "\t",
		"A3=f0:x B3=f0:x": `3:1 cell A3: the formula has no value stored (open the workbook in a spreadsheet program and save it there) ` + "\t",
		"A3=1 ZZZZ3=2":    `3:1 the row cannot be read: the column number must be greater than or equal to 1 and less than or equal to 16384 (can a spreadsheet program open the workbook?) 1`,
	} {
		rows, r, l := read(t, log(header+"A2=0 B2=5000 "+cells+" A4=2 B4=1").bytes(t), plain())
		if l != nil || len(r.Aside) != 1 || len(rows) != 2 {
			t.Errorf("%s: %v %v %+v", cells, rows, l, r)
			continue
		}
		a := r.Aside[0]
		if got := fmt.Sprintf("%d:%d %s (%s) %s", a.Line, a.Col, a.Reason, a.Hint, a.Raw); got != want {
			t.Errorf("%s:\ngot  %s\nwant %s", cells, got, want)
		}
	}
}

func TestRefused(t *testing.T) {
	good := log(header + "A2=0 B2=5000 C2=14 A3=1 B3=5000 C3=14")
	damaged := func(part string, damage func(string) string) []byte {
		b := good
		b.damage = func(name, text string) string {
			if name == part {
				return damage(text)
			}
			return text
		}
		return b.bytes(t)
	}
	whole := good.bytes(t)
	flipped := bytes.Clone(whole)
	flipped[100] ^= 0xff // within the first part, the sheet
	var text bytes.Buffer
	z := zip.NewWriter(&text)
	if _, err := z.Create("mimetype"); err != nil || z.Close() != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		file   []byte
		want   string
		change func(*series.Profile)
	}{
		{nil, `car.xlsx: the file is empty`, nil},
		{[]byte("t,P,T\n0,1,2\n"), `car.xlsx: the file is no .xlsx workbook: not a valid zip file (is it cut off, or another kind of file?)`, nil},
		{whole[:len(whole)-30], `car.xlsx: the file is no .xlsx workbook: not a valid zip file (is it cut off, or another kind of file?)`, nil},
		{append([]byte{0xd0, 0xcf, 0x11, 0xe0, 0xa1, 0xb1, 0x1a, 0xe1}, make([]byte, 600)...), `car.xlsx: the file is an .xls workbook, or has a password (save it as .xlsx without one)`, nil},
		{text.Bytes(), `car.xlsx: the file is no .xlsx workbook: it has no xl/workbook.xml (save it as .xlsx)`, nil},
		{flipped, `car.xlsx: the workbook is broken: xl/worksheets/sheet1.xml: `, nil},
		{damaged("xl/worksheets/sheet1.xml", func(s string) string { return s[:strings.Index(s, `<row r="3">`)] }), `car.xlsx: the workbook is broken: xl/worksheets/sheet1.xml: XML syntax error on line 2: unexpected EOF (is the file cut off?)`, nil},
		{damaged("xl/worksheets/sheet1.xml", func(s string) string { return strings.Replace(s, `<row r="3">`, `<row r="3`, 1) }), `car.xlsx: the workbook is broken: xl/worksheets/sheet1.xml: XML syntax error on line 2: `, nil},
		{damaged("xl/workbook.xml", func(s string) string { return s[:len(s)-40] }), `car.xlsx: the workbook is broken: `, nil},
		{damaged("xl/_rels/workbook.xml.rels", func(s string) string { return strings.Replace(s, "sheet1", "sheet7", 1) }), `car.xlsx: the workbook is broken: sheet Log does not exist`, nil},
		{whole, `car.xlsx: no sheet "Loggg", which profiles/log.toml names (did you mean "Log"?)`, func(p *series.Profile) { p.Sheet = "Loggg" }},
		{whole, `car.xlsx:1: no column "Tt", which profiles/log.toml maps (did you mean "t"?)`, func(p *series.Profile) { p.Columns[1].Name = "Tt" }},
		{whole, `car.xlsx:2: no column "t", which profiles/log.toml maps (the header has: 0, 5000, 14)`, func(p *series.Profile) { p.HeaderRow = 2 }},
		{whole, `range "B4" is no range of cells (such as "B4:H500", or "B:H" for all rows)`, func(p *series.Profile) { p.Range = "B4" }},
		{whole, `the header, row 9, is not within range "A1:C5"`, func(p *series.Profile) { p.HeaderRow, p.Range = 9, "A1:C5" }},
		{whole, `car.xlsx: sheet "Log" ends before its header, row 9 (header_row or range in profiles/log.toml)`, func(p *series.Profile) { p.HeaderRow = 9 }},
		{whole, `the first row, 1, is not below the header, row 1`, func(p *series.Profile) { p.HeaderRow, p.FirstRow = 1, 1 }},
		{log(header).bytes(t), `car.xlsx: the file has no rows (was the logger running?)`, nil},
		{log("").bytes(t), `car.xlsx: sheet "Log" is empty (sheet in profiles/log.toml names another)`, nil},
		{bomb(t), `car.xlsx: the workbook unpacks to more than 128 MiB, the most that is read of xl/media/image1.png (write it as delimited text instead)`, nil},
	} {
		p := plain()
		if c.change != nil {
			c.change(p)
		}
		if _, _, l := read(t, c.file, p); !strings.Contains(l.Error(), c.want) {
			t.Errorf("got  %s\nwant %s", l.Error(), c.want)
		}
	}
}

// bomb is a workbook whose one picture says that it unpacks to 200 MiB.
func bomb(t *testing.T) []byte {
	b := log(header + "A2=0").bytes(t)
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for _, f := range z.File {
		if err := w.Copy(f); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := w.CreateRaw(&zip.FileHeader{Name: "xl/media/image1.png", Method: zip.Deflate, UncompressedSize64: 200 << 20}); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// FuzzReader holds what must be true of any sheet: no row is lost, no value is
// no number, no panic. The XML is fuzzed within a sound archive, and the archive
// as a whole by a few bytes.
func FuzzReader(f *testing.F) {
	f.Add(data(header+"A2=0 B2=5000 C2=14 A4=s:1 B4=e:#N/A C4=fs:5"), uint64(0))
	f.Add(`<row r="1"><c t="s"><v>0</v></c><c r="B1" t="str"><v>P</v></c><c t="str"><v>T</v></c></row><row r="1048576"><c s="7"><v>1e400</v></c><c t="d"><v>2026-01-12</v></c></row>`, uint64(0))
	f.Add(data(header+"A2=0"), uint64(3))
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, xml string, seed uint64) {
		file := book{strings: []string{"t"}, sheets: map[string]string{"Log": xml}}.bytes(t)
		rnd := rand.New(rand.NewPCG(seed, 1))
		for range seed % 8 {
			file[rnd.IntN(len(file))] ^= byte(rnd.IntN(256))
		}
		name := filepath.Join(dir, fmt.Sprint(os.Getpid()))
		if err := os.WriteFile(name, file, 0o644); err != nil {
			t.Fatal(err)
		}
		rdr, l, err := Kind().Open(source.Input{Path: name, Shown: "car.xlsx", Profile: plain(), Session: &series.Session{}, Location: time.UTC,
			Source: series.Source{Start: toml.LocalDateTime{LocalDate: toml.LocalDate{Year: 2026, Month: 1, Day: 12}}}})
		if err != nil {
			t.Fatal(err)
		}
		if l != nil {
			return
		}
		defer rdr.Release()
		rows := int64(0)
		for rdr.Next() {
			rec := rdr.Record()
			rows += rec.NumRows()
			for c := 2; c < int(rec.NumCols()); c++ {
				for i, v := range rec.Column(c).(*array.Float64).Float64Values() {
					if rec.Column(c).IsValid(i) && v-v != 0 {
						t.Errorf("let through %v", v)
					}
				}
			}
		}
		r := rdr.Report()
		if rdr.Err() != nil || r.RowsRead != r.RowsKept+int64(len(r.Aside)) || r.RowsKept != rows {
			t.Errorf("%v: %d read, %d kept, %d set aside, %d handed out", rdr.Err(), r.RowsRead, r.RowsKept, len(r.Aside), rows)
		}
	})
}
