// Package bundle writes an edition as data for other programs: tables as CSV
// (RFC 4180, with the unit in the header or in a column of its own) and as
// Parquet, the whole edition as JSON with its schema, the sessions' logs as
// lines of JSON, and all of an edition as one ZIP with a manifest of hashes.
// Numbers are written with all their digits. The same edition gives the same bytes.
package bundle

import (
	"fmt"
	"io"
	"os"
	"path/filepath"

	"coldbench/metrics/edition"
)

// Names of files in the data folder.
const (
	EditionFile = "edition.json"        // the whole edition
	SchemaFile  = "edition.schema.json" // JSON Schema 2020-12 of it
	LogsFile    = "logs.jsonl"          // what reports draw from, a session a line
)

// Write writes the edition's data into the folder dir, which must exist.
func Write(dir string, e *edition.Edition, logs []edition.Log) error {
	type file struct {
		name  string
		write func(io.Writer) error
	}
	files := []file{
		{EditionFile, e.Write},
		{SchemaFile, func(w io.Writer) error { _, err := w.Write(schema); return err }},
		{LogsFile, func(w io.Writer) error { return edition.WriteLogs(w, logs) }},
	}
	for _, t := range tables(e, logs) {
		files = append(files, file{t.name + ".csv", t.csv}, file{t.name + ".parquet", t.parquet})
	}
	for _, f := range files {
		if err := create(filepath.Join(dir, f.name), f.write); err != nil {
			return fmt.Errorf("bundle: %s: %w", f.name, err)
		}
	}
	return nil
}

func create(name string, write func(io.Writer) error) error {
	f, err := os.Create(name)
	if err != nil {
		return err
	}
	if err := write(f); err != nil {
		f.Close()
		return err
	}
	return f.Close()
}
