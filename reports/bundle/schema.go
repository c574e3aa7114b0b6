package bundle

import _ "embed"

// schema describes edition.json. It is made from the types of package edition
// and their comments by `go test ./reports/bundle -run Schema -rewrite`.
//
//go:embed edition.schema.json
var schema []byte
