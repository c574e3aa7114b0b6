package terminal

import (
	"bytes"
	"strings"
	"testing"

	"coldbench/metrics/edition"
)

// A reason that sessions share is told once, where it holds of the same figures; what
// earns points comes first. A session that is asked for is told of alone, with all its files.
func TestCheck(t *testing.T) {
	e := &edition.Edition{Scales: []edition.Scale{{Figure: "delay"}}}
	for _, id := range []string{"n1", "n2", "n3", "n4", "n5", "n6", "n7"} {
		e.Sessions = append(e.Sessions, edition.Session{ID: id, Sources: []edition.Source{{Path: id + "/car.csv", RowsRead: 9, RowsKept: 9}}})
		e.Gates = append(e.Gates, edition.Gate{Session: id, Gate: "dry", Verdict: edition.CannotTell, Reason: "nobody looked"}, edition.Gate{Session: id, Gate: "even", Verdict: edition.Passed})
		if id != "n4" {
			e.Results = append(e.Results,
				edition.Figure{Session: id, Figure: "cost", Status: edition.None, Note: "no price"},
				edition.Figure{Session: id, Figure: "heat", Status: edition.Measured},
				edition.Figure{Session: id, Figure: "paid", Status: edition.None, Note: "no price"})
		}
	}
	e.Results = append(e.Results, edition.Figure{Session: "n8", Figure: "cost", Status: edition.None, Note: "no price"},
		edition.Figure{Session: "n8", Figure: "delay", Status: edition.Beyond, Note: "the log ended"})
	e.Sessions[1].Sources = append(e.Sessions[1].Sources, edition.Source{Path: "n2/car-2.csv", Continues: "n2/car.csv", RowsRead: 5, RowsKept: 4, Aside: 1})
	e.Gates = append(e.Gates, edition.Gate{Session: "n6", Gate: "whole", Verdict: edition.Flagged, Reason: "silent for 12 min"})
	for _, c := range []struct{ session, want string }{
		{"", `
sources: 8, rows: 68, set aside: 1

source                              read  kept  set aside
---------------------------------------------------------
n2/car-2.csv, goes on from car.csv     5     4          1

Against the protocol
session  gate   verdict  reason
------------------------------------------
n6       whole  flagged  silent for 12 min

Gates that cannot tell
reason         sessions  gates
------------------------------
nobody looked  all 7     dry

Figures with points that are missing, bounded or from a worse source
status  reason         sessions  figures
----------------------------------------
beyond  the log ended  n8        delay

Other figures that are
status   reason    sessions               figures
----------------------------------------------------
missing  no price  n1, n2, n3 and 3 more  cost, paid
missing  no price  n8                     cost
`}, {"n2", `
sources: 2, rows: 14, set aside: 1

source                              read  kept  set aside
---------------------------------------------------------
n2/car.csv                             9     9          0
n2/car-2.csv, goes on from car.csv     5     4          1

Gates that cannot tell
reason         sessions  gates
------------------------------
nobody looked  n2        dry

Other figures that are
status   reason    sessions  figures
---------------------------------------
missing  no price  n2        cost, paid
`}} {
		var b bytes.Buffer
		Check(&b, e, c.session, 0)
		if got := b.String(); strings.TrimSpace(got) != strings.TrimSpace(c.want) {
			t.Errorf("session %q:\n%s\nwant\n%s", c.session, got, c.want)
		}
	}
}
