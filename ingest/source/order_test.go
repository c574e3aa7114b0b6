package source

import (
	"fmt"
	"strings"
	"testing"

	"github.com/apache/arrow/go/v17/arrow/array"
	"pgregory.net/rapid"

	"coldbench/warehouse/channel"
)

// times is a log that has nothing but times, in s.
type times struct {
	at    []int64
	next  int
	order *Order
}

func (f *times) Fill(b *Batch, report *Report) (bool, error) {
	for ; f.next < len(f.at); f.next++ {
		if b.Full() {
			return true, nil
		}
		report.RowsRead++
		at, line := f.at[f.next]*1e6, int64(f.next+1)
		if f.order.Follows(at) {
			report.RowsKept++
			b.Row(line, at, nil)
		} else {
			f.order.Doubt(b, report, Row{Line: line, At: at, Raw: fmt.Append(nil, f.at[f.next])})
		}
	}
	f.order.End(b, report)
	return false, nil
}

// ordered reads a log of times and gives the lines that are kept, and what is
// set aside.
func ordered(t interface{ Fatalf(string, ...any) }, any bool, at []int64) (lines []int64, aside []string) {
	r := Stream([]channel.Channel{}, &times{at: at, order: NewOrder("log", any)}, nil, &Report{})
	defer r.Release()
	for r.Next() {
		lines = append(lines, r.Record().Column(0).(*array.Int64).Int64Values()...)
	}
	rep := r.Report()
	for _, a := range rep.Aside {
		aside = append(aside, fmt.Sprintf("%d: %s", a.Line, a.Reason))
	}
	if rep.RowsRead != int64(len(at)) || rep.RowsKept != int64(len(lines)) || rep.RowsRead != rep.RowsKept+int64(len(aside)) {
		t.Fatalf("%v: read %d, kept %d of %d, set aside %d", at, rep.RowsRead, rep.RowsKept, len(lines), len(aside))
	}
	return lines, aside
}

func TestOrder(t *testing.T) {
	for _, c := range []struct {
		at, want, aside string
	}{
		{"0 1 2 3", "1 2 3 4", ""},
		{"0 0 1 1", "1 2 3 4", ""},
		{"0 1 1000000000 2 3 4", "1 2 4 5 6", "3: time lies 999999998 s ahead of the rows below"},
		{"1000000000 0 1 2", "2 3 4", "1: time lies 1000000000 s ahead of the rows below"},
		{"0 1 5000 5001 5002 2 3 4", "1 2 6 7 8", "3: time lies 4998 s ahead of the rows below, 4: time lies 4999 s ahead of the rows below, 5: time lies 5000 s ahead of the rows below"},
		// A pause, and what goes back within it or before it.
		{"0 1 5000 5001", "1 2 3 4", ""},
		{"0 1 5000 2 5001 5002", "1 2 3 5 6", "4: time goes back by 4998 s"},
		{"0 5 5000 1 2 3 5001", "1 2 3 7", "4: time goes back by 4 s, 5: time goes back by 3 s, 6: time goes back by 2 s"},
		// A pause with a stray behind it.
		{"0 1 5000 90000 5001 5002 5003", "1 2 3 5 6 7", "4: time lies 84999 s ahead of the rows below"},
		// Too many to be strays: the rest goes back.
		{"0 5000 5001 5002 5003 5004 5005 5006 5007 5008 1 2", "1 2 3 4 5 6 7 8 9 10", "11: time goes back by 5007 s, 12: time goes back by 5006 s"},
		// A minute or less is no jump.
		{"0 1 61 2 3 62", "1 2 3 6", "4: time goes back by 59 s, 5: time goes back by 58 s"},
		{"5 2 4 5", "1 4", "2: time goes back by 3 s, 3: time goes back by 1 s"},
		// The last row has none below it.
		{"0 1 5000", "1 2 3", ""},
		{"0 1 1000000000", "1 2", "3: time lies 999999999 s ahead of the row above"},
		{"1000000000", "1", ""},
	} {
		var at []int64
		for _, f := range strings.Fields(c.at) {
			var v int64
			fmt.Sscan(f, &v)
			at = append(at, v)
		}
		lines, aside := ordered(t, false, at)
		if got := strings.Trim(fmt.Sprint(lines), "[]"); got != c.want || strings.Join(aside, ", ") != c.aside {
			t.Errorf("%s:\ngot  %s; %s\nwant %s; %s", c.at, got, strings.Join(aside, ", "), c.want, c.aside)
		}
		if lines, _ := ordered(t, true, at); len(lines) != len(at) {
			t.Errorf("%s: in any order, %d are kept", c.at, len(lines))
		}
	}
}

// TestOrderProperty holds what must be true of any log: what is kept is in order
// of time and of lines, and one stray stamp costs one row, wherever it stands.
func TestOrderProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := rapid.SliceOfN(rapid.Int64Range(-100000, 100000), 1, 60).Draw(t, "at")
		lines, _ := ordered(t, false, at)
		for i := 1; i < len(lines); i++ {
			if lines[i] <= lines[i-1] || at[lines[i]-1] < at[lines[i-1]-1] {
				t.Fatalf("%v: lines %v", at, lines)
			}
		}
		rows := int64(rapid.IntRange(4, 40000).Draw(t, "rows"))
		stray := rapid.Int64Range(0, rows-1).Draw(t, "stray")
		at = nil
		for i := range rows {
			at = append(at, i)
		}
		at[stray] += rapid.Int64Range(40*86400, 1e9).Draw(t, "ahead")
		if lines, aside := ordered(t, false, at); int64(len(lines)) != rows-1 || !strings.HasPrefix(aside[0], fmt.Sprint(stray+1)+": ") {
			t.Fatalf("a stray at %d of %d: kept %d, set aside %v", stray, rows, len(lines), aside[:min(3, len(aside))])
		}
	})
}
