package terminal

import (
	"fmt"
	"io"
	"path"
	"slices"
	"strconv"
	"strings"

	"coldbench/metrics/edition"
)

// mostNamed is how many sessions are named where one reason holds of many.
const mostNamed = 3

// Check prints what is odd about the logs, which gates sessions do not pass, and which
// figures are missing, bounded or from a worse source, those that earn points first.
// A reason that several sessions share is told once, with the first of them. Where a
// session is asked for, all of its own is told; "" is none.
func Check(w io.Writer, e *edition.Edition, session string, columns int) {
	logs(w, e, session, columns)
	var against, unsure [][]string
	for _, g := range e.Gates {
		switch {
		case session != "" && g.Session != session:
		case g.Verdict == edition.CannotTell:
			unsure = append(unsure, []string{g.Session, g.Gate, g.Reason})
		case g.Verdict != edition.Passed:
			against = append(against, []string{g.Session, g.Gate, string(g.Verdict), g.Reason})
		}
	}
	titled(w, "Against the protocol", []string{"session", "gate", "verdict", "reason"}, against, columns)
	titled(w, "Gates that cannot tell", []string{"reason", "sessions", "gates"}, shared(e, unsure), columns)

	var earning, other [][]string
	for _, f := range e.Results {
		if f.Status == edition.Measured || session != "" && f.Session != session {
			continue
		}
		status := string(f.Status)
		if f.Status == edition.None {
			status = "missing"
		}
		row := []string{f.Session, f.Figure, status, f.Note}
		if slices.ContainsFunc(e.Scales, func(s edition.Scale) bool { return s.Figure == f.Figure }) {
			earning = append(earning, row)
		} else {
			other = append(other, row)
		}
	}
	head := []string{"status", "reason", "sessions", "figures"}
	titled(w, "Figures with points that are missing, bounded or from a worse source", head, shared(e, earning), columns)
	titled(w, "Other figures that are", head, shared(e, other), columns)
}

// logs prints how much was read of how many files, and those of which something is
// to be told.
func logs(w io.Writer, e *edition.Edition, session string, columns int) {
	var odd [][]string
	sources, rows, aside := 0, int64(0), int64(0)
	for _, s := range e.Sessions {
		if session != "" && s.ID != session {
			continue
		}
		for _, src := range s.Sources {
			sources, rows, aside = sources+1, rows+src.RowsRead, aside+src.Aside
			file := src.Path
			if src.Continues != "" {
				file += ", goes on from " + path.Base(src.Continues)
			}
			if session != "" || src.Continues != "" || src.Aside > 0 || src.RowsKept == 0 {
				odd = append(odd, []string{file, strconv.FormatInt(src.RowsRead, 10), strconv.FormatInt(src.RowsKept, 10), strconv.FormatInt(src.Aside, 10)})
			}
		}
	}
	fmt.Fprintf(w, "sources: %d, rows: %d, set aside: %d\n", sources, rows, aside)
	if len(odd) > 0 {
		fmt.Fprintln(w)
		Table(w, append([][]string{{"source", "read", "kept", "set aside"}}, odd...), columns)
	}
}

func titled(w io.Writer, title string, head []string, rows [][]string, columns int) {
	if len(rows) > 0 {
		fmt.Fprintln(w, "\n"+title)
		Table(w, append([][]string{head}, rows...), columns)
	}
}

// shared turns rows of a session, a name and why, the last maybe in several cells, into
// rows of why, sessions and names: the names that a session has for one why stand
// together, and so do the sessions that have the same names for it. The order is that
// of the first of each.
func shared(e *edition.Edition, rows [][]string) [][]string {
	type group struct{ names, why, sessions []string }
	var groups []*group
	join := func(same func(*group) bool) *group {
		if i := slices.IndexFunc(groups, same); i >= 0 {
			return groups[i]
		}
		groups = append(groups, &group{})
		return groups[len(groups)-1]
	}
	for len(rows) > 0 {
		session, n := rows[0][0], 1
		for n < len(rows) && rows[n][0] == session {
			n++
		}
		own := rows[:n]
		rows = rows[n:]
		for i, row := range own {
			why := row[2:]
			if slices.ContainsFunc(own[:i], func(r []string) bool { return slices.Equal(r[2:], why) }) {
				continue // told with the first of these
			}
			var names []string
			for _, r := range own[i:] {
				if slices.Equal(r[2:], why) {
					names = append(names, r[1])
				}
			}
			g := join(func(g *group) bool { return slices.Equal(g.why, why) && slices.Equal(g.names, names) })
			g.names, g.why, g.sessions = names, why, append(g.sessions, session)
		}
	}
	var out [][]string
	for _, g := range groups {
		out = append(out, append(slices.Clone(g.why), named(e, g.sessions), strings.Join(g.names, ", ")))
	}
	return out
}

// named are sessions by name, or how many there are.
func named(e *edition.Edition, sessions []string) string {
	more := len(sessions) - mostNamed
	switch {
	case len(sessions) > 1 && len(sessions) == len(e.Sessions):
		return fmt.Sprintf("all %d", len(sessions))
	case more < 2: // a name takes no more room than a number of them
		return strings.Join(sessions, ", ")
	}
	return fmt.Sprintf("%s and %d more", strings.Join(sessions[:mostNamed], ", "), more)
}
