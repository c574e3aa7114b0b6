package ocpp

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

// The sessions that the reader's tests rest on must be messages that a charger
// may send: their payloads fit the published schemas.
func TestFixturesFitSchemas(t *testing.T) {
	compiler := jsonschema.NewCompiler()
	for _, c := range []struct {
		fixture, version, suffix string
		checked                  int
	}{
		{"session-1.6.jsonl", "1.6", ".json", 8},
		{"session-2.0.1.json", "2.0.1", "Request.json", 11},
	} {
		file, err := os.ReadFile(filepath.Join("testdata", c.fixture))
		if err != nil {
			t.Fatal(err)
		}
		texts, _, why := split(file)
		if why != "" {
			t.Fatal(c.fixture, why)
		}
		checked := 0
		for _, x := range texts {
			m, d := unwrap(x)
			if d != nil {
				t.Fatal(c.fixture, d)
			}
			if m.kind != call || !actions[m.action] {
				continue
			}
			schema, err := compiler.Compile(filepath.Join("testdata", "schemas", c.version, m.action+c.suffix))
			if err != nil {
				t.Fatal(err)
			}
			var v any
			if err := json.Unmarshal(m.payload, &v); err != nil {
				t.Fatal(err)
			}
			if err := schema.Validate(v); err != nil {
				t.Errorf("%s:%d: %s: %v", c.fixture, m.line, m.action, err)
			}
			checked++
		}
		if checked != c.checked {
			t.Errorf("%s: %d messages checked, want %d", c.fixture, checked, c.checked)
		}
	}
}
