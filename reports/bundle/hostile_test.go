package bundle

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet/file"
	"github.com/apache/arrow/go/v17/parquet/pqarrow"

	"coldbench/metrics/edition"
)

// hostiles are texts that a file of data must give back as they went in.
var hostiles = []string{
	"</script>", "=1+1", "@SUM(A1)", "-2", "+1", "\t=1", `"`, `a "b", c`, "one\r\ntwo", "one\rtwo", "one\ntwo\n", " spaces ", "", ",", ";", "\x1b[31m\x07\x00",
	"\u202egnp.exe \u200fשלום\u2066", "🚗❄️ 👩\u200d🚀", "e\u0301 \u2028 \ufeff", strings.Repeat("Maplewood ", 30), strings.Repeat("W", 300), `\N`, `C:\new`, "NULL", "nan",
}

// hostileEdition has each of them wherever a name or a note may stand.
func hostileEdition() (*edition.Edition, []edition.Log) {
	e := &edition.Edition{ID: "x", At: time.Date(2026, 2, 1, 9, 30, 0, 0, time.UTC)}
	var logs []edition.Log
	for i, h := range hostiles {
		id := fmt.Sprint(i, h)
		e.Vehicles = append(e.Vehicles, edition.Vehicle{ID: id, Name: h})
		e.Standings = append(e.Standings, edition.Standing{Vehicle: id, Sessions: []string{id}, Reason: h})
		e.Sessions = append(e.Sessions, edition.Session{ID: id, Vehicle: id, Remark: h, Problem: h, ZeroFrom: h, Sources: []edition.Source{{Path: h, Profile: h}}})
		e.Results = append(e.Results, edition.Figure{Session: id, Figure: "f", Unit: h, Status: edition.None, Note: h})
		e.Gates = append(e.Gates, edition.Gate{Session: id, Gate: "g", Verdict: edition.Failed, Reason: h})
		logs = append(logs, edition.Log{Session: id, Events: []edition.Event{{Kind: "note", Text: h, Path: h}}, Phases: []edition.Phase{{Name: "soak", Rule: h}}})
	}
	return e, logs
}

// parse reads CSV with fast-csv 4.3.6, the reader that ExcelJS uses, and prints JSON.
const parse = `
const rows = [];
require("fast-csv").parseFile(process.argv[1], { headers: false }).on("error", (e) => { console.error(e); process.exit(1); })
	.on("data", (row) => rows.push(row)).on("end", () => console.log(JSON.stringify(rows)));
`

// What another program reads is what was written, byte for byte.
func TestHostileCSV(t *testing.T) {
	modules, err := filepath.Abs("../../build/node/node_modules")
	if err != nil {
		t.Fatal(err)
	}
	e, logs := hostileEdition()
	dir := t.TempDir()
	if err := Write(dir, e, logs); err != nil {
		t.Fatal(err)
	}
	for _, tab := range tables(e, logs) {
		if len(tab.rows) == 0 {
			continue // a table without texts of its own
		}
		name := filepath.Join(dir, tab.name+".csv")
		cmd := exec.CommandContext(t.Context(), "node", "-e", parse, name)
		cmd.Env = append(os.Environ(), "NODE_PATH="+modules)
		var complaints bytes.Buffer
		cmd.Stderr = &complaints
		printed, err := cmd.Output()
		if err != nil {
			t.Fatalf("the other reader is not installed; `make deps` does: %v\n%s", err, complaints.String())
		}
		var got [][]string
		if err := json.Unmarshal(printed, &got); err != nil {
			t.Fatal(err)
		}
		if len(got) != len(tab.rows)+1 {
			t.Fatalf("%s: %d rows, want %d", name, len(got), len(tab.rows)+1)
		}
		for r, row := range tab.rows {
			for c, want := range row {
				if want, ok := want.(string); ok && got[r+1][c] != want {
					t.Errorf("%s: row %d, %s: %q, want %q", tab.name, r+1, tab.columns[c].head, got[r+1][c], want)
				}
			}
		}
	}
	// RFC 4180, 2.1 and 2.6: records end in CRLF, and a text with line breaks stands in quotes.
	text, err := os.ReadFile(filepath.Join(dir, "gates.csv"))
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.HasPrefix(text, []byte("session,gate,verdict,reason\r\n")) || !bytes.Contains(text, []byte(",failed,\"one\rtwo\"\r\n")) || !bytes.HasSuffix(text, []byte("\r\n")) {
		t.Errorf("%q", text)
	}
}

