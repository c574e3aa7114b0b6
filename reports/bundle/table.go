package bundle

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/compress"
	"github.com/apache/arrow/go/v17/parquet/pqarrow"

	"coldbench/metrics/edition"
)

// A table is rows of cells: a string, an int64, a float64, a time.Time, or nil.
type table struct {
	name    string
	columns []column
	rows    [][]any
}

// A column has a header for people, a name for programs, and one type.
type column struct {
	head, field string
	kind        arrow.DataType
}

var (
	text  = arrow.BinaryTypes.String
	whole = arrow.PrimitiveTypes.Int64
	real  = arrow.PrimitiveTypes.Float64
	utc   = &arrow.TimestampType{Unit: arrow.Second, TimeZone: "UTC"}
)

func (t *table) add(cells ...any) { t.rows = append(t.rows, cells) }

// csv writes the table with heads for people.
func (t *table) csv(w io.Writer) error {
	out := newLines(w)
	heads := make([]any, len(t.columns))
	for i, c := range t.columns {
		heads[i] = c.head
	}
	for _, row := range append([][]any{heads}, t.rows...) {
		if err := out.write(row); err != nil {
			return err
		}
	}
	return out.out.Flush()
}

// parquet writes the table as a Parquet file; headers for people stand in the
// fields' metadata.
func (t *table) parquet(w io.Writer) error {
	var fields []arrow.Field
	for _, c := range t.columns {
		fields = append(fields, arrow.Field{Name: c.field, Type: c.kind, Nullable: true, Metadata: arrow.NewMetadata([]string{"title"}, []string{c.head})})
	}
	schema := arrow.NewSchema(fields, nil)
	b := array.NewRecordBuilder(memory.DefaultAllocator, schema)
	defer b.Release()
	for _, row := range t.rows {
		for i, v := range row {
			switch v := v.(type) {
			case nil:
				b.Field(i).AppendNull()
			case string:
				b.Field(i).(*array.StringBuilder).Append(strings.ToValidUTF8(v, "\ufffd"))
			case int64:
				b.Field(i).(*array.Int64Builder).Append(v)
			case float64:
				b.Field(i).(*array.Float64Builder).Append(v)
			case time.Time:
				b.Field(i).(*array.TimestampBuilder).Append(arrow.Timestamp(v.Unix()))
			default:
				return fmt.Errorf("column %s: cell of type %T", t.columns[i].field, v)
			}
		}
	}
	record := b.NewRecord()
	defer record.Release()
	pw, err := pqarrow.NewFileWriter(schema, keepOpen{w}, parquet.NewWriterProperties(parquet.WithCompression(compress.Codecs.Snappy)),
		pqarrow.NewArrowWriterProperties(pqarrow.WithStoreSchema()))
	if err != nil {
		return err
	}
	if err := pw.Write(record); err != nil {
		pw.Close()
		return err
	}
	return pw.Close()
}

// keepOpen hides that a writer can be closed: whoever opened it closes it.
type keepOpen struct{ io.Writer }

// tables are the edition's, in the order of their names' weight.
func tables(e *edition.Edition, logs []edition.Log) []*table {
	return []*table{standings(e), categories(e), figures(e), gates(e), penalties(e), sessions(e), sources(e), minutes(logs), events(logs), phases(logs)}
}

// num is a cell for a number that may be missing.
func num(v *float64) any {
	if v == nil {
		return nil
	}
	return *v
}

