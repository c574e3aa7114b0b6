package canlog

import (
	"bytes"
	"io"
	"os"
	"testing"

	"coldbench/ingest/source"
)

// BenchmarkReader reads a real log of 12,000 frames of 149 messages, one of them
// mapped, over and over.
func BenchmarkReader(b *testing.B) {
	dbc, err := os.ReadFile("testdata/frames.dbc")
	if err != nil {
		b.Fatal(err)
	}
	in, l := load(b, string(dbc), "order = \"any\"\n[clock]\nformat = \"elapsed\"\n"+mapped("Pack.Voltage", "pack_voltage_v", "")+mapped("Pack.Current", "pack_current_a", ""), "start = 2019-01-01T00:00:00\n", "")
	if l != nil {
		b.Fatal(l)
	}
	text, closer, err := source.OpenText("testdata/all-frames.log.gz")
	if err != nil {
		b.Fatal(err)
	}
	defer closer.Close()
	one, err := io.ReadAll(text)
	if err != nil {
		b.Fatal(err)
	}
	all := bytes.Repeat(one, 50)
	if err := os.WriteFile(in.Path, all, 0o644); err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(len(all)))
	for b.Loop() {
		rdr, _, err := Kind().Open(in)
		if err != nil {
			b.Fatal(err)
		}
		for rdr.Next() {
		}
		rdr.Release()
	}
}
