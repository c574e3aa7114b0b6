package metrics

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"github.com/cockroachdb/datadriven"
)

// Stuck sensors are found by the script sql/checks/stuck.test, in the language of
// figures' scripts with one command more, "stuck".
func TestStuck(t *testing.T) {
	cat := builtIn(t)
	s := scripted(t, cat)
	datadriven.RunTest(t, "sql/checks/stuck.test", func(t *testing.T, d *datadriven.TestData) string {
		s.t = t
		if d.Cmd != "stuck" {
			return s.run(d)
		}
		s.load()
		found, err := cat.FindStuck(context.Background(), s.w)
		if err != nil {
			t.Fatal(err)
		}
		var b strings.Builder
		for _, f := range found {
			fmt.Fprintf(&b, "%s %s %v from %v to %v s, lines %d to %d: %s\n", f.Session, f.Channel, f.Value, f.FromS, f.ToS, f.FromLine, f.ToLine, f.Witness)
		}
		return b.String()
	})
}