func standings(e *edition.Edition) *table {
	t := &table{name: "standings", columns: []column{
		{"place", "place", whole}, {"best place (95 %)", "best_place", whole}, {"worst place (95 %)", "worst_place", whole},
		{"vehicle", "vehicle", text}, {"name", "name", text}, {"points", "points", real}, {"standard uncertainty (points)", "points_uncertainty", real}}}
	for _, s := range e.Scales {
		d := e.Definition(s.Figure)
		t.columns = append(t.columns, column{fmt.Sprintf("%s (%s)", s.Figure, d.Unit), s.Figure, real},
			column{fmt.Sprintf("%s, standard uncertainty (%s)", s.Figure, d.Unit), s.Figure + "_uncertainty", real}, column{s.Figure + " (points)", s.Figure + "_points", real})
	}
	// What stands beside a scale's figure, as measured or at the reference soak, unless
	// it earns points itself.
	beside := make([]string, len(e.Scales))
	for i := range e.Scales {
		for _, s := range e.Standings {
			if i < len(s.Beside) && s.Beside[i].Figure != "" && !slices.ContainsFunc(t.columns, func(c column) bool { return c.field == s.Beside[i].Figure }) {
				beside[i] = s.Beside[i].Figure
				d := e.Definition(beside[i])
				t.columns = append(t.columns, column{fmt.Sprintf("%s (%s)", beside[i], d.Unit), beside[i], real},
					column{fmt.Sprintf("%s, standard uncertainty (%s)", beside[i], d.Unit), beside[i] + "_uncertainty", real})
			}
		}
	}
	t.columns = append(t.columns, column{"sessions", "sessions", text}, column{"reason", "reason", text})
	place := func(n int) any {
		if n == 0 {
			return nil
		}
		return int64(n)
	}
	for _, s := range e.Standings {
		points := func(v float64) any { // a car that is not ranked has none, rather than 0
			if s.Place == 0 {
				return nil
			}
			return v
		}
		row := []any{place(s.Place), place(s.Lowest), place(s.Highest), s.Vehicle, e.Name(s.Vehicle), points(s.Score), points(s.U)}
		for _, v := range s.Values {
			row = append(row, num(v.Value), num(v.U), points(v.Points))
		}
		for i, figure := range beside {
			switch {
			case figure == "":
			case i < len(s.Beside):
				row = append(row, num(s.Beside[i].Value), num(s.Beside[i].U))
			default:
				row = append(row, nil, nil)
			}
		}
		t.add(append(row, strings.Join(s.Sessions, " "), s.Reason)...)
	}
	return t
}

func categories(e *edition.Edition) *table {
	t := &table{name: "categories", columns: []column{{"category", "category", text}, {"weight", "weight", real}, {"place", "place", whole}, {"best place (95 %)", "best_place", whole},
		{"worst place (95 %)", "worst_place", whole}, {"vehicle", "vehicle", text}, {"points", "points", real}, {"standard uncertainty (points)", "points_uncertainty", real}}}
	for _, c := range e.Categories {
		for _, x := range c.Cars {
			t.add(c.Name, c.Weight, int64(x.Place), int64(x.Lowest), int64(x.Highest), x.Vehicle, x.Score, x.U)
		}
	}
	return t
}

func figures(e *edition.Edition) *table {
	t := &table{name: "figures", columns: []column{{"session", "session", text}, {"figure", "figure", text}, {"value", "value", real},
		{"standard uncertainty", "uncertainty", real}, {"unit", "unit", text}, {"status", "status", text}, {"from (s)", "from_s", real}, {"to (s)", "to_s", real}, {"note", "note", text}}}
	for _, f := range e.Results {
		t.add(f.Session, f.Figure, num(f.Value), num(f.U), f.Unit, string(f.Status), num(f.From), num(f.To), f.Note)
	}
	return t
}

func gates(e *edition.Edition) *table {
	t := &table{name: "gates", columns: []column{{"session", "session", text}, {"gate", "gate", text}, {"verdict", "verdict", text}, {"reason", "reason", text}}}
	for _, g := range e.Gates {
		t.add(g.Session, g.Gate, string(g.Verdict), g.Reason)
	}
	return t
}

