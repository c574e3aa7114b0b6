package series

import (
	"bytes"
	"fmt"
	"reflect"
	"regexp"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"coldbench/warehouse/diag"
)

// mistypes tells of each value and table of the file that is of another type
// than t, a struct, has for it, up to where the text is no TOML.
func (f *file) mistypes(t reflect.Type) (problems diag.List) {
	var p unstable.Parser
	p.Reset(bytes.TrimPrefix(f.bytes, mark))
	table := t
	for p.NextExpression() {
		e := p.Expression()
		under := t
		if e.Kind == unstable.KeyValue {
			under = table
		}
		l, field, key := f.field(&p, under, e)
		switch {
		case e.Kind == unstable.KeyValue:
			if field != nil {
				l = f.mistype(&p, field, key, e.Value())
			}
		case e.Kind == unstable.Table || e.Kind == unstable.ArrayTable:
			table = nil
			if field == nil {
				break
			}
			given := "a table"
			if e.Kind == unstable.ArrayTable {
				given = "a list of tables"
			}
			// One [table] of what may be several is read as the only one of them.
			if list := field.Kind() == reflect.Slice; item(field).Kind() != reflect.Struct || e.Kind == unstable.ArrayTable && !list {
				l.Add(f.pos(&p, key), "%s must be %s, and is %s", key.Data, kindOf(field), given).WithHint("%s", tableHint(key, field))
			} else {
				table = item(field)
			}
		}
		problems = append(problems, l...)
	}
	return problems
}

// field finds what an expression's key stands for, and the last part of the key:
// nil where it is not known, which is told of elsewhere, or where a part before
// the last is no table, which is told of here.
func (f *file) field(p *unstable.Parser, t reflect.Type, e *unstable.Node) (l diag.List, field reflect.Type, key *unstable.Node) {
	it := e.Key()
	for field = t; it.Next(); {
		if field != nil && item(field).Kind() != reflect.Struct {
			l.Add(f.pos(p, key), "%s must be %s, and is a table", key.Data, kindOf(field))
			field = nil
		}
		if field == nil {
			return l, nil, key
		}
		at := item(field)
		field, key = nil, it.Node()
		for i := range at.NumField() {
			if name := tomlName(at.Field(i)); name != "" && strings.EqualFold(name, string(key.Data)) {
				field = at.Field(i).Type
			}
		}
	}
	return l, field, key
}

// mistype tells of a value that is not of type t, and of those within it.
func (f *file) mistype(p *unstable.Parser, t reflect.Type, key, v *unstable.Node) (l diag.List) {
	switch {
	case v.Kind == unstable.InlineTable && item(t).Kind() == reflect.Struct && t.Kind() != reflect.Slice:
		for it := v.Children(); it.Next(); {
			inner, field, name := f.field(p, item(t), it.Node())
			if field != nil {
				inner = f.mistype(p, field, name, it.Node().Value())
			}
			l = append(l, inner...)
		}
	case v.Kind == unstable.Array && t.Kind() == reflect.Slice:
		for it := v.Children(); it.Next(); {
			switch n := it.Node(); {
			case n.Kind == unstable.Comment:
			case n.Kind == unstable.InlineTable && t.Elem().Kind() == reflect.Struct:
				l = append(l, f.mistype(p, t.Elem(), key, n)...)
			case !fits(t.Elem(), n):
				l.Add(f.pos(p, n, key), "%s must be %s, and holds %s", key.Data, kindOf(t), given(p, n)).WithHint("%s", valueHint(p, t.Elem(), key, n))
			}
		}
	case !fits(t, v):
		l.Add(f.pos(p, v, key), "%s must be %s, and is %s", key.Data, kindOf(t), given(p, v)).WithHint("%s", valueHint(p, t, key, v))
	}
	return l
}

// pos is where the first of the nodes stands that has a place: lists and tables have none.
func (f *file) pos(p *unstable.Parser, nodes ...*unstable.Node) diag.Pos {
	for _, n := range nodes {
		if n.Raw.Length > 0 {
			start := p.Shape(n.Raw).Start
			return diag.Pos{File: f.path, Line: start.Line, Col: start.Column}
		}
	}
	return diag.Pos{File: f.path}
}

// item is what a list is of, or an optional value; any other type is its own.
func item(t reflect.Type) reflect.Type {
	for t.Kind() == reflect.Slice || t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	if t == dateTime {
		return reflect.TypeFor[string]() // a struct in Go, and no table
	}
	return t
}

var dateTime = reflect.TypeFor[toml.LocalDateTime]()

// kindOf is what people call the values of a type.
func kindOf(t reflect.Type) string {
	if t == dateTime {
		return "a date and time"
	}
	switch t.Kind() {
	case reflect.Pointer:
		return kindOf(t.Elem())
	case reflect.Slice:
		return "a list of " + strings.TrimPrefix(kindOf(t.Elem()), "a ") + "s"
	case reflect.Float64:
		return "a number"
	case reflect.Int:
		return "a whole number"
	case reflect.Bool:
		return "true or false"
	case reflect.String:
		return "a text"
	}
	return "a table"
}

