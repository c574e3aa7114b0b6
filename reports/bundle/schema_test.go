package bundle

import (
	"bytes"
	"encoding/json"
	"flag"
	"os"
	"reflect"
	"strings"
	"testing"

	reflected "github.com/invopop/jsonschema"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"coldbench/metrics/edition"
)

var rewrite = flag.Bool("rewrite", false, "write the schema anew")

// The schema is what the types and their comments say.
func TestSchemaIsCurrent(t *testing.T) {
	r := reflected.Reflector{}
	if err := r.AddGoComments("coldbench", "../../metrics/edition"); err != nil {
		t.Fatal(err)
	}
	// The reflector names the folder it was given, not the package.
	comments := map[string]string{}
	for k, v := range r.CommentMap {
		_, name, _ := strings.Cut(k, "metrics/edition")
		comments["coldbench/metrics/edition"+name] = v
	}
	r.CommentMap = comments
	s := r.Reflect(&edition.Edition{})
	s.Title = "An edition of coldbench"
	allowNull(reflect.TypeFor[edition.Edition](), s)
	got, err := json.MarshalIndent(s, "", "  ")
	if err != nil {
		t.Fatal(err)
	}
	got = append(got, '\n')
	if *rewrite {
		if err := os.WriteFile("edition.schema.json", got, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if !bytes.Equal(got, schema) {
		t.Error("edition.schema.json is not what package edition says; `go test ./reports/bundle -run Schema -rewrite` writes it")
	}
	if !bytes.Contains(got, []byte("standard uncertainty")) {
		t.Error("the schema has lost the fields' comments")
	}
}

// allowNull lets what Go may leave nil be null: lists and pointers. The
// reflector knows types, not what encoding/json makes of them.
func allowNull(t reflect.Type, s *reflected.Schema) {
	d := s.Definitions[t.Name()]
	if d == nil {
		return
	}
	for i := range t.NumField() {
		f := t.Field(i)
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		was, ok := d.Properties.Get(name)
		if !ok || f.Type.Kind() != reflect.Slice && f.Type.Kind() != reflect.Pointer {
			continue
		}
		inner := *was
		inner.Description = ""
		d.Properties.Set(name, &reflected.Schema{Description: was.Description, AnyOf: []*reflected.Schema{&inner, {Type: "null"}}})
		if f.Type.Kind() == reflect.Slice && f.Type.Elem().Kind() == reflect.Struct {
			allowNull(f.Type.Elem(), s)
		}
	}
}

// compiled is the schema, read by a validator of its own (JSON Schema 2020-12).
func compiled(t *testing.T) *jsonschema.Schema {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(schema))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("edition.json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("edition.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func valid(t *testing.T, s *jsonschema.Schema, data []byte) error {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	return s.Validate(doc)
}

// What Write writes keeps to the schema, and what does not is told apart.
func TestSchemaHolds(t *testing.T) {
	s := compiled(t)
	e, logs := sample()
	dir := t.TempDir()
	if err := Write(dir, e, logs); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(dir + "/" + EditionFile)
	if err != nil {
		t.Fatal(err)
	}
	if err := valid(t, s, data); err != nil {
		t.Error(err)
	}
	if err := valid(t, s, bytes.Replace(data, []byte(`"place":1`), []byte(`"place":"first"`), 1)); err == nil {
		t.Error("a place in words passes")
	}
	if err := valid(t, s, bytes.Replace(data, []byte(`"id":`), []byte(`"name_of_it":`), 1)); err == nil {
		t.Error("an unknown key passes")
	}
}
