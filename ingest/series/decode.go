package series

import (
	"bytes"
	"errors"
	"io/fs"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"coldbench/warehouse/diag"
)

// A file is a TOML file with the place of each of its keys, so that a value
// found wrong long after decoding can still be pointed at.
type file struct {
	path  string // as shown to people, relative to the series
	bytes []byte
	keys  map[string]diag.Pos // "source.1.profile" -> where its value stands
}

// at returns the place of a key's value; where the key is absent, the file. A
// nil file, of a value that was made and not read, has no places.
func (f *file) at(path ...string) diag.Pos {
	if f == nil {
		return diag.Pos{}
	}
	if pos, ok := f.keys[strings.Join(path, ".")]; ok {
		return pos
	}
	return diag.Pos{File: f.path}
}

// decode reads path (shown as shown) strictly into v, a pointer to a struct.
// A non-nil List says what is wrong with the text; v is then incomplete.
// A file that is absent or cannot be read is a diagnostic too: the rest of the
// series can do without it.
func decode(fsys fs.FS, path, shown string, v any) (*file, diag.List) {
	f := &file{path: shown, keys: map[string]diag.Pos{}}
	var problems diag.List
	if diag.IsPipe(fsys, path) {
		problems.Add(diag.Pos{File: shown}, "it is "+diag.Pipe)
		return f, problems
	}
	data, err := fs.ReadFile(fsys, path)
	if errors.Is(err, fs.ErrNotExist) {
		problems.Add(diag.Pos{File: shown}, "file not found").WithHint("`coldbench new` lays it out")
		return f, problems
	}
	var denied *fs.PathError
	if errors.As(err, &denied) {
		err = denied.Err
	}
	if err != nil {
		problems.Add(diag.Pos{File: shown}, "the file cannot be read: %v", err)
		return f, problems
	}
	f.bytes = data
	// Editors of Windows write a byte order mark; places are counted without it.
	data = bytes.TrimPrefix(data, mark)
	if !utf8.Valid(data) {
		problems.Add(diag.Pos{File: shown, Line: 1 + bytes.Count(validStart(data), []byte{'\n'})}, "the file is not UTF-8").WithHint("save it as UTF-8")
		return f, problems
	}

	err = toml.NewDecoder(bytes.NewReader(data)).DisallowUnknownFields().Decode(v)
	var strict *toml.StrictMissingError
	var one *toml.DecodeError
	switch {
	case errors.As(err, &strict):
		for i := range strict.Errors {
			e := &strict.Errors[i]
			row, col := e.Position()
			key := e.Key()
			problems.Add(diag.Pos{File: shown, Line: row, Col: col}, "unknown key %q", key[len(key)-1]).
				WithHint("%s", keyHint(reflect.TypeOf(v).Elem(), key))
		}
	case errors.As(err, &one):
		if problems = f.mistypes(reflect.TypeOf(v).Elem()); problems == nil {
			problems = diag.List{f.syntax(data, one)}
		}
	case err != nil:
		problems.Add(diag.Pos{File: shown}, "%s", strings.TrimPrefix(err.Error(), "toml: "))
	}
	if problems == nil {
		problems = f.index()
	}
	return f, problems
}

// mark is UTF-8's byte order mark.
var mark = []byte("\xef\xbb\xbf")

// validStart is what of a text is UTF-8, up to the first byte that is not.
func validStart(data []byte) []byte {
	for at := 0; at < len(data); {
		r, n := utf8.DecodeRune(data[at:])
		if r == utf8.RuneError && n == 1 {
			return data[:at]
		}
		at += n
	}
	return data
}

// largest is beyond any number that a file of a series can mean: seconds, kWh,
// weights. What is larger overflows later, far from where it was written.
const largest = 1e12