// fits reports whether a value can be of type t.
func fits(t reflect.Type, v *unstable.Node) bool {
	kind := v.Kind
	switch kindOf(t) {
	case "a date and time": // in quotes too
		return kind == unstable.LocalDateTime || kind == unstable.String && new(toml.LocalDateTime).UnmarshalText(v.Data) == nil
	case "a number":
		return kind == unstable.Float || kind == unstable.Integer
	case "a whole number":
		return kind == unstable.Integer
	case "true or false":
		return kind == unstable.Bool
	case "a text":
		return kind == unstable.String
	case "a table":
		return kind == unstable.InlineTable
	}
	return kind == unstable.Array
}

// given is what a value of a file is, in words.
func given(p *unstable.Parser, v *unstable.Node) string {
	raw := string(p.Raw(v.Raw))
	switch v.Kind {
	case unstable.String:
		return "the text " + raw
	case unstable.Integer, unstable.Float:
		return "the number " + raw
	case unstable.LocalDateTime:
		return "the date and time " + raw
	case unstable.DateTime:
		return "the date and time " + raw + " of a zone"
	case unstable.LocalDate:
		return "the date " + raw
	case unstable.LocalTime:
		return "the time of day " + raw
	case unstable.Array:
		return "a list"
	case unstable.InlineTable:
		return "a table"
	}
	return raw
}

// A number as people put it in quotes, with its unit or without.
var quoted = regexp.MustCompile(`^([-+]?\d+)([.,]\d+)? *([\pL%°]*)$`)

// valueHint says how to write a value of type t.
func valueHint(p *unstable.Parser, t reflect.Type, key, v *unstable.Node) string {
	raw, text := string(p.Raw(v.Raw)), strings.TrimSpace(string(v.Data))
	scalar := v.Kind != unstable.Array && v.Kind != unstable.InlineTable
	switch want := kindOf(t); {
	case (want == "a number" || want == "a whole number") && v.Kind == unstable.String:
		if m := quoted.FindStringSubmatch(text); m != nil && (want == "a number" || m[2] == "") {
			without := "without quotes"
			if m[3] != "" {
				without += " and unit"
			}
			return "write " + m[1] + strings.Replace(m[2], ",", ".", 1) + " " + without
		}
	case want == "true or false" && v.Kind == unstable.String && (text == "true" || text == "false"):
		return "write " + text + " without quotes"
	case want == "a text" && scalar:
		return fmt.Sprintf("write \"%s\", in quotes", raw)
	case want == "a date and time":
		return "such as 2026-01-31T20:15:00, local and without a zone"
	case t.Kind() == reflect.Slice && scalar && fits(t.Elem(), v):
		return fmt.Sprintf("write %s = [%s]", key.Data, raw)
	case item(t).Kind() == reflect.Struct:
		return tableHint(key, t)
	}
	return ""
}

// tableHint says how to write a table, or several, where t is of that type.
func tableHint(key *unstable.Node, t reflect.Type) string {
	switch {
	case item(t).Kind() != reflect.Struct:
		return fmt.Sprintf("write %s = and the value, under the table it belongs to", key.Data)
	case t.Kind() == reflect.Slice:
		return fmt.Sprintf("write [[%s]] on a line of its own, and its keys below", key.Data)
	}
	return fmt.Sprintf("write [%s] on a line of its own, and its keys below", key.Data)
}

// A number with a comma in it, as many languages write it.
var comma = regexp.MustCompile(`[-+]?\d[\d.]*,\d[\d.]*`)

// syntax tells of a text that is no TOML.
func (f *file) syntax(data []byte, wrong *toml.DecodeError) *diag.Diagnostic {
	row, col := wrong.Position()
	msg := strings.TrimPrefix(wrong.Error(), "toml: ")
	if line := bytes.Split(data, []byte("\n"))[row-1]; strings.HasPrefix(msg, "expected newline") || strings.HasPrefix(msg, "expected '='") {
		for _, at := range comma.FindAllIndex(line, -1) {
			if number := string(line[at[0]:at[1]]); at[0] < col && col-1 <= at[1] {
				example := strings.Replace(number, ",", ".", 1)
				if strings.Contains(number, ".") { // one of the two marks thousands
					example = "12.5"
				}
				return diag.New(diag.Pos{File: f.path, Line: row, Col: at[0] + 1}, "%s is no number", number).
					WithHint("numbers are written with a point and no other mark, such as %s", example)
			}
		}
	}
	return diag.New(diag.Pos{File: f.path, Line: row, Col: col}, "%s", msg)
}
