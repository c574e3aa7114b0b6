package workbook

import (
	"encoding/xml"
	"testing"

	"github.com/xuri/excelize/v2"
)

// Cells are as ECMA-376, part 1, 18.3.1.4 has them, with the 15 digits that
// spreadsheet programs keep of a number.
func TestCells(t *testing.T) {
	for want, c := range map[string]cell{
		`<c r="B3" s="7"/>`:                                                                  {holds: isNothing},
		`<c r="B3" s="7"><v>0.666666666666667</v></c>`:                                       {holds: isNumber, number: 2.0 / 3},
		`<c r="B3" s="7"><v>-1.5e-07</v></c>`:                                                {holds: isNumber, number: -1.5e-7},
		`<c r="B3" s="7"><v>1200</v></c>`:                                                    {holds: isNumber, number: 1200},
		`<c r="B3" s="7"><f>1&lt;2</f><v>1</v></c>`:                                          {holds: isNumber, number: 1, formula: "1<2"},
		`<c r="B3" s="7" t="str"><f>A1</f><v>a&amp;b</v></c>`:                                {holds: isText, text: "a&b", formula: "A1"},
		`<c r="B3" s="7" t="inlineStr"><is><t>=1+1 "x" €</t></is></c>`:                       {holds: isText, text: `=1+1 "x" €`},
		`<c r="B3" s="7" t="inlineStr"><is><t></t></is></c>`:                                 {holds: isText},
		"<c r=\"B3\" s=\"7\" t=\"inlineStr\"><is><t xml:space=\"preserve\">a\n</t></is></c>": {holds: isText, text: "a\n"},
		// 22.9.2.19: each underscore that seems to begin a code is written as one.
		`<c r="B3" s="7" t="inlineStr"><is><t>_x005F_x0041_x005F_x0042_ _x41_</t></is></c>`: {holds: isText, text: "_x0041_x0042_ _x41_"},
	} {
		if got := string(c.in(nil, 7, 2, 3)); got != want {
			t.Errorf("%+v\n got %s\nwant %s", c, got, want)
		}
	}
}

// Places are called as the library calls them.
func TestRefs(t *testing.T) {
	for _, at := range [][2]int{{1, 1}, {26, 9}, {27, 10}, {52, 1}, {53, 1}, {702, 1}, {703, 1}, {excelize.MaxColumns, excelize.TotalRows}} {
		if got, want := string(appendRef(nil, at[0], at[1])), ref(at[0], at[1]); got != want {
			t.Errorf("%v: %s, want %s", at, got, want)
		}
	}
}

// Whatever a text is, once clean it is what a reader of XML gets back.
func FuzzText(f *testing.F) {
	for _, h := range hostile {
		f.Add(h)
	}
	f.Fuzz(func(t *testing.T, s string) {
		s = clean(s)
		var back struct {
			Text string `xml:",chardata"`
		}
		if err := xml.Unmarshal(appendText([]byte("<t>"), s), &back); err == nil {
			t.Fatal("no end was needed")
		}
		if err := xml.Unmarshal(append(appendText([]byte("<t>"), s), "</t>"...), &back); err != nil || back.Text != s {
			t.Errorf("%q came back as %q: %v", s, back.Text, err)
		}
	})
}
