package ingest

import (
	"coldbench/ingest/canlog"
	"coldbench/ingest/columnar"
	"coldbench/ingest/delimited"
	"coldbench/ingest/isd"
	"coldbench/ingest/jsonlines"
	"coldbench/ingest/metar"
	"coldbench/ingest/notes"
	"coldbench/ingest/ocpp"
	"coldbench/ingest/sheet"
	"coldbench/ingest/source"
)

// kinds are the kinds of log that can be read. A new one is its package and
// its line here.
var kinds = []source.Kind{
	delimited.Kind(),
	notes.Kind(),
	isd.Kind(),
	metar.Kind(),
	ocpp.Kind(),
	canlog.Kind(),
	jsonlines.Kind(),
	sheet.Kind(),
	columnar.Kind(),
}

// Kinds returns the kinds of log that can be read, in a fixed order.
func Kinds() []source.Kind { return append([]source.Kind(nil), kinds...) }

// KindNames returns the names of all kinds, in the same order.
func KindNames() []string {
	names := make([]string, len(kinds))
	for i, k := range kinds {
		names[i] = k.Name
	}
	return names
}

func kind(name string) source.Kind {
	for _, k := range kinds {
		if k.Name == name {
			return k
		}
	}
	return source.Kind{} // series.Load has refused unknown kinds
}