// sane tells of a number that is none, or that nobody can mean.
func (f *file) sane(p *unstable.Parser, path []string, n *unstable.Node) *diag.Diagnostic {
	if n.Kind != unstable.Float && n.Kind != unstable.Integer {
		return nil
	}
	pos := f.keys[strings.Join(path, ".")]
	key := path[len(path)-1]
	v, err := strconv.ParseFloat(strings.ReplaceAll(string(n.Data), "_", ""), 64)
	switch {
	case err != nil && n.Kind == unstable.Integer: // 0x10, 0b1: no float, and small
		return nil
	case err != nil || math.IsNaN(v) || math.Abs(v) > largest:
		return diag.New(pos, "%s is %s, and must be a number of a sensible size", key, n.Data)
	case v < 0 && strings.HasSuffix(key, "_u_s"):
		return diag.New(pos, "%s is %s: an uncertainty is not negative", key, n.Data)
	}
	return nil
}

// keyHint names the keys that the table holding key may have.
func keyHint(t reflect.Type, key toml.Key) string {
	for _, part := range key[:len(key)-1] {
		next := false
		for i := range t.NumField() {
			if tomlName(t.Field(i)) != part {
				continue
			}
			t, next = t.Field(i).Type, true
			for t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice {
				t = t.Elem()
			}
			break
		}
		if !next || t.Kind() != reflect.Struct {
			return "this table is not known"
		}
	}
	var known []string
	for i := range t.NumField() {
		if n := tomlName(t.Field(i)); n != "" {
			known = append(known, n)
		}
	}
	if h := diag.DidYouMean(key[len(key)-1], known); h != "" {
		return h
	}
	return "known here: " + strings.Join(known, ", ")
}

func tomlName(f reflect.StructField) string {
	name, _, _ := strings.Cut(f.Tag.Get("toml"), ",")
	if name == "-" {
		return ""
	}
	return name
}

// index records where every value stands. The text has been decoded, so it is
// known to be valid.
func (f *file) index() diag.List {
	var p unstable.Parser
	var problems diag.List
	p.Reset(bytes.TrimPrefix(f.bytes, mark))
	var table []string
	counts := map[string]int{}
	for p.NextExpression() {
		e := p.Expression()
		switch e.Kind {
		case unstable.Table:
			table = f.keyPath(e.Key(), nil)
			f.note(&p, table, e.Child())
		case unstable.ArrayTable:
			table = f.keyPath(e.Key(), nil)
			name := strings.Join(table, ".")
			table = append(table, strconv.Itoa(counts[name]))
			counts[name]++
			f.note(&p, table, e.Child())
		case unstable.KeyValue:
			problems = append(problems, f.value(&p, f.keyPath(e.Key(), table), e)...)
		}
	}
	return problems
}

func (f *file) keyPath(key unstable.Iterator, prefix []string) []string {
	path := append([]string(nil), prefix...)
	for key.Next() {
		path = append(path, string(key.Node().Data))
	}
	return path
}

// within notes what a table or a list holds that is written in one line.
func (f *file) within(p *unstable.Parser, path []string, v *unstable.Node) (problems diag.List) {
	it := v.Children()
	switch v.Kind {
	case unstable.InlineTable:
		for first := true; it.Next(); first = false {
			if key := it.Node().Key(); first && key.Next() {
				f.note(p, path, key.Node()) // for what is wrong with it as a whole
			}
			problems = append(problems, f.value(p, f.keyPath(it.Node().Key(), path), it.Node())...)
		}
	case unstable.Array:
		for i := 0; it.Next(); i++ {
			problems = append(problems, f.within(p, append(slices.Clone(path), strconv.Itoa(i)), it.Node())...)
		}
	}
	return problems
}

func (f *file) value(p *unstable.Parser, path []string, kv *unstable.Node) (problems diag.List) {
	v := kv.Value()
	problems = f.within(p, path, v)
	// Tables and arrays have no raw bytes of their own; their key does.
	if v.Raw.Length == 0 {
		key := kv.Key()
		key.Next()
		v = key.Node()
	}
	f.note(p, path, v)
	if d := f.sane(p, path, kv.Value()); d != nil {
		problems = append(problems, d)
	}
	return problems
}

func (f *file) note(p *unstable.Parser, path []string, n *unstable.Node) {
	if n == nil || n.Raw.Length == 0 {
		return
	}
	start := p.Shape(n.Raw).Start
	f.keys[strings.Join(path, ".")] = diag.Pos{File: f.path, Line: start.Line, Col: start.Column}
}
