package edition

import (
	"bytes"
	"encoding/json"
	"testing"

	"pgregory.net/rapid"
)

func TestLined(t *testing.T) {
	const text = `{"id":"a \"b\\\", [c]","window":{"from":1,"why":"{,}\\"},"none":[],"no":{},"null":null,"figures":[{"s":"x","v":[1,2],"n":{"a":[]}},{"s":"y"}],"pairs":[3,[4,5]]}` + "\n"
	const want = `{
  "id": "a \"b\\\", [c]",
  "window": {
    "from": 1,
    "why": "{,}\\"
  },
  "none": [],
  "no": {},
  "null": null,
  "figures": [
    {"s":"x","v":[1,2],"n":{"a":[]}},
    {"s":"y"}
  ],
  "pairs": [
    3,
    [4,5]
  ]
}
`
	if got := string(lined([]byte(text))); got != want {
		t.Errorf("got\n%s", got)
	}
}

// Of any JSON, nothing but space is added.
func TestLinedKeepsAll(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var value func(depth int) any
		value = func(depth int) any {
			switch kind := rapid.IntRange(0, 3).Draw(t, "kind"); {
			case kind == 0 && depth < 4:
				m := map[string]any{}
				for range rapid.IntRange(0, 3).Draw(t, "n") {
					m[rapid.String().Draw(t, "key")] = value(depth + 1)
				}
				return m
			case kind == 1 && depth < 4:
				l := []any{}
				for range rapid.IntRange(0, 3).Draw(t, "n") {
					l = append(l, value(depth+1))
				}
				return l
			case kind == 2:
				return rapid.StringOf(rapid.SampledFrom([]rune("a\"\\{}[],: \n\u2028é"))).Draw(t, "text")
			}
			return rapid.Float64().Draw(t, "number")
		}
		text, err := json.Marshal(value(0))
		if err != nil {
			t.Fatal(err)
		}
		var back bytes.Buffer
		if err := json.Compact(&back, lined(text)); err != nil || back.String() != string(text) {
			t.Fatalf("%s became %s: %v", text, lined(text), err)
		}
	})
}
