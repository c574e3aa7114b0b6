package source

import (
	"fmt"
	"slices"
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

// A clock that is reset goes back to where the log began, or before it, and goes on.
func TestReset(t *testing.T) {
	const first = "the clock is reset here: time goes back by "
	for _, c := range []struct {
		name string
		at   []int64
		kept string // lines, as spans
		want string // line and reason of what is set aside, as spans
	}{
		{"elapsed from 0 again, and longer than before", chain(span(0, 600), span(0, 900)), "1-601", "602: " + first + "600 s and goes on from there, 603-1502: comes after the clock's reset in line 602"},
		{"to a date long ago", chain(span(1e9, 1e9+20), span(0, 20)), "1-21", "22: " + first + "1000000020 s and goes on from there, 23-42: comes after the clock's reset in line 22"},
		{"twice", chain(span(0, 100), span(0, 80), span(0, 300)), "1-101", "102: " + first + "100 s and goes on from there, 103-483: comes after the clock's reset in line 102"},
		{"with a pause before it", chain(span(0, 100), span(5000, 5002), span(0, 80)), "1-104", "105: " + first + "5002 s and goes on from there, 106-185: comes after the clock's reset in line 105"},
		{"with a pause of one row before it", chain(span(0, 100), span(5000, 5000), span(0, 80)), "1-102", "103: " + first + "5000 s and goes on from there, 104-183: comes after the clock's reset in line 103"},
		{"within the first minute", chain(span(0, 40), span(0, 90)), "1-41", "42: " + first + "40 s and goes on from there, 43-132: comes after the clock's reset in line 42"},
		{"rows further apart than a minute", chain(every(120, 0, 1200), every(120, 0, 3600)), "1-11", "12: " + first + "1200 s and goes on from there, 13-42: comes after the clock's reset in line 12"},
		{"wrong for a while, and right again", chain(span(1e9, 1e9+100), span(0, 300), span(1e9+401, 1e9+500)), "1-101 403-502", "102: " + first + "1000000100 s and goes on from there, 103-402: comes after the clock's reset in line 102"},
		{"with a stray behind it", chain(span(0, 100), span(0, 20), span(5000, 5000), span(21, 30)), "1-101", "102: " + first + "100 s and goes on from there, 103-133: comes after the clock's reset in line 102"},
		{"and back again", chain(span(0, 100), span(0, 20), span(101, 120)), "1-101 123-142", "102: " + first + "100 s and goes on from there, 103-122: comes after the clock's reset in line 102"},
		// A minute or less, or a row or a few, are late rows; so are those of a time between.
		{"late by a minute", chain(span(0, 61), span(1, 100)), "1-62 123-162", "63-122: time goes back"},
		{"a late row now and then", chain(span(0, 100), span(5, 5), span(101, 110), span(6, 6), span(111, 120), span(7, 7), span(121, 130), span(8, 8), span(131, 140),
			span(9, 9), span(141, 150), span(10, 10), span(151, 160), span(11, 11), span(161, 170), span(12, 12), span(171, 180), span(13, 13), span(181, 190), span(14, 14), span(191, 200)),
			"1-101 103-112 114-123 125-134 136-145 147-156 158-167 169-178 180-189 191-200 202-211", "102 113 124 135 146 157 168 179 190 201: time goes back"},
		{"few rows", chain(span(0, 100), span(0, 7), span(101, 103)), "1-101 110-112", "102-109: time goes back"},
		{"sent again", chain(span(0, 600), span(400, 700)), "1-601 802-902", "602-801: time goes back"},
	} {
		lines, aside := ordered(t, false, c.at)
		if got := spans(lines); got != c.kept {
			t.Errorf("%s: kept %s, want %s", c.name, got, c.kept)
		}
		if got := strings.Join(together(aside), ", "); got != c.want {
			t.Errorf("%s: set aside %s, want %s", c.name, got, c.want)
		}
	}
	r := &Report{}
	b := Stream([]channel.Channel{}, &times{at: chain(span(0, 100), span(0, 20)), order: NewOrder("log", false)}, nil, r)
	defer b.Release()
	for b.Next() {
	}
	const hint = `put what comes from line 102 on into a file of its own, a source with its own start or offset_s; only if these rows belong between those above, order = "any" in profiles/log.toml`
	if a := b.Report().Aside; a[0].Hint != hint || a[1].Hint != "" || a[20].Hint != "" {
		t.Errorf("hints %q, %q", a[0].Hint, a[1].Hint)
	}
}

func span(from, to int64) (at []int64) {
	for ; from <= to; from++ {
		at = append(at, from)
	}
	return at
}

func every(step, from, to int64) (at []int64) {
	for ; from <= to; from += step {
		at = append(at, from)
	}
	return at
}

func chain(parts ...[]int64) []int64 { return slices.Concat(parts...) }

// spans writes lines that follow each other as one.
func spans(lines []int64) string {
	var out []string
	for i := 0; i < len(lines); {
		j := i
		for j+1 < len(lines) && lines[j+1] == lines[j]+1 {
			j++
		}
		if out = append(out, fmt.Sprint(lines[i])); j > i {
			out[len(out)-1] += fmt.Sprintf("-%d", lines[j])
		}
		i = j + 1
	}
	return strings.Join(out, " ")
}

// together writes lines of one reason as one, and all that go back as one reason.
func together(aside []string) (out []string) {
	var lines []int64
	var last string
	for _, a := range append(aside, "0: ") {
		var line int64
		number, reason, _ := strings.Cut(a, ": ")
		fmt.Sscan(number, &line)
		if strings.HasPrefix(reason, "time goes back") {
			reason = "time goes back"
		}
		if reason != last && lines != nil {
			out, lines = append(out, spans(lines)+": "+last), nil
		}
		lines, last = append(lines, line), reason
	}
	return out
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