func TestHostileParquet(t *testing.T) {
	e, logs := hostileEdition()
	dir := t.TempDir()
	if err := Write(dir, e, logs); err != nil {
		t.Fatal(err)
	}
	for _, tab := range tables(e, logs) {
		r, err := file.OpenParquetFile(filepath.Join(dir, tab.name+".parquet"), false)
		if err != nil {
			t.Fatal(err)
		}
		defer r.Close()
		ar, err := pqarrow.NewFileReader(r, pqarrow.ArrowReadProperties{}, memory.DefaultAllocator)
		if err != nil {
			t.Fatal(err)
		}
		got, err := ar.ReadTable(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		defer got.Release()
		for c := range tab.columns {
			at := 0
			for _, chunk := range got.Column(c).Data().Chunks() {
				texts, ok := chunk.(*array.String)
				for i := range chunk.Len() {
					if ok && texts.Value(i) != tab.rows[at][c] {
						t.Errorf("%s: row %d, %s: %q, want %q", tab.name, at+1, tab.columns[c].head, texts.Value(i), tab.rows[at][c])
					}
					at++
				}
			}
			if at != len(tab.rows) {
				t.Errorf("%s: %d rows, want %d", tab.name, at, len(tab.rows))
			}
		}
	}
}

func TestHostileJSON(t *testing.T) {
	e, logs := hostileEdition()
	dir := t.TempDir()
	if err := Write(dir, e, logs); err != nil {
		t.Fatal(err)
	}
	read := func(name string) *os.File {
		f, err := os.Open(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { f.Close() })
		return f
	}
	got, err := edition.Read(read(EditionFile))
	if err != nil {
		t.Fatal(err)
	}
	back, err := edition.ReadLogs(read(LogsFile))
	if err != nil || len(back) != len(logs) {
		t.Fatal(len(back), err)
	}
	for i, h := range hostiles {
		for what, text := range map[string]string{
			"name": got.Vehicles[i].Name, "remark": got.Sessions[i].Remark, "path": got.Sessions[i].Sources[0].Path, "note": got.Results[i].Note, "reason": got.Gates[i].Reason,
			"event": back[i].Events[0].Text, "rule": back[i].Phases[0].Rule,
		} {
			if text != h {
				t.Errorf("%s: %q, want %q", what, text, h)
			}
		}
	}
	if !reflect.DeepEqual(got.Standings, e.Standings) {
		t.Error("standings differ")
	}
}

// A text that is no UTF-8, as an old file name may be, spoils no file.
func TestNoUTF8(t *testing.T) {
	e, logs := hostileEdition()
	e.Vehicles[0].Name, e.Sessions[0].Sources[0].Path, logs[0].Events[0].Text = "\xff\xfe", "caf\xe9.csv", "\xc3\x28"
	dir := t.TempDir()
	if err := Write(dir, e, logs); err != nil {
		t.Fatal(err)
	}
	files, err := filepath.Glob(filepath.Join(dir, "*"))
	if err != nil || len(files) != 3+2*10 {
		t.Fatal(strconv.Itoa(len(files)), err)
	}
	for _, name := range files {
		if text, err := os.ReadFile(name); err != nil || filepath.Ext(name) != ".parquet" && !utf8.Valid(text) {
			t.Errorf("%s: not UTF-8, or %v", name, err)
		}
	}
}
