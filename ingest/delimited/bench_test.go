package delimited

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/pelletier/go-toml/v2"

	"coldbench/ingest/series"
	"coldbench/ingest/source"
	"coldbench/warehouse/channel"
)

// wide makes a log of 20 columns, all mapped, as a profile and its text.
func wide(rows int) (*series.Profile, []byte) {
	p := &series.Profile{ID: "wide", Kind: "delimited", HeaderRow: 1, Decimal: ".", Order: "strict", Clock: series.Clock{Column: "t", Format: "iso"}}
	var b bytes.Buffer
	b.WriteString("t")
	var mapped []channel.Channel
	for _, c := range channel.All() {
		if len(mapped) < 19 {
			mapped = append(mapped, c)
			fmt.Fprintf(&b, ",%s", c.Name)
			p.Columns = append(p.Columns, series.Column{Name: c.Name, Channel: c.Name, Unit: string(c.Unit)})
		}
	}
	b.WriteByte('\n')
	rnd := rand.New(rand.NewPCG(1, 2))
	at := time.Date(2026, 1, 12, 20, 0, 0, 0, time.UTC)
	for i := range rows {
		b.WriteString(at.Add(time.Duration(i) * 100 * time.Millisecond).Format("2006-01-02 15:04:05.0"))
		for _, c := range mapped {
			fmt.Fprintf(&b, ",%.2f", max(c.Min, -40)+rnd.Float64()*min(c.Max-max(c.Min, -40), 400))
		}
		b.WriteByte('\n')
	}
	return p, b.Bytes()
}

func BenchmarkRead(b *testing.B) {
	p, text := wide(200000)
	name := filepath.Join(b.TempDir(), "car.csv")
	if err := os.WriteFile(name, text, 0o644); err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	in := source.Input{Path: name, Shown: "car.csv", Profile: p, Session: &series.Session{}, Location: time.UTC,
		Source: series.Source{Start: toml.LocalDateTime{LocalDate: toml.LocalDate{Year: 2026, Month: 1, Day: 12}}}}
	for b.Loop() {
		rdr, l, err := Kind().Open(in)
		if err != nil || l != nil {
			b.Fatal(err, l)
		}
		rows := int64(0)
		for rdr.Next() {
			rows += rdr.Record().NumRows()
		}
		if rows != 200000 || rdr.Err() != nil {
			b.Fatal(rows, rdr.Err(), rdr.Report().Aside[0])
		}
		rdr.Release()
	}
}

// BenchmarkParse is the work of one core, without the disk and the batches.
func BenchmarkParse(b *testing.B) {
	p, text := wide(1500)
	h := &header{in: source.Input{Shown: "car.csv", Profile: p, Session: &series.Session{}, Location: time.UTC}, text: newText(text)}
	err := h.read()
	if err == nil && h.l == nil {
		_, err = h.columns()
	}
	if err != nil || h.l != nil {
		b.Fatal(err, h.l)
	}
	c := &chunk{text: text[bytes.IndexByte(text, '\n')+1:]}
	b.SetBytes(int64(len(c.text)))
	b.ReportAllocs()
	for b.Loop() {
		h.layout.parse(c)
	}
	if len(c.rows) != 1500 || len(c.problems) > 0 {
		b.Fatal(len(c.rows), c.problems)
	}
}
