package demo

import (
	"bytes"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/pqarrow"
	"github.com/xuri/excelize/v2"
)

// The heads of the profiles of one log written in several kinds; its columns
// follow.
const (
	longProfile     = "kind = \"delimited\"\nheader_row = 1\nlayout = \"long\"\nsignal_column = \"signal\"\nvalue_column = \"value\"\nunit_column = \"unit\"\n[clock]\ncolumn = \"at\"\nformat = \"iso\"\n"
	linesProfile    = "kind = \"json\"\n[clock]\ncolumn = \"at\"\nformat = \"epoch\"\nunit = \"ms\"\n"
	documentProfile = "kind = \"json\"\nrecords = \"log.rows\"\n[clock]\ncolumn = \"at\"\nformat = \"iso\"\n"
	workbookProfile = "kind = \"sheet\"\nsheet = \"Log\"\nheader_row = 1\n[clock]\ncolumn = \"at\"\nformat = \"serial-day\"\n"
	columnarProfile = "kind = \"columnar\"\n[clock]\ncolumn = \"at\"\nformat = \"iso\"\n"
	busProfile      = "kind = \"canlog\"\ndbc = \"profiles/bus.dbc\"\n[clock]\nformat = \"epoch\"\n"
)

var tableUnits = map[string]string{"SOC disp": "%", "HV V": "V", "HV A": "A", "T min": "°C", "T max": "°C", "Heater W": "W", "Aux W": "W", "Outside": "°C"}

// long is delimited text with a row a value.
func (t table) long() ([]byte, error) {
	b := bytes.NewBufferString("at;signal;value;unit\n")
	for _, r := range t.rows {
		for i, name := range t.names {
			fmt.Fprintf(b, "%s;%s;%s;%s\n", r.at.UTC().Format("2006-01-02T15:04:05.000Z"), name, r.cells[i], tableUnits[name])
		}
	}
	return b.Bytes(), nil
}

// object is a row as JSON, its numbers with the digits of the log.
func (t table) object(r tableRow, at any) ([]byte, error) {
	row := map[string]any{"at": at}
	for i, name := range t.names {
		row[name] = json.Number(r.cells[i])
	}
	return json.Marshal(row)
}

// lines is JSON Lines.
func (t table) lines() ([]byte, error) {
	var b bytes.Buffer
	for _, r := range t.rows {
		text, err := t.object(r, r.at.UnixMilli())
		if err != nil {
			return nil, err
		}
		b.Write(append(text, '\n'))
	}
	return b.Bytes(), nil
}

// document is one JSON document.
func (t table) document() ([]byte, error) {
	b := bytes.NewBufferString("{\"log\": {\"rows\": [\n")
	for i, r := range t.rows {
		text, err := t.object(r, r.at.UTC().Format("2006-01-02T15:04:05.000Z"))
		if err != nil {
			return nil, err
		}
		if i > 0 {
			b.WriteString(",\n")
		}
		b.Write(text)
	}
	b.WriteString("\n]}}\n")
	return b.Bytes(), nil
}

