package workbook

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"slices"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"

	"coldbench/reports/archive"
)

const contentTypes = "[Content_Types].xml"

// packed is the date of every part: the earliest that a zip archive can tell.
var packed = time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)

// pack writes the workbook so that the same content gives the same bytes: parts
// by name, the list of types first and sorted, one date for all. The library
// writes parts and types in the order of a map. more is what the file
// lacks, nil for nothing.
func pack(w io.Writer, f *excelize.File, more *additions) error {
	parts := loose{}
	f.SetZipWriter(func(io.Writer) excelize.ZipWriter { return parts })
	if _, err := f.WriteToBuffer(); err != nil {
		return err
	}
	names := slices.Collect(maps.Keys(parts))
	if more != nil {
		names = append(names, more.names(parts)...)
	}
	slices.SortFunc(names, func(a, b string) int {
		switch contentTypes {
		case a:
			return -1
		case b:
			return 1
		}
		return strings.Compare(a, b)
	})
	var members []archive.Member
	for _, name := range names {
		members = append(members, archive.Member{Name: name, Modified: packed, Content: func() (text []byte, err error) {
			if part := parts[name]; part != nil {
				text = part.Bytes()
			}
			if more != nil {
				text, err = more.to(name, text)
			}
			if err == nil && name == contentTypes {
				text, err = sortTypes(text)
			}
			return text, err
		}})
	}
	return archive.Write(w, slices.Values(members))
}

// loose are the parts that the library would have packed, by name. It implements
// the library's ZipWriter, so that parts are compressed once, in their order.
type loose map[string]*bytes.Buffer

func (p loose) Create(name string) (io.Writer, error) {
	p[name] = &bytes.Buffer{}
	return p[name], nil
}

func (p loose) AddFS(fs.FS) error { return errors.ErrUnsupported } // the library does not call it

func (p loose) Close() error { return nil }

type typeList struct {
	XMLName  xml.Name `xml:"http://schemas.openxmlformats.org/package/2006/content-types Types"`
	Defaults []struct {
		Extension   string `xml:",attr"`
		ContentType string `xml:",attr"`
	} `xml:"Default"`
	Overrides []struct {
		PartName    string `xml:",attr"`
		ContentType string `xml:",attr"`
	} `xml:"Override"`
}

func sortTypes(text []byte) ([]byte, error) {
	var l typeList
	if err := xml.Unmarshal(text, &l); err != nil {
		return nil, err
	}
	var rows []string
	for _, d := range l.Defaults {
		rows = append(rows, fmt.Sprintf(`<Default Extension="%s" ContentType="%s"/>`, d.Extension, d.ContentType))
	}
	for _, o := range l.Overrides {
		rows = append(rows, fmt.Sprintf(`<Override PartName="%s" ContentType="%s"/>`, o.PartName, o.ContentType))
	}
	slices.Sort(rows)
	return []byte(xml.Header + `<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">` +
		strings.Join(slices.Compact(rows), "") + `</Types>`), nil
}

// properties replaces what the library says of the document. Its own setter
// writes namespaces that some readers refuse.
func properties(f *excelize.File, title string, at time.Time) {
	var t bytes.Buffer
	xml.EscapeText(&t, []byte(oneLine(title, 200)))
	when := at.UTC().Format("2006-01-02T15:04:05Z")
	f.Pkg.Store("docProps/core.xml", []byte(xml.Header+
		`<cp:coreProperties xmlns:cp="http://schemas.openxmlformats.org/package/2006/metadata/core-properties"`+
		` xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:dcterms="http://purl.org/dc/terms/"`+
		` xmlns:dcmitype="http://purl.org/dc/dcmitype/" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">`+
		`<dc:title>`+t.String()+`</dc:title><dc:creator>coldbench</dc:creator>`+
		`<dcterms:created xsi:type="dcterms:W3CDTF">`+when+`</dcterms:created>`+
		`<dcterms:modified xsi:type="dcterms:W3CDTF">`+when+`</dcterms:modified></cp:coreProperties>`))
	f.Pkg.Store("docProps/app.xml", []byte(xml.Header+
		`<Properties xmlns="http://schemas.openxmlformats.org/officeDocument/2006/extended-properties"><Application>coldbench</Application></Properties>`))
}