func penalties(e *edition.Edition) *table {
	t := &table{name: "penalties", columns: []column{{"session", "session", text}, {"figure", "figure", text}, {"unit", "unit", text}, {"cold", "cold", real},
		{"cold, standard uncertainty", "cold_uncertainty", real}, {"control", "control", real}, {"control, standard uncertainty", "control_uncertainty", real},
		{"control sessions", "controls", text}, {"cold less control", "difference", real}, {"cold less control, standard uncertainty", "difference_uncertainty", real}}}
	for _, p := range e.Penalties {
		t.add(p.Session, p.Figure, e.Definition(p.Figure).Unit, p.Cold, p.ColdU, p.Control, p.ControlU, p.Controls, p.Difference, p.U)
	}
	return t
}

func sessions(e *edition.Edition) *table {
	t := &table{name: "sessions", columns: []column{{"session", "session", text}, {"vehicle", "vehicle", text}, {"procedure", "procedure", text},
		{"zero (UTC)", "zero", utc}, {"zero from", "zero_from", text}, {"problem", "problem", text}, {"remark", "remark", text}}}
	for _, s := range e.Sessions {
		var zero any
		if !s.Zero.IsZero() {
			zero = s.Zero
		}
		t.add(s.ID, s.Vehicle, s.Procedure, zero, s.ZeroFrom, s.Problem, s.Remark)
	}
	return t
}

func sources(e *edition.Edition) *table {
	t := &table{name: "sources", columns: []column{{"session", "session", text}, {"path", "path", text}, {"kind", "kind", text}, {"profile", "profile", text},
		{"sha256", "sha256", text}, {"bytes", "bytes", whole}, {"rows read", "rows_read", whole}, {"rows kept", "rows_kept", whole}, {"rows set aside", "rows_set_aside", whole},
		{"clock offset (s)", "clock_offset_s", real}, {"continues", "continues", text}}}
	for _, ses := range e.Sessions {
		for _, s := range ses.Sources {
			t.add(ses.ID, s.Path, s.Kind, s.Profile, s.SHA256, s.Bytes, s.RowsRead, s.RowsKept, s.Aside, s.OffsetS, s.Continues)
		}
	}
	return t
}

func minutes(logs []edition.Log) *table {
	t := &table{name: "minutes", columns: []column{{"session", "session", text}, {"minute after zero", "minute", whole}, {"pack power (kW)", "pack_power_kw", real},
		{"charger power (kW)", "charger_power_kw", real}, {"heater power (kW)", "heater_power_kw", real}, {"displayed SoC (%)", "soc_pct", real},
		{"coldest pack sensor (°C)", "pack_temp_min_c", real}, {"hottest pack sensor (°C)", "pack_temp_max_c", real}, {"ambient (°C)", "ambient_c", real},
		{"cabin (°C)", "cabin_c", real}, {"energy into the pack (kWh)", "pack_energy_kwh", real}}}
	for _, l := range logs {
		for _, m := range l.Minutes {
			t.add(l.Session, int64(m.Minute), num(m.PackKW), num(m.ChargerKW), num(m.HeaterKW), num(m.SoCPct), num(m.PackMinC), num(m.PackMaxC), num(m.AmbientC), num(m.CabinC), num(m.PackKWh))
		}
	}
	return t
}

func events(logs []edition.Log) *table {
	t := &table{name: "events", columns: []column{{"session", "session", text}, {"time after zero (s)", "t_s", real}, {"interval (s)", "interval_s", real},
		{"event", "event", text}, {"text", "text", text}, {"source", "source", text}, {"line", "line", whole}}}
	for _, l := range logs {
		for _, ev := range l.Events {
			t.add(l.Session, ev.T, ev.WidthS, ev.Kind, ev.Text, ev.Path, ev.Line)
		}
	}
	return t
}

func phases(logs []edition.Log) *table {
	t := &table{name: "phases", columns: []column{{"session", "session", text}, {"phase", "phase", text}, {"from (s)", "from_s", real}, {"to (s)", "to_s", real}, {"ended when", "rule", text}}}
	for _, l := range logs {
		for _, p := range l.Phases {
			t.add(l.Session, p.Name, p.From, p.To, p.Rule)
		}
	}
	return t
}