// workbook is a sheet with local times.
func (t table) workbook() ([]byte, error) {
	f := excelize.NewFile()
	defer f.Close()
	if err := f.SetSheetName("Sheet1", "Log"); err != nil {
		return nil, err
	}
	rows := [][]any{{"at"}}
	for _, name := range t.names {
		rows[0] = append(rows[0], name)
	}
	for _, r := range t.rows {
		row := []any{r.at}
		for _, text := range r.cells {
			v, err := strconv.ParseFloat(text, 64)
			if err != nil {
				return nil, err
			}
			row = append(row, v)
		}
		rows = append(rows, row)
	}
	for i, row := range rows {
		if err := f.SetSheetRow("Log", fmt.Sprintf("A%d", i+1), &row); err != nil {
			return nil, err
		}
	}
	b, err := f.WriteToBuffer()
	if err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// record is an Arrow record. The caller releases it.
func (t table) record() (arrow.Record, error) {
	fields := []arrow.Field{{Name: "at", Type: &arrow.TimestampType{Unit: arrow.Millisecond, TimeZone: "UTC"}}}
	for _, name := range t.names {
		fields = append(fields, arrow.Field{Name: name, Type: arrow.PrimitiveTypes.Float64, Nullable: true})
	}
	b := array.NewRecordBuilder(memory.DefaultAllocator, arrow.NewSchema(fields, nil))
	defer b.Release()
	for _, r := range t.rows {
		b.Field(0).(*array.TimestampBuilder).Append(arrow.Timestamp(r.at.UnixMilli()))
		for i, text := range r.cells {
			v, err := strconv.ParseFloat(text, 64)
			if err != nil {
				return nil, err
			}
			b.Field(i + 1).(*array.Float64Builder).Append(v)
		}
	}
	return b.NewRecord(), nil
}

func (t table) parquet() ([]byte, error) {
	rec, err := t.record()
	if err != nil {
		return nil, err
	}
	defer rec.Release()
	var b bytes.Buffer
	w, err := pqarrow.NewFileWriter(rec.Schema(), &b, parquet.NewWriterProperties(), pqarrow.DefaultWriterProps())
	if err != nil {
		return nil, err
	}
	if err := w.Write(rec); err != nil {
		return nil, err
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

func (t table) arrow() ([]byte, error) {
	rec, err := t.record()
	if err != nil {
		return nil, err
	}
	defer rec.Release()
	var b bytes.Buffer
	w := ipc.NewWriter(&b, ipc.WithSchema(rec.Schema()))
	if err := w.Write(rec); err != nil {
		return nil, err
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// busSignals describe three messages: what the pack does, how warm it is, and what
// else takes power.
const busSignals = `VERSION ""

NS_ :

BS_:

BU_: CAR

BO_ 801 PACK: 5 CAR
 SG_ SOC : 0|8@1+ (1,0) [0|100] "%" CAR
 SG_ VOLT : 8|16@1+ (0.1,0) [0|1000] "V" CAR
 SG_ AMP : 24|16@1- (0.1,0) [-3000|3000] "A" CAR

BO_ 802 WARMTH: 3 CAR
 SG_ TMIN : 0|8@1- (0.5,0) [-60|60] "degC" CAR
 SG_ TMAX : 8|8@1- (0.5,0) [-60|60] "degC" CAR
 SG_ AIR : 16|8@1- (0.5,0) [-60|60] "degC" CAR

BO_ 803 LOADS: 4 CAR
 SG_ HEATER : 0|16@1+ (10,0) [0|50000] "W" CAR
 SG_ REST : 16|16@1+ (10,0) [0|50000] "W" CAR
`

// busNames are the columns of the log as the bus calls them.
var busNames = strings.NewReplacer(`"SOC disp"`, `"PACK.SOC"`, `"HV V"`, `"PACK.VOLT"`, `"HV A"`, `"PACK.AMP"`, `"T min"`, `"WARMTH.TMIN"`, `"T max"`, `"WARMTH.TMAX"`,
	`"Heater W"`, `"LOADS.HEATER"`, `"Aux W"`, `"LOADS.REST"`, `"Outside"`, `"WARMTH.AIR"`)

// frames is a bus log of candump's: every row a frame of each message, one 20 ms
// after the other.
func (t table) frames() ([]byte, error) {
	var b bytes.Buffer
	for _, r := range t.rows {
		raw := map[string]int{}
		for i, name := range t.names {
			v, err := strconv.ParseFloat(r.cells[i], 64)
			if err != nil {
				return nil, err
			}
			step := map[string]float64{"SOC disp": 1, "HV V": 0.1, "HV A": 0.1, "Heater W": 10, "Aux W": 10}[name]
			if step == 0 {
				step = 0.5
			}
			raw[name] = int(math.Round(v / step))
		}
		pack := []byte{byte(raw["SOC disp"])}
		pack = binary.LittleEndian.AppendUint16(pack, uint16(raw["HV V"]))
		pack = binary.LittleEndian.AppendUint16(pack, uint16(raw["HV A"]))
		warmth := []byte{byte(raw["T min"]), byte(raw["T max"]), byte(raw["Outside"])}
		loads := binary.LittleEndian.AppendUint16(nil, uint16(raw["Heater W"]))
		loads = binary.LittleEndian.AppendUint16(loads, uint16(raw["Aux W"]))
		for i, data := range [][]byte{pack, warmth, loads} {
			fmt.Fprintf(&b, "(%.6f) can0 %X#%s\n", float64(r.at.UnixMicro()+int64(i)*20000)/1e6, 801+i, strings.ToUpper(hex.EncodeToString(data)))
		}
	}
	return b.Bytes(), nil
}

func roundHalfUp(v float64) float64 { return math.Floor(v + 0.5) }
