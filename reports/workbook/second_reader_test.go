package workbook

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// dump prints every cell that a reader of its own sees in a workbook, as ExcelJS
// 4.4.0 reads it: it calculates nothing, so of a formula it has the stored value
// (cell.result, as cell.value loses a 0).
const dump = `
const book = new (require("exceljs").Workbook)();
book.xlsx.readFile(process.argv[1]).then(() => {
	const out = {};
	book.eachSheet((sheet) => {
		const cells = (out[sheet.name] = {});
		for (const t of sheet.getTables()) cells["table " + t.name] = t.table.tableRef + " " + t.table.columns.map((c) => c.name).join("|");
		sheet.eachRow((row) => row.eachCell((cell) => {
			let v = cell.value;
			if (v && typeof v === "object") v = v.formula !== undefined || v.sharedFormula !== undefined ? cell.result : v.text !== undefined ? v.text : null;
			if (typeof v === "number" || typeof v === "string") cells[cell.address] = v;
		}));
	});
	console.log(JSON.stringify(out));
}, (e) => { console.error(e); process.exit(1); });
`

// Every number that the program put into a cell, or stored with a formula, is what
// a reader sees that does not calculate.
func TestSecondReader(t *testing.T) {
	modules, err := filepath.Abs("../../build/node/node_modules")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(filepath.Join(modules, "exceljs")); err != nil {
		t.Fatalf("the second reader is not installed; `make deps` does: %v", err)
	}
	e, logs := sample()
	b := filled(e, logs, nil, nil)
	var w bytes.Buffer
	if err := b.write(&w); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "ranking.xlsx")
	if err := os.WriteFile(file, w.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	cmd := exec.CommandContext(t.Context(), "node", "-e", dump, file)
	cmd.Env = append(os.Environ(), "NODE_PATH="+modules)
	var complaints bytes.Buffer
	cmd.Stderr = &complaints
	printed, err := cmd.Output()
	if err != nil {
		t.Fatalf("node: %v\n%s", err, complaints.String())
	}
	var seen map[string]map[string]any
	if err := json.Unmarshal(printed, &seen); err != nil {
		t.Fatal(err)
	}
	numbers, formulas, tables := 0, 0, 0
	for _, s := range b.sheets {
		for _, x := range s.tables {
			tables++
			if got, want := seen[s.name]["table "+x.name], x.at+" "+strings.Join(x.columns, "|"); got != want {
				t.Errorf("%s: the reader sees the table %q, want %q", s.name, got, want)
			}
		}
		for row, cells := range s.cells {
			for col, c := range cells {
				if c.holds != isNumber {
					continue
				}
				want := c.number
				numbers++
				if c.formula != "" {
					formulas++
				}
				got, ok := seen[s.name][ref(col, row)].(float64)
				if !ok || math.Abs(got-want) > 1e-12*math.Abs(want) {
					t.Errorf("%s!%s: the reader sees %v, want %v", s.name, ref(col, row), seen[s.name][ref(col, row)], want)
				}
			}
		}
	}
	if numbers < 3000 || formulas < 60 || tables < 12 {
		t.Errorf("only %d numbers, %d of them of formulas; %d tables", numbers, formulas, tables)
	}
	t.Logf("%d numbers, %d of them of formulas", numbers, formulas)
}
