package workbook

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"math"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansitalic"
	"codeberg.org/go-fonts/liberation/liberationsansregular"

	"coldbench/metrics/edition"
)

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// recalculateAlways makes LibreOffice work out every formula of a file, also
// those that carry a value; by default it believes the values.
const recalculateAlways = `<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry" xmlns:xs="http://www.w3.org/2001/XMLSchema" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load"><prop oor:name="OOXMLRecalcMode" oor:op="fuse"><value>0</value></prop></item>
</oor:items>`

// asCSV asks for UTF-8 with commas and quotes, numbers with all their digits
// rather than as shown, and a file for every sheet.
const asCSV = `csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,false,false,false,false,-1`

// convert has LibreOffice work the workbooks out and write them as what is asked for,
// and returns the folder. Its fonts are as wide as those that the workbook asks for.
func convert(t *testing.T, to string, books map[string][]byte) string {
	t.Helper()
	soffice, err := exec.LookPath("soffice")
	if err != nil {
		t.Fatal("soffice is not installed; `make deps` installs it")
	}
	dir := t.TempDir()
	profile, fonts := filepath.Join(dir, "profile"), filepath.Join(dir, "fonts")
	for _, d := range []string{filepath.Join(profile, "user"), fonts} {
		if err := os.MkdirAll(d, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	args := []string{"-env:UserInstallation=" + (&url.URL{Scheme: "file", Path: profile}).String(), "--headless", "--convert-to", to, "--outdir", dir}
	files := map[string][]byte{
		filepath.Join(profile, "user", "registrymodifications.xcu"): []byte(recalculateAlways),
		filepath.Join(fonts, "regular.ttf"):                         liberationsansregular.TTF, filepath.Join(fonts, "bold.ttf"): liberationsansbold.TTF, filepath.Join(fonts, "italic.ttf"): liberationsansitalic.TTF,
	}
	for name, data := range books {
		file := filepath.Join(dir, name+".xlsx")
		files[file] = data
		args = append(args, file)
	}
	for name, data := range files {
		if err := os.WriteFile(name, data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	ctx, cancel := context.WithTimeout(t.Context(), 90*time.Second)
	defer cancel()
	cmd := exec.CommandContext(ctx, soffice, args...)
	cmd.Env = append(os.Environ(), "XDG_DATA_HOME="+dir)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("soffice: %v\n%s", err, out)
	}
	return dir
}

// recalculate has LibreOffice work the workbooks out, and returns what each of
// their sheets then shows, by the workbook's name and the sheet's.
func recalculate(t *testing.T, books map[string][]byte) map[string]map[string][][]string {
	t.Helper()
	dir := convert(t, asCSV, books)
	sheets := map[string]map[string][][]string{}
	for name := range books {
		sheets[name] = map[string][][]string{}
		files, err := filepath.Glob(filepath.Join(dir, name+"-*.csv"))
		if err != nil || len(files) == 0 {
			t.Fatalf("soffice made no sheets of %s: %v", name, err)
		}
		for _, file := range files {
			data, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			r := csv.NewReader(bytes.NewReader(data))
			r.FieldsPerRecord, r.LazyQuotes = -1, true
			rows, err := r.ReadAll()
			if err != nil {
				t.Fatalf("%s: %v", file, err)
			}
			sheets[name][strings.TrimSuffix(strings.TrimPrefix(filepath.Base(file), name+"-"), ".csv")] = rows
		}
	}
	return sheets
}

// differences lists the formulas whose value in the file is not what was worked
// out, and counts all formulas.
func differences(t *testing.T, data []byte, sheets map[string][][]string) (wrong []string, n int) {
	t.Helper()
	f := opened(t, data)
	for _, sheet := range f.GetSheetList() {
		for r, row := range texts(t, f, sheet) {
			for c := range row {
				cell := ref(c+1, r+1)
				formula, err := f.GetCellFormula(sheet, cell)
				if err != nil {
					t.Fatal(err)
				}
				if formula == "" {
					continue
				}
				n++
				got := "(no such cell)"
				if rows := sheets[sheet]; r < len(rows) && c < len(rows[r]) {
					got = rows[r][c]
				}
				if !alike(row[c], got) {
					wrong = append(wrong, fmt.Sprintf("%s!%s = %s: the file says %q, worked out it is %q", sheet, cell, formula, row[c], got))
				}
			}
		}
	}
	return wrong, n
}

func alike(a, b string) bool {
	x, err1 := strconv.ParseFloat(a, 64)
	y, err2 := strconv.ParseFloat(b, 64)
	if err1 != nil || err2 != nil {
		return a == b
	}
	return math.Abs(x-y) <= 1e-9*math.Max(1, math.Abs(x))
}

// poison makes every number that a formula carries a wrong one, and counts them.
func poison(t *testing.T, data []byte) (poisoned []byte, n int) {
	t.Helper()
	f := opened(t, data)
	carried := regexp.MustCompile(`(</f><v>)(-?[0-9.]+(?:[Ee][-+]?[0-9]+)?)(</v>)`)
	f.Pkg.Range(func(name, text any) bool {
		if strings.HasPrefix(name.(string), "xl/worksheets/sheet") {
			f.Pkg.Store(name, carried.ReplaceAllFunc(text.([]byte), func(m []byte) []byte {
				n++
				return carried.ReplaceAll(m, []byte("${1}77${2}${3}"))
			}))
		}
		return true
	})
	var b bytes.Buffer
	if err := pack(&b, f, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes(), n
}

// weigh changes the weights in the file, as a person would.
func weigh(t *testing.T, data []byte, weights []float64) []byte {
	t.Helper()
	f := opened(t, data)
	row := slices.IndexFunc(texts(t, f, "Standings"), func(r []string) bool { return len(r) > 0 && r[0] == "weight" }) + 1
	for i, w := range weights {
		if err := f.SetCellValue("Standings", ref(scaleCol+i, row), w); err != nil {
			t.Fatal(err)
		}
	}
	b, err := f.WriteToBuffer()
	if err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// unsure changes what is known of the k-th car in the file: every value but to 100, and
// the last of them, which earned 20 points, to one that earns 80.
func unsure(t *testing.T, data []byte, k int, last float64) []byte {
	t.Helper()
	f := opened(t, data)
	first := func(band string) int {
		return slices.IndexFunc(texts(t, f, "Standings"), func(r []string) bool { return len(r) > 0 && r[0] == band }) + 2
	}
	cells := map[string]float64{ref(scaleCol+len(sampleScales)-1, first("Values")+k): last}
	for i := range sampleScales {
		cells[ref(scaleCol+i, first("Standard uncertainties")+k)] = 100
	}
	for cell, v := range cells {
		if err := f.SetCellValue("Standings", cell, v); err != nil {
			t.Fatal(err)
		}
	}
	b, err := f.WriteToBuffer()
	if err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// inPart is the sample with three of alder's values having errors in common. By hand, from its
// weighted points in TestWorkedByHand, less where more is worse: -10/3, -2.5, -3 and 2 are
// known with the variance 10²/3² + 2.5² + 3² + 2², and what goes together comes to it twice:
// 0.5 of the first two, 0.5 of the first and the last, 0.25 of the second and the last.
func inPart(t *testing.T) []byte {
	t.Helper()
	e, logs := sample()
	k := slices.IndexFunc(e.Standings, func(st edition.Standing) bool { return st.Vehicle == "alder-60" })
	st := &e.Standings[k]
	st.Values = slices.Clone(st.Values)
	st.Values[0].Common, st.Values[1].Common, st.Values[3].Common = 1, 0.5, 0.5
	st.U = math.Sqrt(100./9+6.25+9+4+2*(0.5*10/3*2.5-0.5*10/3*2-0.25*2.5*2)) / 10
	return written(t, e, logs)
}

// An independent spreadsheet program works out what the edition holds, is not
// taken in by values that are wrong, and follows when weights are changed.
func TestFormulasInLibreOffice(t *testing.T) {
	e, logs := sample()
	data := written(t, e, logs)
	otherWeights := map[string][]float64{
		"speed": {0, 0, 0, 5},      // cedar, which is fastest in 30 min, comes first
		"heat":  {0.5, 10, 0, 0.1}, // birch and alder are still one
		"time":  {0, 0, 1, 0},
		"none":  {0, 0, 0, 0}, // everybody is first, with 0 points
	}
	poisoned, spoilt := poison(t, data)
	books := map[string][]byte{"edition": data, "poisoned": poisoned}
	for name, w := range otherWeights {
		books[name] = weigh(t, data, w)
	}
	// Dogwood, with the fewest points, 29.5, is known so badly that nobody is clearly
	// ahead of it: each of its scales to 50 points, all to sqrt(2 x 150^2 + 2 x 100^2)/10
	// = 25.5, and alder has 44 more. But cedar, with more points, has two before it.
	k := slices.IndexFunc(e.Standings, func(st edition.Standing) bool { return st.Vehicle == "dogwood-90" })
	books["unsure"] = unsure(t, data, k, 40)
	books["common"] = inPart(t)
	sheets := recalculate(t, books)
	if wrong, _ := differences(t, books["common"], sheets["common"]); len(wrong) > 0 {
		t.Errorf("errors in common:\n%s", strings.Join(wrong, "\n"))
	}

	wrong, n := differences(t, data, sheets["edition"])
	if cars, scales := 4, len(sampleScales); n != cars*(5+2*scales)+cars*(6+scales) {
		t.Errorf("%d formulas", n)
	}
	if len(wrong) > 0 {
		t.Error(strings.Join(wrong, "\n"))
	}
	if wrong, _ := differences(t, data, sheets["poisoned"]); len(wrong) > 0 {
		t.Errorf("wrong values in the file were believed:\n%s", strings.Join(wrong, "\n"))
	}
	if wrong, _ := differences(t, poisoned, sheets["poisoned"]); len(wrong) != spoilt || spoilt < 60 {
		t.Errorf("%d of %d wrong values were found", len(wrong), spoilt)
	}
	for name, w := range otherWeights {
		compareRanking(t, name, sheets[name]["Standings"], e, rank(w))
	}
	dogwood := slices.IndexFunc(sampleCars, func(c sampleCar) bool { return c.id == "dogwood-90" })
	defer func(c sampleCar) { sampleCars[dogwood] = c }(sampleCars[dogwood])
	c := &sampleCars[dogwood]
	c.values, c.u = append(slices.Clone(c.values[:3]), 40), []float64{100, 100, 100, 100}
	want := rank(nil)
	if st := want[3]; st.Vehicle != "dogwood-90" || st.Place != 3 || !alike(fmt.Sprintf("%.1f", st.U), "25.5") || ahead(want[:4], st) != 0 {
		t.Errorf("%+v", st)
	}
	compareRanking(t, "unsure", sheets["unsure"]["Standings"], e, want)
}

// compareRanking holds the ranking on top of the sheet against Go's.
func compareRanking(t *testing.T, name string, rows [][]string, e *edition.Edition, want []edition.Standing) {
	t.Helper()
	at := slices.IndexFunc(rows, func(r []string) bool { return r[0] == "place" }) + 1
	for i, st := range want {
		if st.Place == 0 {
			continue
		}
		row := rows[at+i]
		if name == "none" { // equal cars keep the order of the edition, which Go does not know
			st.Vehicle = e.Standings[i].Vehicle
		}
		if row[0] != strconv.Itoa(st.Place) || row[1] != e.Name(st.Vehicle) {
			t.Errorf("weights %s, row %d: %q, want place %d for %s", name, i+1, row, st.Place, st.Vehicle)
		}
		if !alike(row[2], fmt.Sprint(st.Score)) || !alike(row[3], fmt.Sprint(st.U)) {
			t.Errorf("weights %s, %s: %s ± %s, want %v ± %v", name, st.Vehicle, row[2], row[3], st.Score, st.U)
		}
	}
}
