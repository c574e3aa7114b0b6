package edition

import (
	"fmt"
	"slices"
)

// MostDetailed is the most sessions of which reports for people hold everything
// without being asked: with more, a workbook and a page are slow to open on a phone.
const MostDetailed = 200

// Placed are the sessions that have a sheet of their own: all, if they are not too
// many, else those that a place rests on, from the first place down, and those that are
// asked for, however many there are.
func (e *Edition) Placed(asked []string) map[string]bool {
	out := map[string]bool{}
	if len(e.Sessions) <= MostDetailed {
		for _, s := range e.Sessions {
			out[s.ID] = true
		}
	}
	for _, st := range e.Standings {
		for _, id := range st.Sessions {
			if st.Place > 0 && len(out) < MostDetailed {
				out[id] = true
			}
		}
	}
	for _, id := range asked {
		out[id] = true
	}
	return out
}

// Detailed are the sessions of which reports hold everything: those that are Placed,
// and others in their order while there is room.
func (e *Edition) Detailed(asked []string) map[string]bool {
	out := e.Placed(asked)
	for _, s := range e.Sessions {
		if len(out) >= MostDetailed {
			break
		}
		out[s.ID] = true
	}
	return out
}

// Nights is how many sessions a session's car has of the same procedure. Where there are
// several, a report that shows one of them says which.
func (e *Edition) Nights(session string) int {
	n := 0
	if k := slices.IndexFunc(e.Sessions, func(s Session) bool { return s.ID == session }); k >= 0 {
		for _, s := range e.Sessions {
			if s.Vehicle == e.Sessions[k].Vehicle && s.Procedure == e.Sessions[k].Procedure {
				n++
			}
		}
	}
	return n
}

// Partly is a sentence that says of which sessions something is told, "" where that is
// all of them.
func (e *Edition) Partly(asked []string) string {
	n := len(e.Detailed(asked))
	if n >= len(e.Sessions) {
		return ""
	}
	return fmt.Sprintf("%d of %d sessions are here: those that a place rests on first, from the first place down.", n, len(e.Sessions))
}
